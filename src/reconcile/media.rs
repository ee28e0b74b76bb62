//! The files of one clip become one: facts of the first, frames of all.

use std::sync::Arc;

use crate::annotation::{ClipFacts, ClipFile, CopiedFile, FileRow};
use crate::dump::walk::shown;
use crate::dump::{Clip, Part};
use crate::finding::{Code, Finding, Found, Place};
use crate::recorded::{FileFacts, Recorded};
use crate::sourced::{Origin, Sourced};
use crate::timecode::Timecode;

use super::lens;

/// Joins what the files of `clip` say; parts that do not follow one another are findings.
pub fn join(clip: &Clip, recorded: &[FileFacts]) -> Found<ClipFacts> {
    let name: Arc<str> = Arc::from(clip.name.as_str());
    let mut findings = Vec::new();
    let mut files: Vec<ClipFile> = Vec::new();
    let mut next_frame = Some(0);
    let mut last_number: Option<u32> = None;
    let mut whole = true;
    for (part, FileFacts { recorded: facts, header_sha256 }) in clip.parts.iter().zip(recorded) {
        let frames = facts.frames.as_ref().map(|frames| frames.value);
        let start = facts.start.as_ref().map(|start| start.value);
        // After a part of unknown length the timecode tells where the next one begins.
        let first_frame = next_frame.or_else(|| by_timecode(files.first()?, start?, facts));
        let file = ClipFile {
            shown: Arc::from(shown(&part.path)),
            path: own_path(part),
            size: part.size,
            row: part.row.as_ref().map(|row| FileRow {
                last: Arc::from(shown(&row.last)),
                numbers: row.numbers,
                files: row.files,
            }),
            header_sha256: header_sha256.clone(),
            first_frame,
            frames,
            start,
        };
        // A gap in the numbers of the parts was said when they were joined.
        let numbered = last_number
            .zip(part.number)
            .is_none_or(|(last, number)| last.checked_add(1) == Some(number));
        last_number = part.number;
        let after = files.last().filter(|_| numbered);
        if let Some(finding) = after.and_then(|before| follows(before, &file)) {
            findings.push(finding.clip(Arc::clone(&name)));
        }
        whole &= frames.is_some();
        next_frame =
            first_frame.zip(frames).and_then(|(next, frames): (u64, u64)| next.checked_add(frames));
        files.push(file);
    }
    let mut media = recorded.first().map(|first| first.recorded.clone()).unwrap_or_default();
    if recorded.len() > 1 {
        // Both speak of one file.
        (media.stored, media.duration) = (None, None);
    }
    if let (Some(frames), true) = (&mut media.frames, recorded.len() > 1) {
        match next_frame.filter(|_| whole) {
            Some(all) => {
                *frames = Sourced::new(all, Origin::Computed("frames of all files of the clip"));
            }
            None => media.frames = None,
        }
    }
    for (FileFacts { recorded: facts, .. }, file) in recorded.iter().zip(&files).skip(1) {
        let same = |a: Option<String>, b: Option<String>| a.is_none() || b.is_none() || a == b;
        let rate = |facts: &Recorded| facts.rate.as_ref().map(|rate| rate.value.to_string());
        let raster = |facts: &Recorded| facts.coded.as_ref().map(|coded| coded.value.to_string());
        if !same(rate(&media), rate(facts)) || !same(raster(&media), raster(facts)) {
            findings.push(
                gap(&file.shown, "this part has another raster or frame rate than the first")
                    .clip(Arc::clone(&name)),
            );
        }
    }
    let lens = lens::over_files(recorded, &files, &name, &mut findings);
    let copy = |parts: &Vec<Part>| {
        let file =
            |part: &Part| CopiedFile { path: own_path(part), shown: Arc::from(shown(&part.path)) };
        parts.iter().map(file).collect()
    };
    let copies = clip.copies.iter().map(copy).collect();
    let facts = ClipFacts { name, roll: clip.roll.clone(), files, copies, media, lens };
    Found { value: facts, findings }
}

/// Frames from the start of a clip's first file to `start`, where timecode counts every picture.
fn by_timecode(first: &ClipFile, start: Timecode, facts: &Recorded) -> Option<u64> {
    let rate = facts.rate.as_ref()?.value;
    let counts = rate.num().div_ceil(rate.den()) == start.counting().base();
    let frames = first.start.filter(|_| counts)?.frames_until(start)?;
    // Half a day later is a timecode that was set anew.
    (frames > 0 && frames < start.counting().day() / 2).then_some(frames)
}

/// Where a file stands; of a row of files, where it would without numbers.
fn own_path(part: &Part) -> std::path::PathBuf {
    part.row.as_ref().map_or(&part.path, |row| &row.stem).clone()
}

/// A finding if `file` does not begin where `before` ends.
fn follows(before: &ClipFile, file: &ClipFile) -> Option<Finding> {
    let expected = before.start?.later(before.frames?);
    let start = file.start?;
    (expected != start).then(|| {
        gap(&file.shown, &format!("the part before ends at {expected}, this one begins at {start}"))
    })
}

fn gap(file: &Arc<str>, message: &str) -> Finding {
    Finding::new(Code::ClipSpanGap, message)
        .at(Place::file(Arc::clone(file)))
        .hint("look for a missing part on the card before the card is wiped")
}
