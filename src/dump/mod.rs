//! The dump: a folder tree as it came off the cards. Every file of it ends up as part of a clip or as a stray with its reason.

#![deny(clippy::indexing_slicing)]

mod sequence;
pub mod walk;

use std::collections::BTreeMap;
use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};

use crate::finding::{Code, Finding, Found, Place};
use crate::naming::{Named, Naming};
use walk::{Entry, Shape};

/// A dump, sorted: clips in order of folder and name, strays in order of their paths.
#[derive(Clone, Debug, PartialEq)]
pub struct Dump {
    /// The folder.
    pub root: PathBuf,
    /// Clips.
    pub clips: Vec<Clip>,
    /// Everything else.
    pub strays: Vec<Stray>,
}

/// A clip: one file, or several that a camera cut it into.
#[derive(Clone, Debug, PartialEq)]
pub struct Clip {
    /// Name: roll and clip parts together as the pattern found them, or the file name without its extension.
    pub name: String,
    /// Roll, from the file name or else from the folder.
    pub roll: Option<String>,
    /// The clip part alone, such as `C007`.
    pub short: String,
    /// Its files in order.
    pub parts: Vec<Part>,
    /// The same files again elsewhere in the dump, each time in order.
    pub copies: Vec<Vec<Part>>,
}

impl Clip {
    /// What its roll may be called, the likeliest first: its roll, and where that stands not in its own name every
    /// folder that it lies in, the nearest first.
    pub fn rolls(&self) -> Vec<&str> {
        let mut rolls: Vec<&str> = self.roll.as_deref().into_iter().collect();
        let folder = self.parts.first().and_then(|part| part.path.parent());
        if let (true, Some(folder)) = (self.name == self.short, folder) {
            let names = folder.iter().rev().filter_map(OsStr::to_str);
            rolls.extend(names.filter(|name| Some(*name) != self.roll.as_deref()));
        }
        rolls
    }
}

/// One file of a clip, or a row of numbered files that stands for one.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Path inside the dump; of a row, that of its first file.
    pub path: PathBuf,
    /// Number in a spanned clip, from the file name.
    pub number: Option<u32>,
    /// Bytes, of a row in all.
    pub size: u64,
    /// The row, if it is one.
    pub row: Option<Row>,
}

/// Files numbered in a row: frames of a sequence, or pieces of an opaque recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Path that they would have without numbers, inside the dump; there is no such file.
    pub stem: PathBuf,
    /// Path of the last one inside the dump.
    pub last: PathBuf,
    /// Numbers of the first and the last.
    pub numbers: (u64, u64),
    /// How many there are; fewer than the numbers span where some are missing.
    pub files: u64,
    /// Each is one picture, so that there are as many frames.
    pub pictures: bool,
}

/// A file of the dump that is no clip.
#[derive(Clone, Debug, PartialEq)]
pub struct Stray {
    /// Path inside the dump.
    pub path: PathBuf,
    /// Why it is none.
    pub reason: &'static str,
    /// What it belongs to, if it is a still.
    pub still: Option<Still>,
}

/// A picture that somebody took as a reference: it is counted with its clip and its roll, and is no clip of its own.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Still {
    /// Name of the clip that it is called like.
    pub clip: Option<String>,
    /// Roll: that of the clip, or else from its name or its folder.
    pub roll: Option<String>,
}

/// The reason that tells stills from other strays.
const STILL: &str = "a still, not moving pictures";

/// Extensions of moving pictures in open containers; a file with one of them is a clip whatever its name.
const PICTURE: &[&str] =
    &["mov", "mp4", "m4v", "qt", "3gp", "mxf", "avi", "mkv", "mts", "m2ts", "mpg"];

/// Extensions of what stands beside clips; a file with one of them is no clip even if it is named like one.
const COMPANION: &[&str] = &[
    "xmp", "xml", "txt", "csv", "tsv", "pdf", "gif", "bmp", "svg", "wav", "bwf", "aif", "aiff",
    "mp3", "m4a", "mhl", "md5", "sha1", "sha256", "xxh", "xxh64", "xxh3", "xxh128", "c4", "json",
    "yaml", "toml", "html", "htm", "log", "db", "dat", "ini", "idx", "thm", "cube", "edl", "otio",
    "ale", "rtf", "doc", "docx", "xls", "xlsx", "ods", "zip", "fdl", "usda", "jsonl",
];

