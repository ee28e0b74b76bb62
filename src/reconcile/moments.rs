//! When clips ran: by their timecode, and by the clocks of their cameras.

use std::collections::BTreeMap;

use chrono::Timelike as _;

use crate::annotation::{ClipFacts, ClipFile};
use crate::notes::{NoteRow, TimeOfDay};
use crate::recorded::Recorded;
use crate::timecode::{Counting, Timecode};

use super::World;
use super::names::Index;
use super::spans::{Span, Spans};

/// Seconds of a day.
const DAY: i64 = 24 * 60 * 60;
/// Clips over one moment that are looked at; more than there are cameras on any set.
const MOST_AT_ONCE: usize = 64;

/// When every clip ran.
#[derive(Default)]
pub(super) struct Moments {
    /// By how timecode counts (labels a second, drop frame) and by roll; the empty roll stands for all.
    counted: BTreeMap<(u32, bool), BTreeMap<String, Spans>>,
    /// By the watch and by roll, likewise, in seconds since midnight.
    watched: BTreeMap<String, Spans>,
}

impl Moments {
    pub(super) fn new(world: &World<'_>, index: &Index) -> Self {
        let mut counted: BTreeMap<(u32, bool), Vec<Vec<Span>>> = BTreeMap::new();
        let mut watched: Vec<Option<Span>> = Vec::new();
        for (clip, facts) in world.facts.iter().enumerate() {
            for file in &facts.files {
                let Some((start, length)) = counts(facts, file) else { continue };
                let counting = start.counting();
                let by_clip = counted
                    .entry((counting.base(), counting.drop()))
                    .or_insert_with(|| vec![Vec::new(); world.facts.len()]);
                let start = whole(start.frame());
                if let Some(spans) = by_clip.get_mut(clip) {
                    spans.push(Span { start, end: start + whole(length), clip });
                }
            }
            watched.push(ran(world, clip).map(|(start, length)| Span {
                start,
                end: start + length,
                clip,
            }));
        }
        let by_roll = |of: &dyn Fn(usize) -> Vec<Span>, day: i64| -> BTreeMap<String, Spans> {
            let all = (0..world.facts.len()).flat_map(of).collect();
            let mut rolls = BTreeMap::from([(String::new(), Spans::new(all, day))]);
            for (roll, clips) in index.rolls() {
                let spans = clips.iter().flat_map(|clip| of(*clip)).collect();
                rolls.insert(roll.clone(), Spans::new(spans, day));
            }
            rolls
        };
        let counted = counted.into_iter().filter_map(|((base, drop), spans)| {
            let day = whole(Counting::new(base, drop)?.day());
            let of = |clip: usize| spans.get(clip).cloned().unwrap_or_default();
            Some(((base, drop), by_roll(&of, day)))
        });
        let counted = counted.collect();
        let of = |clip: usize| watched.get(clip).copied().flatten().into_iter().collect();
        Self { counted, watched: by_roll(&of, DAY) }
    }

    /// Clips of a roll (as a key; empty for all) that run over a timecode, and that `row` can mean.
    pub(super) fn at_timecode(
        &self,
        index: &Index,
        roll: &str,
        row: &NoteRow,
        typed: &str,
    ) -> Vec<usize> {
        let mut clips = Vec::new();
        for ((base, drop), rolls) in &self.counted {
            let counting = Counting::new(*base, *drop);
            let timecode = counting.and_then(|counting| parse(typed, counting));
            let Some((timecode, spans)) = timecode.zip(rolls.get(roll)) else { continue };
            let frame = whole(timecode.frame());
            let met = spans.over(frame, frame + 1, MOST_AT_ONCE);
            clips.extend(met.iter().map(|span| span.clip).filter(|clip| index.may_be(*clip, row)));
        }
        clips.sort_unstable();
        clips.dedup();
        clips
    }

    /// Clips of a roll (as a key; empty for all) that ran at a time of day, and that `row` can mean.
    pub(super) fn at_time(
        &self,
        index: &Index,
        roll: &str,
        row: &NoteRow,
        time: TimeOfDay,
    ) -> Vec<usize> {
        let Some(spans) = self.watched.get(roll) else { return Vec::new() };
        let start = i64::from(time.seconds);
        let met = spans.over(start, start + i64::from(time.spread()), MOST_AT_ONCE);
        met.iter().map(|span| span.clip).filter(|clip| index.may_be(*clip, row)).collect()
    }

    /// The clip of a roll (as a key; empty for all) that began nearest to a time of day.
    pub(super) fn nearest(&self, roll: &str, time: TimeOfDay) -> Option<usize> {
        Some(self.watched.get(roll)?.nearest(i64::from(time.seconds))?.clip)
    }
}

/// When a clip began by the watch, in seconds since midnight, and how many seconds it ran; one at least.
pub(super) fn ran(world: &World<'_>, clip: usize) -> Option<(i64, i64)> {
    let facts = world.facts.get(clip)?;
    let created = facts.media.created.as_ref()?.value;
    let fast = world.clocks.fast(world.dump.clips.get(clip)?, world.kit);
    let start = i64::from(created.time().num_seconds_from_midnight()) - fast;
    Some((start.rem_euclid(DAY), seconds(&facts.media).unwrap_or(1)))
}

