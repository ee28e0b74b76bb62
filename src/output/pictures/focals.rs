//! Recorded against true focal length: what was wrong, at a glance.
//!
//! Clips of one set-up that recorded the same stand on one line, however many they are. Where that leaves more
//! lines than can be taken in, as with zooms, every clip is a point of a plot instead.

use std::collections::BTreeMap;

use super::{HIGHEST, MARGIN, WIDTH, clips, listed, numbered, scatter};
use crate::annotation::Verdict;
use crate::number::short;
use crate::output::drawing::{
    ASIDE, BOLD_LINE, Drawing, FRAME, HOLLOW, Held, POINT, THIN, TITLE, WORDS, steps,
};
use crate::output::lettering::{brief, rows};
use crate::units::Millimeters;

/// Clips, with what they recorded and what is true.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Focals {
    /// What the whole is about.
    pub title: String,
    /// In the order of the report.
    pub clips: Vec<Compared>,
}

/// One clip, or a piece of one.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// Its name.
    pub clip: String,
    /// Lens and attachment in few words.
    pub rig: String,
    /// What the media recorded, if it did.
    pub recorded: Option<Millimeters>,
    /// The focal length that stands, if one does.
    pub stands: Option<Millimeters>,
    /// What became of the recorded one.
    pub verdict: Option<Verdict>,
}

/// Lines of clips of one set-up; more than this make a plot.
const MOST_LINES: usize = 36;
/// From one line to the next.
const ROW: f64 = 26.0;
/// Ends of the axis.
const LEFT: f64 = 280.0;
const RIGHT: f64 = 570.0;
/// Where the words behind the axis begin.
const BESIDE: f64 = RIGHT + 20.0;
/// Where the clips are counted.
const COUNTED: f64 = BESIDE + 140.0;
/// Focal lengths that an axis names, in millimetres: those that lenses are marked with (common practice, no source).
const MARKS: [f64; 20] = [
    4.0, 6.0, 8.0, 10.0, 14.0, 18.0, 25.0, 35.0, 50.0, 75.0, 100.0, 135.0, 200.0, 300.0, 400.0,
    600.0, 800.0, 1200.0, 2000.0, 4000.0,
];

/// What a line tells, in the order in which people look for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    Unresolved,
    Wrong,
    Nothing,
    Right,
}

impl Kind {
    pub(super) const ALL: [Self; 4] = [Self::Unresolved, Self::Wrong, Self::Nothing, Self::Right];

    pub(super) fn of(clip: &Compared) -> Option<Self> {
        Some(match (words(clip.recorded), words(clip.stands)) {
            (None, None) if clip.verdict == Some(Verdict::Unresolved) => Self::Unresolved,
            (None, None) => return None,
            (_, None) => Self::Unresolved,
            (None, Some(_)) => Self::Nothing,
            (Some(recorded), Some(stands)) if recorded == stands => Self::Right,
            (Some(_), Some(_)) => Self::Wrong,
        })
    }

    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Unresolved => "unresolved",
            Self::Wrong => "recorded wrong",
            Self::Nothing => "nothing recorded",
            Self::Right => "recorded right",
        }
    }
}

/// Clips of one set-up that recorded the same.
struct Group<'a> {
    kind: Kind,
    rig: &'a str,
    recorded: Option<Millimeters>,
    stands: Option<Millimeters>,
    clips: Vec<&'a str>,
}

/// The picture as drawings that each fit a page.
pub(super) fn drawings(focals: &Focals) -> Vec<Drawing> {
    let groups = groups(focals);
    let Some(axis) = Axis::of(focals.clips.iter()) else {
        return Vec::new();
    };
    if groups.len() > MOST_LINES {
        return vec![scatter::drawing(focals, &axis.range())];
    }
    let lines = steps(MARGIN + 90.0, ROW).take_while(|y| *y < HIGHEST).count().max(1);
    let of = groups.len().div_ceil(lines);
    let pages = groups.chunks(lines).enumerate();
    pages.map(|(at, page)| axis.drawing(focals, page, at, of)).collect()
}

