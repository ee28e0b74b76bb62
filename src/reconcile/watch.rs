//! Rows with a time of day: the first of a clip holds for all of it, a later one from its second on; and what they tell
//! of the clocks of cameras.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::finding::{Code, Finding, Place};
use crate::notes::{NoteRow, Noted, TimeOfDay};

use super::World;
use super::clocks::{camera_name, written};
use super::join::{Joined, Rank};
use super::moments::{after_start, late, on_the_watch, ran};

/// Rows with a time of day, by clip.
#[derive(Default)]
pub(super) struct Watch<'a> {
    rows: BTreeMap<usize, Vec<Timed<'a>>>,
    /// Rows that name a clip which by its own clock did not run then, by camera.
    apart: BTreeMap<String, Apart>,
}

/// A row of one clip.
struct Timed<'a> {
    /// Seconds from the start of the clip.
    after: u64,
    row: &'a NoteRow,
    time: &'a Noted<TimeOfDay>,
    why: Arc<str>,
}

/// Rows of one camera whose times are not those of its clock.
struct Apart {
    rows: usize,
    /// By how many seconds the clock seems fast: the least and the most.
    late: (i64, i64),
    first: Place,
    clip: Arc<str>,
}

/// A minute as noted and a few seconds until the camera rolled: offsets this near to each other are one (common practice, no source).
const ALIKE: i64 = 90;

impl<'a> Watch<'a> {
    /// True if a clip ran at a time of day.
    pub(super) fn ran_then(world: &World<'_>, clip: usize, time: TimeOfDay) -> bool {
        ran(world, clip).is_some_and(|(start, length)| {
            let late = late(start, time);
            late < i64::from(time.spread()) && late + length > 0
        })
    }

    /// A row that names its clip. That the clip did not run then speaks against the clock before it speaks against the name.
    pub(super) fn named(
        &mut self,
        world: &World<'_>,
        clip: usize,
        (row, time): (&'a NoteRow, &'a Noted<TimeOfDay>),
        why: Arc<str>,
    ) {
        let start = ran(world, clip).map(|(start, _)| start);
        let then = Self::ran_then(world, clip, time.value);
        let after = start.filter(|_| then).map_or(0, |start| after_start(start, time.value));
        self.rows.entry(clip).or_default().push(Timed { after, row, time, why });
        let Some(start) = start.filter(|_| !then) else { return };
        let Some(of) = world.dump.clips.get(clip) else { return };
        let camera = camera_name(of, world.kit).unwrap_or_default();
        let late = late(start, time.value) + world.clocks.fast(of, world.kit);
        let apart = self.apart.entry(camera).or_insert_with(|| Apart {
            rows: 0,
            late: (late, late),
            first: time.place.clone(),
            clip: of.name.as_str().into(),
        });
        apart.rows += 1;
        apart.late = (apart.late.0.min(late), apart.late.1.max(late));
    }

    /// A row whose clip was found by the time.
    pub(super) fn at(
        &mut self,
        world: &World<'_>,
        clip: usize,
        (row, time): (&'a NoteRow, &'a Noted<TimeOfDay>),
    ) {
        let Some((start, _)) = ran(world, clip) else { return };
        let fast = world.dump.clips.get(clip).map_or(0, |clip| world.clocks.fast(clip, world.kit));
        let clock =
            if fast == 0 { String::new() } else { format!(", clock {} fast", written(fast)) };
        let why = format!("time of day {}{clock}", time.typed).into();
        let after = after_start(start, time.value);
        self.rows.entry(clip).or_default().push(Timed { after, row, time, why });
    }

    /// Why no clip ran at a time of day: which began nearest, and what its clock would have to be off by.
    pub(super) fn nobody(
        world: &World<'_>,
        nearest: Option<usize>,
        which: &str,
        time: TimeOfDay,
    ) -> String {
        let near = || {
            let clip = nearest?;
            let (start, _) = ran(world, clip)?;
            let of = world.dump.clips.get(clip)?;
            let offset = late(start, time) + world.clocks.fast(of, world.kit);
            let camera = camera_name(of, world.kit)?.to_uppercase();
            let (name, at) = (&of.name, on_the_watch(start));
            Some(format!(
                "no clip of {which} ran then; {name} began at {at} by its clock, and is meant if that was off: --clock {camera}={}",
                written(offset)
            ))
        };
        near().unwrap_or_else(|| {
            format!("no clip of {which} ran then, as far as clips say when they were made")
        })
    }

    /// Puts every row at the frame from which it holds.
    pub(super) fn settle(
        self,
        world: &World<'_>,
        findings: &mut Vec<Finding>,
        joined: &mut [Vec<Joined<'a>>],
    ) {
        for (clip, mut rows) in self.rows {
            rows.sort_by_key(|timed| timed.after);
            let Some((first, minute)) = rows.first().map(|t| (t.after, t.time.value.seconds / 60))
            else {
                continue;
            };
            let rate = world.facts.get(clip).and_then(|facts| facts.media.rate.as_ref());
            for Timed { after, row, time, why } in rows {
                let later = after > first
                    && (time.value.to_the_second || time.value.seconds / 60 != minute);
                let frame = rate.and_then(|rate| {
                    (after * u64::from(rate.value.num())).checked_div(u64::from(rate.value.den()))
                });
                let (rank, frame) = match (later, time.value.to_the_second, frame) {
                    (false, ..) => (Rank::Clip, 0),
                    (true, true, Some(frame)) => (Rank::Timecode, frame),
                    (true, ..) => {
                        findings.push(too_coarse(time));
                        continue;
                    }
                };
                if let Some(of) = joined.get_mut(clip) {
                    of.push(Joined { rank, frame, row, why });
                }
            }
            if let Some(of) = joined.get_mut(clip) {
                of.sort_by(|a, b| {
                    (&a.row.place.file, a.row.line).cmp(&(&b.row.place.file, b.row.line))
                });
            }
        }
        for (camera, apart) in self.apart {
            findings.push(apart.finding(&camera));
        }
    }
}

fn too_coarse(time: &Noted<TimeOfDay>) -> Finding {
    let message = format!(
        "time of day \"{}\": it lies inside a clip, and without seconds nobody knows where the change is",
        time.typed
    );
    Finding::new(Code::NotesRow, message)
        .at(time.place.clone())
        .hint("write the timecode at which it changed; the row was not used")
}

impl Apart {
    fn finding(self, camera: &str) -> Finding {
        let Self { rows, late: (least, most), first, clip } = self;
        let (times, camera) =
            (if rows == 1 { "1 row gives" } else { "rows give" }, camera.to_uppercase());
        let many = if rows == 1 { String::new() } else { format!("{rows} ") };
        let message =
            format!("{many}{times} a time at which the clip, by its own clock, did not run");
        let middle = i64::midpoint(least, most);
        let hint = if most - least <= ALIKE && !camera.is_empty() {
            format!(
                "if the camera's clock was off, run with --clock {camera}={}; the names were taken",
                written(middle)
            )
        } else {
            "check the names and times, and the camera's clock; the names were taken".to_owned()
        };
        Finding::new(Code::NotesTime, message).at(first).hint(hint).clip(clip)
    }
}
