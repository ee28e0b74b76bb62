//! Recorded, noted and kit, line by line, to verdicts and values: one table, one line a case.

use std::path::PathBuf;
use std::sync::Arc;

use chrono::NaiveDateTime;
use lensmend::annotation::{Annotation, Setup, Shoot, Verdict};
use lensmend::dump::{Clip, Dump, Part};
use lensmend::finding::{Code, Level};
use lensmend::kit::{self, Kit};
use lensmend::notes;
use lensmend::ratio::Ratio;
use lensmend::reconcile::{Trust, reconcile};
use lensmend::recorded::{FileFacts, LensData, Reading, Recorded};
use lensmend::sourced::{Basis, Origin, Sourced};
use lensmend::timecode::{Counting, Timecode};
use lensmend::units::{FNumber, Factor, Meters, Millimeters, Raster, TNumber, Unit};

const KIT: &str = r#"
[[mount]]
id = "body"
flange = 18
[[mount]]
id = "photo"
flange = 44
[[camera]]
id = "A"
mount = "body"
[[camera.mode]]
id = "uhd"
raster = "3840x2160"
width = 26.2
height = 14.7375
[[lens]]
id = "p35"
name = "Sorrel 35"
mount = "photo"
focal = 35
f-max = 1.4
image-circle = 43.3
[[lens]]
id = "p50"
name = "Sorrel 50"
mount = "photo"
focal = 50
f-max = 1.4
pupil-offset = 40.769946
image-circle = 43.3
[[lens]]
id = "m24"
name = "Umber 24"
mount = "photo"
focal = 24
measured-focal = 24.31
measured-focal-uncertainty = 0.08
f-max = 1.4
t-max = 1.5
scale = "T"
image-circle = 33
[[lens]]
id = "z"
name = "Sorrel 24-70"
mount = "photo"
range = [24, 70]
f-max = 2.8
image-circle = 43.3
[[lens]]
id = "ramp"
mount = "photo"
range = [24, 70]
f-max = [[24, 2], [70, 4]]
[[lens]]
id = "own"
name = "Own 40"
mount = "body"
focal = 40
f-max = 2
[[attachment]]
id = "r"
kind = "reducer"
lens-mount = "photo"
body-mount = "body"
magnification = 0.71
transmittance = 0.95
thickness = 18.75
[[attachment]]
id = "marks"
kind = "reducer"
lens-mount = "photo"
body-mount = "body"
magnification = 0.72
reports = "marked"
[[attachment]]
id = "smart"
kind = "reducer"
lens-mount = "photo"
body-mount = "body"
magnification = 0.73
reports = "reduced"
[[attachment]]
id = "half"
kind = "reducer"
lens-mount = "photo"
body-mount = "body"
magnification = 0.64
reports = { focal = "reduced", stop = "marked" }
[[attachment]]
id = "weak"
kind = "reducer"
lens-mount = "photo"
body-mount = "body"
magnification = 0.97
[[attachment]]
id = "ext"
kind = "extender"
lens-mount = "photo"
body-mount = "body"
magnification = 1.4
transmittance = 0.93
[[attachment]]
id = "plain"
kind = "adapter"
lens-mount = "photo"
body-mount = "body"
thickness = 26
"#;

pub(crate) fn kit() -> Kit {
    let found = kit::parse("kit.toml", KIT.as_bytes());
    assert_eq!(found.findings, [], "the kit of these tests is clean");
    found.value
}

pub(crate) fn media(text: &str) -> Recorded {
    let origin =
        Origin::Media { file: Arc::from("A001C001.mov"), path: Arc::from("moov"), offset: 0 };
    let sourced = |value| Some(Sourced::new(value, origin.clone()));
    let mut recorded = Recorded {
        coded: Some(Sourced::new(Raster::new(3840, 2160).unwrap(), origin.clone())),
        rate: Some(Sourced::new(Ratio::new(25, 1).unwrap(), origin.clone())),
        frames: Some(Sourced::new(100, origin.clone())),
        start: Some(Sourced::new(
            Timecode::parse("10:00:00:00", Counting::new(25, false).unwrap()).unwrap(),
            origin.clone(),
        )),
        ..Recorded::default()
    };
    for word in text.split_whitespace() {
        let (what, value) = word.split_at(1);
        // `p50~0.05`: written to one decimal.
        let (number, step) =
            value.split_once('~').unwrap_or((value, if what == "f" { "0.05" } else { "0.5" }));
        let (number, step): (f64, f64) = (number.parse().unwrap_or(0.0), step.parse().unwrap());
        match what {
            "p" => recorded.focal_length = reading(Millimeters::new(number), step, &origin),
            "f" => recorded.f_number = reading(FNumber::new(number), step, &origin),
            "T" => recorded.t_number = reading(TNumber::new(number), 0.05, &origin),
            "c" => recorded.created = Some(Sourced::new(time(value), origin.clone())),
            "n" => recorded.frames = Some(Sourced::new(value.parse().unwrap(), origin.clone())),
            "S" => recorded.serial = sourced(value.to_owned()),
            "t" => {
                let drop = value.contains(';');
                let counting = Counting::new(if drop { 30 } else { 25 }, drop).unwrap();
                let rate = if drop { Ratio::new(30000, 1001) } else { Ratio::new(25, 1) };
                recorded.rate = Some(Sourced::new(rate.unwrap(), origin.clone()));
                let start = Timecode::parse(value, counting);
                recorded.start = start.map(|start| Sourced::new(start, origin.clone()));
            }
            "d" => recorded.focus_distance = reading(Meters::new(number), 0.05, &origin),
            "L" => recorded.lens = sourced(value.replace('_', " ")),
            _ => panic!("{word}"),
        }
    }
    recorded
}

