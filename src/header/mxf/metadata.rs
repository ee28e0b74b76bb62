//! Header metadata: the primer, which gives tags their meaning, and the sets (SMPTE ST 377-1, 9).

use std::collections::BTreeMap;

use crate::header::cursor::Cursor;
use crate::header::klv::{self, Label};
use crate::header::mxf::block::{self, Block};
use crate::header::mxf::partition::{self, Partition};
use crate::header::mxf::{Item, Set};
use crate::header::reader::Reader;

/// The primer (ST 377-1, 9.2).
const PRIMER: [u8; 15] =
    [0x06, 0x0E, 0x2B, 0x34, 0x02, 0x05, 0x01, 0x01, 0x0D, 0x01, 0x02, 0x01, 0x01, 0x05, 0x01];
/// Sets of the structural metadata; the byte behind tells which.
const SET: [u8; 14] =
    [0x06, 0x0E, 0x2B, 0x34, 0x02, 0x53, 0x01, 0x01, 0x0D, 0x01, 0x01, 0x01, 0x01, 0x01];
/// Tags in a primer.
const TAGS: usize = 8192;
/// Bytes of one set.
const LENGTH: usize = 256 * 1024;
/// Items of all sets.
const ITEMS: usize = 65_536;
/// Bytes fetched at a time: most header metadata comes in one or two reads.
const AHEAD: usize = 32 * 1024;

/// How the designators of items begin.
const ITEM: [u8; 7] = [0x06, 0x0E, 0x2B, 0x34, 0x01, 0x01, 0x01];

/// Tags that are read further on, with the last eight bytes of the designator of each (ST 377-1, annexes A to F).
const KNOWN: &[(u16, [u8; 8])] = &[
    (0x3C0A, [1, 1, 0x15, 2, 0, 0, 0, 0]),
    (0x3B06, [6, 1, 1, 4, 6, 4, 0, 0]),
    (0x3B03, [6, 1, 1, 4, 2, 1, 0, 0]),
    (0x3C01, [5, 0x20, 7, 1, 2, 1, 0, 0]),
    (0x3C02, [5, 0x20, 7, 1, 3, 1, 0, 0]),
    (0x3C04, [5, 0x20, 7, 1, 5, 1, 0, 0]),
    (0x1901, [6, 1, 1, 4, 5, 1, 0, 0]),
    (0x2701, [6, 1, 1, 6, 1, 0, 0, 0]),
    (0x4401, [1, 1, 0x15, 0x10, 0, 0, 0, 0]),
    (0x4405, [7, 2, 1, 0x10, 1, 3, 0, 0]),
    (0x4402, [1, 3, 3, 2, 1, 0, 0, 0]),
    (0x4403, [6, 1, 1, 4, 6, 5, 0, 0]),
    (0x4701, [6, 1, 1, 4, 2, 3, 0, 0]),
    (0x4801, [1, 7, 1, 1, 0, 0, 0, 0]),
    (0x4B01, [5, 0x30, 4, 5, 0, 0, 0, 0]),
    (0x4B02, [7, 2, 1, 3, 1, 3, 0, 0]),
    (0x4803, [6, 1, 1, 4, 2, 4, 0, 0]),
    (0x0201, [4, 7, 1, 0, 0, 0, 0, 0]),
    (0x0202, [7, 2, 2, 1, 1, 3, 0, 0]),
    (0x1001, [6, 1, 1, 4, 6, 9, 0, 0]),
    (0x1201, [7, 2, 1, 3, 1, 4, 0, 0]),
    (0x1101, [6, 1, 1, 3, 1, 0, 0, 0]),
    (0x1102, [6, 1, 1, 3, 2, 0, 0, 0]),
    (0x1501, [7, 2, 1, 3, 1, 5, 0, 0]),
    (0x1502, [4, 4, 1, 1, 2, 6, 0, 0]),
    (0x1503, [4, 4, 1, 1, 5, 0, 0, 0]),
    (0x3F01, [6, 1, 1, 4, 6, 0x0B, 0, 0]),
    (0x3006, [6, 1, 1, 3, 5, 0, 0, 0]),
    (0x3001, [4, 6, 1, 1, 0, 0, 0, 0]),
    (0x3002, [4, 6, 1, 2, 0, 0, 0, 0]),
    (0x320C, [4, 1, 3, 1, 4, 0, 0, 0]),
    (0x3203, [4, 1, 5, 2, 2, 0, 0, 0]),
    (0x3202, [4, 1, 5, 2, 1, 0, 0, 0]),
    (0x3205, [4, 1, 5, 1, 8, 0, 0, 0]),
    (0x3204, [4, 1, 5, 1, 7, 0, 0, 0]),
    (0x3209, [4, 1, 5, 1, 0x0C, 0, 0, 0]),
    (0x3208, [4, 1, 5, 1, 0x0B, 0, 0, 0]),
    (0x320E, [4, 1, 1, 1, 1, 0, 0, 0]),
];

