//! A run after a run: it makes only what is not known to stand, comes to the same bytes as one that makes everything,
//! and writes nothing where nothing changed.

#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use lensmend::read_at::{Hashes, xxh128};

use crate::shoot::{DATE, LATER, Shoot, copy_tree, files, findings, run, stamps};
use crate::workshop::{in_ci, note};

const SIDECAR: &str = "sidecars/A003/A003C001_1114_KV.xmp";
const OTHER: &str = "sidecars/B001/B001C001_1114_OM.xmp";

/// Something that happens between two runs, and the switches of the second.
struct Change {
    name: &'static str,
    happens: fn(&Shoot),
    ways: &'static [&'static str],
}

const CHANGES: &[Change] = &[
    Change { name: "nothing", happens: |_| {}, ways: &[] },
    Change { name: "a header", happens: header, ways: &[] },
    Change {
        name: "a note",
        happens: |shoot| edit(&shoot.folder.join("notes-a.csv"), "2.4 m", "2.5 m"),
        ways: &[],
    },
    Change {
        name: "the kit",
        happens: |shoot| edit(&shoot.folder.join("kit.toml"), "0.71", "0.72"),
        ways: &[],
    },
    Change { name: "--trust", happens: |_| {}, ways: &["--trust", "notes"] },
    Change { name: "--columns", happens: |_| {}, ways: &["--columns", "clip,lens=Glass"] },
    Change { name: "--beside", happens: |_| {}, ways: &["--beside"] },
    Change { name: "--per-frame", happens: |_| {}, ways: &["--per-frame"] },
    Change {
        name: "a clip more",
        happens: |shoot| shoot.clip("A003/A003C030_1114_KV.mov"),
        ways: &[],
    },
    Change {
        name: "a clip less",
        happens: |shoot| remove(&shoot.dump().join("A003/A003C005_1114_KV.mov")),
        ways: &[],
    },
    Change { name: "a clip renamed", happens: renamed, ways: &[] },
    Change {
        name: "a stray more",
        happens: |shoot| fs::write(shoot.dump().join("A003/sound.txt"), "x").unwrap(),
        ways: &[],
    },
    Change {
        name: "a sidecar edited",
        happens: |shoot| edit(&shoot.out.join(SIDECAR), "lensmend", "Lensmend"),
        ways: &[],
    },
    Change {
        name: "a sidecar of the same length",
        happens: |shoot| edit(&shoot.out.join(SIDECAR), "0", "1"),
        ways: &[],
    },
    Change { name: "a sidecar gone", happens: |shoot| remove(&shoot.out.join(SIDECAR)), ways: &[] },
    Change { name: "a sidecar made a folder", happens: folder, ways: &[] },
    Change { name: "two sidecars exchanged", happens: exchange, ways: &[] },
    Change {
        name: "the table edited",
        happens: |shoot| edit(&shoot.out.join("lens-table.csv"), "A003", "A004"),
        ways: &[],
    },
    Change {
        name: "the table gone",
        happens: |shoot| remove(&shoot.out.join("lens-table.csv")),
        ways: &[],
    },
    Change {
        name: "the record gone",
        happens: |shoot| remove(&shoot.out.join("run.json")),
        ways: &[],
    },
    Change {
        name: "the record edited",
        happens: |shoot| edit(&shoot.out.join("run.json"), "A003C001", "A003C00X"),
        ways: &[],
    },
];

fn edit(file: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(file).unwrap();
    assert!(text.contains(from), "{} has no {from}", file.display());
    fs::write(file, text.replacen(from, to, 1)).unwrap();
}

fn remove(file: &Path) {
    fs::remove_file(file).unwrap();
}

/// The creation time of a clip (ISO/IEC 14496-12, 8.2.2) changes, and neither its length nor its time of change.
fn header(shoot: &Shoot) {
    let file = shoot.dump().join("A003/A003C001_1114_KV.mov");
    let (mut bytes, before) = (fs::read(&file).unwrap(), fs::metadata(&file).unwrap());
    let at = bytes.windows(4).position(|kind| kind == b"mvhd").unwrap() + 8;
    bytes[at + 3] ^= 1;
    fs::write(&file, bytes).unwrap();
    let open = fs::File::options().write(true).open(&file).unwrap();
    open.set_modified(before.modified().unwrap()).unwrap();
}

