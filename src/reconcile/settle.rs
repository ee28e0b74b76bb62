//! Weighing what was recorded against what should have been recorded: one verdict for each field.

use crate::annotation::{Settled, Verdict};
use crate::finding::{Code, Finding, Place};
use crate::kit::{IrisScale, Lens, Reports};
use crate::notes::StopNote;
use crate::number::short;
use crate::optics::attachment as behind;
use crate::optics::spread;
use crate::recorded::Reading;
use crate::sourced::{Basis, Origin, Quantity, Sourced};
use crate::stops;
use crate::units::{FNumber, Factor, Meters, Millimeters, TNumber, Unit};

use super::pick::Said;
use super::rig::{Rig, lens_called};
use super::weigh::{Case, Native, Outcome, weigh};
use super::{Scene, Trust};

/// Standard uncertainty of a stop set by hand: a tenth of a stop, as a part of the number (common practice, no source).
const SETTING: f64 = 0.0347;
/// How far a recorded stop may lie from the ring's: a sixth of a stop, half of the finest marks (common practice, no source).
const STOP_TOLERANCE: f64 = 0.0595;
/// How far a recorded focus distance may lie from the noted one (common practice, no source).
const FOCUS_TOLERANCE: f64 = 0.05;

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
}

/// Settles every field of one piece.
pub(super) fn settle(
    scene: &Scene<'_>,
    said: &Said<'_>,
    rig: &Rig<'_>,
    findings: &mut Vec<Finding>,
) -> Settlement {
    let mut bench = Bench { scene, said, rig, findings };
    let focal = bench.lens_focal();
    let (lens_f, lens_t, stop_wrong) = bench.lens_stops();
    let focal_length = bench.focal_length(&focal);
    let f_number = bench.f_number(lens_f.as_ref(), stop_wrong);
    let t_number = bench.t_number(lens_t.as_ref(), stop_wrong);
    Settlement {
        lens: bench.lens(),
        lens_focal: focal.best,
        lens_f,
        lens_t,
        focal_length,
        f_number,
        t_number,
        focus_distance: bench.focus(),
    }
}

/// The lens alone, as far as notes and kit tell its focal length.
struct LensFocal {
    best: Option<Quantity<Millimeters>>,
    native: Option<Native>,
    /// Notes and kit exclude each other; nothing may be built on them.
    wrong: bool,
}

struct Bench<'s, 'a> {
    scene: &'s Scene<'s>,
    said: &'s Said<'a>,
    rig: &'s Rig<'s>,
    findings: &'s mut Vec<Finding>,
}

impl Bench<'_, '_> {
    fn say(&mut self, code: Code, place: Option<&Place>, message: String, hint: &str) {
        let finding = self.scene.finding(code, message).hint(hint);
        self.findings.push(match place {
            Some(place) => finding.at(place.clone()),
            None => finding,
        });
    }

    fn lens_kit(&self) -> Option<&Lens> {
        self.rig.lens.as_ref().map(|lens| lens.value)
    }

    fn lens_focal(&mut self) -> LensFocal {
        let noted = self.said.focal;
        let nothing = |wrong| LensFocal { best: None, native: None, wrong };
        if self.said.focal_disputed {
            return nothing(true);
        }
        let relative = self.scene.kit.marked_focal;
        let from_note = noted.map(|noted| Quantity {
            value: noted.value,
            uncertainty: Some(relative * noted.value.get()),
            basis: Basis::Nominal,
            origin: noted.origin.clone(),
        });
        let Some(lens) = self.lens_kit() else {
            let native = from_note.as_ref().map(Native::around);
            return LensFocal { native, best: from_note, wrong: false };
        };
        if let Some((low, high)) = lens.range {
            let message =
                noted.filter(|noted| noted.value < low || noted.value > high).map(|noted| {
                    format!(
                        "{} was noted, but {} goes from {} to {} mm",
                        noted.typed,
                        lens.name,
                        short(low.get(), 2),
                        short(high.get(), 2)
                    )
                });
            if let Some(message) = message {
                self.say(
                    Code::LensFocal,
                    noted.map(|n| &n.place),
                    message,
                    "check which lens was on; the focal length is left out",
                );
                return nothing(true);
            }
            let native = from_note.as_ref().map_or_else(
                || Native::between(low.get() * (1.0 - relative), high.get() * (1.0 + relative)),
                Native::around,
            );
            return LensFocal { native: Some(native), best: from_note, wrong: false };
        }
        let mark = lens.marked_focal;
        let differs = |noted: Millimeters| {
            mark.or(lens.focal.as_ref().map(|f| f.value))
                .is_some_and(|mark| (mark.get() / noted.get() - 1.0).abs() > 0.02)
        };
        if let Some(noted) = noted.filter(|noted| differs(noted.value)) {
            let message = format!(
                "{} was noted, but {} is a prime of {} mm",
                noted.typed,
                lens.name,
                mark.map_or_else(String::new, |m| short(m.get(), 2))
            );
            self.say(
                Code::LensFocal,
                Some(&noted.place),
                message,
                "check which lens was on; the focal length is left out",
            );
            return nothing(true);
        }
        let best = lens.focal.clone();
        let native =
            best.as_ref().map(|best| Native::around(best).marked(mark.map(Millimeters::get)));
        LensFocal { best, native, wrong: false }
    }

