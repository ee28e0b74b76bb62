//! Reading what a run is given: kit, notes, dump, and the headers of every clip.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::{Context, Result, anyhow, bail};
use rayon::prelude::*;

use crate::annotation::Input;
use crate::dump::walk::{self, MediaFile, read_input, shown};
use crate::dump::{self, Clip, Dump, Part, Stray};
use crate::finding::{Code, Finding, Found, Level, Place};
use crate::fingerprint::Fingerprint;
use crate::folder::{KIT, LARGEST_INPUT, LARGEST_KIT, Sources};
use crate::kit::{self, Kit};
use crate::lists::{self, ClipList};
use crate::naming::Naming;
use crate::notes::{self, Notes, SheetMissing};
use crate::read_at::{Digested, ReadAt, sha256};
use crate::recorded::{self, FileFacts, Recorded, frames};
use crate::watch::{Amount, Watch};

/// What was read of text files, what was found on the way, and the files for the run record.
#[derive(Clone, Debug)]
pub struct Read<T> {
    /// What was read.
    pub value: T,
    /// What was found.
    pub findings: Vec<Finding>,
    /// The files.
    pub inputs: Vec<Input>,
}

/// The kit file that is meant by a path: the file itself, or `kit.toml` in a folder. The error says how to make one.
pub fn kit_in(path: &Path) -> Result<PathBuf> {
    let file = if path.is_dir() { path.join(KIT) } else { path.to_owned() };
    if !file.is_file() {
        bail!(
            "there is no kit file {}; `lensmend kit --new {KIT}` writes one to start from",
            file.display()
        );
    }
    Ok(file)
}

/// Reads the kit at `path`, which findings call `name`.
pub fn read_kit(path: &Path, name: &str) -> Result<Read<Kit>> {
    let bytes = read_input(path, LARGEST_KIT)
        .with_context(|| format!("cannot read the kit {}", path.display()))?;
    let Found { value, findings } = kit::parse(name, &bytes);
    Ok(Read { value, findings, inputs: vec![input("kit", name, &bytes)] })
}

/// The kit of a run; an empty one where there is no file of it.
pub fn read_kit_of(sources: &Sources) -> Result<Read<Kit>> {
    match &sources.kit {
        Some(path) => read_kit(path, &sources.name(path)),
        None => Ok(Read { value: Kit::default(), findings: Vec::new(), inputs: Vec::new() }),
    }
}

/// A notes file or clip list as it stands.
pub struct Text {
    bytes: Vec<u8>,
    /// The file.
    pub input: Input,
}

/// Notes and clip lists as they stand.
pub struct Texts {
    /// Notes.
    pub notes: Vec<Text>,
    /// Clip lists.
    pub lists: Vec<Text>,
}

/// Reads the bytes of notes and clip lists.
pub fn read_texts(sources: &Sources) -> Result<Texts> {
    let read = |role: &'static str, paths: &[PathBuf]| {
        let each = paths.iter().map(|path| {
            let bytes = read_input(path, LARGEST_INPUT)
                .with_context(|| format!("cannot read the {role} {}", path.display()))?;
            let input = input(role, &sources.name(path), &bytes);
            Ok(Text { bytes, input })
        });
        each.collect::<Result<Vec<Text>>>()
    };
    Ok(Texts { notes: read("notes", &sources.notes)?, lists: read("clip list", &sources.lists)? })
}

/// Understands notes, of workbooks the sheet that is named. The error tells the sheets there are if no workbook has it.
pub fn parse_notes(texts: &[Text], sheet: Option<&str>) -> Result<Read<Vec<Notes>>> {
    let mut missing = Vec::new();
    let mut met = false;
    let mut read = Read { value: Vec::new(), findings: Vec::new(), inputs: Vec::new() };
    for Text { bytes, input } in texts {
        read.inputs.push(input.clone());
        match notes::parse_sheet(&input.file, bytes, sheet) {
            Ok(Found { value, findings }) => {
                met |= value.sheet.is_some();
                read.value.push(value);
                read.findings.extend(findings);
            }
            Err(SheetMissing(has)) => missing.push((input.file.clone(), has)),
        }
    }
    let Some(wanted) = sheet.filter(|_| !met) else {
        // Another workbook has the sheet that was asked for; that this one has not is worth knowing.
        read.findings.extend(missing.into_iter().map(|(name, has)| no_sheet(&name, &has, sheet)));
        return Ok(read);
    };
    match missing.first() {
        Some((name, has)) => bail!(
            "{} has no sheet \"{}\"; it has: {}",
            calm_name(name),
            calm_name(wanted),
            calm_name(&has.join(", "))
        ),
        // A workbook that cannot be read has said so itself.
        None if !read.findings.is_empty() => Ok(read),
        None => bail!(
            "--sheet \"{}\" was given, but the notes are no workbook that has sheets",
            calm_name(wanted)
        ),
    }
}

