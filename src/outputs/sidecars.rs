//! Where each sidecar goes and how it is made.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::annotation::Shoot;
use crate::dump::walk::{UNFINISHED, shown};
use crate::finding::{Code, Finding, Place};
use crate::folder::SIDECARS;
use crate::output::{Stamp, xmp};
use crate::place::{Decision, Fate, Planned};

use super::Job;

/// A sidecar to be written: which clip, which of its files, where.
pub(super) struct Sidecar {
    /// Which clip of the shoot.
    pub(super) clip: usize,
    /// Which of its files, from 1.
    pub(super) part: usize,
    /// Where.
    pub(super) target: PathBuf,
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
    for ((clip, part, (path, shown)), whole) in files.into_iter().zip(whole) {
        if whole {
            let message = "another file differs only in its extension; the sidecar carries the whole file name";
            let place = Place::file(shown.as_ref());
            findings.push(Finding::new(Code::OutputNameClash, message).at(place));
        }
        sidecars.push(Sidecar { clip, part, target: root.join(sidecar_of(path, whole)) });
    }
    (sidecars, findings)
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
) {
    if job.beside {
        let own = sidecars
            .iter()
            .zip(decisions)
            .filter(|(_, decision)| decision.fate != Fate::Foreign)
            .filter_map(|(sidecar, _)| sidecar.target.strip_prefix(&job.sources.dump).ok());
        // What a killed run left of a sidecar has been removed by now.
        let own: BTreeSet<String> =
            own.map(shown).flat_map(|file| [format!("{file}{UNFINISHED}"), file]).collect();
        shoot.strays.retain(|stray| !own.contains(&stray.file));
    }
}

/// The sidecars as files to be placed. One that differs from what is there in nothing but its date stays as it is.
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
        .collect()
}
