//! Distortion as measured: what the kit takes, which measurement holds for a clip, and what is left out with a reason.
#![allow(clippy::disallowed_methods, reason = "tests write kits of their own")]

use std::fs;

use serde_json::Value as Json;

use lensmend::kit;

use crate::workshop::{DATE, lensmend, plant, sample, tree};

/// The sample with `entry` under its lens of 50 mm, and its reducer said to add no distortion, or not.
pub(crate) fn with_kit(entry: &str, free: bool) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    plant(&tree(&sample()), folder.path());
    let path = folder.path().join("kit.toml");
    let kit = fs::read_to_string(&path).unwrap();
    let at = kit.find("name = \"Sorrel 50\"").unwrap();
    let end = at + kit[at..].find("\n[[").unwrap() + 1;
    let (before, after) = kit.split_at(end);
    let free = if free { "distortion-free = true\n" } else { "" };
    let after = after.replace("kind = \"reducer\"\n", &format!("kind = \"reducer\"\n{free}"));
    fs::write(path, format!("{before}{entry}\n{after}")).unwrap();
    folder
}

/// What stands in the record of each clip taken with the lens: coefficients, or why there are none.
fn told(folder: &tempfile::TempDir, clip: &str) -> (Option<String>, Vec<String>) {
    let out = folder.path().join("out");
    let arguments = [
        "annotate",
        folder.path().to_str().unwrap(),
        "--into",
        out.to_str().unwrap(),
        "--date",
        DATE,
    ];
    let run = lensmend(&arguments);
    assert!(run.status.code() < Some(2), "{}", String::from_utf8_lossy(&run.stderr));
    let record: Json = serde_json::from_slice(&fs::read(out.join("run.json")).unwrap()).unwrap();
    let clips = record["clips"].as_array().unwrap();
    let of = clips.iter().find(|of| of["name"] == clip).unwrap();
    let said = of["pieces"][0]["distortion"]["value"].as_str().map(str::to_owned);
    let mine = |finding: &&Json| finding["code"] == "lens.distortion" && finding["clip"] == clip;
    let findings = record["findings"].as_array().unwrap().iter().filter(mine);
    let findings = findings.map(|finding| finding["message"].as_str().unwrap().to_owned());
    (said, findings.collect())
}

const BARE: &str = "[[lens.distortion]]\nmaps = \"D-U\"\nradial = [1e-4]\ntangential = [1e-5, 0]\n";

/// A003C001 is behind the reducer of 0.71, B001C001 behind a plain adapter; the focus is 2.4 m and 5.5 m.
/// 1e-4 / 0.71^2 = 1.983733e-4, 1e-5 / 0.71 = 1.408451e-5 by hand.
#[test]
fn what_was_measured_holds_as_it_was_or_scaled_or_not_at_all() {
    let folder = with_kit(BARE, true);
    let scaled = "Brown-Conrady D-U: k 1.983733e-4; p 1.408451e-5 0; measured without an attachment, scaled by 0.71";
    assert_eq!(told(&folder, "A003C001"), (Some(scaled.to_owned()), vec![]));
    let whole = "Brown-Conrady D-U: k 1e-4; p 1e-5 0; measured without an attachment";
    assert_eq!(told(&folder, "B001C001"), (Some(whole.to_owned()), vec![]));
    // The zoom of the sample has no measurement.
    assert_eq!(told(&folder, "A003C009"), (None, vec![]));

    let folder = with_kit(BARE, false);
    let (none, why) = told(&folder, "A003C001");
    assert_eq!(none, None);
    assert_eq!(why.len(), 1, "{why:?}");
    assert!(why[0].contains("measured without an attachment, and Corbel 0.71 was on"), "{why:?}");
    assert_eq!(told(&folder, "B001C001").0.as_deref(), Some(whole));

    let behind = format!("{BARE}behind = \"corbel-071\"\n");
    let folder = with_kit(&behind, false);
    let as_is = "Brown-Conrady D-U: k 1e-4; p 1e-5 0; measured behind corbel-071";
    assert_eq!(told(&folder, "A003C001"), (Some(as_is.to_owned()), vec![]));
    assert!(told(&folder, "B001C001").1[0].contains("measured behind corbel-071, and"));
    // Back from behind the reducer: 1e-4 * 0.71^2 = 5.041e-5.
    let folder = with_kit(&behind, true);
    let (back, _) = told(&folder, "B001C001");
    assert!(back.unwrap().starts_with("Brown-Conrady D-U: k 5.041e-5; p 7.1e-6 0;"));
}

