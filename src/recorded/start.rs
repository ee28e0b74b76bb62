//! Where the timecode of a QuickTime file starts and how it counts (QuickTime, "Timecode Media"; SMPTE ST 12-1).

use crate::finding::Code;
use crate::header::Placed;
use crate::header::quicktime::{TimecodeEntry, Track};
use crate::recorded::Recorded;
use crate::recorded::quicktime::Reading;
use crate::timecode::{Counting, Timecode};

const DROP: u32 = 1;
const WRAPS: u32 = 2;
const COUNTER: u32 = 8;

const HINT: &str = "check the timecode against slate and notes";

/// Fills start timecode and reel from the timecode track that belongs to `picture`.
pub(super) fn read(reading: &mut Reading, picture: &Track, recorded: &mut Recorded) {
    let Some((track, entry)) = timecode_track(reading, picture) else {
        return;
    };
    recorded.reel = entry.value.reel.as_ref().map(|reel| reading.source(reel, reel.value.clone()));
    let Some(counting) = counting(reading, entry) else {
        return;
    };
    let rate = recorded.rate.as_ref().map(|rate| rate.value);
    if rate.is_some_and(|rate| rate.num().div_ceil(rate.den()) != counting.base()) {
        let message = format!(
            "the timecode counts {} frames a second, the picture has another rate",
            counting.base()
        );
        reading.report(Code::MediaTimecodeOdd, entry.offset, &message, HINT);
    }
    let Some(count) = &track.first_count else {
        return;
    };
    let frames = recorded.frames.as_ref().map(|frames| frames.value);
    let samples = track.timing.as_ref().map_or(1, |t| t.value.frames());
    // One sample a frame is a way of writing; a few samples are jumps.
    if samples > 1 && Some(samples) != frames {
        let message = "the timecode jumps inside the clip; only its start is used";
        reading.report(Code::MediaTimecodeOdd, count.offset, message, HINT);
    }
    let known = u64::try_from(count.value).ok();
    let wraps = entry.value.flags & WRAPS != 0;
    match known.filter(|frame| wraps || *frame < counting.day()) {
        Some(frame) => {
            let start = Timecode::from_frame(frame, counting).later(trimmed(track, entry));
            recorded.start = Some(reading.source(count, start));
        }
        None => reading.report(
            Code::MediaTimecodeOdd,
            count.offset,
            &format!("the timecode starts at frame {}, outside of the day", count.value),
            HINT,
        ),
    }
}

/// The timecode track that the picture refers to, else the only kind of guess that is none: the first of the file.
/// A counter (flag 8) numbers frames of tape or film and tells no time.
fn timecode_track<'a>(
    reading: &Reading<'a>,
    picture: &Track,
) -> Option<(&'a Track, &'a Placed<TimecodeEntry>)> {
    let all = || {
        let entry = |track: &'a Track| Some((track, track.timecode.as_ref()?));
        let tracks = reading.movie.tracks.iter().filter_map(entry);
        tracks.filter(|(_, entry)| entry.value.flags & COUNTER == 0)
    };
    let referred = picture
        .references
        .iter()
        .filter(|(kind, _)| kind == b"tmcd")
        .find_map(|(_, id)| all().find(|(track, _)| track.id() == Some(*id)));
    referred.or_else(|| all().next())
}

/// Labels a second come from the exact rate: some cameras write 29 labels where they count to 30.
/// The written number stands in only where there is no rate.
fn counting(reading: &mut Reading, entry: &Placed<TimecodeEntry>) -> Option<Counting> {
    let TimecodeEntry { flags, timescale, frame_duration, labels, .. } = entry.value;
    let base = match (timescale, frame_duration) {
        (0, _) | (_, 0) => labels.into(),
        (timescale, duration) => timescale.div_ceil(duration),
    };
    let drop = flags & DROP != 0;
    if let Some(counting) = Counting::new(base, drop) {
        return Some(counting);
    }
    let plain = Counting::new(base, false);
    let message = match plain {
        Some(_) => format!("drop frame does not exist at {base} frames a second; counted without"),
        None => format!("the timecode claims to count {base} frames a second; it is not used"),
    };
    reading.report(Code::MediaTimecodeOdd, entry.offset, &message, HINT);
    plain
}

/// Frames of timecode that the track's own edit list leaves out in front.
fn trimmed(track: &Track, entry: &Placed<TimecodeEntry>) -> u64 {
    let skipped =
        track.edits.iter().find_map(|edit| u64::try_from(edit.media_time).ok()).unwrap_or_default();
    let timescale = track.media.as_ref().map_or(0, |m| m.value.timescale);
    let units = u128::from(timescale) * u128::from(entry.value.frame_duration);
    let scaled = u128::from(skipped) * u128::from(entry.value.timescale);
    scaled.checked_div(units).and_then(|frames| u64::try_from(frames).ok()).unwrap_or_default()
}
