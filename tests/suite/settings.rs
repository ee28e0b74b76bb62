//! How the camera was set: what every container says of sensitivity, shutter and white balance, what notes and kit say
//! beside it, and what becomes of both.

use std::sync::Arc;

use lensmend::annotation::{Settled, Shoot, Shot};
use lensmend::finding::Code;
use lensmend::kit;
use lensmend::notes;
use lensmend::number::short;
use lensmend::ratio::Ratio;
use lensmend::reconcile::{Trust, reconcile};
use lensmend::recorded::{CameraSettings, FileFacts, Reading, Recorded, read};
use lensmend::sourced::{Origin, Quantity, Sourced};
use lensmend::units::{ExposureIndex, Kelvin, Seconds, ShutterAngle, Unit};

use crate::boxes::{Clip, keys, packet};
use crate::frames::{LITTLE, Put, Values, attribute, attributes, exr, tiff};
use crate::klv::{Mxf, acquisition, item};
use crate::reconcile::{clip, first, kit as small_kit, media};

/// What a file says of them, in one line.
fn said(bytes: &[u8]) -> String {
    fn of<U: Unit>(name: &str, reading: Option<&Reading<U>>) -> Option<String> {
        let reading = reading?;
        let Origin::Media { path, .. } = &reading.origin else { panic!("{reading:?}") };
        assert!(!path.is_empty());
        Some(format!("{name} {}", short(reading.value.number(), 5)))
    }
    let found = read(&bytes, "clip");
    let settings = found.value.settings.map(|settings| *settings).unwrap_or_default();
    let codes = found.findings.iter().map(|finding| finding.code.word().to_owned());
    let facts = [
        of("iso", settings.iso.as_ref()),
        of("ei", settings.exposure_index.as_ref()),
        of("angle", settings.shutter_angle.as_ref()),
        of("time", settings.exposure_time.as_ref()),
        of("balance", settings.white_balance.as_ref()),
        settings.white_balance_mode.map(|mode| mode.value),
        settings.capture_rate.map(|rate| format!("rate {}", rate.value)),
    ];
    facts.into_iter().flatten().chain(codes).collect::<Vec<_>>().join(", ")
}

/// CIPA DC-008, 4.6.5: `ExposureTime`, `ShutterSpeedValue`, `PhotographicSensitivity`, `WhiteBalance`.
#[test]
fn exif_says_time_sensitivity_and_mode() {
    let one = |field: Put| said(&tiff(LITTLE, &[vec![field]]));
    assert_eq!(one(Put(0x829A, Values::Ratios(vec![(1, 50)]))), "time 0.02");
    assert_eq!(one(Put(0x829A, Values::Ratios(vec![(0, 50)]))), "");
    assert_eq!(one(Put(0x9201, Values::Ratios(vec![(5, 1)]))), "time 0.03125");
    assert_eq!(one(Put(0x8827, Values::Shorts(vec![800]))), "iso 800");
    assert_eq!(one(Put(0x8827, Values::Shorts(vec![0]))), "");
    assert_eq!(one(Put(0xA403, Values::Shorts(vec![0]))), "automatic");
    assert_eq!(one(Put(0xA403, Values::Shorts(vec![1]))), "manual");
    assert_eq!(one(Put(0xA403, Values::Shorts(vec![9]))), "");
    // What does not fit 16 bits stands in the field of its kind.
    let large = vec![
        Put(0x8827, Values::Shorts(vec![65_535])),
        Put(0x8830, Values::Shorts(vec![3])),
        Put(0x8833, Values::Longs(vec![102_400])),
    ];
    assert_eq!(said(&tiff(LITTLE, &[large])), "iso 102400");
    assert_eq!(one(Put(0x8827, Values::Shorts(vec![65_535]))), "");
}

/// CIPA DC-010; before it `ISOSpeedRatings`, an array (XMP Specification Part 2).
#[test]
fn an_xmp_packet_says_the_same() {
    let of = |body: &str| said(&crate::boxes::with_packet(&packet(body)));
    let body = "<rdf:Description ex:PhotographicSensitivity='640' e:ExposureTime='1/48' e:WhiteBalance='1'/>";
    assert_eq!(of(body), "iso 640, time 0.02083, manual");
    let list = "<rdf:Description><e:ISOSpeedRatings><rdf:Seq><rdf:li>400</rdf:li></rdf:Seq></e:ISOSpeedRatings></rdf:Description>";
    assert_eq!(of(list), "iso 400");
    let odd = "<rdf:Description ex:PhotographicSensitivity='65535' e:ExposureTime='0/1' e:WhiteBalance='x'/>";
    assert_eq!(of(odd), "");
}

