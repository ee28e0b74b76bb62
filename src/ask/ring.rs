//! The stop on the ring, in f and in T where both can be known.

use anyhow::{Result, anyhow, bail};

use crate::estimate::Cause;
use crate::kit::IrisScale;
use crate::number::short;
use crate::optics::attachment as behind;
use crate::sourced::{Known, Origin, Quantity};
use crate::stops::{self, Letter, StopText, steps_between};
use crate::units::{FNumber, TNumber, Unit};

use super::entries::Glass;
use super::{given, words};

/// Stops by which a mark may be wider than the largest opening and still be it.
const SAME_MARK: f64 = 0.06;
/// The same for an f-number worked out from a T mark: marks and transmittance are rounded (common practice, no source).
const BY_WAY_OF_T: f64 = 0.25;

/// What the iris ring stands at.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Ring {
    pub(super) f: Option<Known<FNumber>>,
    pub(super) t: Option<Known<TNumber>>,
}

/// What a word for the stop says: an f-number, a T-number, or of the open lens whichever are known.
type Opened = (Option<Quantity<FNumber>>, Option<Quantity<TNumber>>);

impl Ring {
    /// Reads what was given for the stop: one number, or one in f and one in T.
    pub(super) fn read(texts: &[String], lens: &Glass<'_>, relative: f64) -> Result<Self> {
        let (mut f, mut t) = (None, None);
        for text in texts {
            let (of_f, of_t) = Self::one(text, lens, relative)?;
            if (f.is_some() && of_f.is_some()) || (t.is_some() && of_t.is_some()) {
                bail!(
                    "--stop {text}: the stop was given twice; give one f-number, one T-number, or one of each"
                );
            }
            (f, t) = (f.or(of_f), t.or(of_t));
        }
        if let (Some(f), Some(t)) = (&f, &t)
            && t.value.get() < f.value.get() * (1.0 - 1e-9)
        {
            bail!(
                "T{} is below f/{}: no glass adds light, check which is which",
                short(t.value.get(), 2),
                short(f.value.get(), 2)
            );
        }
        let ring = Self { f: f.map(|f| f.known(Cause::Stop)), t: t.map(|t| t.known(Cause::Stop)) };
        let ring = ring.converted(lens);
        ring.possible(texts, lens)?;
        Ok(ring)
    }

    /// Refuses a T-number that would need a wider f-number than the lens has, or that lies below it.
    fn possible(&self, texts: &[String], lens: &Glass<'_>) -> Result<()> {
        let (Some(f_max), typed) = (lens.widest().0, texts.join(" ")) else { return Ok(()) };
        let f = self.f.as_ref().map(|f| f.estimate.value.get());
        let t = self.t.as_ref().map(|t| t.estimate.value.get());
        let widest = engraved(&f_max);
        let below = |number: f64, by: f64| steps_between(number, f_max.value.get()) > by;
        if t.is_some_and(|t| below(t, SAME_MARK)) {
            bail!(
                "--stop {typed}: {} opens to f/{widest}, and no glass adds light to make a wider T of it",
                lens.label
            );
        }
        if f.is_some_and(|f| below(f, BY_WAY_OF_T)) {
            bail!(
                "--stop {typed}: that would be wider than f/{widest}, to which {} opens; check stop and transmittance",
                lens.label
            );
        }
        Ok(())
    }

    fn one(text: &str, lens: &Glass<'_>, relative: f64) -> Result<Opened> {
        let (f_max, t_max) = lens.widest();
        let (letter, number) = match words::stop(text, "stop")? {
            StopText::WideOpen if f_max.is_none() && t_max.is_none() => {
                bail!("--stop {text}: how far the lens opens is not known; write the number")
            }
            StopText::WideOpen => return Ok((f_max, t_max)),
            StopText::Number { letter, number } => (letter, number),
        };
        let scale = match lens.lens.and_then(|lens| lens.scale) {
            Some(IrisScale::F) => Some(Letter::F),
            Some(IrisScale::T) => Some(Letter::T),
            None => None,
        };
        let letter = letter
            .or(scale)
            .ok_or_else(|| anyhow!("--stop {text}: f or T? write f/{text} or T{text}"))?;
        match letter {
            Letter::F => {
                narrower(text, number, f_max.as_ref(), lens, "f/")?;
                let f = FNumber::new(number);
                Ok((f.map(|f| given(f, Some(relative * number), "stop")), None))
            }
            Letter::T => {
                narrower(text, number, t_max.as_ref(), lens, "T")?;
                let t = TNumber::new(number);
                Ok((None, t.map(|t| given(t, Some(relative * number), "stop"))))
            }
        }
    }

    /// Each of f and T from the other where the transmittance of the lens is known.
    fn converted(self, lens: &Glass<'_>) -> Self {
        let tau = lens.lens.and_then(|of_kit| of_kit.transmittance_at(lens.setting));
        let Some(tau) = tau else { return self };
        let glass = tau.estimate(Cause::LensGlass);
        let from_t = |t: &Known<TNumber>| {
            let rule = "f-number = T-number x root of the lens's transmittance";
            Some(Known::computed(
                behind::f_from_t(t.estimate, glass)?,
                t.basis.weaker(tau.basis),
                rule,
            ))
        };
        let from_f = |f: &Known<FNumber>| {
            let rule = "T-number = f-number / root of the lens's transmittance";
            Some(Known::computed(
                behind::t_from_f(f.estimate, glass)?,
                f.basis.weaker(tau.basis),
                rule,
            ))
        };
        let (f, t) = (self.t.as_ref().and_then(from_t), self.f.as_ref().and_then(from_f));
        Self { f: self.f.or(f), t: self.t.or(t) }
    }
}

/// Refuses a stop that the lens does not open to.
fn narrower<U: Unit>(
    text: &str,
    number: f64,
    widest: Option<&Quantity<U>>,
    lens: &Glass<'_>,
    letter: &str,
) -> Result<()> {
    let wider = |widest: &&Quantity<U>| steps_between(number, widest.value.number()) > SAME_MARK;
    let Some(widest) = widest.filter(wider) else { return Ok(()) };
    bail!(
        "--stop {text}: {} opens to {letter}{}{}; give the stop on the ring, not the one behind the attachment",
        lens.label,
        engraved(widest),
        lens.setting.map_or_else(String::new, |at| format!(" at {} mm", short(at.get(), 2)))
    )
}

/// A largest opening as it is engraved: the mark of its series, or the number itself. What lies between two marks is none.
fn engraved<U: Unit>(widest: &Quantity<U>) -> String {
    let number = widest.value.number();
    let between = matches!(widest.origin, Origin::Computed(_));
    let mark = stops::nominal(number)
        .filter(|mark| !between && steps_between(stops::exact(*mark).number, number).abs() < 1e-9);
    short(mark.unwrap_or(number), 2)
}