fn time(text: &str) -> NaiveDateTime {
    NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%S").unwrap()
}

fn reading<U: Unit>(value: Option<U>, half_step: f64, origin: &Origin) -> Option<Reading<U>> {
    value.map(|value| Reading { value, raw: String::new(), half_step, origin: origin.clone() })
}

pub(crate) fn clip() -> Dump {
    let part = Part { path: PathBuf::from("A001C001.mov"), number: None, size: 1, row: None };
    let clip = Clip {
        copies: Vec::new(),
        name: "A001C001".into(),
        roll: Some("A001".into()),
        short: "C001".into(),
        parts: vec![part],
    };
    Dump { root: PathBuf::new(), clips: vec![clip], strays: Vec::new() }
}

fn resolve(recorded: &str, notes: &str, kit: &Kit, trust: Trust) -> Shoot {
    let found = notes::parse("notes.csv", notes.as_bytes());
    assert_eq!(found.findings, [], "the notes of these tests are clean: {notes}");
    let facts = vec![vec![FileFacts { recorded: media(recorded).into(), header_sha256: None }]];
    reconcile(&clip(), &facts, &[found.value], kit, trust)
}

pub(crate) fn first(shoot: &Shoot) -> &Setup {
    let Annotation { setups, .. } = &shoot.clips[0];
    setups.first()
}

pub(crate) fn said(verdict: Option<Verdict>, value: Option<f64>) -> String {
    let verdict = verdict.map_or("-", Verdict::word);
    value.map_or(verdict.to_owned(), |value| {
        format!("{verdict} {}", lensmend::number::short(value, 3))
    })
}

/// Each line: recorded | lens, focal, stop, attachment, focus as noted | focal length | f-number | T-number.
/// The rules are those of the project's optics sheet, section 9; numbers are m f, m N, m T / sqrt(tau) by hand.
const CASES: &str = "
# nothing recorded
                | p50,,f/1.4,r,        | filled 35.5     | filled 1.004   | -
                | p50,,1.4,r,          | filled 35.5     | filled 1.004   | -
                | p50,,WO,r,           | filled 35.5     | filled 1.004   | -
                | m24,,T2.8,r,         | filled 17.26    | filled 1.893   | filled 2.06
                | m24,,2.8,r,          | filled 17.26    | filled 1.893   | filled 2.06
                | m24,,f/2.8,r,        | filled 17.26    | filled 2.008   | filled 2.185
                | m24,,T2,marks,       | filled 17.503   | filled 1.358   | -
                | p50,,T2,r,           | filled 35.5     | -              | filled 1.457
                | p50,,,r,             | filled 35.5     | -              | -
                | z,35,4,r,            | filled 24.85    | filled 2.84    | -
                | z,,4,r,              | -               | filled 2.84    | -
                | z,90,4,r,            | unresolved      | filled 2.84    | -
                | ramp,70,WO,r,        | filled 49.7     | filled 2.84    | -
                | ramp,24,WO,r,        | filled 17.04    | filled 1.42    | -
                | ramp,47,WO,r,        | filled 33.37    | filled 2.008   | -
                | ramp,,WO,r,          | -               | unresolved     | unresolved
                | ramp,70,2.8,r,       | filled 49.7     | unresolved     | unresolved
                | p50,,T1.2,r,         | filled 35.5     | unresolved     | unresolved
                | z,24,4,ext,          | filled 33.6     | filled 5.6     | -
                | p35,,2,ext,          | filled 49       | filled 2.8     | -
                | p35,,2,plain,        | filled 35       | filled 2       | -
                | p35,35,2,plain,      | filled 35       | filled 2       | -
                | p35,50,2,plain,      | unresolved      | filled 2       | -
                | ,50,f/2,r,           | filled 35.5     | filled 1.42    | -
                | ,85,f/2,r,           | filled 60.35    | filled 1.42    | -
                | 35,,2,0.71,          | filled 24.85    | filled 1.42    | -
                | p50,,1,r,            | filled 35.5     | unresolved     | unresolved
                | own,,2.8,,           | filled 40       | filled 2.828   | -
                | own,,2.8,none,       | filled 40       | filled 2.828   | -
                | p50,,2,,             | unresolved      | unresolved     | -
