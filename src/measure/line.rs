//! The straight line of a fixed focus setting: `W / (q g) = (d - e) / p`.
//!
//! Plain numbers in millimetres and pixels: `solve` turns them into units.

use super::{Errors, widening};

/// One shot as numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Tape distance from the sensor-plane mark, millimetres.
    pub distance: f64,
    /// Chart width over pitch: what the span would be at a magnification of one, in pixels.
    pub reach: f64,
    /// Span, in pixels.
    pub span: f64,
}

/// A line fitted.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Pinhole focal length, millimetres.
    pub p: f64,
    /// Entrance pupil before the sensor plane, millimetres.
    pub e: f64,
    /// Variances of p and e, and their covariance, square millimetres.
    pub variance: (f64, f64, f64),
    /// Chi-square by the stated errors.
    pub chi_square: f64,
    /// By what the variances were widened; one where the stated errors suffice.
    pub widened: f64,
    /// Measured span minus that of the line, in pixels, and its standard uncertainty before the fit, shot by shot.
    pub residuals: Vec<(f64, f64)>,
}

/// Times the weights are worked out anew from the line: they hardly move after the first.
const ROUNDS: usize = 6;

/// Fits the line by weighted least squares (JCGM 100:2008, H.3, with weights). The weight of a shot is that of its
/// effective variance: the pixel error carried over to `W / (q g)`, and the tape error times the slope
/// (Orear, American Journal of Physics 50, 1982, 912). `None` where there are not two distances, or the spans do not
/// fall with the distance.
pub fn fit(points: &[Point], errors: Errors) -> Option<Line> {
    // Weights come from the line, not from the noisy spans: a span read too large would weigh too much.
    let mut line = weighted(points, |point| {
        let y = point.reach / point.span;
        y * errors.pixels / point.span
    })?;
    for _ in 0..ROUNDS {
        let (at, slope) = (line, line.slope);
        line = weighted(points, |point| {
            let y = at.y(point.distance);
            libm::hypot(y * y / point.reach * errors.pixels, slope * errors.tape)
        })?;
    }
    let Straight { slope, mean_distance, mean_y, weight, spread } = line;
    let (p, e) = (1.0 / slope, mean_distance - mean_y / slope);
    let residuals: Vec<(f64, f64)> = points
        .iter()
        .map(|point| {
            let span = point.reach / line.y(point.distance);
            let per_mm = span / (point.distance - e);
            (point.span - span, libm::hypot(errors.pixels, per_mm * errors.tape))
        })
        .collect();
    let chi_square = residuals.iter().map(|(off, u)| (off / u) * (off / u)).sum();
    let widened = widening(chi_square, points.len().saturating_sub(2));
    // Height at the centre of the shots and slope are uncorrelated; p and e follow to first order (JCGM 100:2008, 5.1).
    let (of_y, of_slope) = (widened / weight, widened / spread);
    let p2 = p * p;
    let y_p = mean_y * p2;
    let variance = (p2 * p2 * of_slope, p2 * of_y + y_p * y_p * of_slope, -p2 * y_p * of_slope);
    Some(Line { p, e, variance, chi_square, widened, residuals })
}

/// A line in the form that keeps its digits: through the centre of the shots.
#[derive(Clone, Copy)]
struct Straight {
    slope: f64,
    mean_distance: f64,
    mean_y: f64,
    weight: f64,
    spread: f64,
}

impl Straight {
    fn y(&self, distance: f64) -> f64 {
        self.mean_y + self.slope * (distance - self.mean_distance)
    }
}

fn weighted(points: &[Point], error: impl Fn(&Point) -> f64) -> Option<Straight> {
    let weights: Vec<f64> = points
        .iter()
        .map(|point| {
            let u = error(point);
            1.0 / (u * u)
        })
        .collect();
    let weight: f64 = weights.iter().sum();
    let mean = |of: &dyn Fn(&Point) -> f64| {
        points.iter().zip(&weights).map(|(point, w)| w * of(point)).sum::<f64>() / weight
    };
    let mean_distance = mean(&|point| point.distance);
    let mean_y = mean(&|point| point.reach / point.span);
    let spread =
        weight * mean(&|point| (point.distance - mean_distance) * (point.distance - mean_distance));
    let product = weight
        * mean(&|point| (point.distance - mean_distance) * (point.reach / point.span - mean_y));
    let slope = product / spread;
    let sound = slope.is_finite() && slope > 0.0 && spread > 0.0 && weight.is_finite();
    let line = Straight { slope, mean_distance, mean_y, weight, spread };
    let ahead = points.iter().all(|point| line.y(point.distance) > 0.0);
    (sound && ahead).then_some(line)
}
