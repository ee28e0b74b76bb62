//! One verdict for each field that media may carry: weighing what was recorded against what should have been.

use crate::annotation::{Settled, Shot, Verdict};
use crate::estimate::{Cause, Estimate, rounding, together};
use crate::finding::{Code, Finding, Place};
use crate::kit::{Lens, Reports};
use crate::recorded::Reading;
use crate::sourced::{Basis, Known, Quantity, Sourced};
use crate::units::{FNumber, Factor, Meters, Millimeters, TNumber, Unit};

use super::focal::LensFocal;
use super::pick::Said;
use super::rig::Rig;
use super::stop::Ring;
use super::weigh::{Case, Outcome, weigh};
use super::{Scene, Trust};

/// The fields that media may carry, settled, and the lens alone as it was set.
pub(super) struct Settlement {
    pub(super) lens: Settled<Sourced<String>>,
    pub(super) lens_focal: Option<Quantity<Millimeters>>,
    pub(super) lens_f: Option<Quantity<FNumber>>,
    pub(super) lens_t: Option<Quantity<TNumber>>,
    pub(super) focal_length: Settled<Quantity<Millimeters>>,
    pub(super) f_number: Settled<Quantity<FNumber>>,
    pub(super) t_number: Settled<Quantity<TNumber>>,
    pub(super) focus_distance: Settled<Quantity<Meters>>,
    /// How the camera was set and stood, and who was there.
    pub(super) shot: Option<Box<Shot>>,
    /// The effective focal length, with the causes of its uncertainty kept apart.
    pub(super) focal: Option<Known<Millimeters>>,
    /// The effective f-number, likewise.
    pub(super) stop: Option<Known<FNumber>>,
    /// The attachment with which recorded and noted would agree, in words, where none is known or another one.
    pub(super) inferred: Option<String>,
}

/// Settles every field of one piece.
pub(super) fn settle(
    scene: &Scene<'_>,
    said: &Said<'_>,
    rig: &Rig<'_>,
    findings: &mut Vec<Finding>,
) -> Settlement {
    let mut bench = Bench::new(scene, said, rig, findings);
    let mut focal: LensFocal = bench.lens_focal();
    let Finished { settled: focal_length, known } = bench.focal_length(&focal);
    if bench.against_lens {
        // The media was trusted against the lens that was noted.
        focal = LensFocal::default();
    }
    let ring: Ring = bench.ring(bench.setting(&focal, known.as_ref()));
    let Finished { settled: f_number, known: stop } = bench.f_number(&ring, focal_length.verdict);
    bench.halves(focal_length.verdict, f_number.verdict);
    let t_number = bench.t_number(&ring);
    Settlement {
        focal_length,
        focal: known,
        f_number,
        stop,
        t_number,
        focus_distance: bench.focus_distance(),
        lens: bench.lens(),
        shot: bench.shot(),
        inferred: bench.inferred.take(),
        lens_focal: focal.best,
        lens_f: ring.f.filter(|_| !bench.against_stop),
        lens_t: ring.t.filter(|_| !bench.against_stop),
    }
}

/// Everything that settling one piece needs at hand. `focal`, `stop` and `agree` each settle their fields on it.
pub(super) struct Bench<'s, 'a> {
    pub(super) scene: &'s Scene<'s>,
    pub(super) said: &'s Said<'a>,
    pub(super) rig: &'s Rig<'s>,
    pub(super) findings: &'s mut Vec<Finding>,
    /// The media was trusted, and it shows another lens than the notes.
    pub(super) against_lens: bool,
    /// The media was trusted, and it shows another stop than the notes.
    pub(super) against_stop: bool,
    /// What would make recorded and noted focal length agree, in words.
    pub(super) inferred: Option<String>,
}

/// What came of weighing one field.
pub(super) struct Weighed {
    pub(super) outcome: Outcome,
    /// The media was taken against the notes, as asked.
    pub(super) against_notes: bool,
}

/// What is said beside an unresolved field.
#[derive(Default)]
pub(super) struct Aside {
    /// Behind the reason.
    pub(super) more: String,
    /// In place of the usual code.
    pub(super) code: Option<Code>,
}

