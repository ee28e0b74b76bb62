//! What must hold for every set-up, asked of the built program with random lenses, attachments, sensors and rings.
//! Arithmetic on the formulas of docs/optics.md, Gaussian optics; no numbers of the program's own are believed.
#![allow(
    clippy::disallowed_methods,
    reason = "tests read and write files of their own, and reckon a second time"
)]

use std::fs;

use proptest::prelude::*;
use serde_json::Value as Json;

use crate::workshop::lensmend;

/// What is printed is rounded to nine digits; two of them may meet in a result.
const PRINTED: f64 = 3e-8;

fn told(arguments: &[&str]) -> Json {
    let all: Vec<&str> = ["optics", "--json"].iter().chain(arguments).copied().collect();
    let output = lensmend(&all);
    // One says that something needs a person, such as glass that may strike glass.
    assert_ne!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn side(told: &Json, which: &str) -> Json {
    let sides = told["sides"].as_array().unwrap();
    sides.iter().find(|side| side["which"] == which).unwrap()["fields"].clone()
}

fn value(fields: &Json, field: &str) -> f64 {
    let value = &fields[field]["value"];
    let endless = value == "infinity";
    value
        .as_f64()
        .or(endless.then_some(f64::INFINITY))
        .unwrap_or_else(|| panic!("no {field} in {fields}"))
}

fn same(got: f64, want: f64) -> bool {
    within(got, want, PRINTED)
}

fn within(got: f64, want: f64, part: f64) -> bool {
    (got.is_infinite() && want.is_infinite()) || (got - want).abs() <= part * want.abs()
}

/// A lens in words, set and pointed.
#[derive(Clone, Copy, Debug)]
struct Words {
    focal: f64,
    n: f64,
    /// The T-number over the f-number.
    loss: f64,
    circle: f64,
    sensor: (f64, f64),
    /// Metres from the mark.
    focus: f64,
    pupil: f64,
    blur: f64,
}

impl Words {
    fn asked(&self, more: &[&str]) -> Json {
        let n = format!("f/{:.9}", self.n);
        let t = format!("T{:.9}", self.n * self.loss);
        let (w, h) = self.sensor;
        let typed = [
            ("--lens", self.focal.to_string()),
            ("--stop", n),
            ("--stop", t),
            ("--circle", self.circle.to_string()),
            ("--sensor", format!("{w}x{h}")),
            ("--focus", format!("{:.6} m", self.focus)),
            ("--pupil", self.pupil.to_string()),
            ("--blur", self.blur.to_string()),
        ];
        let mut words: Vec<&str> =
            typed.iter().flat_map(|(option, value)| [*option, value.as_str()]).collect();
        words.extend(more);
        told(&words)
    }
}

prop_compose! {
    fn lenses()(
        focal in 15.0..150.0f64, n in 1.0..11.0f64, loss in 1.0..1.5f64, circle in 20.0..60.0f64,
        w in 12.0..36.0f64, h in 8.0..24.0f64, focus in 1_000..20_000_u32, pupil in -20.0..90.0f64, blur in 0.01..0.05f64,
    ) -> Words {
        Words { focal, n, loss, circle, sensor: (w, h), focus: f64::from(focus) / 1000.0, pupil, blur }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// A plain adapter of the right thickness: every number and every doubt stays what it was.
    #[test]
    fn a_magnification_of_one_changes_nothing(
        focal in 15.0..150.0f64, unit_focus: bool, squeeze in prop::sample::select(vec![1.0, 1.33, 2.0]),
        circle in 15.0..60.0f64, width in 12.0..36.0f64, stop in prop::sample::select(vec!["f/2", "f/5.6", "T2.8"]),
        focus in 1.0..20.0f64, off in 0.01..3.0f64,
    ) {
        let kit = format!("
[[mount]]\nid = 'lens'\nflange = 44\n[[mount]]\nid = 'body'\nflange = 18
[[camera]]\nid = 'A'\nmount = 'body'\n[[camera.mode]]\nid = 'm'\nraster = '4000x2000'\nwidth = {width}\nheight = 12
[[lens]]\nid = 'one'\nmount = 'lens'\nfocal = {focal}\nmeasured-focal = {focal}\nmeasured-focal-uncertainty = {off}
f-max = 1.4\ntransmittance = 0.8\nimage-circle = {circle}\npupil-offset = 30\nsqueeze = {squeeze}\nunit-focus = {unit_focus}
[[attachment]]\nid = 'tube'\nkind = 'adapter'\nlens-mount = 'lens'\nbody-mount = 'body'\nshift = 0\nshift-uncertainty = 0\n");
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("kit.toml");
        fs::write(&file, kit).unwrap();
        let (file, focus) = (file.to_string_lossy().into_owned(), format!("{focus:.6} m"));
        let told = told(&["--kit", &file, "--lens", "one", "--camera", "A", "--attachment", "tube", "--stop", stop, "--focus", &focus]);
        let (bare, behind) = (side(&told, "bare"), side(&told, "behind"));
        let mut numbers = 0;
        for (field, cell) in bare.as_object().unwrap() {
            for member in ["value", "uncertainty"] {
                let other = &behind[field.as_str()][member];
                match (cell[member].as_f64(), other.as_f64()) {
                    (Some(a), Some(b)) => {
                        prop_assert!(same(a, b), "{} {}: {} and {}", field, member, a, b);
                        numbers += 1;
                    }
                    (None, None) => {}
                    (a, b) => prop_assert!(false, "{field} {member}: {a:?} and {b:?}"),
                }
            }
        }
        prop_assert!(numbers > 25, "{numbers}: {bare}");
    }

    /// A reducer of m, and an extender of 1/m behind it: focal length, stops, circle and view are those of the lens alone.
    #[test]
    fn there_and_back_is_where_one_was(lens in lenses(), m in 0.4..0.98f64) {
        // The stop behind is typed in again, and a stop below f/0.5 is none.
        prop_assume!(lens.n * m > 0.51);
        let (reducer, extender) = (m.to_string(), (1.0 / m).to_string());
        let first = lens.asked(&["--reducer", &reducer, "--glass", "1"]);
        let (bare, there) = (side(&first, "bare"), side(&first, "behind"));
        let as_lens = Words {
            focal: value(&there, "focalLength"),
            n: value(&there, "fNumber"),
            loss: value(&there, "tNumber") / value(&there, "fNumber"),
            circle: value(&there, "imageCircle"),
            ..lens
        };
        let second = as_lens.asked(&["--extender", &extender, "--glass", "1"]);
        // A number that happens to be a mark would be taken for the exact one behind it.
        prop_assume!(same(value(&side(&second, "bare"), "fNumber"), as_lens.n));
        let back = side(&second, "behind");
        let fields = [
            "focalLength", "fNumber", "tNumber", "imageCircle", "coverage", "angleHorizontal", "angleVertical",
            "angleDiagonal", "equivalentFocalLength",
        ];
        for field in fields {
            let (got, want) = (value(&back, field), value(&bare, field));
            prop_assert!(same(got, want), "{}: {} and {}", field, got, want);
        }
    }

    /// Same ring, same object, blur scaled with the picture: near and far stay where they are in the scene. The sensor
    /// comes forward by the shift, so every tape from its mark is so much shorter.
    #[test]
    fn depth_of_field_stays_behind_an_attachment(lens in lenses(), m in 0.4..0.98f64, microns in 0..20_000_u32) {
        let shift = f64::from(microns) / 1000.0;
        let bare = side(&lens.asked(&[]), "bare");
        let nearer = Words { focus: lens.focus - shift / 1000.0, blur: m * lens.blur, ..lens };
        let (m, by) = (m.to_string(), shift.to_string());
        let behind = side(&nearer.asked(&["--reducer", &m, "--shift", &by]), "behind");
        for field in ["nearLimit", "farLimit", "hyperfocal"] {
            let (got, want) = (value(&behind, field) + shift / 1000.0, value(&bare, field));
            // A far limit near infinity moves by more than the digits that are printed.
            let tolerance = if want > 1000.0 { 1e-4 } else { 1e-6 };
            prop_assert!(within(got, want, tolerance), "{}: {} and {}", field, got, want);
        }
    }

    #[test]
    fn no_glass_makes_t_wider_than_f(lens in lenses(), m in 0.4..0.98f64, glass in 0.01..=1.0f64) {
        let (m, glass) = (m.to_string(), glass.to_string());
        let behind = side(&lens.asked(&["--reducer", &m, "--glass", &glass]), "behind");
        prop_assert!(value(&behind, "tNumber") >= value(&behind, "fNumber") * (1.0 - PRINTED));
        // And the light lost in T is what the glass takes.
        let stops = (value(&behind, "tNumber") / value(&behind, "fNumber")).log2() * 2.0;
        let want = 2.0 * lens.loss.log2() - glass.parse::<f64>().unwrap().log2();
        prop_assert!((stops - want).abs() < 1e-6, "{} and {}", stops, want);
    }

    /// More of one thing, and what it must do.
    #[test]
    fn more_of_one_moves_the_others_one_way(lens in lenses(), m in 0.4..0.9f64, more in 1.02..1.5f64) {
        let through = |lens: &Words, m: f64, glass: f64| {
            let (m, glass) = (m.to_string(), glass.to_string());
            side(&lens.asked(&["--reducer", &m, "--glass", &glass, "--shift", "5"]), "behind")
        };
        let base = through(&lens, m, 0.6);
        let rises = |other: &Json, fields: &[&str], up: bool, why: &str| {
            for field in fields {
                let (a, b) = (value(&base, field), value(other, field));
                let holds = if up { b > a || (a.is_infinite() && b.is_infinite()) } else { b < a };
                assert!(holds, "{why}: {field} goes from {a} to {b}; {lens:?}, m {m}, {more} times");
            }
        };
        let angles = ["angleHorizontal", "angleVertical", "angleDiagonal"];

        let closed = through(&Words { n: lens.n * more, ..lens }, m, 0.6);
        rises(&closed, &["fNumber", "tNumber", "farLimit"], true, "stopped down");
        rises(&closed, &["nearLimit", "hyperfocal"], false, "stopped down");

        let longer = through(&Words { focal: lens.focal * more, ..lens }, m, 0.6);
        rises(&longer, &["focalLength", "nearLimit", "hyperfocal", "equivalentFocalLength"], true, "longer");
        rises(&longer, &angles, false, "longer");

        let stronger = through(&lens, m / more, 0.6);
        rises(&stronger, &angles, true, "a stronger reducer");
        rises(&stronger, &["lightGain"], true, "a stronger reducer");
        rises(&stronger, &["focalLength", "fNumber", "tNumber", "imageCircle", "coverage"], false, "a stronger reducer");

        let clearer = through(&lens, m, 0.6 * more);
        rises(&clearer, &["lightGain"], true, "clearer glass");
        rises(&clearer, &["tNumber"], false, "clearer glass");

        let blurred = through(&Words { blur: lens.blur * more, ..lens }, m, 0.6);
        rises(&blurred, &["farLimit"], true, "a larger blur");
        rises(&blurred, &["nearLimit", "hyperfocal"], false, "a larger blur");

        let farther = through(&Words { focus: lens.focus * more, ..lens }, m, 0.6);
        rises(&farther, &["nearLimit", "farLimit"], true, "focused farther");

        let (w, h) = lens.sensor;
        let larger = through(&Words { sensor: (w * more, h * more), ..lens }, m, 0.6);
        rises(&larger, &angles, true, "a larger sensor");
        rises(&larger, &["coverage", "cropWidth", "cropDiagonal"], false, "a larger sensor");
    }
}
