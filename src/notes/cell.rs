//! One cell to one typed value, or to what is wrong with it and what to write instead.

use crate::stops::{self, Letter, StopText};
use crate::units::{FNumber, Meters, Millimeters, TNumber};

use super::columns::Heading;
use super::headings::Column;
use super::length::{self, Unit};
use super::moment::moment;
use super::{AttachmentNote, FocalNote, StopNote};

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

/// A timecode or time of day.
pub(super) fn from(text: &str, _: &Heading<Column>) -> Result<String, Wrong> {
    moment(text).ok_or(Wrong {
        what: "is no timecode",
        hint: "write it like 10:32:05:12, or 10:32:05 for the first frame of that second",
    })
}

/// A focal length on the barrel, or a zoom from one to another: `35>70`.
pub(super) fn focal_note(text: &str, heading: &Heading<Column>) -> Result<FocalNote, Wrong> {
    let lower = text.to_lowercase();
    for sign in [">", "→", "->", "=>", " to "] {
        let Some((first, last)) = lower.split_once(sign) else { continue };
        // In `35>70 cm` the unit goes for both.
        let last = last.trim();
        let unit = last.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','));
        let first = first.trim_end_matches(['-', '=']).trim();
        let first = if first.ends_with(|c: char| c.is_ascii_digit()) {
            format!("{first}{unit}")
        } else {
            first.to_owned()
        };
        if let (Ok(first), Ok(last)) = (focal(&first, heading), focal(last, heading)) {
            return Ok(if first == last {
                FocalNote::At(first)
            } else {
                FocalNote::Moves(first, last)
            });
        }
    }
    focal(text, heading).map(FocalNote::At)
}

