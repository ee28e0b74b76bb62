//! What was measured on the chart, for a terminal.

use crate::measure::Known;
use crate::measure::compare::Pair;
use crate::measure::report::Report;
use crate::measure::series::Series;
use crate::measure::shots::Setting;
use crate::measure::solve::{Solved, Way};
use crate::number::{fixed, short};
use crate::units::{Millimeters, Offset, Unit};

use super::calm::calm;
use super::{measure_kit, residuals};

/// Most digits behind the point that are printed.
const MOST_DECIMALS: usize = 6;

/// The residuals of every series that was solved.
pub fn residuals(report: &Report) -> Vec<residuals::Series> {
    let solved =
        report.series.iter().filter_map(|(series, solved)| Some((series, solved.as_ref()?)));
    let drawn = |(series, solved): (&Series, &Solved)| {
        let points = series.shots.iter().zip(&solved.residuals).map(|(shot, (residual, error))| {
            residuals::Point { distance: shot.distance, residual: *residual, error: Some(*error) }
        });
        let mut note = known(&solved.focal);
        if let Some(pupil) = &solved.pupil {
            note.push_str(", pupil ");
            note.push_str(&known(pupil));
        }
        residuals::Series { label: series.title(), points: points.collect(), note }
    };
    solved.map(drawn).collect()
}

/// The report as text.
pub fn text(report: &Report) -> String {
    let mut lines = Vec::new();
    for (series, solved) in &report.series {
        if let Some(solved) = solved {
            of_series(series, solved, &mut lines);
        }
    }
    breathing(report, &mut lines);
    pairs(report, &mut lines);
    let kit = measure_kit::lines(report);
    if !kit.is_empty() {
        lines.push("Kit lines to paste:".to_owned());
        lines.push(String::new());
        lines.extend(kit);
        lines.push(String::new());
    }
    lines.extend(cautions(report));
    lines.iter().map(|line| calm(line) + "\n").collect()
}

/// `50.003 ± 0.021 mm`: two digits of the uncertainty, and the number no finer (JCGM 100:2008, 7.2.6).
pub(super) fn known<U: Unit>(known: &Known<U>) -> String {
    let decimals = decimals(known.uncertainty);
    let value = fixed(known.value.number(), decimals);
    let text = format!("{value} ± {} {}", fixed(known.uncertainty, decimals), U::SYMBOL);
    text.trim_end().to_owned()
}

/// Digits behind the point that leave two digits of an uncertainty.
pub(super) fn decimals(uncertainty: f64) -> usize {
    let mut decimals = 0;
    let mut shown = uncertainty;
    while shown < 9.5 && decimals < MOST_DECIMALS {
        shown *= 10.0;
        decimals += 1;
    }
    decimals
}

fn of_series(series: &Series, solved: &Solved, lines: &mut Vec<String>) {
    let count = series.shots.len();
    let shots = if count == 1 { "shot" } else { "shots" };
    lines.push(format!("{} ({count} {shots})", series.title()));
    let what = match solved.way {
        Way::Curve => "focal length at infinity",
        Way::Line | Way::OneDistance => "pinhole focal length",
    };
    lines.push(format!("  {what:<24}  {}", known(&solved.focal)));
    match (&solved.pupil, solved.way) {
        (Some(pupil), Way::Line) => {
            lines.push(format!(
                "  {:<24}  {} before the sensor plane",
                "entrance pupil",
                known(pupil)
            ));
        }
        (Some(pupil), _) => lines.push(format!(
            "  {:<24}  {} mm before the sensor plane, as given; the focal length rests on it",
            "entrance pupil",
            short(pupil.value.get(), 2)
        )),
        (None, _) => {}
    }
    let fit = match (solved.way, solved.free) {
        (Way::OneDistance, _) => "one distance: nothing tells whether they agree".to_owned(),
        (_, 0) => "no shot beyond those needed: nothing tells whether they agree".to_owned(),
        (_, free) => {
            let wider = if solved.widened > 1.0 {
                let times = fixed(solved.widened, 1);
                format!(
                    "; more than the stated errors allow, so the uncertainties are {times} times as large"
                )
            } else {
                String::new()
            };
            format!("chi-square {} with {free} to spare{wider}", fixed(solved.chi_square, 1))
        }
    };
    lines.push(format!("  {:<24}  {} px on average; {fit}", "residuals", fixed(solved.rms(), 2)));
    for (shot, (residual, error)) in series.shots.iter().zip(&solved.residuals) {
        let sign = if *residual < 0.0 { "" } else { "+" };
        lines.push(format!(
            "    line {:<4} {:>8} m {:>9} px {:>8} ± {} px",
            shot.line,
            short(shot.distance.get(), 4),
            fixed(shot.span, 1),
            format!("{sign}{}", fixed(*residual, 2)),
            fixed(*error, 2)
        ));
    }
    lines.push(String::new());
}

