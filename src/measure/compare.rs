//! One series against another: magnification, and what is to be said of the fits.

use crate::finding::{Code, Finding};
use crate::number::{fixed, short};
use crate::units::Factor;

use super::series::{Series, settings_without_bare};
use super::solve::{Setup, Solved, Way};
use super::{Known, printed, widening};

/// A magnification found.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// Which series stood behind the attachment, counted from 0.
    pub series: usize,
    /// The series of the lens alone, counted from 0; `None` where the focal length of the lens was given.
    pub bare: Option<usize>,
    /// Magnification.
    pub magnification: Known<Factor>,
    /// As marked.
    pub marked: Option<Factor>,
    /// Relative standard uncertainty that it has in common with every other pair that was held against `--native`.
    pub shared: f64,
}

impl Pair {
    /// Measured over marked, less one, in percent.
    pub fn off_mark_percent(&self) -> Option<f64> {
        Some((self.magnification.value.get() / self.marked?.get() - 1.0) * 100.0)
    }

    /// The same difference in standard uncertainties of the measurement.
    pub fn off_mark_uncertainties(&self) -> Option<f64> {
        let off = self.magnification.value.get() - self.marked?.get();
        let off = off / self.magnification.uncertainty;
        off.is_finite().then_some(off)
    }
}

/// The magnification of every series behind an attachment; a finding for one that has nothing to be held against.
pub fn compare(
    all: &[Series],
    solved: &[Result<Solved, Box<Finding>>],
    setup: &Setup,
) -> (Vec<Pair>, Vec<Finding>) {
    let (mut pairs, mut findings) = (Vec::new(), Vec::new());
    let without_bare = settings_without_bare(all);
    for (at, (series, found)) in all.iter().zip(solved).enumerate() {
        let Ok(own) = found else { continue };
        if series.between.bare {
            continue;
        }
        let bare = alone(all, solved, series);
        let native =
            bare.map(|(_, bare)| bare.focal).or_else(|| setup.native_at(without_bare, series));
        let magnification = own.magnification.or_else(|| {
            let native = native?;
            let m = own.focal.value.get() / native.value.get();
            // Each series has its own shots: independent factors add as relative parts (JCGM 100:2008, 5.1.6).
            let relative = libm::hypot(own.focal.relative(), native.relative());
            Some(Known { value: Factor::new(m)?, uncertainty: m * relative })
        });
        match magnification {
            Some(magnification) => pairs.push(Pair {
                series: at,
                bare: bare.map(|(at, _)| at),
                magnification,
                marked: series.between.marked,
                shared: match (bare, own.magnification, native) {
                    (None, None, Some(native)) => native.relative(),
                    _ => 0.0,
                },
            }),
            None => findings.extend(lonely(series, setup)),
        }
    }
    (pairs, findings)
}

/// The series of the lens alone at the same setting: with nothing between first, then on a plain adapter.
fn alone<'s>(
    all: &[Series],
    solved: &'s [Result<Solved, Box<Finding>>],
    series: &Series,
) -> Option<(usize, &'s Solved)> {
    let like = |plain: bool| {
        let mut all = all.iter().zip(solved).enumerate();
        all.find_map(|(at, (other, found))| {
            let fits =
                other.between.bare && other.between.plain == plain && series.same_setting(other);
            Some((at, found.as_ref().ok().filter(|_| fits)?))
        })
    };
    like(false).or_else(|| like(true))
}

fn lonely(series: &Series, setup: &Setup) -> Option<Finding> {
    let (why, hint) = if setup.native.is_some() {
        (
            "--native holds for one focus setting, and the sheet has several: it was not taken for this one, whose \
             magnification is not known",
            "give each focus setting a sheet of its own with its own --native, or shoot the chart with the bare lens too",
        )
    } else {
        (
            "the lens was not measured without the attachment at this setting, so the magnification is not known",
            "shoot the chart with the bare lens too, its rings at the same marks, or give --native",
        )
    };
    let message = format!("{}: {why}", series.title());
    Some(
        Finding::new(Code::ChartNoBare, message).at(series.shots.first()?.place.clone()).hint(hint),
    )
}

