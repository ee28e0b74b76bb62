//! The same clip twice in a dump, and what only looks like it.
#![allow(clippy::disallowed_methods, reason = "tests read and write files of their own")]

use std::fs;
use std::path::Path;

use serde_json::Value as Json;

use crate::workshop::{lensmend, sample, tree};

fn ran(folder: &Path) -> Json {
    let path = folder.to_string_lossy().into_owned();
    let out = folder.join("out").to_string_lossy().into_owned();
    let ran =
        lensmend(&["annotate", &path, "--into", &out, "--json", "--date", "2026-11-14T19:00:00Z"]);
    assert_ne!(ran.status.code(), Some(2), "{}", String::from_utf8_lossy(&ran.stderr));
    serde_json::from_slice(&ran.stdout).unwrap()
}

fn codes<'a>(record: &'a Json, start: &str) -> Vec<&'a str> {
    let findings = record["findings"].as_array().unwrap();
    findings
        .iter()
        .filter_map(|f| f["code"].as_str().filter(|code| code.starts_with(start)))
        .collect()
}

/// A folder with a kit, a note for A003C001, and the files given.
fn day(files: &[(&str, &[u8])]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(sample().join("kit.toml"), folder.path().join("kit.toml")).unwrap();
    fs::write(
        folder.path().join("notes.csv"),
        "Clip,Lens,Stop,Reducer\nA003C001,Sorrel 50,f/2,0.71\n",
    )
    .unwrap();
    for (path, bytes) in files {
        let target = folder.path().join("dump").join(path);
        fs::create_dir_all(target.parent().unwrap()).unwrap();
        fs::write(target, bytes).unwrap();
    }
    folder
}

fn movie(name: &str) -> Vec<u8> {
    fs::read(sample().join("dump/A003").join(name)).unwrap()
}

#[test]
fn a_clip_on_two_drives_is_one_and_both_get_sidecars() {
    let bytes = movie("A003C001_1114_KV.mov");
    let folder = day(&[
        ("one/A003/A003C001_1114_KV.mov", &bytes),
        ("two/A003/A003C001_1114_KV.mov", &bytes),
        // The header says that it is the same, whatever it is called.
        ("three/renamed.mov", &bytes),
    ]);
    let record = ran(folder.path());
    let clips = record["clips"].as_array().unwrap();
    assert_eq!(clips.len(), 1, "{record}");
    assert_eq!(clips[0]["copies"].as_array().unwrap().len(), 2);
    assert_eq!(codes(&record, "clip."), ["clip.copies", "clip.copies"]);
    let sidecars = tree(&folder.path().join("out/sidecars"));
    let names: Vec<&str> = sidecars.keys().map(String::as_str).collect();
    assert_eq!(
        names,
        ["one/A003/A003C001_1114_KV.xmp", "three/renamed.xmp", "two/A003/A003C001_1114_KV.xmp",]
    );
    // Asked again nothing changes, and the summary counts every file once.
    let again = ran(folder.path());
    assert_eq!(again, record);
    let path = folder.path().join("dump").to_string_lossy().into_owned();
    let out = lensmend(&["scan", &path]).stdout;
    let out = String::from_utf8(out).unwrap();
    assert!(out.contains("1 clips in 3 files, 0 stray files, 3 files in all"), "{out}");
}

#[test]
fn one_name_over_different_files_is_said() {
    let (one, two) = (movie("A003C001_1114_KV.mov"), movie("A003C002_1114_KV.mov"));
    let mut bent = one.clone();
    // A byte of the creation time: as large, and another clip.
    let at = bent.windows(4).position(|bytes| bytes == b"mvhd").unwrap() + 11;
    bent[at] ^= 1;
    for other in [&two, &bent] {
        let folder = day(&[
            ("one/A003/A003C001_1114_KV.mov", &one),
            ("two/A003/A003C001_1114_KV.mov", other),
        ]);
        let record = ran(folder.path());
        assert_eq!(record["clips"].as_array().unwrap().len(), 2);
        assert_eq!(codes(&record, "clip."), ["clip.name-twice"]);
    }
}

/// Opaque files of one camera begin alike: only name and size together make them copies.
#[test]
fn opaque_files_go_by_name_and_size() {
    let blob = vec![7_u8; 5000];
    let folder = day(&[
        ("one/A003/A003C001_1114_KV.blob", &blob),
        ("two/A003/A003C001_1114_KV.blob", &blob),
        ("two/A003/A003C002_1114_KV.blob", &blob),
        ("three/A003/A003C001_1114_KV.blob", &blob[..4999]),
    ]);
    let record = ran(folder.path());
    let names: Vec<&str> = record["clips"]
        .as_array()
        .unwrap()
        .iter()
        .map(|clip| clip["name"].as_str().unwrap())
        .collect();
    assert_eq!(names.len(), 3, "{names:?}");
    assert_eq!(codes(&record, "clip."), ["clip.copies", "clip.name-twice"]);
}
