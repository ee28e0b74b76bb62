//! The only writer. Every file is decided first, then written beside its place, made durable, and renamed into it.
//!
//! What stands in the way and was not written by lensmend, or was edited since, stays, unless what is to be written holds
//! all of it. A kill at any moment leaves the old file or the new one; the leftover of a broken write has a name of its own
//! and is removed by the next run.
#![expect(
    clippy::disallowed_methods,
    reason = "this is the one place that writes, renames and removes its own unfinished files"
)]

mod folders;
mod holder;
pub mod stream;

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read as _, Write};
use std::path::{Path, PathBuf};
use std::slice;

use rayon::prelude::*;

use crate::dump::walk::{UNFINISHED, read_input};
use crate::finding::Finding;
use crate::read_at::{Hashes, sha256};
use crate::watch::{Unwatched, Watch};
use folders::{make_folder, make_ready, sync_folder};

/// Why a file that its owner protects is not replaced.
const PROTECTED: &str = "it is protected against writing";
/// Larger files are not ours.
const LARGEST: u64 = 1 << 30;

/// Makes what should stand at a place, given the bytes that do.
pub type Make<'a> = Box<dyn Fn(Option<&[u8]>) -> io::Result<Made<'a>> + Send + Sync + 'a>;

/// What should stand at a place.
pub struct Made<'a> {
    /// The bytes; `None` where those that stand there are to be left alone.
    pub bytes: Option<Cow<'a, [u8]>>,
    /// True if they hold everything that stands there: then they may replace what lensmend did not write.
    pub merged: bool,
    /// What to say of it, places left out.
    pub said: Vec<Finding>,
}

impl<'a, T: Into<Cow<'a, [u8]>>> From<T> for Made<'a> {
    fn from(bytes: T) -> Self {
        Self { bytes: Some(bytes.into()), merged: false, said: Vec::new() }
    }
}

/// A file that should stand at a place.
pub struct Planned<'a> {
    /// Where.
    pub target: PathBuf,
    /// The folder that the write must not leave, whatever links lie on the way.
    pub within: PathBuf,
    /// The bytes that should stand there, given those that do: a file that differs only in its date stays as it is.
    pub make: Make<'a>,
}

impl Planned<'_> {
    fn folder(&self) -> &Path {
        self.target.parent().unwrap_or(Path::new("."))
    }
}

/// What becomes of a planned file.
#[derive(Clone, Debug, PartialEq)]
pub enum Fate {
    /// Not there yet; to be written.
    New,
    /// There, written by lensmend, out of date; to be replaced.
    Stale,
    /// There as it should be.
    Same,
    /// Something else stands there; it stays.
    Foreign,
    /// It is recorded in a sealed history, so it stays, or stays away.
    Sealed,
    /// The run was asked to end before its turn came; what was there stands.
    Unwritten,
    /// It could not be made or looked at.
    Failed(String),
}

/// A decision: the fate of a planned file, and the hash of what should stand there.
#[derive(Clone, Debug, PartialEq)]
pub struct Decision {
    /// Fate.
    pub fate: Fate,
    /// Hashes of the bytes as they should be; empty if they could not be made.
    pub hashes: Hashes,
    /// SHA-256 of what stood there when it was decided.
    pub was: Option<String>,
    /// What to say of it, places left out.
    pub said: Vec<Finding>,
}

/// Holds an output folder against a second run at the same time, for as long as it lives.
pub struct Hold {
    _folder: Option<File>,
}

/// Makes the output folder and holds it. The error says if another run has it.
pub fn hold(folder: &Path) -> io::Result<Hold> {
    let mut grown = BTreeSet::new();
    make_folder(folder, &mut grown)?;
    for folder in &grown {
        sync_folder(folder);
    }
    let Ok(file) = File::open(folder) else { return Ok(Hold { _folder: None }) };
    match file.try_lock() {
        Ok(()) => Ok(Hold { _folder: Some(file) }),
        Err(fs::TryLockError::WouldBlock) => {
            let who = holder::of(&file).map(|process| format!(" (process {process})"));
            Err(io::Error::other(format!(
                "another run of lensmend{} is writing there; wait until it has ended",
                who.unwrap_or_default()
            )))
        }
        // Some file systems know no locks; two runs at once are rare enough to go on without.
        Err(fs::TryLockError::Error(_)) => Ok(Hold { _folder: None }),
    }
}