# the bare value was recorded
p50             | p50,,1.4,r,          | scaled 35.5     | filled 1.004   | -
p50 f1.4        | p50,,1.4,r,          | scaled 35.5     | scaled 1.004   | -
p51             | p50,,1.4,r,          | scaled 35.5     | filled 1.004   | -
p50             | p50,,,ext,           | scaled 70       | -              | -
p24             | m24,,,r,             | scaled 17.26    | -              | -
p24.3~0.05      | m24,,,r,             | scaled 17.26    | -              | -
p34             | z,35,,r,             | scaled 24.14    | -              | -
p60             | z,,,r,               | scaled 42.6     | -              | -
f2.8            | p50,,2.8,r,          | filled 35.5     | scaled 2.008   | -
f3.2            | p50,,3.2,r,          | filled 35.5     | scaled 2.254   | -
p35             | p35,,,r,             | scaled 24.85    | -              | -
p50             | ,,,marks,            | scaled 36       | -              | -
f2.8            | ,,,marks,            | -               | scaled 2.036   | -
T2.8            | m24,,T2.8,r,         | filled 17.26    | filled 1.893   | scaled 2.06
# the value behind the attachment was recorded: never twice
p35.5~0.05      | p50,,1.4,r,          | kept 35.5       | filled 1.004   | -
p35.5~0.05 f1   | p50,,1.4,r,          | kept 35.5       | kept 1         | -
p20~0.05        | ramp,,WO,r,          | kept 20         | filled 1.512   | -
p36             | p50,,,r,             | kept 36         | -              | -
p35             | p50,,,r,             | kept 35         | -              | -
p17             | m24,,,r,             | kept 17         | -              | -
p70             | p50,,,ext,           | kept 70         | -              | -
p25             | z,35,,r,             | kept 25         | -              | -
p20             | z,,,r,               | kept 20         | -              | -
p36             | ,,,smart,            | kept 36         | -              | -
f2              | p50,,2.8,r,          | filled 35.5     | kept 2         | -
T2.1            | m24,,T2.8,r,         | filled 17.26    | filled 1.893   | kept 2.1
# no attachment changes it
p35             | p35,,2,plain,        | kept 35         | filled 2       | -
p35 f2          | p35,,2,plain,        | kept 35         | kept 2         | -
p40             | own,,2,,             | kept 40         | filled 2       | -
p35             | ,,,plain,            | kept 35         | -              | -
# smart by halves
p32 f2          | p50,,2,half,         | kept 32         | scaled 1.28    | -
p32 f2          | ,,,half,             | kept 32         | scaled 1.28    | -
# contradictions
p85             | p50,,1.4,r,          | unresolved      | filled 1.004   | -
p85 f5.6        | p50,,1.4,r,          | unresolved      | unresolved     | -
p43             | p50,,,r,             | unresolved      | -              | -
f4~0.5          | p35,,3.2,plain,      | filled 35       | unresolved     | -
p85             | p35,,,plain,         | unresolved      | -              | -
p15             | z,,,r,               | unresolved      | -              | -
p80             | z,,,r,               | unresolved      | -              | -
p50             | z,90,,r,             | unresolved      | -              | -
# ambiguous
p35             | ,,,r,                | unresolved      | -              | -
p50             | p50,,,weak,          | unresolved      | -              | -
p30             | z,,,r,               | unresolved      | -              | -
p50             | p50,,,,              | unresolved      | -              | -
f2              | p50,,,r,             | filled 35.5     | unresolved     | -
# noted a little wider than the ring goes, and as wide as it goes
                | m24,,T1.4,r,         | filled 17.26    | unresolved     | unresolved
                | m24,,T1.5,r,         | filled 17.26    | filled 1.004   | filled 1.093
                | p50,,f/1.2,r,        | filled 35.5     | unresolved     | unresolved
                | z,70,2.8,ext,        | filled 98       | filled 3.96    | -
                | z,70,2.7,ext,        | filled 98       | unresolved     | unresolved
