//! One cell of a clip list to one typed value, to "absent", or to what is wrong with it.

use super::{Column, Listed, ListedStop};
use crate::notes::cell::{self, Wrong, decimal};
use crate::notes::columns::Heading;
use crate::notes::length;
use crate::ratio::{self, Ratio};
use crate::stops::{self, StopText};
use crate::units::{Meters, Millimeters, Raster};

/// Texts that stand for "not known" in lists: nothing, dashes, and numbers that cameras write when no lens answers.
const ABSENT: &[&str] = &[
    "0",
    "0.0",
    "0.00",
    "-1",
    "-1.0",
    "65535",
    "4294967295",
    "n/a",
    "na",
    "none",
    "null",
    "nan",
    "unknown",
    "?",
    "not available",
];
/// The farthest distance that is no way to write infinity, in metres.
const FARTHEST: f64 = 20_000.0;

/// True for a cell that stands for nothing, with or without a unit behind it.
fn is_absent(text: &str) -> bool {
    let text = text.trim().to_lowercase();
    let bare = ["mm", "cm", "ft", "in", "m"]
        .iter()
        .find_map(|unit| text.strip_suffix(unit))
        .unwrap_or(&text)
        .trim();
    let dashes = bare.chars().all(|c| matches!(c, '-' | '–' | '—' | '_' | '*' | '.' | ' '));
    dashes || ABSENT.contains(&bare)
}

pub(super) fn words(text: &str, heading: &Heading<Column>) -> Result<Option<String>, Wrong> {
    let text = cell::words(text, heading)?;
    let dashes = text.chars().all(|c| matches!(c, '-' | '–' | '—' | ' '));
    Ok(Some(text).filter(|_| !dashes))
}

/// A timecode, kept as typed.
pub(super) fn timecode(text: &str, _: &Heading<Column>) -> Result<Option<String>, Wrong> {
    if is_absent(text) {
        return Ok(None);
    }
    let parts: Vec<&str> = text.split([':', ';', '.']).collect();
    let whole =
        |part: &&str| (1..=3).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
    if parts.len() == 4 && parts.iter().all(whole) {
        return Ok(Some(text.to_owned()));
    }
    Err(Wrong { what: "is no timecode", hint: "export it like 10:32:05:12" })
}

/// A number of frames; a duration written as time says nothing certain and is left out.
pub(super) fn frames(text: &str, _: &Heading<Column>) -> Result<Option<u64>, Wrong> {
    if is_absent(text) || text.contains([':', ';', '.']) {
        return Ok(None);
    }
    let plain = text.bytes().all(|b| b.is_ascii_digit()) && text.len() <= 12;
    let frames = plain.then(|| text.parse().ok()).flatten();
    frames.map(Some).ok_or(Wrong { what: "is no number of frames", hint: "export whole frames" })
}

/// A frame rate; 23.976 and the like mean the rates over 1001.
pub(super) fn rate(text: &str, _: &Heading<Column>) -> Result<Option<Ratio>, Wrong> {
    let lower = text.to_lowercase();
    let bare =
        ["fps", "hz", "p"].iter().find_map(|unit| lower.strip_suffix(unit)).unwrap_or(&lower);
    if is_absent(bare) {
        return Ok(None);
    }
    ratio::parse_rate(&bare.trim().replace(',', "."))
        .map(Some)
        .ok_or(Wrong { what: "is no frame rate", hint: "export it like 25, 23.976 or 24000/1001" })
}

/// `3840x2160`, `3840 x 2160`, `3840*2160`.
pub(super) fn raster(text: &str, _: &Heading<Column>) -> Result<Option<Raster>, Wrong> {
    if is_absent(text) {
        return Ok(None);
    }
    let lower = text.to_lowercase();
    let sides = lower.split_once(['x', '\u{d7}', '*']);
    let raster = sides.and_then(|(width, height)| {
        let height = height.trim().trim_end_matches(['p', 'i', ' ']);
        Raster::new(width.trim().parse().ok()?, height.parse().ok()?)
    });
    raster.map(Some).ok_or(Wrong { what: "is no raster", hint: "export it like 3840x2160" })
}

/// One side of a raster.
pub(super) fn side(text: &str, _: &Heading<Column>) -> Result<Option<u32>, Wrong> {
    let lower = text.to_lowercase();
    let bare = lower.strip_suffix("px").unwrap_or(&lower).trim();
    if is_absent(bare) {
        return Ok(None);
    }
    let number = bare.parse().ok().filter(|side| (1..=100_000).contains(side));
    number.map(Some).ok_or(Wrong { what: "is no number of pixels", hint: "export whole pixels" })
}

/// A focal length.
pub(super) fn focal(
    text: &str,
    heading: &Heading<Column>,
) -> Result<Option<Listed<Millimeters>>, Wrong> {
    if is_absent(text) {
        return Ok(None);
    }
    let value = cell::focal(text, heading)?;
    Ok(Some(Listed { value, half_step: half_step(text) }))
}

