//! Acquisition metadata beside a frame of an MXF file: in ancillary packets (SMPTE ST 436, RDD 18), or as sets that
//! stand by themselves.

use crate::header::mxf::{Beside, Packet};
use crate::recorded::acquisition::{self, Acquisition, Whence};

/// Data identifiers of the packets (RDD 18).
const KIND: (u8, u8) = (0x43, 0x05);
/// How keys of the sets begin.
const KEY: [u8; 4] = [0x06, 0x0E, 0x2B, 0x34];
/// Bytes that may stand in front of each packet's part, to number the parts.
const LEAD: usize = 8;

/// What stands beside one frame.
pub(in crate::recorded) fn read(beside: &Beside, file: &str) -> Acquisition {
    let packets: Vec<&Packet> =
        beside.packets.iter().filter(|packet| packet.kind == KIND).collect();
    let mut all = joined(&packets, file);
    for data in &beside.data {
        all.append(acquisition::sample(&data.value, &Whence::at(file, &data.path, data.offset)));
    }
    all
}

/// A set may be longer than a packet; then it goes on in the next. Where bytes stand in front of the first key,
/// the same number stands in front of every part.
fn joined(packets: &[&Packet], file: &str) -> Acquisition {
    let Some(first) = packets.first() else { return Acquisition::default() };
    let start = first.words.value.windows(KEY.len()).take(LEAD).position(|bytes| bytes == KEY);
    let lead = start.unwrap_or_default();
    let (mut bytes, mut pieces) = (Vec::new(), Vec::new());
    for packet in packets {
        let part = packet.words.value.get(lead..).unwrap_or_default();
        let skipped = u64::try_from(lead).unwrap_or_default();
        pieces.push((bytes.len(), packet.words.offset.saturating_add(skipped)));
        bytes.extend_from_slice(part);
    }
    acquisition::sample(&bytes, &Whence::pieces(file, &first.words.path, pieces))
}
