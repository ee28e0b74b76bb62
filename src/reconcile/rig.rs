//! Camera, mode, lens and attachment of one piece, found in the kit by what notes, defaults and media call them.

use std::sync::Arc;

use crate::annotation::Attached;
use crate::dump::Clip;
use crate::finding::{Code, Finding};
use crate::kit::called::{attachment_called, lens_called, only_lens_of, only_zoom_over};
use crate::kit::{Attachment, Camera, Kit, Lens, Mode, RollDefaults};
use crate::naming::key;
use crate::notes::{AttachmentNote, FocalNote, Noted};
use crate::sourced::{Basis, Origin, Quantity, Sourced};
use crate::units::{Factor, Transmittance};

use super::called::stranger;
use super::camera::{check_serial, find_camera, find_mode};
use super::pick::Said;
use super::{Scene, Trust, fit};

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

    /// True if the attachment is there because the command line says so.
    pub(super) fn asked(&self) -> bool {
        self.attachment.as_ref().is_some_and(|between| matches!(between.origin, Origin::Asked(_)))
    }

    /// How the attachment is known, or what the numbers suggest where it is not, in words.
    pub(super) fn attachment_reason(&self, inferred: Option<&String>) -> String {
        let known = self.attachment.as_ref().map(|between| match &between.origin {
            Origin::Note { .. } => "logged in the notes".to_owned(),
            Origin::Kit { key } => format!("defaulted by the kit, {key}"),
            Origin::Asked(option) => format!("defaulted by --{option}"),
            Origin::Computed(rule) => format!("inferred: {rule}"),
            Origin::Media { .. } | Origin::Name(_) => "recorded".to_owned(),
        });
        match (known, inferred) {
            (Some(known), Some(inferred)) => format!("{known}; {inferred}"),
            (Some(known), None) => known,
            (None, Some(inferred)) => format!("inferred and not applied: {inferred}"),
            (None, None) => String::new(),
        }
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

/// What the kit says of the roll of this clip.
fn defaults_of<'a>(kit: &'a Kit, clip: &Clip) -> Option<&'a RollDefaults> {
    clip.rolls()
        .into_iter()
        .map(key)
        .find_map(|roll| kit.rolls.iter().find(|defaults| key(&defaults.roll) == roll))
}

/// Finds the rig; what cannot be told is a finding.
pub(super) fn find<'a>(scene: &Scene<'a>, said: &Said<'_>, findings: &mut Vec<Finding>) -> Rig<'a> {
    let kit = scene.kit;
    let defaults = defaults_of(kit, scene.clip);
    let mut rig = Rig { camera: find_camera(scene, said, defaults, findings), ..Rig::default() };
    if let Some(camera) = &rig.camera {
        check_serial(scene, camera.value, findings);
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

fn find_lens<'a>(
    scene: &Scene<'a>,
    said: &Said<'_>,
    defaults: Option<&'a RollDefaults>,
    findings: &mut Vec<Finding>,
) -> Option<Sourced<&'a Lens>> {
    let lenses = &scene.kit.lenses;
    if let (Some(recorded), true) = (&scene.media.lens, scene.trusts(Trust::Media)) {
        let of_media = lens_called(lenses, &recorded.value).ok();
        let noted = said.lens.said();
        let of_notes = noted.and_then(|noted| lens_called(lenses, &noted.value).ok());
        if let (Some(noted), true) = (noted, of_media.map(|l| &l.id) != of_notes.map(|l| &l.id)) {
            let message = format!(
                "lens: recorded \"{}\", noted \"{}\"; the media was taken, as asked",
                recorded.value, noted.typed
            );
            let finding = scene.finding(Code::FieldKept, message).at(noted.place.clone());
            findings.push(finding.hint("nothing to do"));
        }
        if of_media.is_some() || noted.is_some() {
            return of_media.map(|lens| Sourced::new(lens, recorded.origin.clone()));
        }
    }
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
    let focal = said.focal.said()?;
    let lens = match focal.value {
        FocalNote::At(at) => only_lens_of(lenses, at)?,
        FocalNote::Moves(from, to) => only_zoom_over(lenses, from, to)?,
    };
    Some(Sourced::new(lens, focal.origin.clone()))
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
    if let Some((asked, option)) = &scene.asked.attachment {
        // One of the kit is found there, so that both are the same entry.
        let of_kit = kit.attachments.iter().find(|attachment| attachment.id == asked.id);
        return Some(Sourced::new(Between::On(of_kit.unwrap_or(asked)), Origin::Asked(option)));
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
