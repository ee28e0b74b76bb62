//! Promises about files: the dump stays as it is, a second run changes nothing, a kill leaves old or new,
//! and what lensmend did not write is left alone.

#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::thread;
use std::time::{Duration, Instant};

use crate::shoot::{DATE, LATER, Shoot, findings, is_sidecar, paths, run, stamps, tree};

const UNFINISHED: &str = ".lensmend-unfinished";
const JOURNAL: &str = "unfinished-run.json";

#[test]
fn the_day_stays_byte_identical() {
    let shoot = Shoot::sample();
    let (before, stamped) = (tree(&shoot.folder), stamps(&shoot.folder));
    shoot.annotate([]).exits(1);
    assert_eq!(tree(&shoot.folder), before);
    assert_eq!(stamps(&shoot.folder), stamped);
    assert_eq!(paths(&shoot.out).iter().filter(|path| is_sidecar(path)).count(), 18);
}

#[test]
fn beside_only_adds_sidecars() {
    let shoot = Shoot::sample();
    let before = tree(&shoot.folder);
    shoot.annotate(["--beside"]).exits(1);
    let mut after = tree(&shoot.folder);
    let added: Vec<PathBuf> = after.keys().filter(|p| !before.contains_key(*p)).cloned().collect();
    assert_eq!(added.len(), 18);
    assert!(added.iter().all(|path| is_sidecar(path)), "{added:?}");
    after.retain(|path, _| before.contains_key(path));
    assert_eq!(after, before);
    assert!(!paths(&shoot.out).iter().any(|path| is_sidecar(path)));
}

#[test]
fn a_second_run_changes_nothing() {
    for ways in [&[][..], &["--beside"]] {
        let shoot = Shoot::sample();
        let first = run(shoot.command(DATE).args(ways)).exits(1);
        let before = stamps(shoot.temp.path());
        let second = run(shoot.command(LATER).args(ways)).exits(1);
        assert_eq!(stamps(shoot.temp.path()), before, "{ways:?}");
        assert_eq!(second.out, first.out);
        // Beside the clips, what the run before wrote is itself walked, and so all is worked out again.
        let says = if ways.is_empty() { "Nothing changed since" } else { "Wrote 0 files" };
        assert!(second.talk().contains(says), "{}", second.talk());
    }
}

#[test]
fn changing_between_beside_and_apart_settles_and_forgets_nothing() {
    let shoot = Shoot::sample();
    for ways in [&["--beside"][..], &[], &["--beside"], &[]] {
        run(shoot.command(DATE).args(ways)).exits(1);
        // What is a stray of the dump has changed with the sidecars in it; from here on nothing may.
        let before = stamps(shoot.temp.path());
        run(shoot.command(LATER).args(ways)).exits(1);
        assert_eq!(stamps(shoot.temp.path()), before, "{ways:?}");
    }
    change_notes(&shoot);
    let last = shoot.annotate(["--beside", "--json"]).exits(1);
    let kept: Vec<_> =
        findings(&last.out).into_iter().filter(|(code, _)| code == "output.kept").collect();
    assert_eq!(kept, []);
}

#[test]
fn the_dump_may_be_the_folder_itself_and_out_may_be_spelled_in_any_way() {
    for out in ["lensmend", "./lensmend", "A003/../lensmend"] {
        let shoot = Shoot::clean();
        fs::rename(shoot.dump().join("A003"), shoot.folder.join("A003")).unwrap();
        fs::remove_dir(shoot.dump()).unwrap();
        let annotate = || {
            let mut command = crate::shoot::lensmend();
            command.current_dir(&shoot.folder).args(["annotate", "."]);
            command.arg("--into").arg(shoot.folder.join(out));
            run(&mut command)
        };
        annotate().exits(0);
        let before = stamps(shoot.temp.path());
        annotate().exits(0);
        assert_eq!(stamps(shoot.temp.path()), before, "{out}");
    }
}

