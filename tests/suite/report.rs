//! The camera report of the built program: what stands in it, in which form, and what it costs to ask for it again.
#![allow(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use serde_json::Value as Json;

use crate::boxes::{Clip, Clock};
use crate::shoot::{LATER, Shoot};
use crate::workshop::{DATE, lensmend, sample, tree};

/// Notes that try what notes can try, each with the text that must be left of it on a page.
pub(crate) const HOSTILE: &[(&str, &str)] = &[
    ("<script>window.pwned='script'</script>", "<script>window.pwned='script'</script>"),
    (
        "<img src=x onerror=\"window.pwned='img'\"></td></table><h1>",
        "<img src=x onerror=\"window.pwned='img'\"></td></table><h1>",
    ),
    ("</style><style>*{display:none}</style>", "</style><style>*{display:none}</style>"),
    ("=HYPERLINK(\"http://x.example/\",\"go\")", "=HYPERLINK(\"http://x.example/\",\"go\")"),
    ("@SUM(1+1)*cmd|' /C x'!A0", "@SUM(1+1)*cmd|' /C x'!A0"),
    ("+1 stop", "+1 stop"),
    // What cannot be printed is refused when it is read, and said.
    ("\u{1b}[2J\u{1b}]0;gone\u{7}", ""),
    ("left \u{202e}thgir\u{202c} \u{200f}and\u{2066} back", "\\u{202e}thgir\\u{202c}"),
    ("smile \u{1f3ac}\u{1f469}\u{200d}\u{1f3a4} \u{e9}t\u{e9} \u{6771}\u{4eac}", "smile \u{1f3ac}"),
    ("&lt;b&gt; &#x3c;i&#x3e; ${1+1} {{7*7}}", "&lt;b&gt; &#x3c;i&#x3e; ${1+1} {{7*7}}"),
];

/// Seconds from 1904 to a day of November 2026 (ISO/IEC 14496-12, 8.2.2 counts from there), and into it.
fn at(day: u32, seconds: u32) -> u32 {
    // 44,878 days lie between 1904-01-01 and 2026-11-14: 122 years of 365 days, 31 leap days, and 317 days of 2026.
    (44_878 + day - 14) * 86_400 + seconds
}

fn movie(day: u32, seconds: u32, frame: u32) -> Vec<u8> {
    let clock = Clock::new(0, 24000, 1001, 24, i32::try_from(frame).unwrap());
    let clip = Clip {
        created: at(day, seconds),
        raster: (3840, 2160),
        shown: (3840, 2160),
        ..Clip::default()
    };
    Clip { clock: Some(clock), ..clip }.bytes()
}

/// Two days: roll A001 on the first with as many clips as asked for, then A002, then hostile notes on A003 the day after.
/// Every clip has a remark of its own, so that where it stands can be told from any text.
pub(crate) fn days(clips: u32) -> Shoot {
    let shoot = Shoot::empty();
    fs::copy(sample().join("kit.toml"), shoot.folder.join("kit.toml")).unwrap();
    let mut notes = String::from("Roll,Clip,Slate,Take,Circled,Lens,Stop,Reducer,Focus,Remarks\n");
    let put = |name: &str, bytes: &[u8]| {
        let path = shoot.dump().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    };
    for number in 1..=clips {
        let (roll, hour) = if number * 2 <= clips { ("A001", 9) } else { ("A002", 14) };
        let seconds = hour * 3600 + number * 97;
        put(&format!("{roll}/{roll}C{number:03}.mov"), &movie(14, seconds, seconds * 24));
        let lens = ["Sorrel 50", "Sorrel 85", "Umber 24"][number as usize % 3];
        let circled = if number % 5 == 0 { "x" } else { "" };
        let long = if number % 7 == 0 {
            " and some more words that are long enough for a second line if there is a need of one on paper which there is on most sheets of paper that anybody has in a printer"
        } else {
            ""
        };
        let take = number % 4 + 1;
        writeln!(notes, "{roll},C{number:03},{}A,{take},{circled},{lens},2.8,0.71,2 m,mark-{number:03}{long} end-{number:03}", 10 + number / 4).unwrap();
    }
    for (at, (text, _)) in (1..).zip(HOSTILE) {
        put(&format!("A003/A003C{at:03}.mov"), &movie(15, 36_000 + at * 60, at * 5000));
        let quoted = text.replace('"', "\"\"");
        writeln!(notes, "A003,C{at:03},\"{quoted}\",{at},,Sorrel 50,2.8,0.71,2 m,\"{quoted}\"")
            .unwrap();
    }
    // No notes speak of it, and its name tries to steer a terminal.
    put("A003/A003C098\u{1b}[2J\u{202e}.mov", &movie(15, 39_000, 5));
    let long = "ten thousand letters ".repeat(500);
    put("A003/A003C099.mov", &movie(15, 40_000, 5));
    writeln!(notes, "A003,C099,99,1,,Sorrel 50,2.8,0.71,2 m,{long}end-of-long").unwrap();
    shoot.notes(&notes);
    shoot
}

