//! What a person should know of a set-up, in words.

use crate::annotation::{Derived, Setup};
use crate::comparison::{Sharp, Side};
use crate::finding::{Code, Finding};
use crate::kit::Kind;
use crate::kit::fit::{Fit, Weight, as_far_as_known};
use crate::number::{fixed, short};
use crate::sourced::{Basis, Quantity};
use crate::units::{Millimeters, Pixels};

use super::Desk;

impl Desk<'_> {
    /// What the kit says of lens, attachment and camera put together; nothing of what was given in words.
    fn fit(&self) -> Option<Fit> {
        let lens = self.glass.lens;
        let camera = self.body.as_ref().and_then(|body| body.camera);
        let attachment = match &self.between {
            Some(between) => Some(between.attachment?),
            None => None,
        };
        // A bare lens is asked about on any sensor; only with a camera named is it meant to stand on it.
        (lens.is_some() && (attachment.is_some() || camera.is_some()))
            .then(|| as_far_as_known(self.kit, camera, lens, attachment))
    }

    /// What does not go together, or not as it should; the numbers still stand.
    pub(super) fn misfits(&self) -> Vec<Finding> {
        let remarks = self.fit().map(|fit| fit.remarks).unwrap_or_default().into_iter();
        remarks
            .filter(|remark| matches!(remark.weight, Weight::Refuses | Weight::Wrong))
            .map(|remark| Finding::new(Code::AttachmentFit, remark.message).hint(remark.advice))
            .collect()
    }

    /// What the numbers alone do not say.
    pub(super) fn cautions(&self, shown: &Side, bare_pupil: bool, sweep: &[Sharp]) -> Vec<String> {
        let mut cautions = self.of_view(shown);
        let only_shift = self.between.is_some() && bare_pupil;
        cautions.extend(of_depth(&shown.setup, only_shift, sweep));
        let Setup { squeeze, focal_length, .. } = &shown.setup;
        if squeeze.as_ref().is_some_and(|squeeze| squeeze.value.get() > 1.0) {
            cautions.push("No 35 mm equivalents: a squeezed picture has no one focal length that would see the same both ways.".to_owned());
            cautions.push("Anamorphic: the stabiliser's one focal length cannot be right both ways; test it, or switch it off.".to_owned());
        }
        let basis = focal_length.value.as_ref().map(|focal| focal.basis);
        if basis != Some(Basis::Measured) {
            cautions.push(
                "Values from marks are nominal: a matchmove wants a measured lens and reducer."
                    .to_owned(),
            );
        }
        let open = self.fit().map(|fit| fit.remarks).unwrap_or_default().into_iter();
        cautions.extend(
            open.filter(|remark| remark.weight == Weight::Open)
                .map(|remark| format!("Not known whether it fits: {}.", remark.message)),
        );
        if self.between.as_ref().is_some_and(|between| between.kind != Kind::Adapter) {
            cautions.push(
                "Glass can strike glass: test-fit gently, by hand, as the maker of each advises."
                    .to_owned(),
            );
        }
        cautions
    }

    fn of_view(&self, shown: &Side) -> Vec<String> {
        let Setup { derived, lens_t, glass, focus_distance, .. } = &shown.setup;
        let mut cautions = Vec::new();
        cautions.extend(corners(derived));
        if lens_t.is_some() && glass.is_none() {
            cautions.push("The T-number behind the attachment is not known: give the transmittance of its glass with --glass.".to_owned());
        }
        if derived.back_width.is_none() {
            cautions.push("No recorded area was given (--sensor, or --camera and --mode): view, crop, coverage and depth of field are left out.".to_owned());
        }
        let tabled = self.glass.lens.is_some_and(|lens| !lens.tables.is_empty());
        if tabled && focus_distance.value.is_none() {
            cautions.push("No focus distance was given: pinhole focal length and view are those of the middle of the lens's measured table.".to_owned());
        }
        cautions
    }
}

/// Whether the image circle reaches the corners.
fn corners(derived: &Derived) -> Option<String> {
    let circle = derived.image_circle.as_ref()?;
    let mm = short(circle.value.get(), 1);
    let coverage = derived.coverage.as_ref()?;
    let off = (coverage.value.get() - 1.0).abs();
    if coverage.uncertainty.is_some_and(|by| off < by) {
        return Some(format!(
            "Borderline: the image circle of {mm} mm ends so near the corners that its own doubt decides; look at them."
        ));
    }
    let dark = by(derived.dark_corner.as_ref()?, derived.dark_corner_pixels.as_ref());
    let sides = derived.dark_sides.as_ref().map(|mm| (mm, derived.dark_sides_pixels.as_ref()));
    let ends =
        derived.dark_top_bottom.as_ref().map(|mm| (mm, derived.dark_top_bottom_pixels.as_ref()));
    let edges: Vec<String> = [(sides, "left and right"), (ends, "top and bottom")]
        .into_iter()
        .filter_map(|(dark, which)| {
            dark.map(|(mm, px)| format!("{} inside the {which} edges", by(mm, px)))
        })
        .collect();
    if edges.is_empty() {
        return Some(format!(
            "Corners are dark by geometry: the image circle of {mm} mm ends {dark} inside them."
        ));
    }
    Some(format!(
        "Whole edges are dark by geometry, not only corners: the image circle of {mm} mm ends {}, and {dark} inside the corners.",
        edges.join(", ")
    ))
}

/// A depth on the sensor, and in pixels where these are known.
fn by(mm: &Quantity<Millimeters>, px: Option<&Quantity<Pixels>>) -> String {
    let px = px.map_or_else(String::new, |px| format!(" ({} px)", fixed(px.value.get(), 0)));
    format!("{} mm{px}", fixed(mm.value.get(), 2))
}

/// `only_shift`: the pupil of the lens is known, so that nothing but the shift of the attachment is missing.
fn of_depth(setup: &Setup, only_shift: bool, sweep: &[Sharp]) -> Vec<String> {
    let Setup { derived, focus_distance, .. } = setup;
    let mut cautions = Vec::new();
    if (derived.near.is_some() || !sweep.is_empty()) && derived.pupil_offset.is_none() {
        cautions.push(if only_shift {
            "Behind the attachment, and in the same view, depth of field is counted as if the entrance pupil stood at the sensor mark: how far the attachment shifts the sensor plane is not known (--shift).".to_owned()
        } else {
            "Depth of field is counted as if the entrance pupil stood at the sensor mark; its place is not known.".to_owned()
        });
    } else if focus_distance.value.is_some()
        && derived.near.is_none()
        && derived.hyperfocal.is_some()
    {
        cautions.push(
            "The focus distance lies nearer than the entrance pupil: no depth of field.".to_owned(),
        );
    }
    if derived.near.as_ref().is_some_and(|near| near.uncertainty.is_some()) {
        cautions.push("The ± of near and far is for the most part the doubt about the focus distance itself, and not a depth.".to_owned());
    }
    if sweep.iter().any(|sharp| sharp.f_number.is_none()) {
        cautions.push(
            "No depth of field for a stop in T: an f-number needs the transmittance of the lens."
                .to_owned(),
        );
    }
    cautions
}
