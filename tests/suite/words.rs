//! What becomes of difficult notes in the built program: faults that a tired person can use, good clips that are annotated
//! all the same, and words of the notes that reach the sidecars.

#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::fs;

use lensmend::notes::parse;
use lensmend::output::findings::text;
use rust_xlsxwriter::Workbook;
use serde_json::Value;
use unicode_width::UnicodeWidthStr;

use crate::shoot::{Ran, Shoot, run, stamps};

const FAULTY: &str = "Roll,Clip,Lens,Focal mm,Stop,Reducer,Focus,Lenz,Remarks\n\
    A003,C001,Sorrel 50,,T2.8.5,0.71,2.4 m,,a very long remark that runs on and on beyond the right side of any terminal\n\
    A003,C009-C005,Sorrel 50,,2,,,,\n\
    A003,C001,Sorerl 50,3S,2,,6,,\n";

fn record(shoot: &Shoot) -> Value {
    serde_json::from_slice(&fs::read(shoot.out.join("run.json")).unwrap()).unwrap()
}

fn book(sheets: &[(&str, &[&[&str]])]) -> Vec<u8> {
    let mut book = Workbook::new();
    for (name, rows) in sheets {
        let sheet = book.add_worksheet();
        sheet.set_name(*name).unwrap();
        for (at, row) in (0..).zip(*rows) {
            for (column, cell) in (0..).zip(*row) {
                sheet.write_string(at, column, *cell).unwrap();
            }
        }
    }
    book.save_to_buffer().unwrap()
}

#[test]
fn the_report_fits_an_80_column_terminal() {
    let found = parse("notes.csv", FAULTY.as_bytes());
    assert!(found.findings.len() >= 5, "{:?}", found.findings);
    for (width, colour) in [(80, false), (60, false), (80, true)] {
        let report = text(&found.findings, colour, width);
        for line in report.lines().filter(|_| !colour) {
            assert!(line.width() <= width, "{width}: {} columns: {line}\n{report}", line.width());
        }
        assert_eq!(report.contains('\u{1b}'), colour, "{report}");
    }
    let report = text(&found.findings, false, 80);
    // All faults in one run, each with its row as typed, a mark under the cell, and what to write.
    for words in ["2.8.5", "C009-C005", "3S", "Lenz", "\"6\"", "understood:", "do:", "^^^"] {
        assert!(report.contains(words), "{words}:\n{report}");
    }
    let row = report.lines().position(|line| line.contains("T2.8.5,")).unwrap();
    let typed = report.lines().nth(row).unwrap();
    let marks = report.lines().nth(row + 1).unwrap();
    assert_eq!(typed.find("T2.8.5"), marks.find('^'), "{report}");
    assert_eq!(marks.matches('^').count(), "T2.8.5".len(), "{report}");
}

#[test]
fn no_color_and_json_say_the_same() {
    let shoot = Shoot::clean();
    shoot.notes(FAULTY);
    let mut command = shoot.command(crate::shoot::DATE);
    let ran = run(command.env("NO_COLOR", "1").env("CLICOLOR_FORCE", "0")).exits(1);
    assert!(!ran.result().contains('\u{1b}'), "{}", ran.result());
    let json = shoot.annotate(["--json", "--dry-run"]).exits(1);
    let json: Value = serde_json::from_slice(&json.out).unwrap();
    let faults = json["findings"].as_array().unwrap();
    let stop = faults.iter().find(|f| f["cell"] == "T2.8.5").unwrap();
    assert_eq!(stop["line"], 2);
    assert!(stop["row"].as_str().unwrap().starts_with("A003,C001,Sorrel 50"), "{stop}");
    assert!(stop["understood"].as_str().unwrap().contains("attachment"), "{stop}");
    for fault in faults {
        let squeezed = |text: &str| text.split_whitespace().collect::<Vec<_>>().concat();
        let report = squeezed(&ran.result());
        let message = squeezed(fault["message"].as_str().unwrap());
        assert!(report.contains(&message), "{message}\n{}", ran.result());
        if let Some(hint) = fault["hint"].as_str() {
            assert!(report.contains(&squeezed(hint)), "{hint}\n{}", ran.result());
        }
    }
}

