//! Clip lists as other programs export them, and what they add to a dump.
#![allow(clippy::disallowed_methods, reason = "tests read and write files of their own")]

use std::fs;
use std::path::Path;

use lensmend::finding::Code;
use lensmend::lists::{ListRow, looks_like_list, parse};
use lensmend::notes::looks_like_notes;
use lensmend::stops::Letter;
use serde_json::Value as Json;

use crate::workshop::lensmend;

fn rows(text: &str) -> Vec<ListRow> {
    let found = parse("list.csv", text.as_bytes());
    assert_eq!(found.findings, [], "{text}");
    found.value.rows
}

/// Tabs in a .csv, headings twice and a row of units, stops as a stop and tenths, feet and inches, and numbers that
/// only look like numbers: all in one export.
#[test]
fn an_odd_export_is_read() {
    let head = "Clip Name\tReel\tStart TC\tEnd TC\tFPS\tResolution\tFocal Length\tIris\tFocus Distance (ft)\tColour";
    let text = format!(
        "Card report\n\n{head}\n\t\ttc\ttc\tfps\tpx\tmm\tT\tft\t\n\
         A001C001\tA001\t10:00:00:00\t10:00:10:00\t24\t3840x2160\t50\tT2 3/10\t8'2\"\tred\n{head}\n\
         A001C002\tA001\t10:01:00:00\t----\t23.976\t3840 x 2160\t----\t0\t4294967295\t\n\
         A001C003\t----\t\t\t59.94\t\t35mm\tf/2.8\t6.25\tblue\n"
    );
    let rows = rows(&text);
    assert_eq!(rows.len(), 3);
    let first = &rows[0];
    assert_eq!(first.name.value, "A001C001");
    assert_eq!(first.rate.as_ref().unwrap().value.to_string(), "24");
    assert_eq!(first.raster.as_ref().unwrap().value.to_string(), "3840x2160");
    let stop = first.stop.as_ref().unwrap().value;
    assert_eq!(stop.letter, Some(Letter::T));
    // Two and three tenths of a stop: 2 x 2^0.15 (definition in ISO 517; shared check value).
    assert!((stop.number.value - 2.2191).abs() < 5e-5, "{stop:?}");
    let focus = first.focus.as_ref().unwrap().value.value.get();
    assert!((focus - (8.0 * 12.0 + 2.0) * 0.0254).abs() < 1e-9, "{focus}");
    let second = &rows[1];
    assert_eq!(second.rate.as_ref().unwrap().value.to_string(), "24000/1001");
    assert!(second.focal.is_none() && second.stop.is_none() && second.focus.is_none());
    assert!(second.end.is_none());
    let third = &rows[2];
    assert!(third.reel.is_none());
    assert_eq!(third.rate.as_ref().unwrap().value.to_string(), "60000/1001");
    assert!((third.focal.as_ref().unwrap().value.value.get() - 35.0).abs() < 1e-12);
    assert!((third.focus.as_ref().unwrap().value.value.get() - 6.25 * 0.3048).abs() < 1e-9);
}

#[test]
fn lists_and_notes_are_told_apart() {
    for (text, list, notes) in [
        ("Clip Name,FPS,Resolution,Focal Length\n", true, true),
        ("File,Start,End,Width,Height\n", true, false),
        ("Clip,Lens,Stop,Reducer\n", false, true),
        ("Clip,Lens,Stop,Reducer,FPS\n", false, true),
        ("Clip,Remarks\n", false, false),
        ("Name,Iris\n", false, false),
    ] {
        assert_eq!(looks_like_list(text.as_bytes()), list, "{text}");
        assert_eq!(looks_like_notes(text.as_bytes()), notes, "{text}");
    }
}

