//! `run.json`, the run record: inputs with hashes, every clip with its values, outputs, findings. `docs/run-record.md` documents its shape.
//!
//! It is JSON with one clip, file or finding a line, so that two records can be compared line by line
//! and a day of thousands of clips is written clip by clip.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;
use serde_json::{Map, Value as Json, json};

use crate::annotation::{Annotation, ClipFacts, Details, MatchedRow, Shoot, Stray, Verdict};
use crate::finding::{Finding, Level};
use crate::read_at::Hashes;

use super::before::{Fingerprints, ending};
use super::json::{clip, fields, finding, input, piece_only, stray};
use super::rows::rows;
use super::summary::without_verdict;
use super::values::cells;
use super::{Stamp, calm};

/// Version of the record's shape. Grows when a reader of the older shape would misread the newer.
pub const VERSION: u64 = 1;
/// The first member of every run record.
pub const FORMAT: &str = "lensmend run record";
/// The first member of every scan.
pub const SCAN_FORMAT: &str = "lensmend scan";
/// The first member of what is printed when a kit is refused.
pub const REFUSAL_FORMAT: &str = "lensmend refusal";
/// The first member of the journal of a run that is writing.
pub const JOURNAL_FORMAT: &str = "lensmend unfinished run";

/// A file that the run wrote, would write, or found as it should be.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputFile {
    /// `sidecar`, `table`, `report`, `lens data`, or `orphan` for one that an earlier run wrote and this one has no clip for.
    pub role: &'static str,
    /// Path inside the output folder, or inside the dump for sidecars beside clips.
    pub file: String,
    /// Which clip of the shoot and which of its files, from 1, a sidecar belongs to.
    pub of: Option<(usize, usize)>,
    /// Hashes of its bytes as planned.
    pub hashes: Hashes,
}

/// What a record says beside the shoot.
#[derive(Clone, Copy, Debug)]
pub struct Run<'a> {
    /// What stands.
    pub outputs: &'a [OutputFile],
    /// What it was made from, and what it came to.
    pub fingerprints: &'a Fingerprints,
    /// Options, as words of a command line.
    pub options: &'a [String],
    /// What is shown of the clips.
    pub shown: &'a str,
}

/// The record of a run as JSON. `stamp.date` is the date of the last run that changed something.
pub fn write(shoot: &Shoot, run: &Run<'_>, stamp: &Stamp) -> serde_json::Result<Vec<u8>> {
    let Run { outputs, fingerprints, options, shown } = run;
    let Shoot { production, details, clips, strays, findings, inputs } = shoot;
    let mut sidecars: BTreeMap<usize, Vec<&str>> = BTreeMap::new();
    for output in *outputs {
        if let Some((clip, _)) = output.of {
            sidecars.entry(clip).or_default().push(&output.file);
        }
    }
    let clips: Vec<String> = clips
        .par_iter()
        .enumerate()
        .map(|(at, annotation)| {
            let sidecars = sidecars.get(&at).map(Vec::as_slice).unwrap_or_default();
            line(&annotated(annotation, sidecars))
        })
        .collect::<serde_json::Result<_>>()?;
    let mut document = Document::new(FORMAT, stamp)?;
    document.member("written", &json!(stamp.date))?;
    if let Some(production) = production {
        document.member("production", &json!(production))?;
    }
    if *details != Details::default() {
        document.member("productionDetails", &of_production(details))?;
    }
    let Fingerprints { inputs: of_inputs, strays: of_strays, outcome, again } = fingerprints;
    let mut prints = json!({"inputs": of_inputs, "strays": of_strays, "outcome": outcome});
    if let Some(prints) = prints.as_object_mut().filter(|_| !again.is_empty()) {
        prints.insert("again".into(), json!(again));
    }
    document.member("fingerprints", &prints)?;
    if !options.is_empty() {
        document.member("options", &json!(options))?;
    }
    document.member("summary", &summary(shoot))?;
    document.list("inputs", inputs.iter().map(input))?;
    document.rendered("clips", &clips);
    document.list("strays", strays.iter().map(stray))?;
    document.list("outputs", outputs.iter().map(output))?;
    document.list("findings", findings.iter().map(finding))?;
    document.list("shown", shown.lines().map(|line| json!(line)))?;
    let Document { mut bytes } = document;
    let ending = ending(&bytes);
    bytes.extend(ending.bytes());
    Ok(bytes)
}

/// The head of a camera report.
fn of_production(details: &Details) -> Json {
    let Details { company, director, cinematographer, operator, assistants, unit, day, date } =
        details;
    let mut object = Map::new();
    for (name, text) in [
        ("company", company),
        ("director", director),
        ("cinematographer", cinematographer),
        ("operator", operator),
        ("assistants", assistants),
        ("unit", unit),
        ("day", day),
        ("date", &date.map(|date| date.to_string())),
    ] {
        object.extend(text.as_ref().map(|text| (name.to_owned(), json!(text))));
    }
    Json::Object(object)
}

