//! Camera, mode, lens and attachment of one piece, found in the kit by what notes, defaults and media call them.

use std::sync::Arc;

use crate::annotation::Attached;
use crate::dump::Clip;
use crate::finding::{Code, Finding};
use crate::kit::called::{attachment_called, lens_called, only};
use crate::kit::{Attachment, Camera, Kit, Lens, Mode, RollDefaults};
use crate::naming::key;
use crate::notes::{AttachmentNote, Noted};
use crate::sourced::{Basis, Origin, Quantity, Sourced};
use crate::units::{Factor, Millimeters, Transmittance};

use super::called::stranger;
use super::pick::Said;
use super::{Scene, fit};

/// What stood on the camera.
#[derive(Clone, Copy)]
pub(super) enum Between<'a> {
    Bare,
    On(&'a Attachment),
}

/// The rig of one piece; `None` is not known.
#[derive(Default)]
pub(super) struct Rig<'a> {
    pub(super) camera: Option<Sourced<&'a Camera>>,
    pub(super) mode: Option<Sourced<&'a Mode>>,
    pub(super) lens: Option<Sourced<&'a Lens>>,
    pub(super) attachment: Option<Sourced<Between<'a>>>,
}

impl<T> Sourced<&T> {
    /// A part of the kit's entry, with the origin of the whole.
    pub(super) fn of<U>(&self, f: impl FnOnce(&T) -> U) -> Sourced<U> {
        Sourced::new(f(self.value), self.origin.clone())
    }
}

/// A text of the lens's entry in the kit, with the key where it stands.
pub(super) fn stated(
    lens: &Sourced<&Lens>,
    field: &str,
    text: Option<&String>,
) -> Option<Sourced<String>> {
    let key = format!("lens.{}.{field}", lens.value.id);
    Some(Sourced::new(text?.clone(), Origin::Kit { key: Arc::from(key) }))
}

/// What stands on the barrel of a prime.
pub(super) fn engraved(lens: &Sourced<&Lens>) -> Option<Quantity<Millimeters>> {
    let key = format!("lens.{}.focal", lens.value.id);
    let origin = Origin::Kit { key: Arc::from(key) };
    // The digits are what they are; how far the glass is off them is the uncertainty of the lens.
    let value = lens.value.marked_focal?;
    Some(Quantity { value, uncertainty: None, basis: Basis::Nominal, origin })
}

impl<'a> Rig<'a> {
    /// The attachment as outputs name it.
    pub(super) fn attached(&self) -> Option<Sourced<Attached>> {
        self.attachment.clone().map(|between| {
            between.map(|between| match between {
                Between::Bare => Attached::Bare,
                Between::On(a) => {
                    Attached::On { id: a.id.clone(), name: a.name.clone(), kind: a.kind.word() }
                }
            })
        })
    }

    /// The attachment in the kit, if there is one on the camera.
    pub(super) fn on(&self) -> Option<&'a Attachment> {
        match self.attachment.as_ref()?.value {
            Between::Bare => None,
            Between::On(attachment) => Some(attachment),
        }
    }

    /// Its magnification; exactly one for a bare camera.
    pub(super) fn magnification(&self) -> Option<Quantity<Factor>> {
        let between = self.attachment.as_ref()?;
        match between.value {
            Between::On(attachment) => Some(attachment.magnification.clone()),
            Between::Bare => Some(exactly_one(Factor::new(1.0)?, &between.origin)),
        }
    }

    /// Transmittance of its glass; one for a bare camera.
    pub(super) fn glass(&self) -> Option<Quantity<Transmittance>> {
        let between = self.attachment.as_ref()?;
        match between.value {
            Between::On(attachment) => attachment.transmittance.clone(),
            Between::Bare => Some(exactly_one(Transmittance::new(1.0)?, &between.origin)),
        }
    }
}

fn exactly_one<U>(value: U, origin: &Origin) -> Quantity<U> {
    let basis = if matches!(origin, Origin::Computed(_)) { Basis::Assumed } else { Basis::Nominal };
    Quantity { value, uncertainty: Some(0.0), basis, origin: origin.clone() }
}

/// Cameras of the kit that shoot the roll of this clip.
pub(super) fn cameras_of<'a>(kit: &'a Kit, clip: &Clip) -> impl Iterator<Item = &'a Camera> {
    let roll = clip.roll.as_deref().unwrap_or_default();
    kit.cameras.iter().filter(move |camera| camera.shoots(roll))
}

/// Finds the rig; what cannot be told is a finding.
pub(super) fn find<'a>(scene: &Scene<'a>, said: &Said<'_>, findings: &mut Vec<Finding>) -> Rig<'a> {
    let kit = scene.kit;
    let roll = scene.clip.roll.as_deref().map(key);
    let defaults = kit.rolls.iter().find(|defaults| Some(key(&defaults.roll)) == roll);
    let mut rig = Rig { camera: find_camera(scene, said, defaults, findings), ..Rig::default() };
    if let Some(camera) = &rig.camera {
        rig.mode = find_mode(scene, said, defaults, camera.value, findings);
    }
    if !said.lens.disputed() {
        rig.lens = find_lens(scene, said, defaults, findings);
    }
    if !said.attachment.disputed() {
        rig.attachment = find_attachment(scene, said, defaults, &rig, findings);
    }
    fit::check(scene, said, &rig, findings);
    rig
}