/// What clips have in common that stand on one line, as it is printed.
type Key<'a> = (Kind, &'a str, Option<String>, Option<String>);

/// Groups of clips that were wrong first, the largest before the others.
fn groups(focals: &Focals) -> Vec<Group<'_>> {
    let mut found: BTreeMap<Key<'_>, Group<'_>> = BTreeMap::new();
    for clip in &focals.clips {
        let Some(kind) = Kind::of(clip) else { continue };
        let key = (kind, clip.rig.as_str(), words(clip.recorded), words(clip.stands));
        let group = found.entry(key).or_insert_with(|| {
            let (recorded, stands) = (clip.recorded, clip.stands);
            Group { kind, rig: &clip.rig, recorded, stands, clips: Vec::new() }
        });
        // A clip of several pieces is one clip.
        if group.clips.last() != Some(&clip.clip.as_str()) {
            group.clips.push(&clip.clip);
        }
    }
    let mut groups: Vec<Group<'_>> = found.into_values().collect();
    groups.sort_by_key(|group| (group.kind, std::cmp::Reverse(group.clips.len())));
    groups
}

/// A focal length as it is printed; one that no axis can hold is left out.
fn words(focal: Option<Millimeters>) -> Option<String> {
    focal.filter(|mm| (0.01..=1e6).contains(&mm.get())).map(|mm| short(mm.get(), 1))
}

/// A logarithmic axis of focal lengths: equal steps are equal factors.
struct Axis {
    low: f64,
    high: f64,
}

impl Axis {
    fn of<'a>(clips: impl Iterator<Item = &'a Compared>) -> Option<Self> {
        let lengths = clips.flat_map(|clip| [clip.recorded, clip.stands]);
        let lengths =
            lengths.flatten().map(Millimeters::get).filter(|mm| (0.01..=1e6).contains(mm));
        let (mut low, mut high) = (f64::INFINITY, 0.0_f64);
        for mm in lengths {
            (low, high) = (low.min(mm), high.max(mm));
        }
        (low <= high).then(|| Self { low: low / 1.15, high: high * 1.15 })
    }

    /// From where to where it runs, and what it names.
    fn range(&self) -> (f64, f64, Vec<f64>) {
        let named = MARKS.iter().copied().filter(|mm| (self.low..=self.high).contains(mm));
        let mut named: Vec<f64> = named.collect();
        if named.is_empty() {
            named.extend([self.low * 1.15, self.high / 1.15]);
            named.dedup();
        }
        (self.low, self.high, named)
    }

    fn x(&self, mm: Millimeters) -> f64 {
        LEFT + part(self.low, self.high, mm.get()) * (RIGHT - LEFT)
    }

    fn drawing(&self, focals: &Focals, page: &[Group<'_>], at: usize, of: usize) -> Drawing {
        let first = MARGIN + 66.0;
        let bottom = steps(first, ROW).nth(page.len()).unwrap_or(first) - 8.0;
        let title = numbered(&brief(&focals.title), at, of);
        let mut drawing = Drawing::new(WIDTH, bottom + 34.0, &title, &told(page));
        drawing.words(TITLE, (MARGIN, MARGIN + 16.0), Held::Start, &title);
        legend(&mut drawing, MARGIN + 36.0);
        for mm in self.range().2 {
            let x = LEFT + part(self.low, self.high, mm) * (RIGHT - LEFT);
            drawing.line(FRAME, (x, first - 14.0), (x, bottom));
            drawing.words(ASIDE, (x, bottom + 17.0), Held::Middle, &short(mm, 1));
        }
        drawing.words(ASIDE, (BESIDE, bottom + 17.0), Held::Start, "mm");
        for (group, y) in page.iter().zip(steps(first, ROW)) {
            self.line(&mut drawing, group, y);
        }
        drawing
    }

    fn line(&self, drawing: &mut Drawing, group: &Group<'_>, y: f64) {
        let row = |words: &str, size: f64, width: f64| {
            rows(words, size, width, 1).into_iter().next().unwrap_or_default()
        };
        drawing.line(FRAME, (MARGIN, y + 13.0), (WIDTH - MARGIN, y + 13.0));
        drawing.words(
            WORDS,
            (MARGIN, y + 4.0),
            Held::Start,
            &row(group.rig, 13.0, LEFT - MARGIN - 16.0),
        );
        match (group.recorded.map(|mm| self.x(mm)), group.stands.map(|mm| self.x(mm))) {
            (Some(recorded), Some(_)) if group.kind == Kind::Right => {
                drawing.circle(HOLLOW, (recorded, y), 7.0);
                drawing.circle(POINT, (recorded, y), 3.5);
            }
            (Some(recorded), Some(stands)) => {
                arrow(drawing, recorded, stands, y);
                drawing.circle(HOLLOW, (recorded, y), 5.0);
                drawing.circle(POINT, (stands, y), 4.5);
            }
            (Some(recorded), None) => {
                drawing.circle(HOLLOW, (recorded, y), 5.0);
                for rise in [8.0, -8.0] {
                    drawing.line(BOLD_LINE, (recorded - 8.0, y - rise), (recorded + 8.0, y + rise));
                }
            }
            (None, Some(stands)) => drawing.circle(POINT, (stands, y), 4.5),
            (None, None) => {}
        }
        let says = row(&says(group), 13.0, 138.0);
        drawing.words(WORDS, (BESIDE, y + 4.0), Held::Start, &says);
        let counted = format!("{}: {}", clips(group.clips.len()), listed(&group.clips));
        let counted = row(&counted, 12.0, WIDTH - MARGIN - COUNTED);
        drawing.words(ASIDE, (COUNTED, y + 4.0), Held::Start, &counted);
    }
}

