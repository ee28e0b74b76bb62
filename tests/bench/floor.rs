//! The floor under `annotate`: the same files walked, opened and read at the same places, and the same bytes made durable
//! in the same places by as many threads. No parsing, no reconciling, no rendering.
//!
//! What to read and write stands in a plan file, the bytes to write one after another in a single blob beside it, so that
//! having them costs two opens. Both are made beforehand: the reads by watching the library read the dump once, the writes
//! from a finished output folder.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::os::unix::fs::FileExt as _;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result};
use lensmend::dump::walk::MediaFile;
use lensmend::output::{Stamp, before, record};
use lensmend::read_at::Watched;
use lensmend::recorded;
use lensmend::run::IN_FLIGHT;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use walkdir::WalkDir;

/// What to read and what to write.
#[derive(Default, Deserialize, Serialize)]
pub(crate) struct Plan {
    /// The dump.
    dump: PathBuf,
    /// The output folder, not there yet.
    out: PathBuf,
    /// Place and length of every read, by path inside the dump.
    reads: BTreeMap<PathBuf, Vec<(u64, usize)>>,
    /// Path inside the output folder and length of every file in the order of the blob: the journal, which goes away
    /// again, sidecars and table, and last the run record.
    writes: Vec<(PathBuf, usize)>,
}

impl Plan {
    /// Watches the library read every file of `dump`, and gathers `finished`, the output folder of a run, into a blob.
    /// Plan and blob are saved as `at` with the extensions `json` and `blob`.
    pub(crate) fn make(at: &Path, dump: &Path, finished: &Path, out: &Path) -> Result<Self> {
        let mut plan = Self { dump: dump.to_owned(), out: out.to_owned(), ..Self::default() };
        for path in files(dump)? {
            let file = MediaFile::open(&path)?;
            let watched = Watched::new(&file);
            recorded::read(&watched, "watched");
            plan.reads.insert(path.strip_prefix(dump)?.to_owned(), watched.reads());
        }
        let record = fs::read(finished.join("run.json"))?;
        let mut blob = journal(&record)?;
        plan.writes.push(("unfinished-run.json".into(), blob.len()));
        for path in files(finished)?.iter().filter(|path| !path.ends_with("run.json")) {
            let bytes = fs::read(path)?;
            plan.writes.push((path.strip_prefix(finished)?.to_owned(), bytes.len()));
            blob.extend(bytes);
        }
        plan.writes.push(("run.json".into(), record.len()));
        blob.extend(record);
        fs::write(at.with_extension("json"), serde_json::to_vec(&plan)?)?;
        fs::write(at.with_extension("blob"), blob)?;
        Ok(plan)
    }

    /// The files of the dump.
    pub(crate) fn files(&self) -> impl Iterator<Item = PathBuf> {
        self.reads.keys().map(|path| self.dump.join(path))
    }

    /// Number and bytes of the reads of the dump.
    pub(crate) fn reads(&self) -> (usize, usize) {
        let all = || self.reads.values().flatten();
        (all().count(), all().map(|(_, length)| length).sum())
    }

    /// Number and bytes of the files written.
    pub(crate) fn writes(&self) -> (usize, usize) {
        (self.writes.len(), self.writes.iter().map(|(_, length)| length).sum())
    }
}

/// Carries out the plan saved as `at`.
pub(crate) fn carry_out(at: &Path) -> Result<()> {
    let plan: Plan = serde_json::from_slice(&fs::read(at.with_extension("json"))?)?;
    let blob = fs::read(at.with_extension("blob"))?;
    let pool = rayon::ThreadPoolBuilder::new().num_threads(IN_FLIGHT).build()?;
    pool.install(|| {
        read(&plan)?;
        write(&plan, &blob)
    })
}

fn read(plan: &Plan) -> Result<()> {
    files(&plan.dump)?.par_iter().try_for_each(|path| {
        let file = File::open(path)?;
        for (offset, length) in plan.reads.get(path.strip_prefix(&plan.dump)?).into_iter().flatten()
        {
            file.read_exact_at(&mut vec![0; *length], *offset)?;
        }
        Ok(())
    })
}

fn write(plan: &Plan, blob: &[u8]) -> Result<()> {
    let mut rest = blob;
    let mut writes = Vec::new();
    for (path, length) in &plan.writes {
        let (bytes, behind) = rest.split_at_checked(*length).context("the blob is too short")?;
        writes.push((plan.out.join(path), bytes));
        rest = behind;
    }
    let ([journal, between @ .., record], true) = (writes.as_slice(), rest.is_empty()) else {
        anyhow::bail!("the plan does not fit the blob");
    };
    place(std::slice::from_ref(journal))?;
    place(between)?;
    place(std::slice::from_ref(record))?;
    fs::remove_file(&journal.0)?;
    Ok(())
}

/// Writes each file beside its place, makes it durable and renames it; then makes the renames durable.
fn place(files: &[(PathBuf, &[u8])]) -> io::Result<()> {
    let folders: BTreeSet<&Path> = files.iter().filter_map(|(path, _)| path.parent()).collect();
    let mut grown = BTreeSet::new();
    for folder in &folders {
        make_folder(folder, &mut grown)?;
    }
    grown.iter().try_for_each(|folder| sync(folder))?;
    files.par_iter().try_for_each(|(path, bytes)| {
        let unfinished = path.with_added_extension("unfinished");
        let mut out = OpenOptions::new().write(true).create_new(true).open(&unfinished)?;
        out.write_all(bytes)?;
        out.sync_all()?;
        fs::rename(unfinished, path)
    })?;
    folders.into_iter().try_for_each(sync)
}

/// Makes a folder and those above it; `grown` are those that hold a new one.
fn make_folder(folder: &Path, grown: &mut BTreeSet<PathBuf>) -> io::Result<()> {
    let Some(above) = folder.parent().filter(|_| !folder.is_dir()) else { return Ok(()) };
    make_folder(above, grown)?;
    grown.insert(above.to_owned());
    fs::create_dir(folder)
}

fn sync(folder: &Path) -> io::Result<()> {
    File::open(folder)?.sync_all()
}

/// Every file below `folder`, in order of path.
pub(crate) fn files(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    for entry in WalkDir::new(folder).sort_by_file_name() {
        let entry = entry?;
        if !entry.file_type().is_dir() {
            files.push(entry.into_path());
        }
    }
    Ok(files)
}

/// The journal that the run of `record` wrote and removed again.
fn journal(record: &[u8]) -> Result<Vec<u8>> {
    let before = before::read_back(record, record::FORMAT).context("the run left no record")?;
    let tool = concat!("lensmend ", env!("CARGO_PKG_VERSION")).to_owned();
    let hashes = before.outputs.into_iter().map(|file| (file.file, BTreeSet::from([file.sha256])));
    Ok(record::journal(&hashes.collect(), &Stamp { date: before.written, tool })?)
}
