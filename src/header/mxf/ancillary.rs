//! Ancillary packets of one frame as MXF stores them (SMPTE ST 436, 4; the packets: ST 291-1).

use crate::header::Placed;
use crate::header::cursor::Cursor;
use crate::header::reader::len;

/// Packets of one frame that are kept.
const PACKETS: usize = 256;

/// One ancillary packet.
#[derive(Clone, Debug, PartialEq)]
pub struct Packet {
    /// Data identifier and secondary data identifier: what kind of packet it is.
    pub kind: (u8, u8),
    /// User data words, eight bits each, placed where the first stands.
    pub words: Placed<Vec<u8>>,
}

/// The packets in a data element, up to the first that does not fit.
pub(super) fn packets(element: &Placed<Vec<u8>>) -> Vec<Packet> {
    let bytes = &element.value[..];
    let mut cursor = Cursor::new(bytes);
    let count = usize::from(cursor.u16().unwrap_or_default()).min(PACKETS);
    let mut packets = Vec::new();
    for number in 1..=count {
        let Some(payload) = payload(&mut cursor) else { break };
        let at = len(bytes).saturating_sub(len(cursor.rest())).saturating_sub(payload.stored);
        let path = format!("{}/packet[{number}]", element.path).into();
        let mut words = Cursor::new(&payload.samples);
        let (Some(first), Some(second), Some(length)) = (words.u8(), words.u8(), words.u8()) else {
            continue;
        };
        let held = words.rest();
        let value = held.get(..usize::from(length).min(held.len())).unwrap_or_default().to_vec();
        let offset = element.offset.saturating_add(at).saturating_add(payload.heading);
        packets.push(Packet { kind: (first, second), words: Placed { value, path, offset } });
    }
    packets
}

struct Payload {
    samples: Vec<u8>,
    /// Bytes stored, padding included.
    stored: u64,
    /// Bytes stored before the user data words.
    heading: u64,
}

/// Line, wrapping, coding, count of samples, and an array of bytes that is padded to whole words of 32 bits.
fn payload(cursor: &mut Cursor) -> Option<Payload> {
    cursor.skip(3)?;
    let coding = cursor.u8()?;
    let samples = usize::from(cursor.u16()?);
    let stored = usize::try_from(cursor.u32()?).ok()?;
    cursor.skip(4)?;
    let bytes = cursor.take(stored)?;
    // Ten bits: three samples in 32. Eight bits, with or without parity errors told, in all other codings.
    let ten = (7..=9).contains(&coding);
    let mut samples_read: Vec<u8> =
        if ten { bytes.chunks_exact(4).flat_map(three).collect() } else { bytes.to_vec() };
    samples_read.truncate(samples);
    Some(Payload { samples: samples_read, stored: len(bytes), heading: if ten { 4 } else { 3 } })
}

/// The lower eight bits of three samples: bits 31 to 22, 21 to 12, 11 to 2.
fn three(word: &[u8]) -> Vec<u8> {
    let word = Cursor::new(word).u32().unwrap_or_default();
    [22, 12, 2].into_iter().filter_map(|shift| u8::try_from(word >> shift & 0xFF).ok()).collect()
}
