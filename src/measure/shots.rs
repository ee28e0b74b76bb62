//! The sheet of chart shots: CSV typed on the day, read through the same layer as lens notes.

use std::sync::Arc;

use crate::finding::{Code, Finding, Found, Place};
use crate::notes::cell;
use crate::notes::cells::{Cells, Line};
use crate::notes::columns::{self, Columns};
use crate::notes::length::Unit;
use crate::notes::memory::Above;
use crate::notes::{AttachmentNote, sheet, text};
use crate::units::{Meters, Millimeters};

use super::typed;

/// Shots that are read from one sheet: more than a prep day makes.
const MAX_SHOTS: usize = 10_000;

/// What a column tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Column {
    Lens,
    Focal,
    Attachment,
    Focus,
    Distance,
    Width,
    Span,
    Pitch,
    Side,
    Aside,
}

impl Columns for Column {
    const ALIASES: &'static [(Self, &'static [&'static str])] = &[
        (Self::Lens, &["lens", "lens name"]),
        (Self::Focal, &["focal", "focal length", "marked focal", "mm", "zoom", "lens mm"]),
        (Self::Attachment, &["attachment", "reducer", "adapter", "adaptor", "extender"]),
        (Self::Focus, &["focus", "focus setting", "focus mark", "focus distance", "ring"]),
        (Self::Distance, &["tape", "tape distance", "distance", "dist", "chart distance"]),
        (Self::Width, &["chart width", "chart", "width", "target width"]),
        (
            Self::Span,
            &[
                "span",
                "span px",
                "pixels",
                "px",
                "span in pixels",
                "span pixels",
                "chart span",
                "pixel span",
            ],
        ),
        (
            Self::Pitch,
            &[
                "pitch",
                "pixel pitch",
                "photosite pitch",
                "pitch um",
                "pixel pitch um",
                "photosite pitch um",
                "pitch µm",
                "pixel pitch µm",
                "photosite pitch µm",
            ],
        ),
        (Self::Side, &["side", "along", "measured along", "direction"]),
        (
            Self::Aside,
            &[
                "remarks", "remark", "notes", "comments", "comment", "shot", "clip", "file",
                "frame", "date",
            ],
        ),
    ];

    fn suffice(has: &dyn Fn(Self) -> bool) -> bool {
        has(Self::Distance) && has(Self::Span)
    }

    fn takes_unit(self, unit: Unit) -> bool {
        match self {
            Self::Focus | Self::Distance | Self::Width => true,
            Self::Focal => matches!(unit, Unit::Millimeter | Unit::Centimeter),
            _ => false,
        }
    }

    fn dash_answers(self) -> bool {
        self == Self::Attachment
    }

    fn is_measured(self) -> bool {
        !matches!(self, Self::Lens | Self::Attachment | Self::Side | Self::Aside)
    }

    fn takes_row(self) -> bool {
        // Without one of its cells a shot would count for the wrong series, or be a wrong number.
        self != Self::Aside
    }
}

/// What the focus ring was set to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Setting {
    /// A mark.
    Mark(Meters),
    /// Refocused on the chart at every distance.
    Refocused,
    /// Not noted: one setting, whichever it was.
    Unsaid,
}

/// The side of the picture along which a chart was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// Along its height, where an anamorphic lens does not squeeze.
    Height,
    /// Along its width, where it does.
    Width,
}

impl Side {
    /// The word used in every output.
    pub fn word(self) -> &'static str {
        match self {
            Self::Height => "height",
            Self::Width => "width",
        }
    }
}

/// What stands for a cell that a sheet leaves out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Usual {
    /// Width of the chart.
    pub width: Option<Millimeters>,
    /// Pitch of recorded pixels along the width of the picture.
    pub pitch: Option<Millimeters>,
    /// Pitch along its height, where that is another.
    pub pitch_high: Option<Millimeters>,
    /// What is missing where there is no pitch, and what to give; for the finding.
    pub no_pitch: Option<String>,
}

/// One shot of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct Shot {
    /// Its row, for findings.
    pub place: Place,
    /// Line of the row, from 1.
    pub line: u64,
    /// Lens, as typed.
    pub lens: Option<String>,
    /// Mark on the zoom ring.
    pub focal: Option<Millimeters>,
    /// What stood between lens and camera.
    pub attachment: AttachmentNote,
    /// Focus setting.
    pub focus: Setting,
    /// Tape distance from the sensor-plane mark.
    pub distance: Meters,
    /// Width of the chart, or of the two marks on it that were measured.
    pub width: Millimeters,
    /// Recorded pixels from one side to the other; above zero.
    pub span: f64,
    /// Pitch of the recorded pixels along the side that was measured.
    pub pitch: Millimeters,
    /// Side along which the chart was measured, where the sheet says.
    pub side: Option<Side>,
}

