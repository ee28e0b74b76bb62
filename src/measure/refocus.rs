//! The curve of a lens refocused at every distance: `d = a/M + b M + K`, with `M = q g / W`, `a = m f`, `b = f/m`.
//!
//! Exact for any lens that focuses as a whole, with any group behind it: Newton's equation for lens and group together
//! puts object and image at `f'/M` and `f' M` from the foci, and the group scales the latter by m^2.
//! Plain numbers in millimetres and pixels: `solve` turns them into units.

use super::line::Point;
use super::{Errors, widening};

/// What is known of the curve beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// Nothing stands behind the lens: `a = b = f`.
    Bare,
    /// The lens alone has this focal length, millimetres: `b = f^2/a`.
    Of(f64),
    /// Nothing: a and b are both fitted.
    Free,
}

/// A curve fitted.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// m f: the focal length as shot, millimetres.
    pub a: f64,
    /// f/m, millimetres.
    pub b: f64,
    /// Distance between the foci and the sensor-plane mark in the sum, millimetres.
    pub k: f64,
    /// Variances of a and b, and their covariance, square millimetres; b is no free number in the first two shapes.
    pub variance: (f64, f64, f64),
    /// Chi-square by the stated errors.
    pub chi_square: f64,
    /// By what the variances were widened; one where the stated errors suffice.
    pub widened: f64,
    /// Measured span minus that of the curve, in pixels, and its standard uncertainty before the fit, shot by shot.
    pub residuals: Vec<(f64, f64)>,
}

/// Steps of Gauss and Newton; the first guess is near, and four or five do.
const STEPS: usize = 40;

/// Fits the curve by weighted least squares on the spans. `None` where there are too few distances or no curve fits.
pub fn fit(points: &[Point], shape: Shape, errors: Errors) -> Option<Curve> {
    let mut curve = guess(points, shape)?;
    let mut last = None;
    for _ in 0..STEPS {
        let rows: Vec<Row> =
            points.iter().map(|point| row(&curve, shape, point, errors)).collect::<Option<_>>()?;
        let solved = least_squares(&rows, shape)?;
        let [to_a, to_b, to_k] = solved.step;
        curve.a += to_a;
        curve.k += to_k;
        curve.b = match shape {
            Shape::Bare => curve.a,
            Shape::Of(f) => f * f / curve.a,
            Shape::Free => curve.b + to_b,
        };
        let small = to_a.abs() <= 1e-13 * curve.a && to_k.abs() <= 1e-10 * curve.a;
        last = Some(solved);
        if small {
            break;
        }
    }
    let rows: Vec<Row> =
        points.iter().map(|point| row(&curve, shape, point, errors)).collect::<Option<_>>()?;
    let solved = last?;
    let chi_square = rows.iter().map(|row| row.off * row.off).sum();
    let free = if shape == Shape::Free { 3 } else { 2 };
    let widened = widening(chi_square, points.len().saturating_sub(free));
    let (a, b, ab) = solved.variance;
    let residuals = rows.iter().map(|row| (row.off * row.error, row.error)).collect();
    let variance = (a * widened, b * widened, ab * widened);
    // Where b is free and ill known it may come out below zero: a is good all the same.
    let sound = curve.a > 0.0 && curve.a.is_finite() && curve.b.is_finite();
    sound.then_some(Curve { variance, chi_square, widened, residuals, ..curve })
}

/// The line of d over 1/M, which leaves out the small term in M; then once more with that term.
fn guess(points: &[Point], shape: Shape) -> Option<Curve> {
    let mut small = 0.0;
    let mut found = None;
    for _ in 0..3 {
        let count = f64::from(u32::try_from(points.len()).ok()?);
        let x = |point: &Point| point.reach / point.span;
        let y = |point: &Point| point.distance - small * point.span / point.reach;
        let mean_x = points.iter().map(x).sum::<f64>() / count;
        let mean_y = points.iter().map(y).sum::<f64>() / count;
        let spread: f64 =
            points.iter().map(|point| (x(point) - mean_x) * (x(point) - mean_x)).sum();
        let product: f64 =
            points.iter().map(|point| (x(point) - mean_x) * (y(point) - mean_y)).sum();
        let a = product / spread;
        if !(a.is_finite() && a > 0.0) {
            return None;
        }
        small = match shape {
            Shape::Bare | Shape::Free => a,
            Shape::Of(f) => f * f / a,
        };
        found = Some((a, mean_y - a * mean_x));
    }
    let (a, k) = found?;
    Some(Curve {
        a,
        b: small,
        k,
        variance: (0.0, 0.0, 0.0),
        chi_square: 0.0,
        widened: 1.0,
        residuals: Vec::new(),
    })
}

