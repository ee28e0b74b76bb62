//! What the tests of the whole program share: the built program, folder trees, blessing.
#![allow(clippy::disallowed_methods, reason = "tests read and write files of their own")]

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use walkdir::WalkDir;

/// The date that runs of the suite are given, so that their outputs do not change from day to day.
pub(crate) const DATE: &str = "2026-11-14T19:00:00Z";

/// Files by their path inside a folder, with `/` between parts.
pub(crate) type Tree = BTreeMap<String, Vec<u8>>;

/// The folder of the project.
pub(crate) fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The sample shoot.
pub(crate) fn sample() -> PathBuf {
    root().join("samples/saltmarsh-day")
}

/// Runs the built program in the project's folder, without what a person's own settings could change.
pub(crate) fn lensmend(arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lensmend"));
    for setting in ["SOURCE_DATE_EPOCH", "CLICOLOR", "CLICOLOR_FORCE", "NO_COLOR", "COLUMNS"] {
        command.env_remove(setting);
    }
    command.current_dir(root()).args(arguments).output().unwrap()
}

/// Every file below `folder`.
pub(crate) fn tree(folder: &Path) -> Tree {
    WalkDir::new(folder)
        .sort_by_file_name()
        .into_iter()
        .map(Result::unwrap)
        .filter(|entry| entry.file_type().is_file())
        .map(|entry| (inside(folder, entry.path()), fs::read(entry.path()).unwrap()))
        .collect()
}

/// Writes `tree` below `folder`.
pub(crate) fn plant(tree: &Tree, folder: &Path) {
    for (path, bytes) in tree {
        let target = folder.join(path);
        fs::create_dir_all(target.parent().unwrap()).unwrap();
        fs::write(target, bytes).unwrap();
    }
}

/// `path` inside `folder`, with `/` between parts.
pub(crate) fn inside(folder: &Path, path: &Path) -> String {
    let parts = path.strip_prefix(folder).unwrap().components();
    parts.map(|part| part.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/")
}

/// A file of the project as text; `None` if it is not there.
pub(crate) fn text(path: &str) -> Option<String> {
    fs::read_to_string(root().join(path)).ok()
}

/// The whole text of a file that a check needs. One that is missing is a failure where every check must run
/// (`CI` is set), and elsewhere a note.
pub(crate) fn handed_in(path: &str) -> Option<String> {
    let found = text(path);
    if found.is_none() {
        assert!(!in_ci(), "{path} is missing; write it, its contents are held to this test");
        note(&format!("{path} is missing, so nothing of it was checked"));
    }
    found
}

/// True where every check must run: `CI` is set.
pub(crate) fn in_ci() -> bool {
    std::env::var("CI").is_ok_and(|value| !value.is_empty())
}

/// True if expected files are to be rewritten from what is there now: `BLESS` is set.
pub(crate) fn blessing() -> bool {
    let bless = std::env::var("BLESS").is_ok_and(|value| !value.is_empty());
    assert!(!(bless && in_ci()), "BLESS is for a person who reads the difference; unset it or CI");
    bless
}

/// Says something that a passing test must not hide; the test harness would swallow `eprintln!`.
pub(crate) fn note(words: &str) {
    let mut stderr = io::stderr();
    writeln!(stderr, "note: {words}").unwrap();
}

/// Where two texts part: line, and that line in each; `None` if they are the same.
pub(crate) fn first_difference(expected: &[u8], fresh: &[u8]) -> Option<String> {
    if expected == fresh {
        return None;
    }
    let lines = |bytes: &[u8]| -> Vec<String> {
        // With their ends: a lost carriage return is a difference too.
        bytes
            .split_inclusive(|b| *b == b'\n')
            .map(|l| format!("{:?}", String::from_utf8_lossy(l)))
            .collect()
    };
    let (expected, fresh) = (lines(expected), lines(fresh));
    let at = expected.iter().zip(&fresh).take_while(|(a, b)| a == b).count();
    let line = |lines: &[String]| lines.get(at).cloned().unwrap_or_else(|| "(the end)".to_owned());
    Some(format!("line {}\n  expected {}\n  now      {}", at + 1, line(&expected), line(&fresh)))
}

#[test]
fn a_difference_names_the_line_and_both_sides() {
    assert_eq!(first_difference(b"a\r\nb\n", b"a\r\nb\n"), None);
    let found = first_difference(b"a\r\nb\n", b"a\nb\n").unwrap();
    assert_eq!(found, "line 1\n  expected \"a\\r\\n\"\n  now      \"a\\n\"");
    let found = first_difference(b"a\n", b"a\nb\n").unwrap();
    assert_eq!(found, "line 2\n  expected (the end)\n  now      \"b\\n\"");
}

/// No header, however broken, is worth more work than this: fifty thousand boxes of a page each would be more.
pub(crate) fn bounded(watched: &lensmend::read_at::Watched) {
    let reads = watched.reads();
    let sum: usize = reads.iter().map(|(_, count)| count).sum();
    assert!(reads.len() <= 60_000 && sum <= 64 << 20, "{} reads, {sum} bytes", reads.len());
}
