//! What a power cut would leave, read from the system calls of the built program: every file is written under a name of its
//! own, made durable, renamed, and then its folder is made durable; the journal before the first of them, the record after the
//! last. A file system may forget what was not synced (Linux manual, fsync(2): syncing a file does not sync its entry in the
//! folder).

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::Command;

use super::{JOURNAL, UNFINISHED, other_reducer};
use crate::shoot::{LATER, Shoot, is_sidecar};
use crate::workshop::{in_ci, note};

/// Calls that write, name or make durable; those that would do it in a way that is not expected among them.
const CALLS: &str = "trace=open,openat,openat2,creat,write,writev,pwrite64,pwritev,pwritev2,copy_file_range,sendfile,truncate,ftruncate,\
    fsync,fdatasync,sync_file_range,rename,renameat,renameat2,mkdir,mkdirat,unlink,unlinkat,rmdir,link,linkat,symlink,symlinkat";

/// A call that succeeded: what it is, the paths in it, and the lines of the log at which it began and had ended.
#[derive(Debug)]
struct Call {
    name: String,
    /// The whole of it.
    text: String,
    /// Paths in quotation marks, or of the file that the first argument stands for.
    paths: Vec<String>,
    begun: usize,
    ended: usize,
}

impl Call {
    fn is(&self, name: &str, path: &str) -> bool {
        let first = self.paths.first().is_some_and(|first| first == path);
        first
            && (self.name == name
                || self.name == format!("{name}at")
                || self.name == format!("{name}at2"))
    }
}

/// Reads a log of strace with `-f -y`, in which calls of several threads may overlap.
fn calls(log: &str) -> Vec<Call> {
    let mut open: Vec<(String, String, usize)> = Vec::new();
    let mut calls = Vec::new();
    for (at, line) in log.lines().enumerate() {
        let Some((process, rest)) = line.split_once(' ') else { continue };
        let rest = rest.trim_start();
        let (text, begun) = if let Some(start) = rest.strip_suffix(" <unfinished ...>") {
            open.push((process.to_owned(), start.to_owned(), at));
            continue;
        } else if let Some(end) = rest.strip_prefix("<... ") {
            let end = end.split_once("resumed>").expect(line).1;
            let of = open.iter().position(|(of, ..)| of == process).expect(line);
            let (_, start, begun) = open.remove(of);
            (start + end, begun)
        } else {
            (rest.to_owned(), at)
        };
        let Some((name, arguments)) = text.split_once('(') else { continue };
        let Some((arguments, result)) = arguments.rsplit_once(" = ") else { continue };
        if result.starts_with('-') || result.starts_with('?') {
            continue;
        }
        let descriptor = !name.contains("at") && !arguments.starts_with('"');
        let paths = if descriptor || name == "pwrite64" || name == "ftruncate" {
            let path = arguments.split_once('<').and_then(|(_, path)| path.split_once('>'));
            path.map(|(path, _)| path.to_owned()).into_iter().collect()
        } else {
            arguments.split('"').skip(1).step_by(2).map(str::to_owned).collect()
        };
        calls.push(Call { name: name.to_owned(), paths, begun, ended: at, text });
    }
    calls
}

/// The calls of a run; `None` where nobody can watch.
fn watched(shoot: &Shoot, ways: &[&str]) -> Option<Vec<Call>> {
    let log = shoot.temp.path().join("calls");
    let of = shoot.command(LATER);
    let mut command = Command::new("strace");
    command.args(["-f", "-qq", "-y", "-s", "0", "-e", CALLS, "-o"]).arg(&log);
    command.arg(of.get_program()).args(of.get_args()).args(ways).env_remove("SOURCE_DATE_EPOCH");
    let ran = command.output();
    if !ran.as_ref().is_ok_and(|ran| ran.status.code() == Some(1)) || !log.exists() {
        assert!(!in_ci(), "strace cannot watch: {ran:?}; run tests/run, which installs it");
        note("no strace, so nobody watched in which order files are made durable");
        return None;
    }
    let text = fs::read_to_string(&log).unwrap();
    fs::remove_file(log).unwrap();
    Some(calls(&text))
}