# both in one clip, alike and by halves
p50 f2.8        | p50,,2.8,ext,        | scaled 70       | scaled 3.96    | -
p70 f4          | p50,,2.8,ext,        | kept 70         | kept 4         | -
p36 f2.8        | p50,,2.8,r,          | kept 36         | scaled 2.008   | -
p50 f2          | p50,,2.8,r,          | scaled 35.5     | kept 2         | -
p50 f2          | p50,,2,half,         | scaled 32       | scaled 1.28    | -
p32 f1.3        | p50,,2,half,         | kept 32         | kept 1.3       | -
p50             | p50,,,half,          | scaled 32       | -              | -
p35 f2          | p35,,2,none,         | kept 35         | kept 2         | -
T2              | m24,,T2.8,r,         | filled 17.26    | filled 1.893   | kept 2
# no stop noted: a ring opens no farther than it does
f1              | p50,,,r,             | filled 35.5     | kept 1         | -
f0.7            | p50,,,r,             | filled 35.5     | unresolved     | -
f1              | p50,,,plain,         | filled 50       | unresolved     | -
# zooms
p24             | z,24,,r,             | scaled 17.04    | -              | -
p70             | z,70,,r,             | scaled 49.7     | -              | -
p50             | z,70,,r,             | kept 50         | -              | -
p72             | z,,,r,               | scaled 51.12    | -              | -
# a focal length noted alone
p50             | ,50,,r,              | scaled 35.5     | -              | -
p35.5~0.05      | ,50,,r,              | kept 35.5       | -              | -
# no lens noted: the lenses of the kit that go on it, or the name in the media
p20             | ,,,r,                | kept 20         | -              | -
p68             | ,,,r,                | scaled 48.28    | -              | -
p28             | ,,,r,                | unresolved      | -              | -
p100            | ,,,r,                | unresolved      | -              | -
p100            | ,,,marks,            | scaled 72       | -              | -
p50 LSorrel_50  | ,,,r,                | scaled 35.5     | -              | -
p36 LSorrel_50  | ,,,r,                | kept 36         | -              | -
p50 LOther_50mm | ,,,r,                | scaled 35.5     | -              | -
p36 LOther_50mm | ,,,r,                | kept 36         | -              | -
p20 LOther_24-70mm | ,,,r,             | kept 20         | -              | -
# both fit, and the kit says what the attachment reports
p40             | z,,,marks,           | scaled 28.8     | -              | -
p40             | z,,,smart,           | kept 40         | -              | -
";

#[test]
fn the_table() {
    let kit = kit();
    let mut count = 0;
    for line in CASES.lines().filter(|line| line.contains('|')) {
        let parts: Vec<&str> = line.split('|').map(str::trim).collect();
        let [recorded, noted, focal, f, t] = parts[..] else { panic!("{line}") };
        let notes = format!("Clip,Lens,Focal,Stop,Attachment,Focus\nA001C001,{noted}\n");
        let shoot = resolve(recorded, &notes, &kit, Trust::Nobody);
        let setup = first(&shoot);
        let got = [
            said(
                setup.focal_length.verdict,
                setup.focal_length.value.as_ref().map(|q| q.value.get()),
            ),
            said(setup.f_number.verdict, setup.f_number.value.as_ref().map(|q| q.value.get())),
            said(setup.t_number.verdict, setup.t_number.value.as_ref().map(|q| q.value.get())),
        ];
        assert_eq!(got, [focal, f, t], "{line}\n{:#?}", shoot.findings);
        let unresolved = got.iter().any(|field| field == "unresolved");
        let warned = shoot.findings.iter().any(|finding| finding.level() == Level::Warning);
        assert!(warned || !unresolved, "an unresolved field is listed for a person: {line}");
        count += 1;
    }
    assert!(count >= 100, "{count} cases");
}

#[test]
fn the_ambiguous_35_names_both_lenses() {
    let shoot = resolve("p35", "Clip,Attachment,Lens\nC001,r,\n", &kit(), Trust::Nobody);
    let finding = shoot.findings.iter().find(|f| f.code == Code::FieldAmbiguous).unwrap();
    assert!(finding.message.contains("Sorrel 35 bare"), "{}", finding.message);
    assert!(finding.message.contains("Sorrel 50 behind"), "{}", finding.message);
}

#[test]
fn notes_are_trusted_only_on_request() {
    let notes = "Clip,Lens,Stop,Attachment,Focus\nC001,p50,1.4,r,2 m\n";
    let shoot = resolve("p85 f5.6 d8 LOther_85", notes, &kit(), Trust::Nobody);
    let setup = first(&shoot);
    assert_eq!(setup.focal_length.verdict, Some(Verdict::Unresolved));
    assert_eq!(setup.focus_distance.verdict, Some(Verdict::Unresolved));
    assert_eq!(setup.lens.verdict, Some(Verdict::Unresolved));
    let shoot = resolve("p85 f5.6 d8 LOther_85", notes, &kit(), Trust::Notes);
    let setup = first(&shoot);
    assert_eq!(
        said(setup.focal_length.verdict, setup.focal_length.value.as_ref().map(|q| q.value.get())),
        "replaced 35.5"
    );
    assert_eq!(setup.f_number.verdict, Some(Verdict::Replaced));
    assert_eq!(setup.focus_distance.verdict, Some(Verdict::Replaced));
    assert_eq!(setup.lens.verdict, Some(Verdict::Replaced));
    assert_eq!(shoot.findings.iter().filter(|f| f.code == Code::FieldReplaced).count(), 4);
}

