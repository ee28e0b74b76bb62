//! Blank lens notes as `sheet` prints them, and what `annotate` makes of them: nothing until they are filled in.

#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::shoot::{Ran, Shoot, findings, lensmend, run};
use crate::workshop::tree;

pub(crate) fn sheet(folder: &Path, more: &[&str]) -> Ran {
    run(lensmend().arg("sheet").arg(folder).args(more))
}

/// The rows of a sheet below its headings, each by heading.
pub(crate) fn rows(csv: &[u8]) -> Vec<BTreeMap<String, String>> {
    let text = String::from_utf8(csv.to_vec()).unwrap();
    let text = text.trim_start_matches('\u{feff}');
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let mut records = reader.records().map(Result::unwrap);
    let headings =
        records.by_ref().find(|record| record.iter().any(|cell| cell == "Clip")).unwrap();
    let row = |record: csv::StringRecord| {
        headings.iter().zip(record.iter()).map(|(h, c)| (h.to_owned(), c.to_owned())).collect()
    };
    records.map(row).collect()
}

/// The sheet with what `fill` says in cells that are empty, as somebody would save it.
fn filled(csv: &[u8], fill: impl Fn(usize, &str) -> Option<String>) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let rows = rows(csv);
    let headings: Vec<String> = rows.first().unwrap().keys().cloned().collect();
    writer.write_record(&headings).unwrap();
    for (at, row) in rows.iter().enumerate() {
        let cell = |heading: &String| {
            let kept = row[heading].clone();
            if kept.is_empty() { fill(at, heading).unwrap_or_default() } else { kept }
        };
        writer.write_record(headings.iter().map(cell)).unwrap();
    }
    writer.into_inner().unwrap()
}

/// The sample day without its notes.
fn unnoted() -> Shoot {
    let shoot = Shoot::sample();
    for notes in ["notes-a.csv", "notes-b.csv"] {
        fs::remove_file(shoot.folder.join(notes)).unwrap();
    }
    shoot
}

/// Names that a cell of notes, a spreadsheet or CSV itself could take for something else.
const HOSTILE: &[&str] = &[
    "A003/A003C001_1114_KV.mov",
    "A003/A003C002_1114_KV.mov",
    "B001/B001C001_1114_OM.mov",
    "x/=1+1.mov",
    "x/@cmd.mov",
    "x/+7.mov",
    "x/-8.mov",
    "x/all.mov",
    "x/ditto.mov",
    "x/do..mov",
    "x/tbd.mov",
    "x/C003-C009.mov",
    "x/C021 C022.mov",
    "x/C031, C032.mov",
    "x/0012.mov",
    "x/3-5.mov",
    "x/say \"cut\".mov",
    "x/Ünï 中.mov",
    "x/Lens.mov",
    "x/Clip.mov",
    "y/MOVE0001.mov",
    "z/MOVE0001.mov",
    "n-a/MOVE0001.mov",
    "=roll/MOVE0001.mov",
];

fn hostile() -> Shoot {
    let shoot = Shoot::clean();
    fs::remove_file(shoot.folder.join("notes.csv")).unwrap();
    for name in HOSTILE {
        shoot.clip(name);
    }
    shoot
}

#[test]
fn a_sheet_that_nobody_filled_in_says_nothing() {
    for shoot in [unnoted(), hostile()] {
        let without = shoot.annotate(["--json"]);
        let before =
            (tree(&shoot.out.join("sidecars")), fs::read(shoot.out.join("lens-table.csv")));
        fs::remove_dir_all(&shoot.out).unwrap();
        for (form, more) in [("csv", &[][..]), ("csv", &["--focus-unit", "ft"]), ("xlsx", &[])] {
            let printed = sheet(&shoot.folder, more);
            assert!(rows(&printed.out).len() > 10);
            let file = shoot.folder.join(format!("notes.{form}"));
            let into = [&["--into", file.to_str().unwrap()], more].concat();
            sheet(&shoot.folder, &into);
            let with = shoot.annotate(["--json"]);
            let used = with.talk();
            assert!(used.contains(&format!("notes notes.{form}")), "{used}");
            assert!(used.contains("(0 rows)"), "{used}");
            fs::remove_file(file).unwrap();
            assert_eq!(with.code, without.code);
            assert_eq!(findings(&with.out), findings(&without.out));
            let after =
                (tree(&shoot.out.join("sidecars")), fs::read(shoot.out.join("lens-table.csv")));
            assert!(before.0 == after.0, "sidecars differ");
            assert_eq!(before.1.as_ref().unwrap(), &after.1.unwrap());
        }
    }
}

