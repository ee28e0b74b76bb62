//! Accounting: over a tree that is as bad as it gets, every file is part of a clip or a stray, and a link is never followed.

#![expect(clippy::disallowed_methods, reason = "tests make and look at files of their own")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::shoot::{Ran, Shoot, lensmend, paths, run, small_clip};

#[test]
fn every_file_of_a_hostile_tree_is_accounted_for() {
    let shoot = Shoot::empty();
    let made = hostile(&shoot);
    let ran = scan(&shoot.dump()).exits(1);
    let (clips, strays) = accounted(&ran);
    assert_eq!(clips.intersection(&strays).count(), 0);
    let all: BTreeSet<String> = clips.union(&strays).cloned().collect();
    assert_eq!(all, on_disk(&shoot.dump()));
    assert_eq!(clips.len() + strays.len(), on_disk(&shoot.dump()).len());
    for clip in made {
        assert!(clips.contains(&clip), "{clip} is no clip: {clips:?}");
    }
    let found = codes(&ran);
    for code in ["clip.span-gap", "clip.name-twice", "media.empty"] {
        assert!(found.contains(code), "{code}: {found:?}");
    }
    let summary = run(lensmend().arg("scan").arg(shoot.dump())).exits(1).result();
    assert!(summary.contains(&format!("{} files in all", all.len())), "{summary}");
}

#[test]
fn two_walks_agree_whatever_order_the_disk_has() {
    let (shoot, other) = (Shoot::empty(), Shoot::empty());
    hostile(&shoot);
    hostile(&other);
    // The same files under the same names, put down in the opposite order.
    let files: Vec<PathBuf> =
        paths(&other.dump()).into_iter().filter(|path| other.dump().join(path).is_file()).collect();
    for path in files.iter().rev() {
        let (from, aside) = (other.dump().join(path), other.temp.path().join("aside"));
        fs::rename(&from, &aside).unwrap();
        fs::rename(&aside, &from).unwrap();
    }
    let first = scan(&shoot.dump()).exits(1).out;
    assert!(first == scan(&shoot.dump()).exits(1).out);
    assert!(first == scan(&other.dump()).exits(1).out);
}

#[test]
fn annotate_accounts_for_the_same_files() {
    let shoot = Shoot::clean();
    hostile(&shoot);
    let before = on_disk(&shoot.dump());
    for ways in [&[][..], &["--beside"]] {
        for _ in 0..2 {
            let ran = run(shoot.command(crate::shoot::DATE).args(ways).arg("--json")).exits(1);
            let (clips, strays) = accounted(&ran);
            let all: BTreeSet<String> = clips.union(&strays).cloned().collect();
            assert_eq!(all, before, "{ways:?}");
        }
    }
}

#[test]
fn folders_alone_are_no_clips_and_that_is_said() {
    let shoot = Shoot::empty();
    fs::create_dir_all(shoot.dump().join("A003/empty.mov/deeper")).unwrap();
    let ran = scan(&shoot.dump()).exits(1);
    assert_eq!(accounted(&ran), (BTreeSet::new(), BTreeSet::new()));
    assert!(codes(&ran).contains("dump.no-clips"));
}

