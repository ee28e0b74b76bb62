//! Lens notes: the CSV that the camera crew typed on set, one row for each thing worth writing down.
//!
//! Bytes become text (`text`), text becomes cells with places (`table`), headings say what the cells are (`columns`),
//! and each cell becomes a typed value or a finding (`cell`, `length`, `clips`, put together by `row`).

#![deny(clippy::indexing_slicing)]

use std::sync::Arc;

use crate::finding::{Code, Finding, Found, Place, nearest};
use crate::sourced::Origin;
use crate::units::{FNumber, Meters, Millimeters, TNumber};

mod cell;
mod clips;
mod columns;
mod length;
mod memory;
mod row;
mod table;
mod text;

use columns::Layout;
use row::{Rows, quoted};
use table::{Record, Scanner};

/// Reads a focus distance as people write it, with its unit. The error says what is wrong and what to write.
pub fn distance(text: &str) -> Result<Meters, (&'static str, &'static str)> {
    length::focus(text, None).map_err(|wrong| (wrong.what, wrong.hint))
}

/// One notes file, read.
#[derive(Clone, Debug, PartialEq)]
pub struct Notes {
    /// File, as the user would name it.
    pub file: Arc<str>,
    /// Usable rows in file order.
    pub rows: Vec<NoteRow>,
}

/// A cell understood: its meaning beside what was typed.
#[derive(Clone, Debug, PartialEq)]
pub struct Noted<T> {
    /// What it means.
    pub value: T,
    /// What was typed, trimmed; where that was a ditto mark, what it repeats.
    pub typed: String,
    /// File, line and heading.
    pub origin: Origin,
    /// The cell, for findings.
    pub place: Place,
}

/// Which clips a row speaks of.
#[derive(Clone, Debug, PartialEq)]
pub enum Target {
    /// Clips named one by one or by range, in the order typed.
    Clips(Vec<ClipNames>),
    /// Every clip of a roll.
    Roll(String),
}

/// One name or one range in a clip cell, as typed, trimmed.
#[derive(Clone, Debug, PartialEq)]
pub enum ClipNames {
    /// One clip: `A003C007`, `C007`, `A003C007_0514.mov`.
    One(String),
    /// From the first to the last, both included: `C003-C009`.
    Range(String, String),
}

/// A stop as noted: the ring setting, before any attachment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StopNote {
    /// An f-number, exact (1.4 is the square root of 2).
    F(FNumber),
    /// A T-number, exact.
    T(TNumber),
    /// A number, exact, that does not say whether it is f or T.
    Unsaid(f64),
    /// As far open as the lens goes.
    WideOpen,
}

/// What was noted of the attachment.
#[derive(Clone, Debug, PartialEq)]
pub enum AttachmentNote {
    /// Named, as typed: a kit id, a name, or a magnification such as `0.71`.
    Named(String),
    /// Said in so many words: none.
    Nothing,
}

/// One row. `None` where the cell was empty, missing or not understood (the last with a finding).
#[derive(Clone, Debug, PartialEq)]
pub struct NoteRow {
    /// The row itself, for findings: the first line of it where a cell holds line ends.
    pub place: Place,
    /// Line of the file where it begins, from 1.
    pub line: u64,
    /// Which clips.
    pub target: Target,
    /// Roll typed beside clip names; narrows names such as `C007`.
    pub roll: Option<Noted<String>>,
    /// Camera letter or id.
    pub camera: Option<Noted<String>>,
    /// From this timecode on, as typed; how it counts is known only with the clip.
    pub from: Option<Noted<String>>,
    /// Recording mode, by name.
    pub mode: Option<Noted<String>>,
    /// Lens, as typed.
    pub lens: Option<Noted<String>>,
    /// Focal length on the barrel.
    pub focal: Option<Noted<Millimeters>>,
    /// Stop on the ring.
    pub stop: Option<Noted<StopNote>>,
    /// Attachment.
    pub attachment: Option<Noted<AttachmentNote>>,
    /// Focus distance from the sensor-plane mark.
    pub focus: Option<Noted<Meters>>,
    /// Slate.
    pub slate: Option<Noted<String>>,
    /// Take.
    pub take: Option<Noted<String>>,
    /// Circled take.
    pub circled: Option<Noted<bool>>,
    /// Filters.
    pub filter: Option<Noted<String>>,
    /// Remarks.
    pub remarks: Option<Noted<String>>,
    /// What stood in the row and could not be read: `lens`, `focal length`, `stop`, `attachment`, `focus distance`.
    pub unread: Vec<&'static str>,
}