#[test]
fn what_trust_cannot_settle_stays_unresolved() {
    let shoot = resolve("p50", "Clip,Lens,Attachment\nC001,p50,\n", &kit(), Trust::Notes);
    assert_eq!(first(&shoot).focal_length.verdict, Some(Verdict::Unresolved));
    assert!(first(&shoot).focal_length.value.is_none());
}

#[test]
fn closer_rows_win_and_equals_that_differ_leave_the_field_out() {
    let kit = kit();
    let notes =
        "Roll,Clip,Lens,Stop,Attachment\nA001,,p35,2,r\nA001,C001-C005,p50,4,\nA001,C001,,2.8,\n";
    let shoot = resolve("", notes, &kit, Trust::Nobody);
    let setup = first(&shoot);
    assert_eq!(setup.lens.value.as_ref().unwrap().value, "Sorrel 50");
    assert!((setup.lens_f.as_ref().unwrap().value.get() - 8f64.sqrt()).abs() < 1e-9);
    assert_eq!(setup.focal_length.verdict, Some(Verdict::Filled));
    let shoot = resolve("", &format!("{notes}A001,C001,,4,\n"), &kit, Trust::Nobody);
    let setup = first(&shoot);
    assert_eq!(setup.f_number.verdict, Some(Verdict::Unresolved));
    assert!(setup.lens_f.is_none());
    assert!(shoot.findings.iter().any(|f| f.code == Code::NotesDisagree));
}

/// What was typed and not understood blocks the field: the number of a broader row would be a wrong one.
#[test]
fn an_unreadable_cell_is_not_filled_from_a_broader_row() {
    let text = "Roll,Clip,TC,Lens,mm,Stop,Attachment\nA001,,,z,35,2.8,r\nA001,C001,,,24-35,,\n";
    let found = notes::parse("notes.csv", text.as_bytes());
    assert!(found.findings.iter().any(|finding| finding.code == Code::NotesCell));
    let facts = vec![vec![FileFacts { recorded: media("").into(), header_sha256: None }]];
    let shoot = reconcile(&clip(), &facts, &[found.value], &kit(), Trust::Nobody);
    assert_eq!(first(&shoot).focal_length.verdict, Some(Verdict::Unresolved));
    assert_eq!(first(&shoot).f_number.verdict, Some(Verdict::Filled));
    // A row whose timecode cannot be read holds for no piece, not for the whole clip.
    let late = notes::parse("notes.csv", b"Clip,TC,Lens\nC001,half past,p50\n");
    assert!(late.value.rows.is_empty());
    assert!(late.findings.iter().any(|finding| finding.code == Code::NotesRow));
}

/// Parts 1 and 3 of a clip: a row inside the missing part is reported, one inside part 3 lands there.
#[test]
fn timecodes_are_looked_up_file_by_file() {
    let mut dump = clip();
    let part = |number: u32| {
        let path = PathBuf::from(format!("A001C001_00{number}.mov"));
        Part { path, number: Some(number), size: 1, row: None }
    };
    dump.clips[0].parts = vec![part(1), part(3)];
    let mut third = media("");
    let counting = Counting::new(25, false).unwrap();
    if let Some(start) = &mut third.start {
        start.value = Timecode::parse("10:00:08:00", counting).unwrap();
    }
    let facts = [media(""), third]
        .map(|recorded| FileFacts { recorded: recorded.into(), header_sha256: None });
    let text =
        "Clip,TC,Lens,mm,Attachment\nC001,,z,35,r\nC001,10:00:07:00,,50,\nC001,10:00:09:00,,70,\n";
    let found = notes::parse("notes.csv", text.as_bytes());
    let shoot = reconcile(&dump, &[facts.to_vec()], &[found.value], &kit(), Trust::Nobody);
    let starts: Vec<u64> = shoot.clips[0].setups.pieces().map(|piece| piece.start).collect();
    assert_eq!(starts, [0, 125], "100 frames of part 1, then a second of part 3");
    assert!(shoot.findings.iter().any(|finding| finding.code == Code::NotesNoMatch));
}

/// Two cards in one folder tree, each with a first clip of the same name: nobody can say which the note means.
#[test]
fn different_clips_of_one_name_and_roll_are_left_alone() {
    let of = |folder: &str, size| {
        let path = PathBuf::from(format!("day/{folder}/C0007.mp4"));
        let parts = vec![Part { path, number: None, size, row: None }];
        Clip {
            name: "C0007".into(),
            roll: Some("day".into()),
            short: "C0007".into(),
            parts,
            copies: Vec::new(),
        }
    };
    let kit = kit();
    for (size, known) in [(1, true), (2, false)] {
        let clips = vec![of("one", 1), of("two", size)];
        let dump = Dump { root: PathBuf::new(), clips, strays: Vec::new() };
        let facts = vec![vec![FileFacts { recorded: media("").into(), header_sha256: None }]; 2];
        let found = notes::parse("notes.csv", b"Clip,Lens,Attachment\nC0007,p50,r\n");
        let shoot = reconcile(&dump, &facts, &[found.value], &kit, Trust::Nobody);
        let filled = |clip: &Annotation| clip.setups.first().focal_length.value.is_some();
        assert!(shoot.clips.iter().all(|clip| filled(clip) == known), "{size}");
        assert_eq!(shoot.findings.iter().any(|f| f.code == Code::NotesNoMatch), !known);
    }
}

