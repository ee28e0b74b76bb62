//! Lanes put in order: neighbours of one label become one bar, bars that overlap go below each other.

use std::collections::BTreeSet;

use chrono::NaiveDateTime;

use super::timeline::{Lane, LaneKind, Timeline};
use crate::output::lettering::brief;

/// Bars of one lane, above which they are drawn by label: a lens that is changed all day would be one black bar.
const MANY: usize = 60;
/// Labels that have a row of their own then.
const MOST_LABELS: usize = 6;
/// Rows of bars of one lane at most; more at the same time are counted.
const MOST_ROWS: usize = 4;

/// A lane as it is drawn.
pub(super) struct Band<'a> {
    pub(super) lane: &'a Lane,
    /// The first lane of its camera, above which the camera is named.
    pub(super) first: bool,
    /// Bars that do not overlap within a row, in the order of time.
    pub(super) rows: Vec<Vec<Bar<'a>>>,
    /// True where each row is of one label.
    pub(super) by_label: bool,
    /// Bars for which there was no row.
    pub(super) crowded: usize,
}

/// A stretch of one label.
pub(super) struct Bar<'a> {
    pub(super) from: NaiveDateTime,
    pub(super) to: NaiveDateTime,
    pub(super) label: &'a str,
    /// By which the key knows the label.
    pub(super) number: Option<usize>,
    /// The clips in it, in the order of time.
    pub(super) clips: Vec<(NaiveDateTime, NaiveDateTime)>,
}

impl Bar<'_> {
    pub(super) fn words(&self) -> String {
        let (from, to) = (self.from.format("%H:%M"), self.to.format("%H:%M"));
        format!("{} from {from} to {to}", brief(self.label))
    }
}

/// Every lane with bars in it.
pub(super) fn bands(timeline: &Timeline) -> Vec<Band<'_>> {
    let mut before: Option<&str> = None;
    let mut bands = Vec::new();
    for lane in timeline.lanes.iter().filter(|lane| !lane.stretches.is_empty()) {
        let bars = joined(lane);
        let by_label = bars.len() > MANY && labels(&bars) <= MOST_LABELS;
        let (rows, crowded) = if by_label { (sorted(bars), 0) } else { stacked(bars) };
        bands.push(Band {
            lane,
            first: before != Some(lane.camera.as_str()),
            rows,
            by_label,
            crowded,
        });
        before = Some(&lane.camera);
    }
    bands
}

/// Bars of one label run from the first to the last clip that follow each other with it.
fn joined(lane: &Lane) -> Vec<Bar<'_>> {
    let mut stretches: Vec<_> = lane
        .stretches
        .iter()
        .map(|stretch| (stretch.from, stretch.to.max(stretch.from), stretch.label.as_str()))
        .collect();
    stretches.sort_unstable();
    let mut bars: Vec<Bar<'_>> = Vec::new();
    for (from, to, label) in stretches {
        let clip = (lane.kind == LaneKind::Roll).then_some((from, to));
        match bars.last_mut() {
            Some(bar) if bar.label == label => {
                bar.to = bar.to.max(to);
                bar.clips.extend(clip);
            }
            _ => {
                let clips = clip.into_iter().collect();
                bars.push(Bar { from, to, label, number: None, clips });
            }
        }
    }
    bars
}

fn labels(bars: &[Bar<'_>]) -> usize {
    bars.iter().map(|bar| bar.label).collect::<BTreeSet<_>>().len()
}

/// A row a label, in the order in which they come.
fn sorted(bars: Vec<Bar<'_>>) -> Vec<Vec<Bar<'_>>> {
    let mut rows: Vec<Vec<Bar<'_>>> = Vec::new();
    for bar in bars {
        match rows.iter_mut().find(|row| row.first().is_some_and(|first| first.label == bar.label))
        {
            Some(row) => row.push(bar),
            None => rows.push(vec![bar]),
        }
    }
    rows
}

/// Each bar in the first row in which it does not lie over another.
fn stacked(bars: Vec<Bar<'_>>) -> (Vec<Vec<Bar<'_>>>, usize) {
    let mut rows: Vec<Vec<Bar<'_>>> = Vec::new();
    let mut crowded = 0;
    for bar in bars {
        let full = rows.len() == MOST_ROWS;
        let free = rows.iter_mut().find(|row| row.last().is_none_or(|last| last.to <= bar.from));
        match free {
            Some(row) => row.push(bar),
            None if full => crowded += 1,
            None => rows.push(vec![bar]),
        }
    }
    (rows, crowded)
}
