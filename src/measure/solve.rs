//! Each series to its numbers, or to the finding that says why it has none.

use crate::finding::{Code, Finding};
use crate::number::short;
use crate::units::{Factor, Millimeters, Offset};

use super::line::{self, Point};
use super::refocus::{self, Shape};
use super::series::{Series, settings_without_bare};
use super::shots::Setting;
use super::{Errors, Known, Native, one_distance};

/// What a series came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Solved {
    /// How it was worked out.
    pub way: Way,
    /// Pinhole focal length as shot; of a refocused series the focal length at infinity, m f.
    pub focal: Known<Millimeters>,
    /// Entrance pupil from the sensor plane; a refocused series does not tell it.
    pub pupil: Option<Known<Offset>>,
    /// Covariance of the two, in square millimetres.
    pub covariance: Option<f64>,
    /// Magnification, where the series is fitted together with it: refocused, behind an attachment.
    pub magnification: Option<Known<Factor>>,
    /// Chi-square by the stated errors, and its degrees of freedom.
    pub chi_square: f64,
    /// Shots beyond what the numbers need.
    pub free: usize,
    /// By what the standard uncertainties were widened (the Birge ratio); one where the stated errors suffice.
    pub widened: f64,
    /// Measured span minus that of the curve and its standard uncertainty, in pixels, shot by shot.
    pub residuals: Vec<(f64, f64)>,
}

/// How a series was worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// A straight line over two or more distances, the focus ring kept still.
    Line,
    /// The curve of a lens refocused at every distance.
    Curve,
    /// From one distance and a pupil place that was known.
    OneDistance,
}

/// What all series share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setup {
    /// Errors of a span and of a tape reading.
    pub errors: Errors,
    /// Pixels in a row of the recording, where known.
    pub raster_width: Option<u32>,
    /// Focal length of the lens alone, where it was given.
    pub native: Option<Native>,
    /// Entrance pupil of the lens alone from the sensor plane, where it was given.
    pub pupil: Option<Offset>,
}

impl Setup {
    /// The focal length that was given, where it holds for this series. A lens has another at each focus setting: where
    /// several settings would take it, it stands for infinity alone.
    pub fn native_at(&self, without_bare: usize, series: &Series) -> Option<Native> {
        self.native.filter(|_| without_bare < 2 || series.focus.at_infinity())
    }
}

impl Solved {
    /// Root mean square of the residuals, in pixels.
    pub fn rms(&self) -> f64 {
        let count = u32::try_from(self.residuals.len()).map_or(f64::INFINITY, f64::from);
        libm::sqrt(self.residuals.iter().map(|(off, _)| off * off).sum::<f64>() / count)
    }
}

/// Solves every series: those of the lens alone first, because others rest on them. The finding of a series that has
/// no numbers, or of one whose shots lie further off than the errors allow, stands beside it.
pub fn solve(all: &[Series], setup: &Setup) -> Vec<Result<Solved, Box<Finding>>> {
    let mut solved: Vec<Option<Result<Solved, Box<Finding>>>> =
        all.iter().map(|series| series.between.bare.then(|| one(series, None, setup))).collect();
    let without_bare = settings_without_bare(all);
    for (at, series) in all.iter().enumerate() {
        if series.between.bare {
            continue;
        }
        let native =
            partner(all, &solved, series).or_else(|| setup.native_at(without_bare, series));
        if let Some(slot) = solved.get_mut(at) {
            *slot = Some(one(series, native, setup));
        }
    }
    solved.into_iter().flatten().collect()
}

/// The lens alone, refocused as the series was.
fn partner(
    all: &[Series],
    solved: &[Option<Result<Solved, Box<Finding>>>],
    series: &Series,
) -> Option<Native> {
    let bare = |other: &Series| other.between.bare && series.same_setting(other);
    let mut bare = all.iter().zip(solved).filter(|(other, _)| bare(other));
    bare.find_map(|(_, found)| Some(found.as_ref()?.as_ref().ok()?.focal))
}

