//! Distortion: which of the kit's measurements holds for a set-up, and how it is scaled behind an attachment.
//!
//! Nothing is put together from two measurements, and nothing is taken from a lens that was set otherwise: what was
//! measured stands as it was, scaled at most by what only scales the picture.

use crate::annotation::Distortion;
use crate::finding::{Code, Finding};
use crate::kit::{self, Attachment, Lens};
use crate::number::short;
use crate::sourced::Sourced;
use crate::units::{Factor, Meters};

use super::Scene;
use super::rig::{Between, Rig};
use super::settle::Settlement;

/// A zoom set so much off the setting that was measured is at that setting: a ring is set by hand to a mark.
const ZOOM: f64 = 0.01;

/// The distortion of the picture; what the kit has and cannot be used is a finding.
pub(super) fn of(
    scene: &Scene<'_>,
    rig: &Rig<'_>,
    settled: &Settlement,
    findings: &mut Vec<Finding>,
) -> Option<Sourced<Box<Distortion>>> {
    let lens = rig.lens.as_ref().filter(|_| settled.lens.value.is_some())?.value;
    if lens.distortions.is_empty() {
        return None;
    }
    choose(scene, lens, rig, settled).map_or_else(
        |(why, hint)| {
            let message = format!("distortion of {} is left out: {why}", lens.name);
            findings.push(scene.finding(Code::LensDistortion, message).hint(hint));
            None
        },
        Some,
    )
}

/// Why none holds, and what can be done about it.
type Refused = (String, &'static str);

fn choose(
    scene: &Scene<'_>,
    lens: &Lens,
    rig: &Rig<'_>,
    settled: &Settlement,
) -> Result<Sourced<Box<Distortion>>, Refused> {
    let at_setting = at_setting(lens, settled)?;
    let between = rig.attachment.as_ref().map(|between| between.value);
    let Some(between) = between else {
        let why = "what stood between lens and camera is not known";
        return Err((why.to_owned(), "note the attachment, or none for a bare camera"));
    };
    let on = match between {
        Between::Bare => None,
        Between::On(attachment) => Some(attachment),
    };
    let mut held: Vec<(&kit::Distortion, Held)> = at_setting
        .iter()
        .filter_map(|entry| Some((*entry, holds(&scene.kit.attachments, entry, on)?)))
        .collect();
    // What was measured just so goes before what has to be scaled.
    if held.iter().any(|(_, held)| held.scale.is_none()) {
        held.retain(|(_, held)| held.scale.is_none());
    }
    if held.is_empty() {
        let measured = at_setting.first().and_then(|entry| entry.behind.as_deref());
        let measured =
            measured.map_or("without an attachment".to_owned(), |id| format!("behind {id}"));
        let now = on.map_or("the camera was bare".to_owned(), |a| format!("{} was on", a.name));
        let why = format!("it was measured {measured}, and {now}");
        let hint = "measure it behind the attachment; or, if that adds no distortion of its own, write distortion-free = true for it in the kit";
        return Err((why, hint));
    }
    let focus = settled.focus_distance.value.as_ref().map(|focus| focus.value);
    let (entry, held) = nearest(&held, focus)?;
    let coefficients =
        held.scale.map_or_else(|| entry.coefficients.clone(), |m| entry.coefficients.scaled(m));
    let mut how = match &entry.behind {
        None => "measured without an attachment".to_owned(),
        Some(id) => format!("measured behind {id}"),
    };
    if let Some(focus) = entry.focus {
        how.extend([" at ", &short(focus.get(), 3), " m"]);
    }
    if let Some(m) = held.scale {
        how.extend([", scaled by ", &short(m.get(), 6)]);
    }
    Ok(entry.sourced().map(|entry| {
        Box::new(Distortion {
            model: entry.maps.model(),
            radial: coefficients.radial,
            tangential: coefficients.tangential.map(Vec::from).unwrap_or_default(),
            how,
        })
    }))
}

/// What was measured at the setting of the zoom ring; of a prime all.
fn at_setting<'l>(
    lens: &'l Lens,
    settled: &Settlement,
) -> Result<Vec<&'l kit::Distortion>, Refused> {
    if !lens.is_zoom() {
        return Ok(lens.distortions.iter().collect());
    }
    let Some(set) = settled.lens_focal.as_ref().map(|focal| focal.value.get()) else {
        let why = "where its zoom ring stood is not known";
        return Err((why.to_owned(), "note the focal length"));
    };
    let near = |entry: &&kit::Distortion| {
        entry.focal.is_some_and(|focal| (focal.get() / set - 1.0).abs() <= ZOOM)
    };
    let found: Vec<_> = lens.distortions.iter().filter(near).collect();
    if found.is_empty() {
        let why = format!("it was not measured at {} mm", short(set, 1));
        return Err((why, "nothing to do, or measure it there"));
    }
    Ok(found)
}

/// How an entry holds.
#[derive(Clone, Copy)]
struct Held {
    /// By what the picture it was measured on has to be scaled; `None` for not at all.
    scale: Option<Factor>,
}

/// Whether an entry holds behind what is on now: the same, or nothing but what adds no distortion on either side.
fn holds(
    attachments: &[Attachment],
    entry: &kit::Distortion,
    on: Option<&Attachment>,
) -> Option<Held> {
    if entry.behind.as_deref() == on.map(|on| on.id.as_str()) {
        return Some(Held { scale: None });
    }
    let then = match &entry.behind {
        Some(id) => Some(attachments.iter().find(|attachment| attachment.id == *id)?),
        None => None,
    };
    if !then.into_iter().chain(on).all(|attachment| attachment.distortion_free) {
        return None;
    }
    let m = |attachment: Option<&Attachment>| {
        attachment.map_or(1.0, |attachment| attachment.magnification.value.get())
    };
    let scale = m(on) / m(then);
    let scales = (scale - 1.0).abs() > 1e-12;
    Some(Held { scale: if scales { Some(Factor::new(scale)?) } else { None } })
}

/// The entry measured nearest to the focus, by one over the distance; one that says no distance holds at any, after all
/// that do.
fn nearest<'h, 'l>(
    held: &'h [(&'l kit::Distortion, Held)],
    focus: Option<Meters>,
) -> Result<&'h (&'l kit::Distortion, Held), Refused> {
    let unsaid = (
        "it was measured at several distances, and the focus is not known".to_owned(),
        "note the focus distance",
    );
    let [first, rest @ ..] = held else { return Err(unsaid) };
    if rest.is_empty() {
        return Ok(first);
    }
    let inverse =
        |distance: Meters| if distance.get().is_finite() { 1.0 / distance.get() } else { 0.0 };
    let Some(focus) = focus else {
        return held.iter().find(|(entry, _)| entry.focus.is_none()).ok_or(unsaid);
    };
    let off = |entry: &kit::Distortion| {
        entry.focus.map_or(f64::INFINITY, |at| (inverse(at) - inverse(focus)).abs())
    };
    let nearer = |a: &'h (&'l kit::Distortion, Held), b: &'h (&'l kit::Distortion, Held)| {
        if off(b.0) < off(a.0) { b } else { a }
    };
    Ok(rest.iter().fold(first, nearer))
}