fn renamed(shoot: &Shoot) {
    let roll = shoot.dump().join("A003");
    fs::rename(roll.join("A003C005_1114_KV.mov"), roll.join("A003C031_1114_KV.mov")).unwrap();
}

fn folder(shoot: &Shoot) {
    remove(&shoot.out.join(SIDECAR));
    fs::create_dir(shoot.out.join(SIDECAR)).unwrap();
}

fn exchange(shoot: &Shoot) {
    let (one, other, aside) =
        (shoot.out.join(SIDECAR), shoot.out.join(OTHER), shoot.temp.path().join("aside"));
    fs::rename(&one, &aside).unwrap();
    fs::rename(&other, &one).unwrap();
    fs::rename(aside, other).unwrap();
}

/// What a run leaves, without what depends on whether the record was found touched: its date, and its own digest.
fn left(out: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut left = files(out);
    let record = left.get_mut(Path::new("run.json")).unwrap();
    let text = String::from_utf8(record.clone()).unwrap();
    let dated =
        |line: &&str| line.starts_with("\"written\"") || line.starts_with("\"recordXxh128\"");
    *record = text.lines().filter(|line| !dated(line)).collect::<Vec<_>>().join("\n").into_bytes();
    left
}

/// Something that somebody does to a shoot.
type Happening = fn(&Shoot);

#[test]
fn after_every_change_the_bytes_are_those_of_a_run_that_makes_everything() {
    for change in CHANGES {
        let (quick, full) = (Shoot::sample(), Shoot::sample());
        for shoot in [&quick, &full] {
            shoot.annotate([]).exits(1);
            (change.happens)(shoot);
        }
        // A touched record is no witness: everything is made anew.
        let record = full.out.join("run.json");
        if record.exists() {
            edit(&record, "\"recordXxh128\": \"", "\"recordXxh128\": \"0");
        }
        let again = |shoot: &Shoot| run(shoot.command(LATER).args(change.ways)).exits(1);
        let (of_quick, of_full) = (again(&quick), again(&full));
        assert_eq!(of_quick.result(), of_full.result(), "{}", change.name);
        assert_eq!(left(&quick.out), left(&full.out), "{}", change.name);
        assert_eq!(files(&quick.folder), files(&full.folder), "{}", change.name);
        // And what it came to stays.
        let before = stamps(quick.temp.path());
        let again = again(&quick);
        if change.name != "--beside" {
            assert_eq!(stamps(quick.temp.path()), before, "{}", change.name);
            assert_eq!(again.result(), of_quick.result(), "{}", change.name);
        }
    }
}

/// A change of a record by somebody who knows how it digests itself.
fn forge(record: &Path, from: &str, to: &str) {
    edit(record, from, to);
    let text = fs::read_to_string(record).unwrap();
    let (body, _) = text.split_once(",\n\"recordXxh128\"").unwrap();
    let digest = xxh128(body.as_bytes());
    fs::write(record, format!("{body},\n\"recordXxh128\": \"{digest}\"\n}}\n")).unwrap();
}

#[test]
fn what_the_record_bears_witness_of_is_not_made_again() {
    let shoot = Shoot::sample();
    shoot.annotate([]).exits(1);
    let (record, sidecar) = (shoot.out.join("run.json"), shoot.out.join(SIDECAR));
    let was = Hashes::of(&fs::read(&sidecar).unwrap());
    edit(&sidecar, "<xmpDM:scene>", "<xmpDM:scene>9");
    // Only a run that makes the sidecar could tell: its hashes are the recorded ones, and the record fits its own digest.
    let is = Hashes::of(&fs::read(&sidecar).unwrap());
    forge(&record, &was.sha256, &is.sha256);
    forge(&record, &was.xxh128, &is.xxh128);
    let made_again = |expected: &str| {
        let talk = run(&mut shoot.command(LATER)).exits(1).talk();
        assert!(talk.contains(expected), "{talk}");
    };
    made_again("Nothing changed since");
    // Another fingerprint of what went in, and the sidecar is found to be another than it should be.
    forge(&record, "{\"inputs\":\"", "{\"inputs\":\"0");
    let told = run(shoot.command(LATER).arg("--json")).exits(1);
    assert!(findings(&told.out).contains(&("output.edited".to_owned(), SIDECAR.to_owned())));
}

