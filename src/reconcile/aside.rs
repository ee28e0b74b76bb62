//! What notes say beside lens and stop: how the attachment sat, what filters took, and what goes into the remarks.

use crate::finding::{Code, Finding};
use crate::notes::FocalNote;
use crate::sourced::{Basis, Quantity, Sourced};
use crate::units::Stops;

use super::Scene;
use super::focal::zoom_words;
use super::pick::{Said, text};
use super::rig::Rig;

/// Whether the attachment sat tight, as noted.
pub(super) fn secured(said: &Said<'_>) -> Option<Sourced<bool>> {
    said.secured.said().map(|noted| Sourced::new(noted.value, noted.origin.clone()))
}

/// A loose attachment tilts and shifts the lens against the sensor: whoever tracks the shot must expect it.
pub(super) fn loose(
    scene: &Scene<'_>,
    said: &Said<'_>,
    rig: &Rig<'_>,
    findings: &mut Vec<Finding>,
) {
    let Some(noted) = said.secured.said().filter(|noted| !noted.value) else { return };
    let name = rig.on().map_or_else(|| "the attachment".to_owned(), |a| a.name.clone());
    let message = format!("{name} was noted as loose: the picture may shift or tilt");
    let hint = "tell the matchmove; centre and tilt of the picture may change inside the shot";
    findings.push(scene.finding(Code::AttachmentLoose, message).at(noted.place.clone()).hint(hint));
}

/// Light that neutral density took. What the ring says, and so every stop of the clip, stays as it is.
pub(super) fn density(said: &Said<'_>) -> Option<Quantity<Stops>> {
    said.density.said().map(|noted| Quantity {
        value: noted.value,
        uncertainty: None,
        basis: Basis::Nominal,
        origin: noted.origin.clone(),
    })
}

/// Remarks as noted, with both ends of a zoom, which no number can carry, and how the attachment sat.
pub(super) fn remarks(said: &Said<'_>) -> Option<Sourced<String>> {
    let zoom = said.focal.said().and_then(|noted| match noted.value {
        FocalNote::At(_) => None,
        FocalNote::Moves(from, to) => {
            Some(Sourced::new(zoom_words(from, to), noted.origin.clone()))
        }
    });
    let loose = said
        .secured
        .said()
        .filter(|noted| !noted.value)
        .map(|noted| Sourced::new("attachment loose".to_owned(), noted.origin.clone()));
    let all = [said.remarks.said().map(text), zoom, loose];
    all.into_iter().flatten().reduce(|mut first, more| {
        first.value = format!("{}; {}", first.value, more.value);
        first
    })
}
