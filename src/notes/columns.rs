//! Which column is which: the headings that people write, the units they put in them, and the row they stand in.

use std::sync::Arc;

use crate::finding::{Place, Spot};
use crate::sourced::Origin;
use crate::stops::Letter;

use super::length::Unit;
use super::table::{DELIMITERS, Record, Scanner, reader};

/// A kind of sheet: its columns, and what is special about each.
pub(crate) trait Columns: Copy + PartialEq + 'static {
    /// The trade's words for each column; case, spaces and signs do not count. The first is the one to recommend.
    const ALIASES: &'static [(Self, &'static [&'static str])];

    /// True where columns that are not known are nothing to speak of: machines write many.
    const ASIDES_WELCOME: bool = false;

    /// True for headings of columns that stand in the sheet to be read by people alone; compared as [`key`] does.
    fn is_aside(_heading: &str) -> bool {
        false
    }

    /// True where a row of headings with the columns that `has` knows is that of such a sheet.
    fn suffice(has: &dyn Fn(Self) -> bool) -> bool;

    /// True where a heading may name `unit` as that of its bare numbers.
    fn takes_unit(self, unit: Unit) -> bool;

    /// True where a bare number may be f or T, and the heading may say which.
    fn is_stop(self) -> bool {
        false
    }

    /// True where a single dash is an answer: no attachment, not circled.
    fn dash_answers(self) -> bool {
        false
    }

    /// True where numbers stand that may have a decimal comma.
    fn is_measured(self) -> bool {
        false
    }

    /// True where a date that a spreadsheet keeps as one is what may stand there.
    fn takes_dates(self) -> bool {
        false
    }

    /// True where a cell that is not understood takes its row with it.
    fn takes_row(self) -> bool {
        false
    }
}

/// A heading understood.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Heading<C> {
    /// What the column tells.
    pub(crate) column: C,
    /// Unit of its bare numbers; `None` where it says none.
    pub(crate) unit: Option<Unit>,
    /// Whether its bare numbers are f or T; `None` where it does not say.
    pub(crate) letter: Option<Letter>,
    /// As typed, trimmed.
    pub(crate) typed: Arc<str>,
}

/// How a notes file is laid out.
#[derive(Clone, Debug)]
pub(crate) struct Layout<C> {
    /// What stands between cells.
    pub(super) delimiter: u8,
    /// The heading row.
    pub(super) header: Record,
    /// What its cells say, trimmed, and what each means; `None` where it is not known.
    pub(super) headings: Vec<(Arc<str>, Option<Heading<C>>)>,
    /// First byte after the heading row.
    pub(super) end: usize,
    /// The rows above it.
    pub(super) titles: Vec<Vec<String>>,
}

impl<C: Columns> Layout<C> {
    /// The block above the headings as an origin and a place.
    pub(super) fn above(&self, file: &Arc<str>) -> (Origin, Place) {
        let line = self.header.line.saturating_sub(1).max(1);
        let origin =
            Origin::Note { file: file.clone(), line, heading: "above the headings".into() };
        let spot = Spot::Text { line, column: 1, excerpt: None, name: None };
        (origin, Place { file: file.clone(), spot })
    }

    /// Different columns that are known.
    fn known(&self) -> usize {
        let has = |column| self.has(|c| c == column);
        C::ALIASES.iter().filter(|(column, _)| has(*column)).count()
    }

    /// True where a known column is one that is `wanted`.
    pub(crate) fn has(&self, wanted: impl Fn(C) -> bool) -> bool {
        let known = |(_, heading): &(_, Option<Heading<C>>)| {
            heading.as_ref().is_some_and(|heading| wanted(heading.column))
        };
        self.headings.iter().any(known)
    }
}

/// Rows searched for headings: a title block stands above them in many sheets.
const HEADER_WITHIN: usize = 30;
/// Rows below the headings whose cells are counted to tell delimiters apart.
const COUNTED: usize = 50;

/// Finds the heading row, and the delimiter with it: the delimiter that gives the most known headings, then the
/// one that gives the most rows as wide as the headings. `None` where no row has the columns that such a sheet needs, and one more
/// than one.
pub(crate) fn layout<C: Columns>(text: &str) -> Option<Layout<C>> {
    layout_of(text, &DELIMITERS)
}

