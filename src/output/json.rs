//! Clips, fields, origins and findings as JSON values, the same in every record.

use serde_json::{Map, Value as Json, json};

use crate::annotation::{ClipFacts, Input, Still, Stray};
use crate::fields::{Field, OF_CLIP};
use crate::finding::{Finding, Spot};
use crate::recorded::{CameraSettings, Container, LensData, Reading, Recorded};
use crate::sourced::Origin;
use crate::units::Unit;

use super::values::{Cell, Cells, Value, facts};

/// A clip's names, files and container facts.
pub(super) fn clip(clip: &ClipFacts) -> Map<String, Json> {
    let mut object = Map::new();
    object.insert("name".into(), json!(clip.name.as_ref()));
    if let Some(roll) = &clip.roll {
        object.insert("roll".into(), json!(roll));
    }
    let files = clip.files.iter().map(|file| {
        let mut object = Map::new();
        object.insert("file".into(), json!(file.shown.as_ref()));
        object.insert("bytes".into(), json!(file.size));
        for (key, value) in [
            ("headerSha256", file.header_sha256.as_ref().map(|sha| json!(sha))),
            ("firstFrame", file.first_frame.map(|frame| json!(frame))),
            ("frames", file.frames.map(|frames| json!(frames))),
            ("startTimecode", file.start.map(|start| json!(start.to_string()))),
            ("lastFile", file.row.as_ref().map(|row| json!(row.last.as_ref()))),
            ("numbers", file.row.as_ref().map(|row| json!([row.numbers.0, row.numbers.1]))),
            ("files", file.row.as_ref().map(|row| json!(row.files))),
        ] {
            if let Some(value) = value {
                object.insert(key.into(), value);
            }
        }
        Json::Object(object)
    });
    object.insert("files".into(), files.collect());
    if !clip.copies.is_empty() {
        let copies = clip
            .copies
            .iter()
            .map(|copy| copy.iter().map(|file| json!(file.shown.as_ref())).collect::<Json>());
        object.insert("copies".into(), copies.collect());
    }
    object.insert("media".into(), media(clip));
    object
}

fn media(clip: &ClipFacts) -> Json {
    let mut known = facts(clip);
    known.remove(&Field::Clip);
    known.remove(&Field::Roll);
    let Json::Object(mut object) = fields(&known) else { return Json::Null };
    object.insert("container".into(), json!(container(clip.media.container)));
    let readings = readings(&clip.media);
    if !readings.is_empty() {
        object.insert("readings".into(), Json::Object(readings));
    }
    if let Some(stored) = &clip.media.stored {
        let (frames, first) = (stored.value.frames, stored.value.first_shown);
        let value =
            json!({"frames": frames, "firstShown": first, "origin": origin(&stored.origin)});
        object.insert("stored".into(), value);
    }
    if let Some(duration) = clip.media.duration.as_ref().filter(|_| uneven(&clip.media)) {
        let text = format!("{}/{}", duration.value.units, duration.value.timescale);
        let value = json!({"value": text, "unit": "s", "origin": origin(&duration.origin)});
        object.insert("duration".into(), value);
    }
    if !clip.lens.is_empty() {
        object.insert("lensData".into(), clip.lens.iter().map(lens_data).collect());
    }
    if !clip.media.tags.is_empty() {
        let tags =
            clip.media.tags.iter().map(
                |tag| json!({"key": tag.key, "value": tag.value, "origin": origin(&tag.origin)}),
            );
        object.insert("tags".into(), tags.collect());
    }
    Json::Object(object)
}

fn container(container: Container) -> &'static str {
    match container {
        Container::QuickTime => "QuickTime",
        Container::Mp4 => "MP4",
        Container::Mxf => "MXF",
        Container::Tiff => "TIFF",
        Container::Dng => "DNG",
        Container::Jpeg => "JPEG",
        Container::Heif => "HEIF",
        Container::OpenExr => "OpenEXR",
        Container::Opaque => "opaque",
    }
}

