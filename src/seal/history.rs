//! One ASC MHL history: the folder `ascmhl`, its chain, and the manifests of its generations, together one table of files.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use ignore::gitignore::{Gitignore, GitignoreBuilder};

use crate::dump::walk::{There, list, read_input, shown, there};
use crate::finding::{Code, Finding, Place};

use super::chain::{self, Link};
use super::digest::{Kind, digest};
use super::manifest::{self, Manifest, Record};
use super::{CHAIN, DEFAULT_IGNORE, FOLDER, broken, complaints};

/// Most bytes of one list: some hundred thousand frames.
pub(super) const LARGEST: u64 = 256 << 20;

/// Where the folder that a history seals lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum At {
    /// In the dump: its path from there, empty for the dump itself.
    Inside(PathBuf),
    /// Above the dump: the path from there to the dump.
    Above(PathBuf),
}

/// A history.
#[derive(Clone, Debug)]
pub struct History {
    /// The folder that it seals.
    pub root: PathBuf,
    /// Where that folder lies.
    pub at: At,
    /// Its folder `ascmhl`, as people are told of it.
    pub name: String,
    /// The chain as it stands; `None` if there is none that can be used.
    pub chain: Option<String>,
    /// Number of the last generation in the chain.
    pub last: u64,
    /// Manifests beside those of the chain, by name, with their bytes: left by a run that was killed, or strange.
    pub loose: Vec<(String, Vec<u8>)>,
    /// Manifests taken up for the chain: number, name, C4 ID. See [`History::take_up`].
    pub adopted: Vec<(u64, String, String)>,
    /// Every manifest of the chain is there and unchanged, and could be read.
    pub sound: bool,
    /// Files by their path from `root`.
    files: BTreeMap<PathBuf, Known>,
    /// Patterns of the last generation.
    pub ignore: Vec<String>,
    ignored: Gitignore,
    /// Kinds of hashes that the last generation with records uses.
    pub kinds: Vec<Kind>,
}

/// What a history knows of a file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Known {
    /// Sizes and hashes, each with the list that says so.
    pub says: Vec<Says>,
    /// A later generation knows it under another path.
    pub moved: bool,
}

/// What one list says of a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Says {
    /// The list, as people are told of it.
    pub list: Arc<str>,
    /// Bytes.
    pub size: Option<u64>,
    /// Hashes.
    pub hashes: Vec<(Kind, String)>,
}

impl History {
    /// Reads the history of `root`, telling `findings` what is wrong with it. `name` is its folder `ascmhl` for people.
    pub(super) fn read(root: PathBuf, at: At, name: String, findings: &mut Vec<Finding>) -> Self {
        let mut history = Self {
            root,
            at,
            name,
            chain: None,
            last: 0,
            loose: Vec::new(),
            adopted: Vec::new(),
            sound: true,
            files: BTreeMap::new(),
            ignore: DEFAULT_IGNORE.map(str::to_owned).to_vec(),
            ignored: Gitignore::empty(),
            kinds: Vec::new(),
        };
        let links = history.links(findings);
        for link in &links {
            match history.generation(link, findings) {
                Some(manifest) => history.take_in(link, manifest),
                None => history.sound = false,
            }
            history.last = link.number;
        }
        history.look_for_loose(&links, findings);
        history.ignored = patterns(&history.ignore);
        history
    }

    /// The folder `ascmhl`.
    pub fn folder(&self) -> PathBuf {
        self.root.join(FOLDER)
    }

    /// The path of a file of the dump from the folder that this history seals, if it lies there.
    pub fn path_of(&self, file: &Path) -> Option<PathBuf> {
        match &self.at {
            At::Inside(folder) => file.strip_prefix(folder).ok().map(Path::to_owned),
            At::Above(lead) => Some(lead.join(file)),
        }
    }

    /// What it knows of the file at a path from its folder.
    pub fn file(&self, path: &Path) -> Option<&Known> {
        self.files.get(path)
    }

    /// Every file that it knows.
    pub fn files(&self) -> impl Iterator<Item = (&Path, &Known)> {
        self.files.iter().map(|(path, known)| (path.as_path(), known))
    }

    /// True if it passes over a file.
    pub fn ignores(&self, path: &Path) -> bool {
        self.ignored.matched_path_or_any_parents(path, false).is_ignore()
    }

    fn said(&self, file: &str) -> String {
        format!("{}/{file}", self.name)
    }

    fn links(&mut self, findings: &mut Vec<Finding>) -> Vec<Link> {
        let path = self.folder().join(CHAIN);
        let name = self.said(CHAIN);
        let read = match there(&path) {
            There::File => read_input(&path, LARGEST).map_err(|e| format!("cannot be read: {e}")),
            There::Nothing => Err("is missing".to_owned()),
            There::Folder | There::Other => Err("is no file".to_owned()),
        };
        let links = read.and_then(|bytes| {
            let links = chain::parse(&bytes)
                .map_err(|broken| format!("{} (byte {})", broken.what, broken.at))?;
            Ok((links, bytes))
        });
        match links {
            Ok((links, bytes)) => {
                self.chain = String::from_utf8(bytes).ok();
                links
            }
            Err(what) => {
                self.sound = false;
                findings.push(broken(&name, &what));
                Vec::new()
            }
        }
    }