/// A stop: a number as cameras write it, or a stop and tenths: `T2 3/10` is three tenths of a stop closed from 2.
/// A plain number is taken as written; only a mark with a part of a stop behind it has an exact number.
pub(super) fn stop(text: &str, heading: &Heading<Column>) -> Result<Option<ListedStop>, Wrong> {
    let wrong = Wrong { what: "is no stop", hint: "export it like T2.8, f/4 or T2 3/10" };
    let bare = text.trim_start_matches(['T', 't', 'F', 'f', 'ƒ', '/', ' ']);
    if is_absent(bare) || is_absent(text) {
        return Ok(None);
    }
    let Some(StopText::Number { letter, number }) = stops::parse(text) else { return Err(wrong) };
    let letter = letter.or(heading.letter);
    let number = match decimal(bare.trim()) {
        Some(written) => Listed { value: written, half_step: half_step(bare) },
        // Tenths of a stop: half of one is a twentieth, as a part of the number.
        None => Listed { value: number, half_step: number * std::f64::consts::LN_2 / 40.0 },
    };
    Ok(Some(ListedStop { number, letter }))
}

/// A focus distance, in feet and inches or metric; a bare number follows the heading.
pub(super) fn focus(
    text: &str,
    heading: &Heading<Column>,
) -> Result<Option<Listed<Meters>>, Wrong> {
    if is_absent(text) {
        return Ok(None);
    }
    let value = length::focus(text, heading.unit)?;
    let half_step = if value.get().is_finite() && value.get() < FARTHEST {
        // A hundredth of what it is: lists write inches, centimetres and rounded feet side by side.
        value.get() / 100.0
    } else {
        0.0
    };
    Ok(Some(Listed { value, half_step }))
}

/// Half of the last digit of the first number in a text.
fn half_step(text: &str) -> f64 {
    let digits = text.trim_start_matches(|c: char| !c.is_ascii_digit());
    let number: String =
        digits.chars().take_while(|c| c.is_ascii_digit() || matches!(c, '.' | ',')).collect();
    let decimals = number.find(['.', ',']).map_or(0, |point| number.len() - point - 1);
    let step = ["0.5", "0.05", "0.005", "0.0005", "0.00005"].get(decimals);
    step.and_then(|step| step.parse().ok()).unwrap_or(0.000_005)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::notes::columns::heading;
    use crate::stops::Letter;

    fn under(title: &str) -> Heading<Column> {
        heading::<Column>(title).unwrap()
    }

    #[test]
    fn what_stands_for_nothing_is_nothing() {
        for text in ["----", "0", "-1", "65535", "4294967295", "N/A", "0 mm", "—", "-1.0"] {
            assert_eq!(focal(text, &under("Focal Length")), Ok(None), "{text}");
            assert_eq!(stop(text, &under("Iris")), Ok(None), "{text}");
            assert_eq!(focus(text, &under("Focus (ft)")), Ok(None), "{text}");
        }
        assert_eq!(words("----", &under("Lens")), Ok(None));
        assert_eq!(timecode("--:--:--:--", &under("Start TC")).ok(), None);
    }

    #[test]
    fn stops_and_tenths_of_a_stop() {
        // Some cameras write T as stop and tenths: 2 x 2^0.15 = 2.2191 (shared/checks.md 6).
        let listed = |text: &str| stop(text, &under("Iris")).unwrap().unwrap();
        let tenths = listed("T2 3/10");
        assert!((tenths.number.value - 2.2191).abs() < 5e-5, "{tenths:?}");
        assert_eq!(tenths.letter, Some(Letter::T));
        let plain = listed("2.8");
        assert_eq!((plain.number.value, plain.number.half_step, plain.letter), (2.8, 0.05, None));
        assert_eq!(stop("f/4", &under("Iris")).unwrap().unwrap().letter, Some(Letter::F));
        assert_eq!(stop("5.6", &under("T-Stop")).unwrap().unwrap().letter, Some(Letter::T));
        assert!(stop("wide", &under("Iris")).is_err());
    }

    #[test]
    fn rates_rasters_and_distances() {
        let rate = |text| rate(text, &under("FPS")).unwrap().unwrap().to_string();
        assert_eq!(rate("23.976"), "24000/1001");
        assert_eq!(rate("25 fps"), "25");
        assert_eq!(rate("29,97"), "30000/1001");
        for text in ["3840x2160", "3840 x 2160", "3840*2160", "3840×2160p"] {
            let found = raster(text, &under("Resolution")).unwrap().unwrap();
            assert_eq!(found.to_string(), "3840x2160", "{text}");
        }
        let near = focus("6'3\"", &under("Focus")).unwrap().unwrap().value.get();
        assert!((near - 1.905).abs() < 1e-9, "{near}");
        let feet = focus("6.25", &under("Focus (ft)")).unwrap().unwrap().value.get();
        assert!((feet - 1.905).abs() < 1e-9, "{feet}");
    }
}
