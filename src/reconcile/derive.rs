//! What follows from the settled values: film back, view, crop, coverage, pupil, depth of field.

use crate::annotation::{Derived, Verdict};
use crate::finding::{Code, Finding};
use crate::kit::Lens;
use crate::number::{fixed, short};
use crate::optics::attachment as behind;
use crate::optics::focus;
use crate::optics::spread;
use crate::optics::view::{self, FilmBack};
use crate::sourced::{Basis, Origin, Quantity};
use crate::units::{Degrees, Factor, Meters, Millimeters, Offset, Unit};

use super::Scene;
use super::rig::{Between, Rig};
use super::settle::Settlement;

/// Works out what follows; dark corners are a finding.
pub(super) fn derive(
    scene: &Scene<'_>,
    rig: &Rig<'_>,
    settled: &Settlement,
    findings: &mut Vec<Finding>,
) -> Derived {
    let back = rig.mode.as_ref().map(|mode| mode.value.back);
    let lens = rig.lens.as_ref().map(|lens| lens.value);
    let mut derived = Derived { pinhole: pinhole(rig, settled), ..Derived::default() };
    derived.light = rig.magnification().zip(rig.glass()).and_then(|(m, glass)| {
        let relative = spread::product(&[m.relative().map(|u| 2.0 * u), glass.relative()]);
        // d(log2 x) = dx / (x ln 2).
        Some(Quantity {
            value: behind::light(m.value, glass.value)?,
            uncertainty: relative.map(|r| r / std::f64::consts::LN_2),
            basis: m.basis.weaker(glass.basis),
            origin: Origin::Computed(
                "stops won = -2 log2(magnification) + log2(transmittance of the attachment)",
            ),
        })
    });
    derived.image_circle = lens.and_then(|lens| lens.image_circle.as_ref()).zip(rig.magnification()).and_then(|(circle, m)| {
        let exit = rig.on().and_then(|attachment| attachment.exit_circle.as_ref()).map(|exit| exit.value);
        let value = behind::image_circle(circle.value, m.value, exit)?;
        Some(from(value, &[circle.relative(), m.relative()], circle.basis.weaker(m.basis), "image circle = magnification x image circle of the lens, at most what the attachment lets out"))
    });
    derived.pupil_offset = lens.and_then(|lens| pupil(scene, rig, lens));
    if let (Some(mode), Some(back)) = (&rig.mode, back) {
        let of_mode = |value: Millimeters| Quantity {
            value,
            uncertainty: None,
            basis: Basis::Nominal,
            origin: mode.value.origin.clone(),
        };
        derived.back_width = Some(of_mode(back.width));
        derived.back_height = Some(of_mode(back.height));
        crop_and_view(&mut derived, back, lens, settled);
        cover(scene, &mut derived, back, findings);
        depth(scene, &mut derived, back, settled);
    }
    derived
}

fn from<U: Unit>(
    value: U,
    relative: &[Option<f64>],
    basis: Basis,
    rule: &'static str,
) -> Quantity<U> {
    let uncertainty =
        spread::product(relative).map(|r| r * value.number()).filter(|u| u.is_finite());
    Quantity { value, uncertainty, basis, origin: Origin::Computed(rule) }
}

/// The effective focal length, for want of a breathing table. Where the camera was right but wrote whole millimetres,
/// a measured lens behind the attachment is better known, and a matchmove gets that.
fn pinhole(rig: &Rig<'_>, settled: &Settlement) -> Option<Quantity<Millimeters>> {
    let effective = settled.focal_length.value.as_ref()?;
    let rule = "pinhole focal length = effective focal length; breathing is not known";
    let plain = Quantity { origin: Origin::Computed(rule), ..effective.clone() };
    if settled.focal_length.verdict != Some(Verdict::Kept) {
        return Some(plain);
    }
    let measured = settled.lens_focal.as_ref().filter(|focal| focal.basis == Basis::Measured);
    let (Some(focal), Some(m)) = (measured, rig.magnification()) else { return Some(plain) };
    let relative = [focal.relative(), m.relative()];
    let better = spread::product(&relative)
        .zip(effective.relative())
        .is_some_and(|(measured, recorded)| measured < recorded);
    if !better {
        return Some(plain);
    }
    let value = behind::focal_length(focal.value, m.value)?;
    let rule = "pinhole focal length = magnification x measured focal length of the lens, which is better known than the recorded number";
    Some(from(value, &relative, focal.basis.weaker(m.basis), rule))
}

/// e' = e - s: needs the lens's own pupil, and how far the attachment brings the sensor plane forward.
fn pupil(scene: &Scene<'_>, rig: &Rig<'_>, lens: &Lens) -> Option<Quantity<Offset>> {
    let native = lens.pupil_offset.as_ref()?;
    let flange = |id: Option<&String>| {
        Some(scene.kit.mounts.iter().find(|mount| Some(&mount.id) == id)?.flange.value)
    };
    let shift = match rig.attachment.as_ref()?.value {
        Between::Bare => Offset::new(0.0)?,
        Between::On(attachment) => match (&attachment.shift, &attachment.thickness) {
            (Some(shift), _) => shift.value,
            (None, Some(thickness)) => {
                let body = rig.camera.as_ref().and_then(|camera| camera.value.mount.as_ref());
                behind::shift(flange(lens.mount.as_ref())?, flange(body)?, thickness.value)?
            }
            (None, None) => return None,
        },
    };
    Some(Quantity {
        value: behind::pupil_offset(native.value, shift)?,
        uncertainty: None,
        basis: native.basis,
        origin: Origin::Computed(
            "pupil offset = offset of the lens alone - shift of the sensor plane",
        ),
    })
}