#[test]
fn what_is_not_understood_is_said_and_costs_its_cell_only() {
    for (cell, column) in [
        ("10:00", "Start TC"),
        ("fast", "FPS"),
        ("big", "Resolution"),
        ("wide", "Iris"),
        ("long", "Focal Length"),
        ("far off", "Focus"),
        ("many", "Frames"),
    ] {
        let found =
            parse("list.csv", format!("Clip,Rate,{column}\nA001C001,25,{cell}\n").as_bytes());
        let said = found
            .findings
            .iter()
            .any(|f| f.code == Code::NotesCell || f.code == Code::NotesHeading);
        assert!(said, "{column}: {:?}", found.findings);
        assert_eq!(found.value.rows.len(), 1, "{column}");
    }
    let found = parse("list.csv", b"\xff\xfe\x00");
    assert!(found.value.rows.is_empty() && !found.findings.is_empty());
}

fn annotate(folder: &Path) -> (i32, Json) {
    let path = folder.to_string_lossy().into_owned();
    let out = folder.join("out").to_string_lossy().into_owned();
    let ran =
        lensmend(&["annotate", &path, "--into", &out, "--json", "--date", "2026-11-14T19:00:00Z"]);
    assert_ne!(ran.status.code(), Some(2), "{}", String::from_utf8_lossy(&ran.stderr));
    (ran.status.code().unwrap(), serde_json::from_slice(&ran.stdout).unwrap())
}

/// An opaque clip gets its facts from the list, the stale number of a bare lens is scaled, and an end that is off is said.
#[test]
fn a_list_fills_opaque_clips_and_checks_the_others() {
    let folder = tempfile::tempdir().unwrap();
    let dump = folder.path().join("dump/A001");
    fs::create_dir_all(&dump).unwrap();
    fs::write(dump.join("A001C001_1114_KV.raw"), [7_u8; 4096]).unwrap();
    let sample = crate::workshop::sample();
    fs::copy(sample.join("kit.toml"), folder.path().join("kit.toml")).unwrap();
    fs::copy(sample.join("dump/A003/A003C001_1114_KV.mov"), dump.join("A003C001_1114_KV.mov"))
        .unwrap();
    fs::write(
        folder.path().join("cards.csv"),
        "Clip Name,Reel,Start TC,End TC,FPS,Resolution,Focal Length,Focus\n\
         A001C001,A001,10:00:00:00,10:00:10:00,24,3840x2160,50,2.4 m\n\
         A003C001_1114_KV.mov,A003,10:02:11:05,10:02:20:00,23.976,3840x2160,,\n\
         A009C009,A009,10:00:00:00,10:00:10:00,24,3840x2160,50,\n\
         A001C001,A001,10:00:00:00,10:00:10:00,24,3840x2160,35,\n",
    )
    .unwrap();
    fs::write(
        folder.path().join("notes.csv"),
        "Clip,Lens,Stop,Reducer\nA001C001,Sorrel 50,f/2,0.71\n",
    )
    .unwrap();
    let (code, record) = annotate(folder.path());
    assert_eq!(code, 1);
    let clip =
        record["clips"].as_array().unwrap().iter().find(|c| c["name"] == "A001C001").unwrap();
    assert_eq!(clip["media"]["codedRaster"]["value"], "3840x2160");
    assert_eq!(clip["media"]["codedRaster"]["origin"]["file"], "cards.csv");
    assert_eq!(clip["media"]["startTimecode"]["value"], "10:00:00:00");
    let piece = &clip["pieces"][0];
    assert_eq!(piece["focalLength"]["value"], 35.5);
    assert_eq!(piece["focalLength"]["verdict"], "scaled");
    assert_eq!(piece["focusDistance"]["value"], 2.4);
    assert_eq!(piece["mode"]["value"], "uhd");
    let said: Vec<&str> = record["findings"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|f| f["code"].as_str().filter(|code| code.starts_with("list.")))
        .collect();
    assert_eq!(said, ["list.differs", "list.no-match", "list.no-match"]);
    assert!(record["inputs"].as_array().unwrap().iter().any(|input| input["role"] == "clip list"));
}
