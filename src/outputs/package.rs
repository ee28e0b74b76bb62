//! A package: files of one folder with a record of their own, written like every other output.
//!
//! What a package wrote before is known from its record, and from its journal if a run was killed; anything else that
//! stands in the way stays.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::Path;
use std::slice;

use anyhow::{Context, Result, bail};
use rayon::prelude::*;

use crate::dump::walk::{There, read_input, shown, there};
use crate::finding::Finding;
use crate::output::Stamp;
use crate::output::before::{self, Before};
use crate::output::calm::calm;
use crate::output::record::{self, OutputFile};
use crate::place::stream::{self, Streamed};
use crate::place::{self, Decision, Fate, Planned};
use crate::read_at::Hashes;
use crate::watch::{Amount, Interrupted, Watch};

use super::known::orphan_finding;
use super::{changes, own, troubles};

/// Most bytes of a record.
const LARGEST_RECORD: u64 = 1 << 30;

/// A kind of package: what its record and journal are called.
#[derive(Clone, Copy, Debug)]
pub struct Kind {
    /// Name of the record in the folder.
    pub record: &'static str,
    /// The first member of the record.
    pub format: &'static str,
    /// Name of the journal in the folder.
    pub journal: &'static str,
}

/// Makes the bytes of a file.
pub type Make<'a> = Box<dyn Fn() -> io::Result<Vec<u8>> + Send + Sync + 'a>;

/// A file of a package.
pub struct Item<'a> {
    /// What it is, for the record.
    pub role: &'static str,
    /// Path inside the folder.
    pub file: String,
    /// Its bytes; the same whenever nothing changed.
    pub make: Make<'a>,
}

/// A file of a package that is too large to be held whole.
pub struct Stream<'a> {
    /// What it is, for the record.
    pub role: &'static str,
    /// Path inside the folder.
    pub file: String,
    /// Writes its bytes; the same whenever nothing changed.
    pub fill: stream::Fill<'a>,
}

/// The files of a package.
#[derive(Clone, Copy)]
pub struct Files<'a> {
    /// Those made whole.
    pub whole: &'a [Item<'a>],
    /// Those made piece by piece.
    pub streams: &'a [Stream<'a>],
}

/// Makes the record of files that stand, with what was found of them, and of a date.
pub type MakeRecord<'a> =
    dyn Fn(&[OutputFile], &[Finding], &Stamp) -> serde_json::Result<Vec<u8>> + 'a;

/// What was written.
pub struct Done {
    /// The record.
    pub record: Vec<u8>,
    /// Trouble with files.
    pub findings: Vec<Finding>,
    /// What to say of it.
    pub talk: String,
}

/// Where and how a package is written.
#[derive(Clone, Copy)]
pub struct Folder<'a> {
    /// The folder.
    pub into: &'a Path,
    /// Write nothing.
    pub dry_run: bool,
    /// Date and version.
    pub stamp: &'a Stamp,
    /// Who waits.
    pub watch: &'a dyn Watch,
}

