//! `check`: what it says of a day after every change that can be, and that it writes nothing.

#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::Value;

use lensmend::seal::digest::Kind;

use crate::sealed::seal;
use crate::shoot::{DATE, Ran, Shoot, lensmend, run, stamps};

const SIDECAR: &str = "sidecars/A003/A003C001_1114_KV.xmp";

/// `check` with more arguments. Whatever it finds, it changes nothing.
#[track_caller]
fn check(shoot: &Shoot, more: &[&str]) -> Ran {
    let before = stamps(shoot.temp.path());
    let mut command = lensmend();
    command.arg("check").arg(&shoot.folder).arg("--into").arg(&shoot.out).args(more);
    let ran = run(&mut command);
    assert_eq!(stamps(shoot.temp.path()), before, "check wrote something");
    ran
}

/// Every file that does not agree: its state, and what changed.
#[track_caller]
fn found(shoot: &Shoot, more: &[&str]) -> BTreeMap<String, (String, Vec<String>)> {
    let more: Vec<&str> = ["--json"].iter().chain(more).copied().collect();
    let ran = check(shoot, &more);
    let report: Value =
        serde_json::from_slice(&ran.out).unwrap_or_else(|_| panic!("{}", ran.talk()));
    let word = |value: &Value| value.as_str().unwrap().to_owned();
    let mut found = BTreeMap::new();
    for file in report["files"].as_array().unwrap() {
        if file["state"] != "agree" {
            let causes = file["causes"].as_array().cloned().unwrap_or_default();
            let causes = causes.iter().map(|cause| {
                let name =
                    cause["name"].as_str().map_or_else(String::new, |name| format!(" {name}"));
                format!("{}{name} {}", word(&cause["what"]), word(&cause["how"]))
            });
            found.insert(word(&file["file"]), (word(&file["state"]), causes.collect()));
        }
    }
    assert_eq!(ran.code, Some(i32::from(!found.is_empty())), "{found:?}");
    assert_eq!(report["agrees"], found.is_empty());
    found
}

/// States alone.
fn states(found: &BTreeMap<String, (String, Vec<String>)>) -> BTreeMap<&str, &str> {
    found.iter().map(|(file, (state, _))| (file.as_str(), state.as_str())).collect()
}

fn edit(file: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(file).unwrap();
    assert!(text.contains(from), "{} has no {from}", file.display());
    fs::write(file, text.replacen(from, to, 1)).unwrap();
}

#[test]
fn what_a_run_wrote_agrees_whatever_its_options_and_one_line_says_so() {
    for ways in [
        &[][..],
        &["--beside"],
        &["--trust", "notes", "--per-frame", "--lens-data", "all"],
        &["--columns", "clip,lens=Glass", "--clock", "A=-00:00:10", "--replace-edited"],
        &["--verify"],
    ] {
        let shoot = Shoot::sample();
        run(shoot.command(DATE).args(ways)).exits(1);
        let ran = check(&shoot, &[]).exits(0);
        let text = ran.result();
        assert!(text.starts_with("All ") && text.lines().count() == 1, "{ways:?}: {text}");
        assert_eq!(ran.talk(), "", "{ways:?}");
        assert!(found(&shoot, &[]).is_empty());
        // And after it annotate still has nothing to do.
        let again = run(shoot.command(DATE).args(ways)).exits(1);
        let talk = again.talk();
        // Beside the clips the run before last is among what the last one walked, and so the record may change once.
        let beside = ways.contains(&"--beside");
        let nothing = if beside { "Wrote 0 files" } else { "Nothing changed since" };
        assert!(talk.contains(nothing) || beside && talk.contains("Wrote 1 files"), "{talk}");
    }
}

