//! One record of any sheet, cell by cell: typed values under their headings, ditto marks filled in, faults pointed at.

use std::ops::Range;
use std::sync::Arc;

use crate::finding::{Code, Finding, Place, Spot};
use crate::sourced::Origin;

use super::Noted;
use super::cell::{Wrong, is_blank, is_ditto, is_open};
use super::columns::{Columns, Heading, Layout, key};
use super::length::NO_UNIT;
use super::memory::Above;
use super::table::{LONE_QUOTE, Record};

/// The longest cell that is read, in bytes: a remark of two pages.
const MAX_CELL: usize = 4000;
/// Bytes that ditto marks may repeat in one file; a mark is small and what it repeats may not be.
const MAX_REPEATED: usize = 8 << 20;
/// The longest line that goes whole into a finding, in bytes.
const MAX_EXCERPT: usize = 400;

/// What holds for every record of a sheet.
pub(super) struct Sheet<'a, C> {
    file: Arc<str>,
    /// The text as it stands in the file.
    text: &'a str,
    layout: &'a Layout<C>,
    repeated: usize,
    /// Columns without a heading that were found to hold something.
    unheaded: Vec<usize>,
    /// Columns of which it was said that they have no unit.
    unitless: Vec<Unitless>,
}

/// A column of bare numbers under a heading without a unit.
struct Unitless {
    column: usize,
    /// Where the finding about it stands among those of the sheet, and what it says of its first cell.
    finding: usize,
    first: String,
    /// Cells that it speaks for.
    cells: usize,
}

/// Something wrong with a record.
struct Trouble {
    /// Where in the text it begins.
    at: usize,
    finding: Finding,
    /// The column that has no unit, if that is the trouble.
    unitless: Option<usize>,
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
    pub(super) fn new(file: Arc<str>, text: &'a str, layout: &'a Layout<C>) -> Self {
        Self { file, text, layout, repeated: 0, unheaded: Vec::new(), unitless: Vec::new() }
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
        let mut cells =
            Cells { sheet: self, record, values, found: &mut found, unread: Vec::new() };
        let used = each(Line::Cells(&mut cells));
        found.sort_by_key(|trouble| trouble.at);
        for trouble in found {
            self.tell(trouble, findings);
        }
        used
    }

