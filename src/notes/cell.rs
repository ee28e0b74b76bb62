//! One cell to one typed value, or to what is wrong with it and what to write instead.

use crate::stops::{self, Letter, StopText};
use crate::units::{FNumber, Meters, Millimeters, TNumber};

use super::columns::{Column, Heading};
use super::length::{self, Unit};
use super::{AttachmentNote, StopNote};

/// Why a cell was not understood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Wrong {
    /// What is wrong, to be read after the cell: `is no stop`.
    pub(crate) what: &'static str,
    /// What to write.
    pub(crate) hint: &'static str,
}

/// True for marks that repeat the cell above.
pub(super) fn is_ditto(text: &str) -> bool {
    let text = text.to_lowercase();
    matches!(
        text.as_str(),
        "\"" | "''" | "〃" | "″" | "“" | "”" | "„" | "’’" | "\"\"" | "-\"-" | "do." | "ditto"
    )
}

/// True for cells that say nothing: empty, or a way to write that it is not known.
/// A single dash says nothing either, except where it answers (no attachment, not circled).
pub(super) fn is_blank(text: &str, dash_answers: bool) -> bool {
    match text.to_lowercase().as_str() {
        "" | "--" | "---" | "—" | "n/a" | "n.a." | "na" => true,
        "-" | "–" => !dash_answers,
        _ => is_open(text),
    }
}

/// True for a cell that says that somebody has yet to find out.
pub(super) fn is_open(text: &str) -> bool {
    matches!(text.to_lowercase().as_str(), "?" | "??" | "???" | "tbd" | "tbc")
}

/// A name or a remark.
pub(crate) fn words<C>(text: &str, _: &Heading<C>) -> Result<String, Wrong> {
    let printable = |c: char| !c.is_control() || matches!(c, '\n' | '\r' | '\t');
    if text.chars().all(printable) {
        return Ok(text.to_owned());
    }
    Err(Wrong { what: "holds characters that cannot be printed", hint: "type the cell again" })
}

/// A timecode or time of day: kept as typed, since how it counts is known only with the clip.
pub(super) fn from(text: &str, _: &Heading<Column>) -> Result<String, Wrong> {
    let parts: Vec<&str> = text.split([':', ';', '.']).collect();
    let part = |part: &&str| {
        let digits = (1..=3).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
        digits.then(|| part.parse::<u32>().ok()).flatten()
    };
    let numbers: Option<Vec<u32>> = parts.iter().map(part).collect();
    match numbers.as_deref() {
        Some([0..=23, 0..=59, 0..=59] | [0..=23, 0..=59, 0..=59, _]) => Ok(text.to_owned()),
        _ => Err(Wrong {
            what: "is no timecode",
            hint: "write it like 10:32:05:12, or 10:32:05 for the first frame of that second",
        }),
    }
}

/// A focal length on the barrel.
pub(crate) fn focal<C>(text: &str, heading: &Heading<C>) -> Result<Millimeters, Wrong> {
    if is_move(text) {
        return Err(Wrong {
            what: "is more than one focal length",
            hint: "write one row for each part of the clip, with the timecode where it begins",
        });
    }
    let wrong =
        Wrong { what: "is no focal length", hint: "write it in millimetres, like 35 or 35 mm" };
    let text = text.to_lowercase();
    let (number, unit) = match (text.strip_suffix("mm"), text.strip_suffix("cm")) {
        (Some(number), _) => (number, Unit::Millimeter),
        (_, Some(number)) => (number, Unit::Centimeter),
        _ => (text.as_str(), heading.unit.unwrap_or(Unit::Millimeter)),
    };
    let number = decimal(number.trim()).ok_or(wrong)?;
    let millimeters = if unit == Unit::Centimeter { number * 10.0 } else { number };
    // Longer than any camera lens, shorter than any: slips of the hand.
    let believed = (1.0..=5000.0).contains(&millimeters);
    Millimeters::new(millimeters).filter(|_| believed).ok_or(wrong)
}

/// A stop on the ring; the heading says what a bare number is.
pub(super) fn stop(text: &str, heading: &Heading<Column>) -> Result<StopNote, Wrong> {
    let wrong = Wrong {
        what: "is no stop",
        hint: "write it like T2.8, f/4, 2.8 1/2, 2.8+1/3, 2.8/4 or WO",
    };
    match stops::parse(text) {
        Some(StopText::WideOpen) => Ok(StopNote::WideOpen),
        Some(StopText::Number { letter, number }) => match letter.or(heading.letter) {
            Some(Letter::F) => FNumber::new(number).map(StopNote::F).ok_or(wrong),
            Some(Letter::T) => TNumber::new(number).map(StopNote::T).ok_or(wrong),
            None => Ok(StopNote::Unsaid(number)),
        },
        None if is_move(text) => Err(Wrong {
            what: "is more than one stop",
            hint: "write 2.8/4 for a split; for a pull write one row for each part of the clip, with the timecode where it begins",
        }),
        None => Err(wrong),
    }
}

/// What stood between lens and camera.
pub(crate) fn attachment<C>(text: &str, heading: &Heading<C>) -> Result<AttachmentNote, Wrong> {
    match text.to_lowercase().as_str() {
        "-" | "–" | "none" | "no" | "nil" | "bare" => Ok(AttachmentNote::Nothing),
        _ => words(text, heading).map(AttachmentNote::Named),
    }
}

