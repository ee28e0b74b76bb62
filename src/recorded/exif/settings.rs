//! Sensitivity, exposure time and white balance of Exif (CIPA DC-008, 4.6.5).

use crate::recorded::exif_names as names;
use crate::recorded::settings::{CameraSettings, of_exif};
use crate::recorded::{Reading, number};
use crate::units::{ExposureIndex, Seconds};

use super::{View, number_of};

/// `PhotographicSensitivity` of a camera whose number does not fit: the real one stands in a field of its own.
const SEE_ELSEWHERE: u64 = 65_535;

/// What the picture says of them.
pub(super) fn read(view: &View<'_>) -> CameraSettings {
    CameraSettings {
        iso: iso(view),
        exposure_time: view
            .reading(names::EXPOSURE_TIME, number::rational, Seconds::new)
            .or_else(|| view.reading(names::SHUTTER_SPEED_VALUE, number::shutter, Seconds::new)),
        white_balance_mode: view
            .first(&[names::WHITE_BALANCE], |field| of_exif(number_of(field)?).map(str::to_owned)),
        ..CameraSettings::default()
    }
}

/// The sensitivity; a number that does not fit 16 bits stands in the field of its kind.
fn iso(view: &View<'_>) -> Option<Reading<ExposureIndex>> {
    let whole = |tag: u16| {
        view.first(&[tag], |field| {
            number_of(field).filter(|number| *number > 0 && *number < u64::from(u32::MAX))
        })
    };
    let fits = whole(names::PHOTOGRAPHIC_SENSITIVITY).filter(|iso| iso.value < SEE_ELSEWHERE);
    let found = fits
        .or_else(|| whole(names::ISO_SPEED))
        .or_else(|| whole(names::STANDARD_OUTPUT_SENSITIVITY))
        .or_else(|| whole(names::RECOMMENDED_EXPOSURE_INDEX))?;
    let value = f64::from(u32::try_from(found.value).ok()?);
    Some(Reading {
        value: ExposureIndex::new(value)?,
        raw: found.value.to_string(),
        half_step: 0.5,
        origin: found.origin,
    })
}
