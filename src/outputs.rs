//! From a finished shoot to files in their places: plan, journal, sidecars and table, and last the run record.
//!
//! The journal lists what is about to be written. A run that was killed half-way is so recognised as ours by the next one,
//! which can then go on, instead of taking half of the sidecars for files edited by hand.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::annotation::Shoot;
use crate::dump::walk::{read_input, shown};
use crate::finding::{Code, Finding, Place};
use crate::folder::Sources;
use crate::output::record::{self, OutputFile};
use crate::output::table::Column;
use crate::output::{Stamp, table, xmp};
use crate::place::{self, Decision, Fate, Planned};

/// The run record in the output folder.
const RECORD: &str = "run.json";
/// The lens table in the output folder.
const TABLE: &str = "lens-table.csv";
/// The journal in the output folder, there only while a run is writing or after one was killed.
const JOURNAL: &str = "unfinished-run.json";
/// The tree of sidecars in the output folder.
const SIDECARS: &str = "sidecars";
/// Stands before the path of a sidecar beside its clip, in records.
const BESIDE: &str = "dump:";
/// Most bytes of a run record: some hundred thousand clips.
const LARGEST_RECORD: u64 = 1 << 30;

/// What to write and how.
pub struct Job<'a> {
    /// Where it came from and goes to.
    pub sources: &'a Sources,
    /// Columns of the table.
    pub columns: &'a [Column],
    /// Date and version.
    pub stamp: &'a Stamp,
    /// Sidecars beside the clips.
    pub beside: bool,
    /// Write nothing.
    pub dry_run: bool,
}

/// What was written.
pub struct Done {
    /// The run record.
    pub record: Vec<u8>,
    /// What to say of it.
    pub talk: Vec<String>,
}

/// Plans and writes every output of a shoot. Files in the way and failed writes become findings of the shoot.
/// An error means that nothing was written.
pub fn write(shoot: &mut Shoot, job: &Job<'_>) -> Result<Done> {
    let into = &job.sources.into;
    let known = Known::read(into)?;
    let _hold = if job.dry_run {
        None
    } else {
        Some(place::hold(into).with_context(|| format!("cannot write into {}", into.display()))?)
    };
    let (sidecars, clashes) = sidecar_paths(shoot, job);
    shoot.findings.extend(clashes);
    forget_own_sidecars(shoot, &sidecars, job.beside);
    let table = table::write(shoot, job.columns)?;
    let (outputs, decisions) = {
        let planned = plan(shoot, job, &sidecars, &table);
        let mut decisions =
            place::decide(&planned, &|path, sha| known.wrote(&named(job, path), sha));
        let changes =
            decisions.iter().any(|decision| matches!(decision.fate, Fate::New | Fate::Stale));
        if changes && !job.dry_run {
            journal(into, &planned, &decisions, &known, job)
                .context("cannot write the journal; nothing else was written")?;
        }
        if !job.dry_run {
            place::carry_out(&planned, &mut decisions);
        }
        (listed(job, &sidecars, &planned, &decisions), decisions)
    };
    let places: Vec<String> = outputs.iter().map(|output| output.file.clone()).collect();
    shoot.findings.extend(troubles(&places, &decisions));
    let orphans = orphans(&known, &places, job);
    shoot.findings.extend(orphans.iter().map(orphan_finding));
    let stands: Vec<OutputFile> = outputs
        .into_iter()
        .zip(&decisions)
        .filter(|(_, decision)| !matches!(decision.fate, Fate::Failed(_) | Fate::Foreign))
        .map(|(output, _)| output)
        .chain(orphans)
        .collect();
    let record =
        known.dated(|stamp| record::write(shoot, &stands, stamp), job.stamp, &into.join(RECORD))?;
    let last = place::put(&own(RECORD, into, &record), job.dry_run);
    if !job.dry_run {
        if let Fate::Failed(why) = &last.fate {
            bail!("the run record could not be written: {why}; run again to finish");
        }
        place::remove_own(&into.join(JOURNAL)).context("the journal could not be removed")?;
    }
    let talk = talk(job, &decisions, &last, shoot);
    Ok(Done { record, talk })
}

/// A sidecar to be written: which clip, which of its files, where.
struct Sidecar {
    clip: usize,
    part: usize,
    target: PathBuf,
}

