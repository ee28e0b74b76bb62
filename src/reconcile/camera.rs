//! Camera and recording mode of one piece, found in the kit by notes, defaults, the name of the roll, and the media.

use std::sync::Arc;

use crate::dump::Clip;
use crate::finding::{Code, Finding};
use crate::kit::called::only;
use crate::kit::{Camera, Kit, Mode, RollDefaults};
use crate::naming::key;
use crate::sourced::{Origin, Sourced};

use super::Scene;
use super::called::stranger;
use super::pick::Said;

/// Cameras of the kit that shoot the roll of this clip. A folder stands for the roll only where a camera lists it.
pub(super) fn cameras_of<'a>(kit: &'a Kit, clip: &Clip) -> Vec<&'a Camera> {
    let roll = clip.roll.as_deref().unwrap_or_default();
    let of_roll: Vec<&Camera> = kit.cameras.iter().filter(|camera| camera.shoots(roll)).collect();
    if !of_roll.is_empty() {
        return of_roll;
    }
    let listed = |camera: &&Camera| {
        let rolls = || clip.rolls().into_iter().skip(1);
        !camera.rolls.is_empty() && rolls().any(|roll| camera.shoots(roll))
    };
    kit.cameras.iter().filter(listed).collect()
}

/// Says where the media was recorded by another camera of the kit than `camera`, by its serial number.
pub(super) fn check_serial(scene: &Scene<'_>, camera: &Camera, findings: &mut Vec<Finding>) {
    let Some(recorded) = &scene.media.serial else { return };
    let is = |camera: &Camera| {
        camera.serial.as_ref().is_some_and(|serial| key(serial) == key(&recorded.value))
    };
    if is(camera) {
        return;
    }
    if let Some(other) = scene.kit.cameras.iter().find(|camera| is(camera)) {
        let message = format!(
            "the media says serial number {}, which is camera {} in the kit, not {}",
            recorded.value, other.id, camera.id
        );
        let hint =
            "check which camera shot the roll; film back and view are those of the camera named";
        findings.push(scene.finding(Code::CameraSerial, message).hint(hint));
    }
}

/// The camera of a piece: as noted, else as the kit says of the roll, else the one that shoots such rolls.
pub(super) fn find_camera<'a>(
    scene: &Scene<'a>,
    said: &Said<'_>,
    defaults: Option<&'a RollDefaults>,
    findings: &mut Vec<Finding>,
) -> Option<Sourced<&'a Camera>> {
    let kit = scene.kit;
    // A kit without cameras, or none at all, is said once for all clips.
    if said.camera.disputed() || kit.cameras.is_empty() {
        return None;
    }
    if let Some(noted) = said.camera.said() {
        let names =
            |camera: &'a Camera| [Some(&camera.id), camera.name.as_ref(), camera.serial.as_ref()];
        return match only(&kit.cameras, &noted.value, |c| names(c).into_iter().flatten()) {
            Ok(camera) => Some(Sourced::new(camera, noted.origin.clone())),
            Err(several) => {
                findings.push(stranger(
                    scene,
                    Code::CameraUnknown,
                    "camera",
                    noted,
                    several,
                    kit.cameras.iter().map(|c| c.id.as_str()),
                ));
                None
            }
        };
    }
    if let Some(id) = defaults.and_then(|defaults| defaults.camera.as_ref()) {
        let camera = kit.cameras.iter().find(|camera| camera.id == id.value)?;
        return Some(Sourced::new(camera, id.origin.clone()));
    }
    match cameras_of(kit, scene.clip)[..] {
        [camera] => {
            let roll = scene.clip.roll.as_deref().unwrap_or_default();
            Some(Sourced::new(camera, Origin::Name(Arc::from(roll))))
        }
        [] => {
            let roll = scene.clip.roll.as_deref().unwrap_or("no roll");
            findings.push(
                scene
                    .finding(Code::CameraUnknown, format!("no camera of the kit shoots roll {roll}"))
                    .hint("name the camera in the notes, or give a camera of the kit rolls = [\"...\"]"),
            );
            None
        }
        [a, b, ..] => {
            findings.push(
                scene
                    .finding(
                        Code::CameraUnknown,
                        format!("cameras {} and {} both claim the roll", a.id, b.id),
                    )
                    .hint("make their rolls in the kit differ, or name the camera in the notes"),
            );
            None
        }
    }
}

/// Its recording mode: as noted, else as the kit says of the roll, else the only one that fits raster and rate.
pub(super) fn find_mode<'a>(
    scene: &Scene<'a>,
    said: &Said<'_>,
    defaults: Option<&'a RollDefaults>,
    camera: &'a Camera,
    findings: &mut Vec<Finding>,
) -> Option<Sourced<&'a Mode>> {
    if said.mode.disputed() {
        return None;
    }
    let named = said.mode.said().map(|noted| (noted.value.as_str(), noted.origin.clone()));
    let default = || defaults?.mode.as_ref().map(|mode| (mode.value.as_str(), mode.origin.clone()));
    if let Some((id, origin)) = named.or_else(default) {
        if let Some(mode) = camera.modes.iter().find(|mode| key(&mode.id) == key(id)) {
            let coded = scene.media.coded.as_ref().filter(|coded| coded.value != mode.raster);
            if let Some(coded) = coded {
                let message = format!(
                    "mode {} records {}, the clip is {}",
                    mode.id, mode.raster, coded.value
                );
                let hint = "correct the mode in the notes or for the roll in the kit; film back and view are left out";
                findings.push(scene.finding(Code::ModeUnknown, message).hint(hint));
                return None;
            }
            return Some(Sourced::new(mode, origin));
        }
        let known: Vec<&str> = camera.modes.iter().map(|mode| mode.id.as_str()).collect();
        findings.push(
            scene
                .finding(Code::ModeUnknown, format!("camera {} has no mode \"{id}\"", camera.id))
                .hint(format!("its modes are: {}", known.join(", "))),
        );
        return None;
    }
    let Some(coded) = &scene.media.coded else {
        // Opaque and damaged clips have said so already.
        return None;
    };
    let rate = scene.media.rate.as_ref().map(|rate| rate.value);
    let fits = |mode: &&Mode| {
        mode.raster == coded.value && (mode.rate.is_none() || rate.is_none() || mode.rate == rate)
    };
    let mut fitting: Vec<&Mode> = camera.modes.iter().filter(fits).collect();
    if rate.is_some() && fitting.iter().any(|mode| mode.rate.is_some()) {
        fitting.retain(|mode| mode.rate.is_some());
    }
    match fitting[..] {
        [mode] => Some(Sourced::new(mode, coded.origin.clone())),
        [] => {
            findings.push(
                scene
                    .finding(
                        Code::ModeUnknown,
                        format!("camera {} has no mode that records {}", camera.id, coded.value),
                    )
                    .hint(
                        "add the mode to the kit, with the width and height of the recorded area",
                    ),
            );
            None
        }
        _ => {
            let names: Vec<&str> = fitting.iter().map(|mode| mode.id.as_str()).collect();
            findings.push(
                scene
                    .finding(
                        Code::ModeUnknown,
                        format!("{} fits several modes: {}", coded.value, names.join(", ")),
                    )
                    .hint("name the mode in the notes or for the roll in the kit"),
            );
            None
        }
    }
}
