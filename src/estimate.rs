//! Numbers that know how far they may be off, and because of what (JCGM 100:2008, the GUM).
//!
//! A result is worked out from inputs that are each off for a cause of its own. What a cause does to a number is kept
//! apart and with its sign, so that where one input enters twice (the focal length in the hyperfocal distance), or
//! drops out (the magnification in the pupil diameter), the result's uncertainty is right: causes add up within
//! themselves, and in quadrature with one another (5.1.2, and F.1.2.3 for common causes). To first order.

use std::ops::{Add, Div, Mul, Sub};

use libm::sqrt;

use crate::units::Unit;

/// Declares the causes: variant and the words for it.
macro_rules! causes {
    ($($variant:ident $words:literal;)*) => {
        /// Why a number may be off. Each is independent of the others.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Cause {
            $(#[doc = $words] $variant,)*
        }

        impl Cause {
            /// Every cause.
            pub const ALL: &[Cause] = &[$(Cause::$variant,)*];

            /// What it is, in words.
            pub fn words(self) -> &'static str {
                match self { $(Cause::$variant => $words,)* }
            }
        }
    };
}

causes! {
    Focal "focal length of the lens";
    Pinhole "measured table of the lens";
    Magnification "magnification of the attachment";
    Stop "stop as set";
    LensGlass "transmittance of the lens";
    Glass "transmittance of the attachment";
    Focus "focus distance";
    Pupil "place of the entrance pupil";
    Ring "place of the zoom ring";
    Shift "thickness or shift of the attachment";
    Flange "flange depths of the mounts";
    Circle "image circle of the lens";
    Exit "exit circle of the attachment";
    Area "size of the recorded area";
}

/// How many causes there are.
const CAUSES: usize = Cause::ALL.len();

/// What each cause may do to a number: one standard uncertainty of it, with its sign. `None` as soon as one is unknown:
/// an unknown part is not a small part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread(Option<[f64; CAUSES]>);

impl Spread {
    /// Known without doubt.
    pub const EXACT: Self = Self(Some([0.0; CAUSES]));
    /// Nothing is known of it.
    pub const UNKNOWN: Self = Self(None);

    /// Off by a standard uncertainty of `by`, for one cause.
    pub fn of(cause: Cause, by: Option<f64>) -> Self {
        let by = by.filter(|by| by.is_finite());
        Self(by.map(|by| std::array::from_fn(|at| if at == cause as usize { by } else { 0.0 })))
    }

    /// Standard uncertainty; `None` where nothing is known of it, or where it is beyond bounds.
    pub fn uncertainty(self) -> Option<f64> {
        let sum = self.0?.iter().map(|part| part * part).sum::<f64>();
        Some(sqrt(sum)).filter(|u| u.is_finite())
    }

    /// What each cause does, those that do nothing left out.
    pub fn parts(self) -> impl Iterator<Item = (Cause, f64)> {
        let parts = self.0.unwrap_or([0.0; CAUSES]);
        Cause::ALL.iter().copied().zip(parts).filter(|(_, part)| part.abs() > 0.0)
    }

    /// After a function with this slope. A slope beyond bounds leaves nothing known.
    fn scaled(self, slope: f64) -> Self {
        Self(self.0.map(|parts| parts.map(|part| slope * part)))
    }

    fn plus(self, other: Self) -> Self {
        let both = self.0.zip(other.0);
        Self(both.map(|(mut a, b)| {
            a.iter_mut().zip(b).for_each(|(a, b)| *a += b);
            a
        }))
    }
}

/// Standard uncertainty of a number known to lie within `half_step` on either side (rectangular, 4.3.7).
pub fn rounding(half_step: f64) -> f64 {
    half_step / sqrt(3.0)
}

/// Standard uncertainty of a number that is off for two independent reasons.
pub fn together(a: f64, b: f64) -> f64 {
    sqrt(a * a + b * b)
}

/// A number with a unit, and how far it may be off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate<U> {
    /// The number.
    pub value: U,
    /// How far it may be off.
    pub spread: Spread,
}

impl<U: Unit> Estimate<U> {
    /// Known without doubt, or by definition.
    pub fn exact(value: U) -> Self {
        Self { value, spread: Spread::EXACT }
    }

