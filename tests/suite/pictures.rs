//! Pictures of a report: things stand where their axis says, few marks whatever the number of clips, safe whatever is written in them.
#![allow(clippy::disallowed_methods, reason = "drawings are kept in the build folder")]

use std::fs;
use std::path::Path;

use chrono::{Duration, NaiveDate, NaiveDateTime};
use lensmend::annotation::Verdict;
use lensmend::output::Drawing;
use lensmend::output::picture::Picture as Circles;
use lensmend::output::pictures::{Compared, Focals, Lane, LaneKind, Picture, Stretch, Timeline};
use lensmend::units::Millimeters;

use crate::picture::{HOSTILE, elements, numbers, strict, view};

fn at(minutes: i64) -> NaiveDateTime {
    let morning = NaiveDate::from_ymd_opt(2026, 3, 9).unwrap().and_hms_opt(8, 0, 0).unwrap();
    morning + Duration::minutes(minutes)
}

fn stretch(from: i64, to: i64, label: &str) -> Stretch {
    Stretch { from: at(from), to: at(to), label: label.to_owned() }
}

fn lane(camera: &str, kind: LaneKind, stretches: Vec<Stretch>) -> Lane {
    Lane { camera: camera.to_owned(), kind, stretches }
}

fn day() -> Timeline {
    let lens = |at: i64| {
        ["25 mm Umber", "50 mm Sorrel", "85 mm Sorrel"][usize::try_from(at / 150 % 3).unwrap()]
    };
    let clips = || (0..40).map(|n| n * 17 + n % 5).filter(|at| !(290..350).contains(at));
    let roll = |at: i64| format!("A00{}", 1 + at / 240);
    let b = |n: i64| (30 + n * 40, 30 + n * 40 + 3);
    Timeline {
        title: "Timeline of 9 March 2026".to_owned(),
        lanes: vec![
            lane(
                "Camera A",
                LaneKind::Roll,
                clips().map(|at| stretch(at, at + 4, &roll(at))).collect(),
            ),
            lane(
                "Camera A",
                LaneKind::Lens,
                clips().map(|at| stretch(at, at + 4, lens(at))).collect(),
            ),
            lane(
                "Camera A",
                LaneKind::Attachment,
                clips()
                    .filter(|at| *at > 130)
                    .map(|at| stretch(at, at + 4, "Corbel 0.71"))
                    .collect(),
            ),
            lane(
                "Camera B",
                LaneKind::Roll,
                (0..9).map(|n| stretch(b(n).0, b(n).1, "B001")).collect(),
            ),
            lane(
                "Camera B",
                LaneKind::Lens,
                (0..9)
                    .map(|n| {
                        stretch(
                            b(n).0,
                            b(n).1,
                            if n % 2 == 0 { "135 mm Umber" } else { "35 mm Umber" },
                        )
                    })
                    .collect(),
            ),
        ],
        without_time: vec!["A003C001".to_owned(), "A003C002".to_owned()],
    }
}

fn compared(clip: String, rig: &str, recorded: f64, stands: f64) -> Compared {
    let mm = |v: f64| (v > 0.0).then(|| Millimeters::new(v).unwrap());
    let verdict = if stands > 0.0 { Verdict::Scaled } else { Verdict::Unresolved };
    Compared {
        clip,
        rig: rig.to_owned(),
        recorded: mm(recorded),
        stands: mm(stands),
        verdict: Some(verdict),
    }
}

fn primes() -> Focals {
    let sets = [
        ("50 mm Sorrel on Corbel 0.71", 50.0, 35.5, 14),
        ("25 mm Umber", 25.0, 25.0, 5),
        ("85 mm Sorrel on Corbel 0.71", 0.0, 60.35, 3),
        ("35 mm Umber", 50.0, 0.0, 1),
        ("135 mm Umber on extender 1.4", 135.0, 189.0, 2),
    ];
    let mut clips = Vec::new();
    for (rig, recorded, stands, count) in sets {
        for _ in 0..count {
            clips.push(compared(format!("A001C{:03}", clips.len() + 1), rig, recorded, stands));
        }
    }
    Focals { title: "Recorded against true focal length".to_owned(), clips }
}

fn zooms(count: u32) -> Focals {
    let clips = (0..count).map(|n| {
        let recorded = 24.0 + f64::from(n * 7 % 460) / 10.0;
        let rig = format!("Saltmarsh zoom {} on Corbel 0.71", n % 31);
        let stands = match n % 50 {
            0 => recorded,
            1 => 0.0,
            _ => recorded * 0.71,
        };
        compared(
            format!("A{:03}C{:03}", n / 100, n % 100),
            &rig,
            if n % 70 == 5 { 0.0 } else { recorded },
            stands,
        )
    });
    Focals { title: "Recorded against true focal length".to_owned(), clips: clips.collect() }
}

