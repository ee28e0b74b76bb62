//! Where the records of a sheet and their cells stand, for findings.

use std::ops::Range;
use std::sync::Arc;

use crate::finding::{Place, Spot};

use super::cells::Sheet;
use super::columns::Columns;
use super::faults::cell_name;
use super::table::Record;

/// The longest line that goes whole into a finding, in bytes.
const MAX_EXCERPT: usize = 400;

impl<C: Columns> Sheet<'_, C> {
    /// The place of a cell, or of a whole row. A record begins with a line, so lines are counted within it alone.
    pub(super) fn place(&self, record: &Record, span: &Range<usize>) -> Place {
        let start = record.span.start;
        let row = self.text.get(record.span.clone()).unwrap_or_default();
        let raw = self.text.get(span.clone()).unwrap_or_default();
        let from = span.start - start + (raw.len() - raw.trim_start().len());
        let inner = from..from + raw.trim().len();
        let mut place = Place::span(self.file.clone(), row, inner);
        if let Spot::Text { line, column, excerpt, name } = &mut place.spot {
            *line += record.line - 1;
            // A line of thousands of bytes helps nobody, and a copy of it for each cell would fill the memory.
            *excerpt = excerpt.take().filter(|excerpt| excerpt.line.len() <= MAX_EXCERPT);
            *name = self.name(record, span).map(Arc::from);
            let index = record.cells.iter().position(|cell| cell == span);
            if let Some(index) = index.filter(|_| self.grid) {
                *column = u64::try_from(index + 1).unwrap_or(u64::MAX);
            }
        }
        place
    }

    /// What a spreadsheet calls a cell: `E4`.
    pub(super) fn name(&self, record: &Record, span: &Range<usize>) -> Option<String> {
        let index = record.cells.iter().position(|cell| cell == span).filter(|_| self.grid)?;
        Some(cell_name(index, record.line))
    }
}