/// A focal length on the barrel.
pub(crate) fn focal<C>(text: &str, heading: &Heading<C>) -> Result<Millimeters, Wrong> {
    if is_move(text) {
        return Err(Wrong {
            what: "is more than one focal length",
            hint: "write where the ring stood, 35>70 for a zoom during the clip, or one row for each part of it with the timecode where it begins",
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

/// What stood between lens and camera. How it sat may stand behind it: [`sat`].
pub(crate) fn attachment<C>(text: &str, heading: &Heading<C>) -> Result<AttachmentNote, Wrong> {
    let (name, sat) = sat(text);
    match name.to_lowercase().as_str() {
        "-" | "–" | "none" | "no" | "nil" | "bare" | "off" | "out" | "without" | "w/o" => {
            Ok(AttachmentNote::Nothing)
        }
        "" if sat.is_some() => Err(Wrong {
            what: "says how it sat, not what it was",
            hint: "write its name before that, like 0.71 loose",
        }),
        // `Reducer: yes` names the kind by its heading.
        "yes" | "y" | "x" | "on" | "in" | "true" | "✓" | "✔" | "●" => {
            let heading = heading.typed.to_lowercase();
            let kinds = ["reducer", "extender", "adapter", "adaptor"];
            let kind = kinds.into_iter().find(|kind| heading.contains(kind)).ok_or(Wrong {
                what: "does not say which",
                hint: "write its name, or its magnification like 0.71",
            })?;
            let kind = if kind == "adaptor" { "adapter" } else { kind };
            Ok(AttachmentNote::Named(kind.to_owned()))
        }
        _ => words(name, heading).map(AttachmentNote::Named),
    }
}

/// Words for an attachment that did not sit tight, and for one that did; a longer one before any that it holds.
const SAT: &[(&str, bool)] = &[
    ("not secured", false),
    ("not locked", false),
    ("not tight", false),
    ("unsecured", false),
    ("unlocked", false),
    ("has play", false),
    ("loose", false),
    ("secured", true),
    ("locked", true),
    ("tight", true),
];

/// What an attachment cell names, and how it sat where that stands behind the name: `0.71 (loose)`.
pub(super) fn sat(text: &str) -> (&str, Option<bool>) {
    let bare = text.trim_end_matches([')', ']', '.', '!', ' ']);
    for (word, tight) in SAT {
        let split = bare.len().checked_sub(word.len()).and_then(|at| bare.split_at_checked(at));
        let Some((name, end)) = split.filter(|(_, end)| end.eq_ignore_ascii_case(word)) else {
            continue;
        };
        let parted = name.is_empty() || name.ends_with([' ', ',', ';', '(', '[', '-', '/', '\n']);
        if parted && !end.is_empty() {
            let name = name.trim_end_matches([' ', ',', ';', '(', '[', '-', '/', '\n']);
            return (name, Some(*tight));
        }
    }
    (text, None)
}

/// Whether the attachment sat tight.
pub(super) fn secured(text: &str, _: &Heading<Column>) -> Result<bool, Wrong> {
    if let ("", Some(tight)) = sat(text) {
        return Ok(tight);
    }
    match text.to_lowercase().as_str() {
        "x" | "yes" | "y" | "ok" | "●" | "✓" | "✔" | "1" | "true" | "on" => Ok(true),
        "no" | "n" | "0" | "-" | "–" | "false" | "off" => Ok(false),
        _ => Err(Wrong {
            what: "says neither secured nor loose",
            hint: "write secured or loose, or leave it empty",
        }),
    }
}

/// The distance that the lens was set to.
pub(super) fn focus(text: &str, heading: &Heading<Column>) -> Result<Meters, Wrong> {
    let ends = [">", "→", " to "].iter().find_map(|sign| text.split_once(sign));
    let distance = |text: &str| length::focus(text.trim_end_matches('-'), heading.unit).is_ok();
    if ends.is_some_and(|(first, last)| distance(last) || distance(first)) {
        return Err(Wrong {
            what: "is more than one distance",
            hint: "write one row for each part of the clip, with the timecode where it begins",
        });
    }
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
        for (text, typed, ends) in [
            ("35>70", "Focal", Some((35.0, 70.0))),
            ("35 > 70 mm", "Focal", Some((35.0, 70.0))),
            ("35mm->70mm", "Focal", Some((35.0, 70.0))),
            ("70 → 24", "mm", Some((70.0, 24.0))),
            ("17,5 to 35", "Focal", Some((17.5, 35.0))),
            ("3.5>7", "Focal cm", Some((35.0, 70.0))),
            ("35>35", "Focal", Some((35.0, 35.0))),
            ("24-70", "Focal", None),
            ("35>", "Focal", None),
            ("35>70>35", "Focal", None),
        ] {
            let found = match focal_note(text, &under(typed)) {
                Ok(FocalNote::Moves(a, b)) => Some((a.get(), b.get())),
                Ok(FocalNote::At(a)) => Some((a.get(), a.get())),
                Err(_) => None,
            };
            assert_eq!(found, ends, "{text}");
        }
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
        let nothing: Result<_, Wrong> = Ok(AttachmentNote::Nothing);
        assert_eq!(attachment("Bare", &under("Reducer")), nothing);
        let named: Result<_, Wrong> = Ok(AttachmentNote::Named("0.71".to_owned()));
        assert_eq!(attachment("0.71", &under("Reducer")), named);
        for (text, heading, note) in [
            ("0.71 loose", "Reducer", named.clone()),
            ("0.71 (secured)", "Reducer", named.clone()),
            ("0.71, not locked", "Reducer", named.clone()),
            ("off", "Reducer", nothing.clone()),
            ("yes", "Reducer", Ok(AttachmentNote::Named("reducer".to_owned()))),
            ("x", "Lens adaptor", Ok(AttachmentNote::Named("adapter".to_owned()))),
        ] {
            assert_eq!(attachment(text, &under(heading)), note, "{text}");
        }
        assert!(attachment("loose", &under("Reducer")).is_err());
        assert!(attachment("yes", &under("Attachment")).is_err());
        assert_eq!((sat("0.71 loose").1, sat("Bloose").1), (Some(false), None));
        assert_eq!(secured("loose", &under("Secured")), Ok(false));
        assert_eq!(secured("yes", &under("Secured")), Ok(true));
        assert!(secured("0.71", &under("Secured")).is_err());
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
