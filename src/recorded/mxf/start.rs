//! Where the timecode of an MXF file starts, how it counts, and what reel it comes from
//! (SMPTE ST 377-1, annexes B and D; SMPTE ST 12-1).

use crate::finding::Code;
use crate::header::Placed;
use crate::header::mxf::Set;
use crate::recorded::mxf::{Clip, Reading, graph, value};
use crate::recorded::{Recorded, several};
use crate::timecode::{Counting, Timecode};

const HINT: &str = "check the timecode against slate and notes";

/// A timecode component.
struct Clock {
    start: Placed<i64>,
    counting: Counting,
}

/// Fills start timecode and reel. The package that is played and the one that describes the essence both carry a
/// timecode; where they are not of one mind none is used. That of a tape behind them serves where there is no other.
pub(super) fn read(reading: &mut Reading, clip: &Clip, recorded: &mut Recorded) {
    let tape = clip.package.and_then(|package| reading.graph.source(package));
    for package in [clip.material, clip.package, tape].into_iter().flatten() {
        if let Some(name) = package.item(0x4402, value::text) {
            reading.tag("packageName", &name);
        }
    }
    recorded.reel = tape.and_then(|tape| {
        let name = tape.item(0x4402, value::text)?;
        Some(reading.source(&name, name.value.clone()))
    });
    let rate = recorded.rate.as_ref().map(|rate| rate.value);
    let shift = |track: Option<super::Track>| {
        let part = reading.graph.clip(&track?)?;
        u64::try_from(part.item(0x1201, value::position)?.value).ok()
    };
    let (into_stored, into_tape) =
        (shift(clip.shown).unwrap_or_default(), shift(clip.stored).unwrap_or_default());
    let played = clip.material.and_then(|package| clock(reading, package));
    let stored = clip.package.and_then(|package| clock(reading, package));
    let taped = tape.and_then(|package| clock(reading, package));
    let played = played.and_then(|clock| begin(reading, &clock, 0));
    let stored = stored.and_then(|clock| begin(reading, &clock, into_stored));
    let both = into_stored.saturating_add(into_tape);
    let start = match (played, stored) {
        (Some(played), Some(stored)) if played.value != stored.value => {
            let message = format!(
                "the file records two timecodes, {} and {}; none is used",
                played.value, stored.value
            );
            reading.report(Code::MediaContradiction, stored.offset, &message, several::HINT);
            None
        }
        (Some(start), _) | (None, Some(start)) => Some(start),
        (None, None) => taped.and_then(|clock| begin(reading, &clock, both)),
    };
    let Some(start) = start else { return };
    let base = start.value.counting().base();
    if rate.is_some_and(|rate| rate.num().div_ceil(rate.den()) != base) {
        let message =
            format!("the timecode counts {base} frames a second, the picture has another rate");
        reading.report(Code::MediaTimecodeOdd, start.offset, &message, HINT);
    }
    recorded.start = Some(reading.source(&start, start.value));
}

/// The first timecode of a package.
fn clock(reading: &mut Reading, package: &Set) -> Option<Clock> {
    let tracks = reading.graph.tracks(package);
    let (component, count) = tracks.iter().find_map(|track| {
        let parts = reading.graph.parts(track);
        let mut clocks = parts.iter().filter(|part| part.kind == graph::TIMECODE);
        Some((*clocks.next()?, clocks.count()))
    })?;
    if count > 0 {
        let message = "the timecode jumps inside the clip; only its start is used";
        reading.report(Code::MediaTimecodeOdd, component.offset, message, HINT);
    }
    let start = component.item(0x1501, value::position)?;
    let base = component.item(0x1502, value::short)?;
    let drop = component.item(0x1503, value::flag).is_some_and(|drop| drop.value);
    let written =
        format!("{}/{}{}", start.value, base.value, if drop { " drop frame" } else { "" });
    let written = Placed { value: written, path: start.path.clone(), offset: start.offset };
    reading.tag("startTimecode", &written);
    let counting = counting(reading, &base, drop)?;
    Some(Clock { start, counting })
}

fn counting(reading: &mut Reading, base: &Placed<u16>, drop: bool) -> Option<Counting> {
    let labels = u32::from(base.value);
    if let Some(counting) = Counting::new(labels, drop) {
        return Some(counting);
    }
    let plain = Counting::new(labels, false);
    let message = match plain {
        Some(_) => {
            format!("drop frame does not exist at {labels} frames a second; counted without")
        }
        None => format!("the timecode claims to count {labels} frames a second; it is not used"),
    };
    reading.report(Code::MediaTimecodeOdd, base.offset, &message, HINT);
    plain
}

/// The timecode `later` frames behind the start of `clock`.
fn begin(reading: &mut Reading, clock: &Clock, later: u64) -> Option<Placed<Timecode>> {
    let Clock { start, counting } = clock;
    let known = u64::try_from(start.value).ok().filter(|frame| *frame < counting.day());
    let Some(frame) = known else {
        let message = format!("the timecode starts at frame {}, outside of the day", start.value);
        reading.report(Code::MediaTimecodeOdd, start.offset, &message, HINT);
        return None;
    };
    let value = Timecode::from_frame(frame, *counting).later(later);
    Some(Placed { value, path: start.path.clone(), offset: start.offset })
}
