//! What an edit list shows of the frames of a picture track (`elst`, ISO/IEC 14496-12, 8.6.6).

use crate::header::cursor::Cursor;
use crate::header::quicktime::{Movie, Shown, Track};
use crate::header::reader::{Reader, len};

/// Runs fetched at a time.
const PAGE: usize = 512;

/// Brings edits and frames of every picture track together.
pub(super) fn apply(reader: &mut Reader, movie: &mut Movie) {
    let Some(movie_scale) = movie.header.as_ref().map(|header| header.value.timescale) else {
        return;
    };
    if movie.fragments_missed {
        return;
    }
    let mut left = reader.limits.runs;
    for track in &mut movie.tracks {
        if track.picture.is_some() && !track.edits.is_empty() {
            track.shown = shown(reader, track, movie_scale, &mut left);
        }
    }
}

fn shown(reader: &mut Reader, track: &Track, movie_scale: u32, left: &mut u64) -> Option<Shown> {
    let timing = track.timing.as_ref()?.value;
    let scale = u128::from(track.media.as_ref()?.value.timescale);
    let usual = u128::from(timing.duration()).checked_div(timing.frames().into())?;
    let first = earliest(&track.composition, u64::try_from(usual).ok()?);
    // A length is rounded to movie units: what would be shown for less than one of them is not meant.
    let unit = scale.div_ceil(u128::from(movie_scale).max(1)).min(usual / 2);
    let mut times = Vec::new();
    let mut nothing = false;
    for edit in &track.edits {
        let Some(start) = edit.start() else { continue };
        let start = u128::from(start.saturating_sub(first));
        if start >= u128::from(timing.duration()) {
            // Behind the last frame: nothing of this edit is seen.
            nothing = true;
            continue;
        }
        let length = u128::from(edit.duration).saturating_mul(scale);
        let length = length.checked_div(movie_scale.into())?;
        // A length of 0 runs to the end, which only the fragments know.
        let end = if edit.duration == 0 {
            u128::from(u64::MAX)
        } else {
            start.saturating_add(length).saturating_sub(unit)
        };
        times.push(start.saturating_add(1));
        times.push(end);
    }
    let times: Vec<u64> = times.iter().map(|t| u64::try_from(*t).unwrap_or(u64::MAX)).collect();
    let before: Vec<u64> = match timing.constant() {
        Some(0) => return None,
        Some(delta) => {
            times.iter().map(|t| t.div_ceil(u64::from(delta)).min(timing.frames())).collect()
        }
        None => frames_before(reader, track, &times, left)?,
    };
    let mut shown = nothing.then_some(Shown { first: timing.frames(), frames: 0 });
    for edge in before.chunks_exact(2) {
        let [start, end] = edge else { continue };
        let start = start.saturating_sub(1);
        let frames = end.saturating_sub(start);
        let before = shown.filter(|shown| shown.frames > 0);
        shown = Some(match before {
            Some(so_far) => Shown { frames: so_far.frames.saturating_add(frames), ..so_far },
            None => Shown { first: start, frames },
        });
    }
    shown
}

/// When the first frame is shown, in media units: frames that lean on later ones are decoded before their time,
/// and writers let the edit begin there so that nothing is late.
fn earliest(composition: &[(u32, i32)], delta: u64) -> u64 {
    let mut decoded = 0u64;
    let mut earliest = None;
    for (count, offset) in composition {
        let shown = decoded.saturating_add_signed(i64::from(*offset));
        earliest = Some(earliest.unwrap_or(shown).min(shown));
        decoded = decoded.saturating_add(delta.saturating_mul(u64::from(*count)));
    }
    earliest.unwrap_or_default()
}

/// How many frames begin before each of `times`, by going through the runs of an uneven track once more.
fn frames_before(
    reader: &mut Reader,
    track: &Track,
    times: &[u64],
    left: &mut u64,
) -> Option<Vec<u64>> {
    let table = track.tables.durations.as_ref()?;
    let runs = table.length().saturating_sub(8) / 8;
    *left = left.checked_sub(runs)?;
    let mut before = vec![0u64; times.len()];
    let (mut at, mut time) = (table.body.saturating_add(8), 0u64);
    while at < table.end {
        let page = usize::try_from(table.end.saturating_sub(at)).unwrap_or(usize::MAX);
        let page = reader.bytes(at, page.min(PAGE.saturating_mul(8)));
        if page.len() < 8 {
            break;
        }
        at = at.saturating_add((len(page) / 8).saturating_mul(8));
        let mut cursor = Cursor::new(page);
        while let (Some(count), Some(delta)) = (cursor.u32(), cursor.u32()) {
            for (time_asked, before) in times.iter().zip(&mut before) {
                // Frames of this run that begin before the time asked for.
                let rest = time_asked.saturating_sub(time);
                let begun = match delta {
                    0 if rest > 0 => u64::from(count),
                    0 => 0,
                    delta => rest.div_ceil(delta.into()).min(count.into()),
                };
                *before = before.saturating_add(begun);
            }
            time = time.saturating_add(u64::from(count).saturating_mul(delta.into()));
        }
    }
    Some(before)
}
