//! How many frames a track has and how long each lasts (`stts`, ISO/IEC 14496-12, 8.6.1.2).

use crate::header::Placed;
use crate::header::cursor::Cursor;
use crate::header::reader::{Element, Reader, len};

/// Frames and durations, added up run by run; nothing grows with the clip.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Timing {
    frames: u64,
    duration: u64,
    usual: Option<u32>,
    varies: bool,
    extremes: Option<(u32, u32)>,
    /// The newest run is held back: a single last frame of another length is the clip's end, not a change of rate.
    newest: Option<(u64, u32)>,
}

impl Timing {
    /// Adds `count` frames of `delta` units each.
    pub fn push(&mut self, count: u32, delta: u32) {
        let count = u64::from(count);
        if count == 0 {
            return;
        }
        self.frames = self.frames.saturating_add(count);
        self.duration = self.duration.saturating_add(count.saturating_mul(u64::from(delta)));
        if count > 1 {
            self.stretch(delta);
        }
        match self.newest {
            Some((frames, same)) if same == delta => {
                self.newest = Some((frames.saturating_add(count), same));
            }
            Some((_, other)) => {
                self.varies |= *self.usual.get_or_insert(other) != other;
                self.stretch(other);
                self.newest = Some((count, delta));
            }
            None => self.newest = Some((count, delta)),
        }
    }

    fn stretch(&mut self, delta: u32) {
        let (low, high) = self.extremes.unwrap_or((delta, delta));
        self.extremes = Some((low.min(delta), high.max(delta)));
    }

    /// Frames in all.
    pub fn frames(&self) -> u64 {
        self.frames
    }

    /// Shortest and longest frame, in media units; the last frame is left out, because writers cut it as they like.
    pub fn extremes(&self) -> Option<(u32, u32)> {
        self.extremes
    }

    /// Their length in all, in media units.
    pub fn duration(&self) -> u64 {
        self.duration
    }

    /// Units a frame, where every frame (bar a single last one) lasts the same; `None` where that varies.
    pub fn constant(&self) -> Option<u32> {
        let (frames, newest) = self.newest?;
        let usual = self.usual.unwrap_or(newest);
        (!self.varies && (newest == usual || frames == 1)).then_some(usual)
    }
}

/// Runs fetched at a time; a clip of even rate has one or two in all.
const PAGE: u64 = 8192;

/// Reads the runs of `stts`, a page at a time.
pub(super) fn stts(reader: &mut Reader, element: &Element) -> Option<Placed<Timing>> {
    let claimed = reader
        .parse(element, 8, |c| c.full().and_then(|_| c.u32()))
        .map(|count| u64::from(count.value))?;
    let held = element.length().saturating_sub(8) / 8;
    if claimed > held && !element.cut {
        reader.damaged(element.start, format!("`{}` claims more runs than it holds", element.path));
    }
    let mut left = claimed.min(held);
    if left > reader.limits.runs {
        reader.damaged(
            element.start,
            "the frame rate changes too often to be followed; frames are not counted",
        );
        return None;
    }
    let mut timing = Timing::default();
    let mut at = element.body.saturating_add(8);
    while left > 0 {
        let wanted = usize::try_from(left.min(PAGE)).unwrap_or_default();
        let page = reader.bytes(at, wanted.saturating_mul(8));
        if page.len() < 8 {
            break;
        }
        let mut cursor = Cursor::new(page);
        let read = len(page) / 8;
        while let (Some(count), Some(delta)) = (cursor.u32(), cursor.u32()) {
            timing.push(count, delta);
        }
        at = at.saturating_add(read.saturating_mul(8));
        left = left.saturating_sub(read);
    }
    Some(element.place(timing))
}

/// Runs of composition offsets read; a group of pictures that lean on each other is far shorter.
const COMPOSITIONS: usize = 64;

/// The first runs of `ctts` (8.6.1.3). Offsets are signed in version 1, and writers of version 0 use them so too.
pub(super) fn composition(reader: &mut Reader, element: &Element) -> Vec<(u32, i32)> {
    let runs = reader.parse(element, COMPOSITIONS.saturating_mul(8).saturating_add(8), |c| {
        c.full()?;
        let count = usize::try_from(c.u32()?).unwrap_or(COMPOSITIONS).min(COMPOSITIONS);
        Some((0..count).map_while(|_| Some((c.u32()?, c.i32()?))).collect())
    });
    runs.map(|runs| runs.value).unwrap_or_default()
}

/// Where the first chunk, and so the first sample, of a track stands (`stco`, `co64`, 8.7.5).
pub(super) fn first_chunk(reader: &mut Reader, element: &Element) -> Option<Placed<u64>> {
    let wide = element.kind == *b"co64";
    let first = reader.parse(element, 16, |c| {
        c.full()?;
        let count = c.u32()?;
        if count == 0 {
            return Some(None);
        }
        if wide { c.u64() } else { c.u32().map(u64::from) }.map(Some)
    })?;
    first.value.map(|offset| element.place(offset))
}
