//! Chart shots to what was really in front of the sensor: pinhole focal length, pupil place, magnification.
//!
//! A chart of width W at tape distance d from the sensor-plane mark spans q pixels of pitch g. A pinhole of focal
//! length p whose entrance pupil stands e before the sensor plane gives `q g = p W / (d - e)`. So `W / (q g)` is a
//! straight line over d (`line`); refocused at every distance it is a curve of its own (`refocus`). `series` sorts the
//! shots, `solve` fits each series, `compare` holds one against another.

#![deny(clippy::indexing_slicing)]

pub mod against_kit;
pub mod compare;
pub mod glass;
pub mod line;
mod one_distance;
pub mod refocus;
pub mod report;
pub mod series;
pub mod shots;
mod slips;
pub mod solve;
pub mod typed;

use crate::number::fixed;
use crate::units::{Millimeters, Unit};

/// A measured number and its standard uncertainty in the same unit (JCGM 100:2008, 2.3.1).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known<U: Unit> {
    /// The number.
    pub value: U,
    /// Its standard uncertainty.
    pub uncertainty: f64,
}

impl<U: Unit> Known<U> {
    /// Standard uncertainty as a part of the value.
    pub fn relative(&self) -> f64 {
        self.uncertainty / self.value.number().abs()
    }
}

/// Most digits behind the point that are printed.
const MOST_DECIMALS: usize = 6;

/// `50.003 ± 0.021 mm`: two digits of the uncertainty, and the number no finer (JCGM 100:2008, 7.2.6).
pub fn printed<U: Unit>(known: &Known<U>) -> String {
    let decimals = decimals(known.uncertainty);
    let value = fixed(known.value.number(), decimals);
    let text = format!("{value} ± {} {}", fixed(known.uncertainty, decimals), U::SYMBOL);
    text.trim_end().to_owned()
}

/// Digits behind the point that leave two digits of an uncertainty.
pub fn decimals(uncertainty: f64) -> usize {
    let mut decimals = 0;
    let mut shown = uncertainty;
    while shown < 9.5 && decimals < MOST_DECIMALS {
        shown *= 10.0;
        decimals += 1;
    }
    decimals
}

/// How well the shots are known: standard uncertainties of one span and of one tape reading, each shot by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Errors {
    /// Of a span, in recorded pixels; above zero.
    pub pixels: f64,
    /// Of a tape reading, in millimetres; zero or above.
    pub tape: f64,
}

/// What is known of the lens without a series of bare shots.
pub type Native = Known<Millimeters>;

/// Chi-square that a good series passes in 99 of 100 cases, for `free` degrees of freedom: the approximation of
/// Wilson and Hilferty (1931), within 1 % for one degree and better for more.
fn chi_square_99(free: f64) -> f64 {
    let part = 2.0 / (9.0 * free);
    let root = 1.0 - part + 2.326348 * libm::sqrt(part);
    free * root * root * root
}

/// By what the variances of a fit grow: the reduced chi-square, where it is larger than chance allows, else one.
/// The root of it is the Birge ratio (Birge, Physical Review 40, 1932, 207).
fn widening(chi_square: f64, free: usize) -> f64 {
    let free = u32::try_from(free).map_or(f64::INFINITY, f64::from);
    if free > 0.0 && chi_square > chi_square_99(free) { chi_square / free } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Quantiles of chi-square at 99 %: Abramowitz and Stegun, Handbook of Mathematical Functions, table 26.8.
    #[test]
    fn quantiles_of_chi_square() {
        for (free, printed) in [(1.0, 6.63490), (2.0, 9.21034), (5.0, 15.0863), (20.0, 37.5662)] {
            assert!((chi_square_99(free) / printed - 1.0).abs() < 0.01, "{free}");
        }
        assert!((widening(30.0, 3) - 10.0).abs() < 1e-12);
        assert!((widening(6.0, 3) - 1.0).abs() < 1e-12);
        assert!((widening(1e9, 0) - 1.0).abs() < 1e-12);
    }
}
