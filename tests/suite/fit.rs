//! What goes on what, and what it covers: arithmetic on flange depths, gates and image circles.

use lensmend::finding::Level;
use lensmend::kit::fit::Fitting::{self, DoesNotFit, Fits, Unknown};
use lensmend::kit::fit::Weight::{self, Caution, Open, Refuses, Wrong};
use lensmend::kit::fit::{Fit, Remark, fit};
use lensmend::kit::{self, Kit};
use lensmend::prep::{Coverage, prepare};

/// Flange depths: 52 and 19.25 mm are those of the arithmetic in the table below; the others are invented.
const MOUNTS: &str = "
    [[mount]]
    id = 'cine-52'
    flange = 52.00
    [[mount]]
    id = 'body-19'
    flange = 19.25
    [[mount]]
    id = 'near-20'
    flange = 20.5
    [[mount]]
    id = 'shallow-18'
    flange = 18.0
    ";

fn read(entries: &str) -> Kit {
    let found = kit::parse("kit.toml", format!("{MOUNTS}{entries}").as_bytes());
    let faults: Vec<_> = found.findings.iter().filter(|f| f.level() == Level::Fault).collect();
    assert!(faults.is_empty(), "{entries}: {faults:?}");
    found.value
}

fn judged(camera: &str, lens: &str, attachment: &str) -> Fit {
    let attachment = if attachment.is_empty() {
        String::new()
    } else {
        format!("[[attachment]]\nid = 'between'\n{attachment}\n")
    };
    let kit = read(&format!(
        "[[camera]]\nid = 'A'\n{camera}\n[[lens]]\nid = 'one'\nfocal = 50\n{lens}\n{attachment}"
    ));
    fit(&kit, &kit.cameras[0], &kit.lenses[0], kit.attachments.first())
}

const BODY: &str = "mount = 'body-19'";
const LENS: &str = "mount = 'cine-52'\nrear-protrusion = 3";
const ADAPTER: &str = "kind = 'adapter'\nlens-mount = 'cine-52'\nbody-mount = 'body-19'";
const REDUCER: &str =
    "kind = 'reducer'\nmagnification = 0.71\nlens-mount = 'cine-52'\nbody-mount = 'body-19'";

/// Camera, lens, attachment, with more keys for the last; verdict; weight and words of one remark, or no remark at all.
type Case<'a> = (&'a str, &'a str, &'a str, &'a str, Fitting, Option<(Weight, &'a str)>);

/// A lens with the mount of the camera and a flat rear.
const FLAT: &str = "mount = 'body-19'\nrear-protrusion = 0";