    /// The stop on the ring as f and as T, and whether what was noted cannot be.
    fn lens_stops(&mut self) -> (Option<Quantity<FNumber>>, Option<Quantity<TNumber>>, bool) {
        if self.said.stop_disputed {
            return (None, None, true);
        }
        let Some(noted) = self.said.stop else {
            return (None, None, false);
        };
        let lens = self.lens_kit();
        let set = |relative: f64| (Some(relative), Basis::Nominal, noted.origin.clone());
        let f = |value: FNumber| {
            let (u, basis, origin) = set(SETTING);
            Quantity { value, uncertainty: u.map(|u| u * value.get()), basis, origin }
        };
        let t = |value: TNumber| {
            let (u, basis, origin) = set(SETTING);
            Quantity { value, uncertainty: u.map(|u| u * value.get()), basis, origin }
        };
        let scale = lens.and_then(|lens| lens.scale);
        let (n, t) = match (noted.value, scale) {
            (StopNote::F(n), _) => (Some(f(n)), None),
            (StopNote::T(number), _) => (None, Some(t(number))),
            (StopNote::Unsaid(number), Some(IrisScale::F)) => (FNumber::new(number).map(f), None),
            (StopNote::Unsaid(number), Some(IrisScale::T)) => (None, TNumber::new(number).map(t)),
            (StopNote::Unsaid(_), None) => {
                let message = format!(
                    "stop {}: f or T? the kit does not say what stands on the ring",
                    noted.typed
                );
                self.say(Code::LensStop, Some(&noted.place), message, "write f/ or T before the number, or give the lens scale = \"f\" or \"T\" in the kit");
                return (None, None, true);
            }
            (StopNote::WideOpen, _) => {
                let f_max = lens.and_then(|lens| lens.f_max.as_ref()).map(|q| f(q.value));
                let t_max = lens.and_then(|lens| lens.t_max.as_ref()).map(|q| t(q.value));
                if f_max.is_none() && t_max.is_none() {
                    self.say(
                        Code::LensStop,
                        Some(&noted.place),
                        "wide open was noted, but the kit does not say how far the lens opens"
                            .to_owned(),
                        "add f-max or t-max to the lens in the kit",
                    );
                    return (None, None, true);
                }
                (f_max, t_max)
            }
        };
        let wider = |number: f64, most: Option<f64>| {
            most.is_some_and(|most| number < most * (1.0 - STOP_TOLERANCE))
        };
        let too_wide = n.as_ref().is_some_and(|n| {
            wider(n.value.get(), lens.and_then(|l| l.f_max.as_ref()).map(|q| q.value.get()))
        }) || t.as_ref().is_some_and(|t| {
            wider(t.value.get(), lens.and_then(|l| l.t_max.as_ref()).map(|q| q.value.get()))
        });
        if too_wide {
            let message = format!(
                "stop {} was noted, but {} does not open that far",
                noted.typed,
                lens.map_or("the lens", |lens| &lens.name)
            );
            self.say(Code::LensStop, Some(&noted.place), message, "note the stop on the lens, not the one behind the attachment; the stop is left out");
            return (None, None, true);
        }
        let (n, t) = convert(n, t, lens);
        (n, t, false)
    }

