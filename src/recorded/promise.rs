//! A file that holds something else than its name promises.

use crate::finding::{Code, Finding, Place};
use crate::read_at::ReadAt;

/// Names that promise a container which lensmend reads.
const PROMISES: [(&str, &str); 6] = [
    (".mov", "QuickTime or MP4 file"),
    (".mp4", "QuickTime or MP4 file"),
    (".m4v", "QuickTime or MP4 file"),
    (".qt", "QuickTime or MP4 file"),
    (".3gp", "QuickTime or MP4 file"),
    (".mxf", "MXF file"),
];

/// Bytes looked at in front, and as many in the middle and at the end.
const LOOK: usize = 512;

/// Beginnings by which other kinds of file are known, with the bytes before them (each from its own standard).
const KINDS: [(usize, &[u8], &str); 8] = [
    (0, b"RIFF", "a RIFF file (AVI or WAV)"),
    (0, b"\x06\x0E\x2B\x34", "an MXF file"),
    (0, b"\x1A\x45\xDF\xA3", "a Matroska or WebM file"),
    (0, b"\xFF\xD8\xFF", "a JPEG picture"),
    (0, b"\x89PNG", "a PNG picture"),
    (0, b"II*\0", "a TIFF or raw picture"),
    (0, b"PK\x03\x04", "a ZIP archive"),
    (4, b"ftyp", "a still picture of the MP4 family"),
];

/// Turns the quiet word that a container is not read into a loud one where the name promises that it is one, and
/// where the file holds nothing but zeros.
pub(super) fn check(source: &dyn ReadAt, file: &str, findings: &mut [Finding]) {
    let [only] = findings else { return };
    if only.code != Code::MediaOpaque {
        return;
    }
    let name = file.to_lowercase();
    let promised = PROMISES.iter().find(|(ending, _)| name.ends_with(ending));
    let hint = "compare the copy with the card and copy it again; if it is the same there, the file is lost to this run";
    let message = if is_zeros(source) {
        "wherever it was looked at the file holds nothing but zeros".to_owned()
    } else if let Some((ending, kind_promised)) = promised {
        let what = kind(source).map_or_else(String::new, |kind| format!("; it looks like {kind}"));
        format!("the name ends in {ending}, but the content is no {kind_promised}{what}")
    } else {
        return;
    };
    *only = Finding::new(Code::MediaDamaged, message).at(Place::file(file)).hint(hint);
}

fn is_zeros(source: &dyn ReadAt) -> bool {
    let size = source.size();
    let tail = size.saturating_sub(u64::try_from(LOOK).unwrap_or_default());
    size >= 8
        && [0, tail / 2, tail].into_iter().all(|at| {
            let look = look(source, at);
            !look.is_empty() && look.iter().all(|byte| *byte == 0)
        })
}

fn kind(source: &dyn ReadAt) -> Option<&'static str> {
    let head = look(source, 0);
    let begins = |(at, bytes, _): &&(usize, &[u8], &str)| {
        head.get(*at..).is_some_and(|rest| rest.starts_with(bytes))
    };
    KINDS.iter().find(begins).map(|(_, _, kind)| *kind)
}

fn look(source: &dyn ReadAt, at: u64) -> Vec<u8> {
    let mut bytes = vec![0; LOOK];
    let count = source.read_at(at, &mut bytes).unwrap_or_default();
    bytes.truncate(count);
    bytes
}
