//! Carrying standard uncertainties (JCGM 100:2008, 5.1): relative parts of a product add in quadrature.

use super::math::sqrt;

/// Relative standard uncertainty of a product or quotient of independent factors.
/// `None` as soon as one of them is unknown: an unknown part is not a small part.
pub fn product(relative: &[Option<f64>]) -> Option<f64> {
    let mut sum = 0.0;
    for part in relative {
        let part = (*part)?;
        sum += part * part;
    }
    Some(sqrt(sum))
}

/// Standard uncertainty of a number known to lie within `half_step` on either side (rectangular, 4.3.7).
pub fn rounding(half_step: f64) -> f64 {
    half_step / sqrt(3.0)
}

/// Standard uncertainty of a sum or difference of independent terms.
pub fn sum(terms: &[Option<f64>]) -> Option<f64> {
    product(terms)
}
