//! Camera, mode, lens and attachment of one piece, found in the kit by what notes, defaults and media call them.

use std::sync::Arc;

use crate::annotation::Attached;
use crate::dump::Clip;
use crate::finding::{Code, Finding, nearest};
use crate::kit::{Attachment, Camera, Kit, Lens, Mode, RollDefaults};
use crate::notes::{AttachmentNote, Noted};
use crate::sourced::{Basis, Origin, Quantity, Sourced};
use crate::units::{Factor, Transmittance};

use super::Scene;
use super::join::key;
use super::pick::Said;

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
    let roll = clip.roll.as_deref().unwrap_or_default().to_lowercase();
    kit.cameras.iter().filter(move |camera| {
        let begins = |with: &str| {
            roll.strip_prefix(&with.to_lowercase())
                .is_some_and(|rest| !rest.starts_with(char::is_alphabetic))
        };
        if camera.rolls.is_empty() {
            begins(&camera.id)
        } else {
            camera.rolls.iter().any(|r| begins(r))
        }
    })
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
    check_fit(scene, said, &rig, findings);
    rig
}

fn find_camera<'a>(
    scene: &Scene<'a>,
    said: &Said<'_>,
    defaults: Option<&'a RollDefaults>,
    findings: &mut Vec<Finding>,
) -> Option<Sourced<&'a Camera>> {
    let kit = scene.kit;
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
    let named = said.mode.said().map(|noted| (noted.value.as_str(), noted.origin.clone()));
    let default = || defaults?.mode.as_ref().map(|mode| (mode.value.as_str(), mode.origin.clone()));
    if let Some((id, origin)) = named.or_else(default) {
        if let Some(mode) = camera.modes.iter().find(|mode| key(&mode.id) == key(id)) {
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
    if fitting.iter().any(|mode| mode.rate.is_some()) {
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
    // A focal length noted alone names the lens if only one prime of the kit has it.
    if let Some(focal) = said.focal.said() {
        let mut primes = lenses.iter().filter(|lens| lens.marked_focal == Some(focal.value));
        if let (Some(lens), None) = (primes.next(), primes.next()) {
            return Some(Sourced::new(lens, focal.origin.clone()));
        }
    }
    let recorded = scene.media.lens.as_ref()?;
    let lens = lens_called(lenses, &recorded.value).ok()?;
    Some(Sourced::new(lens, recorded.origin.clone()))
}

/// The one lens called so: by id, name, alias or serial, or by focal length if only one prime has it.
pub(super) fn lens_called<'a>(lenses: &'a [Lens], typed: &str) -> Result<&'a Lens, bool> {
    let names = |lens: &'a Lens| {
        [&lens.id, &lens.name].into_iter().chain(&lens.aliases).chain(&lens.serial)
    };
    only(lenses, typed, names).or_else(|several| {
        let number = typed.trim().trim_end_matches(|c: char| c.is_alphabetic() || c == ' ');
        let focal: f64 = number.parse().map_err(|_| several)?;
        let mut primes = lenses
            .iter()
            .filter(|lens| lens.marked_focal.is_some_and(|mark| (mark.get() - focal).abs() < 1e-9));
        match (primes.next(), primes.next()) {
            (Some(lens), None) => Ok(lens),
            (first, _) => Err(several || first.is_some()),
        }
    })
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

/// The one attachment called so: by id, name, alias or serial, by its marked magnification, or by its kind if only one is such.
fn attachment_called<'a>(
    attachments: &'a [Attachment],
    typed: &str,
) -> Result<&'a Attachment, bool> {
    let names = |a: &'a Attachment| [&a.id, &a.name].into_iter().chain(&a.aliases).chain(&a.serial);
    let by = |fits: &dyn Fn(&Attachment) -> bool, several: bool| {
        let mut found = attachments.iter().filter(|a| fits(a));
        match (found.next(), found.next()) {
            (Some(attachment), None) => Ok(attachment),
            (first, _) => Err(several || first.is_some()),
        }
    };
    only(attachments, typed, names)
        .or_else(|several| {
            let number = typed
                .trim()
                .trim_matches(|c| c == 'x' || c == 'X' || c == '\u{d7}' || c == ' ')
                .replace(',', ".");
            let m: f64 = number.parse().map_err(|_| several)?;
            by(&|a| a.marked.is_some_and(|mark| (mark.get() - m).abs() < 1e-9), several)
        })
        .or_else(|several| by(&|a| a.kind.word().eq_ignore_ascii_case(typed.trim()), several))
}

/// The one entry with a name that is spelt like `typed`; the error tells whether there were several.
fn only<'a, T, I: IntoIterator<Item = &'a String>>(
    entries: &'a [T],
    typed: &str,
    names: impl Fn(&'a T) -> I,
) -> Result<&'a T, bool> {
    let typed = key(typed);
    let mut found =
        entries.iter().filter(|entry| names(entry).into_iter().any(|name| key(name) == typed));
    match (found.next(), found.next()) {
        (Some(entry), None) => Ok(entry),
        (first, _) => Err(first.is_some()),
    }
}

/// The finding for a name that the kit does not have, or has several times.
fn stranger<'k>(
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
        let hint = nearest(typed, known.iter().copied()).map_or_else(
            || format!("write a name from the kit, or add the {what} to the kit"),
            |near| format!("did you mean \"{near}\"?"),
        );
        scene.finding(code, format!("the kit has no {what} \"{typed}\"")).hint(hint)
    };
    finding.at(noted.place.clone())
}

/// Mounts that do not go together, and glass that reaches glass, are findings; the numbers still stand.
fn check_fit(scene: &Scene<'_>, said: &Said<'_>, rig: &Rig<'_>, findings: &mut Vec<Finding>) {
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
