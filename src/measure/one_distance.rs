//! Shots at one distance: with the place of the pupil known they tell the focal length, each by itself.

use crate::finding::{Code, Finding};
use crate::number::{fixed, short};
use crate::units::Offset;

use super::line::Point;
use super::series::Series;
use super::shots::Setting;
use super::solve::{Setup, Solved, Way, at_first, finding, millimeters, no_curve};
use super::{Known, widening};

/// p' = (q g / W) (d - e'), where the pupil place is known.
pub(super) fn solve(
    series: &Series,
    points: &[Point],
    setup: &Setup,
) -> Result<Solved, Box<Finding>> {
    let count = u32::try_from(points.len()).map_or(f64::INFINITY, f64::from);
    let distance = points.iter().map(|point| point.distance).sum::<f64>() / count;
    let alone = setup.pupil.map(|pupil| (pupil, Some(STATED_PUPIL))).or(series.lens.pupil);
    let known = alone.zip(series.between.shift).filter(|_| series.focus != Setting::Refocused);
    let Some(((pupil, pupil_u), shift)) = known else {
        return Err(Box::new(unplaced(series, distance, setup)));
    };
    let e = pupil.get() - shift.get();
    // Each shot tells p by itself, the better the more pixels it spans.
    let each = |point: &Point| {
        let room = point.distance - e;
        let p = point.span / point.reach * room;
        let u = p * libm::hypot(setup.errors.pixels / point.span, setup.errors.tape / room);
        (p, 1.0 / (u * u))
    };
    let weight: f64 = points.iter().map(|point| each(point).1).sum();
    let p = points.iter().map(each).map(|(p, weight)| p * weight).sum::<f64>() / weight;
    let residuals: Vec<(f64, f64)> = points
        .iter()
        .map(|point| {
            let there = p * point.reach / (point.distance - e);
            let error =
                libm::hypot(setup.errors.pixels, there / (point.distance - e) * setup.errors.tape);
            (point.span - there, error)
        })
        .collect();
    let chi_square: f64 = residuals.iter().map(|(off, u)| (off / u) * (off / u)).sum();
    let free = points.len().saturating_sub(1);
    let widened = widening(chi_square, free);
    if libm::sqrt(widened) > FARTHEST_OFF {
        return Err(Box::new(disagree(series)));
    }
    // The place of the pupil behind the attachment is off for both: where it is on the lens, and the shift.
    let pupil_u = libm::hypot(
        pupil_u.unwrap_or(STATED_PUPIL),
        series.between.shift_uncertainty.unwrap_or(STATED_SHIFT),
    );
    let of_pupil = p * pupil_u / (distance - e);
    let found = (|| {
        let focal = millimeters(p, widened / weight + of_pupil * of_pupil)?;
        let pupil = Known { value: Offset::new(e)?, uncertainty: pupil_u };
        let ahead = points.iter().all(|point| point.distance > e);
        ahead.then_some((focal, pupil))
    })();
    let (focal, pupil) = found.ok_or_else(|| no_curve(series))?;
    Ok(Solved {
        way: Way::OneDistance,
        focal,
        pupil: Some(pupil),
        covariance: None,
        magnification: None,
        chi_square,
        free,
        widened: libm::sqrt(widened),
        residuals,
    })
}

/// Standard uncertainty of a pupil place that states none, in millimetres: the kit's own default.
const STATED_PUPIL: f64 = 1.0;
/// The same of a shift.
const STATED_SHIFT: f64 = 0.5;

/// Shots at one distance that lie this many times further apart than their errors are not of one lens: a sheet mixed up
/// beyond what an error bar can say.
const FARTHEST_OFF: f64 = 10.0;

fn disagree(series: &Series) -> Finding {
    let message = format!(
        "{}: the shots are all at one distance and tell quite different focal lengths",
        series.title()
    );
    let widths = series.shots.iter().map(|shot| shot.width.get());
    let (narrow, wide) = widths.fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), width| {
        (low.min(width), high.max(width))
    });
    finding(series, message).hint(if wide > narrow * 1.01 {
        "one tape distance and several chart widths: are the two columns swapped? Else check spans, lens and ring"
    } else {
        "check the spans, and that lens, ring and attachment were the same for all"
    })
}

/// Why one distance does not do, with the numbers of this one.
fn unplaced(series: &Series, distance: f64, setup: &Setup) -> Finding {
    let title = series.title();
    let meters = short(distance / 1000.0, 3);
    let twice = short(2.0 * distance / 1000.0, 2);
    if series.focus == Setting::Refocused {
        return one_distance_finding(
            series,
            format!("{title}: all shots are at one distance, {meters} m"),
        )
        .hint(format!("shoot a second distance, about twice as far: {twice} m"));
    }
    let part = fixed(1000.0 / (distance - setup.pupil.map_or(0.0, Offset::get)), 2);
    let missing = if series.lens.pupil.is_none() && setup.pupil.is_none() {
        "where the entrance pupil stands is not known"
    } else {
        "how far the attachment brings the sensor plane forward is not known"
    };
    // The example is that of docs/measure.md: a traced 50 mm lens behind an ideal reducer.
    let ratio = if series.between.bare {
        ""
    } else {
        ". A plain ratio of widths is no magnification m: the attachment brings the sensor forward, so it is \
         m (d - e)/(d - e'), d being the tape, e and e' the pupil without and with it; a 50 mm lens on a true 0.71 \
         reads 0.7044 at 1 m and 0.7087 at 4 m"
    };
    let message = format!(
        "{title}: all shots are at one distance, {meters} m, and {missing}; every 10 mm of it make {part} % of the \
         focal length{ratio}"
    );
    one_distance_finding(series, message)
        .hint(format!("shoot a second distance, about twice as far: {twice} m"))
}

fn one_distance_finding(series: &Series, message: String) -> Finding {
    at_first(series, Finding::new(Code::ChartOneDistance, message))
}
