//! Reading a run record or journal back: what a later run needs of it, and no more.
//!
//! The record of a long day is large and mostly clips. It ends in a digest of itself, so that its few needed lines can be
//! trusted without reading the rest as JSON: it was written line by line, and nobody has touched it since.

use serde::Deserialize;
use twox_hash::XxHash3_128;

use crate::read_at::{ReadAt, hexadecimal, xxh128};

use super::record::{FORMAT, VERSION};

/// Bytes of a record that are read at a time.
const CHUNK: usize = 1 << 20;
/// What stands before the digest that ends a record, and behind it.
const ENDING: (&str, &str) = (",\n\"recordXxh128\": \"", "\"\n}\n");
/// Letters of a digest.
const HEXADECIMAL: usize = 32;
/// Where the members begin that stand before and after the clips.
const AFTER_HEAD: &[u8] = b",\n\"summary\": ";
const AFTER_CLIPS: &[u8] = b"\n\"outputs\": [";

/// Fingerprints of what a run was made from and of what it came to.
#[derive(Clone, Debug, Default, Deserialize, PartialEq, Eq)]
pub struct Fingerprints {
    /// Of everything that clips, table and sidecars are made from, but the date.
    pub inputs: String,
    /// Of the files of the dump that are no clips.
    #[serde(default)]
    pub strays: String,
    /// Of all that, and of what became of each output.
    pub outcome: String,
    /// Outputs that are not known to be as they should be, as records name them: a later run makes them again.
    #[serde(default)]
    pub again: Vec<String>,
}

/// What a later run needs of a record or journal written before.
#[derive(Debug)]
pub struct Before {
    /// Date of the last run that changed something.
    pub written: String,
    /// What it was made from; none in a journal.
    pub fingerprints: Option<Fingerprints>,
    /// Files and their hashes.
    pub outputs: Vec<BeforeFile>,
    /// The end of an untouched record from its outputs on, as an object; empty of any other.
    pub end: Vec<u8>,
}

/// A file of a record or journal written before.
#[derive(Debug, Deserialize)]
pub struct BeforeFile {
    /// What it is, in words of [`super::record::OutputFile`]; a journal does not say.
    #[serde(default)]
    pub role: String,
    /// Path as records name it.
    pub file: String,
    /// SHA-256 in hexadecimal.
    pub sha256: String,
    /// XXH3 of 128 bits, in hexadecimal; a journal has none.
    #[serde(default)]
    pub xxh128: String,
}

#[derive(Deserialize)]
struct Head {
    format: String,
    version: u64,
    written: String,
    fingerprints: Option<Fingerprints>,
}

#[derive(Deserialize)]
struct Outputs {
    outputs: Vec<BeforeFile>,
}

#[derive(Deserialize)]
struct Whole {
    #[serde(flatten)]
    head: Head,
    outputs: Vec<BeforeFile>,
}

/// Reads a record or journal back; `None` if it is none of `format` and of this version.
/// What it was made from is left out: somebody may have edited it.
pub fn read_back(bytes: &[u8], format: &str) -> Option<Before> {
    let Whole { head, outputs } = serde_json::from_slice(bytes).ok()?;
    let head = Head { fingerprints: None, ..head };
    known(head, outputs, Vec::new(), format)
}

/// Reads back a run record that nobody touched since it was written; `None` where that is not so, and for any other file.
pub fn read_untouched(source: &dyn ReadAt) -> Option<Before> {
    let ending = ENDING.0.len() + HEXADECIMAL + ENDING.1.len();
    let body = source.size().checked_sub(u64::try_from(ending).ok()?)?;
    let end = read(source, body, ending)?;
    let stated = std::str::from_utf8(&end).ok()?.strip_prefix(ENDING.0)?.strip_suffix(ENDING.1)?;
    if digest(source, body)? != stated {
        return None;
    }
    let head = read(source, 0, usize::try_from(body).ok()?.min(CHUNK))?;
    let mut head = head.get(..find(&head, AFTER_HEAD)?)?.to_vec();
    head.push(b'}');
    let mut outputs = b"{".to_vec();
    outputs.extend(behind_clips(source, body)?);
    outputs.push(b'}');
    let Outputs { outputs: files } = serde_json::from_slice(&outputs).ok()?;
    known(serde_json::from_slice(&head).ok()?, files, outputs, FORMAT)
}

