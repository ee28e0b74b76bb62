//! Distortion of a lens, as `OpenLensIO` models it, and what a rear attachment that adds none makes of it.
//!
//! Points are millimetres on the sensor from the optical axis, x to the right and y down. The model takes a point to
//! another with r the distance of the first from the axis (SMPTE RIS OSVP, `OpenLensIO` 1.0, 4.1; Brown-Conrady):
//! x' = R x + 2 p1 x y + p2 (r^2 + 2 x^2), y' = R y + p1 (r^2 + 2 y^2) + 2 p2 x y,
//! R = (1 + k1 r^2 + k3 r^4 + k5 r^6) / (1 + k2 r^2 + k4 r^4 + k6 r^6).

use crate::units::{Factor, Millimeters};

/// Most radial coefficients: k1 to k6.
pub const MOST_RADIAL: usize = 6;

/// Coefficients of the model: k1 to k6 in powers of one over millimetres, p1 and p2 in one over millimetres.
#[derive(Clone, Debug, PartialEq)]
pub struct Coefficients {
    /// k1, k2 and so on: the odd ones above the line, the even ones below.
    pub radial: Vec<f64>,
    /// p1 and p2.
    pub tangential: Option<[f64; 2]>,
}

impl Coefficients {
    /// The coefficients of a picture m times as large: every point lies m times as far out, so that a coefficient that
    /// stands with the power n of the distance becomes one over m to that power as large. It holds for an attachment
    /// that scales the picture and does nothing else to it, and only then.
    #[must_use]
    pub fn scaled(&self, m: Factor) -> Self {
        let by = 1.0 / m.get();
        let square = by * by;
        let radial = self.radial.iter().enumerate().map(|(at, k)| {
            // k1 and k2 stand with the square, k3 and k4 with the fourth power, k5 and k6 with the sixth.
            let power = (0..=at / 2).fold(1.0, |power, _| power * square);
            k * power
        });
        Self { radial: radial.collect(), tangential: self.tangential.map(|p| p.map(|p| p * by)) }
    }

    /// The same from coordinates that were divided by the pinhole focal length f, as computer vision does: a picture f
    /// times as large.
    #[must_use]
    pub fn of_normalised(&self, f: Millimeters) -> Option<Self> {
        Factor::new(f.get()).map(|f| self.scaled(f))
    }

    /// Where the model takes a point; `None` where it takes it nowhere.
    pub fn map(&self, (x, y): (f64, f64)) -> Option<(f64, f64)> {
        let square = x * x + y * y;
        let (mut above, mut below, mut power) = (1.0, 1.0, 1.0);
        for pair in self.radial.chunks(2) {
            power *= square;
            above += pair.first().copied().unwrap_or_default() * power;
            below += pair.get(1).copied().unwrap_or_default() * power;
        }
        let radial = above / below;
        let [p1, p2] = self.tangential.unwrap_or_default();
        let to = (
            radial * x + 2.0 * p1 * x * y + p2 * (square + 2.0 * x * x),
            radial * y + p1 * (square + 2.0 * y * y) + 2.0 * p2 * x * y,
        );
        (to.0.is_finite() && to.1.is_finite()).then_some(to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn coefficients() -> Coefficients {
        let radial = vec![-1.2e-4, 3e-6, 2.5e-8, -4e-9, 1e-12, 2e-12];
        Coefficients { radial, tangential: Some([1.5e-5, -8e-6]) }
    }

    /// The picture behind an ideal attachment: the lens's own, each point m times as far out. By arithmetic.
    #[test]
    fn a_scaled_picture_is_the_same_picture() {
        let lens = coefficients();
        for m in [0.58, 0.71, 1.0, 1.4, 2.0] {
            let behind = lens.scaled(Factor::new(m).unwrap());
            for (x, y) in [(0.0, 0.0), (12.0, -7.0), (-18.0, 12.0), (3.0, 0.0)] {
                let alone = lens.map((x, y)).unwrap();
                let (u, v) = behind.map((m * x, m * y)).unwrap();
                assert!((u - m * alone.0).abs() < 1e-9, "{m} {x} {y}");
                assert!((v - m * alone.1).abs() < 1e-9, "{m} {x} {y}");
            }
            let back = behind.scaled(Factor::new(1.0 / m).unwrap());
            for (a, b) in back.radial.iter().zip(&lens.radial) {
                assert!((a / b - 1.0).abs() < 1e-12);
            }
        }
    }

    /// Conversions of the SMPTE RIS paper on lens calibrations of OpenCV: k / F^2, k / F^4, k / F^6. For the tangential
    /// ones its derivation drops a factor (F x'' = F x' + F p1 ..): they go with 1 / F, which the next check holds.
    #[test]
    fn normalised_coefficients_become_those_of_millimetres() {
        let normalised = Coefficients {
            radial: vec![-0.12, 0.0, 0.03, 0.0, -0.004],
            tangential: Some([0.001, -0.002]),
        };
        let f = 35.5;
        let of = normalised.of_normalised(Millimeters::new(f).unwrap()).unwrap();
        assert!((of.radial[0] + 0.12 / (f * f)).abs() < 1e-12);
        assert!((of.radial[2] - 0.03 / (f * f * f * f)).abs() < 1e-15);
        let point = (0.31, -0.17);
        let divided = normalised.map(point).unwrap();
        let (x, y) = of.map((f * point.0, f * point.1)).unwrap();
        assert!((x - f * divided.0).abs() < 1e-12 && (y - f * divided.1).abs() < 1e-12);
    }

    #[test]
    fn nowhere_is_no_place() {
        let hole = Coefficients { radial: vec![0.0, -0.01], tangential: None };
        assert_eq!(hole.map((10.0, 0.0)), None);
        let none = Coefficients { radial: vec![0.0], tangential: None };
        assert_eq!(none.map((3.0, 4.0)), Some((3.0, 4.0)));
    }
}
