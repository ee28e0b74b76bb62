//! Files numbered in a row that are one clip: frames of a sequence, and the pieces of an opaque recording.
//!
//! Nothing is opened here but the first file of an opaque row; the cost is that of sorting the names once.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use crate::finding::{Code, Finding, Place};
use crate::naming::{Named, Naming, key};

use super::walk::{self, Entry};
use super::{Part, Row};

/// Extensions of single pictures, any of which may be a frame.
pub(super) const PICTURES: &[&str] = &[
    "dng", "tif", "tiff", "exr", "dpx", "cin", "j2c", "j2k", "jp2", "jpg", "jpeg", "png", "heic",
    "heif", "hif",
];

/// Those of them that hardly anything but frames is written in.
pub(super) const FRAMES: &[&str] = &["dng", "exr", "dpx", "cin"];

/// Those of them that people take one by one, as references: only a second's worth of them without a hole was a sequence.
const SNAPSHOTS: &[&str] = &["jpg", "jpeg", "png", "heic", "heif", "hif"];

/// Pictures of a second, for that.
const SECOND: u64 = 24;

/// Digits of the longest running number; longer ones are dates.
const DIGITS: usize = 9;
/// Holes named in a finding.
const HOLES: usize = 8;

/// A file with a number at its end.
struct Numbered<'a> {
    at: usize,
    entry: &'a Entry,
    number: u64,
    width: usize,
    /// What stands in front of the number, as written.
    front: &'a str,
    /// Extension in small letters; empty where it is the number itself.
    extension: String,
    picture: bool,
}

/// Clips found among `entries`, and the places of the entries that they take up. Only files that `may` be clips are looked at.
pub(super) fn find(
    root: &Path,
    entries: &[Entry],
    may: &[bool],
    naming: &Naming,
    findings: &mut Vec<Finding>,
) -> (Vec<(Named, Part)>, Vec<usize>) {
    let mut rows: BTreeMap<(&Path, String, String), Vec<Numbered<'_>>> = BTreeMap::new();
    let mut in_folder: BTreeMap<&Path, usize> = BTreeMap::new();
    for (at, (entry, _)) in entries.iter().zip(may).enumerate().filter(|(_, (_, may))| **may) {
        let folder = entry.path.parent().unwrap_or(Path::new(""));
        *in_folder.entry(folder).or_default() += 1;
        if let Some(file) = numbered(at, entry) {
            let same = (folder, file.front.to_lowercase(), file.extension.clone());
            rows.entry(same).or_default().push(file);
        }
    }
    let (mut clips, mut taken) = (Vec::new(), Vec::new());
    for ((folder, ..), row) in rows {
        for mut row in apart(row) {
            row.sort_by_key(|file| file.number);
            let alone = in_folder.get(folder).is_some_and(|all| *all == row.len());
            if let Some(named) = named(root, folder, &row, alone, naming) {
                taken.extend(row.iter().map(|file| file.at));
                clips.push(clip(named, &row, findings));
            }
        }
    }
    (clips, taken)
}

fn numbered(at: usize, entry: &Entry) -> Option<Numbered<'_>> {
    let stem = entry.path.file_stem()?.to_str()?;
    let extension = entry.path.extension().and_then(OsStr::to_str).unwrap_or_default();
    let digits =
        |text: &str| (1..=DIGITS).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    let (front, number, extension) = if digits(extension) {
        (stem, extension, String::new())
    } else {
        let front = stem.trim_end_matches(|c: char| c.is_ascii_digit());
        (front, stem.get(front.len()..)?, extension.to_lowercase())
    };
    let picture = PICTURES.contains(&extension.as_str());
    let width = number.len();
    let number = digits(number).then(|| number.parse().ok()).flatten()?;
    Some(Numbered { at, entry, number, width, front, extension, picture })
}

