//! `measure` against a camera library that takes the chart shots, and a numerical library that fits the same lines.
#![allow(clippy::disallowed_methods, reason = "tests write sheets of their own")]

use std::fmt::Write as _;
use std::fs;
use std::path::PathBuf;

use serde_json::Value as Json;

use super::Judges;
use crate::workshop::lensmend;

/// Random cameras that are tried.
const CAMERAS: usize = 40;

#[test]
fn chart_shots_of_random_cameras_are_solved() {
    let Some(judges) = Judges::called() else { return };
    let seeds: Vec<PathBuf> =
        (0..CAMERAS).map(|seed| PathBuf::from(format!("seed-{seed}"))).collect();
    let folder = tempfile::tempdir().unwrap();
    for camera in judges.ask("chart_shots.py", &seeds) {
        let run = |series: &[(&str, &Json)], pixel_error: &str| -> Json {
            let sheet = folder.path().join("chart.csv");
            fs::write(&sheet, written(&camera, series)).unwrap();
            // No tape error: the numerical library weighs by pixels alone.
            let sheet = sheet.to_str().unwrap();
            let run = lensmend(&[
                "measure",
                sheet,
                "--json",
                "--pixel-error",
                pixel_error,
                "--tape-error",
                "0",
            ]);
            assert!(run.status.code() < Some(2), "{}", String::from_utf8_lossy(&run.stderr));
            serde_json::from_slice(&run.stdout).unwrap()
        };
        let series: Vec<(&str, &Json)> = camera["series"]
            .as_array()
            .unwrap()
            .iter()
            .map(|series| (series["attachment"].as_str().unwrap(), &series["shots"]))
            .collect();
        let found = run(&series, "1");
        for (found, truth) in list(&found["series"]).iter().zip(list(&camera["series"])) {
            near(&found["focalLength"]["value"], &truth["p"], 1e-7);
            let off = number(&found["pupilOffset"]["value"]) - number(&truth["e"]);
            assert!(off.abs() < 1e-4, "{found} {truth}");
        }
        near(&found["magnifications"][0]["value"], &camera["magnification"], 1e-7);

        let noisy = &camera["noisy"];
        let found = run(&[("none", &noisy["shots"])], &noisy["pixel_error"].to_string());
        let found = &found["series"][0];
        let widened = number(&found["widened"]);
        for fit in ["polyfit", "lstsq"] {
            let fit = &noisy[fit];
            // They weigh by the true line and we by the fitted one: the numbers differ in second order only.
            for (value, key, u) in [("focalLength", "p", "u_p"), ("pupilOffset", "e", "u_e")] {
                let off = number(&found[value]["value"]) - number(&fit[key]);
                assert!(off.abs() < 0.02 * number(&fit[u]), "{found} {fit}");
                let ratio = number(&found[value]["uncertainty"]) / number(&fit[u]) / widened;
                assert!((ratio - 1.0).abs() < 0.01, "{found} {fit}");
            }
            let ratio = number(&found["covariance"]["value"])
                / number(&fit["covariance"])
                / (widened * widened);
            assert!((ratio - 1.0).abs() < 0.02, "{found} {fit}");
        }
    }
}

fn written(camera: &Json, series: &[(&str, &Json)]) -> String {
    let mut sheet =
        String::from("Lens,Attachment,Focus m,Tape mm,Chart width mm,Span px,Pitch um\n");
    let (width, pitch) = (number(&camera["width"]), number(&camera["pitch"]) * 1000.0);
    for (attachment, shots) in series {
        for shot in list(shots) {
            let (distance, span) = (number(&shot[0]), number(&shot[1]));
            writeln!(sheet, "x,{attachment},2,{distance:.9},{width:.9},{span:.9},{pitch:.12}")
                .unwrap();
        }
    }
    sheet
}

fn list(value: &Json) -> &[Json] {
    value.as_array().unwrap()
}

#[track_caller]
fn number(value: &Json) -> f64 {
    value.as_f64().unwrap()
}

#[track_caller]
fn near(found: &Json, truth: &Json, part: f64) {
    let (found, truth) = (number(found), number(truth));
    assert!((found / truth - 1.0).abs() < part, "{found}, not {truth}");
}
