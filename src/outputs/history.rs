//! Sealed histories and what this run puts beside the clips: what a verify will report of it, or a generation that records it.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};
use std::slice;

use crate::annotation::{Shoot, Stray};
use crate::dump::walk::{read_input, shown};
use crate::finding::{Code, Finding, Place};
use crate::output::calm::calm;
use crate::output::generation::{self, Generation, Link, Reference, SealedFile};
use crate::place::{self, Decision, Fate, Planned};
use crate::read_at::sha256;
use crate::seal::Histories;
use crate::seal::digest::{Hashing, Kind, digest};
use crate::seal::history::{At, History};
use crate::watch::Unwatched;

use super::Job;
use super::sidecars::Sidecar;

/// Most bytes of a sidecar.
const LARGEST: u64 = 64 << 20;
/// Names of new files that are said; the run record has them all.
const NAMES: usize = 5;

/// What a run knows of sealed histories, and what it is to do about them.
#[derive(Clone, Debug, Default)]
pub struct Sealing {
    /// Histories that speak of files of the dump.
    pub histories: Histories,
    /// Files of the dump that the closest history neither records nor passes over, from before this run.
    pub unrecorded: BTreeSet<PathBuf>,
    /// Add generations, naming this computer.
    pub append: Option<String>,
    /// Clips with a file that is not what a hash list says: places in the shoot's row of clips. They get no sidecar.
    pub unsound: BTreeSet<usize>,
}

/// What is to be said of histories.
#[derive(Default)]
pub(super) struct Told {
    pub(super) talk: Vec<String>,
    pub(super) findings: Vec<Finding>,
}

/// A new file in the folder of a history.
#[derive(Clone)]
struct New<'a> {
    /// Path from the folder that the history seals.
    path: PathBuf,
    target: &'a Path,
    sha256: &'a str,
}

impl New<'_> {
    fn can_be_recorded(&self) -> bool {
        self.path.to_str().is_some_and(generation::can_carry)
    }
}

/// A generation that was added.
struct Added {
    /// Which history.
    history: usize,
    manifest: PathBuf,
    c4: String,
}

/// Keeps every recorded file as it is: a changed one fails each verification from then on (ASC MHL 1.0, 5.6.4).
pub(super) fn keep_recorded(job: &Job<'_>, planned: &[Planned<'_>], decisions: &mut [Decision]) {
    for (file, decision) in planned.iter().zip(decisions) {
        let inside = file.target.strip_prefix(&job.sources.dump);
        let recorded = inside.is_ok_and(|inside| job.sealing.histories.record(inside));
        if recorded && super::changes(&decision.fate) {
            decision.fate = Fate::Sealed;
        }
    }
}

/// The finding for such a file.
pub(super) fn kept(file: &str, decision: &Decision) -> Finding {
    let (message, hint) = match decision.was {
        Some(_) => (
            "is recorded in a sealed history (ASC MHL), so it stays as it is; the new values are not in it",
            "run without --beside: the sidecars in the output folder have them",
        ),
        None => (
            "is recorded in a sealed history (ASC MHL) and gone; it was not written anew, because it would differ",
            "get it back from a copy, or run without --beside",
        ),
    };
    Finding::new(Code::SealKept, message).at(Place::file(file)).hint(hint)
}

/// Adds generations, if asked to, and says what a verify will report. New manifests become strays of the shoot,
/// as the next run will meet them.
pub(super) fn finish(
    shoot: &mut Shoot,
    job: &Job<'_>,
    sidecars: &[Sidecar],
    decisions: &[Decision],
) -> Told {
    let mut told = Told::default();
    let histories = &job.sealing.histories;
    if !job.beside || histories.all.is_empty() {
        return told;
    }
    let mut new = new_files(job, sidecars, decisions);
    let ours: BTreeSet<&Path> = new.values().flatten().map(|new| new.target).collect();
    let mut before: BTreeMap<usize, usize> = BTreeMap::new();
    for file in &job.sealing.unrecorded {
        let others = !ours.contains(job.sources.dump.join(file).as_path());
        if let Some((at, _)) = histories.closest(file).filter(|_| others) {
            *before.entry(at).or_default() += 1;
        }
    }
    if let Some(host) = &job.sealing.append {
        let mut added: Vec<Added> = Vec::new();
        for (at, history) in histories.all.iter().enumerate() {
            let references: Vec<Reference> = added
                .iter()
                .filter(|child| parent(histories, child.history) == Some(at))
                .filter_map(|child| reference(history, histories.all.get(child.history)?, child))
                .collect();
            // A name that XML cannot carry leaves its file unrecorded, not all of them.
            let (records, odd): (Vec<New<'_>>, Vec<New<'_>>) =
                new.get(&at).into_iter().flatten().cloned().partition(New::can_be_recorded);
            if records.is_empty() && references.is_empty() && history.adopted.is_empty() {
                continue;
            }
            match append(job, history, host, &records, references, &mut told) {
                Ok(manifest) => {
                    new.insert(at, odd);
                    if let Some((manifest, c4)) = manifest {
                        met(shoot, job, &manifest);
                        added.push(Added { history: at, manifest, c4 });
                    }
                }
                Err(why) => told.findings.push(
                    Finding::new(Code::OutputFailed, format!("no generation could be added: {why}"))
                        .at(Place::file(history.name.as_str()))
                        .hint("the history is as it was; a verify reports the new sidecars until they are recorded"),
                ),
            }
        }
    }
    for (at, history) in histories.all.iter().enumerate() {
        let ours = new.get(&at).map(Vec::as_slice).unwrap_or_default();
        report(history, ours, before.get(&at).copied().unwrap_or_default(), job, &mut told);
    }
    told
}

