//! Histories held against the reference tool of ASC MHL: it seals the sample, and judges what lensmend did to it.
#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value as Json;

use crate::shoot::{DATE, LATER, Shoot, findings, is_sidecar, paths, run, stamps, tree};

use super::Judges;

const JUDGE: &str = "histories.py";
/// Exit codes of the reference tool (its own table of errors): new files, a hash that differs.
const NEW_FILES: u64 = 21;
const HASH_DIFFERS: u64 = 11;

impl Judges {
    /// A new generation by the reference tool.
    fn seal(&self, kinds: &str, folder: &Path) {
        let said = self.run(JUDGE, &["seal".into(), kinds.into(), folder.into()]);
        assert_eq!(said["code"], 0, "{said}");
    }

    /// What `diff` and `verify` of the reference tool say.
    fn look(&self, folder: &Path) -> Json {
        self.run(JUDGE, &["look".into(), folder.into()])
    }
}

/// Sidecars of a run record that stand beside clips, by their path in the dump.
fn beside(record: &[u8]) -> BTreeSet<String> {
    let record: Json = serde_json::from_slice(record).unwrap();
    let outputs = record["outputs"].as_array().unwrap().iter();
    let files = outputs.filter(|output| output["role"] == "sidecar");
    files.map(|o| o["file"].as_str().unwrap().strip_prefix("dump:").unwrap().to_owned()).collect()
}

fn new_files(look: &Json) -> BTreeSet<String> {
    look["new"].as_array().unwrap().iter().map(|f| f.as_str().unwrap().to_owned()).collect()
}

#[test]
fn an_output_apart_leaves_a_sealed_dump_valid() {
    let Some(judges) = Judges::called() else { return };
    let shoot = Shoot::sample();
    judges.seal("xxh64", &shoot.dump());
    shoot.annotate(["--verify"]).exits(1);
    let look = judges.look(&shoot.dump());
    assert_eq!((&look["diff"], &look["verify"]), (&0.into(), &0.into()), "{look}");
}

/// A folder of the day that is sealed as a whole, kit and notes with it, still stays valid without any flag.
#[test]
fn a_sealed_day_stays_valid_without_any_flag() {
    let Some(judges) = Judges::called() else { return };
    let shoot = Shoot::sample();
    fs::remove_dir_all(shoot.folder.join("expected")).unwrap();
    judges.seal("md5", &shoot.folder);
    let before = tree(&shoot.folder);
    let mut command = crate::shoot::lensmend();
    let ran = run(command.arg("annotate").arg(&shoot.folder).args(["--date", DATE])).exits(1);
    assert!(ran.talk().contains("beside that folder"), "{}", ran.talk());
    assert_eq!(tree(&shoot.folder), before);
    assert!(shoot.temp.path().join("day-lensmend/run.json").is_file());
    let look = judges.look(&shoot.folder);
    assert_eq!((&look["diff"], &look["verify"]), (&0.into(), &0.into()), "{look}");
}

#[test]
fn beside_says_what_the_reference_tool_then_reports() {
    let Some(judges) = Judges::called() else { return };
    let shoot = Shoot::sample();
    judges.seal("xxh64", &shoot.dump());
    // What somebody else left there since is reported too, and so it is said.
    fs::write(shoot.dump().join("A003/later.txt"), "later").unwrap();
    let said_before = shoot.annotate(["--beside", "--dry-run"]).exits(1).talk();
    let ran = shoot.annotate(["--beside", "--json"]).exits(1);
    for talk in [said_before, ran.talk()] {
        assert!(talk.contains("does not know 19 files"), "{talk}");
    }
    assert!(findings(&ran.out).contains(&("seal.new".to_owned(), "ascmhl".to_owned())));
    let look = judges.look(&shoot.dump());
    assert_eq!((&look["diff"], &look["verify"]), (&NEW_FILES.into(), &NEW_FILES.into()), "{look}");
    let mut expected = beside(&ran.out);
    assert_eq!(expected.len(), 18);
    expected.insert("A003/later.txt".to_owned());
    assert_eq!(new_files(&look), expected);
}

/// Every kind of hash, one by one and together: the tool computes our records again and finds them right.
#[test]
fn an_appended_generation_holds_with_every_kind_of_hash() {
    let Some(judges) = Judges::called() else { return };
    for kinds in ["c4", "md5", "sha1", "xxh128", "xxh3", "xxh64", "xxh64,md5,c4"] {
        let shoot = Shoot::sample();
        judges.seal(kinds, &shoot.dump());
        let sealed = tree(&shoot.dump());
        shoot.annotate(["--beside", "--append-history", "--verify"]).exits(1);
        let look = judges.look(&shoot.dump());
        assert_eq!((&look["diff"], &look["verify"]), (&0.into(), &0.into()), "{kinds}: {look}");
        assert_eq!(look["generations"], 2, "{kinds}: {look}");
        let after = tree(&shoot.dump());
        for (path, thing) in sealed.iter().filter(|(path, _)| !path.ends_with("ascmhl_chain.xml")) {
            assert_eq!(after.get(path), Some(thing), "{kinds}: {}", path.display());
        }
        same_hashes(&judges, &shoot, kinds);
        let before = stamps(shoot.temp.path());
        run(shoot.command(LATER).args(["--beside", "--append-history", "--verify"])).exits(1);
        assert_eq!(stamps(shoot.temp.path()), before, "{kinds}: a second run changes nothing");
        // The tool does look: a sidecar that is changed after it was recorded is found.
        fs::write(shoot.dump().join("A003/A003C001_1114_KV.xmp"), "changed").unwrap();
        assert_eq!(judges.look(&shoot.dump())["verify"], HASH_DIFFERS, "{kinds}");
    }
}