/// A shot held against the curve, over its standard uncertainty.
struct Row {
    /// Measured minus curve.
    off: f64,
    /// By a, b and K: how the curve's span moves with each.
    by: [f64; 3],
    /// Standard uncertainty of the span and the tape together, in pixels.
    error: f64,
}

fn row(curve: &Curve, shape: Shape, point: &Point, errors: Errors) -> Option<Row> {
    let reach = point.distance - curve.k;
    // The smaller root of b M^2 - (d - K) M + a = 0, written so that it keeps its digits.
    let root = libm::sqrt(reach * reach - 4.0 * curve.a * curve.b);
    let m = 2.0 * curve.a / (reach + root);
    if !(m.is_finite() && m > 0.0 && root > 0.0) {
        return None;
    }
    // From F(M) = a/M + b M + K - d = 0: dM/dx = -(dF/dx) / (dF/dM).
    let slope = -curve.a / (m * m) + curve.b;
    let (by_a, by_b, by_k, by_d) = (-1.0 / m / slope, -m / slope, -1.0 / slope, 1.0 / slope);
    let by_a = match shape {
        Shape::Bare => by_a + by_b,
        Shape::Of(f) => by_a - by_b * f * f / (curve.a * curve.a),
        Shape::Free => by_a,
    };
    let error = libm::hypot(errors.pixels, by_d * point.reach * errors.tape);
    let by = [by_a, if shape == Shape::Free { by_b } else { 0.0 }, by_k];
    let by = by.map(|by| by * point.reach / error);
    Some(Row { off: (point.span - m * point.reach) / error, by, error })
}

struct Solved {
    /// For a, b and K.
    step: [f64; 3],
    /// Of a, of b, and between them.
    variance: (f64, f64, f64),
}

/// Least squares by orthogonal columns (Gram and Schmidt, twice over, which keeps the digits that normal equations
/// lose). K goes first and a last, so that the variance of a is that of its column alone.
fn least_squares(rows: &[Row], shape: Shape) -> Option<Solved> {
    let column = |at: usize| -> Vec<f64> {
        rows.iter().map(|row| row.by.get(at).copied().unwrap_or_default()).collect()
    };
    let off: Vec<f64> = rows.iter().map(|row| row.off).collect();
    let k = column(2);
    let (a, b) = (column(0), column(1));
    if shape != Shape::Free {
        let (pure, _) = without(&a, &[&k])?;
        let size = dot(&pure, &pure);
        let step_a = dot(&pure, &off) / size;
        let rest: Vec<f64> = off.iter().zip(&a).map(|(off, a)| off - step_a * a).collect();
        let step_k = dot(&k, &rest) / dot(&k, &k);
        return checked(
            Solved { step: [step_a, 0.0, step_k], variance: (1.0 / size, 0.0, 0.0) },
            &pure,
            &a,
        );
    }
    let (b_pure, _) = without(&b, &[&k])?;
    let (a_pure, parts) = without(&a, &[&k, &b_pure])?;
    let b_part = parts.get(1).copied()?;
    let (a_size, b_size) = (dot(&a_pure, &a_pure), dot(&b_pure, &b_pure));
    let step_a = dot(&a_pure, &off) / a_size;
    let step_b = dot(&b_pure, &off) / b_size - b_part * step_a;
    let rest: Vec<f64> = off
        .iter()
        .zip(a.iter().zip(&b))
        .map(|(off, (a, b))| off - step_a * a - step_b * b)
        .collect();
    let step_k = dot(&k, &rest) / dot(&k, &k);
    let of_a = 1.0 / a_size;
    let variance = (of_a, 1.0 / b_size + b_part * b_part * of_a, -b_part * of_a);
    checked(Solved { step: [step_a, step_b, step_k], variance }, &a_pure, &a)
}

/// `None` where nothing but rounding is left of a column: the shots do not tell its number from the others.
fn checked(solved: Solved, pure: &[f64], whole: &[f64]) -> Option<Solved> {
    let told = dot(pure, pure) > 1e-20 * dot(whole, whole);
    let finite = solved.step.iter().all(|step| step.is_finite()) && solved.variance.0.is_finite();
    (told && finite).then_some(solved)
}

/// A column without its parts along others, which are orthogonal, and how much of each was in it.
fn without(column: &[f64], others: &[&[f64]]) -> Option<(Vec<f64>, Vec<f64>)> {
    let mut left = column.to_vec();
    let mut parts = vec![0.0; others.len()];
    for _ in 0..2 {
        for (other, part) in others.iter().zip(&mut parts) {
            let along = dot(&left, other) / dot(other, other);
            if !along.is_finite() {
                return None;
            }
            *part += along;
            for (left, other) in left.iter_mut().zip(*other) {
                *left -= along * other;
            }
        }
    }
    Some((left, parts))
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