/// What of a run a power cut could undo or leave half; empty if all is well. `root` holds everything that may be written.
fn breaches(calls: &[Call], root: &str) -> Vec<String> {
    let mut breaches = Vec::new();
    let durable = |path: &str, from: usize, to: usize| {
        calls.iter().any(|call| {
            call.name == "fsync" && call.is("fsync", path) && call.begun > from && call.ended < to
        })
    };
    let folder = |path: &str| Path::new(path).parent().unwrap().to_str().unwrap().to_owned();
    let renames: Vec<&Call> = calls.iter().filter(|call| call.name.starts_with("rename")).collect();
    for call in calls {
        let Some(path) = call.paths.first().filter(|path| path.starts_with(root)) else { continue };
        let mut breach = |what: &str| breaches.push(format!("{what}: {}", call.text));
        match call.name.as_str() {
            "open" | "openat" | "openat2" | "creat" => {
                let writes = ["O_WRONLY", "O_RDWR", "O_CREAT", "O_TRUNC"];
                let writes = writes.iter().any(|way| call.text.contains(way));
                if writes && !(path.ends_with(UNFINISHED) && call.text.contains("O_EXCL")) {
                    breach("opened in its place to be written");
                }
            }
            "write" => {
                let renamed = renames
                    .iter()
                    .find(|rename| rename.paths[0] == *path && rename.begun > call.ended);
                let until = renamed.map_or(usize::MAX, |rename| rename.begun);
                if renamed.is_none() {
                    breach("written and never renamed");
                } else if !durable(path, call.ended, until) {
                    breach("not durable before it was renamed");
                }
            }
            "rename" | "renameat" | "renameat2" => {
                let to = &call.paths[1];
                if *path != format!("{to}{UNFINISHED}") {
                    breach("renamed from another name");
                }
                if !durable(&folder(to), call.ended, usize::MAX) {
                    breach("the folder was not made durable after");
                }
            }
            "mkdir" | "mkdirat" => {
                let until =
                    renames.iter().find(|rename| rename.paths[1].starts_with(&format!("{path}/")));
                let until = until.map_or(usize::MAX, |rename| rename.begun);
                if !durable(&folder(path), call.ended, until) {
                    breach("a new folder was not made durable before files came into it");
                }
            }
            "fsync" => {}
            "unlink" | "unlinkat" => {
                let record = renames.iter().find(|rename| rename.paths[1].ends_with("/run.json"));
                let kept =
                    record.is_some_and(|record| durable(&folder(path), record.ended, call.begun));
                if path.ends_with(JOURNAL) && !kept {
                    breach("the journal was removed before the record was durable");
                } else if !path.ends_with(JOURNAL) && !path.ends_with(UNFINISHED) {
                    breach("removed");
                }
            }
            _ => breach("not expected"),
        }
    }
    breaches.extend(row(&renames, &durable, &folder));
    breaches
}

/// The journal is durable before the first output has its name, and the record gets its name after every output is durable.
fn row(
    renames: &[&Call],
    durable: &dyn Fn(&str, usize, usize) -> bool,
    folder: &dyn Fn(&str) -> String,
) -> Vec<String> {
    let to = |end: &str| renames.iter().find(|rename| rename.paths[1].ends_with(end));
    let (Some(journal), Some(record)) = (to(JOURNAL), to("/run.json")) else {
        return vec!["no journal or no record was written".to_owned()];
    };
    let outputs = renames
        .iter()
        .filter(|rename| !std::ptr::eq(**rename, *journal) && !std::ptr::eq(**rename, *record));
    let mut breaches = Vec::new();
    for output in outputs {
        if !durable(&folder(&journal.paths[1]), journal.ended, output.begun) {
            breaches.push(format!("the journal was not durable before: {}", output.text));
        }
        if !durable(&folder(&output.paths[1]), output.ended, record.begun) {
            breaches.push(format!("not durable before the record had its name: {}", output.text));
        }
    }
    breaches
}

