//! The shutter: media and notes may each say an angle or a time, and only a rate tells whether the two are one.

use crate::annotation::{Settled, Verdict};
use crate::finding::{Code, Place};
use crate::notes::{Noted, ShutterNote};
use crate::number::short;
use crate::recorded::CameraSettings;
use crate::sourced::Quantity;
use crate::units::{Seconds, ShutterAngle, Unit};

use super::super::Trust;
use super::super::settle::Bench;
use super::{HINT, Told, alone, as_recorded, stated};

/// Angles noted and recorded that differ by no more than this part are one: 172.8 is called 173.
const ANGLE: f64 = 0.003;
/// Exposure times, likewise. A 48th and a 50th of a second are two.
const TIME: f64 = 0.02;

/// Angle and time of one shutter.
type Shutter = (Settled<Quantity<ShutterAngle>>, Settled<Quantity<Seconds>>);

impl Bench<'_, '_> {
    /// Shutter angle and exposure time. Neither is worked out from the other.
    pub(super) fn shutter(&mut self, settings: &CameraSettings) -> Shutter {
        let (angle, time) = (settings.shutter_angle.as_ref(), settings.exposure_time.as_ref());
        let pick = &self.said.shot.shutter;
        let disputed = pick.disputed() && angle.is_none() && time.is_none();
        let noted = pick.said();
        match noted.map(|noted| (noted, noted.value)) {
            Some((noted, ShutterNote::Angle(value))) if angle.is_none() && time.is_some() => {
                let turn = |rate: f64| value.get() / 360.0 / rate;
                let sides = Sides { value, noted, turn: &turn };
                self.across(settings, sides, time.map(as_recorded), |t, _| t.get()).swapped()
            }
            Some((noted, ShutterNote::Time(value))) if time.is_none() && angle.is_some() => {
                let sides = Sides { value, noted, turn: &|_| value.get() };
                let turn = |a: ShutterAngle, rate: f64| a.get() / 360.0 / rate;
                self.across(settings, sides, angle.map(as_recorded), turn).straight()
            }
            said => {
                let (mut of_angle, mut of_time) = (None, None);
                match said {
                    Some((noted, ShutterNote::Angle(value))) => {
                        of_angle = Some(Told::new(noted, value));
                    }
                    Some((noted, ShutterNote::Time(value))) => {
                        of_time = Some(Told::new(noted, value));
                    }
                    None => {}
                }
                let angle = self.number(("shutter", "°"), angle, of_angle, disputed, ANGLE);
                (angle, self.time(time, of_time))
            }
        }
    }

    fn time(
        &mut self,
        reading: Option<&crate::recorded::Reading<Seconds>>,
        told: Option<Told<'_, Seconds>>,
    ) -> Settled<Quantity<Seconds>> {
        let place = told.as_ref().map(|told| told.place.clone());
        let noted = told.map(|told| stated(told.value, told.origin.clone()));
        let step = reading.map_or(0.0, |reading| reading.half_step);
        let agree = |a: &Quantity<Seconds>, b: &Quantity<Seconds>| {
            is_one(a.value.get(), b.value.get(), step)
        };
        let differ = |a: &Quantity<Seconds>, b: &Quantity<Seconds>| {
            let (a, b) = (spoken(a.value.get()), spoken(b.value.get()));
            format!("exposure time: recorded {a}, noted {b}")
        };
        self.agree((reading.map(as_recorded), noted, false), agree, differ, (place.as_ref(), HINT))
    }

    /// The media says the one and the notes say the other. Both stand unless the rate of the clip shows that they differ.
    fn across<N: Unit, R: Unit>(
        &mut self,
        settings: &CameraSettings,
        sides: Sides<'_, N>,
        recorded: Option<Quantity<R>>,
        seconds: impl Fn(R, f64) -> f64,
    ) -> Both<N, R> {
        let Sides { value, noted, turn } = sides;
        let own = Some(stated(value, noted.origin.clone()));
        let rate = settings.capture_rate.as_ref().or(self.scene.media.rate.as_ref());
        let rate = rate.map(|rate| rate.value.to_f64());
        let times = rate
            .zip(recorded.as_ref())
            .map(|(rate, recorded)| (rate, seconds(recorded.value, rate), turn(rate)));
        let filled = |own| alone(own, Verdict::Filled, "from notes or kit");
        let kept = |recorded, why: &str| alone(recorded, Verdict::Kept, why);
        let Some((rate, a, b)) = times.filter(|(_, a, b)| !is_one(*a, *b, 0.0)) else {
            let why =
                if times.is_some() { "agrees with the notes" } else { "nothing else was noted" };
            return Both { noted: filled(own), recorded: kept(recorded, why) };
        };
        let (a, b, rate) = (spoken(a), spoken(b), short(rate, 3));
        let message = format!("shutter: recorded {a}, noted {b} at {rate} fps");
        let place: Option<&Place> = Some(&noted.place);
        if self.scene.trusts(Trust::Media) {
            let message = format!("{message}; the media was taken, as asked");
            self.say(Code::FieldKept, place, message, "nothing to do");
            let recorded = kept(recorded, "the media was trusted, as asked");
            return Both { noted: Settled::unsaid(), recorded };
        }
        if self.scene.trusts(Trust::Notes) {
            let message = format!("{message}; the notes were taken, as asked");
            self.say(Code::FieldReplaced, place, message, "nothing to do");
            // What was noted is the other of the two, so nothing takes the place of what was recorded.
            let recorded = out(recorded, "the notes were trusted, as asked");
            return Both { noted: filled(own), recorded };
        }
        self.say(Code::FieldContradiction, place, message.clone(), HINT);
        Both { noted: out(None, &message), recorded: out(recorded, &message) }
    }
}

/// A field that is left out.
fn out<U>(recorded: Option<Quantity<U>>, reason: &str) -> Settled<Quantity<U>> {
    let verdict = Some(Verdict::Unresolved);
    Settled { verdict, value: None, recorded, reason: reason.to_owned() }
}

/// What was noted of a shutter, and the seconds that it comes to at a rate.
#[derive(Clone, Copy)]
struct Sides<'n, N> {
    value: N,
    noted: &'n Noted<ShutterNote>,
    turn: &'n dyn Fn(f64) -> f64,
}

/// A field that was noted and one that was recorded.
struct Both<N, R> {
    noted: Settled<Quantity<N>>,
    recorded: Settled<Quantity<R>>,
}

impl Both<ShutterAngle, Seconds> {
    fn swapped(self) -> Shutter {
        (self.noted, self.recorded)
    }
}

impl Both<Seconds, ShutterAngle> {
    fn straight(self) -> Shutter {
        (self.recorded, self.noted)
    }
}

fn is_one(a: f64, b: f64, step: f64) -> bool {
    (a - b).abs() <= step + TIME * a.max(b)
}

/// Seconds as they are spoken of: `1/50 s`, `2 s`.
fn spoken(seconds: f64) -> String {
    if seconds < 0.5 {
        format!("1/{} s", short(1.0 / seconds, 2))
    } else {
        format!("{} s", short(seconds, 2))
    }
}