fn one(series: &Series, native: Option<Native>, setup: &Setup) -> Result<Solved, Box<Finding>> {
    fits_raster(series, setup.raster_width)?;
    let points: Vec<Point> = series
        .shots
        .iter()
        .map(|shot| Point {
            distance: shot.distance.get() * 1000.0,
            // A squeezed span is that of a lens so much shorter: taken out, both sides tell the focal length as marked.
            reach: shot.width.get() / shot.pitch.get() / series.squeezed(),
            span: shot.span,
        })
        .collect();
    let near = points.iter().map(|point| point.distance).fold(f64::INFINITY, f64::min);
    let far = points.iter().map(|point| point.distance).fold(0.0, f64::max);
    // Nearer together than the tape can part them, or than any curve could.
    if far - near <= (3.0 * setup.errors.tape).max(near * 0.01) {
        return one_distance::solve(series, &points, setup);
    }
    falls(series, &points, setup.errors)?;
    match series.focus {
        Setting::Refocused => curve(series, &points, native, setup),
        Setting::Mark(_) | Setting::Unsaid => straight(series, &points, setup),
    }
}

fn straight(series: &Series, points: &[Point], setup: &Setup) -> Result<Solved, Box<Finding>> {
    let line = line::fit(points, setup.errors).ok_or_else(|| no_curve(series))?;
    let (of_p, of_e, both) = line.variance;
    let known = (|| Some((millimeters(line.p, of_p)?, offset(line.e, of_e)?)))();
    let (focal, pupil) = known.ok_or_else(|| no_curve(series))?;
    Ok(Solved {
        way: Way::Line,
        focal,
        pupil: Some(pupil),
        covariance: Some(both),
        magnification: None,
        chi_square: line.chi_square,
        free: points.len().saturating_sub(2),
        widened: libm::sqrt(line.widened),
        residuals: line.residuals,
    })
}

/// The largest relative variance of b from which a magnification is still told: m is then good to some 5 %.
const TELLING: f64 = 0.01;

fn curve(
    series: &Series,
    points: &[Point],
    native: Option<Native>,
    setup: &Setup,
) -> Result<Solved, Box<Finding>> {
    let shape = match (series.between.bare, native) {
        (true, _) => Shape::Bare,
        (false, Some(native)) => Shape::Of(native.value.get()),
        (false, None) => Shape::Free,
    };
    let numbers = if shape == Shape::Free { 3 } else { 2 };
    if distances(points, setup.errors) < numbers {
        let message = format!(
            "{}: two distances do not tell what the lens does alone from what the attachment does",
            series.title()
        );
        let hint = "shoot the lens refocused without the attachment too, give --native, or add two distances";
        return Err(Box::new(finding(series, message).hint(hint)));
    }
    let fitted = refocus::fit(points, shape, setup.errors).ok_or_else(|| no_curve(series))?;
    let (of_a, of_b, both) = fitted.variance;
    let factor = |m: f64, uncertainty| Some(Known { value: Factor::new(m)?, uncertainty });
    let (variance, magnification) = match (shape, native) {
        (Shape::Of(f), Some(native)) => {
            // The lens's own uncertainty goes through the fit: fitted once more with the lens that much longer.
            let u = native.uncertainty;
            let longer = refocus::fit(points, Shape::Of(f + u), setup.errors);
            let moved = longer.map_or(0.0, |other| other.a - fitted.a);
            let m_moved = (fitted.a + moved) / (f + u) - fitted.a / f;
            let m = factor(fitted.a / f, libm::hypot(libm::sqrt(of_a) / f, m_moved));
            (of_a + moved * moved, m)
        }
        // From m so ill known nobody learns anything, and to first order it would be wrong.
        (Shape::Free, _) if fitted.b > 0.0 && of_b < TELLING * fitted.b * fitted.b => {
            let m = libm::sqrt(fitted.a / fitted.b);
            let (a, b) = (fitted.a, fitted.b);
            // m = sqrt(a/b), to first order with the covariance (JCGM 100:2008, 5.2.2).
            let relative = of_a / (a * a) + of_b / (b * b) - 2.0 * both / (a * b);
            (of_a, factor(m, 0.5 * m * libm::sqrt(relative.max(0.0))))
        }
        _ => (of_a, None),
    };
    let focal = millimeters(fitted.a, variance).ok_or_else(|| no_curve(series))?;
    Ok(Solved {
        way: Way::Curve,
        focal,
        pupil: None,
        covariance: None,
        magnification,
        chi_square: fitted.chi_square,
        free: points.len().saturating_sub(numbers),
        widened: libm::sqrt(fitted.widened),
        residuals: fitted.residuals,
    })
}