/// Lens data recorded, each with what was written and where.
fn readings(media: &Recorded) -> Map<String, Json> {
    let Recorded {
        focal_length, f_number, t_number, focus_distance, extender, lens, settings, ..
    } = media;
    let mut readings = Map::new();
    let mut put = |name: &str, reading: Option<(f64, &str, &Origin)>| {
        if let Some((value, raw, at)) = reading {
            readings.insert(
                name.into(),
                json!({"value": number(value), "raw": raw, "origin": origin(at)}),
            );
        }
    };
    put("focalLength", focal_length.as_ref().map(|r| (r.value.get(), r.raw.as_str(), &r.origin)));
    put("fNumber", f_number.as_ref().map(|r| (r.value.get(), r.raw.as_str(), &r.origin)));
    put("tNumber", t_number.as_ref().map(|r| (r.value.get(), r.raw.as_str(), &r.origin)));
    put(
        "focusDistance",
        focus_distance.as_ref().map(|r| (r.value.get(), r.raw.as_str(), &r.origin)),
    );
    put("opticalExtender", extender.as_ref().map(|r| (r.value.get(), r.raw.as_str(), &r.origin)));
    if let Some(settings) = settings.as_deref() {
        camera_settings(settings, &mut readings);
    }
    if let Some(lens) = lens {
        readings
            .insert("lens".into(), json!({"value": lens.value, "origin": origin(&lens.origin)}));
    }
    readings
}

/// How the camera was set, as recorded. No `..`: a new member does not compile until it stands in the record.
fn camera_settings(settings: &CameraSettings, readings: &mut Map<String, Json>) {
    fn put<U: Unit>(to: &mut Map<String, Json>, name: &str, reading: Option<&Reading<U>>) {
        if let Some(Reading { value, raw, half_step: _, origin: at }) = reading {
            let value = json!({"value": number(value.number()), "raw": raw, "origin": origin(at)});
            to.insert(name.into(), value);
        }
    }
    let CameraSettings {
        iso,
        exposure_index,
        shutter_angle,
        exposure_time,
        white_balance,
        white_balance_mode,
        capture_rate,
    } = settings;
    put(readings, "iso", iso.as_ref());
    put(readings, "exposureIndex", exposure_index.as_ref());
    put(readings, "shutterAngle", shutter_angle.as_ref());
    put(readings, "exposureTime", exposure_time.as_ref());
    put(readings, "whiteBalance", white_balance.as_ref());
    if let Some(mode) = white_balance_mode {
        let value = json!({"value": mode.value, "origin": origin(&mode.origin)});
        readings.insert("whiteBalanceMode".into(), value);
    }
    if let Some(rate) = capture_rate {
        let value = json!({"value": rate.value.to_string(), "origin": origin(&rate.origin)});
        readings.insert("captureRate".into(), value);
    }
}

/// Lens data recorded, from a frame on; infinity is no JSON number and is written as the readings write it.
fn lens_data((frame, data): &(u64, LensData)) -> Json {
    let mut object = Map::new();
    object.insert("frame".into(), json!(frame));
    let values = [
        ("focalLength", data.focal_length.as_ref().map(|r| r.value.get())),
        ("fNumber", data.f_number.as_ref().map(|r| r.value.get())),
        ("tNumber", data.t_number.as_ref().map(|r| r.value.get())),
        ("focusDistance", data.focus_distance.as_ref().map(|r| r.value.get())),
        ("opticalExtender", data.extender.as_ref().map(|r| r.value.get())),
    ];
    for (name, value) in values {
        object.extend(value.map(|value| (name.to_owned(), number(value))));
    }
    Json::Object(object)
}

/// True where frames over rate do not give the length of the clip: the rate varies.
fn uneven(media: &Recorded) -> bool {
    let known = media.frames.as_ref().zip(media.rate.as_ref()).zip(media.duration.as_ref());
    known.is_some_and(|((frames, rate), duration)| {
        let (rate, duration) = (rate.value, duration.value);
        let by_rate = u128::from(frames.value) * u128::from(rate.den());
        let by_units = u128::from(duration.units) * u128::from(rate.num());
        by_rate * u128::from(duration.timescale) != by_units
    })
}

/// A piece without what already stands in the clip's own members.
pub(super) fn piece_only(mut cells: Cells) -> Cells {
    for field in OF_CLIP.iter().chain([&Field::Path]) {
        cells.remove(field);
    }
    cells
}

/// Fields under their ids with capitals for dashes.
pub(super) fn fields(cells: &Cells) -> Json {
    Json::Object(
        cells.iter().map(|(field, cell)| (field.camel(), field_json(*field, cell))).collect(),
    )
}

fn field_json(field: Field, cell: &Cell) -> Json {
    let mut object = Map::new();
    if let Some(value) = &cell.value {
        object.insert("value".into(), value_json(value));
        if let Value::Number { uncertainty, basis, .. } = value {
            if !field.unit().is_empty() {
                object.insert("unit".into(), json!(field.unit()));
            }
            if let Some(u) = uncertainty.filter(|u| u.is_finite()) {
                object.insert("uncertainty".into(), number(u));
            }
            object.insert("basis".into(), json!(basis.word()));
        }
    }
    if let Some(verdict) = cell.verdict {
        object.insert("verdict".into(), json!(verdict.word()));
    }
    if let Some(recorded) = &cell.recorded {
        object.insert("recorded".into(), value_json(recorded));
    }
    if !cell.reason.is_empty() {
        object.insert("reason".into(), json!(cell.reason));
    }
    if let Some(at) = &cell.origin {
        object.insert("origin".into(), origin(at));
    }
    Json::Object(object)
}

