//! Movie fragments: frames counted run by run, without their tables where a default says all (ISO/IEC 14496-12, 8.8).

use crate::header::Placed;
use crate::header::cursor::Cursor;
use crate::header::quicktime::{Movie, Timing, Track};
use crate::header::reader::{Element, Reader};

/// Bytes of one `trun` that are looked at; thousands of frames fit.
const RUN: usize = 256 * 1024;

/// What one `tfhd` says of its runs (8.8.7).
struct Fragment {
    /// Where data offsets count from, if that is known.
    base: Option<u64>,
    /// Duration of a sample that gives none.
    duration: u32,
}

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
        match (&part.kind, &current) {
            (b"tfhd", _) => {
                let header = reader.parse(&part, 32, |c| tfhd(c, implied, moof));
                current = header.map(|header| {
                    let (id, base, duration) = header.value;
                    let default = movie.fragment_defaults.get(&id).copied();
                    let duration = duration.or(default).unwrap_or_default();
                    (id, Fragment { base, duration })
                });
            }
            (b"trun", Some((id, fragment))) => {
                let track = movie.tracks.iter_mut().find(|t| t.id() == Some(*id));
                let counted = match track {
                    // Sound and the like are not counted at all.
                    Some(track) if track.picture.is_some() || track.timecode.is_some() => {
                        trun(reader, &part, fragment, track)
                    }
                    _ => true,
                };
                movie.fragments_missed |= !counted;
            }
            _ => {}
        }
    }
}

/// Track number, base of data offsets, default duration (8.8.7).
fn tfhd(
    cursor: &mut Cursor,
    implied: Option<u64>,
    moof: u64,
) -> Option<(u32, Option<u64>, Option<u32>)> {
    let (_, flags) = cursor.full()?;
    let id = cursor.u32()?;
    let base = if flags & 0x1 != 0 {
        Some(cursor.u64()?)
    } else if flags & 0x2_0000 != 0 {
        Some(moof)
    } else {
        implied
    };
    if flags & 0x2 != 0 {
        cursor.skip(4)?;
    }
    let duration = if flags & 0x8 != 0 { Some(cursor.u32()?) } else { None };
    Some((id, base, duration))
}

/// Adds a run of samples (8.8.8); false where it could not be counted whole.
fn trun(reader: &mut Reader, part: &Element, fragment: &Fragment, track: &mut Track) -> bool {
    let timing = track.timing.get_or_insert_with(|| part.place(Timing::default()));
    let mut sum = timing.value;
    let run = reader.parse(part, RUN, |c| {
        let (_, flags) = c.full()?;
        let count = c.u32()?;
        let offset = if flags & 0x1 != 0 { Some(c.i32()?) } else { None };
        if flags & 0x4 != 0 {
            c.skip(4)?;
        }
        let others = [0x200, 0x400, 0x800].into_iter().filter(|f| flags & f != 0).count();
        if flags & 0x100 == 0 {
            let claimed = u64::from(count).saturating_mul(others.try_into().ok()?);
            let whole = claimed <= part.length() / 4;
            if whole {
                sum.push(count, fragment.duration);
            }
            return Some((offset, whole));
        }
        for _ in 0..count {
            let Some(duration) = c.u32() else {
                return Some((offset, false));
            };
            sum.push(1, duration);
            c.skip(others.saturating_mul(4))?;
        }
        Some((offset, true))
    });
    let Some(run) = run else {
        return false;
    };
    timing.value = sum;
    if track.picture.is_some() && !track.edits.is_empty() && track.composition.is_empty() {
        let offsets = reader.parse(part, RUN, compositions);
        track.composition = offsets.map(|offsets| offsets.value).unwrap_or_default();
    }
    let (offset, whole) = run.value;
    if !whole && !part.cut {
        reader.damaged(part.start, format!("`{}` claims more frames than it holds", part.path));
    }
    if track.timecode.is_some() && track.first_sample.is_none() {
        track.first_sample = fragment
            .base
            .and_then(|base| base.checked_add_signed(i64::from(offset.unwrap_or_default())))
            .map(|value| Placed { value, path: part.path.clone(), offset: part.start });
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