/// A day of many cameras and very many clips, lenses changed all the time.
fn crowd(cameras: i64, clips: i64) -> Timeline {
    let lanes = (0..cameras).flat_map(|camera| {
        [LaneKind::Roll, LaneKind::Lens, LaneKind::Attachment].map(|kind| {
            let stretches = (0..clips).map(|n| {
                let from = n * 700 / clips;
                stretch(from, from + 30, &format!("number {}", n * 7 % 97))
            });
            lane(&format!("Camera {camera}"), kind, stretches.collect())
        })
    });
    Timeline { title: "A crowd".to_owned(), lanes: lanes.collect(), without_time: Vec::new() }
}

fn all() -> Vec<(&'static str, Vec<Drawing>)> {
    let hostile = Timeline {
        title: HOSTILE.to_owned(),
        lanes: vec![lane(
            HOSTILE,
            LaneKind::Roll,
            vec![stretch(5, 1, HOSTILE), stretch(0, 600, &"W".repeat(3000))],
        )],
        without_time: vec![HOSTILE.to_owned(); 40],
    };
    let hostile_focals = Focals {
        title: HOSTILE.to_owned(),
        clips: vec![
            compared(HOSTILE.to_owned(), HOSTILE, 50.0, 1e12),
            compared("W".repeat(900), &"W".repeat(900), 1e-6, 0.0),
        ],
    };
    let untimed = Timeline { lanes: Vec::new(), ..day() };
    let rigs = (0..7)
        .map(|n| view(&format!("rig {n}"), (24.0 + f64::from(n), 16.0), Some(30.0), &["50 mm"]));
    let rigs = Circles { title: "Rigs".to_owned(), scenes: rigs.collect() };
    let years = Timeline {
        title: "years".to_owned(),
        lanes: vec![lane(
            "A",
            LaneKind::Lens,
            vec![stretch(-900_000_000, 3, "far"), stretch(0, 900_000_000, "near")],
        )],
        without_time: Vec::new(),
    };
    vec![
        ("day", Picture::Timeline(day()).drawings()),
        ("day-crowd", Picture::Timeline(crowd(9, 400)).drawings()),
        ("day-hostile", Picture::Timeline(hostile).drawings()),
        ("day-untimed", Picture::Timeline(untimed).drawings()),
        ("day-years", Picture::Timeline(years).drawings()),
        ("focals", Picture::Focals(primes()).drawings()),
        ("focals-hostile", Picture::Focals(hostile_focals).drawings()),
        ("focals-zooms", Picture::Focals(zooms(3000)).drawings()),
        ("rigs", Picture::Circles(rigs).drawings()),
    ]
}

#[test]
fn pictures_are_well_formed_and_fit_a_page() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("drawings");
    fs::create_dir_all(&folder).unwrap();
    for (name, drawings) in all() {
        for (at, drawing) in drawings.iter().enumerate() {
            for svg in [drawing.svg(), drawing.inline(at)] {
                for (element, attributes) in elements(&svg) {
                    for (key, value) in attributes {
                        assert!(
                            !value.contains("NaN") && !value.contains("inf"),
                            "{name} {element} {key}={value}"
                        );
                    }
                }
                assert!(svg.len() < 200_000, "{name}: {} bytes", svg.len());
                assert!(!svg.contains("<script") && !svg.contains('\u{202e}'), "{name}");
            }
            assert!(
                !drawing.description().is_empty() && drawing.description().len() < 40_000,
                "{name}"
            );
            // An element of a page needs no style of its own, and its hatching is its own.
            let inline = drawing.inline(at);
            assert!(!inline.contains("<style") && !inline.contains("style="), "{name}");
            assert!(inline.contains(&format!("id=\"lensmend-hatch-{at}\"")), "{name}");
            let file = folder.join(format!("{name}-{at}.svg"));
            fs::write(&file, drawing.svg()).unwrap();
            strict(&file);
            let size = numbers(&drawing.svg(), "rect", "paper", &["width", "height"]);
            assert!(size[0][1] <= 660.0, "{name} fits no page on its side: {size:?}");
        }
    }
    assert_eq!(all(), all(), "same drawings twice");
}

