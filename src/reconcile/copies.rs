//! The same clip twice in a dump is one clip with copies; the same name over different files is a finding.

use std::collections::BTreeMap;

use crate::dump::walk::shown;
use crate::dump::{self, Clip, Dump, Part};
use crate::finding::{Code, Finding, Place};
use crate::recorded::{Container, FileFacts, Recorded};

/// Folds copies into the first of them, in the dump and in what was read of it.
///
/// Two clips are one if name, number of files and every size are the same, and so are the headers where they were read;
/// or if the headers are, and the sizes, whatever they are called, and the header tells when the clip was made and where
/// its timecode starts. Without these two shots of one length can have one header, and what is no container that
/// lensmend reads begins alike in too many files: such clips go by their name. A shot is never given up for a copy.
pub fn fold(dump: &mut Dump, recorded: &mut Vec<Vec<FileFacts>>) -> Vec<Finding> {
    let mut findings = Vec::new();
    let (mut clips, mut facts): (Vec<Clip>, Vec<Vec<FileFacts>>) = (Vec::new(), Vec::new());
    let mut by_name: BTreeMap<(String, Vec<u64>), Vec<usize>> = BTreeMap::new();
    let mut by_header: BTreeMap<(Vec<String>, Vec<u64>), usize> = BTreeMap::new();
    let all = std::mem::take(&mut dump.clips).into_iter().zip(std::mem::take(recorded));
    for (clip, read) in all {
        let sizes: Vec<u64> = clip.parts.iter().map(|part| part.size).collect();
        let named = (clip.name.to_lowercase(), sizes.clone());
        let headers = headers(&read).map(|headers| (headers, sizes));
        let same = |first: &usize| facts.get(*first).is_some_and(|first| alike(first, &read));
        let by_headers = headers.as_ref().and_then(|headers| by_header.get(headers)).copied();
        let first = by_headers
            .or_else(|| by_name.get(&named)?.iter().copied().find(|first| same(first)))
            .filter(|_| !clip.parts.is_empty());
        if let Some(first) = first.and_then(|first| clips.get_mut(first)) {
            findings.push(copied(first, &clip.parts));
            first.copies.push(clip.parts);
            continue;
        }
        by_name.entry(named).or_default().push(clips.len());
        if let Some(headers) = headers {
            by_header.entry(headers).or_insert(clips.len());
        }
        clips.push(clip);
        facts.push(read);
    }
    dump::name_twice(&clips, &mut findings);
    (dump.clips, *recorded) = (clips, facts);
    findings
}

/// The digests of all headers, where every file is one whose header tells it from others.
fn headers(read: &[FileFacts]) -> Option<Vec<String>> {
    let of = |facts: &FileFacts| {
        let Recorded { container, created, start, .. } = &*facts.recorded;
        let told = *container != Container::Opaque && (created.is_some() && start.is_some());
        facts.header_sha256.clone().filter(|_| told)
    };
    let headers: Option<Vec<String>> = read.iter().map(of).collect();
    headers.filter(|headers| !headers.is_empty())
}

/// True where nothing that was read tells two clips of one name and size apart.
fn alike(first: &[FileFacts], other: &[FileFacts]) -> bool {
    first.len() == other.len()
        && first.iter().zip(other).all(|(a, b)| match (&a.header_sha256, &b.header_sha256) {
            (Some(a), Some(b)) => a == b,
            // What cannot be read is not known to be the same.
            _ => false,
        })
}

fn copied(first: &Clip, parts: &[Part]) -> Finding {
    let of = |parts: &[Part]| parts.first().map(|part| shown(&part.path)).unwrap_or_default();
    Finding::new(Code::ClipCopies, format!("this is a copy of {}", of(&first.parts)))
        .at(Place::file(of(parts)))
        .clip(first.name.as_str())
        .hint("nothing to do: both count as one clip, and each gets its sidecar")
}
