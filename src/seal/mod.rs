//! Sealed dumps: ASC MHL histories and plain hash lists that came with the cards. What they say is read here and held
//! against the files; new generations are made in `output/generation.rs`.

#![deny(clippy::indexing_slicing)]

pub mod chain;
pub mod digest;
pub mod history;
pub mod manifest;
pub mod sums;
pub mod verify;
pub mod xml;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::dump::Dump;
use crate::dump::walk::{There, list, read_input, shown, there};
use crate::finding::{Code, Finding, Found, Place};
pub use history::History;
use history::{At, Says};

/// Folder of a history, in the folder that it seals.
pub const FOLDER: &str = "ascmhl";
/// Name of its chain.
pub const CHAIN: &str = "ascmhl_chain.xml";
/// What a history passes over that does not say so itself.
const DEFAULT_IGNORE: [&str; 3] = [".DS_Store", "ascmhl", "ascmhl/"];
/// Folders above the dump that are looked at.
const ABOVE: usize = 64;

/// Every history that speaks of files of a dump: the deepest first, so that the first that holds a file is the closest.
#[derive(Clone, Debug, Default)]
pub struct Histories {
    /// The histories.
    pub all: Vec<History>,
}

impl Histories {
    /// The closest history that holds a file of the dump, and the path of the file from its folder.
    pub fn closest(&self, file: &Path) -> Option<(usize, PathBuf)> {
        let mut holding = self.all.iter().enumerate();
        holding.find_map(|(at, history)| Some((at, history.path_of(file)?)))
    }

    /// True if any generation of any history has a record of this file of the dump.
    pub fn record(&self, file: &Path) -> bool {
        let records = |history: &History| {
            let path = history.path_of(file)?;
            history.file(&path).filter(|known| !known.says.is_empty()).map(|_| ())
        };
        self.all.iter().any(|history| records(history).is_some())
    }

    /// The same for a file anywhere, by its real path.
    pub fn record_at(&self, real: &Path) -> bool {
        let records = |history: &History| {
            let root = history.root.canonicalize().ok()?;
            history.file(real.strip_prefix(root).ok()?).map(|_| ())
        };
        self.all.iter().any(|history| records(history).is_some())
    }
}

/// Hash lists of a dump: histories, and plain lists as one table of its files.
#[derive(Clone, Debug, Default)]
pub struct Lists {
    /// Histories.
    pub histories: Histories,
    /// What plain lists say, by the path in the dump.
    pub sums: BTreeMap<PathBuf, Vec<Says>>,
    /// Plain lists that were read.
    pub plain: usize,
}

/// Reads every history that speaks of files of the dump.
pub fn histories(dump: &Dump) -> Found<Histories> {
    let mut findings = Vec::new();
    let mut inside: BTreeSet<&Path> = BTreeSet::new();
    for stray in &dump.strays {
        let folder = stray.path.parent().unwrap_or(Path::new(""));
        if folder.file_name().is_some_and(|name| name == FOLDER) && is_of_history(&stray.path) {
            inside.extend(folder.parent());
        }
    }
    let mut inside: Vec<&Path> = inside.into_iter().collect();
    inside.sort_by_key(|folder| (std::cmp::Reverse(folder.components().count()), *folder));
    let mut all: Vec<History> = inside
        .into_iter()
        .map(|folder| {
            let at = At::Inside(folder.to_owned());
            History::read(dump.root.join(folder), at, history::told(folder), &mut findings)
        })
        .collect();
    if let Ok(real) = dump.root.canonicalize() {
        for above in real.ancestors().skip(1).take(ABOVE).filter(|folder| sealed(folder)) {
            let lead = real.strip_prefix(above).unwrap_or(Path::new("")).to_owned();
            let name = shown(&above.join(FOLDER));
            all.push(History::read(above.to_owned(), At::Above(lead), name, &mut findings));
        }
    }
    Found { value: Histories { all }, findings }
}

/// Reads every hash list of the dump.
pub fn lists(dump: &Dump) -> Found<Lists> {
    let Found { value: histories, mut findings } = histories(dump);
    let mut lists = Lists { histories, ..Lists::default() };
    for stray in &dump.strays {
        let hidden = stray.path.file_name().is_some_and(|n| n.as_encoded_bytes().starts_with(b"."));
        let Some(kind) = sums::kind_of(&stray.path).filter(|_| !hidden) else { continue };
        let (path, name) = (dump.root.join(&stray.path), shown(&stray.path));
        if there(&path) != There::File {
            continue;
        }
        let bytes = match read_input(&path, history::LARGEST) {
            Ok(bytes) => bytes,
            Err(error) => {
                findings.push(broken(&name, &format!("cannot be read: {error}")));
                continue;
            }
        };
        let read = sums::parse(&stray.path, kind, &bytes);
        findings.extend(complaints(&name, &read.complaints));
        let folder = stray.path.parent().unwrap_or(Path::new(""));
        let list: Arc<str> = name.into();
        lists.plain += 1;
        for (path, kind, value) in read.files {
            let says = Says { list: Arc::clone(&list), size: None, hashes: vec![(kind, value)] };
            lists.sums.entry(folder.join(path)).or_default().push(says);
        }
    }
    Found { value: lists, findings }
}

/// The outermost folder sealed by a history in which `path` lies, or would lie; links followed.
pub fn managed(path: &Path) -> Option<PathBuf> {
    // What is not there yet lies where the nearest folder above it does.
    let real = path.ancestors().find_map(|above| {
        let above = if above.as_os_str().is_empty() { Path::new(".") } else { above };
        above.canonicalize().ok()
    })?;
    real.ancestors().take(ABOVE).filter(|folder| sealed(folder)).last().map(Path::to_owned)
}

/// True for the folder that a history seals.
pub fn sealed(folder: &Path) -> bool {
    let entries = list(&folder.join(FOLDER)).unwrap_or_default();
    entries.iter().any(|(path, is_folder)| !is_folder && is_of_history(path))
}

fn is_of_history(file: &Path) -> bool {
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    name == CHAIN || (name.ends_with(".mhl") && !name.starts_with('.'))
}

/// The finding for a list that cannot be used.
fn broken(list: &str, what: &str) -> Finding {
    Finding::new(Code::SealBroken, format!("the hash list {what}"))
        .at(Place::file(list))
        .hint("get it again from where the cards were copied, or have the dump sealed anew")
}

fn complaints(list: &str, (first, all): &(Vec<String>, usize)) -> Option<Finding> {
    if *all == 0 {
        return None;
    }
    let more =
        if *all > first.len() { format!(" and {} more", all - first.len()) } else { String::new() };
    let what = format!("has records that cannot be used: {}{more}", first.join("; "));
    Some(broken(list, &what))
}