/// A name for a message that goes to a terminal as it is.
fn calm_name(name: &str) -> String {
    name.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect()
}

fn no_sheet(file: &str, has: &[String], wanted: Option<&str>) -> Finding {
    let wanted = wanted.unwrap_or_default();
    let message = format!("the workbook has no sheet \"{wanted}\", and was not read");
    Finding::new(Code::NotesUnreadable, message)
        .at(Place::file(file))
        .hint(format!("it has: {}", has.join(", ")))
}

/// Understands clip lists.
pub fn parse_lists(texts: &[Text]) -> Read<Vec<ClipList>> {
    let mut read = Read { value: Vec::new(), findings: Vec::new(), inputs: Vec::new() };
    for Text { bytes, input } in texts {
        let Found { value, findings } = lists::parse(&input.file, bytes);
        read.inputs.push(input.clone());
        read.value.push(value);
        read.findings.extend(findings);
    }
    read
}

/// Walks the dump. Kit, notes and output folder that lie inside it are no part of it.
pub fn read_dump(sources: &Sources, kit: &Kit) -> Result<Found<Dump>> {
    let lists = sources.lists.iter().map(|list| (list, "clip list of this run"));
    let notes = sources.notes.iter().map(|notes| (notes, "lens notes of this run")).chain(lists);
    let kit_file = sources.kit.iter().map(|kit| (kit, "the kit of this run"));
    let own: Vec<_> = kit_file
        .chain(notes)
        .filter_map(|(path, reason)| Some((sources.in_dump(path)?, reason)))
        .collect();
    let leave_out: Vec<_> = sources.in_dump(&sources.into).into_iter().collect();
    Ok(dump::read(&sources.dump, &naming(kit)?, &leave_out, &own))
}

/// The clip-name patterns of the kit, and the built-in ones.
pub fn naming(kit: &Kit) -> Result<Naming> {
    let patterns = kit.naming.iter().map(|pattern| pattern.value.as_str());
    Naming::new(patterns).map_err(|(pattern, why)| anyhow!("pattern {pattern}: {why}"))
}

/// What the files of all clips say.
pub struct Clips {
    /// For each clip what each of its files says.
    pub value: Vec<Vec<FileFacts>>,
    /// What was found.
    pub findings: Vec<Finding>,
    /// Fingerprint of every byte of the media that it rests on.
    pub fingerprint: Fingerprint,
}

/// Opens a file of media at a path: the seam at which a benchmark puts a slow volume.
pub type Open<'a> = &'a (dyn Fn(&Path) -> io::Result<MediaFile> + Sync);

/// What one file says, and the digests of what was read of it.
struct Seen {
    facts: Found<FileFacts>,
    digests: Vec<String>,
}

/// Reads the headers of every file of every clip, and with `per_frame` their timed metadata too; a file that cannot be opened is a finding and says nothing of itself.
/// If `watch` asks to end, what comes back is no use to anybody.
pub fn read_clips(dump: &Dump, per_frame: bool, watch: &dyn Watch) -> Clips {
    read_clips_by(&|path| MediaFile::open(path), dump, per_frame, watch)
}