#[test]
fn bad_notes_never_stop_good_clips() {
    let shoot = Shoot::clean();
    let broken = [
        ("faulty.csv", FAULTY.as_bytes()),
        ("cut.xlsx", &book(&[("Notes", &[&["Clip", "Lens"]])])[..200]),
        ("zeros.csv", &[0; 300]),
        ("empty.ods", b""),
    ];
    let mut arguments = vec!["--notes".to_owned(), path(&shoot, "notes.csv")];
    for (name, bytes) in broken {
        fs::write(shoot.folder.join(name), bytes).unwrap();
        arguments.extend(["--notes".to_owned(), path(&shoot, name)]);
    }
    let ran = run(shoot.command(crate::shoot::DATE).args(arguments)).exits(1);
    assert!(ran.result().contains("cut.xlsx"), "{}", ran.result());
    let record = record(&shoot);
    let piece = &record["clips"][0]["pieces"][0];
    // What the rows of one rank disagree on is left out; the rest stands.
    assert_eq!(piece["attachment"]["value"], "Corbel 0.71", "{piece}");
    assert!(shoot.out.join("sidecars/A003/A003C001_1114_KV.xmp").is_file());
}

fn path(shoot: &Shoot, name: &str) -> String {
    shoot.folder.join(name).to_string_lossy().into_owned()
}

#[test]
fn a_wrong_kit_stops_before_anything_is_written_and_notes_are_faulted_too() {
    let shoot = Shoot::clean();
    shoot.notes(FAULTY);
    let kit = fs::read_to_string(shoot.folder.join("kit.toml")).unwrap();
    fs::write(shoot.folder.join("kit.toml"), kit.replace("f-max = 1.8", "f-max = 0")).unwrap();
    let before = stamps(shoot.temp.path());
    let ran = shoot.annotate([]).exits(2);
    let talk = ran.talk();
    for words in ["kit.fault", "T2.8.5", "C009-C005"] {
        assert!(talk.contains(words), "{words}: {talk}");
    }
    assert_eq!(stamps(shoot.temp.path()), before);
}

/// One clip and the notes of a workbook.
fn with_book(sheets: &[(&str, &[&[&str]])]) -> Shoot {
    let shoot = Shoot::clean();
    fs::remove_file(shoot.folder.join("notes.csv")).unwrap();
    fs::write(shoot.folder.join("notes.xlsx"), book(sheets)).unwrap();
    // What a spreadsheet program leaves beside an open document.
    fs::write(shoot.folder.join("~$notes.xlsx"), "lock").unwrap();
    shoot
}

const TITLES: &[&str] = &["Roll", "Clip", "Lens", "Stop", "Reducer", "Focus"];
const FIFTY: &[&str] = &["A003", "C001", "Sorrel 50", "f/2.8", "0.71", "2.4 m"];
const THIRTY_FIVE: &[&str] = &["A003", "C001", "Sorrel 35", "f/4", "0.71", "2.4 m"];

fn lens(ran: &Ran, shoot: &Shoot) -> String {
    let record = record(shoot);
    let lens = record["clips"][0]["pieces"][0]["lens"]["value"].as_str().unwrap_or("none");
    format!("{lens} {}", ran.talk())
}

#[test]
fn workbooks_are_found_and_their_sheet_is_chosen() {
    let shoot = with_book(&[("Legend", &[&["x"]]), ("Day 3", &[TITLES, FIFTY])]);
    let said = lens(&shoot.annotate([]).exits(0), &shoot);
    assert!(said.starts_with("Sorrel 50") && said.contains("notes.xlsx (sheet Day 3)"), "{said}");
    assert!(!said.contains("~$"), "{said}");
    let shoot = with_book(&[("Day 3", &[TITLES, FIFTY]), ("Day 4", &[TITLES, THIRTY_FIVE])]);
    let ran = shoot.annotate([]).exits(1);
    assert!(ran.result().contains("--sheet"), "{}", ran.result());
    let said = lens(&shoot.annotate(["--sheet", "day 4"]).exits(0), &shoot);
    assert!(said.starts_with("Sorrel 35"), "{said}");
    let ran = shoot.annotate(["--sheet", "Day 5"]).exits(2);
    assert!(ran.talk().contains("Day 3, Day 4"), "{}", ran.talk());
    let plain = Shoot::clean();
    let ran = plain.annotate(["--sheet", "Day 3"]).exits(2);
    assert!(ran.talk().contains("no workbook"), "{}", ran.talk());
}

