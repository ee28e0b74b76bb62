//! The timeline of a day: which roll, lens and attachment each camera had on, against the time of day.

use std::collections::BTreeMap;

use chrono::{Duration, NaiveDateTime, NaiveTime};

use super::lanes::{Band, Bar, bands};
use super::{HIGHEST, MARGIN, WIDTH, clips, listed, numbered};
use crate::output::calm::calm;
use crate::output::drawing::{
    ASIDE, BAR, BOLD_LINE, Drawing, FRAME, HEADING, Held, POINT, THIN, TITLE, WORDS, steps,
};
use crate::output::lettering::{brief, rows, wide};

/// A day, as its clips tell it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline {
    /// What the whole is about: the day.
    pub title: String,
    /// In the order in which they are drawn; those of one camera follow each other.
    pub lanes: Vec<Lane>,
    /// Names of the clips of which nobody knows the time of day. They are told, not drawn.
    pub without_time: Vec<String>,
}

/// What one camera had on, of one kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Lane {
    /// The camera, as it is called.
    pub camera: String,
    /// Of what the lane tells.
    pub kind: LaneKind,
    /// A stretch a clip, in any order; neighbours with one label are joined.
    pub stretches: Vec<Stretch>,
}

/// Of what a lane tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LaneKind {
    /// The roll; its clips are marked in it.
    Roll,
    /// The lens.
    Lens,
    /// Reducer, extender or adapter; where there is none, no stretch.
    Attachment,
}

impl LaneKind {
    fn word(self) -> &'static str {
        match self {
            Self::Roll => "roll",
            Self::Lens => "lens",
            Self::Attachment => "attachment",
        }
    }
}

/// From when to when a label holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Local time.
    pub from: NaiveDateTime,
    /// Local time; not before `from`, else it is taken to be `from`.
    pub to: NaiveDateTime,
    /// The roll, lens or attachment.
    pub label: String,
}

/// Left and right end of the time axis.
const LEFT: f64 = 150.0;
const RIGHT: f64 = WIDTH - MARGIN;
/// From one row of bars to the next, and the height of a bar.
const ROW: f64 = 26.0;
const BAR_HEIGHT: f64 = 20.0;
/// Where the bars of a camera begin, below its name.
const BELOW_NAME: f64 = 10.0;
/// Entries of the key side by side.
const KEY_COLUMNS: usize = 3;
/// Entries of the key before the rest is only counted.
const MOST_KEYS: usize = 23;
/// Stretches that the words for the picture list before the rest is counted.
const MOST_TOLD: usize = 60;

/// The picture as drawings that each fit a page: cameras that do not fit go on in the next one, on the same axis.
pub(super) fn drawings(timeline: &Timeline) -> Vec<Drawing> {
    let mut bands = bands(timeline);
    let Some(axis) = Axis::of(timeline) else {
        return vec![without_axis(timeline)];
    };
    number(&mut bands, &axis);
    let mut pages: Vec<Vec<&Band<'_>>> = Vec::new();
    let mut height = 0.0;
    for band in &bands {
        // A new camera, or one with more lanes than a page, begins a page where it would run over.
        let high = band.high();
        if pages.is_empty() || height + high > HIGHEST - 190.0 {
            pages.push(Vec::new());
            height = 0.0;
        }
        height += high;
        if let Some(page) = pages.last_mut() {
            page.push(band);
        }
    }
    let of = pages.len();
    pages.iter().enumerate().map(|(at, page)| axis.drawing(timeline, page, at, of)).collect()
}

/// Nothing to draw against the time of day: said instead.
fn without_axis(timeline: &Timeline) -> Drawing {
    let words = untimed(timeline).unwrap_or_else(|| "No clips.".to_owned());
    let mut drawing = Drawing::new(WIDTH, 76.0, &brief(&timeline.title), &words);
    drawing.words(TITLE, (MARGIN, 34.0), Held::Start, &brief(&timeline.title));
    drawing.words(WORDS, (MARGIN, 58.0), Held::Start, &one_row(&words, WIDTH - 2.0 * MARGIN));
    drawing
}

