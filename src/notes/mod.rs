//! Lens notes: the CSV that the camera crew typed on set, one row for each thing worth writing down.

use std::sync::Arc;

use crate::finding::Place;
use crate::sourced::Origin;
use crate::units::{FNumber, Meters, Millimeters, TNumber};

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
    /// What was typed, trimmed.
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
    /// The row itself, for findings.
    pub place: Place,
    /// Line of the file, from 1.
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
}
