//! `lensmend kit` as people and scripts meet it: tables, exit codes, JSON, the kit to start from, hostile names.

#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::shoot::{Ran, lensmend, run, sample, stamps};

fn kit(path: &Path, more: &[&str]) -> Ran {
    run(lensmend().arg("kit").arg(path).args(more))
}

/// The kit in a folder of its own.
fn planted(text: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("kit.toml"), text).unwrap();
    folder
}

/// One camera and one lens for it, to which each test adds its trouble.
const CLEAR: &str = "
[[mount]]
id = 'kv-18'
flange = 18.0
[[mount]]
id = 'photo-44'
flange = 44.0
[[camera]]
id = 'A'
name = 'Kelvane K2'
mount = 'kv-18'
[[camera.mode]]
id = 'uhd'
raster = '3840x2160'
width = 26.2
height = 14.7375
[[lens]]
id = 'sorrel-50'
name = 'Sorrel 50'
mount = 'photo-44'
focal = 50
f-max = 1.4
image-circle = 43.3
rear-protrusion = 5
[[attachment]]
id = 'corbel-071'
name = 'Corbel 0.71'
kind = 'reducer'
lens-mount = 'photo-44'
body-mount = 'kv-18'
magnification = 0.71
thickness = 18.75
front-clearance = 7
";

#[test]
fn the_sample_kit_is_clear_and_reads_well() {
    let shown = kit(&sample(), &[]).exits(0).result();
    for words in [
        "camera A, Kelvane K2: mount kv-18",
        "Sorrel 50     Corbel 0.71  mounts  35.5      f/1.0",
        "borderline, +2.3 % in uhd",
        "uhd dark 3.32 mm, 486 px",
        "17-49.7",
        "f/1.0 T1.1",
        "Corbel 1.4, Corbel plain: made for mount om-20",
        "glass can strike glass",
        "Nothing needs a person",
        "nominal",
    ] {
        assert!(shown.contains(words), "{words}\n{shown}");
    }
    assert!(!shown.contains('\u{1b}'), "no colours in a pipe");
    for line in shown.lines() {
        assert!(line.chars().count() <= 100, "{line}");
        assert_eq!(line, line.trim_end(), "{line:?}");
    }
    // The same by the name of the file, and from inside the folder.
    let by_file = kit(&sample().join("kit.toml"), &[]).exits(0).result();
    assert_eq!(by_file, shown);
    let inside = run(lensmend().current_dir(sample()).arg("kit")).exits(0).result();
    assert_eq!(inside, shown);
}

#[test]
fn what_needs_a_person_is_1() {
    let clear = planted(CLEAR);
    kit(clear.path(), &[]).exits(0);
    for (trouble, words) in [
        (
            "[[lens]]\nid = 'x'\nfocal = 35\nmont = 'photo-44'",
            &["kit.unknown-key", "did you mean mount?"][..],
        ),
        (
            "[[mount]]\nid = 'odd'\nflange = 30\n[[lens]]\nid = 'marl'\nname = 'Marl 40'\nfocal = 40\nmount = 'odd'",
            &[
                "Marl 40 (mount odd) goes on no camera of the kit",
                "Marl 40: nothing in the kit takes mount odd",
            ],
        ),
        (
            "[[lens]]\nid = 'deep'\nname = 'Deep 40'\nfocal = 40\nmount = 'photo-44'\nrear-protrusion = 8",
            &[
                "Deep 40 on Corbel 0.71: the lens reaches 8 mm behind its flange, the reducer has room for 7 mm",
            ],
        ),
        (
            "[[attachment]]\nid = 'plain'\nname = 'Plain'\nkind = 'adapter'\nlens-mount = 'photo-44'\nbody-mount = 'kv-18'\nthickness = 25.1",
            &["Plain: the adapter is 25.1 mm thick and should be 26 mm", "shimmed by 0.9 mm"],
        ),
        (
            "[[camera]]\nid = 'B'\nmount = 'photo-44'\nattachment = 'corbel-071'",
            &["camera B has Corbel 0.71 on by default, but it does not fit", "goes on kv-18"],
        ),
        (
            "[[roll]]\nname = 'A003'\nlens = 'sorrel-50'\nattachment = 'none'",
            &["roll A003 has Sorrel 50 with no attachment, but it does not fit"],
        ),
    ] {
        let folder = planted(&format!("{CLEAR}{trouble}\n"));
        let before = stamps(folder.path());
        let ran = kit(folder.path(), &[]).exits(1);
        for words in words {
            assert!(ran.result().contains(words), "{words}\n{}", ran.result());
        }
        assert_eq!(stamps(folder.path()), before, "nothing is written");
        kit(folder.path(), &["--json"]).exits(1);
    }
}