fn untimed(timeline: &Timeline) -> Option<String> {
    let names: Vec<&str> = timeline.without_time.iter().map(String::as_str).collect();
    let count = names.len();
    (count > 0).then(|| format!("Without a time of day: {} ({})", clips(count), listed(&names)))
}

fn one_row(words: &str, width: f64) -> String {
    rows(words, 13.0, width, 1).into_iter().next().unwrap_or_default()
}

/// The time axis that all drawings of a timeline share.
struct Axis {
    from: NaiveDateTime,
    seconds: f64,
    step: Duration,
}

impl Axis {
    fn of(timeline: &Timeline) -> Option<Self> {
        let stretches = || timeline.lanes.iter().flat_map(|lane| &lane.stretches);
        let from = stretches().map(|stretch| stretch.from).min()?;
        let to = stretches().map(|stretch| stretch.to.max(stretch.from)).max()?;
        let minutes = [5, 10, 15, 30, 60, 120, 180, 360, 720, 1440].map(Duration::minutes);
        let days = (0..24).map(|power| Duration::days(2 << power));
        let step = minutes.into_iter().chain(days).find(|step| (to - from) <= *step * 12)?;
        // Ends of the axis lie on ticks, counted from midnight.
        let midnight = from.date().and_time(NaiveTime::MIN);
        let before = |at: NaiveDateTime| (at - midnight).num_seconds() / step.num_seconds();
        let start = before(from);
        let end = before(to) + 1;
        let at = |n: i64| {
            let n = i32::try_from(n).ok()?;
            midnight.checked_add_signed(step.checked_mul(n)?)
        };
        let (from, to) = (at(start)?, at(end)?);
        Some(Self { from, seconds: seconds(to - from), step })
    }

    fn x(&self, at: NaiveDateTime) -> f64 {
        LEFT + seconds(at - self.from) / self.seconds * (RIGHT - LEFT)
    }

    /// A bar that is too short to be seen is as wide as a line that can be.
    fn width(&self, bar: &Bar<'_>) -> f64 {
        (self.x(bar.to) - self.x(bar.from)).max(2.5)
    }