#[test]
fn out_may_be_the_folder_of_the_day() {
    let mut shoot = Shoot::sample();
    shoot.out.clone_from(&shoot.folder);
    shoot.annotate([]).exits(1);
    let before = stamps(&shoot.folder);
    let second = shoot.annotate([]).exits(1);
    assert_eq!(stamps(&shoot.folder), before);
    assert!(second.talk().contains("notes-a.csv, notes-b.csv, dump"), "{}", second.talk());
}

#[test]
fn a_strangers_file_at_a_sidecars_place_stays() {
    let shoot = Shoot::sample();
    let reel = shoot.out.join("sidecars/A003");
    fs::create_dir_all(reel.join("A003C002_1114_KV.xmp")).unwrap();
    fs::write(reel.join("A003C001_1114_KV.xmp"), "somebody's own").unwrap();
    let mut strange = vec!["A003C001_1114_KV.xmp", "A003C002_1114_KV.xmp"];
    #[cfg(unix)]
    {
        let elsewhere = shoot.temp.path().join("elsewhere.xmp");
        fs::write(&elsewhere, "precious").unwrap();
        std::os::unix::fs::symlink(elsewhere, reel.join("A003C003_1114_KV.xmp")).unwrap();
        std::os::unix::fs::symlink("nowhere", reel.join("A003C004_1114_KV_001.xmp")).unwrap();
        strange.extend(["A003C003_1114_KV.xmp", "A003C004_1114_KV_001.xmp"]);
    }
    let before = tree(shoot.temp.path());
    let ran = shoot.annotate(["--json"]).exits(1);
    let after = tree(shoot.temp.path());
    for (path, thing) in &before {
        assert_eq!(after.get(path), Some(thing), "{}", path.display());
    }
    let found = findings(&ran.out);
    for name in &strange {
        // The first is a file, but no XMP that could be merged.
        let code = if *name == strange[0] { "output.broken" } else { "output.kept" };
        let place = (code.to_owned(), format!("sidecars/A003/{name}"));
        assert!(found.contains(&place), "{name}: {found:?}");
    }
    assert_eq!(found.iter().filter(|(code, _)| code == "output.kept").count(), strange.len() - 1);
    assert_eq!(paths(&shoot.out).iter().filter(|path| is_sidecar(path)).count(), 18);
    assert!(shoot.out.join("lens-table.csv").exists());
}

#[test]
fn what_a_person_changed_in_a_sidecar_is_kept_until_it_is_given_up() {
    let shoot = Shoot::sample();
    shoot.annotate([]).exits(1);
    let whole = tree(&shoot.out);
    let edited = shoot.out.join("sidecars/B001/B001C001_1114_OM.xmp");
    let name = "sidecars/B001/B001C001_1114_OM.xmp".to_owned();
    let written = fs::read_to_string(&edited).unwrap();
    // A remark beside the values is nobody's business; values and whole properties are.
    let slate = "<xmpDM:scene>24A</xmpDM:scene>";
    assert!(written.contains(slate));
    for (from, to, code) in [
        ("</x:xmpmeta>", "</x:xmpmeta><!-- checked, K. -->", None),
        (slate, "<xmpDM:scene>24B</xmpDM:scene>", Some("output.edited")),
        (slate, "", Some("output.edited")),
        ("<lensmend:lens>", "<lensmend:lens>the old ", Some("output.edited")),
    ] {
        fs::write(&edited, written.replace(from, to)).unwrap();
        // The record knows the edited file afterwards; from then on nothing may change.
        let mut before = None;
        for _ in 0..2 {
            let ran = shoot.annotate(["--json"]).exits(1);
            let found: Vec<_> = findings(&ran.out)
                .into_iter()
                .filter(|(found, _)| found.starts_with("output."))
                .collect();
            let expected: Vec<_> =
                code.iter().map(|code| (code.to_string(), name.clone())).collect();
            assert_eq!(found, expected, "{to}");
            assert_eq!(fs::read_to_string(&edited).unwrap(), written.replace(from, to));
            let stamps = stamps(&shoot.out);
            assert!(before.is_none_or(|before| before == stamps), "{to}");
            before = Some(stamps);
        }
        if code.is_some() {
            let ran = shoot.annotate(["--replace-edited", "--json"]).exits(1);
            assert!(!findings(&ran.out).iter().any(|(code, _)| code.starts_with("output.")));
            assert_eq!(fs::read_to_string(&edited).unwrap(), written, "{to}");
        } else {
            fs::remove_file(&edited).unwrap();
            shoot.annotate([]).exits(1);
        }
        assert_eq!(tree(&shoot.out), whole);
    }
}

