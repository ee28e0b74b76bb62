//! `report.json`, the record of a camera report that was asked for by itself: what was read, what was written, findings.

use serde_json::json;

use crate::annotation::Input;
use crate::finding::{Finding, Level};

use super::super::Stamp;
use super::super::json::{finding, input};
use super::super::record::{Document, OutputFile, output};
use super::Report;

/// The first member of every record of a camera report.
pub const FORMAT: &str = "lensmend report";

/// The record as JSON.
pub fn write(
    report: &Report,
    inputs: &[Input],
    outputs: &[OutputFile],
    findings: &[Finding],
    stamp: &Stamp,
) -> serde_json::Result<Vec<u8>> {
    let mut document = Document::new(FORMAT, stamp)?;
    document.member("written", &json!(stamp.date))?;
    if let Some(production) = &report.production {
        document.member("production", &json!(production))?;
    }
    let count = |level| findings.iter().filter(|finding| finding.level() == level).count();
    let rolls = || report.days.iter().flat_map(|day| &day.rolls);
    let clips = || rolls().flat_map(|roll| &roll.clips);
    let summary = json!({
        "days": report.days.len(),
        "rolls": rolls().count(),
        "clips": clips().count(),
        "circled": clips().filter(|clip| clip.circled).count(),
        "faults": count(Level::Fault),
        "warnings": count(Level::Warning),
        "infos": count(Level::Info),
    });
    document.member("summary", &summary)?;
    document.list("inputs", inputs.iter().map(input))?;
    document.list("outputs", outputs.iter().map(output))?;
    document.list("findings", findings.iter().map(finding))?;
    Ok(document.end())
}
