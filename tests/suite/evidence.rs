//! What clips show together, what is asked on the command line, and whom to trust: one line a case.

use std::path::PathBuf;

use lensmend::annotation::{Setup, Shoot};
use lensmend::dump::Part;
use lensmend::finding::Code;
use lensmend::kit::{Attachment, Kind, Kit};
use lensmend::notes;
use lensmend::reconcile::{Asked, Clocks, Trust, reconcile};
use lensmend::recorded::FileFacts;
use lensmend::units::Factor;

use crate::matching::{day, small_kit};
use crate::reconcile::{first, kit, media, said};

fn focal(setup: &Setup) -> String {
    let focal = &setup.focal_length;
    said(focal.verdict, focal.value.as_ref().map(|q| q.value.get()))
}

fn stop(setup: &Setup) -> String {
    said(setup.f_number.verdict, setup.f_number.value.as_ref().map(|q| q.value.get()))
}

fn has(shoot: &Shoot, code: Code) -> bool {
    shoot.findings.iter().any(|finding| finding.code == code)
}

fn resolved(clips: &[(&str, &str)], notes: &str, kit: &Kit, asked: impl Into<Asked>) -> Shoot {
    let (dump, facts) = day(clips);
    let found = notes::parse("notes.csv", notes.as_bytes());
    let rows = if notes.is_empty() { Vec::new() } else { vec![found.value] };
    reconcile(&dump, &facts, &rows, kit, asked)
}

/// Clips of roll A001 by what each recorded, and the focal lengths that come out.
fn roll(
    recorded: &[&str],
    notes: &str,
    kit: &Kit,
    asked: impl Into<Asked>,
) -> (Vec<String>, Shoot) {
    let names: Vec<String> =
        (1..=recorded.len()).map(|at| format!("A001/A001C{at:03}.mov")).collect();
    let clips: Vec<(&str, &str)> =
        names.iter().map(String::as_str).zip(recorded.iter().copied()).collect();
    let shoot = resolved(&clips, notes, kit, asked);
    (shoot.clips.iter().map(|clip| focal(clip.setups.first())).collect(), shoot)
}

fn reducer(m: f64) -> Asked {
    let m = Factor::new(m).unwrap();
    let attachment = Attachment::of_magnification(Kind::Reducer, m, 0.012, "reducer");
    Asked { attachment: Some((attachment, "reducer")), ..Asked::default() }
}

/// Media and notes contradict each other. recorded | noted | trusted: focal length, f-number, lens, focus.
const TRUST: &str = "
p85 f5.6 d8      | p50,,1.4,plain,2 m  | nobody | unresolved    | unresolved     | filled Sorrel 50   | unresolved
p85 f5.6 d8      | p50,,1.4,plain,2 m  | notes  | replaced 50   | replaced 1.414 | filled Sorrel 50   | replaced 2
p85 f5.6 d8      | p50,,1.4,plain,2 m  | media  | kept 85       | kept 5.6       | unresolved         | kept 8
p85 f5.6         | p50,,1.4,r,         | media  | unresolved    | unresolved     | filled Sorrel 50   | -
p85 f5.6         | p50,,1.4,marks,     | media  | scaled 61.2   | scaled 4.073   | unresolved         | -
p85 f5.6         | p50,,1.4,smart,     | media  | kept 85       | kept 5.6       | unresolved         | -
p35 LSorrel_35   | p50,,,marks,        | nobody | kept 35       | -              | unresolved         | -
p35 LSorrel_35   | p50,,,marks,        | notes  | kept 35       | -              | replaced Sorrel 50 | -
p35 LSorrel_35   | p50,,,marks,        | media  | scaled 25.2   | -              | kept Sorrel 35     | -
p35 LOther_35    | p50,,,plain,        | media  | kept 35       | -              | kept Other 35      | -
p50              | p50,,,r,            | media  | scaled 35.5   | -              | filled Sorrel 50   | -
p40              | z,,,r,              | media  | unresolved    | -              | filled Sorrel 24-70 | -
";