#[test]
fn a_file_where_a_folder_should_be_costs_only_the_files_below_it() {
    let shoot = Shoot::sample();
    fs::create_dir_all(shoot.out.join("sidecars")).unwrap();
    fs::write(shoot.out.join("sidecars/A003"), "in the way").unwrap();
    let ran = shoot.annotate(["--json"]).exits(1);
    let failed = findings(&ran.out).into_iter().filter(|(code, _)| code == "output.failed");
    let failed: Vec<String> = failed.map(|(_, file)| file).collect();
    assert_eq!(failed.len(), 10, "{failed:?}");
    assert!(failed.iter().all(|file| file.starts_with("sidecars/A003/")), "{failed:?}");
    assert_eq!(fs::read(shoot.out.join("sidecars/A003")).unwrap(), b"in the way");
    assert_eq!(paths(&shoot.out).iter().filter(|path| is_sidecar(path)).count(), 8);
    assert!(shoot.out.join("lens-table.csv").exists() && shoot.out.join("run.json").exists());
}

#[test]
fn a_failed_write_is_made_good_by_the_next_run() {
    let shoot = Shoot::sample();
    shoot.annotate([]).exits(1);
    let sidecar = shoot.out.join("sidecars/A003/A003C001_1114_KV.xmp");
    let old = fs::read(&sidecar).unwrap();
    change_notes(&shoot);
    // A folder under the name that a write begins with: no rights needed to make it fail.
    let block = PathBuf::from(format!("{}{UNFINISHED}", sidecar.display()));
    fs::create_dir_all(block.join("x")).unwrap();
    for _ in 0..2 {
        let ran = shoot.annotate(["--json"]).exits(1);
        let failed = ("output.failed".into(), "sidecars/A003/A003C001_1114_KV.xmp".into());
        assert!(findings(&ran.out).contains(&failed));
        assert_eq!(fs::read(&sidecar).unwrap(), old);
    }
    fs::remove_dir_all(&block).unwrap();
    shoot.annotate([]).exits(1);
    assert_ne!(fs::read(&sidecar).unwrap(), old);
    let fresh = Shoot { out: shoot.temp.path().join("fresh"), ..shoot };
    fresh.annotate([]).exits(1);
    assert_eq!(tree(&fresh.temp.path().join("out")), tree(&fresh.out));
}

#[test]
fn a_run_record_that_cannot_be_written_is_said_and_the_next_run_goes_on() {
    let shoot = Shoot::sample();
    let block = shoot.out.join(format!("run.json{UNFINISHED}"));
    fs::create_dir_all(block.join("x")).unwrap();
    // Sidecars were written, so this is not the code for "nothing was written".
    let ran = shoot.annotate([]).exits(1);
    assert!(ran.result().contains("output.failed"), "{}", ran.result());
    assert_eq!(paths(&shoot.out).iter().filter(|path| is_sidecar(path)).count(), 18);
    fs::remove_dir_all(&block).unwrap();
    change_notes(&shoot);
    let ran = shoot.annotate(["--json"]).exits(1);
    assert!(!findings(&ran.out).iter().any(|(code, _)| code.starts_with("output.")));
    assert!(!shoot.out.join(JOURNAL).exists());
}

