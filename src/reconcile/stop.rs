//! The stop: what the ring stood at, in f and in T, and what each came out as behind the attachment.
//!
//! f and T are different quantities. One follows from the other only where the lens's transmittance is known.

use crate::annotation::{Settled, Verdict};
use crate::estimate::{Cause, Estimate};
use crate::finding::Code;
use crate::kit::{IrisScale, Lens};
use crate::notes::{Noted, StopNote};
use crate::optics::attachment as behind;
use crate::recorded::Reading;
use crate::sourced::{Basis, Known, Quantity};
use crate::stops;
use crate::units::{FNumber, Factor, Millimeters, TNumber, Transmittance, Unit};

use super::settle::{Aside, Bench, Choice, Finished, Weighed, as_recorded, finish};
use super::weigh::{Case, Native};

/// How far a recorded stop may lie from the ring's: a sixth of a stop, half of the finest marks (common practice, no source).
const TOLERANCE: f64 = 0.0595;

/// How far two spellings of one mark may lie apart, such as 1.25 and 1.26: less than any two marks do.
const SAME_MARK: f64 = 0.01;
/// Farther than any ring closes.
const SMALLEST: f64 = 1000.0;

/// What the iris ring stood at.
#[derive(Default)]
pub(super) struct Ring {
    pub(super) f: Option<Quantity<FNumber>>,
    pub(super) t: Option<Quantity<TNumber>>,
    /// Where the ring of a zoom stood, for its largest opening there.
    setting: Option<Millimeters>,
    /// Rows disagree, or the note cannot be: nothing may be built on it.
    unusable: bool,
}

impl Ring {
    fn unusable() -> Self {
        Self { unusable: true, ..Self::default() }
    }
}

impl Bench<'_, '_> {
    /// What the notes say of the ring, in f and T where both can be known. A zoom may open less far at its long end.
    pub(super) fn ring(&mut self, setting: Option<Millimeters>) -> Ring {
        if self.said.stop.disputed() {
            return Ring::unusable();
        }
        let Some(noted) = self.said.stop.said() else {
            return Ring { setting, ..Ring::default() };
        };
        let lens = self.lens_kit();
        let scale = lens.and_then(|lens| lens.scale);
        let (f, t) = match (noted.value, scale) {
            (StopNote::F(n), _) => (Some(n), None),
            (StopNote::T(t), _) => (None, Some(t)),
            (StopNote::Unsaid(number), Some(IrisScale::F)) => (FNumber::new(number), None),
            (StopNote::Unsaid(number), Some(IrisScale::T)) => (None, TNumber::new(number)),
            (StopNote::Unsaid(_), None) => {
                self.say_f_or_t(noted, lens);
                return Ring::unusable();
            }
            (StopNote::WideOpen, _) => {
                let f_max = lens.and_then(|lens| lens.f_max_at(setting)).map(|n| n.value);
                let t_max = lens.and_then(|lens| lens.t_max_at(setting)).map(|t| t.value);
                if lens.is_none() && self.said.lens.said().is_some() {
                    // A lens that the kit does not have was said already.
                    return Ring::unusable();
                }
                let ramps = setting.is_none() && lens.is_some_and(Lens::ramps);
                if ramps || (f_max.is_none() && t_max.is_none()) {
                    let message = "wide open was noted, but how far the lens opens is not known";
                    let hint = "note the number, or the zoom setting, or add f-max or t-max to the lens in the kit";
                    self.say(Code::LensStop, Some(&noted.place), message.to_owned(), hint);
                    return Ring::unusable();
                }
                (f_max, t_max)
            }
        };
        if let Some(lens) = lens.filter(|lens| too_wide(lens, setting, f, t)) {
            let message =
                format!("stop {} was noted, but {} does not open that far", noted.typed, lens.name);
            let hint = "note the stop on the lens, not the one behind the attachment; the stop is left out";
            self.say(Code::LensStop, Some(&noted.place), message, hint);
            return Ring::unusable();
        }
        let relative = self.scene.kit.defaults.stop;
        let (f, t) = (f.map(|f| set(f, relative, noted)), t.map(|t| set(t, relative, noted)));
        let ring = convert(f, t, lens.and_then(|lens| lens.transmittance_at(setting)).as_ref());
        Ring { setting, ..ring }
    }

    fn say_f_or_t(&mut self, noted: &Noted<StopNote>, lens: Option<&Lens>) {
        let stop = &noted.typed;
        let (message, hint) = match lens {
            Some(lens) => (
                format!(
                    "stop {stop}: f or T? the kit does not say what stands on the ring of {}",
                    lens.name
                ),
                "write f/ or T before the number, or give the lens scale = \"f\" or \"T\" in the kit",
            ),
            // A lens that the kit does not have was said already.
            None if self.said.lens.said().is_some() => return,
            None => (
                format!("stop {stop}: f or T? the lens is not known"),
                "note the lens, or write f/ or T before the number",
            ),
        };
        self.say(Code::LensStop, Some(&noted.place), message, hint);
    }

