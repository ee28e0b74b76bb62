//! Finding kit, notes and dump in a folder, so that the usual case needs no flags.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::dump::walk::{UNFINISHED, list, read_input, shown};
use crate::lists::looks_like_list;
use crate::notes::looks_like_notes;
use crate::seal::managed;

/// Name of the kit file.
pub const KIT: &str = "kit.toml";
/// Name of the dump's folder, if it is not the folder itself.
pub const DUMP: &str = "dump";
/// Name of the lens table in the output folder.
pub const TABLE: &str = "lens-table.csv";
/// Name of the run record in the output folder.
pub const RECORD: &str = "run.json";
/// Name of the journal in the output folder.
pub const JOURNAL: &str = "unfinished-run.json";
/// Name of the tree of sidecars in the output folder.
pub const SIDECARS: &str = "sidecars";
/// Name of the tree of lens data for VFX in the output folder.
pub const LENS_DATA: &str = "lens-data";
/// Name of the record of a turnover in its folder.
pub const TURNOVER: &str = "turnover.json";
/// Name of its journal.
pub const TURNOVER_JOURNAL: &str = "unfinished-turnover.json";
/// Name of the record of stamped plates in their folder.
pub const STAMPED: &str = "stamp.json";
/// Name of its journal.
pub const STAMPED_JOURNAL: &str = "unfinished-stamp.json";
/// Name of the table of a turnover.
pub const TURNOVER_TABLE: &str = "turnover.csv";
/// Name of the page of a camera report.
pub const REPORT_PAGE: &str = "report.html";
/// Name of the camera report as it is printed.
pub const REPORT_PRINT: &str = "report.pdf";
/// Name of the table of a camera report.
pub const REPORT_TABLE: &str = "report.csv";
/// Name of the record of a camera report that has a folder of its own.
pub const REPORT: &str = "report.json";
/// Name of its journal.
pub const REPORT_JOURNAL: &str = "unfinished-report.json";
/// Name of the output folder, if none is given.
pub const OUT: &str = "lensmend";

/// Most bytes of a kit file: some thousand lenses.
pub const LARGEST_KIT: u64 = 1 << 20;

/// Most bytes of a notes file.
pub const LARGEST_INPUT: u64 = 64 << 20;

/// What a run reads and where it writes.
#[derive(Clone, Debug, PartialEq)]
pub struct Sources {
    /// The folder given.
    pub folder: PathBuf,
    /// Kit file; `None` where there is none and none is needed.
    pub kit: Option<PathBuf>,
    /// Notes files, in order.
    pub notes: Vec<PathBuf>,
    /// Clip lists, in order.
    pub lists: Vec<PathBuf>,
    /// Tables of the folder that were not taken for notes.
    pub passed_over: Vec<PathBuf>,
    /// The dump.
    pub dump: PathBuf,
    /// Output folder.
    pub into: PathBuf,
}

/// True if the output folder is one of the dump's own: it lies in it, holds something, and no run record.
fn foreign_in_dump(into: &Path, dump: &Path) -> bool {
    let inside = into.canonicalize().ok().zip(dump.canonicalize().ok());
    let inside = inside.is_some_and(|(into, dump)| into.starts_with(dump));
    // What a killed first run leaves is ours too.
    let own = |path: &Path| {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        [RECORD, JOURNAL, TURNOVER, TURNOVER_JOURNAL, REPORT, REPORT_JOURNAL]
            .contains(&name.as_ref())
            || name.ends_with(UNFINISHED)
    };
    let entries = list(into).unwrap_or_default();
    inside && !entries.is_empty() && !entries.iter().any(|(path, _)| own(path))
}

impl Sources {
    /// A path as the user would name it: inside the folder given, or as it stands.
    pub fn name(&self, path: &Path) -> String {
        shown(path.strip_prefix(&self.folder).unwrap_or(path))
    }

    /// `path` as the walk of the dump meets it, if it lies in the dump, however it was written on the command line.
    pub fn in_dump(&self, path: &Path) -> Option<PathBuf> {
        let inside = path.canonicalize().ok()?;
        let inside = inside.strip_prefix(self.dump.canonicalize().ok()?).ok()?;
        Some(self.dump.join(inside))
    }
}

/// What the command line says of them; everything else is found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Given {
    /// Kit file.
    pub kit: Option<PathBuf>,
    /// The run can do without a kit.
    pub kitless: bool,
    /// Notes files; none means to look for them.
    pub notes: Vec<PathBuf>,
    /// Clip lists; none means to look for them.
    pub lists: Vec<PathBuf>,
    /// The dump.
    pub dump: Option<PathBuf>,
    /// Output folder.
    pub into: Option<PathBuf>,
}