impl Dump {
    /// Files accounted for: every clip's parts and every stray.
    pub fn files(&self) -> usize {
        let files = |part: &Part| {
            part.row.as_ref().map_or(1, |row| usize::try_from(row.files).unwrap_or(usize::MAX))
        };
        let parts = |clip: &Clip| {
            clip.parts.iter().chain(clip.copies.iter().flatten()).map(files).sum::<usize>()
        };
        self.strays.len() + self.clips.iter().map(parts).sum::<usize>()
    }
}

/// Reads the folder `root`. Folders in `leave_out` are not entered; files in `own` are listed as strays with the reason given.
pub fn read(
    root: &Path,
    naming: &Naming,
    leave_out: &[PathBuf],
    own: &[(PathBuf, &'static str)],
) -> Found<Dump> {
    let Found { value: entries, mut findings } = walk::walk(root, leave_out);
    let mut strays = Vec::new();
    let mut groups: BTreeMap<Key, Vec<(Named, Part)>> = BTreeMap::new();
    // Sorted by the text of the path, so that each file is looked up, not searched for.
    let own: BTreeMap<PathBuf, &'static str> =
        own.iter().map(|(path, reason)| (path.clone(), *reason)).collect();
    let stray: Vec<Option<&'static str>> = entries
        .iter()
        .map(|entry| own.get(&root.join(&entry.path)).copied().or_else(|| passed_over(entry)))
        .collect();
    let may: Vec<bool> = entries
        .iter()
        .zip(&stray)
        .map(|(entry, stray)| stray.is_none() && !has(&entry.path, PICTURE))
        .collect();
    let (sequences, taken) = sequence::find(root, &entries, &may, naming, &mut findings);
    for (named, part) in sequences {
        groups.entry(Key::of(&named, &part)).or_default().push((named, part));
    }
    let mut left = vec![true; entries.len()];
    for at in taken {
        if let Some(left) = left.get_mut(at) {
            *left = false;
        }
    }
    for ((entry, reason), _) in entries.into_iter().zip(stray).zip(left).filter(|(_, left)| *left) {
        match reason.map_or_else(|| classify(root, &entry, naming, &mut findings), Err) {
            Ok(named) => {
                let Entry { path, size, .. } = entry;
                let part = Part { number: named.part, size, path, row: None };
                groups.entry(Key::of(&named, &part)).or_default().push((named, part));
            }
            Err(reason) => strays.push(Stray { path: entry.path, reason, still: None }),
        }
    }
    let clips: Vec<Clip> =
        groups.into_values().filter_map(|group| join(group, &mut findings)).collect();
    assign(&mut strays, &clips, naming);
    if clips.is_empty() {
        findings.push(
            Finding::new(Code::DumpNoClips, "no clip was found")
                .at(Place::file(walk::shown(root)))
                .hint("check that this is the folder the cards were copied to"),
        );
    }
    Found { value: Dump { root: root.to_owned(), clips, strays }, findings }
}

/// Tells of each still what it belongs to: the clip whose name its own begins with by a pattern, or that a file beside
/// it has in full; else the roll alone.
fn assign(strays: &mut [Stray], clips: &[Clip], naming: &Naming) {
    let by_name: BTreeMap<String, &Clip> =
        clips.iter().rev().map(|clip| (clip.name.to_lowercase(), clip)).collect();
    let stem = |path: &Path| path.with_extension("").to_string_lossy().to_lowercase();
    let by_file: BTreeMap<String, &Clip> = clips
        .iter()
        .flat_map(|clip| clip.parts.iter().map(move |part| (stem(&part.path), clip)))
        .collect();
    for stray in strays.iter_mut().filter(|stray| stray.reason == STILL) {
        let named = naming.name(&stray.path);
        let called = by_name.get(&named.name.to_lowercase()).filter(|_| named.by_pattern);
        let clip = called.or_else(|| by_file.get(&stem(&stray.path)));
        stray.still = Some(Still {
            clip: clip.map(|clip| clip.name.clone()),
            roll: clip.and_then(|clip| clip.roll.clone()).or(named.roll),
        });
    }
}

/// What makes files parts of one clip: the folder, the name, and that both carry part numbers.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    folder: PathBuf,
    name: String,
    /// Files without part numbers stay apart.
    file: Option<OsString>,
    extension: Option<OsString>,
}

impl Key {
    fn of(named: &Named, part: &Part) -> Self {
        let alone = named.part.is_none();
        Self {
            folder: part.path.parent().unwrap_or(Path::new("")).to_owned(),
            name: named.name.to_lowercase(),
            file: alone.then(|| part.path.file_name().unwrap_or_default().to_owned()),
            extension: part.path.extension().map(OsStr::to_ascii_lowercase),
        }
    }
}

/// Why a file is no clip, as far as that can be told from its name and kind.
fn passed_over(entry: &Entry) -> Option<&'static str> {
    match entry.shape {
        Shape::Link => return Some("a link; not followed"),
        Shape::Special => return Some("not a regular file; not opened"),
        Shape::File => {}
    }
    if walk::is_hidden(&entry.path) {
        return Some("hidden");
    }
    if walk::is_unfinished(&entry.path) {
        return Some("left unfinished by an interrupted run of lensmend");
    }
    has(&entry.path, COMPANION).then_some("a companion file, not moving pictures")
}

