//! Lens notes: the sheet that the camera crew typed on set, one row for each thing worth writing down.
//!
//! Bytes become text (`text`; of spreadsheet documents `book`), text becomes cells with places (`table`), headings say
//! what the cells are (`columns`), and each cell becomes a typed value or a finding (`cell`, `length`, `clips`, `moment`,
//! `filter`, put together by `sheet`, `cells` and `row`; `context` keeps what a sheet says once for many rows).

#![deny(clippy::indexing_slicing)]

use std::sync::Arc;

use crate::finding::Place;
use crate::sourced::Origin;
use crate::units::{FNumber, Meters, Millimeters, Stops, TNumber};

// The layer under the rows serves every sheet that a crew types; `measure` reads chart shots through it.
mod book;
mod camera;
pub(crate) mod cell;
pub(crate) mod cells;
mod clips;
pub(crate) mod columns;
mod context;
mod faults;
mod file;
mod filter;
mod headings;
pub(crate) mod length;
pub(crate) mod memory;
mod moment;
mod row;
mod settings;
pub(crate) mod sheet;
mod spots;
mod table;
pub(crate) mod text;
pub(crate) mod time;
mod understood;

use headings::Column;

pub use camera::{CameraNote, IsoKind, IsoNote, ShutterNote, WhiteNote};
pub use file::{SheetMissing, looks_like_notes, parse, parse_sheet};
pub use time::TimeOfDay;

/// Reads a focus distance as people write it, with its unit. The error says what is wrong and what to write.
pub fn distance(text: &str) -> Result<Meters, (&'static str, &'static str)> {
    length::focus(text, None).map_err(|wrong| (wrong.what, wrong.hint))
}

/// True where `text` in a clip cell names one clip, by that very text.
pub fn names_one_clip(text: &str) -> bool {
    let named = |cell| match cell {
        clips::ClipCell::Names(names) => names == [ClipNames::One(text.to_owned())],
        clips::ClipCell::WholeRoll => false,
    };
    !cell::is_blank(text, false) && !cell::is_ditto(text) && clips::clips(text).is_ok_and(named)
}

/// True where `text` in a cell for a name, such as a roll or a lens, is read as that name.
pub fn is_name(text: &str) -> bool {
    let says = !cell::is_blank(text, false) && !cell::is_ditto(text) && text.trim() == text;
    let heading = columns::heading::<Column>("Lens");
    let read = heading.is_some_and(|heading| cell::words(text, &heading).is_ok());
    says && text.len() <= cells::MAX_CELL && read
}

/// True where `text` in an attachment cell is read as the name of one.
pub fn names_attachment(text: &str) -> bool {
    let named = |heading| match cell::attachment::<Column>(text, &heading) {
        Ok(AttachmentNote::Named(name)) => name == text,
        _ => false,
    };
    is_name(text) && columns::heading("Attachment").is_some_and(named)
}

/// One notes file, read.
#[derive(Clone, Debug, PartialEq)]
pub struct Notes {
    /// File, as the user would name it.
    pub file: Arc<str>,
    /// The sheet that was read, of a workbook.
    pub sheet: Option<String>,
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
    /// Every clip whose name looks so, `*` standing for anything: `C01*`.
    Pattern(String),
    /// One name, if the dump has it; else what its parts mean: `C003-9`, `shot;2.mov`.
    Either {
        /// The whole, as typed.
        typed: String,
        /// Its parts.
        parts: Vec<ClipNames>,
    },
}

/// A focal length on the barrel, as noted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FocalNote {
    /// Set to this.
    At(Millimeters),
    /// Zoomed from one to the other.
    Moves(Millimeters, Millimeters),
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

/// One row. `None` where the cell was empty, missing or not understood (the last with a finding). Cells stand apart from
/// the row: most of its columns are empty, and there may be a hundred thousand rows.
#[derive(Clone, Debug, PartialEq)]
pub struct NoteRow {
    /// The row itself, for findings: the first line of it where a cell holds line ends.
    pub place: Place,
    /// The cell that says of what it speaks: the clip's, or the roll's where that is empty; else the row.
    pub named: Place,
    /// Line of the file where it begins, from 1.
    pub line: u64,
    /// Which clips.
    pub target: Target,
    /// Roll typed beside clip names; narrows names such as `C007`.
    pub roll: Option<Box<Noted<String>>>,
    /// Camera letter or id.
    pub camera: Option<Box<Noted<String>>>,
    /// From this timecode or time of day on: `hh:mm:ss:ff` as typed, since how it counts is known only with the clip;
    /// `hh:mm:ss`, or `hh:mm` where no seconds were written.
    pub from: Option<Box<Noted<String>>>,
    /// Time of day at which the clip ran, by the watch of whoever kept the notes.
    pub time: Option<Box<Noted<TimeOfDay>>>,
    /// Recording mode, by name.
    pub mode: Option<Box<Noted<String>>>,
    /// Lens, as typed.
    pub lens: Option<Box<Noted<String>>>,
    /// Focal length on the barrel.
    pub focal: Option<Box<Noted<FocalNote>>>,
    /// Stop on the ring.
    pub stop: Option<Box<Noted<StopNote>>>,
    /// Attachment.
    pub attachment: Option<Box<Noted<AttachmentNote>>>,
    /// Whether the attachment sat tight; a loose one moves the picture.
    pub secured: Option<Box<Noted<bool>>>,
    /// Focus distance from the sensor-plane mark.
    pub focus: Option<Box<Noted<Meters>>>,
    /// Slate.
    pub slate: Option<Box<Noted<String>>>,
    /// Take.
    pub take: Option<Box<Noted<String>>>,
    /// Circled take.
    pub circled: Option<Box<Noted<bool>>>,
    /// Filters.
    pub filter: Option<Box<Noted<String>>>,
    /// Light that neutral density among them took. The stop on the ring is not changed by it.
    pub density: Option<Box<Noted<Stops>>>,
    /// How the camera was set and stood, and who was there; `None` where nothing of that was noted.
    pub shot: Option<Box<CameraNote>>,
    /// Remarks.
    pub remarks: Option<Box<Noted<String>>>,
    /// What stood in the row and could not be read: `lens`, `focal length`, `stop`, `attachment`, `focus distance`,
    /// and those of [`CameraNote`].
    pub unread: Vec<&'static str>,
}
