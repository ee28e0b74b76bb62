//! XMP that is too long for one segment of a JPEG (XMP Specification Part 3, "Extended XMP in JPEG"): the first packet
//! names the rest by a GUID of 32 characters, and each segment of it gives that GUID, the length of all, and its place.
//!
//! The GUID is the digest of the whole, which is not recomputed: a packet that does not parse says so itself.

use std::collections::BTreeMap;

use crate::header::cursor::Cursor;
use crate::header::image::{Extended, Image};
use crate::header::reader::Reader;

/// The property that names the rest.
const NAME: &[u8] = b"HasExtendedXMP";
/// How far behind the name the GUID may begin.
const NEAR: usize = 32;

/// One segment of it.
#[derive(Debug)]
pub(super) struct Piece {
    guid: [u8; 32],
    /// Bytes of the whole.
    whole: u32,
    /// Where this piece begins in the whole.
    at: u32,
    /// Where it begins and ends in the file, and where its segment does.
    body: u64,
    end: u64,
    start: u64,
}

/// Reads the heading of a piece, which begins behind the name of the segment.
pub(super) fn piece(reader: &mut Reader, (start, body, end): (u64, u64, u64)) -> Option<Piece> {
    let mut cursor = Cursor::new(reader.bytes(body, 40));
    let mut heading = || Some((cursor.array()?, cursor.u32()?, cursor.u32()?));
    let read = heading().filter(|_| body.saturating_add(40) <= end);
    let Some((guid, whole, at)) = read else {
        reader.damaged(start, "a segment of XMP is too short for its own heading");
        return None;
    };
    Some(Piece { guid, whole, at, body: body.saturating_add(40), end, start })
}

/// Puts together the pieces that the first packet of `image` asks for; all others belong to nothing.
pub(super) fn join(reader: &mut Reader, pieces: &[Piece], image: &mut Image) {
    if pieces.is_empty() {
        return;
    }
    let guid = image.packets.iter().find_map(|packet| asked_for(&packet.value));
    let asked = |piece: &&Piece| Some(&piece.guid[..]) == guid;
    let Some(first) = pieces.iter().find(asked) else { return };
    let limit = u32::try_from(reader.limits.packets).unwrap_or(u32::MAX);
    if first.whole > limit {
        reader.damaged(
            first.start,
            "the extended XMP is too large to be a lens record and was not read",
        );
        return;
    }
    // By their place in the whole: segments may stand in any order. Of two for one place the first counts.
    let mut by_place: BTreeMap<u32, &Piece> = BTreeMap::new();
    for piece in pieces.iter().filter(|piece| piece.guid == first.guid) {
        by_place.entry(piece.at).or_insert(piece);
    }
    let mut extended = Extended { packet: Vec::new(), pieces: Vec::new() };
    for piece in by_place.values() {
        let have = u64::try_from(extended.packet.len()).unwrap_or(u64::MAX);
        let length = piece.end.saturating_sub(piece.body);
        let fits = have.saturating_add(length) <= u64::from(first.whole);
        if have != u64::from(piece.at) || piece.whole != first.whole || !fits {
            reader
                .damaged(piece.start, "the segments of the extended XMP do not follow one another");
            break;
        }
        // A segment has at most 65,533 bytes.
        let length = usize::try_from(length).unwrap_or_default();
        let bytes = reader.bytes(piece.body, length).to_vec();
        extended.pieces.push((have, piece.body));
        extended.packet.extend(bytes);
    }
    let have = u32::try_from(extended.packet.len()).unwrap_or(u32::MAX);
    if have < first.whole && reader.is_quiet() {
        reader.damaged(first.start, "segments of the extended XMP are missing");
    }
    if !extended.packet.is_empty() {
        image.extended = Some(extended);
    }
}

/// The GUID in the property `xmpNote:HasExtendedXMP`: as an attribute or as an element it stands close behind the name.
fn asked_for(packet: &[u8]) -> Option<&[u8]> {
    let name = packet.windows(NAME.len()).position(|text| text == NAME)?;
    let behind = packet.get(name.saturating_add(NAME.len())..)?;
    let digits = |text: &&[u8]| text.iter().all(u8::is_ascii_hexdigit);
    behind.windows(32).take(NEAR).find(digits)
}
