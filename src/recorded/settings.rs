//! How the camera was set, as the media says of the clip as a whole: sensitivity, shutter, white balance.

use crate::ratio::FrameRate;
use crate::recorded::Reading;
use crate::sourced::Sourced;
use crate::units::{ExposureIndex, Kelvin, Seconds, ShutterAngle};

/// White balance that follows the picture (Exif `WhiteBalance` 0; RDD 18, tag 810D).
pub const AUTOMATIC: &str = "automatic";
/// White balance that somebody set (Exif `WhiteBalance` 1).
pub const MANUAL: &str = "manual";

/// How the camera was set. Absent is absent: an angle is never turned into a time, which would need the rate at which
/// the sensor ran, and that is not always the rate at which the clip plays.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CameraSettings {
    /// ISO speed (Exif `PhotographicSensitivity`; RDD 18, tag 810B; OpenEXR `isoSpeed`).
    pub iso: Option<Reading<ExposureIndex>>,
    /// Exposure index that the picture was metered at (RDD 18, tag 8115); beside an ISO speed it may differ from it.
    pub exposure_index: Option<Reading<ExposureIndex>>,
    /// Shutter angle (RDD 18, tag 8108; OpenEXR `shutterAngle`).
    pub shutter_angle: Option<Reading<ShutterAngle>>,
    /// Exposure time of a frame (Exif `ExposureTime`; RDD 18, tag 8109; OpenEXR `expTime`).
    pub exposure_time: Option<Reading<Seconds>>,
    /// Colour temperature that the white balance was set to (RDD 18, tag 810E; OpenEXR `cameraCCTSetting`).
    pub white_balance: Option<Reading<Kelvin>>,
    /// How the white balance was found, in a word: `automatic`, `manual`, `preset`, `hold`, `one push`.
    pub white_balance_mode: Option<Sourced<String>>,
    /// Frames a second that the sensor made (RDD 18, tag 8106; OpenEXR `captureRate`).
    pub capture_rate: Option<Sourced<FrameRate>>,
}

impl CameraSettings {
    /// The settings, apart from the facts of the file; `None` where nothing is said.
    pub fn boxed(self) -> Option<Box<Self>> {
        (self != Self::default()).then(|| Box::new(self))
    }

    /// Fills from `other` what is not known yet.
    pub(super) fn fill(&mut self, other: Self) {
        fn first<T>(slot: &mut Option<T>, other: Option<T>) {
            if slot.is_none() {
                *slot = other;
            }
        }
        let Self {
            iso,
            exposure_index,
            shutter_angle,
            exposure_time,
            white_balance,
            white_balance_mode,
            capture_rate,
        } = other;
        first(&mut self.iso, iso);
        first(&mut self.exposure_index, exposure_index);
        first(&mut self.shutter_angle, shutter_angle);
        first(&mut self.exposure_time, exposure_time);
        first(&mut self.white_balance, white_balance);
        first(&mut self.white_balance_mode, white_balance_mode);
        first(&mut self.capture_rate, capture_rate);
    }
}

/// The word for Exif `WhiteBalance` (CIPA DC-008, 4.6.5).
pub(super) fn of_exif(mode: u64) -> Option<&'static str> {
    match mode {
        0 => Some(AUTOMATIC),
        1 => Some(MANUAL),
        _ => None,
    }
}