/// Runs `report` into `into` with more arguments; gives exit code, stdout and stderr.
pub(crate) fn reported(folder: &Path, into: &Path, more: &[&str]) -> (i32, String, String) {
    reported_at(DATE, folder, into, more)
}

/// The same, on another date.
pub(crate) fn reported_at(
    date: &str,
    folder: &Path,
    into: &Path,
    more: &[&str],
) -> (i32, String, String) {
    let mut arguments = vec!["report", folder.to_str().unwrap(), "--into", into.to_str().unwrap()];
    arguments.extend(["--date", date]);
    arguments.extend(more);
    let run = lensmend(&arguments);
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (run.status.code().unwrap(), text(&run.stdout), text(&run.stderr))
}

/// The rows of a `report.csv` by heading.
pub(crate) fn rows(into: &Path, parted: u8) -> Vec<BTreeMap<String, String>> {
    let mut reader =
        csv::ReaderBuilder::new().delimiter(parted).from_path(into.join("report.csv")).unwrap();
    reader.deserialize().map(Result::unwrap).collect()
}

#[test]
fn the_sample_is_reported_clip_by_clip() {
    let out = tempfile::tempdir().unwrap();
    let (code, shown, talk) = reported(&sample(), out.path(), &[]);
    assert_eq!(code, 1, "{talk}");
    assert!(shown.contains("Camera report: 1 day, 2 rolls; clips 17, circled 5"), "{shown}");
    let rows = rows(out.path(), b',');
    // 17 clips, and B001C005 has a second piece, because the lens zooms.
    assert_eq!(rows.len(), 18);
    let of = |clip: &str| rows.iter().find(|row| row["Clip"] == clip).unwrap();
    // Worked out by hand from samples/saltmarsh-day/notes-a.csv and kit.toml: 50 mm at f/1.4 behind 0.71 is 35.5 mm and
    // 1.4 * 0.71 = 0.994, which is called f/1.0.
    let first = of("A003C001");
    for (heading, want) in [
        ("Production", "The Saltmarsh Signal"),
        ("Day", "2026-11-14"),
        ("Roll", "A003"),
        ("Camera", "A"),
        ("Slate", "24A"),
        ("Take", "1"),
        ("Circled", "yes"),
        ("Start", "10:02:11:05"),
        ("End", "10:02:13:05"),
        ("Lens", "Sorrel 50"),
        ("Serial", "SR-50-0412"),
        ("Attachment", "Corbel 0.71"),
        ("Focal set (mm)", "50"),
        ("Effective (mm)", "35.5"),
        ("Stop set", "f/1.4"),
        ("Effective f", "f/1.0"),
        ("Focus (m)", "2.4"),
        ("Verdict", "filled"),
        ("Remarks", "hand held"),
    ] {
        assert_eq!(first[heading], want, "{heading}");
    }
    let ring_in_t = of("A003C004");
    // T2.8 1/2 is 2.8 * 2^(1/4) = 3.33; behind 0.71 with the glass of the kit.
    assert_eq!(ring_in_t["Stop set"], "T3.3");
    assert_eq!(ring_in_t["Effective T"], "T2.5");
    assert_eq!(
        (&*of("A003C005")["Effective (mm)"], &*of("A003C005")["Verdict"]),
        ("", "unresolved, stop scaled")
    );
    assert!(of("A003C005")["Needs a person"].contains("recorded 85 mm"));
    assert_eq!(of("A003C006")["Lens"], "not known");
    assert_eq!(of("B001C001")["Attachment"], "Corbel plain");
    // A clip whose file is broken says no day; the rest of its roll does.
    assert_eq!(of("A003C008")["Day"], "2026-11-14");
    let page = fs::read_to_string(out.path().join("report.html")).unwrap();
    for row in &rows {
        assert!(page.contains(&row["Clip"]));
    }
}

