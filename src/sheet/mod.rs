//! Lens notes before anybody has noted anything: what is to be filled in, and what helps to do it.
//!
//! A sheet comes of a dump, with a row for each clip and beside it what the media recorded, or of the kit alone, for the
//! day to come. What it prefills of a row only names the clip: the notes reader passes over rows that say no more, and over
//! columns whose headings begin with `Recorded`. So a sheet that nobody filled in says nothing.

#![deny(clippy::indexing_slicing)]

mod column;
mod from_dump;
mod from_kit;
mod legend;

pub use column::Column;
pub use from_dump::of_dump;
pub use from_kit::{Wanted, of_kit};
pub use legend::{Choice, Legend};

/// A sheet, ready to be written in any form.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Title of the production.
    pub production: Option<String>,
    /// Columns, in order.
    pub columns: Vec<Column>,
    /// Its rolls, in order; one without a name where no roll is known.
    pub rolls: Vec<Roll>,
    /// What can be written, and how.
    pub legend: Legend,
    /// True where it comes of a dump.
    pub of_dump: bool,
}

/// One roll of a sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Roll {
    /// Name, where known.
    pub name: Option<String>,
    /// The camera of the kit that shoots it: id, and name where it has one.
    pub camera: Option<String>,
    /// What the kit takes where nothing is noted: what it is, and its name.
    pub usual: Vec<(&'static str, String)>,
    /// Rows, in order.
    pub rows: Vec<Row>,
}

/// One row of a sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// The roll as the roll cell is to say it; empty where the row is wholly free.
    pub roll: String,
    /// The clip as the clip cell is to say it.
    pub clip: String,
    /// What the media recorded.
    pub recorded: Recorded,
}

/// What the media recorded of a clip, as people write it. Absent is absent.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Recorded {
    /// Timecode of the first frame.
    pub start: Option<String>,
    /// How long it runs.
    pub duration: Option<String>,
    /// Lens.
    pub lens: Option<String>,
    /// Focal length, with its unit.
    pub focal: Option<String>,
    /// Stop, with its letter.
    pub stop: Option<String>,
    /// Focus distance, with its unit.
    pub focus: Option<String>,
}

impl Sheet {
    /// How many rows it has.
    pub fn rows(&self) -> usize {
        self.rolls.iter().map(|roll| roll.rows.len()).sum()
    }
}

impl Row {
    /// What the sheet prefills below `column`; empty where it is to be filled in.
    pub fn prefilled(&self, column: Column) -> &str {
        let recorded = &self.recorded;
        let text = match column {
            Column::Roll => return &self.roll,
            Column::Clip => return &self.clip,
            Column::RecordedStart => recorded.start.as_deref(),
            Column::RecordedDuration => recorded.duration.as_deref(),
            Column::RecordedLens => recorded.lens.as_deref(),
            Column::RecordedFocal => recorded.focal.as_deref(),
            Column::RecordedStop => recorded.stop.as_deref(),
            Column::RecordedFocus => recorded.focus.as_deref(),
            _ => None,
        };
        text.unwrap_or_default()
    }
}