/// Spans that are wider than the recording were not measured in it.
fn fits_raster(series: &Series, width: Option<u32>) -> Result<(), Box<Finding>> {
    let Some(width) = width else { return Ok(()) };
    match series.shots.iter().find(|shot| shot.span > f64::from(width)) {
        None => Ok(()),
        Some(shot) => Err(Box::new(Finding::new(
            Code::ChartSeries,
            format!(
                "{}: a span of {} pixels is wider than the raster, {width}",
                series.title(),
                short(shot.span, 1)
            ),
        )
        .at(shot.place.clone())
        .hint("measure it in the recorded raster, not in a still that was made larger; or check --mode"))),
    }
}

/// A chart further away must look smaller; which shots disagree is said.
fn falls(series: &Series, points: &[Point], errors: Errors) -> Result<(), Box<Finding>> {
    let mut order: Vec<_> = points.iter().zip(&series.shots).collect();
    order.sort_by(|(a, _), (b, _)| a.distance.total_cmp(&b.distance));
    for ((near, _), (far, shot)) in order.iter().zip(order.iter().skip(1)) {
        let apart = far.distance - near.distance > 5.0 * errors.tape.max(0.2);
        let larger = far.span / far.reach > (near.span + 5.0 * errors.pixels) / near.reach;
        if apart && larger {
            let message = format!(
                "{}: the chart looks larger at {} m than at {} m",
                series.title(),
                short(far.distance / 1000.0, 3),
                short(near.distance / 1000.0, 3)
            );
            let finding = Finding::new(Code::ChartSeries, message)
                .at(shot.place.clone())
                .hint("check tape and span of both rows, and the lens, the zoom ring and the attachment noted with them");
            return Err(Box::new(finding));
        }
    }
    Ok(())
}

/// How many distances the tape can tell apart.
fn distances(points: &[Point], errors: Errors) -> usize {
    let mut sorted: Vec<f64> = points.iter().map(|point| point.distance).collect();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup_by(|next, last| *next - *last <= 3.0 * errors.tape);
    sorted.len()
}

pub(super) fn no_curve(series: &Series) -> Box<Finding> {
    let finding = finding(series, format!("{}: no lens fits these shots", series.title()));
    Box::new(finding
        .hint("check tapes, spans and chart width and their units, and that nothing was turned or swapped between the shots"))
}

pub(super) fn finding(series: &Series, message: String) -> Finding {
    at_first(series, Finding::new(Code::ChartSeries, message))
}

pub(super) fn at_first(series: &Series, finding: Finding) -> Finding {
    match series.shots.first() {
        Some(shot) => finding.at(shot.place.clone()),
        None => finding,
    }
}

pub(super) fn millimeters(value: f64, variance: f64) -> Option<Known<Millimeters>> {
    // No lens is shorter or longer: the fit has gone astray.
    let value = Millimeters::new(value).filter(|value| (1.0..=5000.0).contains(&value.get()))?;
    Some(Known { value, uncertainty: uncertainty(variance)? })
}

fn offset(value: f64, variance: f64) -> Option<Known<Offset>> {
    Some(Known { value: Offset::new(value)?, uncertainty: uncertainty(variance)? })
}

fn uncertainty(variance: f64) -> Option<f64> {
    let u = libm::sqrt(variance);
    u.is_finite().then_some(u)
}