/// SMPTE RDD 18, camera unit: 8106, 8108 (sixtieths of a degree), 8109, 810B, 810D, 810E, 8115.
pub(crate) fn camera_unit(mode: u8) -> Vec<Vec<u8>> {
    let ratio = |num: i32, den: i32| [num.to_be_bytes(), den.to_be_bytes()].concat();
    vec![
        item(0x8106, &ratio(48, 1)),
        item(0x8108, &10_368_u32.to_be_bytes()),
        item(0x8109, &ratio(1, 100)),
        item(0x810B, &800_u16.to_be_bytes()),
        item(0x810D, &[mode]),
        item(0x810E, &5600_u16.to_be_bytes()),
        item(0x8115, &400_u16.to_be_bytes()),
    ]
}

#[test]
fn acquisition_metadata_says_all() {
    let beside = |items: &[Vec<u8>]| {
        let beside = acquisition(2, items);
        said(&Mxf { beside, ..Mxf::default() }.bytes())
    };
    let all = "iso 800, ei 400, angle 172.8, time 0.01, balance 5600, preset, rate 48";
    assert_eq!(beside(&camera_unit(0)), all);
    // Not known, and a number that cannot be.
    let unknown = [
        item(0x8108, &u32::MAX.to_be_bytes()),
        item(0x8109, &[0; 8]),
        item(0x810B, &[0, 0]),
        item(0x810E, &[0xFF, 0xFF]),
        item(0x8115, &[1]),
        item(0x810D, &[200]),
        item(0x8106, &[0xFF; 8]),
    ];
    assert_eq!(beside(&unknown), "");
    let twice = [item(0x810B, &800_u16.to_be_bytes()), item(0x810B, &400_u16.to_be_bytes())];
    assert_eq!(beside(&twice), "media.contradiction");
}

#[test]
fn keys_of_a_movie_say_them() {
    let of = |pairs: &[(&str, &str)]| {
        said(&Clip { moov: keys(false, pairs), ..Clip::default() }.bytes())
    };
    let key = |end: &str| format!("org.smpte.rdd18.camera.{end}");
    let (iso, angle) = (key("isosensitivity"), key("shutterspeed_angle"));
    let (time, balance) = (key("shutterspeed_time"), key("whitebalance"));
    let all =
        [(&iso[..], "800"), (&angle[..], "180.0"), (&time[..], "1/48"), (&balance[..], "5600K")];
    assert_eq!(of(&all), "iso 800, angle 180, time 0.02083, balance 5600");
    assert_eq!(of(&[(&iso[..], "high"), (&angle[..], "0"), (&balance[..], "warm")]), "");
    // A carrier that contradicts another takes both out.
    assert_eq!(of(&[(&iso[..], "800"), (&iso[..], "400")]), "media.contradiction");
}

/// Standard attributes of OpenEXR 3.2: `isoSpeed`, `expTime` (s), `shutterAngle` (degrees), `cameraCCTSetting` (K),
/// `captureRate` (a rational).
#[test]
fn attributes_of_a_picture_say_them() {
    let float = |name: &str, value: f32| attribute(name, "float", &value.to_le_bytes());
    let mut header = attributes();
    header.retain(|attribute| {
        !attribute.starts_with(b"isoSpeed") && !attribute.starts_with(b"expTime")
    });
    let rate = [48_i32.to_le_bytes(), 1_i32.to_le_bytes()].concat();
    header.extend([
        float("isoSpeed", 1280.0),
        float("expTime", 0.02),
        float("shutterAngle", 172.8),
        float("cameraCCTSetting", 4300.0),
        attribute("captureRate", "rational", &rate),
    ]);
    let said = said(&exr(&[header]));
    assert!(said.starts_with("iso 1280, angle 172.8, time 0.02, balance 4300, rate 48"), "{said}");
}