/// The sets of a partition, and the place behind its header metadata. Without `wanted` only the place.
pub(super) fn read(
    reader: &mut Reader,
    partition: &Partition,
    name: &str,
    wanted: bool,
) -> (Vec<Set>, u64) {
    let start = block::behind_fill(reader, partition.end);
    let end = start.saturating_add(partition.header_bytes);
    let mut parser = Parser { tags: BTreeMap::new(), counts: BTreeMap::new(), items: 0, bytes: 0 };
    let mut sets = Vec::new();
    let (mut at, mut fetched) = (start, start);
    let mut left = if wanted { reader.limits.boxes } else { 0 };
    while at < end && left > 0 {
        if at >= reader.size() {
            reader.cut_off(at, "the file ends inside its header metadata");
            break;
        }
        if at >= fetched {
            let length = usize::try_from(end.saturating_sub(at)).unwrap_or(AHEAD).min(AHEAD);
            reader.bytes(at, length);
            fetched = at.saturating_add(u64::try_from(length).unwrap_or_default());
        }
        let Some(block) = block::read(reader, at) else {
            let short = reader.size().saturating_sub(at) < 25;
            if short {
                reader.cut_off(at, "the file ends inside its header metadata");
            } else {
                reader.damaged(at, "what stands here is no set of header metadata");
            }
            break;
        };
        if partition::is(&block) {
            break;
        }
        if block.end > reader.size() {
            reader.cut_off(at, "the file ends inside its header metadata");
        }
        if klv::begins(&block.key, &PRIMER) {
            parser.primer(reader, &block);
        } else if klv::begins(&block.key, &SET) && !parser.set(reader, &block, name, &mut sets) {
            break;
        }
        at = block.end;
        left = left.saturating_sub(1);
    }
    if wanted && left == 0 {
        reader.damaged(at, "the header has more sets than any clip needs; the rest was not read");
    }
    (sets, end)
}

struct Parser {
    /// What the primer says of tags that do not mean what they usually do.
    tags: BTreeMap<u16, Option<u16>>,
    counts: BTreeMap<u8, usize>,
    items: usize,
    bytes: usize,
}

impl Parser {
    fn primer(&mut self, reader: &mut Reader, block: &Block) {
        let value = block.value(reader, 8_usize.saturating_add(TAGS.saturating_mul(18)));
        let mut cursor = Cursor::new(&value);
        if cursor.skip(8).is_none() {
            reader.damaged(block.at, "the primer is too short");
        }
        while let (Some(tag), Some(designator)) = (cursor.u16(), cursor.array::<16>()) {
            let known = known(&designator);
            if known != Some(tag) {
                self.tags.insert(tag, known);
            }
        }
    }

    /// The usual tag of an item that the file calls `tag`; 0, which no item has, where the primer gives it another meaning.
    fn usual(&self, tag: u16) -> u16 {
        match self.tags.get(&tag) {
            Some(Some(usual)) => *usual,
            // Known by a designator that is not read here: another item under a tag of ours is not ours.
            Some(None) if KNOWN.iter().any(|(known, _)| *known == tag) => 0,
            _ => tag,
        }
    }

    /// Adds the set; false where there are more than any clip needs.
    fn set(&mut self, reader: &mut Reader, block: &Block, name: &str, sets: &mut Vec<Set>) -> bool {
        let value = block.value(reader, LENGTH);
        let [.., kind, _] = block.key;
        let count = self.counts.entry(kind).or_default();
        *count = count.saturating_add(1);
        let path = format!("{name}/{}[{count}]", name_of(kind)).into();
        let mut set = Set { kind, path, offset: block.at, items: Vec::new() };
        let mut behind = 0_usize;
        for item in klv::items(&value) {
            behind = item.at.saturating_add(4).saturating_add(item.value.len());
            self.items = self.items.saturating_add(1);
            self.bytes = self.bytes.saturating_add(item.value.len());
            if self.items > ITEMS || self.bytes > reader.limits.packets {
                let message =
                    "the header has more items than any clip needs; the rest was not read";
                reader.damaged(block.at, message);
                sets.push(set);
                return false;
            }
            let at = u64::try_from(item.at).unwrap_or_default();
            let tag = self.usual(item.tag);
            if tag != 0 {
                let offset = block.body.saturating_add(at);
                set.items.push(Item { tag, offset, value: item.value.to_vec() });
            }
        }
        if behind != value.len() && block.end <= reader.size() {
            reader.damaged(block.at, format!("the items of `{}` do not fit into it", set.path));
        }
        sets.push(set);
        true
    }
}

/// The usual tag of a designator; the version of the register it was taken from does not matter.
fn known(designator: &Label) -> Option<u16> {
    let (_, item) = designator.split_at_checked(8)?;
    let row = KNOWN.iter().find(|(_, known)| known == item)?;
    klv::begins(designator, &ITEM).then_some(row.0)
}

fn name_of(kind: u8) -> String {
    let name = match kind {
        0x0F => "Sequence",
        0x11 => "SourceClip",
        0x14 => "TimecodeComponent",
        0x18 => "ContentStorage",
        0x23 => "EssenceContainerData",
        0x27 => "PictureDescriptor",
        0x28 => "CdciDescriptor",
        0x29 => "RgbaDescriptor",
        0x2E => "TapeDescriptor",
        0x2F => "Preface",
        0x30 => "Identification",
        0x36 => "MaterialPackage",
        0x37 => "SourcePackage",
        0x3B => "Track",
        0x44 => "MultipleDescriptor",
        0x51 => "MpegDescriptor",
        other => return format!("Set{other:02X}"),
    };
    name.to_owned()
}
