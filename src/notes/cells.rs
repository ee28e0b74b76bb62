//! One record of any sheet, cell by cell: typed values under their headings, ditto marks filled in, faults pointed at.

use std::cell::OnceCell;
use std::ops::Range;
use std::sync::Arc;

use crate::finding::{Code, Finding, Place, Spot};
use crate::sourced::Origin;

use super::Noted;
use super::book::{DATE, LINE_END};
use super::cell::{Wrong, is_blank, is_ditto, is_open};
use super::columns::{Columns, Heading, Layout, key};
use super::faults::{Trouble, Unitless};
use super::length::NO_UNIT;
use super::memory::Above;
use super::table::{LONE_QUOTE, Record};

/// The longest cell that is read, in bytes: a remark of some pages.
pub(super) const MAX_CELL: usize = 16_384;
/// Bytes that ditto marks may repeat in one file; a mark is small and what it repeats may not be.
const MAX_REPEATED: usize = 8 << 20;

/// What holds for every record of a sheet.
pub(super) struct Sheet<'a, C> {
    pub(super) file: Arc<str>,
    /// The text as it stands in the file.
    pub(super) text: &'a str,
    /// True where the text was made from the cells of a spreadsheet.
    pub(super) grid: bool,
    pub(super) layout: &'a Layout<C>,
    repeated: usize,
    /// Columns without a heading that were found to hold something.
    pub(super) unheaded: Vec<usize>,
    /// Columns of which it was said that they have no unit.
    pub(super) unitless: Vec<Unitless>,
}

/// What one record is.
pub(crate) enum Line<'c, 'r, 'a, C> {
    /// Cells to be read.
    Cells(&'c mut Cells<'r, 'a, C>),
    /// Cells of which nobody knows where they belong; said in a finding.
    Unusable,
}

impl<'a, C: Columns> Sheet<'a, C> {
    /// A sheet whose records stand in `text`, below the headings of `layout`.
    pub(super) fn new(file: Arc<str>, text: &'a str, grid: bool, layout: &'a Layout<C>) -> Self {
        let (unheaded, unitless) = (Vec::new(), Vec::new());
        Self { file, text, grid, layout, repeated: 0, unheaded, unitless }
    }

    /// Hands one record to `each`; its findings come in the order of the cells. False where it is empty or repeats the
    /// headings, or where `each` could not use it.
    pub(super) fn read(
        &mut self,
        record: &Record,
        values: &csv::StringRecord,
        findings: &mut Vec<Finding>,
        each: &mut impl FnMut(Line<'_, '_, 'a, C>) -> bool,
    ) -> bool {
        let blank = values.iter().all(|value| value.trim().is_empty());
        if blank || self.repeats_header(values) {
            return false;
        }
        if let Some(finding) = self.unusable(record, values) {
            findings.push(finding);
            return each(Line::Unusable);
        }
        let mut found = Vec::new();
        self.unheaded(record, values, &mut found);
        let mut cells = Cells {
            sheet: self,
            record,
            values,
            found: &mut found,
            unread: Vec::new(),
            understood: None,
            line: OnceCell::new(),
        };
        let used = each(Line::Cells(&mut cells));
        let understood = cells.understood.take();
        found.sort_by_key(|trouble| trouble.at);
        for mut trouble in found {
            if trouble.finding.code == Code::NotesCell {
                trouble.finding.understood.clone_from(&understood);
            }
            self.tell(trouble, findings);
        }
        used
    }

    fn repeats_header(&self, values: &csv::StringRecord) -> bool {
        let mut known = self
            .layout
            .headings
            .iter()
            .zip(values.iter())
            .filter_map(|((_, h), v)| Some((h.as_ref()?, v)));
        let count = self.layout.headings.iter().filter(|(_, heading)| heading.is_some()).count();
        count <= values.len() && known.all(|(heading, value)| key(&heading.typed) == key(value))
    }
}

/// The cells of one record, while they are read.
pub(crate) struct Cells<'r, 'a, C> {
    /// What stood in the row and could not be read.
    pub(crate) unread: Vec<&'static str>,
    /// What was understood of the record, for the findings of its cells.
    pub(super) understood: Option<String>,
    sheet: &'r mut Sheet<'a, C>,
    record: &'r Record,
    values: &'r csv::StringRecord,
    found: &'r mut Vec<Trouble>,
    /// The line of the record that is shown first.
    line: OnceCell<Arc<str>>,
}

impl<C: Columns> Cells<'_, '_, C> {
    /// Reads a cell that others may stand in for; that it was filled and not understood is remembered as `what`.
    pub(crate) fn value<T: Clone>(
        &mut self,
        what: &'static str,
        column: C,
        above: &mut Above<T>,
        read: impl FnOnce(&str, &Heading<C>) -> Result<T, Wrong>,
    ) -> Option<Noted<T>> {
        let told = self.found.len();
        let noted = self.read(column, above, read);
        if noted.is_none() && self.found.len() > told {
            self.unread.push(what);
        }
        noted
    }

