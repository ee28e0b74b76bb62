//! The schema of `kit.toml` held against a JSON Schema library, and kits held against the schema.
#![allow(clippy::disallowed_methods, reason = "kits are written for the judge to read")]

use std::fs;
use std::path::PathBuf;

use lensmend::kit::{self, STARTER};

use crate::kit::FAULTS;
use crate::workshop::{root, sample, text};

use super::Judges;

/// Words of the faults that a schema cannot say: they hang on other entries, on sums, or on the order of a list.
const BEYOND: &[&str] = &[
    "two rising numbers",
    "no glass adds light",
    "no mount \"x\"",
    "which part names the clip",
    "no attachment \"r71\"",
    "two entries mount",
    "two entries plate",
    "are an area of",
    "inches are 50 mm",
    "inches are 50.8 mm",
    "they are 29 % apart",
    "without an attachment",
    "at 85 mm",
    "must rise",
    "below the largest f-number",
    "has 1 entries",
    "outside the zoom's range",
    "by rising focal",
    "no plain adapter takes",
];

#[test]
fn the_schema_is_one_and_takes_every_good_kit() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let mut files = vec![root().join("docs/kit.schema.json"), sample().join("kit.toml")];
    let page = text("docs/kit-toml.md").unwrap();
    let example = page.split("```toml\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    for (name, kit) in [("starter", STARTER), ("example", example), ("empty", "")] {
        let found = kit::parse(name, kit.as_bytes());
        assert_eq!(found.findings, [], "{name}");
        files.push(folder.path().join(format!("{name}.toml")));
        fs::write(files.last().unwrap(), kit).unwrap();
    }
    let answers = judges.ask("kit_schema.py", &files);
    assert_eq!(answers[0]["schema"], "ok");
    for answer in &answers[1..] {
        assert_eq!(answer["complaints"].as_array().map(Vec::len), Some(0), "{answer}");
    }
}

#[test]
fn the_schema_refuses_what_the_reader_refuses() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let broken: Vec<(&str, &str)> = FAULTS.iter().map(|(kit, words, _)| (*kit, *words)).collect();
    // What the reader takes for a warning is none of the schema's.
    let unknown =
        [("[[lens]]\nid = 'a'\nfocal = 50\nfocall = 35", "not a key"), ("lenses = 3", "not a key")];
    let broken: Vec<_> = broken.into_iter().chain(unknown).collect();
    let mut files: Vec<PathBuf> = vec![root().join("docs/kit.schema.json")];
    for (at, (kit, _)) in broken.iter().enumerate() {
        files.push(folder.path().join(format!("{at}.toml")));
        fs::write(files.last().unwrap(), kit).unwrap();
    }
    let answers = judges.ask("kit_schema.py", &files);
    let mut refused = 0;
    for ((kit, words), answer) in broken.iter().zip(&answers[1..]) {
        let complaints = answer["complaints"].as_array().map(Vec::len);
        // None: not even TOML.
        let refuses = complaints != Some(0);
        refused += usize::from(refuses);
        let beyond = BEYOND.iter().any(|beyond| words.contains(beyond));
        assert_eq!(refuses, !beyond, "{kit}\n{words}\n{answer}");
    }
    assert!(refused > 40, "only {refused} of {} are refused", broken.len());
}
