//! The heart of never applying a reducer twice: is a recorded number the bare one, the one behind the attachment, both or neither?

use std::sync::Arc;

use crate::kit::Reports;
use crate::number::short;
use crate::sourced::Quantity;
use crate::units::Unit;

/// What the lens alone can have shown: spans, and the engraved mark if it is known apart.
#[derive(Clone, Default)]
pub(super) struct Native {
    spans: Vec<(f64, f64)>,
    mark: Option<f64>,
    /// No lens is known: the spans are those of every lens that it can have been.
    any_lens: bool,
}

impl Native {
    /// A number and its standard uncertainty on either side.
    pub(super) fn around<U: Unit>(quantity: &Quantity<U>) -> Self {
        let number = quantity.value.number();
        let reach = quantity.uncertainty.unwrap_or(0.0);
        Self::between(number - reach, number + reach)
    }

    /// A number and a part of it on either side.
    pub(super) fn within(number: f64, part: f64) -> Self {
        Self::between(number * (1.0 - part), number * (1.0 + part))
    }

    /// Anything from `low` to `high`.
    pub(super) fn between(low: f64, high: f64) -> Self {
        Self { spans: vec![(low, high)], ..Self::default() }
    }

    /// Whatever any of the lenses can show that it may have been; `None` without lenses.
    pub(super) fn of_any(lenses: impl Iterator<Item = (f64, f64)>) -> Option<Self> {
        let spans: Vec<(f64, f64)> = lenses.collect();
        (!spans.is_empty()).then_some(Self { spans, mark: None, any_lens: true })
    }

    /// The same, with what is engraved.
    pub(super) fn marked(self, mark: Option<f64>) -> Self {
        Self { mark, ..self }
    }

    /// True if `reading`, written no finer than `half_step`, can be this seen at `scale`, itself known to a part of `relative`.
    pub(super) fn explains(
        &self,
        (reading, half_step): (f64, f64),
        scale: f64,
        relative: f64,
    ) -> bool {
        let span = |(low, high): &(f64, f64)| {
            let low = low * scale * (1.0 - relative) - half_step;
            let high = high * scale * (1.0 + relative) + half_step;
            (low..=high).contains(&reading)
        };
        let marked = |mark: f64| {
            (mark * scale - reading).abs() <= half_step + mark * scale * relative + 1e-9
        };
        self.spans.iter().any(span) || self.mark.is_some_and(marked)
    }
}

/// One field of one piece, ready to be weighed.
pub(super) struct Case {
    pub(super) field: &'static str,
    pub(super) unit: &'static str,
    /// What was recorded, and half of the step it was written in.
    pub(super) reading: Option<(f64, f64)>,
    /// What the lens alone can have shown.
    pub(super) native: Option<Native>,
    /// The best single number for the lens alone.
    pub(super) best: Option<f64>,
    /// What was noted cannot be built on, as a finding has said already.
    pub(super) unusable: bool,
    /// Magnification and its relative uncertainty; `None` if what was on the camera is not known.
    pub(super) magnification: Option<(f64, f64)>,
    /// What the attachment's contacts tell the camera.
    pub(super) reports: Option<Reports>,
    /// What other clips show, or the command line says, of how this camera records behind this attachment.
    pub(super) habit: Option<Reports>,
    /// Why the reading seems to be left from another lens, if it does.
    pub(super) stale: Option<Arc<str>>,
    /// Nobody said anything about the clip.
    pub(super) silent: bool,
}

impl Case {
    /// True if what stood behind the lens changes nothing: none, or a plain adapter.
    pub(super) fn unchanged(&self) -> bool {
        self.magnification.is_some_and(|(m, _)| (m - 1.0).abs() < 1e-9)
    }

    /// How the field is recorded behind the attachment: as the kit says, else as is the habit.
    pub(super) fn recorded_as(&self) -> Option<Reports> {
        self.reports.filter(|reports| *reports != Reports::Nothing).or(self.habit)
    }

