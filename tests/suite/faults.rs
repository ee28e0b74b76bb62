//! A run meets full and read-only drives, an edit at the wrong moment, a second run, and a power cut:
//! nothing is half, nothing is lost, and the originals stay as they are. `place.rs` kills runs.
#![cfg(unix)]
#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

mod order;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use crate::shoot::{DATE, Shoot, files, findings, is_sidecar, paths, run, tree};
use crate::workshop::{in_ci, note};

const UNFINISHED: &str = ".lensmend-unfinished";
const JOURNAL: &str = "unfinished-run.json";
/// Longest wait for something that must happen.
const LIMIT: Duration = Duration::from_mins(1);

/// The files of an output folder by name.
type Files = BTreeMap<PathBuf, Vec<u8>>;

/// What a run leaves of the sample where nothing is in its way.
fn whole(kit: impl Fn(&Shoot)) -> Files {
    let shoot = Shoot::sample();
    kit(&shoot);
    shoot.annotate([]).exits(1);
    files(&shoot.out)
}

fn other_reducer(shoot: &Shoot) {
    let kit = shoot.folder.join("kit.toml");
    let text = fs::read_to_string(&kit).unwrap();
    let changed = text.replace("magnification = 0.71", "magnification = 0.72");
    assert_ne!(text, changed);
    fs::write(kit, changed).unwrap();
}

/// A shell that runs `script` with the words of `command` as its arguments.
fn shell(program: &[&str], script: &str, command: &Command) -> Command {
    let mut shell = Command::new(program[0]);
    shell.args(&program[1..]).args(["sh", "-c", script, "sh"]);
    shell.arg(command.get_program()).args(command.get_args()).stdin(Stdio::null());
    for (name, value) in command.get_envs() {
        match value {
            Some(value) => shell.env(name, value),
            None => shell.env_remove(name),
        };
    }
    shell
}

/// Files of the output that could not be written, by a record.
fn failed(record: &[u8]) -> Vec<PathBuf> {
    let failed = findings(record).into_iter().filter(|(code, _)| code == "output.failed");
    failed.map(|(_, file)| PathBuf::from(file)).collect()
}

#[test]
fn files_that_find_no_room_are_named_and_the_others_are_written() {
    let shoot = Shoot::sample();
    let day = tree(&shoot.folder);
    let first = whole(|_| {});
    // The signal that goes with the limit (POSIX, SIGXFSZ) is ignored, so that the write fails as on a full drive.
    let script =
        "trap '' XFSZ; ulimit -f 24; head -c 200000 /dev/zero >\"$PROBE\" 2>/dev/null; exec \"$@\"";
    let probe = shoot.temp.path().join("probe");
    let limited = |shoot: &Shoot| {
        let mut command = shoot.command(DATE);
        command.arg("--json");
        run(shell(&["env"], script, &command).env("PROBE", &probe))
    };
    let ran = limited(&shoot).exits(1);
    let limit = fs::metadata(&probe).unwrap().len();
    let fits = |bytes: &[u8]| u64::try_from(bytes.len()).unwrap() <= limit;
    let expected: Vec<PathBuf> = first
        .iter()
        .filter(|(path, bytes)| !fits(bytes) && !path.ends_with("run.json"))
        .map(|(path, _)| path.clone())
        .collect();
    assert!(expected.len() > 3 && expected.len() < 17, "{limit}: {expected:?}");
    assert_eq!(failed(&ran.out), expected);
    let mut left = files(&shoot.out);
    assert!(left.remove(Path::new(JOURNAL)).is_some(), "the next run must know its own");
    let written: Files = first.iter().filter(|(_, bytes)| fits(bytes)).map(own).collect();
    assert_same(&left, &written);
    // With room again the next run makes it good.
    shoot.annotate([]).exits(1);
    assert_same(&files(&shoot.out), &first);
    assert_eq!(tree(&shoot.folder), day);
    // And where all of it stands and is out of date, each file is the old one or the new one.
    other_reducer(&shoot);
    let second = whole(other_reducer);
    limited(&shoot).exits(1);
    let mut left = files(&shoot.out);
    left.remove(Path::new(JOURNAL));
    let mixed = first.iter().map(|(path, old)| {
        let new = &second[path];
        (path.clone(), if fits(new) { new.clone() } else { old.clone() })
    });
    assert_same(&left, &mixed.collect());
    shoot.annotate([]).exits(1);
    assert_same(&files(&shoot.out), &second);
}

