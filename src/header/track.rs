//! One track: whether and how it is shown, its clock, its kind and its way to the sample entry (ISO/IEC 14496-12, 8.3 to 8.7).

use crate::header::cursor::Cursor;
use crate::header::quicktime::{Edit, Track, TrackHeader};
use crate::header::reader::{Element, Reader};
use crate::header::samples::Tables;
use crate::header::{Placed, entry, movie, texts, timing};

/// Edits and references kept; more tell nothing about the first frame.
const FEW: usize = 16;

/// Reads `trak`; an XMP packet inside goes to `packets`.
pub(super) fn trak(
    reader: &mut Reader,
    trak: &Element,
    packets: &mut Vec<Placed<Vec<u8>>>,
) -> Track {
    let mut track = Track::default();
    let mut at = trak.body;
    let mut media = None;
    while let Some(part) = reader.next(trak, &mut at) {
        match &part.kind {
            b"tkhd" => track.header = reader.parse(&part, 96, tkhd),
            b"mdia" => media = Some(part),
            b"tapt" => tapt(reader, &part, &mut track),
            b"edts" => edts(reader, &part, &mut track),
            b"tref" => tref(reader, &part, &mut track),
            b"udta" => texts::udta(reader, &part, &mut track.texts, packets),
            b"meta" => texts::meta(reader, &part, &mut track.texts),
            _ => {}
        }
    }
    // How much of the tables is needed depends on the edits, so the media comes last.
    if let Some(media) = media {
        mdia(reader, &media, &mut track);
    }
    track
}

/// Track header (8.3.2).
fn tkhd(cursor: &mut Cursor) -> Option<TrackHeader> {
    let (version, flags) = cursor.full()?;
    cursor.wide(version)?;
    cursor.wide(version)?;
    let id = cursor.u32()?;
    cursor.skip(4)?;
    cursor.wide(version)?;
    // Reserved words, layer; alternate group; volume.
    cursor.skip(10)?;
    let alternate = cursor.u16()?;
    cursor.skip(4)?;
    let (a, b, _u) = (cursor.i32()?, cursor.i32()?, cursor.i32()?);
    let (c, d, _v) = (cursor.i32()?, cursor.i32()?, cursor.i32()?);
    cursor.skip(12)?;
    Some(TrackHeader {
        enabled: flags & 1 == 1,
        id,
        alternate,
        matrix: [a, b, c, d],
        width: cursor.u32()?,
        height: cursor.u32()?,
    })
}

/// Media (8.4.1). What lies in `minf` depends on the handler, so it is entered last;
/// the second `hdlr` that QuickTime puts inside `minf` speaks of data, not of media, and is never looked at.
fn mdia(reader: &mut Reader, mdia: &Element, track: &mut Track) {
    let mut at = mdia.body;
    let mut minf = None;
    while let Some(part) = reader.next(mdia, &mut at) {
        match &part.kind {
            b"mdhd" => track.media = reader.parse(&part, 40, movie::media_time),
            b"hdlr" => {
                track.handler = reader.parse(&part, 12, |c| {
                    c.full()?;
                    c.skip(4)?;
                    c.array()
                });
            }
            b"minf" => minf = Some(part),
            _ => {}
        }
    }
    if let Some(minf) = minf
        && (track.is(*b"vide") || track.is(*b"tmcd") || track.is(*b"meta"))
    {
        information(reader, &minf, track);
    }
}

fn information(reader: &mut Reader, minf: &Element, track: &mut Track) {
    let mut at = minf.body;
    let mut here = true;
    while let Some(part) = reader.next(minf, &mut at) {
        match &part.kind {
            b"dinf" => here = dinf(reader, &part),
            b"stbl" => stbl(reader, &part, track),
            _ => {}
        }
    }
    if !here {
        track.first_sample = None;
        track.tables = Tables::default();
    }
}

/// False where the samples of the track lie in another file (`dref`, 8.7.2: flag 1 is "in this file").
fn dinf(reader: &mut Reader, dinf: &Element) -> bool {
    let mut at = dinf.body;
    while let Some(part) = reader.next(dinf, &mut at) {
        if part.kind == *b"dref" {
            let mut inside = part.body.saturating_add(8);
            return reader.next(&part, &mut inside).is_none_or(|entry| {
                reader
                    .parse(&entry, 4, |c| c.full().map(|(_, flags)| flags))
                    .is_none_or(|flags| flags.value & 1 == 1)
            });
        }
    }
    true
}

/// Sample table (8.5.1), as far as it says something without its big tables.
fn stbl(reader: &mut Reader, stbl: &Element, track: &mut Track) {
    let mut at = stbl.body;
    while let Some(part) = reader.next(stbl, &mut at) {
        match &part.kind {
            b"stsd" => entry::stsd(reader, &part, track),
            b"stts" => {
                track.timing = timing::stts(reader, &part);
                track.tables.durations = Some(part);
            }
            b"ctts" if track.picture.is_some() => {
                track.composition = timing::composition(reader, &part);
            }
            b"stsc" => track.tables.chunk_sizes = Some(part),
            b"stsz" => track.tables.sizes = Some(part),
            b"stco" | b"co64" => {
                if track.is(*b"tmcd") {
                    track.first_sample = timing::first_chunk(reader, &part);
                }
                track.tables.chunks = Some(part);
            }
            _ => {}
        }
        // The rest of a picture track's tables would be stepped over one by one, each for another read.
        let done = track.edits.is_empty() || !track.composition.is_empty();
        if track.picture.is_some() && track.timing.is_some() && done {
            return;
        }
    }
}

/// Track aperture mode dimensions (QuickTime, `tapt`).
fn tapt(reader: &mut Reader, tapt: &Element, track: &mut Track) {
    let mut at = tapt.body;
    while let Some(part) = reader.next(tapt, &mut at) {
        if part.kind == *b"clef" {
            track.clean = reader.parse(&part, 12, |c| {
                c.full()?;
                Some((c.u32()?, c.u32()?))
            });
        }
    }
}

/// Edit list (8.6.6).
fn edts(reader: &mut Reader, edts: &Element, track: &mut Track) {
    let mut at = edts.body;
    while let Some(part) = reader.next(edts, &mut at) {
        if part.kind == *b"elst" {
            let edits = reader.parse(&part, 512, |c| {
                let (version, _) = c.full()?;
                let all = c.u32()?;
                let count = usize::try_from(all).unwrap_or(FEW).min(FEW);
                let edits: Option<Vec<_>> = (0..count)
                    .map(|_| {
                        let duration = c.wide(version)?;
                        let media_time = if version == 0 { i64::from(c.i32()?) } else { c.i64()? };
                        Some(Edit { duration, media_time, rate: c.i32()? })
                    })
                    .collect();
                Some((edits?, all))
            });
            if let Some(Placed { value: (edits, all), path, offset }) = edits {
                track.edits = edits;
                track.edit_count = Some(Placed { value: all, path, offset });
            }
        }
    }
}

/// Track references (8.3.3): each child names the kind and lists track numbers.
fn tref(reader: &mut Reader, tref: &Element, track: &mut Track) {
    let mut at = tref.body;
    while let Some(part) = reader.next(tref, &mut at) {
        let mut cursor = Cursor::new(
            reader.bytes(part.body, usize::try_from(part.length().min(64)).unwrap_or(64)),
        );
        while let Some(id) = cursor.u32() {
            if track.references.len() < FEW {
                track.references.push((part.kind, id));
            }
        }
    }
}