#[test]
fn the_measurement_of_the_nearest_focus_is_taken_and_none_is_mixed() {
    let at = |focus: &str, k: &str| {
        format!("[[lens.distortion]]\nmaps = \"U-D\"\nradial = [{k}]\nfocus = {focus}\n")
    };
    let all = [at("1", "1e-4"), at("3", "2e-4"), at("inf", "3e-4")].concat();
    let folder = with_kit(&all, true);
    // 1/2.4 is nearer to 1/3 than to 1; 1/5.5 is nearer to 1/3 than to 0.
    let (near, _) = told(&folder, "B001C001");
    assert_eq!(near.unwrap(), "Brown-Conrady U-D: k 2e-4; measured without an attachment at 3 m");
    let (scaled, _) = told(&folder, "A003C001");
    assert!(scaled.unwrap().contains("at 3 m, scaled by 0.71"));
    // One that was measured just so goes before one that would have to be scaled, wherever it was focused.
    let own = format!("{all}{}behind = \"corbel-071\"\n", at("0.5", "9e-4"));
    let (own, _) = told(&with_kit(&own, true), "A003C001");
    assert_eq!(own.unwrap(), "Brown-Conrady U-D: k 9e-4; measured behind corbel-071 at 0.5 m");
}

#[test]
fn a_kit_that_cannot_mean_it_is_refused() {
    let lens = "[[lens]]\nid = 'a'\nfocal = 50\nimage-circle = 43\n";
    let zoom = "[[lens]]\nid = 'a'\nrange = [24, 70]\n";
    for (lens, entry, wanted) in [
        (lens, "maps = 'D-U'\nradial = [-1e-5]", ""),
        (lens, "maps = 'U-D'\nradial = [-0.1, 0, 0.02]\nnormalised-by = 50", ""),
        (lens, "radial = [-1e-5]", "has no maps"),
        (lens, "maps = 'D-U'", "has no radial"),
        (lens, "maps = 'both'\nradial = [0]", "is not known"),
        // The coefficients of computer vision, taken for those of millimetres.
        (lens, "maps = 'U-D'\nradial = [-0.1, 0, 0.02]", "take a point 10.75 mm from the axis"),
        (lens, "maps = 'U-D'\nradial = [0, -0.01]", "take a point"),
        (lens, "maps = 'D-U'\nradial = [0, 0, 0, 0, 0, 0, 0]", "more than six"),
        (lens, "maps = 'D-U'\nradial = [0]\ntangential = [1e-6]", "must be two numbers"),
        (lens, "maps = 'D-U'\nradial = [0]\nfocal = 50", "needs no focal"),
        (lens, "maps = 'D-U'\nradial = [0]\nbehind = 'x'", "no attachment \"x\""),
        (lens, "maps = 'D-U'\nradial = [0]\nfocus = 0", "focus"),
        (zoom, "maps = 'D-U'\nradial = [0]", "has no focal"),
        (zoom, "maps = 'D-U'\nradial = [0]\nfocal = 85", "outside the zoom's range"),
        (zoom, "maps = 'D-U'\nradial = [0]\nfocal = 24", ""),
        ("[[lens]]\nid = 'a'\nfocal = 50\nsqueeze = 2\n", "maps = 'D-U'\nradial = [0]", "squeezes"),
    ] {
        let text = format!("{lens}[[lens.distortion]]\n{entry}\n");
        let found = kit::parse("kit.toml", text.as_bytes()).findings;
        let messages: Vec<&str> = found.iter().map(|finding| finding.message.as_str()).collect();
        if wanted.is_empty() {
            assert_eq!(messages, Vec::<&str>::new(), "{text}");
        } else {
            assert!(
                messages.iter().any(|message| message.contains(wanted)),
                "{text}: {messages:?}"
            );
        }
    }
}
