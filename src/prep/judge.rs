//! What of a kit needs a person before the shoot.

use std::collections::BTreeSet;

use crate::finding::{Code, Finding, Place};
use crate::kit::fit::{Remark, as_far_as_known};
use crate::kit::{Attachment, Camera, Kit, Lens};
use crate::sourced::Sourced;

use super::{Fitting, Matter, Names, OnCamera, Way, Weight};

/// Nobody mends more in one go.
const MOST_FINDINGS: usize = 200;

/// Lenses that go nowhere, glass that strikes glass, adapters of the wrong thickness, defaults that do not fit.
/// `all` are all cameras; of those not chosen only what concerns the lens is told.
pub(super) fn findings(
    kit: &Kit,
    all: &[OnCamera],
    camera: Option<&Camera>,
    lens: Option<&Lens>,
    names: &Names,
    file: &str,
) -> Vec<Finding> {
    let mut told = Told { file, seen: BTreeSet::new(), findings: Vec::new() };
    let chosen = |on: &&OnCamera| camera.is_none_or(|camera| camera.id == on.name.id);
    lenses_on_no_camera(all, &mut told);
    for on in all.iter().filter(chosen) {
        put_right(on, &mut told);
    }
    defaults(kit, camera, lens, names, &mut told);
    told.findings.truncate(MOST_FINDINGS);
    told.findings
}

/// What was told; the same words are not said twice.
struct Told<'a> {
    file: &'a str,
    seen: BTreeSet<String>,
    findings: Vec<Finding>,
}

impl Told<'_> {
    fn say(&mut self, message: String, hint: &str) {
        if self.seen.insert(message.clone()) {
            let place = Place::file(self.file);
            self.findings.push(Finding::new(Code::AttachmentFit, message).at(place).hint(hint));
        }
    }
}

fn lenses_on_no_camera(all: &[OnCamera], told: &mut Told<'_>) {
    let Some(first) = all.first() else { return };
    let goes: BTreeSet<&str> = all
        .iter()
        .flat_map(|on| &on.ways)
        .filter(|way| way.fit.verdict != Fitting::DoesNotFit)
        .map(|way| way.lens.id.as_str())
        .collect();
    for way in first.ways.iter().filter(|way| way.attachment.is_none()) {
        if !goes.contains(way.lens.id.as_str()) {
            let mount = way.lens_mount.as_ref().map(|mount| format!(" (mount {mount})"));
            // On a camera of a deeper flange no plain adapter helps, so none is asked for.
            let bare = |it: &&Way| it.attachment.is_none() && it.lens.id == way.lens.id;
            let deep =
                |way: &Way| way.fit.remarks.iter().any(|remark| remark.matter == Matter::Flange);
            let hint = if all.iter().flat_map(|on| &on.ways).filter(bare).all(deep) {
                "no plain adapter can let it reach infinity on these cameras: bring an adapter with glass of its own, have it remounted, or leave the lens out"
            } else {
                "bring an adapter or reducer for it and add that to the kit, or leave the lens out"
            };
            let mount = mount.unwrap_or_default();
            told.say(format!("{}{mount} goes on no camera of the kit", way.lens.label), hint);
        }
    }
}

/// Mounts that differ are the rule between the entries of a kit; glass that strikes and a wrong thickness are not.
fn put_right(on: &OnCamera, told: &mut Told<'_>) {
    for way in &on.ways {
        let Some(attachment) = &way.attachment else { continue };
        let is_wrong = |remark: &&Remark| {
            matches!(remark.weight, Weight::Refuses | Weight::Wrong)
                && matches!(remark.matter, Matter::Flange | Matter::Glass)
        };
        for remark in way.fit.remarks.iter().filter(is_wrong) {
            // A thickness is the adapter's own trouble, whatever the lens.
            let whom = match remark.matter {
                Matter::Glass => format!("{} on {}", way.lens.label, attachment.label),
                _ => attachment.label.clone(),
            };
            told.say(format!("{whom}: {}", remark.message), &remark.advice);
        }
    }
}

/// What stands in the kit as on unless something else is said must go on.
fn defaults(
    kit: &Kit,
    camera: Option<&Camera>,
    lens: Option<&Lens>,
    names: &Names,
    told: &mut Told<'_>,
) {
    let chosen = |it: &Camera| camera.is_none_or(|camera| camera.id == it.id);
    let attachment = |id: &Sourced<String>| kit.attachments.iter().find(|a| a.id == id.value);
    for camera in kit.cameras.iter().filter(|it| chosen(it)) {
        if let Some(on) = camera.attachment.as_ref().and_then(attachment) {
            let whose =
                format!("camera {} has {} on by default", camera.id, names.attachment(on).label);
            check(kit, (camera, None, Some(on)), &whose, told);
        }
    }
    for roll in &kit.rolls {
        let named = roll.camera.as_ref();
        let mut cameras = kit.cameras.iter().filter(|camera| match named {
            Some(id) => camera.id == id.value,
            None => camera.shoots(&roll.roll),
        });
        let (Some(body), None) = (cameras.next(), cameras.next()) else { continue };
        let on_roll =
            kit.lenses.iter().find(|l| roll.lens.as_ref().is_some_and(|id| id.value == l.id));
        if !chosen(body) || lens.is_some_and(|lens| on_roll.is_some_and(|it| it.id != lens.id)) {
            continue;
        }
        let Some(id) = roll.attachment.as_ref().or(camera_default(body, on_roll)) else { continue };
        let on = attachment(id);
        let with = on.map_or("no attachment".to_owned(), |on| names.attachment(on).label);
        let whose = match on_roll {
            Some(lens) => format!("roll {} has {} with {with}", roll.roll, names.lens(lens).label),
            None => format!("roll {} has {with}", roll.roll),
        };
        check(kit, (body, on_roll, on), &whose, told);
    }
}

/// The default of the camera counts for a roll only where the roll says which lens is on: else it is told with the camera.
fn camera_default<'a>(camera: &'a Camera, lens: Option<&Lens>) -> Option<&'a Sourced<String>> {
    lens.and(camera.attachment.as_ref())
}

fn check(
    kit: &Kit,
    (camera, lens, on): (&Camera, Option<&Lens>, Option<&Attachment>),
    whose: &str,
    told: &mut Told<'_>,
) {
    let fit = as_far_as_known(kit, Some(camera), lens, on);
    let refuses = fit.remarks.iter().filter(|remark| remark.weight == Weight::Refuses);
    // Thickness and glass are told by the pair.
    for remark in refuses.filter(|remark| {
        matches!(remark.matter, Matter::LensMount | Matter::BodyMount | Matter::Flange)
    }) {
        told.say(
            format!("{whose}, but it does not fit: {}", remark.message),
            "change the default in the kit, or the mounts if they are not right",
        );
    }
}