/// How far along a logarithmic axis a value lies.
pub(super) fn part(low: f64, high: f64, value: f64) -> f64 {
    libm::log(value / low) / libm::log(high / low)
}

fn says(group: &Group<'_>) -> String {
    match (words(group.recorded), words(group.stands)) {
        (Some(recorded), Some(_)) if group.kind == Kind::Right => format!("{recorded} mm, right"),
        (Some(recorded), Some(stands)) => format!("{recorded} \u{2192} {stands} mm"),
        (Some(recorded), None) => format!("{recorded} mm, unresolved"),
        (None, Some(stands)) => format!("none \u{2192} {stands} mm"),
        (None, None) => "unresolved".to_owned(),
    }
}

/// The line from what was recorded to what is true, with a head where it ends.
fn arrow(drawing: &mut Drawing, from: f64, to: f64, y: f64) {
    drawing.line(BOLD_LINE, (from, y), (to, y));
    let back = if to > from { -5.0 } else { 5.0 };
    let tip = to + back;
    drawing.outline(POINT, &[(tip, y), (tip + back * 1.6, y - 5.0), (tip + back * 1.6, y + 5.0)]);
}

fn legend(drawing: &mut Drawing, y: f64) {
    let mut x = MARGIN + 7.0;
    drawing.circle(HOLLOW, (x, y - 4.0), 5.0);
    drawing.words(ASIDE, (x + 12.0, y), Held::Start, "recorded");
    x += 90.0;
    drawing.circle(POINT, (x, y - 4.0), 4.5);
    drawing.words(ASIDE, (x + 12.0, y), Held::Start, "true");
    x += 62.0;
    drawing.circle(HOLLOW, (x, y - 4.0), 7.0);
    drawing.circle(POINT, (x, y - 4.0), 3.5);
    drawing.words(ASIDE, (x + 14.0, y), Held::Start, "recorded right");
    drawing.line(THIN, (MARGIN, y + 10.0), (WIDTH - MARGIN, y + 10.0));
}

/// The drawing in words.
fn told(page: &[Group<'_>]) -> String {
    let mut words =
        "Recorded against true focal length, a line for clips of one set-up.".to_owned();
    for group in page {
        let counted = format!("{} ({})", clips(group.clips.len()), listed(&group.clips));
        words.extend([format!(" {}: {}, {counted}.", brief(group.rig), says(group))]);
    }
    words
}