#[test]
fn trust_settles_contradictions_and_nothing_else() {
    let kit = kit();
    for line in TRUST.lines().filter(|line| line.contains('|')) {
        let parts: Vec<&str> = line.split('|').map(str::trim).collect();
        let [recorded, noted, trusted, expected @ ..] = &parts[..] else { panic!("{line}") };
        let trust = match *trusted {
            "notes" => Trust::Notes,
            "media" => Trust::Media,
            _ => Trust::Nobody,
        };
        let notes = format!("Clip,Lens,Focal,Stop,Attachment,Focus\nA001C001,{noted}\n");
        let shoot = resolved(&[("A001/A001C001.mov", recorded)], &notes, &kit, trust);
        let setup = first(&shoot);
        let lens = setup.lens.verdict.map_or("-".to_owned(), |verdict| {
            let name = setup.lens.value.as_ref().map_or("", |lens| lens.value.as_str());
            format!("{} {name}", verdict.word()).trim().to_owned()
        });
        let focus = &setup.focus_distance;
        let focus = said(focus.verdict, focus.value.as_ref().map(|q| q.value.get()));
        let got = [focal(setup), stop(setup), lens, focus];
        assert_eq!(got, expected, "{line}\n{:#?}", shoot.findings);
        if got.iter().any(|field| field == "unresolved") && *trusted == "media" {
            assert!(has(&shoot, Code::FieldKept) || has(&shoot, Code::FieldAmbiguous), "{line}");
        }
    }
}

/// A manual lens on a body into which somebody typed 50 on the first clip.
#[test]
fn a_focal_length_that_stayed_over_a_change_of_lens_is_recognised() {
    let kit = kit();
    let notes = |lenses: [&str; 3]| {
        let row = |(at, lens): (usize, &&str)| format!("A001C{:03},{lens},,r\n", at + 1);
        let rows: String = lenses.iter().enumerate().map(row).collect();
        format!("Clip,Lens,Focal,Attachment\n{rows}")
    };
    for (recorded, lenses, expected, stale) in [
        (
            ["p50", "p50", "p50"],
            ["p50", "p35", "m24"],
            ["scaled 35.5", "unresolved", "unresolved"],
            true,
        ),
        // A zoom takes any number, but not one that was left from another lens.
        (
            ["p50", "p50", "p50"],
            ["p50", "m24", "z"],
            ["scaled 35.5", "unresolved", "unresolved"],
            true,
        ),
        (["p50", "p50", "p50"], ["p50", "p50", "p50"], ["scaled 35.5"; 3], false),
        (
            ["p50", "p35", "p24"],
            ["p50", "p35", "m24"],
            ["scaled 35.5", "scaled 24.85", "scaled 17.26"],
            false,
        ),
        // A wrong log alone is a contradiction and no more.
        (
            ["p50", "p85", "p24"],
            ["p50", "p35", "m24"],
            ["scaled 35.5", "unresolved", "scaled 17.26"],
            false,
        ),
        // A camera that names its lenses knows them.
        (
            ["p50 LA", "p50 LB", "p50 LC"],
            ["p50", "p35", "m24"],
            ["scaled 35.5", "unresolved", "unresolved"],
            false,
        ),
    ] {
        let (got, shoot) = roll(&recorded, &notes(lenses), &kit, Trust::Nobody);
        assert_eq!(got, expected, "{recorded:?} {lenses:?}\n{:#?}", shoot.findings);
        assert_eq!(has(&shoot, Code::FieldStale), stale, "{recorded:?} {lenses:?}");
    }
    let (got, _) = roll(&["p50", "p50", "p50"], &notes(["p50", "p35", "m24"]), &kit, Trust::Notes);
    assert_eq!(got, ["scaled 35.5", "replaced 24.85", "replaced 17.26"]);
}