/// True if the extension of the file is one of `extensions`.
fn has(path: &Path, extensions: &[&str]) -> bool {
    let extension = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    extension.is_some_and(|extension| extensions.contains(&extension.as_str()))
}

fn classify(
    root: &Path,
    entry: &Entry,
    naming: &Naming,
    findings: &mut Vec<Finding>,
) -> Result<Named, &'static str> {
    let named = naming.name(&entry.path);
    // One frame of a format for frames that is called like a clip is a short clip; any other lone picture is a still.
    let frame = named.by_pattern && has(&entry.path, sequence::FRAMES);
    if has(&entry.path, sequence::PICTURES) && !frame {
        return Err(STILL);
    }
    if has(&entry.path, PICTURE) || named.by_pattern {
        return Ok(named);
    }
    match walk::begins_like_a_movie(&root.join(&entry.path)) {
        Ok(true) => Ok(named),
        Ok(false) => Err("neither its name nor its content is that of a clip"),
        Err(error) => {
            findings.push(walk::unreadable(&entry.path, &error));
            Err("could not be read")
        }
    }
}

fn join(mut group: Vec<(Named, Part)>, findings: &mut Vec<Finding>) -> Option<Clip> {
    group.sort_by(|(_, a), (_, b)| (a.number, &a.path).cmp(&(b.number, &b.path)));
    let (named, first) = group.first()?.clone();
    let name = named.name;
    let numbers: Vec<u32> = group.iter().filter_map(|(_, part)| part.number).collect();
    let expected = numbers.first().map(|first| {
        (*first)..first.saturating_add(u32::try_from(numbers.len()).unwrap_or(u32::MAX))
    });
    let starts_late = numbers.first().is_some_and(|first| *first > 1);
    if starts_late || expected.is_some_and(|expected| !expected.eq(numbers.iter().copied())) {
        let have: Vec<String> = numbers.iter().map(ToString::to_string).collect();
        findings.push(
            Finding::new(
                Code::ClipSpanGap,
                format!("the parts of the clip do not follow one another: {}", have.join(", ")),
            )
            .at(Place::file(walk::shown(&first.path)))
            .clip(name.as_str())
            .hint("look for the missing part on the card before the card is wiped"),
        );
    }
    Some(Clip {
        name,
        roll: named.roll,
        short: named.short,
        parts: group.into_iter().map(|(_, part)| part).collect(),
        copies: Vec::new(),
    })
}

/// Says which clips share a name though they are not the same: what copies are is known once they were looked into.
pub fn name_twice(clips: &[Clip], findings: &mut Vec<Finding>) {
    let mut seen: BTreeMap<String, &Clip> = BTreeMap::new();
    for clip in clips {
        let Some(part) = clip.parts.first() else {
            continue;
        };
        if let Some(first) = seen.get(&clip.name.to_lowercase()).and_then(|clip| clip.parts.first())
        {
            findings.push(
                Finding::new(Code::ClipNameTwice, format!("another clip of this name is {}", walk::shown(&first.path)))
                    .at(Place::file(walk::shown(&part.path)))
                    .clip(clip.name.as_str())
                    .hint("notes that name the clip hold for both if they are one shot; keep one copy in the dump, or each card in a folder named for its roll"),
            );
        } else {
            seen.insert(clip.name.to_lowercase(), clip);
        }
    }
}
