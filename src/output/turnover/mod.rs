//! A turnover as files: table, page, cameras of the shots, and the cut again with what the shots were taken with.

pub mod cameras;
pub mod edl;
pub mod otio;
pub mod page;
pub mod record;
pub mod table;
pub mod text;

use serde_json::{Map, Value as Json, json};

use crate::annotation::{Annotation, Shoot};
use crate::cut::Cut;
use crate::finding::Finding;
use crate::number::short;
use crate::timecode::Timecode;
use crate::turnover::{Area, Shot, Turnover, area};

use super::Stamp;
use super::json::{fields, number, piece_only};
use super::rows::{Row, within};
use super::values::{Cells, cells};

/// Everything that the files are made from.
#[derive(Clone, Copy, Debug)]
pub struct Handed<'a> {
    /// The shots.
    pub turnover: &'a Turnover,
    /// The clips.
    pub shoot: &'a Shoot,
    /// The cut as it was read.
    pub cut: &'a Cut,
    /// The file of the cut, as the user would name it.
    pub cut_name: &'a str,
    /// Its bytes.
    pub cut_bytes: &'a [u8],
    /// Date and version.
    pub stamp: &'a Stamp,
    /// A sample for every frame.
    pub per_frame: bool,
}

/// Frames of a shot over which nothing changes.
pub(super) struct Piece<'a> {
    /// Frames, file and set-up.
    pub(super) row: Row<'a>,
    /// Number of its first frame in the shot.
    pub(super) number: u64,
    /// What plate or recording shows of the sensor, where that is known.
    pub(super) area: Option<Area>,
    /// Every field of it.
    pub(super) cells: Cells,
}

impl<'a> Handed<'a> {
    /// The clip of a shot.
    pub fn clip(&self, shot: &Shot) -> Option<&'a Annotation> {
        self.shoot.clips.get(shot.clip?)
    }

    /// The pieces of a shot, handles included; none where its frames are not known.
    pub(super) fn pieces(&self, shot: &Shot) -> Vec<Piece<'a>> {
        let (Some(annotation), Some(range)) = (self.clip(shot), shot.range.clone()) else {
            return Vec::new();
        };
        let first = range.start;
        let plate = self.turnover.plate.as_ref();
        let raster = annotation.clip.media.coded.as_ref().map(|coded| coded.value);
        let pieces = within(annotation, range).into_iter().map(|row| Piece {
            number: self.turnover.first_frame.saturating_add(row.start.saturating_sub(first)),
            area: raster.and_then(|raster| area(plate, raster, row.setup)),
            cells: cells(&row),
            row,
        });
        pieces.collect()
    }

    /// The label of a frame of a shot's clip.
    pub(super) fn label(&self, shot: &Shot, frame: u64) -> Option<Timecode> {
        label(self.clip(shot)?, frame)
    }

    /// Labels of the frames that the cut uses, transitions included: of the first, and of that after the last.
    pub(super) fn source(&self, shot: &Shot) -> (Option<String>, Option<String>) {
        let label = |frame| self.label(shot, frame).map(|label| label.to_string());
        shot.used.as_ref().map_or((None, None), |used| (label(used.start), label(used.end)))
    }

    /// Findings of the cut, and those of the shoot that are no clip's or that of a clip in the cut.
    pub fn findings(&self) -> Vec<Finding> {
        let clips = self.turnover.shots.iter().filter_map(|shot| self.clip(shot));
        let used: std::collections::BTreeSet<&str> =
            clips.map(|clip| clip.clip.name.as_ref()).collect();
        let concerns =
            |finding: &&Finding| finding.clip.as_deref().is_none_or(|clip| used.contains(clip));
        let shoot = self.shoot.findings.iter().filter(concerns);
        shoot.chain(self.turnover.all_findings()).cloned().collect()
    }
}

/// The label of a frame of a clip; labels that count pairs of frames have one for both.
fn label(annotation: &Annotation, frame: u64) -> Option<Timecode> {
    let media = &annotation.clip.media;
    let (start, rate) = (media.start.as_ref()?.value, media.rate.as_ref()?.value);
    let (pictures, labels) = (rate.num().div_ceil(rate.den()), start.counting().base());
    let step = [1, 2].into_iter().find(|step| labels.checked_mul(*step) == Some(pictures))?;
    Some(start.later(frame / u64::from(step)))
}

