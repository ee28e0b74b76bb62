//! `run.json`, the run record: inputs with hashes, every clip with its values, outputs, findings. `docs/run-record.md` documents its shape.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value as Json, json};

use crate::annotation::{ClipFacts, Shoot, Stray, Verdict};
use crate::fields::Field;
use crate::finding::{Finding, Level, Spot};
use crate::recorded::{Container, Recorded};
use crate::sourced::Origin;

use super::Stamp;
use super::rows::rows;
use super::values::{Cell, Cells, Value, cells, facts};

/// Version of the record's shape. Grows when a reader of the older shape would misread the newer.
pub const VERSION: u64 = 1;
/// The first member of every record.
pub const FORMAT: &str = "lensmend run record";
/// The first member of every scan.
pub const SCAN_FORMAT: &str = "lensmend scan";

/// A file that the run wrote, would write, or found as it should be.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputFile {
    /// `sidecar` or `table`.
    pub role: &'static str,
    /// Path inside the output folder, or inside the dump for sidecars beside clips.
    pub file: String,
    /// Which clip of the shoot and which of its files, from 1, a sidecar belongs to.
    pub of: Option<(usize, usize)>,
    /// SHA-256 of its bytes as planned, in hexadecimal.
    pub sha256: String,
}

/// The record of a run as JSON. `stamp.date` is the date of the last run that changed something.
pub fn write(shoot: &Shoot, outputs: &[OutputFile], stamp: &Stamp) -> serde_json::Result<Vec<u8>> {
    let Shoot { production, clips, strays, findings, inputs } = shoot;
    let mut record = head(FORMAT, stamp);
    record.insert("written".into(), json!(stamp.date));
    if let Some(production) = production {
        record.insert("production".into(), json!(production));
    }
    record.insert(
        "inputs".into(),
        inputs
            .iter()
            .map(|i| json!({"role": i.role, "file": i.file, "bytes": i.size, "sha256": i.sha256}))
            .collect(),
    );
    record.insert("summary".into(), summary(shoot));
    let mut sidecars: BTreeMap<usize, Vec<&str>> = BTreeMap::new();
    for output in outputs {
        if let Some((clip, _)) = output.of {
            sidecars.entry(clip).or_default().push(&output.file);
        }
    }
    let clips = clips.iter().enumerate().map(|(at, annotation)| {
        let mut clip = clip(&annotation.clip);
        let pieces = rows(annotation).iter().map(|row| fields(&piece_only(cells(row)))).collect();
        clip.insert("pieces".into(), pieces);
        clip.insert("sidecars".into(), json!(sidecars.get(&at).cloned().unwrap_or_default()));
        Json::Object(clip)
    });
    record.insert("clips".into(), clips.collect());
    record.insert("strays".into(), strays_json(strays));
    record.insert(
        "outputs".into(),
        outputs
            .iter()
            .map(|o| json!({"role": o.role, "file": o.file, "sha256": o.sha256}))
            .collect(),
    );
    record.insert("findings".into(), findings.iter().map(finding).collect());
    text(&Json::Object(record))
}

/// What `scan` found, as JSON.
pub fn scan(
    clips: &[ClipFacts],
    strays: &[Stray],
    findings: &[Finding],
    stamp: &Stamp,
) -> serde_json::Result<Vec<u8>> {
    let mut record = head(SCAN_FORMAT, stamp);
    record.insert("clips".into(), clips.iter().map(|facts| Json::Object(clip(facts))).collect());
    record.insert("strays".into(), strays_json(strays));
    record.insert("findings".into(), findings.iter().map(finding).collect());
    text(&Json::Object(record))
}

/// The date, and path and hash of every output, of a record written before; `None` if it is no record of this version.
pub fn read_back(bytes: &[u8]) -> Option<(String, Vec<(String, String)>)> {
    let record: Json = serde_json::from_slice(bytes).ok()?;
    if record.get("format")?.as_str()? != FORMAT || record.get("version")?.as_u64()? != VERSION {
        return None;
    }
    let outputs = record.get("outputs")?.as_array()?.iter().filter_map(|output| {
        Some((output.get("file")?.as_str()?.to_owned(), output.get("sha256")?.as_str()?.to_owned()))
    });
    Some((record.get("written")?.as_str()?.to_owned(), outputs.collect()))
}

