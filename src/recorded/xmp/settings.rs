//! Sensitivity, exposure time and white balance of an XMP packet (CIPA DC-010; XMP Specification Part 2, `exif`).

use crate::recorded::number;
use crate::recorded::settings::{CameraSettings, of_exif};
use crate::units::{ExposureIndex, Seconds};

use super::View;

/// What the packet says of them.
pub(super) fn read(view: &View<'_>) -> CameraSettings {
    // 65535 says that the number does not fit (CIPA DC-008, `PhotographicSensitivity`).
    let fits = |number: f64| ExposureIndex::new(number).filter(|_| number < 65_535.0);
    let mode = |text: &str| of_exif(text.trim().parse().ok()?);
    CameraSettings {
        iso: view
            .reading("exifEX:PhotographicSensitivity", number::decimal, fits)
            .or_else(|| view.reading("exif:PhotographicSensitivity", number::decimal, fits))
            .or_else(|| view.reading("exif:ISOSpeedRatings[1]", number::decimal, fits))
            .or_else(|| view.reading("exifEX:ISOSpeed", number::decimal, ExposureIndex::new)),
        exposure_time: view
            .reading("exif:ExposureTime", number::rational, Seconds::new)
            .or_else(|| view.reading("exif:ShutterSpeedValue", number::shutter, Seconds::new)),
        white_balance_mode: view
            .text(&["exif:WhiteBalance"])
            .and_then(|text| mode(&text.value).map(|word| text.map(|_| word.to_owned()))),
        ..CameraSettings::default()
    }
}
