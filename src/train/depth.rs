//! Depth of field of a train. Distances are counted from the sensor-plane mark, as the tape is run; the formulas count
//! from the entrance pupil.

use crate::annotation::Derived;
use crate::estimate::{Bare, Estimate};
use crate::optics::focus;
use crate::sourced::{Known, Quantity};
use crate::units::{Meters, Millimeters, Offset};

use super::{Back, Blur, Train};

impl Train {
    pub(super) fn depth(
        &self,
        back: &Back,
        pinhole: &Known<Millimeters>,
        pupil: Option<&Known<Offset>>,
        derived: &mut Derived,
    ) {
        // The pupil is that of the lens whose pinhole focal length is used: a better known one goes for both.
        let focal = self.better.as_ref().or(self.focal.as_ref());
        let (Some(focal), Some(stop)) = (focal, &self.stop) else { return };
        let blur = match self.blur {
            Some(Blur::Circle(circle)) => Some(Estimate::exact(circle)),
            Some(Blur::Parts(parts)) => {
                back.area.diagonal().and_then(|diagonal| focus::blur_circle(diagonal, parts))
            }
            None => None,
        };
        let diameter = focus::pupil_diameter(focal.estimate, stop.estimate);
        let (Some(blur), Some(diameter)) = (blur, diameter) else { return };
        let Some(hyperfocal) = focus::hyperfocal(diameter, pinhole.estimate, blur) else { return };
        let basis = focal.basis.weaker(stop.basis).weaker(pinhole.basis);
        let offset = pupil.map_or(Bare::exact(0.0), |pupil| pupil.estimate.bare() / 1000.0);
        let from_mark =
            |distance: Estimate<Meters>, rules: [&'static str; 2]| -> Option<Quantity<Meters>> {
                let rule = if pupil.is_some() { rules[0] } else { rules[1] };
                let distance = if distance.value.get().is_infinite() {
                    distance
                } else {
                    (distance.bare() + offset).unit()?
                };
                Some(Known::computed(distance, basis, rule).quantity())
            };
        derived.hyperfocal = from_mark(
            hyperfocal,
            [
                "hyperfocal distance = pupil diameter x pinhole focal length / blur circle, from the entrance pupil to the mark",
                "hyperfocal distance = pupil diameter x pinhole focal length / blur circle; the entrance pupil is taken to stand at the mark, its place is not known",
            ],
        );
        let Some(tape) = &self.focus else { return };
        // Nearer than the entrance pupil nothing can be in focus.
        let distance = if tape.estimate.value.get().is_infinite() {
            Some(tape.estimate)
        } else {
            (tape.estimate.bare() - offset).unit()
        };
        let Some(depth) = distance.and_then(|distance| focus::depth(hyperfocal, distance)) else {
            return;
        };
        let rules = [
            "depth of field from the entrance pupil, counted from the mark",
            "depth of field from the entrance pupil, taken to stand at the mark: its place is not known",
        ];
        derived.near = from_mark(depth.near, rules);
        derived.far = from_mark(depth.far, rules);
    }
}
