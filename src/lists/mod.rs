//! Clip lists: CSV that another program wrote of the clips of a card, one row a clip.
//!
//! They tell what containers that lensmend does not read keep to themselves, and are a cross-check for the rest. What
//! stands in a row is what was recorded, not what was set on the lens: a stop may be a stop and tenths, and some
//! numbers only look like numbers.

#![deny(clippy::indexing_slicing)]

mod cells;

use std::sync::Arc;

use crate::finding::{Code, Finding, Found, Place};
use crate::notes::cells::{Cells, Line};
use crate::notes::columns::{self, Columns, Layout};
use crate::notes::length::Unit;
use crate::notes::memory::Above;
use crate::notes::{Noted, sheet, text};
use crate::ratio::Ratio;
use crate::stops::Letter;
use crate::units::{Meters, Millimeters, Raster};

/// Rows that are used of one list: more than a shoot of months makes.
const MAX_ROWS: usize = 200_000;
/// How much of a file is looked at to tell what it is.
const GLANCE: usize = 64 << 10;

/// What a column tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Column {
    Name,
    Reel,
    Start,
    End,
    Frames,
    Rate,
    Raster,
    Width,
    Height,
    Focal,
    Stop,
    Focus,
    Lens,
    Maker,
    Model,
    Serial,
    Attachment,
}

impl Columns for Column {
    const ALIASES: &'static [(Self, &'static [&'static str])] = &[
        (Self::Name, &["clip", "clip name", "name", "file name", "file", "filename"]),
        (Self::Reel, &["reel", "reel name", "tape", "tape name", "roll", "card"]),
        (
            Self::Start,
            &["start", "start tc", "start timecode", "tc start", "tc in", "timecode", "tc"],
        ),
        (Self::End, &["end", "end tc", "end timecode", "tc end", "tc out"]),
        (Self::Frames, &["frames", "duration frames", "frame count", "total frames", "duration"]),
        (Self::Rate, &["fps", "rate", "frame rate", "framerate", "frames per second"]),
        (
            Self::Raster,
            &["raster", "resolution", "frame size", "image size", "size in pixels", "pixels"],
        ),
        (Self::Width, &["width", "frame width", "image width", "width px"]),
        (Self::Height, &["height", "frame height", "image height", "height px"]),
        (Self::Focal, &["focal", "focal length", "mm", "lens mm", "lens focal length"]),
        (
            Self::Stop,
            &["stop", "iris", "aperture", "t-stop", "f-stop", "f-number", "t-number", "lens iris"],
        ),
        (Self::Focus, &["focus", "focus distance", "distance", "lens focus"]),
        (Self::Lens, &["lens", "lens name", "lens model", "lens type"]),
        (Self::Maker, &["camera maker", "manufacturer", "make"]),
        (Self::Model, &["camera", "camera model", "camera type", "model"]),
        (Self::Serial, &["camera serial", "camera serial number", "serial", "serial number"]),
        // Only people know what stood between the two; a list with this column is theirs.
        (Self::Attachment, &["attachment", "reducer", "adapter", "adaptor", "extender"]),
    ];

    /// Lists have columns of all kinds.
    const ASIDES_WELCOME: bool = true;

    fn suffice(has: &dyn Fn(Self) -> bool) -> bool {
        has(Self::Name)
    }

    fn takes_unit(self, unit: Unit) -> bool {
        match self {
            Self::Focus => true,
            Self::Focal => matches!(unit, Unit::Millimeter | Unit::Centimeter),
            _ => false,
        }
    }

    fn is_stop(self) -> bool {
        self == Self::Stop
    }

    fn is_measured(self) -> bool {
        matches!(self, Self::Focal | Self::Stop | Self::Focus | Self::Rate)
    }

    fn takes_row(self) -> bool {
        self == Self::Name
    }
}

/// One list, read.
#[derive(Clone, Debug, PartialEq)]
pub struct ClipList {
    /// File, as the user would name it.
    pub file: Arc<str>,
    /// Usable rows in file order.
    pub rows: Vec<ListRow>,
}

/// A number as a list gives it, with half of the smallest step of its writing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Listed<U> {
    /// What it means.
    pub value: U,
    /// Half of the smallest step of the way it was written, in the unit of `value`.
    pub half_step: f64,
}

/// A stop as a list gives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ListedStop {
    /// The number.
    pub number: Listed<f64>,
    /// Whether it is f or T; `None` where neither cell nor heading says so.
    pub letter: Option<Letter>,
}

/// One row of a list. `None` is absent, or stands for it.
#[derive(Clone, Debug, PartialEq)]
pub struct ListRow {
    /// Its row, for findings.
    pub place: Place,
    /// Clip or file, as typed.
    pub name: Noted<String>,
    /// Reel or roll.
    pub reel: Option<Noted<String>>,
    /// Timecode of the first frame, as typed: how it counts is known with the rate.
    pub start: Option<Noted<String>>,
    /// Timecode after the last frame, or of it: lists differ, so it only checks.
    pub end: Option<Noted<String>>,
    /// Frames.
    pub frames: Option<Noted<u64>>,
    /// Frame rate.
    pub rate: Option<Noted<Ratio>>,
    /// Raster.
    pub raster: Option<Noted<Raster>>,
    /// Focal length.
    pub focal: Option<Noted<Listed<Millimeters>>>,
    /// Stop.
    pub stop: Option<Noted<ListedStop>>,
    /// Focus distance.
    pub focus: Option<Noted<Listed<Meters>>>,
    /// Lens.
    pub lens: Option<Noted<String>>,
    /// Camera maker.
    pub maker: Option<Noted<String>>,
    /// Camera model.
    pub model: Option<Noted<String>>,
    /// Camera serial number.
    pub serial: Option<Noted<String>>,
}

