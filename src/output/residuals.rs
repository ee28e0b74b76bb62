//! What a fit to chart shots leaves over, drawn: a panel a series, all on the same axes, so that they can be compared.

use crate::number::fixed;
use crate::units::Meters;

use super::drawing::{ASIDE, BOLD_LINE, Drawing, FRAME, HEADING, Held, POINT, THIN, TITLE, steps};
use super::lettering::{brief, rows};

/// Chart shots that were fitted together.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// What was shot: `bare`, or the attachment's name.
    pub label: String,
    /// One a chart shot, in any order.
    pub points: Vec<Point>,
    /// The fitted numbers in words.
    pub note: String,
}

/// What one chart shot leaves over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Tape distance of the chart.
    pub distance: Meters,
    /// Measured less fitted width of the chart, in pixels.
    pub residual: f64,
    /// Standard uncertainty of the measured width in pixels, where it is known.
    pub error: Option<f64>,
}

/// Width of the plot, in CSS pixels like all that follow.
const WIDTH: f64 = 720.0;
const MARGIN: f64 = 28.0;
/// Left and right end of the axes.
const LEFT: f64 = 92.0;
const RIGHT: f64 = WIDTH - MARGIN;
/// Height of one panel's axes.
const PANEL: f64 = 150.0;
/// Numbers beyond this are left out, and the plot says so: they are trouble, not residuals.
const FARTHEST: f64 = 1e9;

/// The plot as an SVG document: same series, same bytes.
pub fn plot(series: &[Series]) -> String {
    let axes = Axes::of(series);
    let titles = rows(TITLE_WORDS, 18.0, WIDTH - 2.0 * MARGIN, 1);
    let mut top = MARGIN + 14.0;
    let mut panels = Vec::new();
    top += 24.0;
    for series in series {
        let labels = rows(&series.label, 15.0, RIGHT - MARGIN - 20.0, 2);
        let notes = rows(&series.note, 12.0, RIGHT - MARGIN - 20.0, 3);
        let first = top + 24.0;
        let below_labels = steps(first, 19.0).nth(labels.len()).unwrap_or(first);
        let frame = steps(below_labels, 17.0).nth(notes.len()).unwrap_or(below_labels);
        panels.push((series, labels, notes, first, frame));
        top = frame + PANEL + 26.0;
    }
    let left_out = series.iter().flat_map(|series| &series.points).filter(|p| !drawn(p)).count();
    let foot = top + 14.0;
    let height = foot + if left_out > 0 { 40.0 } else { 20.0 };

    let mut drawing = Drawing::new(WIDTH, height, TITLE_WORDS, &description(series));
    for row in &titles {
        drawing.words(TITLE, (MARGIN, MARGIN + 14.0), Held::Start, row);
    }
    drawing.words(ASIDE, (MARGIN, MARGIN + 34.0), Held::Start, SUBTITLE);
    for (at, (series, labels, notes, first, frame)) in panels.iter().enumerate() {
        let mark = Mark::of(at);
        let mut y = *first;
        if !labels.is_empty() {
            mark.draw(&mut drawing, (MARGIN + 6.0, y - 5.0));
        }
        for label in labels {
            drawing.words(HEADING, (MARGIN + 20.0, y), Held::Start, label);
            y += 19.0;
        }
        for note in notes {
            drawing.words(ASIDE, (MARGIN + 20.0, y), Held::Start, note);
            y += 17.0;
        }
        axes.draw(&mut drawing, *frame - 6.0);
        for point in series.points.iter().filter(|point| drawn(point)) {
            axes.point(&mut drawing, *frame - 6.0, mark, point);
        }
    }
    if let Some(x) = (!panels.is_empty()).then_some(f64::midpoint(LEFT, RIGHT)) {
        drawing.words(ASIDE, (x, foot), Held::Middle, "tape distance, m");
    }
    if left_out > 0 {
        let words = format!("left out as far beyond any residual: {left_out} of the points");
        drawing.words(ASIDE, (MARGIN, foot + 20.0), Held::Start, &words);
    }
    drawing.svg()
}

const TITLE_WORDS: &str = "Chart shots: what the fit leaves over";
const SUBTITLE: &str =
    "Measured less fitted width of the chart; bars are one standard uncertainty either way.";

/// True for a point that the axes can hold.
fn drawn(point: &Point) -> bool {
    let near = |v: f64| v.is_finite() && v.abs() <= FARTHEST;
    near(point.distance.get()) && near(point.residual) && near(point.error.unwrap_or(0.0))
}

/// Axes that all panels share.
struct Axes {
    across: Range,
    /// Pixels, as many above zero as below.
    up: Range,
}

/// The range of an axis and its ticks.
struct Range {
    low: f64,
    high: f64,
    ticks: Vec<f64>,
    decimals: usize,
}

impl Axes {
    fn of(series: &[Series]) -> Self {
        let points = || series.iter().flat_map(|s| &s.points).filter(|point| drawn(point));
        let distances = || points().map(|point| point.distance.get());
        let (low, high) =
            (distances().fold(f64::INFINITY, f64::min), distances().fold(0.0, f64::max));
        let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
        // One distance alone still gets an axis with numbers to either side.
        let air = ((high - low) * 0.06).max(high * 0.02).max(1e-6);
        let reach = points()
            .map(|point| point.residual.abs() + point.error.unwrap_or(0.0).abs())
            .fold(0.0, f64::max);
        let reach = if reach > 1e-9 { reach * 1.12 } else { 1.0 };
        Self { across: Range::new(low - air, high + air, 8.0), up: Range::new(-reach, reach, 5.0) }
    }

