//! A name that the kit does not have, as a finding.

use crate::finding::{Code, Finding, either, near};
use crate::notes::Noted;

use super::Scene;

/// The finding for a name that the kit does not have, or has several times.
pub(super) fn stranger<'k>(
    scene: &Scene<'_>,
    code: Code,
    what: &str,
    noted: &Noted<String>,
    several: bool,
    known: impl Iterator<Item = &'k str>,
) -> Finding {
    let typed = &noted.typed;
    let finding = if several {
        scene
            .finding(code, format!("\"{typed}\" fits more than one {what} of the kit"))
            .hint("write its id")
    } else {
        let known: Vec<&str> = known.collect();
        let hint = match near(typed, known.iter().copied()).as_slice() {
            [] => format!("write a name from the kit, or add the {what} to the kit"),
            near => format!("did you mean {}?", either(near)),
        };
        scene.finding(code, format!("the kit has no {what} \"{typed}\"")).hint(hint)
    };
    finding.at(noted.place.clone())
}
