//! What lensmend wrote into an output folder before: its last record, and the journal of a run that was killed.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use anyhow::{Result, anyhow, bail};

use crate::dump::walk::{MediaFile, There, read_input, shown, there};
use crate::finding::{Code, Finding, Place};
use crate::output::Stamp;
use crate::output::before::{self, Before, BeforeFile, Fingerprints};
use crate::output::record::{self, OutputFile};
use crate::output::told::{self, Told};
use crate::place::{self, Decision, Fate, Planned};
use crate::read_at::Hashes;

use crate::folder::{JOURNAL, RECORD, Sources};

use super::{Job, own, unchanged};

/// Stands before the path of a sidecar beside its clip, in records.
const BESIDE: &str = "dump:";
/// The role of a file that no run writes any more.
const ORPHAN: &str = "orphan";
/// Most bytes of a run record: some hundred thousand clips.
pub(super) const LARGEST_RECORD: u64 = 1 << 30;

/// What lensmend wrote into the output folder before.
#[derive(Default)]
pub(super) struct Known {
    /// Date of the last run that changed something.
    date: Option<String>,
    /// Hashes under which a run that was killed had written each file, or was about to.
    unfinished: BTreeMap<String, BTreeSet<String>>,
    /// Files of the last finished run, with their hashes.
    recorded: Vec<(String, Hashes)>,
    /// Where among them a file is; made when somebody asks, since a run with nothing new does not.
    index: OnceLock<BTreeMap<String, usize>>,
    /// Of each whether it still has that hash; nobody asks where the rest is not known for sure.
    still: Vec<bool>,
    /// What that run was made from, if nobody touched its record and no later run was killed.
    fingerprints: Option<Fingerprints>,
    /// How many of its files are orphans.
    orphaned: usize,
    /// What it told, where somebody may want that again.
    told: Option<Told>,
    /// Sidecars of nobody else stand beside those of that run.
    alone: bool,
}

impl Known {
    /// Reads record and journal. The error says that something else has the record's name.
    pub(super) fn read(sources: &Sources) -> Result<Self> {
        let into = &sources.into;
        let (mut known, mut end) = (Self::default(), Vec::new());
        let record = into.join(RECORD);
        let read = |path: &Path, format| {
            read_input(path, LARGEST_RECORD)
                .ok()
                .and_then(|bytes| before::read_back(&bytes, format))
        };
        let stands = there(&record);
        if stands != There::Nothing {
            let before = untouched(&record)
                .or_else(|| read(&record, record::FORMAT))
                .filter(|_| stands == There::File);
            let Some(before) = before else {
                bail!(
                    "{} is there, but is no run record of this version; choose another output folder with --into",
                    record.display()
                );
            };
            known.date = Some(before.written);
            known.fingerprints = before.fingerprints;
            end = before.end;
            known.orphaned = before.outputs.iter().filter(|output| output.role == ORPHAN).count();
            let files = before
                .outputs
                .into_iter()
                .map(|BeforeFile { file, sha256, xxh128, .. }| (file, Hashes { sha256, xxh128 }));
            known.recorded = files.collect();
        }
        // It is renamed into its place whole: one that cannot be read is somebody else's file.
        let journal = into.join(JOURNAL);
        let found = there(&journal);
        let before = read(&journal, record::JOURNAL_FORMAT).filter(|_| found == There::File);
        if found != There::Nothing && before.is_none() {
            bail!(
                "{} is there, but is no journal of lensmend; move it away, or choose another output folder with --into",
                journal.display()
            );
        }
        if let Some(before) = before {
            known.fingerprints = None;
            for output in before.outputs {
                known.unfinished.entry(output.file).or_default().insert(output.sha256);
            }
        }
        if known.fingerprints.is_some() {
            let all = known.recorded.iter();
            let places: Vec<(PathBuf, &Hashes)> =
                all.map(|(file, hashes)| (place_of(sources, file), hashes)).collect();
            // All three look at much, and none needs the others.
            let (still, (told, alone)) = rayon::join(
                || place::still(&places),
                || rayon::join(|| told::read(&end), || unchanged::alone(&places)),
            );
            (known.still, known.told, known.alone) = (still, told, alone);
        }
        Ok(known)
    }

    /// True if `file` with this hash is lensmend's own.
    pub(super) fn wrote(&self, file: &str, sha: &str) -> bool {
        let unfinished = self.unfinished.get(file);
        self.hashes(file).is_some_and(|hashes| hashes.sha256 == sha)
            || unfinished.is_some_and(|hashes| hashes.contains(sha))
    }

    /// True if nobody touched the record of the last run, nor any file that it left.
    pub(super) fn untouched(&self) -> bool {
        self.fingerprints.is_some() && self.still.iter().all(|still| *still)
    }

    /// The date of the last run that changed something.
    pub(super) fn date(&self) -> Option<&str> {
        self.date.as_deref()
    }

    /// What the last run told, if it was made from the same and every file stands alone, as it left it and should: the count of
    /// its files without orphans, and what it told.
    pub(super) fn all_stands(&self, inputs: &str, strays: &str) -> Option<(usize, &Told)> {
        let before = self.fingerprints.as_ref()?;
        let same = before.inputs == inputs && before.strays == strays && before.again.is_empty();
        if !same || !self.untouched() || !self.alone {
            return None;
        }
        let files = self.recorded.len().checked_sub(self.orphaned)?;
        self.told.as_ref().map(|told| (files, told))
    }

