//! How a cut counts: its rate, and whether its labels drop.

use std::collections::BTreeMap;

use crate::cut::{Cut, Time};
use crate::ratio::FrameRate;
use crate::timecode::{Counting, Timecode};

use super::frames::{ClipFrames, base_of};

/// How a cut counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timing {
    /// Frames a second.
    pub rate: FrameRate,
    /// How its labels count.
    pub counting: Counting,
}

impl Timing {
    /// The rate asked for, else that of the file, else the commonest of its clips; what the labels show beats what a head
    /// line says of dropping.
    pub(super) fn of(
        cut: &Cut,
        asked: Option<FrameRate>,
        clips: impl Iterator<Item = ClipFrames>,
    ) -> Option<Self> {
        let mut counts: BTreeMap<(u32, u32), (usize, usize)> = BTreeMap::new();
        for (at, rate) in clips.filter_map(|clip| clip.rate).enumerate() {
            counts.entry((rate.num(), rate.den())).or_insert((0, at)).0 += 1;
        }
        // Of two that are as common the one that comes first.
        let commonest = counts
            .iter()
            .max_by_key(|(_, (count, first))| (*count, std::cmp::Reverse(*first)))
            .and_then(|((num, den), _)| FrameRate::new((*num).into(), (*den).into()));
        let rate = asked.or(cut.rate).or(commonest)?;
        let base = base_of(rate);
        let marked = cut
            .events
            .iter()
            .filter_map(|event| event.record.as_ref())
            .any(|record| matches!(&record.0, Time::Label(label) if label.contains(';')));
        let drop = marked || cut.drop.unwrap_or(false);
        let counting = Counting::new(base, drop).or_else(|| Counting::new(base, false))?;
        Some(Self { rate, counting })
    }

    /// Labels a second.
    pub(super) fn base(self) -> u32 {
        self.counting.base()
    }

    /// The label at so many seconds of the cut.
    pub(super) fn label(self, seconds: f64) -> Option<Timecode> {
        let frame = (seconds * self.rate.to_f64()).round();
        let frame: u64 = format!("{frame:.0}").parse().ok()?;
        Some(Timecode::from_frame(frame, self.counting))
    }
}