const CASES: &[Case<'_>] = &[
    // Mounts by name, on every side.
    (BODY, FLAT, "", "", Fits, None),
    (BODY, LENS, "", "", DoesNotFit, Some((Refuses, "has mount cine-52, the camera has body-19"))),
    (
        BODY,
        "mount = 'near-20'",
        ADAPTER,
        "thickness = 32.75",
        DoesNotFit,
        Some((Refuses, "takes cine-52")),
    ),
    (
        "mount = 'near-20'",
        LENS,
        ADAPTER,
        "thickness = 31.5",
        DoesNotFit,
        Some((Refuses, "goes on body-19")),
    ),
    (BODY, "", "", "", Unknown, Some((Open, "mount of the lens is not in the kit"))),
    ("", FLAT, "", "", Unknown, Some((Open, "mount of the camera is not in the kit"))),
    (
        BODY,
        LENS,
        "kind = 'adapter'\nbody-mount = 'body-19'",
        "",
        Unknown,
        Some((Open, "which lenses the adapter takes")),
    ),
    (
        BODY,
        LENS,
        "kind = 'adapter'\nlens-mount = 'cine-52'",
        "",
        Unknown,
        Some((Open, "which cameras the adapter goes on")),
    ),
    // 52.00 - 19.25 = 32.75: thickness of a plain adapter = flange of the lens - flange of the camera (arithmetic).
    (
        BODY,
        LENS,
        ADAPTER,
        "thickness = 32.75",
        Fits,
        Some((Caution, "room inside the camera's mount")),
    ),
    (
        BODY,
        LENS,
        ADAPTER,
        "thickness = 32.79",
        Fits,
        Some((Caution, "room inside the camera's mount")),
    ),
    (
        BODY,
        LENS,
        ADAPTER,
        "thickness = 33.25",
        DoesNotFit,
        Some((Refuses, "33.25 mm thick and should be 32.75 mm: the lens will not reach infinity")),
    ),
    // A real adapter was measured 0.9 mm short of its nominal thickness, and was in use.
    (
        BODY,
        LENS,
        ADAPTER,
        "thickness = 31.85",
        Fits,
        Some((Wrong, "focuses past infinity and its focus scale reads wrong")),
    ),
    (BODY, LENS, ADAPTER, "shift = 0.9", Fits, Some((Wrong, "31.85 mm thick"))),
    (
        BODY,
        LENS,
        ADAPTER,
        "",
        Unknown,
        Some((Open, "nobody knows whether the lens reaches infinity")),
    ),
    // A lens mount that is not deeper cannot be adapted by spacing (an adapter that says so of itself is a fault of the kit); one a little deeper hardly (common practice).
    (
        BODY,
        "mount = 'shallow-18'",
        "kind = 'adapter'\nbody-mount = 'body-19'",
        "thickness = 1",
        DoesNotFit,
        Some((Refuses, "18 mm deep and that of the camera 19.25 mm")),
    ),
    (
        BODY,
        "mount = 'near-20'",
        "kind = 'adapter'\nlens-mount = 'near-20'\nbody-mount = 'body-19'",
        "thickness = 1.25",
        Fits,
        Some((Caution, "only 1.25 mm lie between the two flanges")),
    ),
    // Glass shifts by an amount of its own: never from the magnification alone.
    (
        BODY,
        LENS,
        REDUCER,
        "front-clearance = 6",
        Unknown,
        Some((Open, "thickness of the reducer is not in the kit")),
    ),
    (BODY, LENS, REDUCER, "front-clearance = 6\nthickness = 25.5", Fits, None),
    (BODY, LENS, REDUCER, "front-clearance = 6\nshift = 7.25", Fits, None),
    (BODY, LENS, REDUCER, "front-clearance = 6\nshift = 7.25\nthickness = 25.5", Fits, None),
    (
        BODY,
        LENS,
        REDUCER,
        "front-clearance = 6\nshift = 3.9\nthickness = 25.5",
        Fits,
        Some((Wrong, "by 3.9 mm, but from its thickness it is 7.25 mm")),
    ),
    // Glass can strike glass.
    (
        BODY,
        LENS,
        REDUCER,
        "front-clearance = 3\nshift = 7",
        DoesNotFit,
        Some((Refuses, "reaches 3 mm behind its flange, the reducer has room for 3 mm")),
    ),
    (
        BODY,
        LENS,
        REDUCER,
        "front-clearance = 3.4\nshift = 7",
        Fits,
        Some((Caution, "only 0.4 mm lie between")),
    ),
    (
        BODY,
        LENS,
        REDUCER,
        "shift = 7",
        Unknown,
        Some((Open, "the room in front of the glass is not in the kit")),
    ),
    (
        BODY,
        "mount = 'cine-52'",
        REDUCER,
        "front-clearance = 3\nshift = 7",
        Unknown,
        Some((Open, "how far the rear of the lens reaches")),
    ),
    (BODY, "mount = 'cine-52'", REDUCER, "shift = 7", Unknown, Some((Open, "neither how far"))),
    (BODY, "mount = 'body-19'", "", "", Fits, Some((Caution, "room inside the camera's mount"))),
];

#[test]
fn verdicts_and_remarks() {
    for (camera, lens, attachment, more, verdict, remark) in CASES {
        let found = judged(camera, lens, format!("{attachment}\n{more}").trim());
        let case = format!("{lens} {attachment} {more}: {found:?}");
        assert_eq!(found.verdict, *verdict, "{case}");
        match remark {
            None => assert!(found.remarks.is_empty(), "{case}"),
            Some((weight, words)) => {
                let holds = |r: &&Remark| r.weight == *weight && r.message.contains(words);
                assert!(found.remarks.iter().any(|r| holds(&r)), "{case}");
                assert!(found.remarks.iter().all(|r| !r.advice.is_empty()), "{case}");
            }
        }
    }
}

#[test]
fn what_is_not_known_of_glass_calls_for_hands() {
    for (lens, more) in [("", ""), ("rear-protrusion = 3", ""), ("", "front-clearance = 3")] {
        let found = judged(
            BODY,
            &format!("mount = 'cine-52'\n{lens}"),
            &format!("{REDUCER}\nshift = 7\n{more}"),
        );
        let care = "glass can strike glass: test-fit gently, by hand, before the shoot, as the maker of each advises";
        assert!(found.remarks.iter().any(|remark| remark.advice == care), "{found:?}");
    }
}