fn value_json(value: &Value) -> Json {
    match value {
        Value::Text(text) => json!(text),
        Value::Count(count) => json!(count),
        Value::Number { number: n, .. } => number(*n),
        Value::Flag(flag) => json!(flag),
    }
}

/// JSON has no infinity: it is the text `infinity`. Nine significant digits are kept; more would show platform noise.
pub(super) fn number(number: f64) -> Json {
    if number.is_infinite() {
        return json!("infinity");
    }
    let rounded: f64 = format!("{number:.8e}").parse().unwrap_or(number);
    json!(rounded)
}

pub(super) fn origin(origin: &Origin) -> Json {
    match origin {
        Origin::Media { file, path, offset } => {
            json!({"kind": "media", "file": file.as_ref(), "path": path.as_ref(), "offset": offset})
        }
        Origin::Note { file, line, heading } => {
            json!({"kind": "note", "file": file.as_ref(), "line": line, "heading": heading.as_ref()})
        }
        Origin::Kit { key } => json!({"kind": "kit", "key": key.as_ref()}),
        Origin::Computed(rule) => json!({"kind": "computed", "rule": rule}),
        Origin::Name(name) => json!({"kind": "name", "name": name.as_ref()}),
        Origin::Asked(option) => json!({"kind": "asked", "option": option}),
    }
}

/// An input file.
pub(super) fn input(input: &Input) -> Json {
    let Input { role, file, size, sha256 } = input;
    json!({"role": role, "file": file, "bytes": size, "sha256": sha256})
}

/// A stray file; a still with what it belongs to, and with what it says of itself where it was opened.
pub(super) fn stray(stray: &Stray) -> Json {
    let mut object = Map::new();
    object.insert("file".into(), json!(stray.file));
    object.insert("reason".into(), json!(stray.reason));
    if let Some(still) = &stray.still {
        object.insert("still".into(), of_still(still));
    }
    Json::Object(object)
}

fn of_still(Still { clip, roll, media }: &Still) -> Json {
    let mut object = Map::new();
    let mut put = |name: &str, text: Option<String>| {
        object.extend(text.map(|text| (name.to_owned(), json!(text))));
    };
    put("clip", clip.clone());
    put("roll", roll.clone());
    if let Some(media) = media {
        put("container", Some(container(media.container).to_owned()));
        put("created", media.created.as_ref().map(|at| at.value.to_string()));
        put("cameraMaker", media.maker.as_ref().map(|maker| maker.value.clone()));
        put("cameraModel", media.model.as_ref().map(|model| model.value.clone()));
        let readings = readings(media);
        if !readings.is_empty() {
            object.insert("readings".into(), Json::Object(readings));
        }
    }
    Json::Object(object)
}

/// One finding as JSON.
pub(super) fn finding(finding: &Finding) -> Json {
    let mut object = Map::new();
    object.insert("code".into(), json!(finding.code.word()));
    object.insert("level".into(), json!(finding.level().word()));
    if let Some(clip) = &finding.clip {
        object.insert("clip".into(), json!(clip.as_ref()));
    }
    if let Some(place) = &finding.place {
        object.insert("file".into(), json!(place.file.as_ref()));
        match &place.spot {
            Spot::Whole => {}
            Spot::Byte(offset) => {
                object.insert("offset".into(), json!(offset));
            }
            Spot::Text { line, column, excerpt, name } => {
                object.insert("line".into(), json!(line));
                object.insert("column".into(), json!(column));
                if let Some(part) = excerpt.as_ref().and_then(|e| e.line.get(e.part.clone())) {
                    object.insert("cell".into(), json!(part));
                }
                // Where in the row, since a row can hold the same cell twice.
                if let Some(at) = excerpt.as_ref().map(|e| e.part.start).filter(|at| *at > 0) {
                    object.insert("cellAt".into(), json!(at));
                }
                if let Some(name) = name {
                    object.insert("spreadsheetCell".into(), json!(name.as_ref()));
                }
                if let Some(excerpt) = excerpt {
                    object.insert("row".into(), json!(&*excerpt.line));
                }
            }
        }
    }
    object.insert("message".into(), json!(finding.message));
    if let Some(understood) = &finding.understood {
        object.insert("understood".into(), json!(understood));
    }
    if let Some(hint) = &finding.hint {
        object.insert("hint".into(), json!(hint));
    }
    Json::Object(object)
}