/// Sidecars that stand, or would stand, in the folder of a history and are not in it, by the closest history.
fn new_files<'a>(
    job: &Job<'_>,
    sidecars: &'a [Sidecar],
    decisions: &'a [Decision],
) -> BTreeMap<usize, Vec<New<'a>>> {
    let mut new: BTreeMap<usize, Vec<New<'a>>> = BTreeMap::new();
    let stand = |decision: &Decision| matches!(decision.fate, Fate::New | Fate::Stale | Fate::Same);
    for (sidecar, decision) in sidecars.iter().zip(decisions).filter(|(_, d)| stand(d)) {
        let Ok(file) = sidecar.target.strip_prefix(&job.sources.dump) else { continue };
        let Some((at, path)) = job.sealing.histories.closest(file) else { continue };
        if job.sealing.histories.all.get(at).is_some_and(|history| history.lacks(&path)) {
            let (target, sha256) = (sidecar.target.as_path(), decision.hashes.sha256.as_str());
            new.entry(at).or_default().push(New { path, target, sha256 });
        }
    }
    for files in new.values_mut() {
        files.sort_by(|a, b| a.path.cmp(&b.path));
    }
    new
}

/// The closest history around another.
fn parent(histories: &Histories, child: usize) -> Option<usize> {
    let at = &histories.all.get(child)?.at;
    let mut rest = histories.all.iter().enumerate().skip(child + 1);
    rest.find(|(_, history)| match at {
        At::Inside(folder) => history.path_of(folder).is_some(),
        At::Above(_) => true,
    })
    .map(|(at, _)| at)
}

/// A new manifest as a history around it refers to it.
fn reference(history: &History, child: &History, added: &Added) -> Option<Reference> {
    let root = match (&child.at, &history.at) {
        (At::Inside(folder), _) => history.path_of(folder)?,
        (At::Above(inner), At::Above(outer)) => {
            // What leads from the outer folder to the inner one is what the longer way has more.
            let count = outer.components().count().checked_sub(inner.components().count())?;
            outer.components().take(count).collect()
        }
        (At::Above(_), At::Inside(_)) => return None,
    };
    let inside = added.manifest.strip_prefix(&child.root).ok()?;
    Some(Reference { path: shown(&root.join(inside)), c4: added.c4.clone() })
}

