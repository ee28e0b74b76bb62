//! The first edit unit: what stands beside the first picture (SMPTE ST 379, generic container; ST 436).
//! Keys and lengths are stepped over, one block after the other; pictures and sound are never read.

use crate::header::Placed;
use crate::header::klv;
use crate::header::mxf::block::{self, Block};
use crate::header::mxf::{Mxf, ancillary, partition};
use crate::header::reader::Reader;

/// Essence elements; the byte behind tells picture, sound or data (ST 379, 7.1).
const ELEMENT: [u8; 12] = [0x06, 0x0E, 0x2B, 0x34, 0x01, 0x02, 0x01, 0x01, 0x0D, 0x01, 0x03, 0x01];
/// Anything of the generic container, the system item included.
const CONTAINER: [u8; 4] = [0x0D, 0x01, 0x03, 0x01];
/// Data elements: of the content-package kind, and of the generic container.
const DATA: [u8; 2] = [0x07, 0x17];
/// Data elements that hold the ancillary packets of a frame (ST 436, 5.3).
const ANCILLARY: u8 = 0x02;
/// Sets of acquisition metadata that stand by themselves (RDD 18).
const ACQUISITION: [u8; 12] =
    [0x06, 0x0E, 0x2B, 0x34, 0x02, 0x53, 0x01, 0x01, 0x0C, 0x02, 0x01, 0x01];
/// Blocks that are stepped through: partition, index, system item, picture, sixteen sounds and data.
const BLOCKS: usize = 32;
/// Bytes of one data element, and of all.
const LENGTH: usize = 32 * 1024;
const LENGTHS: usize = 64 * 1024;

/// Adds the data of the first edit unit to `mxf`. The walk begins behind the header metadata and its index.
pub(super) fn read(reader: &mut Reader, start: u64, mxf: &mut Mxf) {
    let mut seen = Vec::new();
    let mut budget = LENGTHS;
    let mut at = start;
    for _ in 0..BLOCKS {
        let Some(block) = block::read(reader, at) else { return };
        at = block.end;
        if partition::is(&block) {
            let Some(partition) = partition::read(reader, block.at) else { return };
            if partition.is_footer() {
                return;
            }
            at = block::behind_fill(reader, partition.end)
                .saturating_add(partition.header_bytes)
                .saturating_add(partition.index_bytes);
            continue;
        }
        if klv::begins(&block.key, &ACQUISITION) {
            let whole = Block { body: block.at, ..block };
            mxf.data.extend(take(reader, &whole, "acquisition", mxf.data.len(), &mut budget));
        } else if block.key.get(8..12) == Some(&CONTAINER[..]) {
            // The same element again is the next frame.
            if seen.contains(&block.key) {
                return;
            }
            seen.push(block.key);
            let [.., item, _, kind, _] = block.key;
            if !klv::begins(&block.key, &ELEMENT) || !DATA.contains(&item) {
                continue;
            }
            let taken = take(reader, &block, "data", mxf.data.len(), &mut budget);
            let Some(element) = taken else { continue };
            if kind == ANCILLARY {
                mxf.packets.extend(ancillary::packets(&element));
            } else {
                mxf.data.push(element);
            }
        }
    }
}

fn take(
    reader: &mut Reader,
    block: &Block,
    name: &str,
    before: usize,
    budget: &mut usize,
) -> Option<Placed<Vec<u8>>> {
    if block.end > reader.size() {
        reader.cut_off(block.at, "the file ends inside its first frame");
    }
    let value = block.value(reader, LENGTH.min(*budget));
    *budget = budget.saturating_sub(value.len());
    let path = format!("essence/{name}[{}]", before.saturating_add(1)).into();
    (!value.is_empty()).then_some(Placed { value, path, offset: block.body })
}
