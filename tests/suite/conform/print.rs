//! The camera report on paper, as other people's readers of PDF find it: every row whole and in order, and nothing else in it.
#![allow(clippy::disallowed_methods, reason = "reports are written for the judge to open")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use serde_json::Value as Json;
use unicode_normalization::UnicodeNormalization as _;

use crate::report::{days, reported, reported_at, rows};
use crate::shoot::Shoot;
use crate::workshop::{sample, tree};

use super::Judges;

const JUDGE: &str = "report_print.py";

type Row = BTreeMap<String, String>;

/// Columns of the form, those that it always has marked, with what stands beneath.
const COLUMNS: &[(&str, bool, &[&str])] = &[
    ("Clip", true, &["Files"]),
    ("Slate", true, &[]),
    ("Take", true, &[]),
    ("Start", true, &["End"]),
    ("Duration", true, &["Frames"]),
    ("Lens", true, &["Serial"]),
    ("Attachment", true, &["Magnification"]),
    ("Focal set (mm)", true, &[]),
    ("Effective (mm)", true, &["\u{b1} mm"]),
    ("Stop set", true, &[]),
    ("Effective T", true, &["Effective f"]),
    ("Focus (m)", false, &[]),
    ("Filter", false, &["ND stops"]),
    ("Height (m)", false, &["Tilt (\u{b0})"]),
    ("Verdict", true, &["Media said (mm)"]),
];

/// What can be said of a line that is not as the head of its roll says.
const HEAD: &[&str] = &[
    "Shooting day",
    "Unit",
    "Camera",
    "Camera model",
    "Camera serial",
    "Operator",
    "Assistants",
    "Media",
    "Mode",
    "Raster",
    "Frames a second",
    "Recorded area (mm)",
    "Shutter",
    "ISO",
    "White balance",
];

#[test]
fn paper_says_what_the_table_says_row_for_row() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let into = |name: &str| folder.path().join(name);
    let shoot = days(60);
    reported(&sample(), &into("sample"), &[]);
    reported(&shoot.folder, &into("days"), &["--paper", "letter"]);
    reported(&world().folder, &into("world"), &[]);
    let files = ["sample", "days", "world"].map(|name| into(name).join("report.pdf"));
    let said = judges.ask(JUDGE, &files);
    for (said, name) in said.iter().zip(["sample", "days", "world"]) {
        let rows = rows(&into(name), b',');
        sound(said, name);
        regular(said, &rows);
        let title = said["facts"]["/Title"].as_str().unwrap();
        for reader in ["sheets", "again"] {
            let sheets: Vec<String> =
                strings(&said[reader]).iter().map(|text| squeezed(text)).collect();
            row_for_row(&sheets, &rows, title, &format!("{name}, {reader}"));
        }
    }
    let size = |said: &Json| {
        said["size"]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_f64().unwrap().round())
            .collect::<Vec<_>>()
    };
    // A4 is 297 x 210 mm (ISO 216), Letter 11 x 8.5 in; a point is 1/72 in (ISO 32000-1, 8.3.2.3).
    assert_eq!(size(&said[0]), [842.0, 595.0]);
    assert_eq!(size(&said[1]), [792.0, 612.0]);
    whole(&said[1], &rows(&into("days"), b','));
    bookmarked(&said[1]);
    assert!(strings(&said[1]["structure"]["cells"]).contains(&"2, Circled".to_owned()));

    // The same input is the same bytes; another form is others.
    reported_at("2031-01-02T03:04:05Z", &shoot.folder, &into("again"), &["--paper", "letter"]);
    reported(&shoot.folder, &into("other"), &["--paper", "a4"]);
    let bytes = |name: &str| tree(&into(name)).remove("report.pdf").unwrap();
    assert!(bytes("days") == bytes("again"));
    assert!(bytes("days") != bytes("other"));
}