/// Writes the manifest and then the chain that names it; a kill in between leaves a manifest that the next run takes up.
/// Gives the manifest's place and C4 ID, if there was something to record.
fn append(
    job: &Job<'_>,
    history: &History,
    host: &str,
    new: &[New<'_>],
    references: Vec<Reference>,
    told: &mut Told,
) -> io::Result<Option<(PathBuf, String)>> {
    let Some(before) =
        history.chain.as_deref().filter(|_| history.sound && history.loose.is_empty())
    else {
        return Err(io::Error::other("the history is broken, see the findings"));
    };
    let (count, number) = (new.len(), history.last + 1);
    let verb = if job.dry_run { "Would add" } else { "Added" };
    let name = calm(&history.name);
    let said = format!(
        "{verb} generation {number} to the sealed history {name} (ASC MHL), with records of {count} new sidecars."
    );
    if job.dry_run {
        told.talk.extend((count > 0 || !references.is_empty()).then_some(said));
        return Ok(None);
    }
    let _hold = place::hold(&history.folder())?;
    let mut links: Vec<Link<'_>> = history
        .adopted
        .iter()
        .map(|(number, file, c4)| Link { number: *number, file, c4: c4.clone() })
        .collect();
    let records = records(history, new)?;
    let mut written = None;
    let file = generation::file_name(number, &called(&history.root), job.stamp);
    if !records.is_empty() || !references.is_empty() {
        let ignore = &history.ignore;
        let generation = Generation { stamp: job.stamp, host, ignore, records, references };
        let bytes = generation::manifest(&generation)?;
        let target = history.folder().join(&file);
        write_new(&target, &history.root, &bytes)?;
        let c4 = digest(Kind::C4, &bytes);
        links.push(Link { number, file: &file, c4: c4.clone() });
        written = Some((target, c4));
        told.talk.push(said);
    }
    let chain = generation::chain(before, &links)
        .ok_or_else(|| io::Error::other("the end of its chain cannot be found"))?;
    replace_chain(history, before, &chain)?;
    Ok(written)
}

/// The records of new files, from what stands there now.
fn records(history: &History, new: &[New<'_>]) -> io::Result<Vec<SealedFile>> {
    let kinds = if history.kinds.is_empty() { vec![Kind::Xxh64] } else { history.kinds.clone() };
    let mut records = Vec::new();
    for file in new {
        let path = shown(&file.path);
        let bytes = read_input(file.target, LARGEST)?;
        if sha256(&bytes) != file.sha256 {
            return Err(io::Error::other(format!("somebody changed {path} meanwhile")));
        }
        let mut hashing = Hashing::new(kinds.iter().copied().collect::<BTreeSet<Kind>>());
        hashing.update(&bytes);
        let hashes = hashing.finish().into_iter().map(|(kind, value)| (kind.word(), value));
        let size = u64::try_from(bytes.len()).unwrap_or(u64::MAX);
        records.push(SealedFile { path, size, hashes: hashes.collect() });
    }
    Ok(records)
}

/// A manifest is written once and never again (ASC MHL 1.0, 5.2).
fn write_new(target: &Path, within: &Path, bytes: &[u8]) -> io::Result<()> {
    let planned = Planned {
        target: target.to_owned(),
        within: within.to_owned(),
        make: Box::new(|_| Ok(bytes.into())),
    };
    let mut decisions = place::decide(slice::from_ref(&planned), &|_, _| false);
    place::carry_out(slice::from_ref(&planned), &mut decisions, &Unwatched);
    match decisions.pop().map(|decision| decision.fate) {
        Some(Fate::New) => Ok(()),
        Some(Fate::Failed(why)) => Err(io::Error::other(why)),
        _ => Err(io::Error::other("a manifest of that name is there already")),
    }
}

fn replace_chain(history: &History, before: &str, bytes: &[u8]) -> io::Result<()> {
    let planned = Planned {
        target: history.folder().join(crate::seal::CHAIN),
        within: history.root.clone(),
        make: Box::new(|there| match there {
            Some(there) if there == before.as_bytes() || there == bytes => Ok(bytes.into()),
            _ => Err(io::Error::other("somebody changed the chain meanwhile")),
        }),
    };
    match place::put(&planned, false).fate {
        Fate::Failed(why) => Err(io::Error::other(why)),
        _ => Ok(()),
    }
}

/// The name of the sealed folder as it stands in the names of manifests.
fn called(root: &Path) -> String {
    let real = root.canonicalize().unwrap_or_else(|_| root.to_owned());
    let name = real.file_name().map(|name| name.to_string_lossy().into_owned());
    let name = name.unwrap_or_else(|| "root".to_owned());
    name.chars()
        .map(|c| if c.is_control() || "<>:\"/\\|?*".contains(c) { '-' } else { c })
        .collect()
}

/// Puts a new manifest among the strays of the dump, where the next walk will meet it.
fn met(shoot: &mut Shoot, job: &Job<'_>, manifest: &Path) {
    let Ok(inside) = manifest.strip_prefix(&job.sources.dump) else { return };
    let reason = "a companion file, not moving pictures";
    let file = shown(inside);
    let at = shoot.strays.partition_point(|stray| Path::new(&stray.file) < Path::new(&file));
    shoot.strays.insert(at, Stray { file, reason, still: None });
}

/// Says what a verify will report as new.
fn report(history: &History, ours: &[New<'_>], before: usize, job: &Job<'_>, told: &mut Told) {
    let count = ours.len() + before;
    if count == 0 || (job.dry_run && job.sealing.append.is_some() && before == 0) {
        return;
    }
    let mut parts = Vec::new();
    if !ours.is_empty() {
        parts.push(format!("{} sidecars of this run", ours.len()));
    }
    if before > 0 {
        parts.push(format!("{before} others"));
    }
    let message = format!(
        "a verify of this history (ASC MHL) will report {count} new files: {}",
        parts.join(" and ")
    );
    let names = ours.iter().take(NAMES).map(|new| calm(&shown(&new.path))).collect::<Vec<_>>();
    let more = if ours.len() > NAMES { ", ..." } else { "" };
    let listed =
        if names.is_empty() { String::new() } else { format!(" ({}{more})", names.join(", ")) };
    told.talk.push(format!(
        "The sealed history {} (ASC MHL) does not know {count} files: a verify will report them as new{listed}.",
        calm(&history.name)
    ));
    let finding = Finding::new(Code::SealNew, message).at(Place::file(history.name.as_str()));
    let hint = match (&job.sealing.append, ours.is_empty()) {
        (None, false) => "run with --append-history to record the sidecars, or without --beside",
        _ => "have the folder sealed anew by the program that sealed it",
    };
    told.findings.push(finding.hint(hint));
}