#[test]
fn without_a_run_everything_is_missing_and_it_says_what_to_do() {
    let shoot = Shoot::sample();
    let found = found(&shoot, &[]);
    assert_eq!(found.len(), 23);
    assert!(found.values().all(|(state, _)| state == "missing"), "{found:?}");
    assert!(!shoot.out.exists());
    let text = check(&shoot, &[]).exits(1).result();
    assert!(
        text.contains("no run record") && text.contains("Run `lensmend annotate` first"),
        "{text}"
    );
}

#[test]
fn what_cannot_be_checked_is_code_2() {
    let shoot = Shoot::sample();
    let command = |arguments: &[&str]| {
        let mut command = lensmend();
        command.arg("check").args(arguments);
        run(&mut command)
    };
    command(&["/nowhere/at/all"]).exits(2);
    let folder = shoot.folder.to_str().unwrap();
    let ran = command(&[folder, "--", "--nonsense"]).exits(2);
    assert!(ran.talk().contains("--nonsense"), "{}", ran.talk());
    fs::write(shoot.folder.join("kit.toml"), "[[lens]]\n").unwrap();
    let ran = check(&shoot, &[]).exits(2);
    assert!(ran.talk().contains("nothing was checked"), "{}", ran.talk());
}

#[test]
fn stale_files_say_what_changed() {
    let shoot = Shoot::sample();
    shoot.annotate([]).exits(1);
    let all_say = |cause: &str| {
        let found = found(&shoot, &[]);
        assert!(found.contains_key("run.json") && found.contains_key(SIDECAR), "{found:?}");
        for (file, (state, causes)) in &found {
            assert_eq!(
                (state.as_str(), causes.as_slice()),
                ("stale", &[cause.to_owned()][..]),
                "{file}"
            );
        }
        let text = check(&shoot, &[]).exits(1).result();
        assert!(text.contains("annotate` again"), "{text}");
    };
    let notes = shoot.folder.join("notes-a.csv");
    let (as_noted, kit) = (fs::read(&notes).unwrap(), shoot.folder.join("kit.toml"));
    edit(&notes, "Sorrel 50,,1.4,,2.4 m", "Sorrel 50,,2.8,,2.4 m");
    all_say("notes notes-a.csv changed");
    fs::write(&notes, as_noted).unwrap();
    let as_packed = fs::read(&kit).unwrap();
    edit(&kit, "magnification = 0.71", "magnification = 0.72");
    all_say("kit kit.toml changed");
    fs::write(&kit, as_packed).unwrap();
    assert!(found(&shoot, &[]).is_empty(), "all is as it was");
    let by_option = found(&shoot, &["--", "--trust", "notes"]);
    let how = "options were none, now --trust=notes".to_owned();
    assert_eq!(by_option["run.json"], ("stale".to_owned(), vec![how]));
    // A run of an older program.
    let record = shoot.out.join("run.json");
    edit(&record, "\"tool\": \"lensmend ", "\"tool\": \"lensmend 0.0.");
    assert_eq!(found(&shoot, &[])["run.json"].0, "edited", "somebody touched the record");
}

#[test]
fn a_changed_clip_makes_its_own_files_stale() {
    let shoot = Shoot::sample();
    shoot.annotate([]).exits(1);
    let clip = shoot.dump().join("A003/A003C001_1114_KV.mov");
    let mut bytes = fs::read(&clip).unwrap();
    // The creation time (ISO/IEC 14496-12, 8.2.2); the length stays.
    let at = bytes.windows(4).position(|kind| kind == b"mvhd").unwrap() + 8;
    bytes[at + 3] ^= 1;
    fs::write(&clip, bytes).unwrap();
    let found = found(&shoot, &[]);
    let cause = vec!["media A003/A003C001_1114_KV.mov changed".to_owned()];
    assert_eq!(found[SIDECAR], ("stale".to_owned(), cause.clone()));
    assert_eq!(found["run.json"], ("stale".to_owned(), cause));
    assert!(!found.contains_key("sidecars/B001/B001C001_1114_OM.xmp"), "{found:?}");
}

