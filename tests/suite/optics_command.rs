//! `lensmend optics`, as people ask it: tables for a small screen, JSON, pictures, and what is refused.
#![allow(clippy::disallowed_methods, reason = "tests read and write files of their own")]

use std::fs;

use proptest::prelude::*;
use serde_json::Value as Json;
use unicode_width::UnicodeWidthStr;

use crate::workshop::lensmend;

const KIT: &str = "samples/saltmarsh-day/kit.toml";

fn asked(arguments: &[&str]) -> (i32, String, String) {
    let all: Vec<&str> = ["optics"].iter().chain(arguments).copied().collect();
    let output = lensmend(&all);
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

fn told(arguments: &[&str]) -> Json {
    let all: Vec<&str> = arguments.iter().copied().chain(["--json"]).collect();
    let (code, out, err) = asked(&all);
    assert_eq!(code, 0, "{err}");
    serde_json::from_str(&out).unwrap()
}

/// The fields of one side.
fn side<'a>(told: &'a Json, which: &str) -> &'a Json {
    let sides = told["sides"].as_array().unwrap();
    &sides.iter().find(|side| side["which"] == which).unwrap()["fields"]
}

fn value(fields: &Json, field: &str) -> f64 {
    fields[field]["value"].as_f64().unwrap_or_else(|| panic!("no {field} in {fields}"))
}

fn near(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!((got - want).abs() <= tolerance, "{what}: got {got}, want {want}");
}

const WORDS: [&str; 10] = [
    "--lens",
    "50",
    "--stop",
    "f/1.4",
    "--reducer",
    "0.71",
    "--sensor",
    "26.2x13.8",
    "--focus",
    "2.4m",
];

/// Common practice, no source: 50 on the 0.71 is spoken of as 35 at f/1. ISO 517:2008 for the exact stop.
/// Angle by arithmetic, `usd-core` and OpenCV agreeing (see `conform/lenses.rs`).
#[test]
fn words_are_enough() {
    let told = told(&WORDS);
    let (bare, behind, same) =
        (side(&told, "bare"), side(&told, "behind"), side(&told, "same view"));
    near(value(behind, "focalLength"), 35.5, 1e-9, "f'");
    near(value(behind, "fNumber"), 1.0041, 5e-5, "N'");
    near(value(behind, "angleHorizontal"), 40.510, 5e-4, "view");
    near(value(bare, "cropWidth"), 1.3740, 5e-5, "crop");
    near(value(behind, "equivalentByWidth"), 35.5 * 36.0 / 26.2, 1e-6, "equivalent");
    near(value(same, "filmBackWidth"), 26.2 / 0.71, 1e-6, "the larger sensor");
    near(value(same, "cropWidth"), 0.9756, 5e-5, "crop behind 0.71, as it is spoken of");
    for field in ["angleHorizontal", "angleVertical", "nearLimit", "farLimit", "hyperfocal"] {
        near(value(same, field), value(behind, field), 1e-8 * value(behind, field), field);
    }
    assert!(behind.get("tNumber").is_none(), "no T without glass");
    near(told["stabiliser"]["value"].as_f64().unwrap(), 35.5, 1e-9, "stabiliser");
}

#[test]
fn the_table_fits_a_telephone_and_says_what_it_says() {
    let (code, out, err) = asked(&WORDS);
    assert_eq!((code, err.as_str()), (0, ""));
    for line in out.lines() {
        assert!(line.width() <= 40, "{} columns: {line}", line.width());
    }
    for words in
        ["bare", "behind", "same view", "35.5", "±1.4", "To the nearest mark, the stop is f/1."]
    {
        assert!(out.contains(words), "{words} is missing:\n{out}");
    }
    assert!(!out.contains('\u{1b}'));
}

