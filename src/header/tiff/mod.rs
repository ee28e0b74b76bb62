//! TIFF 6.0 and DNG: directories of fields, big- or little-endian, with 32- or 64-bit offsets.
//!
//! Directories wait in a queue instead of calling each other, no place is read twice, and a directory that leads
//! back to one already read is refused. Not entered: position (GPS), interoperability, makers' notes.

mod entry;
mod order;

use std::collections::VecDeque;
use std::sync::Arc;

use crate::header::image::{Directory, Image, Kind, Role};
use crate::header::reader::Reader;
use entry::Entry;
use order::Order;

/// Directories of one file; a DNG has some four.
const DIRECTORIES: usize = 32;
/// Entries of one directory; a DNG has some hundred.
const ENTRIES: u64 = 1024;

const STRIP_OFFSETS: u16 = 0x0111;
const STRIP_COUNTS: u16 = 0x0117;
const TILE_OFFSETS: u16 = 0x0144;
const TILE_COUNTS: u16 = 0x0145;
const DNG_VERSION: u16 = 0xC612;

/// Where a TIFF lies in its file, and how its numbers are written.
pub(super) struct Layout {
    /// Byte of the file from which its offsets count.
    base: u64,
    /// First byte behind it.
    end: u64,
    order: Order,
    /// Offsets of 64 bits.
    big: bool,
    /// What holds it, with a slash behind; empty where it is the file itself.
    within: Arc<str>,
}

/// A directory still to be read.
struct Waiting {
    offset: u64,
    path: String,
    role: Role,
    /// It is one of the main chain and so leads to the next.
    chain: Option<u32>,
}

/// True where the first bytes are those of a TIFF.
pub(super) fn is_tiff(reader: &mut Reader) -> bool {
    order::of(reader.bytes(0, 8)).is_some()
}

/// Reads the file as a TIFF.
pub(super) fn file(reader: &mut Reader) -> Image {
    let mut image = Image::new(Kind::Tiff);
    let end = reader.size();
    read(reader, 0, end, "", &mut image);
    let holds = |tag| image.directories.iter().any(|directory| directory.field(tag).is_some());
    if holds(DNG_VERSION) {
        image.kind = Kind::Dng;
    }
    image
}

/// Adds the directories of the TIFF between `base` and `end`, which `within` holds, to `image`.
pub(super) fn read(reader: &mut Reader, base: u64, end: u64, within: &str, image: &mut Image) {
    let head = reader.bytes(base, 16).to_vec();
    let Some((order, big)) = order::of(&head) else {
        reader.damaged(base, "what should hold the Exif fields does not begin like them");
        return;
    };
    let layout = Layout { base, end, order, big, within: within.into() };
    let first = if big { head.get(8..16) } else { head.get(4..8) };
    let Some(offset) = first.and_then(|bytes| order.number(bytes)) else {
        layout.short(reader, base);
        return;
    };
    let first = Waiting { offset, path: "IFD0".to_owned(), role: Role::Picture, chain: Some(0) };
    let mut waiting = VecDeque::from([first]);
    let mut seen: Vec<u64> = Vec::new();
    while let Some(next) = waiting.pop_front() {
        let at = base.saturating_add(next.offset);
        if seen.contains(&next.offset) {
            reader.damaged(at, "a directory of the file leads back to one already read");
        } else if seen.len() >= DIRECTORIES {
            reader.damaged(at, "the file has more directories than any picture needs");
            return;
        } else {
            seen.push(next.offset);
            directory(reader, &layout, &next, &mut waiting, image);
        }
    }
}