/// The journal of a run that is writing: every file with the hashes it had or is about to have.
pub fn journal(
    hashes: &BTreeMap<String, BTreeSet<String>>,
    stamp: &Stamp,
) -> serde_json::Result<Vec<u8>> {
    let mut record = head(FORMAT, stamp);
    record.insert("written".into(), json!(stamp.date));
    let each = hashes.iter().flat_map(|(file, hashes)| {
        hashes.iter().map(move |sha| json!({"file": file, "sha256": sha}))
    });
    record.insert("outputs".into(), each.collect());
    text(&Json::Object(record))
}

fn text(record: &Json) -> serde_json::Result<Vec<u8>> {
    let mut bytes = serde_json::to_vec_pretty(record)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn head(format: &str, stamp: &Stamp) -> Map<String, Json> {
    let mut record = Map::new();
    record.insert("format".into(), json!(format));
    record.insert("version".into(), json!(VERSION));
    record.insert("tool".into(), json!(stamp.tool));
    record
}

fn summary(shoot: &Shoot) -> Json {
    let count = |level| shoot.findings.iter().filter(|finding| finding.level() == level).count();
    let mut verdicts = Map::new();
    for verdict in Verdict::ALL {
        let clips = shoot.clips.iter().filter(|annotation| {
            annotation
                .setups
                .pieces()
                .any(|piece| piece.value.focal_length.verdict == Some(verdict))
        });
        verdicts.insert(verdict.word().into(), json!(clips.count()));
    }
    let files: usize = shoot.clips.iter().map(|annotation| annotation.clip.files.len()).sum();
    json!({
        "clips": shoot.clips.len(),
        "clipFiles": files,
        "strays": shoot.strays.len(),
        "focalLengthVerdicts": verdicts,
        "faults": count(Level::Fault),
        "warnings": count(Level::Warning),
        "infos": count(Level::Info),
    })
}

fn clip(clip: &ClipFacts) -> Map<String, Json> {
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
        ] {
            if let Some(value) = value {
                object.insert(key.into(), value);
            }
        }
        Json::Object(object)
    });
    object.insert("files".into(), files.collect());
    object.insert("media".into(), media(clip));
    object
}

fn media(clip: &ClipFacts) -> Json {
    let mut known = facts(clip);
    known.remove(&Field::Clip);
    known.remove(&Field::Roll);
    let Json::Object(mut object) = fields(&known) else { return Json::Null };
    let container = match clip.media.container {
        Container::QuickTime => "QuickTime",
        Container::Mp4 => "MP4",
        Container::Opaque => "opaque",
    };
    object.insert("container".into(), json!(container));
    let Recorded { focal_length, f_number, t_number, focus_distance, lens, tags, .. } = &clip.media;
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
    if let Some(lens) = lens {
        readings
            .insert("lens".into(), json!({"value": lens.value, "origin": origin(&lens.origin)}));
    }
    if !readings.is_empty() {
        object.insert("readings".into(), Json::Object(readings));
    }
    if !tags.is_empty() {
        let tags = tags
            .iter()
            .map(|tag| json!({"key": tag.key, "value": tag.value, "origin": origin(&tag.origin)}));
        object.insert("tags".into(), tags.collect());
    }
    Json::Object(object)
}

/// A piece without what already stands in the clip's own members.
fn piece_only(mut cells: Cells) -> Cells {
    for field in [
        Field::Clip,
        Field::Roll,
        Field::Path,
        Field::Rate,
        Field::Coded,
        Field::Display,
        Field::PixelAspect,
        Field::Rotation,
        Field::Created,
        Field::CameraMaker,
        Field::CameraModel,
        Field::CameraSerial,
    ] {
        cells.remove(&field);
    }
    cells
}

fn fields(cells: &Cells) -> Json {
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
fn number(number: f64) -> Json {
    if number.is_infinite() {
        return json!("infinity");
    }
    let rounded: f64 = format!("{number:.8e}").parse().unwrap_or(number);
    json!(rounded)
}

fn origin(origin: &Origin) -> Json {
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
    }
}

fn strays_json(strays: &[Stray]) -> Json {
    strays.iter().map(|stray| json!({"file": stray.file, "reason": stray.reason})).collect()
}

/// One finding as JSON.
pub fn finding(finding: &Finding) -> Json {
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
            Spot::Text { line, column, excerpt } => {
                object.insert("line".into(), json!(line));
                object.insert("column".into(), json!(column));
                if let Some(part) = excerpt.as_ref().and_then(|e| e.line.get(e.part.clone())) {
                    object.insert("cell".into(), json!(part));
                }
            }
        }
    }
    object.insert("message".into(), json!(finding.message));
    if let Some(hint) = &finding.hint {
        object.insert("hint".into(), json!(hint));
    }
    Json::Object(object)
}
