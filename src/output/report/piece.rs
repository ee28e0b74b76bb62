//! A clip cut into the pieces over which one set-up holds, however many files it has.

use crate::annotation::{Annotation, Setup};
use crate::timecode::Timecode;

use super::super::rows::{Row, rows};

/// Frames of a clip over which one set-up holds.
pub(super) struct Piece<'a> {
    /// What holds.
    pub(super) setup: &'a Setup,
    /// Timecode of the first frame.
    pub(super) start: Option<Timecode>,
    /// Timecode after the last frame.
    pub(super) end: Option<Timecode>,
    /// First frame, counted from the start of the clip.
    pub(super) first: u64,
    /// How many, if that is known.
    pub(super) frames: Option<u64>,
    /// How long they run, if that is known.
    pub(super) seconds: Option<f64>,
}

/// The pieces of a clip in order; at least one.
pub(super) fn pieces(annotation: &Annotation) -> Vec<Piece<'_>> {
    let mut pieces: Vec<Piece<'_>> = Vec::new();
    for row in rows(annotation) {
        match pieces.last_mut().filter(|before| before.setup == row.setup) {
            Some(before) => {
                before.end = row.end_timecode();
                before.frames = before.frames.zip(row.frames).and_then(|(a, b)| a.checked_add(b));
            }
            None => pieces.push(first(&row)),
        }
    }
    let one = pieces.len() == 1;
    for piece in &mut pieces {
        // Frames over rate is not exact where the rate varies; of the whole clip the media knows.
        let whole = annotation.clip.media.duration.as_ref().filter(|_| one);
        let rate = annotation.clip.media.rate.as_ref().map(|rate| rate.value.to_f64());
        piece.seconds = whole
            .map(|whole| whole.value.seconds())
            .or_else(|| Some(count(piece.frames?) / rate?))
            .filter(|seconds| seconds.is_finite());
    }
    pieces
}

fn first<'a>(row: &Row<'a>) -> Piece<'a> {
    Piece {
        setup: row.setup,
        start: row.start_timecode(),
        end: row.end_timecode(),
        first: row.start,
        frames: row.frames,
        seconds: None,
    }
}

/// Seconds that a clip runs, if that is known of all of it.
pub(super) fn seconds(annotation: &Annotation) -> Option<f64> {
    pieces(annotation).iter().map(|piece| piece.seconds).sum()
}

/// A count of frames as a number; exact below 2^53.
#[expect(clippy::cast_precision_loss, reason = "no clip has that many frames")]
pub(super) fn count(frames: u64) -> f64 {
    frames as f64
}