/// 40 mm on a zoom can be bare or 56 behind the reducer; a clip beside it with a prime shows how the camera records.
#[test]
fn clips_of_one_camera_show_how_it_records() {
    let kit = kit();
    let notes = "Clip,Lens,Attachment\nA001C001,z,r\nA001C002,p50,r\n";
    for (recorded, expected, habit) in [
        (["p40", "p50"], ["scaled 28.4", "scaled 35.5"], true),
        (["p40", "p36"], ["kept 40", "kept 36"], true),
        (["p40", ""], ["unresolved", "filled 35.5"], false),
        (["p40", "p85"], ["unresolved", "unresolved"], false),
    ] {
        let (got, shoot) = roll(&recorded, notes, &kit, Trust::Nobody);
        assert_eq!(got, expected, "{recorded:?}\n{:#?}", shoot.findings);
        assert_eq!(has(&shoot, Code::FieldHabit), habit, "{recorded:?}");
    }
    // Another attachment, or cameras that show both, prove nothing.
    let other = "Clip,Lens,Attachment\nA001C001,z,r\nA001C002,p50,ext\n";
    assert_eq!(roll(&["p40", "p50"], other, &kit, Trust::Nobody).0, ["unresolved", "scaled 70"]);
    let both = "Clip,Lens,Attachment\nA001C001,z,r\nA001C002,p50,r\nA001C003,p50,r\n";
    assert_eq!(roll(&["p40", "p50", "p36"], both, &kit, Trust::Nobody).0[0], "unresolved");
}

/// No notes: `--reducer 0.71`, or a default of the kit, and what the media recorded.
#[test]
fn a_reducer_alone_corrects_a_roll_and_never_twice() {
    let none = Kit::default();
    let primes = small_kit("");
    let default = |reports: &str| {
        small_kit(&format!(
            "[[attachment]]\nid = \"r\"\nkind = \"reducer\"\nmagnification = 0.71\n{reports}[[roll]]\nname = \"A001\"\nattachment = \"r\"\n"
        ))
    };
    let nobody = Asked::default;
    let cases: &[(&Kit, Asked, &[&str], &[&str])] = &[
        // Without any kit: bare, as the request says.
        (
            &none,
            reducer(0.71),
            &["p50", "p35", "p85"],
            &["scaled 35.5", "scaled 24.85", "scaled 60.35"],
        ),
        (&none, reducer(0.71), &["p50", ""], &["scaled 35.5", "-"]),
        // The media shows that it was worked out already: 50, 24 and 85 behind 0.71.
        (
            &none,
            reducer(0.71),
            &["p35.5~0.05", "p17.04~0.005", "p60.4~0.05"],
            &["kept 35.5", "kept 17.04", "kept 60.4"],
        ),
        // One such number can be chance, and is left open; whole ones beside it are bare, if the camera writes that finely.
        (&none, reducer(0.71), &["p35.5~0.05", "p35.5~0.05"], &["unresolved", "unresolved"]),
        (
            &none,
            reducer(0.71),
            &["p35.5~0.05", "p50", "p85"],
            &["unresolved", "scaled 35.5", "scaled 60.35"],
        ),
        // The lens is named in the media.
        (&none, reducer(0.71), &["p36 LOther_50mm", "p25 LOther_35mm"], &["kept 36", "kept 25"]),
        (&none, reducer(0.71), &["p50 LOther_50mm"], &["scaled 35.5"]),
        // With lenses in the kit 35 can be bare or 50 behind it; what was asked decides, unless other clips show otherwise.
        (&primes, reducer(0.71), &["p35", "p50"], &["scaled 24.85", "scaled 35.5"]),
        (&primes, reducer(0.71), &["p35", "p25", "p60"], &["kept 35", "kept 25", "kept 60"]),
        (&primes, reducer(0.71), &["p35"], &["scaled 24.85"]),
        // A default of the kit says nothing of how the camera records: the other clips, or reports, must.
        (&default(""), nobody(), &["p35", "p50"], &["scaled 24.85", "scaled 35.5"]),
        (&default(""), nobody(), &["p35", "p60"], &["kept 35", "kept 60"]),
        (&default(""), nobody(), &["p35"], &["unresolved"]),
        (&default("reports = \"marked\"\n"), nobody(), &["p35"], &["scaled 24.85"]),
        (&default("reports = \"reduced\"\n"), nobody(), &["p35"], &["kept 35"]),
        // The kit knows the reducer that is asked for, and that it reports reduced values.
        (
            &default("reports = \"reduced\"\n"),
            Asked {
                attachment: Some((
                    default("reports = \"reduced\"\n").attachments[0].clone(),
                    "reducer",
                )),
                ..nobody()
            },
            &["p50", "p35"],
            &["kept 50", "kept 35"],
        ),
    ];
    for (kit, asked, recorded, expected) in cases {
        let (got, shoot) = roll(recorded, "", kit, asked.clone());
        assert_eq!(&got, expected, "{recorded:?}\n{:#?}", shoot.findings);
    }
    // What was logged goes before what was asked.
    let (got, _) = roll(&["p50", "p50"], "Clip,Attachment\nA001C001,none\n", &none, reducer(0.71));
    assert_eq!(got, ["kept 50", "scaled 35.5"]);
}

