//! What is typed into the cells of a chart sheet: lengths, spans, pitches, sides, in the words of the set.

use crate::notes::cell::{Wrong, decimal};
use crate::notes::columns::Heading;
use crate::notes::length::{self, Unit};
use crate::units::{Meters, Millimeters};

use super::shots::{Column, Setting, Side};

/// The widest span that is believed, in pixels: no raster is wider.
const WIDEST: f64 = 100_000.0;

/// `2 m`, `inf`, or a word for a ring that was turned for every shot.
pub(super) fn focus(text: &str, heading: &Heading<Column>) -> Result<Setting, Wrong> {
    let word = text.to_lowercase();
    if matches!(word.as_str(), "refocused" | "refocus" | "each" | "every" | "on chart" | "chart") {
        return Ok(Setting::Refocused);
    }
    let hint = "write the mark on the ring like 2 m or inf, or refocused where the ring was turned for every shot";
    length::focus(text, heading.unit).map(Setting::Mark).map_err(|wrong| Wrong { hint, ..wrong })
}

/// The side of the picture that was measured along, in words of the set.
pub(super) fn side(text: &str, _: &Heading<Column>) -> Result<Side, Wrong> {
    match text.to_lowercase().as_str() {
        "width" | "wide" | "horizontal" => Ok(Side::Width),
        "height" | "high" | "vertical" => Ok(Side::Height),
        _ => Err(Wrong {
            what: "is no side of the picture",
            hint: "write width where the chart was measured from left to right, height from top to bottom",
        }),
    }
}

/// A length that somebody taped.
pub(super) fn distance(text: &str, heading: &Heading<Column>) -> Result<Meters, Wrong> {
    taped(
        text,
        heading.unit,
        "write the tape like 1.5 m, 1500 mm or 4'11\", or put the unit in the heading: Tape (m)",
    )
}

pub(super) fn width(text: &str, heading: &Heading<Column>) -> Result<Millimeters, Wrong> {
    let hint = "write the width like 500 mm, or put the unit in the heading: Chart width (mm)";
    chart_width(text, heading.unit).map_err(|wrong| Wrong { hint, ..wrong })
}

/// A chart width as typed; a bare number is in `unit`.
pub(crate) fn chart_width(text: &str, unit: Option<Unit>) -> Result<Millimeters, Wrong> {
    let wrong = Wrong { what: "is no width of a chart", hint: "write it like 500 mm" };
    let meters = taped(text, unit, wrong.hint)?;
    Millimeters::new(meters.get() * 1000.0).filter(|width| width.get() >= 1.0).ok_or(wrong)
}

fn taped(text: &str, unit: Option<Unit>, hint: &'static str) -> Result<Meters, Wrong> {
    let meters = length::focus(text, unit).map_err(|wrong| Wrong { hint, ..wrong })?;
    let finite = meters.get().is_finite();
    if finite { Ok(meters) } else { Err(Wrong { what: "cannot be taped", hint }) }
}

/// A number of recorded pixels.
pub(super) fn span(text: &str, _: &Heading<Column>) -> Result<f64, Wrong> {
    let lower = text.to_lowercase();
    let bare = ["pixels", "pixel", "px"]
        .iter()
        .find_map(|unit| lower.strip_suffix(unit))
        .unwrap_or(&lower);
    let number = decimal(bare.trim());
    number.filter(|span| *span > 0.0 && *span <= WIDEST).ok_or(Wrong {
        what: "is no number of pixels",
        hint: "write the recorded pixels from one side of the chart to the other, like 2900 or 2900.5",
    })
}

/// A pitch; bare numbers are micrometres.
pub(super) fn pitch(text: &str, _: &Heading<Column>) -> Result<Millimeters, Wrong> {
    let hint = "write the pitch of the recorded pixels in micrometres, like 4.4 or 4.4 µm";
    pixel_pitch(text).ok_or(Wrong { what: "is no pixel pitch", hint })
}

/// A pitch of recorded pixels as typed: micrometres, or millimetres where it says so.
pub(crate) fn pixel_pitch(text: &str) -> Option<Millimeters> {
    let lower = text.trim().to_lowercase();
    let (number, parts) = match (
        ["µm", "μm", "um", "microns", "micron"].iter().find_map(|unit| lower.strip_suffix(unit)),
        lower.strip_suffix("mm"),
    ) {
        (Some(number), _) => (number, 1000.0),
        (None, Some(number)) => (number, 1.0),
        (None, None) => (lower.as_str(), 1000.0),
    };
    // From the smallest photosites made to pixels binned from many large ones.
    let pitch = decimal(number.trim())? / parts;
    Millimeters::new(pitch).filter(|_| (0.0003..=0.2).contains(&pitch))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pitches_are_micrometres() {
        for (text, mm) in
            [("4.4", 0.0044), ("4,4 µm", 0.0044), ("4.4um", 0.0044), ("0.0044 mm", 0.0044)]
        {
            let found = pixel_pitch(text).map_or(0.0, Millimeters::get);
            assert!((found - mm).abs() < 1e-12, "{text}");
        }
        for text in ["", "0", "4.4 m", "4400", "x"] {
            assert!(pixel_pitch(text).is_none(), "{text}");
        }
    }
}