#[test]
fn asked_again_nothing_is_written_and_other_hands_are_kept() {
    let shoot = Shoot::clean();
    let out = &shoot.out;
    let (code, _, talk) = reported(&shoot.folder, out, &[]);
    assert_eq!(code, 0, "{talk}");
    let before = tree(out);
    assert_eq!(
        before.keys().map(String::as_str).collect::<Vec<_>>(),
        ["report.csv", "report.html", "report.json", "report.pdf"]
    );
    let (_, _, talk) = reported_at(LATER, &shoot.folder, out, &[]);
    assert!(talk.contains("Wrote 0 files"), "{talk}");
    assert_eq!(tree(out), before);
    // Another form is another file, and the record says of whom.
    let (_, _, talk) = reported(&shoot.folder, out, &["--paper", "letter"]);
    assert!(!talk.contains("Wrote 0 files"), "{talk}");
    assert_ne!(tree(out)["report.html"], before["report.html"]);
    // A page that somebody wrote into stays.
    let edited = [b"<!-- mine -->".as_slice(), &before["report.html"]].concat();
    fs::write(out.join("report.html"), &edited).unwrap();
    let (code, shown, _) = reported(&shoot.folder, out, &[]);
    assert_eq!(code, 1);
    assert!(shown.contains("output.kept"), "{shown}");
    assert_eq!(fs::read(out.join("report.html")).unwrap(), edited);
    // The dump is as it was, and a dry run writes nothing at all.
    let (_, _, talk) = reported(&shoot.folder, &shoot.temp.path().join("dry"), &["--dry-run"]);
    assert!(talk.contains("Would write"), "{talk}");
    assert!(!shoot.temp.path().join("dry").exists());
}

#[test]
fn annotate_writes_it_too_and_check_knows_it() {
    let shoot = Shoot::clean();
    let ran = shoot.annotate(["--paper", "letter"]);
    assert_eq!(ran.code, Some(0), "{}", ran.talk());
    let alone = shoot.temp.path().join("alone");
    reported(&shoot.folder, &alone, &["--paper", "letter"]);
    for file in ["report.html", "report.csv"] {
        assert_eq!(fs::read(shoot.out.join(file)).unwrap(), fs::read(alone.join(file)).unwrap());
    }
    let before = tree(&shoot.out);
    let again = shoot.annotate(["--paper", "letter"]);
    assert!(again.talk().contains("Nothing changed"), "{}", again.talk());
    assert_eq!(tree(&shoot.out), before);
    let check = |more: &[&str]| {
        let words =
            ["check", shoot.folder.to_str().unwrap(), "--into", shoot.out.to_str().unwrap()];
        let words: Vec<&str> = words.iter().chain(["--json"].iter()).chain(more).copied().collect();
        let run = lensmend(&words);
        let said: Json = serde_json::from_slice(&run.stdout).unwrap();
        let page =
            said["files"].as_array().unwrap().iter().find(|file| file["file"] == "report.html");
        (run.status.code().unwrap(), page.unwrap()["state"].as_str().unwrap().to_owned())
    };
    assert_eq!(check(&[]), (0, "agree".to_owned()));
    assert_eq!(check(&["--", "--paper", "a4"]).1, "stale");
    fs::write(shoot.out.join("report.html"), "mine").unwrap();
    assert_eq!(check(&[]).1, "edited");
    // A folder of `annotate` has its report: another one beside it would be two truths.
    let (code, _, talk) = reported(&shoot.folder, &shoot.out, &[]);
    assert_eq!(code, 2);
    assert!(talk.contains("--into"), "{talk}");
}