/// `C0007.MP4` stands on every card of such a camera; only the roll tells them apart.
#[test]
fn the_roll_tells_clips_of_one_name_apart() {
    let of = |roll: &str| {
        let path = PathBuf::from(format!("{roll}/C0007.mp4"));
        let parts = vec![Part { path, number: None, size: 1, row: None }];
        Clip {
            name: "C0007".into(),
            roll: Some(roll.into()),
            short: "C0007".into(),
            parts,
            copies: Vec::new(),
        }
    };
    let dump =
        Dump { root: PathBuf::new(), clips: vec![of("A001"), of("A002")], strays: Vec::new() };
    let facts = vec![vec![FileFacts { recorded: media("").into(), header_sha256: None }]; 2];
    let kit = kit();
    let lenses = |notes: &str| {
        let found = notes::parse("notes.csv", notes.as_bytes());
        let shoot = reconcile(&dump, &facts, &[found.value], &kit, Trust::Nobody);
        let lens = |clip: &Annotation| {
            clip.setups.first().lens.value.as_ref().map_or("-".to_owned(), |l| l.value.clone())
        };
        let no_match = shoot.findings.iter().any(|f| f.code == Code::NotesNoMatch);
        (shoot.clips.iter().map(lens).collect::<Vec<_>>().join(", "), no_match)
    };
    let both = "Roll,Clip,Lens,Attachment\nA001,C0007,p50,r\nA002,C7,p35,r\n";
    assert_eq!(lenses(both), ("Sorrel 50, Sorrel 35".to_owned(), false));
    let file = "Roll,Clip,Lens\nA002,C0007.MP4,p35\n";
    assert_eq!(lenses(file), ("-, Sorrel 35".to_owned(), false));
    let neither = "Clip,Lens\nC0007,p50\n";
    assert_eq!(lenses(neither), ("-, -".to_owned(), true));
}

#[test]
fn a_timecode_row_starts_a_piece_and_changes_only_what_it_names() {
    let notes = "Clip,TC,Lens,Focal,Stop,Attachment\nC001,,z,35,4,r\nC001,10:00:02:00,,50,,\n";
    let shoot = resolve("", notes, &kit(), Trust::Nobody);
    let pieces: Vec<_> = shoot.clips[0].setups.pieces().collect();
    assert_eq!(pieces.iter().map(|p| p.start).collect::<Vec<_>>(), [0, 50]);
    let focal = |at: usize| pieces[at].value.focal_length.value.as_ref().unwrap().value.get();
    assert!((focal(0) - 24.85).abs() < 1e-9);
    assert!((focal(1) - 35.5).abs() < 1e-9);
    assert_eq!(pieces[0].value.f_number, pieces[1].value.f_number);
    let late = resolve("", "Clip,TC,Lens\nC001,11:00:00:00,p50\n", &kit(), Trust::Nobody);
    assert!(late.findings.iter().any(|f| f.code == Code::NotesNoMatch));
    assert_eq!(late.clips[0].setups.pieces().count(), 1);
}

/// Pupil to image behind the thin 0.71 reducer: 33.519946 mm by the paraxial trace of `optiland` 0.6.3;
/// horizontal angle of 35.5 mm on 26.2 mm: 40.510 degrees, arithmetic.
/// Focus distances agree within the rounding and twice 5 % of the note (common practice, no source).
#[test]
fn a_recorded_focus_is_held_against_the_note() {
    let kit = kit();
    for (recorded, verdict) in [
        ("d2.4", Verdict::Kept),
        ("d2.67", Verdict::Kept),
        ("d2.15", Verdict::Kept),
        ("d2.75", Verdict::Unresolved),
    ] {
        let shoot = resolve(recorded, "Clip,Lens,Focus\nC001,own,2.4 m\n", &kit, Trust::Nobody);
        assert_eq!(first(&shoot).focus_distance.verdict, Some(verdict), "{recorded}");
    }
}

#[test]
fn derived_values_follow() {
    let notes = "Clip,Lens,Stop,Attachment,Focus\nC001,p50,1.4,r,2.4 m\n";
    let shoot = resolve("", notes, &kit(), Trust::Nobody);
    let derived = &first(&shoot).derived;
    assert!((derived.pupil_offset.as_ref().unwrap().value.get() - 33.519946).abs() < 1e-6);
    assert!((derived.angle_horizontal.as_ref().unwrap().value.get() - 40.510).abs() < 5e-4);
    assert!((derived.crop_width.as_ref().unwrap().value.get() - 1.374046).abs() < 1e-6);
    assert!((derived.light.as_ref().unwrap().value.get() - 0.9142).abs() < 1e-4);
    let near = derived.near.as_ref().unwrap().value.get();
    let far = derived.far.as_ref().unwrap().value.get();
    assert!(near < 2.4 && far > 2.36 && far.is_finite());
}