    /// True if the record that stands is what this run would write.
    pub(super) fn comes_to(&self, fingerprints: &Fingerprints) -> bool {
        self.fingerprints.as_ref() == Some(fingerprints)
    }

    /// The hashes under which files are as they should be if they are made from `inputs`; empty if the last run was not.
    pub(super) fn standing(&self, inputs: &str) -> BTreeMap<&str, &Hashes> {
        let Some(before) = self.fingerprints.as_ref().filter(|before| before.inputs == inputs)
        else {
            return BTreeMap::new();
        };
        let again: BTreeSet<&str> = before.again.iter().map(String::as_str).collect();
        let all = self.recorded.iter().zip(&self.still).filter(|(_, still)| **still);
        let all = all.map(|((file, hashes), _)| (file.as_str(), hashes));
        all.filter(|(file, _)| !again.contains(file)).collect()
    }

    /// The record with the date of before if nothing else changed, else with the date of now.
    pub(super) fn dated(
        &self,
        make: impl Fn(&Stamp) -> serde_json::Result<Vec<u8>>,
        stamp: &Stamp,
        there: &Path,
    ) -> Result<Vec<u8>> {
        if let Some(date) = &self.date {
            let same = make(&Stamp { date: date.clone(), ..stamp.clone() })?;
            if read_input(there, LARGEST_RECORD).is_ok_and(|there| there == same) {
                return Ok(same);
            }
        }
        Ok(make(stamp)?)
    }

    /// The hashes under which the last finished run left `file`.
    pub(super) fn hashes(&self, file: &str) -> Option<&Hashes> {
        let index = self.index.get_or_init(|| {
            let names = self.recorded.iter().map(|(name, _)| name.clone());
            names.enumerate().map(|(at, name)| (name, at)).collect()
        });
        let (_, hashes) = self.recorded.get(*index.get(file)?)?;
        Some(hashes)
    }

    /// The files that the last finished run left.
    pub(super) fn files(&self) -> BTreeSet<&str> {
        self.recorded.iter().map(|(file, _)| file.as_str()).collect()
    }

    /// Files of earlier runs that this one does not write and that are still there. They stay in the record, or they would be forgotten.
    pub(super) fn orphans(&self, places: &[String], job: &Job<'_>) -> Vec<OutputFile> {
        let now: BTreeSet<&str> = places.iter().map(String::as_str).collect();
        let left = |file: &str| !now.contains(file) && place_of(job.sources, file).exists();
        let orphans = self.recorded.iter().filter(|(file, _)| left(file));
        let listed = |(file, hashes): &(String, Hashes)| OutputFile {
            role: ORPHAN,
            file: file.clone(),
            of: None,
            hashes: hashes.clone(),
        };
        orphans.map(listed).collect()
    }

    /// Files that this run leaves as an earlier one wrote them, as far as they are still there: role, clip and part, place.
    pub(super) fn still<'a>(
        &self,
        left: impl Iterator<Item = (&'static str, Option<(usize, usize)>, &'a PathBuf)>,
        job: &Job<'_>,
    ) -> Vec<OutputFile> {
        let still = left.filter_map(|(role, of, target)| {
            let file = named(job.sources, target);
            let hashes = self.hashes(&file).filter(|_| target.exists())?.clone();
            Some(OutputFile { role, file, of, hashes })
        });
        still.collect()
    }

    /// Writes the journal: everything about to be written, and everything known from a run that was killed.
    pub(super) fn journal(
        &self,
        planned: &[Planned<'_>],
        decisions: &[Decision],
        job: &Job<'_>,
    ) -> Result<()> {
        let mut hashes = self.unfinished.clone();
        for (file, Hashes { sha256, .. }) in &self.recorded {
            hashes.entry(file.clone()).or_default().insert(sha256.clone());
        }
        for (file, decision) in planned.iter().zip(decisions) {
            let name = named(job.sources, &file.target);
            hashes.entry(name).or_default().insert(decision.hashes.sha256.clone());
        }
        let bytes = record::journal(&hashes, job.stamp)?;
        match place::put(&own(JOURNAL, &job.sources.into, &bytes), false).fate {
            Fate::Failed(why) => Err(anyhow!(why)),
            Fate::Foreign => Err(anyhow!("{JOURNAL} is there, but is no file of lensmend")),
            _ => Ok(()),
        }
    }
}

fn untouched(record: &Path) -> Option<Before> {
    let file = MediaFile::open(record).ok()?;
    before::read_untouched(&file)
}

/// Removes the journal of a run that has ended.
pub(super) fn remove_journal(into: &Path) {
    let _ = place::remove_own(&into.join(JOURNAL));
}

/// Path of an output as records name it: inside the output folder, or inside the dump with `dump:` in front.
pub(super) fn named(sources: &Sources, target: &Path) -> String {
    match target.strip_prefix(&sources.into) {
        Ok(inside) => shown(inside),
        Err(_) => {
            format!("{BESIDE}{}", shown(target.strip_prefix(&sources.dump).unwrap_or(target)))
        }
    }
}

/// The place that [`named`] names.
fn place_of(sources: &Sources, name: &str) -> PathBuf {
    match name.strip_prefix(BESIDE) {
        Some(inside) => sources.dump.join(inside),
        None => sources.into.join(name),
    }
}

/// What to say of such a file.
pub(super) fn orphan_finding(orphan: &OutputFile) -> Finding {
    Finding::new(Code::OutputOrphan, "an earlier run wrote this, and this run does not")
        .at(Place::file(orphan.file.as_str()))
        .hint("nobody keeps it up to date; remove it if its clip is gone for good, or if it is no longer asked for")
}