fn known(head: Head, outputs: Vec<BeforeFile>, end: Vec<u8>, format: &str) -> Option<Before> {
    let Head { format: is, version, written, fingerprints } = head;
    let ours = is == format && version == VERSION;
    ours.then_some(Before { written, fingerprints, outputs, end })
}

/// Everything from the list of outputs on. No value of JSON holds a line break, so what looks like a member is one.
fn behind_clips(source: &dyn ReadAt, body: u64) -> Option<Vec<u8>> {
    let mut length = CHUNK;
    loop {
        let all = usize::try_from(body).ok()?;
        let tail = read(source, body.saturating_sub(u64::try_from(length).ok()?), length.min(all))?;
        if let Some(at) = find(&tail, AFTER_CLIPS) {
            return tail.get(at..).map(<[u8]>::to_vec);
        }
        if length >= all {
            return None;
        }
        length = length.checked_mul(4)?;
    }
}

fn find(bytes: &[u8], part: &[u8]) -> Option<usize> {
    let (first, rest) = part.split_first()?;
    let mut from = 0;
    loop {
        let at = from + bytes.get(from..)?.iter().position(|byte| byte == first)?;
        if bytes.get(at + 1..)?.starts_with(rest) {
            return Some(at);
        }
        from = at + 1;
    }
}

fn read(source: &dyn ReadAt, at: u64, length: usize) -> Option<Vec<u8>> {
    let mut bytes = vec![0; length];
    (source.read_at(at, &mut bytes).ok()? == length).then_some(bytes)
}

/// The ending of a record whose bytes so far are `body`.
pub(super) fn ending(body: &[u8]) -> String {
    format!("{}{}{}", ENDING.0, xxh128(body), ENDING.1)
}

/// XXH3 of 128 bits of the first `length` bytes.
fn digest(source: &dyn ReadAt, length: u64) -> Option<String> {
    let mut digest = XxHash3_128::new();
    let mut buffer = vec![0; CHUNK];
    let mut at = 0;
    while at < length {
        let wanted = usize::try_from(length - at).map_or(CHUNK, |left| left.min(CHUNK));
        let piece = buffer.get_mut(..wanted)?;
        if source.read_at(at, piece).ok()? < wanted {
            return None;
        }
        digest.write(piece);
        at += u64::try_from(wanted).ok()?;
    }
    Some(hexadecimal(&digest.finish_128().to_be_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(clips: usize) -> Vec<u8> {
        let mut text = format!(
            "{{\n\"format\": \"{FORMAT}\",\n\"version\": {VERSION},\n\"tool\": \"x\",\n\"written\": \"now\",\n\
             \"fingerprints\": {{\"inputs\":\"a\",\"strays\":\"c\",\"outcome\":\"b\"}},\n\"summary\": {{}},\n\"clips\": ["
        );
        text.push_str(&vec!["\n{\"name\":\"A\"}"; clips].join(","));
        text.push_str(
            "],\n\"outputs\": [\n{\"file\":\"a.xmp\",\"sha256\":\"00\"}],\n\"findings\": []",
        );
        text.push_str(&ending(text.as_bytes()));
        text.into_bytes()
    }

    #[test]
    fn an_untouched_record_is_read_back_and_a_touched_one_is_not() {
        // The larger one does not fit a chunk.
        for clips in [0, 3, 100_000] {
            let whole = record(clips);
            let before = read_untouched(&whole.as_slice()).unwrap();
            assert_eq!((before.written.as_str(), before.outputs.len()), ("now", 1), "{clips}");
            assert_eq!(before.fingerprints.unwrap().inputs, "a");
            let plain = read_back(&whole, FORMAT).unwrap();
            assert_eq!((plain.written, plain.fingerprints), ("now".to_owned(), None));
            for at in [5, whole.len() / 2, whole.len() - 10] {
                let mut touched = whole.clone();
                touched[at] ^= 1;
                assert!(read_untouched(&touched.as_slice()).is_none(), "{clips} {at}");
            }
        }
    }

    #[test]
    fn what_is_no_record_is_none() {
        for text in ["", "{}", "x", ",\n\"recordXxh128\": \"\"\n}\n"] {
            assert!(read_untouched(&text.as_bytes()).is_none(), "{text}");
        }
        let mut lone = String::from("{");
        lone.push_str(&ending(b"{"));
        assert!(read_untouched(&lone.as_bytes()).is_none());
    }
}