#[test]
fn two_runs_at_once_do_not_meet() {
    let shoot = Shoot::clean();
    fs::create_dir(&shoot.out).unwrap();
    let Ok(folder) = fs::File::open(&shoot.out) else { return };
    if folder.try_lock().is_err() {
        return;
    }
    let ran = shoot.annotate([]).exits(2);
    assert!(ran.talk().contains("another run"), "{}", ran.talk());
    assert_eq!(paths(&shoot.out), Vec::<PathBuf>::new());
    drop(folder);
    shoot.annotate([]).exits(0);
}

#[test]
fn files_that_differ_only_in_extension_or_case_get_a_sidecar_each() {
    let shoot = Shoot::clean();
    // The second name is what the sidecar of the first would be called, were it not for the third.
    for name in ["B.mov", "B.mov.mxf", "B.mp4", "b.mxf"] {
        shoot.clip(Path::new("A003").join(name));
    }
    let ran = shoot.annotate(["--json"]).exits(1);
    let record: serde_json::Value = serde_json::from_slice(&ran.out).unwrap();
    let outputs = record["outputs"].as_array().unwrap();
    let mut places: Vec<String> =
        outputs.iter().map(|o| o["file"].as_str().unwrap().to_lowercase()).collect();
    places.sort();
    let count = places.len();
    places.dedup();
    // Five sidecars, the table, and three files of the report.
    assert_eq!((count, places.len()), (9, 9), "{places:?}");
    assert_eq!(paths(&shoot.out).iter().filter(|path| is_sidecar(path)).count(), 5);
    let before = stamps(&shoot.out);
    shoot.annotate([]).exits(1);
    assert_eq!(stamps(&shoot.out), before);
}

#[test]
fn a_stray_sidecar_of_the_same_name_in_another_folder_is_still_counted() {
    let shoot = Shoot::clean();
    fs::write(shoot.dump().join("A003C001_1114_KV.xmp"), "not ours").unwrap();
    let ran = shoot.annotate(["--beside", "--json"]).exits(0);
    let record: serde_json::Value = serde_json::from_slice(&ran.out).unwrap();
    assert_eq!(record["strays"][0]["file"], "A003C001_1114_KV.xmp");
}

#[cfg(unix)]
mod unix {
    use std::os::unix::fs::{PermissionsExt, symlink};
    use std::process::Command;

    use super::*;
    use crate::shoot::{bound_by_rights, lensmend};

    #[test]
    fn nothing_is_written_through_a_link_inside_out() {
        let away = |shoot: &Shoot| {
            let elsewhere = shoot.temp.path().join("elsewhere");
            fs::create_dir_all(&elsewhere).unwrap();
            fs::create_dir_all(shoot.out.join("sidecars")).unwrap();
            elsewhere
        };
        for (link, target) in [
            ("sidecars", "elsewhere"),
            ("sidecars", "day/dump"),
            ("sidecars/A003", "elsewhere"),
            ("sidecars/A003", "day/dump/A003"),
        ] {
            let shoot = Shoot::sample();
            away(&shoot);
            if link == "sidecars" {
                fs::remove_dir(shoot.out.join(link)).unwrap();
            }
            let target = shoot.temp.path().join(target);
            symlink(&target, shoot.out.join(link)).unwrap();
            let (day, elsewhere) = (stamps(&shoot.folder), shoot.temp.path().join("elsewhere"));
            if (link, target.ends_with("day/dump")) == ("sidecars", true) {
                // The whole tree would lie in the dump: that is refused before anything is written.
                assert!(shoot.annotate([]).exits(2).talk().contains("--into"));
                assert_eq!(stamps(&shoot.folder), day);
                continue;
            }
            for _ in 0..2 {
                let ran = shoot.annotate(["--json"]).exits(1);
                assert_eq!(stamps(&shoot.folder), day, "{link} to {}", target.display());
                assert_eq!(paths(&elsewhere), Vec::<PathBuf>::new(), "{link}");
                let failed =
                    findings(&ran.out).into_iter().filter(|(code, _)| code == "output.failed");
                assert_eq!(failed.count(), if link == "sidecars" { 18 } else { 10 });
            }
            assert!(shoot.out.join("run.json").is_file());
        }
    }