/// Rows that are read from one file: more than any production writes.
const MAX_ROWS: usize = 100_000;
/// Findings that are listed for one file; beyond that they are counted. Nobody reads more.
const MAX_FINDINGS: usize = 2_000;
/// How much of a file is looked at to tell whether it holds lens notes.
const GLANCE: usize = 64 << 10;

/// Reads the notes in `bytes`; `file` is the name by which findings speak of them.
///
/// Everything that could not be read is a finding, all of them in one run; the other cells and rows are used.
pub fn parse(file: &str, bytes: &[u8]) -> Found<Notes> {
    let file: Arc<str> = file.into();
    let mut rows = Vec::new();
    let (text, finding) = text::decode(&file, bytes);
    let mut findings: Vec<Finding> = finding.into_iter().collect();
    if let Some(text) = text {
        match columns::layout(&text) {
            Some(layout) => read(&file, &text, layout, &mut rows, &mut findings),
            None => findings.push(no_header(&file, &text)),
        }
    }
    Found { value: Notes { file, rows }, findings }
}

/// True where a file looks like lens notes: a row of headings names a clip or roll, and one of lens, focal length,
/// stop, attachment and focus. Meant for finding the notes in a folder; looks at the beginning of the file alone.
pub fn looks_like_notes(bytes: &[u8]) -> bool {
    // An even cut keeps the pairs of UTF-16 whole; a letter of UTF-8 that is cut does no harm to headings.
    let glance = bytes.get(..GLANCE).unwrap_or(bytes);
    let (text, _) = text::decode(&"".into(), glance);
    text.and_then(|text| columns::layout(&text)).is_some_and(|layout| layout.tells_lens())
}

fn read(
    file: &Arc<str>,
    text: &str,
    mut layout: Layout,
    rows: &mut Vec<NoteRow>,
    findings: &mut Vec<Finding>,
) {
    headings(file, text, &mut layout, findings);
    let (Some(above), Some(below)) = (text.get(..layout.end), text.get(layout.end..)) else {
        return;
    };
    let lines_above = above.matches('\n').count();
    let mended = table::mend_quotes(below, layout.delimiter, layout.headings.len());
    let mut reader = table::reader(&mended, layout.delimiter);
    let mut scanner = Scanner::new(&mended, layout.delimiter);
    let mut reading = Rows::new(file.clone(), below, &layout);
    let (mut record, mut values) = (Record::default(), csv::StringRecord::new());
    let mut left_out = 0;
    while scanner.read(&mut record) && reader.read_record(&mut values).unwrap_or(false) {
        record.line += u64::try_from(lines_above).unwrap_or_default();
        if rows.len() >= MAX_ROWS {
            let message = format!(
                "there are more than {MAX_ROWS} rows; those from line {} on were not read",
                record.line
            );
            let finding = Finding::new(Code::NotesUnreadable, message)
                .at(Place::file(file.clone()))
                .hint("split the file by day");
            findings.push(finding);
            break;
        }
        let listed = findings.len();
        rows.extend(reading.read(&record, &values, findings));
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
fn headings(file: &Arc<str>, text: &str, layout: &mut Layout, findings: &mut Vec<Finding>) {
    let mut met: Vec<columns::Heading> = Vec::new();
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
            (None, None) if title.is_empty() => continue,
            (None, None) => (
                format!("the heading {} is not known; its column is not used", quoted(title)),
                match nearest(title, columns::words()) {
                    Some(word) => format!("write {word}, if that is meant"),
                    None => "nothing to do, if it says nothing of the lens".to_owned(),
                },
            ),
        };
        let cell = layout.header.cells.get(index).unwrap_or(&layout.header.span);
        let place = Place::span(file.clone(), text, cell.clone());
        findings.push(Finding::new(Code::NotesHeading, message).at(place).hint(hint));
    }
}

fn no_header(file: &Arc<str>, text: &str) -> Finding {
    let message = if text.trim().is_empty() {
        "the file is empty"
    } else {
        "no row of the file names a clip or roll and what was noted of it"
    };
    Finding::new(Code::NotesNoHeader, message)
        .at(Place::file(file.clone()))
        .hint("let the first row say what the columns are: Clip, Lens, Focal mm, Stop, Attachment, Focus m")
}
