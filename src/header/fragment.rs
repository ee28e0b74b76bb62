//! Movie fragments: frames counted run by run, without their tables where a default says all (ISO/IEC 14496-12, 8.8).

use crate::header::Placed;
use crate::header::cursor::Cursor;
use crate::header::quicktime::{Movie, Timing, Track};
use crate::header::reader::{Element, Reader};
use crate::header::runs::{self, Defaults, Fragment, RUN};
use crate::header::samples::Sample;

/// Samples of a timecode or metadata track that are kept for looking up.
const KEPT: usize = 33;
/// Samples of one fragment that are gone through in a walk over all.
const IN_FRAGMENT: usize = 65_536;

/// Adds one fragment to the tracks it belongs to.
pub(super) fn moof(reader: &mut Reader, moof: &Element, movie: &mut Movie) {
    let mut at = moof.body;
    let mut first = true;
    while let Some(part) = reader.next(moof, &mut at) {
        if part.kind == *b"traf" {
            traf(reader, &part, movie, first.then_some(moof.start), moof.start);
            first = false;
        }
    }
    movie.fragments_missed |= moof.cut;
}

/// One track's part of a fragment. `implied` is the base where the header states none: the fragment itself for
/// its first track; for later ones it would be the end of the data before, which is not followed.
fn traf(reader: &mut Reader, traf: &Element, movie: &mut Movie, implied: Option<u64>, moof: u64) {
    let mut at = traf.body;
    let mut current: Option<(u32, Fragment)> = None;
    while let Some(part) = reader.next(traf, &mut at) {
        match (&part.kind, &mut current) {
            (b"tfhd", _) => {
                let default = |id| movie.fragment_defaults.get(&id).copied().unwrap_or_default();
                let header = reader.parse(&part, 32, |c| runs::tfhd(c, implied, moof, default));
                current = header.map(|header| header.value);
            }
            (b"tfdt", Some((_, fragment))) => {
                fragment.time = reader.parse(&part, 12, runs::tfdt).map(|time| time.value);
            }
            (b"trun", Some((id, fragment))) => {
                let track = movie.tracks.iter_mut().find(|t| t.id() == Some(*id));
                let counted = match track {
                    // Sound and the like are not counted at all.
                    Some(track) if is_counted(track) => trun(reader, &part, fragment, track),
                    _ => true,
                };
                movie.fragments_missed |= !counted;
            }
            _ => {}
        }
    }
}

fn is_counted(track: &Track) -> bool {
    track.picture.is_some() || is_looked_up(track)
}

fn is_looked_up(track: &Track) -> bool {
    track.timecode.is_some() || track.metadata.is_some()
}

/// Adds a run of samples (8.8.8); false where it could not be counted whole.
fn trun(reader: &mut Reader, part: &Element, fragment: &mut Fragment, track: &mut Track) -> bool {
    let before = track.timing.as_ref().map_or(0, |timing| timing.value.duration());
    if is_looked_up(track) && track.fragment_samples.len() < KEPT {
        let most = KEPT.saturating_sub(track.fragment_samples.len());
        let listed = reader.parse(part, RUN, |c| runs::list(c, fragment, before, most));
        track.fragment_samples.extend(listed.into_iter().flat_map(|l| l.value.samples));
        if track.timecode.is_some() && track.first_sample.is_none() {
            track.first_sample = track.fragment_samples.first().map(|sample| Placed {
                value: sample.offset,
                path: part.path.clone(),
                offset: part.start,
            });
        }
    }
    let timing = track.timing.get_or_insert_with(|| part.place(Timing::default()));
    let mut sum = timing.value;
    let run = reader.parse(part, RUN, |c| {
        let (_, flags) = c.full()?;
        let count = c.u32()?;
        for optional in [0x1, 0x4] {
            if flags & optional != 0 {
                c.skip(4)?;
            }
        }
        let others = [0x200, 0x400, 0x800].into_iter().filter(|f| flags & f != 0).count();
        if flags & 0x100 == 0 {
            let claimed = u64::from(count).saturating_mul(others.try_into().ok()?);
            let whole = claimed <= part.length() / 4;
            if whole {
                sum.push(count, fragment.duration);
            }
            return Some(whole);
        }
        for _ in 0..count {
            let Some(duration) = c.u32() else {
                return Some(false);
            };
            sum.push(1, duration);
            c.skip(others.saturating_mul(4))?;
        }
        Some(true)
    });
    let Some(run) = run else {
        return false;
    };
    timing.value = sum;
    if track.picture.is_some() && !track.edits.is_empty() && track.composition.is_empty() {
        let offsets = reader.parse(part, RUN, compositions);
        track.composition = offsets.map(|offsets| offsets.value).unwrap_or_default();
    }
    let whole = run.value;
    if !whole && !part.cut {
        reader.damaged(part.start, format!("`{}` claims more frames than it holds", part.path));
    }
    whole
}

