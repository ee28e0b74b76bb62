//! `stamp.json`, the record of stamped plates, and the words about them.

use serde_json::json;

use crate::annotation::Input;
use crate::finding::Finding;

use super::Stamp;
use super::json::{finding, input};
use super::record::{Document, OutputFile, output};

/// The first member of every such record.
pub const FORMAT: &str = "lensmend stamp";

/// A plate that was given lens data.
#[derive(Clone, Debug, PartialEq)]
pub struct Stamped {
    /// Path inside the folder of plates, and inside that of the copies.
    pub file: String,
    /// Its clip.
    pub clip: String,
    /// Frame of the clip, from 0.
    pub frame: u64,
    /// Its shot, where plates are called after shots.
    pub shot: Option<String>,
}

/// The record as JSON.
pub fn write(
    made: &[Stamped],
    inputs: &[Input],
    outputs: &[OutputFile],
    findings: &[Finding],
    stamp: &Stamp,
) -> serde_json::Result<Vec<u8>> {
    let mut document = Document::new(FORMAT, stamp)?;
    document.member("written", &json!(stamp.date))?;
    document.list("inputs", inputs.iter().map(input))?;
    let plates = made.iter().map(|plate| {
        let mut object = serde_json::Map::new();
        object.insert("file".into(), json!(plate.file));
        object.insert("clip".into(), json!(plate.clip));
        object.insert("frame".into(), json!(plate.frame));
        object.extend(plate.shot.as_ref().map(|shot| ("shot".to_owned(), json!(shot))));
        serde_json::Value::Object(object)
    });
    document.list("plates", plates)?;
    document.list("outputs", outputs.iter().map(output))?;
    document.list("findings", findings.iter().map(finding))?;
    Ok(document.end())
}

/// The summary on the terminal.
pub fn summary(made: &[Stamped], found: usize) -> String {
    format!("{} of {found} plates have the lens data of their frames.\n", made.len())
}
