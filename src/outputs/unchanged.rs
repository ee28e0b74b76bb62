//! Telling whether a run came to what the one before it did, so that nothing need be made to find out.
//!
//! A file is not made again if the run before was made from the same, left it as it should be, and it still has the hash
//! under which it was left. The record is not made again if, on top of that, all that it says of the outputs is the same.
//! And where all of that can be told beforehand, nothing is worked out at all: the record has what there is to tell.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use crate::annotation::Stray;
use crate::dump::walk::{list, read_input, shown as path_shown};
use crate::finding::Finding;
use crate::fingerprint::Fingerprint;
use crate::folder::RECORD;
use crate::output::before::Fingerprints;
use crate::output::calm::calm;
use crate::output::record::OutputFile;
use crate::output::told::Told;
use crate::place::{self, Decision, Fate};
use crate::read_at::Hashes;

use super::{Job, There, known};

/// What a run comes to that finds everything as the one before it left it.
pub struct AsBefore {
    /// Its findings.
    pub findings: Vec<Finding>,
    /// What is shown of the clips.
    pub shown: String,
    /// The run record, if it was wanted.
    pub record: Option<Vec<u8>>,
    /// What to say of the files.
    pub talk: Vec<String>,
}

/// What this run would come to, if that is known without reconciling: everything it is made from is what the run before
/// was made from, and every output stands as it should. `strays` are those of the dump.
pub fn as_before(there: &There, strays: &[Stray], job: &Job<'_>) -> Option<AsBefore> {
    let known = &there.known;
    // Beside the clips, the outputs of the run before are themselves among what was walked. A clip held back leaves files
    // that count as nobody's.
    if job.beside || !job.sealing.unsound.is_empty() {
        return None;
    }
    // Sidecars of others that stand in the dump are part of what the mirrored ones are made from.
    if strays.iter().any(|stray| is_sidecar(Path::new(&stray.file))) {
        return None;
    }
    let (files, told) = known.all_stands(job.made_from, &self::strays(strays))?;
    let record = job.sources.into.join(RECORD);
    let bytes = job.json.then(|| read_input(&record, known::LARGEST_RECORD)).transpose().ok()?;
    if !job.dry_run {
        place::remove_leftover(&record);
        known::remove_journal(&job.sources.into);
    }
    let Told { findings, shown } = told.clone();
    let since = known.date().map_or_else(String::new, |date| format!(" since {date}"));
    let talk = format!(
        "Nothing changed{since}: all {} files in {} are as they should be.",
        files + 1,
        calm(&path_shown(&job.sources.into))
    );
    Some(AsBefore { findings, shown, record: bytes, talk: vec![talk] })
}

/// True if no sidecars stand beside those at `places`: one that differs in case would be said, and one may be of either of
/// two files of a clip.
pub(super) fn alone(places: &[(PathBuf, &Hashes)]) -> bool {
    let mut folders: BTreeMap<&Path, usize> = BTreeMap::new();
    for (place, _) in places.iter().filter(|(place, _)| is_sidecar(place)) {
        if let Some(folder) = place.parent() {
            *folders.entry(folder).or_default() += 1;
        }
    }
    folders.into_iter().all(|(folder, ours)| {
        // If all of ours are there, there are others if there are more.
        let all = list(folder).unwrap_or_default();
        all.iter().filter(|(entry, _)| is_sidecar(entry)).count() == ours
    })
}

fn is_sidecar(file: &Path) -> bool {
    file.extension().and_then(OsStr::to_str).is_some_and(|end| end.eq_ignore_ascii_case("xmp"))
}

/// Outputs that a later run must make again to know whether they are as they should be, or what is to be said of them.
pub(super) fn again(places: &[String], decisions: &[Decision]) -> Vec<String> {
    let as_it_should = |fate: &Fate| matches!(fate, Fate::New | Fate::Stale | Fate::Same);
    let all = places.iter().zip(decisions);
    all.filter(|(_, decision)| !as_it_should(&decision.fate) || !decision.said.is_empty())
        .map(|(file, _)| file.clone())
        .collect()
}

/// The fingerprints of a run made from `inputs` that left `strays` and `stand`; `said` was found while writing.
pub(super) fn fingerprints(
    inputs: &str,
    strays: &[Stray],
    stand: &[OutputFile],
    said: &[Finding],
    again: &[String],
) -> Fingerprints {
    let strays = self::strays(strays);
    let mut outcome = Fingerprint::default();
    outcome.text(inputs).text(&strays);
    outcome.each(stand, |print, OutputFile { role, file, of, hashes }| {
        // The quicker hash follows from the other.
        print.text(role).text(file).text(&hashes.sha256).maybe(*of, |print, (clip, part)| {
            let number = |at: usize| u64::try_from(at).unwrap_or(u64::MAX);
            print.number(number(clip)).number(number(part));
        });
    });
    outcome.each(said, |print, finding| {
        print.finding(finding);
    });
    let again = again.to_vec();
    Fingerprints { inputs: inputs.to_owned(), strays, outcome: outcome.end(), again }
}

fn strays(strays: &[Stray]) -> String {
    let mut print = Fingerprint::default();
    print.each(strays, |print, Stray { file, reason, still }| {
        print.text(file).text(reason).maybe(still.as_ref(), |print, still| {
            // What a still says stands in the record alone; its every member counts, and there are few stills.
            print.text(&format!("{still:?}"));
        });
    });
    print.end()
}