fn find_camera<'a>(
    scene: &Scene<'a>,
    said: &Said<'_>,
    defaults: Option<&'a RollDefaults>,
    findings: &mut Vec<Finding>,
) -> Option<Sourced<&'a Camera>> {
    let kit = scene.kit;
    if said.camera.disputed() {
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
    let mut cameras = cameras_of(kit, scene.clip);
    match (cameras.next(), cameras.next()) {
        (Some(camera), None) => {
            let roll = scene.clip.roll.as_deref().unwrap_or_default();
            Some(Sourced::new(camera, Origin::Name(Arc::from(roll))))
        }
        (None, _) => {
            let roll = scene.clip.roll.as_deref().unwrap_or("no roll");
            findings.push(
                scene
                    .finding(Code::CameraUnknown, format!("no camera of the kit shoots roll {roll}"))
                    .hint("name the camera in the notes, or give a camera of the kit rolls = [\"...\"]"),
            );
            None
        }
        (Some(a), Some(b)) => {
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

fn find_mode<'a>(
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

fn find_lens<'a>(
    scene: &Scene<'a>,
    said: &Said<'_>,
    defaults: Option<&'a RollDefaults>,
    findings: &mut Vec<Finding>,
) -> Option<Sourced<&'a Lens>> {
    let lenses = &scene.kit.lenses;
    if let Some(noted) = said.lens.said() {
        return match lens_called(lenses, &noted.value) {
            Ok(lens) => Some(Sourced::new(lens, noted.origin.clone())),
            Err(several) => {
                let known = lenses.iter().flat_map(|lens| [lens.id.as_str(), lens.name.as_str()]);
                findings.push(stranger(scene, Code::LensUnknown, "lens", noted, several, known));
                None
            }
        };
    }
    if let Some(id) = defaults.and_then(|defaults| defaults.lens.as_ref()) {
        let lens = lenses.iter().find(|lens| lens.id == id.value)?;
        return Some(Sourced::new(lens, id.origin.clone()));
    }
    let recorded = scene.media.lens.as_ref();
    let called = recorded.and_then(|name| Some((lens_called(lenses, &name.value).ok()?, name)));
    if let Some((lens, name)) = called {
        return Some(Sourced::new(lens, name.origin.clone()));
    }
    // A focal length noted alone names the lens if only one prime of the kit has it, and no zoom reaches it.
    if let Some(focal) = said.focal.said() {
        let mut primes = lenses.iter().filter(|lens| lens.marked_focal == Some(focal.value));
        let reaches = |(low, high)| (low..=high).contains(&focal.value);
        let zoom = lenses.iter().any(|lens| lens.range.is_some_and(reaches));
        if let (Some(lens), None, false) = (primes.next(), primes.next(), zoom) {
            return Some(Sourced::new(lens, focal.origin.clone()));
        }
    }
    None
}

fn find_attachment<'a>(
    scene: &Scene<'a>,
    said: &Said<'_>,
    defaults: Option<&'a RollDefaults>,
    rig: &Rig<'a>,
    findings: &mut Vec<Finding>,
) -> Option<Sourced<Between<'a>>> {
    let kit = scene.kit;
    match said.attachment.said().map(|noted| (&noted.value, noted)) {
        Some((AttachmentNote::Nothing, noted)) => {
            return Some(Sourced::new(Between::Bare, noted.origin.clone()));
        }
        Some((AttachmentNote::Named(typed), noted)) => {
            return match attachment_called(&kit.attachments, typed) {
                Ok(attachment) => Some(Sourced::new(Between::On(attachment), noted.origin.clone())),
                Err(several) => {
                    let noted = Noted {
                        value: typed.clone(),
                        typed: noted.typed.clone(),
                        origin: noted.origin.clone(),
                        place: noted.place.clone(),
                    };
                    let known =
                        kit.attachments.iter().flat_map(|a| [a.id.as_str(), a.name.as_str()]);
                    findings.push(stranger(
                        scene,
                        Code::AttachmentUnknown,
                        "attachment",
                        &noted,
                        several,
                        known,
                    ));
                    None
                }
            };
        }
        None => {}
    }
    let of_roll = defaults.and_then(|defaults| defaults.attachment.as_ref());
    let of_camera = rig.camera.as_ref().and_then(|camera| camera.value.attachment.as_ref());
    if let Some(id) = of_roll.or(of_camera) {
        if id.value == "none" {
            return Some(Sourced::new(Between::Bare, id.origin.clone()));
        }
        let attachment = kit.attachments.iter().find(|attachment| attachment.id == id.value)?;
        return Some(Sourced::new(Between::On(attachment), id.origin.clone()));
    }
    let lens_mount = rig.lens.as_ref()?.value.mount.as_ref()?;
    let body_mount = rig.camera.as_ref()?.value.mount.as_ref()?;
    (lens_mount == body_mount).then(|| {
        Sourced::new(
            Between::Bare,
            Origin::Computed("the lens has the camera's own mount, and nothing was noted"),
        )
    })
}