/// Plans and writes the files of a package. An error means that nothing was written.
pub fn write(
    kind: Kind,
    folder: Folder<'_>,
    files: Files<'_>,
    make_record: &MakeRecord<'_>,
) -> Result<Done> {
    let items = files.whole;
    let Folder { into, dry_run, stamp, watch } = folder;
    let _hold = if dry_run {
        None
    } else {
        Some(place::hold(into).with_context(|| format!("cannot write into {}", into.display()))?)
    };
    let known = Known::read(into, kind)?;
    let planned: Vec<Planned<'_>> = items
        .iter()
        .map(|item| Planned {
            target: into.join(&item.file),
            within: into.to_owned(),
            make: Box::new(|_| Ok((item.make)()?.into())),
        })
        .collect();
    let ours = |path: &Path, sha: &str| {
        path.strip_prefix(into).is_ok_and(|inside| known.wrote(&shown(inside), sha))
    };
    let streamed: Vec<Streamed<'_>> = files
        .streams
        .iter()
        .map(|file| Streamed {
            target: into.join(&file.file),
            within: into.to_owned(),
            fill: Box::new(|out| (file.fill)(out)),
        })
        .collect();
    let mut decisions = place::decide(&planned, &ours);
    decisions.par_extend(streamed.par_iter().map(|file| stream::decide(file, &ours)));
    if !watch.go_on() {
        bail!(Interrupted { written: None });
    }
    let roles = items.iter().map(|item| (item.role, item.file.as_str()));
    let roles: Vec<(&'static str, &str)> =
        roles.chain(files.streams.iter().map(|file| (file.role, file.file.as_str()))).collect();
    if !dry_run {
        if decisions.iter().any(|decision| changes(&decision.fate)) {
            known.journal(kind, folder, &roles, &decisions)?;
        }
        carry_out(&planned, &streamed, &mut decisions, watch)?;
    }
    let places: Vec<String> = roles.iter().map(|(_, file)| (*file).to_owned()).collect();
    let mut findings: Vec<Finding> = troubles(&places, &decisions).collect();
    let orphans = known.orphans(into, &places);
    findings.extend(orphans.iter().map(orphan_finding));
    let stand = roles.iter().zip(&decisions).filter_map(|(file, d)| stands(*file, d, &known));
    let stand: Vec<OutputFile> = stand.chain(orphans).collect();
    let path = into.join(kind.record);
    let record = dated(&known, &|stamp| make_record(&stand, &findings, stamp), stamp, &path)?;
    let last = place::put(&own(kind.record, into, &record), dry_run);
    if let Fate::Failed(_) = &last.fate {
        findings.extend(troubles(&[kind.record.to_owned()], slice::from_ref(&last)));
    } else if !dry_run {
        // A journal that stays costs nothing but its place: the next run reads and removes it.
        let _ = place::remove_own(&into.join(kind.journal));
    }
    let count = |fits: &dyn Fn(&Fate) -> bool| {
        decisions.iter().chain([&last]).filter(|decision| fits(&decision.fate)).count()
    };
    let (changed, same) = (count(&changes), count(&|fate| *fate == Fate::Same));
    let verb = if dry_run { "Would write" } else { "Wrote" };
    let talk = format!(
        "{verb} {changed} files into {}; {same} are as they should be.",
        calm(&shown(into))
    );
    Ok(Done { record, findings, talk })
}

/// Writes what is to be written; the error says that the run was asked to end before all of it was.
fn carry_out(
    planned: &[Planned<'_>],
    streamed: &[Streamed<'_>],
    decisions: &mut [Decision],
    watch: &dyn Watch,
) -> Result<()> {
    let count = |decisions: &[Decision], fits: &dyn Fn(&Fate) -> bool| {
        decisions.iter().filter(|decision| fits(&decision.fate)).count()
    };
    let all = count(decisions, &changes);
    watch.begin("Writing", Amount::Files(u64::try_from(all).unwrap_or(u64::MAX)));
    let (whole, rest) = decisions.split_at_mut(planned.len());
    place::carry_out(planned, whole, watch);
    streamed.par_iter().zip(rest.par_iter_mut()).for_each(|(file, decision)| {
        if changes(&decision.fate) && !watch.go_on() {
            decision.fate = Fate::Unwritten;
        } else {
            stream::carry_out(file, decision);
            watch.done(1);
        }
    });
    watch.end();
    if count(decisions, &|fate| *fate == Fate::Unwritten) > 0 {
        bail!(Interrupted { written: Some((count(decisions, &changes), all)) });
    }
    Ok(())
}

/// The record with the date of before if nothing else changed, else with the date of now.
fn dated(
    known: &Known,
    make: &dyn Fn(&Stamp) -> serde_json::Result<Vec<u8>>,
    stamp: &Stamp,
    there: &Path,
) -> Result<Vec<u8>> {
    if let Some(date) = &known.date {
        let same = make(&Stamp { date: date.clone(), ..stamp.clone() })?;
        if read_input(there, LARGEST_RECORD).is_ok_and(|there| there == same) {
            return Ok(same);
        }
    }
    Ok(make(stamp)?)
}

/// The file as the record lists it. What could not be replaced is listed as it was: it is still ours.
fn stands(
    (role, file): (&'static str, &str),
    decision: &Decision,
    known: &Known,
) -> Option<OutputFile> {
    let listed = |sha256| OutputFile {
        role,
        file: file.to_owned(),
        of: None,
        hashes: Hashes::sha256(sha256),
    };
    match decision.fate {
        Fate::New | Fate::Stale | Fate::Same => Some(listed(decision.hashes.sha256.clone())),
        Fate::Foreign => None,
        Fate::Sealed | Fate::Unwritten | Fate::Failed(_) => {
            decision.was.clone().filter(|was| known.wrote(file, was)).map(listed)
        }
    }
}

/// What a package of this kind wrote into the folder before.
#[derive(Default)]
struct Known {
    date: Option<String>,
    hashes: BTreeMap<String, BTreeSet<String>>,
    recorded: Vec<(String, String)>,
}

impl Known {
    /// The error says that something else has the name of the record or of the journal.
    fn read(into: &Path, kind: Kind) -> Result<Self> {
        let mut known = Self::default();
        if let Some(before) = read(&into.join(kind.record), kind.format)? {
            known.date = Some(before.written);
            for output in before.outputs {
                known.recorded.push((output.file.clone(), output.sha256.clone()));
                known.hashes.entry(output.file).or_default().insert(output.sha256);
            }
        }
        if let Some(before) = read(&into.join(kind.journal), record::JOURNAL_FORMAT)? {
            for output in before.outputs {
                known.hashes.entry(output.file).or_default().insert(output.sha256);
            }
        }
        Ok(known)
    }

    fn wrote(&self, file: &str, sha: &str) -> bool {
        self.hashes.get(file).is_some_and(|hashes| hashes.contains(sha))
    }

    /// Files of earlier runs that this one does not write and that are still there.
    fn orphans(&self, into: &Path, places: &[String]) -> Vec<OutputFile> {
        let now: BTreeSet<&str> = places.iter().map(String::as_str).collect();
        let left = |file: &str| {
            // A record is read from disk: a path that leads out of the folder is none of ours.
            let inside = Path::new(file)
                .components()
                .all(|part| matches!(part, std::path::Component::Normal(_)));
            inside && !now.contains(file) && there(&into.join(file)) == There::File
        };
        let orphans = self.recorded.iter().filter(|(file, _)| left(file));
        let listed = |(file, sha256): &(String, String)| OutputFile {
            role: "orphan",
            file: file.clone(),
            of: None,
            hashes: Hashes::sha256(sha256.clone()),
        };
        orphans.map(listed).collect()
    }

    /// Writes the journal: everything about to be written, and everything known from a run that was killed.
    fn journal(
        &self,
        kind: Kind,
        folder: Folder<'_>,
        files: &[(&'static str, &str)],
        decisions: &[Decision],
    ) -> Result<()> {
        let mut hashes = self.hashes.clone();
        for ((_, file), decision) in files.iter().zip(decisions) {
            hashes.entry((*file).to_owned()).or_default().insert(decision.hashes.sha256.clone());
        }
        let bytes = record::journal(&hashes, folder.stamp)?;
        match place::put(&own(kind.journal, folder.into, &bytes), false).fate {
            Fate::Failed(why) => bail!("cannot write the journal; nothing else was written: {why}"),
            Fate::Foreign => bail!("{} is there, but is no file of lensmend", kind.journal),
            _ => Ok(()),
        }
    }
}

/// Reads a record or journal of `format`; nothing if there is none.
fn read(path: &Path, format: &str) -> Result<Option<Before>> {
    if there(path) == There::Nothing {
        return Ok(None);
    }
    let before = read_input(path, LARGEST_RECORD)
        .ok()
        .and_then(|bytes| before::read_back(&bytes, format))
        .filter(|_| there(path) == There::File);
    if before.is_none() {
        bail!(
            "{} is there, but was not written by this version of lensmend; choose another output folder with --into",
            path.display()
        );
    }
    Ok(before)
}
