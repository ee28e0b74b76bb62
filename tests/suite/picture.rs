//! Drawings: well-formed, true to scale, and safe whatever is written in them.
//!
//! They are left in `target/tmp/drawings`, to be looked at in a browser: light, dark and printed.
#![allow(clippy::disallowed_methods, reason = "drawings are kept in the build folder")]

use std::fs;
use std::path::Path;
use std::process::Command;

use lensmend::output::picture::{Circle, Dark, Picture, Plate, View, picture};
use lensmend::output::residuals::{Point, Series, plot};
use lensmend::units::{Meters, Millimeters, Offset};
use proptest::prelude::*;
use quick_xml::events::Event;

use crate::workshop::{in_ci, note};

fn mm(v: f64) -> Millimeters {
    Millimeters::new(v).unwrap()
}

pub(crate) fn view(label: &str, size: (f64, f64), circle: Option<f64>, lines: &[&str]) -> View {
    let diagonal = size.0.hypot(size.1);
    let dark = circle.filter(|circle| *circle < diagonal).map(|circle| {
        let lost = (diagonal - circle) / 2.0;
        Dark { lost: mm(lost), pixels: Some(lost / 0.006) }
    });
    View {
        label: label.to_owned(),
        width: mm(size.0),
        height: mm(size.1),
        circle: circle.map(|d| Circle { diameter: mm(d), exit_limited: false }),
        plate: None,
        dark_sides: None,
        dark_top_bottom: None,
        dark,
        lines: lines.iter().map(|&line| line.to_owned()).collect(),
    }
}

fn set_up() -> Picture {
    let size = (24.892, 18.669);
    let bare = view(
        "bare",
        size,
        Some(43.3),
        &["50 mm, f/1.41, T1.5", "27.96\u{b0} \u{d7} 21.15\u{b0}", "crop 1.446 by width"],
    );
    let mut behind = view(
        "behind Tern Optics reducer 0.71\u{d7}",
        size,
        Some(30.743),
        &[
            "35.5 mm \u{b1} 1.4, f/1.00, T1.09",
            "38.64\u{b0} \u{d7} 29.46\u{b0}",
            "crop 1.027 by width",
        ],
    );
    behind.circle = behind.circle.map(|circle| Circle { exit_limited: true, ..circle });
    behind.plate = Some(Plate {
        width: mm(22.0),
        height: mm(9.2),
        right: Offset::new(0.5).unwrap(),
        down: Offset::new(-1.0).unwrap(),
    });
    Picture {
        title: "Halden 50 mm T1.5 on Orrin Two, 4-perf".to_owned(),
        scenes: vec![bare, behind],
    }
}

pub(crate) const HOSTILE: &str = "<script>alert(1)</script> & \"quoted\" 'single' ]]> \u{1b}[2J\u{0}\u{202e}gnp.\u{fffe}\u{200f} \u{1f3a5}";

/// Every drawing that is worth a look, with a name.
fn drawings() -> Vec<(&'static str, String)> {
    let one = |scenes: Vec<View>| picture(&Picture { title: "Three gates".to_owned(), scenes });
    let long = "A lens of the Saltmarsh company whose name goes on and on ".repeat(9);
    let hostile = view(HOSTILE, (36.0, 24.0), Some(30.0), &[HOSTILE, &"W".repeat(900)]);
    let mut deep = view(&long, (36.0, 24.0), Some(43.3), &[&long, "f/2"]);
    deep.dark = None;
    vec![
        ("set-up", picture(&set_up())),
        ("one", one(vec![view("bare", (26.2, 13.8), None, &["50 mm"])])),
        (
            "three",
            one(vec![
                view("tiny", (6.0, 4.0), Some(8.0), &[]),
                view("huge", (60.0, 45.0), Some(70.0), &["110 mm"]),
                view("middle", (36.0, 24.0), Some(20.0), &["circle inside of the area"]),
            ]),
        ),
        (
            "tiny",
            one(vec![
                view("tiny", (6.0, 4.0), Some(6.5), &[]),
                view("far", (6.0, 4.0), Some(43.3), &[]),
            ]),
        ),
        ("long", picture(&Picture { title: long.clone(), scenes: vec![deep.clone(), deep] })),
        ("hostile", picture(&Picture { title: HOSTILE.to_owned(), scenes: vec![hostile] })),
        ("nothing", picture(&Picture { title: String::new(), scenes: Vec::new() })),
        ("residuals", plot(&series())),
        ("residuals-hostile", plot(&hostile_series())),
        ("residuals-nothing", plot(&[])),
    ]
}

