//! Every field of a row as a value that any format can print. Writers take what they carry from here.

mod derived;
mod shot;

use std::collections::BTreeMap;

use crate::annotation::{Attached, ClipFacts, LensMarks, MatchedRow, Settled, Setup, Verdict};
use crate::fields::Field;
use crate::number::{fixed, short};
use crate::recorded::Rotation;
use crate::sourced::{Basis, Origin, Quantity, Sourced};
use crate::units::Unit;

use super::rows::Row;

/// One value.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Text.
    Text(String),
    /// A whole number.
    Count(u64),
    /// A number with unit; the unit is the field's.
    Number {
        /// The number.
        number: f64,
        /// Standard uncertainty.
        uncertainty: Option<f64>,
        /// How it is known.
        basis: Basis,
    },
    /// Yes or no.
    Flag(bool),
}

/// One field of a row.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Cell {
    /// The value that stands.
    pub value: Option<Value>,
    /// Where it was found.
    pub origin: Option<Origin>,
    /// What became of it, for fields that the media may carry.
    pub verdict: Option<Verdict>,
    /// What the media recorded.
    pub recorded: Option<Value>,
    /// Why.
    pub reason: String,
}

impl Cell {
    fn is_empty(&self) -> bool {
        self.value.is_none()
            && self.recorded.is_none()
            && self.verdict.is_none()
            && self.reason.is_empty()
    }
}

/// The fields of a row of which anything is known.
pub type Cells = BTreeMap<Field, Cell>;

/// Every field of `row` of which anything is known.
pub fn cells(row: &Row<'_>) -> Cells {
    let mut cells = facts(&row.annotation.clip);
    // These are the clip's; a row has its own, or none.
    cells.remove(&Field::Start);
    cells.remove(&Field::End);
    let mut put = |field, text: Option<String>| put_text(&mut cells, field, text);
    let name = row.file.shown.rsplit('/').next().map(str::to_owned);
    put(Field::File, name);
    put(Field::Path, Some(row.file.shown.to_string()));
    let parts = row.annotation.clip.files.len();
    put(Field::Part, (parts > 1).then(|| format!("{}/{parts}", row.part)));
    put(Field::Start, row.start_timecode().map(|timecode| timecode.to_string()));
    put(Field::End, row.end_timecode().map(|timecode| timecode.to_string()));
    for (field, count) in [(Field::FirstFrame, row.in_file), (Field::Frames, row.frames)] {
        cells.remove(&field);
        if let Some(count) = count {
            cells.insert(field, Cell { value: Some(Value::Count(count)), ..Cell::default() });
        }
    }
    put_text(&mut cells, Field::NoteRows, note_rows(row));
    setup(row.setup, &mut cells);
    cells
}

/// The rows of the notes that hold over a row, and what made them speak of the clip.
fn note_rows(row: &Row<'_>) -> Option<String> {
    let end = row.frames.and_then(|frames| row.start.checked_add(frames));
    let holds = |matched: &&MatchedRow| {
        matched.frame <= row.start || end.is_some_and(|end| matched.frame < end)
    };
    let words =
        |matched: &MatchedRow| format!("{} line {} ({})", matched.file, matched.line, matched.why);
    let rows: Vec<String> = row.annotation.rows.iter().filter(holds).map(words).collect();
    (!rows.is_empty()).then(|| rows.join("; "))
}

/// Every field of a set-up that is no clip's, of which anything is known.
pub fn of_setup(of: &Setup) -> Cells {
    let mut cells = Cells::new();
    setup(of, &mut cells);
    cells
}

