//! An ASC MHL manifest, one generation of a history (ASC MHL 1.0; namespace `urn:ASC:MHL:v2.0`).

use std::path::{Component, Path, PathBuf};

use super::digest::Kind;
use super::xml::{self, Broken};

/// Namespace of manifests.
pub const NAMESPACE: &str = "urn:ASC:MHL:v2.0";
/// Records of one manifest: the frames of some days.
const RECORDS: usize = 4 << 20;
/// Patterns of files to be passed over, and bytes of one: each is compiled, and matched with every file.
const PATTERNS: usize = 256;
const PATTERN: usize = 512;
/// Complaints kept of one list; more of the same teach nothing.
pub(super) const COMPLAINTS: usize = 8;

/// What a manifest says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Manifest {
    /// Records of files, in order.
    pub records: Vec<Record>,
    /// The program that made it.
    pub tool: String,
    /// Patterns of files that the history passes over, as `.gitignore` writes them.
    pub ignore: Vec<String>,
    /// Records that cannot be used, and why: the first few, and how many in all.
    pub complaints: (Vec<String>, usize),
}

/// A record of one file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Record {
    /// Path inside the folder that the history seals.
    pub path: PathBuf,
    /// Bytes.
    pub size: Option<u64>,
    /// Hashes, those of a failed verification left out.
    pub hashes: Vec<(Kind, String)>,
    /// Path that the file had in generations before.
    pub previous: Option<PathBuf>,
}

/// Reads a manifest. A record that cannot be used is a complaint; a document that is none is the error.
pub fn parse(bytes: &[u8]) -> Result<Manifest, Broken> {
    let mut manifest = Manifest::default();
    let mut record = Raw::default();
    xml::each(bytes, NAMESPACE, "hashlist", |path, element, at| {
        match path {
            ["hashlist", "hashes", "hash", "path"] => {
                record.path.clone_from(&element.text);
                record.size = element.attribute("size").and_then(|size| size.trim().parse().ok());
            }
            ["hashlist", "hashes", "hash", "previousPath"] => {
                record.previous = Some(element.text.clone());
            }
            ["hashlist", "hashes", "hash", word] => {
                if let Some(kind) = Kind::named(word) {
                    match kind.value(element.text.trim()) {
                        _ if element.attribute("action") == Some("failed") => {}
                        Some(value) => record.hashes.push((kind, value)),
                        None => record.bad = Some(kind),
                    }
                }
            }
            ["hashlist", "hashes", "hash"] => {
                if manifest.records.len() >= RECORDS {
                    return Err(Broken::new("has more records than can be true", at));
                }
                std::mem::take(&mut record).keep(&mut manifest);
            }
            ["hashlist", "creatorinfo", "tool"] => manifest.tool.clone_from(&element.text),
            ["hashlist", "processinfo", "ignore", "pattern"] => {
                if manifest.ignore.len() >= PATTERNS || element.text.len() > PATTERN {
                    return Err(Broken::new("passes over more files than can be told", at));
                }
                manifest.ignore.push(element.text.clone());
            }
            _ => {}
        }
        Ok(())
    })?;
    Ok(manifest)
}

/// A record as it stands.
#[derive(Default)]
struct Raw {
    path: String,
    size: Option<u64>,
    hashes: Vec<(Kind, String)>,
    previous: Option<String>,
    bad: Option<Kind>,
}

impl Raw {
    fn keep(self, manifest: &mut Manifest) {
        let Some(path) = inside(&self.path) else {
            manifest.complain(format!("the path `{}` does not lead to a file inside", self.path));
            return;
        };
        if let Some(kind) = self.bad {
            let word = kind.word();
            manifest.complain(format!("the {word} of `{}` is no {word}", self.path));
        }
        let previous = self.previous.as_deref().and_then(inside);
        let (size, hashes) = (self.size, self.hashes);
        manifest.records.push(Record { path, size, hashes, previous });
    }
}

impl Manifest {
    fn complain(&mut self, what: String) {
        let (first, all) = &mut self.complaints;
        *all += 1;
        if first.len() < COMPLAINTS {
            first.push(what);
        }
    }
}

/// A path of a list, if it leads to a place inside of the folder that the list speaks of.
pub(super) fn inside(text: &str) -> Option<PathBuf> {
    let path = Path::new(text);
    let mut clean = PathBuf::new();
    for part in path.components() {
        match part {
            Component::Normal(part) => clean.push(part),
            Component::CurDir => {}
            Component::Prefix(_) | Component::RootDir | Component::ParentDir => return None,
        }
    }
    let fine = !clean.as_os_str().is_empty() && !text.contains('\0');
    fine.then_some(clean)
}
