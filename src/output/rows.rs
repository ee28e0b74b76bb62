//! A clip cut into rows: one for each piece of each of its files.

use crate::annotation::{Annotation, ClipFile, Setup};
use crate::timecode::Timecode;

/// One row: frames of one file over which one setup holds.
#[derive(Clone, Copy, Debug)]
pub struct Row<'a> {
    /// The clip.
    pub annotation: &'a Annotation,
    /// The file.
    pub file: &'a ClipFile,
    /// Which of the clip's files, from 1.
    pub part: usize,
    /// First frame, counted from the start of the clip.
    pub start: u64,
    /// First frame, counted from the start of the file; unknown if the lengths of the files before it are.
    pub in_file: Option<u64>,
    /// Frames, where known.
    pub frames: Option<u64>,
    /// What holds.
    pub setup: &'a Setup,
}

impl Row<'_> {
    /// Timecode of the first frame.
    pub fn start_timecode(&self) -> Option<Timecode> {
        let start = self.file.start?;
        match self.in_file {
            Some(0) | None if self.start == 0 || self.in_file == Some(0) => Some(start),
            Some(frames) if self.counts_frames() => Some(start.later(frames)),
            _ => None,
        }
    }

    /// Timecode after the last frame.
    pub fn end_timecode(&self) -> Option<Timecode> {
        let start = self.start_timecode().filter(|_| self.counts_frames())?;
        Some(start.later(self.frames?))
    }

    /// True if the timecode counts every picture; some cameras count every second one, and then labels are no frames.
    fn counts_frames(&self) -> bool {
        let rate = self.annotation.clip.media.rate.as_ref().map(|rate| rate.value);
        let base = self.file.start.map(|start| start.counting().base());
        rate.zip(base).is_none_or(|(rate, base)| rate.num().div_ceil(rate.den()) == base)
    }
}

/// The rows of a clip in order; at least one for each file.
pub fn rows(annotation: &Annotation) -> Vec<Row<'_>> {
    let files = &annotation.clip.files;
    files.iter().enumerate().flat_map(|(at, file)| of_file(annotation, file, at + 1)).collect()
}

/// The rows of a clip from one of its frames up to another, each cut to what lies between.
pub fn within(annotation: &Annotation, range: std::ops::Range<u64>) -> Vec<Row<'_>> {
    let cut = |row: Row<'_>| {
        // Frames of a file behind one of unknown length cannot be placed.
        let in_file = row.in_file?;
        let first = row.start.max(range.start);
        let end = row.frames.and_then(|frames| row.start.checked_add(frames));
        let end = end.map_or(range.end, |end| end.min(range.end));
        let frames = end.checked_sub(first).filter(|frames| *frames > 0)?;
        let in_file = in_file.checked_add(first - row.start)?;
        Some((first, in_file, frames))
    };
    rows(annotation)
        .into_iter()
        .filter_map(|row| {
            let (start, in_file, frames) = cut(row)?;
            Some(Row { start, in_file: Some(in_file), frames: Some(frames), ..row })
        })
        .collect()
}

/// The rows of one file of a clip.
pub fn of_file<'a>(annotation: &'a Annotation, file: &'a ClipFile, part: usize) -> Vec<Row<'a>> {
    let Some(first) = file.first_frame else {
        // After a file of unknown length no frame can be placed; only what holds throughout can be said.
        let setup = annotation.elsewhere.as_deref().unwrap_or(annotation.setups.first());
        return vec![Row {
            annotation,
            file,
            part,
            start: 0,
            in_file: None,
            frames: file.frames,
            setup,
        }];
    };
    let end = file.frames.and_then(|frames| first.checked_add(frames));
    let mut rows = Vec::new();
    for piece in annotation.setups.pieces() {
        let from = piece.start.max(first);
        let to = match (piece.end, end) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        // An empty file still has its row: the first piece that could hold there.
        let empty =
            end == Some(first) && piece.start <= first && piece.end.is_none_or(|end| end > first);
        if to.is_some_and(|to| to <= from) && !empty {
            continue;
        }
        rows.push(Row {
            annotation,
            file,
            part,
            start: from,
            in_file: Some(from - first),
            frames: to.map(|to| to.saturating_sub(from)),
            setup: piece.value,
        });
    }
    rows
}
