//! Everything that was measured, for the outputs.

use crate::finding::Finding;
use crate::kit::Kit;
use crate::units::{Factor, Meters, Millimeters, Offset, Unit};

use super::against_kit::{self, Doubt};
use super::compare::{self, Pair};
use super::glass::Glass;
use super::series::Series;
use super::shots::{Setting, Side};
use super::solve::{Setup, Solved, Way, solve};
use super::{Known, widening};

/// What a sheet of chart shots came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// Errors and what else all series share.
    pub setup: Setup,
    /// The series, and what each came to; `None` where it could not be solved.
    pub series: Vec<(Series, Option<Solved>)>,
    /// Magnifications.
    pub pairs: Vec<Pair>,
    /// What the kit contradicts; empty until the report is held against one.
    pub doubts: Vec<Doubt>,
}

/// A lens at one mark: its series without an attachment, by focus setting, nearest first and infinity last.
#[derive(Clone, Debug, PartialEq)]
pub struct Alone<'r> {
    /// The lens.
    pub lens: &'r Glass,
    /// Mark on the zoom ring.
    pub focal: Option<Millimeters>,
    /// Its series.
    pub settings: Vec<(Setting, &'r Solved)>,
    /// All series of it, counted from 0, also those that were measured once more.
    pub series: Vec<usize>,
    /// How good the choice for each setting is: those to which a lower rank was met go.
    ranks: Vec<(bool, bool)>,
}

/// What a lens at one mark is at infinity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Whole {
    /// Focal length.
    pub focal: Known<Millimeters>,
    /// Entrance pupil from the sensor plane, where it was told.
    pub pupil: Option<Known<Offset>>,
    /// Focus settings from which it was worked out, where the lens was not shot at infinity.
    pub extrapolated: bool,
}

impl Report {
    /// Solves the series and compares them; what is to be said of them comes beside.
    pub fn make(series: Vec<Series>, setup: Setup) -> (Self, Vec<Finding>) {
        let solved = solve(&series, &setup);
        let mut findings: Vec<Finding> = solved
            .iter()
            .filter_map(|found| found.as_ref().err().map(|said| said.as_ref().clone()))
            .collect();
        findings.extend(compare::scattered(&series, &solved, &setup));
        let (pairs, lonely) = compare::compare(&series, &solved, &setup);
        findings.extend(lonely);
        let series = series.into_iter().zip(solved.into_iter().map(Result::ok)).collect();
        let report = Self { setup, series, pairs, doubts: Vec::new() };
        let apart = report
            .groups()
            .into_iter()
            .filter_map(|(one, pairs)| compare::apart(&one.between.name, &pairs, &report.series));
        findings.extend(apart.collect::<Vec<_>>());
        (report, findings)
    }

    /// Holds what was measured against the kit; what it contradicts is a finding, and a doubt of the report.
    pub fn hold_against(&mut self, kit: &Kit) -> Vec<Finding> {
        let (doubts, findings): (Vec<_>, Vec<_>) =
            against_kit::doubts(kit, &self.series, &self.pairs).into_iter().unzip();
        self.doubts = doubts;
        findings.into_iter().flatten().collect()
    }

    /// Why the numbers of these series are in doubt.
    pub fn doubt_of(&self, series: &[usize]) -> Option<&str> {
        let met = |doubt: &&Doubt| doubt.series.iter().any(|at| series.contains(at));
        self.doubts.iter().find(met).map(|doubt| doubt.reason.as_str())
    }

    /// Why the magnification of an attachment is in doubt: of itself, or because a series is that it rests on.
    pub fn doubt_of_attachment(&self, name: &str) -> Option<&str> {
        let own = self.doubts.iter().find(|doubt| doubt.attachment.as_deref() == Some(name));
        let of = |pair: &&Pair| {
            self.series.get(pair.series).is_some_and(|(series, _)| series.between.name == name)
        };
        let rests: Vec<usize> = self
            .pairs
            .iter()
            .filter(of)
            .flat_map(|pair| std::iter::once(pair.series).chain(pair.bare))
            .collect();
        own.map(|doubt| doubt.reason.as_str()).or_else(|| self.doubt_of(&rests))
    }

    /// True where no series came to anything.
    pub fn is_empty(&self) -> bool {
        self.series.iter().all(|(_, solved)| solved.is_none())
    }

