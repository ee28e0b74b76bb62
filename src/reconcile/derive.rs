//! What follows from the settled values, by way of the optical train; dark corners are a finding.

use crate::annotation::{Derived, Verdict};
use crate::estimate::Cause;
use crate::finding::{Code, Finding};
use crate::number::{fixed, short};
use crate::optics::attachment as behind;
use crate::sourced::{Basis, Known, Quantity};
use crate::train::{Parts, Train};
use crate::units::{Millimeters, Pixels};

use super::Scene;
use super::rig::Rig;
use super::settle::Settlement;

/// Works out what follows.
pub(super) fn derive(
    scene: &Scene<'_>,
    rig: &Rig<'_>,
    settled: &Settlement,
    findings: &mut Vec<Finding>,
) -> Derived {
    let parts = Parts {
        kit: scene.kit,
        camera: rig.camera.as_ref().map(|camera| camera.value),
        mode: rig.mode.as_ref().map(|mode| mode.value),
        lens: rig.lens.as_ref().map(|lens| lens.value),
        between: rig.attachment.as_ref().map(|_| rig.on()),
    };
    let focus = settled.focus_distance.value.as_ref();
    let train = Train {
        focal: settled.focal.clone(),
        stop: settled.stop.clone(),
        focus: focus.map(|focus| focus.known(Cause::Focus)),
        better: better(rig, settled),
        magnification: rig.magnification().map(|m| m.known(Cause::Magnification)),
        glass: rig.glass().map(|glass| glass.known(Cause::Glass)),
        ..parts.train()
    };
    let derived = train.follow();
    corners(scene, &derived, findings);
    derived
}

/// Where the camera was right but wrote whole millimetres, a measured lens behind the attachment is better known, and a
/// matchmove gets that.
fn better(rig: &Rig<'_>, settled: &Settlement) -> Option<Known<Millimeters>> {
    if settled.focal_length.verdict != Some(Verdict::Kept) {
        return None;
    }
    let effective = settled.focal.as_ref()?;
    let focal = settled.lens_focal.as_ref().filter(|focal| focal.basis == Basis::Measured)?;
    let m = rig.magnification()?;
    let value =
        behind::focal_length(focal.estimate(Cause::Focal), m.estimate(Cause::Magnification))?;
    let (measured, recorded) = (value.relative()?, effective.estimate.relative()?);
    let rule = "pinhole focal length = magnification x measured focal length of the lens, which is better known than the recorded number";
    let basis = focal.basis.weaker(m.binding());
    (measured < recorded).then(|| Known::computed(value, basis, rule))
}

fn corners(scene: &Scene<'_>, derived: &Derived, findings: &mut Vec<Finding>) {
    let (Some(circle), Some(dark)) = (&derived.image_circle, &derived.dark_corner) else { return };
    let by = |mm: &Quantity<Millimeters>, px: &Option<Quantity<Pixels>>| {
        let px = px.as_ref().map(|px| format!(", {} px", fixed(px.value.get(), 0)));
        format!("{} mm{}", fixed(mm.value.get(), 2), px.unwrap_or_default())
    };
    let edge = |mm: &Option<Quantity<Millimeters>>, px: &Option<Quantity<Pixels>>, which: &str| {
        mm.as_ref().map(|mm| format!("its whole {which} edges by {}", by(mm, px)))
    };
    let corners = by(dark, &derived.dark_corner_pixels);
    let mut missed = vec![format!("the corners of the recorded area by {corners}")];
    missed.extend(edge(&derived.dark_sides, &derived.dark_sides_pixels, "left and right"));
    missed.extend(edge(
        &derived.dark_top_bottom,
        &derived.dark_top_bottom_pixels,
        "top and bottom",
    ));
    let hint = if missed.len() > 1 {
        "whole edges are dark by geometry; tell post, or use a smaller recording mode"
    } else {
        "corners are dark by geometry; tell post, or use a smaller recording mode"
    };
    let circle = short(circle.value.get(), 1);
    let message = format!("the image circle of {circle} mm misses {}", missed.join("; "));
    findings.push(scene.finding(Code::CoverageCorners, message).hint(hint));
}