#[test]
fn a_zoom_is_left_blank_and_its_ends_are_remarks() {
    let shoot = Shoot::clean();
    shoot.notes(
        "Roll,Clip,Lens,Focal mm,Stop,Reducer,Filter,Remarks\n\
         A003,C001,Sorrel 24-70,35>70,f/4,0.71 loose,ND 0.6,wet\n",
    );
    let ran = shoot.annotate([]).exits(1);
    assert!(ran.result().contains("lens.zooms") && ran.result().contains("attachment.loose"));
    let record = record(&shoot);
    let piece = &record["clips"][0]["pieces"][0];
    assert_eq!(piece["focalLength"]["verdict"], "unresolved", "{piece}");
    assert!(piece["focalLength"]["value"].is_null(), "{piece}");
    assert_eq!(piece["remarks"]["value"], "wet; zooms from 35 to 70 mm; attachment loose");
    assert_eq!(piece["filterDensity"]["value"], 2.0);
    assert_eq!(piece["attachmentSecured"]["value"], false);
    // The ring said f/4, and neutral density changes nothing of it: f/2.84 behind 0.71.
    let f = piece["fNumber"]["value"].as_f64().unwrap();
    assert!((f - 4.0 * 0.71).abs() < 0.01, "{piece}");
    let sidecar = fs::read_to_string(shoot.out.join("sidecars/A003/A003C001_1114_KV.xmp")).unwrap();
    assert!(!sidecar.contains("exif:FocalLength>"), "{sidecar}");
    assert!(sidecar.contains("zooms from 35 to 70 mm"), "{sidecar}");
    // A zoom beyond the lens is a fault, not a remark that hides it.
    shoot.notes("Roll,Clip,Lens,Focal mm,Reducer\nA003,C001,Sorrel 24-70,35>105,0.71\n");
    let ran = shoot.annotate([]).exits(1);
    assert!(ran.result().contains("goes from 24 to 70 mm"), "{}", ran.result());
}

#[test]
fn lenses_are_called_in_many_ways() {
    for (typed, lens) in [
        ("sorrel-50", "Sorrel 50"),
        ("SORREL 50mm", "Sorrel 50"),
        ("50", "Sorrel 50"),
        ("50 mm", "Sorrel 50"),
        ("24-70", "Sorrel 24-70"),
        ("24-70mm", "Sorrel 24-70"),
    ] {
        let shoot = Shoot::clean();
        shoot.notes(&format!("Roll,Clip,Lens,Focal mm,Reducer\nA003,C1,{typed},,0.71\n"));
        shoot.annotate([]);
        let record = record(&shoot);
        assert_eq!(record["clips"][0]["pieces"][0]["lens"]["value"], lens, "{typed}");
    }
    let shoot = Shoot::clean();
    shoot.notes("Roll,Clip,Lens,Reducer\nA003,C1,Sorerl 5,0.71\n");
    let ran = shoot.annotate([]).exits(1);
    assert!(ran.result().contains("\"Sorrel 50\" or"), "{}", ran.result());
}

#[test]
fn short_names_and_stars_find_their_clips() {
    let shoot = Shoot::clean();
    for clip in 2..=12 {
        shoot.clip(format!("A003/A003C{clip:03}_1114_KV.mov"));
    }
    shoot.clip("A004/A004C001_1114_KV.mov");
    shoot.notes(
        "Roll,Clip,Slate,Lens\nA003,C001-3,one,\n,A003C004-C005,two,\n,\"C006, 8\",three,\n\
         ,C01*,four,\n,A004*,five,\nA003,C007-1,six,\n",
    );
    let ran = shoot.annotate([]).exits(1);
    let record = record(&shoot);
    let slates: Vec<(String, String)> = record["clips"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|clip| {
            let slate = clip["pieces"][0]["slate"]["value"].as_str()?;
            Some((clip["name"].as_str()?.to_owned(), slate.to_owned()))
        })
        .collect();
    let expected = [
        ("A003C001", "one"),
        ("A003C002", "one"),
        ("A003C003", "one"),
        ("A003C004", "two"),
        ("A003C005", "two"),
        ("A003C006", "three"),
        ("A003C008", "three"),
        ("A003C010", "four"),
        ("A003C011", "four"),
        ("A003C012", "four"),
        ("A004C001", "five"),
    ];
    let expected = expected.map(|(clip, slate)| (clip.to_owned(), slate.to_owned()));
    assert_eq!(slates, expected, "{}", ran.result());
    assert!(ran.result().contains("C007-1"), "{}", ran.result());
}
