//! What a person should know of a set-up, in words.

use crate::annotation::Setup;
use crate::comparison::Side;
use crate::kit::Kind;
use crate::number::{fixed, short};
use crate::sourced::Basis;

use super::Desk;

impl Desk<'_> {
    /// What the numbers alone do not say.
    pub(super) fn cautions(&self, shown: &Side) -> Vec<String> {
        let Setup { derived, lens_t, glass, squeeze, focus_distance, focal_length, .. } =
            &shown.setup;
        let mut cautions = Vec::new();
        if let (Some(dark), Some(circle)) = (&derived.dark_corner, &derived.image_circle) {
            let px = derived.dark_corner_pixels.as_ref();
            let px =
                px.map_or_else(String::new, |px| format!(" ({} px)", fixed(px.value.get(), 0)));
            cautions.push(format!(
                "Corners are dark by geometry: the image circle of {} mm ends {} mm{px} inside them.",
                short(circle.value.get(), 1),
                fixed(dark.value.get(), 2)
            ));
        }
        if lens_t.is_some() && glass.is_none() {
            cautions.push("The T-number behind the attachment is not known: give the transmittance of its glass with --glass.".to_owned());
        }
        if derived.back_width.is_none() {
            cautions.push("No recorded area was given (--sensor, or --camera and --mode): view, crop, coverage and depth of field are left out.".to_owned());
        }
        if derived.near.is_some() && derived.pupil_offset.is_none() {
            cautions.push("Depth of field is counted as if the entrance pupil stood at the sensor mark; its place is not known.".to_owned());
        } else if focus_distance.value.is_some()
            && derived.near.is_none()
            && derived.hyperfocal.is_some()
        {
            cautions.push(
                "The focus distance lies nearer than the entrance pupil: no depth of field."
                    .to_owned(),
            );
        }
        if squeeze.as_ref().is_some_and(|squeeze| squeeze.value.get() > 1.0) {
            cautions.push("Anamorphic: the stabiliser's one focal length cannot be right both ways; test it, or switch it off.".to_owned());
        }
        let basis = focal_length.value.as_ref().map(|focal| focal.basis);
        if basis != Some(Basis::Measured) {
            cautions.push(
                "Values from marks are nominal: a matchmove wants a measured lens and reducer."
                    .to_owned(),
            );
        }
        if self.between.as_ref().is_some_and(|between| between.kind != Kind::Adapter) {
            cautions.push(
                "Glass can strike glass: test-fit gently, by hand, as the maker of each advises."
                    .to_owned(),
            );
        }
        cautions
    }
}
