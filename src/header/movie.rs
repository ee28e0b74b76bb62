//! The movie box: its header, its tracks, its texts and whether it goes on in fragments (ISO/IEC 14496-12, 8.2, 8.8).

use crate::header::cursor::Cursor;
use crate::header::quicktime::{Defaults, MediaTime, Movie};
use crate::header::reader::{Element, Reader};
use crate::header::{texts, track};

/// Reads `moov` into `movie`.
pub(super) fn moov(reader: &mut Reader, moov: &Element, movie: &mut Movie) {
    let mut at = moov.body;
    let mut number: usize = 0;
    while let Some(part) = reader.next(moov, &mut at) {
        match &part.kind {
            b"mvhd" if movie.header.is_none() => {
                movie.header = reader.parse(&part, 32, media_time);
            }
            b"trak" => {
                number = number.saturating_add(1);
                if number <= reader.limits.tracks {
                    let track = track::trak(reader, &part.counted(number), &mut movie.packets);
                    movie.tracks.push(track);
                }
            }
            b"mvex" => {
                movie.fragmented = true;
                mvex(reader, &part, movie);
            }
            b"udta" => texts::udta(reader, &part, &mut movie.texts, &mut movie.packets),
            b"meta" => texts::meta(reader, &part, &mut movie.texts),
            b"cmov" => reader.damaged(
                part.start,
                "the header is stored compressed, which lensmend does not read",
            ),
            _ => {}
        }
    }
}

/// Creation, timescale and duration as `mvhd` (8.2.2) and `mdhd` (8.4.2) both begin.
pub(super) fn media_time(cursor: &mut Cursor) -> Option<MediaTime> {
    let (version, _) = cursor.full()?;
    let created = cursor.wide(version)?;
    let _modified = cursor.wide(version)?;
    let timescale = cursor.u32()?;
    let duration = cursor.wide(version)?;
    Some(MediaTime { created, timescale, duration })
}

/// Defaults that fragments fall back on (`trex`, 8.8.3).
fn mvex(reader: &mut Reader, mvex: &Element, movie: &mut Movie) {
    let mut at = mvex.body;
    while let Some(part) = reader.next(mvex, &mut at) {
        if part.kind == *b"trex" && movie.fragment_defaults.len() < reader.limits.tracks {
            let default = reader.parse(&part, 20, |c| {
                c.full()?;
                let id = c.u32()?;
                let _description = c.u32()?;
                Some((id, Defaults { duration: c.u32()?, size: c.u32()? }))
            });
            movie.fragment_defaults.extend(default.map(|default| default.value));
        }
    }
}