    fn focal_length(&mut self, focal: &LensFocal) -> Settled<Quantity<Millimeters>> {
        let m = self.rig.magnification();
        let marked = self.scene.kit.marked_focal;
        let case = Case {
            field: "focal length",
            unit: " mm",
            reading: self.scene.media.focal_length.as_ref().map(|r| (r.value.get(), r.half_step)),
            native: focal.native.clone(),
            best: focal.best.as_ref().map(|q| q.value.get()),
            wrong: focal.wrong,
            magnification: m.as_ref().map(|m| (m.value.get(), m.relative().unwrap_or(0.0))),
            reports: self.rig.on().and_then(|attachment| attachment.reports_focal),
            silent: self.said.nothing() && self.rig.lens.is_none() && self.rig.attachment.is_none(),
            zoom: self.lens_kit().is_some_and(Lens::is_zoom),
        };
        let place = self.said.focal.map(|n| &n.place).or(self.said.lens.map(|n| &n.place));
        let outcome = self.weighed(&case, place, &self.candidates());
        let reading = self.scene.media.focal_length.as_ref();
        let recorded = reading.map(|reading| as_recorded(reading, marked));
        let scale = |native: &Quantity<Millimeters>| {
            let m = m.as_ref()?;
            let value = behind::focal_length(native.value, m.value)?;
            Some(scaled(
                value,
                native,
                m,
                "effective focal length = magnification x focal length of the lens",
            ))
        };
        finish(outcome, focal.best.as_ref(), recorded, case.zoom, scale)
    }

    fn f_number(
        &mut self,
        lens: Option<&Quantity<FNumber>>,
        wrong: bool,
    ) -> Settled<Quantity<FNumber>> {
        let m = self.rig.magnification();
        let case = Case {
            field: "f-number",
            unit: "",
            reading: self.scene.media.f_number.as_ref().map(|r| (r.value.get(), r.half_step)),
            native: lens.map(|n| Native::within(n.value.get(), STOP_TOLERANCE)),
            best: lens.map(|q| q.value.get()),
            wrong,
            magnification: m.as_ref().map(|m| (m.value.get(), m.relative().unwrap_or(0.0))),
            reports: self.rig.on().and_then(|attachment| attachment.reports_stop),
            silent: self.said.nothing() && self.rig.lens.is_none() && self.rig.attachment.is_none(),
            zoom: false,
        };
        let outcome = self.weighed(&case, self.said.stop.map(|n| &n.place), "");
        let recorded =
            self.scene.media.f_number.as_ref().map(|reading| as_recorded(reading, SETTING));
        // Cameras write the mark; what is scaled is the exact number behind it.
        let exact = recorded.as_ref().and_then(|q| {
            Some(Quantity { value: FNumber::new(stops::exact(q.value.get()).number)?, ..q.clone() })
        });
        let scale = |native: &Quantity<FNumber>| {
            let m = m.as_ref()?;
            let value = behind::f_number(native.value, m.value)?;
            Some(scaled(
                value,
                native,
                m,
                "effective f-number = magnification x f-number on the lens",
            ))
        };
        let mut settled = finish(outcome, lens.or(exact.as_ref()), recorded, false, scale);
        if settled.verdict.is_none() && lens.is_none() && self.said.stop.is_some() && !wrong {
            "the stop is noted as T; an f-number needs the lens's transmittance"
                .clone_into(&mut settled.reason);
        }
        settled
    }