/// The hashes in our manifest are those that the tool's own hasher gives.
fn same_hashes(judges: &Judges, shoot: &Shoot, kinds: &str) {
    let manifest = manifest_of(shoot, "0002_");
    let sidecars: Vec<PathBuf> =
        paths(&shoot.dump()).into_iter().filter(|path| is_sidecar(path)).collect();
    assert_eq!(sidecars.len(), 18);
    for kind in kinds.split(',') {
        let mut words: Vec<PathBuf> = vec!["hash".into(), kind.into()];
        words.extend(sidecars.iter().map(|path| shoot.dump().join(path)));
        let hashes = judges.run(JUDGE, &words);
        for (path, hash) in sidecars.iter().zip(hashes.as_array().unwrap()) {
            let (path, hash) = (path.display().to_string(), hash.as_str().unwrap());
            let (_, record) = manifest.split_once(&format!(">{path}</path>")).unwrap();
            let record = record.split("</hash>").next().unwrap();
            assert!(
                record.contains(&format!(">{hash}</{kind}>")),
                "{path}: {kind} {hash}: {record}"
            );
        }
    }
}

fn manifest_of(shoot: &Shoot, begins: &str) -> String {
    let folder = shoot.dump().join("ascmhl");
    let named = |path: &&PathBuf| path.to_string_lossy().starts_with(begins);
    let found = paths(&folder);
    fs::read_to_string(folder.join(found.iter().find(named).unwrap())).unwrap()
}

/// Cards sealed one by one inside a sealed day: each sidecar is recorded in the closest history, and those around refer to it.
#[test]
fn nested_histories_hold_together() {
    let Some(judges) = Judges::called() else { return };
    let shoot = Shoot::sample();
    judges.seal("md5", &shoot.dump().join("A003"));
    judges.seal("xxh64", &shoot.dump());
    // And a day around the dump that nobody told the program of.
    fs::remove_dir_all(shoot.folder.join("expected")).unwrap();
    judges.seal("xxh128", &shoot.folder);
    let ran = shoot.annotate(["--beside", "--append-history", "--json"]).exits(1);
    assert_eq!(findings(&ran.out).iter().filter(|(code, _)| code.starts_with("seal.")).count(), 0);
    for folder in [shoot.dump().join("A003"), shoot.dump(), shoot.folder.clone()] {
        let look = judges.look(&folder);
        assert_eq!((&look["diff"], &look["verify"]), (&0.into(), &0.into()), "{look}");
    }
    let card = paths(&shoot.dump().join("A003/ascmhl"));
    let last = card.iter().rfind(|path| path.extension().is_some_and(|e| e == "mhl"));
    let last = last.unwrap().display().to_string();
    let around = manifest_of(&shoot, &format!("{:04}_", manifests(&shoot.dump())));
    assert!(around.contains(&format!("<path>A003/ascmhl/{last}</path>")), "{around}");
    assert!(!around.contains(">A003/A003C001_1114_KV.xmp<"), "{around}");
}

fn manifests(sealed: &Path) -> usize {
    let all = paths(&sealed.join("ascmhl"));
    all.iter().filter(|path| path.extension().is_some_and(|e| e == "mhl")).count()
}

/// A run killed between manifest and chain: the next one puts the manifest into the chain instead of writing another.
#[test]
fn a_manifest_without_its_place_in_the_chain_is_taken_up() {
    let Some(judges) = Judges::called() else { return };
    let shoot = Shoot::sample();
    judges.seal("xxh64", &shoot.dump());
    let chain = shoot.dump().join("ascmhl/ascmhl_chain.xml");
    let before = fs::read(&chain).unwrap();
    shoot.annotate(["--beside", "--append-history"]).exits(1);
    let whole = fs::read(&chain).unwrap();
    fs::write(&chain, before).unwrap();
    run(shoot.command(LATER).args(["--beside", "--append-history"])).exits(1);
    assert_eq!(fs::read(&chain).unwrap(), whole);
    assert_eq!(manifests(&shoot.dump()), 2);
    let look = judges.look(&shoot.dump());
    assert_eq!((&look["diff"], &look["verify"]), (&0.into(), &0.into()), "{look}");
}
