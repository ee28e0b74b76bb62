//! Key, length and value in the file itself, where values may be far too long to hold (SMPTE ST 336).

use crate::header::klv::{self, Label};
use crate::header::reader::Reader;

/// Fill items, which only take up room (ST 377-1, 6.3.3).
const FILL: [u8; 14] =
    [0x06, 0x0E, 0x2B, 0x34, 0x01, 0x01, 0x01, 0x02, 0x03, 0x01, 0x02, 0x10, 0x01, 0x00];
/// How every key begins.
const KEY: [u8; 4] = [0x06, 0x0E, 0x2B, 0x34];
/// Bytes of a key and the longest length.
const HEADING: usize = 25;
/// Fill items in a row.
const FILLS: usize = 4;

/// A key and where its value lies.
#[derive(Clone, Copy, Debug)]
pub(super) struct Block {
    pub(super) key: Label,
    pub(super) at: u64,
    pub(super) body: u64,
    pub(super) end: u64,
}

impl Block {
    pub(super) fn is_fill(&self) -> bool {
        klv::begins(&self.key, &FILL)
    }

    /// Bytes of the value.
    pub(super) fn length(&self) -> u64 {
        self.end.saturating_sub(self.body)
    }

    /// Up to `limit` bytes of the value.
    pub(super) fn value(&self, reader: &mut Reader, limit: usize) -> Vec<u8> {
        let length = usize::try_from(self.length()).map_or(limit, |length| length.min(limit));
        reader.bytes(self.body, length).to_vec()
    }
}

/// The block at `at`; `None` where none can be told.
pub(super) fn read(reader: &mut Reader, at: u64) -> Option<Block> {
    let heading = reader.bytes(at, HEADING);
    let (key, rest) = heading.split_at_checked(16)?;
    let key: Label = key.try_into().ok()?;
    let (taken, length) = klv::length(rest)?;
    let body = at.checked_add(16)?.checked_add(u64::try_from(taken).ok()?)?;
    key.starts_with(&KEY).then(|| Block { key, at, body, end: body.saturating_add(length) })
}

/// The place behind the fill items that may stand at `at`.
pub(super) fn behind_fill(reader: &mut Reader, mut at: u64) -> u64 {
    for _ in 0..FILLS {
        match read(reader, at) {
            Some(block) if block.is_fill() => at = block.end,
            _ => break,
        }
    }
    at
}
