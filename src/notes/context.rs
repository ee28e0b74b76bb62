//! What a sheet says once for many rows: roll and camera in the block above the headings, in a line between the rows,
//! or in a cell that is left empty below because it goes on.

use crate::finding::Place;
use crate::sourced::Origin;

use super::clips::ClipCell;
use super::{ClipNames, Noted};

/// Words before a roll.
const ROLL: &[&str] = &["roll", "reel", "card", "mag", "magazine"];
/// Words before a camera.
const CAMERA: &[&str] = &["camera", "cam"];
/// The longest name of a roll or camera in such a line, in bytes.
const LONGEST: usize = 32;

/// What a line that only names roll and camera says.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Said {
    pub(super) roll: Option<String>,
    pub(super) camera: Option<String>,
}

/// Reads the filled cells of a line; `None` where it says anything but roll and camera, each at most once.
pub(super) fn said(cells: &[&str]) -> Option<Said> {
    let mut said = Said::default();
    let text = cells.join(" ");
    if text.len() > 4 * LONGEST {
        return None;
    }
    let mut words = text
        .split(|c: char| c.is_whitespace() || matches!(c, ':' | ',' | ';' | '|' | '#' | '=' | '.'))
        .filter(|word| !word.is_empty() && *word != "-" && *word != "–")
        .peekable();
    while let Some(word) = words.next() {
        let word = word.to_lowercase();
        let next = words.peek().map(|next| next.to_lowercase()).unwrap_or_default();
        let into = if ROLL.contains(&word.as_str()) {
            &mut said.roll
        } else if CAMERA.contains(&word.as_str()) {
            // `Camera roll A003` names a roll.
            if ROLL.contains(&next.as_str()) {
                continue;
            }
            &mut said.camera
        } else {
            return None;
        };
        let name = words.next().filter(|name| name.len() <= LONGEST)?;
        if into.replace(name.to_owned()).is_some() {
            return None;
        }
    }
    (said != Said::default()).then_some(said)
}

/// What the block above the headings says: each cell or pair of cells that names a roll or camera. Two that differ say
/// nothing.
pub(super) fn title(rows: &[Vec<String>]) -> Said {
    let mut found = Said::default();
    let (mut rolls, mut cameras) = (0, 0);
    for row in rows {
        let cells: Vec<&str> =
            row.iter().map(|cell| cell.trim()).filter(|c| !c.is_empty()).collect();
        let mut at = 0;
        while let Some(cell) = cells.get(at) {
            let pair = cells
                .get(at + 1)
                .and_then(|next| said(&[cell, next]).filter(|_| said(&[cell]).is_none()));
            at += if pair.is_some() { 2 } else { 1 };
            let Some(Said { roll, camera }) = pair.or_else(|| said(&[cell])) else { continue };
            rolls += usize::from(roll.is_some() && roll != found.roll);
            cameras += usize::from(camera.is_some() && camera != found.camera);
            found.roll = roll.or(found.roll);
            found.camera = camera.or(found.camera);
        }
    }
    Said { roll: found.roll.filter(|_| rolls == 1), camera: found.camera.filter(|_| cameras == 1) }
}

/// True for what can only be a roll: a letter or two, and three digits.
pub(super) fn is_like_a_roll(text: &str) -> bool {
    let digits = text.trim_start_matches(|c: char| c.is_ascii_alphabetic());
    let letters = text.len() - digits.len();
    (1..=2).contains(&letters) && digits.len() == 3 && digits.bytes().all(|b| b.is_ascii_digit())
}

/// What goes on from the rows above.
#[derive(Default)]
pub(super) struct Context {
    /// The roll that was named last.
    pub(super) roll: Option<Noted<String>>,
    /// The camera that a block or line names.
    pub(super) camera: Option<Noted<String>>,
    /// The clips of the row above.
    pub(super) clips: Option<ClipCell>,
}

impl Context {
    /// A block or line that names roll and camera: rows below belong to them.
    pub(super) fn begin(&mut self, said: Said, origin: &Origin, place: &Place) {
        let noted = |text: String| Noted {
            typed: text.clone(),
            value: text,
            origin: origin.clone(),
            place: place.clone(),
        };
        if let Some(roll) = said.roll {
            self.roll = Some(noted(roll));
            // Another roll may be another camera's.
            self.camera = None;
        }
        if let Some(camera) = said.camera {
            self.camera = Some(noted(camera));
        }
        self.clips = None;
    }
}

/// True where a name can do with a roll: one run of digits, as in `C007` or `7`. `A003C007` says its own.
pub(super) fn wants_roll(names: &[ClipNames]) -> bool {
    let short = |name: &str| {
        let name = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
        name.split(|c: char| !c.is_ascii_digit()).filter(|run| !run.is_empty()).count() <= 1
    };
    names.iter().all(|name| match name {
        ClipNames::One(name) => short(name),
        // `A004*` names a roll of its own.
        ClipNames::Pattern(name) => {
            short(name) && !is_like_a_roll(name.split('*').next().unwrap_or_default())
        }
        ClipNames::Range(first, _) => short(first),
        ClipNames::Either { parts, .. } => wants_roll(parts),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_that_name_roll_and_camera() {
        let found = |cells: &[&str]| {
            let said = said(cells)?;
            Some((said.roll.unwrap_or_default(), said.camera.unwrap_or_default()))
        };
        for (cells, expected) in [
            (&["Roll A003"][..], Some(("A003", ""))),
            (&["Roll: A003"], Some(("A003", ""))),
            (&["ROLL", "A003"], Some(("A003", ""))),
            (&["Cam. roll A003"], Some(("A003", ""))),
            (&["CAM A - ROLL A003"], Some(("A003", "A"))),
            (&["Camera: B", "Card: B002"], Some(("B002", "B"))),
            (&["Roll"], None),
            (&["A003"], None),
            (&["Roll A003 was scratched"], None),
            (&["Roll A003", "Roll A004"], None),
            (&["Clip", "C003"], None),
        ] {
            let expected = expected.map(|(roll, camera)| (roll.to_owned(), camera.to_owned()));
            assert_eq!(found(cells), expected, "{cells:?}");
        }
    }

    #[test]
    fn blocks_above_the_headings() {
        let rows = |cells: &[&[&str]]| -> Vec<Vec<String>> {
            cells.iter().map(|row| row.iter().map(|&c| c.to_owned()).collect()).collect()
        };
        let block =
            title(&rows(&[&["Lens notes", "", "Day 3"], &["Camera:", "A", "", "Roll", "A003"]]));
        assert_eq!((block.roll.as_deref(), block.camera.as_deref()), (Some("A003"), Some("A")));
        let two = title(&rows(&[&["Roll: A003"], &["Roll: A004"]]));
        assert_eq!(two.roll, None);
        assert!(is_like_a_roll("A003") && !is_like_a_roll("A003C007") && !is_like_a_roll("C07"));
    }
}