    /// The f-number, ready to be weighed.
    pub(super) fn stop_case(&self, ring: &Ring) -> Case {
        let m = self.rig.magnification();
        let scale = m.as_ref().map(|m| (m.value.get(), m.relative().unwrap_or(0.0)));
        let case = self.case("f-number", ring.unusable, ring.f.as_ref(), scale);
        let widest = self.lens_kit().and_then(|lens| lens.f_max_at(ring.setting));
        let native = case.native.or_else(|| Some(opens_to(widest?.value.get())));
        let reading = self.scene.media.f_number.as_ref();
        Case { reading: reading.map(|r| (r.value.get(), step(r))), native, ..case }
    }

    /// The effective f-number.
    pub(super) fn f_number(&mut self, ring: &Ring, focal: Option<Verdict>) -> Finished<FNumber> {
        let m = self.rig.magnification();
        let reading = self.scene.media.f_number.as_ref();
        let case = self.stop_case(ring);
        // What was asked says that the bare lens was recorded; a focal length that shows otherwise speaks against it.
        let habit = case.habit.filter(|_| !self.scene.habit.stated || focal != Some(Verdict::Kept));
        let case = Case { habit, ..case };
        let place = self.said.stop.said().map(|noted| &noted.place);
        let Weighed { outcome, against_notes } = self.weighed(&case, place, &Aside::default());
        self.against_stop |= against_notes;
        self.say_habit(&case, &outcome);
        let recorded = reading.map(|reading| as_recorded(reading, self.scene.kit.defaults.stop));
        // Cameras write the mark; what is scaled is the exact number behind it.
        let exact = recorded.as_ref().and_then(|recorded| {
            let value = FNumber::new(stops::exact(recorded.value.get()).number)?;
            Some(Quantity { value, ..recorded.clone() })
        });
        let bare = ring.f.as_ref().filter(|_| !against_notes).or(exact.as_ref());
        let m = m.as_ref().map(|m| m.known(Cause::Magnification));
        let choice = Choice {
            best: ring.f.as_ref(),
            bare,
            recorded: recorded.clone(),
            cause: Cause::Stop,
            scale: m.as_ref().map(|m| m.estimate),
        };
        let mut finished = finish(outcome, choice, |native| {
            let m = m.as_ref()?;
            let value = behind::f_number(native.estimate(Cause::Stop), m.estimate)?;
            let rule = "effective f-number = magnification x f-number on the lens";
            Some(Known::computed(value, native.basis.weaker(m.binding()), rule))
        });
        if finished.settled.verdict.is_none() && ring.t.is_some() {
            "the stop is noted as T; an f-number needs the lens's transmittance"
                .clone_into(&mut finished.settled.reason);
        }
        finished
    }

    /// The effective T-number. It scales by m over the root of the glass's transmittance; with that unknown, so is T behind it.
    pub(super) fn t_number(&mut self, ring: &Ring) -> Settled<Quantity<TNumber>> {
        let reading = self.scene.media.t_number.as_ref();
        let m = self.rig.magnification();
        let glass = self.rig.glass();
        if m.is_some() && glass.is_none() && reading.is_none() {
            let mut settled = Settled::unsaid();
            if ring.t.is_some() {
                let name = self.rig.on().map_or("the attachment", |attachment| &attachment.name);
                let message = format!(
                    "the T-number behind {name} is not known: the kit does not state the transmittance of its glass"
                );
                settled.reason.clone_from(&message);
                let hint = "add transmittance to the attachment in the kit, from its data sheet or a measurement";
                self.say(Code::AttachmentGlass, None, message, hint);
            }
            return settled;
        }
        let both = m.as_ref().zip(glass.as_ref()).and_then(|(m, glass)| {
            let estimates = (m.estimate(Cause::Magnification), glass.estimate(Cause::Glass));
            let one = Estimate::exact(TNumber::new(1.0)?);
            let factor =
                behind::t_number(one, estimates.0, estimates.1)?.bare().unit::<Factor>()?;
            Some((estimates, factor, m.binding().weaker(glass.binding())))
        });
        let scale = both.map(|(_, factor, _)| factor);
        let scale = scale.map(|scale| (scale.value.get(), scale.relative().unwrap_or(0.0)));
        let case = self.case("T-number", ring.unusable, ring.t.as_ref(), scale);
        let widest = self.lens_kit().and_then(|lens| lens.t_max_at(ring.setting));
        let native = case.native.or_else(|| Some(opens_to(widest?.value.get())));
        let case = Case { reading: reading.map(|r| (r.value.get(), step(r))), native, ..case };
        let place = self.said.stop.said().map(|noted| &noted.place);
        let Weighed { outcome, against_notes } = self.weighed(&case, place, &Aside::default());
        self.against_stop |= against_notes;
        let recorded = reading.map(|reading| as_recorded(reading, self.scene.kit.defaults.stop));
        let bare = ring.t.as_ref().filter(|_| !against_notes).or(recorded.as_ref());
        let choice = Choice {
            best: ring.t.as_ref(),
            bare,
            recorded: recorded.clone(),
            cause: Cause::Stop,
            scale: both.map(|(_, factor, _)| factor),
        };
        let finished = finish(outcome, choice, |native| {
            let ((m, glass), _, basis) = both?;
            let value = behind::t_number(native.estimate(Cause::Stop), m, glass)?;
            let rule = "effective T-number = magnification x T-number on the lens / root of the attachment's transmittance";
            Some(Known::computed(value, native.basis.weaker(basis), rule))
        });
        finished.settled
    }