    fn x(&self, distance: f64) -> f64 {
        self.across.part(distance) * (RIGHT - LEFT) + LEFT
    }

    fn y(&self, top: f64, residual: f64) -> f64 {
        top + PANEL * (1.0 - self.up.part(residual))
    }

    fn draw(&self, drawing: &mut Drawing, top: f64) {
        let bottom = top + PANEL;
        drawing.rect(FRAME, (LEFT, top), (RIGHT - LEFT, PANEL));
        for tick in &self.up.ticks {
            let y = self.y(top, *tick);
            drawing.line(FRAME, (LEFT, y), (RIGHT, y));
            drawing.line(THIN, (LEFT - 5.0, y), (LEFT, y));
            let words = self.up.words(*tick);
            drawing.words(ASIDE, (LEFT - 9.0, y + 4.0), Held::End, &words);
        }
        for tick in &self.across.ticks {
            let x = self.x(*tick);
            drawing.line(THIN, (x, bottom), (x, bottom + 5.0));
            drawing.words(ASIDE, (x, bottom + 19.0), Held::Middle, &self.across.words(*tick));
        }
        let zero = self.y(top, 0.0);
        drawing.line(BOLD_LINE, (LEFT, zero), (RIGHT, zero));
        drawing.words(ASIDE, (MARGIN, top + PANEL / 2.0 + 4.0), Held::Start, "px");
    }

    fn point(&self, drawing: &mut Drawing, top: f64, mark: Mark, point: &Point) {
        let (x, y) = (self.x(point.distance.get()), self.y(top, point.residual));
        if let Some(error) = point.error.map(f64::abs) {
            let (above, below) =
                (self.y(top, point.residual + error), self.y(top, point.residual - error));
            drawing.line(BOLD_LINE, (x, above), (x, below));
            drawing.line(BOLD_LINE, (x - 4.0, above), (x + 4.0, above));
            drawing.line(BOLD_LINE, (x - 4.0, below), (x + 4.0, below));
        }
        mark.draw(drawing, (x, y));
    }
}

impl Range {
    /// Ticks at 1, 2 or 5 times a power of ten, at most about `most` of them.
    fn new(low: f64, high: f64, most: f64) -> Self {
        let rough = (high - low) / most;
        let power = libm::floor(libm::log10(rough));
        let unit = libm::pow(10.0, power);
        let step = unit * [1.0, 2.0, 5.0].into_iter().find(|s| s * unit >= rough).unwrap_or(10.0);
        let start = libm::ceil(low / step);
        let ticks = std::iter::successors(Some(start), |n| Some(n + 1.0))
            .map(|n| n * step)
            .take_while(|tick| *tick <= high)
            .take(24)
            .collect();
        // As many digits as the step has; a step of ten powers above has none.
        let decimals = (0..12).find(|n| step >= 0.999 * digit(*n)).unwrap_or(12);
        Self { low, high, ticks, decimals }
    }

    fn part(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }

    fn words(&self, tick: f64) -> String {
        // A true minus is as wide as the digits, and is not taken for a hyphen.
        fixed(tick, self.decimals).replace('-', "\u{2212}")
    }
}

/// The worth of a digit behind the point.
fn digit(place: usize) -> f64 {
    std::iter::repeat_n(10.0, place).fold(1.0, |worth, ten| worth / ten)
}

/// Shapes by which series are told apart without colour.
#[derive(Clone, Copy)]
enum Mark {
    Round,
    Square,
    Diamond,
    Triangle,
}

impl Mark {
    fn of(series: usize) -> Self {
        match series % 4 {
            0 => Self::Round,
            1 => Self::Square,
            2 => Self::Diamond,
            _ => Self::Triangle,
        }
    }

    fn draw(self, drawing: &mut Drawing, (x, y): (f64, f64)) {
        match self {
            Self::Round => drawing.circle(POINT, (x, y), 4.5),
            Self::Square => drawing.rect(POINT, (x - 4.0, y - 4.0), (8.0, 8.0)),
            Self::Diamond => {
                drawing.outline(POINT, &[(x, y - 5.5), (x + 5.5, y), (x, y + 5.5), (x - 5.5, y)]);
            }
            Self::Triangle => {
                drawing.outline(POINT, &[(x, y - 5.0), (x + 5.0, y + 4.0), (x - 5.0, y + 4.0)]);
            }
        }
    }
}

/// The plot in words, for those who cannot see it.
fn description(series: &[Series]) -> String {
    let mut words = SUBTITLE.to_owned();
    for series in series {
        let largest = series
            .points
            .iter()
            .filter(|point| drawn(point))
            .map(|point| point.residual.abs())
            .fold(0.0, f64::max);
        words.extend([
            " ",
            &brief(&series.label),
            ": ",
            &series.points.len().to_string(),
            " points, the farthest ",
            &fixed(largest, 3),
            " px off. ",
            &brief(&series.note),
        ]);
    }
    words
}