    /// Off by a standard uncertainty of `by`, for one cause. What is infinitely far off is exactly that.
    pub fn caused(value: U, cause: Cause, by: Option<f64>) -> Self {
        if value.number().is_infinite() {
            return Self::exact(value);
        }
        Self { value, spread: Spread::of(cause, by) }
    }

    /// Off by `by` for one more cause.
    #[must_use]
    pub fn also(self, cause: Cause, by: Option<f64>) -> Self {
        Self { spread: self.spread.plus(Spread::of(cause, by)), ..self }
    }

    /// Standard uncertainty in the unit of the value.
    pub fn uncertainty(&self) -> Option<f64> {
        self.spread.uncertainty()
    }

    /// Standard uncertainty as a part of the value.
    pub fn relative(&self) -> Option<f64> {
        Some(self.uncertainty()? / self.value.number().abs()).filter(|part| part.is_finite())
    }

    /// The number without its unit, to reckon with.
    pub fn bare(&self) -> Bare {
        Bare { number: self.value.number(), spread: self.spread }
    }
}

/// A number without a unit half-way through a formula. What goes in and comes out of a formula has a unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bare {
    /// The number.
    pub number: f64,
    /// How far it may be off.
    pub spread: Spread,
}

impl Bare {
    /// A number known without doubt.
    pub fn exact(number: f64) -> Self {
        Self { number, spread: Spread::EXACT }
    }

    /// `number`, a function of this one whose slope here is `slope`.
    #[must_use]
    pub fn map(self, number: f64, slope: f64) -> Self {
        Self { number, spread: self.spread.scaled(slope) }
    }

    /// With its unit again; `None` where the unit cannot hold the number.
    pub fn unit<U: Unit>(self) -> Option<Estimate<U>> {
        Some(Estimate { value: U::of(self.number)?, spread: self.spread })
    }

    fn both(self, other: Self, number: f64, slope: f64, slope_of_other: f64) -> Self {
        let spread = self.spread.scaled(slope).plus(other.spread.scaled(slope_of_other));
        Self { number, spread }
    }
}

impl Add for Bare {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        self.both(other, self.number + other.number, 1.0, 1.0)
    }
}

impl Sub for Bare {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self.both(other, self.number - other.number, 1.0, -1.0)
    }
}

impl Mul for Bare {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        self.both(other, self.number * other.number, other.number, self.number)
    }
}

impl Div for Bare {
    type Output = Self;

    fn div(self, other: Self) -> Self {
        let quotient = self.number / other.number;
        self.both(other, quotient, 1.0 / other.number, -quotient / other.number)
    }
}

impl Mul<f64> for Bare {
    type Output = Self;

    fn mul(self, factor: f64) -> Self {
        self.map(self.number * factor, factor)
    }
}

impl Div<f64> for Bare {
    type Output = Self;

    fn div(self, by: f64) -> Self {
        self.map(self.number / by, 1.0 / by)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Factor, Meters, Millimeters};

    fn mm(value: f64, cause: Cause, by: f64) -> Bare {
        Estimate::caused(Millimeters::new(value).unwrap(), cause, Some(by)).bare()
    }

    #[test]
    fn an_input_that_enters_twice_counts_twice() {
        let f = mm(50.0, Cause::Focal, 1.0);
        let square = f * f;
        assert!((square.spread.uncertainty().unwrap() - 100.0).abs() < 1e-12);
        let one: Estimate<Factor> = (f / f).unit().unwrap();
        assert!(one.uncertainty().unwrap() < 1e-15, "what drops out does no harm");
    }

    #[test]
    fn independent_causes_add_in_quadrature() {
        let sum = mm(50.0, Cause::Focal, 3.0) + mm(20.0, Cause::Shift, 4.0);
        assert!((sum.spread.uncertainty().unwrap() - 5.0).abs() < 1e-12);
        let causes: Vec<_> = sum.spread.parts().map(|(cause, _)| cause).collect();
        assert_eq!(causes, [Cause::Focal, Cause::Shift]);
    }

    #[test]
    fn what_is_unknown_stays_unknown_and_infinity_is_exact() {
        let unknown = Estimate::caused(Millimeters::new(1.0).unwrap(), Cause::Pupil, None);
        assert_eq!((unknown.bare() + Bare::exact(1.0)).spread.uncertainty(), None);
        let far = Estimate::caused(Meters::new(f64::INFINITY).unwrap(), Cause::Focus, Some(1.0));
        assert_eq!(far.uncertainty(), Some(0.0));
    }
}