/// Media with settings: `iso800 ei400 angle180 time50 wb5600 auto rate48`, a time as one over a number of seconds.
fn with(text: &str) -> Recorded {
    fn reading<U: Unit>(value: Option<U>, origin: &Origin) -> Option<Reading<U>> {
        let origin = origin.clone();
        Some(Reading { value: value?, raw: String::new(), half_step: 0.0, origin })
    }
    let origin = Origin::Media { file: Arc::from("A001C001.mov"), path: Arc::from("x"), offset: 0 };
    let mut settings = CameraSettings::default();
    for word in text.split_whitespace() {
        let at = word.find(|c: char| c.is_ascii_digit()).unwrap_or(word.len());
        let number: f64 = word[at..].parse().unwrap_or_default();
        match &word[..at] {
            "iso" => settings.iso = reading(ExposureIndex::new(number), &origin),
            "ei" => settings.exposure_index = reading(ExposureIndex::new(number), &origin),
            "angle" => settings.shutter_angle = reading(ShutterAngle::new(number), &origin),
            "time" => settings.exposure_time = reading(Seconds::new(1.0 / number), &origin),
            "wb" => settings.white_balance = reading(Kelvin::new(number), &origin),
            "auto" => {
                settings.white_balance_mode =
                    Some(Sourced::new("automatic".into(), origin.clone()));
            }
            "preset" => {
                settings.white_balance_mode = Some(Sourced::new("preset".into(), origin.clone()));
            }
            "rate" => {
                let rate: u64 = word[at..].parse().unwrap();
                let rate = Ratio::new(rate, 1).unwrap();
                settings.capture_rate = Some(Sourced::new(rate, origin.clone()));
            }
            _ => panic!("{word}"),
        }
    }
    Recorded { settings: settings.boxed(), ..media("p50") }
}

fn resolve(recorded: &str, headings: &str, cells: &str, trust: Trust) -> Shoot {
    let table = format!("Clip,Lens,Attachment,{headings}\nA001C001,p50,none,{cells}\n");
    let notes = notes::parse("notes.csv", table.as_bytes());
    assert_eq!(notes.findings, [], "{table}");
    let facts = vec![vec![FileFacts { recorded: with(recorded).into(), header_sha256: None }]];
    reconcile(&clip(), &facts, &[notes.value], &small_kit(), trust)
}

