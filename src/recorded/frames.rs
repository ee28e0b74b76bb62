//! What a sequence of frames says: facts of its first frame, held against its last.

use crate::finding::{Code, Finding, Place};
use crate::recorded::Recorded;
use crate::sourced::{Origin, Sourced};

/// Counts the frames into `first`, and tells where `last` does not belong to it. The last frame stands `steps`
/// numbers behind the first, and is called `file` in findings.
pub fn join(
    (first, last): (&mut Recorded, &Recorded),
    files: u64,
    steps: u64,
    file: &str,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    first.frames = Some(Sourced::new(files, Origin::Computed("files of the sequence")));
    let differ = |a: Option<String>, b: Option<String>| a.zip(b).is_some_and(|(a, b)| a != b);
    let raster = |facts: &Recorded| facts.coded.as_ref().map(|coded| coded.value.to_string());
    let rate = |facts: &Recorded| facts.rate.as_ref().map(|rate| rate.value.to_string());
    if differ(raster(first), raster(last)) || differ(rate(first), rate(last)) {
        let message = "the last frame has another raster or frame rate than the first";
        findings.push(
            Finding::new(Code::ClipSpanGap, message)
                .at(Place::file(file))
                .hint("the sequence holds two shots; put each into a folder of its own"),
        );
    }
    if let (Some(start), Some(end)) = (&first.start, &last.start) {
        let expected = start.value.later(steps);
        if expected != end.value {
            let message = format!(
                "by its number the timecode of the last frame should be {expected}, it is {}",
                end.value
            );
            findings.push(
                Finding::new(Code::MediaTimecodeOdd, message)
                    .at(Place::file(file))
                    .hint("frames were dropped, or the sequence holds two shots"),
            );
        }
    }
    findings
}