    fn t_number(
        &mut self,
        lens: Option<&Quantity<TNumber>>,
        wrong: bool,
    ) -> Settled<Quantity<TNumber>> {
        let m = self.rig.magnification();
        let glass = self.rig.glass();
        // T scales by m over the root of the glass's transmittance; with that unknown, T behind it is too.
        let one = TNumber::new(1.0);
        let factor = m
            .as_ref()
            .zip(glass.as_ref())
            .zip(one)
            .and_then(|((m, glass), one)| behind::t_number(one, m.value, glass.value));
        let relative = m.as_ref().zip(glass.as_ref()).map(|(m, glass)| {
            spread::product(&[m.relative(), glass.relative().map(|u| u / 2.0)]).unwrap_or(0.0)
        });
        let reading = self.scene.media.t_number.as_ref();
        if m.is_some() && glass.is_none() && reading.is_none() {
            let mut settled = Settled::unsaid();
            if lens.is_some() {
                "the kit does not state the transmittance of the attachment's glass"
                    .clone_into(&mut settled.reason);
            }
            return settled;
        }
        let case = Case {
            field: "T-number",
            unit: "",
            reading: reading.map(|r| (r.value.get(), r.half_step)),
            native: lens.map(|t| Native::within(t.value.get(), STOP_TOLERANCE)),
            best: lens.map(|q| q.value.get()),
            wrong,
            magnification: factor.zip(relative).map(|(f, relative)| (f.get(), relative)),
            reports: self.rig.on().and_then(|attachment| attachment.reports_stop),
            silent: self.said.nothing() && self.rig.lens.is_none() && self.rig.attachment.is_none(),
            zoom: false,
        };
        let outcome = self.weighed(&case, self.said.stop.map(|n| &n.place), "");
        let recorded = reading.map(|reading| as_recorded(reading, SETTING));
        let scale = |native: &Quantity<TNumber>| {
            let (m, glass) = (m.as_ref()?, glass.as_ref()?);
            let value = behind::t_number(native.value, m.value, glass.value)?;
            let relative = spread::product(&[
                native.relative(),
                m.relative(),
                glass.relative().map(|u| u / 2.0),
            ]);
            Some(Quantity {
                value,
                uncertainty: relative.map(|r| r * value.get()),
                basis: native.basis.weaker(m.basis).weaker(glass.basis),
                origin: Origin::Computed(
                    "effective T-number = magnification x T-number on the lens / root of the attachment's transmittance",
                ),
            })
        };
        finish(outcome, lens.or(recorded.as_ref()), recorded.clone(), false, scale)
    }

    /// Focus distances are measured to the sensor plane mark; an attachment does not change them.
    fn focus(&mut self) -> Settled<Quantity<Meters>> {
        let recorded = self
            .scene
            .media
            .focus_distance
            .as_ref()
            .map(|reading| as_recorded(reading, FOCUS_TOLERANCE));
        let noted = self.said.focus.map(|noted| Quantity {
            value: noted.value,
            uncertainty: noted
                .value
                .get()
                .is_finite()
                .then_some(FOCUS_TOLERANCE * noted.value.get()),
            basis: Basis::Nominal,
            origin: noted.origin.clone(),
        });
        let settled = |verdict, value: &Quantity<Meters>, recorded, reason: &str| Settled {
            verdict: Some(verdict),
            value: Some(value.clone()),
            recorded,
            reason: reason.to_owned(),
        };
        match (recorded, noted) {
            (None, None) => Settled::unsaid(),
            (None, Some(noted)) => settled(Verdict::Filled, &noted, None, "as noted"),
            (Some(recorded), None) => settled(
                Verdict::Kept,
                &recorded,
                Some(recorded.clone()),
                "an attachment does not change focus distance",
            ),
            (Some(recorded), Some(noted)) => {
                let (r, n) = (recorded.value.get(), noted.value.get());
                let half = self
                    .scene
                    .media
                    .focus_distance
                    .as_ref()
                    .map_or(0.0, |reading| reading.half_step);
                let reach = half + 2.0 * FOCUS_TOLERANCE * n;
                if (r.is_infinite() && n.is_infinite()) || (r - n).abs() <= reach {
                    return settled(
                        Verdict::Kept,
                        &recorded,
                        Some(recorded.clone()),
                        "agrees with the notes",
                    );
                }
                if self.scene.trust == Trust::Notes {
                    return settled(
                        Verdict::Replaced,
                        &noted,
                        Some(recorded),
                        "the notes were trusted, as asked",
                    );
                }
                let message =
                    format!("focus distance: recorded {} m, noted {} m", short(r, 3), short(n, 3));
                let place = self.said.focus.map(|n| &n.place);
                self.say(
                    Code::FieldContradiction,
                    place,
                    message.clone(),
                    "check the note; with --trust notes the notes are taken",
                );
                Settled {
                    verdict: Some(Verdict::Unresolved),
                    value: None,
                    recorded: Some(recorded),
                    reason: message,
                }
            }
        }
    }