#[test]
fn what_cannot_be_carried_out_is_2() {
    let folder = planted("[[lens]]\nid = 'a'\nfocal = 50000\n");
    let ran = kit(folder.path(), &[]).exits(2);
    assert_eq!(ran.result(), "");
    for words in ["kit.fault", "50000", "does not hold together"] {
        assert!(ran.talk().contains(words), "{words}\n{}", ran.talk());
    }
    assert!(!ran.talk().contains("written"), "a command that writes nothing does not speak of it");
    let refused = kit(folder.path(), &["--json"]).exits(2);
    let refused: Value = serde_json::from_slice(&refused.out).unwrap();
    assert_eq!(refused["format"], "lensmend refusal");
    let clear = planted(CLEAR);
    for (more, words) in [
        (&["--lens", "sorrel-5"][..], "did you mean sorrel-50?"),
        (&["--camera", "quay"], "the kit has A"),
        (&["--camera", "A", "--new", "x.toml"], "cannot be used with"),
    ] {
        let ran = kit(clear.path(), more).exits(2);
        assert!(ran.talk().contains(words), "{words}\n{}", ran.talk());
    }
    let empty = tempfile::tempdir().unwrap();
    let ran = kit(empty.path(), &[]).exits(2);
    assert!(ran.talk().contains("--new"), "{}", ran.talk());
}

#[test]
fn one_camera_or_one_lens() {
    let of_b = kit(&sample(), &["--camera", "B"]).exits(0).result();
    assert!(of_b.contains("camera B") && !of_b.contains("camera A"), "{of_b}");
    let fifty = kit(&sample(), &["--lens", "50"]).exits(0).result();
    assert!(fifty.contains("Sorrel 50") && !fifty.contains("Sorrel 35"), "{fifty}");
    // A lens that goes on another camera of the kit does not go on none.
    let marl = "[[mount]]\nid = 'odd'\nflange = 30\n[[lens]]\nid = 'marl'\nfocal = 40\nmount = 'odd'\n\
                [[camera]]\nid = 'B'\nmount = 'odd'\n";
    let folder = planted(&format!("{CLEAR}{marl}"));
    let ran = kit(folder.path(), &["--camera", "A"]).exits(0).result();
    assert!(ran.contains("marl: nothing in the kit takes mount odd to this camera"), "{ran}");
}

#[test]
fn json_has_everything_also_what_does_not_fit() {
    let ran = kit(&sample(), &["--json"]).exits(0);
    let sheet: Value = serde_json::from_slice(&ran.out).unwrap();
    assert_eq!(sheet["format"], "lensmend kit");
    assert_eq!(sheet["inputs"][0]["role"], "kit");
    let all = sheet["combinations"].as_array().unwrap();
    // Two cameras, five lenses, bare and with each of three attachments.
    assert_eq!(all.len(), 2 * 5 * 4);
    let find = |camera: &str, lens: &str, attachment: &str| {
        all.iter()
            .find(|it| {
                it["camera"] == camera && it["lens"] == lens && it["attachment"] == attachment
            })
            .unwrap()
    };
    let bare = find("A", "sorrel-50", "none");
    assert_eq!(bare["fit"], "does not fit");
    assert!(bare.get("focalLength").is_none());
    let reduced = find("A", "umber-24", "corbel-071");
    // Nobody knows whether glass strikes glass.
    assert_eq!(reduced["fit"], "cannot be known");
    assert_eq!(find("B", "umber-24", "corbel-plain")["fit"], "fits");
    let modes = reduced["coverage"].as_array().unwrap();
    let covers: Vec<&Value> = modes.iter().map(|mode| &mode["covers"]).collect();
    assert_eq!(covers, [false, false, true]);
    // 24.31 x 0.71, both with their uncertainties.
    let focal = &reduced["focalLength"];
    assert!((focal["value"].as_f64().unwrap() - 17.2601).abs() < 1e-4, "{focal}");
    assert!(focal["uncertainty"].as_f64().unwrap() > 0.0, "{focal}");
    assert_eq!(find("B", "sorrel-50", "corbel-14")["fit"], "cannot be known");
    assert!(!sheet.to_string().contains("null"));
    // The same kit gives the same bytes.
    assert_eq!(kit(&sample(), &["--json"]).out, ran.out);
}

