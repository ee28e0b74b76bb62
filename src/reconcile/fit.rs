//! Whether lens, attachment and camera go together as noted.

use crate::finding::{Code, Finding};

use super::Scene;
use super::pick::Said;
use super::rig::{Between, Rig};

/// Mounts that do not go together, and glass that reaches glass, are findings; the numbers still stand.
pub(super) fn check(
    scene: &Scene<'_>,
    said: &Said<'_>,
    rig: &Rig<'_>,
    findings: &mut Vec<Finding>,
) {
    let place = said
        .attachment
        .said()
        .map(|n| &n.place)
        .or(said.lens.said().map(|n| &n.place))
        .unwrap_or(&scene.place);
    let mut say = |message: String, hint: &str| {
        findings.push(scene.finding(Code::AttachmentFit, message).at(place.clone()).hint(hint));
    };
    let lens = rig.lens.as_ref().map(|lens| lens.value);
    let body_mount = rig.camera.as_ref().and_then(|camera| camera.value.mount.as_ref());
    let Some(between) = &rig.attachment else {
        return;
    };
    let differ = |a: Option<&String>, b: Option<&String>| a.zip(b).is_some_and(|(a, b)| a != b);
    let lens_mount = lens.and_then(|lens| lens.mount.as_ref());
    match between.value {
        Between::Bare if differ(lens_mount, body_mount) => say(
            format!(
                "noted without attachment, but the lens has mount {} and the camera {}",
                shown(lens_mount),
                shown(body_mount)
            ),
            "name the adapter or reducer that was on",
        ),
        Between::Bare => {}
        Between::On(attachment) => {
            if differ(lens_mount, attachment.lens_mount.as_ref()) {
                say(
                    format!(
                        "the lens has mount {}, the attachment takes {}",
                        shown(lens_mount),
                        shown(attachment.lens_mount.as_ref())
                    ),
                    "check which lens and which attachment were on",
                );
            }
            if differ(body_mount, attachment.body_mount.as_ref()) {
                say(
                    format!(
                        "the camera has mount {}, the attachment fits {}",
                        shown(body_mount),
                        shown(attachment.body_mount.as_ref())
                    ),
                    "check which camera and which attachment were on",
                );
            }
            let reach = lens.and_then(|lens| lens.rear_protrusion);
            if let Some((reach, room)) = reach.zip(attachment.front_clearance)
                && reach >= room
            {
                say(
                    format!(
                        "the lens reaches {reach} mm behind its flange, the attachment has room for {room} mm"
                    ),
                    "glass can strike glass: do not mount this pair; test-fit gently, by hand, as the maker of each advises",
                );
            }
        }
    }
}

fn shown(mount: Option<&String>) -> &str {
    mount.map_or("unknown", String::as_str)
}
