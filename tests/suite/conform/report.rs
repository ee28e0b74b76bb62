//! The page of a camera report in a real browser: with and without scripts, on a phone, printed, and with hostile notes.
#![allow(clippy::disallowed_methods, reason = "pages are written for the judge to open")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value as Json;

use crate::report::{HOSTILE, days, reported, rows};
use crate::workshop::sample;

use super::Judges;

const JUDGE: &str = "report_page.py";

type Row = BTreeMap<String, String>;

/// Columns with one below the other, as the page has them.
const COLUMNS: &[(&str, &[&str])] = &[
    ("Clip", &["Files"]),
    ("Slate", &[]),
    ("Start", &["End"]),
    ("Duration", &["Frames"]),
    ("Lens", &["Serial"]),
    ("Attachment", &["Magnification"]),
    ("Focal set (mm)", &[]),
    ("Effective (mm)", &["\u{b1} mm"]),
    ("Stop set", &[]),
    ("Effective T", &["Effective f"]),
    ("Focus (m)", &[]),
    ("Filter", &["ND stops"]),
    ("Verdict", &["Media said (mm)"]),
];

/// One after the other: a browser wants much memory, and the tests run side by side.
#[test]
fn pages_hold_in_a_browser() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let shoot = days(60);
    let into = |name: &str| folder.path().join(name);
    reported(&sample(), &into("sample"), &[]);
    reported(&shoot.folder, &into("days"), &["--paper", "letter"]);
    fs::create_dir_all(into("bad")).unwrap();
    fs::write(into("bad/report.html"), bad(&into("sample"))).unwrap();
    let pages: Vec<PathBuf> =
        ["sample", "days", "bad"].iter().map(|name| into(name).join("report.html")).collect();
    let said = judges.ask(JUDGE, &pages);
    for (said, name) in said.iter().zip(["sample", "days"]) {
        let rows = rows(&into(name), b',');
        quiet(said);
        content(said, &rows);
        sorted(said, &rows);
        filtered(said, &rows);
        fits(said);
        accessible(said);
        printed(said, &rows);
    }
    hostile(&said[1]);
    let sizes = |said: &Json| said["sheets"][0]["size"][0].as_f64().unwrap().round();
    // 297 mm and 11 in are 841.9 and 792 points of 1/72 in.
    assert_eq!((sizes(&said[0]), sizes(&said[1])), (842.0, 792.0));
    seen(&said[2]);
}

/// A page on which everything that is looked for is wrong: the judge must see it.
fn bad(good: &Path) -> String {
    let page = fs::read_to_string(good.join("report.html")).unwrap();
    let start = page.find("<meta http-equiv").unwrap();
    let end = start + page[start..].find('>').unwrap() + 1;
    let open = [&page[..start], &page[end..]].concat();
    open.replacen(
        "<main>",
        "<main><img src=\"x.png\" onerror=\"window.pwned='yes'\"><p id=\"day-1\" \
         style=\"color:#999;background:#fff;width:900px\">\u{202e}wide</p><script>alert('hello');oops()</script>",
        1,
    )
}

fn seen(said: &Json) {
    assert_eq!(said["smuggled"]["ran"], "yes", "{}", said["smuggled"]);
    assert_eq!(said["smuggled"]["steering"], true);
    assert_ne!(said["smuggled"]["foreign"], 0);
    assert!(!said["dialogs"].as_array().unwrap().is_empty());
    assert!(said["console"].to_string().contains("oops"));
    assert!(said["requests"].to_string().contains("x.png"));
    assert!(said["phone-light"]["over"].as_f64().unwrap() > 100.0);
    let rules = said["axe"]["light"].to_string();
    for rule in ["image-alt", "color-contrast"] {
        assert!(rules.contains(rule), "{rule}: {rules}");
    }
}

/// Nothing on the console, nothing asked for but the page itself.
fn quiet(said: &Json) {
    assert_eq!(said["console"], Json::Array(Vec::new()));
    assert_eq!(said["dialogs"], Json::Array(Vec::new()));
    let requests = said["requests"].as_array().unwrap();
    assert!(!requests.is_empty());
    assert!(
        requests.iter().all(|url| url.as_str().unwrap().ends_with("report.html")),
        "{requests:?}"
    );
}

fn list(json: &Json) -> Vec<String> {
    json.as_array().unwrap().iter().map(|word| word.as_str().unwrap().to_owned()).collect()
}

