//! Cuts and turnovers, held against `OpenTimelineIO` and its reader of EDLs, usd-core, and a matchmove in small by OpenCV.
#![allow(clippy::disallowed_methods, reason = "tests write cuts of their own")]

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use lensmend::read_at::sha256;
use lensmend::timecode::{Counting, Timecode};
use serde_json::{Value as Json, json};

use crate::turnover::turned;
use crate::workshop::{plant, sample, tree};

use super::Judges;

/// Every label of the drop-frame day, there and back (SMPTE ST 12-1, as the library counts it).
#[test]
fn the_whole_drop_frame_day_counts_as_the_library_counts() {
    let Some(judges) = Judges::called() else { return };
    let said = judges.values("cuts.py");
    let counting = Counting::new(30, true).unwrap();
    assert_eq!(said["frames"], counting.day());
    assert_eq!(said["wrong"], 0, "the library reads back what it writes");
    let mut labels = String::new();
    for frame in 0..counting.day() {
        let label = Timecode::from_frame(frame, counting);
        assert_eq!(Timecode::parse(&label.to_string(), counting), Some(label));
        writeln!(labels, "{label}").unwrap();
    }
    assert_eq!(said["sha256"], sha256(labels.as_bytes()));
}

fn shots(record: &Json) -> &Vec<Json> {
    record["shots"].as_array().unwrap()
}

/// An EDL of one rate: names, source, record and speed of each event are those that the public reader finds, and the
/// timeline that we make of it is the same cut to the library.
#[test]
fn an_edl_is_the_same_cut_to_the_public_reader_and_so_is_our_timeline() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let cut = folder.path().join("one-rate.edl");
    let text = "TITLE: ONE RATE\nFCM: NON-DROP FRAME\n\n\
        001  A003C001 V     C        10:02:11:17 10:02:12:05 01:00:00:00 01:00:00:12\n\
        * FROM CLIP NAME: A003C001\n\
        002  A003C002 V     C        10:09:40:12 10:09:41:06 01:00:01:00 01:00:01:18\n\
        * FROM CLIP NAME: A003C002\n\
        003  A003C003 V     C        10:15:02:20 10:15:03:06 01:00:01:18 01:00:02:14\n\
        M2   A003C003       012.0                10:15:02:20\n\
        * FROM CLIP NAME: A003C003\n\
        004  A003C004 V     C        10:21:31:20 10:21:32:08 01:00:02:14 01:00:03:02\n\
        * FROM CLIP NAME: A003C004\n";
    fs::write(&cut, text).unwrap();
    let out = folder.path().join("out");
    let (_, record) = turned(&sample(), &cut, &out, &[]);
    let said = judges.ask("cuts.py", &[cut, out.join("turnover.edl"), out.join("turnover.otio")]);
    let theirs = said[0]["clips"].as_array().unwrap();
    assert_eq!(theirs.len(), 4);
    assert_eq!(shots(&record).len(), 4);
    for (at, (shot, clip)) in shots(&record).iter().zip(theirs).enumerate() {
        assert_eq!(shot["clip"], clip["name"], "event {at}");
        assert_eq!(shot["used"]["startTimecode"], clip["source"], "event {at}");
        assert_eq!(shot["record"], json!({"in": clip["record"][0], "out": clip["record"][1]}));
        assert_eq!(shot.get("speed").unwrap_or(&json!(1.0)), &clip["speed"], "event {at}");
    }
    // With our comments in it, the list is the same to the reader.
    assert_eq!(said[1]["clips"], said[0]["clips"]);
    for (shot, clip) in shots(&record).iter().zip(said[2]["clips"].as_array().unwrap()) {
        assert_eq!(clip["own"], shot["shot"]);
        assert_eq!(clip["source"], shot["used"]["startTimecode"]);
        assert_eq!(clip["record"], json!([shot["record"]["in"], shot["record"]["out"]]));
    }
}

/// A nested, trimmed timeline made by the library itself.
#[test]
fn a_nested_timeline_shows_what_the_library_says_it_shows() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let cut = folder.path().join("nested.made.otio");
    let made = judges.ask("cuts.py", std::slice::from_ref(&cut)).remove(0);
    let out = folder.path().join("out");
    let (_, record) = turned(&sample(), &cut, &out, &["--handles", "0"]);
    let found: Vec<(&str, u64, u64)> = shots(&record)
        .iter()
        .map(|shot| {
            let used = |key: &str| shot["used"][key].as_u64().unwrap();
            (shot["clip"].as_str().unwrap(), used("firstFrame"), used("frames"))
        })
        .collect();
    // The nest shows frames 4 to 32 of 36: 16 of the first clip from its 14th on, and 6 more in the transition; 12 of
    // the second from its 12th on, and 4 before; ten frames of the third at double speed.
    assert_eq!(
        found,
        [("A003C002", 14, 16 + 6), ("A003C001", 12 - 4, 12 + 4), ("A003C003", 8, 20)],
        "{record}"
    );
    for (shot, clip) in shots(&record).iter().zip(made["clips"].as_array().unwrap()) {
        // The library places whole clips; what the nest cuts away lies outside of it.
        let (from, to) = (&shot["record"]["in"], &shot["record"]["out"]);
        let trimmed = from != &clip["record"][0];
        assert!(trimmed || to != &clip["record"][1] || shot["clip"] == "A003C003", "{shot} {clip}");
    }
    let said = judges.ask("cuts.py", &[out.join("turnover.otio")]).remove(0);
    let own = |said: &Json| -> Vec<Json> {
        said["clips"].as_array().unwrap().iter().map(|clip| clip["own"].clone()).collect()
    };
    let names: Vec<Json> = shots(&record).iter().map(|shot| shot["shot"].clone()).collect();
    assert_eq!(own(&said), names);
    // But for our own key nothing of the timeline has changed.
    let without = |mut said: Json| {
        for clip in said["clips"].as_array_mut().unwrap() {
            clip["own"] = Json::Null;
        }
        (said["clips"].clone(), said["transitions"].clone())
    };
    assert_eq!(without(said), without(made));
}

