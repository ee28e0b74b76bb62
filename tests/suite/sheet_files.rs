//! Sheets written into files: which file gives way, the same bytes again, the workbook and the page.

#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::conform::Judges;
use crate::sheet::{rows, sheet};
use crate::shoot::{DATE, LATER, Ran, Shoot, stamps};

fn write(shoot: &Shoot, file: &Path, more: &[&str]) -> Ran {
    let file = file.to_str().unwrap();
    sheet(&shoot.folder, &[&["--into", file, "--date", DATE], more].concat())
}

/// Clips that leave no finding.
fn clear() -> Shoot {
    let shoot = Shoot::clean();
    fs::remove_file(shoot.folder.join("notes.csv")).unwrap();
    shoot.clip("A003/A003C002_1114_KV.mov");
    shoot
}

#[test]
fn the_same_sheet_is_the_same_bytes_and_is_left_as_it_is() {
    let shoot = clear();
    for form in ["csv", "xlsx", "html"] {
        let [one, two] = ["one", "two"].map(|name| shoot.folder.join(format!("{name}.{form}")));
        for file in [&one, &two] {
            let talk = write(&shoot, file, &[]).exits(0).talk();
            assert!(talk.contains("Wrote") && talk.contains("2 rows on 1 roll"), "{talk}");
        }
        assert!(fs::read(&one).unwrap() == fs::read(&two).unwrap(), "{form}");
        // Another day changes nothing, and an untouched sheet of the same clips is not written again.
        let before = stamps(&shoot.folder);
        let later = sheet(&shoot.folder, &["--into", one.to_str().unwrap(), "--date", LATER]);
        assert!(later.exits(0).talk().contains("Left as it is"));
        assert_eq!(stamps(&shoot.folder), before, "{form}");
    }
    let printed = sheet(&shoot.folder, &[]).exits(0).out;
    assert!(printed == fs::read(shoot.folder.join("one.csv")).unwrap());
}

#[test]
fn an_untouched_sheet_gives_way_and_a_filled_one_never_does() {
    for form in ["csv", "xlsx", "html"] {
        let shoot = clear();
        let file = shoot.folder.join(format!("notes.{form}"));
        write(&shoot, &file, &[]).exits(0);
        let first = fs::read(&file).unwrap();
        shoot.clip("A003/A003C003_1114_KV.mov");
        let dry = write(&shoot, &file, &["--dry-run", "--json"]).exits(0);
        let dry: Value = serde_json::from_slice(&dry.out).unwrap();
        assert_eq!(dry["into"]["state"], "would be written");
        assert!(fs::read(&file).unwrap() == first, "a dry run writes nothing");
        let grown = write(&shoot, &file, &["--json"]).exits(0);
        let grown: Value = serde_json::from_slice(&grown.out).unwrap();
        assert_eq!(
            (&grown["into"]["state"], &grown["into"]["form"]),
            (&"written".into(), &form.into())
        );
        let second = fs::read(&file).unwrap();
        assert!(second != first);
        // One byte more or less is a note, and so is anything that is no sheet of ours.
        let mut longer = second.clone();
        longer.extend(b"A003,C004\r\n");
        let mut other = second.clone();
        let middle = other.len() / 2;
        other[middle] ^= 1;
        for there in [longer, other, b"my own notes".to_vec(), Vec::new()] {
            // A ZIP archive may carry bytes behind its end; none of its parts changed, so no note is in it.
            if form == "xlsx" && there.starts_with(&second) {
                continue;
            }
            fs::write(&file, &there).unwrap();
            for more in [&[][..], &["--dry-run"]] {
                let talk = write(&shoot, &file, more).exits(2).talk();
                assert!(talk.contains("may hold notes"), "{form}: {talk}");
                assert!(fs::read(&file).unwrap() == there, "{form}");
            }
        }
    }
}

#[test]
fn places_where_no_sheet_belongs_are_refused() {
    let shoot = clear();
    for (file, words) in [
        ("notes.txt", ".csv"),
        ("notes", ".xlsx"),
        ("notes.xls", ".html"),
        ("nowhere/notes.csv", "a folder that is there"),
        ("dump/notes.csv", "lies in the dump"),
        ("dump/A003/notes.csv", "lies in the dump"),
    ] {
        let talk = write(&shoot, &shoot.folder.join(file), &[]).exits(2).talk();
        assert!(talk.contains(words), "{file}: {talk}");
    }
    fs::create_dir(shoot.folder.join("folder.csv")).unwrap();
    write(&shoot, &shoot.folder.join("folder.csv"), &[]).exits(2);
    write(&shoot, &shoot.folder.join("UPPER.CSV"), &[]).exits(0);
    // Where the dump is the folder of the day itself, notes lie beside the cards.
    let cards = shoot.dump();
    let talk = sheet(&cards, &["--into", cards.join("notes.csv").to_str().unwrap()]);
    assert!(talk.exits(0).talk().contains("no kit.toml"));
    let again = sheet(&cards, &["--into", cards.join("notes.csv").to_str().unwrap()]).exits(0);
    assert!(again.talk().contains("Left as it is"));
}