/// A shot as JSON, for the record and for the cut.
pub(super) fn shot_json(handed: &Handed<'_>, shot: &Shot) -> Map<String, Json> {
    let mut object = Map::new();
    let event = &shot.event;
    object.insert("shot".into(), json!(shot.name));
    object.insert("event".into(), json!(event.number));
    object.insert("track".into(), json!(event.track));
    if let Some(clip) = handed.clip(shot) {
        object.insert("clip".into(), json!(clip.clip.name.as_ref()));
        if let Some(roll) = &clip.clip.roll {
            object.insert("roll".into(), json!(roll));
        }
    }
    let texts = [("editName", &event.name), ("editFile", &event.file), ("editReel", &event.reel)];
    for (key, text) in texts {
        object.extend(text.as_ref().map(|text| (key.to_owned(), json!(text))));
    }
    if let (Some(from), Some(to)) = shot.record(handed.turnover.timing) {
        object.insert("record".into(), json!({"in": from, "out": to}));
    }
    let frames = |range: &std::ops::Range<u64>| {
        let mut frames = Map::new();
        frames.insert("firstFrame".into(), json!(range.start));
        frames.insert("frames".into(), json!(range.end - range.start));
        for (key, frame) in [("startTimecode", range.start), ("endTimecode", range.end)] {
            let label = handed.label(shot, frame);
            frames.extend(label.map(|label| (key.to_owned(), json!(label.to_string()))));
        }
        frames
    };
    if let (Some(used), Some(range)) = (&shot.used, &shot.range) {
        object.insert("used".into(), Json::Object(frames(used)));
        let mut handed_over = frames(range);
        handed_over.insert("firstNumber".into(), json!(handed.turnover.first_frame));
        handed_over
            .insert("handles".into(), json!([used.start - range.start, range.end - used.end]));
        object.insert("handedOver".into(), Json::Object(handed_over));
    }
    if let Some(speed) = shot.speed {
        object.insert("speed".into(), number(speed));
    }
    if shot.by_time {
        object.insert("sourceCountedAtRateOfCut".into(), json!(true));
    }
    if let Some(transition) = &event.transition {
        let transition = json!({"kind": transition.kind, "frames": transition.frames});
        object.insert("transition".into(), transition);
    }
    if !event.comments.is_empty() {
        object.insert("comments".into(), json!(event.comments));
    }
    let pieces: Vec<Json> =
        handed.pieces(shot).iter().map(|piece| piece_json(handed, piece)).collect();
    object.insert("pieces".into(), json!(pieces));
    object
}

fn piece_json(handed: &Handed<'_>, piece: &Piece<'_>) -> Json {
    let mut object = Map::new();
    object.insert("number".into(), json!(piece.number));
    object.insert("file".into(), json!(piece.row.file.shown.as_ref()));
    if let Some(plate) = plate_json(handed, piece) {
        object.insert("plate".into(), plate);
    }
    if let Json::Object(known) = fields(&piece_only(piece.cells.clone())) {
        object.extend(known);
    }
    Json::Object(object)
}

/// What the plate shows; nothing where none is asked for or where it does not fit.
pub(super) fn plate_json(handed: &Handed<'_>, piece: &Piece<'_>) -> Option<Json> {
    let (plate, area) = (handed.turnover.plate.as_ref()?, piece.area.as_ref()?);
    let mut object = Map::new();
    object.insert("id".into(), json!(plate.id));
    object.insert("raster".into(), json!(area.raster.to_string()));
    object.insert("filmBackWidth".into(), number(area.back.0));
    object.insert("filmBackHeight".into(), number(area.back.1));
    let uncertain = [
        ("filmBackWidthUncertainty", area.uncertainty.0),
        ("filmBackHeightUncertainty", area.uncertainty.1),
    ];
    for (key, off) in uncertain {
        object.extend(off.map(|off| (key.to_owned(), number(off))));
    }
    object.insert("offAxis".into(), json!([number(area.off.0), number(area.off.1)]));
    object.insert("squeeze".into(), number(area.squeeze));
    let density = [number(area.pixels_per_mm.0), number(area.pixels_per_mm.1)];
    object.insert("pixelsPerMm".into(), json!(density));
    Some(Json::Object(object))
}

/// A number and how far it may be off, in words: `35.5 mm ± 1.38`.
fn quantity_words(cells: &Cells, field: crate::fields::Field) -> Option<String> {
    let value = cells.get(&field)?.value.as_ref()?;
    let mut words = value.text(field);
    if !field.unit().is_empty() && words != "infinity" {
        words = format!("{words} {}", field.unit());
    }
    if let super::values::Value::Number { uncertainty: Some(off), .. } = value
        && *off > 0.0
        && off.is_finite()
    {
        words = format!("{words} \u{b1} {}", short(*off, field.decimals()));
    }
    Some(words)
}
