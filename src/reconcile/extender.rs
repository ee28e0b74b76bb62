//! The optical extender that the camera recorded, held against what notes and kit say stood behind the lens.
//!
//! It scales nothing: the kit's attachment is the only magnification that is ever applied, so none is applied twice.
//! RDD 18 does not say whether the focal length recorded beside it holds it already; the weighing of that finds out.

use crate::finding::{Code, Finding};
use crate::number::short;

use super::Scene;
use super::pick::Said;
use super::rig::{Between, Rig};

/// A finding where the camera knows of an extender that nobody noted, or of another magnification.
/// A recorded 1 says nothing: attachments without contacts are not seen by the camera.
pub(super) fn check(
    scene: &Scene<'_>,
    said: &Said<'_>,
    rig: &Rig<'_>,
    findings: &mut Vec<Finding>,
) {
    let Some(recorded) = &scene.media.extender else { return };
    let magnification = recorded.value.get();
    if (magnification - 1.0).abs() <= recorded.half_step {
        return;
    }
    let told = short(magnification, 2);
    let message = match rig.attachment.as_ref().map(|between| between.value) {
        None => format!(
            "the camera recorded an optical extender of {told}x, and what stood between lens and camera is not known"
        ),
        Some(Between::Bare) => format!(
            "the camera recorded an optical extender of {told}x, but nothing is said to have stood between lens and camera"
        ),
        Some(Between::On(attachment)) => {
            let m = &attachment.magnification;
            let off = m.uncertainty.unwrap_or_default() * 2.0 + recorded.half_step;
            // The last bits of a decimal fraction are no disagreement.
            if (m.value.get() - magnification).abs() <= off * (1.0 + 1e-9) {
                return;
            }
            let known = short(m.value.get(), 4);
            format!(
                "the camera recorded an optical extender of {told}x, {} magnifies {known}x",
                attachment.name
            )
        }
    };
    let place = said.attachment.said().map_or(&scene.place, |noted| &noted.place);
    findings.push(
        scene
            .finding(Code::AttachmentExtender, message)
            .at(place.clone())
            .hint("check what was on; if the extender is built into the lens, note focal length and stop with it. The recorded number itself scales nothing"),
    );
}
