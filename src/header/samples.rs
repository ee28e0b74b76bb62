//! The samples of one track, one after the other, whatever the length of their tables (ISO/IEC 14496-12, 8.6.1 and 8.7).
//!
//! Four tables are read side by side, a page of each at a time; nothing grows with the track.

use crate::header::cursor::Cursor;
use crate::header::reader::{Element, Reader};

/// Bytes of a table held at a time.
const PAGE: usize = 4096;

/// Where the tables of a track stand.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Tables {
    /// `stts`: how long each sample lasts.
    pub(super) durations: Option<Element>,
    /// `stsc`: how many samples lie in each chunk.
    pub(super) chunk_sizes: Option<Element>,
    /// `stsz`: how many bytes each sample has.
    pub(super) sizes: Option<Element>,
    /// `stco` or `co64`: where each chunk begins.
    pub(super) chunks: Option<Element>,
}

/// One sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sample {
    /// Where its bytes begin in the file.
    pub(super) offset: u64,
    /// How many they are.
    pub(super) size: u32,
    /// When it begins, in media units.
    pub(super) time: u64,
}

/// A walk over the samples of a track.
pub(super) struct Samples {
    durations: Pager,
    run: (u32, u32),
    time: u64,
    chunk_sizes: Pager,
    /// Samples in each chunk of now, and the chunk from which on another number holds.
    in_chunk: u32,
    next: Option<(u32, u32)>,
    chunks: Pager,
    wide: bool,
    chunk: u32,
    left_in_chunk: u32,
    offset: u64,
    /// One size for all, or a table of them.
    size: Option<u32>,
    sizes: Pager,
    left: u32,
    broken: bool,
}

impl Samples {
    /// The samples that `tables` list; `None` where a table is missing.
    pub(super) fn new(reader: &mut Reader, tables: &Tables) -> Option<Self> {
        let durations = Pager::new(reader, tables.durations.as_ref()?, 8, 8)?;
        let mut chunk_sizes = Pager::new(reader, tables.chunk_sizes.as_ref()?, 8, 12)?;
        let table = tables.chunks.as_ref()?;
        let wide = table.kind == *b"co64";
        let chunks = Pager::new(reader, table, 8, if wide { 8 } else { 4 })?;
        let table = tables.sizes.as_ref()?;
        let mut head = Cursor::new(reader.bytes(table.body, 12));
        let (_, size, left) = (head.full()?, head.u32()?, head.u32()?);
        let sizes = Pager::new(reader, table, 12, 4)?;
        let next = chunk_sizes.chunk_run(reader);
        Some(Self {
            durations,
            run: (0, 0),
            time: 0,
            chunk_sizes,
            in_chunk: 0,
            next,
            chunks,
            wide,
            chunk: 0,
            left_in_chunk: 0,
            offset: 0,
            size: (size > 0).then_some(size),
            sizes,
            left,
            broken: false,
        })
    }

    /// When the next sample begins, in media units.
    pub(super) fn time(&self) -> u64 {
        self.time
    }

    /// True where every sample was given.
    pub(super) fn is_done(&self) -> bool {
        self.left == 0 && !self.broken
    }

    /// The next sample; `None` at the end, or where the tables say nothing sensible any more.
    pub(super) fn next(&mut self, reader: &mut Reader) -> Option<Sample> {
        self.left = self.left.checked_sub(1)?;
        let sample = self.step(reader);
        self.broken |= sample.is_none();
        sample
    }

    fn step(&mut self, reader: &mut Reader) -> Option<Sample> {
        if self.left_in_chunk == 0 {
            self.chunk = self.chunk.checked_add(1)?;
            let wide = self.wide;
            let mut cursor = self.chunks.next(reader)?;
            self.offset = if wide { cursor.u64()? } else { cursor.u32()?.into() };
            if let Some((first, count)) = self.next.filter(|(first, _)| *first <= self.chunk) {
                // Runs that do not rise would be gone through without end.
                (first == self.chunk).then_some(())?;
                self.in_chunk = count;
                self.next = self.chunk_sizes.chunk_run(reader);
            }
            self.left_in_chunk = self.in_chunk;
        }
        self.left_in_chunk = self.left_in_chunk.checked_sub(1)?;
        if self.run.0 == 0 {
            let mut cursor = self.durations.next(reader)?;
            self.run = (cursor.u32()?, cursor.u32()?);
        }
        self.run.0 = self.run.0.checked_sub(1)?;
        let size = match self.size {
            Some(size) => size,
            None => self.sizes.next(reader)?.u32()?,
        };
        let sample = Sample { offset: self.offset, size, time: self.time };
        self.offset = self.offset.checked_add(size.into())?;
        self.time = self.time.checked_add(self.run.1.into())?;
        Some(sample)
    }
}

/// One table, a page at a time.
struct Pager {
    at: u64,
    end: u64,
    entry: usize,
    page: Vec<u8>,
    used: usize,
}

impl Pager {
    /// The entries of `table` that its count claims and its bytes hold; the count stands before them.
    fn new(reader: &mut Reader, table: &Element, head: u64, entry: usize) -> Option<Self> {
        let at = table.body.saturating_add(head);
        let count = Cursor::new(reader.bytes(at.checked_sub(4)?, 4)).u32()?;
        let bytes = u64::from(count).saturating_mul(u64::try_from(entry).ok()?);
        let end = at.saturating_add(bytes).min(table.end);
        Some(Self { at, end, entry, page: Vec::new(), used: 0 })
    }

    fn next(&mut self, reader: &mut Reader) -> Option<Cursor<'_>> {
        if self.used.saturating_add(self.entry) > self.page.len() {
            let left = usize::try_from(self.end.saturating_sub(self.at)).unwrap_or(usize::MAX);
            let most = PAGE.checked_div(self.entry)?.saturating_mul(self.entry);
            // A first look costs no more than what is held anyway.
            let wanted = if self.page.is_empty() { self.entry } else { most };
            self.page = reader.bytes(self.at, wanted.min(left)).to_vec();
            self.at = self.at.saturating_add(u64::try_from(self.page.len()).ok()?);
            self.used = 0;
        }
        let start = self.used;
        self.used = start.saturating_add(self.entry);
        self.page.get(start..self.used).map(Cursor::new)
    }

    /// First chunk and samples in a chunk (`stsc`, 8.7.4).
    fn chunk_run(&mut self, reader: &mut Reader) -> Option<(u32, u32)> {
        let mut cursor = self.next(reader)?;
        Some((cursor.u32()?, cursor.u32()?))
    }
}