/// What is known of a clip without notes and kit.
pub fn facts(clip: &ClipFacts) -> Cells {
    let mut cells = Cells::new();
    let ClipFacts { name, roll, files: _, copies: _, media, lens: _ } = clip;
    put_text(&mut cells, Field::Clip, Some(name.to_string()));
    put_text(&mut cells, Field::Roll, roll.clone());
    let mut put = |field, sourced: Option<Sourced<Value>>| {
        if let Some(Sourced { value, origin }) = sourced {
            cells.insert(
                field,
                Cell { value: Some(value), origin: Some(origin), ..Cell::default() },
            );
        }
    };
    let shown = |sourced: Option<Sourced<String>>| sourced.map(|text| text.map(Value::Text));
    put(Field::Frames, media.frames.clone().map(|frames| frames.map(Value::Count)));
    put(Field::Start, media.start.clone().map(|start| start.map(|t| Value::Text(t.to_string()))));
    put(Field::Rate, media.rate.clone().map(|rate| rate.map(|r| Value::Text(r.to_string()))));
    put(Field::Coded, media.coded.clone().map(|raster| raster.map(|r| Value::Text(r.to_string()))));
    put(
        Field::Display,
        media.display.clone().map(|raster| raster.map(|r| Value::Text(r.to_string()))),
    );
    put(
        Field::PixelAspect,
        media.pixel_aspect.clone().map(|aspect| aspect.map(|a| Value::Text(a.to_string()))),
    );
    put(
        Field::Rotation,
        media.rotation.clone().map(|rotation| rotation.map(|r| Value::Count(degrees(r)))),
    );
    put(
        Field::Created,
        media
            .created
            .clone()
            .map(|at| at.map(|at| Value::Text(at.format("%Y-%m-%dT%H:%M:%S").to_string()))),
    );
    put(Field::Reel, shown(media.reel.clone()));
    put(Field::CameraMaker, shown(media.maker.clone()));
    put(Field::CameraModel, shown(media.model.clone()));
    put(Field::CameraSerial, shown(media.serial.clone()));
    cells
}

fn degrees(rotation: Rotation) -> u64 {
    match rotation {
        Rotation::None => 0,
        Rotation::Quarter => 90,
        Rotation::Half => 180,
        Rotation::ThreeQuarters => 270,
    }
}

fn put_text(cells: &mut Cells, field: Field, text: Option<String>) {
    if let Some(text) = text {
        cells.insert(field, Cell { value: Some(Value::Text(text)), ..Cell::default() });
    }
}

/// Takes a setup apart. No `..`: a new member does not compile until it has a field.
fn setup(setup: &Setup, cells: &mut Cells) {
    let Setup {
        camera,
        mode,
        lens,
        lens_maker,
        lens_serial,
        lens_marks,
        squeeze,
        attachment,
        attachment_reason,
        magnification,
        glass,
        lens_focal,
        lens_f,
        lens_t,
        focal_length,
        f_number,
        t_number,
        focus_distance,
        distortion,
        derived,
        slate,
        take,
        circled,
        attachment_secured,
        filter,
        density,
        shot,
        remarks,
    } = setup;
    if let Some(shot) = shot {
        shot::take(shot, cells);
    }
    for (field, text) in [
        (Field::Camera, camera),
        (Field::Mode, mode),
        (Field::LensMaker, lens_maker),
        (Field::LensSerial, lens_serial),
        (Field::Slate, slate),
        (Field::Take, take),
        (Field::Filter, filter),
        (Field::Remarks, remarks),
    ] {
        put(cells, field, sourced(text.as_ref(), |text| Value::Text(text.clone())));
    }
    put(cells, Field::Circled, sourced(circled.as_ref(), |circled| Value::Flag(*circled)));
    let secured = attachment_secured.as_ref();
    put(cells, Field::Secured, sourced(secured, |secured| Value::Flag(*secured)));
    let named = sourced(attachment.as_ref(), |attached| {
        Value::Text(match attached {
            Attached::Bare => "none".to_owned(),
            Attached::On { name, .. } => name.clone(),
        })
    });
    put(cells, Field::Attachment, Cell { reason: attachment_reason.clone(), ..named });
    put(cells, Field::Lens, settled_text(lens));
    put(
        cells,
        Field::LensMarks,
        sourced(lens_marks.as_ref(), |marks| Value::Text(engraved(marks))),
    );
    put(cells, Field::Density, quantity(density.as_ref()));
    put(cells, Field::Squeeze, quantity(squeeze.as_ref()));
    put(cells, Field::Magnification, quantity(magnification.as_ref()));
    put(cells, Field::Glass, quantity(glass.as_ref()));
    put(cells, Field::LensFocal, quantity(lens_focal.as_ref()));
    put(cells, Field::LensF, quantity(lens_f.as_ref()));
    put(cells, Field::LensT, quantity(lens_t.as_ref()));
    put(cells, Field::FocalLength, settled(focal_length));
    put(cells, Field::FNumber, settled(f_number));
    put(cells, Field::TNumber, settled(t_number));
    put(cells, Field::FocusDistance, settled(focus_distance));
    put(
        cells,
        Field::Distortion,
        sourced(distortion.as_ref(), |distortion| Value::Text(derived::distorted(distortion))),
    );
    derived::take(derived, cells);
}