#[test]
fn a_report_in_the_day_s_own_folder_is_no_lens_notes() {
    let shoot = Shoot::clean();
    let (code, _, talk) = reported(&shoot.folder, &shoot.folder, &[]);
    assert_eq!(code, 0, "{talk}");
    let (code, _, talk) = reported(&shoot.folder, &shoot.folder, &[]);
    assert_eq!(code, 0, "{talk}");
    assert!(talk.contains("Wrote 0 files") && !talk.contains("report.csv"), "{talk}");
    // Notes that are called like it are notes where no record says otherwise.
    let other = Shoot::clean();
    fs::rename(other.folder.join("notes.csv"), other.folder.join("report.csv")).unwrap();
    let (_, _, talk) = reported(&other.folder, &other.out, &[]);
    assert!(talk.contains("notes report.csv (1 rows)"), "{talk}");
}

#[test]
fn days_and_rolls_have_sections_and_totals_of_their_own() {
    let shoot = days(8);
    let (_, shown, _) = reported(&shoot.folder, &shoot.out, &["--date-form", "day-first"]);
    // 48 frames of 1001/24000 s are 2.002 s; 20 clips of that are 40.04 s or 0.67 minutes.
    assert!(shown.contains("2 days, 3 rolls; clips 20, circled 1, minutes 0.7,"), "{shown}");
    let rows = rows(&shoot.out, b',');
    let sections: Vec<(&str, &str)> =
        rows.iter().map(|row| (row["Day"].as_str(), row["Roll"].as_str())).collect();
    let mut each = sections.clone();
    each.dedup();
    assert_eq!(each, [("14.11.2026", "A001"), ("14.11.2026", "A002"), ("15.11.2026", "A003")]);
    let page = fs::read_to_string(shoot.out.join("report.html")).unwrap();
    // The kit counts the day of its date, and no other.
    assert!(page.contains("<h2 id=\"day-1\">14.11.2026 \u{b7} Shooting day 3 of 12</h2>"));
    assert!(page.contains("<h2 id=\"day-2\">15.11.2026</h2>"));
    let day = page.find("id=\"day-2\"").unwrap();
    assert!(page.find("A002C008").unwrap() < day && page.find("A003C001").unwrap() > day);
    // A shoot without any date has one section that says so.
    let opaque = Shoot::empty();
    fs::create_dir_all(opaque.dump()).unwrap();
    fs::write(opaque.dump().join("A001C001.raw"), "essence").unwrap();
    opaque.notes("Clip,Lens,Stop\nA001C001,Sorrel 50,2\n");
    reported(&opaque.folder, &opaque.out, &["--reducer", "0.71"]);
    let page = fs::read_to_string(opaque.out.join("report.html")).unwrap();
    assert!(page.contains("<h2 id=\"day-1\">Day not known</h2>"));
    // The kit may tell the day, counted or dated.
    for (production, heading) in [
        ("day = \"3 of 12\"", "Shooting day 3 of 12"),
        ("day = \"3 of 12\"\ndate = \"2026-11-14\"", "2026-11-14 \u{b7} Shooting day 3 of 12"),
    ] {
        let kit = format!("[production]\n{production}\n");
        fs::write(opaque.folder.join("kit.toml"), kit).unwrap();
        reported(&opaque.folder, &opaque.out, &[]);
        let page = fs::read_to_string(opaque.out.join("report.html")).unwrap();
        assert!(page.contains(&format!("<h2 id=\"day-1\">{heading}</h2>")), "{heading}");
    }
    assert!(page.contains("0.0 + 1 not known"), "a clip of unknown length is not one of no length");
}

