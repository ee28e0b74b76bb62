//! Which rows of the notes speak of which clips, and why: by name, by timecode, by the time of day.

use std::path::PathBuf;

use lensmend::annotation::{Annotation, Shoot};
use lensmend::dump::{Clip, Dump, Part};
use lensmend::finding::Code;
use lensmend::kit::{self, Kit};
use lensmend::notes;
use lensmend::reconcile::{Asked, Clocks, reconcile};
use lensmend::recorded::FileFacts;

use crate::reconcile::media;

const KIT: &str = r#"
[[camera]]
id = "A"
name = "Corbel One"
[[camera]]
id = "B"
serial = "B-77"
[[lens]]
id = "p35"
focal = 35
[[lens]]
id = "p50"
focal = 50
[[lens]]
id = "p85"
focal = 85
"#;

pub(crate) fn small_kit(more: &str) -> Kit {
    let found = kit::parse("kit.toml", format!("{KIT}{more}").as_bytes());
    assert_eq!(found.findings, []);
    found.value
}

/// Clips by file name, each with what its media says; roll and clip are read off the name.
pub(crate) fn day(clips: &[(&str, &str)]) -> (Dump, Vec<Vec<FileFacts>>) {
    let clip = |(file, _): &(&str, &str)| {
        let path = PathBuf::from(file);
        let named = lensmend::naming::Naming::default().name(&path);
        Clip {
            name: named.name,
            roll: named.roll,
            short: named.short,
            parts: vec![Part { path, number: None, size: 1, row: None }],
            copies: Vec::new(),
        }
    };
    let facts = clips
        .iter()
        .map(|(_, recorded)| vec![FileFacts { recorded: media(recorded), header_sha256: None }]);
    let dump =
        Dump { root: PathBuf::new(), clips: clips.iter().map(clip).collect(), strays: Vec::new() };
    (dump, facts.collect())
}

fn resolved(clips: &[(&str, &str)], notes: &str, clocks: &[&str]) -> Shoot {
    let (dump, facts) = day(clips);
    let kit = small_kit("");
    let found = notes::parse("notes.csv", notes.as_bytes());
    assert_eq!(found.findings, [], "{notes}");
    let clocks: Vec<String> = clocks.iter().map(|&clock| clock.to_owned()).collect();
    let clocks = Clocks::read(&clocks, &kit, &dump).unwrap();
    reconcile(&dump, &facts, &[found.value], &kit, Asked { clocks, ..Asked::default() })
}

/// Lens by lens of each clip and piece: `p50`, `p50@25` from frame 25 on, `-`.
fn lenses(shoot: &Shoot) -> String {
    let of = |clip: &Annotation| {
        let pieces = clip.setups.pieces().map(|piece| {
            let lens = piece.value.lens.value.as_ref().map_or("-", |lens| lens.value.as_str());
            if piece.start == 0 { lens.to_owned() } else { format!("{lens}@{}", piece.start) }
        });
        pieces.collect::<Vec<_>>().join(" ")
    };
    shoot.clips.iter().map(of).collect::<Vec<_>>().join(", ")
}

fn codes(shoot: &Shoot) -> Vec<Code> {
    let of_notes = |code: &Code| {
        matches!(code, Code::NotesNoMatch | Code::NotesRow | Code::NotesTime | Code::NotesDisagree)
    };
    shoot.findings.iter().map(|finding| finding.code).filter(of_notes).collect()
}