/// Reads the chart shots in `bytes`; `file` is the name by which findings speak of them.
pub fn parse(file: &str, bytes: &[u8], usual: &Usual) -> Found<Vec<Shot>> {
    let file: Arc<str> = file.into();
    let (text, finding) = text::decode(&file, bytes);
    let mut findings: Vec<Finding> = finding.into_iter().collect();
    let mut shots = Vec::new();
    let mut unpitched: Vec<Place> = Vec::new();
    if let Some(text) = text {
        match columns::layout::<Column>(&text) {
            Some(layout) => {
                let mut memory = Memory::default();
                sheet::read(&file, &sheet::Source::text(&text), layout, MAX_SHOTS, &mut findings, |line| match line {
                    Line::Cells(cells) => {
                        let shot = read(cells, &mut memory, usual, &mut unpitched);
                        let used = shot.is_some();
                        shots.extend(shot);
                        used
                    }
                    // Ditto marks below would repeat cells of which nobody knows where they belong.
                    Line::Unusable => {
                        memory = Memory::default();
                        false
                    }
                });
            }
            None => findings.push(
                Finding::new(
                    Code::NotesNoHeader,
                    "no row of the file has headings for a tape distance and a span in pixels",
                )
                .at(Place::file(file.clone()))
                .hint("let the first row say what the columns are: Lens, Attachment, Focus m, Tape m, Chart width mm, Span px"),
            ),
        }
    }
    findings.extend(no_pitch(&unpitched, usual));
    Found { value: shots, findings }
}

/// One finding for all rows that lack nothing but the pitch: the answer is one for the whole sheet.
fn no_pitch(rows: &[Place], usual: &Usual) -> Option<Finding> {
    let (first, count) = (rows.first()?, rows.len());
    let rows = if count == 1 {
        "one row is no shot".to_owned()
    } else {
        format!("{count} rows are no shots")
    };
    let message = format!("{rows} for want of a pixel pitch");
    let hint = usual
        .no_pitch
        .as_deref()
        .unwrap_or("give --kit, --camera and --mode, or --pitch, or add a column Pixel pitch um");
    Some(Finding::new(Code::NotesRow, message).at(first.clone()).hint(hint))
}

/// What stands above each column, for ditto marks.
#[derive(Default)]
struct Memory {
    lens: Above<String>,
    focal: Above<Millimeters>,
    attachment: Above<AttachmentNote>,
    focus: Above<Setting>,
    distance: Above<Meters>,
    width: Above<Millimeters>,
    span: Above<f64>,
    pitch: Above<Millimeters>,
    side: Above<Side>,
}

fn read(
    cells: &mut Cells<'_, '_, Column>,
    memory: &mut Memory,
    usual: &Usual,
    unpitched: &mut Vec<Place>,
) -> Option<Shot> {
    let told = cells.told();
    let lens = cells.read(Column::Lens, &mut memory.lens, cell::words);
    let focal = cells.read(Column::Focal, &mut memory.focal, cell::focal);
    let attachment = cells.read(Column::Attachment, &mut memory.attachment, cell::attachment);
    let focus = cells.read(Column::Focus, &mut memory.focus, typed::focus);
    let distance = cells.read(Column::Distance, &mut memory.distance, typed::distance);
    let width = cells.read(Column::Width, &mut memory.width, typed::width);
    let span = cells.read(Column::Span, &mut memory.span, typed::span);
    let pitch = cells.read(Column::Pitch, &mut memory.pitch, typed::pitch);
    let side = cells.read(Column::Side, &mut memory.side, typed::side).map(|noted| noted.value);
    if cells.told() > told {
        return None;
    }
    let width = width.map(|noted| noted.value).or(usual.width);
    let pitch = pitch.map(|noted| noted.value).or(match side {
        Some(Side::Height) => usual.pitch_high.or(usual.pitch),
        Some(Side::Width) | None => usual.pitch,
    });
    let attachment = match attachment {
        Some(noted) => Some(noted.value),
        // A sheet without the column is one of bare lenses; an empty cell may have been forgotten.
        None => (!cells.has(Column::Attachment)).then_some(AttachmentNote::Nothing),
    };
    let missing = if distance.is_none() {
        (
            "no tape distance",
            "tape it from the sensor-plane mark to the chart and write it like 1.5 m",
        )
    } else if span.is_none() {
        (
            "no span",
            "measure from one side of the chart to the other in the recorded picture, in pixels",
        )
    } else if width.is_none() {
        ("no chart width", "add a column Chart width mm, or give --chart-width")
    } else if attachment.is_none() {
        ("nothing of an attachment", "write its kit id, none for a bare lens, or a ditto mark")
    } else if pitch.is_none() {
        unpitched.push(cells.place());
        return None;
    } else {
        ("nothing", "fill the row")
    };
    let shot = (|| {
        Some(Shot {
            place: cells.place(),
            line: cells.line(),
            lens: lens.map(|noted| noted.value),
            focal: focal.map(|noted| noted.value),
            attachment: attachment?,
            focus: focus.map_or(Setting::Unsaid, |noted| noted.value),
            distance: distance?.value,
            width: width?,
            span: span?.value,
            pitch: pitch?,
            side,
        })
    })();
    if shot.is_none() {
        let (what, hint) = missing;
        cells.report_row(&format!("this row says {what}, so it is no shot"), hint);
    }
    shot
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_word_means_two_columns() {
        let mut keys: Vec<_> = columns::words::<Column>().map(columns::key).collect();
        keys.sort();
        let before = keys.len();
        keys.dedup();
        assert_eq!(keys.len(), before);
    }
}
