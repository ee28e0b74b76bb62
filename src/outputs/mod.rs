//! From a finished shoot to files in their places: plan, journal, sidecars and table, and last the run record.
//!
//! The journal lists what is about to be written. A run that was killed half-way is so recognised as ours by the next one,
//! which can then go on, instead of taking half of the sidecars for files edited by hand.

mod known;
mod lens_data;
pub mod package;
mod sidecars;

use std::path::Path;
use std::slice;

use anyhow::{Context, Result};

use crate::annotation::Shoot;
use crate::dump::walk::shown;
use crate::finding::{Code, Finding, Place};
use crate::folder::{RECORD, Sources, TABLE};
use crate::output::calm::calm;
use crate::output::lens_data::Kind;
use crate::output::lens_data::fdl::Cut;
use crate::output::record::{self, OutputFile};
use crate::output::table::Column;
use crate::output::{Stamp, table};
use crate::place::{self, Decision, Fate, Planned};
use known::Known;
use lens_data::LensData;
use sidecars::Sidecar;

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
    /// Lens data for VFX, in these formats.
    pub lens_data: &'a [Kind],
    /// A sample for every frame there.
    pub per_frame: bool,
    /// Plates of the kit.
    pub plates: &'a [Cut],
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
    let _hold = if job.dry_run {
        None
    } else {
        Some(place::hold(into).with_context(|| format!("cannot write into {}", into.display()))?)
    };
    let known = Known::read(into)?;
    let (sidecars, clashes) = sidecars::paths(shoot, job);
    shoot.findings.extend(clashes);
    let (lens_data, lacking) = lens_data::files(shoot, job);
    shoot.findings.extend(lacking);
    let table = table::write(shoot, job.columns)?;
    let (outputs, decisions) = place_all(shoot, job, &known, (&sidecars, &lens_data), &table)?;
    sidecars::forget_own(shoot, &sidecars, &decisions, job);
    let places: Vec<String> = outputs.iter().map(|output| output.file.clone()).collect();
    shoot.findings.extend(troubles(&places, &decisions));
    let orphans = known.orphans(&places, job);
    shoot.findings.extend(orphans.iter().map(known::orphan_finding));
    let stand = outputs.into_iter().zip(&decisions);
    let stand: Vec<OutputFile> = stand
        .filter_map(|(output, decision)| stands(output, decision, &known))
        .chain(orphans)
        .collect();
    let path = into.join(RECORD);
    let record = known.dated(|stamp| record::write(shoot, &stand, stamp), job.stamp, &path)?;
    let last = place::put(&own(RECORD, into, &record), job.dry_run);
    if let Fate::Failed(_) = &last.fate {
        shoot.findings.extend(troubles(&[RECORD.to_owned()], slice::from_ref(&last)));
    } else if !job.dry_run {
        // A journal that stays costs nothing but its place: the next run reads and removes it.
        known::remove_journal(into);
    }
    let talk = talk(job, &decisions, &last, shoot);
    Ok(Done { record, talk })
}

/// Decides and writes sidecars and table.
fn place_all(
    shoot: &Shoot,
    job: &Job<'_>,
    known: &Known,
    (sidecars, lens_data): (&[Sidecar], &[LensData]),
    table: &[u8],
) -> Result<(Vec<OutputFile>, Vec<Decision>)> {
    let mut planned = sidecars::plan(shoot, job, sidecars);
    planned.push(own(TABLE, &job.sources.into, table));
    planned.extend(lens_data::plan(shoot, job, lens_data));
    let ours = |path: &Path, sha: &str| known.wrote(&known::named(job, path), sha);
    let mut decisions = place::decide(&planned, &ours);
    if !job.dry_run {
        if decisions.iter().any(|decision| changes(&decision.fate)) {
            known
                .journal(&planned, &decisions, job)
                .context("cannot write the journal; nothing else was written")?;
        }
        place::carry_out(&planned, &mut decisions);
    }
    Ok((listed(job, sidecars, &planned, &decisions), decisions))
}

/// A file of the output folder itself, whatever stands there now.
fn own<'a>(name: &str, into: &Path, bytes: &'a [u8]) -> Planned<'a> {
    Planned {
        target: into.join(name),
        within: into.to_owned(),
        make: Box::new(|_| Ok(bytes.into())),
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
        Fate::Failed(_) => {
            // Known from the record, or from the journal of a run that was killed.
            let was = decision.was.clone().filter(|was| known.wrote(&output.file, was));
            let sha256 = was.or_else(|| known.hash(&output.file).map(str::to_owned))?;
            Some(OutputFile { sha256, ..output })
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
        .chain(std::iter::repeat(("lens data", None)));
    planned
        .iter()
        .zip(decisions)
        .zip(roles)
        .map(|((file, decision), (role, of))| OutputFile {
            role,
            file: known::named(job, &file.target),
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

fn talk(job: &Job<'_>, decisions: &[Decision], last: &Decision, shoot: &Shoot) -> Vec<String> {
    let count = |fits: &dyn Fn(&Fate) -> bool| {
        decisions.iter().chain([last]).filter(|decision| fits(&decision.fate)).count()
    };
    let (changed, same) = (count(&changes), count(&|fate| *fate == Fate::Same));
    let verb = if job.dry_run { "Would write" } else { "Wrote" };
    let mut place = format!("into {}", calm(&shown(&job.sources.into)));
    if job.beside {
        place.push_str(", sidecars beside the clips");
    }
    let mut talk = vec![format!("{verb} {changed} files {place}; {same} are as they should be.")];
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