/// `clip.xmp` for `clip.mov` (XMP part 3: the extension is replaced). Files of one folder that differ
/// only in their extension would share a sidecar: they keep their whole name in front of `.xmp`.
fn sidecar_paths(shoot: &Shoot, job: &Job<'_>) -> (Vec<Sidecar>, Vec<Finding>) {
    let root = if job.beside { job.sources.dump.clone() } else { job.sources.into.join(SIDECARS) };
    let mut users: BTreeMap<PathBuf, usize> = BTreeMap::new();
    let files = || {
        shoot.clips.iter().enumerate().flat_map(|(at, a)| {
            a.clip.files.iter().enumerate().map(move |(part, file)| (at, part + 1, file))
        })
    };
    // Case does not tell files apart on every drive.
    let folded =
        |path: &Path| PathBuf::from(path.with_extension("").to_string_lossy().to_lowercase());
    for (_, _, file) in files() {
        *users.entry(folded(&file.path)).or_default() += 1;
    }
    let (mut sidecars, mut findings) = (Vec::new(), Vec::new());
    for (clip, part, file) in files() {
        let mut target = root.join(&file.path);
        if users.get(&folded(&file.path)).is_some_and(|users| *users > 1) {
            let mut name = file.path.file_name().unwrap_or_default().to_owned();
            name.push(".xmp");
            target.set_file_name(name);
            findings.push(Finding::new(Code::OutputNameClash, "another file differs only in its extension; the sidecar carries the whole file name").at(Place::file(file.shown.as_ref())));
        } else {
            target.set_extension("xmp");
        }
        sidecars.push(Sidecar { clip, part, target });
    }
    (sidecars, findings)
}

/// Sidecars beside clips that this run writes are no strays of the dump, or a second run would differ from the first.
fn forget_own_sidecars(shoot: &mut Shoot, sidecars: &[Sidecar], beside: bool) {
    if beside {
        let own: BTreeSet<&Path> =
            sidecars.iter().map(|sidecar| sidecar.target.as_path()).collect();
        let own: BTreeSet<String> = own.into_iter().map(shown).collect();
        shoot
            .strays
            .retain(|stray| !own.iter().any(|path| path.ends_with(&format!("/{}", stray.file))));
    }
}

fn plan<'a>(
    shoot: &'a Shoot,
    job: &'a Job<'_>,
    sidecars: &'a [Sidecar],
    table: &'a [u8],
) -> Vec<Planned<'a>> {
    let into = &job.sources.into;
    let within = if job.beside { &job.sources.dump } else { into };
    let mut planned: Vec<Planned<'a>> = sidecars
        .iter()
        .filter_map(|sidecar| {
            let annotation = shoot.clips.get(sidecar.clip)?;
            let make = move |there: Option<&[u8]>| {
                if let Some((there, date)) =
                    there.and_then(|there| Some((there, xmp::date_of(there)?)))
                {
                    let dated =
                        xmp::write(annotation, sidecar.part, &Stamp { date, ..job.stamp.clone() })?;
                    if dated == there {
                        return Ok(dated.into());
                    }
                }
                Ok(xmp::write(annotation, sidecar.part, job.stamp)?.into())
            };
            Some(Planned {
                target: sidecar.target.clone(),
                within: within.clone(),
                make: Box::new(make),
            })
        })
        .collect();
    planned.push(own(TABLE, into, table));
    planned
}

/// A file of the output folder itself, whatever stands there now.
fn own<'a>(name: &str, into: &Path, bytes: &'a [u8]) -> Planned<'a> {
    Planned {
        target: into.join(name),
        within: into.to_owned(),
        make: Box::new(|_| Ok(bytes.into())),
    }
}

/// Path of an output as records name it: inside the output folder, or inside the dump with `dump:` in front.
fn named(job: &Job<'_>, target: &Path) -> String {
    match target.strip_prefix(&job.sources.into) {
        Ok(inside) => shown(inside),
        Err(_) => {
            format!("{BESIDE}{}", shown(target.strip_prefix(&job.sources.dump).unwrap_or(target)))
        }
    }
}

fn listed(
    job: &Job<'_>,
    sidecars: &[Sidecar],
    planned: &[Planned<'_>],
    decisions: &[Decision],
) -> Vec<OutputFile> {
    let clips = sidecars
        .iter()
        .map(|sidecar| Some((sidecar.clip, sidecar.part)))
        .chain(std::iter::once(None));
    planned
        .iter()
        .zip(decisions)
        .zip(clips)
        .map(|((file, decision), of)| OutputFile {
            role: if of.is_some() { "sidecar" } else { "table" },
            file: named(job, &file.target),
            of,
            sha256: decision.sha256.clone(),
        })
        .collect()
}

fn troubles<'a>(
    places: &'a [String],
    decisions: &'a [Decision],
) -> impl Iterator<Item = Finding> + 'a {
    places.iter().zip(decisions).filter_map(|(file, decision)| match &decision.fate {
        Fate::Foreign => Some(
            Finding::new(
                Code::OutputKept,
                "was not written by lensmend, or was edited since; it was left alone",
            )
            .at(Place::file(file.as_str()))
            .hint("move it away and run again, if the new values are wanted"),
        ),
        Fate::Failed(why) => Some(
            Finding::new(Code::OutputFailed, format!("could not be written: {why}"))
                .at(Place::file(file.as_str()))
                .hint("what was there before still stands; free space or rights, then run again"),
        ),
        Fate::New | Fate::Stale | Fate::Same => None,
    })
}