fn point(distance: f64, residual: f64, error: Option<f64>) -> Point {
    Point { distance: Meters::new(distance).unwrap(), residual, error }
}

fn series() -> Vec<Series> {
    let points = |shots: &[(f64, f64)], error| {
        shots.iter().map(|(d, r)| point(*d, *r, Some(error))).collect::<Vec<_>>()
    };
    vec![
        Series {
            label: "bare".to_owned(),
            points: points(&[(1.0, 0.31), (1.5, -0.62), (2.0, 0.18), (3.0, 0.44), (4.0, -0.29)], 0.5),
            note: "p 50.012 \u{b1} 0.021 mm, pupil 40.75 \u{b1} 0.05 mm from the sensor plane, 5 shots"
                .to_owned(),
        },
        Series {
            label: "Tern Optics reducer 0.71\u{d7}".to_owned(),
            points: points(&[(1.0, -0.4), (1.5, 1.31), (2.0, -0.72), (3.0, -0.3), (4.0, 0.1)], 0.5),
            note: "p 35.49 \u{b1} 0.02 mm, m 0.7098 \u{b1} 0.0005".to_owned(),
        },
    ]
}

fn hostile_series() -> Vec<Series> {
    vec![
        Series {
            label: HOSTILE.to_owned(),
            points: vec![
                point(2.0, f64::NAN, None),
                point(2.0, 1e300, Some(1.0)),
                point(f64::INFINITY, 0.0, None),
                point(2.0, 0.0, Some(f64::INFINITY)),
                point(2.5, 0.0, None),
            ],
            note: HOSTILE.repeat(30),
        },
        Series { label: String::new(), points: Vec::new(), note: String::new() },
        Series {
            label: "third".to_owned(),
            points: vec![point(2.5, 1e-14, Some(0.0))],
            note: String::new(),
        },
        Series {
            label: "fourth".to_owned(),
            points: vec![point(2.5, 0.0, None)],
            note: String::new(),
        },
    ]
}

/// Elements with their attributes, in order; the depth is checked on the way.
pub(crate) fn elements(svg: &str) -> Vec<(String, Vec<(String, String)>)> {
    let mut reader = quick_xml::Reader::from_str(svg);
    reader.config_mut().check_end_names = true;
    let (mut found, mut depth) = (Vec::new(), 0_i32);
    loop {
        let event = reader.read_event().unwrap_or_else(|e| panic!("{e} in {svg}"));
        let start = match &event {
            Event::Start(start) => {
                depth += 1;
                start
            }
            Event::Empty(start) => start,
            Event::End(_) => {
                depth -= 1;
                continue;
            }
            Event::Eof => break,
            _ => continue,
        };
        let attributes = start.attributes().map(|attribute| {
            let attribute = attribute.unwrap();
            (attribute.key.as_ref().to_owned(), attribute.value.into_owned())
        });
        found.push((start.name().as_ref().to_owned(), attributes.collect()));
    }
    assert_eq!(depth, 0, "{svg}");
    found
}

/// The numbers `names` of each element `kind` of a class.
pub(crate) fn numbers(svg: &str, kind: &str, class: &str, names: &[&str]) -> Vec<Vec<f64>> {
    let get = |attributes: &[(String, String)], name: &str| {
        attributes.iter().find(|(key, _)| key == name).map(|(_, value)| value.clone())
    };
    elements(svg)
        .iter()
        .filter(|(name, attributes)| {
            name == kind && get(attributes, "class").as_deref() == Some(class)
        })
        .map(|(_, attributes)| {
            names.iter().map(|name| get(attributes, name).unwrap().parse().unwrap()).collect()
        })
        .collect()
}