/// An output as records list it.
pub(super) fn output(OutputFile { role, file, of: _, hashes }: &OutputFile) -> Json {
    let Hashes { sha256, xxh128 } = hashes;
    let mut output = json!({"role": role, "file": file, "sha256": sha256});
    if let Some(output) = output.as_object_mut().filter(|_| !xxh128.is_empty()) {
        output.insert("xxh128".into(), json!(xxh128));
    }
    output
}

/// What `scan` found, as JSON.
pub fn scan(
    clips: &[ClipFacts],
    strays: &[Stray],
    findings: &[Finding],
    stamp: &Stamp,
) -> serde_json::Result<Vec<u8>> {
    let mut document = Document::new(SCAN_FORMAT, stamp)?;
    document.list("clips", clips.iter().map(|facts| Json::Object(clip(facts))))?;
    document.list("strays", strays.iter().map(stray))?;
    document.list("findings", findings.iter().map(finding))?;
    Ok(document.end())
}

/// Why a request was refused, as JSON.
pub fn refusal(findings: &[Finding], stamp: &Stamp) -> serde_json::Result<Vec<u8>> {
    let mut document = Document::new(REFUSAL_FORMAT, stamp)?;
    document.list("findings", findings.iter().map(finding))?;
    Ok(document.end())
}

/// The journal of a run that is writing: every file with the hashes it had or is about to have.
pub fn journal(
    hashes: &BTreeMap<String, BTreeSet<String>>,
    stamp: &Stamp,
) -> serde_json::Result<Vec<u8>> {
    let mut document = Document::new(JOURNAL_FORMAT, stamp)?;
    document.member("written", &json!(stamp.date))?;
    let each = hashes.iter().flat_map(|(file, hashes)| {
        hashes.iter().map(move |sha| json!({"file": file, "sha256": sha}))
    });
    document.list("outputs", each)?;
    Ok(document.end())
}

fn annotated(annotation: &Annotation, sidecars: &[&str]) -> Json {
    let mut clip = clip(&annotation.clip);
    let pieces = rows(annotation).iter().map(|row| fields(&piece_only(cells(row)))).collect();
    if !annotation.rows.is_empty() {
        clip.insert("noteRows".into(), annotation.rows.iter().map(matched).collect());
    }
    clip.insert("pieces".into(), pieces);
    clip.insert("sidecars".into(), json!(sidecars));
    Json::Object(clip)
}

/// A row of the notes that speaks of a clip, and why.
fn matched(row: &MatchedRow) -> Json {
    let MatchedRow { file, line, why, frame } = row;
    let mut object = Map::new();
    object.insert("file".into(), json!(file.as_ref()));
    object.insert("line".into(), json!(line));
    object.insert("why".into(), json!(why.as_ref()));
    if *frame > 0 {
        object.insert("fromFrame".into(), json!(frame));
    }
    Json::Object(object)
}

/// A value on one line that a terminal can show.
fn line(value: &Json) -> serde_json::Result<String> {
    Ok(calm::json(&serde_json::to_string(value)?))
}

/// A JSON object written member by member, lists with one element a line.
pub(super) struct Document {
    bytes: Vec<u8>,
}

impl Document {
    pub(super) fn new(format: &str, stamp: &Stamp) -> serde_json::Result<Self> {
        let mut document = Self { bytes: b"{".to_vec() };
        document.member("format", &json!(format))?;
        document.member("version", &json!(VERSION))?;
        document.member("tool", &json!(stamp.tool))?;
        Ok(document)
    }

    fn key(&mut self, key: &str) {
        if self.bytes.len() > 1 {
            self.bytes.push(b',');
        }
        self.bytes.extend(format!("\n\"{key}\": ").bytes());
    }

    pub(super) fn member(&mut self, key: &str, value: &Json) -> serde_json::Result<()> {
        self.key(key);
        self.bytes.extend(line(value)?.bytes());
        Ok(())
    }

    pub(super) fn list(
        &mut self,
        key: &str,
        values: impl Iterator<Item = Json>,
    ) -> serde_json::Result<()> {
        let lines = values.map(|value| line(&value));
        let lines: Vec<String> = lines.collect::<serde_json::Result<_>>()?;
        self.rendered(key, &lines);
        Ok(())
    }

    fn rendered(&mut self, key: &str, lines: &[String]) {
        self.key(key);
        self.bytes.push(b'[');
        for (at, line) in lines.iter().enumerate() {
            self.bytes.extend(if at == 0 { b"\n".as_slice() } else { b",\n" });
            self.bytes.extend(line.bytes());
        }
        self.bytes.push(b']');
    }

    pub(super) fn end(mut self) -> Vec<u8> {
        self.bytes.extend(b"\n}\n");
        self.bytes
    }
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
    let none = shoot.clips.iter().filter(|annotation| without_verdict(annotation)).count();
    verdicts.insert("none".into(), json!(none));
    let files: u64 = shoot.clips.iter().map(|annotation| annotation.clip.file_count()).sum();
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