/// One row, or several where a number stands twice: then spelling and width of the number tell them apart.
fn apart(row: Vec<Numbered<'_>>) -> Vec<Vec<Numbered<'_>>> {
    let mut numbers: Vec<u64> = row.iter().map(|file| file.number).collect();
    numbers.sort_unstable();
    if numbers.array_windows().all(|[a, b]| a != b) {
        return vec![row];
    }
    let mut rows: BTreeMap<(usize, &str, Option<&OsStr>), Vec<Numbered<'_>>> = BTreeMap::new();
    for file in row {
        let spelling = (file.width, file.front, file.entry.path.extension());
        rows.entry(spelling).or_default().push(file);
    }
    rows.into_values().collect()
}

/// Name and stem of the clip that a row of files is, if it is one.
///
/// The number may be that of the clip: then the pattern gives each file another name, and the row is none.
/// Opaque files must fill their folder (companions aside) and be called like it or by a pattern, because folders
/// of numbered index files look just the same.
fn named(
    root: &Path,
    folder: &Path,
    row: &[Numbered<'_>],
    alone: bool,
    naming: &Naming,
) -> Option<(Named, PathBuf)> {
    let (first, last) = (row.first()?, row.last()?);
    if row.len() < 2 {
        return None;
    }
    let files = u64::try_from(row.len()).ok()?;
    let span = last.number - first.number + 1;
    if SNAPSHOTS.contains(&first.extension.as_str()) && (files < SECOND || span != files) {
        return None;
    }
    let bare = first.front.trim_end_matches(['_', '-', '.', ' ']);
    let called = folder.file_name().and_then(OsStr::to_str).unwrap_or_default();
    let shaped = !called.is_empty() && (bare.is_empty() || key(bare) == key(called));
    // The folder of a clip is no roll: the roll is looked for above it.
    let above = if shaped { folder.parent().unwrap_or(Path::new("")) } else { folder };
    let lifted = |file: &Numbered<'_>| above.join(file.entry.path.file_name().unwrap_or_default());
    let (one, other) = (naming.name(&lifted(first)), naming.name(&lifted(last)));
    if one.by_pattern && (one.name != other.name || (one.part.is_some() && !first.picture)) {
        return None;
    }
    let stem = if bare.is_empty() { called } else { bare };
    let stem = if stem.is_empty() { first.entry.path.file_stem()?.to_str()? } else { stem };
    let file = |within: &Path| {
        let ending = if first.extension.is_empty() { "raw" } else { &first.extension };
        within.join(format!("{stem}.{ending}"))
    };
    let mut named = if one.by_pattern { one } else { naming.name(&file(above)) };
    if !first.picture {
        let fits = named.by_pattern || (shaped && !bare.is_empty());
        if !fits || (!alone && !first.extension.is_empty()) {
            return None;
        }
        // A movie is a clip of its own, whatever it is called.
        if !matches!(walk::begins_like_a_movie(&root.join(&first.entry.path)), Ok(false)) {
            return None;
        }
    }
    named.part = None;
    Some((named, file(folder)))
}

fn clip(
    (named, stem): (Named, PathBuf),
    row: &[Numbered<'_>],
    findings: &mut Vec<Finding>,
) -> (Named, Part) {
    let path = |file: Option<&Numbered<'_>>| file.map(|f| f.entry.path.clone()).unwrap_or_default();
    let number = |file: Option<&Numbered<'_>>| file.map_or(0, |f| f.number);
    let (first, last) = (row.first(), row.last());
    let place = Place::file(walk::shown(&path(first)));
    let holes: Vec<(u64, u64)> = row
        .array_windows()
        .filter(|[a, b]| b.number > a.number + 1)
        .map(|[a, b]| (a.number + 1, b.number - 1))
        .collect();
    if !holes.is_empty() {
        let missing: u64 = holes.iter().map(|(from, to)| to - from + 1).sum();
        let shown = holes
            .iter()
            .take(HOLES)
            .map(|(from, to)| if from == to { from.to_string() } else { format!("{from}-{to}") });
        let mut shown = shown.collect::<Vec<_>>().join(", ");
        if holes.len() > HOLES {
            shown.push_str(", ...");
        }
        let message = format!("{missing} files are missing in the row of numbers: {shown}");
        findings.push(
            Finding::new(Code::ClipSpanGap, message)
                .at(place)
                .clip(named.name.as_str())
                .hint("look for them on the card before the card is wiped"),
        );
    }
    // First and last are opened, and what is wrong with them is said then.
    let inner = row.get(1..row.len().saturating_sub(1)).unwrap_or_default();
    let empty: Vec<_> = inner.iter().filter(|file| file.entry.size == 0).collect();
    if let Some(one) = empty.first() {
        let message = format!("{} files of the clip hold no bytes; this is the first", empty.len());
        findings.push(
            Finding::new(Code::MediaEmpty, message)
                .at(Place::file(walk::shown(&one.entry.path)))
                .clip(named.name.as_str())
                .hint("copy them again from the card"),
        );
    }
    let part = Part {
        path: path(first),
        number: None,
        size: row.iter().fold(0, |sum, file| sum.saturating_add(file.entry.size)),
        row: Some(Row {
            stem,
            last: path(last),
            numbers: (number(first), number(last)),
            files: u64::try_from(row.len()).unwrap_or(u64::MAX),
            pictures: first.is_some_and(|file| file.picture),
        }),
    };
    (named, part)
}
