//! What the tags of acquisition metadata are called and how their values are shown (SMPTE RDD 18).

use std::fmt::Write as _;

use crate::header::klv::Item;
use crate::number;
use crate::recorded::acquisition::Set;
use crate::recorded::acquisition::coding::{distance, iris, known, word};

/// Bytes of one value that are shown.
const SHOWN: usize = 64;
/// Characters of one text that are shown.
const TEXT: usize = 256;

/// How a value is written.
#[derive(Clone, Copy, PartialEq)]
enum Coding {
    Iris,
    /// A distance in the scene.
    Distance,
    /// A length at the lens, written as a distance.
    Length,
    Percent,
    Micrometers,
    /// Part of the travel of a ring, in 65536ths.
    Ring,
    Text,
    Number,
    /// Sixtieths of a degree.
    Minutes,
    Ratio,
    /// Shown as it is.
    Plain,
}

/// Tag, name, coding.
const TABLE: &[(u16, &str, Coding)] = &[
    (0x8000, "irisFNumber", Coding::Iris),
    (0x8001, "focusFromImagePlane", Coding::Distance),
    (0x8002, "focusFromFrontVertex", Coding::Distance),
    (0x8003, "macro", Coding::Plain),
    (0x8004, "focalLength35mmEquivalent", Coding::Length),
    (0x8005, "focalLength", Coding::Length),
    (0x8006, "opticalExtender", Coding::Percent),
    (0x8007, "lensAttributes", Coding::Text),
    (0x8008, "irisTNumber", Coding::Iris),
    (0x8009, "irisRing", Coding::Ring),
    (0x800A, "focusRing", Coding::Ring),
    (0x800B, "zoomRing", Coding::Ring),
    (0x3210, "captureGamma", Coding::Plain),
    (0x3219, "colorPrimaries", Coding::Plain),
    (0x321A, "codingEquations", Coding::Plain),
    (0x8100, "autoExposureMode", Coding::Plain),
    (0x8101, "autoFocusArea", Coding::Plain),
    (0x8102, "colorFilter", Coding::Plain),
    (0x8103, "neutralDensity", Coding::Number),
    (0x8104, "sensorWidth", Coding::Micrometers),
    (0x8105, "sensorHeight", Coding::Micrometers),
    (0x8106, "captureRate", Coding::Ratio),
    (0x8107, "readout", Coding::Plain),
    (0x8108, "shutterAngle", Coding::Minutes),
    (0x8109, "shutterTime", Coding::Ratio),
    (0x810A, "masterGain", Coding::Plain),
    (0x810B, "iso", Coding::Number),
    (0x810C, "electricalExtender", Coding::Percent),
    (0x810D, "whiteBalanceMode", Coding::Plain),
    (0x810E, "whiteBalance", Coding::Number),
    (0x810F, "blackLevel", Coding::Plain),
    (0x8110, "kneePoint", Coding::Plain),
    (0x8111, "kneeSlope", Coding::Ratio),
    (0x8112, "luminanceRange", Coding::Plain),
    (0x8113, "settingFile", Coding::Text),
    (0x8114, "cameraAttributes", Coding::Text),
    (0x8115, "exposureIndex", Coding::Number),
    (0x8116, "gammaForCdl", Coding::Plain),
    (0x8117, "cdl", Coding::Plain),
    (0x8118, "colorMatrix", Coding::Plain),
];

/// The name of a tag; its number where the standard has none, as in a maker's own set.
pub(super) fn name(kind: Set, tag: u16) -> String {
    row(kind, tag).map_or_else(|| format!("{tag:04X}"), |(_, name, _)| (*name).to_owned())
}

/// An item as written, with its meaning before it where the standard gives one.
pub(super) fn value(kind: Set, item: &Item) -> String {
    let mut written = "0x".to_owned();
    for byte in item.value.iter().take(SHOWN) {
        let _ = write!(written, "{byte:02X}");
    }
    let coding = row(kind, item.tag).map_or(Coding::Plain, |(_, _, coding)| *coding);
    match meaning(coding, item.value) {
        Some(text) if coding == Coding::Text => text,
        Some(meaning) => format!("{meaning} ({written})"),
        None => written,
    }
}

fn row(kind: Set, tag: u16) -> Option<&'static (u16, &'static str, Coding)> {
    let row = TABLE.iter().find(|(known, ..)| *known == tag);
    row.filter(|_| kind != Set::UserDefined)
}

fn meaning(coding: Coding, value: &[u8]) -> Option<String> {
    match coding {
        Coding::Iris => Some(number::short(iris(word(value)?)?.value, 4)),
        Coding::Distance => Some(format!("{} m", number::short(distance(word(value)?)?.value, 6))),
        Coding::Length => {
            Some(format!("{} mm", number::short(distance(word(value)?)?.value * 1000.0, 4)))
        }
        Coding::Percent => Some(format!("{} %", known(word(value)?)?)),
        Coding::Micrometers => Some(format!("{} um", known(word(value)?)?)),
        Coding::Ring => {
            Some(format!("{} of the travel", number::short(f64::from(word(value)?) / 65536.0, 4)))
        }
        Coding::Text => {
            let text = String::from_utf8_lossy(value);
            let text = text.trim_matches(|c: char| c == '\0' || c.is_whitespace());
            let clean = text.chars().take(TEXT).filter(|c| !c.is_control()).collect::<String>();
            (!clean.is_empty()).then_some(clean)
        }
        Coding::Number => Some(known(word(value)?)?.to_string()),
        Coding::Minutes => {
            let minutes = u32::from_be_bytes(value.try_into().ok()?);
            let known = minutes != 0 && minutes != u32::MAX;
            known.then(|| format!("{} deg", number::short(f64::from(minutes) / 60.0, 3)))
        }
        Coding::Ratio => {
            let (num, den) = value.split_at_checked(4)?;
            let num = i32::from_be_bytes(num.try_into().ok()?);
            let den = i32::from_be_bytes(den.try_into().ok()?);
            (num != 0 && den != 0).then(|| format!("{num}/{den}"))
        }
        Coding::Plain => None,
    }
}