#[test]
fn a_clip_is_found_by_any_usual_spelling_of_its_name() {
    let clips = [
        ("A003/A003C007_1114_KV.mov", ""),
        ("A003/A003C010_1114_KX.mov", ""),
        ("A004/A004C007_1114_KQ.mov", ""),
    ];
    for (columns, row, expected) in [
        ("Clip", "A003C007", "p50, -, -"),
        ("Clip", "a003_c007", "p50, -, -"),
        ("Clip", "A003 C007", "p50, -, -"),
        ("Clip", "A3C7", "p50, -, -"),
        ("Clip", "A003C007_1114_KV", "p50, -, -"),
        ("Clip", "A003C007_1114_KV.mov", "p50, -, -"),
        ("Clip", "A003C007_1114_KV.MOV", "p50, -, -"),
        ("Clip", "a003c007_1114_kv.mxf", "p50, -, -"),
        ("Clip", "A003C007_1114", "p50, -, -"),
        ("Clip", "A003/A003C007_1114_KV.mov", "p50, -, -"),
        ("Clip", r"D:\cards\A003\A003C007_1114_KV.mov", "p50, -, -"),
        ("Clip", "C010", "-, p50, -"),
        ("Clip", "C10", "-, p50, -"),
        ("Roll,Clip", "A003,C007", "p50, -, -"),
        ("Roll,Clip", "A003,7", "p50, -, -"),
        ("Roll,Clip", "A3,007", "p50, -, -"),
        ("Roll,Clip", "A004,C7", "-, -, p50"),
        ("Roll,Clip", "A003,C007-C010", "p50, p50, -"),
        ("Roll", "A003", "p50, p50, -"),
        // Not these: of several rolls, cut inside a number, of another roll, nobody.
        ("Clip", "C007", "-, -, -"),
        ("Clip", "A003C0", "-, -, -"),
        ("Clip", "A003C01", "-, -, -"),
        ("Roll,Clip", "A005,C007", "-, -, -"),
        ("Roll,Clip", "A003,8", "-, -, -"),
    ] {
        let shoot = resolved(&clips, &format!("{columns},Lens\n{row},p50\n"), &[]);
        assert_eq!(lenses(&shoot), expected, "{columns}: {row}");
        let missed = codes(&shoot).contains(&Code::NotesNoMatch);
        assert_eq!(missed, expected == "-, -, -", "{columns}: {row}\n{:#?}", shoot.findings);
    }
}

/// A folder that is no camera's name may be the roll, whichever of those above the clip it is.
#[test]
fn any_folder_above_can_be_the_roll() {
    let clips =
        [("day 3/MAGNUS/PRIVATE/MOVE0012.MP4", ""), ("day 3/SECOND/PRIVATE/MOVE0012.MP4", "")];
    for (roll, expected) in
        [("Magnus", "p50, -"), ("second", "-, p50"), ("day 3", "p50, p50"), ("third", "-, -")]
    {
        let shoot = resolved(&clips, &format!("Roll,Lens\n{roll},p50\n"), &[]);
        assert_eq!(lenses(&shoot), expected, "{roll}");
        if roll != "day 3" {
            let shoot = resolved(&clips, &format!("Roll,Clip,Lens\n{roll},MOVE0012,p50\n"), &[]);
            assert_eq!(lenses(&shoot), expected, "{roll} by clip");
        }
    }
}