#[test]
fn edited_orphaned_and_missing_files_are_told_apart() {
    let shoot = Shoot::sample();
    shoot.annotate([]).exits(1);
    edit(&shoot.out.join(SIDECAR), "<xmpDM:scene>24A", "<xmpDM:scene>24B");
    edit(&shoot.out.join("lens-table.csv"), "A003", "A004");
    // A remark beside the values is nobody's business.
    edit(
        &shoot.out.join("sidecars/A003/A003C002_1114_KV.xmp"),
        "</x:xmpmeta>",
        "</x:xmpmeta><!-- seen -->",
    );
    // What is no XMP any more.
    fs::write(shoot.out.join("sidecars/A003/A003C003_1114_KV.xmp"), "scribble").unwrap();
    fs::remove_file(shoot.out.join("sidecars/B001/B001C001_1114_OM.xmp")).unwrap();
    fs::write(shoot.out.join("my own.txt"), "mine").unwrap();
    let first = found(&shoot, &[]);
    let expected = BTreeMap::from([
        (SIDECAR, "edited"),
        ("lens-table.csv", "edited"),
        ("sidecars/A003/A003C003_1114_KV.xmp", "edited"),
        ("sidecars/B001/B001C001_1114_OM.xmp", "missing"),
    ]);
    assert_eq!(states(&first), expected);
    fs::remove_file(shoot.dump().join("B001/B001C002_1114_OM.mov"))
        .or_else(|_| fs::remove_file(shoot.dump().join("B001/B001C002_1114_OM.mp4")))
        .unwrap();
    shoot.clip("A003/A003C030_1114_KV.mov");
    let second = found(&shoot, &[]);
    assert_eq!(second["sidecars/B001/B001C002_1114_OM.xmp"].0, "orphan");
    let new = vec!["media A003/A003C030_1114_KV.mov is new".to_owned()];
    assert_eq!(second["sidecars/A003/A003C030_1114_KV.xmp"], ("missing".to_owned(), new));
    assert_eq!(second["run.json"].0, "stale");
    // A run puts right what is stale or missing, and keeps the rest.
    shoot.annotate([]).exits(1);
    let after = found(&shoot, &[]);
    assert_eq!(after[SIDECAR].0, "edited");
    assert_eq!(after["sidecars/B001/B001C002_1114_OM.xmp"].0, "orphan");
    assert!(!after.values().any(|(state, _)| state == "missing" || state == "stale"), "{after:?}");
    let text = check(&shoot, &[]).exits(1).result();
    assert!(text.contains("Edited by hand") && text.contains("Orphans"), "{text}");
}

/// Lens data of an earlier run is out of date from the next one on that does not ask for it; its clip is there all the same.
#[test]
fn lens_data_that_is_no_longer_asked_for_is_an_orphan() {
    let shoot = Shoot::sample();
    shoot.annotate(["--lens-data", "fdl"]).exits(1);
    assert_eq!(found(&shoot, &[]), BTreeMap::new());
    shoot.annotate([]).exits(1);
    let left = found(&shoot, &[]);
    assert!(!left.is_empty());
    for (file, (state, _)) in &left {
        assert!(file.starts_with("lens-data/") && state == "orphan", "{file} {state}");
    }
    let text = check(&shoot, &[]).result();
    assert!(text.contains("no longer asked for") && !text.contains("of no clip"), "{text}");
}

#[test]
fn sidecars_beside_the_clips_are_checked_there() {
    let shoot = Shoot::sample();
    shoot.annotate(["--beside"]).exits(1);
    edit(&shoot.dump().join("A003/A003C001_1114_KV.xmp"), "<xmpDM:scene>24A", "<xmpDM:scene>24B");
    fs::remove_file(shoot.dump().join("A003/A003C002_1114_KV.xmp")).unwrap();
    let found = found(&shoot, &[]);
    let expected = BTreeMap::from([
        ("dump:A003/A003C001_1114_KV.xmp", "edited"),
        ("dump:A003/A003C002_1114_KV.xmp", "missing"),
    ]);
    assert_eq!(states(&found), expected);
}

