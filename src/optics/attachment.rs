//! What a rear attachment changes: focal length, stop, light, image circle, pupil place.

use super::math::{log2, sqrt};
use crate::estimate::{Bare, Estimate};
use crate::units::{FNumber, Factor, Millimeters, Offset, Stops, TNumber, Transmittance};

/// Focal length behind the attachment: f' = m f.
pub fn focal_length(
    f: Estimate<Millimeters>,
    m: Estimate<Factor>,
) -> Option<Estimate<Millimeters>> {
    (m.bare() * f.bare()).unit()
}

/// f-number behind the attachment: N' = m N, because the entrance pupil stays as large as it is.
pub fn f_number(n: Estimate<FNumber>, m: Estimate<Factor>) -> Option<Estimate<FNumber>> {
    (m.bare() * n.bare()).unit()
}

/// T-number behind the attachment: T' = m T / sqrt(tau of its glass) (ISO 517 for the T-number).
pub fn t_number(
    t: Estimate<TNumber>,
    m: Estimate<Factor>,
    tau: Estimate<Transmittance>,
) -> Option<Estimate<TNumber>> {
    (m.bare() * t.bare() / sqrt(tau.bare())).unit()
}

/// T-number of a lens with this f-number: T = N / sqrt(tau).
pub fn t_from_f(n: Estimate<FNumber>, tau: Estimate<Transmittance>) -> Option<Estimate<TNumber>> {
    (n.bare() / sqrt(tau.bare())).unit()
}

/// f-number of a lens with this T-number: N = T sqrt(tau).
pub fn f_from_t(t: Estimate<TNumber>, tau: Estimate<Transmittance>) -> Option<Estimate<FNumber>> {
    (t.bare() * sqrt(tau.bare())).unit()
}

/// Transmittance of a lens from its largest openings: tau = (N/T)^2. `None` where T is below N, which no glass can do.
pub fn transmittance(n: FNumber, t: TNumber) -> Option<Transmittance> {
    let part = n.get() / t.get();
    Transmittance::new(part * part)
}

/// Light won (positive) or lost at the sensor: -2 log2(m) + log2(tau of the attachment's glass).
pub fn light(m: Estimate<Factor>, tau: Estimate<Transmittance>) -> Option<Estimate<Stops>> {
    (log2(tau.bare()) - log2(m.bare()) * 2.0).unit()
}

/// Image circle behind the attachment: m times the lens's own, and never more than the attachment lets out.
pub fn image_circle(
    circle: Estimate<Millimeters>,
    m: Estimate<Factor>,
    exit: Option<Estimate<Millimeters>>,
) -> Option<Estimate<Millimeters>> {
    let scaled = (m.bare() * circle.bare()).unit()?;
    Some(exit.filter(|exit| exit.value < scaled.value).unwrap_or(scaled))
}

/// How far the sensor plane stands nearer to the lens than the lens's own flange depth puts it:
/// s = flange of the lens mount - (flange of the body mount + thickness of the attachment).
/// Never from m alone: thick glass adds its own term.
pub fn shift(
    lens_flange: Millimeters,
    body_flange: Millimeters,
    thickness: Estimate<Offset>,
) -> Option<Estimate<Offset>> {
    (Bare::exact(lens_flange.get() - body_flange.get()) - thickness.bare()).unit()
}

/// Place of the entrance pupil from the sensor plane behind the attachment: e' = e - s.
pub fn pupil_offset(native: Estimate<Offset>, shift: Estimate<Offset>) -> Option<Estimate<Offset>> {
    (native.bare() - shift.bare()).unit()
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
        let mm = |v| Estimate::exact(Millimeters::new(v).unwrap());
        let m = Estimate::exact(Factor::new(0.71).unwrap());
        assert_eq!(image_circle(mm(43.3), m, Some(mm(30.0))), Some(mm(30.0)));
        assert_eq!(image_circle(mm(43.3), m, Some(mm(33.0))), Some(mm(0.71 * 43.3)));
        assert_eq!(image_circle(mm(43.3), m, None), Some(mm(0.71 * 43.3)));
    }
}
