//! Ctrl-C: a run that is asked to end does so between files, and the next one goes on where it was.
#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

use clap::Parser as _;
use lensmend::cli::Cli;
use lensmend::output::Stamp;
use lensmend::run::{Look, run};
use lensmend::watch::{Amount, Interrupted, Watch};

use crate::conform::Judges;
use crate::shoot::{DATE, Shoot, files, is_sidecar, stamps, tree};

const JOURNAL: &str = "unfinished-run.json";

/// Somebody who asks to end after so many questions.
struct Impatient(AtomicUsize);

impl Watch for Impatient {
    fn begin(&self, _: &'static str, _: Amount) {}

    fn done(&self, _: u64) {}

    fn end(&self) {}

    fn go_on(&self) -> bool {
        self.0.fetch_update(Ordering::SeqCst, Ordering::SeqCst, |left| left.checked_sub(1)).is_ok()
    }
}

/// Annotates with somebody who asks to end at the `after`th question; the error if the run did.
fn annotate(shoot: &Shoot, more: &[&str], after: usize) -> Option<Interrupted> {
    let (folder, out) = (shoot.folder.to_str().unwrap(), shoot.out.to_str().unwrap());
    let words =
        ["lensmend", "annotate", folder, "--into", out].into_iter().chain(more.iter().copied());
    let cli = Cli::try_parse_from(words).unwrap();
    let stamp = Stamp { date: DATE.to_owned(), tool: "lensmend 0.0.0".to_owned() };
    let look = Look { colour: false, colour_of_talk: false, width: 100 };
    match run(&cli, &stamp, look, &Impatient(AtomicUsize::new(after))) {
        Ok(_) => None,
        Err(error) => Some(error.downcast::<Interrupted>().unwrap()),
    }
}

#[test]
fn a_run_may_be_ended_at_every_question_and_taken_up_again() {
    for more in [&["--verify"][..], &["--verify", "--beside"]] {
        let undisturbed = Shoot::sample();
        let original = tree(&undisturbed.folder);
        assert_eq!(annotate(&undisturbed, more, usize::MAX), None);
        let (day, out) = (files(&undisturbed.folder), files(&undisturbed.out));
        let (mut idle, mut half, mut after) = (0, 0, 0);
        loop {
            let shoot = Shoot::sample();
            let Some(interrupted) = annotate(&shoot, more, after) else { break };
            let now = tree(&shoot.folder);
            for (path, thing) in &original {
                assert_eq!(now.get(path), Some(thing), "{}", path.display());
            }
            match interrupted.written {
                None => {
                    idle += 1;
                    assert_eq!(now, original);
                    assert_eq!(files(&shoot.out).len(), 0);
                }
                Some((written, of)) => {
                    half += 1;
                    let tree = if more.contains(&"--beside") { &shoot.folder } else { &shoot.out };
                    let sidecars = files(tree)
                        .into_keys()
                        .filter(|path| is_sidecar(path) && !original.contains_key(path));
                    // Behind eighteen sidecars come the table and the report.
                    let others = ["lens-table.csv", "report.html", "report.pdf", "report.csv"];
                    let others = others.iter().filter(|name| shoot.out.join(name).exists()).count();
                    assert_eq!((sidecars.count() + others, of), (written, 22));
                    assert!(
                        shoot.out.join(JOURNAL).is_file() && !shoot.out.join("run.json").exists()
                    );
                }
            }
            assert_eq!(annotate(&shoot, more, usize::MAX), None);
            assert!(files(&shoot.folder) == day, "after {after} questions");
            assert!(files(&shoot.out) == out, "after {after} questions");
            let before = stamps(shoot.temp.path());
            assert_eq!(annotate(&shoot, more, usize::MAX), None);
            assert_eq!(stamps(shoot.temp.path()), before);
            after += 3;
        }
        assert!(idle > 0 && half > 2, "{idle} {half}");
    }
}

/// The built program and a real signal: the first ends it between files with 130, and the next run goes on.
#[cfg(unix)]
#[test]
fn ctrl_c_ends_the_program_in_a_state_that_can_be_taken_up() {
    use std::process::Command;

    let mut shoot = Shoot::clean();
    shoot.out = shoot.folder.join("out");
    for at in 1..100 {
        shoot.clip(format!("A004/A004C{at:03}_1114_KV.mov"));
    }
    let original = tree(&shoot.dump());
    let mut caught = 0;
    for _ in 0..40 {
        let _ = std::fs::remove_dir_all(&shoot.out);
        let mut command = shoot.command(DATE);
        let mut child = command
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .unwrap();
        // Writing has begun once the journal is there.
        while !shoot.out.join(JOURNAL).exists() && child.try_wait().unwrap().is_none() {
            std::thread::yield_now();
        }
        let _ = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
        let ran = child.wait_with_output().unwrap();
        let said = String::from_utf8(ran.stderr).unwrap();
        match ran.status.code() {
            // The signal came when the last file was already in hand.
            Some(0 | 1) => {}
            Some(130) => {
                caught += 1;
                assert!(said.contains("of 104 files were written"), "{said}");
                assert!(said.contains("press Ctrl-C again"), "{said}");
                assert!(shoot.out.join(JOURNAL).is_file());
            }
            code => panic!("{code:?}: {said}"),
        }
        assert_eq!(tree(&shoot.dump()), original);
        if caught == 3 {
            break;
        }
    }
    assert!(caught > 0, "no signal was heard while files were written");
    crate::shoot::run(&mut shoot.command(DATE)).exits(1);
    let all = files(&shoot.out);
    assert_eq!(all.keys().filter(|path| is_sidecar(path)).count(), 100);
    assert!(!all.keys().any(|path| path.to_string_lossy().contains("unfinished")));
}

/// A clip of many gigabytes is not read to its end when somebody asks for the end.
#[cfg(unix)]
#[test]
fn ctrl_c_is_heard_inside_a_large_clip() {
    use std::process::{Command, Stdio};
    use std::time::Duration;

    let shoot = Shoot::clean();
    let large = shoot.dump().join("A003/A003C002_1114_KV.mov");
    std::fs::File::create(&large).unwrap().set_len(64 << 30).unwrap();
    let md5 = "0".repeat(32);
    std::fs::write(shoot.dump().join("card.md5"), format!("{md5}  A003/A003C002_1114_KV.mov\n"))
        .unwrap();
    // A signal that comes before the program listens ends it at once; then it is given more time.
    for wait in [200, 1000, 5000, 20_000] {
        let mut command = shoot.command(DATE);
        command.arg("--verify").stdout(Stdio::null()).stderr(Stdio::piped());
        let child = command.spawn().unwrap();
        std::thread::sleep(Duration::from_millis(wait));
        Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
        let ran = child.wait_with_output().unwrap();
        let said = String::from_utf8(ran.stderr).unwrap();
        if let Some(code) = ran.status.code() {
            assert_eq!(code, 130, "{said}");
            assert!(
                said.contains("nothing was written") && !shoot.out.join("run.json").exists(),
                "{said}"
            );
            return;
        }
    }
    panic!("the program never listened");
}

/// What is not a terminal gets no bar: logs stay readable. A terminal shows what is done, and the result after it.
#[test]
fn a_bar_is_for_terminals_alone() {
    let shoot = Shoot::sample();
    let ran = shoot.annotate(["--verify"]).exits(1);
    let talk = ran.talk();
    assert!(!talk.contains(['\r', '\u{1b}']) && !talk.contains("Verifying"), "{talk:?}");
    let Some(judges) = Judges::called() else { return };
    let clip = std::fs::read(shoot.dump().join("A003/A003C001_1114_KV.mov")).unwrap();
    let md5 = lensmend::seal::digest::digest(lensmend::seal::digest::Kind::Md5, &clip);
    std::fs::write(shoot.dump().join("A003/card.md5"), format!("{md5}  A003C001_1114_KV.mov\n"))
        .unwrap();
    let mut words = vec![
        PathBuf::from(env!("CARGO_BIN_EXE_lensmend")),
        "annotate".into(),
        shoot.folder.clone(),
    ];
    words.extend(["--verify".into(), "--into".into(), shoot.temp.path().join("other")]);
    let seen = judges.run("terminal.py", &words);
    let shown = seen["shown"].as_str().unwrap();
    assert_eq!(seen["code"], 1, "{shown}");
    for word in ["Reading", "Verifying", "Writing", "\r", "Wrote 23 files"] {
        assert!(shown.contains(word), "{word}: {shown}");
    }
}
