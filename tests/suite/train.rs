//! What follows from a train, worked out by hand: tables and unit focus behind an attachment, squeeze, zooms that ramp.
#![allow(
    clippy::disallowed_methods,
    reason = "tests read and write files of their own, and reckon a second time"
)]

use std::fs;

use serde_json::Value as Json;

use crate::workshop::lensmend;

const KIT: &str = "
[[mount]]
id = 'body'
flange = 20
[[mount]]
id = 'lens'
flange = 45
[[mount]]
id = 'other'
flange = 50
[[camera]]
id = 'A'
mount = 'body'
[[camera.mode]]
id = 'binned'
raster = '2000x1000'
pitch = 6
photosites = '4000x2000'
[[lens]]
id = 'moving'
mount = 'lens'
focal = 100
f-max = 2
unit-focus = true
image-circle = 60
[[lens]]
id = 'tabled'
mount = 'lens'
focal = 50
f-max = 2
[[lens.table]]
focus = [0.5, 1, 2, inf]
pinhole = [50, 55, 53, 50]
pinhole-uncertainty = 0.1
[[lens]]
id = 'near-only'
mount = 'lens'
focal = 50
f-max = 2
[[lens.table]]
focus = [1]
pinhole = [52]
pinhole-uncertainty = 0.1
[[lens]]
id = 'zoom'
mount = 'lens'
range = [20, 60]
f-max = [[20, 2], [60, 4]]
[[lens.table]]
focal = 20
focus = [1, inf]
pinhole = [21, 20.5]
pinhole-uncertainty = 0.3
[[lens.table]]
focal = 60
focus = [1, inf]
pinhole = [64, 61]
pinhole-uncertainty = 0.1
[[lens]]
id = 'squeezed'
mount = 'lens'
focal = 50
f-max = 2
squeeze = 2
image-circle = 40
[[lens]]
id = 'glassy'
mount = 'lens'
focal = 50
f-max = 2
transmittance = 0.8
[[attachment]]
id = 'half'
kind = 'reducer'
lens-mount = 'lens'
body-mount = 'body'
magnification = 0.5
measured-magnification = 0.5
measured-magnification-uncertainty = 0
transmittance = 0.9
shift = 100
exit-circle = 25
";

