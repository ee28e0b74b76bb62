//! `measure` held against the kit: slips of the day that fit their own curve, and what is proposed for pasting.
#![allow(clippy::disallowed_methods, reason = "tests write sheets of their own")]

use std::fmt::Write as _;
use std::fs;

use lensmend::kit;
use serde_json::Value as Json;

use crate::workshop::lensmend;

const KIT: &str = r#"
[[mount]]
id = "big"
flange = 44.0
[[mount]]
id = "small"
flange = 18.0
[[camera]]
id = "A"
mount = "small"
[[camera.mode]]
id = "full"
raster = "6000x3375"
width = 26.4
height = 14.85
[[camera.mode]]
id = "crop"
raster = "6000x3375"
width = 18.0
height = 10.125
[[lens]]
id = "fifty"
focal = 50
mount = "big"
pupil-offset = 40.8
[[lens]]
id = "known"
focal = 50
measured-focal = 50.62
measured-focal-uncertainty = 0.05
mount = "big"
[[lens]]
id = "bare-fifty"
focal = 50
mount = "big"
[[lens]]
id = "zoom"
range = [24, 70]
mount = "big"
[[lens]]
id = "wide-ana"
focal = 50
squeeze = 2.0
mount = "big"
[[lens]]
id = "tabled"
focal = 50
mount = "big"
pupil-offset = 10.0
[[lens.table]]
focus = [1.0, inf]
pinhole = [50.0, 50.0]
pupil-offset = [60.8, 40.8]
[[attachment]]
id = "reducer"
kind = "reducer"
magnification = 0.71
measured-magnification = 0.7102
measured-magnification-uncertainty = 0.003
lens-mount = "big"
body-mount = "small"
thickness = 18.75
"#;

const DISTANCES: [f64; 5] = [1000.0, 1500.0, 2000.0, 3000.0, 4000.0];

/// What is shot: lens, attachment, focus, focal length, pupil; and what is done wrong with each row.
struct Shoot<'s> {
    lens: &'s str,
    between: &'s str,
    focus: &'s str,
    p: f64,
    e: f64,
}

fn bare<'s>(lens: &'s str, focus: &'s str) -> Shoot<'s> {
    Shoot { lens, between: "none", focus, p: 50.0, e: 40.8 }
}

fn reduced<'s>(lens: &'s str, focus: &'s str) -> Shoot<'s> {
    Shoot { lens, between: "reducer", focus, p: 35.5, e: 33.55 }
}

const HEAD: &str = "Lens,Attachment,Focus m,Tape mm,Chart width mm,Span px";

fn sheet(shoots: &[Shoot<'_>], typed: impl Fn(f64, f64) -> (f64, f64)) -> String {
    let mut sheet = format!("{HEAD}\n");
    for Shoot { lens, between, focus, p, e } in shoots {
        for distance in DISTANCES {
            let span = p * 400.0 / 0.0044 / (distance - e);
            let (tape, width) = typed(distance, 400.0);
            writeln!(sheet, "{lens},{between},{focus},{tape:.4},{width:.4},{span:.3}").unwrap();
        }
    }
    sheet
}

/// The sheet with a column that says the side.
fn along(sheet: &str, side: &str) -> String {
    let mut out = String::new();
    for row in sheet.lines() {
        writeln!(out, "{row},{}", if row == HEAD { "Side" } else { side }).unwrap();
    }
    out
}

fn as_is(distance: f64, width: f64) -> (f64, f64) {
    (distance, width)
}

/// Exit code, text, JSON and talk.
struct Ran {
    code: i32,
    text: String,
    json: Json,
    talk: String,
}

fn run(sheet: &str, more: &[&str]) -> Ran {
    run_with(KIT, sheet, more)
}

fn run_with(kit: &str, sheet: &str, more: &[&str]) -> Ran {
    let folder = tempfile::tempdir().unwrap();
    let (chart, kit_path) = (folder.path().join("chart.csv"), folder.path().join("kit.toml"));
    fs::write(&chart, sheet).unwrap();
    fs::write(&kit_path, kit).unwrap();
    let mut arguments =
        vec!["measure", chart.to_str().unwrap(), "--kit", kit_path.to_str().unwrap()];
    if !more.contains(&"--no-mode") {
        arguments.extend(["--mode", "full"]);
    }
    arguments.extend(more.iter().filter(|word| **word != "--no-mode"));
    let shown = lensmend(&arguments);
    arguments.push("--json");
    let json = lensmend(&arguments);
    assert_eq!(shown.status.code(), json.status.code());
    Ran {
        code: shown.status.code().unwrap(),
        // Words, however the lines were broken.
        text: String::from_utf8(shown.stdout)
            .unwrap()
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" "),
        json: serde_json::from_slice(&json.stdout).unwrap_or(Json::Null),
        talk: String::from_utf8(shown.stderr).unwrap(),
    }
}

