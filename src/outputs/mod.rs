//! From a finished shoot to files in their places: plan, journal, sidecars and table, and last the run record.
//!
//! The journal lists what is about to be written. A run that was killed half-way is so recognised as ours by the next one,
//! which can then go on, instead of taking half of the sidecars for files edited by hand.

pub mod check;
mod history;
mod known;
mod lens_data;
mod merging;
pub mod package;
pub mod report;
mod sidecars;
mod standing;
mod unchanged;

use std::collections::BTreeSet;
use std::io;
use std::path::Path;
use std::slice;
use std::sync::OnceLock;

use anyhow::{Context, Result, anyhow, bail};

use crate::annotation::Shoot;
use crate::dump::walk::{read_input, shown};
use crate::finding::{Code, Finding, Place};
use crate::folder::{RECORD, Sources, TABLE};
use crate::output::before::Fingerprints;
use crate::output::calm::calm;
use crate::output::lens_data::Kind;
use crate::output::lens_data::fdl::Cut;
use crate::output::record::{self, OutputFile, Run};
use crate::output::report::Options;
use crate::output::table::Column;
use crate::output::{Stamp, summary, table};
use crate::place::{self, Decision, Fate, Hold, Planned};
use crate::read_at::Hashes;
use crate::watch::{Amount, Interrupted, Watch};
pub use history::Sealing;
use known::Known;
use lens_data::LensData;
use sidecars::Sidecar;
pub use unchanged::{AsBefore, as_before};

/// What to write and how.
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a switch of its own on the command line"
)]
pub struct Job<'a> {
    /// Where it came from and goes to.
    pub sources: &'a Sources,
    /// Columns of the table.
    pub columns: &'a [Column],
    /// Date and version.
    pub stamp: &'a Stamp,
    /// Sidecars beside the clips.
    pub beside: bool,
    /// Properties of sidecars that others changed or wrote are replaced.
    pub replace_edited: bool,
    /// Write nothing.
    pub dry_run: bool,
    /// What is known of sealed histories, and what to do about them.
    pub sealing: &'a Sealing,
    /// Who waits.
    pub watch: &'a dyn Watch,
    /// Lens data for VFX, in these formats.
    pub lens_data: &'a [Kind],
    /// A sample for every frame there.
    pub per_frame: bool,
    /// Plates of the kit.
    pub plates: &'a [Cut],
    /// Form of the camera report.
    pub form: &'a Options,
    /// Fingerprint of everything that the shoot was made from.
    pub made_from: &'a str,
    /// The run record is wanted as the result.
    pub json: bool,
    /// The options of the run, as words of a command line.
    pub options: &'a [String],
}

/// What was written.
pub struct Done {
    /// The run record, if it was wanted.
    pub record: Vec<u8>,
    /// What is to be shown of the clips, where the record needed it.
    pub shown: Option<String>,
    /// What to say of it.
    pub talk: Vec<String>,
}

/// The output folder, held against other runs, and what earlier ones left there.
pub struct There {
    _hold: Option<Hold>,
    known: Known,
}

impl There {
    /// True if nobody touched what the last run left, as far as one can tell without knowing what it would leave now.
    pub fn untouched(&self) -> bool {
        self.known.untouched()
    }
}

/// Takes the output folder and looks at everything that earlier runs wrote; `None` where there is no such folder yet.
/// An error means that nothing was written.
pub fn look(sources: &Sources, dry_run: bool) -> Result<Option<There>> {
    sources.into.is_dir().then(|| take(sources, dry_run)).transpose()
}

fn take(sources: &Sources, dry_run: bool) -> Result<There> {
    let into = &sources.into;
    let hold =
        || place::hold(into).with_context(|| format!("cannot write into {}", into.display()));
    let hold = if dry_run { None } else { Some(hold()?) };
    Ok(There { _hold: hold, known: Known::read(sources)? })
}