fn covered(circle: f64, m: Option<f64>, width: f64, height: f64) -> Coverage {
    let attachment = m.map_or(String::new(), |m| {
        format!("[[attachment]]\nid = 'r'\nkind = 'reducer'\nmagnification = {m}\nlens-mount = 'cine-52'\nbody-mount = 'body-19'\n")
    });
    let mount = if m.is_some() { "cine-52" } else { "body-19" };
    let kit = read(&format!(
        "[[camera]]\nid = 'A'\nmount = 'body-19'\n[[camera.mode]]\nid = 'gate'\nraster = '2000x1500'\n\
         width = {width}\nheight = {height}\n[[lens]]\nid = 'one'\nmount = '{mount}'\nfocal = 50\n\
         image-circle = {circle}\n{attachment}"
    ));
    let prep = prepare(&kit, None, None, "kit.toml").unwrap();
    let way =
        prep.cameras[0].ways.iter().find(|way| way.attachment.is_some() == m.is_some()).unwrap();
    way.outlook.as_ref().unwrap().coverage[0].clone()
}

#[test]
fn circles_against_gates() {
    // Gates of ISO 1007 (36 x 24) and of Super 35, 4 perforations; differences of diameters by arithmetic.
    for (circle, m, (width, height), margin, covers, borderline) in [
        (43.3, Some(0.71), (24.892, 18.669), -0.372, false, false),
        (31.1, Some(0.71), (17.3, 13.0), 0.441, true, false),
        (31.1, None, (24.892, 18.669), -0.015, false, true),
        (43.3, None, (36.0, 24.0), 0.033, true, true),
    ] {
        let found = covered(circle, m, width, height);
        let case = format!("{circle} x {m:?} on {width} x {height}: {found:?}");
        assert!((found.margin.unwrap().get() - margin).abs() < 6e-4, "{case}");
        assert_eq!(found.dark.is_none(), covers, "{case}");
        // The reducer's magnification is good to 1.2 % (default), so a margin within that is borderline too.
        if m.is_none() {
            assert_eq!(found.borderline(), borderline, "{case}");
        }
        if let (Some(dark), Some(pixels)) = (&found.dark, &found.dark_pixels) {
            assert!((dark.value.get() + margin / 2.0).abs() < 3e-4, "{case}");
            let scale = 2000.0 / width;
            assert!((pixels.value.get() - dark.value.get() * scale).abs() < 1e-9, "{case}");
        }
    }
}

#[test]
fn stops_behind_an_attachment_are_never_mixed_up() {
    let kit = |lens: &str, more: &str| {
        read(&format!(
            "[[camera]]\nid = 'A'\nmount = 'body-19'\n[[lens]]\nid = 'one'\nfocal = 50\n{LENS}\n{lens}\n\
             [[attachment]]\nid = 'r'\n{REDUCER}\nthickness = 25.5\nfront-clearance = 9\n{more}"
        ))
    };
    // f/1.4 x 0.71 = 1.0041; T1.5 x 0.71 / sqrt(0.95) = 1.092667 (arithmetic).
    for (lens, more, f, t) in [
        ("f-max = 1.4", "transmittance = 0.95", Some(1.0041), None),
        ("t-max = 1.5", "transmittance = 0.95", None, Some(1.092_667)),
        ("t-max = 1.5", "", None, None),
        ("f-max = 1.4\nt-max = 1.5", "transmittance = 0.95", Some(1.0041), Some(1.092_667)),
        ("", "transmittance = 0.95", None, None),
    ] {
        let kit = kit(lens, more);
        let prep = prepare(&kit, None, None, "kit.toml").unwrap();
        let way = prep.cameras[0].ways.iter().find(|way| way.attachment.is_some()).unwrap();
        let outlook = way.outlook.as_ref().unwrap();
        let near = |found: Option<f64>, want: Option<f64>| match (found, want) {
            (Some(found), Some(want)) => (found - want).abs() < 5e-5,
            (found, want) => found == want,
        };
        assert!(
            near(outlook.f_number.as_ref().map(|(n, _)| n.value.get()), f),
            "{lens} {more}: {outlook:?}"
        );
        assert!(
            near(outlook.t_number.as_ref().map(|(n, _)| n.value.get()), t),
            "{lens} {more}: {outlook:?}"
        );
        let (short, long) = outlook.focal.as_ref().unwrap();
        assert!((short.value.get() - 35.5).abs() < 1e-9 && short == long, "{outlook:?}");
    }
}

#[test]
fn a_kit_too_large_to_read_is_refused() {
    use std::fmt::Write as _;
    let mut text = "[[camera]]\nid = 'A'\n".to_owned();
    for n in 0..300 {
        write!(
            text,
            "[[lens]]\nid = 'l{n}'\nfocal = 50\n[[attachment]]\nid = 'a{n}'\nkind = 'adapter'\n"
        )
        .unwrap();
    }
    let kit = read(&text);
    let error = prepare(&kit, None, None, "kit.toml").unwrap_err().to_string();
    assert!(error.contains("--lens"), "{error}");
    assert!(prepare(&kit, None, kit.lenses.first(), "kit.toml").is_ok());
}