fn crop_and_view(derived: &mut Derived, back: FilmBack, lens: Option<&Lens>, settled: &Settlement) {
    let plain = |value: Factor, rule| from(value, &[None], Basis::Nominal, rule);
    derived.crop_width =
        view::crop_by_width(back).map(|c| plain(c, "crop = 36 mm / width of the recorded area"));
    derived.crop_diagonal = view::crop_by_diagonal(back)
        .map(|c| plain(c, "crop = 43.27 mm / diagonal of the recorded area"));
    let Some(p) = derived.pinhole.clone() else {
        return;
    };
    derived.equivalent =
        derived.crop_diagonal.as_ref().zip(settled.focal_length.value.as_ref()).and_then(
            |(crop, f)| {
                let value = Millimeters::new(crop.value.get() * f.value.get())?;
                Some(from(
                    value,
                    &[f.relative()],
                    f.basis,
                    "equivalent focal length = effective focal length x crop by diagonal",
                ))
            },
        );
    let angle = |side: Option<Millimeters>, rule| -> Option<Quantity<Degrees>> {
        let side = side?;
        let uncertainty = p.relative().map(|r| r * view::angle_slope(side, p.value));
        Some(Quantity {
            value: view::angle(side, p.value)?,
            uncertainty,
            basis: p.basis,
            origin: Origin::Computed(rule),
        })
    };
    let squeeze = lens.map_or(1.0, |lens| lens.squeeze.value.get());
    derived.angle_horizontal = angle(
        Millimeters::new(back.width.get() * squeeze),
        "2 atan(width x squeeze / 2 pinhole focal length)",
    );
    derived.angle_vertical = angle(Some(back.height), "2 atan(height / 2 pinhole focal length)");
    if (squeeze - 1.0).abs() < 1e-9 {
        derived.angle_diagonal =
            angle(back.diagonal(), "2 atan(diagonal / 2 pinhole focal length)");
    }
}

fn cover(scene: &Scene<'_>, derived: &mut Derived, back: FilmBack, findings: &mut Vec<Finding>) {
    let Some(circle) = &derived.image_circle else {
        return;
    };
    let Some(coverage) = view::coverage(circle.value, back) else {
        return;
    };
    derived.coverage = Some(from(
        coverage,
        &[circle.relative()],
        circle.basis,
        "coverage = image circle / diagonal of the recorded area",
    ));
    let (Some(diagonal), true) = (back.diagonal(), coverage.get() < 1.0) else {
        return;
    };
    let lost = (diagonal.get() - circle.value.get()) / 2.0;
    let pixels = scene
        .media
        .coded
        .as_ref()
        .map(|coded| lost / back.width.get() * f64::from(coded.value.width()));
    let in_pixels = pixels.map_or_else(String::new, |px| format!(", {} px", fixed(px, 0)));
    findings.push(
        scene
            .finding(
                Code::CoverageCorners,
                format!("the image circle of {} mm misses the corners of the recorded area by {} mm{in_pixels}", short(circle.value.get(), 1), fixed(lost, 2)),
            )
            .hint("corners are dark by geometry; tell post, or use a smaller recording mode"),
    );
}

fn depth(scene: &Scene<'_>, derived: &mut Derived, back: FilmBack, settled: &Settlement) {
    let (focal, stop) = (&settled.focal_length.value, &settled.f_number.value);
    let (Some(focal), Some(stop), Some(pinhole)) = (focal, stop, &derived.pinhole) else { return };
    let parts = Factor::new(scene.kit.defaults.blur_parts);
    let blur = back.diagonal().zip(parts).and_then(|(side, parts)| focus::blur_circle(side, parts));
    let pupil = focus::pupil_diameter(focal.value, stop.value);
    let (Some(blur), Some(pupil)) = (blur, pupil) else { return };
    let at = settled.focus_distance.value.as_ref();
    // The tape is run to the sensor plane, depth of field counts from the entrance pupil.
    let offset = derived.pupil_offset.as_ref().map_or(0.0, |e| e.value.get() / 1000.0);
    // With no distance noted only the hyperfocal is kept, and that holds for any.
    let tape = at.map_or(f64::INFINITY, |at| at.value.get());
    let depth = Meters::new(tape - offset)
        .and_then(|distance| focus::depth(pupil, pinhole.value, blur, distance));
    let Some(depth) = depth else { return };
    let basis = focal.basis.weaker(stop.basis);
    let relative = spread::product(&[focal.relative().map(|r| 2.0 * r), stop.relative()]);
    derived.hyperfocal = Some(from(
        depth.hyperfocal,
        &[relative],
        basis,
        "hyperfocal distance = pupil diameter x pinhole focal length / blur circle",
    ));
    if at.is_some() {
        let rule = if derived.pupil_offset.is_some() {
            "depth of field from the entrance pupil"
        } else {
            "depth of field from the entrance pupil, taken to stand at the sensor plane mark: its place is not known"
        };
        derived.near = Some(from(depth.near, &[None], basis, rule));
        derived.far = Some(from(depth.far, &[None], basis, rule));
    }
}