/// Scripts of the world, letters taken apart, and letters that nobody has.
fn world() -> Shoot {
    let shoot = Shoot::empty();
    fs::copy(sample().join("kit.toml"), shoot.folder.join("kit.toml")).unwrap();
    let remarks = [
        "\u{17d}lu\u{165}ou\u{10d}k\u{fd} k\u{16f}\u{148}, \u{110}\u{1eb7}ng Th\u{f9}y, \u{141}\u{d3}D\u{179}, na\u{ef}ve",
        "\u{395}\u{3bb}\u{3bb}\u{3b7}\u{3bd}\u{3b9}\u{3ba}\u{3ac}, \u{41a}\u{438}\u{440}\u{438}\u{43b}\u{43b}\u{438}\u{446}\u{430}",
        "Cafe\u{301}, Zu\u{308}rich, A\u{30a}ngstro\u{308}m",
        "\u{6771}\u{4eac}\u{30bf}\u{30ef}\u{30fc}\u{3001}\u{5915}\u{65b9}\u{3002}\u{5317}\u{4eac}\u{4e0a}\u{6d77}\u{2460}",
        "\u{c11c}\u{c6b8} \u{d55c}\u{ad6d}\u{c5b4}, \u{1112}\u{1161}\u{11ab}",
        "\u{5e9}\u{5dc}\u{5d5}\u{5dd}",
        "\u{645}\u{631}\u{62d}\u{628}\u{627}",
        "\u{2192} \u{2713} \u{25cb} \u{2605} \u{bd} \u{b1} \u{2212} \u{2032} \u{2033}",
        "\u{e000} \u{10ffff} \u{1f9ff} \u{0e01}",
    ];
    let mut notes = String::from("Roll,Clip,Slate,Take,Lens,Stop,Reducer,Remarks\n");
    for (at, remark) in (1..).zip(remarks) {
        shoot.clip(format!("A001/A001C{at:03}.mov"));
        writeln!(notes, "A001,C{at:03},{at},1,Sorrel 50,2.8,0.71,\"{remark}\"").unwrap();
    }
    shoot.notes(&notes);
    shoot
}

fn strings(json: &Json) -> Vec<String> {
    json.as_array().unwrap().iter().map(|text| text.as_str().unwrap().to_owned()).collect()
}

/// Text without what readers add or leave out at will: white space and letters of no width.
fn squeezed(text: &str) -> String {
    let plain = |c: &char| {
        !c.is_whitespace()
            && !matches!(c, '\u{200b}'..='\u{200d}' | '\u{2}' | '\u{fffe}' | '\u{ad}')
    };
    text.nfc().filter(plain).collect()
}

/// A cell of the table as it stands on paper: no apostrophe against formulas, codes for letters that no face has.
fn on_paper(cell: &str) -> String {
    let bare = cell.strip_prefix('\'').filter(|rest| rest.starts_with(['=', '+', '-', '@']));
    let known = |c: char| !(matches!(c, '\u{e000}'..='\u{f8ff}' | '\u{e01}') || c > '\u{ffff}');
    let letters = bare
        .unwrap_or(cell)
        .nfc()
        .map(|c| if known(c) { c.to_string() } else { c.escape_unicode().to_string() });
    squeezed(&letters.collect::<String>())
}

/// The file holds to its standards as far as the judge can see, carries its fonts, does nothing, and prints inside its edges.
fn sound(said: &Json, name: &str) {
    assert_eq!(said["problems"], Json::Array(Vec::new()), "{name}");
    assert_eq!((&said["active"], &said["scripts"]), (&0.into(), &false.into()), "{name}");
    assert_eq!(said["language"], "en");
    assert_eq!(said["intents"], true);
    assert_eq!(said["margins"], true, "{name}: something is printed at the edge");
    // ISO 19005-2, 6.6.4 and ISO 14289-1, 5: what a file says of its conformance.
    let claims = &said["claims"];
    assert_eq!(
        (&claims["pdfaid:part"], &claims["pdfaid:conformance"], &claims["pdfuaid:part"]),
        (&"2".into(), &"A".into(), &"1".into())
    );
    let fonts = said["fonts"].as_object().unwrap();
    assert!(fonts.len() >= 2);
    for (font, has) in fonts {
        assert_eq!(
            *has,
            serde_json::json!({ "embedded": true, "subset": true, "unicode": true }),
            "{font}"
        );
    }
    let steers = |c: char| {
        c.is_control() && !"\n\r\u{2}".contains(c)
            || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}')
    };
    for text in strings(&said["sheets"]) {
        assert!(!text.contains(steers), "{name}: {text:?}");
    }
}