/// The same, where only one of some delimiters can be meant.
pub(super) fn layout_of<C: Columns>(text: &str, delimiters: &[u8]) -> Option<Layout<C>> {
    let mut best: Option<((usize, usize), Layout<C>)> = None;
    for delimiter in delimiters {
        let Some((layout, alike)) = header(text, *delimiter) else {
            continue;
        };
        let score = (layout.known(), alike);
        if best.as_ref().is_none_or(|(other, _)| score > *other) {
            best = Some((score, layout));
        }
    }
    best.map(|(_, layout)| layout)
}

/// The heading row under one delimiter, and how many of the rows below it are as wide.
fn header<C: Columns>(text: &str, delimiter: u8) -> Option<(Layout<C>, usize)> {
    // The two walk side by side and agree where records end, as a test of the scanner shows.
    let (mut scanner, mut reader) = (Scanner::new(text, delimiter), reader(text, delimiter));
    let (mut record, mut cells) = (Record::default(), csv::StringRecord::new());
    let mut best: Option<Layout<C>> = None;
    let mut titles: Vec<Vec<String>> = Vec::new();
    let mut alike = 0;
    for row in 0..HEADER_WITHIN + COUNTED {
        if !scanner.read(&mut record) {
            break;
        }
        if let Some(header) = &best {
            alike += usize::from(header.header.count == record.count);
        }
        if row >= HEADER_WITHIN {
            continue;
        }
        if !reader.read_record(&mut cells).unwrap_or(false) {
            continue;
        }
        let layout = Layout {
            delimiter,
            headings: headings(&record, &cells),
            header: record.clone(),
            end: scanner.at(),
            titles: titles.clone(),
        };
        let known = layout.known();
        let better = best.as_ref().is_none_or(|best| known > best.known());
        if C::suffice(&|column| layout.has(|c| c == column)) && known >= 2 && better {
            (best, alike) = (Some(layout), 0);
        }
        // Only short cells can name a roll or a camera; a page of text need not be kept.
        let short = |cell: &str| if cell.len() <= 128 { cell.to_owned() } else { "…".to_owned() };
        titles.push(cells.iter().take(64).map(short).collect());
    }
    best.map(|layout| (layout, alike))
}

/// The cells of one record, read as headings.
fn headings<C: Columns>(
    record: &Record,
    cells: &csv::StringRecord,
) -> Vec<(Arc<str>, Option<Heading<C>>)> {
    // A heading row is short; a cell that runs over pages (an unclosed quotation mark) is none.
    if record.span.len() > 16_384 || record.count > record.cells.len() {
        return Vec::new();
    }
    let read = |cell: &str| (Arc::from(cell.trim()), heading(cell));
    cells.iter().map(read).collect()
}

/// Reads one heading: `Focus (ft)`, `T-Stop`, `CAM ROLL`.
pub(crate) fn heading<C: Columns>(typed: &str) -> Option<Heading<C>> {
    let typed = typed.trim();
    if typed.len() > 64 {
        return None;
    }
    let key = key(typed);
    let made = |column, unit, letter| Heading { column, unit, letter, typed: typed.into() };
    if let Some(column) = column::<C>(&key) {
        let unit = key.ends_with("mm").then_some(Unit::Millimeter);
        let letter = match key.as_str() {
            "fstop" | "fnumber" => Some(Letter::F),
            "tstop" | "tnumber" => Some(Letter::T),
            _ => None,
        };
        return Some(made(column, unit, letter));
    }
    let with_letter = [("t", Letter::T), ("f", Letter::F)].into_iter().find_map(|(end, letter)| {
        let column = column::<C>(key.strip_suffix(end)?)?;
        column.is_stop().then(|| made(column, None, Some(letter)))
    });
    let with_unit = || {
        Unit::NAMES.iter().chain(FEET_AND_INCHES).find_map(|(name, unit)| {
            let stem = key.strip_suffix(name)?;
            // `Distance in metres` is written too.
            let column = column::<C>(stem).or_else(|| column(stem.strip_suffix("in")?))?;
            column.takes_unit(*unit).then(|| made(column, Some(*unit), None))
        })
    };
    // What stands in brackets may explain and not name: `Circled (y/n)`.
    let without_brackets = || {
        let (stem, explained) = typed.split_once(['(', '['])?;
        let closed = explained.trim_end().ends_with([')', ']']);
        let column = column::<C>(&self::key(stem)).filter(|_| closed)?;
        // Brackets that name a unit which the column cannot have are no explanation.
        let inside = self::key(explained);
        let unit =
            Unit::NAMES.iter().any(|(name, _)| self::key(name) == inside && !inside.is_empty());
        (!unit).then(|| made(column, None, None))
    };
    with_letter.or_else(with_unit).or_else(without_brackets)
}

