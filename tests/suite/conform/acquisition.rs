//! Acquisition metadata (SMPTE RDD 18) of every frame of an MXF file, against MediaInfo's library.
//!
//! The library reads sets that stand by themselves beside the pictures; of ancillary packets only in files that announce
//! a track of them, which the files built here do not. Packets are held against the same values in `tests/suite/mxf.rs`.

use lensmend::recorded::{LensData, read_frames};
use lensmend::units::Unit;
use serde_json::Value as Json;

use crate::klv::{Mxf, acquisition, item};

use super::Judges;

/// One frame: f-number and T-number (IRIS), focal length and focus (DISTANCE), percent of the extender. The words of
/// IRIS and DISTANCE are those whose values two public parsers agree on.
const FRAMES: [[u16; 5]; 8] = [
    [0xF000, 0xEFD0, 0xBDDE, 0xE096, 100],
    [0xE000, 0xD077, 0xC163, 0xE096, 100],
    [0xC000, 0xF000, 0xC1F4, 0xF00F, 140],
    [0xA000, 0xE000, 0xB708, 0x0003, 140],
    [0x8000, 0xC000, 0xD018, 0x1001, 71],
    [0xEFD0, 0xA000, 0xD032, 0xE0FA, 200],
    [0xD077, 0x8000, 0xBDDE, 0xE0FA, 50],
    [0xD077, 0x8000, 0xBDDE, 0xE0FA, 50],
];
const TAGS: [u16; 5] = [0x8000, 0x8008, 0x8005, 0x8001, 0x8006];

/// What the judge calls each, half of the last digit that it prints, and what lensmend says in that unit.
type Fact = (&'static str, f64, fn(&LensData) -> Option<f64>);
const FACTS: [Fact; 5] = [
    ("IrisFNumber", 5e-7, |data| Some(data.f_number.as_ref()?.value.number())),
    ("IrisTNumber", 5e-7, |data| Some(data.t_number.as_ref()?.value.number())),
    ("LensZoomActualFocalLength", 5e-4, |data| Some(data.focal_length.as_ref()?.value.number())),
    ("FocusPositionFromImagePlane", 5e-4, |data| {
        Some(data.focus_distance.as_ref()?.value.number())
    }),
    ("OpticalExtenderMagnification", 1e-9, |data| {
        Some(data.extender.as_ref()?.value.number() * 100.0)
    }),
];

#[test]
fn every_frame_says_what_the_judge_reads() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let beside = |words: &[u16; 5]| {
        let items = TAGS.iter().zip(words).map(|(tag, word)| item(*tag, &word.to_be_bytes()));
        acquisition(1, &items.collect::<Vec<_>>())
    };
    let [first, rest @ ..] = FRAMES;
    let later = rest.iter().map(&beside).collect();
    let length = i64::try_from(FRAMES.len()).unwrap();
    let mxf = Mxf { beside: beside(&first), later, length, ..Mxf::default() };
    let bytes = mxf.bytes();
    let file = folder.path().join("judged.mxf");
    write(&file, &bytes);
    let said = judges.ask("acquisition_values.py", &[file]);
    let source = &&bytes[..];
    let recorded = read_frames(source, Some(source), "judged.mxf");
    assert_eq!(recorded.findings, []);
    let recorded = recorded.value;
    for (name, off, fact) in FACTS {
        let judged =
            each_frame(&said[0]["values"][name]).unwrap_or_else(|| panic!("{name}: {said:?}"));
        assert_eq!(judged.len(), FRAMES.len(), "{name}: {said:?}");
        for (frame, judged) in (0..).zip(judged) {
            let piece = recorded.per_frame.iter().rev().find(|(from, _)| *from <= frame);
            let ours = piece.and_then(|(_, data)| fact(data));
            let ours = ours.unwrap_or_else(|| panic!("{name} of frame {frame}: {piece:?}"));
            assert!((ours - judged).abs() <= off, "{name} of frame {frame}: {ours}, {judged}");
        }
    }
}

/// The camera unit: how the camera was set.
#[test]
fn the_camera_unit_says_what_the_judge_reads() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let modes = ["preset", "automatic", "hold", "one push"];
    for (mode, word) in (0u8..).zip(modes) {
        let beside = acquisition(2, &crate::settings::camera_unit(mode));
        let bytes = Mxf { beside, ..Mxf::default() }.bytes();
        let file = folder.path().join(format!("{mode}.mxf"));
        write(&file, &bytes);
        let said = judges.ask("acquisition_values.py", &[file]);
        let judged = |name: &str| said[0]["values"][name][0][0].as_str().unwrap().to_owned();
        let recorded = lensmend::recorded::read(&&bytes[..], "judged.mxf").value;
        let settings = recorded.settings.unwrap();
        let number = |number: f64| lensmend::number::short(number, 3);
        let ours = [
            ("ISOSensitivity", number(settings.iso.unwrap().value.get())),
            ("ExposureIndexofPhotoMeter", number(settings.exposure_index.unwrap().value.get())),
            ("ShutterSpeed_Angle", number(settings.shutter_angle.unwrap().value.get())),
            ("ShutterSpeed_Time", settings.exposure_time.unwrap().raw),
            ("WhiteBalance", number(settings.white_balance.unwrap().value.get())),
        ];
        for (name, ours) in ours {
            assert_eq!(ours, judged(name), "{name}");
        }
        let rate: f64 = judged("CaptureFrameRate").parse().unwrap();
        assert!((settings.capture_rate.unwrap().value.to_f64() - rate).abs() < 1e-9);
        assert_eq!(settings.white_balance_mode.unwrap().value, word);
        assert_eq!(judged("AutoWhiteBalanceMode").to_lowercase(), word);
    }
}

/// Runs of values, written out for each frame.
fn each_frame(runs: &Json) -> Option<Vec<f64>> {
    let run = |run: &Json| {
        let count = usize::try_from(run[1].as_u64().unwrap()).unwrap();
        std::iter::repeat_n(run[0].as_str().unwrap().parse().unwrap(), count)
    };
    Some(runs.as_array()?.iter().flat_map(run).collect())
}

#[expect(clippy::disallowed_methods, reason = "a test makes the files that it has judged")]
fn write(file: &std::path::Path, bytes: &[u8]) {
    std::fs::write(file, bytes).unwrap();
}