/// Plans and writes every output of a shoot. Files in the way and failed writes become findings of the shoot.
/// An error means that nothing was written, or that the run was interrupted: what was written by then is whole and
/// known to the next run by the journal.
pub fn write(shoot: &mut Shoot, job: &Job<'_>, there: Option<There>) -> Result<Done> {
    let into = &job.sources.into;
    let there = there.map_or_else(|| take(job.sources, job.dry_run), Ok)?;
    let known = &there.known;
    let (sidecars, clashes) = sidecars::paths(shoot, job);
    let found_before = shoot.findings.len();
    // A clip that is not whole says nothing that can be trusted; what an earlier run said of it stays.
    let sound = |clip| !job.sealing.unsound.contains(&clip);
    let (sidecars, held): (Vec<Sidecar>, Vec<Sidecar>) =
        sidecars.into_iter().partition(|sidecar| sound(sidecar.clip));
    shoot.findings.extend(clashes);
    let (lens_data, lacking) = lens_data::files(shoot, job);
    let (lens_data, held_data): (Vec<LensData>, Vec<LensData>) =
        lens_data.into_iter().partition(|file| sound(file.clip));
    shoot.findings.extend(lacking);
    let (outputs, decisions) = place_all(shoot, job, known, (&sidecars, &lens_data))?;
    sidecars::forget_own(shoot, &sidecars, &decisions, job, known);
    let mut places: Vec<String> = outputs.iter().map(|output| output.file.clone()).collect();
    shoot.findings.extend(troubles(&places, &decisions));
    let again = unchanged::again(&places, &decisions);
    let told = history::finish(shoot, job, &sidecars, &decisions);
    shoot.findings.extend(told.findings);
    let held = held.iter().map(|file| ("sidecar", Some((file.clip, file.part)), &file.target));
    let held = held.chain(held_data.iter().map(|file| ("lens data", None, &file.target)));
    let held = known.still(held, job);
    places.extend(held.iter().map(|output| output.file.clone()));
    let orphans = known.orphans(&places, job);
    shoot.findings.extend(orphans.iter().map(known::orphan_finding));
    let stand = outputs.into_iter().zip(&decisions);
    let stand: Vec<OutputFile> = stand
        .filter_map(|(output, decision)| stands(output, decision, known))
        .chain(held)
        .chain(orphans)
        .collect();
    let said = shoot.findings.get(found_before..).unwrap_or_default();
    let fingerprints = unchanged::fingerprints(job.made_from, &shoot.strays, &stand, said, &again);
    let Recorded { record, shown, last } = put_record(shoot, &stand, &fingerprints, known, job)?;
    if let Fate::Failed(_) = &last.fate {
        shoot.findings.extend(troubles(&[RECORD.to_owned()], slice::from_ref(&last)));
    } else if !job.dry_run {
        // A journal that stays costs nothing but its place: the next run reads and removes it.
        known::remove_journal(into);
    }
    let count = |fits: &dyn Fn(&Fate) -> bool| {
        decisions.iter().chain([&last]).filter(|decision| fits(&decision.fate)).count()
    };
    let mut talk = talk(job, count(&changes), count(&|fate| *fate == Fate::Same));
    talk.extend(told.talk);
    Ok(Done { record, shown, talk })
}

/// What became of the run record.
struct Recorded {
    /// Its bytes, if they are wanted.
    record: Vec<u8>,
    /// What it says is shown of the clips, unless it was not made.
    shown: Option<String>,
    last: Decision,
}

