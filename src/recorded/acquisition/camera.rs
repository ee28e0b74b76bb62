//! How the camera was set: items of the camera unit (SMPTE RDD 18).

use crate::header::klv::Item;
use crate::ratio::Ratio;
use crate::recorded::settings::AUTOMATIC;
use crate::recorded::{CameraSettings, Reading};
use crate::sourced::{Origin, Sourced};
use crate::units::{ExposureIndex, Kelvin, Seconds, ShutterAngle, Unit};

use super::coding::{known, word};

/// What one item says; `None` for items of other things, and for what is not known.
pub(super) fn setting(item: &Item, origin: &Origin) -> Option<CameraSettings> {
    let mut settings = CameraSettings::default();
    match item.tag {
        0x8106 => {
            let (num, den) = ratio(item.value)?;
            let rate = Ratio::new(u64::from(num), u64::from(den))?;
            settings.capture_rate = Some(Sourced::new(rate, origin.clone()));
        }
        0x8108 => {
            // Sixtieths of a degree.
            let minutes = u32::from_be_bytes(item.value.try_into().ok()?);
            let raw = format!("0x{minutes:08X}");
            let angle = ShutterAngle::new(f64::from(minutes) / 60.0);
            settings.shutter_angle = Some(reading(angle?, raw, 0.5 / 60.0, origin));
        }
        0x8109 => {
            let (num, den) = ratio(item.value)?;
            let seconds = Seconds::new(f64::from(num) / f64::from(den));
            let half_step = 0.5 / f64::from(den);
            settings.exposure_time =
                Some(reading(seconds?, format!("{num}/{den}"), half_step, origin));
        }
        0x810B => settings.iso = whole(item, ExposureIndex::new, origin),
        0x8115 => settings.exposure_index = whole(item, ExposureIndex::new, origin),
        0x810E => settings.white_balance = whole(item, Kelvin::new, origin),
        0x810D => {
            let mode = mode(item.value)?.to_owned();
            settings.white_balance_mode = Some(Sourced::new(mode, origin.clone()));
        }
        _ => return None,
    }
    (settings != CameraSettings::default()).then_some(settings)
}

/// How the white balance was found (words from memory of RDD 18; a library of media facts says the same in the tests).
fn mode(value: &[u8]) -> Option<&'static str> {
    match value {
        [0] => Some("preset"),
        [1] => Some(AUTOMATIC),
        [2] => Some("hold"),
        [3] => Some("one push"),
        _ => None,
    }
}

/// Two whole numbers of 32 bits above zero.
fn ratio(value: &[u8]) -> Option<(u32, u32)> {
    let (num, den) = value.split_at_checked(4)?;
    let part = |bytes: &[u8]| {
        let part = i32::from_be_bytes(bytes.try_into().ok()?);
        u32::try_from(part).ok().filter(|part| *part > 0)
    };
    Some((part(num)?, part(den)?))
}

fn whole<U: Unit>(
    item: &Item,
    unit: impl Fn(f64) -> Option<U>,
    origin: &Origin,
) -> Option<Reading<U>> {
    let number = known(word(item.value)?)?;
    Some(reading(unit(f64::from(number))?, number.to_string(), 0.5, origin))
}

fn reading<U: Unit>(value: U, raw: String, half_step: f64, origin: &Origin) -> Reading<U> {
    Reading { value, raw, half_step, origin: origin.clone() }
}