impl<'s, 'a> Bench<'s, 'a> {
    pub(super) fn new(
        scene: &'s Scene<'s>,
        said: &'s Said<'a>,
        rig: &'s Rig<'s>,
        findings: &'s mut Vec<Finding>,
    ) -> Self {
        Self {
            scene,
            said,
            rig,
            findings,
            against_lens: false,
            against_stop: false,
            inferred: None,
        }
    }

    /// Adds a finding, at `place` if there is a cell to blame.
    pub(super) fn say(&mut self, code: Code, place: Option<&Place>, message: String, hint: &str) {
        let finding = self.scene.finding(code, message).hint(hint);
        self.findings.push(match place {
            Some(place) => finding.at(place.clone()),
            None => finding,
        });
    }

    /// The lens's entry in the kit.
    pub(super) fn lens_kit(&self) -> Option<&'s Lens> {
        self.rig.lens.as_ref().map(|lens| lens.value)
    }

    /// True if nobody said anything of the clip: no row, no default.
    pub(super) fn silent(&self) -> bool {
        self.said.nothing() && self.rig.lens.is_none() && self.rig.attachment.is_none()
    }

    /// Weighs one field, says what a person has to look at, and applies `--trust`.
    pub(super) fn weighed(&mut self, case: &Case, place: Option<&Place>, aside: &Aside) -> Weighed {
        let outcome = weigh(case);
        let place = place.or(self.said.attachment.said().map(|noted| &noted.place)).cloned();
        let done = |outcome| Weighed { outcome, against_notes: false };
        let (why, code, hint) = match &outcome {
            Outcome::Contradiction(why) => (
                why,
                Code::FieldContradiction,
                "check lens and attachment in the notes; with --trust notes or --trust media one of them is taken",
            ),
            Outcome::Ambiguous(why) => (
                why,
                Code::FieldAmbiguous,
                "note lens, stop and attachment, or say in the kit what the attachment reports",
            ),
            Outcome::Stale(why) => (
                why,
                Code::FieldStale,
                "note the focal length of these clips; with --trust notes the notes are taken",
            ),
            _ => {
                self.compare_reports(case, &outcome);
                return done(outcome);
            }
        };
        let possible = case.best.is_some() && case.magnification.is_some();
        if self.scene.trusts(Trust::Notes) && possible {
            let message = format!("{why}; the notes were taken, as asked");
            self.say(Code::FieldReplaced, place.as_ref(), message, "nothing to do");
            return done(Outcome::Replaced);
        }
        if self.scene.trusts(Trust::Media) && matches!(outcome, Outcome::Contradiction(_)) {
            let as_recorded = match case.recorded_as() {
                _ if case.unchanged() => Some(Outcome::Kept),
                Some(Reports::Marked) => Some(Outcome::Scaled),
                Some(Reports::Reduced) => Some(Outcome::Kept),
                Some(Reports::Nothing) | None => None,
            };
            if let Some(outcome) = as_recorded {
                let message = format!("{why}; the media was taken, as asked");
                self.say(Code::FieldKept, place.as_ref(), message, "nothing to do");
                return Weighed { outcome, against_notes: true };
            }
            let why = format!(
                "{why}; the media is trusted, but whether it has the bare value or the one behind the attachment is not known"
            );
            let hint = "say in the kit what the attachment reports";
            self.say(Code::FieldAmbiguous, place.as_ref(), why.clone(), hint);
            return done(Outcome::Ambiguous(why));
        }
        let code = aside.code.unwrap_or(code);
        self.say(code, place.as_ref(), format!("{why}{}", aside.more), hint);
        done(outcome)
    }

    /// A clear reading that is not what the kit says the attachment's contacts report.
    fn compare_reports(&mut self, case: &Case, outcome: &Outcome) {
        let what = match (outcome, case.reports) {
            _ if case.fits().is_none() || case.unchanged() => return,
            (Outcome::Scaled, Some(Reports::Reduced)) => "the bare value",
            (Outcome::Kept, Some(Reports::Marked)) => "the value behind it",
            _ => return,
        };
        let message = format!(
            "{}: the camera recorded {what}, the kit says the attachment reports otherwise",
            case.field
        );
        let hint = "nothing to do for this clip; correct reports in the kit if it is always so";
        self.say(Code::AttachmentReports, None, message, hint);
    }

    /// Says that a reading which fits both ways was read as is the habit.
    pub(super) fn say_habit(&mut self, case: &Case, outcome: &Outcome) {
        let told = case.reports.is_some_and(|reports| reports != Reports::Nothing);
        let both = case.fits().is_none_or(|(bare, behind)| bare == behind);
        let what = match outcome {
            _ if told || !both || case.unchanged() || case.reading.is_none() => return,
            Outcome::Scaled => "the value of the bare lens",
            Outcome::Kept => "the value behind the attachment",
            _ => return,
        };
        let because = if self.scene.habit.stated {
            "as asked on the command line"
        } else {
            "as other clips of this camera behind this attachment show"
        };
        let message =
            format!("{}: what the camera recorded was read as {what}, {because}", case.field);
        let hint = "nothing to do if that is so; else note the lens, or say in the kit what the attachment reports";
        self.say(Code::FieldHabit, None, message, hint);
    }
}

