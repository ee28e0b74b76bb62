//! Facts of MXF files that a real encoder makes while the test runs, against ffprobe and MediaInfo.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value as Json;

use crate::klv::{Mxf, acquisition, ancillary, item};
use crate::workshop::lensmend;

use super::Judges;
use super::containers::{claims_of_clip, complaints_of};

/// Rate and start as the encoder takes them.
const CLOCKS: [(&str, &str); 9] = [
    ("24000/1001", "01:00:00:00"),
    ("24", "01:00:00:00"),
    ("25", "01:00:00:00"),
    ("30000/1001", "01:00:00;02"),
    ("30000/1001", "01:00:00:00"),
    ("50", "01:00:00:00"),
    ("60000/1001", "01:00:00;04"),
    ("60000/1001", "01:00:00:00"),
    ("60", "01:00:00:00"),
];

/// Where a judge and lensmend part, and which clause decides. Each line: file, fact, judge, why.
const EXPLAINED: &[(&str, &str, &str, &str)] = &[
    // SMPTE ST 377-1, 9.5.3: a length of -1 is not known. The judge counts pictures, which are essence.
    ("open", "frames", "ffprobe", "the length is not written; pictures are not counted"),
    (
        "open",
        "frames",
        "mediainfo",
        "the length is not written; it is worked out from the bit rate",
    ),
];

/// Makes one file. The encoder takes the whole picture to be 16:9 where its coding does not say, so that 320x240 are
/// pixels of 4:3.
fn make(folder: &Path, name: &str, raster: &str, rate: &str, coding: &[&str], more: &[&str]) {
    let source = format!("testsrc=s={raster}:r={rate}");
    let run = Command::new("ffmpeg")
        .args(["-v", "error", "-nostdin", "-f", "lavfi", "-i", &source, "-frames:v", "12"])
        .args(coding)
        .args(more)
        .arg(folder.join(name))
        .output()
        .unwrap();
    assert!(run.status.success(), "{name}: {}", String::from_utf8_lossy(&run.stderr));
}

const INTRA: &[&str] = &["-c:v", "dnxhd", "-profile:v", "dnxhr_lb", "-pix_fmt", "yuv422p"];

#[test]
fn every_fact_of_encoded_files_is_what_the_judges_read() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let dump = folder.path();
    for (pattern, format) in [("op1a", "mxf"), ("atom", "mxf_opatom")] {
        for (number, (rate, start)) in CLOCKS.iter().enumerate() {
            for (shape, raster) in [("square", "320x180"), ("wide", "320x240")] {
                let name = |told| format!("{pattern}_{number}_{shape}_{told}.mxf");
                let format = ["-f", format];
                make(dump, &name("plain"), raster, rate, INTRA, &format);
                let told = [&["-timecode", start][..], &format].concat();
                make(dump, &name("timecode"), raster, rate, INTRA, &told);
            }
        }
    }
    let long = ["-c:v", "mpeg2video", "-b:v", "8M"];
    let fields = [&long[..], &["-flags", "+ildct+ilme", "-top", "1"]].concat();
    make(dump, "fields.mxf", "1440x1080", "25", &fields, &["-aspect", "16:9"]);
    make(dump, "padded.mxf", "1920x1080", "25", &long, &[]);
    // Written into a pipe, the header stays open and its lengths unknown.
    make(dump, "open.mxf", "320x240", "25", &long, &["-f", "mxf", "-seekable", "0"]);
    let files = files(dump);
    let claims = claims(dump);
    let answers = judges.ask("media_facts.py", &files);
    let mut complaints = Vec::new();
    for (file, answer) in files.iter().zip(&answers) {
        let name = file.file_name().unwrap().to_str().unwrap();
        let (_, claim) = claims.iter().find(|(file, _)| file == name).unwrap();
        complaints.extend(complaints_of(name, claim, answer));
    }
    for (file, fact, judge, why) in EXPLAINED {
        let begin = format!("{file}.mxf: {fact}: ");
        let met = complaints.iter().any(|c| c.starts_with(&begin) && c.contains(judge));
        assert!(met, "{file}: {fact}: {judge} no longer disagrees ({why}); take the line out");
    }
    complaints.retain(|complaint| !is_explained(complaint));
    assert!(complaints.is_empty(), "{}", complaints.join("\n"));
    assert_eq!(files.len(), 75);
}

/// MXF has no rotation, so that no judge can confirm one.
fn is_explained(complaint: &str) -> bool {
    let rotation = complaint.contains(": rotation: no judge confirms it");
    rotation
        || EXPLAINED.iter().any(|(file, fact, judge, _)| {
            let begins = complaint.starts_with(&format!("{file}.mxf: {fact}: "));
            begins && [*judge, "no judge"].iter().any(|who| complaint.contains(who))
        })
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let walk = walkdir::WalkDir::new(folder).min_depth(1).sort_by_file_name();
    walk.into_iter().map(|entry| entry.unwrap().into_path()).collect()
}

fn claims(dump: &Path) -> Vec<(String, super::containers::Claims)> {
    let scan = lensmend(&["scan", dump.to_str().unwrap(), "--json"]);
    let scan: Json = serde_json::from_slice(&scan.stdout).unwrap();
    scan["clips"].as_array().unwrap().iter().flat_map(claims_of_clip).collect()
}

/// The files that other tests build in code are MXF to the judges too.
#[test]
fn built_files_are_what_the_judges_read() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let lens = acquisition(1, &[item(0x8005, &[0xBD, 0xDE]), item(0x8000, &[0xD0, 0x77])]);
    let beside = ancillary(&lens, 255, 0, false);
    let cases = [
        ("plain", Mxf::default()),
        (
            "fields",
            Mxf {
                stored: (1920, 544),
                sampled: Some((1920, 540)),
                display: Some((1920, 540)),
                layout: 1,
                ..Mxf::default()
            },
        ),
        (
            "wide",
            Mxf {
                stored: (1440, 1088),
                sampled: Some((1440, 1080)),
                display: Some((1440, 1080)),
                beside,
                ..Mxf::default()
            },
        ),
    ];
    for (name, mxf) in &cases {
        write(&folder.path().join(format!("{name}.mxf")), &mxf.bytes());
    }
    let files = files(folder.path());
    let claims = claims(folder.path());
    for ((file, claim), answer) in claims.iter().zip(judges.ask("media_facts.py", &files)) {
        let said = &answer["mediainfo"];
        assert_eq!(said["error"], Json::Null, "{file}");
        // No pictures are in these files, so that only what the header says can be compared.
        let header = serde_json::json!({"ffprobe": {}, "mediainfo": {
            "rate": said["rate"], "timecode": said["timecode"], "coded": said["coded"],
            "pixel_aspect": said["pixel_aspect"]
        }});
        let complaints = complaints_of(file, claim, &header);
        let left: Vec<_> = complaints.iter().filter(|c| !c.contains(": no judge")).collect();
        assert!(left.is_empty(), "{left:?}");
    }
}

#[expect(clippy::disallowed_methods, reason = "a test makes the files that it has judged")]
fn write(file: &Path, bytes: &[u8]) {
    std::fs::write(file, bytes).unwrap();
}