/// Quadrature of 3.7 % and 1.2 %: JCGM 100:2008, 5.1.2; the percentages are common practice, no source.
#[test]
fn uncertainty_and_basis_travel_along() {
    let kit = kit();
    let shoot = resolve("", "Clip,Lens,Attachment\nC001,p50,r\n", &kit, Trust::Nobody);
    let focal = first(&shoot).focal_length.value.clone().unwrap();
    let want = 35.5 * (0.037f64 * 0.037 + 0.012 * 0.012).sqrt();
    assert!((focal.uncertainty.unwrap() - want).abs() < 1e-12);
    assert_eq!(focal.basis, Basis::Nominal);
    let shoot = resolve("", "Clip,Lens,Attachment\nC001,m24,plain\n", &kit, Trust::Nobody);
    let focal = first(&shoot).focal_length.value.clone().unwrap();
    assert!((focal.uncertainty.unwrap() - 0.08).abs() < 1e-12);
}

/// A camera that wrote whole millimetres was right, and is kept; the matchmove gets the measured lens.
#[test]
fn the_pinhole_comes_from_what_is_known_best() {
    let kit = kit();
    let pinhole = |shoot: &Shoot| first(shoot).derived.pinhole.clone().unwrap();
    let shoot = resolve("p17", "Clip,Lens,Attachment\nC001,m24,r\n", &kit, Trust::Nobody);
    assert_eq!(first(&shoot).focal_length.verdict, Some(Verdict::Kept));
    assert!((first(&shoot).focal_length.value.as_ref().unwrap().value.get() - 17.0).abs() < 1e-9);
    assert!((pinhole(&shoot).value.get() - 0.71 * 24.31).abs() < 1e-9);
    let want = 0.71 * 24.31 * ((0.08f64 / 24.31).powi(2) + 0.012f64.powi(2)).sqrt();
    assert!((pinhole(&shoot).uncertainty.unwrap() - want).abs() < 1e-9);
    let shoot = resolve("p36", "Clip,Lens,Attachment\nC001,p50,r\n", &kit, Trust::Nobody);
    assert!(
        (pinhole(&shoot).value.get() - 36.0).abs() < 1e-9,
        "a mark is no better than the record"
    );
}

#[test]
fn dark_corners_and_mounts_that_do_not_meet_are_said() {
    let kit = kit();
    let has = |shoot: &Shoot, code| shoot.findings.iter().any(|finding| finding.code == code);
    let shoot = resolve("", "Clip,Lens,Attachment\nC001,m24,r\n", &kit, Trust::Nobody);
    assert!(has(&shoot, Code::CoverageCorners), "33 mm x 0.71 on a 30 mm diagonal");
    let shoot = resolve("", "Clip,Lens,Attachment\nC001,p50,r\n", &kit, Trust::Nobody);
    assert!(!has(&shoot, Code::CoverageCorners));
    let shoot = resolve("", "Clip,Lens,Attachment\nC001,own,r\n", &kit, Trust::Nobody);
    assert!(has(&shoot, Code::AttachmentFit));
    let shoot = resolve("", "Clip,Lens,Attachment\nC001,p50,none\n", &kit, Trust::Nobody);
    assert!(has(&shoot, Code::AttachmentFit));
}

#[test]
fn a_thousand_rows_for_one_clip_end_soon_and_are_said() {
    let mut notes = "Clip,TC,Stop\n".to_owned();
    for at in 0..5000 {
        notes.extend([format!("C001,10:00:0{}:{:02},{}\n", at % 4, at % 25, [2, 4, 8][at % 3])]);
    }
    let shoot = resolve("", &notes, &kit(), Trust::Nobody);
    assert!(shoot.clips[0].setups.pieces().count() <= 201);
    let said = shoot.findings.iter().filter(|finding| finding.code == Code::NotesRow);
    assert_eq!(said.count(), 1);
}

#[test]
fn silence_is_a_finding_and_leaves_every_field_blank() {
    let shoot = resolve("p50 f2", "Clip,Lens\nA001C099,p50\n", &kit(), Trust::Nobody);
    let setup = first(&shoot);
    assert_eq!((setup.focal_length.verdict, setup.focal_length.value.is_none()), (None, true));
    assert!(setup.focal_length.recorded.is_some());
    assert!(shoot.findings.iter().any(|f| f.code == Code::NotesNone));
    assert!(shoot.findings.iter().any(|f| f.code == Code::NotesNoMatch));
}