    /// The lenses alone, each at each mark, in the order of the sheet.
    pub fn alone(&self) -> Vec<Alone<'_>> {
        let mut all: Vec<Alone<'_>> = Vec::new();
        let mut keys = Vec::new();
        for (at, (series, solved)) in self.series.iter().enumerate() {
            let (Some(solved), true) = (solved, series.between.bare) else { continue };
            let setting = (series.focus, solved);
            // Measured twice: with nothing between goes before a plain adapter, unsqueezed before squeezed.
            let rank = (series.between.plain, series.side == Some(Side::Width));
            let met = keys.iter().position(|key| *key == series.lens_key());
            if let Some(alone) = met.and_then(|at| all.get_mut(at)) {
                alone.add(at, setting, rank);
                continue;
            }
            keys.push(series.lens_key());
            all.push(Alone {
                lens: &series.lens,
                focal: series.focal,
                settings: vec![setting],
                series: vec![at],
                ranks: vec![rank],
            });
        }
        for alone in &mut all {
            alone.settings.sort_by(|(a, _), (b, _)| mark(*a).total_cmp(&mark(*b)));
        }
        all
    }

    /// Each attachment with its magnification over all pairs, and how many there are.
    pub fn attachments(&self) -> Vec<(&Series, Known<Factor>, usize)> {
        let mean =
            |(series, pairs): (_, Vec<&Pair>)| Some((series, compare::mean(&pairs)?, pairs.len()));
        self.groups().into_iter().filter_map(mean).collect()
    }

    /// The pairs of each attachment.
    fn groups(&self) -> Vec<(&Series, Vec<&Pair>)> {
        let mut groups: Vec<(&Series, Vec<&Pair>)> = Vec::new();
        for pair in &self.pairs {
            let Some((series, _)) = self.series.get(pair.series) else { continue };
            match groups.iter_mut().find(|(other, _)| other.between.name == series.between.name) {
                Some((_, pairs)) => pairs.push(pair),
                None => groups.push((series, vec![pair])),
            }
        }
        groups
    }
}

impl<'r> Alone<'r> {
    fn add(&mut self, at: usize, setting: (Setting, &'r Solved), rank: (bool, bool)) {
        self.series.push(at);
        let met = self.settings.iter_mut().zip(&mut self.ranks);
        match met.into_iter().find(|((focus, _), _)| *focus == setting.0) {
            Some((kept, kept_rank)) if rank < *kept_rank => (*kept, *kept_rank) = (setting, rank),
            Some(_) => {}
            None => {
                self.settings.push(setting);
                self.ranks.push(rank);
            }
        }
    }

    /// Settings at marks, each with what was measured there.
    pub fn marks(&self) -> Vec<(Meters, &Solved)> {
        let marks = self.settings.iter().filter_map(|(focus, solved)| match focus {
            Setting::Mark(mark) => Some((*mark, *solved)),
            Setting::Refocused | Setting::Unsaid => None,
        });
        marks.collect()
    }

    /// What the lens is at infinity, where the kit wants its focal length: from the series there, else from a refocused
    /// one, which tells it too, else from two or more focus settings, linear in 1/distance. A series at a near setting
    /// alone does not tell it: the lens may be longer there. One distance rests on a pupil that was given.
    pub fn whole(&self) -> Option<Whole> {
        let told = |(focus, solved): &&(Setting, &Solved)| {
            focus.at_infinity() && solved.way != Way::OneDistance
        };
        let pupil_told = |(_, solved): &&(Setting, &Solved)| solved.pupil.is_some();
        let far: Vec<&(Setting, &Solved)> = self.settings.iter().filter(told).collect();
        if let Some((_, solved)) = far.iter().copied().find(pupil_told).or(far.first().copied()) {
            return Some(Whole { focal: solved.focal, pupil: solved.pupil, extrapolated: false });
        }
        let lines: Vec<(Meters, &Solved)> =
            self.marks().into_iter().filter(|(_, solved)| solved.way == Way::Line).collect();
        let focal: Vec<_> = lines.iter().map(|(mark, solved)| (*mark, solved.focal)).collect();
        let pupil = lines.iter().map(|(mark, solved)| Some((*mark, solved.pupil?)));
        let pupil = pupil.collect::<Option<Vec<_>>>();
        Some(Whole {
            focal: at_infinity(&focal)?,
            pupil: pupil.and_then(|pupil| at_infinity(&pupil)),
            extrapolated: true,
        })
    }
}

/// Numbers at two or more focus settings carried on to infinity, linear in 1/distance: how the kit reads its tables,
/// and what a lens that moves as a whole does to first order.
fn at_infinity<U: Unit>(known: &[(Meters, Known<U>)]) -> Option<Known<U>> {
    let points = known.iter().map(|(mark, known)| {
        let weight = 1.0 / (known.uncertainty * known.uncertainty);
        (1.0 / mark.get(), known.value.number(), weight)
    });
    let points: Vec<(f64, f64, f64)> = points.collect();
    let sum = |of: &dyn Fn(&(f64, f64, f64)) -> f64| points.iter().map(of).sum::<f64>();
    let weight = sum(&|(_, _, w)| *w);
    let (mean_x, mean_y) = (sum(&|(x, _, w)| w * x) / weight, sum(&|(_, y, w)| w * y) / weight);
    let spread = sum(&|(x, _, w)| w * (x - mean_x) * (x - mean_x));
    let slope = sum(&|(x, y, w)| w * (x - mean_x) * (y - mean_y)) / spread;
    let off = |x: f64, y: f64| y - mean_y - slope * (x - mean_x);
    let chi_square = sum(&|(x, y, w)| w * off(*x, *y) * off(*x, *y));
    let widened = widening(chi_square, points.len().saturating_sub(2));
    let uncertainty = libm::sqrt((1.0 / weight + mean_x * mean_x / spread) * widened);
    let value = U::of(mean_y - slope * mean_x)?;
    uncertainty.is_finite().then_some(Known { value, uncertainty })
}

fn mark(setting: Setting) -> f64 {
    match setting {
        Setting::Mark(mark) => mark.get(),
        Setting::Refocused | Setting::Unsaid => f64::INFINITY,
    }
}