/// The marks of a lens as one would read them off.
fn engraved(marks: &LensMarks) -> String {
    let pair = |(from, to): (f64, f64)| {
        let (from, to) = (short(from, 4), short(to, 4));
        if from == to { from } else { [from, "-".into(), to].concat() }
    };
    let (from, to) = marks.focal;
    let mut text = [pair((from.get(), to.get())), " mm".into()].concat();
    if let Some((from, to)) = marks.f {
        text.extend([" f/", &pair((from.get(), to.get()))]);
    }
    if let Some((from, to)) = marks.t {
        text.extend([" T", &pair((from.get(), to.get()))]);
    }
    text
}

/// An empty cell is no cell.
fn put(cells: &mut Cells, field: Field, cell: Cell) {
    if !cell.is_empty() {
        cells.insert(field, cell);
    }
}

fn sourced<T>(sourced: Option<&Sourced<T>>, value: impl Fn(&T) -> Value) -> Cell {
    Cell {
        value: sourced.map(|sourced| value(&sourced.value)),
        origin: sourced.map(|sourced| sourced.origin.clone()),
        ..Cell::default()
    }
}

fn number<U: Unit>(quantity: &Quantity<U>) -> Value {
    Value::Number {
        number: quantity.value.number(),
        uncertainty: quantity.uncertainty,
        basis: quantity.basis,
    }
}

fn quantity<U: Unit>(quantity: Option<&Quantity<U>>) -> Cell {
    Cell {
        value: quantity.map(number),
        origin: quantity.map(|quantity| quantity.origin.clone()),
        ..Cell::default()
    }
}

fn settled_text(settled: &Settled<Sourced<String>>) -> Cell {
    let text = |text: &Sourced<String>| Value::Text(text.value.clone());
    let Settled { verdict, value, recorded, reason } = settled;
    Cell {
        value: value.as_ref().map(text),
        origin: value.as_ref().map(|value| value.origin.clone()),
        verdict: *verdict,
        recorded: recorded.as_ref().map(text),
        reason: reason.clone(),
    }
}

fn settled<U: Unit>(settled: &Settled<Quantity<U>>) -> Cell {
    let Settled { verdict, value, recorded, reason } = settled;
    Cell {
        value: value.as_ref().map(number),
        origin: value.as_ref().map(|value| value.origin.clone()),
        verdict: *verdict,
        recorded: recorded.as_ref().map(number),
        reason: reason.clone(),
    }
}

impl Value {
    /// The value as text, numbers with at most the field's decimals.
    pub fn text(&self, field: Field) -> String {
        match self {
            Self::Text(text) => text.clone(),
            Self::Count(count) => count.to_string(),
            Self::Number { number, .. } => short(*number, field.decimals()),
            Self::Flag(flag) => if *flag { "yes" } else { "no" }.to_owned(),
        }
    }

    /// Its standard uncertainty as text, one decimal more than the value.
    pub fn uncertainty(&self, field: Field) -> Option<String> {
        match self {
            Self::Number { uncertainty: Some(u), .. } if u.is_finite() => {
                Some(fixed(*u, field.decimals() + 1))
            }
            _ => None,
        }
    }

    /// How it is known.
    pub fn basis(&self) -> Option<Basis> {
        match self {
            Self::Number { basis, .. } => Some(*basis),
            _ => None,
        }
    }
}

/// An origin in words: where to go and look.
pub fn origin_words(origin: &Origin) -> String {
    match origin {
        Origin::Media { file, path, offset } => format!("{file} {path} at byte {offset}"),
        Origin::Note { file, line, heading } => format!("{file} line {line}, {heading}"),
        Origin::Kit { key } => format!("kit {key}"),
        Origin::Computed(rule) => format!("computed: {rule}"),
        Origin::Name(name) => format!("name {name}"),
        Origin::Asked(option) => format!("asked with --{option}"),
    }
}
