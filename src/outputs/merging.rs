//! How a sidecar is made of what is to be said, of the sidecar that stands in its place, and of one beside the clip.

use std::io;
use std::path::Path;

use crate::dump::walk::{There, read_input, shown, there};
use crate::finding::{Code, Finding, Place};
use crate::output::Stamp;
use crate::output::xmp::{self, Base, Merged};
use crate::place::Made;
use crate::read_at::sha256;

use super::Job;
use super::sidecars::Sidecar;

/// Everything that a sidecar is made of.
#[derive(Clone, Copy)]
pub(super) struct Merging<'a> {
    /// What it is about.
    pub(super) of: xmp::Sidecar<'a>,
    /// Where it goes.
    pub(super) sidecar: &'a Sidecar,
    pub(super) job: &'a Job<'a>,
}

/// A sidecar beside the clip that a mirrored one begins as.
struct Beside {
    bytes: Vec<u8>,
    sha256: String,
    name: String,
}

impl Merging<'_> {
    /// What should stand in its place, given what does.
    pub(super) fn make(&self, there: Option<&[u8]>) -> io::Result<Made<'static>> {
        let beside = self.sidecar.beside.as_deref().and_then(|path| self.read(path)).transpose();
        match (there, beside) {
            (Some(there), Ok(Some(beside))) => self.again(there, &beside),
            (Some(there), Ok(None)) => self.merged(there, Vec::new()),
            (Some(there), Err(broken)) => self.merged(there, vec![*broken]),
            (None, beside) => {
                let begun = match beside {
                    Ok(Some(beside)) => self.begun(&beside),
                    Ok(None) => Ok(None),
                    Err(broken) => Err(broken),
                };
                let fresh = || Ok::<_, io::Error>(Made::from(self.of.write(self.job.stamp)?));
                match begun {
                    Ok(Some(made)) => Ok(made),
                    Ok(None) => fresh(),
                    Err(broken) => Ok(Made { said: vec![*broken], ..fresh()? }),
                }
            }
        }
    }

    /// Merges into what stands in the place. One that differs from it in nothing but its date stays as it is.
    fn merged(&self, there: &[u8], mut said: Vec<Finding>) -> io::Result<Made<'static>> {
        if let Some(date) = xmp::date_of(there) {
            let dated = self.of.write(&Stamp { date, ..self.job.stamp.clone() })?;
            if dated == there {
                return Ok(Made { said, ..Made::from(dated) });
            }
        }
        match self.merge(there, None) {
            Ok(merged) => {
                said.extend(said_of(&merged));
                let bytes = merged.bytes.unwrap_or_else(|| there.to_vec());
                Ok(Made { bytes: Some(bytes.into()), merged: true, said })
            }
            Err(why) => {
                said.push(broken(&why));
                Ok(Made { bytes: None, merged: false, said })
            }
        }
    }

    /// A mirrored sidecar that is new begins as a copy of the one beside the clip; `None` if that is lensmend's own.
    fn begun(&self, beside: &Beside) -> Result<Option<Made<'static>>, Box<Finding>> {
        let merged = self
            .merge(&beside.bytes, Some(&beside.sha256))
            .map_err(|why| Box::new(broken(&why).at(Place::file(beside.name.as_str()))))?;
        if merged.only_ours {
            return Ok(None);
        }
        let said = said_of(&merged).collect();
        let bytes = merged.bytes.unwrap_or_else(|| beside.bytes.clone());
        Ok(Some(Made { bytes: Some(bytes.into()), merged: true, said }))
    }

    /// A mirrored sidecar is there, and one beside the clip: if only the latter changed, the mirrored one begins anew.
    fn again(&self, there: &[u8], beside: &Beside) -> io::Result<Made<'static>> {
        let begun = xmp::begun(there);
        if begun.as_ref().is_some_and(|begun| begun.from == beside.sha256) {
            return self.merged(there, Vec::new());
        }
        match self.begun(beside) {
            // Nothing of somebody else is in it but what came from beside the clip.
            Ok(Some(made))
                if begun.map_or_else(|| self.is_ours(there), |begun| begun.untouched) =>
            {
                Ok(made)
            }
            Ok(Some(_)) => self.merged(there, vec![beside_changed(&beside.name)]),
            Ok(None) => self.merged(there, Vec::new()),
            Err(broken) => self.merged(there, vec![*broken]),
        }
    }

    /// True if nobody but lensmend wrote into a sidecar, and nobody changed it.
    fn is_ours(&self, there: &[u8]) -> bool {
        self.merge(there, None).is_ok_and(|merged| merged.only_ours && merged.edited.is_empty())
    }

    fn merge(&self, bytes: &[u8], begun_from: Option<&str>) -> Result<Merged, String> {
        if u64::try_from(bytes.len()).map_or(true, |length| length > xmp::LARGEST) {
            return Err(format!("larger than {} MiB", xmp::LARGEST >> 20));
        }
        let base = Base { bytes, begun_from, replace: self.job.replace_edited };
        self.of.merge(&base, self.job.stamp)
    }

    /// A sidecar of the dump; links are not followed. The finding says that it cannot be read.
    fn read(&self, path: &Path) -> Option<Result<Beside, Box<Finding>>> {
        if there(path) != There::File {
            return None;
        }
        let name = shown(path.strip_prefix(&self.job.sources.dump).unwrap_or(path));
        Some(match read_input(path, xmp::LARGEST) {
            Ok(bytes) => Ok(Beside { sha256: sha256(&bytes), bytes, name }),
            Err(error) => Err(Box::new(broken(&error.to_string()).at(Place::file(name)))),
        })
    }
}

fn said_of(merged: &Merged) -> impl Iterator<Item = Finding> {
    let edited = (!merged.edited.is_empty()).then(|| {
        let names = merged.edited.join(", ");
        Finding::new(
            Code::OutputEdited,
            format!("somebody changed this since, and it was kept: {names}"),
        )
        .hint("give --replace-edited if the values of lensmend are wanted")
    });
    let differing = (!merged.differing.is_empty()).then(|| {
        let names = merged.differing.join(", ");
        Finding::new(
            Code::OutputDiffers,
            format!("another program says something else, and it was kept: {names}"),
        )
        .hint("find out which is right; give --replace-edited if it is lensmend")
    });
    edited.into_iter().chain(differing)
}

fn broken(why: &str) -> Finding {
    Finding::new(Code::OutputBroken, format!("cannot be merged and was left alone: {why}"))
        .hint("mend it with the program that wrote it, or move it away and run again")
}

fn beside_changed(name: &str) -> Finding {
    Finding::new(
        Code::OutputBesideChanged,
        format!(
            "{name} beside the clip changed since this began as its copy, and this was changed too"
        ),
    )
    .hint("move this one away and run again to begin from the one beside the clip")
}