/// Writes the run record, unless the one that stands is the same.
fn put_record(
    shoot: &Shoot,
    stand: &[OutputFile],
    fingerprints: &Fingerprints,
    known: &Known,
    job: &Job<'_>,
) -> Result<Recorded> {
    let into = &job.sources.into;
    let path = into.join(RECORD);
    if known.comes_to(fingerprints) {
        if !job.dry_run {
            place::remove_leftover(&path);
        }
        let same =
            Decision { fate: Fate::Same, hashes: Hashes::default(), was: None, said: Vec::new() };
        let record = job.json.then(|| read_input(&path, known::LARGEST_RECORD));
        // Where it is gone meanwhile it is made again.
        if let Ok(record) = record.transpose() {
            return Ok(Recorded { record: record.unwrap_or_default(), shown: None, last: same });
        }
    }
    let shown = summary::annotate(shoot);
    let run = Run { outputs: stand, fingerprints, options: job.options, shown: &shown };
    let make = |stamp: &Stamp| record::write(shoot, &run, stamp);
    let record = known.dated(make, job.stamp, &path)?;
    let last = place::put(&own(RECORD, into, &record), job.dry_run);
    Ok(Recorded { record, shown: Some(shown), last })
}

/// Decides and writes sidecars and table.
fn place_all(
    shoot: &Shoot,
    job: &Job<'_>,
    known: &Known,
    (sidecars, lens_data): (&[Sidecar], &[LensData]),
) -> Result<(Vec<OutputFile>, Vec<Decision>)> {
    // Made at most once, and not at all where it stands as it should.
    let (once, of_report) = (OnceLock::new(), report::Once::default());
    let table = || {
        let made = once.get_or_init(|| table::write(shoot, job.columns).map_err(|e| e.to_string()));
        made.as_deref().map_err(|why| anyhow!(why.clone()))
    };
    let mut planned = sidecars::plan(shoot, job, sidecars);
    planned.push(Planned {
        make: Box::new(|_| table().map(Into::into).map_err(io::Error::other)),
        ..own(TABLE, &job.sources.into, &[])
    });
    planned.extend(report::plan(shoot, job, &of_report));
    planned.extend(lens_data::plan(shoot, job, lens_data));
    let ours = |path: &Path, sha: &str| known.wrote(&known::named(job.sources, path), sha);
    let standing = known.standing(job.made_from);
    // What stands beside a clip is no part of the fingerprint, and a mirrored sidecar is made of it, too.
    let beside: BTreeSet<&Path> = sidecars
        .iter()
        .filter(|sidecar| sidecar.beside.is_some())
        .map(|sidecar| sidecar.target.as_path())
        .collect();
    let stands = |path: &Path| {
        let there = standing.get(known::named(job.sources, path).as_str()).copied();
        there.filter(|_| !beside.contains(path))
    };
    let mut decisions = place::decide_again(&planned, &ours, &stands);
    history::keep_recorded(job, &planned, &mut decisions);
    if !job.watch.go_on() {
        bail!(Interrupted { written: None });
    }
    if !job.dry_run {
        if decisions.iter().any(|decision| changes(&decision.fate)) {
            known
                .journal(&planned, &decisions, job)
                .context("cannot write the journal; nothing else was written")?;
        }
        carry_out(&planned, &mut decisions, job)?;
    }
    Ok((listed(job, sidecars, &planned, &decisions), decisions))
}

/// Writes what is to be written; the error says that the run was asked to end before all of it was.
fn carry_out(planned: &[Planned<'_>], decisions: &mut [Decision], job: &Job<'_>) -> Result<()> {
    let count = |decisions: &[Decision], fits: &dyn Fn(&Fate) -> bool| {
        decisions.iter().filter(|decision| fits(&decision.fate)).count()
    };
    let all = count(decisions, &changes);
    job.watch.begin("Writing", Amount::Files(u64::try_from(all).unwrap_or(u64::MAX)));
    place::carry_out(planned, decisions, job.watch);
    job.watch.end();
    if count(decisions, &|fate| *fate == Fate::Unwritten) > 0 {
        bail!(Interrupted { written: Some((count(decisions, &changes), all)) });
    }
    Ok(())
}

/// A file of the output folder itself, whatever stands there now.
fn own<'a>(name: &str, into: &Path, bytes: &'a [u8]) -> Planned<'a> {
    Planned {
        target: into.join(name),
        within: into.to_owned(),
        make: Box::new(move |_| Ok(bytes.into())),
    }
}