/// The distance that the lens was set to.
pub(super) fn focus(text: &str, heading: &Heading<Column>) -> Result<Meters, Wrong> {
    length::focus(text, heading.unit)
}

/// Circled or not.
pub(super) fn circled(text: &str, _: &Heading<Column>) -> Result<bool, Wrong> {
    match text.to_lowercase().as_str() {
        "x" | "yes" | "y" | "o" | "●" | "✓" | "✔" | "1" | "circled" | "c" | "true" => {
            Ok(true)
        }
        "no" | "n" | "0" | "-" | "–" | "false" => Ok(false),
        _ => Err(Wrong {
            what: "says neither yes nor no",
            hint: "write x for a circled take, and leave the others empty",
        }),
    }
}

/// A number with a point or a comma. `1,234` is refused: it is 1.234 to some and 1234 to others.
pub(crate) fn decimal(text: &str) -> Option<f64> {
    let digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    let (whole, part) = text.split_once(['.', ',']).unwrap_or((text, "0"));
    let right = !part.is_empty() && digits(whole) && digits(part) && text.len() <= 16;
    let thousands = text.contains(',') && part.len() == 3 && !matches!(whole, "" | "0");
    (right && !thousands).then(|| text.replace(',', ".").parse().ok())?
}

/// True for two numbers with a sign of movement between them: `35>70`, `35-70 mm`, `2.8 to 4`.
fn is_move(text: &str) -> bool {
    let lower = text.to_lowercase();
    let number = |text: &str| {
        let bare = text.trim().trim_start_matches(['t', 'f', '/']).trim_end_matches("mm");
        decimal(bare.trim()).is_some()
    };
    [">", "→", "->", "–", "-", " to "]
        .iter()
        .filter_map(|sign| lower.split_once(sign))
        .any(|(before, after)| number(before.trim_end_matches('-')) && number(after))
}

#[cfg(test)]
mod tests {
    use super::super::columns::heading;
    use super::*;

    fn under(typed: &str) -> Heading<Column> {
        heading(typed).unwrap()
    }

    #[test]
    fn stops_take_their_letter_from_the_cell_or_the_heading() {
        let two = FNumber::new(2.0).map(StopNote::F);
        let t_two = TNumber::new(2.0).map(StopNote::T);
        for (text, typed, stop_note) in [
            ("2", "Stop", Some(StopNote::Unsaid(2.0))),
            ("2", "T-stop", t_two),
            ("2", "F-stop", two),
            ("f/2", "T-stop", two),
            ("T2,0", "Iris", t_two),
            ("wo", "T-stop", Some(StopNote::WideOpen)),
            ("2.8.5", "Stop", None),
            ("2.8>4", "Stop", None),
        ] {
            assert_eq!(stop(text, &under(typed)).ok(), stop_note, "{text}");
        }
    }

    #[test]
    fn focal_lengths_are_millimetres() {
        for (text, typed, number) in [
            ("35", "Focal", Some(35.0)),
            ("35mm", "Focal", Some(35.0)),
            ("35 MM", "mm", Some(35.0)),
            ("17,5", "Focal", Some(17.5)),
            ("8.5", "Focal cm", Some(85.0)),
            ("35>70", "Focal", None),
            ("24-70mm", "Zoom", None),
            ("0", "Focal", None),
            ("1,234", "Focal", None),
            ("35m", "Focal", None),
        ] {
            let found = focal(text, &under(typed)).ok().map(Millimeters::get);
            assert_eq!(found, number, "{text}");
        }
        let moves = focal("35 > 70", &under("Focal")).unwrap_err();
        assert!(moves.hint.contains("timecode"), "{moves:?}");
    }

    #[test]
    fn small_answers_are_read() {
        let heading = under("Circled");
        for (text, answer) in [
            ("x", Some(true)),
            ("●", Some(true)),
            ("O", Some(true)),
            ("0", Some(false)),
            ("-", Some(false)),
            ("maybe", None),
        ] {
            assert_eq!(circled(text, &heading).ok(), answer, "{text}");
        }
        let nothing = Ok(AttachmentNote::Nothing);
        assert_eq!(attachment("Bare", &under("Reducer")), nothing);
        let named = Ok(AttachmentNote::Named("0.71".to_owned()));
        assert_eq!(attachment("0.71", &under("Reducer")), named);
        for text in ["10:00:00:00", "10:00:00;02", "9:05:00", "23:59:59:119"] {
            assert!(from(text, &under("TC")).is_ok(), "{text}");
        }
        for text in ["10:00", "24:00:00:00", "10:60:00", "2:32:00 PM", "10000000", "a:b:c"] {
            assert!(from(text, &under("TC")).is_err(), "{text}");
        }
        assert!(words("a\u{1b}[2J", &under("Lens")).is_err());
    }

    #[test]
    fn cells_that_say_nothing_and_cells_that_repeat() {
        for text in ["", "n/a", "?", "TBD", "--"] {
            assert!(is_blank(text, true), "{text}");
        }
        assert!(is_blank("-", false) && !is_blank("-", true));
        for text in ["\"", "''", "〃", "do.", "Ditto", "″"] {
            assert!(is_ditto(text), "{text}");
        }
        assert!(!is_ditto("75\"") && !is_ditto(""));
    }
}