/// Fills the dump; the names returned must come out as clips.
fn hostile(shoot: &Shoot) -> Vec<String> {
    let dump = shoot.dump();
    let mut clips = Vec::new();
    let mut clip = |path: &str| {
        shoot.clip(path);
        clips.push(path.to_owned());
    };
    // Spanned with a gap; the same clip in two folders; names that differ in case or extension.
    for part in ["001", "002", "004"] {
        clip(&format!("A003/A003C010_1114_KV_{part}.mov"));
    }
    clip("A003/A003C011_1114_KV.mov");
    clip("copy/A003/A003C011_1114_KV.mov");
    clip("A003/a003c011_1114_kv.mp4");
    clip("case/Scene.mov");
    clip("case/Scene.mxf");
    clip("case/Scene");
    // A drive that does not tell case apart would make one file of these.
    if !dump.join("CASE").exists() {
        clip("case/SCENE.MOV");
    }
    clip("names/with space, comma;\u{e9}\u{301}\u{65e5}.mov");
    let deep: PathBuf = (0..40).map(|level| format!("level-{level}")).collect();
    clip(&format!("{}/A003C012_1114_KV.mov", deep.to_str().unwrap()));
    let put = |path: &str, bytes: &[u8]| {
        let path = dump.join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    };
    put("A003/A003C013_1114_KV.mov", b"");
    clips.push("A003/A003C013_1114_KV.mov".to_owned());
    put("A003/A003C014_1114_KV.rawish", &[7; 100]);
    clips.push("A003/A003C014_1114_KV.rawish".to_owned());
    put("A003/readme", b"");
    put("A003/A003C011_1114_KV.xml", b"<a/>");
    put(".hidden/A003C015_1114_KV.mov", b"x");
    put("A003/._A003C011_1114_KV.mov", b"x");
    put("A003/A003C011_1114_KV.xmp.lensmend-unfinished", b"half");
    put("ascmhl/0001_day.mhl", b"<hashlist/>");
    fs::create_dir_all(dump.join("empty/A004C001_1114_KV.mov")).unwrap();
    #[cfg(unix)]
    clips.extend(unix::hostile(shoot));
    clips
}

fn scan(dump: &Path) -> Ran {
    run(lensmend().arg("scan").arg(dump).arg("--json"))
}

fn codes(ran: &Ran) -> BTreeSet<String> {
    crate::shoot::findings(&ran.out).into_iter().map(|(code, _)| code).collect()
}

/// Files of clips and strays; each may stand once.
fn accounted(ran: &Ran) -> (BTreeSet<String>, BTreeSet<String>) {
    let record: Value = serde_json::from_slice(&ran.out).unwrap();
    let list = |value: &Value| value.as_array().unwrap().clone();
    let name = |file: &Value| file["file"].as_str().unwrap().to_owned();
    let clips: Vec<String> = list(&record["clips"])
        .iter()
        .flat_map(|clip| list(&clip["files"]))
        .map(|f| name(&f))
        .collect();
    let strays: Vec<String> = list(&record["strays"]).iter().map(name).collect();
    let sets: (BTreeSet<_>, BTreeSet<_>) =
        (clips.iter().cloned().collect(), strays.iter().cloned().collect());
    assert_eq!((sets.0.len(), sets.1.len()), (clips.len(), strays.len()), "a file stands twice");
    sets
}

/// Everything that is no folder, named as records name it.
fn on_disk(root: &Path) -> BTreeSet<String> {
    paths(root)
        .into_iter()
        .filter(|path| !fs::symlink_metadata(root.join(path)).unwrap().is_dir())
        .map(|path| written(&path))
        .collect()
}

/// Bytes that are no UTF-8 as `\xNN`.
fn written(path: &Path) -> String {
    let mut text = String::new();
    for chunk in path.as_os_str().as_encoded_bytes().utf8_chunks() {
        text.push_str(chunk.valid());
        for byte in chunk.invalid() {
            text.extend(["\\x", &format!("{byte:02X}")]);
        }
    }
    if cfg!(windows) { text.replace('\\', "/") } else { text }
}

#[cfg(unix)]
mod unix {
    use std::fs::{File, FileTimes};
    use std::os::unix::fs::{PermissionsExt, symlink};
    use std::process::Command;
    use std::time::{Duration, SystemTime};

    use super::*;
    use crate::shoot::bound_by_rights;

