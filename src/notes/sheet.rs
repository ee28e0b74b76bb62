//! A file to its records, whatever the sheet: its headings said, its lines counted, its findings bounded.

use std::borrow::Cow;
use std::sync::Arc;

use crate::finding::{Code, Finding, Place, Spot, near};

use super::cells::{Line, Sheet, quoted};
use super::columns::{self, Columns, Layout};
use super::faults::cell_name;
use super::table::{self, Record, Scanner};

/// Findings that are listed for one file; beyond that they are counted. Nobody reads more.
const MAX_FINDINGS: usize = 2_000;

/// The text of a sheet.
pub(crate) struct Source<'t> {
    /// As people see it.
    shown: &'t str,
    /// The same, byte for byte, with signs for what text cannot say; `None` where the text is the file itself.
    marked: Option<&'t str>,
}

impl<'t> Source<'t> {
    /// The text of a file.
    pub(crate) fn text(text: &'t str) -> Self {
        Self { shown: text, marked: None }
    }

    /// The text that the cells of a spreadsheet make.
    pub(super) fn grid(shown: &'t str, marked: &'t str) -> Self {
        Self { shown, marked: Some(marked) }
    }
}

/// Hands every record of `source` below the headings of `layout` to `each`, which says whether it was used. At most
/// `max_rows` are used.
pub(crate) fn read<C: Columns>(
    file: &Arc<str>,
    source: &Source<'_>,
    mut layout: Layout<C>,
    max_rows: usize,
    findings: &mut Vec<Finding>,
    mut each: impl FnMut(Line<'_, '_, '_, C>) -> bool,
) {
    let (text, grid) = (source.shown, source.marked.is_some());
    headings(file, text, grid, &mut layout, findings);
    let (Some(above), Some(below)) = (text.get(..layout.end), text.get(layout.end..)) else {
        return;
    };
    let lines_above = above.matches('\n').count();
    let marked = source.marked.and_then(|marked| marked.get(layout.end..));
    let mended = match marked {
        Some(marked) => Cow::Borrowed(marked),
        None => Cow::Owned(table::mend_quotes(below, layout.delimiter, layout.headings.len())),
    };
    let mut reader = table::reader(&mended, layout.delimiter);
    let mut scanner = Scanner::new(&mended, layout.delimiter);
    let mut sheet = Sheet::new(file.clone(), below, grid, &layout);
    let (mut record, mut values) = (Record::default(), csv::StringRecord::new());
    let (mut used, mut left_out) = (0, 0);
    while scanner.read(&mut record) && reader.read_record(&mut values).unwrap_or(false) {
        record.line += u64::try_from(lines_above).unwrap_or_default();
        if used >= max_rows {
            let message = format!(
                "there are more than {max_rows} rows; those from line {} on were not read",
                record.line
            );
            let finding = Finding::new(Code::NotesUnreadable, message)
                .at(Place::file(file.clone()))
                .hint("split the file by day");
            findings.push(finding);
            break;
        }
        let listed = findings.len();
        used += usize::from(sheet.read(&record, &values, findings, &mut each));
        if listed >= MAX_FINDINGS {
            left_out += findings.len() - listed;
            findings.truncate(listed);
        }
    }
    if left_out > 0 {
        let message = format!("{left_out} more faults like those above are not listed");
        let finding = Finding::new(Code::NotesCell, message)
            .at(Place::file(file.clone()))
            .hint("mend those that are listed, then run again");
        findings.push(finding);
    }
}

/// Says which headings are not used, and leaves each column with one heading.
fn headings<C: Columns>(
    file: &Arc<str>,
    text: &str,
    grid: bool,
    layout: &mut Layout<C>,
    findings: &mut Vec<Finding>,
) {
    let mut met: Vec<columns::Heading<C>> = Vec::new();
    for (index, (title, heading)) in layout.headings.iter_mut().enumerate() {
        let first = heading
            .as_ref()
            .and_then(|heading| met.iter().find(|other| other.column == heading.column));
        let (message, hint) = match (first, heading.take()) {
            (None, Some(known)) => {
                met.push(known.clone());
                *heading = Some(known);
                continue;
            }
            (Some(first), _) => (
                format!(
                    "{} says the same as {}, which is used; this column is not",
                    quoted(title),
                    quoted(&first.typed)
                ),
                "keep one of the two columns".to_owned(),
            ),
            (None, None) if title.is_empty() || C::ASIDES_WELCOME => continue,
            (None, None) if C::is_aside(&columns::key(title)) => continue,
            (None, None) => (
                format!("the heading {} is not known; its column is not used", quoted(title)),
                match near(title, columns::words::<C>()).as_slice() {
                    [_, ..] if title.chars().count() < 3 => {
                        "nothing to do, if it says nothing of the lens".to_owned()
                    }
                    words @ [_, ..] => format!("write {}, if that is meant", words.join(" or ")),
                    [] => "nothing to do, if it says nothing of the lens".to_owned(),
                },
            ),
        };
        let cell = layout.header.cells.get(index).unwrap_or(&layout.header.span);
        let mut place = Place::span(file.clone(), text, cell.clone());
        if let Spot::Text { line, column, name, .. } = &mut place.spot
            && grid
        {
            *name = Some(cell_name(index, *line).into());
            *column = u64::try_from(index + 1).unwrap_or(u64::MAX);
        }
        findings.push(Finding::new(Code::NotesHeading, message).at(place).hint(hint));
    }
}