#[test]
fn a_stop_goes_with_its_focal_length_as_asked_or_stays_blank() {
    for (recorded, expected) in [
        ("p50 f2.8", "scaled 2.008"),
        ("p36 f2 LOther_50mm", "unresolved"),
        ("f2.8", "scaled 2.008"),
        ("p35.5~0.05 f2", "unresolved"),
    ] {
        let (_, shoot) = roll(&[recorded], "", &Kit::default(), reducer(0.71));
        assert_eq!(stop(first(&shoot)), expected, "{recorded}");
    }
}

#[test]
fn an_attachment_that_nobody_noted_is_named_and_not_applied() {
    let kit = kit();
    for (recorded, noted, reason, code) in [
        (
            "p35.5~0.05",
            "p50,",
            "inferred and not applied: recorded and noted agree only with r",
            Some(Code::AttachmentInferred),
        ),
        (
            "p70",
            "p50,",
            "inferred and not applied: recorded and noted agree only with ext",
            Some(Code::AttachmentInferred),
        ),
        ("p50", "p50,", "", Some(Code::FieldAmbiguous)),
        (
            "p35.5~0.05",
            "p50,plain",
            "logged in the notes; recorded and noted would agree with r",
            Some(Code::FieldContradiction),
        ),
        ("p50", "p50,r", "logged in the notes", None),
        ("p40", "own,", "inferred: the lens has the camera's own mount", None),
    ] {
        let notes = format!("Clip,Lens,Attachment\nA001C001,{noted}\n");
        let shoot = resolved(&[("A001/A001C001.mov", recorded)], &notes, &kit, Trust::Nobody);
        let setup = first(&shoot);
        assert!(
            setup.attachment_reason.starts_with(reason),
            "{recorded} {noted}: {}",
            setup.attachment_reason
        );
        assert_eq!(reason.is_empty(), setup.attachment_reason.is_empty(), "{recorded} {noted}");
        match code {
            Some(code) => assert!(
                has(&shoot, code) && setup.focal_length.value.is_none(),
                "{recorded} {noted}\n{:#?}",
                shoot.findings
            ),
            None => assert!(setup.focal_length.value.is_some(), "{recorded} {noted}"),
        }
    }
}

#[test]
fn one_value_bare_and_the_other_reduced_is_questioned() {
    let kit = kit();
    for (recorded, noted, questioned) in [
        ("p36 f2.8", "p50,2.8,r", true),
        ("p50 f2", "p50,2.8,r", true),
        ("p50 f2.8", "p50,2.8,r", false),
        ("p36 f2", "p50,2.8,r", false),
        // So the kit says of this one.
        ("p32 f2", "p50,2,half", false),
        ("p50 f1.3", "p50,2,half", true),
        ("p50 f2.8", "p50,2.8,plain", false),
    ] {
        let notes = format!("Clip,Lens,Stop,Attachment\nA001C001,{noted}\n");
        let shoot = resolved(&[("A001/A001C001.mov", recorded)], &notes, &kit, Trust::Nobody);
        assert_eq!(
            has(&shoot, Code::AttachmentHalf),
            questioned,
            "{recorded} {noted}\n{:#?}",
            shoot.findings
        );
    }
}

