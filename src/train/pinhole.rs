//! The pinhole focal length and the entrance pupil behind the attachment, at the focus that was set.

use crate::estimate::{Cause, Estimate, rounding};
use crate::optics::attachment as behind;
use crate::optics::pinhole::{Curve, Found, look_up, unit_focus};
use crate::sourced::{Basis, Known};
use crate::units::{Factor, Meters, Millimeters, Offset, Unit};

use super::{Breathing, Train};

/// Standard uncertainty of what focusing adds, as a part of it, for a lens that focuses as one piece. The thin lens has
/// its entrance pupil in the front principal plane; real ones do not, and a traced double Gauss of 50 mm at half a
/// metre adds 4.8 mm where the thin lens adds 5.5 (`tests/judges/optics_values.py`). Common practice, no source.
const PUPIL_PLACE: f64 = 0.25;

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
            (Basis::Measured, true) => {
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

    /// A value of the lens's measured table at the focus that was set. With no focus known the middle of the table
    /// stands, off by as much as a number that may lie anywhere in it (JCGM 100:2008, 4.3.7).
    fn looked<U: Unit>(
        &self,
        curves: &[Curve<U>],
        cause: Cause,
        by: Option<f64>,
    ) -> Option<Looked<U>> {
        // Where the ring stood: what came out, taken back through the attachment.
        let m = self.magnification.as_ref().map(|m| m.estimate);
        let mark = self.focal.as_ref().zip(m).and_then(|(focal, m)| native(focal.estimate, m));
        if let Some(focus) = self.native_tape() {
            let Found { value, held } = look_up(curves, mark, focus)?;
            return Some(Looked { estimate: value.also(cause, by), basis: Basis::Measured, held });
        }
        let end = |distance: f64| {
            Some(look_up(curves, mark, Estimate::exact(Meters::new(distance)?))?.value.bare())
        };
        let (near, far) = (end(f64::MIN_POSITIVE)?, end(f64::INFINITY)?);
        let middle = ((near + far) / 2.0).unit::<U>()?;
        let reach = rounding((near.number - far.number).abs() / 2.0);
        let by = by.map(|by| crate::estimate::together(by, reach));
        Some(Looked { estimate: middle.also(cause, by), basis: Basis::Assumed, held: false })
    }
}

/// A value from a table.
struct Looked<U> {
    estimate: Estimate<U>,
    basis: Basis,
    held: bool,
}

fn native(focal: Estimate<Millimeters>, m: Estimate<Factor>) -> Option<Estimate<Millimeters>> {
    (focal.bare() / m.bare()).unit()
}
