//! What needs a person, for the list at the end and for the rows of the clips.

use std::collections::BTreeMap;

use crate::finding::{Finding, Level, Place, Spot};

use super::super::findings::together;
use super::Matter;
use super::line::one_line;

/// Everything that needs a person, faults first, the same trouble of several clips once.
pub(super) fn all(findings: &[Finding]) -> Vec<Matter> {
    // Trouble with writing is no matter of the shoot: the run tells of it, and the next one may have none.
    let of_shoot: Vec<Finding> =
        findings.iter().filter(|finding| of_shoot(finding)).cloned().collect();
    let together = together(&of_shoot);
    let of_level = |level| together.iter().filter(move |said| said.finding.level() == level);
    [Level::Fault, Level::Warning]
        .into_iter()
        .flat_map(of_level)
        .map(|said| Matter {
            level: said.finding.level().word(),
            clips: said.clips.iter().map(|clip| one_line(clip)).collect(),
            message: one_line(&said.finding.message),
            hint: said.finding.hint.as_deref().map(one_line),
            code: said.finding.code.word(),
            place: said.finding.place.as_ref().filter(|_| said.clips.len() < 2).map(place),
        })
        .collect()
}

fn of_shoot(finding: &Finding) -> bool {
    !finding.code.word().starts_with("output.")
}

/// What needs a person by clip, each thing once.
pub(super) fn by_clip(findings: &[Finding]) -> BTreeMap<&str, Vec<String>> {
    let mut of: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for finding in
        findings.iter().filter(|finding| finding.level() > Level::Info && of_shoot(finding))
    {
        let Some(clip) = finding.clip.as_deref() else { continue };
        let message = one_line(&finding.message);
        let matters = of.entry(clip).or_default();
        if !matters.contains(&message) {
            matters.push(message);
        }
    }
    of
}

fn place(place: &Place) -> String {
    let file = one_line(&place.file);
    match &place.spot {
        Spot::Whole => file,
        Spot::Byte(byte) => format!("{file}, byte {byte}"),
        Spot::Text { line, name: Some(name), .. } => {
            format!("{file}, line {line}, cell {}", one_line(name))
        }
        Spot::Text { line, column, .. } => format!("{file}, line {line}, column {column}"),
    }
}