#[test]
fn a_kit_to_start_from_is_written_once_and_holds_together() {
    let folder = tempfile::tempdir().unwrap();
    let new =
        |target: &str| run(lensmend().current_dir(folder.path()).args(["kit", "--new", target]));
    for target in ["kit.toml", "./other.toml"] {
        let ran = new(target).exits(0);
        assert_eq!(ran.result(), "");
        assert!(ran.talk().contains(target), "{}", ran.talk());
        assert!(fs::read_to_string(folder.path().join(target)).unwrap().contains("# "));
    }
    kit(folder.path(), &[]).exits(0);
    fs::write(folder.path().join("mine.toml"), "# mine\n").unwrap();
    let before = stamps(folder.path());
    for (target, words) in [
        ("mine.toml", "stays as it is"),
        ("kit.toml", "stays as it is"),
        (".", "is a folder"),
        ("nowhere/kit.toml", "no folder nowhere"),
    ] {
        let ran = new(target).exits(2);
        assert!(ran.talk().contains(words), "{target}: {}", ran.talk());
    }
    assert_eq!(stamps(folder.path()), before);
    #[cfg(unix)]
    {
        let (link, aim) = (folder.path().join("link.toml"), folder.path().join("aim.toml"));
        std::os::unix::fs::symlink(&aim, &link).unwrap();
        new("link.toml").exits(2);
        assert!(!aim.exists(), "a link is not written through");
    }
}

#[test]
fn the_schema_is_printed_as_it_stands_in_the_documents() {
    let ran = run(lensmend().args(["kit", "--schema"])).exits(0);
    let schema: Value = serde_json::from_slice(&ran.out).unwrap();
    assert!(schema["properties"]["lens"].is_object());
    assert_eq!(ran.result(), lensmend::kit::schema());
}

#[test]
fn names_of_the_kit_cannot_steer_a_terminal() {
    let steering = "\\u001b[2J\\u009b31m\\u202ex";
    let text = CLEAR
        .replace("'Sorrel 50'", &format!("\"Sorrel {steering}\""))
        .replace("'Corbel 0.71'", &format!("\"Corbel {steering}\""))
        .replace("'Kelvane K2'", &format!("\"Kelvane {steering}\""))
        .replace("'uhd'", &format!("\"uhd {steering}\""))
        .replace("'photo-44'", &format!("\"photo {steering}\""));
    let deep = format!(
        "[[lens]]\nid = \"deep {steering}\"\nfocal = 40\nmount = \"photo {steering}\"\nrear-protrusion = 8\n"
    );
    let odd = format!(
        "[[mount]]\nid = \"odd {steering}\"\nflange = 30\n[[lens]]\nid = 'odd'\nfocal = 40\nmount = \"odd {steering}\"\n"
    );
    let folder = planted(&format!("{text}{deep}{odd}"));
    for more in [&[][..], &["--json"], &["--lens", "nobody"], &["--camera", "nobody"]] {
        let ran = kit(folder.path(), more);
        for text in [ran.result(), ran.talk()] {
            assert!(
                !text.chars().any(|c| (c.is_control() && c != '\n') || c == '\u{202e}'),
                "{text:?}"
            );
        }
    }
}

#[test]
fn wide_and_endless_names_leave_lines_in_order() {
    let wide = "\u{5bbd}".repeat(400);
    let text = CLEAR.replace("Sorrel 50", &wide).replace("Corbel 0.71", &"x".repeat(5000));
    let shown = kit(planted(&text).path(), &[]).exits(0).result();
    let row = shown.lines().find(|line| line.contains("fits")).unwrap();
    assert!(unicode_width::UnicodeWidthStr::width(row) <= 100, "{row}");
}