/// Headings that name feet and inches together; a bare number below them is in feet.
const FEET_AND_INCHES: &[(&str, Unit)] =
    &[("ftin", Unit::Foot), ("feetinches", Unit::Foot), ("feetandinches", Unit::Foot)];

/// Every known heading, as one would write it.
pub(crate) fn words<C: Columns>() -> impl Iterator<Item = &'static str> {
    C::ALIASES.iter().flat_map(|(_, words)| words.iter().copied())
}

/// What a heading is compared by: letters and digits alone, in lower case.
pub(crate) fn key(text: &str) -> String {
    letters(text).collect()
}

fn letters(text: &str) -> impl Iterator<Item = char> {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase)
}

fn column<C: Columns>(wanted: &str) -> Option<C> {
    let known =
        |(_, words): &&(C, &[&str])| words.iter().any(|word| letters(word).eq(wanted.chars()));
    C::ALIASES.iter().find(known).map(|(column, _)| *column)
}

#[cfg(test)]
mod tests {
    use super::super::headings::Column;
    use super::*;

    #[test]
    fn headings_are_known_by_the_words_of_the_trade() {
        let mm = Some(Unit::Millimeter);
        for (typed, column, unit, letter) in [
            ("Clip", Column::Clip, None, None),
            ("CLIP_NAME", Column::Clip, None, None),
            ("Filename", Column::Clip, None, None),
            ("Cam. Roll", Column::Roll, None, None),
            ("TC in", Column::From, None, None),
            ("From", Column::From, None, None),
            ("Time of day", Column::Time, None, None),
            ("Focal mm", Column::Focal, mm, None),
            ("mm", Column::Focal, mm, None),
            ("Zoom (mm)", Column::Focal, mm, None),
            ("Focal Length", Column::Focal, None, None),
            ("Focus (ft)", Column::Focus, Some(Unit::Foot), None),
            ("Focus [m]", Column::Focus, Some(Unit::Meter), None),
            ("Dist. in metres", Column::Focus, Some(Unit::Meter), None),
            ("focus_cm", Column::Focus, Some(Unit::Centimeter), None),
            ("Focus", Column::Focus, None, None),
            ("T-Stop", Column::Stop, None, Some(Letter::T)),
            ("f/stop", Column::Stop, None, Some(Letter::F)),
            ("Iris (T)", Column::Stop, None, Some(Letter::T)),
            ("Iris", Column::Stop, None, None),
            ("Scene / Slate", Column::Slate, None, None),
            ("Adaptor", Column::Attachment, None, None),
        ] {
            let found = heading::<Column>(typed).unwrap_or_else(|| panic!("{typed}"));
            let expected = (column, unit, letter);
            assert_eq!((found.column, found.unit, found.letter), expected, "{typed}");
        }
        for typed in ["", "Lighting", "Clip mm", "Stop m", "Focal ft", "Take T", "Roll A003"] {
            assert_eq!(heading::<Column>(typed), None, "{typed}");
        }
    }

    #[test]
    fn no_word_means_two_columns() {
        let mut keys: Vec<_> = words::<Column>().map(key).collect();
        keys.sort();
        let before = keys.len();
        keys.dedup();
        assert_eq!(keys.len(), before);
    }

    #[test]
    fn the_layout_is_found_below_titles_and_by_its_delimiter() {
        for (text, delimiter, line) in [
            ("Clip,Lens\nC1,a\n", b',', 1),
            ("sep=;\nClip;Lens;Focus m\nC1;a;2,4\n", b';', 2),
            ("Lens notes\tDay 3\n\nRoll\tStop\n", b'\t', 3),
            ("Camera,A\n\"Clip\",\"Lens, name\",Stop\n", b',', 2),
        ] {
            let found = layout::<Column>(text).unwrap_or_else(|| panic!("{text:?}"));
            assert_eq!((found.delimiter, found.header.line), (delimiter, line), "{text:?}");
        }
        for text in ["", "Clip\nC003\n", "a,b\n1,2\n", "Lens,Stop\n50,2\n", "\"Clip,Lens\nC1,a\n"] {
            assert!(layout::<Column>(text).is_none(), "{text:?}");
        }
    }
}