    /// Free room to the right of a bar, up to the next one of its row.
    fn beside(&self, row: &[Bar<'_>], at: usize) -> f64 {
        let Some(bar) = row.get(at) else { return 0.0 };
        let next = row.get(at + 1).map_or(RIGHT, |next| self.x(next.from));
        next - self.x(bar.from) - self.width(bar)
    }

    fn drawing(&self, timeline: &Timeline, page: &[&Band<'_>], at: usize, of: usize) -> Drawing {
        let first = MARGIN + 54.0;
        let below = page.iter().fold(first, |top, band| top + band.high());
        let keys = keys(page);
        let key_rows = keys.len().div_ceil(KEY_COLUMNS);
        let key = below + 38.0;
        let below_keys = steps(key, 18.0).nth(key_rows).unwrap_or(key);
        let untimed = untimed(timeline).filter(|_| at + 1 == of);
        let height = below_keys + if untimed.is_some() { 26.0 } else { 4.0 };

        let title = numbered(&brief(&timeline.title), at, of);
        let mut drawing = Drawing::new(WIDTH, height, &title, &told(page, untimed.as_deref()));
        drawing.words(TITLE, (MARGIN, MARGIN + 16.0), Held::Start, &title);
        self.ticks(&mut drawing, first - 8.0, below + 4.0);
        let mut top = first;
        for band in page {
            band.draw(&mut drawing, top, self);
            top += band.high();
        }
        let across: Vec<f64> =
            steps(MARGIN, (WIDTH - 2.0 * MARGIN) / 3.0).take(KEY_COLUMNS).collect();
        let places = steps(key, 18.0).flat_map(|y| across.iter().map(move |x| (*x, y)));
        for (words, place) in keys.iter().zip(places) {
            drawing.words(ASIDE, place, Held::Start, &one_row(words, 290.0));
        }
        if let Some(words) = untimed {
            let words = one_row(&words, WIDTH - 2.0 * MARGIN);
            drawing.words(WORDS, (MARGIN, below_keys + 8.0), Held::Start, &words);
        }
        drawing
    }

    fn ticks(&self, drawing: &mut Drawing, top: f64, bottom: f64) {
        let mut at = self.from;
        // Fourteen steps at most fit an axis.
        for _ in 0..16 {
            let x = self.x(at);
            if x > RIGHT + 0.5 {
                break;
            }
            drawing.line(FRAME, (x, top), (x, bottom));
            drawing.line(THIN, (x, bottom), (x, bottom + 4.0));
            let words = if self.step >= Duration::days(1) {
                at.format("%Y-%m-%d").to_string()
            } else {
                at.format("%H:%M").to_string()
            };
            drawing.words(ASIDE, (x, bottom + 17.0), Held::Middle, &words);
            let Some(next) = at.checked_add_signed(self.step) else { break };
            at = next;
        }
        drawing.line(THIN, (LEFT, bottom), (RIGHT, bottom));
    }
}

fn seconds(span: Duration) -> f64 {
    // A day of 86,400 s, and years of them, are exact in a double.
    #[allow(clippy::cast_precision_loss)]
    let seconds = span.num_seconds() as f64;
    seconds
}

impl Band<'_> {
    fn high(&self) -> f64 {
        let rows = self.rows.len().max(1);
        let head = if self.first { 24.0 } else { 0.0 };
        let crowded = if self.crowded > 0 { 16.0 } else { 0.0 };
        steps(head + crowded, ROW).nth(rows).unwrap_or(head)
    }

    fn draw(&self, drawing: &mut Drawing, top: f64, axis: &Axis) {
        let mut y = top;
        if self.first {
            let name = rows(self.lane.camera.as_str(), 15.0, WIDTH - 2.0 * MARGIN, 1).concat();
            drawing.line(THIN, (MARGIN, y - 4.0), (RIGHT, y - 4.0));
            drawing.words(HEADING, (MARGIN, y + BELOW_NAME + 2.0), Held::Start, &name);
            y += 24.0;
        }
        drawing.words(ASIDE, (MARGIN, y + 14.0), Held::Start, self.lane.kind.word());
        for row in &self.rows {
            if self.by_label {
                strip(drawing, y, row, axis);
                y += ROW;
                continue;
            }
            for (at, bar) in row.iter().enumerate() {
                let (left, width) = (axis.x(bar.from), axis.width(bar));
                drawing.rect(BAR, (left, y), (width, BAR_HEIGHT));
                let words = bar.number.map_or_else(|| calm(bar.label), |n| n.to_string());
                let middle = (left + width / 2.0, y + 14.0);
                let beside = (left + width + 3.0, y + 14.0);
                if wide(&words, 12.0) + 2.0 <= width {
                    drawing.words(ASIDE, middle, Held::Middle, &words);
                } else if fits(&words, axis.beside(row, at)) {
                    drawing.words(ASIDE, beside, Held::Start, &words);
                }
                if self.lane.kind == LaneKind::Roll {
                    marks(drawing, y, bar, axis);
                }
            }
            y += ROW;
        }
        if self.crowded > 0 {
            let words = format!("and {} more at once", self.crowded);
            drawing.words(ASIDE, (MARGIN, y + 6.0), Held::Start, &words);
        }
    }
}

/// Bars of one label, its number in front; those closer than a pixel are one.
fn strip(drawing: &mut Drawing, y: f64, row: &[Bar<'_>], axis: &Axis) {
    if let Some(number) = row.first().and_then(|bar| bar.number) {
        drawing.words(ASIDE, (LEFT - 8.0, y + 14.0), Held::End, &number.to_string());
    }
    let mut bars: Vec<(f64, f64)> = Vec::new();
    for bar in row {
        let left = axis.x(bar.from);
        let right = left + axis.width(bar);
        match bars.last_mut() {
            Some(before) if left < before.1 + 1.0 => before.1 = before.1.max(right),
            _ => bars.push((left, right)),
        }
    }
    for (left, right) in bars {
        drawing.rect(POINT, (left, y + 3.0), (right - left, BAR_HEIGHT - 6.0));
    }
}

/// The clips of a roll, as a strip at the foot of its bar; those closer than a pixel are one.
fn marks(drawing: &mut Drawing, y: f64, bar: &Bar<'_>, axis: &Axis) {
    let mut strip: Option<(f64, f64)> = None;
    let place = |(left, right): (f64, f64)| ((left, y + BAR_HEIGHT - 4.0), (right - left, 4.0));
    for (from, to) in &bar.clips {
        let (left, right) = (axis.x(*from), axis.x(*to));
        let right = right.max(left + 1.0);
        match &mut strip {
            Some(strip) if left < strip.1 + 1.0 => strip.1 = strip.1.max(right),
            strip => {
                if let Some((corner, size)) = strip.replace((left, right)).map(place) {
                    drawing.rect(POINT, corner, size);
                }
            }
        }
    }
    if let Some((corner, size)) = strip.map(place) {
        drawing.rect(POINT, corner, size);
    }
    drawing.line(BOLD_LINE, (axis.x(bar.from), y), (axis.x(bar.from), y + BAR_HEIGHT));
}

/// Gives each label that fits neither into one of its bars nor beside it a number, in order.
fn number<'a>(bands: &mut [Band<'a>], axis: &Axis) {
    let mut numbers: BTreeMap<&'a str, usize> = BTreeMap::new();
    for band in bands {
        // A row of one label says what it is of in front, where there is room for a number alone.
        let always = band.by_label;
        for row in &mut band.rows {
            for at in 0..row.len() {
                let beside = axis.beside(row, at);
                let Some(bar) = row.get_mut(at) else { continue };
                if always || !fits(bar.label, axis.width(bar)) && !fits(bar.label, beside) {
                    let next = numbers.len() + 1;
                    bar.number = Some(*numbers.entry(bar.label).or_insert(next));
                }
            }
        }
    }
}