fn asked(arguments: &[&str]) -> (i32, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let kit = folder.path().join("kit.toml");
    fs::write(&kit, KIT).unwrap();
    let kit = kit.to_string_lossy().into_owned();
    let mut all = vec!["optics", "--json", "--kit", &kit];
    all.extend(arguments);
    let output = lensmend(&all);
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

/// The fields of the last side but the same view: bare, or behind the attachment.
fn fields(arguments: &[&str]) -> Json {
    let (code, out, err) = asked(arguments);
    // The shift of the kit above is none that glass makes, for the sake of round numbers: that is told, and no more.
    assert!(code == 0 || out.contains("shift the sensor plane by 100 mm"), "{arguments:?}: {err}");
    let told: Json = serde_json::from_str(&out).unwrap();
    let sides = told["sides"].as_array().unwrap();
    sides[usize::from(sides.len() > 1)]["fields"].clone()
}

fn check(arguments: &[&str], field: &str, value: f64, uncertainty: Option<f64>, basis: &str) {
    let fields = fields(arguments);
    let cell = &fields[field];
    let near = |got: Option<f64>, want: f64, what: &str| {
        let got = got.unwrap_or_else(|| panic!("{arguments:?}: no {what} of {field} in {cell}"));
        assert!(
            (got - want).abs() < 2e-6 * want.abs().max(1.0),
            "{arguments:?} {field} {what}: {got}, want {want}"
        );
    };
    near(cell["value"].as_f64(), value, "value");
    match uncertainty {
        Some(u) => near(cell["uncertainty"].as_f64(), u, "uncertainty"),
        None => assert!(cell.get("uncertainty").is_none(), "{arguments:?}: {cell}"),
    }
    if !basis.is_empty() {
        assert_eq!(cell["basis"], basis, "{arguments:?} {field}");
    }
}

#[test]
fn tables_behind_an_attachment() {
    const P: &str = "pinholeFocalLength";
    // At 2 m straight from the sensor: tape 1.9 m and a shift of 100 mm. Slope there -5 mm m toward infinity or 4 mm m nearer.
    for (arguments, value, by, basis) in [
        (&["--lens", "tabled", "--focus", "1m"][..], 55.0, None, "measured"),
        (&["--lens", "tabled", "--focus", "1.9m", "--attachment", "half"], 26.5, None, "measured"),
        // Nearer than the table: its end is held, and off by what a straight line would give: 50 - 5 x (1/0.4 - 1/0.5).
        (&["--lens", "tabled", "--focus", "0.4m"], 50.0, Some(0.1_f64.hypot(5.0 * 0.5)), "assumed"),
        // No focus: anywhere between 50 and 55.
        (&["--lens", "tabled"], 52.5, Some(0.1_f64.hypot(2.5 / 3.0_f64.sqrt())), "assumed"),
        (&["--lens", "near-only", "--focus", "1m"], 52.0, Some(0.1), "measured"),
        // One point tells of no direction.
        (&["--lens", "near-only", "--focus", "3m"], 52.0, None, "assumed"),
        (
            &["--lens", "zoom", "--focal", "40", "--focus", "inf"],
            40.75,
            Some(0.3_f64.hypot(0.4 * 40.5 / 40.0)),
            "measured",
        ),
        // The ring stands at 40, whatever comes out behind the attachment.
        (
            &["--lens", "zoom", "--focal", "40", "--focus", "inf", "--attachment", "half"],
            20.375,
            Some(0.5 * 0.3_f64.hypot(0.4 * 40.5 / 40.0)),
            "measured",
        ),
    ] {
        let fields = fields(arguments);
        let got = fields[P]["value"].as_f64().unwrap();
        assert!((got - value).abs() < 1e-6, "{arguments:?}: {got}, want {value}");
        assert_eq!(fields[P]["basis"], basis, "{arguments:?}");
        if let Some(by) = by {
            check(arguments, P, value, Some(by), basis);
        }
    }
    let alone = fields(&["--lens", "near-only", "--focus", "3m"]);
    assert!(alone[P].get("uncertainty").is_none(), "{}", alone[P]);
    let rule = fields(&["--lens", "tabled", "--focus", "0.4m"])[P]["origin"]["rule"].to_string();
    assert!(rule.contains("held at its end"), "{rule}");
}

/// Thin lens: p = f (1 + M), object and image 2 f + f M + f / M apart. The shift makes the native tape longer by 100 mm.
#[test]
fn unit_focus_behind_an_attachment() {
    let magnification = 0.1;
    let apart = 100.0 * (2.0 + magnification + 1.0 / magnification) / 1000.0;
    let bare = format!("{apart} m");
    check(
        &["--lens", "moving", "--focus", &bare],
        "pinholeFocalLength",
        110.0,
        Some(bare_off()),
        "nominal",
    );
    let behind = format!("{:.3} m", apart - 0.1);
    let got = fields(&["--lens", "moving", "--focus", &behind, "--attachment", "half"]);
    let p = got["pinholeFocalLength"]["value"].as_f64().unwrap();
    assert!((p - 55.0).abs() < 1e-6, "{p}");
}

/// By hand: dp/df = 1 + M^2 (2 + M) / ((1 - M^2)) ... taken as a difference of the closed form; 3.7 % of f, 5 % of the
/// distance, and a quarter of what focusing adds.
fn bare_off() -> f64 {
    let p = |f: f64, tape: f64| 2.0 * f / (1.0 + (1.0 - 4.0 * f / tape).sqrt());
    let (f, tape, step) = (100.0, 1210.0, 1e-4);
    let by_f = (p(f + step, tape) - p(f - step, tape)) / (2.0 * step) * 3.7;
    let by_tape = (p(f, tape + step) - p(f, tape - step)) / (2.0 * step) * 0.05 * tape;
    (by_f * by_f + by_tape * by_tape + 2.5 * 2.5).sqrt()
}

#[test]
fn squeeze_widens_one_way_and_leaves_no_equivalent() {
    let squeezed = fields(&["--lens", "squeezed", "--sensor", "24x18"]);
    let angle = |side: f64| (2.0 * (side / 100.0).atan()).to_degrees();
    let near = |field: &str, want: f64| {
        let got = squeezed[field]["value"].as_f64().unwrap();
        assert!((got - want).abs() < 1e-6, "{field}: {got}, want {want}");
    };
    near("angleHorizontal", angle(48.0));
    near("angleVertical", angle(18.0));
    // Corner to corner of the desqueezed picture, which is 48 x 18 in the measure of the sensor.
    near("angleDiagonal", angle(48.0_f64.hypot(18.0)));
    for field in ["equivalentFocalLength", "equivalentByWidth"] {
        assert!(squeezed.get(field).is_none(), "{field}");
    }
    let (_, out, _) = asked(&["--lens", "squeezed", "--sensor", "24x18"]);
    assert!(out.contains("No 35 mm equivalents"), "{out}");
}

/// 4000 photosites of 6 um are 24 mm, however many pixels are recorded; the exit circle ends the image circle of 30 mm.
#[test]
fn binned_pixels_and_an_exit_circle() {
    let words = &["--lens", "moving", "--attachment", "half", "--camera", "A"];
    check(words, "filmBackWidth", 24.0, Some(0.072), "nominal");
    check(words, "imageCircle", 25.0, Some(0.5), "nominal");
    let dark = (24.0_f64.hypot(12.0) - 25.0) / 2.0;
    check(
        words,
        "darkCorner",
        dark,
        Some((0.25_f64.powi(2) + (24.0_f64.hypot(12.0) * 0.0015).powi(2)).sqrt()),
        "nominal",
    );
    check(
        words,
        "darkCornerPixels",
        dark / 24.0 * 2000.0,
        fields(words)["darkCornerPixels"]["uncertainty"].as_f64(),
        "",
    );
    let (_, out, _) = asked(words);
    assert!(out.contains("\"exitLimited\": true"));
}

#[test]
fn no_stop_is_wider_than_the_glass_allows() {
    for (arguments, words) in [
        (&["--lens", "moving", "--stop", "T1.7"][..], "no glass adds light"),
        (&["--lens", "glassy", "--stop", "T1.7"], "no glass adds light"),
        (&["--lens", "glassy", "--stop", "T2"], "wider than f/2"),
        (&["--lens", "zoom", "--focal", "60", "--stop", "f/2.8"], "opens to f/4"),
        (&["--lens", "zoom", "--focal", "40", "--stop", "f/2"], "opens to f/2.83 at 40 mm"),
    ] {
        let (code, _, err) = asked(arguments);
        assert_eq!(code, 2, "{arguments:?}");
        assert!(err.contains(words), "{arguments:?}: {err}");
    }
    for arguments in [
        &["--lens", "zoom", "--focal", "20", "--stop", "f/2"][..],
        &["--lens", "zoom", "--focal", "40", "--stop", "wo"],
        &["--lens", "glassy", "--stop", "T2.2"],
    ] {
        let (code, _, err) = asked(arguments);
        assert_eq!(code, 0, "{arguments:?}: {err}");
    }
    // Half-way over the ring of a zoom from f/2 to f/4 stands f/2.8: linear in stops.
    check(
        &["--lens", "zoom", "--focal", "40", "--stop", "wo"],
        "lensFNumber",
        8.0_f64.sqrt(),
        Some(8.0_f64.sqrt() * 0.1 * std::f64::consts::LN_2 / 2.0),
        "nominal",
    );
}

/// The two are compared, so they count from one place: without a shift that is the mark. The bare lens keeps its pupil.
#[test]
fn depth_of_the_same_view_is_the_same_without_a_shift() {
    let words = [
        "--lens",
        "50",
        "--pupil",
        "40.77",
        "--reducer",
        "0.71",
        "--stop",
        "f/1.4",
        "--sensor",
        "26.2x13.8",
        "--focus",
        "0.5m",
    ];
    let all: Vec<&str> = ["optics", "--json"].into_iter().chain(words).collect();
    let output = lensmend(&all);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let told: Json = serde_json::from_slice(&output.stdout).unwrap();
    let limit =
        |side: usize, field: &str| told["sides"][side]["fields"][field]["value"].as_f64().unwrap();
    for field in ["nearLimit", "farLimit"] {
        assert!((limit(1, field) - limit(2, field)).abs() < 1e-8, "{field}");
    }
    let bare = &told["sides"][0]["fields"];
    assert_eq!(bare["pupilOffset"]["value"], 40.77);
    // By hand, docs/optics.md: u = 500 - 40.77, H = (50 / N) 50 / c with c a part of 1500 of the diagonal.
    let u = 500.0 - 40.77;
    let c = 26.2_f64.hypot(13.8) / 1500.0;
    let h = 50.0 / 2.0_f64.sqrt() * 50.0 / c;
    let near = (u * h / (h + u) + 40.77) / 1000.0;
    assert!((limit(0, "nearLimit") - near).abs() < 1e-9, "{near}");
    let words = told["cautions"].to_string();
    assert!(words.contains("Behind the attachment, and in the same view"), "{words}");
    assert!(!words.contains("its place is not known"), "{words}");
}

/// Between two openings of the kit there is no mark that could stand for anything.
#[test]
fn an_opening_between_two_marks_is_no_mark() {
    let folder = tempfile::tempdir().unwrap();
    let kit = folder.path().join("kit.toml");
    fs::write(&kit, KIT).unwrap();
    let kit = kit.to_string_lossy().into_owned();
    let said = |focal: &str, stop: &str| {
        let output = lensmend(&[
            "optics", "--kit", &kit, "--lens", "zoom", "--focal", focal, "--stop", stop,
        ]);
        String::from_utf8(output.stdout).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let between = said("40", "wo");
    assert!(between.contains("Wide open at this focal length is f/2.83"), "{between}");
    assert!(!between.contains("stands for"), "{between}");
    assert!(said("20", "wo").contains("The mark f/2 stands for exactly 2."));
    assert!(said("40", "f/4").contains("The mark f/4 stands for exactly 4."));
}