/// Finds what is not given. The error names what is missing and how to give it.
pub fn find(folder: &Path, given: &Given) -> Result<Sources> {
    if !folder.is_dir() {
        bail!("{} is not a folder", folder.display());
    }
    let entries =
        list(folder).with_context(|| format!("cannot read the folder {}", folder.display()))?;
    let kit = given.kit.clone().unwrap_or_else(|| folder.join(KIT));
    let needed = given.kit.is_some() || !given.kitless;
    if needed && !kit.is_file() {
        bail!(
            "there is no kit file {}; write one (docs/kit-toml.md shows how) or name it with --kit FILE; \
            where nothing but a reducer was on, --reducer 0.71 does without",
            kit.display()
        );
    }
    let kit = Some(kit).filter(|kit| kit.is_file());
    let dump = dump_in(folder, given.dump.as_deref())?;
    let into = match &given.into {
        Some(into) => into.clone(),
        None => usual_output(folder)?,
    };
    let same = into.canonicalize().ok().zip(dump.canonicalize().ok()).is_some_and(|(a, b)| a == b);
    if same {
        bail!(
            "the output folder is the dump itself; choose another with --into OUT, or write sidecars beside the clips with --beside"
        );
    }
    let tree = into.join(SIDECARS).canonicalize().ok().zip(dump.canonicalize().ok());
    let meets = |(tree, dump): (PathBuf, PathBuf)| {
        let outside = into.canonicalize().is_ok_and(|into| !into.starts_with(&dump));
        dump.starts_with(&tree) || (outside && tree.starts_with(&dump))
    };
    if tree.is_some_and(meets) {
        bail!(
            "{} leads into the dump; choose another output folder with --into OUT",
            into.join(SIDECARS).display()
        );
    }
    if foreign_in_dump(&into, &dump) {
        bail!(
            "the output folder {} lies in the dump and holds files that are not lensmend's; choose another with --into OUT",
            into.display()
        );
    }
    let mut found =
        Tables { notes: given.notes.clone(), lists: given.lists.clone(), ..Tables::default() };
    let (look_for_notes, look_for_lists) = (given.notes.is_empty(), given.lists.is_empty());
    if look_for_notes || look_for_lists {
        // The table that a run writes has the headings of notes, and may lie here from a run into this folder.
        // What a spreadsheet program keeps beside an open document is no document.
        // Notes may well be called like the table of a report; only beside its record it is one.
        let has =
            |name| entries.iter().any(|(path, _)| path.file_name().is_some_and(|it| it == name));
        let reported = has(RECORD) || has(REPORT);
        let own = |path: &Path| {
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            [TABLE, TURNOVER_TABLE].contains(&name.as_ref())
                || reported && name == REPORT_TABLE
                || name.starts_with("~$")
                || name.starts_with(".~")
        };
        let given = |path: &PathBuf| given.notes.contains(path) || given.lists.contains(path);
        let tables = entries.into_iter().filter(|(path, is_folder)| !is_folder && is_table(path));
        for (path, _) in tables.filter(|(path, _)| !own(path) && !given(path)) {
            found.sort(path, (look_for_notes, look_for_lists));
        }
    }
    let Tables { notes, lists, passed_over } = found;
    Ok(Sources { folder: folder.to_owned(), kit, notes, lists, passed_over, dump, into })
}

/// `lensmend` in the folder, or beside what is sealed if that would lie in it: a sealed folder stays as it is.
pub fn usual_output(folder: &Path) -> Result<PathBuf> {
    let usual = folder.join(OUT);
    let Some(sealed) = managed(&usual) else { return Ok(usual) };
    let Some(name) = sealed.file_name() else {
        bail!(
            "{} is sealed by a history (ASC MHL); choose an output folder elsewhere with --into OUT",
            sealed.display()
        );
    };
    let mut beside = name.to_owned();
    beside.push("-");
    beside.push(OUT);
    // As it was written on the command line, where that is possible.
    let same = folder.file_name() == Some(name) && folder.canonicalize().is_ok_and(|f| f == sealed);
    Ok(if same { folder } else { sealed.as_path() }.with_file_name(beside))
}

/// The dump of a folder: the one given, its folder `dump`, or itself.
pub fn dump_in(folder: &Path, given: Option<&Path>) -> Result<PathBuf> {
    let dump = match given {
        Some(dump) => dump.to_owned(),
        None if folder.join(DUMP).is_dir() => folder.join(DUMP),
        None => folder.to_owned(),
    };
    if !dump.is_dir() {
        bail!("the dump {} is not a folder", dump.display());
    }
    Ok(dump)
}

/// Tables of a folder by what they are.
#[derive(Default)]
struct Tables {
    notes: Vec<PathBuf>,
    lists: Vec<PathBuf>,
    passed_over: Vec<PathBuf>,
}

impl Tables {
    /// Puts a table where it belongs. A list comes from a machine and says nothing of attachments; notes may have any of its columns.
    fn sort(&mut self, path: PathBuf, (notes, lists): (bool, bool)) {
        let Ok(bytes) = read_input(&path, LARGEST_INPUT) else {
            self.passed_over.push(path);
            return;
        };
        let place = if looks_like_list(&bytes) {
            lists.then_some(&mut self.lists)
        } else if looks_like_notes(&bytes) {
            notes.then_some(&mut self.notes)
        } else {
            notes.then_some(&mut self.passed_over)
        };
        if let Some(place) = place {
            place.push(path);
        }
    }
}

fn is_table(path: &Path) -> bool {
    let extension = path.extension().unwrap_or_default();
    ["csv", "tsv", "xlsx", "ods"].iter().any(|table| extension.eq_ignore_ascii_case(table))
}