impl Ran {
    fn codes(&self) -> Vec<&str> {
        self.json["findings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|f| f["code"].as_str().unwrap())
            .collect()
    }

    fn lines(&self) -> Vec<&str> {
        self.json["kitLines"]
            .as_array()
            .unwrap()
            .iter()
            .map(|line| line.as_str().unwrap())
            .collect()
    }

    /// True where a line is printed that the kit would read.
    fn offers(&self, begins: &str) -> bool {
        self.lines().iter().any(|line| line.starts_with(begins))
    }
}

#[test]
fn good_shots_agree_with_the_kit() {
    let ran = run(&sheet(&[bare("fifty", "inf"), reduced("fifty", "inf")], as_is), &[]);
    assert_eq!(ran.code, 0, "{}", ran.text);
    assert!(ran.offers("measured-focal = 50.0") && ran.offers("measured-magnification = 0.71"));
    assert!(ran.lines().contains(&"# replaces pupil-offset = 40.8"), "{:?}", ran.lines());
    assert!(ran.lines().contains(&"# replaces measured-magnification = 0.7102"));
    // Values say their unit, and the document what it is and what it was made from.
    assert_eq!(ran.json["format"], "lensmend measure");
    assert_eq!(ran.json["inputs"][1]["role"], "chart");
    assert_eq!(ran.json["series"][0]["focalLength"]["unit"], "mm");
    assert_eq!(ran.json["series"][0]["shots"][0]["span"]["unit"], "px");
}

/// Each of these fits its own curve: nothing but the kit tells that it is wrong.
#[test]
fn slips_of_the_day_are_told_by_the_kit() {
    let both = [bare("fifty", "inf"), reduced("fifty", "inf")];
    let stranger = Shoot { p: 40.0, ..reduced("fifty", "inf") };
    let thick = Shoot { e: 20.0, ..reduced("bare-fifty", "inf") };
    let across = Shoot { p: 25.0, ..bare("wide-ana", "inf") };
    let with_side = |side: &str| along(&sheet(&[Shoot { ..across }], as_is), side);
    let good_known = Shoot { p: 50.62, ..bare("known", "inf") };
    for (sheet, more, word) in [
        (sheet(&both, |d, w| (d / 25.4, w)), vec![], "tape was read in inches"),
        (sheet(&both, |d, w| (d, w / 25.4)), vec![], "chart width is in inches"),
        (
            sheet(&both, |d, w| (d - 100.0, w)),
            vec![],
            "lens front instead of the sensor-plane mark",
        ),
        (
            sheet(&[bare("bare-fifty", "inf")], |d, w| (d - 100.0, w)),
            vec![],
            "behind the sensor plane",
        ),
        (
            sheet(&[bare("fifty", "inf"), stranger], as_is),
            vec![],
            "measured a magnification of 0.8",
        ),
        (
            sheet(&[bare("bare-fifty", "inf"), thick], as_is),
            vec![],
            "nearer to the sensor plane behind it",
        ),
        (sheet(&[good_known], |d, w| (d, w * 1.05)), vec![], "measured before"),
        (sheet(&[Shoot { p: 35.5, ..bare("fifty", "inf") }], as_is), vec![], "reducer was on"),
        (with_side("height"), vec![], "along the other side"),
        (sheet(&both, as_is), vec!["--mode", "crop"], "mode full of camera A"),
    ] {
        let crop = more.contains(&"crop");
        let more: Vec<&str> =
            if crop { ["--no-mode"].into_iter().chain(more).collect() } else { more };
        let ran = run(&sheet, &more);
        assert_eq!(ran.code, 1, "{word}: {}", ran.text);
        assert!(ran.codes().contains(&"chart.against-kit"), "{word}: {:?}", ran.codes());
        assert!(ran.text.contains(word), "{word}: {}", ran.text);
        let doubted = ran.lines().iter().any(|line| line.contains("not to be pasted before"));
        assert!(doubted, "{word}: {:?}", ran.lines());
    }
    // All of it commented out: pasted, the kit stays as it was.
    let ran = run(&sheet(&both, |d, w| (d / 25.4, w)), &[]);
    assert!(ran.lines().iter().all(|line| line.is_empty() || line.starts_with("# ")));
}

/// Refocused shots of a 50 mm lens noted as a fixed focus: the line takes them and puts the pupil elsewhere.
#[test]
fn a_ring_that_was_turned_shows_in_the_pupil() {
    let mut refocused = format!("{HEAD}\n");
    for d in DISTANCES {
        let reach = d + 12.0;
        let span = 400.0 / 0.0044 * 2.0 * 50.0 / (reach + libm::sqrt(reach * reach - 10_000.0));
        writeln!(refocused, "fifty,none,inf,{d},400,{span:.3}").unwrap();
    }
    let ran = run(&refocused, &[]);
    assert_eq!(ran.codes(), ["chart.against-kit"]);
    assert!(ran.text.contains("write refocused under Focus"), "{}", ran.text);
    let ran = run(&refocused.replace(",inf,", ",refocused,"), &[]);
    assert_eq!((ran.code, ran.codes().len()), (0, 0), "{}", ran.text);
    assert!(ran.offers("measured-focal = 50.00"), "{:?}", ran.lines());
}

#[test]
fn squeeze_is_taken_out_only_where_the_sheet_says_the_side() {
    let across = || Shoot { p: 25.0, ..bare("wide-ana", "inf") };
    let unsaid = run(&sheet(&[across()], as_is), &[]);
    assert!(unsaid.codes().contains(&"chart.side"), "{:?}", unsaid.codes());
    assert!(
        (unsaid.json["series"][0]["focalLength"]["value"].as_f64().unwrap() - 25.0).abs() < 1e-3
    );
    assert!(!unsaid.offers("measured-focal"), "{:?}", unsaid.lines());
    let said = run(&along(&sheet(&[across()], as_is), "width"), &[]);
    assert_eq!(said.code, 0, "{}", said.text);
    assert!(said.offers("measured-focal = 50.0"), "{:?}", said.lines());
}

#[test]
fn shots_at_one_distance_are_tested_against_one_another() {
    let span = 50.0 * 400.0 / 0.0044 / (2000.0 - 40.8);
    let rows = |offs: &[f64]| {
        let mut sheet = format!("{HEAD}\n");
        for off in offs {
            writeln!(sheet, "fifty,none,inf,2000,400,{:.4}", span + off).unwrap();
        }
        sheet
    };
    let good = run(&rows(&[0.0, 0.5, -0.5]), &[]);
    assert_eq!(good.code, 0, "{}", good.text);
    assert_eq!(good.json["series"][0]["degreesOfFreedom"], 2);
    assert!(!good.offers("measured-focal"));
    let wild = run(&rows(&[0.0, 9.0, -9.0]), &[]);
    assert_eq!(wild.codes(), ["chart.scatter"]);
    assert!(wild.json["series"][0]["widened"].as_f64().unwrap() > 2.0);
    // Tape and chart width swapped: every shot at one distance, of charts of many widths.
    let swapped = run(&sheet(&[bare("fifty", "inf")], |d, w| (w, d)), &[]);
    assert_eq!((swapped.code, swapped.codes()), (2, vec!["chart.series"]));
    assert!(swapped.text.contains("are the two columns swapped?"), "{}", swapped.text);
}

#[test]
fn one_distance_takes_the_pupil_of_the_table_at_its_focus() {
    let span = 50.0 * 400.0 / 0.0044 / (2000.0 - 60.8);
    let near = run(&format!("{HEAD}\ntabled,none,1,2000,400,{span:.4}\n"), &[]);
    let focal = near.json["series"][0]["focalLength"]["value"].as_f64().unwrap();
    assert!((focal - 50.0).abs() < 1e-4, "{focal}");
}

#[test]
fn a_given_focal_length_holds_for_one_focus_setting() {
    let native = ["--native", "50", "--native-uncertainty", "0.1"];
    let near = Shoot { p: 37.0, ..reduced("fifty", "1") };
    let ran = run(&sheet(&[near, reduced("fifty", "inf")], as_is), &native);
    assert_eq!(ran.codes(), ["chart.no-bare"], "{}", ran.text);
    assert!(ran.text.contains("--native holds for one focus setting"));
    let pairs = ran.json["magnifications"].as_array().unwrap();
    assert_eq!((pairs.len(), &pairs[0]["series"]), (1, &Json::from(1)));
    let idle = run(&sheet(&[bare("fifty", "inf"), reduced("fifty", "inf")], as_is), &native);
    assert!(idle.talk.contains("--native was not used"), "{}", idle.talk);
}

#[test]
fn pairs_that_disagree_are_said() {
    let near = |p, between: fn(&'static str, &'static str) -> Shoot<'static>| Shoot {
        p,
        ..between("fifty", "2")
    };
    let all = [
        bare("fifty", "inf"),
        reduced("fifty", "inf"),
        near(51.0, bare),
        near(51.0 * 0.717, reduced),
    ];
    let ran = run(&sheet(&all, as_is), &[]);
    assert_eq!(ran.codes(), ["chart.pairs"], "{}", ran.text);
    let mean = ran.json["attachments"][0]["uncertainty"].as_f64().unwrap();
    let one = ran.json["magnifications"][0]["uncertainty"].as_f64().unwrap();
    assert!(mean > 2.0 * one, "{mean} {one}");
}

