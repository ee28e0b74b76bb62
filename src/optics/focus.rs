//! Depth of field in the entrance-pupil form: distances from the entrance pupil, D for the opening.
//!
//! D and the blur as a part of the picture stay the same behind an attachment, so depth of field does too.
//! The textbook form from the principal plane differs by about one focal length; the two are not mixed.

use crate::estimate::{Estimate, Spread};
use crate::units::{FNumber, Factor, Meters, Millimeters};

/// What is sharp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depth {
    /// Nearest sharp distance.
    pub near: Estimate<Meters>,
    /// Farthest sharp distance; infinity where nothing behind is blurred.
    pub far: Estimate<Meters>,
}

/// Diameter of the entrance pupil: D = f / N, of the lens alone or of both values behind the attachment.
pub fn pupil_diameter(
    f: Estimate<Millimeters>,
    n: Estimate<FNumber>,
) -> Option<Estimate<Millimeters>> {
    (f.bare() / n.bare()).unit()
}

/// The blur circle that counts as sharp: a part of the diagonal of the recorded area.
pub fn blur_circle(
    diagonal: Estimate<Millimeters>,
    parts: Factor,
) -> Option<Estimate<Millimeters>> {
    (diagonal.bare() / parts.get()).unit()
}

/// Hyperfocal distance H = D p / c: focused here, everything from half of it to infinity is sharp.
pub fn hyperfocal(
    d: Estimate<Millimeters>,
    p: Estimate<Millimeters>,
    c: Estimate<Millimeters>,
) -> Option<Estimate<Meters>> {
    (d.bare() * p.bare() / c.bare() / 1000.0).unit()
}

/// Depth of field around `focus`: near = u H / (H + u); far = u H / (H - u), infinite where u >= H.
pub fn depth(hyperfocal: Estimate<Meters>, focus: Estimate<Meters>) -> Option<Depth> {
    let (h, u) = (hyperfocal.bare(), focus.bare());
    let endless = Meters::new(f64::INFINITY).map(Estimate::exact)?;
    if u.number.is_infinite() {
        return Some(Depth { near: hyperfocal, far: endless });
    }
    let near = (u * h / (h + u)).unit()?;
    let far = if u.number >= h.number { endless } else { (u * h / (h - u)).unit()? };
    let (h, u) = (h.number, u.number);
    Some(Depth {
        near: if straight(h / (h + u), hyperfocal, focus) { near } else { blurred(near) },
        far: if u >= h || straight(h / (h - u), hyperfocal, focus) { far } else { blurred(far) },
    })
}

/// Most by which the variance may be off for want of terms beyond the first order. Where it is 3 %, the uncertainty is off
/// by 1.5 %, and by drawing lots (JCGM 101:2008) by 2 % at most, because the terms left out here come on top.
const BEYOND_FIRST_ORDER: f64 = 0.03;

/// True if first-order propagation is good enough for u H / (H +- u) (JCGM 100:2008, 5.1.2, note). With k = H/(H +- u)
/// a relative change of u enters with k and of H with k - 1; the terms of second and third order add 8 k^2 (k - 1)^2
/// times the squared sum of the relative variances.
fn straight(k: f64, hyperfocal: Estimate<Meters>, focus: Estimate<Meters>) -> bool {
    let (Some(h), Some(u)) = (hyperfocal.relative(), focus.relative()) else { return false };
    let (h, u) = (h * h, u * u);
    let first = k * k * u + (k - 1.0) * (k - 1.0) * h;
    let beyond = 8.0 * k * k * (k - 1.0) * (k - 1.0) * (u + h) * (u + h);
    beyond <= BEYOND_FIRST_ORDER * first
}

/// Without its uncertainty, which the first order does not tell.
fn blurred(distance: Estimate<Meters>) -> Estimate<Meters> {
    Estimate { spread: Spread::UNKNOWN, ..distance }
}
