//! Frames, rate and length of the picture as it is shown (ISO/IEC 14496-12, 8.6.1.2 for durations, 8.6.6 for edits).

use crate::finding::Code;
use crate::header::Placed;
use crate::header::quicktime::{Edit, Timing, Track};
use crate::ratio::{FrameRate, Ratio};
use crate::recorded::quicktime::Reading;
use crate::recorded::{Duration, Recorded, Stored};

/// As fast as recorded, 16.16 fixed point.
const AS_RECORDED: i32 = 0x10000;

const COUNT_HINT: &str =
    "count in frames from the first one shown; a program that ignores edit lists shows others";
const ODD_HINT: &str = "look at the clip in a player; if post ignores edit lists, frame numbers here do not hold there";

/// Fills frames, length and rate of the main picture track.
pub(super) fn timing(reading: &mut Reading, track: &Track, recorded: &mut Recorded) {
    let Some(timing) = &track.timing else {
        return;
    };
    let sum = &timing.value;
    let timescale = track.media.as_ref().map_or(0, |media| media.value.timescale);
    if sum.frames() > 0 && !reading.movie.fragments_missed {
        let frames = shown(reading, track, timing, recorded);
        recorded.frames = Some(reading.source(timing, frames));
        let units = match sum.constant() {
            _ if frames == sum.frames() => Some(sum.duration()),
            Some(delta) => frames.checked_mul(delta.into()),
            None => None,
        };
        let units = units.filter(|_| timescale > 0);
        recorded.duration =
            units.map(|units| reading.source(timing, Duration { units, timescale }));
    }
    let rate = match sum.constant() {
        Some(delta) => Ratio::new(timescale.into(), delta.into()),
        None => average(sum.frames(), timescale, sum.duration()),
    };
    if let (None, Some(rate)) = (sum.constant(), rate) {
        let message = format!(
            "the frames are not evenly spaced; {:.3} a second is their average{}",
            rate.to_f64(),
            spread(sum, timescale)
        );
        reading.report(
            Code::MediaRateVaries,
            timing.offset,
            &message,
            "count in frames; conform to a constant rate before tracking",
        );
    }
    recorded.rate = rate.map(|rate| reading.source(timing, rate));
}

/// Frames that the edits show; what they hide, hold or run at another speed is said.
fn shown(
    reading: &mut Reading,
    track: &Track,
    timing: &Placed<Timing>,
    recorded: &mut Recorded,
) -> u64 {
    let stored = timing.value.frames();
    let Some(list) = track.edit_count.as_ref() else {
        return stored;
    };
    let kept = track.edits.len();
    let odd = |reading: &mut Reading, what: &str| {
        reading.report(Code::MediaEdits, list.offset, what, ODD_HINT);
    };
    if usize::try_from(list.value).is_ok_and(|all| all > kept) {
        odd(
            reading,
            &format!("the edit list has {} edits; its frames are counted as stored", list.value),
        );
        return stored;
    }
    let pieces = || track.edits.iter().filter(|edit| edit.start().is_some());
    if let Some(edit) = pieces().find(|edit| edit.rate != AS_RECORDED) {
        let what = match edit.rate {
            0 => "the edit list holds a picture still".to_owned(),
            rate => {
                let speed = f64::from(rate) / f64::from(AS_RECORDED);
                format!("the edit list plays the picture at {speed:.3} times its speed")
            }
        };
        odd(reading, &format!("{what}; frames are counted as stored"));
        return stored;
    }
    let Some(shown) = track.shown else {
        return stored;
    };
    if shown.frames == 0 || shown.frames > stored {
        odd(
            reading,
            &format!(
                "the edit list shows {} of {stored} frames; they are counted as stored",
                shown.frames
            ),
        );
        return stored;
    }
    if pieces().count() > 1 {
        let what = format!(
            "the edit list puts the clip together from {} pieces of its recording; {} of {stored} frames are shown",
            pieces().count(),
            shown.frames
        );
        odd(reading, &what);
    }
    if shown.frames != stored {
        let hidden = Stored { frames: stored, first_shown: shown.first };
        recorded.stored = Some(reading.source(list, hidden));
        let last = stored.saturating_sub(shown.first).saturating_sub(shown.frames);
        let message = format!(
            "the edit list hides {} of {stored} frames: {} in front, {last} at the end",
            stored - shown.frames,
            shown.first
        );
        if pieces().count() == 1 {
            reading.report(Code::MediaTrimmed, list.offset, &message, COUNT_HINT);
        }
    }
    shown.frames
}

/// How long the movie runs before the first picture, in movie units: the gaps that an edit list begins with.
pub(super) fn delay(edits: &[Edit]) -> u64 {
    edits
        .iter()
        .take_while(|edit| edit.start().is_none())
        .fold(0, |sum: u64, gap| sum.saturating_add(gap.duration))
}

/// Shortest, longest and all frames together, in words.
fn spread(sum: &Timing, timescale: u32) -> String {
    let length = Duration { units: sum.duration(), timescale: timescale.max(1) };
    let all = format!("; {} frames last {:.3} s", sum.frames(), length.seconds());
    let rate =
        |units: u32| (units > 0).then(|| format!("{:.3}", f64::from(timescale) / f64::from(units)));
    let extremes = sum.extremes().filter(|(low, high)| low != high);
    match extremes.and_then(|(low, high)| rate(high).zip(rate(low))) {
        Some((slow, fast)) => format!("{all}, at {slow} to {fast} a second"),
        None => all,
    }
}

/// Frames over time. Where the exact ratio is too long for 32 bits its last bits go, both above and below.
fn average(frames: u64, timescale: u32, duration: u64) -> Option<FrameRate> {
    let (mut num, mut den) = (u128::from(frames) * u128::from(timescale), u128::from(duration));
    while num > u32::MAX.into() || den > u32::MAX.into() {
        if let (Ok(num), Ok(den)) = (u64::try_from(num), u64::try_from(den))
            && let Some(exact) = Ratio::new(num, den)
        {
            return Some(exact);
        }
        (num, den) = (num >> 1, den >> 1);
    }
    Ratio::new(u64::try_from(num).ok()?, u64::try_from(den).ok()?)
}
