//! What can be wrong with a record before any of its cells is read, and how trouble is told.

use std::ops::Range;

use crate::finding::{Code, Finding};

use super::cells::Sheet;
use super::columns::Columns;
use super::table::Record;

/// A column of bare numbers under a heading without a unit.
pub(super) struct Unitless {
    column: usize,
    /// Where the finding about it stands among those of the sheet, and what it says of its first cell.
    finding: usize,
    first: String,
    /// Cells that it speaks for.
    cells: usize,
}

/// Something wrong with a record.
pub(super) struct Trouble {
    /// Where in the text it begins.
    pub(super) at: usize,
    pub(super) finding: Finding,
    /// The column that has no unit, if that is the trouble.
    pub(super) unitless: Option<usize>,
}

/// The name that spreadsheets give to the cell in a column, from 0, and a row, from 1.
pub(super) fn cell_name(column: usize, row: u64) -> String {
    let mut letters = String::new();
    let mut left = column + 1;
    while left > 0 {
        let letter = u8::try_from((left - 1) % 26).unwrap_or_default();
        letters.insert(0, char::from(b'A' + letter));
        left = (left - 1) / 26;
    }
    format!("{letters}{row}")
}

impl<C: Columns> Sheet<'_, C> {
    /// Puts a finding to the others. That a column has no unit is said once, at its first cell.
    pub(super) fn tell(&mut self, trouble: Trouble, findings: &mut Vec<Finding>) {
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

    /// What makes a row unusable as a whole.
    pub(super) fn unusable(&self, record: &Record, values: &csv::StringRecord) -> Option<Finding> {
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
        // The cells of a grid cannot be shifted.
        if self.grid {
            return None;
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
    pub(super) fn unheaded(
        &mut self,
        record: &Record,
        values: &csv::StringRecord,
        found: &mut Vec<Trouble>,
    ) {
        for (index, value) in values.iter().enumerate() {
            let heading = self.layout.headings.get(index);
            let used =
                heading.is_none_or(|(title, _)| title.is_empty()) && !value.trim().is_empty();
            if !used || self.unheaded.contains(&index) {
                continue;
            }
            self.unheaded.push(index);
            let span = record.cells.get(index).unwrap_or(&record.span);
            let message = match self.name(record, span) {
                Some(name) => format!("the column of {name} has no heading; it is not used"),
                None => format!("column {} has no heading; it is not used", index + 1),
            };
            let finding = Finding::new(Code::NotesHeading, message)
                .at(self.place(record, span))
                .hint("write what the column tells above it");
            found.push(Trouble { at: span.start, finding, unitless: None });
        }
    }
}
