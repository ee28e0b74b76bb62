//! Whole or not: every file of every clip is read to its end and held against all that hash lists say of it.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use crate::dump::walk::{MediaFile, There, list, shown, there};
use crate::dump::{Clip, Dump, Part, Row};
use crate::finding::{Code, Finding, Place};
use crate::read_at::ReadAt;
use crate::watch::{Amount, Watch};

use super::digest::{Hashing, Kind};
use super::history::{self, Says};
use super::{Histories, Lists};

/// Bytes read at once.
const PIECE: usize = 1 << 20;
/// Findings of one kind; past them the rest is counted.
const MOST: usize = 1000;

/// What came of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Verified {
    /// Clips with a file that is not what a list says: places in the dump's row of clips.
    pub unsound: BTreeSet<usize>,
    /// Files that are what their lists say.
    pub whole: usize,
    /// What was found.
    pub findings: Vec<Finding>,
}

/// What a file turned out to be.
enum Found {
    Whole,
    Unlisted,
    Bad(Finding),
    /// Nobody looked: the run was asked to end.
    Passed,
}

/// Holds every file of every clip against the lists, and looks for recorded files that are gone.
pub fn verify(dump: &Dump, lists: &Lists, watch: &dyn Watch) -> Verified {
    let mut verified = Verified::default();
    if lists.histories.all.is_empty() && lists.plain == 0 {
        verified.findings.push(
            Finding::new(
                Code::SealUnlisted,
                "the dump holds no hash list, so no clip could be verified",
            )
            .hint("have the dump sealed (ASC MHL) or listed (md5sum) where the cards are copied"),
        );
        return verified;
    }
    let files: Vec<(usize, Vec<PathBuf>)> = dump
        .clips
        .iter()
        .enumerate()
        .flat_map(|(at, clip)| parts(clip).map(move |part| (at, part)))
        .map(|(at, part)| (at, files_of(&dump.root, part)))
        .collect();
    let bytes =
        dump.clips.iter().flat_map(parts).map(|part| part.size).fold(0, u64::saturating_add);
    watch.begin("Verifying", Amount::Bytes(bytes));
    let look_at = || -> Vec<Vec<Found>> {
        let all = files.par_iter().map(|(_, part)| {
            let part = part.par_iter();
            part.map(|file| look(&dump.root, file, &says(lists, file), watch)).collect()
        });
        all.collect()
    };
    // Whole files keep drive and processor busy: more of them at once than there are processors would only be in each other's way.
    let looked = match rayon::ThreadPoolBuilder::new().build() {
        Ok(pool) => pool.install(look_at),
        Err(_) => look_at(),
    };
    watch.end();
    for ((at, files), looked) in files.iter().zip(looked) {
        let name = dump.clips.get(*at).map(|clip| clip.name.as_str()).unwrap_or_default();
        verified.take_in(*at, name, files, looked);
    }
    verified.gone(dump, lists);
    verified
}

impl Verified {
    /// Findings of one row of files are one finding of each kind.
    fn take_in(&mut self, at: usize, clip: &str, files: &[PathBuf], looked: Vec<Found>) {
        let (mut bad, mut unlisted) = (Vec::new(), Vec::new());
        for (file, found) in files.iter().zip(looked) {
            match found {
                Found::Whole => self.whole += 1,
                Found::Unlisted => unlisted.push(file),
                Found::Bad(finding) => bad.push(finding),
                Found::Passed => {}
            }
        }
        let others = bad.len().saturating_sub(1);
        if let Some(mut first) = bad.into_iter().next() {
            self.unsound.insert(at);
            if others > 0 {
                first.message =
                    format!("{}; so it is with {others} more files of the clip", first.message);
            }
            self.findings.push(first.clip(clip));
        }
        if let Some(first) = unlisted.first() {
            let message = match unlisted.len() {
                1 => "is in no hash list, so nobody can say whether it is whole".to_owned(),
                count => {
                    format!("{count} files of the clip are in no hash list; this is the first")
                }
            };
            self.findings.push(
                Finding::new(Code::SealUnlisted, message)
                    .at(Place::file(shown(first)))
                    .clip(clip)
                    .hint("compare it with the card before the card is wiped"),
            );
        }
    }

    /// Recorded files of the dump that are not there.
    fn gone(&mut self, dump: &Dump, lists: &Lists) {
        let mut gone: BTreeMap<PathBuf, Finding> = BTreeMap::new();
        let mut look = |file: PathBuf, list: &str| {
            let what = match there(&dump.root.join(&file)) {
                There::File => return,
                There::Nothing => "is not there",
                There::Folder | There::Other => "something else stands in its place",
            };
            let name = shown(&file);
            gone.entry(file).or_insert_with(|| history::missing(list, &name, what));
        };
        for history in &lists.histories.all {
            for (path, known) in history.files() {
                let first = known.says.first().filter(|_| !known.moved && !history.ignores(path));
                let file = match &history.at {
                    history::At::Inside(folder) => Some(folder.join(path)),
                    history::At::Above(lead) => path.strip_prefix(lead).ok().map(Path::to_owned),
                };
                if let (Some(says), Some(file)) = (first, file) {
                    look(file, &says.list);
                }
            }
        }
        for (file, says) in &lists.sums {
            if let Some(says) = says.first() {
                look(file.clone(), &says.list);
            }
        }
        let more = gone.len().saturating_sub(MOST);
        self.findings.extend(gone.into_values().take(MOST));
        if more > 0 {
            let message = format!("{more} more recorded files are not there");
            self.findings.push(Finding::new(Code::SealMissing, message));
        }
    }
}

/// Every file or row of files of a clip, its copies too.
fn parts(clip: &Clip) -> impl Iterator<Item = &Part> {
    clip.parts.iter().chain(clip.copies.iter().flatten())
}