#[test]
fn a_mirrored_sidecar_is_stale_when_the_one_beside_the_clip_changed() {
    let shoot = Shoot::clean();
    let beside = shoot.dump().join("A003/A003C001_1114_KV.xmp");
    let foreign = |title: &str| {
        format!(
            "<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'>\
             <rdf:Description rdf:about='' xmlns:dc='http://purl.org/dc/elements/1.1/' dc:source='{title}'/></rdf:RDF></x:xmpmeta>"
        )
    };
    fs::write(&beside, foreign("one")).unwrap();
    shoot.annotate([]).exits(0);
    check(&shoot, &[]).exits(0);
    fs::write(&beside, foreign("two")).unwrap();
    let cause = vec!["sidecar beside the clip changed".to_owned()];
    assert_eq!(found(&shoot, &[])[SIDECAR], ("stale".to_owned(), cause));
}

#[test]
fn a_killed_run_is_told() {
    let shoot = Shoot::clean();
    shoot.annotate([]).exits(0);
    let journal = "{\"format\": \"lensmend unfinished run\", \"version\": 1, \"tool\": \"x\", \"written\": \"2026-11-14T19:00:00Z\", \"outputs\": []}";
    fs::write(shoot.out.join("unfinished-run.json"), journal).unwrap();
    fs::remove_file(shoot.out.join(SIDECAR)).unwrap();
    edit(&shoot.folder.join("notes.csv"), "f/2.8", "f/4");
    let found = found(&shoot, &[]);
    assert_eq!(found[SIDECAR].0, "missing");
    let (state, causes) = &found["lens-table.csv"];
    assert_eq!(state, "stale");
    assert!(causes.iter().any(|cause| cause.starts_with("a run was killed")), "{causes:?}");
    assert!(causes.contains(&"notes notes.csv changed".to_owned()), "{causes:?}");
}

#[test]
fn a_kit_named_on_the_command_line_is_found_again() {
    let shoot = Shoot::clean();
    fs::create_dir(shoot.folder.join("kits")).unwrap();
    fs::rename(shoot.folder.join("kit.toml"), shoot.folder.join("kits/b.toml")).unwrap();
    let kit = shoot.folder.join("kits/b.toml");
    shoot.annotate(["--kit", kit.to_str().unwrap()]).exits(0);
    check(&shoot, &[]).exits(0);
    edit(&kit, "magnification = 0.71", "magnification = 0.72");
    let found = found(&shoot, &[]);
    assert_eq!(found[SIDECAR].1, ["kit kits/b.toml changed"]);
}

#[test]
fn a_sealed_dump_is_checked_with_what_its_history_says() {
    const BESIDE: &str = "dump:A003/A003C001_1114_KV.xmp";
    let shoot = Shoot::clean();
    seal(&shoot.dump(), Kind::SEALED[0], "");
    shoot.annotate(["--beside", "--append-history"]).exits(0);
    check(&shoot, &[]).exits(0);
    // The sidecar is recorded by now, so a run would leave it as it is.
    edit(&shoot.folder.join("notes.csv"), "f/2.8", "f/4");
    let cause = vec!["notes notes.csv changed".to_owned()];
    assert_eq!(found(&shoot, &[])[BESIDE], ("stale".to_owned(), cause));
    edit(&shoot.folder.join("notes.csv"), "f/4", "f/2.8");
    // A clip that is not whole, of which only hash lists tell: its header is as it was.
    let clip = shoot.dump().join("A003/A003C001_1114_KV.mov");
    let mut bytes = fs::read(&clip).unwrap();
    *bytes.last_mut().unwrap() ^= 1;
    fs::write(&clip, bytes).unwrap();
    let verified = check(&shoot, &["--json", "--", "--beside", "--verify"]).exits(1).result();
    assert!(verified.contains("is not what the hash lists of the dump say"), "{verified}");
}