/// Tables whose rows are all as wide as their head (ISO 14289-1, 7.5), headings without gaps (7.4.2), words for pictures (7.3).
fn regular(said: &Json, rows: &[Row]) {
    let structure = &said["structure"];
    let mut lines = 0;
    for table in structure["tables"].as_array().unwrap() {
        let widths = table.as_array().unwrap();
        assert!(widths.len() > 1 && widths.iter().all(|width| *width == widths[0]), "{widths:?}");
        lines += widths.len() - 1;
    }
    assert!(lines >= rows.len(), "{lines}");
    let mut level = 0;
    for heading in structure["headings"].as_array().unwrap() {
        let this = heading[0].as_u64().unwrap();
        assert!(this <= level + 1, "{structure}");
        level = this;
    }
    let pictures = strings(&structure["pictures"]);
    assert!(pictures.len() >= 2 && pictures.iter().all(|words| words.len() > 40), "{pictures:?}");
}

/// Every row of the table stands in the text, cell by cell, with what is said of the clip right behind it.
fn row_for_row(sheets: &[String], rows: &[Row], title: &str, name: &str) {
    let used = COLUMNS.iter().filter(|(column, always, beneath)| {
        let has = |heading: &&str| {
            rows.iter().any(|row| row.get(*heading).is_some_and(|cell| !cell.is_empty()))
        };
        *always || has(column) || beneath.iter().any(has)
    });
    let used: Vec<_> = used.collect();
    let heads: String = used
        .iter()
        .flat_map(|(column, _, beneath)| std::iter::once(column).chain(*beneath))
        .map(|it| squeezed(it))
        .collect();
    let foot = squeezed(title);
    let text: String = sheets
        .iter()
        .map(|sheet| {
            let end = sheet
                .rfind(&foot)
                .unwrap_or_else(|| panic!("{name}: a sheet without a foot: {sheet}"));
            // A sheet that goes on with a table begins with what it goes on with.
            match sheet[..end].split_once(&heads) {
                Some((before, after))
                    if before.starts_with("Roll")
                        && before.contains('\u{b7}')
                        && before.len() < 80 =>
                {
                    after
                }
                _ => &sheet[..end],
            }
        })
        .collect();
    let mut rest = text.as_str();
    let mut roll = None;
    let mut at = 0;
    while let Some(row) = rows.get(at) {
        let section = Some((&row["Day"], &row["Roll"]));
        if roll != section {
            roll = section;
            let head =
                rest.find(&heads).unwrap_or_else(|| panic!("{name}: no table of roll {roll:?}"));
            assert!(rest[..head].contains(&format!("Roll{}", row["Roll"])), "{name}");
            rest = &rest[head + heads.len()..];
        }
        let lines = rows[at..]
            .iter()
            .take_while(|other| other["Clip"] == row["Clip"] && other["Roll"] == row["Roll"]);
        let lines: Vec<&Row> = lines.collect();
        for line in &lines {
            for (column, _, beneath) in &used {
                for heading in std::iter::once(column).chain(*beneath) {
                    // Columns that nobody filled in have no column in the table either.
                    let words = line.get(*heading).map(|cell| on_paper(cell)).unwrap_or_default();
                    rest = after(rest, &words, line, name);
                }
            }
            rest = aside(rest, line);
        }
        for (heading, between) in [("Remarks", ";"), ("Needs a person", ";")] {
            let mut words: Vec<String> =
                lines.iter().map(|line| on_paper(&line[heading])).collect();
            words.retain(|words| !words.is_empty());
            words.dedup();
            if !words.is_empty() {
                rest = after(rest, &(squeezed(heading) + &words.join(between)), row, name);
            }
        }
        at += lines.len();
    }
    assert!(at > 8, "{name}");
}

fn after<'a>(text: &'a str, words: &str, row: &Row, name: &str) -> &'a str {
    text.strip_prefix(words).unwrap_or_else(|| {
        panic!(
            "{name}: wanted {words:?} of {row:?}, found {:?}",
            text.chars().take(300).collect::<String>()
        )
    })
}

/// Behind what a line says of itself, because it is not as the head of the roll says.
fn aside<'a>(mut text: &'a str, row: &Row) -> &'a str {
    loop {
        let before = text;
        for heading in HEAD {
            for value in [
                row.get(*heading).map(|cell| on_paper(cell)).unwrap_or_default(),
                "notknown".to_owned(),
            ] {
                let words = squeezed(heading) + &value;
                if let Some(after) = text.strip_prefix(&words).filter(|_| !value.is_empty()) {
                    text = after.strip_prefix('\u{b7}').unwrap_or(after);
                }
            }
        }
        if text == before {
            return text;
        }
    }
}

