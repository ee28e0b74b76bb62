//! An OpenEXR plate again with other attributes: the header is written anew, the table of offsets is moved by what the
//! header has grown, and the chunks of pixels are copied as they are, never unpacked (OpenEXR, "File Layout").

mod chunk;

use std::io::{self, Write};
use std::ops::Range;

use crate::read_at::ReadAt;

use super::lens_data::exr::Attribute;
use chunk::Shape;

/// Bytes that every OpenEXR file begins with.
const MAGIC: [u8; 4] = [0x76, 0x2F, 0x31, 0x01];
/// The flags of the version word: names up to 255 bytes, and several parts.
const LONG_NAMES: u32 = 0x400;
const MULTIPART: u32 = 0x1000;
/// The flags that are known: version 2, one part of tiles, long names, deep data, several parts.
const KNOWN: u32 = 0x1EFF;
/// Longest name without the flag for long ones.
const SHORT_NAME: usize = 31;
/// Longest header that is read; the largest previews take some hundred kilobytes.
const LARGEST_HEADER: u64 = 16 << 20;
/// Bytes copied at a time.
const PIECE: usize = 1 << 20;

/// How a plate is copied.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    head: Vec<u8>,
    table: Range<u64>,
    size: u64,
    shift: i128,
    /// Names of attributes that stood there with another value.
    pub replaced: Vec<String>,
}

/// Works out the copy of `source` with `attributes` in the header of each part. The error says why it cannot be made.
pub fn plan(source: &dyn ReadAt, attributes: &[Attribute]) -> Result<Plan, String> {
    let size = source.size();
    let head = piece(source, 0, size.min(LARGEST_HEADER))?;
    let mut reader = Reader { bytes: &head, at: 0 };
    if reader.take(4)? != MAGIC {
        return Err("it is no OpenEXR file".to_owned());
    }
    let version = reader.word()?;
    if version & 0xFF != 2 || version & !KNOWN != 0 {
        return Err("it is of a version of OpenEXR that is not known".to_owned());
    }
    let several = version & MULTIPART != 0;
    let mut out = MAGIC.to_vec();
    let long = attributes.iter().any(|attribute| attribute.name.len() > SHORT_NAME);
    let version = if long { version | LONG_NAMES } else { version };
    out.extend(version.to_le_bytes());
    let mut replaced = Vec::new();
    let mut shapes = Vec::new();
    loop {
        let shape = part(&mut reader, attributes, &mut out, &mut replaced)?;
        shapes.push(Shape::of(shape.ok_or("it has no header")?, version, several)?);
        if !several {
            break;
        }
        // An empty header ends those of a file of several parts.
        if reader.bytes.get(reader.at) == Some(&0) {
            reader.at += 1;
            out.push(0);
            break;
        }
    }
    let first = u64::try_from(reader.at).map_err(|error| error.to_string())?;
    let (table, last) = table(source, first, size)?;
    chunk::whole(source, last, &shapes, several)?;
    let grown = i128::try_from(out.len()).unwrap_or(i128::MAX) - i128::from(first);
    Ok(Plan { head: out, table, size, shift: grown, replaced })
}

/// Copies one header, with ours in the places of those of the same name and the others at its end. Gives what the part
/// holds, an empty text where the header does not say; `None` for an empty header.
fn part<'a>(
    reader: &mut Reader<'a>,
    attributes: &[Attribute],
    out: &mut Vec<u8>,
    replaced: &mut Vec<String>,
) -> Result<Option<&'a [u8]>, String> {
    let mut placed = vec![false; attributes.len()];
    let mut any = false;
    let mut holds: &[u8] = &[];
    loop {
        let start = reader.at;
        let name = reader.text()?;
        if name.is_empty() {
            for (attribute, placed) in attributes.iter().zip(&placed) {
                if any && !placed {
                    write(attribute, out);
                }
            }
            out.push(0);
            return Ok(any.then_some(holds));
        }
        any = true;
        let kind = reader.text()?;
        let long = usize::try_from(reader.word()?).map_err(|error| error.to_string())?;
        let value = reader.take(long)?;
        if name == b"type" {
            holds = value;
        }
        let ours = attributes.iter().position(|attribute| attribute.name.as_bytes() == name);
        match ours.and_then(|at| Some((attributes.get(at)?, placed.get_mut(at)?))) {
            Some((attribute, placed)) => {
                let same =
                    kind == attribute.value.kind().as_bytes() && value == attribute.value.bytes();
                if !same && !replaced.iter().any(|before| before == attribute.name) {
                    replaced.push(attribute.name.to_owned());
                }
                // A name that stands twice stays one.
                if !*placed {
                    write(attribute, out);
                }
                *placed = true;
            }
            None => out.extend(reader.bytes.get(start..reader.at).unwrap_or_default()),
        }
    }
}

