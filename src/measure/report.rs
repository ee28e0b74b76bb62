//! Everything that was measured, for the outputs.

use crate::finding::Finding;
use crate::units::{Factor, Meters, Millimeters};

use super::Known;
use super::compare::{self, Pair};
use super::series::{Glass, Series};
use super::shots::Setting;
use super::solve::{Setup, Solved, Way, solve};

/// What a sheet of chart shots came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// Errors and what else all series share.
    pub setup: Setup,
    /// The series, and what each came to; `None` where it could not be solved.
    pub series: Vec<(Series, Option<Solved>)>,
    /// Magnifications.
    pub pairs: Vec<Pair>,
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
        (Self { setup, series, pairs }, findings)
    }

    /// The lenses alone, each at each mark, in the order of the sheet.
    pub fn alone(&self) -> Vec<Alone<'_>> {
        let mut all: Vec<Alone<'_>> = Vec::new();
        let mut keys = Vec::new();
        for (series, solved) in &self.series {
            let (Some(solved), true) = (solved, series.between.bare) else { continue };
            let setting = (series.focus, solved);
            match keys
                .iter()
                .position(|key| *key == series.lens_key())
                .and_then(|at| all.get_mut(at))
            {
                // On a plain adapter the lens was measured once more; with nothing between goes first.
                Some(alone) if alone.settings.iter().any(|(focus, _)| *focus == series.focus) => {}
                Some(alone) => alone.settings.push(setting),
                None => {
                    keys.push(series.lens_key());
                    all.push(Alone {
                        lens: &series.lens,
                        focal: series.focal,
                        settings: vec![setting],
                    });
                }
            }
        }
        for alone in &mut all {
            alone.settings.sort_by(|(a, _), (b, _)| mark(*a).total_cmp(&mark(*b)));
        }
        all
    }

    /// Each attachment with its magnification over all pairs, and how many there are.
    pub fn attachments(&self) -> Vec<(&Series, Known<Factor>, usize)> {
        let mut groups: Vec<(&Series, Vec<&Pair>)> = Vec::new();
        for pair in &self.pairs {
            let Some((series, _)) = self.series.get(pair.series) else { continue };
            match groups.iter_mut().find(|(other, _)| other.between.name == series.between.name) {
                Some((_, pairs)) => pairs.push(pair),
                None => groups.push((series, vec![pair])),
            }
        }
        let mean =
            |(series, pairs): (_, Vec<&Pair>)| Some((series, compare::mean(&pairs)?, pairs.len()));
        groups.into_iter().filter_map(mean).collect()
    }
}

impl Alone<'_> {
    /// Settings at marks, each with what was measured there.
    pub fn marks(&self) -> Vec<(Meters, &Solved)> {
        let marks = self.settings.iter().filter_map(|(focus, solved)| match focus {
            Setting::Mark(mark) => Some((*mark, *solved)),
            Setting::Refocused | Setting::Unsaid => None,
        });
        marks.collect()
    }

    /// What stands for the lens as a whole: the setting at infinity, else the only one there is.
    pub fn whole(&self) -> Option<&Solved> {
        let far = |(focus, _): &&(Setting, &Solved)| matches!(focus, Setting::Mark(mark) if mark.get().is_infinite());
        match self.settings.as_slice() {
            [(_, only)] => Some(only),
            several => several
                .iter()
                .find(far)
                // A refocused series tells the focal length at infinity too.
                .or_else(|| several.iter().find(|(_, solved)| solved.way == Way::Curve))
                .map(|(_, solved)| *solved),
        }
    }
}

fn mark(setting: Setting) -> f64 {
    match setting {
        Setting::Mark(mark) => mark.get(),
        Setting::Refocused | Setting::Unsaid => f64::INFINITY,
    }
}
