//! Camera texts of QuickTime: which metadata keys and user data have a meaning here. All others stay tags.

use std::fmt::Write;

use crate::header::quicktime::{RawTag, RawValue};
use crate::recorded::number::{self, Written};
use crate::recorded::{CameraSettings, Reading, Recorded, Tag};
use crate::sourced::{Origin, Sourced};
use crate::units::{ExposureIndex, FNumber, Kelvin, Seconds, ShutterAngle, Unit};

/// What a key means.
#[derive(Clone, Copy)]
enum Meaning {
    Maker,
    Model,
    Lens,
    FNumber,
    Iso,
    ShutterAngle,
    ExposureTime,
    WhiteBalance,
}

/// Keys with a meaning, the most telling first: where several speak of one thing, the first of this table wins.
const KEYS: &[(&str, Meaning)] = &[
    ("com.apple.quicktime.make", Meaning::Maker),
    ("\u{A9}mak", Meaning::Maker),
    ("com.apple.quicktime.model", Meaning::Model),
    ("\u{A9}mod", Meaning::Model),
    ("com.apple.quicktime.camera.lens_model", Meaning::Lens),
    ("com.apple.quicktime.camera.lens_irisfnumber", Meaning::FNumber),
    ("org.smpte.rdd18.lens.irisfnumber", Meaning::FNumber),
    ("org.smpte.rdd18.camera.isosensitivity", Meaning::Iso),
    ("org.smpte.rdd18.camera.shutterspeed_angle", Meaning::ShutterAngle),
    ("org.smpte.rdd18.camera.shutterspeed_time", Meaning::ExposureTime),
    ("org.smpte.rdd18.camera.whitebalance", Meaning::WhiteBalance),
];

/// True where a key speaks of the lens.
pub(super) fn is_of_lens(key: &str) -> bool {
    let lens = |meaning: &Meaning| matches!(meaning, Meaning::Lens | Meaning::FNumber);
    KEYS.iter().any(|(known, meaning)| *known == key && lens(meaning))
}

/// What each text with a meaning says, in the order of the table.
pub(super) fn read(texts: &[&RawTag], file: &str) -> Vec<Recorded> {
    let mut said = Vec::new();
    for (key, meaning) in KEYS {
        for tag in texts.iter().filter(|tag| tag.key == *key) {
            let Some(text) = written(tag) else { continue };
            let mut recorded = Recorded::default();
            let origin = || origin(tag, file);
            let mut settings = CameraSettings::default();
            let slot = match meaning {
                Meaning::Maker => Some(&mut recorded.maker),
                Meaning::Model => Some(&mut recorded.model),
                Meaning::Lens => Some(&mut recorded.lens),
                Meaning::FNumber => {
                    recorded.f_number = reading(text, number::stop, FNumber::new, origin);
                    None
                }
                Meaning::Iso => {
                    settings.iso = reading(text, number::decimal, ExposureIndex::new, origin);
                    None
                }
                Meaning::ShutterAngle => {
                    settings.shutter_angle =
                        reading(text, number::either, ShutterAngle::new, origin);
                    None
                }
                Meaning::ExposureTime => {
                    settings.exposure_time = reading(text, number::either, Seconds::new, origin);
                    None
                }
                Meaning::WhiteBalance => {
                    settings.white_balance = reading(text, kelvins, Kelvin::new, origin);
                    None
                }
            };
            if let Some(slot) = slot {
                *slot = Some(Sourced::new(text.to_owned(), origin()));
            }
            recorded.settings = settings.boxed();
            said.push(recorded);
        }
    }
    said
}

/// A number with its unit behind it or without: `5600`, `5600K`.
fn kelvins(text: &str) -> Option<Written> {
    let text = text.trim();
    number::decimal(text.strip_suffix(['K', 'k']).unwrap_or(text))
}

fn reading<U: Unit>(
    text: &str,
    parse: impl Fn(&str) -> Option<Written>,
    unit: impl Fn(f64) -> Option<U>,
    origin: impl Fn() -> Origin,
) -> Option<Reading<U>> {
    let Written { value, half_step } = parse(text)?;
    Some(Reading { value: unit(value)?, raw: text.to_owned(), half_step, origin: origin() })
}

/// A raw tag as a tag: bytes become hexadecimal.
pub(super) fn tag(raw: &RawTag, file: &str) -> Tag {
    let value = match &raw.value.value {
        RawValue::Text(text) | RawValue::Number(text) => text.clone(),
        RawValue::Bytes(bytes) => bytes.iter().fold(String::new(), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        }),
    };
    Tag { key: raw.key.clone(), value, origin: origin(raw, file) }
}

fn written(tag: &RawTag) -> Option<&str> {
    match &tag.value.value {
        RawValue::Text(text) | RawValue::Number(text) => Some(text),
        RawValue::Bytes(_) => None,
    }
}

fn origin(tag: &RawTag, file: &str) -> Origin {
    Origin::Media { file: file.into(), path: tag.value.path.clone(), offset: tag.value.offset }
}
