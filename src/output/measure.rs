//! What was measured on the chart, for a terminal.

use unicode_width::UnicodeWidthStr as _;

use crate::measure::compare::Pair;
use crate::measure::printed as known;
use crate::measure::report::Report;
use crate::measure::series::Series;
use crate::measure::shots::Setting;
use crate::measure::solve::{Solved, Way};
use crate::number::{fixed, short};
use crate::units::{Millimeters, Offset};

use super::calm::calm;
use super::kit::paragraph;
use super::{measure_kit, residuals};

/// Columns from which a shot has a line of a table to itself.
const ROOMY: usize = 60;
/// The narrowest screen that is written for, and the widest that prose fills.
const NARROWEST: usize = 40;
const WIDEST: usize = 100;

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

/// The report as text, `width` columns wide.
pub fn text(report: &Report, width: usize) -> String {
    let mut page = Page { text: String::new(), width: width.clamp(NARROWEST, WIDEST) };
    for (series, solved) in &report.series {
        if let Some(solved) = solved {
            of_series(series, solved, &mut page);
        }
    }
    breathing(report, &mut page);
    pairs(report, &mut page);
    let kit = measure_kit::lines(report);
    if !kit.is_empty() {
        page.prose(0, "Kit lines to paste:");
        page.line("");
        for line in kit {
            match line {
                measure_kit::Line::Words(words) => page.comment(&words),
                other => page.line(&other.text()),
            }
        }
        page.line("");
    }
    for caution in cautions(report) {
        page.prose(0, caution);
    }
    page.text
}

/// The page as it grows.
struct Page {
    text: String,
    width: usize,
}

impl Page {
    /// A line that is not to be broken.
    fn line(&mut self, line: &str) {
        self.text.push_str(&calm(line));
        self.text.push('\n');
    }

    /// Words in lines as wide as the screen, indented.
    fn prose(&mut self, indent: usize, words: &str) {
        paragraph(&calm(words), indent, self.width, &mut self.text);
    }

    /// A comment of the kit file, with its sign on every line.
    fn comment(&mut self, words: &str) {
        let mut broken = String::new();
        paragraph(&calm(words), 0, self.width - 2, &mut broken);
        for line in broken.lines() {
            self.line(&format!("# {line}"));
        }
    }

    /// What it is and what it came to, in columns where there is room.
    fn entry(&mut self, what: &str, came_to: &str) {
        if self.width >= ROOMY && 28 + came_to.width() <= self.width {
            self.line(&format!("  {what:<24}  {came_to}"));
        } else {
            self.prose(2, &format!("{what}: {came_to}"));
        }
    }
}

