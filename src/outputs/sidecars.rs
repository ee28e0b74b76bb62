//! Where each sidecar goes and how it is made.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::annotation::Shoot;
use crate::dump::walk::shown;
use crate::finding::{Code, Finding, Place};
use crate::output::{Stamp, xmp};
use crate::place::Planned;

use super::Job;

/// The tree of sidecars in the output folder.
const SIDECARS: &str = "sidecars";

/// A sidecar to be written: which clip, which of its files, where.
pub(super) struct Sidecar {
    /// Which clip of the shoot.
    pub(super) clip: usize,
    /// Which of its files, from 1.
    pub(super) part: usize,
    /// Where.
    pub(super) target: PathBuf,
}

/// `clip.xmp` for `clip.mov` (XMP part 3: the extension is replaced). Files of one folder that differ
/// only in their extension would share a sidecar: they keep their whole name in front of `.xmp`.
pub(super) fn paths(shoot: &Shoot, job: &Job<'_>) -> (Vec<Sidecar>, Vec<Finding>) {
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
pub(super) fn forget_own(shoot: &mut Shoot, sidecars: &[Sidecar], beside: bool) {
    if beside {
        let own: BTreeSet<&Path> =
            sidecars.iter().map(|sidecar| sidecar.target.as_path()).collect();
        let own: BTreeSet<String> = own.into_iter().map(shown).collect();
        shoot
            .strays
            .retain(|stray| !own.iter().any(|path| path.ends_with(&format!("/{}", stray.file))));
    }
}

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