    fn lens(&mut self) -> Settled<Sourced<String>> {
        let recorded = self.scene.media.lens.clone();
        let known = self
            .rig
            .lens
            .as_ref()
            .map(|lens| Sourced::new(lens.value.name.clone(), lens.origin.clone()));
        match (recorded, known) {
            (None, None) => Settled::unsaid(),
            (None, Some(known)) => Settled {
                verdict: Some(Verdict::Filled),
                value: Some(known),
                recorded: None,
                reason: "from notes or kit".to_owned(),
            },
            (Some(recorded), None) if self.said.lens.is_some() || self.said.lens_disputed => {
                Settled {
                    verdict: Some(Verdict::Unresolved),
                    value: None,
                    reason: "the lens noted is not clear".to_owned(),
                    recorded: Some(recorded),
                }
            }
            (Some(recorded), None) => Settled {
                verdict: Some(Verdict::Kept),
                value: Some(recorded.clone()),
                recorded: Some(recorded),
                reason: "nothing else was noted".to_owned(),
            },
            (Some(recorded), Some(known)) => {
                let same =
                    lens_called(&self.scene.kit.lenses, &recorded.value).ok().map(|lens| &lens.id)
                        == self.lens_kit().map(|lens| &lens.id);
                if same {
                    return Settled {
                        verdict: Some(Verdict::Kept),
                        value: Some(known),
                        recorded: Some(recorded),
                        reason: "agrees with notes and kit".to_owned(),
                    };
                }
                if self.scene.trust == Trust::Notes {
                    return Settled {
                        verdict: Some(Verdict::Replaced),
                        value: Some(known),
                        recorded: Some(recorded),
                        reason: "the notes were trusted, as asked".to_owned(),
                    };
                }
                let message =
                    format!("lens: recorded \"{}\", noted \"{}\"", recorded.value, known.value);
                let place = self.said.lens.map(|n| &n.place);
                self.say(Code::FieldContradiction, place, message.clone(), "if both are the same lens, add the recorded name to its aliases in the kit; else check the note");
                Settled {
                    verdict: Some(Verdict::Unresolved),
                    value: None,
                    recorded: Some(recorded),
                    reason: message,
                }
            }
        }
    }

    /// What a recorded focal length could be, in words, when no lens is noted.
    fn candidates(&self) -> String {
        let (Some(reading), Some(m)) = (&self.scene.media.focal_length, self.rig.magnification())
        else {
            return String::new();
        };
        let near = |lens: &&Lens, scale: Factor| {
            let reach = reading.half_step + 0.02 * reading.value.get();
            lens.marked_focal
                .is_some_and(|mark| (mark.get() * scale.get() - reading.value.get()).abs() <= reach)
        };
        let Some(one) = Factor::new(1.0) else {
            return String::new();
        };
        let lenses = &self.scene.kit.lenses;
        let named = |scale: Factor, how: &str| {
            lenses.iter().find(|lens| near(lens, scale)).map(|lens| format!("{how} {}", lens.name))
        };
        match (named(one, "a bare"), named(m.value, "a reduced")) {
            (Some(bare), Some(reduced)) => format!("; it may be {bare} or {reduced}"),
            _ => String::new(),
        }
    }

    /// Weighs one field, says what a person has to look at, and applies `--trust`.
    fn weighed(&mut self, case: &Case, place: Option<&Place>, more: &str) -> Outcome {
        let outcome = weigh(case);
        let place = place.or(self.said.attachment.map(|noted| &noted.place)).cloned();
        match &outcome {
            Outcome::Contradiction(why) | Outcome::Ambiguous(why) => {
                let possible = case.best.is_some() && case.magnification.is_some() && !case.wrong;
                if self.scene.trust == Trust::Notes && possible {
                    let message = format!("{why}; the notes were taken, as asked");
                    self.say(Code::FieldReplaced, place.as_ref(), message, "nothing to do");
                    return Outcome::Replaced;
                }
                let contradiction = matches!(outcome, Outcome::Contradiction(_));
                let (code, hint) = if contradiction {
                    (
                        Code::FieldContradiction,
                        "check lens and attachment in the notes; with --trust notes the notes are taken",
                    )
                } else {
                    (
                        Code::FieldAmbiguous,
                        "note lens, stop and attachment, or say in the kit what the attachment reports",
                    )
                };
                self.say(code, place.as_ref(), format!("{why}{more}"), hint);
            }
            Outcome::Scaled if case.reports == Some(Reports::Reduced) && case.native.is_some() => {
                self.odd(case, "the bare value")
            }
            Outcome::Kept if case.reports == Some(Reports::Marked) && case.native.is_some() => {
                self.odd(case, "the value behind it")
            }
            _ => {}
        }
        outcome
    }

