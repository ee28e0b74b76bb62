//! What a lens becomes on a camera: focal length, widest stop, image circle and what it covers.

use crate::estimate::Cause;
use crate::kit::{Attachment, Camera, Kit, Lens};
use crate::optics::attachment as behind;
use crate::optics::view::Area;
use crate::sourced::{Basis, Known, Quantity};
use crate::train::Parts;
use crate::units::{FNumber, Factor, Millimeters, Offset, Pixels, Raster, TNumber};

/// What a lens becomes. `None` is not known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outlook {
    /// Effective focal length: shortest and longest, the same for a prime.
    pub focal: Option<(Quantity<Millimeters>, Quantity<Millimeters>)>,
    /// Widest effective f-number at the shortest and at the longest focal length, the same where it does not ramp.
    pub f_number: Option<(Quantity<FNumber>, Quantity<FNumber>)>,
    /// Widest effective T-number, likewise; never an f-number under another name.
    pub t_number: Option<(Quantity<TNumber>, Quantity<TNumber>)>,
    /// Image circle at the sensor.
    pub circle: Option<Quantity<Millimeters>>,
    /// What it covers of each recording mode, in the order of the kit.
    pub coverage: Vec<Coverage>,
}

/// What an image circle covers of one recording mode.
#[derive(Clone, Debug, PartialEq)]
pub struct Coverage {
    /// Id of the mode.
    pub mode: String,
    /// Raster of the recording.
    pub raster: Raster,
    /// Diagonal of the recorded area.
    pub diagonal: Option<Millimeters>,
    /// Image circle over that diagonal; below one, corners are dark.
    pub ratio: Option<Quantity<Factor>>,
    /// Image circle less that diagonal, in millimetres of diameter.
    pub margin: Option<Offset>,
    /// Radius lost in a dark corner, in millimetres on the sensor; none where it covers.
    pub dark: Option<Quantity<Millimeters>>,
    /// The same in pixels of the recording.
    pub dark_pixels: Option<Quantity<Pixels>>,
    /// How far in from its left and right edges the picture is dark, and the same in pixels; none where they are lit.
    pub sides: Option<(Quantity<Millimeters>, Option<Quantity<Pixels>>)>,
    /// The same from its top and bottom edges.
    pub top_bottom: Option<(Quantity<Millimeters>, Option<Quantity<Pixels>>)>,
}

/// A margin smaller than this part of the diagonal is borderline: the edge of an image circle is soft, and data sheets
/// round it (common practice, no source).
const SOFT_EDGE: f64 = 0.005;

impl Coverage {
    /// True if it cannot be said for certain whether the corners are dark.
    pub fn borderline(&self) -> bool {
        self.ratio.as_ref().is_some_and(|ratio| {
            let off = (ratio.value.get() - 1.0).abs();
            off < ratio.uncertainty.unwrap_or(0.0).max(SOFT_EDGE)
        })
    }
}

/// Works out what `lens` becomes on `camera` with `attachment` between; `None` is the bare camera.
pub(super) fn outlook(
    kit: &Kit,
    camera: &Camera,
    lens: &Lens,
    attachment: Option<&Attachment>,
) -> Outlook {
    let parts = Parts {
        kit,
        camera: Some(camera),
        mode: None,
        lens: Some(lens),
        between: Some(attachment),
    };
    let coverage = camera.modes.iter().map(|mode| {
        let derived = Parts { mode: Some(mode), ..parts }.train().follow();
        let diagonal = Area::exact(mode.back).diagonal().map(|diagonal| diagonal.value);
        let circle = derived.image_circle.as_ref().map(|circle| circle.value);
        Coverage {
            mode: mode.id.clone(),
            raster: mode.raster,
            diagonal,
            ratio: derived.coverage,
            margin: circle.zip(diagonal).and_then(|(c, d)| Offset::new(c.get() - d.get())),
            dark: derived.dark_corner,
            dark_pixels: derived.dark_corner_pixels,
            sides: derived.dark_sides.map(|mm| (mm, derived.dark_sides_pixels)),
            top_bottom: derived.dark_top_bottom.map(|mm| (mm, derived.dark_top_bottom_pixels)),
        }
    });
    Outlook {
        focal: focal(kit, lens, &parts),
        f_number: ends(lens, |at| f_number(lens, at, &parts)),
        t_number: ends(lens, |at| t_number(lens, at, &parts)),
        circle: parts.train().follow().image_circle,
        coverage: coverage.collect(),
    }
}