#[test]
fn every_clip_can_be_noted_on_its_own_row() {
    let shoot = hostile();
    let printed = sheet(&shoot.folder, &[]);
    let lines = rows(&printed.out);
    // One clip cannot be named by any cell: its name and its file name are both lists.
    let list = "C031, C032";
    assert!(printed.talk().contains("sheet.name"), "{}", printed.talk());
    assert_eq!(lines.len(), HOSTILE.len() - 1);
    let notes = filled(&printed.out, |at, heading| match heading {
        "Slate" => Some(format!("S{at}")),
        "Lens" => Some("Sorrel 24-70".to_owned()),
        "Focal mm" => Some(format!("{}", 24 + at)),
        "Focus" => Some("2.4 m".to_owned()),
        "Attachment" => Some("none".to_owned()),
        _ => None,
    });
    fs::write(shoot.folder.join("notes.csv"), notes).unwrap();
    let ran = shoot.annotate(["--json"]);
    let of_notes: Vec<_> =
        findings(&ran.out).into_iter().filter(|(code, _)| code.starts_with("notes.")).collect();
    // Only the clip without a row has no note.
    assert_eq!(of_notes.len(), 1, "{of_notes:?}");
    let record: Value = serde_json::from_slice(&ran.out).unwrap();
    let mut slates = BTreeSet::new();
    for clip in record["clips"].as_array().unwrap() {
        let name = clip["name"].as_str().unwrap();
        let piece = &clip["pieces"][0];
        let slate = piece["slate"]["value"].as_str();
        if name == list {
            assert_eq!(slate, None);
            continue;
        }
        let slate = slate.unwrap_or_else(|| panic!("{name} has no slate: {clip}"));
        let at: usize = slate.trim_start_matches('S').parse().unwrap();
        let row = &lines[at];
        let typed = row["Clip"].trim_start_matches('\'');
        assert!(typed.trim_end_matches(".mov") == name, "{typed} stands for {name}");
        assert_eq!(row["Roll"].trim_start_matches('\''), clip["roll"].as_str().unwrap());
        assert!(slates.insert(at), "two clips took row {at}");
    }
    assert_eq!(slates.len(), lines.len());
}

#[test]
fn recorded_values_stand_beside_and_are_no_notes() {
    let shoot = unnoted();
    let printed = sheet(&shoot.folder, &[]).exits(1);
    let lines = rows(&printed.out);
    let of = |clip: &str| lines.iter().find(|row| row["Clip"] == clip).unwrap();
    // What `scan` lists of the same clips: samples/make-media.py wrote it into their headers.
    let clip = of("A003C002");
    assert_eq!(clip["Recorded lens"], "Sorrel 50");
    assert_eq!((&*clip["Recorded focal"], &*clip["Recorded stop"]), ("50 mm", "f/1.4"));
    assert_eq!((&*clip["Recorded start"], &*clip["Recorded duration"]), ("10:09:40:00", "2.0 s"));
    assert_eq!(of("B001C001")["Recorded start"], "01:00:00;02");
    assert_eq!(of("B001C007")["Recorded duration"], "");
    for row in &lines {
        for heading in ["Lens", "Focal mm", "Stop", "Attachment", "Focus", "Slate", "Take", "From"]
        {
            assert_eq!(row[heading], "", "{row:?}");
        }
    }
    // A clip in two files is one row, and so are a clip and its copy.
    assert_eq!(lines.len(), 17);
}

#[test]
fn no_cell_runs_in_a_spreadsheet_and_letters_keep_their_encoding() {
    let shoot = hostile();
    let kit = fs::read_to_string(shoot.folder.join("kit.toml")).unwrap();
    let kit =
        kit.replace("The Saltmarsh Signal", "=HYPERLINK(1)\u{9b}lensmend-sheet:1111111111111111");
    fs::write(shoot.folder.join("kit.toml"), kit).unwrap();
    let printed = sheet(&shoot.folder, &[]);
    assert!(
        printed.out.starts_with("\u{feff}Lens notes".as_bytes()),
        "letters beyond ASCII need a mark"
    );
    let text = String::from_utf8(printed.out).unwrap();
    assert!(!text.chars().any(|c| c.is_control() && !matches!(c, '\r' | '\n')), "{text}");
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let mut cells = 0;
    for cell in reader
        .records()
        .flat_map(|record| record.unwrap().iter().map(str::to_owned).collect::<Vec<_>>())
    {
        let number = cell.parse::<f64>().is_ok();
        assert!(number || !cell.starts_with(['=', '+', '-', '@', '\t']), "{cell}");
        cells += 1;
    }
    assert!(cells > 400);
    let plain = sheet(&unnoted().folder, &[]);
    assert!(plain.out.is_ascii() && plain.out.starts_with(b"Lens notes"));
}

