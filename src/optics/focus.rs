//! Depth of field in the entrance-pupil form: distances from the entrance pupil, D for the opening.
//!
//! D and the blur as a part of the picture stay the same behind an attachment, so depth of field does too.
//! The textbook form from the principal plane differs by about one focal length; the two are not mixed.

use crate::units::{FNumber, Factor, Meters, Millimeters};

/// What is sharp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depth {
    /// Focused here, everything from half of it to infinity is sharp.
    pub hyperfocal: Meters,
    /// Nearest sharp distance.
    pub near: Meters,
    /// Farthest sharp distance; infinity where nothing behind is blurred.
    pub far: Meters,
}

/// Diameter of the entrance pupil: D = f / N, of the lens alone or of both values behind the attachment.
pub fn pupil_diameter(f: Millimeters, n: FNumber) -> Option<Millimeters> {
    Millimeters::new(f.get() / n.get())
}

/// The blur circle that counts as sharp: a part of the diagonal of the recorded area.
pub fn blur_circle(diagonal: Millimeters, parts: Factor) -> Option<Millimeters> {
    Millimeters::new(diagonal.get() / parts.get())
}

/// Depth of field around `focus`: H = D p / c; near = u H / (H + u); far = u H / (H - u).
pub fn depth(d: Millimeters, p: Millimeters, c: Millimeters, focus: Meters) -> Option<Depth> {
    let hyperfocal = d.get() * p.get() / c.get() / 1000.0;
    let u = focus.get();
    let near = if u.is_infinite() { hyperfocal } else { u * hyperfocal / (hyperfocal + u) };
    let far = if u >= hyperfocal { f64::INFINITY } else { u * hyperfocal / (hyperfocal - u) };
    Some(Depth {
        hyperfocal: Meters::new(hyperfocal)?,
        near: Meters::new(near)?,
        far: Meters::new(far)?,
    })
}