    #[test]
    fn a_link_at_the_place_of_an_own_file_is_not_followed() {
        for (name, code) in [("lens-table.csv", 1), ("run.json", 2), (JOURNAL, 2)] {
            for there in [true, false] {
                let shoot = Shoot::clean();
                let precious = shoot.temp.path().join("precious");
                if there {
                    fs::write(&precious, "precious").unwrap();
                }
                fs::create_dir(&shoot.out).unwrap();
                symlink(&precious, shoot.out.join(name)).unwrap();
                shoot.annotate([]).exits(code);
                assert_eq!(fs::read(&precious).ok(), there.then(|| b"precious".to_vec()), "{name}");
                assert!(shoot.out.join(name).is_symlink(), "{name}");
                assert_eq!(paths(&shoot.out).iter().any(|path| is_sidecar(path)), code < 2);
            }
        }
    }

    #[test]
    fn kit_notes_folder_dump_and_out_may_be_links() {
        let shoot = Shoot::sample();
        let expected = shoot.annotate(["--json"]).exits(1).out;
        let store = shoot.temp.path().join("store");
        fs::create_dir(&store).unwrap();
        for name in ["kit.toml", "notes-a.csv", "notes-b.csv", "dump"] {
            fs::rename(shoot.folder.join(name), store.join(name)).unwrap();
            symlink(store.join(name), shoot.folder.join(name)).unwrap();
        }
        fs::create_dir(shoot.temp.path().join("real-out")).unwrap();
        symlink("real-out", shoot.temp.path().join("out-link")).unwrap();
        symlink("day", shoot.temp.path().join("day-link")).unwrap();
        let linked = Shoot {
            folder: shoot.temp.path().join("day-link"),
            out: shoot.temp.path().join("out-link"),
            ..shoot
        };
        let before = tree(&store);
        assert_eq!(linked.annotate(["--json"]).exits(1).out, expected);
        assert_eq!(tree(&store), before);
        assert_eq!(tree(&linked.temp.path().join("real-out")).len(), 26);
    }

    #[test]
    fn a_folder_without_rights_costs_only_the_files_in_it() {
        let shoot = Shoot::sample();
        let locked = shoot.out.join("sidecars/A003");
        fs::create_dir_all(&locked).unwrap();
        let Some(mut command) = bound_by_rights(&shoot) else { return };
        let rights = |mode| fs::set_permissions(&locked, fs::Permissions::from_mode(mode)).unwrap();
        rights(0o555);
        let args = |command: &mut Command| {
            command.arg("annotate").arg(&shoot.folder).arg("--into").arg(&shoot.out);
            command.args(["--date", DATE, "--json"]);
        };
        args(&mut command);
        let ran = run(&mut command).exits(1);
        let failed = findings(&ran.out).into_iter().filter(|(code, _)| code == "output.failed");
        let failed: Vec<String> = failed.map(|(_, file)| file).collect();
        assert_eq!(failed.len(), 10, "{failed:?}");
        assert!(failed.iter().all(|file| file.starts_with("sidecars/A003/")), "{failed:?}");
        assert_eq!(paths(&locked), Vec::<PathBuf>::new());
        assert_eq!(paths(&shoot.out).iter().filter(|path| is_sidecar(path)).count(), 8);
        rights(0o755);
        let ran = run(&mut command).exits(1);
        assert!(!findings(&ran.out).iter().any(|(code, _)| code.starts_with("output.")));
        assert_eq!(paths(&shoot.out).iter().filter(|path| is_sidecar(path)).count(), 18);
    }

