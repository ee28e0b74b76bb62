//! Where each sidecar goes.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::annotation::Shoot;
use crate::dump::walk::{UNFINISHED, shown};
use crate::finding::{Code, Finding, Place};
use crate::folder::SIDECARS;
use crate::output::xmp;
use crate::place::{Decision, Fate, Planned};

use super::Job;
use super::known::{self, Known};
use super::merging::Merging;
use super::standing::Folders;

/// A sidecar to be written: which clip, which of its files, where.
pub(super) struct Sidecar {
    /// Which clip of the shoot.
    pub(super) clip: usize,
    /// Which of its files, from 1.
    pub(super) part: usize,
    /// Where.
    pub(super) target: PathBuf,
    /// A sidecar beside the clip, if this one goes elsewhere: a new one begins as its copy.
    pub(super) beside: Option<PathBuf>,
}

/// `clip.xmp` for `clip.mov` (XMP part 3: the extension is replaced). Files of one folder that would so share
/// a sidecar keep their whole name in front of `.xmp`.
pub(super) fn paths(shoot: &Shoot, job: &Job<'_>) -> (Vec<Sidecar>, Vec<Finding>) {
    let root = if job.beside { job.sources.dump.clone() } else { job.sources.into.join(SIDECARS) };
    let files = shoot.clips.iter().enumerate().flat_map(|(clip, annotation)| {
        let own = annotation.clip.files.iter().map(|file| (&file.path, &file.shown)).enumerate();
        let copies = annotation
            .clip
            .copies
            .iter()
            .flat_map(|copy| copy.iter().map(|file| (&file.path, &file.shown)).enumerate());
        own.chain(copies).map(move |(at, file)| (clip, at + 1, file))
    });
    let files: Vec<_> = files.collect();
    let mut whole = vec![false; files.len()];
    // A whole name can be what the short name of another file would be, so this is done until nothing changes.
    loop {
        let mut users: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (at, ((_, _, (path, _)), whole)) in files.iter().zip(&whole).enumerate() {
            users.entry(folded(&sidecar_of(path, *whole))).or_default().push(at);
        }
        let shared = users.into_values().filter(|users| users.len() > 1).flatten();
        let mut changed = false;
        for at in shared {
            if let Some(whole) = whole.get_mut(at).filter(|whole| !**whole) {
                (*whole, changed) = (true, true);
            }
        }
        if !changed {
            break;
        }
    }
    let (mut sidecars, mut findings) = (Vec::new(), Vec::new());
    let names = files.iter().zip(&whole).map(|((_, _, (path, _)), whole)| sidecar_of(path, *whole));
    let taken: BTreeSet<String> = names.map(|name| folded(&name)).collect();
    let mut folders = Folders::default();
    let in_dump = folders_with_sidecars(shoot);
    for ((clip, part, (path, file)), whole) in files.into_iter().zip(whole) {
        let name = sidecar_of(path, whole);
        if whole {
            let message = "another file differs only in its extension; the sidecar carries the whole file name";
            let mut finding = Finding::new(Code::OutputNameClash, message);
            let short = sidecar_of(path, false);
            if let Some(either) = folders.find(&root.join(&short)).0
                && !taken.contains(&folded(&short))
            {
                let name = either.file_name().unwrap_or_default().to_string_lossy().into_owned();
                finding =
                    finding.hint(format!("{name} can be of either file, so it was left alone"));
            }
            findings.push(finding.at(Place::file(file.as_ref())));
        }
        // A sidecar that is there keeps the case of its name.
        let (there, twins) = folders.find(&root.join(&name));
        findings.extend(twins.iter().map(|twin| case_twin(twin, &root)));
        let beside = Some(&name)
            .filter(|_| !job.beside && in_dump.contains(&folder_of(&shown(&name))))
            .and_then(|name| folders.find(&job.sources.dump.join(name)).0);
        let target = there.unwrap_or_else(|| root.join(name));
        sidecars.push(Sidecar { clip, part, target, beside });
    }
    (sidecars, findings)
}

/// Folders of the dump that hold sidecars, whoever wrote them, as shown.
fn folders_with_sidecars(shoot: &Shoot) -> BTreeSet<String> {
    let strays = shoot.strays.iter().map(|stray| stray.file.as_str());
    let sidecar = |file: &&str| file.to_ascii_lowercase().ends_with(".xmp");
    strays.filter(sidecar).map(folder_of).collect()
}

fn folder_of(file: &str) -> String {
    file.rsplit_once('/').map_or_else(String::new, |(folder, _)| folder.to_owned())
}

fn case_twin(twin: &Path, root: &Path) -> Finding {
    let message =
        "the name differs from that of the sidecar in use only in case; it was left alone";
    Finding::new(Code::OutputCaseTwin, message)
        .at(Place::file(shown(twin.strip_prefix(root).unwrap_or(twin))))
        .hint("bring both together in one file and remove the other")
}

fn sidecar_of(file: &Path, whole: bool) -> PathBuf {
    if !whole {
        return file.with_extension("xmp");
    }
    let mut name = file.as_os_str().to_owned();
    name.push(".xmp");
    PathBuf::from(name)
}

/// Case does not tell files apart on every drive.
fn folded(path: &Path) -> String {
    path.to_string_lossy().to_lowercase()
}

/// Sidecars beside clips that are this run's own are no strays of the dump, or a second run would differ from the first.
pub(super) fn forget_own(
    shoot: &mut Shoot,
    sidecars: &[Sidecar],
    decisions: &[Decision],
    job: &Job<'_>,
    known: &Known,
) {
    if job.beside {
        let own = sidecars
            .iter()
            .zip(decisions)
            .filter(|(sidecar, decision)| match &decision.fate {
                Fate::Foreign => false,
                // One of somebody else that could not be merged is still his.
                Fate::Failed(_) => decision.was.as_ref().is_none_or(|was| {
                    known.wrote(&known::named(job.sources, &sidecar.target), was)
                }),
                _ => true,
            })
            .filter_map(|(sidecar, _)| sidecar.target.strip_prefix(&job.sources.dump).ok());
        // What a killed run left of a sidecar has been removed by now.
        let own: BTreeSet<String> =
            own.map(shown).flat_map(|file| [format!("{file}{UNFINISHED}"), file]).collect();
        shoot.strays.retain(|stray| !own.contains(&stray.file));
    }
}

/// The sidecars as files to be placed.
pub(super) fn plan<'a>(
    shoot: &'a Shoot,
    job: &'a Job<'_>,
    sidecars: &'a [Sidecar],
) -> Vec<Planned<'a>> {
    let within = if job.beside { &job.sources.dump } else { &job.sources.into };
    sidecars
        .iter()
        .filter_map(|sidecar| {
            let annotation = shoot.clips.get(sidecar.clip)?;
            let production = shoot.production.as_deref();
            let of = xmp::Sidecar { annotation, part: sidecar.part, production };
            let merging = Merging { of, sidecar, job };
            Some(Planned {
                target: sidecar.target.clone(),
                within: within.clone(),
                make: Box::new(move |there| merging.make(there)),
            })
        })
        .collect()
}