#[test]
fn the_page_needs_nothing_else_and_holds_every_clip() {
    let shoot = Shoot::sample();
    let name = "The <b>Saltmarsh</b> & \"Signal\"\u{202e}";
    let kit = fs::read_to_string(shoot.folder.join("kit.toml")).unwrap();
    let kit = kit.replace("\"The Saltmarsh Signal\"", &format!("'{name}'"));
    fs::write(shoot.folder.join("kit.toml"), kit).unwrap();
    let file = shoot.folder.join("clipboard.html");
    write(&shoot, &file, &[]).exits(1);
    let page = fs::read_to_string(&file).unwrap();
    let lower = page.to_lowercase();
    for foreign in
        ["http:", "https:", "<script", "<link", "src=", "url(", "@import", "<b>saltmarsh"]
    {
        assert!(!lower.contains(foreign), "{foreign}");
    }
    assert!(page.contains("The &lt;b&gt;Saltmarsh&lt;/b&gt; &amp;") && !page.contains('\u{202e}'));
    for row in rows(&sheet(&shoot.folder, &[]).out) {
        assert!(page.contains(&format!("<th scope=\"row\">{}</th>", row["Clip"])), "{row:?}");
    }
    // A page a roll, headings that repeat on paper, rows that are not cut, high enough to write in.
    assert_eq!(page.matches("<section>").count(), 2);
    assert_eq!(page.matches("<thead>").count(), 2);
    for rule in [
        "table-header-group",
        "break-inside: avoid",
        "break-before: page",
        "height: 9.5mm",
        "size: landscape",
    ] {
        assert!(page.contains(rule), "{rule}");
    }
    assert!(page.contains("50 mm, f/1.4") && page.contains("If nothing is noted"));
}

/// The date and the parts of a workbook (ECMA-376) as a spreadsheet library (openpyxl) reads them.
#[test]
fn the_workbook_is_what_a_spreadsheet_library_reads() {
    let Some(judges) = Judges::called() else { return };
    let (day, blank) = (Shoot::sample(), Shoot::sample());
    let files: [PathBuf; 2] = [day.folder.join("day.xlsx"), blank.folder.join("blank.xlsx")];
    write(&day, &files[0], &[]).exits(1);
    write(&blank, &files[1], &["--blank", "--rolls", "A004", "--rows", "5"]).exits(0);
    let said = judges.ask("sheet_book.py", &files);
    for book in &said {
        assert_eq!(book["sheets"], serde_json::json!(["Notes", "Kit"]));
        assert_eq!((&book["program"], &book["created"]), (&"lensmend".into(), &DATE.into()));
        assert_eq!(
            (&book["formulas"], &book["typed"]),
            (&serde_json::json!([]), &serde_json::json!([]))
        );
        assert_eq!(book["landscape"], true);
        let formats = book["formats"].as_array().unwrap();
        assert!(!formats.is_empty() && formats.iter().all(|format| format == "@"), "{formats:?}");
        let lists = &book["lists"];
        assert_eq!(
            lists["Lens"]["values"],
            serde_json::json!([
                "Sorrel 35",
                "Sorrel 50",
                "Sorrel 85",
                "Umber 24",
                "Sorrel 24-70",
                "\""
            ])
        );
        assert_eq!(
            lists["Attachment"]["values"],
            serde_json::json!(["Corbel 0.71", "Corbel 1.4", "Corbel plain", "none", "\""])
        );
        assert_eq!(lists["Circled"]["values"], serde_json::json!(["x"]));
        assert_eq!(lists["Mode"]["values"][0], "uhd");
        assert!(lists["Stop"]["values"].as_array().unwrap().contains(&"2.8".into()));
        assert_eq!(
            (&lists["Lens"]["style"], &lists["Stop"]["style"]),
            (&"warning".into(), &"none".into())
        );
        assert!(book["advice"]["Focus"].as_str().unwrap().contains("2.4 m"));
    }
    // The rows are those of the CSV, and the lists reach beyond them.
    let read: Vec<Vec<String>> = serde_json::from_value(said[0]["rows"].clone()).unwrap();
    let top = read.iter().position(|row| row.iter().any(|cell| cell == "Clip")).unwrap();
    let of_csv = rows(&sheet(&day.folder, &[]).out);
    assert_eq!(read.len() - top - 1, of_csv.len());
    for (cells, row) in read[top + 1..].iter().zip(&of_csv) {
        for (heading, cell) in read[top].iter().zip(cells) {
            assert_eq!(cell, &row[heading], "{heading}");
        }
    }
    let cells = said[0]["lists"]["Lens"]["cells"].as_str().unwrap();
    let (from, to) = cells.split_once(':').unwrap();
    let line = |cell: &str| cell.trim_start_matches(char::is_alphabetic).parse::<usize>().unwrap();
    assert_eq!(line(from), top + 2);
    assert!(line(to) >= read.len() + 200, "{cells}");
    assert_eq!(said[0]["frozen"], format!("C{}", top + 2));
    assert_eq!(said[0]["repeated"], format!("${0}:${0}", top + 1));
    // What a spreadsheet saved is no longer ours.
    let filled = PathBuf::from(format!("{}.filled.xlsx", files[0].display()));
    fs::rename(&filled, &files[0]).unwrap();
    // And it is read as it was filled in: each clip has the slate of its own row.
    let ran = day.annotate(["--notes", files[0].to_str().unwrap(), "--json"]);
    let record: Value = serde_json::from_slice(&ran.out).unwrap();
    let slates: Vec<&str> = record["clips"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|clip| clip["pieces"][0]["slate"]["value"].as_str())
        .collect();
    let expected: Vec<String> = (1..=of_csv.len()).map(|row| format!("S{row}")).collect();
    assert_eq!(slates, expected);
    let there = fs::read(&files[0]).unwrap();
    assert!(write(&day, &files[0], &[]).exits(2).talk().contains("may hold notes"));
    assert!(fs::read(&files[0]).unwrap() == there);
}