#[test]
fn tomorrows_sheet_comes_of_the_kit() {
    let shoot = Shoot::empty();
    fs::copy(crate::shoot::sample().join("kit.toml"), shoot.folder.join("kit.toml")).unwrap();
    let free = sheet(&shoot.folder, &["--blank"]).exits(0);
    let lines = rows(&free.out);
    assert_eq!(lines.len(), 30);
    assert!(lines.iter().all(|row| row.values().all(String::is_empty)), "no roll is known");
    assert!(free.result().contains("Sorrel 50 (50 mm, f/1.4"), "{}", free.result());
    let made = sheet(&shoot.folder, &["--blank", "--rolls", "A004,B002", "--rows", "3"]).exits(0);
    let named: Vec<String> =
        rows(&made.out).iter().map(|row| format!("{} {}", row["Roll"], row["Clip"])).collect();
    assert_eq!(
        named,
        ["A004 C001", "A004 C002", "A004 C003", "B002 C001", "B002 C002", "B002 C003"]
    );
    assert!(made.result().contains("If nothing is noted: B002 attachment Corbel plain"));
    // Two of the six were shot and one of them was noted; the others are no mistakes.
    shoot.clip("A004/A004C001_1114_KV.mov");
    shoot.clip("A004/A004C002_1114_KV.mov");
    let notes = filled(&made.out, |at, heading| match (at, heading) {
        (1, "Lens") => Some("Sorrel 50".to_owned()),
        (1, "Stop") => Some("2.8".to_owned()),
        (1, "Attachment") => Some("Corbel 0.71".to_owned()),
        _ => None,
    });
    fs::write(shoot.folder.join("notes.csv"), notes).unwrap();
    let ran = shoot.annotate(["--json"]);
    let codes: Vec<String> = findings(&ran.out).into_iter().map(|(code, _)| code).collect();
    assert!(!codes.iter().any(|code| code == "notes.no-match"), "{codes:?}");
    let record: Value = serde_json::from_slice(&ran.out).unwrap();
    let lens = |at: usize| record["clips"][at]["pieces"][0]["lens"]["value"].clone();
    assert_eq!((lens(0), lens(1)), (Value::Null, Value::from("Sorrel 50")));
    // A kit that names rolls, and clips of another form.
    let kit = "[[roll]]\nname = 'M7'\n[[roll]]\nname = 'M8'\n[[naming]]\npattern = '<roll @#>-<clip SHOT##X>'\n";
    fs::write(shoot.folder.join("kit.toml"), kit).unwrap();
    let of_kit = rows(&sheet(&shoot.folder, &["--blank", "--rows", "100"]).exits(0).out);
    assert_eq!((&*of_kit[0]["Roll"], &*of_kit[0]["Clip"]), ("M7", "SHOT01X"));
    // The pattern has no hundredth clip, and a row with a roll alone would hold for all of it.
    assert_eq!((&*of_kit[99]["Roll"], &*of_kit[99]["Clip"]), ("", ""));
    let kit = "[[naming]]\npattern = '<roll @#>-<clip @##>'\n";
    fs::write(shoot.folder.join("kit.toml"), kit).unwrap();
    let unknown = rows(&sheet(&shoot.folder, &["--blank", "--rolls", "M7"]).exits(0).out);
    assert!(unknown.iter().all(|row| row["Roll"].is_empty() && row["Clip"].is_empty()));
}

#[test]
fn what_cannot_be_asked_is_refused() {
    let shoot = Shoot::empty();
    let talk = sheet(&shoot.folder, &[]).exits(2).talk();
    assert!(talk.contains("no clip") && talk.contains("--blank"), "{talk}");
    let talk = sheet(&shoot.folder.join("nowhere"), &[]).exits(2).talk();
    assert!(talk.contains("is not a folder"), "{talk}");
    for more in [
        &["--rolls", "A004"][..],
        &["--rows", "3"],
        &["--dry-run"],
        &["--blank", "--rows", "0"],
        &["--blank", "--dump", "."],
    ] {
        sheet(&shoot.folder, more).exits(2);
    }
    fs::write(shoot.folder.join("kit.toml"), "[[lens]]\nname = 3\n").unwrap();
    let refused = sheet(&shoot.folder, &["--blank", "--json"]).exits(2);
    let refused: Value = serde_json::from_slice(&refused.out).unwrap();
    assert_eq!(refused["format"], "lensmend refusal");
    // Without any kit there is a sheet all the same, and the talk says what it lacks.
    fs::remove_file(shoot.folder.join("kit.toml")).unwrap();
    let bare = sheet(&shoot.folder, &["--blank"]).exits(0);
    assert!(bare.talk().contains("no kit.toml"), "{}", bare.talk());
    assert_eq!(rows(&bare.out).len(), 30);
}

