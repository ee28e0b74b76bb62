//! `annotate` in dumps with hash lists: verifying, keeping what is recorded, adding a generation.
#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use lensmend::seal::digest::{Kind, digest};

use crate::hash_lists::manifest_of;
use crate::shoot::{DATE, LATER, Ran, Shoot, findings, is_sidecar, paths, run, stamps, tree};

/// Seals a folder as one generation, and writes its chain.
fn seal(folder: &Path, kind: Kind, ignore: &str) {
    let mut records = String::new();
    for path in paths(folder).iter().filter(|path| folder.join(path).is_file()) {
        if path.iter().any(|part| part == "ascmhl") {
            continue;
        }
        let bytes = fs::read(folder.join(path)).unwrap();
        let (word, value, size) = (kind.word(), digest(kind, &bytes), bytes.len());
        let path = path.display();
        write!(records, "<hash><path size=\"{size}\">{path}</path><{word} action=\"original\">{value}</{word}></hash>").unwrap();
    }
    generation(folder, &manifest_of(&records, ignore));
}

/// Writes a manifest as the first generation, and the chain for it.
fn generation(folder: &Path, manifest: &str) {
    let history = folder.join("ascmhl");
    fs::create_dir_all(&history).unwrap();
    fs::write(history.join("0001_dump_2026-11-14_180000Z.mhl"), manifest).unwrap();
    let c4 = digest(Kind::C4, manifest.as_bytes());
    let chain = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<ascmhldirectory xmlns=\"urn:ASC:MHL:DIRECTORY:v2.0\">\n  \
         <hashlist sequencenr=\"1\">\n    <path>0001_dump_2026-11-14_180000Z.mhl</path>\n    <c4>{c4}</c4>\n  </hashlist>\n</ascmhldirectory>\n"
    );
    fs::write(history.join("ascmhl_chain.xml"), chain).unwrap();
}

/// The findings about hash lists.
fn seals(ran: &Ran) -> BTreeSet<(String, String)> {
    findings(&ran.out).into_iter().filter(|(code, _)| code.starts_with("seal.")).collect()
}

fn found<const N: usize>(expected: [(&str, &str); N]) -> BTreeSet<(String, String)> {
    expected.iter().map(|(code, file)| ((*code).to_owned(), (*file).to_owned())).collect()
}

fn sidecars(folder: &Path) -> usize {
    paths(folder).iter().filter(|path| is_sidecar(path)).count()
}

const CLIP: &str = "A003/A003C001_1114_KV.mov";

#[test]
fn a_whole_dump_verifies_and_nothing_is_said() {
    for kind in Kind::SEALED {
        let shoot = Shoot::clean();
        seal(&shoot.dump(), kind, "");
        let ran = shoot.annotate(["--verify", "--json"]).exits(0);
        assert_eq!(seals(&ran), found([]), "{kind:?}");
        assert!(ran.talk().contains("files that are whole: 1;"), "{}", ran.talk());
    }
}

/// One bit, one byte less, and one byte more.
#[test]
fn a_clip_that_is_not_what_was_sealed_gets_no_sidecar() {
    let changes: [fn(&mut Vec<u8>); 3] = [
        |bytes| *bytes.last_mut().unwrap() ^= 1,
        |bytes| bytes.truncate(bytes.len() - 1),
        |bytes| bytes.push(0),
    ];
    for change in changes {
        let shoot = Shoot::clean();
        shoot.clip("A003/A003C002_1114_KV.mov");
        seal(&shoot.dump(), Kind::Xxh64, "");
        let clip = shoot.dump().join(CLIP);
        let mut bytes = fs::read(&clip).unwrap();
        change(&mut bytes);
        fs::write(&clip, &bytes).unwrap();
        let ran = shoot.annotate(["--verify", "--json"]).exits(1);
        assert_eq!(seals(&ran), found([("seal.mismatch", CLIP)]));
        assert_eq!(sidecars(&shoot.out), 1);
        assert!(shoot.out.join("sidecars/A003/A003C002_1114_KV.xmp").is_file());
        assert_eq!(fs::read(&clip).unwrap(), bytes);
        // Without being asked, nobody reads whole clips.
        let ran = shoot.annotate(["--json"]);
        assert_eq!(seals(&ran), found([]));
    }
}