#[test]
fn drawings_are_well_formed_and_point_nowhere() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("drawings");
    fs::create_dir_all(&folder).unwrap();
    for (name, svg) in drawings() {
        let elements = elements(&svg);
        assert_eq!(elements.first().map(|(name, _)| name.as_str()), Some("svg"), "{name}");
        for (element, attributes) in &elements {
            assert!(
                !["script", "image", "use", "a", "foreignObject", "animate"]
                    .contains(&element.as_str()),
                "{name}: {element}"
            );
            for (key, value) in attributes {
                assert!(!key.starts_with("on") && !key.ends_with("href"), "{name}: {key}");
                assert!(
                    !value.contains("url(") || value == "url(#lensmend-hatch)",
                    "{name}: {value}"
                );
                assert!(!value.contains("NaN") && !value.contains("inf"), "{name}: {key}={value}");
            }
        }
        assert!(!svg.contains("@import") && svg.matches("http").count() == 1, "{name}");
        assert_eq!(svg.matches("<style>").count(), 1, "{name}");
        let steers =
            |c: char| c.is_control() && c != '\n' || "\u{202e}\u{200f}\u{fffe}".contains(c);
        assert!(!svg.contains(steers), "{name} can steer");
        let file = folder.join(name).with_extension("svg");
        fs::write(&file, &svg).unwrap();
        strict(&file);
    }
    assert_eq!(drawings(), drawings(), "same bytes twice");
}

/// A second, strict XML parser.
pub(crate) fn strict(file: &Path) {
    match Command::new("xmllint").args(["--noout", "--nonet"]).arg(file).output() {
        Ok(said) => assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr)),
        Err(_) if !in_ci() => note("no xmllint, so drawings were read by one XML parser only"),
        Err(missing) => panic!("xmllint: {missing}; run tests/run"),
    }
}

#[test]
fn hostile_words_are_shown_and_not_obeyed() {
    let svg = picture(&Picture {
        title: HOSTILE.to_owned(),
        scenes: vec![view(HOSTILE, (36.0, 24.0), None, &[])],
    });
    assert!(
        svg.contains("&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;quoted&quot;"),
        "{svg}"
    );
    assert!(svg.contains("\\u{1b}[2J\\u{0}\\u{202e}gnp."), "{svg}");
    assert!(svg.contains("image circle not known"), "{svg}");
    assert!(numbers(&svg, "circle", "circle", &["r"]).is_empty());
}

#[test]
fn one_millimetre_is_the_same_everywhere() {
    let svg = picture(&set_up());
    let areas = numbers(&svg, "rect", "ink", &["width", "height", "x", "y"]);
    let circles = numbers(&svg, "circle", "circle", &["r", "cx", "cy"]);
    let plates = numbers(&svg, "rect", "plate", &["width", "height", "x", "y"]);
    assert_eq!((areas.len(), circles.len(), plates.len()), (2, 2, 1));
    let scale = areas[0][0] / 24.892;
    let near = |got: f64, want: f64| assert!((got / want - 1.0).abs() < 1e-3, "{got} {want}");
    for area in &areas {
        near(area[0] / scale, 24.892);
        near(area[1] / scale, 18.669);
        near(-area[2] * 2.0 / scale, 24.892);
        near(-area[3] * 2.0 / scale, 18.669);
    }
    near(circles[0][0] * 2.0 / scale, 43.3);
    near(circles[1][0] * 2.0 / scale, 30.743);
    assert!(circles.iter().all(|circle| circle[1] == 0.0 && circle[2] == 0.0));
    near(plates[0][0] / scale, 22.0);
    near((plates[0][2] + plates[0][0] / 2.0) / scale, 0.5);
    near((plates[0][3] + plates[0][1] / 2.0) / scale, -1.0);
    // The bar is the only bold line of this length.
    let lines = numbers(&svg, "line", "ink", &["x1", "x2", "y1", "y2"]);
    let bars = lines.iter().filter(|line| ((line[1] - line[0]) / scale - 10.0).abs() < 0.01);
    assert_eq!(bars.count(), 1, "{lines:?}");
    assert!(svg.contains("10 mm on the sensor"));
    // The circle of the second scene misses the corners by 0.186 mm: (31.115 - 30.743) / 2.
    assert!(svg.contains("dark corners, 0.19\u{a0}mm (31 px)"), "{svg}");
    assert_eq!(svg.matches("<path").count(), 1);
}