    /// Reads the cell of `column`, and remembers it for the row below.
    pub(crate) fn read<T: Clone>(
        &mut self,
        column: C,
        above: &mut Above<T>,
        read: impl FnOnce(&str, &Heading<C>) -> Result<T, Wrong>,
    ) -> Option<Noted<T>> {
        let layout = self.sheet.layout;
        let (index, heading) = layout.headings.iter().enumerate().find_map(|(index, (_, h))| {
            h.as_ref().filter(|h| h.column == column).map(|h| (index, h))
        })?;
        let text = self.text(index);
        if is_blank(&text, column.dash_answers()) {
            *above = Above::Blank;
            return None;
        }
        let understood = if is_ditto(&text) {
            self.repeat(above)
        } else if self.sheet.grid && self.is_date(index) && !column.takes_dates() {
            Err(Wrong {
                what: "is a date: the spreadsheet took something like 5/6 for one",
                hint: "format the cell as text, then type it again",
            })
        } else if text.contains(LONE_QUOTE) {
            Err(Wrong {
                what: "opens a quotation mark that is never closed well",
                hint: "close it, and write a quotation mark inside it twice",
            })
        } else if text.len() > MAX_CELL {
            Err(Wrong { what: "is longer than any note", hint: "shorten it to a few lines" })
        } else {
            read(&text, heading).map(|value| (value, text.clone()))
        };
        match understood {
            Ok((value, typed)) => {
                *above = Above::Value(value.clone(), typed.clone());
                Some(Noted {
                    value,
                    typed,
                    origin: Origin::Note {
                        file: self.sheet.file.clone(),
                        line: self.record.line,
                        heading: heading.typed.clone(),
                    },
                    place: self.place_at(self.span(index)),
                })
            }
            Err(wrong) => {
                *above = Above::Lost;
                let code = if column.takes_row() { Code::NotesRow } else { Code::NotesCell };
                let message =
                    format!("{} under {} {}", quoted(&text), quoted(&heading.typed), wrong.what);
                let unitless = (wrong.what == NO_UNIT).then_some(index);
                self.report(code, self.span(index).clone(), message, wrong.hint);
                if let Some(trouble) = self.found.last_mut() {
                    trouble.unitless = unitless;
                }
                None
            }
        }
    }

    /// What a ditto mark repeats.
    fn repeat<T: Clone>(&mut self, above: &Above<T>) -> Result<(T, String), Wrong> {
        let hint = "write the value itself";
        let Above::Value(value, typed) = above else {
            return Err(Wrong {
                what: "repeats a cell above it that says nothing or was not understood",
                hint,
            });
        };
        self.sheet.repeated = self.sheet.repeated.saturating_add(typed.len());
        if self.sheet.repeated > MAX_REPEATED {
            return Err(Wrong { what: "repeats more than is believed of lens notes", hint });
        }
        Ok((value.clone(), typed.clone()))
    }

    /// Says what is wrong with a part of the record.
    fn report(&mut self, code: Code, span: Range<usize>, message: String, hint: &str) {
        let finding = Finding::new(code, message).at(self.place_at(&span)).hint(hint);
        self.found.push(Trouble { at: span.start, finding, unitless: None });
    }

    /// Takes back what was found of the record's cells: of a row that is shorter than the headings, a cell that cannot be
    /// is the sign that cells are missing before it. False where it is not shorter, or all was understood.
    pub(super) fn take_back_if_shifted(&mut self, odd: Option<C>) -> bool {
        let short = !self.sheet.grid && self.values.len() < self.sheet.layout.headings.len();
        let odd = odd.and_then(|column| self.index(column)).map(|index| self.span(index).clone());
        let fault = |trouble: &&Trouble| trouble.finding.code == Code::NotesCell;
        let first = self.found.iter().find(fault).map(|trouble| trouble.at);
        let span = match (first, odd) {
            (Some(at), _) => self.record.cells.iter().find(|cell| cell.start == at).cloned(),
            (None, odd) => odd,
        };
        let Some(span) = span.filter(|_| short) else { return false };
        self.found.retain(|trouble| trouble.finding.code != Code::NotesCell);
        let typed = self.sheet.text.get(span.clone()).unwrap_or_default().trim();
        let message = format!(
            "this row has fewer cells than there are headings, and {} cannot be where it stands: its cells may be shifted",
            quoted(typed)
        );
        let hint = "write a cell for each heading, an empty one where nothing is to be said";
        self.report(Code::NotesRow, span, message, hint);
        true
    }

    /// The cells that say anything, trimmed.
    pub(super) fn filled(&self) -> Vec<&str> {
        self.values.iter().map(str::trim).filter(|value| !value.is_empty()).collect()
    }

