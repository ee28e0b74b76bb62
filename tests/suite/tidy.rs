//! The rules of the house that a machine can check. Each failure says the file, the line and what to do.

mod imports;
mod reference;
mod source;

use std::path::Path;
use std::process::Command;

use crate::workshop::{handed_in, inside, root, text, tree};

use source::{code_of, files};

/// Lines above which a file holds more than one thing.
const LONGEST: usize = 400;

/// What stands at the top of the project, and whether it may be missing.
const TOP: &[(&str, bool)] = &[
    (".cargo", true),
    (".ci", false),
    (".clippy.toml", false),
    (".deny.toml", false),
    (".gitattributes", false),
    (".github", true),
    (".gitignore", false),
    (".rustfmt.toml", false),
    ("Cargo.lock", false),
    ("Cargo.toml", false),
    ("DEVELOPERS.md", false),
    ("LICENSE", false),
    ("README.md", false),
    ("docs", false),
    ("samples", false),
    ("src", false),
    ("tests", false),
];

#[test]
fn only_two_files_touch_the_disk_and_one_the_clock() {
    let rules: &[(&[&str], &[&str], &str)] = &[
        (
            &[
                "fs::",
                "std::fs",
                "File::",
                "OpenOptions",
                ".read_dir(",
                ".read_link(",
                ".symlink_metadata(",
            ],
            &["src/dump/walk.rs", "src/place.rs"],
            "inputs are opened in src/dump/walk.rs and files written in src/place.rs: call those",
        ),
        (
            &["SystemTime", "Instant::", "Utc::now", "Local::now"],
            &["src/terminal.rs"],
            "the date is made in src/terminal.rs and handed down as a Stamp",
        ),
        (
            &["std::env::var", "env::var", "env::args", "current_dir("],
            &["src/terminal.rs"],
            "what the surroundings say is read in src/terminal.rs and handed down",
        ),
    ];
    let mut broken = Vec::new();
    for (path, source) in files() {
        for (line, code) in code_of(&source).lines().enumerate() {
            for (words, allowed, remedy) in rules {
                // A file may keep a part of itself in its folder.
                let may = |file: &&str| {
                    path == *file || path.starts_with(&format!("{}/", file.trim_end_matches(".rs")))
                };
                if !allowed.iter().any(may)
                    && let Some(word) = words.iter().find(|word| stands_in(code, word))
                {
                    broken.push(format!("{path}:{}: {word} {remedy}", line + 1));
                }
            }
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

/// True if `word` stands in `code` on its own: `MediaFile::` is no `File::`.
fn stands_in(code: &str, word: &str) -> bool {
    code.match_indices(word).any(|(at, _)| {
        let before = code[..at].chars().next_back();
        word.starts_with('.') || !before.is_some_and(|c| c.is_alphanumeric() || c == '_')
    })
}

#[test]
fn files_are_short_and_folders_shallow() {
    let mut broken = Vec::new();
    for (path, source) in files() {
        let lines = source.lines().count();
        let folders = path.split('/').count() - 2;
        if folders > 2 {
            broken.push(format!("{path}: {folders} folders deep, two are enough"));
        }
        if lines > LONGEST {
            broken.push(format!("{path}: {lines} lines; split it, {LONGEST} is the most"));
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

#[test]
fn nothing_is_left_to_do() {
    // Put together here, or this file would break its own rule.
    let marks = [["TO", "DO"], ["FIX", "ME"], ["XX", "X"], ["to", "do!"], ["db", "g!"]]
        .map(|parts| parts.concat());
    let mut broken = Vec::new();
    for folder in [
        "src",
        "tests/suite",
        "tests/judges",
        "tests/bench",
        "tests/fuzz",
        "tests/run",
        "samples/make-media.py",
    ] {
        for (path, bytes) in texts_below(folder) {
            for (line, words) in String::from_utf8_lossy(&bytes).lines().enumerate() {
                let found = marks.iter().find(|mark| {
                    words.match_indices(mark.as_str()).any(|(at, _)| {
                        let edge =
                            |c: Option<char>| !c.is_some_and(|c| c.is_alphanumeric() || c == '_');
                        edge(words[..at].chars().next_back())
                            && edge(words[at + mark.len()..].chars().next())
                    })
                });
                if let Some(mark) = found {
                    broken.push(format!(
                        "{path}:{}: {mark} - do it, or write down where it is tracked",
                        line + 1
                    ));
                }
            }
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

/// Text files below a folder, or the one file; what builds leave behind is passed over.
fn texts_below(path: &str) -> Vec<(String, Vec<u8>)> {
    let at = root().join(path);
    if at.is_file() {
        return vec![(path.to_owned(), text(path).unwrap_or_default().into_bytes())];
    }
    if !at.is_dir() {
        return Vec::new();
    }
    let kept = ["rs", "py", "toml", "md", "sh", "txt"];
    tree(&at)
        .into_iter()
        .filter(|(file, _)| {
            !file.split('/').any(|part| ["target", "corpus", "artifacts"].contains(&part))
        })
        .filter(|(file, _)| {
            Path::new(file).extension().is_some_and(|end| kept.iter().any(|kept| end == *kept))
        })
        .map(|(file, bytes)| (format!("{path}/{file}"), bytes))
        .collect()
}

#[test]
fn the_top_folder_holds_what_belongs_there() {
    let there = handed_in_names();
    let strange: Vec<&String> =
        there.iter().filter(|name| !TOP.iter().any(|(known, _)| known == name)).collect();
    let missing: Vec<&str> = TOP
        .iter()
        .filter(|(known, optional)| !optional && !there.iter().any(|name| name == known))
        .map(|(known, _)| *known)
        .collect();
    assert!(
        strange.is_empty() && missing.is_empty(),
        "at the top do not belong {strange:?}, and missing are {missing:?} (TOP in tests/suite/tidy.rs)"
    );
}

/// Names at the top of the project that are handed in or would be: git knows what is ignored. Without git, every name.
fn handed_in_names() -> Vec<String> {
    let listed = Command::new("git")
        .current_dir(root())
        .args(["ls-files", "--cached", "--others", "--exclude-standard"])
        .output();
    let mut names: Vec<String> = match listed {
        Ok(listed) if listed.status.success() => String::from_utf8_lossy(&listed.stdout)
            .lines()
            .map(|path| path.split('/').next().unwrap_or_default().to_owned())
            // Removed from the disk, but not yet from the list.
            .filter(|name| root().join(name).exists())
            .collect(),
        _ => walkdir::WalkDir::new(root())
            .min_depth(1)
            .max_depth(1)
            .into_iter()
            .map(|entry| inside(&root(), entry.unwrap().path()))
            .filter(|name| name != "target" && name != ".git")
            .collect(),
    };
    names.sort();
    names.dedup();
    names
}

#[test]
fn every_dependency_has_its_reason() {
    let Some(developers) = handed_in("DEVELOPERS.md") else { return };
    let manifest: toml::Table = text("Cargo.toml").unwrap().parse().unwrap();
    let mut unnamed = Vec::new();
    for kind in ["dependencies", "dev-dependencies", "build-dependencies"] {
        let Some(toml::Value::Table(crates)) = manifest.get(kind) else { continue };
        unnamed.extend(crates.keys().filter(|name| !developers.contains(&format!("`{name}`"))));
    }
    assert!(
        unnamed.is_empty(),
        "DEVELOPERS.md does not say what these dependencies are for: {unnamed:?}; write `name` and a reason"
    );
}

#[test]
fn words_are_found_only_on_their_own() {
    assert!(stands_in("let file = File::open(path)?;", "File::"));
    assert!(!stands_in("let file = MediaFile::open(path)?;", "File::"));
    assert!(stands_in("path.read_dir()", ".read_dir("));
}