#[test]
fn the_kit_answers_by_its_names() {
    let told = told(&[
        "--kit",
        KIT,
        "--lens",
        "umber 24",
        "--stop",
        "T2",
        "--attachment",
        "Corbel 0.71",
        "--camera",
        "Kelvane K2",
        "--mode",
        "uhd",
    ]);
    let behind = side(&told, "behind");
    // Measured in the kit: 24.31 mm; T2 behind 0.71 with 95 % glass.
    near(value(behind, "focalLength"), 24.31 * 0.71, 1e-6, "f'");
    near(value(behind, "tNumber"), 2.0 * 0.71 / 0.95_f64.sqrt(), 1e-6, "T'");
    near(value(behind, "lightGain"), 0.9142, 5e-5, "light");
    near(value(behind, "imageCircle"), 33.0 * 0.71, 1e-6, "circle");
    let diagonal = 26.2_f64.hypot(14.7375);
    near(value(behind, "darkCorner"), (diagonal - 33.0 * 0.71) / 2.0, 1e-6, "dark corner");
    let pixels = (diagonal - 33.0 * 0.71) / 2.0 / 26.2 * 3840.0;
    near(value(behind, "darkCornerPixels"), pixels, 1e-4, "dark corner in pixels");
    assert!(told["cautions"].to_string().contains("Whole edges are dark"));
    let (focal, parts) = (&behind["focalLength"], &told["sides"][1]["causes"]["focalLength"]);
    let squares: f64 = parts
        .as_array()
        .unwrap()
        .iter()
        .map(|part| part["uncertainty"].as_f64().unwrap().powi(2))
        .sum();
    near(squares.sqrt(), focal["uncertainty"].as_f64().unwrap(), 1e-6, "causes add up");
}

/// A plate keeps its film back through a resize; one that was cut from the side has one corner far from the axis.
#[test]
fn plates_have_a_film_back_of_their_own() {
    let folder = tempfile::tempdir().unwrap();
    let kit = folder.path().join("kit.toml");
    let text = "[[camera]]\nid = 'A'\n[[camera.mode]]\nid = 'open'\nraster = '4000x2000'\nwidth = 36\nheight = 18\n\
        [[plate]]\nid = 'wide'\ncrop = '4000x1600'\nsize = '2000x800'\n\
        [[plate]]\nid = 'left'\ncrop = '2000x1000'\noffset = '0x0'\n\
        [[plate]]\nid = 'huge'\ncrop = '4000x2000'\noffset = '1x0'\n";
    fs::write(&kit, text).unwrap();
    let kit = kit.to_string_lossy().into_owned();
    let ask = |plate: &'static str| -> Vec<String> {
        ["--kit", &kit, "--lens", "50", "--camera", "A", "--circle", "36", "--plate", plate]
            .iter()
            .map(|word| (*word).to_owned())
            .collect()
    };
    let of = |plate| {
        let words = ask(plate);
        told(&words.iter().map(String::as_str).collect::<Vec<_>>())
    };
    let wide = of("wide");
    near(value(side(&wide, "bare"), "filmBackWidth"), 36.0, 1e-9, "width");
    near(value(side(&wide, "bare"), "filmBackHeight"), 14.4, 1e-9, "height");
    let left = of("left");
    near(value(side(&left, "bare"), "filmBackWidth"), 18.0, 1e-9, "width");
    // Its far corner is that of the whole area: 20.12 mm from the axis, 2.12 mm outside of the circle.
    let dark = 18.0_f64.hypot(9.0) - 18.0;
    near(value(side(&left, "bare"), "darkCorner"), dark, 1e-6, "far corner");
    let words = ask("huge");
    let (code, _, err) = asked(&words.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(code, 2);
    assert!(err.contains("mode open records 4000x2000"), "{err}");
}

