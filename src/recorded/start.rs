//! Where the timecode of a QuickTime file starts and how it counts (QuickTime, "Timecode Media"; SMPTE ST 12-1).

use crate::finding::Code;
use crate::header::Placed;
use crate::header::quicktime::{TimecodeEntry, Track};
use crate::recorded::clock::Clock;
use crate::recorded::quicktime::Reading;
use crate::recorded::{Recorded, Tag, edits};
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
    let known = u64::try_from(count.value).ok();
    let wraps = entry.value.flags & WRAPS != 0;
    if known.is_none_or(|frame| !wraps && frame >= counting.day()) {
        let message = format!("the timecode starts at frame {}, outside of the day", count.value);
        reading.report(Code::MediaTimecodeOdd, count.offset, &message, HINT);
        return;
    }
    let movie = reading.movie.header.as_ref();
    let movie_scale = movie.map_or(0, |header| header.value.timescale);
    let clock = Clock { track, entry: &entry.value, counting, movie_scale };
    let delay = edits::delay(&picture.edits);
    let start = clock.start(delay).map(|frame| Timecode::from_frame(frame, counting));
    recorded.start = start.map(|start| reading.source(count, start));
    jumps(reading, &clock, delay, recorded);
    others(reading, picture, (track, start), recorded);
}

/// Says where the timecode jumps inside the clip.
fn jumps(reading: &mut Reading, clock: &Clock, delay: u64, recorded: &Recorded) {
    let frames = recorded.frames.as_ref().map(|frames| frames.value);
    let jumps = clock.jumps(delay, frames.unwrap_or(u64::MAX));
    let label = |frame| Timecode::from_frame(frame, clock.counting);
    if let Some(jump) = jumps.first() {
        let more = match jumps.len() {
            1 => String::new(),
            count => format!(", and {} times more after that", count - 1),
        };
        let message = format!(
            "the timecode jumps at frame {} of the clip (counted from 0) from {} to {}{more}; only its start is used",
            jump.frame,
            label(jump.expected),
            label(jump.is)
        );
        reading.report(Code::MediaTimecodeOdd, jump.offset, &message, HINT);
        return;
    }
    // One sample a frame is a way of writing; a few that cannot be looked at are jumps as far as anyone knows.
    let samples = clock.track.timing.as_ref().map_or(1, |t| t.value.frames());
    if samples > 1 && Some(samples) != frames && clock.track.later_counts.is_empty() {
        let offset = clock.track.first_count.as_ref().map_or(0, |count| count.offset);
        let message = "the timecode jumps inside the clip; only its start is used";
        reading.report(Code::MediaTimecodeOdd, offset, message, HINT);
    }
}

/// Other timecode tracks become tags. Where the picture names none of several and they differ, the choice is a finding.
fn others(
    reading: &mut Reading,
    picture: &Track,
    (main, start): (&Track, Option<Timecode>),
    recorded: &mut Recorded,
) {
    let named = picture.references.iter().any(|(kind, _)| kind == b"tmcd");
    let movie = reading.movie.header.as_ref();
    let movie_scale = movie.map_or(0, |header| header.value.timescale);
    let mut differs = None;
    for (place, track) in reading.movie.tracks.iter().enumerate() {
        let (Some(entry), Some(count)) = (&track.timecode, &track.first_count) else { continue };
        if std::ptr::eq(track, main) {
            continue;
        }
        let TimecodeEntry { flags, timescale, frame_duration, .. } = entry.value;
        let base =
            timescale.checked_div(frame_duration).map(|_| timescale.div_ceil(frame_duration));
        let counting = base.and_then(|base| Counting::new(base, flags & DROP != 0));
        let counter = flags & COUNTER != 0;
        let label = counting.filter(|_| !counter).and_then(|counting| {
            let clock = Clock { track, entry: &entry.value, counting, movie_scale };
            let frame = clock.start(edits::delay(&picture.edits))?;
            Some(Timecode::from_frame(frame, counting))
        });
        if !counter && label != start {
            differs.get_or_insert(count.offset);
        }
        let value = match label {
            Some(label) => format!("{label}, not taken"),
            None => format!("count {}, not taken", count.value),
        };
        let origin = reading.source(count, ()).origin;
        recorded.tags.push(Tag { key: format!("timecode track {}", place + 1), value, origin });
    }
    if let (Some(offset), false) = (differs, named) {
        let message = "several timecode tracks start differently and the picture names none of them; the first one is used";
        reading.report(Code::MediaTimecodeOdd, offset, message, HINT);
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