/// WCAG 2.2, 1.4.3 and its definition of contrast ratio: 4.5:1 on the paper, on lit ground and between hatches.
#[test]
fn colours_stand_out_light_dark_and_printed() {
    let svg = picture(&set_up());
    let luminance = |colours: &str, name: &str| {
        let (_, hex) = colours.split_once(&format!("--{name}:#")).unwrap();
        let part = |at: usize| {
            let byte = u8::from_str_radix(&hex[at..at + 2], 16).unwrap();
            let c = f64::from(byte) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { libm::pow((c + 0.055) / 1.055, 2.4) }
        };
        0.2126 * part(0) + 0.7152 * part(2) + 0.0722 * part(4)
    };
    let modes: Vec<&str> = svg.split(".lensmend{").skip(1).collect();
    assert_eq!(modes.len(), 3);
    for mode in modes {
        for (front, back) in [
            ("ink", "paper"),
            ("soft", "paper"),
            ("circle", "paper"),
            ("circle", "lit"),
            ("plate", "lit"),
            ("ink", "lit"),
            ("soft", "lit"),
            ("dark", "shade"),
        ] {
            let (a, b) = (luminance(mode, front), luminance(mode, back));
            let contrast = (a.max(b) + 0.05) / (a.min(b) + 0.05);
            assert!(contrast >= 4.5, "{front} on {back}: {contrast}");
        }
    }
}

#[test]
fn residuals_stand_where_the_axes_say() {
    let svg = plot(&series());
    let shots = numbers(&svg, "circle", "point", &["cx", "cy"]);
    // The mark beside the label, and five shots.
    assert_eq!(shots.len(), 6);
    let axis = |from: usize, to: usize| {
        (shots[to][0] - shots[from][0]) / (shots[to][1] - shots[from][1]).abs()
    };
    assert!(axis(1, 2).is_finite());
    let metre = (shots[5][0] - shots[1][0]) / 3.0;
    let pixel = (shots[1][1] - shots[2][1]) / (-0.62 - 0.31);
    assert!(((shots[3][0] - shots[1][0]) / metre - 1.0).abs() < 1e-3);
    assert!(((shots[1][1] - shots[3][1]) / pixel - (0.18 - 0.31)).abs() < 1e-3);
    assert!(numbers(&svg, "rect", "point", &["x"]).len() == 6, "squares for the second series");
    let hostile = plot(&hostile_series());
    assert!(hostile.contains("left out as far beyond any residual: 4 of the points"), "{hostile}");
}

proptest! {
    /// Whatever is measured, the drawing stays well-formed, finite and inside of its width.
    #[test]
    fn any_size_can_be_drawn(
        w in 1e-6_f64..1e7, h in 1e-6_f64..1e7, circle in proptest::option::of(1e-6_f64..1e9),
        title in ".{0,80}", label in "\\PC{0,60}",
    ) {
        let scenes = vec![view(&label, (w, h), circle, &[&title]), view(&title, (36.0, 24.0), Some(43.3), &[])];
        let svg = picture(&Picture { title, scenes });
        for (element, attributes) in elements(&svg) {
            for (key, value) in attributes {
                prop_assert!(!value.contains("NaN") && !value.contains("inf"), "{} {} {}", element, key, value);
            }
        }
        prop_assert!(svg.len() < 40_000);
    }

    #[test]
    fn any_residuals_can_be_plotted(shots in prop::collection::vec((1e-9_f64..1e12, -1e12_f64..1e12, proptest::option::of(0.0_f64..1e12)), 0..20)) {
        let points = shots.iter().map(|(d, r, e)| point(*d, *r, *e)).collect();
        let svg = plot(&[Series { label: "any".to_owned(), points, note: String::new() }]);
        for (_, attributes) in elements(&svg) {
            for (key, value) in attributes {
                prop_assert!(!value.contains("NaN") && !value.contains("inf"), "{} {}", key, value);
            }
        }
    }
}