#[test]
fn an_earlier_sidecar_of_a_clip_that_went_bad_stays_and_stays_known() {
    let shoot = Shoot::clean();
    seal(&shoot.dump(), Kind::Md5, "");
    shoot.annotate(["--verify"]).exits(0);
    let sidecar = shoot.out.join("sidecars/A003/A003C001_1114_KV.xmp");
    let before = fs::read(&sidecar).unwrap();
    let clip = shoot.dump().join(CLIP);
    let whole = fs::read(&clip).unwrap();
    fs::write(&clip, [whole.as_slice(), b"!"].concat()).unwrap();
    let ran = shoot.annotate(["--verify", "--json"]).exits(1);
    let codes: BTreeSet<String> = findings(&ran.out).into_iter().map(|(code, _)| code).collect();
    assert!(!codes.contains("output.orphan"), "{codes:?}");
    assert_eq!(fs::read(&sidecar).unwrap(), before);
    fs::write(&clip, whole).unwrap();
    let ran = shoot.annotate(["--verify", "--json"]).exits(0);
    assert_eq!(findings(&ran.out), found([]));
}

#[test]
fn files_that_are_gone_and_files_that_nobody_listed_are_told() {
    let shoot = Shoot::clean();
    fs::write(shoot.dump().join("A003/notes.txt"), "x").unwrap();
    seal(&shoot.dump(), Kind::Sha1, "");
    fs::remove_file(shoot.dump().join("A003/notes.txt")).unwrap();
    shoot.clip("A003/A003C002_1114_KV.mov");
    let ran = shoot.annotate(["--verify", "--json"]).exits(1);
    let expected =
        [("seal.missing", "A003/notes.txt"), ("seal.unlisted", "A003/A003C002_1114_KV.mov")];
    assert_eq!(seals(&ran), found(expected));
    // A clip that nobody listed is annotated: nothing speaks against it.
    assert_eq!(sidecars(&shoot.out), 2);
}

#[test]
fn a_dump_without_lists_cannot_be_verified_and_says_so() {
    let shoot = Shoot::clean();
    let ran = shoot.annotate(["--verify", "--json"]).exits(1);
    assert_eq!(seals(&ran).len(), 1);
    assert!(seals(&ran).iter().all(|(code, _)| code == "seal.unlisted"));
    assert_eq!(sidecars(&shoot.out), 1);
}

/// What checksum programs of Unix write, each with the hash of its own kind.
#[test]
fn plain_lists_of_the_dump_count_too() {
    for (list, kind) in [
        ("A003.md5", Kind::Md5),
        ("A003/card.sha1", Kind::Sha1),
        ("SHA256SUMS", Kind::Sha256),
        ("A003/A003C001_1114_KV.mov.xxh64", Kind::Xxh64),
    ] {
        let shoot = Shoot::clean();
        let clip = shoot.dump().join(CLIP);
        let value = digest(kind, &fs::read(&clip).unwrap());
        let name = if list.starts_with("A003/") { "A003C001_1114_KV.mov" } else { CLIP };
        fs::write(shoot.dump().join(list), format!("{value}  {name}\n")).unwrap();
        let ran = shoot.annotate(["--verify", "--json"]).exits(0);
        assert_eq!(seals(&ran), found([]), "{list}");
        assert!(ran.talk().contains("1 plain. Clip files that are whole: 1;"), "{}", ran.talk());
        let mut bytes = fs::read(&clip).unwrap();
        *bytes.last_mut().unwrap() ^= 1;
        fs::write(&clip, bytes).unwrap();
        let ran = shoot.annotate(["--verify", "--json"]).exits(1);
        assert_eq!(seals(&ran), found([("seal.mismatch", CLIP)]), "{list}");
    }
}

/// Every frame of a sequence is read, not only those that headers are read of.
#[test]
fn one_bad_frame_of_a_sequence_is_found() {
    let shoot = Shoot::clean();
    let folder = shoot.dump().join("A003C009_1114_KV");
    fs::create_dir_all(&folder).unwrap();
    for at in 1..=30 {
        fs::write(folder.join(format!("A003C009_1114_KV.{at:04}.dpx")), [at; 64]).unwrap();
    }
    seal(&shoot.dump(), Kind::Xxh3, "");
    let ran = shoot.annotate(["--verify", "--json"]);
    assert_eq!(seals(&ran), found([]));
    assert!(ran.talk().contains("files that are whole: 31;"), "{}", ran.talk());
    fs::write(folder.join("A003C009_1114_KV.0017.dpx"), [99; 64]).unwrap();
    let ran = shoot.annotate(["--verify", "--json"]).exits(1);
    let bad = "A003C009_1114_KV/A003C009_1114_KV.0017.dpx";
    assert_eq!(seals(&ran), found([("seal.mismatch", bad)]));
}