    pub(super) fn hostile(shoot: &Shoot) -> Vec<String> {
        let dump = shoot.dump();
        symlink(".", dump.join("A003/loop")).unwrap();
        symlink("../..", dump.join("A003/A003C020_1114_KV.mov")).unwrap();
        symlink("nowhere", dump.join("A003/A003C021_1114_KV.mov")).unwrap();
        symlink("A003C011_1114_KV.mov", dump.join("A003/A003C022_1114_KV.mov")).unwrap();
        assert!(
            Command::new("mkfifo")
                .arg(dump.join("A003/A003C023_1114_KV.mov"))
                .status()
                .unwrap()
                .success()
        );
        if cfg!(target_os = "linux") {
            use std::ffi::OsStr;
            use std::os::unix::ffi::OsStrExt;
            let folder = dump.join(OsStr::from_bytes(b"reel \xff\xfe"));
            fs::create_dir(&folder).unwrap();
            fs::copy(small_clip(), folder.join(OsStr::from_bytes(b"A003C016_\xe9.mov"))).unwrap();
            fs::write(folder.join(OsStr::from_bytes(b"\x1b[31m\n\xc3.txt")), "x").unwrap();
            return vec!["reel \\xFF\\xFE/A003C016_\\xE9.mov".to_owned()];
        }
        Vec::new()
    }

    #[test]
    fn links_are_listed_as_such_and_never_opened() {
        let shoot = Shoot::clean();
        let outside = shoot.temp.path().join("outside");
        fs::create_dir(&outside).unwrap();
        let target = outside.join("A009C001_1114_KV.mov");
        fs::copy(small_clip(), &target).unwrap();
        // Read last in a time so long ago that any reading would move it on, where the drive keeps such times at all.
        let long_ago = SystemTime::UNIX_EPOCH + Duration::from_secs(1_000_000_000);
        let times = FileTimes::new().set_accessed(long_ago).set_modified(long_ago);
        File::options().write(true).open(&target).unwrap().set_times(times).unwrap();
        symlink(&outside, shoot.dump().join("linked")).unwrap();
        symlink(&target, shoot.dump().join("A003/A009C001_1114_KV.mov")).unwrap();
        let pipe = outside.join("A009C002_1114_KV.mov");
        assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        symlink(&pipe, shoot.dump().join("A003/A009C002_1114_KV.mov")).unwrap();
        let ran = scan(&shoot.dump()).exits(0);
        let (clips, strays) = accounted(&ran);
        assert_eq!(clips, BTreeSet::from(["A003/A003C001_1114_KV.mov".to_owned()]));
        let links =
            ["A003/A009C001_1114_KV.mov", "A003/A009C002_1114_KV.mov", "linked"].map(str::to_owned);
        assert_eq!(strays, BTreeSet::from(links));
        shoot.annotate([]).exits(0);
        assert_eq!(fs::metadata(&target).unwrap().accessed().unwrap(), long_ago);
    }

    #[test]
    fn what_may_not_be_read_is_said_and_the_rest_is_counted() {
        let shoot = Shoot::clean();
        shoot.clip("locked/A003C030_1114_KV.mov");
        shoot.clip("A003/A003C031_1114_KV.mov");
        shoot.clip("A003/unnamed");
        let Some(mut command) = bound_by_rights(&shoot) else { return };
        let rights = |path: &str, mode| {
            let path = shoot.dump().join(path);
            fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
        };
        let closed = ["locked", "A003/A003C031_1114_KV.mov", "A003/unnamed"];
        for path in closed {
            rights(path, 0);
        }
        let ran = run(command.arg("scan").arg(shoot.dump()).arg("--json"));
        for path in closed {
            rights(path, 0o755);
        }
        let ran = ran.exits(1);
        let (clips, strays) = accounted(&ran);
        let names = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect();
        let expected: BTreeSet<String> =
            names(&["A003/A003C001_1114_KV.mov", "A003/A003C031_1114_KV.mov"]);
        assert_eq!(clips, expected);
        let expected: BTreeSet<String> = names(&["A003/unnamed"]);
        assert_eq!(strays, expected);
        let found = crate::shoot::findings(&ran.out);
        for path in closed {
            assert!(found.contains(&("dump.unreadable".into(), path.into())), "{path}: {found:?}");
        }
    }
}