#[test]
fn a_focal_length_is_proposed_only_for_infinity() {
    let near = |focus: &'static str, p: f64| Shoot { p, ..bare("bare-fifty", focus) };
    let one = run(&sheet(&[near("2", 51.0)], as_is), &[]);
    assert!(!one.offers("measured-focal") && one.offers("[[lens.table]]"), "{:?}", one.lines());
    assert!(one.lines().iter().any(|line| line.contains("shoot it at infinity too")));
    // p = 50 + 2/d: carried on to infinity it is 50.
    let two = run(&sheet(&[near("2", 51.0), near("4", 50.5)], as_is), &[]);
    assert!(two.offers("measured-focal = 50.0"), "{:?}", two.lines());
    assert!(two.lines().iter().any(|line| line.contains("carried on to infinity")));
    let unsaid = run(&sheet(&[near("", 50.0)], as_is), &[]);
    assert!(!unsaid.offers("measured-focal"), "{:?}", unsaid.lines());
}

#[test]
fn a_zoom_is_asked_for_its_setting_and_pasted_lines_are_a_kit() {
    let silent = run(&sheet(&[bare("zoom", "inf"), bare("zoom", "2")], as_is), &[]);
    assert_eq!(silent.codes(), ["lens.focal"], "once for the lens: {}", silent.text);
    assert!(!silent.offers("[[lens.table]]"), "{:?}", silent.lines());
    let said = sheet(&[bare("zoom", "inf")], as_is)
        .replace("zoom,", "zoom,50,")
        .replace("Lens,", "Lens,Focal,");
    let said = run(&said, &[]);
    assert_eq!(said.code, 0, "{}", said.text);
    assert!(said.offers("focal = 50"), "{:?}", said.lines());
    // A prime with a Focal column is no zoom, and its table has no focal. Tables come last.
    let prime =
        sheet(&[bare("bare-fifty", "inf"), Shoot { p: 50.5, ..bare("bare-fifty", "4") }], as_is)
            .replace("fifty,", "fifty,50,")
            .replace("Lens,", "Lens,Focal,");
    let prime = run(&prime, &[]);
    let lines = prime.lines();
    assert!(!prime.offers("focal = "), "{lines:?}");
    let at = |begins: &str| lines.iter().position(|line| line.starts_with(begins)).unwrap();
    assert!(at("measured-focal") < at("[[lens.table]]"));
    let pasted = format!("[[lens]]\nid = \"x\"\nfocal = 50\n{}\n", lines.join("\n"));
    assert_eq!(kit::parse("kit.toml", pasted.as_bytes()).findings, [], "{pasted}");
    // Pasted the wrong way round the kit says what to do.
    let wrong = "[[lens]]\nid = \"x\"\nfocal = 50\n[[lens.table]]\nfocus = [1.0, inf]\npinhole = [51, 50]\nmeasured-focal = 50.1\n";
    let found = kit::parse("kit.toml", wrong.as_bytes()).findings;
    let hint = found.first().and_then(|finding| finding.hint.as_deref()).unwrap_or_default();
    assert_eq!(hint, "it stands below [[lens.table]]; move it up");
}

#[test]
fn what_is_missing_is_said_once_and_nothing_measured_is_2() {
    let two =
        KIT.replace("[[lens]]\nid = \"fifty\"", "[[camera]]\nid = \"B\"\n[[lens]]\nid = \"fifty\"");
    let ran = run_with(&two, &sheet(&[bare("fifty", "inf")], as_is), &["--no-mode"]);
    assert_eq!(ran.code, 2);
    assert_eq!(ran.talk.matches("notes.row").count(), 1, "{}", ran.talk);
    assert!(ran.talk.contains("the kit has several cameras: give --camera (A, B)"), "{}", ran.talk);
    let ran = run(&sheet(&[bare("fifty", "inf")], as_is), &["--no-mode"]);
    assert!(ran.talk.contains("give --mode (full, crop)"), "{}", ran.talk);
    let growing = format!("{HEAD}\nfifty,none,inf,1000,400,400\nfifty,none,inf,2000,400,900\n");
    let failed = run(&growing, &[]);
    assert_eq!((failed.code, failed.codes()), (2, vec!["chart.series"]));
    assert!(failed.text.contains("chart.series") && failed.talk.contains("nothing was measured"));
}