/// Decides what becomes of each file; writes nothing. `ours` tells by its hash whether lensmend wrote what is there.
pub fn decide(
    planned: &[Planned<'_>],
    ours: &(dyn Fn(&Path, &str) -> bool + Sync),
) -> Vec<Decision> {
    decide_again(planned, ours, &|_| None)
}

/// The same where an earlier run left things: a file for which `standing` gives its hashes is known to be as it should be,
/// and is not made to find out.
pub fn decide_again<'s>(
    planned: &[Planned<'_>],
    ours: &(dyn Fn(&Path, &str) -> bool + Sync),
    standing: &(dyn Fn(&Path) -> Option<&'s Hashes> + Sync),
) -> Vec<Decision> {
    let as_before = |file: &Planned<'_>| {
        let hashes = standing(&file.target)?.clone();
        Some(Decision { was: Some(hashes.sha256.clone()), hashes, ..undecided(Fate::Same) })
    };
    planned
        .par_iter()
        .map(|file| as_before(file).unwrap_or_else(|| decide_one(file, ours)))
        .collect()
}

/// Tells for each place whether a regular file with these hashes stands there.
pub fn still(files: &[(PathBuf, &Hashes)]) -> Vec<bool> {
    let has = |bytes: &mut Vec<u8>, target: &Path, hashes: &Hashes| {
        let there = fs::symlink_metadata(target)?;
        if !there.is_file() || there.len() > LARGEST {
            return io::Result::Ok(false);
        }
        // One byte more than there should be, so that a file that grew meanwhile is not taken for the one it was.
        bytes.clear();
        bytes.reserve(usize::try_from(there.len()).map_or(1, |length| length + 1));
        File::open(target)?.take(there.len() + 1).read_to_end(bytes)?;
        Ok(hashes.fit(bytes))
    };
    files
        .par_iter()
        .map_init(Vec::new, |bytes, (target, hashes)| has(bytes, target, hashes).unwrap_or(false))
        .collect()
}

fn decide_one(file: &Planned<'_>, ours: &(dyn Fn(&Path, &str) -> bool + Sync)) -> Decision {
    let mut protected = false;
    let there = match fs::symlink_metadata(&file.target) {
        Ok(metadata) if metadata.is_file() && metadata.len() <= LARGEST => {
            protected = metadata.permissions().readonly();
            match read_input(&file.target, LARGEST) {
                Ok(bytes) => Some(bytes),
                Err(error) => return failed(&error),
            }
        }
        Ok(_) => return undecided(Fate::Foreign),
        Err(error) if error.kind() == io::ErrorKind::NotFound => None,
        Err(error) => return failed(&error),
    };
    let Made { bytes, merged, said } = match (file.make)(there.as_deref()) {
        Ok(made) => made,
        Err(error) => return failed(&error),
    };
    let was = there.as_deref().map(sha256);
    let Some(bytes) = bytes else {
        return Decision { was, said, ..undecided(Fate::Foreign) };
    };
    let fate = match (&there, &was) {
        (Some(there), _) if there.as_slice() == bytes.as_ref() => Fate::Same,
        // Renaming over it would get round the protection that somebody gave it.
        (_, Some(was)) if merged || ours(&file.target, was) => {
            if protected {
                Fate::Failed(PROTECTED.to_owned())
            } else {
                Fate::Stale
            }
        }
        (_, Some(_)) => Fate::Foreign,
        (_, None) => Fate::New,
    };
    Decision { fate, hashes: Hashes::of(&bytes), was, said }
}

fn undecided(fate: Fate) -> Decision {
    Decision { fate, hashes: Hashes::default(), was: None, said: Vec::new() }
}

fn failed(error: &io::Error) -> Decision {
    undecided(Fate::Failed(error.to_string()))
}

/// Decides on one file that nobody else writes, and writes it unless `dry_run`.
pub fn put(file: &Planned<'_>, dry_run: bool) -> Decision {
    let mut decision = decide_one(file, &|_, _| true);
    if !dry_run {
        carry_out(slice::from_ref(file), slice::from_mut(&mut decision), &Unwatched);
    }
    decision
}

/// Writes every file that is new or stale, and makes files and folders durable. What fails is marked; the rest is written,
/// until `watch` asks to end.
pub fn carry_out(planned: &[Planned<'_>], decisions: &mut [Decision], watch: &dyn Watch) {
    let to_write = |decision: &Decision| matches!(decision.fate, Fate::New | Fate::Stale);
    let files = planned.iter().zip(decisions.iter());
    let folders: BTreeSet<(&Path, &Path)> = files
        .filter(|(_, decision)| to_write(decision))
        .map(|(file, _)| (file.folder(), file.within.as_path()))
        .collect();
    let ready = make_ready(&folders);
    let leftovers = leftovers(planned);
    let put = |file: &Planned<'_>, was: Option<&str>| {
        let unfinished = unfinished(&file.target);
        let written = match ready.get(&(file.folder(), file.within.as_path())) {
            Some(Err(error)) => Err(io::Error::other(error.to_string())),
            _ => write(file, &unfinished, was),
        };
        if written.is_err() {
            // The leftover has no use; that removing it may fail too changes nothing.
            let _ = fs::remove_file(&unfinished);
        }
        written
    };
    let again: Vec<bool> = planned
        .par_iter()
        .zip(decisions.par_iter_mut())
        .map(|(file, decision)| {
            if to_write(decision) && !watch.go_on() {
                decision.fate = Fate::Unwritten;
            } else if to_write(decision) {
                watch.done(1);
                match put(file, decision.was.as_deref()) {
                    Err(error) if is_full(&error) => return true,
                    Err(error) => decision.fate = Fate::Failed(error.to_string()),
                    Ok(()) => {}
                }
            } else if leftovers.contains(&unfinished(&file.target)) {
                remove_leftover(&file.target);
            }
            false
        })
        .collect();
    // Files that are written side by side can fill a drive together on which some of them have room.
    let again = planned.iter().zip(decisions.iter_mut()).zip(again).filter(|(_, again)| *again);
    for ((file, decision), _) in again {
        if let Err(error) = put(file, decision.was.as_deref()) {
            decision.fate = Fate::Failed(error.to_string());
        }
    }
    for (folder, _) in folders {
        sync_folder(folder);
    }
}

fn is_full(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded)
}

