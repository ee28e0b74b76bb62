//! Bounded reading: the limits of one header, and a cursor that cannot leave its bytes.

/// How much of one file is looked at. The defaults are far above what cameras write and far below what hurts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Boxes at the top level; an hour of two-second fragments has 3600.
    pub top_boxes: u32,
    /// Boxes inside other boxes, in all.
    pub boxes: u32,
    /// Tracks.
    pub tracks: usize,
    /// Runs of frame durations in one track; a clip of uneven rate has about one a frame.
    pub runs: u64,
    /// Texts and keys kept.
    pub texts: usize,
    /// Bytes of one text that are read.
    pub text: usize,
    /// Bytes of all XMP packets together.
    pub packets: usize,
    /// Findings kept; a header with more is broken everywhere.
    pub findings: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            top_boxes: 20_000,
            boxes: 50_000,
            tracks: 256,
            runs: 1_000_000,
            texts: 1024,
            text: 16 * 1024,
            packets: 4 * 1024 * 1024,
            findings: 32,
        }
    }
}

/// Big-endian reading from a piece of a header; every step is `None` once the bytes run out.
pub(super) struct Cursor<'a> {
    rest: &'a [u8],
}

impl<'a> Cursor<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes }
    }

    pub(super) fn rest(&self) -> &'a [u8] {
        self.rest
    }

    pub(super) fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.rest.split_at_checked(count)?;
        self.rest = rest;
        Some(taken)
    }

    pub(super) fn skip(&mut self, count: usize) -> Option<()> {
        self.take(count).map(|_| ())
    }

    pub(super) fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        self.take(N)?.try_into().ok()
    }

    pub(super) fn u8(&mut self) -> Option<u8> {
        self.array().map(u8::from_be_bytes)
    }

    pub(super) fn u16(&mut self) -> Option<u16> {
        self.array().map(u16::from_be_bytes)
    }

    pub(super) fn u32(&mut self) -> Option<u32> {
        self.array().map(u32::from_be_bytes)
    }

    pub(super) fn i32(&mut self) -> Option<i32> {
        self.array().map(i32::from_be_bytes)
    }

    pub(super) fn u64(&mut self) -> Option<u64> {
        self.array().map(u64::from_be_bytes)
    }

    pub(super) fn i64(&mut self) -> Option<i64> {
        self.array().map(i64::from_be_bytes)
    }

    /// Version and flags of a full box (ISO/IEC 14496-12, 4.2).
    pub(super) fn full(&mut self) -> Option<(u8, u32)> {
        let word = self.u32()?;
        let [version, ..] = word.to_be_bytes();
        Some((version, word & 0x00FF_FFFF))
    }

    /// A time or duration: 64 bits wide from version 1 on, 32 before.
    pub(super) fn wide(&mut self, version: u8) -> Option<u64> {
        if version == 0 { self.u32().map(u64::from) } else { self.u64() }
    }
}
