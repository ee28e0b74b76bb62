//! How what stands in an output folder compares with what a run would write now. Nothing is written, not even a lock.

use anyhow::Result;

use crate::annotation::Shoot;
use crate::finding::{Code, Finding};
use crate::folder::RECORD;
use crate::output::check::{Cause, Checked, State};
use crate::output::last::Last;
use crate::output::record::OutputFile;
use crate::place::{Decision, Fate};

use super::known::{self, Known};
use super::{Job, There, lens_data, place_all, sidecars, take};

/// What a clip that is held back has to say.
const UNSOUND: &str = "its clip is not what the hash lists of the dump say, so a run leaves it";

/// Every file that a run would write or has written. `job` must be a dry run; causes are left to be told.
pub fn check(
    shoot: &Shoot,
    job: &Job<'_>,
    there: Option<There>,
    last: Option<&Last>,
) -> Result<Vec<Checked>> {
    let there = there.map_or_else(|| take(job.sources, true), Ok)?;
    let known = &there.known;
    let sound = |clip| !job.sealing.unsound.contains(&clip);
    let (sidecars, held): (Vec<_>, Vec<_>) =
        sidecars::paths(shoot, job).0.into_iter().partition(|sidecar| sound(sidecar.clip));
    let (lens_data, held_data): (Vec<_>, Vec<_>) =
        lens_data::files(shoot, job).0.into_iter().partition(|file| sound(file.clip));
    let (outputs, decisions) = place_all(shoot, job, known, (&sidecars, &lens_data))?;
    let same = last.is_some_and(|last| made_from(last) == Some(job.made_from));
    let recorded = known.files();
    let mut all: Vec<Checked> = outputs
        .iter()
        .zip(&decisions)
        .map(|(output, decision)| {
            let recorded = recorded.contains(output.file.as_str());
            one(output, decision, known, (recorded, same))
        })
        .collect();
    let held = held.iter().map(|file| ("sidecar", file.clip, &file.target));
    let held = held.chain(held_data.iter().map(|file| ("lens data", file.clip, &file.target)));
    all.extend(held.map(|(role, clip, target)| Checked {
        role,
        file: known::named(job.sources, target),
        clip: Some(clip),
        state: if target.exists() { State::Stale } else { State::Missing },
        causes: Vec::new(),
        says: vec![UNSOUND.to_owned()],
    }));
    let places: Vec<String> = all.iter().map(|checked| checked.file.clone()).collect();
    all.extend(known.orphans(&places, job).into_iter().map(|orphan| Checked {
        role: orphan.role,
        file: orphan.file,
        clip: None,
        state: State::Orphan,
        causes: Vec::new(),
        says: Vec::new(),
    }));
    all.push(record(last, same));
    Ok(all)
}

/// The fingerprint of what the last run was made from, if nobody touched its record.
fn made_from(last: &Last) -> Option<&str> {
    let prints = last.fingerprints.as_ref().filter(|_| last.untouched);
    prints.map(|prints| prints.inputs.as_str())
}

fn record(last: Option<&Last>, same: bool) -> Checked {
    let state = match last {
        None => State::Missing,
        Some(last) if !last.untouched => State::Edited,
        Some(_) if same => State::Agree,
        Some(_) => State::Stale,
    };
    let (causes, says) = (Vec::new(), Vec::new());
    Checked { role: "record", file: RECORD.to_owned(), clip: None, state, causes, says }
}

/// True if a finding says that somebody else's hand is in a sidecar.
fn by_hand(finding: &Finding) -> bool {
    matches!(
        finding.code,
        Code::OutputEdited | Code::OutputDiffers | Code::OutputBesideChanged | Code::OutputBroken
    )
}

/// One output, known from the record or not, and made from the same as before or not.
fn one(
    output: &OutputFile,
    decision: &Decision,
    known: &Known,
    (recorded, same): (bool, bool),
) -> Checked {
    let Decision { fate, was, said, .. } = decision;
    let ours = |was: &String| known.wrote(&output.file, was);
    let touched = recorded && !was.as_ref().is_none_or(ours);
    let edited = touched || said.iter().any(by_hand);
    let mut causes = Vec::new();
    let mut says: Vec<String> = said.iter().map(|finding| finding.message.clone()).collect();
    let state = match fate {
        Fate::Same if said.iter().any(by_hand) => State::Edited,
        Fate::Same => State::Agree,
        Fate::New => State::Missing,
        Fate::Stale if !recorded && !was.as_ref().is_some_and(ours) => {
            says.push("a sidecar of another program stands there; a run adds to it".to_owned());
            State::Missing
        }
        Fate::Foreign => {
            if said.is_empty() {
                let what = "something that lensmend did not write stands in its place";
                says.extend((!recorded || was.is_none()).then(|| what.to_owned()));
            }
            if was.is_some() { State::Edited } else { State::Missing }
        }
        Fate::Sealed if was.is_none() => State::Missing,
        Fate::Failed(why) if was.is_none() => {
            says.push(why.clone());
            State::Unreadable
        }
        Fate::Stale | Fate::Sealed | Fate::Failed(_) | Fate::Unwritten if edited => {
            if !same {
                says.push("it would be another one now, too".to_owned());
            }
            State::Edited
        }
        Fate::Stale | Fate::Sealed | Fate::Failed(_) | Fate::Unwritten => {
            if same && output.role == "sidecar" {
                // Made of the same, and it was left as it should be: only what it began as can be another one.
                let how = "beside the clip changed".to_owned();
                causes.push(Cause { what: "sidecar".to_owned(), name: None, how });
            }
            State::Stale
        }
    };
    match fate {
        Fate::Failed(why) if was.is_some() => says.push(why.clone()),
        Fate::Sealed => says.push(
            "it is recorded in a sealed history (ASC MHL), so a run leaves it as it is".to_owned(),
        ),
        _ => {}
    }
    let clip = output.of.map(|(clip, _)| clip);
    Checked { role: output.role, file: output.file.clone(), clip, state, causes, says }
}