#[test]
fn the_record_that_stands_is_the_one_that_is_printed() {
    let shoot = Shoot::sample();
    let first = shoot.annotate(["--json"]).exits(1);
    for ways in [&["--json"][..], &["--json", "--dry-run"]] {
        let again = run(shoot.command(LATER).args(ways)).exits(1);
        assert_eq!(again.out, first.out);
        assert_eq!(again.out, fs::read(shoot.out.join("run.json")).unwrap());
    }
}

#[test]
fn a_file_that_could_not_be_replaced_is_replaced_later_though_nothing_else_changed() {
    let shoot = Shoot::sample();
    shoot.annotate([]).exits(1);
    // A folder in the way of the unfinished file lets the write fail, whoever runs it.
    let in_the_way = shoot.out.join(format!("{SIDECAR}.lensmend-unfinished"));
    fs::create_dir(&in_the_way).unwrap();
    edit(&shoot.folder.join("kit.toml"), "0.71", "0.72");
    let failed = run(shoot.command(DATE).arg("--json")).exits(1);
    let failure = ("output.failed".to_owned(), SIDECAR.to_owned());
    assert!(findings(&failed.out).contains(&failure));
    let old = fs::read(shoot.out.join(SIDECAR)).unwrap();
    fs::remove_dir(&in_the_way).unwrap();
    let mended = run(shoot.command(DATE).arg("--json")).exits(1);
    assert!(!findings(&mended.out).contains(&failure));
    assert_ne!(fs::read(shoot.out.join(SIDECAR)).unwrap(), old);
}

#[test]
fn one_edited_sidecar_is_told_of_again_and_again_and_costs_no_write() {
    let shoot = Shoot::sample();
    shoot.annotate([]).exits(1);
    edit(&shoot.out.join(SIDECAR), "<xmpDM:scene>", "<xmpDM:scene>9");
    let kept = ("output.edited".to_owned(), SIDECAR.to_owned());
    let first = run(shoot.command(LATER).arg("--json")).exits(1);
    let before = stamps(shoot.temp.path());
    for _ in 0..2 {
        let again = run(shoot.command(LATER).arg("--json")).exits(1);
        assert!(findings(&again.out).contains(&kept));
        assert_eq!(again.out, first.out);
        assert_eq!(stamps(shoot.temp.path()), before);
    }
}

/// System calls that change files, folders or names (Linux manual, section 2).
const CHANGING: &str = "trace=open,openat,openat2,creat,rename,renameat,renameat2,unlink,unlinkat,rmdir,mkdir,mkdirat,\
    link,linkat,symlink,symlinkat,truncate,ftruncate,fallocate,write,writev,pwrite64,pwritev,pwritev2,copy_file_range,\
    sendfile,chmod,fchmod,fchmodat,chown,fchown,lchown,fchownat,utimensat,fsync,fdatasync,setxattr,fsetxattr,mknod,mknodat";

/// Calls of a run that change something, one a line; `None` where nobody can watch.
fn changes(shoot: &Shoot, ways: &[&str]) -> Option<Vec<String>> {
    let log = shoot.temp.path().join("calls");
    let mut command = Command::new("strace");
    command.args(["-f", "-qq", "-s", "0", "-e", CHANGING, "-o"]).arg(&log);
    let of = shoot.command(LATER);
    command.arg(of.get_program()).args(of.get_args()).args(ways);
    command.env_remove("SOURCE_DATE_EPOCH");
    let ran = command.output();
    if !ran.as_ref().is_ok_and(|ran| ran.status.code() == Some(1)) || !log.exists() {
        assert!(!in_ci(), "strace cannot watch: {ran:?}; run tests/run, which installs it");
        note("no strace, so nobody watched that a second run writes nothing");
        return None;
    }
    let text = fs::read_to_string(&log).unwrap();
    fs::remove_file(log).unwrap();
    let harmless = |line: &&str| {
        let call = line.split_once(' ').map_or(*line, |(_, call)| call.trim_start());
        let opens = call.starts_with("open");
        let reads =
            !["O_WRONLY", "O_RDWR", "O_CREAT", "O_TRUNC"].iter().any(|way| call.contains(way));
        // What is printed goes to standard output and standard error.
        let prints = ["write(1,", "write(2,", "writev(1,", "writev(2,"]
            .iter()
            .any(|to| call.starts_with(to));
        (opens && reads)
            || prints
            || ["+++", "---", "<...", "???"].iter().any(|mark| call.starts_with(mark))
    };
    Some(text.lines().filter(|line| !harmless(line)).map(str::to_owned).collect())
}

