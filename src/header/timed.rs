//! The few samples that are read outside of the header: timecode, and the first of each timed-metadata track.

use std::sync::Arc;

use crate::header::Placed;
use crate::header::cursor::{Cursor, Limits};
use crate::header::quicktime::{LaterCount, MetadataEntry, Movie, RawTag, Track};
use crate::header::reader::{Reader, kind_text};
use crate::header::samples::{Sample, Samples};
use crate::header::{fragment, texts};
use crate::read_at::ReadAt;

/// Timecode tracks looked up; a clip has one, seldom two or three.
const TIMECODES: usize = 8;
/// Samples of a timecode track that are read; each may cost a read of its own.
const SAMPLES: usize = 32;
/// Timed-metadata tracks looked up.
const METADATA: usize = 8;
/// Bytes of a metadata sample that are read.
const SAMPLE: usize = 8192;

/// Fetches them.
pub(super) fn read(reader: &mut Reader, movie: &mut Movie) {
    let tracks = movie.tracks.iter_mut().filter(|track| track.timecode.is_some());
    for track in tracks.take(TIMECODES) {
        counts(reader, track);
    }
    let tracks = movie.tracks.iter_mut().filter(|track| track.metadata.is_some());
    for track in tracks.take(METADATA) {
        metadata(reader, track);
    }
}

fn counts(reader: &mut Reader, track: &mut Track) {
    let Some(first) = &track.first_sample else {
        return;
    };
    let count = Cursor::new(reader.bytes(first.value, 4)).i32();
    if count.is_none() {
        reader.cut_off(first.offset, "the file ends before its own timecode sample");
    }
    track.first_count = count.map(|value| Placed {
        value,
        path: format!("{} -> mdat", first.path).into(),
        offset: first.value,
    });
    let several = track.timing.as_ref().is_some_and(|timing| timing.value.frames() > 1);
    let samples = several.then(|| Samples::new(reader, &track.tables)).flatten();
    let mut listed = samples.and_then(|mut samples| samples.next(reader).map(|_| samples));
    // What stands in tables comes before what stands in fragments.
    let skipped = usize::from(listed.is_none());
    let mut in_fragments = track.fragment_samples.clone().into_iter().skip(skipped);
    while several && track.later_counts.len() < SAMPLES {
        let sample = listed.as_mut().and_then(|samples| samples.next(reader));
        let Some(sample) = sample.or_else(|| in_fragments.next()) else { break };
        let Some(count) = Cursor::new(&reader.aside(sample.offset, 4)).i32() else { break };
        let later = LaterCount { time: sample.time, count, offset: sample.offset };
        track.later_counts.push(later);
    }
}

fn metadata(reader: &mut Reader, track: &mut Track) {
    let Some(entry) = &track.metadata else {
        return;
    };
    let first = Samples::new(reader, &track.tables).and_then(|mut all| all.next(reader));
    let Some(sample) = first.or_else(|| track.fragment_samples.first().copied()) else {
        return;
    };
    let size = usize::try_from(sample.size).unwrap_or(SAMPLE).min(SAMPLE);
    let value = reader.aside(sample.offset, size);
    if !value.is_empty() {
        let path = format!("{} -> mdat", entry.path).into();
        let sample = Placed { value, path, offset: sample.offset };
        track.metadata_values = values(&entry.value, &sample);
        track.metadata_sample = Some(sample);
    }
}

/// Samples of one track that are gone through; nine hours at 30 a second.
pub const MOST_SAMPLES: u32 = 1_000_000;
/// Bytes of each of them that are read.
const BYTES: usize = 2048;

/// Hands every sample of a timed-metadata track of `movie` to `each`, with the time at which it begins in media units,
/// until that has enough. False where samples were left out, because they are too many or the file or its tables end
/// early.
pub fn each_sample(
    source: &dyn ReadAt,
    file: &str,
    (movie, track): (&Movie, &Track),
    mut each: impl FnMut(u64, &Placed<Vec<u8>>) -> bool,
) -> bool {
    let limits = Limits::default();
    let mut reader = Reader::new(source, file, &limits);
    let Some(entry) = &track.metadata else { return false };
    let path: Arc<str> = format!("{} -> mdat", entry.path).into();
    let (mut left, mut whole, mut enough) = (MOST_SAMPLES, true, false);
    let mut hand = |reader: &mut Reader, sample: Sample| {
        let size = usize::try_from(sample.size).unwrap_or(BYTES).min(BYTES);
        let value = reader.aside(sample.offset, size);
        whole = value.len() == size && left > 0;
        left = left.saturating_sub(1);
        let placed = Placed { value, path: Arc::clone(&path), offset: sample.offset };
        enough = whole && !each(sample.time, &placed);
        whole && !enough
    };
    let (mut listed, mut behind) = (false, 0);
    if let Some(mut samples) = Samples::new(&mut reader, &track.tables) {
        while let Some(sample) = samples.next(&mut reader) {
            if !hand(&mut reader, sample) {
                return enough;
            }
        }
        (listed, behind) = (samples.is_done(), samples.time());
    }
    let Some(id) = track.id().filter(|_| movie.fragmented) else { return listed && whole };
    let default = movie.fragment_defaults.get(&id).copied().unwrap_or_default();
    let all = fragment::each_sample(&mut reader, id, default, behind, &mut hand);
    enough || (all && whole && !movie.fragments_missed)
}

/// Values of one sample that are kept.
const VALUES: usize = 256;

/// The values of one sample as tags. `mebx` is a list of boxes, each named by the number of its key (QuickTime,
/// "Timed Metadata Media"); `mett`, `metx` and `stxt` are text as it stands (ISO/IEC 14496-12, 12.3.3 and 12.5).
/// Any other form is its maker's own: its bytes are kept under its name.
pub fn values(entry: &MetadataEntry, sample: &Placed<Vec<u8>>) -> Vec<RawTag> {
    let tag = |key: String, value, at: usize| {
        let offset = sample.offset.saturating_add(u64::try_from(at).unwrap_or_default());
        let path = format!("{}/{key}", sample.path).into();
        RawTag { key, value: Placed { value, path, offset } }
    };
    let bytes = sample.value.as_slice();
    if entry.format != *b"mebx" {
        let text = matches!(&entry.format, b"mett" | b"metx" | b"stxt");
        let value = texts::data(u32::from(text), bytes);
        return value.map(|value| tag(kind_text(entry.format), value, 0)).into_iter().collect();
    }
    let mut values = Vec::new();
    let mut at = 0usize;
    while values.len() < VALUES {
        let mut cursor = Cursor::new(bytes.get(at..).unwrap_or_default());
        let (Some(size), Some(number)) = (cursor.u32(), cursor.u32()) else { break };
        let Some(size) = usize::try_from(size).ok().filter(|size| *size >= 8) else { break };
        let Some(body) = cursor.take(size.saturating_sub(8)) else { break };
        if let Some((key, kind)) = entry.keys.get(&number)
            && let Some(value) = texts::data(*kind, body)
        {
            values.push(tag(key.clone(), value, at));
        }
        at = at.saturating_add(size);
    }
    values
}