/// Reads the clip list in `bytes`; `file` is the name by which findings speak of it.
pub fn parse(file: &str, bytes: &[u8]) -> Found<ClipList> {
    let file: Arc<str> = file.into();
    let (text, finding) = text::decode(&file, bytes);
    let mut findings: Vec<Finding> = finding.into_iter().collect();
    let mut rows = Vec::new();
    if let Some(text) = text {
        match columns::layout::<Column>(&text) {
            Some(layout) => {
                let mut memory = Memory::default();
                sheet::read(&file, &sheet::Source::text(&text), layout, MAX_ROWS, &mut findings, |line| match line {
                    Line::Cells(cells) => {
                        let row = read(cells, &mut memory);
                        let used = row.is_some();
                        rows.extend(row);
                        used
                    }
                    Line::Unusable => {
                        memory = Memory::default();
                        false
                    }
                });
            }
            None => findings.push(
                Finding::new(Code::NotesNoHeader, "no row of the file has headings of a clip list")
                    .at(Place::file(file.clone()))
                    .hint("let the first row say what the columns are: Clip, Reel, Start TC, FPS, Resolution, Focal Length, Iris, Focus"),
            ),
        }
    }
    Found { value: ClipList { file, rows }, findings }
}

/// True where a file looks like a clip list: a row of headings names clips and what a machine knows of them, and says
/// nothing of an attachment, as notes do.
pub fn looks_like_list(bytes: &[u8]) -> bool {
    let glance = bytes.get(..GLANCE).unwrap_or(bytes);
    let (text, _) = text::decode(&"".into(), glance);
    text.and_then(|text| columns::layout::<Column>(&text)).is_some_and(|layout| by_machine(&layout))
}

fn by_machine(layout: &Layout<Column>) -> bool {
    let facts = [Column::Rate, Column::Raster, Column::Width, Column::End, Column::Frames];
    layout.has(|column| facts.contains(&column)) && !layout.has(|c| c == Column::Attachment)
}

/// What stands above each column, for ditto marks.
#[derive(Default)]
struct Memory {
    texts: [Above<Option<String>>; 8],
    frames: Above<Option<u64>>,
    rate: Above<Option<Ratio>>,
    raster: Above<Option<Raster>>,
    side: [Above<Option<u32>>; 2],
    focal: Above<Option<Listed<Millimeters>>>,
    stop: Above<Option<ListedStop>>,
    focus: Above<Option<Listed<Meters>>>,
}

fn read(cells: &mut Cells<'_, '_, Column>, memory: &mut Memory) -> Option<ListRow> {
    let [name, reel, start, end, lens, maker, model, serial] = &mut memory.texts;
    let name = present(cells.read(Column::Name, name, cells::words))?;
    let reel = present(cells.read(Column::Reel, reel, cells::words));
    let start = present(cells.read(Column::Start, start, cells::timecode));
    let end = present(cells.read(Column::End, end, cells::timecode));
    let lens = present(cells.read(Column::Lens, lens, cells::words));
    let maker = present(cells.read(Column::Maker, maker, cells::words));
    let model = present(cells.read(Column::Model, model, cells::words));
    let serial = present(cells.read(Column::Serial, serial, cells::words));
    let frames = present(cells.read(Column::Frames, &mut memory.frames, cells::frames));
    let rate = present(cells.read(Column::Rate, &mut memory.rate, cells::rate));
    let raster = present(cells.read(Column::Raster, &mut memory.raster, cells::raster));
    let [width, height] = &mut memory.side;
    let width = present(cells.read(Column::Width, width, cells::side));
    let height = present(cells.read(Column::Height, height, cells::side));
    let sides = || {
        let (width, height) = (width?, height?);
        let raster = Raster::new(width.value, height.value)?;
        let typed = format!("{}x{}", width.typed, height.typed);
        Some(Noted { value: raster, typed, origin: width.origin, place: width.place })
    };
    let focal = present(cells.read(Column::Focal, &mut memory.focal, cells::focal));
    let stop = present(cells.read(Column::Stop, &mut memory.stop, cells::stop));
    let focus = present(cells.read(Column::Focus, &mut memory.focus, cells::focus));
    Some(ListRow {
        place: cells.place(),
        name,
        reel,
        start,
        end,
        frames,
        rate,
        raster: raster.or_else(sides),
        focal,
        stop,
        focus,
        lens,
        maker,
        model,
        serial,
    })
}

/// A cell that says something.
fn present<T>(noted: Option<Noted<Option<T>>>) -> Option<Noted<T>> {
    let Noted { value, typed, origin, place } = noted?;
    Some(Noted { value: value?, typed, origin, place })
}
