//! What stands in folders where sidecars go, by name without regard to case: not every drive tells case apart,
//! and some programs write `.XMP`.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::dump::walk::{There, list, there};

/// Folders looked at so far, each once.
#[derive(Default)]
pub(super) struct Folders {
    seen: BTreeMap<PathBuf, BTreeMap<String, Vec<PathBuf>>>,
}

impl Folders {
    /// The entry that is called like `wanted`, or else the first file that differs from it only in case;
    /// and all other such files.
    pub(super) fn find(&mut self, wanted: &Path) -> (Option<PathBuf>, Vec<PathBuf>) {
        let folder = wanted.parent().unwrap_or(Path::new("."));
        let entries = self.seen.entry(folder.to_owned()).or_insert_with(|| named(folder));
        let mut twins = entries.get(&folded(wanted)).cloned().unwrap_or_default();
        let exact = twins.iter().position(|twin| twin == wanted);
        let first = exact.map(|at| twins.remove(at));
        twins.retain(|twin| there(twin) == There::File);
        match first {
            Some(exact) => (Some(exact), twins),
            None if twins.is_empty() => (None, twins),
            None => (Some(twins.remove(0)), twins),
        }
    }
}

/// Entries of a folder in order; a folder that cannot be read has none, and writing into it will say so.
fn named(folder: &Path) -> BTreeMap<String, Vec<PathBuf>> {
    let mut named: BTreeMap<String, Vec<PathBuf>> = BTreeMap::new();
    for (path, _) in list(folder).unwrap_or_default() {
        named.entry(folded(&path)).or_default().push(path);
    }
    named
}

fn folded(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().to_lowercase()
}