/// Without scripts every row of the table is on the page, cell by cell, and nothing promises what only a script can do.
fn content(said: &Json, rows: &[Row]) {
    assert_eq!(said["toolsWithoutScripts"], false);
    assert_eq!(said["toolsWithScripts"], true);
    let mut left = rows.iter();
    for section in said["bare"].as_array().unwrap() {
        let columns = list(&section["columns"]);
        for clip in section["clips"].as_array().unwrap() {
            let below = list(&clip["below"]).join("\n");
            for line in clip["lines"].as_array().unwrap() {
                let row = left.next().expect("the page has more lines than the table");
                let cells = line.as_array().unwrap();
                assert_eq!(section["heading"].as_str().unwrap(), format!("Roll {}", row["Roll"]));
                for (column, beneath) in COLUMNS {
                    let heading = std::iter::once(column).chain(*beneath);
                    let heading = heading.copied().collect::<Vec<_>>().join(" ");
                    let at = columns.iter().position(|it| *it == heading);
                    let wanted = std::iter::once(column).chain(*beneath).map(|of| safe(&row[*of]));
                    let wanted: Vec<String> = wanted.filter(|text| !text.is_empty()).collect();
                    match at {
                        Some(at) => assert_eq!(list(&cells[at]), wanted, "{heading} of {row:?}"),
                        None => {
                            assert!(wanted.is_empty(), "{heading} is not on the page: {wanted:?}");
                        }
                    }
                }
                let take = columns.iter().position(|it| it == "Take").unwrap();
                let mut wanted = vec![row["Take"].clone()];
                wanted.extend((!row["Circled"].is_empty()).then(|| "Circled".to_owned()));
                wanted.retain(|text| !text.is_empty());
                assert_eq!(list(&cells[take]), wanted);
                for heading in ["Remarks", "Needs a person"] {
                    assert!(below.contains(&safe(&row[heading])), "{heading} of {row:?}: {below}");
                }
            }
        }
    }
    assert_eq!(left.count(), 0, "the table has more rows than the page lines");
}

/// A cell of the table without the apostrophe that keeps it from being a formula.
fn safe(cell: &str) -> String {
    let bare = cell.strip_prefix('\'').filter(|rest| rest.starts_with(['=', '+', '-', '@']));
    bare.unwrap_or(cell).to_owned()
}

fn names(json: &Json) -> Vec<Vec<String>> {
    json.as_array().unwrap().iter().map(list).collect()
}

/// Sorting by a column of numbers, one of words, and back; by keyboard up and down.
fn sorted(said: &Json, rows: &[Row]) {
    let sorting = &said["sorting"];
    let before = names(&sorting["before"]);
    assert_eq!(names(&sorting["again"]), before, "the order of the cards comes back");
    let first_line = |clip: &String| rows.iter().find(|row| row["Clip"] == *clip).unwrap();
    for (label, order) in sorting["orders"].as_object().unwrap() {
        for (now, then) in names(order).iter().zip(&before) {
            let sort = |names: &[String]| {
                let mut names = names.to_vec();
                names.sort();
                names
            };
            assert_eq!(sort(now), sort(then), "{label}: no clip is lost");
        }
    }
    for heading in ["Effective (mm)", "Focus (m)"] {
        for now in names(&sorting["orders"][heading]) {
            let numbers: Vec<Option<f64>> =
                now.iter().map(|clip| first_line(clip)[heading].parse().ok()).collect();
            let known = numbers.iter().take_while(|number| number.is_some()).count();
            assert!(numbers[known..].iter().all(Option::is_none), "{heading}: the unknown last");
            assert!(numbers[..known].is_sorted(), "{heading}: {numbers:?}");
        }
    }
    for now in names(&sorting["orders"]["Lens"]) {
        let lenses: Vec<String> =
            now.iter().map(|clip| first_line(clip)["Lens"].to_lowercase()).collect();
        assert!(lenses.is_sorted(), "{lenses:?}");
    }
    let keyboard = sorting["keyboard"].as_array().unwrap();
    assert_eq!((&keyboard[0][1], &keyboard[1][1]), (&"ascending".into(), &"descending".into()));
    let turned: Vec<Vec<String>> =
        names(&keyboard[0][0]).iter().map(|names| names.iter().rev().cloned().collect()).collect();
    assert_eq!(names(&keyboard[1][0]), turned);
}