fn own((path, bytes): (&PathBuf, &Vec<u8>)) -> (PathBuf, Vec<u8>) {
    (path.clone(), bytes.clone())
}

/// Says which file differs, not all of their bytes.
#[track_caller]
fn assert_same(is: &Files, should: &Files) {
    assert_eq!(is.keys().collect::<Vec<_>>(), should.keys().collect::<Vec<_>>());
    for (path, bytes) in is {
        assert!(should.get(path) == Some(bytes), "{} differs", path.display());
    }
}

/// Words that begin a command in a namespace of mounts of its own; `None` where that is not allowed.
fn namespace() -> Option<Vec<&'static str>> {
    let mount = "mount -t tmpfs -o size=64k tmpfs /mnt";
    let works = |words: &&[&str]| {
        let mut command = Command::new(words[0]);
        command.args(&words[1..]).args(["sh", "-c", mount]);
        command.stdout(Stdio::null()).stderr(Stdio::null());
        command.status().is_ok_and(|status| status.success())
    };
    let ways: [&[&str]; 2] = [&["unshare", "-m"], &["unshare", "-rm"]];
    let found = ways.iter().find(|words| works(words)).map(|words| words.to_vec());
    if found.is_none() {
        assert!(!in_ci(), "nothing can be mounted here; as root it must be possible");
        note("nothing can be mounted here, so full and read-only drives were not tried");
    }
    found
}

#[test]
fn a_drive_with_64_kb_takes_what_fits_and_the_rest_later() {
    let Some(namespace) = namespace() else { return };
    let shoot = Shoot::sample();
    let (day, whole) = (tree(&shoot.folder), whole(|_| {}));
    for folder in [&shoot.out, &shoot.temp.path().join("first"), &shoot.temp.path().join("second")]
    {
        fs::create_dir(folder).unwrap();
    }
    let script = "mount -t tmpfs -o size=64k tmpfs \"$OUT\" || exit 99
        \"$@\"; first=$?
        cp -a \"$OUT/.\" \"$COPIES/first\" && mount -o remount,size=16m \"$OUT\" || exit 98
        \"$@\" >&2; second=$?
        cp -a \"$OUT/.\" \"$COPIES/second\" || exit 97
        echo \"$first $second\" >\"$COPIES/codes\"";
    let mut command = shoot.command(DATE);
    command.arg("--json");
    let mut shell = shell(&namespace, script, &command);
    let ran = run(shell.env("OUT", &shoot.out).env("COPIES", shoot.temp.path())).exits(0);
    assert_eq!(fs::read_to_string(shoot.temp.path().join("codes")).unwrap(), "1 1\n");
    let mut first = files(&shoot.temp.path().join("first"));
    assert!(first.remove(Path::new(JOURNAL)).is_some());
    let written = first.keys().filter(|path| is_sidecar(path)).count();
    assert!(written > 0 && written < 18, "{written} sidecars");
    for (path, bytes) in &first {
        assert!(whole.get(path) == Some(bytes), "{} is half", path.display());
    }
    // Each of the others is named. The record tells of itself elsewhere: it was not written.
    let named = failed(&ran.out);
    let missing: Vec<PathBuf> =
        whole.keys().filter(|path| !first.contains_key(*path)).cloned().collect();
    let missing: Vec<PathBuf> =
        missing.into_iter().filter(|path| !path.ends_with("run.json")).collect();
    assert_eq!(named, missing);
    assert_same(&files(&shoot.temp.path().join("second")), &whole);
    assert_eq!(tree(&shoot.folder), day);
}