    #[test]
    fn a_read_only_dump_can_be_annotated() {
        let shoot = Shoot::sample();
        fs::create_dir(&shoot.out).unwrap();
        let Some(mut command) = bound_by_rights(&shoot) else { return };
        let rights = |folder_mode, file_mode| {
            for path in paths(&shoot.folder).iter().rev() {
                let path = shoot.folder.join(path);
                let mode = if path.is_dir() { folder_mode } else { file_mode };
                fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
            }
        };
        rights(0o555, 0o444);
        command.arg("annotate").arg(&shoot.folder).arg("--into").arg(&shoot.out);
        let ran = run(command.args(["--json"])).exits(1);
        assert!(!findings(&ran.out).iter().any(|(code, _)| code == "output.failed"));
        // And where the sidecars should go into it, that is said for each of them.
        let ran = run(command.args(["--beside"])).exits(1);
        let failed = findings(&ran.out).into_iter().filter(|(code, _)| code == "output.failed");
        assert_eq!(failed.count(), 18);
        rights(0o755, 0o644);
    }

    #[test]
    fn a_pipe_among_the_notes_or_in_out_does_not_hold_a_run_up() {
        let shoot = Shoot::clean();
        let pipe = |path: PathBuf| {
            assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
        };
        pipe(shoot.folder.join("more-notes.csv"));
        shoot.annotate([]).exits(0);
        fs::remove_file(shoot.out.join("run.json")).unwrap();
        pipe(shoot.out.join("run.json"));
        shoot.annotate([]).exits(2);
        let mut given = lensmend();
        given.arg("annotate").arg(&shoot.folder).arg("--notes");
        run(given.arg(shoot.folder.join("more-notes.csv"))).exits(2);
    }
}

#[test]
fn a_kill_at_any_moment_leaves_old_or_new() {
    Killed::new(80, false).often(420);
}

#[test]
fn a_kill_at_any_moment_leaves_old_or_new_beside_the_clips() {
    Killed::new(80, true).often(80);
}

/// A shoot whose runs are killed, and what its files must come to under each of two sets of notes.
struct Killed {
    shoot: Shoot,
    beside: bool,
    notes: [String; 2],
    /// Files under either notes once a run has finished.
    finished: [Files; 2],
    /// How long a whole run takes here.
    whole: Duration,
    random: u64,
}

/// Files of a shoot and its output folder by path.
type Files = BTreeMap<PathBuf, Vec<u8>>;

impl Killed {
    fn new(clips: u32, beside: bool) -> Self {
        let mut shoot = Shoot::clean();
        shoot.out = shoot.folder.join("out");
        fs::remove_dir_all(shoot.dump()).unwrap();
        let mut notes = ["Sorrel 50", "Sorrel 85"]
            .map(|_| "Roll,Clip,Slate,Take,Lens,Stop,Reducer,Focus\n".to_owned());
        for at in 0..clips {
            let (roll, clip) = (format!("A{:03}", 3 + at / 100), at % 100 + 1);
            shoot.clip(format!("{roll}/{roll}C{clip:03}_1114_KV.mov"));
            for (text, lens) in notes.iter_mut().zip(["Sorrel 50", "Sorrel 85"]) {
                writeln!(text, "{roll},C{clip:03},24,{clip},{lens},f/2.8,0.71,2.4 m").unwrap();
            }
        }
        let mut killed = Self {
            finished: [Files::new(), Files::new()],
            whole: Duration::ZERO,
            random: 0x9e37_79b9_7f4a_7c15,
            shoot,
            beside,
            notes,
        };
        for at in [0, 1] {
            killed.clear();
            killed.shoot.notes(&killed.notes[at]);
            let begun = Instant::now();
            run(&mut killed.command()).exits(0);
            killed.whole = killed.whole.max(begun.elapsed());
            killed.finished[at] = killed.look();
            assert_eq!(
                killed.finished[at].keys().filter(|path| is_sidecar(path)).count(),
                usize::try_from(clips).unwrap()
            );
        }
        killed
    }

