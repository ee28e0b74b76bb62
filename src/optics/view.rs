//! Angle of view, crop and coverage of a recorded area.

use super::math::{atan_degrees, hypot};
use crate::units::{Degrees, Factor, Millimeters};

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

impl FilmBack {
    /// Corner to corner.
    pub fn diagonal(self) -> Option<Millimeters> {
        Millimeters::new(hypot(self.width.get(), self.height.get()))
    }
}

/// Full angle that `side` of the film back sees through pinhole focal length `p`: 2 atan(side / 2p).
/// For the horizontal angle of an anamorphic lens hand over width times squeeze.
pub fn angle(side: Millimeters, p: Millimeters) -> Option<Degrees> {
    Degrees::new(2.0 * atan_degrees(side.get() / (2.0 * p.get())))
}

/// Change of [`angle`] in degrees for a relative change of `p` by one; for carrying uncertainty.
pub fn angle_slope(side: Millimeters, p: Millimeters) -> f64 {
    let half = side.get() / (2.0 * p.get());
    (2.0 * half / (1.0 + half * half)).to_degrees()
}

/// Crop by width: 36 mm over the width of the recorded area (motion-picture practice).
pub fn crop_by_width(back: FilmBack) -> Option<Factor> {
    Factor::new(REFERENCE_WIDTH / back.width.get())
}

/// Crop by diagonal: 43.27 mm over the diagonal of the recorded area (Exif's 35 mm equivalent).
pub fn crop_by_diagonal(back: FilmBack) -> Option<Factor> {
    Factor::new(hypot(REFERENCE_WIDTH, REFERENCE_HEIGHT) / back.diagonal()?.get())
}

/// Image circle over the diagonal of the recorded area; below one the corners are dark.
pub fn coverage(circle: Millimeters, back: FilmBack) -> Option<Factor> {
    Factor::new(circle.get() / back.diagonal()?.get())
}