    /// Reads the manifest of a link and holds it against the chain.
    fn generation(&self, link: &Link, findings: &mut Vec<Finding>) -> Option<Manifest> {
        let name = self.said(&link.file);
        let path = self.folder().join(&link.file);
        let read = match there(&path) {
            There::File => read_input(&path, LARGEST).map_err(|e| format!("cannot be read: {e}")),
            There::Nothing => Err("is missing, though the chain names it".to_owned()),
            There::Folder | There::Other => Err("is no file".to_owned()),
        };
        let bytes = match read {
            Ok(bytes) => bytes,
            Err(what) => {
                findings.push(broken(&name, &what));
                return None;
            }
        };
        if link.hashes.iter().any(|(kind, value)| digest(*kind, &bytes) != *value) {
            let what = "was changed after it was written: the chain has another hash of it";
            findings.push(broken(&name, what));
            return None;
        }
        match manifest::parse(&bytes) {
            Ok(manifest) => {
                findings.extend(complaints(&name, &manifest.complaints));
                Some(manifest)
            }
            Err(error) => {
                let place = Place::byte(name.as_str(), error.at);
                findings.push(broken(&name, &error.what).at(place));
                None
            }
        }
    }

    fn take_in(&mut self, link: &Link, manifest: Manifest) {
        let list: Arc<str> = self.said(&link.file).into();
        let kinds: Option<Vec<Kind>> = manifest
            .records
            .iter()
            .find(|record| !record.hashes.is_empty())
            .map(|record| record.hashes.iter().map(|(kind, _)| *kind).collect());
        if let Some(kinds) = kinds {
            self.kinds = kinds;
        }
        for record in manifest.records {
            if let Some(previous) = record.previous {
                self.files.entry(previous).or_default().moved = true;
            }
            let (size, hashes) = (record.size, record.hashes);
            let known = self.files.entry(record.path).or_default();
            known.moved = false;
            known.says.push(Says { list: Arc::clone(&list), size, hashes });
        }
        if !manifest.ignore.is_empty() {
            self.ignore = manifest.ignore;
        }
    }

    /// Manifests that no chain names. Those that macOS leaves beside files of foreign drives are none.
    fn look_for_loose(&mut self, links: &[Link], findings: &mut Vec<Finding>) {
        let folder = self.folder();
        let entries = match list(&folder) {
            Ok(entries) => entries,
            Err(error) => {
                self.sound = false;
                findings.push(broken(&self.name, &format!("cannot be read: {error}")));
                return;
            }
        };
        for (path, is_folder) in entries.into_iter().take(2 * chain::GENERATIONS) {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let manifest = name.to_lowercase().ends_with(".mhl") && !name.starts_with('.');
            if is_folder || !manifest || links.iter().any(|link| link.file == name) {
                continue;
            }
            let bytes = match there(&path) {
                There::File => read_input(&path, LARGEST).unwrap_or_default(),
                _ => Vec::new(),
            };
            self.loose.push((name, bytes));
        }
    }

    /// True if it neither records nor passes over the file at a path from its folder.
    pub fn lacks(&self, path: &Path) -> bool {
        let recorded = self.files.get(path).is_some_and(|known| !known.says.is_empty());
        let own = path.iter().any(|part| part == FOLDER);
        !recorded && !own && !self.ignores(path)
    }

    /// Takes up manifests that a killed run of lensmend left without a place in the chain, as the generations that they
    /// were to be. One that says anything that is not so stays loose.
    pub fn take_up(&mut self) {
        loop {
            let next = format!("{:04}_", self.last + 1);
            let ours = self.loose.iter().enumerate().find_map(|(at, (name, bytes))| {
                let manifest = manifest::parse(bytes).ok()?;
                let true_of_all = manifest.records.iter().all(|record| self.is_true(record));
                let ours = name.starts_with(&next) && manifest.tool == "lensmend" && true_of_all;
                ours.then_some((at, manifest))
            });
            let Some((at, manifest)) = ours.filter(|_| self.sound) else { return };
            let (file, bytes) = self.loose.remove(at);
            let link = Link { number: self.last + 1, file, hashes: Vec::new() };
            self.take_in(&link, manifest);
            self.ignored = patterns(&self.ignore);
            self.last = link.number;
            self.adopted.push((link.number, link.file, digest(Kind::C4, &bytes)));
        }
    }

    fn is_true(&self, record: &Record) -> bool {
        let path = self.root.join(&record.path);
        let Some(bytes) = Some(path)
            .filter(|path| there(path) == There::File)
            .and_then(|path| read_input(&path, LARGEST).ok())
        else {
            return false;
        };
        !record.hashes.is_empty()
            && record.hashes.iter().all(|(kind, value)| digest(*kind, &bytes) == *value)
    }

    /// Says of every manifest that is still loose that no chain names it.
    pub fn strange(&self) -> impl Iterator<Item = Finding> + '_ {
        self.loose
            .iter()
            .map(|(name, _)| broken(&self.said(name), "is not in the chain, so it was not used"))
    }
}

/// Patterns as one matcher. One that cannot be read matches nothing: better to report a file too many.
fn patterns(lines: &[String]) -> Gitignore {
    let mut builder = GitignoreBuilder::new("");
    for line in lines {
        let _ = builder.add_line(None, line);
    }
    builder.build().unwrap_or_else(|_| Gitignore::empty())
}

/// How a folder is told to people: from the dump, or from the root of the drive.
pub(super) fn told(inside: &Path) -> String {
    let name = shown(&inside.join(FOLDER));
    name.trim_start_matches('/').to_owned()
}

/// What a record of a file that is not where it was says.
pub(super) fn missing(list: &str, file: &str, what: &str) -> Finding {
    Finding::new(Code::SealMissing, format!("is recorded in {list}, but {what}"))
        .at(Place::file(file))
        .hint("look for it on the card before the card is wiped")
}