fn changes(fate: &Fate) -> bool {
    matches!(fate, Fate::New | Fate::Stale)
}

/// The output as the record lists it. What could not be replaced is listed as it was: it is still ours.
fn stands(output: OutputFile, decision: &Decision, known: &Known) -> Option<OutputFile> {
    match decision.fate {
        Fate::New | Fate::Stale | Fate::Same => Some(output),
        Fate::Foreign => None,
        Fate::Sealed | Fate::Unwritten | Fate::Failed(_) => {
            // Known from the record, or from the journal of a run that was killed.
            let was = decision.was.clone().filter(|was| known.wrote(&output.file, was));
            let recorded = known.hashes(&output.file);
            let hashes = match was {
                Some(was) if recorded.is_none_or(|recorded| recorded.sha256 != was) => {
                    Hashes::sha256(was)
                }
                _ => recorded?.clone(),
            };
            Some(OutputFile { hashes, ..output })
        }
    }
}

fn listed(
    job: &Job<'_>,
    sidecars: &[Sidecar],
    planned: &[Planned<'_>],
    decisions: &[Decision],
) -> Vec<OutputFile> {
    let roles = sidecars
        .iter()
        .map(|sidecar| ("sidecar", Some((sidecar.clip, sidecar.part))))
        .chain(std::iter::once(("table", None)))
        .chain(std::iter::repeat_n((report::ROLE, None), report::count()))
        .chain(std::iter::repeat(("lens data", None)));
    planned
        .iter()
        .zip(decisions)
        .zip(roles)
        .map(|((file, decision), (role, of))| OutputFile {
            role,
            file: known::named(job.sources, &file.target),
            of,
            hashes: decision.hashes.clone(),
        })
        .collect()
}

fn troubles<'a>(
    places: &'a [String],
    decisions: &'a [Decision],
) -> impl Iterator<Item = Finding> + 'a {
    places.iter().zip(decisions).flat_map(|(file, decision)| {
        let said = decision.said.iter().map(|said| match said.place {
            None => said.clone().at(Place::file(file.as_str())),
            Some(_) => said.clone(),
        });
        said.chain(trouble(file, decision)).collect::<Vec<_>>()
    })
}

fn trouble(file: &str, decision: &Decision) -> Option<Finding> {
    match &decision.fate {
        // Why it was left alone has been said.
        Fate::Foreign if !decision.said.is_empty() => None,
        Fate::Foreign => Some(
            Finding::new(
                Code::OutputKept,
                "was not written by lensmend, or was edited since; it was left alone",
            )
            .at(Place::file(file))
            .hint("move it away and run again, if the new values are wanted"),
        ),
        Fate::Failed(why) => Some(
            Finding::new(Code::OutputFailed, format!("could not be written: {why}"))
                .at(Place::file(file))
                .hint("what was there before still stands; free space or rights, then run again"),
        ),
        Fate::Sealed => Some(history::kept(file, decision)),
        Fate::New | Fate::Stale | Fate::Same | Fate::Unwritten => None,
    }
}

fn talk(job: &Job<'_>, changed: usize, same: usize) -> Vec<String> {
    let verb = if job.dry_run { "Would write" } else { "Wrote" };
    let mut place = format!("into {}", calm(&shown(&job.sources.into)));
    if job.beside {
        place.push_str(", sidecars beside the clips");
    }
    let mut talk = vec![format!("{verb} {changed} files {place}; {same} are as they should be.")];
    if !job.sealing.histories.all.is_empty() && crate::seal::managed(&job.sources.into).is_some() {
        talk.push(
            "The output folder lies in a folder with a sealed history (ASC MHL): a verify will report its files as new."
                .to_owned(),
        );
    }
    talk
}