    /// The record as an origin.
    pub(super) fn origin(&self, heading: &str) -> Origin {
        let (file, line) = (self.sheet.file.clone(), self.record.line);
        Origin::Note { file, line, heading: heading.into() }
    }

    /// True where a spreadsheet keeps the cell as a date.
    fn is_date(&self, index: usize) -> bool {
        self.values.get(index).is_some_and(|value| value.trim().starts_with(DATE))
    }

    /// Says what is wrong with the whole record.
    pub(crate) fn report_row(&mut self, message: &str, hint: &str) {
        self.report(Code::NotesRow, self.record.span.clone(), message.to_owned(), hint);
    }

    /// How many findings the record has so far.
    pub(crate) fn told(&self) -> usize {
        self.found.len()
    }

    /// The finding last made.
    pub(super) fn last(&mut self) -> Option<&mut Finding> {
        self.found.last_mut().map(|trouble| &mut trouble.finding)
    }

    /// The record itself, for findings.
    pub(crate) fn place(&self) -> Place {
        self.place_at(&self.record.span)
    }

    /// Line of the file where the record begins, from 1.
    pub(crate) fn line(&self) -> u64 {
        self.record.line
    }

    /// True where the sheet has the column.
    pub(crate) fn has(&self, column: C) -> bool {
        self.index(column).is_some()
    }

    /// The place of a part of the record. All places of a record share the line that they show.
    fn place_at(&self, span: &Range<usize>) -> Place {
        let mut place = self.sheet.place(self.record, span);
        if let Spot::Text { excerpt: Some(excerpt), .. } = &mut place.spot {
            let line = self.line.get_or_init(|| Arc::clone(&excerpt.line));
            // A cell that holds line ends has lines of its own.
            if *line == excerpt.line {
                excerpt.line = Arc::clone(line);
            }
        }
        place
    }

    /// The cell of `column`, if it holds anything.
    pub(super) fn place_of(&self, column: C) -> Option<Place> {
        let index = self.index(column).filter(|_| self.says(column))?;
        Some(self.place_at(self.span(index)))
    }

    /// True where the cell holds anything but a way to say nothing.
    pub(super) fn says(&self, column: C) -> bool {
        let text = self.index(column).map(|index| self.text(index));
        text.is_some_and(|text| !is_blank(&text, column.dash_answers()))
    }

    /// True where the cell says that somebody has yet to find out.
    pub(super) fn is_open(&self, column: C) -> bool {
        self.index(column).is_some_and(|index| is_open(&self.text(index)))
    }

    fn index(&self, column: C) -> Option<usize> {
        let mut headings = self.sheet.layout.headings.iter();
        headings.position(|(_, h)| h.as_ref().is_some_and(|h| h.column == column))
    }

    /// The trimmed text of a cell; empty where the row is too short to have it.
    fn text(&self, index: usize) -> String {
        let text = self.values.get(index).unwrap_or_default();
        if self.sheet.grid {
            return self.typed(index, text.trim());
        }
        // Signs without width come along when a cell is copied from a page.
        let text = text.trim_matches(|c: char| c.is_whitespace() || is_ghost(c));
        let mut lone = [0; 4];
        if text == LONE_QUOTE.encode_utf8(&mut lone) {
            return "\"".to_owned();
        }
        text.to_owned()
    }

    /// The text of a cell of a spreadsheet, with what the marks in it stand for.
    fn typed(&self, index: usize, text: &str) -> String {
        let text = match text.strip_prefix(DATE) {
            // The digit that the mark stands for.
            Some(rest) => {
                let shown = self.sheet.text.get(self.span(index).clone()).unwrap_or_default();
                let digit = shown.trim_start_matches(['"', ' ']).chars().next();
                digit.map_or_else(|| rest.to_owned(), |digit| format!("{digit}{rest}"))
            }
            None => text.to_owned(),
        };
        text.replace(LINE_END, "\n")
            .trim_matches(|c: char| c.is_whitespace() || is_ghost(c))
            .to_owned()
    }

    fn span(&self, index: usize) -> &Range<usize> {
        self.record.cells.get(index).unwrap_or(&self.record.span)
    }
}

/// Signs without width.
fn is_ghost(c: char) -> bool {
    matches!(c, '\u{200b}' | '\u{2060}' | '\u{feff}')
}

/// A cell as a message shows it: on one line, without signs that steer a terminal, and not longer than is readable.
pub(crate) fn quoted(text: &str) -> String {
    const SHOWN: usize = 40;
    let steers = |c: char| {
        c.is_control()
            || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    let mut shown: String = text
        .chars()
        .take(SHOWN)
        .map(|c| match c {
            LONE_QUOTE => '"',
            c if steers(c) => ' ',
            c => c,
        })
        .collect();
    if text.chars().nth(SHOWN).is_some() {
        shown.push('…');
    }
    format!("\"{shown}\"")
}
