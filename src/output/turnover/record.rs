//! `turnover.json`, the record of a turnover: what was read, every shot, what was written, findings.

use serde_json::{Value as Json, json};

use crate::annotation::Input;
use crate::finding::{Finding, Level};

use super::super::Stamp;
use super::super::json::{finding, input};
use super::super::record::{Document, OutputFile, output};
use super::{Handed, shot_json};

/// The first member of every record of a turnover.
pub const FORMAT: &str = "lensmend turnover";

/// The record as JSON.
pub fn write(
    handed: &Handed<'_>,
    inputs: &[Input],
    outputs: &[OutputFile],
    findings: &[Finding],
    stamp: &Stamp,
) -> serde_json::Result<Vec<u8>> {
    let turnover = handed.turnover;
    let mut document = Document::new(FORMAT, stamp)?;
    document.member("written", &json!(stamp.date))?;
    if let Some(production) = &handed.shoot.production {
        document.member("production", &json!(production))?;
    }
    document.member("cut", &cut(handed))?;
    let count = |level| findings.iter().filter(|finding| finding.level() == level).count();
    let known = turnover.shots.iter().filter(|shot| shot.range.is_some()).count();
    let summary = json!({
        "shots": turnover.shots.len(),
        "shotsWithFrames": known,
        "faults": count(Level::Fault),
        "warnings": count(Level::Warning),
        "infos": count(Level::Info),
    });
    document.member("summary", &summary)?;
    document.list("inputs", inputs.iter().map(input))?;
    let shots = turnover.shots.iter().map(|shot| Json::Object(shot_json(handed, shot)));
    document.list("shots", shots)?;
    document.list("outputs", outputs.iter().map(output))?;
    document.list("findings", findings.iter().map(finding))?;
    Ok(document.end())
}

fn cut(handed: &Handed<'_>) -> Json {
    let turnover = handed.turnover;
    let mut cut = serde_json::Map::new();
    cut.insert("file".into(), json!(handed.cut_name));
    if let Some(title) = &turnover.title {
        cut.insert("title".into(), json!(title));
    }
    if let Some(timing) = turnover.timing {
        cut.insert("frameRate".into(), json!(timing.rate.to_string()));
        cut.insert("dropFrame".into(), json!(timing.counting.drop()));
    }
    cut.insert("handles".into(), json!(turnover.handles));
    cut.insert("firstNumber".into(), json!(turnover.first_frame));
    if let Some(plate) = &turnover.plate {
        cut.insert("plate".into(), json!(plate.id));
    }
    Json::Object(cut)
}