#[test]
fn a_sweep_is_a_table_of_stops_and_distances() {
    let told = told(&[
        "--lens",
        "85",
        "--sensor",
        "26.2x13.8",
        "--stops",
        "f/2,f/2.8",
        "--focuses",
        "2m,3m,inf",
    ]);
    let sweep = told["sweep"].as_array().unwrap();
    assert_eq!(sweep.len(), 6);
    let blur = 26.2_f64.hypot(13.8) / 1500.0;
    for sharp in sweep {
        let n = sharp["fNumber"]["value"].as_f64().unwrap();
        let h = 85.0 * 85.0 / n / blur / 1000.0;
        let near_limit = sharp["nearLimit"]["value"].as_f64().unwrap();
        if let Some(u) = sharp["focusDistance"]["value"].as_f64() {
            near(near_limit, u * h / (h + u), 1e-6, "near");
            near(sharp["farLimit"]["value"].as_f64().unwrap(), u * h / (h - u), 1e-6, "far");
        } else {
            near(near_limit, h, 1e-6, "near at infinity");
            assert_eq!(sharp["farLimit"]["value"], "infinity");
        }
    }
    let (_, out, _) = asked(&[
        "--lens",
        "85",
        "--sensor",
        "26.2x13.8",
        "--stops",
        "f/2,f/2.8",
        "--focuses",
        "2m,3m,inf",
    ]);
    assert!(out.contains("depth m") && out.lines().all(|line| line.width() <= 48), "{out}");
}

#[test]
fn what_cannot_be_meant_is_refused_with_a_remedy() {
    for (arguments, words) in [
        (&["--lens", "50000"][..], "did you mean 50?"),
        (&["--lens", "2in"], "write 50.8"),
        (&["--lens", "0.5"], "between 1 and 3000 mm"),
        (&["--lens", "fifty"], "--kit FILE"),
        (&["--lens", "50", "--reducer", "71"], "did you mean 0.71?"),
        (&["--lens", "50", "--reducer", "1.4"], "write --extender 1.4"),
        (&["--lens", "50", "--extender", "0.71"], "write --reducer 0.71"),
        (&["--lens", "50", "--reducer", "0.71", "--glass", "95"], "did you mean 0.95?"),
        (&["--lens", "50", "--glass", "0.95"], "belongs to an attachment"),
        (&["--lens", "50", "--stop", "1.4"], "f or T?"),
        (&["--lens", "50", "--stop", "wo"], "how far the lens opens is not known"),
        (&["--lens", "50", "--stop", "f/2", "--stop", "T1.8"], "no glass adds light"),
        (&["--lens", "50", "--stop", "f/2", "--stop", "f/4"], "given twice"),
        (&["--lens", "50", "--stop", "wide"], "this is no stop"),
        (&["--lens", "50", "--sensor", "1.03x0.54"], "if these are inches, write 26.16x13.72"),
        (&["--lens", "50", "--sensor", "3840x2160"], "look like pixels"),
        (&["--lens", "50", "--sensor", "26.2"], "width x height"),
        (&["--lens", "50", "--focus", "2.4"], "with its unit"),
        (&["--lens", "50", "--focus", "0.05m"], "focuses so near"),
        (
            &["--lens", "85", "--sensor", "26.2x13.8", "--stops", "f/2", "--focuses", "1m,5cm"],
            "focuses so near",
        ),
        (&["--lens", "50", "--shift", "4"], "belongs to an attachment"),
        (&["--lens", "-50"], "between 1 and 3000 mm"),
        (&["--lens", "50", "--reducer", "0.71", "--glass", "1.5"], "between 0.01 and 1"),
        (&["--kit", "samples/chart-day", "--lens", "a"], "kit --new"),
        (&["--lens", "50", "--mode", "uhd"], "--camera ID"),
        (&["--lens", "50", "--stops", "f/2", "--focuses", "2m"], "recorded area"),
        (&["--lens", "50", "--reducer", "0.71", "--extender", "2"], "cannot be used with"),
        (&["--kit", KIT, "--lens", "Sorel 50"], "did you mean \"Sorrel 50\"?"),
        (&["--kit", KIT, "--lens", "Sorrel 24-70"], "say where its ring stands"),
        (&["--kit", KIT, "--lens", "Sorrel 24-70", "--focal", "18"], "goes from 24 to 70 mm"),
        (&["--kit", KIT, "--lens", "Sorrel 50", "--focal", "35"], "is a prime"),
        (&["--kit", KIT, "--lens", "Sorrel 50", "--stop", "f/1"], "opens to f/1.4"),
        (&["--kit", KIT, "--lens", "Umber 24", "--stop", "T1.3"], "opens to T1.5"),
        (&["--kit", KIT, "--lens", "50", "--reducer", "corbel-14"], "it is an extender"),
        (&["--kit", KIT, "--lens", "50", "--attachment", "corbl-071"], "did you mean"),
        (&["--kit", KIT, "--lens", "50", "--camera", "A"], "choose one with --mode"),
        (&["--kit", KIT, "--lens", "50", "--camera", "A", "--mode", "8k"], "no such mode"),
        (&["--kit", KIT, "--lens", "50", "--camera", "C"], "the kit has none called so"),
        (&["--lens", "50", "--picture", "target/none.svg"], "nothing to draw"),
    ] {
        let (code, out, err) = asked(arguments);
        assert_eq!((code, out.as_str()), (2, ""), "{arguments:?}: {err}");
        assert!(err.contains(words), "{arguments:?} says: {err}");
    }
}

