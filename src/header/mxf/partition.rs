//! Partition packs, and where the finished header metadata stands (SMPTE ST 377-1, 7 and 12).

use crate::header::cursor::Cursor;
use crate::header::klv::{self, Label};
use crate::header::mxf::block::{self, Block};
use crate::header::reader::Reader;

/// Keys of partition packs; the byte behind is 2 for the header, 3 for a body and 4 for the footer.
const PACK: [u8; 13] =
    [0x06, 0x0E, 0x2B, 0x34, 0x02, 0x05, 0x01, 0x01, 0x0D, 0x01, 0x02, 0x01, 0x01];
const HEADER: u8 = 2;
const BODY: u8 = 3;
const FOOTER: u8 = 4;
/// Behind the same bytes: the key of the random index pack.
const RANDOM_INDEX: u8 = 0x11;
/// Closed and complete: nothing in the metadata of the partition is still to be mended.
const FINISHED: u8 = 4;
/// Still open when it was written.
const OPEN: [u8; 2] = [1, 3];
/// The longest run-in.
const RUN_IN: usize = 65_536;
/// Bytes of a random index pack that are read, counted from its end.
const INDEX: u64 = 4096;
/// Partitions looked up by it.
const LOOKED_UP: usize = 8;

/// A partition pack.
#[derive(Clone, Debug)]
pub(super) struct Partition {
    pub(super) kind: u8,
    status: u8,
    /// Place of the footer from the first partition; 0 is not known.
    footer: u64,
    /// Bytes of the header metadata, behind the fill items that follow the pack.
    pub(super) header_bytes: u64,
    /// Bytes of index behind these.
    pub(super) index_bytes: u64,
    pub(super) pattern: Label,
    /// Number of the essence container that it holds; 0 for none.
    pub(super) body: u32,
    /// First byte behind the pack.
    pub(super) end: u64,
}

impl Partition {
    pub(super) fn is_footer(&self) -> bool {
        self.kind == FOOTER
    }
}

/// True where the block is a partition pack.
pub(super) fn is(block: &Block) -> bool {
    let [.., kind, _, _] = block.key;
    klv::begins(&block.key, &PACK) && (HEADER..=FOOTER).contains(&kind)
}

/// Where the first partition stands.
pub(super) fn first(reader: &mut Reader) -> Option<u64> {
    let start: Vec<u8> = PACK.into_iter().chain([HEADER]).collect();
    if reader.bytes(0, start.len()) == start {
        return Some(0);
    }
    let wanted = RUN_IN.saturating_add(start.len());
    let place = reader.bytes(0, wanted).windows(start.len()).position(|bytes| bytes == start);
    place.and_then(|place| u64::try_from(place).ok())
}

/// Reads the partition pack at `at`.
pub(super) fn read(reader: &mut Reader, at: u64) -> Option<Partition> {
    let block = block::read(reader, at).filter(is)?;
    let [.., kind, status, _] = block.key;
    let value = block.value(reader, 80);
    let mut cursor = Cursor::new(&value);
    cursor.skip(24)?;
    let footer = cursor.u64()?;
    let (header_bytes, index_bytes) = (cursor.u64()?, cursor.u64()?);
    cursor.skip(12)?;
    let body = cursor.u32()?;
    let pattern = cursor.array()?;
    let end = block.end;
    Some(Partition { kind, status, footer, header_bytes, index_bytes, pattern, body, end })
}

/// The partition that repeats the header metadata in finished form, where that of `head` is not finished.
/// It is looked for at the footer that `head` names and by the random index pack. A file that ends before its footer
/// was cut off or never closed.
pub(super) fn finished(reader: &mut Reader, run_in: u64, head: &Partition) -> Option<Partition> {
    let footer = (head.footer != 0).then(|| run_in.saturating_add(head.footer));
    if let Some(footer) = footer.filter(|footer| *footer >= reader.size()) {
        reader.cut_off(
            reader.size(),
            format!("the file ends before its last part, which should begin at byte {footer}"),
        );
    }
    if head.status == FINISHED {
        return None;
    }
    let listed = listed(reader);
    let indexed = !listed.is_empty();
    let mut closed = false;
    let places = listed.iter().map(|place| run_in.saturating_add(*place));
    for place in footer.into_iter().chain(places) {
        let Some(partition) = read(reader, place) else { continue };
        closed |= partition.is_footer();
        let newer =
            partition.is_footer() || (partition.kind == BODY && partition.status == FINISHED);
        if newer && partition.header_bytes > 0 {
            return Some(partition);
        }
    }
    if OPEN.contains(&head.status) && !closed && !indexed {
        reader.cut_off(reader.size(), "the clip was never closed: its last part is missing");
    }
    None
}

/// Places of partitions in the random index pack at the end of the file, the last first (ST 377-1, 12).
fn listed(reader: &mut Reader) -> Vec<u64> {
    let size = reader.size();
    let tail_at = size.saturating_sub(INDEX);
    let tail = reader.bytes(tail_at, 4096).to_vec();
    let entries = || {
        let (_, last) = tail.split_at_checked(tail.len().checked_sub(4)?)?;
        let length = Cursor::new(last).u32()?;
        let block = block::read(reader, size.checked_sub(length.into())?)?;
        let [.., kind, _, _] = block.key;
        let is_index = klv::begins(&block.key, &PACK) && kind == RANDOM_INDEX;
        let count = usize::try_from(block.length()).ok()?.checked_sub(4)?;
        let held = tail.get(tail.len().checked_sub(count.checked_add(4)?)?..)?;
        let place = |entry: &[u8]| {
            let mut cursor = Cursor::new(entry);
            cursor.skip(4)?;
            cursor.u64()
        };
        let entries = held.get(..count)?.rchunks_exact(12);
        is_index.then(|| entries.take(LOOKED_UP).filter_map(place).collect())
    };
    let mut entries = entries;
    entries().unwrap_or_default()
}