fn of_series(series: &Series, solved: &Solved, page: &mut Page) {
    let count = series.shots.len();
    let shots = if count == 1 { "shot" } else { "shots" };
    page.prose(0, &format!("{} ({count} {shots})", series.title()));
    let what = match solved.way {
        Way::Curve => "focal length at infinity",
        Way::Line | Way::OneDistance => "pinhole focal length",
    };
    let squeeze = if series.squeezed() > 1.0 { ", the squeeze taken out" } else { "" };
    page.entry(what, &format!("{}{squeeze}", known(&solved.focal)));
    match (&solved.pupil, solved.way) {
        (Some(pupil), Way::Line) => {
            page.entry("entrance pupil", &format!("{} before the sensor plane", known(pupil)));
        }
        (Some(pupil), _) => page.entry(
            "entrance pupil",
            &format!(
                "{} mm before the sensor plane, as given; the focal length rests on it",
                short(pupil.value.get(), 2)
            ),
        ),
        (None, _) => {}
    }
    let fit = match (solved.way, solved.free) {
        (Way::OneDistance, 0) => "one shot: nothing tells whether it is right".to_owned(),
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
    page.entry("residuals", &format!("{} px on average; {fit}", fixed(solved.rms(), 2)));
    for (shot, (residual, error)) in series.shots.iter().zip(&solved.residuals) {
        let sign = if *residual < 0.0 { "" } else { "+" };
        let off = format!("{sign}{}", fixed(*residual, 2));
        let (distance, span) = (short(shot.distance.get(), 4), fixed(shot.span, 1));
        let error = fixed(*error, 2);
        if page.width >= ROOMY {
            let line = shot.line;
            page.line(&format!(
                "    line {line:<4} {distance:>8} m {span:>9} px {off:>8} ± {error} px"
            ));
        } else {
            page.prose(
                2,
                &format!("line {}: {distance} m, {span} px, {off} ± {error} px", shot.line),
            );
        }
    }
    page.line("");
}

/// Pinhole focal length and pupil place against the focus setting, where there are several.
fn breathing(report: &Report, page: &mut Page) {
    for alone in report.alone() {
        let marks = alone.marks();
        if marks.len() < 2 {
            continue;
        }
        let name = alone.lens.name.clone().unwrap_or_else(|| "lens".to_owned());
        let at = alone.focal.map(|focal| format!(" at {} mm", short(focal.get(), 1)));
        page.prose(0, &format!("{name}{}: breathing", at.unwrap_or_default()));
        let roomy = page.width >= ROOMY;
        if roomy {
            page.line(&format!(
                "  {:>10}  {:<22} {}",
                "focus", "pinhole focal length", "entrance pupil"
            ));
        }
        for (mark, solved) in marks {
            let focus = if mark.get().is_infinite() {
                "infinity".to_owned()
            } else {
                format!("{} m", short(mark.get(), 3))
            };
            let focal = known::<Millimeters>(&solved.focal);
            let pupil = solved.pupil.as_ref().map(known::<Offset>);
            if roomy {
                let row = format!("  {focus:>10}  {focal:<22} {}", pupil.unwrap_or_default());
                page.line(row.trim_end());
            } else {
                let pupil = pupil.map(|pupil| format!(", pupil {pupil}")).unwrap_or_default();
                page.prose(2, &format!("focus {focus}: {focal}{pupil}"));
            }
        }
        page.line("");
    }
}

fn pairs(report: &Report, page: &mut Page) {
    for pair in &report.pairs {
        let Some((series, _)) = report.series.get(pair.series) else { continue };
        page.prose(0, &format!("{}: magnification {}", series.title(), known(&pair.magnification)));
        page.prose(2, &against(report, pair));
        if let (Some(marked), Some(percent)) = (pair.marked, pair.off_mark_percent()) {
            let parts = pair
                .off_mark_uncertainties()
                .map(|parts| format!(", {} standard uncertainties", fixed(parts.abs(), 1)));
            let sign = if percent < 0.0 { "" } else { "+" };
            let off = format!(
                "marked {}: {sign}{} % off it{}",
                short(marked.get(), 4),
                fixed(percent, 2),
                parts.unwrap_or_default()
            );
            page.prose(2, &off);
        }
        page.line("");
    }
    for (series, mean, count) in report.attachments() {
        if count > 1 {
            let words = format!(
                "{}: magnification {} over {count} pairs",
                series.between.name,
                known(&mean)
            );
            page.prose(0, &words);
            page.line("");
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

fn cautions(report: &Report) -> Vec<&'static str> {
    let mut cautions = Vec::new();
    if report.is_empty() {
        return cautions;
    }
    let fixed_focus = report.series.iter().any(|(series, _)| series.focus != Setting::Refocused);
    if fixed_focus {
        cautions.push("These numbers hold if the focus ring was not turned within a series: a lens that breathes bends the line.");
    }
    cautions.push("Tape from the sensor-plane mark to the chart, and keep the chart square to the lens and in the middle of the picture.");
    cautions.push(
        "Distortion is not taken out; a matchmove wants this measurement and a distortion grid.",
    );
    cautions
}
