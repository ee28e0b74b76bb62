//! Camera texts of QuickTime: which metadata keys and user data have a meaning here. All others stay tags.

use std::fmt::Write;

use crate::header::quicktime::{RawTag, RawValue};
use crate::recorded::{Reading, Recorded, Tag, number};
use crate::sourced::{Origin, Sourced};
use crate::units::FNumber;

/// What a key means.
#[derive(Clone, Copy)]
enum Meaning {
    Maker,
    Model,
    Lens,
    FNumber,
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
            let slot = match meaning {
                Meaning::Maker => &mut recorded.maker,
                Meaning::Model => &mut recorded.model,
                Meaning::Lens => &mut recorded.lens,
                Meaning::FNumber => {
                    recorded.f_number = number::stop(text).and_then(|stop| {
                        Some(Reading {
                            value: FNumber::new(stop.value)?,
                            raw: text.to_owned(),
                            half_step: stop.half_step,
                            origin: origin(tag, file),
                        })
                    });
                    said.push(recorded);
                    continue;
                }
            };
            *slot = Some(Sourced::new(text.to_owned(), origin(tag, file)));
            said.push(recorded);
        }
    }
    said
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
