//! The sample shoot, as a whole: what `annotate` makes of it today is byte for byte what stands in its `expected` folder.
#![allow(clippy::disallowed_methods, reason = "blessing writes the expected folder")]

use std::fs;

use lensmend::read_at::sha256;

use crate::workshop::{DATE, Tree, blessing, first_difference, lensmend, plant, sample, tree};

/// The name under which stdout stands among the expected files.
const SUMMARY: &str = "summary.txt";

const REMEDY: &str =
    "If the change is meant: BLESS=1 cargo test --test suite sample, then read `git diff samples`.";

#[test]
fn annotating_the_sample_gives_the_expected_files() {
    let folder = sample().join("expected");
    let fresh = fresh();
    if blessing() {
        // File by file: other tests may be reading the sample.
        let before = if folder.exists() { tree(&folder) } else { Tree::new() };
        for gone in before.keys().filter(|file| !fresh.contains_key(*file)) {
            fs::remove_file(folder.join(gone)).unwrap();
        }
        plant(&fresh, &folder);
        return;
    }
    let expected = if folder.exists() { tree(&folder) } else { Tree::new() };
    let mut differences = Vec::new();
    for (file, bytes) in &fresh {
        match expected.get(file) {
            None => differences.push(format!("{file}: is written now, but not expected")),
            Some(expected) => differences.extend(
                first_difference(expected, bytes).map(|where_| format!("{file}: {where_}")),
            ),
        }
    }
    let gone = expected.keys().filter(|file| !fresh.contains_key(*file));
    differences.extend(gone.map(|file| format!("{file}: is expected, but not written now")));
    let count = differences.len();
    // The first few say enough: one change of a field shows in every sidecar.
    differences.truncate(5);
    assert!(
        count == 0,
        "{count} files of samples/saltmarsh-day/expected differ:\n{}\n{REMEDY}",
        differences.join("\n")
    );
}

/// Everything that a run writes, and its summary.
fn fresh() -> Tree {
    let into = tempfile::tempdir().unwrap();
    let run = lensmend(&[
        "annotate",
        "samples/saltmarsh-day",
        "--date",
        DATE,
        "--into",
        into.path().to_str().unwrap(),
    ]);
    let talk = String::from_utf8_lossy(&run.stderr);
    assert_eq!(
        run.status.code(),
        Some(1),
        "the sample has findings for a person; it said:\n{talk}"
    );
    let mut fresh = tree(into.path());
    // Nobody reads a difference of packed bytes: the hash in the run record holds the paper to its last byte.
    let paper = fresh.remove("report.pdf").unwrap();
    let record = String::from_utf8(fresh["run.json"].clone()).unwrap();
    assert!(record.contains(&sha256(&paper)), "run.json has another hash of report.pdf");
    fresh.insert(SUMMARY.to_owned(), run.stdout);
    fresh
}