#[test]
fn numbers_dates_and_headings_are_those_asked_for() {
    let out = tempfile::tempdir().unwrap();
    let template = lensmend(&["report", "--headings-template"]);
    assert_eq!(template.status.code(), Some(0));
    let template = String::from_utf8(template.stdout).unwrap();
    let own = template
        .replace("language = \"en\"", "language = \"de\"")
        .replace("roll = \"Roll\"", "roll = \"Rolle\"")
        .replace("slate = \"Slate\"", "slate = \"Klappe \u{201e}1\u{201c} <b>\"")
        .replace("november = \"November\"", "november = \"Nebelung\"");
    let headings = out.path().join("headings.toml");
    fs::write(&headings, &own).unwrap();
    let into = out.path().join("out");
    let form = ["--decimal", "comma", "--date-form", "words", "--paper", "letter"];
    let more = [&form[..], &["--headings", headings.to_str().unwrap()]].concat();
    let (_, _, talk) = reported(&sample(), &into, &more);
    let rows = rows(&into, b';');
    let first = &rows[0];
    assert_eq!(first["Effective (mm)"], "35,5", "{talk}");
    assert_eq!(first["Stop set"], "f/1,4");
    assert_eq!(first["Day"], "14 Nebelung 2026");
    assert_eq!(first["Rolle"], "A003");
    assert_eq!(first["Klappe \u{201e}1\u{201c} <b>"], "24A");
    let page = fs::read_to_string(into.join("report.html")).unwrap();
    for words in ["<html lang=\"de\">", "Rolle A003", "&lt;b&gt;", "size:letter landscape"] {
        assert!(page.contains(words), "{words}");
    }
    let record: Json =
        serde_json::from_slice(&fs::read(into.join("report.json")).unwrap()).unwrap();
    let inputs = record["inputs"].as_array().unwrap();
    assert!(inputs.iter().any(|input| input["role"] == "headings"), "{inputs:?}");
    // What is wrong with the headings is said, and nothing is written.
    fs::write(&headings, "slaet = \"x\"").unwrap();
    let (code, _, talk) = reported(&sample(), &out.path().join("no"), &more);
    assert_eq!(code, 2);
    assert!(talk.contains("did you mean slate?"), "{talk}");
    assert!(!out.path().join("no").exists());
}

#[test]
fn changed_headings_make_another_report_of_annotate() {
    let shoot = Shoot::clean();
    let headings = shoot.temp.path().join("own.toml");
    fs::write(&headings, "take = \"Klappe\"").unwrap();
    let form = ["--headings", headings.to_str().unwrap()];
    assert_eq!(shoot.annotate(form).code, Some(0));
    assert!(shoot.annotate(form).talk().contains("Nothing changed"));
    fs::write(&headings, "take = \"Prise\"").unwrap();
    let ran = shoot.annotate(form);
    assert!(!ran.talk().contains("Nothing changed"), "{}", ran.talk());
    assert!(fs::read_to_string(shoot.out.join("report.html")).unwrap().contains("Prise"));
}

