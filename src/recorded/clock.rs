//! Timecode over the clip: what a timecode track counts at any moment of the movie, through its edits and samples
//! (QuickTime, "Timecode Media"; ISO/IEC 14496-12, 8.6.6).

use crate::header::quicktime::{TimecodeEntry, Track};
use crate::timecode::Counting;

/// A jump of the count inside the clip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Jump {
    /// Frame shown at which another count begins, from 0.
    pub(super) frame: u64,
    /// What would have come without the jump, in frames since midnight.
    pub(super) expected: u64,
    /// What stands there.
    pub(super) is: u64,
    /// Byte of the sample.
    pub(super) offset: u64,
}

/// A timecode track and the movie it belongs to.
pub(super) struct Clock<'a> {
    pub(super) track: &'a Track,
    pub(super) entry: &'a TimecodeEntry,
    pub(super) counting: Counting,
    pub(super) movie_scale: u32,
}

/// A stretch of the movie and where in the timecode media it begins.
struct Stretch {
    /// In timecode media units from the start of the movie.
    movie: i128,
    media: i128,
    /// Its end in the media; `None` where no edit says so.
    end: Option<i128>,
}

/// A sample: when it begins in media units, what it counts, where it stands.
struct Sample {
    time: i128,
    count: i128,
    offset: u64,
}

impl Clock<'_> {
    /// Frames since midnight at `delay` movie units after the start of the movie; the count of the first sample
    /// where clock and movie cannot be brought together.
    pub(super) fn start(&self, delay: u64) -> Option<u64> {
        let at = self.movie(delay);
        let stretches = self.stretches();
        let stretch = stretches.iter().rev().find(|s| s.movie <= at).or(stretches.first());
        let time = stretch.map_or(at, |s| s.media + at - s.movie);
        // A delay is rounded to movie units, so the frame it falls on is the nearest.
        let round = if delay == 0 { 0 } else { self.movie(1) };
        self.wrapped(self.count_at(time + round)?)
    }

    /// Where the count jumps between the first and the last of `frames` shown from `delay` on, in order.
    pub(super) fn jumps(&self, delay: u64, frames: u64) -> Vec<Jump> {
        let Some(start) = self.start(delay) else { return Vec::new() };
        let at = self.movie(delay);
        let mut events: Vec<(i128, i128, u64)> = Vec::new();
        for (place, stretch) in self.stretches().iter().enumerate() {
            let offset = self.track.first_count.as_ref().map_or(0, |count| count.offset);
            if place > 0
                && let Some(count) = self.count_at(stretch.media)
            {
                events.push((stretch.movie - at, count, offset));
            }
            for sample in self.samples().skip(1) {
                let inside =
                    sample.time > stretch.media && stretch.end.is_none_or(|end| sample.time < end);
                if inside {
                    let movie = stretch.movie + sample.time - stretch.media - at;
                    events.push((movie, sample.count, sample.offset));
                }
            }
        }
        events.sort_unstable();
        let mut jumps = Vec::new();
        let mut before = (0i128, i128::from(start));
        for (units, count, offset) in events {
            let Some(frame) = self.nearest(units) else { break };
            if frame <= 0 || frame >= i128::from(frames) {
                continue;
            }
            let expected = before.1 + frame - before.0;
            before = (frame, count);
            if let (Some(expected), Some(is)) = (self.wrapped(expected), self.wrapped(count))
                && expected != is
            {
                let frame = u64::try_from(frame).unwrap_or_default();
                jumps.push(Jump { frame, expected, is, offset });
            }
        }
        jumps
    }

    fn samples(&self) -> impl Iterator<Item = Sample> {
        let first = self.track.first_count.iter().map(|count| Sample {
            time: 0,
            count: count.value.into(),
            offset: count.offset,
        });
        let later = self.track.later_counts.iter().map(|later| Sample {
            time: later.time.into(),
            count: later.count.into(),
            offset: later.offset,
        });
        first.chain(later)
    }

    /// The count at a media time: that of the sample that lasts then, and the frames since.
    fn count_at(&self, time: i128) -> Option<i128> {
        let sample = self.samples().take_while(|s| s.time <= time.max(0)).last()?;
        let since = self.frames(time - sample.time).unwrap_or_default();
        Some(sample.count + since)
    }

    fn stretches(&self) -> Vec<Stretch> {
        let mut movie = 0;
        let mut stretches = Vec::new();
        for edit in &self.track.edits {
            let length = self.movie(edit.duration);
            if let Some(start) = edit.start() {
                let media = i128::from(start);
                stretches.push(Stretch { movie, media, end: Some(media + length) });
            }
            movie += length;
        }
        if stretches.is_empty() {
            stretches.push(Stretch { movie, media: 0, end: None });
        }
        stretches
    }

    /// Movie units as media units of the timecode track, kept within 64 bits.
    fn movie(&self, units: u64) -> i128 {
        let scale = self.track.media.as_ref().map_or(0, |media| media.value.timescale);
        let scaled = i128::from(units) * i128::from(scale);
        let scaled = scaled.checked_div(self.movie_scale.into()).unwrap_or_default();
        scaled.min(i64::MAX.into())
    }

    /// Whole frames in so many media units, downwards.
    fn frames(&self, units: i128) -> Option<i128> {
        let (scaled, unit) = self.scaled(units);
        (unit > 0).then(|| scaled.div_euclid(unit))
    }

    fn nearest(&self, units: i128) -> Option<i128> {
        let (scaled, unit) = self.scaled(units);
        (unit > 0).then(|| (scaled + unit / 2).div_euclid(unit))
    }

    fn scaled(&self, units: i128) -> (i128, i128) {
        let scale = self.track.media.as_ref().map_or(0, |media| media.value.timescale);
        let bound = i128::from(i64::MAX);
        let scaled = units.clamp(-bound, bound) * i128::from(self.entry.timescale);
        (scaled, i128::from(scale) * i128::from(self.entry.frame_duration))
    }

    fn wrapped(&self, count: i128) -> Option<u64> {
        u64::try_from(count.rem_euclid(self.counting.day().into())).ok()
    }
}
