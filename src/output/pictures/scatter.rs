//! Recorded against true focal length of very many set-ups: a point where clips lie, larger the more there are.

use std::collections::BTreeMap;

use super::focals::{Compared, Focals, Kind, part};
use super::{MARGIN, WIDTH, clips};
use crate::number::short;
use crate::output::drawing::{
    ASIDE, BOLD_LINE, Drawing, FRAME, HEADING, HOLLOW, Held, POINT, TITLE, WORDS, steps,
};
use crate::output::lettering::{brief, rows};
use crate::units::Millimeters;

/// Side of the plot, in CSS pixels.
const SIDE: f64 = 400.0;
const LEFT: f64 = 150.0;
const TOP: f64 = 70.0;
/// Room beside the axes for clips that recorded nothing, and for those of which no focal length stands.
const STRIP: f64 = 44.0;
/// Points closer than this are one.
const GRID: f64 = 5.0;
/// Set-ups that are listed before the rest is counted.
const MOST_RIGS: usize = 14;

/// The plot; the axis runs from the first number to the second and names the others.
pub(super) fn drawing(focals: &Focals, (low, high, named): &(f64, f64, Vec<f64>)) -> Drawing {
    let counts = counts(&focals.clips);
    let mut drawing = Drawing::new(WIDTH, 560.0, &brief(&focals.title), &told(&counts, focals));
    drawing.words(TITLE, (MARGIN, MARGIN + 16.0), Held::Start, &brief(&focals.title));
    let (right, bottom) = (LEFT + SIDE, TOP + SIDE);
    drawing.rect(FRAME, (LEFT, TOP), (SIDE, SIDE));
    drawing.rect(FRAME, (LEFT - STRIP, TOP), (STRIP, SIDE));
    drawing.rect(FRAME, (LEFT, bottom), (SIDE, STRIP));
    for mm in named {
        let along = part(*low, *high, *mm) * SIDE;
        let (x, y) = (LEFT + along, bottom - along);
        drawing.line(FRAME, (x, TOP), (x, bottom));
        drawing.line(FRAME, (LEFT, y), (right, y));
        drawing.words(ASIDE, (x, bottom + STRIP + 16.0), Held::Middle, &short(*mm, 1));
        drawing.words(ASIDE, (LEFT - STRIP - 6.0, y + 4.0), Held::End, &short(*mm, 1));
    }
    drawing.line(BOLD_LINE, (LEFT, bottom), (right, TOP));
    let across = f64::midpoint(LEFT, right);
    drawing.words(ASIDE, (across, bottom + STRIP + 34.0), Held::Middle, "recorded, mm");
    drawing.words(ASIDE, (MARGIN, TOP - 10.0), Held::Start, "true, mm");
    drawing.words(ASIDE, (LEFT - 3.0, TOP - 10.0), Held::End, "none");
    drawing.words(ASIDE, (LEFT - 6.0, bottom + 26.0), Held::End, "unresolved");

    for ((column, row), (count, right)) in points(focals, *low, *high) {
        let radius = (3.0 + libm::log2(f64::from(count))).min(14.0);
        let middle = (LEFT + f64::from(column) * GRID, bottom - f64::from(row) * GRID);
        drawing.circle(if right { HOLLOW } else { POINT }, middle, radius);
    }

    let x = right + 40.0;
    let mut y = TOP + 14.0;
    drawing.words(WORDS, (x, y), Held::Start, "On the slanted line the media was right (hollow).");
    drawing.words(WORDS, (x, y + 20.0), Held::Start, "The farther from it, the more it was off.");
    y += 52.0;
    for (kind, count) in Kind::ALL.iter().zip(&counts) {
        let words = format!("{}: {}", kind.word(), clips(*count));
        drawing.words(WORDS, (x, y), Held::Start, &words);
        y += 20.0;
    }
    drawing.words(HEADING, (x, y + 22.0), Held::Start, "Most often not right");
    for (words, y) in most_wrong(&focals.clips).iter().zip(steps(y + 44.0, 18.0)) {
        let words = rows(words, 12.0, WIDTH - MARGIN - x, 1).concat();
        drawing.words(ASIDE, (x, y), Held::Start, &words);
    }
    drawing
}

/// How many clips lie in each place of the grid, and whether the media was right there.
fn points(focals: &Focals, low: f64, high: f64) -> BTreeMap<(i32, i32), (u32, bool)> {
    let along = |mm: Option<Millimeters>| {
        let Some(mm) = mm else { return -STRIP / 2.0 };
        part(low, high, mm.get()).clamp(0.0, 1.0) * SIDE
    };
    let cell = |at: f64| {
        // Between minus 22 and 400, so a few places of the grid.
        #[allow(clippy::cast_possible_truncation)]
        let cell = libm::round(at / GRID) as i32;
        cell
    };
    let mut points = BTreeMap::new();
    for clip in &focals.clips {
        let Some(kind) = Kind::of(clip) else { continue };
        if clip.recorded.is_none() && clip.stands.is_none() {
            continue;
        }
        let place = (cell(along(clip.recorded)), cell(along(clip.stands)));
        let (count, right) = points.entry(place).or_insert((0_u32, true));
        *count = count.saturating_add(1);
        *right &= kind == Kind::Right;
    }
    points
}

fn counts(clips: &[Compared]) -> [usize; 4] {
    Kind::ALL.map(|kind| clips.iter().filter(|clip| Kind::of(clip) == Some(kind)).count())
}

/// The set-ups that were wrong or unresolved most often.
fn most_wrong(all: &[Compared]) -> Vec<String> {
    let mut rigs: BTreeMap<&str, usize> = BTreeMap::new();
    let wrong = |clip: &&Compared| matches!(Kind::of(clip), Some(Kind::Wrong | Kind::Unresolved));
    for clip in all.iter().filter(wrong) {
        *rigs.entry(&clip.rig).or_default() += 1;
    }
    let mut rigs: Vec<(&str, usize)> = rigs.into_iter().collect();
    rigs.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let rest = rigs.len().saturating_sub(MOST_RIGS);
    let rigs = rigs.into_iter().take(MOST_RIGS);
    let mut words: Vec<String> =
        rigs.map(|(rig, count)| format!("{}: {}", clips(count), brief(rig))).collect();
    words.extend((rest > 0).then(|| format!("and {rest} more")));
    words
}

fn told(counts: &[usize; 4], focals: &Focals) -> String {
    let kinds = Kind::ALL.iter().zip(counts);
    let kinds: Vec<String> =
        kinds.map(|(kind, count)| format!("{}: {}", kind.word(), clips(*count))).collect();
    let wrong = most_wrong(&focals.clips);
    let mut words =
        format!("Recorded against true focal length, a point a clip. {}.", kinds.join("; "));
    if !wrong.is_empty() {
        words.extend([format!(" Most often not right: {}.", wrong.join("; "))]);
    }
    words
}