    fn odd(&mut self, case: &Case, what: &str) {
        let message = format!(
            "{}: the camera recorded {what}, the kit says the attachment reports otherwise",
            case.field
        );
        self.say(
            Code::AttachmentReports,
            None,
            message,
            "nothing to do for this clip; correct reports in the kit if it is always so",
        );
    }
}

/// Each of f and T from the other where the transmittance of the lens is known.
fn convert(
    n: Option<Quantity<FNumber>>,
    t: Option<Quantity<TNumber>>,
    lens: Option<&Lens>,
) -> (Option<Quantity<FNumber>>, Option<Quantity<TNumber>>) {
    let Some(tau) = lens.and_then(|lens| lens.transmittance.as_ref()) else {
        return (n, t);
    };
    let half = tau.relative().map(|u| u / 2.0);
    let made = |number: f64, relative: Option<f64>, basis: Basis| {
        (spread::product(&[relative, half]).map(|u| u * number), basis.weaker(tau.basis))
    };
    let n_from_t = t.as_ref().and_then(|t| {
        let value = behind::f_from_t(t.value, tau.value)?;
        let (uncertainty, basis) = made(value.get(), t.relative(), t.basis);
        Some(Quantity {
            value,
            uncertainty,
            basis,
            origin: Origin::Computed("f-number = T-number x root of the lens's transmittance"),
        })
    });
    let t_from_n = n.as_ref().and_then(|n| {
        let value = behind::t_from_f(n.value, tau.value)?;
        let (uncertainty, basis) = made(value.get(), n.relative(), n.basis);
        Some(Quantity {
            value,
            uncertainty,
            basis,
            origin: Origin::Computed("T-number = f-number / root of the lens's transmittance"),
        })
    });
    (n.or(n_from_t), t.or(t_from_n))
}

/// A reading as a quantity: rounding of the way it was written, and what such a number is worth.
fn as_recorded<U: Unit>(reading: &Reading<U>, relative: f64) -> Quantity<U> {
    let number = reading.value.number();
    let spread = spread::sum(&[Some(spread::rounding(reading.half_step)), Some(relative * number)]);
    Quantity {
        value: reading.value,
        uncertainty: spread.filter(|u| u.is_finite()),
        basis: Basis::Recorded,
        origin: reading.origin.clone(),
    }
}

fn scaled<U: Unit>(
    value: U,
    native: &Quantity<U>,
    m: &Quantity<Factor>,
    rule: &'static str,
) -> Quantity<U> {
    let relative = spread::product(&[native.relative(), m.relative()]);
    Quantity {
        value,
        uncertainty: relative.map(|r| r * value.number()),
        basis: native.basis.weaker(m.basis),
        origin: Origin::Computed(rule),
    }
}

/// The settled field for an outcome. A zoom that recorded its own setting is scaled from that: it is finer than a note.
fn finish<U: Unit>(
    outcome: Outcome,
    best: Option<&Quantity<U>>,
    recorded: Option<Quantity<U>>,
    zoom: bool,
    scale: impl Fn(&Quantity<U>) -> Option<Quantity<U>>,
) -> Settled<Quantity<U>> {
    let (verdict, value, reason) = match outcome {
        Outcome::Unsaid => {
            return Settled { recorded, ..Settled::unsaid() };
        }
        Outcome::Filled => (
            Verdict::Filled,
            best.and_then(&scale),
            "the media had nothing; from notes and kit".to_owned(),
        ),
        Outcome::Scaled => {
            let native = if zoom { recorded.as_ref() } else { best.or(recorded.as_ref()) };
            (
                Verdict::Scaled,
                native.and_then(&scale),
                "the media had the value without the attachment".to_owned(),
            )
        }
        Outcome::Kept => (
            Verdict::Kept,
            recorded.clone(),
            "the media already had the value behind the attachment, or there was none to apply"
                .to_owned(),
        ),
        Outcome::Replaced => (
            Verdict::Replaced,
            best.and_then(&scale),
            "the notes were trusted, as asked".to_owned(),
        ),
        Outcome::Contradiction(why) | Outcome::Ambiguous(why) => (Verdict::Unresolved, None, why),
    };
    Settled { verdict: Some(verdict), value, recorded, reason }
}