#[test]
fn a_read_only_drive_is_said_and_costs_nothing() {
    let Some(namespace) = namespace() else { return };
    let shoot = Shoot::sample();
    shoot.annotate([]).exits(1);
    other_reducer(&shoot);
    let (day, before) = (tree(&shoot.folder), files(&shoot.out));
    let script =
        "mount --bind \"$AT\" \"$AT\" && mount -o remount,ro,bind \"$AT\" || exit 99; exec \"$@\"";
    // An output folder on it: nothing can be written at all.
    let mut command = shell(&namespace, script, &shoot.command(DATE));
    let ran = run(command.env("AT", &shoot.out)).exits(2);
    assert!(ran.talk().contains("cannot write the journal"), "{}", ran.talk());
    assert_same(&files(&shoot.out), &before);
    // A dump on it: that is said of every sidecar beside the clips, and table and record are written.
    let mut beside = shoot.command(DATE);
    beside.args(["--beside", "--json"]);
    let mut command = shell(&namespace, script, &beside);
    let ran = run(command.env("AT", shoot.dump())).exits(1);
    assert_eq!(failed(&ran.out).len(), 18);
    assert_eq!(tree(&shoot.folder), day);
    assert_ne!(files(&shoot.out)[Path::new("run.json")], before[Path::new("run.json")]);
    assert!(!shoot.out.join(JOURNAL).exists());
}

/// A run for which making `name` of the output folder durable takes a second, begun and come to that moment.
fn slow(shoot: &Shoot, name: &str) -> Option<Child> {
    let unfinished = shoot.out.join(format!("{name}{UNFINISHED}"));
    let of = shoot.command(DATE);
    let mut command = Command::new("strace");
    command.args(["-f", "-qq", "-e", "trace=fsync", "-e", "inject=fsync:delay_enter=1500000"]);
    command.arg("-P").arg(&unfinished).arg("-o").arg(shoot.temp.path().join("calls"));
    command.arg(of.get_program()).args(of.get_args()).env_remove("SOURCE_DATE_EPOCH");
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    let child = command.spawn();
    let Ok(mut child) = child else {
        assert!(!in_ci(), "there is no strace; run tests/run, which installs it");
        note("no strace, so no run was slowed down");
        return None;
    };
    let begun = Instant::now();
    while !fs::metadata(&unfinished).is_ok_and(|file| file.len() > 0) {
        assert!(child.try_wait().unwrap().is_none(), "the run ended without writing {name}");
        assert!(begun.elapsed() < LIMIT, "the run never wrote {name}");
        thread::sleep(Duration::from_millis(1));
    }
    Some(child)
}

#[test]
fn an_edit_that_is_saved_while_a_run_writes_is_kept() {
    const SIDECAR: &str = "sidecars/A003/A003C001_1114_KV.xmp";
    // A file that was there is replaced, and one that was not appears.
    for there in [true, false] {
        let shoot = Shoot::clean();
        let sidecar = shoot.out.join(SIDECAR);
        if there {
            shoot.annotate([]).exits(0);
            other_reducer(&shoot);
        }
        let day = tree(&shoot.folder);
        let Some(mut child) = slow(&shoot, SIDECAR) else { return };
        let edited = b"a person saved this just now";
        let aside = shoot.temp.path().join("aside");
        fs::write(&aside, edited).unwrap();
        fs::rename(&aside, &sidecar).unwrap();
        assert_eq!(child.wait().unwrap().code(), Some(1), "somebody has to look");
        assert_eq!(fs::read(&sidecar).unwrap(), edited);
        assert_eq!(tree(&shoot.folder), day);
        let left = paths(&shoot.out);
        assert!(!left.iter().any(|path| path.to_string_lossy().ends_with(UNFINISHED)), "{left:?}");
        let record = fs::read(shoot.out.join("run.json")).unwrap();
        assert_eq!(failed(&record), [Path::new(SIDECAR)]);
    }
}

#[test]
fn a_second_run_hears_who_is_writing_and_leaves_no_trace() {
    let shoot = Shoot::clean();
    let Some(mut child) = slow(&shoot, "lens-table.csv") else { return };
    let second = shoot.annotate([]).exits(2);
    let talk = second.talk();
    assert!(talk.contains("another run of lensmend"), "{talk}");
    let listed = fs::read_to_string("/proc/locks").unwrap_or_default();
    if listed.contains("FLOCK") {
        let process = talk.split("(process ").nth(1).and_then(|rest| rest.split(')').next());
        let process: u32 = process.and_then(|number| number.parse().ok()).expect(&talk);
        let name = fs::read_to_string(format!("/proc/{process}/comm")).unwrap();
        assert_eq!(name.trim(), "lensmend");
    }
    assert_eq!(child.wait().unwrap().code(), Some(0));
    let alone = Shoot { out: shoot.temp.path().join("alone"), ..shoot };
    alone.annotate([]).exits(0);
    assert_same(&files(&alone.temp.path().join("out")), &files(&alone.out));
}