/// A reading as a quantity: rounding of the way it was written, and what such a number is worth.
pub(super) fn as_recorded<U: Unit>(reading: &Reading<U>, relative: f64) -> Quantity<U> {
    let by = together(rounding(reading.half_step), relative * reading.value.number());
    Quantity {
        value: reading.value,
        uncertainty: Some(by).filter(|u| u.is_finite()),
        basis: Basis::Recorded,
        origin: reading.origin.clone(),
    }
}

/// What one field can become, for the outcome of its weighing.
pub(super) struct Choice<'q, U> {
    /// The lens alone as far as notes and kit tell it.
    pub(super) best: Option<&'q Quantity<U>>,
    /// What gets scaled where the media had the bare value.
    pub(super) bare: Option<&'q Quantity<U>>,
    /// What the media recorded.
    pub(super) recorded: Option<Quantity<U>>,
    /// Why it may be off.
    pub(super) cause: Cause,
    /// What stood behind the lens scales this field by that much.
    pub(super) scale: Option<Estimate<Factor>>,
}

/// A field settled, and its value with the causes of its uncertainty kept apart.
pub(super) struct Finished<U> {
    pub(super) settled: Settled<Quantity<U>>,
    pub(super) known: Option<Known<U>>,
}

/// The settled field for an outcome.
pub(super) fn finish<U: Unit>(
    outcome: Outcome,
    choice: Choice<'_, U>,
    scaled: impl Fn(&Quantity<U>) -> Option<Known<U>>,
) -> Finished<U> {
    let Choice { best, bare, recorded, cause, scale } = choice;
    let kept = || {
        let recorded = recorded.as_ref()?;
        // What the camera calls the value behind the attachment is worked out from the attachment's mark.
        let by = scale.and_then(|m| Some(m.relative()? * recorded.value.number()));
        let estimate = match scale {
            Some(_) => recorded.estimate(cause).also(Cause::Magnification, by),
            None => recorded.estimate(cause),
        };
        Some(Known { estimate, ..recorded.known(cause) })
    };
    let (verdict, known, reason) = match outcome {
        Outcome::Unsaid => (None, None, String::new()),
        Outcome::Filled => (
            Some(Verdict::Filled),
            best.and_then(scaled),
            "the media had nothing; from notes and kit".to_owned(),
        ),
        Outcome::Scaled => (
            Some(Verdict::Scaled),
            bare.and_then(scaled),
            "the media had the value of the lens alone".to_owned(),
        ),
        Outcome::Kept => (
            Some(Verdict::Kept),
            kept(),
            "the media was already right: it had the value behind the attachment, or none changed it"
                .to_owned(),
        ),
        Outcome::Replaced => (
            Some(Verdict::Replaced),
            best.and_then(scaled),
            "the notes were trusted, as asked".to_owned(),
        ),
        Outcome::Contradiction(why)
        | Outcome::Ambiguous(why)
        | Outcome::Stale(why)
        | Outcome::Unusable(why) => {
            (Some(Verdict::Unresolved), None, why)
        }
    };
    let value = known.as_ref().map(Known::quantity);
    Finished { settled: Settled { verdict, value, recorded, reason }, known }
}