fn write(attribute: &Attribute, out: &mut Vec<u8>) {
    let value = attribute.value.bytes();
    out.extend(attribute.name.bytes());
    out.push(0);
    out.extend(attribute.value.kind().bytes());
    out.push(0);
    out.extend(u32::try_from(value.len()).unwrap_or(0).to_le_bytes());
    out.extend(value);
}

/// Where the table of offsets stands: behind the headers, and up to the first chunk that it points to. Every offset
/// must point behind it and into the file; a table with a gap in it is that of a file never finished.
///
/// Gives the farthest offset too: where the last chunk of the file begins.
fn table(source: &dyn ReadAt, first: u64, size: u64) -> Result<(Range<u64>, u64), String> {
    let (mut at, mut least, mut farthest) = (first, size, 0);
    while at < least {
        let room = least.saturating_sub(at) / 8 * 8;
        let pieces = u64::try_from(PIECE).unwrap_or(u64::MAX);
        let bytes = piece(source, at, room.min(pieces))?;
        if bytes.is_empty() {
            return Err("its table of offsets does not end where its pixels begin".to_owned());
        }
        for entry in bytes.chunks_exact(8) {
            if at >= least {
                break;
            }
            at += 8;
            let offset = u64::from_le_bytes(entry.try_into().unwrap_or_default());
            if offset < at || offset >= size {
                return Err(
                    "it was never finished, or is damaged: its table of offsets is".to_owned()
                );
            }
            least = least.min(offset);
            farthest = farthest.max(offset);
        }
    }
    if at != least || at == first {
        return Err("its table of offsets does not end where its pixels begin".to_owned());
    }
    Ok((first..at, farthest))
}

/// Writes the copy, a bounded piece at a time.
pub fn copy(plan: &Plan, source: &dyn ReadAt, out: &mut dyn Write) -> io::Result<()> {
    let changed = || io::Error::other("it changed while it was read");
    if source.size() != plan.size {
        return Err(changed());
    }
    out.write_all(&plan.head)?;
    let mut at = plan.table.start;
    while at < plan.size {
        let in_table = at < plan.table.end;
        let end = if in_table { plan.table.end } else { plan.size };
        let long = (end - at).min(u64::try_from(PIECE).unwrap_or(u64::MAX));
        let mut bytes = piece(source, at, long).map_err(io::Error::other)?;
        if u64::try_from(bytes.len()).ok() != Some(long) {
            return Err(changed());
        }
        if in_table {
            for entry in bytes.chunks_exact_mut(8) {
                let offset = u64::from_le_bytes((&*entry).try_into().unwrap_or_default());
                let moved = u64::try_from(i128::from(offset) + plan.shift);
                entry.copy_from_slice(&moved.map_err(io::Error::other)?.to_le_bytes());
            }
        }
        out.write_all(&bytes)?;
        at += long;
    }
    Ok(())
}

/// Some bytes of a file; fewer only at its end.
fn piece(source: &dyn ReadAt, at: u64, long: u64) -> Result<Vec<u8>, String> {
    let mut bytes = vec![0; usize::try_from(long).map_err(|error| error.to_string())?];
    let read = source.read_at(at, &mut bytes).map_err(|error| error.to_string())?;
    bytes.truncate(read);
    Ok(bytes)
}

struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Reader<'a> {
    fn take(&mut self, long: usize) -> Result<&'a [u8], String> {
        let end = self.at.checked_add(long);
        let taken = end.and_then(|end| self.bytes.get(self.at..end));
        self.at = end.unwrap_or(usize::MAX);
        taken.ok_or_else(|| "it ends inside its header".to_owned())
    }

    fn word(&mut self) -> Result<u32, String> {
        let bytes = self.take(4)?;
        Ok(u32::from_le_bytes(bytes.try_into().unwrap_or_default()))
    }

    /// A name or a type, without its zero.
    fn text(&mut self) -> Result<&'a [u8], String> {
        let rest = self.bytes.get(self.at..).unwrap_or_default();
        let long = rest.iter().take(256).position(|byte| *byte == 0);
        let long = long.ok_or_else(|| "a name in its header does not end".to_owned())?;
        let text = self.take(long)?;
        self.at += 1;
        Ok(text)
    }
}