/// What stands, in one line: the verdict of each field that has one, and its value.
fn stands(shoot: &Shoot) -> String {
    fn of<U: Unit>(name: &str, settled: &Settled<Quantity<U>>, digits: usize) -> Option<String> {
        let verdict = settled.verdict?.word();
        let value = settled.value.as_ref().map(|value| short(value.value.number(), digits));
        Some(format!("{name} {verdict} {}", value.unwrap_or_else(|| "-".to_owned())))
    }
    let Some(shot) = first(shoot).shot.as_deref() else { return String::new() };
    let mode = &shot.white_balance_mode;
    let mode = mode.verdict.map(|verdict| {
        let value = mode.value.as_ref().map_or("-", |mode| &mode.value);
        format!("mode {} {value}", verdict.word())
    });
    let all = [
        of("iso", &shot.iso, 0),
        of("ei", &shot.exposure_index, 0),
        of("angle", &shot.shutter_angle, 2),
        of("time", &shot.exposure_time, 4),
        of("wb", &shot.white_balance, 0),
        mode,
    ];
    all.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// Media | heading, cell | what stands | finding. Times are angle / 360 / rate by hand: 180° at 25 fps is a fiftieth.
const CASES: &[(&str, &str, &str, &str, Option<Code>)] = &[
    ("", "ISO", "800", "iso filled 800", None),
    ("", "ISO", "EI 800", "ei filled 800", None),
    ("", "ISO/EI", "800", "ei filled 800", None),
    ("iso800", "Lens", "", "iso kept 800", None),
    ("iso800", "ISO", "800", "iso kept 800", None),
    ("iso800", "EI", "800", "iso kept 800", None),
    ("iso800", "ISO", "400", "iso unresolved -", Some(Code::FieldContradiction)),
    ("iso800", "EI", "400", "iso unresolved -", Some(Code::FieldContradiction)),
    ("iso800 ei400", "EI", "400", "iso kept 800, ei kept 400", None),
    ("iso800 ei400", "ISO", "800", "iso kept 800, ei kept 400", None),
    ("iso800 ei400", "ISO/EI", "800", "iso kept 800, ei kept 400", None),
    ("iso800 ei400", "ISO/EI", "400", "iso kept 800, ei kept 400", None),
    (
        "iso800 ei400",
        "ISO/EI",
        "200",
        "iso kept 800, ei unresolved -",
        Some(Code::FieldContradiction),
    ),
    ("angle172.8", "Shutter", "172.8", "angle kept 172.8", None),
    ("angle172.8", "Shutter", "173", "angle kept 172.8", None),
    ("angle172.8", "Shutter", "180", "angle unresolved -", Some(Code::FieldContradiction)),
    ("time50", "Shutter", "1/50", "time kept 0.02", None),
    ("time50", "Shutter", "1/48", "time unresolved -", Some(Code::FieldContradiction)),
    ("", "Shutter", "1/50", "time filled 0.02", None),
    // The other of the two: the clip has 25 frames a second.
    ("angle180", "Shutter", "1/50", "angle kept 180, time filled 0.02", None),
    (
        "angle180",
        "Shutter",
        "1/100",
        "angle unresolved -, time unresolved -",
        Some(Code::FieldContradiction),
    ),
    ("time50", "Shutter", "180°", "angle filled 180, time kept 0.02", None),
    // The sensor ran at fifty.
    ("angle180 rate50", "Shutter", "1/100", "angle kept 180, time filled 0.01", None),
    (
        "angle180 rate50",
        "Shutter",
        "1/50",
        "angle unresolved -, time unresolved -",
        Some(Code::FieldContradiction),
    ),
    ("wb5600", "WB", "5600K", "wb kept 5600", None),
    ("wb5586", "WB", "5600", "wb kept 5586", None),
    ("wb5600", "WB", "3200", "wb unresolved -", Some(Code::FieldContradiction)),
    ("wb5600", "WB", "daylight", "wb kept 5600, mode filled daylight", None),
    ("", "WB", "5600K +3", "wb filled 5600, mode filled +3", None),
    ("auto", "WB", "awb", "mode kept automatic", None),
    ("preset", "WB", "tungsten", "mode kept preset", None),
    ("auto", "WB", "tungsten", "mode unresolved -", Some(Code::FieldContradiction)),
];

#[test]
fn what_is_noted_stands_where_the_media_says_nothing() {
    for (recorded, heading, cell, wanted, code) in CASES {
        // A column that says nothing of the settings stands twice, so it is left out.
        let heading = if *heading == "Lens" { "Remarks" } else { heading };
        let shoot = resolve(recorded, heading, cell, Trust::Nobody);
        assert_eq!(stands(&shoot), *wanted, "{recorded} | {heading} {cell}");
        let told: Vec<Code> = shoot.findings.iter().map(|finding| finding.code).collect();
        let told: Vec<Code> =
            told.into_iter().filter(|told| *told == Code::FieldContradiction).collect();
        assert_eq!(told, code.iter().copied().collect::<Vec<_>>(), "{recorded} | {heading} {cell}");
    }
}

#[test]
fn whoever_is_trusted_decides() {
    for (recorded, heading, cell, notes, media) in [
        ("iso800", "ISO", "400", "iso replaced 400", "iso kept 800"),
        ("wb5600", "WB", "3200", "wb replaced 3200", "wb kept 5600"),
        ("time50", "Shutter", "1/48", "time replaced 0.0208", "time kept 0.02"),
        ("angle180", "Shutter", "1/100", "angle unresolved -, time filled 0.01", "angle kept 180"),
        ("time50", "Shutter", "90°", "angle filled 90, time unresolved -", "time kept 0.02"),
    ] {
        let of = |trust| stands(&resolve(recorded, heading, cell, trust));
        assert_eq!(of(Trust::Notes), notes, "{recorded} {cell}");
        assert_eq!(of(Trust::Media), media, "{recorded} {cell}");
    }
}

/// Rows that differ among themselves are told, and neither stands; what the media says is not touched by them.
#[test]
fn rows_that_disagree_are_never_decided_by_their_order() {
    let told = |recorded: &str| {
        let table = "Clip,Lens,Attachment,ISO,Operator\nA001C001,p50,none,800,Ann\nA001C001,p50,none,400,Bea\n";
        let notes = notes::parse("notes.csv", table.as_bytes()).value;
        let facts = vec![vec![FileFacts { recorded: with(recorded).into(), header_sha256: None }]];
        let shoot = reconcile(&clip(), &facts, &[notes], &small_kit(), Trust::Nobody);
        let count = shoot.findings.iter().filter(|f| f.code == Code::NotesDisagree).count();
        let operator = first(&shoot).shot.as_ref().and_then(|shot| shot.operator.clone());
        (stands(&shoot), count, operator)
    };
    assert_eq!(told(""), ("ei unresolved -".to_owned(), 2, None));
    assert_eq!(told("iso800"), ("iso kept 800".to_owned(), 2, None));
}

#[test]
fn crew_unit_and_day_come_from_notes_then_camera_then_production() {
    let text = "[production]\noperator = 'Ann'\nassistants = ['Bea', 'Cid']\nunit = 'Main'\nday = '3 of 12'\n\
        date = '2026-11-14'\n[[camera]]\nid = 'A'\nrolls = ['A']\n";
    let of = |kit_text: &str, headings: &str, cells: &str| {
        let kit = kit::parse("kit.toml", kit_text.as_bytes());
        assert_eq!(kit.findings, []);
        let table = format!("Clip,Lens,{headings}\nA001C001,,{cells}\n");
        let notes = notes::parse("notes.csv", table.as_bytes()).value;
        let facts = vec![vec![FileFacts { recorded: with("").into(), header_sha256: None }]];
        let shoot = reconcile(&clip(), &facts, &[notes], &kit.value, Trust::Nobody);
        let shot = first(&shoot).shot.clone().map(|shot| *shot).unwrap_or_default();
        let Shot { operator, assistants, unit, day, .. } = shot;
        let text = |text: Option<Sourced<String>>| text.map_or("-".to_owned(), |text| text.value);
        assert_eq!(shoot.details.date.map(|date| date.to_string()), Some("2026-11-14".to_owned()));
        [operator, assistants, unit, day].map(text).join("; ")
    };
    assert_eq!(of(text, "Remarks", "x"), "Ann; Bea, Cid; Main; 3 of 12");
    let camera = format!("{text}operator = 'Dee'\nassistants = 'Eva'\n");
    assert_eq!(of(&camera, "Remarks", "x"), "Dee; Eva; Main; 3 of 12");
    let cells = "Fay,Gil,Hal,2nd unit,4";
    let noted = of(&camera, "Operator,1st AC,2nd AC,Unit,Day", cells);
    assert_eq!(noted, "Fay; Gil, Hal; 2nd unit; 4");
    assert_eq!(of(&camera, "2nd AC,Height (m),Tilt", "Hal,1.2,-5"), "Dee; Hal; Main; 3 of 12");
    for (date, good) in [("2026-02-30", false), ("14.11.2026", false), ("2026-2-3", false)] {
        let kit = kit::parse("kit.toml", format!("[production]\ndate = '{date}'\n").as_bytes());
        assert_eq!(kit.findings.is_empty(), good, "{date}");
    }
}

#[test]
fn a_cell_that_is_not_understood_blocks_its_field_and_is_shown() {
    let table = "Roll,Clip,Lens,Attachment,ISO,Shutter,Height,Tilt\nA001,all,p50,none,800,180,,\n\
        ,A001C001,,,fast,50,1.2,sideways\n";
    let found = notes::parse("notes.csv", table.as_bytes());
    let told: Vec<&str> = found.findings.iter().map(|finding| finding.message.as_str()).collect();
    let wanted = ["is no ISO", "may be an angle or a time", "says no unit", "is no tilt"];
    assert_eq!(told.len(), wanted.len(), "{told:?}");
    for (told, wanted) in told.iter().zip(wanted) {
        assert!(told.contains(wanted), "{told}");
    }
    let facts = vec![vec![FileFacts { recorded: with("").into(), header_sha256: None }]];
    let shoot = reconcile(&clip(), &facts, &[found.value], &small_kit(), Trust::Nobody);
    // The row of the roll does not step in for what somebody tried to say of the clip.
    assert_eq!(stands(&shoot), "ei unresolved -, angle unresolved -");
}