/// What killed runs left in the folders of planned files. Listing a folder is cheaper than looking for each file.
fn leftovers(planned: &[Planned<'_>]) -> BTreeSet<PathBuf> {
    let folders: BTreeSet<&Path> = planned.iter().map(Planned::folder).collect();
    let entries = folders.into_iter().filter_map(|folder| fs::read_dir(folder).ok()).flatten();
    let left = entries
        .flatten()
        .filter(|entry| entry.file_name().as_encoded_bytes().ends_with(UNFINISHED.as_bytes()));
    left.map(|entry| entry.path()).collect()
}

/// Writes one file. What came to stand there, or was changed, since it was decided is not written over.
fn write(file: &Planned<'_>, unfinished: &Path, was: Option<&str>) -> io::Result<()> {
    let there = unchanged(&file.target, was)?;
    let Some(bytes) = (file.make)(there.as_deref())?.bytes else {
        return Err(io::Error::other("somebody changed it while this run was under way"));
    };
    match fs::remove_file(unfinished) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut out = OpenOptions::new().write(true).create_new(true).open(unfinished)?;
    out.write_all(&bytes)?;
    if let Ok(metadata) = fs::symlink_metadata(&file.target) {
        // Who may read the old file may read the new one; a file system without rights has none to keep.
        let _ = out.set_permissions(metadata.permissions());
    }
    out.sync_all()?;
    drop(out);
    // Making durable can take seconds on a busy drive, long enough for somebody to save an edit.
    unchanged(&file.target, was)?;
    fs::rename(unfinished, &file.target)
}

/// What stands at a place, which must be what stood there when it was decided.
fn unchanged(target: &Path, was: Option<&str>) -> io::Result<Option<Vec<u8>>> {
    let there = match fs::symlink_metadata(target) {
        Ok(metadata) if metadata.is_file() => Some(read_input(target, LARGEST)?),
        Ok(_) => return Err(io::Error::other("something else came to stand there meanwhile")),
        Err(_) => None,
    };
    if there.as_deref().map(sha256).as_deref() == was {
        Ok(there)
    } else {
        Err(io::Error::other("somebody changed it while this run was under way"))
    }
}

fn unfinished(target: &Path) -> PathBuf {
    let mut name = target.as_os_str().to_owned();
    name.push(UNFINISHED);
    PathBuf::from(name)
}

/// Removes a file that only lensmend writes, such as its journal, and what a kill left of it; not being there is no error.
pub fn remove_own(path: &Path) -> io::Result<()> {
    // Looked at first: a run that changes nothing asks for no change.
    if fs::symlink_metadata(path).is_ok() {
        fs::remove_file(path)?;
    }
    remove_leftover(path);
    Ok(())
}

/// Removes what a killed run left of a write to `target`; the name is ours alone.
pub fn remove_leftover(target: &Path) {
    let unfinished = unfinished(target);
    if fs::symlink_metadata(&unfinished).is_ok_and(|leftover| leftover.is_file()) {
        let _ = fs::remove_file(&unfinished);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_changes_between_deciding_and_writing_is_not_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("a.xmp");
        let planned = [Planned {
            target: target.clone(),
            within: folder.path().to_owned(),
            make: Box::new(|_| Ok(b"ours".as_slice().into())),
        }];
        for before in [None, Some("old")] {
            match before {
                Some(text) => fs::write(&target, text).unwrap(),
                None => assert!(!target.exists()),
            }
            let mut decisions = decide(&planned, &|_, _| true);
            fs::write(&target, "edited meanwhile").unwrap();
            carry_out(&planned, &mut decisions, &Unwatched);
            assert!(matches!(decisions[0].fate, Fate::Failed(_)), "{decisions:?}");
            assert_eq!(fs::read(&target).unwrap(), b"edited meanwhile");
        }
        let mut decisions = decide(&planned, &|_, _| true);
        carry_out(&planned, &mut decisions, &Unwatched);
        assert_eq!(fs::read(&target).unwrap(), b"ours");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left beside it");
    }
}