/// One lens cannot be on two cameras, nor one body record twice, at one time.
#[test]
fn one_serial_number_at_two_places_is_a_wrong_log() {
    let kit = small_kit("[[lens]]\nid = \"own\"\nfocal = 40\nserial = \"4711\"\n");
    let notes = "Clip,Lens\nA001C001,own\nB001C001,own\n";
    let other = "Clip,Lens\nA001C001,own\nB001C001,p35\n";
    let pair = "Clip,Lens\nA001C001,p50\nB001C001,p50\n";
    let (a, b) = ("A001/A001C001.mov", "B001/B001C001.mov");
    for (media_a, media_b, notes, clock, twice) in [
        ("c2026-11-14T14:32:10 n750", "c2026-11-14T14:32:20 n750", notes, "", true),
        ("c2026-11-14T14:32:10 n750", "c2026-11-14T14:32:40 n750", notes, "", false),
        ("c2026-11-14T14:32:10 n750", "c2026-11-15T14:32:20 n750", notes, "", false),
        ("c2026-11-14T14:32:10 n750", "c2026-11-14T14:32:20 n750", notes, "B=-00:05:00", false),
        ("c2026-11-14T14:32:10 n750", "c2026-11-14T14:27:20 n750", notes, "B=-00:05:00", true),
        ("c2026-11-14T14:32:10 n750", "c2026-11-14T14:32:20 n750", other, "", false),
        // Without a serial number there can be two of them.
        ("c2026-11-14T14:32:10 n750", "c2026-11-14T14:32:20 n750", pair, "", false),
        ("t10:00:00:00", "t10:00:02:00", notes, "", true),
        ("t10:00:00:00", "t10:00:04:00", notes, "", false),
    ] {
        let clips = [(a, media_a), (b, media_b)];
        let (dump, _) = day(&clips);
        let clocks: Vec<String> =
            Some(clock.to_owned()).into_iter().filter(|c| !c.is_empty()).collect();
        let clocks = Clocks::read(&clocks, &kit, &dump).unwrap();
        let shoot = resolved(&clips, notes, &kit, Asked { clocks, ..Asked::default() });
        assert_eq!(
            has(&shoot, Code::LensTwice),
            twice,
            "{media_a} {media_b} {clock}\n{:#?}",
            shoot.findings
        );
    }
    let bodies = |one: &str, other: &str| {
        has(&resolved(&[(a, one), (b, other)], "", &kit, Trust::Nobody), Code::CameraSerial)
    };
    assert!(bodies("c2026-11-14T14:32:10 n750 SK1", "c2026-11-14T14:32:20 n750 SK1"));
    assert!(!bodies("c2026-11-14T14:32:10 n750 SK1", "c2026-11-14T14:32:20 n750 SK2"));
    assert!(bodies("SB-77", ""), "B-77 is camera B in the kit, and the roll is A's");
    assert!(!bodies("", "SB-77"));
}

/// Parts of a clip of which one has no length: the timecode tells where the next begins, and without it only what never changes is said.
#[test]
fn after_a_part_of_unknown_length_nothing_is_made_up() {
    let kit = kit();
    let shot = |starts: [&str; 3], notes: &str| {
        let (mut dump, _) = day(&[("A001/A001C001_001.mov", "")]);
        let part = |n: u32| Part {
            path: PathBuf::from(format!("A001/A001C001_{n:03}.mov")),
            number: Some(n),
            size: 1,
            row: None,
        };
        dump.clips[0].parts = vec![part(1), part(2), part(3)];
        let facts = |(at, start): (usize, &&str)| {
            let mut recorded = media(start);
            if start.is_empty() {
                recorded.start = None;
            }
            if at == 1 {
                recorded.frames = None;
            }
            FileFacts { recorded, header_sha256: None }
        };
        let facts: Vec<FileFacts> = starts.iter().enumerate().map(facts).collect();
        let notes = notes::parse("notes.csv", notes.as_bytes()).value;
        reconcile(&dump, &[facts], &[notes], &kit, Trust::Nobody)
    };
    let change = "Clip,TC,Lens,Focal,Attachment\nA001C001,,z,35,r\nA001C001,10:00:02:00,,50,\n";
    let shoot = shot(["t10:00:00:00", "t10:00:04:00", "t10:00:20:00"], change);
    assert_eq!(shoot.clips[0].clip.files[2].first_frame, Some(500));
    assert!(shoot.clips[0].clip.media.frames.is_none(), "how long the clip is nobody knows");
    let shoot = shot(["t10:00:00:00", "", ""], change);
    assert_eq!(shoot.clips[0].clip.files[2].first_frame, None);
    let elsewhere = shoot.clips[0].elsewhere.as_ref().unwrap();
    assert_eq!((focal(elsewhere), elsewhere.lens.value.is_some()), ("unresolved".to_owned(), true));
    let shoot = shot(["t10:00:00:00", "", ""], "Clip,Lens,Focal,Attachment\nA001C001,z,35,r\n");
    assert!(shoot.clips[0].elsewhere.is_none(), "what never changes is known everywhere");
}