/// The same, files opened by `open`.
pub fn read_clips_by(open: Open<'_>, dump: &Dump, per_frame: bool, watch: &dyn Watch) -> Clips {
    watch.begin("Reading", Amount::Files(u64::try_from(dump.clips.len()).unwrap_or(u64::MAX)));
    let read: Vec<Vec<Seen>> = dump
        .clips
        .par_iter()
        .map(|clip| {
            if !watch.go_on() {
                return Vec::new();
            }
            watch.done(1);
            clip.parts
                .iter()
                .map(|part| read_part(open, &dump.root, part, clip, per_frame))
                .collect()
        })
        .collect();
    watch.end();
    let mut findings = Vec::new();
    let mut facts = Vec::new();
    let mut fingerprint = Fingerprint::default();
    for clip in read {
        let mut files = Vec::new();
        for Seen { facts: file, digests } in clip {
            fingerprint.each(&digests, |all, one| {
                all.text(one);
            });
            files.push(file.value);
            findings.extend(file.findings);
        }
        facts.push(files);
    }
    Clips { value: facts, findings, fingerprint }
}

/// Reads one file; of a row of files the first, and of pictures the last too, but never all.
fn read_part(open: Open<'_>, root: &Path, part: &Part, clip: &Clip, per_frame: bool) -> Seen {
    let Seen { facts: mut first, mut digests } =
        read_file(open, &root.join(&part.path), &part.path, clip, per_frame);
    let Some(row) = part.row.as_ref().filter(|row| row.pictures) else {
        return Seen { facts: first, digests };
    };
    let Seen { facts: last, digests: more } =
        read_file(open, &root.join(&row.last), &row.last, clip, false);
    digests.extend(more);
    let known = |found: &Finding| first.findings.iter().any(|f| f.message == found.message);
    let more: Vec<Finding> = last.findings.into_iter().filter(|f| !known(f)).collect();
    first.findings.extend(more);
    let steps = row.numbers.1.saturating_sub(row.numbers.0);
    let facts = (Arc::make_mut(&mut first.value.recorded), &*last.value.recorded);
    let apart = frames::join(facts, row.files, steps, &shown(&row.last));
    first.findings.extend(apart.into_iter().map(|finding| finding.clip(clip.name.as_str())));
    Seen { facts: first, digests }
}

fn read_file(open: Open<'_>, place: &Path, path: &Path, clip: &Clip, per_frame: bool) -> Seen {
    let file = match open(place) {
        Ok(file) => file,
        Err(error) => {
            let finding = walk::unreadable(path, &error).clip(clip.name.as_str());
            let facts = Found { value: FileFacts::default(), findings: vec![finding] };
            return Seen { facts, digests: Vec::new() };
        }
    };
    let digested = Digested::new(&file);
    // Samples are essence, and so no part of the digest of the header.
    let samples = Digested::new(&file);
    let essence: Option<&dyn ReadAt> = if per_frame { Some(&samples) } else { None };
    let Found { value: recorded, findings } =
        recorded::read_frames(&digested, essence, &shown(path));
    let header_sha256 = digested.sha256();
    let samples = samples.sha256().filter(|_| per_frame);
    let digests = [Some(file.size().to_string()), header_sha256.clone(), samples];
    let findings = findings.into_iter().map(|finding| finding.clip(clip.name.as_str())).collect();
    let facts = Found { value: FileFacts { recorded: recorded.into(), header_sha256 }, findings };
    Seen { facts, digests: digests.into_iter().flatten().collect() }
}

/// What each stray of `dump` says of itself if it is a still; the others are not opened.
pub fn read_stills(dump: &Dump) -> Found<Vec<Option<Recorded>>> {
    let read = |stray: &Stray| {
        stray.still.as_ref().map(|_| match MediaFile::open(&dump.root.join(&stray.path)) {
            Ok(file) => recorded::read(&file, &shown(&stray.path)),
            Err(error) => Found {
                value: Recorded::default(),
                findings: vec![walk::unreadable(&stray.path, &error)],
            },
        })
    };
    let read: Vec<Option<Found<Recorded>>> = dump.strays.par_iter().map(read).collect();
    let (mut value, mut findings) = (Vec::new(), Vec::new());
    for still in read {
        let Some(still) = still else {
            value.push(None);
            continue;
        };
        value.push(Some(still.value));
        // Kinds of picture that are not read need nobody's notes.
        findings.extend(still.findings.into_iter().filter(|found| found.level() > Level::Info));
    }
    Found { value, findings }
}

/// A file for the record of what was read.
pub fn input(role: &'static str, file: &str, bytes: &[u8]) -> Input {
    let size = u64::try_from(bytes.len()).unwrap_or(u64::MAX);
    Input { role, file: file.to_owned(), sha256: sha256(bytes), size }
}