/// Breaks a history.
type Break<'a> = &'a dyn Fn(&Shoot);

#[test]
fn broken_and_hostile_histories_are_findings() {
    let changed = |shoot: &Shoot| {
        let path = shoot.dump().join("ascmhl/0001_dump_2026-11-14_180000Z.mhl");
        let text = fs::read_to_string(&path).unwrap() + "<!-- -->";
        fs::write(path, text).unwrap();
    };
    let gone = |shoot: &Shoot| {
        fs::remove_file(shoot.dump().join("ascmhl/0001_dump_2026-11-14_180000Z.mhl")).unwrap();
    };
    let unchained = |shoot: &Shoot| {
        fs::remove_file(shoot.dump().join("ascmhl/ascmhl_chain.xml")).unwrap();
    };
    let bomb = |shoot: &Shoot| {
        generation(
            &shoot.dump(),
            "<!DOCTYPE h [<!ENTITY a \"b\">]><hashlist xmlns=\"urn:ASC:MHL:v2.0\"/>",
        );
    };
    let out = |shoot: &Shoot| {
        let record = "<hash><path>../../../etc/passwd</path><md5>900150983cd24fb0d6963f7d28e17f72</md5></hash>";
        generation(&shoot.dump(), &manifest_of(record, ""));
    };
    let cases: [(&str, Break<'_>); 5] = [
        ("changed", &changed),
        ("gone", &gone),
        ("without chain", &unchained),
        ("entity bomb", &bomb),
        ("leads out", &out),
    ];
    for (what, breaks) in cases {
        let shoot = Shoot::clean();
        seal(&shoot.dump(), Kind::Md5, "");
        breaks(&shoot);
        let ran = shoot.annotate(["--verify", "--json"]).exits(1);
        let codes: BTreeSet<String> = seals(&ran).into_iter().map(|(code, _)| code).collect();
        assert!(codes.contains("seal.broken"), "{what}: {codes:?}");
        assert!(!codes.contains("seal.missing"), "{what}: {codes:?}");
        // Nothing is added to a history that does not hold together, but one that only passes over a record does.
        let before = tree(&shoot.dump().join("ascmhl"));
        run(shoot.command(DATE).args(["--beside", "--append-history"])).exits(1);
        let same = tree(&shoot.dump().join("ascmhl")) == before;
        assert_eq!(same, what != "leads out", "{what}");
    }
}

#[test]
fn a_recorded_sidecar_is_never_written_again() {
    let shoot = Shoot::clean();
    seal(&shoot.dump(), Kind::Xxh64, "");
    shoot.annotate(["--beside", "--append-history"]).exits(0);
    let sidecar = shoot.dump().join("A003/A003C001_1114_KV.xmp");
    let before = fs::read(&sidecar).unwrap();
    shoot.notes("Roll,Clip,Lens,Stop,Reducer\nA003,C001,Sorrel 85,f/2,0.71\n");
    for _ in 0..2 {
        let ran = shoot.annotate(["--beside", "--append-history", "--json"]).exits(1);
        assert_eq!(seals(&ran), found([("seal.kept", "dump:A003/A003C001_1114_KV.xmp")]));
        assert_eq!(fs::read(&sidecar).unwrap(), before);
    }
    // Taken away, it is not written anew either: it could not be what was recorded.
    fs::remove_file(&sidecar).unwrap();
    let ran = shoot.annotate(["--beside", "--json"]).exits(1);
    assert_eq!(seals(&ran), found([("seal.kept", "dump:A003/A003C001_1114_KV.xmp")]));
    assert!(!sidecar.exists());
    // Apart from the dump the new values can be had.
    let ran = shoot.annotate(["--json"]);
    assert_eq!(seals(&ran), found([]));
    assert_eq!(sidecars(&shoot.out), 1);
}

/// Patterns of a history are those of `.gitignore`: what they pass over is neither reported nor recorded.
#[test]
fn what_a_history_passes_over_is_neither_new_nor_recorded() {
    let shoot = Shoot::clean();
    seal(&shoot.dump(), Kind::Xxh64, "<pattern>ascmhl/</pattern><pattern>A003/*.xmp</pattern>");
    let before = tree(&shoot.dump().join("ascmhl"));
    let ran = shoot.annotate(["--beside", "--append-history", "--json"]).exits(0);
    assert_eq!(seals(&ran), found([]));
    assert_eq!(tree(&shoot.dump().join("ascmhl")), before);
    assert_eq!(sidecars(&shoot.dump()), 1);
}

#[test]
fn the_usual_output_folder_keeps_out_of_what_is_sealed() {
    let shoot = Shoot::clean();
    let annotate = |more: &[&str]| {
        let mut command = crate::shoot::lensmend();
        run(command.arg("annotate").arg(&shoot.folder).args(["--date", DATE]).args(more))
    };
    seal(&shoot.folder, Kind::Md5, "");
    let before = tree(&shoot.folder);
    annotate(&[]).exits(0);
    let out = shoot.temp.path().join("day-lensmend");
    assert_eq!(sidecars(&out), 1);
    assert_eq!(tree(&shoot.folder), before);
    let stamped = stamps(shoot.temp.path());
    annotate(&[]).exits(0);
    assert_eq!(stamps(shoot.temp.path()), stamped);
    // Asked for, it may lie inside, and the run says what that means; but what changes each time cannot be recorded.
    let inside: PathBuf = shoot.folder.join("inside");
    let inside = inside.to_str().unwrap();
    let ran = annotate(&["--into", inside]).exits(0);
    assert!(ran.talk().contains("report its files as new"), "{}", ran.talk());
    let ran = annotate(&["--into", inside, "--beside", "--append-history"]).exits(2);
    assert!(ran.talk().contains("choose one outside"), "{}", ran.talk());
}

#[test]
fn a_run_record_that_was_sealed_is_not_written_again() {
    let shoot = Shoot::clean();
    let inside = shoot.folder.join("lensmend");
    let mut command = shoot.command(DATE);
    run(command.arg("--json")).exits(0);
    let mut command = crate::shoot::lensmend();
    run(command.arg("annotate").arg(&shoot.folder).args(["--date", DATE])).exits(0);
    seal(&shoot.folder, Kind::Md5, "");
    let before = tree(&shoot.folder);
    let mut command = crate::shoot::lensmend();
    let ran = run(command.arg("annotate").arg(&shoot.folder).arg("--into").arg(&inside)).exits(2);
    assert!(ran.talk().contains("must stay as it is"), "{}", ran.talk());
    assert_eq!(tree(&shoot.folder), before);
}

#[test]
fn appending_needs_beside_and_a_history() {
    let shoot = Shoot::clean();
    let ran = shoot.annotate(["--append-history"]).exits(2);
    assert!(ran.talk().contains("--beside"), "{}", ran.talk());
    let ran = shoot.annotate(["--append-history", "--beside"]).exits(2);
    assert!(ran.talk().contains("no sealed history"), "{}", ran.talk());
    assert_eq!(sidecars(&shoot.dump()), 0);
    let dry = Shoot::clean();
    seal(&dry.dump(), Kind::Md5, "");
    let before = tree(dry.temp.path());
    let ran = dry.annotate(["--append-history", "--beside", "--dry-run"]).exits(0);
    assert!(ran.talk().contains("Would add generation 2"), "{}", ran.talk());
    assert_eq!(tree(dry.temp.path()), before);
}

#[test]
fn runs_that_come_later_add_only_what_is_new() {
    let shoot = Shoot::clean();
    seal(&shoot.dump(), Kind::Md5, "");
    let add = |date: &str| run(shoot.command(date).args(["--beside", "--append-history"]));
    add(DATE).exits(0);
    shoot.clip("A003/A003C002_1114_KV.mov");
    // The clip that came later is in no history; its sidecar is recorded all the same.
    let ran = add(LATER);
    assert!(ran.talk().contains("Added generation 3"), "{}", ran.talk());
    let third = shoot.dump().join("ascmhl/0003_dump_2027-01-02_030405Z.mhl");
    let text = fs::read_to_string(third).unwrap();
    assert!(text.contains("C002_1114_KV.xmp") && !text.contains("C001"), "{text}");
}

/// One name that XML cannot carry does not keep the others from being recorded.
#[cfg(unix)]
#[test]
fn a_name_that_xml_cannot_carry_stays_new() {
    let shoot = Shoot::clean();
    shoot.clip("A003/A003C002_1114_KV\u{7}.mov");
    generation(&shoot.dump(), &manifest_of("", ""));
    let ran = shoot.annotate(["--beside", "--append-history", "--json"]).exits(1);
    assert!(ran.talk().contains("records of 1 new sidecars"), "{}", ran.talk());
    // Both clips are in no generation either.
    assert!(ran.talk().contains("does not know 3 files"), "{}", ran.talk());
    assert!(seals(&ran).contains(&("seal.new".to_owned(), "ascmhl".to_owned())));
}