fn filtered(said: &Json, rows: &[Row]) {
    let filtering = &said["filtering"];
    let shown = |key: &str, at: usize| -> Vec<String> {
        names(&filtering[key][at]).into_iter().flatten().collect()
    };
    let flat =
        |key: &str| -> Vec<String> { names(&filtering[key]).into_iter().flatten().collect() };
    let wanted = |heading: &str| {
        let mut clips: Vec<String> = rows
            .iter()
            .filter(|row| !row[heading].is_empty())
            .map(|row| row["Clip"].clone())
            .collect();
        clips.dedup();
        clips
    };
    assert_eq!(flat("circled"), wanted("Circled"));
    assert_eq!(flat("matter"), wanted("Needs a person"));
    let name = filtering["name"][0].as_str().unwrap();
    assert_eq!(shown("name", 1), [name]);
    let mut all: Vec<&str> = rows.iter().map(|row| row["Clip"].as_str()).collect();
    all.dedup();
    assert_eq!(filtering["name"][2], format!("Clips shown: 1 of {}", all.len()));
    assert_eq!(shown("nothing", 0), Vec::<String>::new());
    assert_eq!(shown("all", 0), all);
    assert_eq!(filtering["all"][1], "");
}

/// No scrolling sideways on a telephone of 390 pixels, nor at the 320 of WCAG 2.2, 1.4.10.
fn fits(said: &Json) {
    for window in ["phone-light", "phone-dark", "narrow-light", "narrow-dark"] {
        assert_eq!(said[window]["over"], 0, "{window}: {}", said[window]);
        assert_eq!(said[window]["out"], Json::Array(Vec::new()), "{window}");
    }
}

/// The checker has no complaint, light and dark, wide and narrow.
fn accessible(said: &Json) {
    let axe = said["axe"].as_object().unwrap();
    assert_eq!(axe.len(), 4);
    for (look, violations) in axe {
        assert_eq!(*violations, Json::Array(Vec::new()), "{look}");
    }
}

/// On paper no clip is parted from what is said of it, and every sheet with clips has the heads of the table.
fn printed(said: &Json, rows: &[Row]) {
    let sheets: Vec<String> = said["sheets"]
        .as_array()
        .unwrap()
        .iter()
        .map(|sheet| {
            sheet["text"].as_str().unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
        })
        .collect();
    let on = |words: &str| -> Vec<usize> {
        let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
        (0..sheets.len()).filter(|at| sheets[*at].contains(&words)).collect()
    };
    let mut marks = 0;
    for row in rows {
        let Some(mark) =
            row["Remarks"].split_whitespace().next().filter(|word| word.starts_with("mark-"))
        else {
            continue;
        };
        let end = mark.replace("mark-", "end-");
        let (start, end, label) = (on(mark), on(&end), on(&row["Start"]));
        assert_eq!(start.len(), 1, "{mark} stands once");
        // A timecode may be the end of the clip before.
        assert!(label.contains(&start[0]) && end == start, "{row:?} is split");
        let sheet = &sheets[start[0]];
        assert!(sheet.contains("Slate") && sheet.contains("Verdict"), "heads come again: {sheet}");
        assert!(sheet.contains(&format!("Roll {}", row["Roll"])), "{sheet}");
        marks += 1;
    }
    let many = rows.len() > 50;
    assert!(!many || marks == 60, "{marks} clips were looked for");
    assert!(!many || sheets.len() > 4);
    let last = format!("Page {0} of {0}", sheets.len());
    assert!(sheets.last().unwrap().contains(&last), "{:?}", sheets.last());
}

/// Hostile notes are words on the page, and did nothing.
fn hostile(said: &Json) {
    assert_eq!(
        said["smuggled"],
        serde_json::json!({"ran": null, "scripts": 1, "foreign": 0, "steering": false})
    );
    let sections = said["bare"].as_array().unwrap();
    let clips = sections.last().unwrap()["clips"].as_array().unwrap();
    for ((_, want), clip) in HOSTILE.iter().zip(clips) {
        assert!(list(&clip["below"]).join("\n").contains(want), "{want}: {clip}");
    }
    let long = list(&clips.last().unwrap()["below"]).join("\n");
    assert!(long.len() > 10_000 && long.ends_with("end-of-long"));
    assert!(said["title"].as_str().unwrap().starts_with("Camera report"));
}