/// No clip is parted from what is said of it, every sheet with clips has the heads, and only a remark longer than a sheet goes on.
fn whole(said: &Json, rows: &[Row]) {
    let sheets: Vec<String> = strings(&said["sheets"]).iter().map(|text| squeezed(text)).collect();
    let of = |words: &str| {
        (0..sheets.len()).filter(|at| sheets[*at].contains(words)).collect::<Vec<_>>()
    };
    let mut marked = 0;
    for row in rows {
        let Some(mark) =
            row["Remarks"].split_whitespace().next().filter(|word| word.starts_with("mark-"))
        else {
            continue;
        };
        marked += 1;
        let end = row["Remarks"].split_whitespace().last().unwrap();
        let sheet = of(mark);
        assert_eq!(sheet.len(), 1, "{mark}");
        assert_eq!(sheet, of(end), "{mark} is parted from {end}");
        assert!(
            sheets[sheet[0]].contains(&row["Clip"])
                && sheets[sheet[0]].contains("EffectiveTEffectivef"),
            "{mark}"
        );
        assert!(sheets[sheet[0]].contains(&format!("Page{}of{}", sheet[0] + 1, sheets.len())));
        let foot = sheets[sheet[0]].rsplit("Camerareport").next().unwrap();
        assert!(foot.contains(&format!("Roll{}", row["Roll"])), "{foot}");
    }
    assert_eq!(marked, 60);
    assert_eq!(of("end-of-long").len(), 1);
}

/// A bookmark for each day, and below it one for each roll, on the sheet on which it begins.
fn bookmarked(said: &Json) {
    let sheets: Vec<String> = strings(&said["sheets"]).iter().map(|text| squeezed(text)).collect();
    let bookmarks = said["bookmarks"].as_array().unwrap();
    let found: Vec<(u64, &str)> =
        bookmarks.iter().map(|it| (it[0].as_u64().unwrap(), it[1].as_str().unwrap())).collect();
    let is_there = |depth: u64, begin: &str| {
        found.iter().any(|(at, title)| *at == depth && title.starts_with(begin))
    };
    for (depth, title) in [
        (0, "2026-11-14"),
        (1, "Roll A001"),
        (1, "Roll A002"),
        (0, "2026-11-15"),
        (1, "Roll A003"),
        (0, "Lenses used"),
    ] {
        assert!(is_there(depth, title), "{title}: {found:?}");
    }
    for bookmark in bookmarks.iter().filter(|it| it[1].as_str().unwrap().starts_with("Roll")) {
        let sheet = usize::try_from(bookmark[2].as_u64().unwrap()).unwrap();
        assert!(sheets[sheet - 1].contains(&squeezed(bookmark[1].as_str().unwrap())), "{bookmark}");
    }
}

/// A shoot of which no day is known makes a report without a date, which is no PDF/A, and says so itself.
#[test]
fn without_a_day_it_claims_no_more_than_it_holds() {
    let Some(judges) = Judges::called() else { return };
    let shoot = Shoot::empty();
    let kit = fs::read_to_string(sample().join("kit.toml")).unwrap();
    let undated: Vec<&str> = kit.lines().filter(|line| !line.starts_with("da")).collect();
    fs::write(shoot.folder.join("kit.toml"), undated.join("\n")).unwrap();
    shoot.notes("Roll,Clip,Lens,Stop\nA001,C001,Sorrel 50,2.8\n");
    fs::create_dir_all(shoot.dump().join("A001")).unwrap();
    fs::write(shoot.dump().join("A001/A001C001.raw"), b"raw").unwrap();
    let (_, _, talk) = reported(&shoot.folder, &shoot.out, &[]);
    assert!(talk.contains("Wrote"), "{talk}");
    let said = judges.ask(JUDGE, &[Path::new(&shoot.out).join("report.pdf")]);
    assert_eq!(said[0]["claims"]["pdfaid:part"], Json::Null);
    assert_eq!(said[0]["claims"]["pdfuaid:part"], "1");
    assert_eq!(said[0]["problems"], Json::Array(Vec::new()));
    assert_eq!(said[0]["facts"]["/CreationDate"], Json::Null);
    assert!(strings(&said[0]["sheets"]).concat().contains("Day not known"));
}