/// What the numbers in and beside bars that are too narrow for their label stand for, each once.
fn keys(page: &[&Band<'_>]) -> Vec<String> {
    let bars = page.iter().flat_map(|band| band.rows.iter().flatten());
    let mut keys: Vec<(usize, &str)> =
        bars.filter_map(|bar| Some((bar.number?, bar.label))).collect();
    keys.sort_unstable();
    keys.dedup();
    let rest = keys.len().saturating_sub(MOST_KEYS);
    let keys = keys.into_iter().take(MOST_KEYS);
    let mut words: Vec<String> =
        keys.map(|(number, label)| format!("{number} = {}", brief(label))).collect();
    words.extend((rest > 0).then(|| format!("and {rest} more")));
    words
}

/// True where words fit into a bar.
fn fits(words: &str, width: f64) -> bool {
    wide(words, 12.0) + 6.0 <= width
}

/// The drawing in words.
fn told(page: &[&Band<'_>], untimed: Option<&str>) -> String {
    let mut words = "Rolls, lenses and attachments against the time of day.".to_owned();
    let mut told = 0;
    let mut rest = 0;
    for band in page {
        let mut bars: Vec<&Bar<'_>> = band.rows.iter().flatten().collect();
        bars.sort_by_key(|bar| (bar.from, bar.to));
        let room = MOST_TOLD.saturating_sub(told);
        rest += bars.len().saturating_sub(room);
        let bars: Vec<String> = bars.iter().take(room).map(|bar| bar.words()).collect();
        told += bars.len();
        if !bars.is_empty() {
            let (camera, kind) = (brief(&band.lane.camera), band.lane.kind.word());
            words.extend([format!(" {camera}, {kind}: {}.", bars.join("; "))]);
        }
    }
    if rest > 0 {
        words.extend([format!(" And {rest} more.")]);
    }
    words.extend(untimed.map(|untimed| format!(" {untimed}.")));
    words
}
