//! Exact ratios: frame rates and pixel aspects stay the integers that were written.

use std::num::NonZeroU32;

/// A positive ratio of two whole numbers, kept in lowest terms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Ratio {
    num: NonZeroU32,
    den: NonZeroU32,
}

impl Ratio {
    /// The ratio in lowest terms, or `None` where a part is zero or does not fit 32 bits once reduced.
    pub fn new(num: u64, den: u64) -> Option<Self> {
        let divisor = gcd(num, den);
        let part = |n: u64| u32::try_from(n.checked_div(divisor)?).ok().and_then(NonZeroU32::new);
        Some(Self { num: part(num)?, den: part(den)? })
    }

    /// Upper part.
    pub fn num(self) -> u32 {
        self.num.get()
    }

    /// Lower part.
    pub fn den(self) -> u32 {
        self.den.get()
    }

    /// The nearest floating-point number; for display and optics, never for counting frames.
    pub fn to_f64(self) -> f64 {
        f64::from(self.num()) / f64::from(self.den())
    }
}

impl std::fmt::Display for Ratio {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.den() == 1 {
            write!(f, "{}", self.num())
        } else {
            write!(f, "{}/{}", self.num(), self.den())
        }
    }
}

/// Frames a second, exact: 29.97 is 30000/1001.
pub type FrameRate = Ratio;

fn gcd(mut a: u64, mut b: u64) -> u64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// A rate as people write it; 23.976, 29.97 and the like mean the rates over 1001.
pub fn parse_rate(text: &str) -> Option<Ratio> {
    if let Some((num, den)) = text.split_once('/') {
        return Ratio::new(num.trim().parse().ok()?, den.trim().parse().ok()?);
    }
    let number: f64 = text.trim().parse().ok().filter(|n| (1.0..=1000.0).contains(n))?;
    (1..=1000_u32).flat_map(|whole| [(whole, 1_u64), (whole, 1001)]).find_map(|(whole, den)| {
        let num = u64::from(whole) * if den == 1 { 1 } else { 1000 };
        let ratio = Ratio::new(num, den)?;
        ((ratio.to_f64() - number).abs() < 0.005).then_some(ratio)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lowest_terms_and_refusals() {
        let ntsc = Ratio::new(90_000, 3003).unwrap();
        assert_eq!((ntsc.num(), ntsc.den()), (30000, 1001));
        assert_eq!(Ratio::new(48, 2).unwrap().to_string(), "24");
        assert!(Ratio::new(0, 1).is_none());
        assert!(Ratio::new(1, 0).is_none());
        assert!(Ratio::new(u64::MAX, 1).is_none());
    }
}
