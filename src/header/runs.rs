//! Runs of samples in movie fragments, for the few tracks whose samples are looked up (ISO/IEC 14496-12, 8.8.7, 8.8.8, 8.8.12).

use crate::header::cursor::Cursor;
use crate::header::samples::Sample;

/// Bytes of one `trun` that are looked at; thousands of frames fit.
pub(super) const RUN: usize = 256 * 1024;

/// What one track's part of a fragment says of its runs, and how far they were followed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fragment {
    /// Where data offsets count from, if that is known.
    pub(super) base: Option<u64>,
    /// Where the data of a run begins that does not say so itself: behind those of the run before.
    pub(super) next: Option<u64>,
    /// Duration of a sample that gives none.
    pub(super) duration: u32,
    /// Bytes of a sample that gives none.
    pub(super) size: u32,
    /// When the next sample begins, in media units, if that is said (`tfdt`).
    pub(super) time: Option<u64>,
}

/// What runs fall back on (`trex`, 8.8.3).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Defaults {
    /// Duration of a sample.
    pub duration: u32,
    /// Bytes of a sample.
    pub size: u32,
}

/// Track number and what holds for its runs (`tfhd`, 8.8.7). `implied` is the base where none is stated.
pub(super) fn tfhd(
    cursor: &mut Cursor,
    implied: Option<u64>,
    moof: u64,
    defaults: impl Fn(u32) -> Defaults,
) -> Option<(u32, Fragment)> {
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
    let Defaults { mut duration, mut size } = defaults(id);
    if flags & 0x8 != 0 {
        duration = cursor.u32()?;
    }
    if flags & 0x10 != 0 {
        size = cursor.u32()?;
    }
    Some((id, Fragment { base, next: base, duration, size, time: None }))
}

/// When the first sample of the fragment begins (`tfdt`, 8.8.12).
pub(super) fn tfdt(cursor: &mut Cursor) -> Option<u64> {
    let (version, _) = cursor.full()?;
    cursor.wide(version)
}

/// Samples of one run.
#[derive(Debug, Default)]
pub(super) struct Listed {
    pub(super) samples: Vec<Sample>,
    /// Every sample that the run claims was listed.
    pub(super) whole: bool,
}

/// Lists at most `most` samples of a run (`trun`, 8.8.8) and carries `fragment` on behind them; the first of them
/// begins at `time` where the fragment does not say when.
pub(super) fn list(
    c: &mut Cursor,
    fragment: &mut Fragment,
    time: u64,
    most: usize,
) -> Option<Listed> {
    let (_, flags) = c.full()?;
    let count = c.u32()?;
    let start = if flags & 0x1 != 0 {
        let offset = c.i32()?;
        fragment.base.and_then(|base| base.checked_add_signed(offset.into()))
    } else {
        fragment.next
    };
    if flags & 0x4 != 0 {
        c.skip(4)?;
    }
    let mut time = fragment.time.unwrap_or(time);
    let mut listed = Listed::default();
    fragment.next = None;
    // Without a place nothing can be looked up, but what comes after is not lost with it.
    let Some(mut offset) = start else { return Some(listed) };
    let others = [0x400, 0x800].into_iter().filter(|flag| flags & flag != 0).count();
    for _ in 0..count {
        if listed.samples.len() >= most {
            return Some(listed);
        }
        let mut entry = || {
            let duration = if flags & 0x100 != 0 { c.u32()? } else { fragment.duration };
            let size = if flags & 0x200 != 0 { c.u32()? } else { fragment.size };
            c.skip(others.saturating_mul(4))?;
            Some((duration, size))
        };
        let Some((duration, size)) = entry() else { return Some(listed) };
        listed.samples.push(Sample { offset, size, time });
        let next = offset.checked_add(size.into()).zip(time.checked_add(duration.into()));
        let Some((behind, later)) = next else { return Some(listed) };
        (offset, time) = (behind, later);
    }
    (fragment.next, fragment.time) = (Some(offset), Some(time));
    listed.whole = true;
    Some(listed)
}