/// Drop frame after SMPTE ST 12-1: 1798 frames a minute, 1800 in each tenth; 23:59:59;29 is followed by 00:00:00;00.
#[test]
fn rows_by_timecode_cross_midnight_and_drop_frames() {
    let across = ("A001/A001C001.mov", "t23:59:59:00 n100");
    let drop = ("B002/B002C001.mov", "t23:59:50;00 n3600");
    let later = ("A001/A001C002.mov", "t00:01:00:00 n100");
    let clips = [across, later, drop];
    for (columns, row, expected) in [
        ("Clip,TC", "A001C001,23:59:59:20", "-  p50@20, -, -"),
        ("Clip,TC", "A001C001,00:00:00:00", "-  p50@25, -, -"),
        ("Clip,TC", "A001C001,00:00:02:24", "-  p50@99, -, -"),
        ("Roll,TC", "A001,00:00:01", "-  p50@50, -, -"),
        ("Roll,TC", "A001,00:01:00:00", "-, p50, -"),
        ("Roll,TC", "A001,00:01:03:24", "-, -  p50@99, -"),
        ("Roll,TC", "B002,00:00:00;00", "-, -, -  p50@300"),
        // The label 00:01:00;02 is the first of its minute: 300 + 1800 frames from the start.
        ("Roll,TC", "B002,00:01:00;02", "-, -, -  p50@2100"),
        ("Roll,TC", "B002,00:01:00:02", "-, -, -  p50@2100"),
        ("Roll,TC", "B002,00:01:00", "-, -, -  p50@2100"),
        // Neither clip nor roll: whichever clip ran.
        ("TC,Remarks", "23:59:49:00,x", "-, -, -"),
        ("TC,Remarks", "23:59:55;00,x", "-, -, -  p50@150"),
        ("Camera,TC", "A,00:00:01:00", "-  p50@50, -, -"),
        // A label that does not exist, a moment at which nothing ran, the frame after the last, another camera.
        ("Clip,TC", "B002C001,00:01:00;01", "-, -, -"),
        ("Roll,TC", "B002,00:01:00;00", "-, -, -"),
        ("Roll,TC", "A001,12:00:00:00", "-, -, -"),
        ("Clip,TC", "A001C001,00:00:03:00", "-, -, -"),
        ("Camera,TC", "B,00:00:01:00", "-, -, -  p50@330"),
        ("Camera,TC", "B,12:00:00:00", "-, -, -"),
    ] {
        let shoot = resolved(&clips, &format!("{columns},Lens\n{row},p50\n"), &[]);
        assert_eq!(
            lenses(&shoot),
            expected.replace("  ", " "),
            "{columns}: {row}\n{:#?}",
            shoot.findings
        );
        assert_eq!(codes(&shoot).contains(&Code::NotesNoMatch), expected == "-, -, -", "{row}");
    }
    let shoot = resolved(&clips, "Clip,TC,Lens\nB002C001,00:01:00;01,p50\n", &[]);
    let said =
        shoot.findings.iter().any(|finding| finding.message.contains("left out by drop frame"));
    assert!(said, "{:#?}", shoot.findings);
}

/// Two cameras with one jammed timecode, and a camera that begins every clip at nought: a row that could mean either means none.
#[test]
fn a_timecode_over_several_clips_is_no_answer() {
    let clips = [
        ("A001/A001C001.mov", "t10:00:00:00"),
        ("B001/B001C001.mov", "t10:00:00:00"),
        ("B001/B001C002.mov", "t10:00:01:00"),
    ];
    for (columns, row, expected) in [
        ("TC,Remarks", "10:00:00:10,x", "-, -, -"),
        ("Camera,TC", "A,10:00:00:10", "- p50@10, -, -"),
        ("Camera,TC", "B,10:00:00:10", "-, - p50@10, -"),
        ("Camera,TC", "B,10:00:02:00", "-, -, -"),
        ("Roll,TC", "B001,10:00:02:00", "-, -, -"),
        ("Clip,TC", "\"B001C001,B001C002\",10:00:02:00", "-, - p50@50, - p50@25"),
    ] {
        let shoot = resolved(&clips, &format!("{columns},Lens\n{row},p50\n"), &[]);
        assert_eq!(lenses(&shoot), expected, "{columns}: {row}");
        assert_eq!(codes(&shoot).contains(&Code::NotesNoMatch), expected == "-, -, -", "{row}");
    }
}

