//! Largest openings of a lens, which in zooms may ramp over the focal length.

use std::sync::Arc;

use libm::{exp2, log2};

use super::numbers::Ramp;
use super::read::{Reader, Section};
use super::stated;
use crate::sourced::{Basis, Origin, Quantity};
use crate::stops;
use crate::units::{Millimeters, Unit};

/// A largest opening: one for all focal lengths, or one for each of some of them.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Opening {
    /// Focal length in millimetres, rising, and the exact number there; of a single number the focal length says nothing.
    steps: Vec<(f64, f64)>,
    /// Relative standard uncertainty of the numbers.
    relative: f64,
    /// Where it stands in the kit.
    key: Arc<str>,
}

impl Opening {
    /// Reads `f-max` or `t-max` of a lens with this marked range.
    pub(super) fn read(
        section: &Section<'_>,
        key: &'static str,
        range: Option<(Millimeters, Millimeters)>,
        relative: f64,
        reader: &mut Reader<'_>,
    ) -> Option<Self> {
        let exact = |mark: f64| stops::exact(mark).number;
        let steps = match section.ramp(key, reader)? {
            Ramp::One(mark) => vec![(0.0, exact(mark))],
            Ramp::Over(steps) => steps.iter().map(|(at, mark)| (*at, exact(*mark))).collect(),
        };
        let ramps = section.is_list(key);
        match range {
            // A lens without a range is a prime, or its range was faulted.
            None if ramps && !section.has("range") => {
                let message =
                    format!("{key} changes over focal lengths that the lens does not have");
                reader.fault(section.place(key), message, format!("write {key} = 2.8 for a prime"));
                return None;
            }
            Some((low, high)) if ramps => {
                let outside = steps.iter().find(|(at, _)| !(low.get()..=high.get()).contains(at));
                if let Some((at, _)) = outside {
                    let message = format!("{key} says how far the lens opens at {at} mm");
                    let hint = format!("its range goes from {} to {} mm", low.get(), high.get());
                    reader.fault(section.place(key), message, hint);
                    return None;
                }
            }
            _ => {}
        }
        Some(Self { steps, relative, key: Arc::from(section.key(key)) })
    }

    /// The exact number at a focal length; `None` asks for the widest opening.
    ///
    /// Between two focal lengths of the kit it is linear in stops over the focal length (common practice, no source);
    /// outside of them the nearest holds.
    pub(super) fn number(&self, focal: Option<f64>) -> Option<f64> {
        let Some(focal) = focal else { return self.widest().map(|(_, number)| number) };
        let after = self.steps.iter().find(|(at, _)| *at >= focal);
        let before = self.steps.iter().rfind(|(at, _)| *at <= focal);
        let ((low, from), (high, to)) = before.or(after).zip(after.or(before))?;
        if low >= high {
            return Some(*from);
        }
        let part = (focal - low) / (high - low);
        Some(exp2(log2(*from) * (1.0 - part) + log2(*to) * part))
    }

    /// The focal length with the widest opening, and the number there.
    pub(super) fn widest(&self) -> Option<(f64, f64)> {
        self.steps.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Focal lengths at which the kit states a number; none if one holds for all.
    pub(super) fn focals(&self) -> impl Iterator<Item = f64> {
        self.steps.iter().map(|(at, _)| *at).filter(|at| *at > 0.0)
    }

    /// Relative standard uncertainty of the numbers.
    pub(super) fn relative(&self) -> f64 {
        self.relative
    }

    /// The opening at a focal length as a quantity: of the kit, or worked out between two of its marks.
    pub(super) fn at<U: Unit>(
        &self,
        focal: Option<Millimeters>,
        unit: impl FnOnce(f64) -> Option<U>,
    ) -> Option<Quantity<U>> {
        let focal = focal.map(Millimeters::get);
        let number = self.number(focal)?;
        let mut opening =
            stated(unit(number)?, Some(self.relative * number), Basis::Nominal, &self.key);
        let within = focal.is_some_and(|focal| {
            let ends = self.steps.first().zip(self.steps.last());
            let between = ends.is_some_and(|((low, _), (high, _))| *low < focal && focal < *high);
            between && self.steps.iter().all(|(at, _)| at.total_cmp(&focal).is_ne())
        });
        if within {
            opening.origin = Origin::Computed(stops::BETWEEN_MARKS);
        }
        Some(opening)
    }
}