fn focal(
    kit: &Kit,
    lens: &Lens,
    parts: &Parts<'_>,
) -> Option<(Quantity<Millimeters>, Quantity<Millimeters>)> {
    let m = parts.magnification()?.known(Cause::Magnification);
    let behind = |focal: &Known<Millimeters>| {
        let value = behind::focal_length(focal.estimate, m.estimate)?;
        let rule = "effective focal length = magnification x focal length of the lens";
        Some(Known::computed(value, focal.basis.weaker(m.binding()), rule).quantity())
    };
    if let Some(focal) = &lens.focal {
        let effective = behind(&focal.known(Cause::Focal))?;
        return Some((effective.clone(), effective));
    }
    let end = |mark: Millimeters| {
        let uncertainty = Some(kit.defaults.focal * mark.get());
        let origin = m.origin.clone();
        let end = Quantity { value: mark, uncertainty, basis: Basis::Nominal, origin };
        behind(&end.known(Cause::Focal))
    };
    let (short, long) = lens.range?;
    Some((end(short)?, end(long)?))
}

/// Something at both ends of a zoom; of a prime both ends are the same.
fn ends<T>(lens: &Lens, at: impl Fn(Option<Millimeters>) -> Option<T>) -> Option<(T, T)> {
    let (short, long) = lens.range.unzip();
    Some((at(short)?, at(long)?))
}

/// The engraved f-number behind the attachment; from the engraved T-number only if the lens's transmittance is known.
fn f_number(lens: &Lens, at: Option<Millimeters>, parts: &Parts<'_>) -> Option<Quantity<FNumber>> {
    let m = parts.magnification()?.known(Cause::Magnification);
    let own = lens.f_max_at(at).map(|f| f.known(Cause::Stop)).or_else(|| {
        let (t, tau) = (lens.t_max_at(at)?, lens.transmittance_at(at)?);
        let f = behind::f_from_t(t.estimate(Cause::Stop), tau.estimate(Cause::LensGlass))?;
        let rule = "f-number = T-number x square root of the transmittance of the lens";
        Some(Known::computed(f, t.basis.weaker(tau.basis), rule))
    })?;
    let value = behind::f_number(own.estimate, m.estimate)?;
    let rule = "f-number behind the attachment = magnification x f-number of the lens";
    Some(Known::computed(value, own.basis.weaker(m.binding()), rule).quantity())
}

/// The engraved T-number behind the attachment, if the glass of both is known.
fn t_number(lens: &Lens, at: Option<Millimeters>, parts: &Parts<'_>) -> Option<Quantity<TNumber>> {
    let m = parts.magnification()?.known(Cause::Magnification);
    let glass = parts.glass()?.known(Cause::Glass);
    let own = lens.t_max_at(at).map(|t| t.known(Cause::Stop)).or_else(|| {
        let (f, tau) = (lens.f_max_at(at)?, lens.transmittance_at(at)?);
        let t = behind::t_from_f(f.estimate(Cause::Stop), tau.estimate(Cause::LensGlass))?;
        let rule = "T-number = f-number / square root of the transmittance of the lens";
        Some(Known::computed(t, f.basis.weaker(tau.basis), rule))
    })?;
    let value = behind::t_number(own.estimate, m.estimate, glass.estimate)?;
    let rule = "T-number behind the attachment = magnification x T-number of the lens / square root of the transmittance of the attachment";
    Some(
        Known::computed(value, own.basis.weaker(m.binding()).weaker(glass.binding()), rule)
            .quantity(),
    )
}