/// Files of earlier runs that this one does not write and that are still there. They stay in the record, or they would be forgotten.
fn orphans(known: &Known, places: &[String], job: &Job<'_>) -> Vec<OutputFile> {
    let now: BTreeSet<&str> = places.iter().map(String::as_str).collect();
    let gone = known
        .recorded
        .iter()
        .filter(|(file, _)| !now.contains(file.as_str()) && place_of(job, file).exists());
    gone.map(|(file, sha256)| OutputFile {
        role: "orphan",
        file: file.clone(),
        of: None,
        sha256: sha256.clone(),
    })
    .collect()
}

/// The place that [`named`] names.
fn place_of(job: &Job<'_>, name: &str) -> PathBuf {
    match name.strip_prefix(BESIDE) {
        Some(inside) => job.sources.dump.join(inside),
        None => job.sources.into.join(name),
    }
}

fn orphan_finding(orphan: &OutputFile) -> Finding {
    Finding::new(
        Code::OutputOrphan,
        "an earlier run wrote this for a clip that is not in the dump now",
    )
    .at(Place::file(orphan.file.as_str()))
    .hint("remove it if the clip is gone for good")
}

/// What lensmend wrote into the output folder before.
#[derive(Default)]
struct Known {
    /// Date of the last run that changed something.
    date: Option<String>,
    /// Hashes under which each file was or was about to be written.
    hashes: BTreeMap<String, BTreeSet<String>>,
    /// Files of the last finished run, with their hashes.
    recorded: Vec<(String, String)>,
}

impl Known {
    fn read(into: &Path) -> Result<Self> {
        let mut known = Self::default();
        let record = into.join(RECORD);
        let read = |path: &Path, format| {
            read_input(path, LARGEST_RECORD)
                .ok()
                .and_then(|bytes| record::read_back(&bytes, format))
        };
        if record.exists() {
            let Some(before) = read(&record, record::FORMAT) else {
                bail!(
                    "{} is there, but is no run record of this version; choose another output folder with --into",
                    record.display()
                );
            };
            known.date = Some(before.written);
            for output in before.outputs {
                known.recorded.push((output.file.clone(), output.sha256.clone()));
                known.hashes.entry(output.file).or_default().insert(output.sha256);
            }
        }
        // A journal that cannot be read was cut off by a kill before anything after it was written.
        if let Some(before) = read(&into.join(JOURNAL), record::JOURNAL_FORMAT) {
            for output in before.outputs {
                known.hashes.entry(output.file).or_default().insert(output.sha256);
            }
        }
        Ok(known)
    }

    fn wrote(&self, file: &str, sha: &str) -> bool {
        self.hashes.get(file).is_some_and(|hashes| hashes.contains(sha))
    }

    /// The record with the date of before if nothing else changed, else with the date of now.
    fn dated(
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
}

/// Writes the journal: everything about to be written, and everything known from a run that was killed.
fn journal(
    into: &Path,
    planned: &[Planned<'_>],
    decisions: &[Decision],
    known: &Known,
    job: &Job<'_>,
) -> Result<()> {
    let mut hashes = known.hashes.clone();
    for (file, decision) in planned.iter().zip(decisions) {
        hashes.entry(named(job, &file.target)).or_default().insert(decision.sha256.clone());
    }
    let bytes = record::journal(&hashes, job.stamp)?;
    match place::put(&own(JOURNAL, into, &bytes), false).fate {
        Fate::Failed(why) => Err(io::Error::other(why).into()),
        _ => Ok(()),
    }
}

fn talk(job: &Job<'_>, decisions: &[Decision], last: &Decision, shoot: &Shoot) -> Vec<String> {
    let all = || decisions.iter().chain(std::iter::once(last));
    let changed = all().filter(|decision| matches!(decision.fate, Fate::New | Fate::Stale)).count();
    let same = all().filter(|decision| decision.fate == Fate::Same).count();
    let verb = if job.dry_run { "Would write" } else { "Wrote" };
    let mut talk = vec![format!(
        "{verb} {changed} files into {}; {same} are as they should be.",
        shown(&job.sources.into)
    )];
    let sealed =
        shoot.strays.iter().any(|stray| stray.file.split('/').any(|part| part == "ascmhl"));
    let inside = job.sources.in_dump(&job.sources.into).is_some();
    if sealed && (job.beside || inside) {
        let what =
            if job.beside { "every new sidecar" } else { "the output folder, which lies in it," };
        talk.push(format!(
            "The dump has a sealed history (ASC MHL): a verify will report {what} as not in the history."
        ));
    }
    talk
}
