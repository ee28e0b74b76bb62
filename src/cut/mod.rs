//! Cuts: which frames of which clips the edit uses, read from an EDL of the 3600 form or from `OpenTimelineIO`.
//!
//! A cut says what it says; which clip of the dump is meant, and whether it has these frames, is for `turnover` to find.

#![deny(clippy::indexing_slicing)]

pub mod edl;
pub mod otio;

use crate::finding::{Code, Finding, Found, Place};
use crate::ratio::FrameRate;

/// Most events of a cut; a long feature has some thousands.
pub const MOST_EVENTS: usize = 100_000;

/// How the comments begin that lensmend adds to an EDL, behind the asterisk; reading them back adds nothing.
pub const OWN: &str = "LENS:";

/// A cut as read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cut {
    /// Its title.
    pub title: Option<String>,
    /// True if its own timecode drops, false if it does not, where it says so.
    pub drop: Option<bool>,
    /// The rate of the cut, where the file tells it.
    pub rate: Option<FrameRate>,
    /// Its events, in order.
    pub events: Vec<Event>,
}

/// One use of a clip.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// Number in the list, as written; counted where the form has none.
    pub number: String,
    /// Name of the clip as the edit calls it.
    pub name: Option<String>,
    /// File that the edit names.
    pub file: Option<String>,
    /// Reel, at most eight characters in an EDL.
    pub reel: Option<String>,
    /// Track it lies on.
    pub track: String,
    /// First frame of the source, and the one after the last.
    pub source: (Time, Time),
    /// The same in the cut.
    pub record: Option<(Time, Time)>,
    /// Speed, if it is not that of the recording.
    pub speed: Option<Speed>,
    /// How it begins, if not with a plain cut.
    pub transition: Option<Transition>,
    /// Frames of the cut that transitions need of the clip before the event begins, and after it has ended.
    pub beyond: (u64, u64),
    /// Where it stands in the file, for writing the cut again.
    pub anchor: Anchor,
    /// Remarks of the edit that lensmend does not read.
    pub comments: Vec<String>,
    /// Where it stands.
    pub place: Place,
}

/// The place of an event in its file.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Anchor {
    /// Number of the last line that belongs to it, from 1.
    Line(u64),
    /// JSON pointer (RFC 6901) of the clip.
    Pointer(String),
}

/// A moment as the file tells it.
#[derive(Clone, Debug, PartialEq)]
pub enum Time {
    /// A timecode label; at which rate it counts is not said.
    Label(String),
    /// A count at a rate, from where the source or the cut begins to count.
    Count {
        /// Frames.
        frames: f64,
        /// Frames a second.
        rate: f64,
        /// Where the media begins on the same scale, if the file says so.
        begins: Option<f64>,
    },
}

/// How fast the source runs; 0 is a frozen frame, below 0 it runs backwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Speed {
    /// Frames of the source a second.
    FramesASecond(f64),
    /// Frames of the source a frame of it at its own speed.
    Times(f64),
}

/// A change from one picture to the next that takes its time.
#[derive(Clone, Debug, PartialEq)]
pub struct Transition {
    /// Words for it: `dissolve`, `wipe 001`.
    pub kind: String,
    /// Frames of the cut that it takes.
    pub frames: u64,
}

/// Reads a cut; `file` is its name for findings. What it is, is told by its content.
pub fn parse(file: &str, bytes: &[u8]) -> Found<Cut> {
    let Ok(text) = std::str::from_utf8(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)) else {
        let text = bytes.iter().map(|byte| char::from(*byte)).collect::<String>();
        // Editors of the old days write Latin-1; an EDL in it still has its numbers.
        return edl::parse(file, &text);
    };
    if text.trim_start().starts_with('{') {
        otio::parse(file, text)
    } else {
        edl::parse(file, text)
    }
}

/// Trouble with a line of a cut.
fn trouble(code: Code, place: &Place, message: impl Into<String>, hint: &str) -> Finding {
    Finding::new(code, message).at(place.clone()).hint(hint)
}