/// A kit with plates, over the sample's dump.
fn with_plates(folder: &Path) {
    let mut shoot = tree(&sample());
    let mut kit = String::from_utf8(shoot.remove("kit.toml").unwrap()).unwrap();
    kit.push_str(
        "\n[[plate]]\nid = \"scope\"\ncrop = \"3840x1608\"\nsize = \"1920x804\"\n\
         \n[[plate]]\nid = \"corner\"\ncrop = \"2048x1080\"\noffset = \"200x900\"\n",
    );
    shoot.insert("kit.toml".to_owned(), kit.into_bytes());
    plant(&shoot, folder);
}

/// The cameras of the sample's cut: no complaint of a validator, frames numbered from 1001, and the view of the record.
#[test]
fn cameras_of_shots_open_without_a_word_and_see_what_the_record_says() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    with_plates(folder.path());
    for plate in [None, Some("scope"), Some("corner")] {
        let out = folder.path().join(format!("out-{}", plate.unwrap_or("none")));
        let more: Vec<&str> = plate.map(|plate| vec!["--plate", plate]).unwrap_or_default();
        let (_, record) = turned(folder.path(), &folder.path().join("turnover.edl"), &out, &more);
        let files: Vec<PathBuf> =
            tree(&out.join("shots")).into_keys().map(|f| out.join("shots").join(f)).collect();
        let mut cameras = 0;
        for (file, said) in files.iter().zip(judges.ask("lens_data.py", &files)) {
            assert_eq!(said["complaints"], json!([]), "{}", file.display());
            let Some(name) = file.to_str().unwrap().strip_suffix(".usda") else { continue };
            cameras += 1;
            let shot = shots(&record)
                .iter()
                .find(|shot| name.ends_with(shot["shot"].as_str().unwrap()))
                .unwrap();
            assert_eq!(said["frames"][0], 1001.0);
            let frames = shot["handedOver"]["frames"].as_f64().unwrap();
            assert_eq!(said["frames"][1], 1000.0 + frames, "{name}");
            let piece = &shot["pieces"][0];
            let value = |field: &str| piece[field]["value"].as_f64().unwrap();
            let back = match plate {
                None => (value("filmBackWidth"), value("filmBackHeight")),
                Some(_) => (
                    piece["plate"]["filmBackWidth"].as_f64().unwrap(),
                    piece["plate"]["filmBackHeight"].as_f64().unwrap(),
                ),
            };
            // Angle of view of a pinhole: 2 atan(width / 2 f) (docs/optics.md has the source).
            let angle =
                |back: f64| 2.0 * libm::atan(back / 2.0 / value("pinholeFocalLength")).to_degrees();
            let seen = if said["samples"].as_object().unwrap().is_empty() {
                &said["default"]
            } else {
                &said["samples"]["1001"]
            };
            for (found, expected) in
                [(&seen["horizontal"], angle(back.0)), (&seen["vertical"], angle(back.1))]
            {
                let found = found.as_f64().unwrap();
                assert!((found / expected - 1.0).abs() < 1e-6, "{name}: {found}, not {expected}");
            }
        }
        let expected = match plate {
            None => 7,
            // The plates fit into 3840 by 2160 and 4096 by 2160; the small one into 2048 by 1152 not where it lies.
            Some(_) => 4,
        };
        assert_eq!(cameras, expected, "{plate:?}");
        let codes: BTreeSet<&str> = record["findings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|f| f["code"].as_str().unwrap())
            .collect();
        assert_eq!(codes.contains("cut.plate"), plate.is_some());
    }
}

/// Whoever solves a shot with the film back handed over finds the focal length of the true camera, and it lies within the
/// uncertainty handed over. The true lens is a little longer than its mark, the true reducer a little weaker than its own.
#[test]
fn a_matchmove_finds_the_true_focal_length_within_the_uncertainty() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    with_plates(folder.path());
    let true_focal = 50.6 * 0.716;
    let plates = [
        (None, json!([0, 0, 3840, 2160]), json!([3840, 2160])),
        (Some("scope"), json!([0, 276, 3840, 1608]), json!([1920, 804])),
        (Some("corner"), json!([200, 900, 2048, 1080]), json!([2048, 1080])),
    ];
    let mut files = Vec::new();
    for (plate, kept, size) in plates {
        let out = folder.path().join(format!("out-{}", plate.unwrap_or("none")));
        let more: Vec<&str> = plate.map(|plate| vec!["--plate", plate]).unwrap_or_default();
        turned(folder.path(), &folder.path().join("turnover.edl"), &out, &more);
        let truth = json!({
            "focal": true_focal, "back": [26.2, 14.7375], "raster": [3840, 2160], "kept": kept, "size": size,
        });
        let camera = out.join("shots/001-A003C001.usda");
        fs::write(camera.with_extension("true.json"), truth.to_string()).unwrap();
        files.push(camera);
    }
    for said in judges.ask("matchmove.py", &files) {
        let number = |key: &str| said[key].as_f64().unwrap();
        assert!((number("solved") / true_focal - 1.0).abs() < 1e-4, "{said}");
        assert!(number("residual") < 0.01, "{said}");
        let off = (number("solved") - number("handed")).abs();
        assert!(off > 0.1 && off < number("uncertainty"), "{said}");
    }
}