/// What the kit knows of lens, attachment and camera is said, and the numbers still stand.
#[test]
fn what_does_not_go_together_needs_a_person() {
    for (arguments, words) in [
        (
            &["--lens", "Sorrel 50", "--attachment", "corbel-071", "--camera", "B", "--mode", "hd"]
                [..],
            "mount",
        ),
        (
            &["--lens", "Sorrel 50", "--attachment", "none", "--camera", "A", "--mode", "uhd"],
            "mount",
        ),
    ] {
        let all: Vec<&str> = ["--kit", KIT].iter().chain(arguments).copied().collect();
        let (code, out, err) = asked(&all);
        assert_eq!(code, 1, "{arguments:?}: {err}");
        assert!(
            out.contains("attachment.fit") && out.contains(words) && out.contains("focal mm"),
            "{out}"
        );
    }
    let (code, out, _) = asked(&[
        "--kit",
        "samples/saltmarsh-day",
        "--lens",
        "Sorrel 50",
        "--attachment",
        "corbel-071",
    ]);
    assert_eq!(code, 0, "a folder holds its kit");
    assert!(out.replace('\n', " ").contains("Not known whether it fits"), "{out}");
}

/// A bare camera scales by exactly one: a measured lens stays measured, bare and behind a measured reducer.
#[test]
fn a_definition_weakens_nothing() {
    let told = told(&["--kit", KIT, "--lens", "Umber 24", "--attachment", "corbel-071"]);
    assert_eq!(side(&told, "bare")["focalLength"]["basis"], "measured");
    assert_eq!(side(&told, "behind")["focalLength"]["basis"], "nominal");
}

#[test]
fn a_picture_gives_way_to_the_next_and_to_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let target = folder.path().join("rig.svg");
    let path = target.to_string_lossy().into_owned();
    let draw = |sensor: &str| {
        asked(&[
            "--lens",
            "50",
            "--reducer",
            "0.71",
            "--circle",
            "43.3",
            "--sensor",
            sensor,
            "--picture",
            &path,
        ])
    };
    assert_eq!(draw("26.2x13.8").0, 0);
    let first = fs::read(&target).unwrap();
    assert!(lensmend::output::is_drawing(&first));
    assert_eq!(draw("26.2x13.8").0, 0);
    assert_eq!(fs::read(&target).unwrap(), first, "same question, same bytes");
    assert_eq!(draw("24.9x18.7").0, 0);
    assert_ne!(fs::read(&target).unwrap(), first);
    fs::write(&target, "a letter home").unwrap();
    let (code, out, err) = draw("26.2x13.8");
    assert_eq!((code, out.as_str()), (2, ""), "{err}");
    assert_eq!(fs::read(&target).unwrap(), b"a letter home");
}