/// Series whose shots lie further off than the stated errors allow.
pub fn scattered(
    all: &[Series],
    solved: &[Result<Solved, Box<Finding>>],
    setup: &Setup,
) -> Vec<Finding> {
    let of = |(series, found): (&Series, &Result<Solved, Box<Finding>>)| {
        let found = found.as_ref().ok().filter(|found| found.widened > 1.0)?;
        let worst = found
            .residuals
            .iter()
            .zip(&series.shots)
            .max_by(|((a, u), _), ((b, v), _)| (a / u).abs().total_cmp(&(b / v).abs()))?;
        let message = format!(
            "{}: the shots lie off the curve by {} px on average, more than {} px of the span and {} mm of the tape allow; \
             the uncertainties were made {} times as large, and this shot is the furthest off for its error bar, by {} px",
            series.title(),
            fixed(found.rms(), 1),
            short(setup.errors.pixels, 2),
            short(setup.errors.tape, 2),
            fixed(found.widened, 1),
            fixed(worst.0.0, 1)
        );
        let hint = if found.way == Way::Line {
            "check this row; a focus ring that was turned, a chart that was not square to the lens and a tape that sagged all bend the line"
        } else {
            "check this row; a chart that was not square to the lens and a tape that sagged bend the curve"
        };
        Some(Finding::new(Code::ChartScatter, message).at(worst.1.place.clone()).hint(hint))
    };
    all.iter().zip(solved).filter_map(of).collect()
}

/// Pairs of one attachment that are further apart than their uncertainties allow.
pub fn apart(name: &str, pairs: &[&Pair], all: &[(Series, Option<Solved>)]) -> Option<Finding> {
    let (_, ratio) = pooled(pairs)?;
    if ratio <= 1.0 {
        return None;
    }
    let each: Vec<String> = pairs
        .iter()
        .take(6)
        .filter_map(|pair| {
            let (series, _) = all.get(pair.series)?;
            let m = pair.magnification;
            Some(format!("{} ({})", printed(&m), series.focus.words()))
        })
        .collect();
    let message = format!(
        "{name}: its {} pairs do not agree on the magnification: {}; the uncertainty of the mean was made {} times as large",
        pairs.len(),
        each.join(", "),
        fixed(ratio, 1)
    );
    let first = pairs.first().and_then(|pair| all.get(pair.series))?.0.shots.first()?;
    let hint = "check the series that stands apart: a ring turned between bare and behind, a chart or a mode that was changed";
    Some(Finding::new(Code::ChartPairs, message).at(first.place.clone()).hint(hint))
}

/// The mean of several measurements of one attachment, each weighed by its uncertainty; wider where they disagree.
pub fn mean(pairs: &[&Pair]) -> Option<Known<Factor>> {
    pooled(pairs).map(|(mean, _)| mean)
}

/// The mean, and by what its uncertainty was widened.
fn pooled(pairs: &[&Pair]) -> Option<(Known<Factor>, f64)> {
    let [first, others @ ..] = pairs else { return None };
    if others.is_empty() {
        return Some((first.magnification, 1.0));
    }
    // What all pairs have in common does not average out: it is left aside, and added again to the mean.
    let shared = pairs.iter().map(|pair| pair.shared).fold(0.0, f64::max);
    let weight = |pair: &Pair| {
        let Known { value, uncertainty } = pair.magnification;
        let common = value.get() * pair.shared;
        1.0 / (uncertainty * uncertainty - common * common).max(f64::MIN_POSITIVE)
    };
    let all: f64 = pairs.iter().map(|pair| weight(pair)).sum();
    let sum: f64 = pairs.iter().map(|pair| weight(pair) * pair.magnification.value.get()).sum();
    let mean = sum / all;
    let off = |pair: &Pair| pair.magnification.value.get() - mean;
    let chi_square: f64 = pairs.iter().map(|pair| weight(pair) * off(pair) * off(pair)).sum();
    let widened = widening(chi_square, pairs.len() - 1);
    let uncertainty = libm::hypot(libm::sqrt(widened / all), mean * shared);
    let known = Known { value: Factor::new(mean)?, uncertainty };
    uncertainty.is_finite().then_some((known, libm::sqrt(widened)))
}