/// The file, or every file of the row.
fn files_of(root: &Path, part: &Part) -> Vec<PathBuf> {
    let Some(row) = &part.row else { return vec![part.path.clone()] };
    let folder = part.path.parent().unwrap_or(Path::new(""));
    let entries = list(&root.join(folder)).unwrap_or_default();
    let names = entries.into_iter().filter(|(_, is_folder)| !is_folder);
    let files: Vec<PathBuf> = names
        .filter_map(|(path, _)| Some(folder.join(path.file_name()?)))
        .filter(|file| in_row(file, &part.path, row))
        .collect();
    if files.is_empty() { vec![part.path.clone()] } else { files }
}

/// Files of the dump that the closest history neither records nor passes over.
pub fn unrecorded(dump: &Dump, histories: &Histories) -> BTreeSet<PathBuf> {
    let clips = dump.clips.iter().flat_map(parts).flat_map(|part| files_of(&dump.root, part));
    let strays = dump.strays.iter().map(|stray| stray.path.clone());
    let lacks = |file: &PathBuf| {
        let closest = histories.closest(file);
        closest.is_some_and(|(at, path)| histories.all.get(at).is_some_and(|h| h.lacks(&path)))
    };
    let there = |file: &PathBuf| there(&dump.root.join(file)) == There::File;
    clips.chain(strays).filter(|file| lacks(file) && there(file)).collect()
}

/// True if a file is called like the first of the row but for its number, and its number is one of the row.
fn in_row(file: &Path, first: &Path, row: &Row) -> bool {
    let (Some(a), Some(b)) = (pieces(file), pieces(first)) else { return file == first };
    let alike = a.front.eq_ignore_ascii_case(b.front) && a.end.eq_ignore_ascii_case(b.end);
    alike && (row.numbers.0..=row.numbers.1).contains(&a.number)
}

/// A numbered name in its pieces.
struct Pieces<'a> {
    front: &'a str,
    number: u64,
    end: &'a str,
}

/// The number stands at the end of the name, or of the name without its extension.
fn pieces(file: &Path) -> Option<Pieces<'_>> {
    let name = file.file_name()?.to_str()?;
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let (stem, end) = match name.rsplit_once('.') {
        Some((_, extension)) if digits(extension) => (name, ""),
        Some((stem, _)) => (stem, name.get(stem.len()..)?),
        None => (name, ""),
    };
    let front = stem.trim_end_matches(|letter: char| letter.is_ascii_digit());
    let number = stem.get(front.len()..)?.parse().ok()?;
    Some(Pieces { front, number, end })
}

/// All that lists say of a file of the dump.
fn says<'a>(lists: &'a Lists, file: &Path) -> Vec<&'a Says> {
    let sealed = lists.histories.all.iter().filter_map(|history| {
        let known = history.file(&history.path_of(file)?)?;
        Some(known.says.iter())
    });
    let plain = lists.sums.get(file).into_iter().flatten();
    sealed
        .flatten()
        .chain(plain)
        .filter(|says| says.size.is_some() || !says.hashes.is_empty())
        .collect()
}

fn look(root: &Path, file: &Path, says: &[&Says], watch: &dyn Watch) -> Found {
    if !watch.go_on() {
        return Found::Passed;
    }
    let open = match MediaFile::open(&root.join(file)) {
        Ok(open) => open,
        Err(error) => return Found::Bad(bad(file, &format!("cannot be read: {error}"))),
    };
    if says.is_empty() {
        watch.done(open.size());
        return Found::Unlisted;
    }
    // A size tells at once what a hash would tell after reading the whole file.
    if let Some((size, list)) = says
        .iter()
        .filter_map(|says| Some((says.size?, &says.list)))
        .find(|(size, _)| *size != open.size())
    {
        watch.done(open.size());
        let what = format!("has {} bytes, and {size} by {list}", open.size());
        return Found::Bad(bad(file, &what));
    }
    let kinds: BTreeSet<Kind> =
        says.iter().flat_map(|says| says.hashes.iter().map(|(kind, _)| *kind)).collect();
    if kinds.is_empty() {
        watch.done(open.size());
        return Found::Unlisted;
    }
    let hashes = match hash(&open, kinds, watch) {
        Ok(Some(hashes)) => hashes,
        Ok(None) => return Found::Passed,
        Err(error) => return Found::Bad(bad(file, &format!("cannot be read to its end: {error}"))),
    };
    let differs = |says: &&&Says| says.hashes.iter().any(|said| !hashes.contains(said));
    match says.iter().find(differs) {
        Some(says) => Found::Bad(bad(
            file,
            &format!("is not what {} says: its bytes were changed", says.list),
        )),
        None => Found::Whole,
    }
}

/// Hashes of a whole file; `None` if the run was asked to end.
fn hash(
    file: &MediaFile,
    kinds: BTreeSet<Kind>,
    watch: &dyn Watch,
) -> io::Result<Option<Vec<(Kind, String)>>> {
    let mut hashing = Hashing::new(kinds);
    let mut piece = vec![0; PIECE];
    let mut at = 0;
    loop {
        if !watch.go_on() {
            return Ok(None);
        }
        let count = file.read_at(at, &mut piece)?;
        hashing.update(piece.get(..count).unwrap_or_default());
        let count = u64::try_from(count).unwrap_or(u64::MAX);
        at = at.saturating_add(count);
        watch.done(count);
        if count == 0 {
            return Ok(Some(hashing.finish()));
        }
    }
}

fn bad(file: &Path, what: &str) -> Finding {
    Finding::new(Code::SealMismatch, what).at(Place::file(shown(file))).hint(
        "copy it again from the card, then run again; nothing is written for the clip until then",
    )
}