    /// True if the reading fits the bare value, and if it fits the one behind the attachment.
    pub(super) fn fits(&self) -> Option<(bool, bool)> {
        let (reading, (m, relative)) = (self.reading?, self.magnification?);
        let native = self.native.as_ref()?;
        Some((native.explains(reading, 1.0, 0.0), native.explains(reading, m, relative)))
    }
}

/// What became of it.
#[derive(Debug, PartialEq)]
pub(super) enum Outcome {
    /// Neither media nor notes speak of the field, or nobody said how to read it.
    Unsaid,
    Filled,
    Scaled,
    Kept,
    Replaced,
    /// Both cannot be right; says what differs.
    Contradiction(String),
    /// Can be read in two ways; says which.
    Ambiguous(String),
    /// Was left in the camera from another lens; says why that is believed.
    Stale(String),
    /// What was noted cannot be built on; a finding has said so already.
    Unusable(String),
}

/// Weighs one field.
pub(super) fn weigh(case: &Case) -> Outcome {
    let outcome = weigh_reading(case);
    let (Some(stale), Some(_), Some(_)) = (&case.stale, case.reading, case.magnification) else {
        return outcome;
    };
    match outcome {
        Outcome::Contradiction(why) => Outcome::Stale(format!("{why}; {stale}")),
        // Nothing but the reading would say where the lens stood.
        Outcome::Scaled | Outcome::Kept if case.best.is_none() => {
            let (reading, _) = case.reading.unwrap_or_default();
            let written = short(reading, 3);
            Outcome::Stale(format!("{}: recorded {written}{}, but {stale}", case.field, case.unit))
        }
        outcome => outcome,
    }
}

fn weigh_reading(case: &Case) -> Outcome {
    let Case { field, unit, .. } = case;
    if case.silent {
        return Outcome::Unsaid;
    }
    if case.unusable {
        return Outcome::Unusable(format!("{field}: what was noted cannot be used"));
    }
    let Some(reading) = case.reading else {
        return match (case.best, case.magnification) {
            (None, _) => Outcome::Unsaid,
            (Some(best), None) => Outcome::Ambiguous(format!(
                "{field}: the lens alone gives {}{unit}, but what stood between lens and camera is not known",
                short(best, 3)
            )),
            (Some(_), Some(_)) => Outcome::Filled,
        };
    };
    let written = format!("{field}: recorded {}{unit}", short(reading.0, 3));
    let Some((m, _)) = case.magnification else {
        return Outcome::Ambiguous(format!(
            "{written}, but what stood between lens and camera is not known"
        ));
    };
    let unchanged = case.unchanged();
    let by_reports = || match case.recorded_as() {
        Some(Reports::Marked) => Outcome::Scaled,
        Some(Reports::Reduced) => Outcome::Kept,
        Some(Reports::Nothing) | None => Outcome::Ambiguous(format!(
            "{written} can be the bare value or the one behind the attachment"
        )),
    };
    let (Some(native), Some((bare, behind))) = (&case.native, case.fits()) else {
        return if unchanged { Outcome::Kept } else { by_reports() };
    };
    if native.any_lens {
        let told = case.reports.is_some_and(|reports| reports != Reports::Nothing);
        return match (bare, behind) {
            _ if unchanged => Outcome::Kept,
            (true, false) if !told => Outcome::Scaled,
            (false, true) if !told => Outcome::Kept,
            // Fits what the lenses of the kit can show both ways, or neither: the kit may not have them all.
            _ => by_reports(),
        };
    }
    match (bare, behind) {
        (true, true) if unchanged => Outcome::Kept,
        (true, true) => by_reports(),
        (true, false) => Outcome::Scaled,
        (false, true) => Outcome::Kept,
        (false, false) => Outcome::Contradiction(match case.best {
            Some(best) if unchanged => {
                format!("{written}, notes and kit give {}{unit}", short(best, 3))
            }
            Some(best) => format!(
                "{written}, notes and kit give {}{unit} bare and {}{unit} behind the attachment",
                short(best, 3),
                short(best * m, 3)
            ),
            None => format!(
                "{written}, which the lens noted cannot show, bare or behind the attachment"
            ),
        }),
    }
}
