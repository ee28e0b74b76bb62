//! Whether lens, attachment and camera go together as noted.

use crate::finding::{Code, Finding};
use crate::kit::fit::{Weight, as_far_as_known};

use super::Scene;
use super::pick::Said;
use super::rig::Rig;

/// What does not go together, or not as it should, is a finding; the numbers still stand.
pub(super) fn check(
    scene: &Scene<'_>,
    said: &Said<'_>,
    rig: &Rig<'_>,
    findings: &mut Vec<Finding>,
) {
    if rig.attachment.is_none() {
        return;
    }
    let place = said
        .attachment
        .said()
        .map(|n| &n.place)
        .or(said.lens.said().map(|n| &n.place))
        .unwrap_or(&scene.place);
    let camera = rig.camera.as_ref().map(|camera| camera.value);
    let lens = rig.lens.as_ref().map(|lens| lens.value);
    // What nobody can know, and what only calls for care, is said once on prep day (`lensmend kit`), not clip by clip.
    let remarks = as_far_as_known(scene.kit, camera, lens, rig.on()).remarks.into_iter();
    findings.extend(
        remarks.filter(|remark| matches!(remark.weight, Weight::Refuses | Weight::Wrong)).map(
            |remark| {
                scene
                    .finding(Code::AttachmentFit, remark.message)
                    .at(place.clone())
                    .hint(remark.advice)
            },
        ),
    );
}
