//! Sample entries: the coded picture, and the clock of a timecode track
//! (ISO/IEC 14496-12, 8.5.2 and 12.1; QuickTime, "Video Media" and "Timecode Media").

use crate::header::cursor::Cursor;
use crate::header::quicktime::{MetadataEntry, PictureEntry, TimecodeEntry, Track};
use crate::header::reader::{Element, Reader};
use crate::header::texts;

/// Bytes of a picture entry before the boxes that extend it.
const PICTURE: u64 = 78;
/// Bytes of a timecode entry before the boxes that extend it.
const TIMECODE: u64 = 26;

/// Reads the first entry of `stsd`; later ones describe splices, which camera originals do not have.
pub(super) fn stsd(reader: &mut Reader, stsd: &Element, track: &mut Track) {
    let mut at = stsd.body.saturating_add(8);
    let Some(entry) = reader.next(stsd, &mut at) else {
        return;
    };
    if track.is(*b"vide") {
        picture(reader, &entry, track);
    } else if entry.kind == *b"tmcd" {
        timecode(reader, &entry, track);
    } else if track.is(*b"meta") {
        metadata(reader, &entry, track);
    }
}

fn picture(reader: &mut Reader, entry: &Element, track: &mut Track) {
    let format = entry.kind;
    track.picture = reader.parse(entry, 78, |c| {
        c.skip(24)?;
        let (width, height) = (c.u16()?, c.u16()?);
        Some(PictureEntry { format, width, height, pixel_aspect: None, clean: None })
    });
    let Some(picture) = &mut track.picture else {
        return;
    };
    let picture = &mut picture.value;
    let mut at = entry.body.saturating_add(PICTURE);
    if let Some(table) = colour_table(reader.bytes(at.saturating_sub(2), 10)) {
        at = at.saturating_add(table);
    }
    while let Some(part) = reader.next(entry, &mut at) {
        match &part.kind {
            b"pasp" => {
                picture.pixel_aspect = reader.parse(&part, 8, |c| Some((c.u32()?, c.u32()?)));
            }
            b"clap" => {
                picture.clean =
                    reader.parse(&part, 16, |c| Some([c.u32()?, c.u32()?, c.u32()?, c.u32()?]));
            }
            _ => {}
        }
    }
}

/// Length of the colour table that QuickTime puts before the extensions where its id is 0 and the table's flags are 0x8000.
fn colour_table(bytes: &[u8]) -> Option<u64> {
    let mut cursor = Cursor::new(bytes);
    let id = cursor.u16()?;
    let _seed = cursor.u32()?;
    let flags = cursor.u16()?;
    let colours = u64::from(cursor.u16()?).saturating_add(1);
    (id == 0 && flags == 0x8000).then_some(colours.saturating_mul(8).saturating_add(8))
}

fn timecode(reader: &mut Reader, entry: &Element, track: &mut Track) {
    track.timecode = reader.parse(entry, 26, |c| {
        c.skip(12)?;
        Some(TimecodeEntry {
            flags: c.u32()?,
            timescale: c.u32()?,
            frame_duration: c.u32()?,
            labels: c.u8()?,
            reel: None,
        })
    });
    let Some(timecode) = &mut track.timecode else {
        return;
    };
    let mut at = entry.body.saturating_add(TIMECODE);
    while let Some(part) = reader.next(entry, &mut at) {
        if part.kind == *b"name" {
            timecode.value.reel = texts::international(reader, &part).map(|name| part.place(name));
        }
    }
}

/// Keys of one `mebx` track kept; a few dozen is much.
const KEYS: usize = 256;

/// The entry of a timed-metadata track. Only `mebx` says in its entry how its samples are to be read: each key has a
/// number, a name and a type (QuickTime, "Metadata Key Atoms").
fn metadata(reader: &mut Reader, entry: &Element, track: &mut Track) {
    let mut metadata = MetadataEntry { format: entry.kind, ..MetadataEntry::default() };
    // Six reserved bytes and a data reference stand before the boxes (ISO/IEC 14496-12, 8.5.2).
    let mut at = entry.body.saturating_add(8);
    while entry.kind == *b"mebx"
        && let Some(part) = reader.next(entry, &mut at)
    {
        if part.kind != *b"keys" {
            continue;
        }
        let mut inside = part.body;
        while let Some(key) = reader.next(&part, &mut inside) {
            if metadata.keys.len() < KEYS
                && let Some(named) = metadata_key(reader, &key)
            {
                metadata.keys.insert(u32::from_be_bytes(key.kind), named);
            }
        }
    }
    track.metadata = Some(entry.place(metadata));
}

/// Name (`keyd`: namespace, then the name) and well-known type (`dtyp`: namespace 0, then its number) of one key.
fn metadata_key(reader: &mut Reader, key: &Element) -> Option<(String, u32)> {
    let (mut name, mut kind) = (None, 0);
    let mut at = key.body;
    while let Some(part) = reader.next(key, &mut at) {
        match &part.kind {
            b"keyd" => {
                name = reader.parse(&part, 260, |c| {
                    c.skip(4)?;
                    Some(String::from_utf8_lossy(c.rest()).into_owned())
                });
            }
            b"dtyp" => {
                let word = reader.parse(&part, 8, |c| Some((c.u32()?, c.u32()?)));
                // Another namespace names types of the writer's own; their values stay bytes.
                kind = word.map_or(0, |word| if word.value.0 == 0 { word.value.1 } else { 0 });
            }
            _ => {}
        }
    }
    name.map(|name| (name.value, kind))
}