    fn often(mut self, times: u32) {
        let (mut cut, mut half_way) = (0, 0);
        let mut at = 0;
        for _ in 0..times {
            match self.random() % 4 {
                0 => self.clear(),
                // An older run that finished, so that the next one finds all of it stale.
                1 => self.finish(at),
                // What the last kill left, with other notes or with the same ones.
                _ => {}
            }
            at = usize::from(self.random().is_multiple_of(2));
            self.shoot.notes(&self.notes[at]);
            let before = self.look();
            cut += u32::from(self.kill());
            let after = self.look();
            half_way += u32::from(after.keys().any(|path| path.ends_with(JOURNAL)));
            self.check(&before, &after, at);
        }
        self.finish(at);
        let before = stamps(&self.shoot.folder);
        run(&mut self.command()).exits(0);
        assert_eq!(stamps(&self.shoot.folder), before);
        assert!(cut > 0, "no run was killed before it ended");
        assert!(half_way > 0, "no run was killed while it was writing");
    }

    fn command(&self) -> std::process::Command {
        let mut command = self.shoot.command(DATE);
        command.args(self.beside.then_some("--beside"));
        command
    }

    /// Takes away everything that lensmend wrote.
    fn clear(&self) {
        let _ = fs::remove_dir_all(&self.shoot.out);
        for path in paths(&self.shoot.folder) {
            if path.starts_with("dump")
                && !is_clip(&path)
                && self.shoot.folder.join(&path).is_file()
            {
                fs::remove_file(self.shoot.folder.join(path)).unwrap();
            }
        }
    }

    /// Files of folder, dump and output folder.
    fn look(&self) -> Files {
        crate::shoot::files(&self.shoot.folder)
    }

    /// One run to the end; its files are those of a run that never was killed.
    fn finish(&self, at: usize) {
        self.shoot.notes(&self.notes[at]);
        run(&mut self.command()).exits(0);
        same(&self.look(), &self.finished[at]);
    }

    /// True if the run had not ended by itself.
    fn kill(&mut self) -> bool {
        let whole = u64::try_from(self.whole.as_micros()).unwrap();
        let wait = Duration::from_micros(self.random() % whole);
        let mut command = self.command();
        let mut child = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
        thread::sleep(wait);
        child.kill().unwrap();
        child.wait().unwrap().code().is_none()
    }

    fn check(&self, before: &Files, after: &Files, at: usize) {
        for (path, bytes) in after {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if is_clip(path) {
                assert!(before.get(path) == Some(bytes), "{} was changed", path.display());
            } else if !name.ends_with(UNFINISHED) && name != JOURNAL {
                let old = before.get(path) == Some(bytes);
                let new = self.finished[at].get(path) == Some(bytes);
                assert!(old || new, "{} is neither old nor new", path.display());
            }
        }
        for path in before.keys() {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let passing = name.ends_with(UNFINISHED) || name == JOURNAL;
            assert!(passing || after.contains_key(path), "{} is gone", path.display());
        }
    }

    /// Xorshift: the same moments in every run of the tests.
    fn random(&mut self) -> u64 {
        self.random ^= self.random << 13;
        self.random ^= self.random >> 7;
        self.random ^= self.random << 17;
        self.random
    }
}

fn is_clip(path: &Path) -> bool {
    path.extension().is_some_and(|extension| extension == "mov")
}

/// Says which file differs, not all of their bytes.
#[track_caller]
fn same(is: &Files, should: &Files) {
    let names = |files: &Files| files.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(is), names(should));
    for (path, bytes) in is {
        assert!(should.get(path) == Some(bytes), "{} differs", path.display());
    }
}

/// Changes a value of the first clip of the sample.
fn change_notes(shoot: &Shoot) {
    let path = shoot.folder.join("notes-a.csv");
    let text = fs::read_to_string(&path).unwrap();
    let changed = text.replace("Sorrel 50,,1.4,,2.4 m", "Sorrel 50,,2.8,,2.4 m");
    assert_ne!(text, changed);
    fs::write(path, changed).unwrap();
}