#[test]
fn hostile_notes_are_text_in_table_page_and_terminal() {
    let shoot = days(2);
    let (_, shown, talk) = reported(&shoot.folder, &shoot.out, &[]);
    let steers = |text: &str| {
        text.chars().any(|letter| {
            (letter.is_control() && letter != '\n' && letter != '\r')
                || matches!(letter, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        })
    };
    let table = fs::read_to_string(shoot.out.join("report.csv")).unwrap();
    let page = fs::read_to_string(shoot.out.join("report.html")).unwrap();
    for (what, text) in [("stdout", &shown), ("stderr", &talk), ("csv", &table), ("page", &page)] {
        assert!(!steers(text), "{what}");
    }
    let rows = rows(&shoot.out, b',');
    for (at, (_, want)) in (1..).zip(HOSTILE) {
        let row = rows.iter().find(|row| row["Clip"] == format!("A003C{at:03}")).unwrap();
        for heading in ["Slate", "Remarks"] {
            let cell = &row[heading];
            assert!(cell.contains(want), "{heading} {cell}: {row:?}");
            // What a spreadsheet would run has an apostrophe in front (the first letters are those of the CSV injection page
            // of the Open Worldwide Application Security Project, from memory).
            assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{cell}");
            assert_eq!(cell.is_empty(), want.is_empty(), "{row:?}");
        }
    }
    let long = rows.iter().find(|row| row["Clip"] == "A003C099").unwrap();
    assert!(long["Remarks"].len() > 10_000 && long["Remarks"].ends_with("end-of-long"));
    assert!(page.contains("end-of-long"));
    assert!(page.contains("holds characters that cannot be printed"));
    assert!(page.contains("A003C098\\u{1b}[2J\\u{202e}"), "a name is shown, not obeyed");
    assert_eq!(page.matches("<script").count(), 1, "the page has one script, its own");
}

#[test]
fn exposure_place_and_crew_stand_where_a_form_has_them() {
    let shoot = Shoot::empty();
    fs::create_dir_all(shoot.dump()).unwrap();
    for clip in ["A003C001", "A003C002", "A003C003"] {
        let number = u32::from(clip.as_bytes()[7]);
        fs::write(shoot.dump().join(format!("{clip}.mov")), movie(14, 40_000 + number, number))
            .unwrap();
    }
    let kit = fs::read_to_string(sample().join("kit.toml")).unwrap();
    let kit = kit.replacen("[production]", "[production]\noperator = \"Ines Qvist\"", 1);
    fs::write(shoot.folder.join("kit.toml"), kit).unwrap();
    shoot.notes(
        "Roll,Clip,Lens,Stop,Reducer,ISO,Shutter,White balance,Height,Tilt\n\
         A003,C001,Sorrel 50,2.8,0.71,800,172.8,5600K,1.2 m,-5\n\
         A003,C002,Sorrel 50,2.8,0.71,800,172.8,5600K,1.2 m,\n\
         A003,C003,Sorrel 50,2.8,0.71,1600,1/50,5600K,,\n",
    );
    let (_, _, talk) = reported(&shoot.folder, &shoot.out, &[]);
    let rows = rows(&shoot.out, b',');
    for (heading, want) in [
        ("ISO", ["800", "800", "1600"]),
        ("Shutter", ["172.8\u{b0}", "172.8\u{b0}", "1/50 s"]),
        ("White balance", ["5600 K", "5600 K", "5600 K"]),
        ("Height (m)", ["1.2", "1.2", ""]),
        ("Tilt (\u{b0})", ["-5", "", ""]),
        ("Operator", ["Ines Qvist", "Ines Qvist", "Ines Qvist"]),
    ] {
        let found: Vec<&str> = rows.iter().map(|row| row[heading].as_str()).collect();
        assert_eq!(found, want, "{heading}: {talk}");
    }
    let page = fs::read_to_string(shoot.out.join("report.html")).unwrap();
    // The head of the roll says what most clips say; the third says itself that it differs.
    assert!(page.contains("<dt>ISO</dt><dd>800; also 1600</dd>"), "{page}");
    assert!(page.contains("<span class=\"k\">ISO</span> 1600"), "{page}");
    for words in [
        "<dt>Director</dt><dd>Isa Thornback</dd>",
        "<dt>White balance</dt><dd>5600 K</dd>",
        "Height (m)",
    ] {
        assert!(page.contains(words), "{words}");
    }
}

#[test]
fn a_clip_of_many_changes_is_cut_short_on_the_page_and_whole_in_the_table() {
    let shoot = Shoot::empty();
    fs::create_dir_all(shoot.dump()).unwrap();
    fs::copy(sample().join("kit.toml"), shoot.folder.join("kit.toml")).unwrap();
    fs::write(shoot.dump().join("A003C001.mov"), movie(14, 36_000, 24 * 3600)).unwrap();
    let mut notes =
        String::from("Roll,Clip,TC,Lens,Stop,Reducer,Focus\nA003,C001,,Sorrel 50,2.8,0.71,2 m\n");
    for change in 1..15 {
        writeln!(notes, "A003,C001,01:00:00:{:02},,,,{}.5 m", change, change + 2).unwrap();
    }
    shoot.notes(&notes);
    let (_, _, talk) = reported(&shoot.folder, &shoot.out, &[]);
    let rows = rows(&shoot.out, b',');
    assert_eq!(rows.len(), 15, "{talk}");
    // 15 pieces: fourteen of one frame and one of the other 34.
    let frames: Vec<&str> = rows.iter().map(|row| row["Frames"].as_str()).collect();
    assert_eq!((frames[0], frames[14]), ("1", "34"));
    assert_eq!((&*rows[14]["Start"], &*rows[14]["Focus (m)"]), ("01:00:00:14", "16.5"));
    let page = fs::read_to_string(shoot.out.join("report.html")).unwrap();
    assert_eq!(page.matches("<th role=\"rowheader\" scope=\"row\"").count(), 12 + 1, "{talk}");
    assert!(page.contains("+ 3 changes more, all of them in report.csv"));
}