/// Times of day are compared with the creation time, which is that of the camera's clock.
#[test]
fn rows_by_time_of_day_find_the_clip_that_ran() {
    let clips = [
        ("A001/A001C001.mov", "c2026-11-14T14:32:10 n750"),
        ("A001/A001C002.mov", "c2026-11-14T14:35:50 n1500"),
        ("A001/A001C003.mov", "c2026-11-14T23:59:40 n1500"),
        ("B001/B001C001.mov", "c2026-11-14T14:32:20 n250"),
    ];
    let none = "-, -, -, -";
    for (columns, row, clocks, expected) in [
        ("Roll,Time", "A001,14:32", &[][..], "p50, -, -, -"),
        ("Roll,Time", "A001,2:32 pm", &[], "p50, -, -, -"),
        ("Camera,Time", "A,14:32:15", &[], "p50, -, -, -"),
        ("Camera,Time", "B,14:32", &[], "-, -, -, p50"),
        // 14:35:50 to 14:36:50: both minutes touch it.
        ("Camera,Time", "A,14:35", &[], "-, p50, -, -"),
        ("Camera,Time", "A,14:36", &[], "-, p50, -, -"),
        // It runs from a minute before midnight to one after.
        ("Camera,Time", "A,23:59", &[], "-, -, p50, -"),
        ("Camera,Time", "A,00:00:30", &[], "-, -, p50, -"),
        ("Camera,Time", "A,00:01", &[], none),
        // Both cameras ran.
        ("Time,Remarks", "14:32,x", &[], none),
        ("Time,Remarks", "14:32:12,x", &[], "p50, -, -, -"),
        // Nobody ran.
        ("Camera,Time", "A,14:34", &[], none),
        ("Camera,Time", "A,14:31", &[], none),
        // The clock of A was three minutes fast: its clips ran at 14:29 and 14:32.
        ("Camera,Time", "A,14:32", &["A=+00:03:00"], "-, p50, -, -"),
        ("Camera,Time", "A,14:29", &["A=+00:03:00"], "p50, -, -, -"),
        ("Camera,Time", "A,14:29", &["Corbel One=00:03:00"], "p50, -, -, -"),
        ("Camera,Time", "B,14:32", &["A=+00:03:00"], "-, -, -, p50"),
        // It was two hours slow, as a clock on universal time is in summer.
        ("Camera,Time", "A,16:32", &["A=-02:00:00", "B-77=+00:00:00"], "p50, -, -, -"),
        ("Camera,Time", "A,01:59", &["A=-02:00:00"], "-, -, p50, -"),
        // A name goes before the clock, and a list is narrowed by it.
        ("Clip,Time", "A001C002,14:32", &[], "-, p50, -, -"),
        ("Clip,Time", "A001C001-A001C003,14:32", &[], "p50, -, -, -"),
    ] {
        let shoot = resolved(&clips, &format!("{columns},Lens\n{row},p50\n"), clocks);
        assert_eq!(lenses(&shoot), expected, "{columns}: {row} {clocks:?}\n{:#?}", shoot.findings);
        assert_eq!(codes(&shoot).contains(&Code::NotesNoMatch), expected == none, "{row}");
    }
}

#[test]
fn the_first_time_in_a_clip_holds_for_all_of_it_and_later_ones_from_their_second() {
    let clips = [("A001/A001C001.mov", "c2026-11-14T14:32:10 n4500")];
    let notes = "Camera,Time,Lens\nA,14:32:20,p50\nA,14:33:10,p35\n";
    assert_eq!(lenses(&resolved(&clips, notes, &[])), "p50 p35@1500");
    // A minute is no place for a change.
    let notes = "Camera,Time,Lens\nA,14:32,p50\nA,14:34,p35\n";
    let shoot = resolved(&clips, notes, &[]);
    assert_eq!((lenses(&shoot).as_str(), codes(&shoot)), ("p50", vec![Code::NotesRow]));
    let notes = "Camera,Time,Lens\nA,14:33,p50\nA,14:33,p35\n";
    assert_eq!(codes(&resolved(&clips, notes, &[])), [Code::NotesDisagree]);
}

#[test]
fn a_clock_that_was_off_is_worked_out_and_offered() {
    let clips = [
        ("A001/A001C001.mov", "c2026-11-14T12:32:10 n750"),
        ("A001/A001C002.mov", "c2026-11-14T12:41:20 n750"),
    ];
    let shoot = resolved(&clips, "Camera,Time,Lens\nA,14:32:10,p50\n", &[]);
    let near = shoot.findings.iter().find(|f| f.code == Code::NotesNoMatch).unwrap();
    assert!(near.message.contains("A001C002 began at 12:41:20"), "{}", near.message);
    assert!(near.message.contains("--clock A=-01:50:50"), "{}", near.message);
    assert_eq!(
        lenses(&resolved(&clips, "Camera,Time,Lens\nA,14:32:10,p50\n", &["A=-02:00:00"])),
        "p50, -"
    );
    // Rows that name their clips show it too, once for all of them.
    let named = "Clip,Time,Lens\nA001C001,14:32,p50\nA001C002,14:41,p35\n";
    let shoot = resolved(&clips, named, &[]);
    assert_eq!(lenses(&shoot), "p50, p35");
    let apart: Vec<_> = shoot.findings.iter().filter(|f| f.code == Code::NotesTime).collect();
    assert_eq!(apart.len(), 1);
    assert!(apart[0].hint.as_ref().unwrap().contains("--clock A=-01:59:45"), "{:?}", apart[0]);
    assert_eq!(codes(&resolved(&clips, named, &["A=-01:59:45"])), []);
}