/// A camera that closes a file at 4 GB goes on with the ring somewhere else: the later file's reading holds from its first frame on.
#[test]
fn later_files_of_a_clip_cut_it_where_their_lens_data_differs() {
    let mut dump = clip();
    let part = |n: u32| Part {
        path: PathBuf::from(format!("A001C001_{n:03}.mov")),
        number: Some(n),
        size: 1,
        row: None,
    };
    dump.clips[0].parts = vec![part(1), part(2), part(3)];
    let text = "Clip,Lens,Focal,Stop,Attachment\nA001C001,z,,,r\n";
    let rows = || vec![notes::parse("notes.csv", text.as_bytes()).value];
    let shot = |recorded: [&str; 3]| {
        let facts =
            recorded.map(|text| FileFacts { recorded: media(text).into(), header_sha256: None });
        reconcile(&dump, &[facts.to_vec()], &rows(), &kit(), Trust::Nobody)
    };
    let pieces = |shoot: &Shoot| {
        let pieces = shoot.clips[0].setups.pieces();
        let told = pieces.map(|piece| {
            let focal = piece.value.focal_length.value.as_ref().map(|v| v.value.get());
            format!("{} {}", piece.start, lensmend::number::short(focal.unwrap_or(0.0), 3))
        });
        told.collect::<Vec<_>>().join(", ")
    };
    assert_eq!(pieces(&shot(["p65", "p65", "p65"])), "0 46.15");
    assert_eq!(pieces(&shot(["p65", "p60", "p60"])), "0 46.15, 100 42.6");
    assert_eq!(pieces(&shot(["p65", "", "p60"])), "0 46.15, 200 42.6");
}

/// A zoom through the shot, frame by frame in the media: each step is a piece, and each is settled by itself.
#[test]
fn lens_data_per_frame_cuts_the_clip() {
    let zoom = |number: &str| media(number).focal_length;
    let piece = |number: &str| LensData { focal_length: zoom(number), ..LensData::default() };
    let recorded = Recorded {
        per_frame: vec![(0, piece("p65")), (40, piece("p60")), (41, piece("p55"))],
        ..media("p65")
    };
    let notes = notes::parse("notes.csv", b"Clip,Lens,Attachment\nA001C001,z,r\n").value;
    let facts = vec![vec![FileFacts { recorded: recorded.into(), header_sha256: None }]];
    let shoot = reconcile(&clip(), &facts, &[notes], &kit(), Trust::Nobody);
    let told = shoot.clips[0].setups.pieces().map(|piece| {
        let focal = piece.value.focal_length.value.as_ref().map(|v| v.value.get());
        format!("{} {}", piece.start, lensmend::number::short(focal.unwrap_or(0.0), 3))
    });
    assert_eq!(told.collect::<Vec<_>>(), ["0 46.15", "40 42.6", "41 39.05"]);
}

/// RDD 18, tag 8006: percent, so that a step is a hundredth. It is compared, and scales nothing.
#[test]
fn a_recorded_extender_is_compared_and_never_applied() {
    let with = |percent: Option<f64>, attachment: &str| {
        let extender = percent.map(|percent| Reading {
            value: Factor::new(percent / 100.0).unwrap(),
            raw: String::new(),
            half_step: 0.005,
            origin: Origin::Computed("test"),
        });
        let recorded = Recorded { extender, ..media("p35") };
        let table = format!("Clip,Lens,Attachment\nA001C001,p35,{attachment}\n");
        let notes = notes::parse("notes.csv", table.as_bytes()).value;
        let facts = vec![vec![FileFacts { recorded: recorded.into(), header_sha256: None }]];
        let shoot = reconcile(&clip(), &facts, &[notes], &kit(), Trust::Nobody);
        let told = shoot.findings.iter().find(|f| f.code == Code::AttachmentExtender);
        let told = told.map(|f| f.message.clone()).unwrap_or_default();
        let setup = shoot.clips[0].setups.pieces().next().unwrap().value.clone();
        (setup.focal_length.value.map(|f| f.value.get()), told)
    };
    let (plain, none) = with(None, "r");
    assert!(plain.is_some() && none.is_empty());
    // The reducer magnifies 0.71.
    for (percent, attachment, wanted) in [
        (71.0, "r", ""),
        (100.0, "r", ""),
        (140.0, "r", "1.4x, r magnifies 0.71x"),
        (140.0, "", "1.4x, and what stood between lens and camera is not known"),
        (140.0, "none", "1.4x, but nothing is said to have stood"),
        (100.0, "none", ""),
    ] {
        let (focal, told) = with(Some(percent), attachment);
        assert_eq!(focal, with(None, attachment).0, "{percent} {attachment}");
        assert_eq!(told.is_empty(), wanted.is_empty(), "{percent} {attachment}: {told}");
        assert!(told.contains(wanted), "{percent} {attachment}: {told}");
    }
}
