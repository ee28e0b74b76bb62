//! Sidecars that are there already: what others wrote stays, whatever its shape; what is broken is left alone.

#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

mod hostile;
mod judged;
pub(crate) mod shapes;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::shoot::{DATE, LATER, Ran, Shoot, findings, paths, run, stamps, tree};

/// A shoot with a clip for each sidecar, which stands beside it; paths of the sidecars inside the dump.
fn beside(sidecars: &[(&'static str, Vec<u8>)]) -> (Shoot, Vec<PathBuf>) {
    let shoot = Shoot::clean();
    fs::remove_dir_all(shoot.dump()).unwrap();
    let mut at = Vec::new();
    for (number, (_, bytes)) in sidecars.iter().enumerate() {
        let clip = PathBuf::from(format!("A003/A003C{:03}_1114_KV.mov", number + 1));
        shoot.clip(&clip);
        at.push(clip.with_extension("xmp"));
        fs::write(shoot.dump().join(clip.with_extension("xmp")), bytes).unwrap();
    }
    shoot.notes(
        "Roll,Clip,Slate,Take,Lens,Stop,Reducer,Focus\nA003,all,24A,1,Sorrel 50,f/2.8,0.71,2.4 m\n",
    );
    (shoot, at)
}

fn outputs(ran: &Ran) -> BTreeMap<String, String> {
    let found = findings(&ran.out).into_iter().filter(|(code, _)| code.starts_with("output."));
    found.map(|(code, file)| (file, code)).collect()
}

/// Where a sidecar of the dump goes in a tree of its own.
fn mirrored(shoot: &Shoot, sidecar: &Path) -> PathBuf {
    shoot.out.join("sidecars").join(sidecar)
}

#[test]
fn foreign_sidecars_of_every_shape_are_merged_once() {
    let shapes = shapes::shapes();
    assert!(shapes.len() >= 25, "{}", shapes.len());
    for ways in [&["--beside", "--json"][..], &["--json"]] {
        let (shoot, at) = beside(&shapes);
        let before = tree(&shoot.folder);
        let ran = run(shoot.command(DATE).args(ways)).exits(1);
        let found = outputs(&ran);
        let strange = shapes.iter().position(|(name, _)| *name == "values of its own for the lens");
        // Only that one says something else; the shot is 35.5 mm at f/2, and its scene is as noted.
        let (file, code) = found.first_key_value().unwrap();
        assert!(file.ends_with(&at[strange.unwrap()].display().to_string()), "{found:?}");
        assert_eq!((code.as_str(), found.len()), ("output.differs", 1), "{found:?}");
        for ((name, bytes), at) in shapes.iter().zip(&at) {
            let apart = if ways.len() == 1 { mirrored(&shoot, at) } else { shoot.dump().join(at) };
            let merged = fs::read(apart).unwrap();
            assert!(merged.len() > bytes.len() + 1000, "{name}");
        }
        if ways.len() == 1 {
            assert_eq!(tree(&shoot.folder), before, "the dump stays as it is");
        }
        let before = stamps(shoot.temp.path());
        run(shoot.command(LATER).args(ways)).exits(1);
        assert_eq!(stamps(shoot.temp.path()), before, "{ways:?}: a second run writes nothing");
    }
}

/// Taking out again what was added gives the bytes of before: nothing else was touched.
#[test]
fn every_other_byte_stays() {
    let shapes = shapes::shapes();
    let (shoot, at) = beside(&shapes);
    shoot.annotate(["--beside"]).exits(1);
    for ((name, bytes), at) in shapes.iter().zip(&at) {
        let merged = fs::read(shoot.dump().join(at)).unwrap();
        let wide = name.starts_with("UTF-16");
        // White space and the date may go; an empty element opens.
        let plain = |bytes: &[u8]| -> String {
            let text = if wide {
                let (text, _) = encoding_rs::Encoding::for_bom(bytes)
                    .map_or(encoding_rs::UTF_16LE, |(encoding, _)| encoding)
                    .decode_without_bom_handling(bytes);
                text.into_owned()
            } else {
                bytes.iter().map(|byte| char::from(*byte)).collect()
            };
            text.split_whitespace().collect()
        };
        let (before, after) = (plain(bytes), plain(&merged));
        let from = after.rfind("<rdf:Description").unwrap();
        let end = "</rdf:Description>";
        let to = from + after[from..].find(end).unwrap() + end.len();
        let left = [&after[..from], &after[to..]].concat();
        let dateless = before
            .replace("<xmp:MetadataDate>2020-01-01T00:00:00Z</xmp:MetadataDate>", "")
            .replace("xmp:MetadataDate='2020-01-01'", "");
        let opened = left.replace("'></rdf:RDF>", "'/>");
        assert!(left == dateless || opened == dateless, "{name}:\n{dateless}\n{left}");
    }
}

#[test]
fn a_changed_kit_brings_merged_sidecars_up_to_date_and_keeps_the_rest() {
    let shapes = shapes::shapes();
    let (shoot, at) = beside(&shapes);
    shoot.annotate(["--beside"]).exits(1);
    let old: Vec<Vec<u8>> = at.iter().map(|at| fs::read(shoot.dump().join(at)).unwrap()).collect();
    let notes =
        "Roll,Clip,Slate,Take,Lens,Stop,Reducer,Focus\nA003,all,24A,1,Sorrel 50,f/4,0.71,\n";
    shoot.notes(notes);
    shoot.annotate(["--beside"]).exits(1);
    let new: Vec<Vec<u8>> = at.iter().map(|at| fs::read(shoot.dump().join(at)).unwrap()).collect();
    // Back again is the same as never having left, but for the date, which is the same here.
    shoot.notes(&notes.replace("f/4,0.71,", "f/2.8,0.71,2.4 m"));
    shoot.annotate(["--beside"]).exits(1);
    for (((name, _), at), (old, new)) in shapes.iter().zip(&at).zip(old.iter().zip(&new)) {
        assert_ne!(old, new, "{name}");
        let wide = name.starts_with("UTF-16");
        let has = |bytes: &[u8], word: &str| {
            let word: Vec<u8> =
                word.bytes().flat_map(|b| if wide { vec![b, 0] } else { vec![b] }).collect();
            bytes.windows(word.len()).any(|window| window == word)
        };
        if !name.contains("big end") {
            // No focus any more: what was said of it is taken out.
            assert!(
                has(old, "exif:SubjectDistance>") && !has(new, "exif:SubjectDistance>"),
                "{name}"
            );
        }
        assert!(fs::read(shoot.dump().join(at)).unwrap() == *old, "{name}");
    }
}

#[test]
fn broken_sidecars_are_left_alone_and_said() {
    let broken = shapes::broken();
    for ways in [&["--beside", "--json"][..], &["--json"]] {
        let (shoot, at) = beside(&broken);
        let before = tree(&shoot.dump());
        let ran = run(shoot.command(DATE).args(ways)).exits(1);
        let found = outputs(&ran);
        for ((name, _), at) in broken.iter().zip(&at) {
            let file = if ways.len() == 1 {
                at.display().to_string()
            } else {
                format!("dump:{}", at.display())
            };
            assert_eq!(
                found.get(&file).map(String::as_str),
                Some("output.broken"),
                "{name}: {found:?}"
            );
            if ways.len() == 1 {
                // A fresh one stands in the tree of its own: nothing is lost by that.
                assert!(
                    fs::read_to_string(mirrored(&shoot, at)).unwrap().starts_with("<?xml"),
                    "{name}"
                );
            }
        }
        assert_eq!(tree(&shoot.dump()), before);
        let before = stamps(shoot.temp.path());
        run(shoot.command(LATER).args(ways)).exits(1);
        assert_eq!(stamps(shoot.temp.path()), before);
    }
}

#[test]
fn what_others_wrote_is_replaced_only_on_request() {
    let shapes = shapes::shapes();
    let at = shapes.iter().position(|(name, _)| *name == "values of its own for the lens").unwrap();
    let (shoot, paths) = beside(&shapes[at..=at]);
    let sidecar = shoot.dump().join(&paths[0]);
    let has = |word: &str| fs::read_to_string(&sidecar).unwrap().matches(word).count();
    shoot.annotate(["--beside"]).exits(1);
    assert_eq!((has("<exif:FNumber>28/10<"), has("<exif:FNumber>")), (1, 1));
    shoot.annotate(["--beside", "--replace-edited"]).exits(0);
    assert_eq!((has("<exif:FNumber>28/10<"), has("<exif:FNumber>")), (0, 1));
    assert_eq!((has("<exif:FocalLength>71/2<"), has("<exif:FocalLength>")), (1, 1));
    assert_eq!(has("<xmpDM:scene>24A<"), 1, "it says the same");
    shoot.annotate(["--beside"]).exits(0);
}

/// What lensmend wrote is its own in every layout: a program that rewrites the whole packet changes no value.
#[test]
fn a_sidecar_of_ours_in_the_layout_of_another_program_is_still_ours() {
    let (shoot, at) = beside(&shapes::shapes()[..1]);
    let sidecar = shoot.dump().join(&at[0]);
    shoot.annotate(["--beside"]).exits(0);
    let text = fs::read_to_string(&sidecar).unwrap();
    // Simple properties become attributes, as the XMP toolkit's compact form has them.
    let mut attributes = String::new();
    let mut rest = String::new();
    for line in text.lines() {
        let simple =
            line.strip_prefix("   <").filter(|line| !line.starts_with(' ')).and_then(|line| {
                let (name, value) = line.split_once('>')?;
                let value = value.strip_suffix(&format!("</{name}>"))?;
                Some(format!(" {name}=\"{value}\""))
            });
        match simple {
            Some(simple) => attributes.push_str(&simple),
            None => rest.extend([line, "\n"]),
        }
    }
    let block = rest.rfind("<rdf:Description rdf:about=\"\"").unwrap() + "<rdf:Description".len();
    rest.insert_str(block, &attributes);
    assert!(attributes.matches("=\"").count() > 30, "{attributes}");
    fs::write(&sidecar, &rest).unwrap();
    shoot.annotate(["--beside"]).exits(0);
    assert_eq!(fs::read_to_string(&sidecar).unwrap(), rest, "nothing to do");
    shoot.notes(
        "Roll,Clip,Slate,Take,Lens,Stop,Reducer,Focus\nA003,all,24B,1,Sorrel 50,f/4,0.71,2.4 m\n",
    );
    shoot.annotate(["--beside"]).exits(0);
    let now = fs::read_to_string(&sidecar).unwrap();
    assert!(now.contains("<xmpDM:scene>24B<") && !now.contains("24A"), "{now}");
    assert!(now.contains("xmp:Rating='4'") && now.contains("c:mood='calm'"), "{now}");
}

#[test]
fn a_mirrored_sidecar_follows_the_one_beside_the_clip_until_somebody_edits_it() {
    let (shoot, at) = beside(&shapes::shapes()[..1]);
    let (beside, mirrored) = (shoot.dump().join(&at[0]), mirrored(&shoot, &at[0]));
    shoot.annotate([]).exits(0);
    let write = |rating: &str| {
        let text = String::from_utf8(shapes::shapes()[0].1.clone()).unwrap();
        fs::write(&beside, text.replace("xmp:Rating='4'", rating)).unwrap();
    };
    write("xmp:Rating='5'");
    shoot.annotate([]).exits(0);
    let text = fs::read_to_string(&mirrored).unwrap();
    assert!(text.contains("xmp:Rating='5'") && !text.contains("xmp:Rating='4'"), "{text}");
    // A person adds something to the mirrored one. A run between changes nothing of whose it is.
    let added = text.replace("c:mood='calm'", "c:mood='calm' c:seen='yes'");
    fs::write(&mirrored, &added).unwrap();
    shoot.annotate([]).exits(0);
    write("xmp:Rating='1'");
    for _ in 0..2 {
        let ran = shoot.annotate(["--json"]).exits(1);
        let found = outputs(&ran);
        let codes: Vec<&str> = found.values().map(String::as_str).collect();
        assert_eq!(codes, ["output.beside-changed"]);
        assert_eq!(fs::read_to_string(&mirrored).unwrap(), added);
    }
    fs::remove_file(&mirrored).unwrap();
    shoot.annotate([]).exits(0);
    assert!(fs::read_to_string(&mirrored).unwrap().contains("xmp:Rating='1'"));
}

/// One that was there before somebody put a sidecar beside the clip takes it in, as long as it is lensmend's alone.
#[test]
fn a_sidecar_that_comes_to_stand_beside_the_clip_is_taken_in() {
    let (shoot, at) = beside(&shapes::shapes()[..1]);
    let (beside, mirrored) = (shoot.dump().join(&at[0]), mirrored(&shoot, &at[0]));
    let foreign = fs::read(&beside).unwrap();
    fs::remove_file(&beside).unwrap();
    shoot.annotate([]).exits(0);
    let ours = fs::read_to_string(&mirrored).unwrap();
    fs::write(&beside, &foreign).unwrap();
    shoot.annotate([]).exits(0);
    assert!(fs::read_to_string(&mirrored).unwrap().contains("c:mood='calm'"));
    // A value that somebody changed would be lost, so then it is only said.
    fs::write(&mirrored, ours.replace("<xmpDM:scene>24A<", "<xmpDM:scene>24C<")).unwrap();
    let found = outputs(&shoot.annotate(["--json"]).exits(1));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(fs::read_to_string(&mirrored).unwrap().contains("24C"));
    // When the one beside the clip goes away, nothing of it is lost here.
    fs::remove_file(&mirrored).unwrap();
    shoot.annotate([]).exits(0);
    fs::remove_file(&beside).unwrap();
    let before = fs::read(&mirrored).unwrap();
    shoot.annotate([]).exits(0);
    assert_eq!(fs::read(&mirrored).unwrap(), before);
}

#[test]
fn sidecars_that_differ_in_case_or_belong_to_two_clips() {
    let foreign = &shapes::shapes()[0].1;
    let shoot = Shoot::clean();
    for name in ["B.mov", "C.mov", "D.mov", "D.mp4"] {
        shoot.clip(Path::new("A003").join(name));
    }
    let dump = shoot.dump().join("A003");
    // The only one keeps its name; of two the one with the usual name is used; one that can be of two clips is not.
    let two = ["B.XMP", "C.xmp", "C.Xmp", "D.xmp", "D.mp4.XMP"];
    for name in two {
        fs::write(dump.join(name), foreign).unwrap();
    }
    if fs::read_dir(&dump).unwrap().count() != 5 + two.len() {
        return; // A drive that does not tell case apart.
    }
    for _ in 0..2 {
        let ran = shoot.annotate(["--beside", "--json"]).exits(1);
        let found = findings(&ran.out);
        assert!(found.contains(&("output.case-twin".into(), "A003/C.Xmp".into())), "{found:?}");
        assert_eq!(found.iter().filter(|(code, _)| code == "output.case-twin").count(), 1);
        let touched = |name: &str| fs::read(dump.join(name)).unwrap() != *foreign;
        assert_eq!(two.map(touched), [true, true, false, false, true]);
        assert!(!dump.join("B.xmp").exists() && !dump.join("D.mp4.xmp").exists());
        assert!(dump.join("D.mov.xmp").exists());
        let hint = "D.xmp can be of either file, so it was left alone";
        assert!(String::from_utf8_lossy(&ran.out).contains(hint));
    }
    assert_eq!(paths(&dump).len(), 5 + two.len() + 2);
}

#[cfg(unix)]
#[test]
fn a_protected_sidecar_stays_and_rights_are_kept() {
    use std::os::unix::fs::PermissionsExt;
    let (shoot, at) = beside(&shapes::shapes()[..2]);
    let [protected, plain] = [&at[0], &at[1]].map(|at| shoot.dump().join(at));
    fs::set_permissions(&protected, fs::Permissions::from_mode(0o444)).unwrap();
    fs::set_permissions(&plain, fs::Permissions::from_mode(0o640)).unwrap();
    let before = fs::read(&protected).unwrap();
    let ran = shoot.annotate(["--beside", "--json"]).exits(1);
    let found = outputs(&ran);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[&format!("dump:{}", at[0].display())], "output.failed");
    assert!(String::from_utf8_lossy(&ran.out).contains("protected against writing"));
    let record: serde_json::Value = serde_json::from_slice(&ran.out).unwrap();
    assert_eq!(record["strays"][0]["file"], at[0].to_str().unwrap(), "it is nobody's output");
    assert_eq!(record["strays"].as_array().unwrap().len(), 1);
    assert_eq!(fs::read(&protected).unwrap(), before);
    assert_eq!(fs::metadata(&plain).unwrap().permissions().mode() & 0o777, 0o640);
    fs::set_permissions(&protected, fs::Permissions::from_mode(0o644)).unwrap();
    shoot.annotate(["--beside"]).exits(0);
    assert_ne!(fs::read(&protected).unwrap(), before);
}
