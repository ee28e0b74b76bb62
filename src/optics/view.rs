//! Angle of view, crop and coverage of a recorded area, and the part of it that a plate keeps.

use super::math::{atan_degrees, hypot};
use crate::estimate::{Bare, Estimate};
use crate::units::{Degrees, Factor, Millimeters, Offset, Raster};

/// Width of the frame that crops are compared with, in millimetres (ISO 1007: 36 x 24).
pub const REFERENCE_WIDTH: f64 = 36.0;
/// Height of that frame, in millimetres.
pub const REFERENCE_HEIGHT: f64 = 24.0;

/// The recorded area on the sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FilmBack {
    /// Width.
    pub width: Millimeters,
    /// Height.
    pub height: Millimeters,
}

/// The recorded area, with how well it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Width.
    pub width: Estimate<Millimeters>,
    /// Height.
    pub height: Estimate<Millimeters>,
}

impl Area {
    /// A film back known without doubt.
    pub fn exact(back: FilmBack) -> Self {
        Self { width: Estimate::exact(back.width), height: Estimate::exact(back.height) }
    }

    /// Corner to corner.
    pub fn diagonal(self) -> Option<Estimate<Millimeters>> {
        hypot(self.width.bare(), self.height.bare()).unit()
    }
}

/// Film back of a plate: the recorded area in the measure of the pixels that were kept of it.
/// What the kept pixels are resized to afterwards does not change it. `None` where more is kept than was recorded.
pub fn plate(area: Area, recorded: Raster, kept: Raster) -> Option<Area> {
    if kept.width() > recorded.width() || kept.height() > recorded.height() {
        return None;
    }
    let part = |side: Estimate<Millimeters>, kept: u32, recorded: u32| {
        (side.bare() * f64::from(kept) / f64::from(recorded)).unit()
    };
    Some(Area {
        width: part(area.width, kept.width(), recorded.width())?,
        height: part(area.height, kept.height(), recorded.height())?,
    })
}

/// Full angle that `side` of the film back sees through pinhole focal length `p`: 2 atan(side / 2p).
/// For the horizontal angle of an anamorphic lens hand over width times squeeze.
pub fn angle(side: Estimate<Millimeters>, p: Estimate<Millimeters>) -> Option<Estimate<Degrees>> {
    (atan_degrees(side.bare() / (p.bare() * 2.0)) * 2.0).unit()
}

/// Crop by width: 36 mm over the width of the recorded area (motion-picture practice).
pub fn crop_by_width(area: Area) -> Option<Estimate<Factor>> {
    (Bare::exact(REFERENCE_WIDTH) / area.width.bare()).unit()
}

/// Crop by diagonal: 43.27 mm over the diagonal of the recorded area (Exif's 35 mm equivalent).
pub fn crop_by_diagonal(area: Area) -> Option<Estimate<Factor>> {
    let reference = hypot(Bare::exact(REFERENCE_WIDTH), Bare::exact(REFERENCE_HEIGHT));
    (reference / area.diagonal()?.bare()).unit()
}

/// Equivalent focal length: what sees as much on the frame of ISO 1007, by the crop handed over.
pub fn equivalent(
    f: Estimate<Millimeters>,
    crop: Estimate<Factor>,
) -> Option<Estimate<Millimeters>> {
    (f.bare() * crop.bare()).unit()
}

/// Twice the distances from the optical axis to the sides farthest from it, for a part of the recorded area whose middle
/// lies `right` and `down` of the axis; its width and height where it lies in the middle. The diagonal of what comes out
/// is twice the distance to the corner farthest from the axis.
pub fn reach(part: Area, right: Estimate<Offset>, down: Estimate<Offset>) -> Option<Area> {
    let side = |side: Estimate<Millimeters>, off: Estimate<Offset>| {
        let off = off.bare();
        (side.bare() + off * (2.0 * off.number.signum())).unit()
    };
    Some(Area { width: side(part.width, right)?, height: side(part.height, down)? })
}

/// Image circle over the reach of the recorded area, which is its diagonal; below one the corners are dark.
pub fn coverage(
    circle: Estimate<Millimeters>,
    reach: Estimate<Millimeters>,
) -> Option<Estimate<Factor>> {
    (circle.bare() / reach.bare()).unit()
}

/// Radius of the image circle less half the reach: what is left over in a corner or at an edge, or, below zero, how much
/// of it is dark.
pub fn margin(
    circle: Estimate<Millimeters>,
    reach: Estimate<Millimeters>,
) -> Option<Estimate<Offset>> {
    ((circle.bare() - reach.bare()) / 2.0).unit()
}
