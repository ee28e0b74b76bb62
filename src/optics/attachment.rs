//! What a rear attachment changes: focal length, stop, light, image circle, pupil place.

use super::math::{log2, sqrt};
use crate::units::{FNumber, Factor, Millimeters, Offset, Stops, TNumber, Transmittance};

/// Focal length behind the attachment: f' = m f.
pub fn focal_length(f: Millimeters, m: Factor) -> Option<Millimeters> {
    Millimeters::new(m.get() * f.get())
}

/// f-number behind the attachment: N' = m N, because the entrance pupil stays as large as it is.
pub fn f_number(n: FNumber, m: Factor) -> Option<FNumber> {
    FNumber::new(m.get() * n.get())
}

/// T-number behind the attachment: T' = m T / sqrt(tau of its glass) (ISO 517 for the T-number).
pub fn t_number(t: TNumber, m: Factor, tau: Transmittance) -> Option<TNumber> {
    TNumber::new(m.get() * t.get() / sqrt(tau.get()))
}

/// T-number of a lens with this f-number: T = N / sqrt(tau).
pub fn t_from_f(n: FNumber, tau: Transmittance) -> Option<TNumber> {
    TNumber::new(n.get() / sqrt(tau.get()))
}

/// f-number of a lens with this T-number: N = T sqrt(tau).
pub fn f_from_t(t: TNumber, tau: Transmittance) -> Option<FNumber> {
    FNumber::new(t.get() * sqrt(tau.get()))
}

/// Transmittance of a lens from its largest openings: tau = (N/T)^2. `None` where T is below N, which no glass can do.
pub fn transmittance(n: FNumber, t: TNumber) -> Option<Transmittance> {
    let part = n.get() / t.get();
    Transmittance::new(part * part)
}

/// Light won (positive) or lost at the sensor: -2 log2(m) + log2(tau of the attachment's glass).
pub fn light(m: Factor, tau: Transmittance) -> Option<Stops> {
    Stops::new(-2.0 * log2(m.get()) + log2(tau.get()))
}

/// Image circle behind the attachment: m times the lens's own, and never more than the attachment lets out.
pub fn image_circle(
    circle: Millimeters,
    m: Factor,
    exit: Option<Millimeters>,
) -> Option<Millimeters> {
    let scaled = m.get() * circle.get();
    Millimeters::new(exit.map_or(scaled, |exit| scaled.min(exit.get())))
}

/// How far the sensor plane stands nearer to the lens than the lens's own flange depth puts it:
/// s = flange of the lens mount - (flange of the body mount + thickness of the attachment).
/// Never from m alone: thick glass adds its own term.
pub fn shift(
    lens_flange: Millimeters,
    body_flange: Millimeters,
    thickness: Offset,
) -> Option<Offset> {
    Offset::new(lens_flange.get() - (body_flange.get() + thickness.get()))
}

/// Place of the entrance pupil from the sensor plane behind the attachment: e' = e - s.
pub fn pupil_offset(native: Offset, shift: Offset) -> Option<Offset> {
    Offset::new(native.get() - shift.get())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_glass_lets_out_more_light_than_enters() {
        let n = FNumber::new(2.0).unwrap();
        assert!(transmittance(n, TNumber::new(1.9).unwrap()).is_none());
        assert!(transmittance(n, TNumber::new(2.2).unwrap()).is_some());
    }

    #[test]
    fn the_exit_circle_is_a_limit() {
        let mm = |v| Millimeters::new(v).unwrap();
        let m = Factor::new(0.71).unwrap();
        assert_eq!(image_circle(mm(43.3), m, Some(mm(30.0))), Some(mm(30.0)));
        assert_eq!(image_circle(mm(43.3), m, None), Some(mm(0.71 * 43.3)));
    }
}
