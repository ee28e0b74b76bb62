//! The pinhole focal length and the entrance pupil behind the attachment, at the focus that was set.

use crate::estimate::{Cause, Estimate, rounding, together};
use crate::optics::attachment as behind;
use crate::optics::pinhole::{Curve, Found, look_up, unit_focus};
use crate::sourced::{Basis, Known};
use crate::units::{Meters, Millimeters, Offset, Unit};

use super::{Breathing, Train};

/// Standard uncertainty of what focusing adds, as a part of it, for a lens that focuses as one piece. The thin lens has
/// its entrance pupil in the front principal plane; real ones do not, and a traced double Gauss of 50 mm at half a
/// metre adds 4.8 mm where the thin lens adds 5.5 (`tests/judges/optics_values.py`). Common practice, no source.
const PUPIL_PLACE: f64 = 0.25;
/// Standard uncertainty with which a zoom ring is set to a mark, as a part of the focal length (common practice, no source).
const RING: f64 = 0.01;

impl Train {
    /// Best known first: the measured table, a lens that focuses as one piece, else the effective focal length.
    pub(super) fn pinhole(&self) -> Option<Known<Millimeters>> {
        if let Some(known) = self.tabled() {
            return Some(known);
        }
        let focal = self.better.as_ref().or(self.focal.as_ref())?;
        if self.breathing.unit_focus {
            let rule = "pinhole focal length = magnification x image distance of a lens that focuses as one piece";
            if let Some(estimate) = self.in_one_piece(focal) {
                return Some(Known::computed(estimate, focal.basis, rule));
            }
        }
        if self.better.is_some() {
            return self.better.clone();
        }
        let rule = "pinhole focal length = effective focal length; breathing is not known";
        Some(Known::computed(focal.estimate, focal.basis, rule))
    }

    fn in_one_piece(&self, focal: &Known<Millimeters>) -> Option<Estimate<Millimeters>> {
        let m = self.magnification.as_ref()?.estimate;
        let tape = self.native_tape()?;
        let native = (focal.estimate.bare() / m.bare()).unit()?;
        let focused = behind::focal_length(unit_focus(native, tape)?, m)?;
        let added = (focused.value.get() - focal.estimate.value.get()).abs();
        Some(focused.also(Cause::Pinhole, Some(PUPIL_PLACE * added)))
    }

    /// The tape to where the lens's own sensor plane would be: farther from the object by the shift, as far as that is known.
    fn native_tape(&self) -> Option<Estimate<Meters>> {
        let tape = self.focus.as_ref()?.estimate;
        match &self.shift {
            Some(shift) if tape.value.get().is_finite() => {
                (tape.bare() + shift.estimate.bare() / 1000.0).unit()
            }
            _ => Some(tape),
        }
    }

    /// From the lens's measured table: p' = m p.
    fn tabled(&self) -> Option<Known<Millimeters>> {
        let Breathing { pinhole, pinhole_uncertainty, .. } = &self.breathing;
        let m = self.magnification.as_ref()?;
        let Looked { estimate, basis, held } =
            self.looked(pinhole, Cause::Pinhole, *pinhole_uncertainty)?;
        let value = behind::focal_length(estimate, m.estimate)?;
        let rule = match (basis, held) {
            (Basis::Measured, false) => {
                "pinhole focal length = magnification x measured table of the lens"
            }
            (_, true) => {
                "pinhole focal length = magnification x measured table of the lens, held at its end: focus or zoom lie outside of it"
            }
            _ => {
                "pinhole focal length = magnification x middle of the lens's measured table: no focus distance is known"
            }
        };
        Some(Known::computed(value, basis.weaker(m.binding()), rule))
    }

    /// The entrance pupil behind the attachment: e' = e - s.
    pub(super) fn pupil_behind(&self) -> Option<Known<Offset>> {
        let Breathing { pupil, pupil_uncertainty, .. } = &self.breathing;
        let (native, basis) = match self.looked(pupil, Cause::Pupil, *pupil_uncertainty) {
            Some(looked) => (looked.estimate, looked.basis),
            None => self.pupil.as_ref().map(|pupil| (pupil.estimate, pupil.basis))?,
        };
        let shift = self.shift.as_ref()?;
        let value = behind::pupil_offset(native, shift.estimate)?;
        let rule = "pupil offset = offset of the lens alone - shift of the sensor plane";
        Some(Known::computed(value, basis.weaker(shift.binding()), rule))
    }

    /// A value of the lens's measured table at the focus that was set. With no focus known the middle of what the table
    /// spans stands, off by as much as a number that may lie anywhere in it (JCGM 100:2008, 4.3.7).
    fn looked<U: Unit>(
        &self,
        curves: &[Curve<U>],
        cause: Cause,
        by: Option<f64>,
    ) -> Option<Looked<U>> {
        // Where the ring stood: what came out, taken back through the attachment. The table holds for the mark, however
        // long the lens truly is there; what is off is how the ring was set.
        let m = self.magnification.as_ref().map(|m| m.estimate.value.get());
        let mark = self.focal.as_ref().zip(m).and_then(|(focal, m)| {
            let mark = Millimeters::new(focal.estimate.value.get() / m)?;
            Some(Estimate::caused(mark, Cause::Ring, Some(RING * mark.get())))
        });
        if let Some(focus) = self.native_tape() {
            let Found { value, held } = look_up(curves, mark, focus)?;
            let off = by.map(|by| together(by, held.unwrap_or(0.0)));
            let basis = if held.is_some() { Basis::Assumed } else { Basis::Measured };
            let held = held.is_some();
            return Some(Looked { estimate: value.also(cause, off), basis, held });
        }
        let nodes = curves.iter().flat_map(|curve| &curve.focus);
        let values: Vec<Found<U>> =
            nodes.filter_map(|at| look_up(curves, mark, Estimate::exact(*at))).collect();
        let bare = |found: &Found<U>| found.value.bare();
        let order = |a: &&Found<U>, b: &&Found<U>| bare(a).number.total_cmp(&bare(b).number);
        let (least, most) = (values.iter().min_by(order)?, values.iter().max_by(order)?);
        let middle = ((bare(least) + bare(most)) / 2.0).unit::<U>()?;
        let reach = rounding((bare(most).number - bare(least).number) / 2.0);
        let by = by.map(|by| together(by, reach));
        Some(Looked { estimate: middle.also(cause, by), basis: Basis::Assumed, held: false })
    }
}

/// A value from a table.
struct Looked<U> {
    estimate: Estimate<U>,
    basis: Basis,
    held: bool,
}