#[test]
fn a_second_run_asks_for_no_write() {
    for ways in [&[][..], &["--beside"], &["--json"]] {
        let shoot = Shoot::sample();
        // The watch itself is watched: a first run does write, make folders durable, and rename.
        let Some(first) = changes(&shoot, ways) else { return };
        for call in ["O_CREAT", "write(", "rename", "fsync", "mkdir"] {
            assert!(first.iter().any(|line| line.contains(call)), "{call}: {first:?}");
        }
        let before = stamps(shoot.temp.path());
        // Two more: with --beside the first of them meets the sidecars as files of the dump.
        for _ in 0..2 {
            assert_eq!(changes(&shoot, ways), Some(Vec::new()), "{ways:?}");
        }
        let mut after = stamps(shoot.temp.path());
        let mut before = before;
        // The log of calls came and went there.
        before.remove(Path::new(""));
        after.remove(Path::new(""));
        assert_eq!(after, before, "{ways:?}");
    }
}

#[test]
fn a_copy_of_a_day_is_as_good_as_the_day() {
    let shoot = Shoot::sample();
    shoot.annotate([]).exits(1);
    // Carried to another disk every time of change is another, and nothing is made again.
    let moved = Shoot::empty();
    copy_tree(&shoot.folder, &moved.folder);
    copy_tree(&shoot.out, &moved.out);
    let before = stamps(moved.temp.path());
    let again = run(&mut moved.command(LATER)).exits(1);
    assert!(again.talk().contains("Nothing changed since"), "{}", again.talk());
    assert_eq!(stamps(moved.temp.path()), before);
}

/// What a run prints and how it ends, which a run with nothing new reads back from the record of the one before.
#[test]
fn a_run_with_nothing_new_tells_what_the_one_before_told() {
    for ways in [["--trust", "notes"], ["--lens-data", "all"]] {
        let shoot = Shoot::sample();
        for way in ["--per-frame", "--json"] {
            let told = |date: &str| run(shoot.command(date).args(ways).arg(way));
            let before = told(DATE);
            assert!(before.talk().contains("Wrote"), "{ways:?} {way}: {}", before.talk());
            let again = told(LATER);
            assert_eq!((again.code, &again.out), (before.code, &before.out), "{ways:?} {way}");
            let since = format!("Nothing changed since {DATE}");
            assert!(again.talk().contains(&since), "{ways:?} {way}: {}", again.talk());
            let tried = shoot.annotate([ways[0], ways[1], way, "--dry-run"]);
            assert_eq!((tried.code, &tried.out), (before.code, &before.out), "{ways:?} {way}");
        }
    }
}

/// What the record cannot know must not be taken from it.
#[test]
fn what_lies_beside_the_outputs_is_looked_at_each_time() {
    let beside: &[(&str, Happening, bool)] = &[
        ("a sidecar that differs in case", |shoot| twin(&shoot.out.join(SIDECAR)), false),
        (
            "a sidecar in the dump",
            |shoot| twin(&shoot.dump().join("A003/A003C001_1114_KV.xmp")),
            false,
        ),
        (
            "a file of another kind",
            |shoot| fs::write(shoot.out.join("sidecars/A003/note.txt"), "x").unwrap(),
            true,
        ),
    ];
    for (name, happens, as_before) in beside {
        let shoot = Shoot::sample();
        shoot.annotate([]).exits(1);
        happens(&shoot);
        let again = shoot.annotate([]);
        assert_eq!(
            again.talk().contains("Nothing changed since"),
            *as_before,
            "{name}: {}",
            again.talk()
        );
    }
}

fn twin(sidecar: &Path) {
    let name = sidecar.file_name().unwrap().to_str().unwrap().to_uppercase();
    fs::write(sidecar.with_file_name(name), "<x/>").unwrap();
}