/// How long a clip ran, in whole seconds, begun ones too; a day at most.
pub(super) fn seconds(media: &Recorded) -> Option<i64> {
    let by_frames = || {
        let (frames, rate) = (media.frames.as_ref()?.value, media.rate.as_ref()?.value);
        let parts = u128::from(frames) * u128::from(rate.den());
        Some(parts.div_ceil(u128::from(rate.num()).max(1)))
    };
    let by_duration = || {
        let duration = media.duration.as_ref()?.value;
        Some(u128::from(duration.units).div_ceil(u128::from(duration.timescale).max(1)))
    };
    let seconds = by_frames().or_else(by_duration)?;
    Some(i64::try_from(seconds).unwrap_or(DAY).clamp(1, DAY))
}

/// Seconds from when a clip began by the watch to a time of day; 0 where the minute noted began before the clip.
pub(super) fn after_start(start: i64, time: TimeOfDay) -> u64 {
    let after = (i64::from(time.seconds) - start).rem_euclid(DAY);
    if after > DAY / 2 { 0 } else { u64::try_from(after).unwrap_or_default() }
}

/// By how many seconds a clip seems to have begun later than a time of day; negative for earlier.
pub(super) fn late(start: i64, time: TimeOfDay) -> i64 {
    (start - i64::from(time.seconds) + DAY / 2).rem_euclid(DAY) - DAY / 2
}

/// A start as one would read it from a watch.
pub(super) fn on_the_watch(start: i64) -> String {
    format!("{:02}:{:02}:{:02}", start / 3600, start / 60 % 60, start % 60)
}

/// Start and length of a file whose timecode counts its pictures; of a file of unknown length half a day.
fn counts(facts: &ClipFacts, file: &ClipFile) -> Option<(Timecode, u64)> {
    let start = file.start.filter(|_| file.first_frame.is_some())?;
    let rate = facts.media.rate.as_ref().map(|rate| rate.value);
    let day = start.counting().day();
    let fits = rate.is_none_or(|rate| rate.num().div_ceil(rate.den()) == start.counting().base());
    fits.then(|| (start, file.frames.unwrap_or(day / 2).min(day)))
}

/// The frame of the clip at a timecode: in the file whose timecode runs over it, so that a missing part shifts nothing.
pub(super) fn frame_at(facts: &ClipFacts, typed: &str) -> Result<u64, String> {
    let files = facts.files.iter().filter_map(|file| Some((file, file.start?, file.first_frame?)));
    let mut outside = "the clip carries no timecode to compare with".to_owned();
    for (file, start, first) in files {
        let counting = start.counting();
        if counts(facts, file).is_none() {
            let base = counting.base();
            return Err(format!("the clip's timecode counts {base} a second, its pictures do not"));
        }
        let from = parse(typed, counting).ok_or_else(|| no_label(typed, start))?;
        let frame = start.frames_until(from).ok_or("counts otherwise than the clip")?;
        // Without seconds the whole minute is meant: a clip that begins in it is meant from its beginning.
        let late = from.frames_until(start).unwrap_or(u64::MAX);
        let minute = to_the_minute(typed) && late < 60 * u64::from(counting.base());
        let frame = if minute { 0 } else { frame };
        match file.frames {
            Some(frames) if frame < frames => return Ok(first.saturating_add(frame)),
            None if frame <= counting.day() / 2 => return Ok(first.saturating_add(frame)),
            Some(frames) => {
                let end = start.later(frames.saturating_sub(1));
                outside = format!("lies outside the clip, which runs from {start} to {end}");
            }
            None => outside = format!("lies before the clip, which starts at {start}"),
        }
    }
    Err(outside)
}

/// Why a timecode is none that counts like the clip's.
fn no_label(typed: &str, start: Timecode) -> String {
    let counting = start.counting();
    let whole = Counting::new(counting.base(), false).filter(|_| counting.drop());
    // Drop frame leaves out the first labels of most minutes (SMPTE ST 12-1).
    let skipped = whole.is_some_and(|whole| Timecode::parse(typed, whole).is_some());
    if skipped {
        return format!("is left out by drop frame, in which the clip counts from {start}");
    }
    format!("is no timecode that counts like the clip's {start}")
}

/// True for `14:32`.
fn to_the_minute(typed: &str) -> bool {
    typed.split(':').count() == 2
}

/// A timecode as noted; one without frames means the first frame of its second, which drop frame may count as `;02`.
fn parse(typed: &str, counting: Counting) -> Option<Timecode> {
    let typed = &if to_the_minute(typed) { format!("{typed}:00") } else { typed.to_owned() };
    let first =
        || (0..5).find_map(|frame| Timecode::parse(&format!("{typed}:{frame:02}"), counting));
    Timecode::parse(typed, counting).or_else(first)
}

fn whole(frames: u64) -> i64 {
    i64::try_from(frames).unwrap_or(i64::MAX / 4)
}