#[test]
fn json_says_the_same_as_the_csv() {
    let shoot = unnoted();
    let said = sheet(&shoot.folder, &["--json"]).exits(1);
    assert_eq!(said.talk(), "");
    let said: Value = serde_json::from_slice(&said.out).unwrap();
    let lines = rows(&sheet(&shoot.folder, &[]).out);
    assert_eq!(
        (&said["format"], &said["of"]),
        (&Value::from("lensmend sheet"), &Value::from("dump"))
    );
    let listed = said["rows"].as_array().unwrap();
    assert_eq!(listed.len(), lines.len());
    for (json, row) in listed.iter().zip(&lines) {
        assert_eq!(
            (json["roll"].as_str(), json["clip"].as_str()),
            (Some(&*row["Roll"]), Some(&*row["Clip"]))
        );
        assert_eq!(json["recorded"]["focal"].as_str().unwrap_or_default(), row["Recorded focal"]);
    }
    assert_eq!(said["lenses"].as_array().unwrap().len(), 5);
    assert!(said["findings"].as_array().unwrap().iter().any(|it| it["code"] == "media.empty"));
}

/// Headings are looked for in the first 30 rows, so that no kit may push them below.
#[test]
fn a_kit_of_hundreds_leaves_the_headings_where_they_are_found() {
    use std::fmt::Write as _;
    let shoot = Shoot::clean();
    let mut kit = fs::read_to_string(shoot.folder.join("kit.toml")).unwrap();
    for at in 0..200 {
        writeln!(
            kit,
            "[[lens]]\nid = 'clip-roll-lens-{at}'\nname = 'Lens {at}'\nfocal = {}",
            100 + at
        )
        .unwrap();
        writeln!(kit, "[[attachment]]\nid = 'a{at}'\nname = 'Stop, Focus {at}'\nkind = 'adapter'")
            .unwrap();
        writeln!(kit, "[[camera]]\nid = 'K{at}x'\nname = 'Clip'\nattachment = 'a{at}'").unwrap();
        for mode in ["Lens", "Stop"] {
            writeln!(
                kit,
                "[[camera.mode]]\nid = '{mode}{at}'\nraster = '64x64'\nwidth = 9.0\nheight = 9.0"
            )
            .unwrap();
        }
        writeln!(kit, "[[roll]]\nname = 'R{at}'\ncamera = 'K{at}x'").unwrap();
    }
    fs::write(shoot.folder.join("kit.toml"), kit).unwrap();
    for more in [&[][..], &["--blank", "--rows", "2"]] {
        let printed = sheet(&shoot.folder, more).exits(0);
        let above =
            printed.result().lines().position(|line| line.starts_with("Roll,Clip,")).unwrap();
        assert!((15..30).contains(&above), "{}", printed.result());
        fs::write(shoot.folder.join("notes.csv"), &printed.out).unwrap();
        let ran = shoot.annotate(["--json"]);
        assert!(ran.talk().contains("notes notes.csv (0 rows)"), "{}", ran.talk());
        assert!(!findings(&ran.out).iter().any(|(code, _)| code.starts_with("notes.h")));
    }
}

/// Two lenses of one name are told apart, and no name is offered that a cell would read as something else.
#[test]
fn every_name_that_is_offered_means_one_lens() {
    let shoot = Shoot::clean();
    let kit = "
[[lens]]
id = 's1'
name = 'Sorrel 50'
serial = '0412'
focal = 50
[[lens]]
id = 's2'
name = 'sorrel-50'
focal = 50
[[lens]]
id = 'n/a'
name = '?'
aliases = ['ditto', 'Old glass']
focal = 40
[[attachment]]
id = 'c1'
name = 'none'
kind = 'adapter'
";
    fs::write(shoot.folder.join("kit.toml"), kit).unwrap();
    let said = sheet(&shoot.folder, &["--json"]);
    let said: Value = serde_json::from_slice(&said.out).unwrap();
    let offered = |list: &str| -> Vec<String> {
        let list = said[list].as_array().unwrap();
        list.iter().map(|choice| choice["write"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(offered("lenses"), ["s1", "s2", "Old glass"]);
    assert_eq!(offered("attachments"), ["c1"]);
    // Each of them is read as the lens that is meant.
    for (at, expected) in ["Sorrel 50", "sorrel-50", "?"].iter().enumerate() {
        shoot.notes(&format!("Clip,Lens\nA003C001,{}\n", offered("lenses")[at]));
        let record: Value = serde_json::from_slice(&shoot.annotate(["--json"]).out).unwrap();
        assert_eq!(record["clips"][0]["pieces"][0]["lens"]["value"], *expected);
    }
}