/// Pinhole focal length and pupil place against the focus setting, where there are several.
fn breathing(report: &Report, lines: &mut Vec<String>) {
    for alone in report.alone() {
        let marks = alone.marks();
        if marks.len() < 2 {
            continue;
        }
        let name = alone.lens.name.clone().unwrap_or_else(|| "lens".to_owned());
        let at = alone.focal.map(|focal| format!(" at {} mm", short(focal.get(), 1)));
        lines.push(format!("{name}{}: breathing", at.unwrap_or_default()));
        lines.push(format!(
            "  {:>10}  {:<22} {}",
            "focus", "pinhole focal length", "entrance pupil"
        ));
        for (mark, solved) in marks {
            let focus = if mark.get().is_infinite() {
                "infinity".to_owned()
            } else {
                format!("{} m", short(mark.get(), 3))
            };
            let pupil = solved.pupil.as_ref().map(known::<Offset>).unwrap_or_default();
            lines.push(format!(
                "  {focus:>10}  {:<22} {pupil}",
                known::<Millimeters>(&solved.focal)
            ));
        }
        lines.push(String::new());
    }
}

fn pairs(report: &Report, lines: &mut Vec<String>) {
    for pair in &report.pairs {
        let Some((series, _)) = report.series.get(pair.series) else { continue };
        lines.push(format!("{}: magnification {}", series.title(), known(&pair.magnification)));
        lines.push(format!("  {}", against(report, pair)));
        if let (Some(marked), Some(percent)) = (pair.marked, pair.off_mark_percent()) {
            let parts = pair
                .off_mark_uncertainties()
                .map(|parts| format!(", {} standard uncertainties", fixed(parts.abs(), 1)));
            let sign = if percent < 0.0 { "" } else { "+" };
            lines.push(format!(
                "  marked {}: {sign}{} % off it{}",
                short(marked.get(), 4),
                fixed(percent, 2),
                parts.unwrap_or_default()
            ));
        }
        lines.push(String::new());
    }
    for (series, mean, count) in report.attachments() {
        if count > 1 {
            lines.push(format!(
                "{}: magnification {} over {count} pairs",
                series.between.name,
                known(&mean)
            ));
            lines.push(String::new());
        }
    }
}

/// What a magnification was held against, and which errors cancel in it.
fn against(report: &Report, pair: &Pair) -> String {
    let Some((bare, _)) = pair.bare.and_then(|at| report.series.get(at)) else {
        return match report.setup.native {
            Some(native) => format!(
                "against the given {}; an error of the chart's width or of the pixel pitch is in it in full",
                known(&native)
            ),
            None => "from the curve of the refocused shots alone".to_owned(),
        };
    };
    let width =
        |series: &Series| series.shots.iter().map(|shot| shot.width.get()).fold(0.0, f64::max);
    let series = report.series.get(pair.series).map(|(series, _)| series);
    let same = series.is_some_and(|series| (width(series) - width(bare)).abs() < 1e-9);
    let cancels = if same {
        "an error of the chart's width, of the pixel pitch, or of the tape as a whole is in both and cancels"
    } else {
        "the two were shot on charts of different width, so an error of either width is in it"
    };
    format!("against {}; {cancels}", bare.title())
}

fn cautions(report: &Report) -> Vec<String> {
    let mut cautions: Vec<&str> = Vec::new();
    if report.series.iter().all(|(_, solved)| solved.is_none()) {
        return Vec::new();
    }
    let fixed_focus = report.series.iter().any(|(series, _)| series.focus != Setting::Refocused);
    if fixed_focus {
        cautions.push("These numbers hold if the focus ring was not turned within a series: a lens that breathes bends the line.");
    }
    cautions.push("Tape from the sensor-plane mark to the chart, and keep the chart square to the lens and in the middle of the picture.");
    cautions.push(
        "Distortion is not taken out; a matchmove wants this measurement and a distortion grid.",
    );
    cautions.into_iter().map(str::to_owned).collect()
}