#[test]
fn bars_stand_where_the_time_axis_says() {
    let drawings = Picture::Timeline(day()).drawings();
    assert_eq!(drawings.len(), 1);
    let svg = drawings[0].svg();
    // Ticks of the axis: faint lines, an hour apart from 08:00, because the day is eleven hours long.
    let ticks = numbers(&svg, "line", "faint", &["x1"]);
    let hour = ticks[1][0] - ticks[0][0];
    assert!(svg.contains(">08:00<") && svg.contains(">09:00<"), "{svg}");
    let bars = numbers(&svg, "rect", "bar", &["x", "width"]);
    // The first bar is roll A001, 08:00 to the end of its last clip, which began at 223 min and lasted 4.
    assert!((bars[0][0] - ticks[0][0]).abs() < 0.01, "{bars:?}");
    let last = (0..40).map(|n| n * 17 + n % 5).filter(|at| *at < 240).max().unwrap();
    assert!((bars[0][1] / hour * 60.0 - (f64::from(last) + 4.0)).abs() < 0.1, "{bars:?} {last}");
    assert!(drawings[0].description().contains("Camera A, attachment: Corbel 0.71 from 10:"));
    assert!(svg.contains("Without a time of day: 2 clips (A003C001, A003C002)"), "{svg}");
}

#[test]
fn focal_lengths_stand_on_a_logarithmic_axis() {
    let drawings = Picture::Focals(primes()).drawings();
    assert_eq!(drawings.len(), 1, "five lines, not one a clip");
    let svg = drawings[0].svg();
    let ticks = numbers(&svg, "line", "faint", &["x1", "x2", "y1", "y2"]);
    let ticks: Vec<f64> =
        ticks.iter().filter(|l| (l[0] - l[1]).abs() < 1e-6).map(|l| l[0]).collect();
    // 25, 35, 50, 75, 100, 135, 200: a factor of two is as long at either end.
    assert!((ticks[2] - ticks[0] - (ticks[4] - ticks[2])).abs() < 0.01, "{ticks:?}");
    let octave = ticks[2] - ticks[0];
    let hollow: Vec<Vec<f64>> =
        numbers(&svg, "circle", "hollow", &["cx", "r"]).into_iter().skip(2).collect();
    let points: Vec<Vec<f64>> =
        numbers(&svg, "circle", "point", &["cx", "r"]).into_iter().skip(2).collect();
    // Unresolved first, then wrong ones, most clips first: 50 recorded and 35.5 true is log2(50/35.5) octaves.
    assert!(((hollow[1][0] - points[0][0]) / octave - libm::log2(50.0 / 35.5)).abs() < 1e-3);
    assert!(svg.contains("50 \u{2192} 35.5 mm") && svg.contains("14 clips: A001C001"), "{svg}");
    assert!(
        svg.contains("none \u{2192} 60.4 mm")
            && svg.contains("25 mm, right")
            && svg.contains("50 mm, unresolved"),
        "{svg}"
    );
}

#[test]
fn three_thousand_clips_make_a_picture_and_not_a_list() {
    let marks =
        |drawings: &[Drawing]| drawings.iter().map(|d| elements(&d.svg()).len()).sum::<usize>();
    let some = Picture::Focals(zooms(300)).drawings();
    let many = Picture::Focals(zooms(3000)).drawings();
    assert_eq!((some.len(), many.len()), (1, 1));
    assert!(marks(&many) < 1500, "{}", marks(&many));
    // Sixty of them were right, sixty unresolved: n mod 50, less those that recorded nothing.
    let words = many[0].description();
    assert!(
        words.contains("unresolved: 60 clips") && words.contains("nothing recorded: "),
        "{words}"
    );
    assert!(words.contains("recorded right: "), "{words}");

    // A lens that is changed with every clip has a row for each lens, and not a black bar.
    let change = |n: i64| {
        stretch(n * 3, n * 3 + 1, ["25 mm", "50 mm", "85 mm"][usize::try_from(n % 3).unwrap()])
    };
    let lanes = vec![lane("A", LaneKind::Lens, (0..240).map(change).collect())];
    let changed = Timeline { lanes, ..day() };
    let svg = Picture::Timeline(changed).drawings()[0].svg();
    assert!(numbers(&svg, "rect", "bar", &["x"]).is_empty(), "{svg}");
    let tops: std::collections::BTreeSet<u64> =
        numbers(&svg, "rect", "point", &["y"]).iter().map(|y| y[0].to_bits()).collect();
    assert_eq!(tops.len(), 3);
    assert!(svg.contains("1 = 25 mm") && svg.contains("3 = 85 mm"), "{svg}");

    let day = Picture::Timeline(crowd(1, 3000)).drawings();
    assert!(day.len() <= 2 && marks(&day) < 13_000, "{} {}", day.len(), marks(&day));
}