/// Frames of the first run whose composition offsets are looked at.
const COMPOSITIONS: u32 = 64;

/// Composition offsets of the first frames of a run; empty where it states none (8.8.8).
fn compositions(c: &mut Cursor) -> Option<Vec<(u32, i32)>> {
    let (_, flags) = c.full()?;
    let count = c.u32()?;
    for optional in [0x1, 0x4] {
        if flags & optional != 0 {
            c.skip(4)?;
        }
    }
    if flags & 0x800 == 0 {
        return Some(Vec::new());
    }
    let before = [0x100, 0x200, 0x400].into_iter().filter(|f| flags & f != 0).count();
    let mut offset = || {
        c.skip(before.saturating_mul(4))?;
        Some((1, c.i32()?))
    };
    Some((0..count.min(COMPOSITIONS)).map_while(|_| offset()).collect())
}

/// Hands every sample of the track `id` that lies in a fragment to `each`, until that has enough; false where some
/// could not be found. `time` is where the first begins if the fragments do not say so.
pub(super) fn each_sample(
    reader: &mut Reader,
    id: u32,
    default: Defaults,
    mut time: u64,
    each: &mut dyn FnMut(&mut Reader, Sample) -> bool,
) -> bool {
    let root = reader.root();
    let (mut at, mut left) = (0, reader.limits.top_boxes);
    let mut whole = true;
    while let Some(part) = reader.next(&root, &mut at) {
        if part.kind == *b"moof" {
            let (samples, all) = of_track(reader, &part, id, default, &mut time);
            whole &= all && !part.cut;
            for sample in samples {
                if !each(reader, sample) {
                    return whole;
                }
            }
        }
        left = left.saturating_sub(1);
        if left == 0 || !reader.in_budget() {
            return false;
        }
    }
    whole
}

/// Samples of one track in one fragment, and whether these are all; `time` moves behind them.
fn of_track(
    reader: &mut Reader,
    moof: &Element,
    id: u32,
    default: Defaults,
    time: &mut u64,
) -> (Vec<Sample>, bool) {
    let (mut samples, mut whole) = (Vec::new(), true);
    let (mut at, mut first) = (moof.body, true);
    while let Some(traf) = reader.next(moof, &mut at) {
        if traf.kind != *b"traf" {
            continue;
        }
        let implied = first.then_some(moof.start);
        first = false;
        let (mut inside, mut current) = (traf.body, None);
        while let Some(part) = reader.next(&traf, &mut inside) {
            match (&part.kind, &mut current) {
                (b"tfhd", _) => {
                    let header = reader
                        .parse(&part, 32, |c| runs::tfhd(c, implied, moof.start, |_| default));
                    let header = header.map(|header| header.value);
                    current = header.filter(|(of, _)| *of == id).map(|(_, fragment)| fragment);
                }
                (b"tfdt", Some(fragment)) => {
                    fragment.time = reader.parse(&part, 12, runs::tfdt).map(|time| time.value);
                }
                (b"trun", Some(fragment)) => {
                    let most = IN_FRAGMENT.saturating_sub(samples.len());
                    let listed = reader.parse(&part, RUN, |c| runs::list(c, fragment, *time, most));
                    whole &= listed.as_ref().is_some_and(|listed| listed.value.whole);
                    samples.extend(listed.into_iter().flat_map(|listed| listed.value.samples));
                    *time = fragment.time.unwrap_or(*time);
                }
                _ => {}
            }
        }
    }
    (samples, whole)
}
