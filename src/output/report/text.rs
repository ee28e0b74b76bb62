//! What `report` prints on the terminal.

use crate::finding::Finding;

use super::super::summary::needs;
use super::Report;

/// Counts, and whether something needs a person.
pub fn summary(report: &Report, findings: &[Finding]) -> String {
    let counted = |count: usize, one: &str| match count {
        1 => format!("1 {one}"),
        _ => format!("{count} {one}s"),
    };
    let rolls: usize = report.days.iter().map(|day| day.rolls.len()).sum();
    let totals =
        report.totals.iter().map(|fact| format!("{} {}", fact.label.to_lowercase(), fact.value));
    format!(
        "Camera report: {}, {}; {}. {}.\n{}\n",
        counted(report.days.len(), "day"),
        counted(rolls, "roll"),
        totals.collect::<Vec<_>>().join(", "),
        needs(findings),
        report.caution,
    )
}