fn directory(
    reader: &mut Reader,
    layout: &Layout,
    this: &Waiting,
    waiting: &mut VecDeque<Waiting>,
    image: &mut Image,
) {
    let at = layout.base.saturating_add(this.offset);
    let (count_size, entry_size, link_size) = if layout.big { (8, 20, 8) } else { (2, 12, 4) };
    let Some(count) = layout.number(reader, at, count_size) else {
        layout.short(reader, at);
        return;
    };
    let path: Arc<str> = format!("{}{}", layout.within, this.path).into();
    let mut found = Directory { role: this.role, path: Arc::clone(&path), fields: Vec::new() };
    let start = at.saturating_add(count_size);
    for number in 0..count.min(ENTRIES) {
        let at = start.saturating_add(number.saturating_mul(entry_size));
        let Some(entry) = Entry::read(reader, layout, at) else {
            layout.short(reader, at);
            break;
        };
        if let Some((kind, role)) = entry.leads_to() {
            for (number, offset) in (1u32..).zip(entry.offsets(reader, layout)) {
                let path = match role {
                    Role::Picture => format!("{}/{kind}[{number}]", this.path),
                    Role::Exif => format!("{}/{kind}", this.path),
                };
                waiting.push_back(Waiting { offset, path, role, chain: None });
            }
        } else if entry.is_packet() {
            entry.packet(reader, layout, &path, &mut image.packets);
        } else {
            let kept = image.directories.iter().fold(found.fields.len(), |sum, directory| {
                sum.saturating_add(directory.fields.len())
            });
            if kept >= reader.limits.texts {
                reader.damaged(at, "more fields than lensmend keeps; the rest was left out");
                break;
            }
            found.fields.extend(entry.field(reader, layout, &path));
        }
    }
    if count > ENTRIES {
        reader.damaged(at, format!("`{path}` has more fields than any picture needs"));
    } else if let Some(number) = this.chain {
        let link = start.saturating_add(count.saturating_mul(entry_size));
        // A directory at the very end may lack the empty link; nothing is lost with it.
        let next = layout.number(reader, link, link_size).filter(|offset| *offset != 0);
        if let Some(offset) = next {
            let number = number.saturating_add(1);
            let path = format!("IFD{number}");
            waiting.push_back(Waiting { offset, path, role: Role::Picture, chain: Some(number) });
        }
    }
    if layout.base == 0 {
        pixels(reader, &found);
    }
    image.directories.push(found);
}

/// Says so where the picture itself lies behind the end of the file: it was copied in part. As far as the places
/// of its strips or tiles are kept.
fn pixels(reader: &mut Reader, directory: &Directory) {
    use crate::header::image::FieldValue::Whole;
    let list = |tag| match directory.field(tag).map(|field| &field.value.value) {
        Some(Whole(values)) => values.as_slice(),
        _ => &[],
    };
    for (offsets, counts) in [(STRIP_OFFSETS, STRIP_COUNTS), (TILE_OFFSETS, TILE_COUNTS)] {
        let ends = list(offsets).iter().zip(list(counts)).map(|(at, n)| at.saturating_add(*n));
        if ends.max().is_some_and(|end| end > reader.size()) {
            reader.cut_off(reader.size(), "the file ends inside its picture");
        }
    }
}

impl Layout {
    /// The number of `size` bytes at a place of the file, if it lies inside.
    fn number(&self, reader: &mut Reader, at: u64, size: u64) -> Option<u64> {
        let size = usize::try_from(size).ok()?;
        let bytes = reader.bytes(at, size);
        if bytes.len() < size || !self.holds(at, size) {
            return None;
        }
        self.order.number(reader.bytes(at, size))
    }

    /// True where `length` bytes at a place of the file belong to this TIFF.
    fn holds(&self, at: u64, length: usize) -> bool {
        let length = u64::try_from(length).unwrap_or(u64::MAX);
        at >= self.base && at.checked_add(length).is_some_and(|end| end <= self.end)
    }

    /// Reports that something lies behind the end of what holds it.
    fn short(&self, reader: &mut Reader, at: u64) {
        if self.within.is_empty() {
            reader.cut_off(at.min(self.end), "the file ends before the fields it announces");
        } else {
            reader.damaged(at.min(self.end), "the Exif fields run past the end of what holds them");
        }
    }
}
