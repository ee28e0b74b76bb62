//! Where lens data for VFX goes: a tree that mirrors the dump, one file a clip and format.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::annotation::Shoot;
use crate::finding::{Code, Finding, Place};
use crate::folder::LENS_DATA;
use crate::output::Stamp;
use crate::output::lens_data::{Kind, Wanted};
use crate::place::Planned;

use super::Job;

/// A file to be written: which clip, in which format, where.
pub(super) struct LensData {
    pub(super) clip: usize,
    kind: Kind,
    pub(super) target: PathBuf,
}

/// The files asked for, and what to say of those that cannot be.
pub(super) fn files(shoot: &Shoot, job: &Job<'_>) -> (Vec<LensData>, Vec<Finding>) {
    let root = job.sources.into.join(LENS_DATA);
    let (mut files, mut findings) = (Vec::new(), Vec::new());
    for kind in job.lens_data {
        let mut users: BTreeMap<String, usize> = BTreeMap::new();
        let names: Vec<Option<&Path>> = shoot
            .clips
            .iter()
            .map(|annotation| annotation.clip.files.first().map(|file| file.path.as_path()))
            .collect();
        for name in names.iter().flatten() {
            *users.entry(folded(&short(name))).or_default() += 1;
        }
        for (clip, annotation) in shoot.clips.iter().enumerate() {
            let Some(Some(first)) = names.get(clip) else { continue };
            if let Some(why) = kind.lacks(annotation) {
                let message = format!("no file for --lens-data {}: {why}", kind.word());
                let shown =
                    annotation.clip.files.first().map(|file| Place::file(file.shown.as_ref()));
                let finding = Finding::new(Code::OutputLeftOut, message)
                    .clip(annotation.clip.name.clone())
                    .hint("what is not written there, the format would fill in with a number of its own");
                findings.push(match shown {
                    Some(place) => finding.at(place),
                    None => finding,
                });
                continue;
            }
            // Clips that differ only in their extension keep it.
            let alone = users.get(&folded(&short(first))).is_none_or(|users| *users < 2);
            let mut name = if alone { short(first) } else { first.to_path_buf() }.into_os_string();
            name.push(".");
            name.push(kind.ending());
            files.push(LensData { clip, kind: *kind, target: root.join(PathBuf::from(name)) });
        }
    }
    (files, findings)
}

fn short(file: &Path) -> PathBuf {
    file.with_extension("")
}

/// Case does not tell files apart on every drive.
fn folded(path: &Path) -> String {
    path.to_string_lossy().to_lowercase()
}

/// The files as they are to be placed. None carries a date, so that the same content is the same bytes.
pub(super) fn plan<'a>(
    shoot: &'a Shoot,
    job: &'a Job<'_>,
    files: &'a [LensData],
) -> impl Iterator<Item = Planned<'a>> {
    let stamp: &'a Stamp = job.stamp;
    files.iter().filter_map(move |file| {
        let annotation = shoot.clips.get(file.clip)?;
        let wanted = Wanted { stamp, per_frame: job.per_frame, plates: job.plates };
        Some(Planned {
            target: file.target.clone(),
            within: job.sources.into.clone(),
            make: Box::new(move |_| Ok(file.kind.make(annotation, &wanted)?.into())),
        })
    })
}