    /// Puts a finding to the others. That a column has no unit is said once, at its first cell.
    fn tell(&mut self, trouble: Trouble, findings: &mut Vec<Finding>) {
        let Trouble { finding, unitless, .. } = trouble;
        let Some(column) = unitless else { return findings.push(finding) };
        if let Some(told) = self.unitless.iter_mut().find(|told| told.column == column) {
            told.cells += 1;
            if let Some(first) = findings.get_mut(told.finding) {
                first.message = format!("{}; so do {} cells in all", told.first, told.cells);
            }
            return;
        }
        let (first, at) = (finding.message.clone(), findings.len());
        self.unitless.push(Unitless { column, finding: at, first, cells: 1 });
        findings.push(finding);
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

    /// What makes a row unusable as a whole.
    fn unusable(&self, record: &Record, values: &csv::StringRecord) -> Option<Finding> {
        let row = |span: &Range<usize>, message: &str, hint: &str| {
            Finding::new(Code::NotesRow, message).at(self.place(record, span)).hint(hint)
        };
        if let Some(cell) = &record.unpaired {
            return Some(row(
                cell,
                "the quotation marks of this cell do not pair, so its row cannot be told from the next",
                "close the cell with a quotation mark, and write inch marks inside it twice",
            ));
        }
        let width = self.layout.headings.len();
        let filled = |at: &usize| values.get(*at).is_some_and(|value| !value.trim().is_empty());
        let beyond = (width..values.len()).find(filled);
        let shifted = beyond.or_else(|| self.split_number(values))?;
        let span = record.cells.get(shifted).unwrap_or(&record.span);
        Some(row(
            span,
            "this row has more cells than there are headings, so its cells may be shifted",
            "put quotation marks around a cell that holds the sign between cells, such as a decimal comma",
        ))
    }

    /// The cell where a decimal comma may have split a number (`5,6`) and shifted the rest into an empty last cell:
    /// the row is too wide, and whole digits stand before a digit.
    fn split_number(&self, values: &csv::StringRecord) -> Option<usize> {
        if self.layout.delimiter != b',' || values.len() <= self.layout.headings.len() {
            return None;
        }
        let measured = |at: &usize| {
            let heading = self.layout.headings.get(*at).and_then(|(_, h)| h.as_ref());
            heading.is_some_and(|heading| heading.column.is_measured())
        };
        let split = |at: &usize| {
            let (before, after) = (values.get(*at).unwrap_or_default(), values.get(at + 1));
            let whole = before.trim().trim_start_matches(['T', 't', 'F', 'f', '/', ' ']);
            !whole.is_empty()
                && whole.bytes().all(|b| b.is_ascii_digit())
                && after.is_some_and(|after| after.trim().starts_with(|c: char| c.is_ascii_digit()))
        };
        (0..values.len()).filter(measured).find(split)
    }

    /// Says once for each column that it has no heading though it is used.
    fn unheaded(&mut self, record: &Record, values: &csv::StringRecord, found: &mut Vec<Trouble>) {
        for (index, ((title, _), value)) in self.layout.headings.iter().zip(values).enumerate() {
            let used = title.is_empty() && !value.trim().is_empty();
            if !used || self.unheaded.contains(&index) {
                continue;
            }
            self.unheaded.push(index);
            let span = record.cells.get(index).unwrap_or(&record.span);
            let message = format!("column {} has no heading; it is not used", index + 1);
            let finding = Finding::new(Code::NotesHeading, message)
                .at(self.place(record, span))
                .hint("write what the column tells above it");
            found.push(Trouble { at: span.start, finding, unitless: None });
        }
    }

    /// The place of a cell, or of a whole row. A record begins with a line, so lines are counted within it alone.
    fn place(&self, record: &Record, span: &Range<usize>) -> Place {
        let start = record.span.start;
        let row = self.text.get(record.span.clone()).unwrap_or_default();
        let raw = self.text.get(span.clone()).unwrap_or_default();
        let from = span.start - start + (raw.len() - raw.trim_start().len());
        let inner = from..from + raw.trim().len();
        let mut place = Place::span(self.file.clone(), row, inner);
        if let Spot::Text { line, excerpt, .. } = &mut place.spot {
            *line += record.line - 1;
            // A line of thousands of bytes helps nobody, and a copy of it for each cell would fill the memory.
            *excerpt = excerpt.take().filter(|excerpt| excerpt.line.len() <= MAX_EXCERPT);
        }
        place
    }
}

/// The cells of one record, while they are read.
pub(crate) struct Cells<'r, 'a, C> {
    /// What stood in the row and could not be read.
    pub(crate) unread: Vec<&'static str>,
    sheet: &'r mut Sheet<'a, C>,
    record: &'r Record,
    values: &'r csv::StringRecord,
    found: &'r mut Vec<Trouble>,
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
                    place: self.sheet.place(self.record, self.span(index)),
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
        let finding =
            Finding::new(code, message).at(self.sheet.place(self.record, &span)).hint(hint);
        self.found.push(Trouble { at: span.start, finding, unitless: None });
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
        self.sheet.place(self.record, &self.record.span)
    }

    /// Line of the file where the record begins, from 1.
    pub(crate) fn line(&self) -> u64 {
        self.record.line
    }

    /// True where the sheet has the column.
    pub(crate) fn has(&self, column: C) -> bool {
        self.index(column).is_some()
    }

    /// True where the sheet has the column, and its cell says something.
    pub(super) fn is_filled(&self, column: C) -> bool {
        let text = self.index(column).map(|index| self.text(index)).unwrap_or_default();
        !is_blank(&text, column.dash_answers())
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
        let text = self.values.get(index).unwrap_or_default().trim();
        let mut lone = [0; 4];
        if text == LONE_QUOTE.encode_utf8(&mut lone) {
            return "\"".to_owned();
        }
        text.to_owned()
    }

    fn span(&self, index: usize) -> &Range<usize> {
        self.record.cells.get(index).unwrap_or(&self.record.span)
    }
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
