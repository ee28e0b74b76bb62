//! Telling whether a run came to what the one before it did, so that nothing need be made to find out.
//!
//! A file is not made again if the run before was made from the same, left it as it should be, and it still has the hash
//! under which it was left. The record is not made again if, on top of that, all that it says of the outputs is the same.

use crate::annotation::Stray;
use crate::finding::Finding;
use crate::fingerprint::Fingerprint;
use crate::output::before::Fingerprints;
use crate::output::record::OutputFile;
use crate::place::{Decision, Fate};

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
    let mut outcome = Fingerprint::default();
    outcome.text(inputs);
    outcome.each(strays, |print, Stray { file, reason, still }| {
        print.text(file).text(reason).maybe(still.as_ref(), |print, still| {
            // What a still says stands in the record alone; its every member counts, and there are few stills.
            print.text(&format!("{still:?}"));
        });
    });
    outcome.each(stand, |print, OutputFile { role, file, of, sha256 }| {
        print.text(role).text(file).text(sha256).maybe(*of, |print, (clip, part)| {
            let number = |at: usize| u64::try_from(at).unwrap_or(u64::MAX);
            print.number(number(clip)).number(number(part));
        });
    });
    outcome.each(said, |print, finding| {
        print.finding(finding);
    });
    Fingerprints { inputs: inputs.to_owned(), outcome: outcome.end(), again: again.to_vec() }
}