#[test]
fn every_file_is_written_made_durable_renamed_and_its_folder_made_durable() {
    for ways in [&[][..], &["--beside"]] {
        let shoot = Shoot::sample();
        let root = shoot.temp.path().canonicalize().unwrap().to_str().unwrap().to_owned();
        assert_eq!(shoot.temp.path().to_str(), Some(root.as_str()), "links on the way hide paths");
        // A run into nothing, and one that replaces what stands.
        for again in [false, true] {
            if again {
                other_reducer(&shoot);
            }
            let Some(calls) = watched(&shoot, ways) else { return };
            assert_eq!(breaches(&calls, &root), Vec::<String>::new(), "{ways:?}");
            let renamed = calls.iter().filter(|call| call.name.starts_with("rename"));
            let renamed: BTreeSet<&str> = renamed.map(|call| call.paths[1].as_str()).collect();
            let sidecars = renamed.iter().filter(|path| is_sidecar(Path::new(path))).count();
            assert!(if again { sidecars > 5 } else { sidecars == 18 }, "{renamed:?}");
            let written = calls.iter().filter(|call| {
                call.name == "write" && call.paths.iter().any(|path| path.starts_with(&root))
            });
            assert!(written.count() >= renamed.len());
        }
    }
}

#[test]
fn the_watch_sees_every_breach() {
    let good = "1 mkdir(\"/t/out\", 0777) = 0\n1 fsync(3</t>) = 0\n\
        1 openat(AT_FDCWD</>, \"/t/out/unfinished-run.json.lensmend-unfinished\", O_WRONLY|O_CREAT|O_EXCL, 0666) = 4</t/x>\n\
        1 write(4</t/out/unfinished-run.json.lensmend-unfinished>, \"\"..., 9) = 9\n\
        1 fsync(4</t/out/unfinished-run.json.lensmend-unfinished>) = 0\n\
        1 rename(\"/t/out/unfinished-run.json.lensmend-unfinished\", \"/t/out/unfinished-run.json\") = 0\n\
        1 fsync(4</t/out>) = 0\n\
        2 write(4</t/out/a.xmp.lensmend-unfinished>, \"\"..., 9 <unfinished ...>\n\
        3 unlink(\"/t/out/b.xmp.lensmend-unfinished\") = -1 ENOENT (No such file or directory)\n\
        2 <... write resumed>)              = 9\n\
        2 fsync(4</t/out/a.xmp.lensmend-unfinished>) = 0\n\
        2 rename(\"/t/out/a.xmp.lensmend-unfinished\", \"/t/out/a.xmp\") = 0\n\
        1 fsync(5</t/out>) = 0\n\
        1 write(4</t/out/run.json.lensmend-unfinished>, \"\"..., 9) = 9\n\
        1 fsync(4</t/out/run.json.lensmend-unfinished>) = 0\n\
        1 rename(\"/t/out/run.json.lensmend-unfinished\", \"/t/out/run.json\") = 0\n\
        1 fsync(6</t/out>) = 0\n\
        1 unlink(\"/t/out/unfinished-run.json\") = 0\n";
    assert_eq!(breaches(&calls(good), "/t"), Vec::<String>::new());
    let lines: Vec<&str> = good.lines().collect();
    // Without any one sync there is a breach.
    let syncs = lines.iter().enumerate().filter(|(_, line)| line.contains("fsync("));
    let mut count = 0;
    for (at, line) in syncs {
        let without: Vec<&str> = [&lines[..at], &lines[at + 1..]].concat();
        assert_ne!(breaches(&calls(&without.join("\n")), "/t"), Vec::<String>::new(), "{line}");
        count += 1;
    }
    assert_eq!(count, 7);
    for more in [
        "1 openat(AT_FDCWD</>, \"/t/out/a.xmp\", O_WRONLY|O_TRUNC) = 4</t/out/a.xmp>",
        "1 unlink(\"/t/day/clip.mov\") = 0",
        "1 ftruncate(4</t/out/a.xmp>, 0) = 0",
    ] {
        assert_eq!(breaches(&calls(&format!("{good}{more}\n")), "/t").len(), 1, "{more}");
    }
}
