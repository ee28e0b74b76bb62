//! Lens notes: the CSV that the camera crew typed on set, one row for each thing worth writing down.
//!
//! Bytes become text (`text`), text becomes cells with places (`table`), headings say what the cells are (`columns`),
//! and each cell becomes a typed value or a finding (`cell`, `length`, `clips`, put together by `sheet`, `cells` and `row`).

#![deny(clippy::indexing_slicing)]

use std::sync::Arc;

use crate::finding::{Code, Finding, Found, Place};
use crate::sourced::Origin;
use crate::units::{FNumber, Meters, Millimeters, TNumber};

// The layer under the rows serves every sheet that a crew types; `measure` reads chart shots through it.
pub(crate) mod cell;
pub(crate) mod cells;
mod clips;
pub(crate) mod columns;
pub(crate) mod length;
pub(crate) mod memory;
mod row;
pub(crate) mod sheet;
mod table;
pub(crate) mod text;
pub(crate) mod time;

use cells::Line;
use columns::Column;
use memory::Memory;
pub use time::TimeOfDay;

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
    /// Whichever clip ran then: the row says a timecode or a time of day, and neither clip nor roll.
    Then,
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
    /// Time of day at which the clip ran, by the watch of whoever kept the notes.
    pub time: Option<Noted<TimeOfDay>>,
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
        match columns::layout::<Column>(&text) {
            Some(layout) => {
                let mut memory = Memory::default();
                sheet::read(&file, &text, layout, MAX_ROWS, &mut findings, |line| match line {
                    Line::Cells(cells) => {
                        let row = row::read(cells, &mut memory);
                        let used = row.is_some();
                        rows.extend(row);
                        used
                    }
                    // Ditto marks below would repeat cells of which nobody knows where they belong.
                    Line::Unusable => {
                        memory = Memory::default();
                        false
                    }
                });
            }
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
    text.and_then(|text| columns::layout::<Column>(&text)).is_some_and(|layout| layout.tells_lens())
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