    fn case<U: Unit>(
        &self,
        field: &'static str,
        unusable: bool,
        ring: Option<&Quantity<U>>,
        magnification: Option<(f64, f64)>,
    ) -> Case {
        let number = ring.map(|ring| ring.value.number());
        Case {
            field,
            unit: "",
            reading: None,
            native: number.map(|number| Native::within(number, TOLERANCE)),
            best: number,
            unusable,
            magnification,
            reports: self.rig.on().and_then(|attachment| attachment.reports_stop),
            habit: self.scene.habit.stop,
            stale: None,
            silent: self.silent(),
        }
    }
}

/// How finely a stop was written. Writers reduce fractions, so that f/2 is `2/1`: that is no whole-stop rounding.
fn step<U: Unit>(reading: &Reading<U>) -> f64 {
    reading.half_step.min(TOLERANCE / 2.0 * reading.value.number())
}

/// A stop set by hand.
fn set<U: Unit>(value: U, relative: f64, noted: &Noted<StopNote>) -> Quantity<U> {
    Quantity {
        value,
        uncertainty: Some(relative * value.number()),
        basis: Basis::Nominal,
        origin: noted.origin.clone(),
    }
}

/// What an iris ring can show of which nobody noted where it stood.
fn opens_to(widest: f64) -> Native {
    Native::between(widest * (1.0 - TOLERANCE), SMALLEST)
}

/// True if the lens does not open as far as noted. Both are marks of one ring, and the same mark is the same number; only
/// between the focal lengths that a kit states of a zoom is the largest opening worked out, and then marks can differ.
fn too_wide(
    lens: &Lens,
    setting: Option<Millimeters>,
    f: Option<FNumber>,
    t: Option<TNumber>,
) -> bool {
    let slack = if lens.ramps() { TOLERANCE } else { SAME_MARK };
    let wider = |number: f64, most: f64| number < most * (1.0 - slack);
    let (f_max, t_max) = (lens.f_max_at(setting), lens.t_max_at(setting));
    let f_wide = f.zip(f_max.as_ref()).is_some_and(|(f, max)| wider(f.get(), max.value.get()));
    let t_wide = t.zip(t_max.as_ref()).is_some_and(|(t, max)| wider(t.get(), max.value.get()));
    // No glass adds light: a T-number cannot be wider than the widest f-number, known transmittance or not.
    let t_beyond_f = t.zip(f_max).is_some_and(|(t, max)| wider(t.get(), max.value.get()));
    f_wide || t_wide || t_beyond_f
}

/// Each of f and T from the other where the transmittance of the lens is known.
fn convert(
    f: Option<Quantity<FNumber>>,
    t: Option<Quantity<TNumber>>,
    tau: Option<&Quantity<Transmittance>>,
) -> Ring {
    let Some(tau) = tau else { return Ring { f, t, ..Ring::default() } };
    let glass = tau.estimate(Cause::LensGlass);
    let f_from_t = |t: &Quantity<TNumber>| {
        let value = behind::f_from_t(t.estimate(Cause::Stop), glass)?;
        let rule = "f-number = T-number x root of the lens's transmittance";
        Some(Known::computed(value, t.basis.weaker(tau.basis), rule).quantity())
    };
    let t_from_f = |f: &Quantity<FNumber>| {
        let value = behind::t_from_f(f.estimate(Cause::Stop), glass)?;
        let rule = "T-number = f-number / root of the lens's transmittance";
        Some(Known::computed(value, f.basis.weaker(tau.basis), rule).quantity())
    };
    let (from_t, from_f) = (t.as_ref().and_then(f_from_t), f.as_ref().and_then(t_from_f));
    Ring { f: f.or(from_t), t: t.or(from_f), ..Ring::default() }
}