#[test]
fn clocks_that_cannot_be_are_refused_in_words() {
    let (dump, _) = day(&[("A001/A001C001.mov", "")]);
    let read = |kit: &Kit, text: &[&str]| {
        let text: Vec<String> = text.iter().map(|&text| text.to_owned()).collect();
        Clocks::read(&text, kit, &dump)
    };
    let kit = small_kit("");
    assert!(read(&kit, &["A=+00:01:30", "b=-01:00:00"]).is_ok());
    for (text, words) in [
        (&["A"][..], "which camera, and by how much"),
        (&["A=1:30"], "two digits each"),
        (&["A=+90"], "two digits each"),
        (&["A=+00:61:00"], "two digits each"),
        (&["A=+25:00:00"], "a day at most"),
        (&["C=+00:00:01"], "its cameras are A, B"),
        (&["=+00:00:01"], "no camera \"\""),
        (&["A=+00:00:01", "a=+00:00:02"], "twice"),
    ] {
        let error = read(&kit, text).unwrap_err();
        assert!(error.contains("--clock") && error.contains(words), "{text:?}: {error}");
    }
    // Without cameras in the kit the letter of a roll is enough.
    assert!(read(&Kit::default(), &["A=+00:01:30"]).is_ok());
    assert!(read(&Kit::default(), &["Q=+00:01:30"]).unwrap_err().contains("no roll of the dump"));
}

#[test]
fn every_match_says_which_row_and_why() {
    let clips = [
        ("A001/A001C001.mov", "c2026-11-14T14:32:10"),
        ("A001/A001C002.mov", ""),
        ("B001/B001C001.mov", ""),
    ];
    let notes = "Roll,Clip,TC,Time,Lens,Remarks\nA001,,,,p50,\nA001,C1-C2,,,,x\nA001,C001,,,,y\nA001,C001,10:00:02:00,,p35,\nA001,,,14:32,,z\n";
    let shoot = resolved(&clips, notes, &["A=-00:00:00"]);
    let told: Vec<Vec<String>> = shoot
        .clips
        .iter()
        .map(|clip| {
            clip.rows.iter().map(|row| format!("{} {} {}", row.line, row.frame, row.why)).collect()
        })
        .collect();
    assert_eq!(
        told,
        [
            vec![
                "2 0 roll A001",
                "3 0 range C1-C2",
                "4 0 clip C001",
                "5 50 timecode 10:00:02:00 in clip C001",
                "6 0 time of day 14:32"
            ],
            vec!["2 0 roll A001", "3 0 range C1-C2"],
            vec![],
        ]
    );
    assert!(shoot.findings.iter().any(|f| f.code == Code::NotesNone), "B001C001 has no row");
    assert!(codes(&shoot).contains(&Code::NotesDisagree), "remarks y and z are of one rank");
}

#[test]
fn a_clip_without_a_row_is_said_even_where_the_kit_knows_its_lens() {
    let kit = small_kit("[[roll]]\nname = \"B001\"\nlens = \"p35\"\nattachment = \"none\"\n");
    let (dump, facts) = day(&[("A001/A001C001.mov", ""), ("B001/B001C001.mov", "")]);
    let notes = notes::parse("notes.csv", b"Clip,Lens\nA001C001,p50\n").value;
    let shoot = reconcile(&dump, &facts, &[notes], &kit, Asked::default());
    let said: Vec<_> = shoot.findings.iter().filter(|f| f.code == Code::NotesNoRow).collect();
    assert_eq!((said.len(), said[0].clip.as_deref()), (1, Some("B001C001")));
    let shoot = reconcile(&dump, &facts, &[], &kit, Asked::default());
    assert!(
        !shoot.findings.iter().any(|f| f.code == Code::NotesNoRow),
        "no notes were kept at all"
    );
}
