//! The built program as people and scripts meet it: exit codes, streams, dry runs, columns, and nothing that steers a terminal.

#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

use crate::shoot::{DATE, LATER, Ran, Shoot, lensmend, paths, run, stamps, tree};

#[test]
fn all_clear_is_0_and_something_for_a_person_is_1() {
    let shoot = Shoot::clean();
    let ran = shoot.annotate([]).exits(0);
    assert!(ran.result().contains("Nothing needs a person"), "{}", ran.result());
    run(lensmend().arg("scan").arg(shoot.dump())).exits(0);
    shoot.notes("Clip,Lens,Stop\nC001,Sorrel 50,f/2.8\nC077,Sorrel 50,f/2.8\n");
    let ran = shoot.annotate([]).exits(1);
    assert!(ran.result().contains("needs a person") || ran.result().contains("need a person"));
    fs::write(shoot.dump().join("A003/A003C002_1114_KV.mov"), "").unwrap();
    run(lensmend().arg("scan").arg(shoot.dump())).exits(1);
}

/// What is done to a shoot, arguments, and the words that must be on stderr.
type Refusal = (&'static str, fn(&Shoot), &'static [&'static str], &'static [&'static str]);

#[test]
fn a_request_that_cannot_be_carried_out_is_2_and_writes_nothing() {
    let refusals: &[Refusal] = &[
        (
            "no kit",
            |shoot| fs::remove_file(shoot.folder.join("kit.toml")).unwrap(),
            &[],
            &["kit.toml", "--kit"],
        ),
        ("no such kit", |_| {}, &["--kit", "no-such-kit.toml"], &["no-such-kit.toml"]),
        ("no such notes", |_| {}, &["--notes", "no-such.csv"], &["no-such.csv"]),
        ("no such dump", |_| {}, &["--dump", "no-such-dump"], &["no-such-dump"]),
        (
            "no such folder",
            |shoot| fs::remove_dir_all(&shoot.folder).unwrap(),
            &[],
            &["is not a folder"],
        ),
        (
            "bad column",
            |_| {},
            &["--columns", "file,focal-lenght"],
            &["focal-lenght", "did you mean focal-length?"],
        ),
        (
            "bad column of the kit",
            |shoot| {
                add(&shoot.folder.join("kit.toml"), "\n[table]\ncolumns = \"fil\"\n");
            },
            &[],
            &["did you mean file"],
        ),
        ("no columns", |_| {}, &["--columns", " , "], &["no columns"]),
        ("bad date", |_| {}, &["--date", "14.11.2026"], &["14.11.2026", "2026-11-14T18:30:00Z"]),
        ("bad trust", |_| {}, &["--trust", "everybody"], &["everybody", "notes"]),
        ("bad flag", |_| {}, &["--besides"], &["--besides", "--beside"]),
        (
            "stranger's run record",
            |shoot| {
                fs::create_dir(&shoot.out).unwrap();
                fs::write(shoot.out.join("run.json"), "{\"laps\": 12}").unwrap();
            },
            &[],
            &["run.json", "--into"],
        ),
        (
            "a record of a later version",
            |shoot| {
                fs::create_dir(&shoot.out).unwrap();
                let text = "{\"format\":\"lensmend run record\",\"version\":99,\"written\":\"\",\"outputs\":[]}";
                fs::write(shoot.out.join("run.json"), text).unwrap();
            },
            &[],
            &["version", "--into"],
        ),
        ("OUT is a file", |shoot| fs::write(&shoot.out, "a file").unwrap(), &[], &["out"]),
        (
            "a kit that is no text",
            |shoot| fs::write(shoot.folder.join("kit.toml"), [0xff, 0xfe, 0, 0]).unwrap(),
            &[],
            &["UTF-8"],
        ),
    ];
    for (name, change, more, words) in refusals {
        for dry in [&[][..], &["--dry-run"]] {
            let shoot = Shoot::clean();
            change(&shoot);
            let before = stamps(shoot.temp.path());
            let mut command = lensmend();
            command.current_dir(shoot.temp.path()).arg("annotate").arg(&shoot.folder);
            command.arg("--into").arg(&shoot.out).args(*more).args(dry);
            if *name == "OUT is a file" && !dry.is_empty() {
                continue;
            }
            let ran = run(&mut command);
            assert_eq!(ran.code, Some(2), "{name}: {}{}", ran.result(), ran.talk());
            assert_eq!(ran.result(), "", "{name}");
            for word in *words {
                assert!(ran.talk().contains(word), "{name}: {word} in {}", ran.talk());
            }
            assert_eq!(stamps(shoot.temp.path()), before, "{name}");
        }
    }
}

#[test]
fn out_must_not_be_the_dump_nor_a_folder_of_clips() {
    for into in ["day/dump", "day/dump/", "day/../day/dump", "day/dump/A003"] {
        let shoot = Shoot::clean();
        let before = stamps(shoot.temp.path());
        let into = shoot.temp.path().join(into);
        let ran = run(lensmend().arg("annotate").arg(&shoot.folder).arg("--into").arg(&into));
        let talk = ran.exits(2).talk();
        assert!(talk.contains("--into"), "{talk}");
        assert_eq!(stamps(shoot.temp.path()), before, "{}", into.display());
    }
    #[cfg(unix)]
    {
        let shoot = Shoot::clean();
        std::os::unix::fs::symlink(shoot.dump(), &shoot.out).unwrap();
        let before = stamps(shoot.temp.path());
        shoot.annotate([]).exits(2);
        assert_eq!(stamps(shoot.temp.path()), before);
    }
}

#[test]
fn all_faults_of_a_kit_come_in_one_run_each_with_line_and_hint() {
    let shoot = Shoot::clean();
    let kit = "[[mount]]\nid = \"kv-18\"\nflange = \"wide\"\n\n\
               [[mount]]\nid = \"photo-44\"\nflange = 44.0\n\n\
               [[lens]]\nid = \"one\"\nmount = \"foto-44\"\nfocal = 50\n\n\
               [[lens]]\nid = \"one\"\nmount = \"photo-44\"\nfocal = -50\n";
    fs::write(shoot.folder.join("kit.toml"), kit).unwrap();
    let before = stamps(shoot.temp.path());
    let talk = shoot.annotate([]).exits(2).talk();
    let faults: Vec<&str> = talk.split("fault[kit.fault]").skip(1).collect();
    let lines = ["3:", "11:", "15:", "17:"];
    assert_eq!(faults.len(), lines.len(), "{talk}");
    for line in lines {
        let place = format!("--> kit.toml:{line}");
        let fault = faults.iter().find(|fault| fault.contains(&place));
        let fault = fault.unwrap_or_else(|| panic!("{place} is not in\n{talk}"));
        assert!(fault.contains("do: "), "{fault}");
    }
    assert!(talk.contains("did you mean \"photo-44\"?"), "{talk}");
    assert_eq!(stamps(shoot.temp.path()), before);
    // scan reads the kit as well.
    let mut scan = lensmend();
    scan.arg("scan").arg(shoot.dump()).arg("--kit").arg(shoot.folder.join("kit.toml"));
    assert_eq!(run(&mut scan).exits(2).result(), "");
}

#[test]
fn a_dry_run_writes_nothing_and_says_what_it_would() {
    for ways in [&[][..], &["--beside"]] {
        let shoot = Shoot::sample();
        let before = stamps(shoot.temp.path());
        let dry = run(shoot.command(DATE).args(ways).arg("--dry-run")).exits(1);
        assert!(dry.talk().contains("Would write 23 files"), "{}", dry.talk());
        let dry_json = run(shoot.command(DATE).args(ways).args(["--dry-run", "--json"])).exits(1);
        assert!(!shoot.out.exists());
        assert_eq!(stamps(shoot.temp.path()), before);
        let real = run(shoot.command(DATE).args(ways).arg("--json")).exits(1);
        assert!(real.talk().contains("Wrote 23 files"), "{}", real.talk());
        assert!(real.out == dry_json.out, "a dry run and a run must come to the same record");
        // Over an older run: what would change, and still nothing written.
        let after = stamps(shoot.temp.path());
        let dry = run(shoot.command(LATER).args(ways).arg("--dry-run")).exits(1);
        let says = if ways.is_empty() { "Nothing changed since" } else { "Would write 0 files" };
        assert!(dry.talk().contains(says), "{}", dry.talk());
        fs::remove_file(shoot.folder.join("notes-b.csv")).unwrap();
        let gone = stamps(shoot.temp.path());
        assert_ne!(after, gone);
        let dry = run(shoot.command(LATER).args(ways).arg("--dry-run")).exits(1);
        assert!(!dry.talk().contains("Would write 0 files"), "{}", dry.talk());
        assert_eq!(stamps(shoot.temp.path()), gone);
    }
}

#[test]
fn json_on_stdout_is_the_run_record_and_talk_is_on_stderr() {
    let shoot = Shoot::sample();
    let ran = shoot.annotate(["--json"]).exits(1);
    assert!(ran.out == fs::read(shoot.out.join("run.json")).unwrap());
    let mut documents = serde_json::Deserializer::from_slice(&ran.out).into_iter::<Value>();
    assert!(documents.next().unwrap().unwrap().is_object());
    assert!(documents.next().is_none());
    assert!(ran.talk().contains("Used kit kit.toml, notes notes-a.csv, notes-b.csv"));
    assert!(ran.talk().contains("Wrote 23 files"));
    let again = run(shoot.command(LATER).arg("--json")).exits(1);
    assert!(again.out == ran.out);
    assert!(again.out == fs::read(shoot.out.join("run.json")).unwrap());
    let plain = shoot.annotate([]).exits(1);
    assert!(!plain.result().contains("Used kit") && !plain.result().contains("Wrote"));
    assert!(plain.talk().lines().count() <= 2, "{}", plain.talk());

    let scan = run(lensmend().arg("scan").arg(shoot.dump()).arg("--json")).exits(1);
    let scan_record: Value = serde_json::from_slice(&scan.out).unwrap();
    assert_eq!(scan_record["clips"].as_array().unwrap().len(), 17);
    assert_eq!(scan.talk(), "");
}

#[test]
fn a_reader_that_has_gone_is_no_failure() {
    for args in [&[][..], &["--json"]] {
        for (shoot, code) in [(Shoot::clean(), 0), (Shoot::sample(), 1)] {
            let mut scan = lensmend();
            scan.arg("scan").arg(shoot.dump()).args(args);
            let mut annotate = shoot.command(DATE);
            annotate.args(args);
            for mut command in [scan, annotate] {
                let closed = || {
                    let (reader, writer) = io::pipe().unwrap();
                    drop(reader);
                    writer
                };
                let ended = command.stdout(closed()).stderr(Stdio::piped()).output().unwrap();
                let talk = String::from_utf8(ended.stderr).unwrap();
                assert_eq!(ended.status.code(), Some(code), "{talk}");
                assert!(!talk.contains("panicked") && !talk.contains("cannot print"), "{talk}");
                let ended = command.stdout(closed()).stderr(closed()).status().unwrap();
                assert_eq!(ended.code(), Some(code));
            }
        }
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_drive_behind_stdout_is_said_and_is_not_the_code_for_nothing_written() {
    let full = || fs::File::options().write(true).open("/dev/full").unwrap();
    let shoot = Shoot::clean();
    for (ways, code) in [(&["--dry-run"][..], 2), (&[], 1)] {
        let ended = shoot.command(DATE).args(ways).stdout(full()).output().unwrap();
        assert_eq!(ended.status.code(), Some(code));
        assert!(String::from_utf8(ended.stderr).unwrap().contains("cannot print the result"));
    }
    assert!(shoot.out.join("run.json").exists());
    let ended = lensmend().arg("scan").arg(shoot.dump()).stdout(full()).output().unwrap();
    assert_eq!(ended.status.code(), Some(2));
}

/// Talk that goes into a file stays plain, even where results go to a terminal.
#[cfg(target_os = "linux")]
#[test]
fn no_colours_in_a_log_while_results_go_to_a_terminal() {
    let shoot = Shoot::clean();
    fs::write(shoot.folder.join("kit.toml"), "[[mount]]\nid = 1\n").unwrap();
    let terminal = |redirect: &str| {
        let program = env!("CARGO_BIN_EXE_lensmend");
        let line = format!("'{program}' annotate '{}' {redirect}", shoot.folder.display());
        let mut script = Command::new("script");
        script.env("TERM", "xterm-256color").env_remove("NO_COLOR").env_remove("CLICOLOR");
        script.stdin(Stdio::null());
        script.args(["-qec", &line, "/dev/null"]).output().ok()
    };
    let log = shoot.temp.path().join("log");
    // Not every machine has this program to run another in a terminal.
    let Some(shown) = terminal("") else { return };
    assert!(shown.stdout.contains(&0x1b), "{shown:?}");
    terminal(&format!("2>'{}'", log.display())).unwrap();
    let log = fs::read(log).unwrap();
    assert!(!log.is_empty() && !log.contains(&0x1b));
}

#[test]
fn no_colours_in_a_pipe_nor_against_no_color() {
    let shoot = Shoot::sample();
    let mut faulty = lensmend();
    let bad_kit = shoot.temp.path().join("bad.toml");
    fs::write(&bad_kit, "[[mount]]\nid = 1\n").unwrap();
    faulty.arg("annotate").arg(&shoot.folder).arg("--kit").arg(&bad_kit);
    let mut scan = lensmend();
    scan.arg("scan").arg(shoot.dump());
    let mut help = lensmend();
    help.arg("--help");
    for mut command in [shoot.command(DATE), faulty, scan, help] {
        for colours in
            [&[][..], &[("NO_COLOR", "1")], &[("NO_COLOR", "1"), ("CLICOLOR_FORCE", "1")]]
        {
            let ran = run(command.envs(colours.iter().copied()));
            assert!(!ran.out.contains(&0x1b) && !ran.err.contains(&0x1b), "{command:?}");
        }
    }
    // Where colours are asked for, they come; else the lines above could not fail.
    assert!(run(shoot.command(DATE).env("CLICOLOR_FORCE", "1")).out.contains(&0x1b));
}

/// Clears the terminal, changes colours, rings, and turns the order of letters around, in seven ways.
const STEERS: &str =
    "\u{1b}[2J\u{9b}31m\u{7}\u{8}\u{202e}\u{2066}\u{200f}\u{61c}\u{85}\u{2028}\u{feff}x";

#[cfg(unix)]
#[test]
fn nothing_from_names_notes_or_kit_steers_a_terminal() {
    let mut shoot = Shoot::clean();
    let rename = |from: &Path, to: PathBuf| {
        fs::rename(from, &to).unwrap();
        to
    };
    shoot.clip(format!("A003/A003C002_{STEERS}.mov"));
    shoot.clip(format!("A{STEERS}/B{STEERS}.mov"));
    fs::write(shoot.dump().join(format!("stray {STEERS}.txt")), "x").unwrap();
    fs::write(shoot.dump().join(format!("A003/A003C003_{STEERS}.mov")), "").unwrap();
    shoot.notes(&format!(
        "Clip,Lens,Stop,Reducer,Focus,Slate,Remarks,{STEERS}\n\
         C001,Sorrel 50{STEERS},f/2.8{STEERS},0.71{STEERS},x{STEERS},24{STEERS},r{STEERS},1\n\
         C009{STEERS},Sorrel 50,2,,,,,\n"
    ));
    rename(&shoot.folder.join("notes.csv"), shoot.folder.join(format!("notes {STEERS}.csv")));
    let kit = fs::read_to_string(shoot.folder.join("kit.toml")).unwrap();
    let escapes: Vec<String> =
        STEERS.chars().map(|letter| format!("\\u{:04x}", u32::from(letter))).collect();
    let escapes = escapes.concat();
    let kit = kit
        .replace("The Saltmarsh Signal", &escapes)
        .replace("name = \"Sorrel 50\"", &format!("name = \"Sorrel 50{escapes}\""))
        .replace("id = \"corbel-071\"", &format!("id = \"c{escapes}\""));
    fs::write(shoot.folder.join("kit.toml"), kit + "\n[unknown]\nx = 1\n").unwrap();
    let faulty = shoot.folder.join(format!("kit {STEERS}.toml"));
    fs::write(&faulty, format!("[[mount]]\nid = \"{escapes}\"\nflange = 1e9 # {STEERS}\n"))
        .unwrap();
    let day = shoot.temp.path().join(format!("day {STEERS}"));
    shoot.folder = rename(&shoot.folder, day);
    shoot.out = shoot.temp.path().join(format!("out {STEERS}"));

    let mut scan = lensmend();
    scan.arg("scan").arg(shoot.dump());
    let mut scan_json = lensmend();
    scan_json.arg("scan").arg(shoot.dump()).arg("--json");
    let mut other_kit = shoot.command(DATE);
    other_kit.arg("--kit").arg(&faulty);
    let mut no_kit = shoot.command(DATE);
    no_kit.arg("--kit").arg(shoot.folder.join(format!("no {STEERS}")));
    let mut columns = shoot.command(DATE);
    columns.args(["--columns", STEERS]);
    let mut json = shoot.command(DATE);
    json.arg("--json");
    // As a shell fills in `lensmend scan *`.
    let mut too_many = lensmend();
    too_many.arg("scan").arg(&shoot.folder).arg(&shoot.out);
    let mut too_many_coloured = lensmend();
    too_many_coloured.env("CLICOLOR_FORCE", "1").arg("scan").arg(&shoot.folder).arg(&shoot.out);
    for (mut command, code) in [
        (scan, 1),
        (scan_json, 1),
        (shoot.command(DATE), 1),
        (json, 1),
        (other_kit, 2),
        (no_kit, 2),
        (columns, 2),
        (too_many, 2),
        (too_many_coloured, 2),
    ] {
        let ran = run(&mut command).exits(code);
        for (stream, text) in [("stdout", ran.result()), ("stderr", ran.talk())] {
            let steers = |letter: char| {
                letter != '\n'
                    && (letter.is_control() || STEERS.trim_end_matches('x').contains(letter))
                    && !letter.is_ascii_graphic()
            };
            let raw: Vec<&str> = text.lines().filter(|line| line.contains(steers)).collect();
            assert!(raw.is_empty(), "{stream} of {command:?}: {raw:?}");
        }
    }
    // Escaped in the record, but the same text when read.
    let record: Value =
        serde_json::from_slice(&fs::read(shoot.out.join("run.json")).unwrap()).unwrap();
    let strays = record["strays"].as_array().unwrap();
    assert!(strays.iter().any(|stray| stray["file"] == format!("stray {STEERS}.txt")));
    // With colours asked for, no more than colours come through.
    let coloured = run(shoot.command(DATE).env("CLICOLOR_FORCE", "1")).exits(1).result();
    for escape in coloured.split('\u{1b}').skip(1) {
        let end = escape.find(|c: char| !(c.is_ascii_digit() || c == ';' || c == '[')).unwrap();
        assert!(escape[end..].starts_with('m'), "{escape:?}");
    }
}

#[test]
fn columns_are_as_asked_and_the_table_has_a_row_a_clip_or_piece() {
    let shoot = Shoot::sample();
    shoot.annotate(["--columns", "file=File Name,focal-length=Focal Length"]).exits(1);
    let (headings, rows) = table(&shoot);
    assert_eq!(headings, ["File Name", "Focal Length"]);
    let record: Value =
        serde_json::from_slice(&fs::read(shoot.out.join("run.json")).unwrap()).unwrap();
    let clips = record["clips"].as_array().unwrap();
    let pieces: usize = clips.iter().map(|clip| clip["pieces"].as_array().unwrap().len()).sum();
    // 18 files, and one of them has two pieces.
    assert_eq!((rows.len(), pieces), (19, 19));
    assert!(rows.iter().any(|row| row == &["A003C001_1114_KV.mov", "35.5"]), "{rows:?}");
    let names: Vec<&str> = rows.iter().map(|row| row[0].as_str()).collect();
    assert_eq!(names.iter().filter(|name| **name == "B001C005_1114_OM.mp4").count(), 2);

    shoot.annotate([]).exits(1);
    let (headings, rows) = table(&shoot);
    assert!(headings.len() > 40 && rows.len() == 19);
}

#[test]
fn nothing_from_notes_can_run_in_a_spreadsheet() {
    let shoot = Shoot::clean();
    let risky = ["=1+1", "+x", "-x+1", "@SUM(1)", "\t=1", "\u{ff1d}1", "=HYPERLINK(\"\"x\"\")"];
    let mut notes = String::from("Roll,Clip,Slate,Take,Lens,Stop,Reducer,Filter,Remarks\n");
    for (at, text) in risky.iter().enumerate() {
        let clip = at + 1;
        shoot.clip(format!("A003/A003C{clip:03}_1114_KV.mov"));
        let line = format!(
            "A003,C{clip:03},\"{text}\",\"{text}\",Sorrel 50,f/2.8,0.71,\"{text}\",\"{text}\"\n"
        );
        notes.push_str(&line);
    }
    shoot.clip("=A/=cmd.mov");
    shoot.notes(&notes);
    run(shoot
        .command(DATE)
        .args(["--columns", "file,path,clip,roll,slate,take,filter,remarks==R"]));
    let (headings, rows) = table(&shoot);
    assert_eq!(headings.last().unwrap(), "'=R");
    assert_eq!(rows.len(), risky.len() + 1);
    for cell in rows.iter().flatten() {
        assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\u{ff1d}']), "{cell}");
    }
    let cells: Vec<&str> = rows.iter().flatten().map(String::as_str).collect();
    for word in ["'=1+1", "'+x", "'-x+1", "'@SUM(1)", "'=cmd.mov", "'=A"] {
        assert!(cells.contains(&word), "{word}: {cells:?}");
    }
}

#[test]
fn the_date_comes_from_the_flag_or_the_surroundings() {
    let shoot = Shoot::clean();
    let annotate = |out: &str| {
        let mut command = lensmend();
        command.arg("annotate").arg(&shoot.folder).arg("--json");
        command.arg("--into").arg(shoot.temp.path().join(out));
        command
    };
    let written = |ran: &Ran| {
        let record: Value = serde_json::from_slice(&ran.out).unwrap();
        record["written"].as_str().unwrap().to_owned()
    };
    let flag = run(annotate("a").args(["--date", "2026-11-14T20:00:00+01:00"])).exits(0);
    assert_eq!(written(&flag), DATE);
    let epoch = run(annotate("b").env("SOURCE_DATE_EPOCH", "1794682800")).exits(0);
    assert_eq!(written(&epoch), DATE);
    let before = tree(shoot.temp.path());
    // The last two are the first second after the year 9999 and the last before the year 1.
    for bad in ["soon", "-1x", "99999999999999999999", "253402300800", "-62135596801"] {
        run(annotate("c").env("SOURCE_DATE_EPOCH", bad)).exits(2);
    }
    assert_eq!(tree(shoot.temp.path()), before);
}

#[test]
fn help_and_version_are_results() {
    for args in [&["--help"][..], &["--version"], &["annotate", "--help"], &["scan", "--help"]] {
        let ran = run(lensmend().args(args)).exits(0);
        assert!(!ran.out.is_empty() && ran.err.is_empty(), "{args:?}");
    }
    let ran = run(&mut lensmend()).exits(2);
    assert!(ran.talk().contains("annotate"), "{}", ran.talk());
}

#[test]
fn scan_writes_nothing() {
    let shoot = Shoot::sample();
    let before = stamps(shoot.temp.path());
    run(lensmend().arg("scan").arg(shoot.dump())).exits(1);
    run(Command::new(env!("CARGO_BIN_EXE_lensmend")).arg("scan").arg(shoot.temp.path().join("no")))
        .exits(2);
    assert_eq!(stamps(shoot.temp.path()), before);
    assert!(!paths(shoot.temp.path()).is_empty());
}

fn table(shoot: &Shoot) -> (Vec<String>, Vec<Vec<String>>) {
    let bytes = fs::read(shoot.out.join("lens-table.csv")).unwrap();
    let mut reader = csv::Reader::from_reader(bytes.as_slice());
    let owned = |record: &csv::StringRecord| record.iter().map(str::to_owned).collect();
    let headings = owned(reader.headers().unwrap());
    let rows = reader.records().map(|record| owned(&record.unwrap())).collect();
    (headings, rows)
}

fn add(path: &Path, text: &str) {
    fs::write(path, fs::read_to_string(path).unwrap() + text).unwrap();
}