#[test]
fn names_cannot_steer_the_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let kit = folder.path().join("kit.toml");
    fs::write(&kit, "[[lens]]\nid = 'a'\nname = \"\\u001b[2J\\u202Eevil\"\nfocal = 50\n").unwrap();
    let kit = kit.to_string_lossy().into_owned();
    let svg = folder.path().join("a.svg");
    let svg_path = svg.to_string_lossy().into_owned();
    let (code, out, _) =
        asked(&["--kit", &kit, "--lens", "a", "--sensor", "26.2x13.8", "--picture", &svg_path]);
    assert_eq!(code, 0);
    for bytes in [out, fs::read_to_string(svg).unwrap()] {
        assert!(!bytes.contains(['\u{1b}', '\u{202e}']), "{bytes}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Over random kits: a plain adapter changes nothing that it does not move; behind a reducer T stays above f, the
    /// picture gets wider and brighter, and the same view bare has the same depth of field.
    #[test]
    fn identities_hold_for_random_kits(
        focal in 12.0..300.0f64, open in 0u8..6, glass in 0.5..1.0f64, lens_glass in 0.5..1.0f64,
        m in 0.4..0.98f64, width in 8.0..40.0f64, squarish in 0.5..0.8f64, focus in 1.0..30.0f64,
        pupil in 10.0..80.0f64,
    ) {
        let folder = tempfile::tempdir().unwrap();
        let kit = folder.path().join("kit.toml");
        let stop = ["1.4", "2", "2.8", "4", "5.6", "8"][usize::from(open)];
        let text = format!(
            "[[mount]]\nid = 'b'\nflange = 20\n[[mount]]\nid = 'l'\nflange = 44\n\
             [[camera]]\nid = 'A'\nmount = 'b'\n[[camera.mode]]\nid = 'm'\nraster = '4000x2000'\nwidth = {width}\nheight = {}\n\
             [[lens]]\nid = 'x'\nmount = 'l'\nfocal = {focal}\ntransmittance = {lens_glass}\nimage-circle = 50\npupil-offset = {pupil}\n\
             [[attachment]]\nid = 'r'\nkind = 'reducer'\nlens-mount = 'l'\nbody-mount = 'b'\nmagnification = {m}\ntransmittance = {glass}\nshift = 4\n\
             [[attachment]]\nid = 'p'\nkind = 'adapter'\nlens-mount = 'l'\nbody-mount = 'b'\nthickness = 24\n",
            width * squarish,
        );
        fs::write(&kit, text).unwrap();
        let (kit, stop, focus) = (kit.to_string_lossy().into_owned(), format!("f/{stop}"), format!("{focus:.3} m"));
        let ask = |attachment| {
            told(&["--kit", &kit, "--lens", "x", "--stop", &stop, "--focus", &focus, "--camera", "A", "--attachment", attachment])
        };
        let plain = ask("p");
        let (bare, behind) = (side(&plain, "bare"), side(&plain, "behind"));
        for (field, cell) in bare.as_object().unwrap() {
            if cell["value"].is_number() {
                prop_assert_eq!(&cell["value"], &behind[field]["value"], "{} behind a plain adapter", field);
            }
        }
        let reduced = ask("r");
        let (bare, behind, same) = (side(&reduced, "bare"), side(&reduced, "behind"), side(&reduced, "same view"));
        prop_assert!(value(behind, "tNumber") >= value(behind, "fNumber"));
        prop_assert!(value(behind, "focalLength") < value(bare, "focalLength"));
        prop_assert!(value(behind, "angleHorizontal") > value(bare, "angleHorizontal"));
        prop_assert!(value(behind, "imageCircle") < value(bare, "imageCircle"));
        let light = -2.0 * m.log2() + glass.log2();
        prop_assert!((value(behind, "lightGain") - light).abs() < 1e-7);
        // The pupil stands elsewhere from the mark: distances from it are the same, those from the mark move with it.
        let depth = |fields: &Json| {
            let offset = value(fields, "pupilOffset") / 1000.0;
            ["nearLimit", "farLimit"].map(|field| fields[field]["value"].as_f64().map(|at| at - offset))
        };
        let at = |fields: &Json| {
            value(fields, "focusDistance") - value(fields, "pupilOffset") / 1000.0
        };
        // The same tape is 4 mm farther from the pupil behind the reducer, because the sensor came forward.
        prop_assert!((at(behind) - at(same) - 0.004).abs() < 1e-6);
        let [near_behind, _] = depth(behind);
        let [near_same, _] = depth(same);
        let relative = near_behind.unwrap() / at(behind) - near_same.unwrap() / at(same);
        prop_assert!(relative.abs() < 5e-3, "{relative}");
        prop_assert!(value(behind, "nearLimit") < value(behind, "focusDistance"));
    }
}
