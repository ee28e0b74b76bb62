//! Turnovers of the built program: two hundred events over the sample's clips, with every trap that cuts have.
#![allow(clippy::disallowed_methods, reason = "tests write cuts of their own")]

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use lensmend::cut::{self, Speed, Time};
use lensmend::timecode::{Counting, Timecode};
use serde_json::Value as Json;

use crate::workshop::{DATE, lensmend, plant, sample, tree};

/// Runs a turnover of `cut` over `shoot`; gives exit code and record.
pub(crate) fn turned(shoot: &Path, cut: &Path, into: &Path, more: &[&str]) -> (i32, Json) {
    let mut arguments = vec!["turnover", shoot.to_str().unwrap(), "--cut", cut.to_str().unwrap()];
    arguments.extend(["--into", into.to_str().unwrap(), "--date", DATE, "--json"]);
    arguments.extend(more);
    let run = lensmend(&arguments);
    let said = String::from_utf8_lossy(&run.stderr).into_owned();
    let record = serde_json::from_slice(&run.stdout);
    (run.status.code().unwrap(), record.unwrap_or_else(|error| panic!("{error}: {said}")))
}

/// A label so many frames after another.
fn label(start: &str, base: u32, drop: bool, frames: u64) -> String {
    let counting = Counting::new(base, drop).unwrap();
    Timecode::parse(start, counting).unwrap().later(frames).to_string()
}

/// A clip of the sample: name, start, counting, frames.
struct Clip(&'static str, &'static str, u32, bool, u64);

const C1: Clip = Clip("A003C001", "10:02:11:05", 24, false, 48);
const C2: Clip = Clip("A003C002", "10:09:40:00", 24, false, 48);
const C3: Clip = Clip("A003C003", "10:15:02:12", 24, false, 48);
const C4: Clip = Clip("A003C004", "10:21:30:00", 24, false, 96);
const C9: Clip = Clip("A003C009", "23:59:59:12", 24, false, 48);
const B1: Clip = Clip("B001C001", "01:00:00;02", 30, true, 60);
const B3: Clip = Clip("B001C003", "00:59:59;58", 60, true, 60);
const B4: Clip = Clip("B001C004", "14:20:00:00", 25, false, 50);
const B5: Clip = Clip("B001C005", "15:00:00:00", 50, false, 100);

/// What must come of an event: its clip, the frames used of it, and the codes of its findings but that of handles.
struct Expected {
    number: String,
    clip: Option<&'static str>,
    frames: u64,
    used: Option<(u64, u64)>,
    codes: Vec<&'static str>,
}

/// A cut under way, and what must come of it.
struct Writer {
    text: String,
    at: u64,
    number: usize,
    expected: Vec<Expected>,
}

impl Writer {
    fn line(&mut self, reel: &str, how: &str, source: (&str, &str), long: u64) {
        let from = label("01:00:00:00", 24, false, self.at);
        let to = label("01:00:00:00", 24, false, self.at + long);
        let number = self.number;
        let (first, end) = source;
        write!(self.text, "{number:03}  {reel} V {how} {first} {end} {from} {to}\r\n").unwrap();
        self.at += long;
    }

    fn expect(&mut self, clip: Option<&Clip>, used: Option<(u64, u64)>, codes: &[&'static str]) {
        self.expected.push(Expected {
            number: format!("{:03}", self.number),
            clip: clip.map(|clip| clip.0),
            frames: clip.map_or(0, |clip| clip.4),
            used,
            codes: codes.to_vec(),
        });
    }

    /// An event on labels of the clip's own counting.
    fn own(
        &mut self,
        clip: &Clip,
        reel: &str,
        name: Option<&str>,
        (first, frames): (u64, u64),
        long: u64,
    ) {
        self.number += 1;
        let at = |frame| label(clip.1, clip.2, clip.3, frame);
        self.line(reel, "C", (&at(first), &at(first + frames)), long);
        if let Some(name) = name {
            write!(self.text, "* FROM CLIP NAME: {name}\r\n").unwrap();
        }
    }
}

/// One round of every trap; `k` shifts what can be shifted.
fn round(writer: &mut Writer, k: u64) {
    // The plain case, by the name of the file.
    writer.own(&C1, "AX", Some("A003C001_1114_KV.mov"), (10 + k, 12), 12);
    writer.expect(Some(&C1), Some((10 + k, 12)), &[]);
    // By reel and timecode alone: the roll, and the eight letters of the clip.
    writer.own(&C2, "A003", None, (9 + k, 10), 10);
    writer.expect(Some(&C2), Some((9 + k, 10)), &[]);
    writer.own(&C3, "A003C003", None, (9 + k, 10), 10);
    writer.expect(Some(&C3), Some((9 + k, 10)), &[]);
    // Spelled otherwise, in a folder of another system, over both files of a spanned clip.
    writer.own(&C3, "X", Some("a3-c3"), (8 + k, 6), 6);
    writer.expect(Some(&C3), Some((8 + k, 6)), &[]);
    writer.own(&C4, "AX", Some(r"Z:\day\A003C004_1114_KV_002.MOV"), (44 + k, 8), 8);
    writer.expect(Some(&C4), Some((44 + k, 8)), &[]);
    // Mixed rates: labels at the clip's own counting, drop frame and pairs of ten minutes included.
    writer.own(&B1, "B001", Some("B001C001_1114_OM.mp4"), (10 + k, 30), 24);
    writer.expect(Some(&B1), Some((10 + k, 30)), &[]);
    writer.own(&B3, "B001", Some("B001C003_1114_OM.mp4"), (k, 30), 12);
    writer.expect(Some(&B3), Some((k, 30)), &[]);
    writer.own(&B4, "B001", Some("B001C004_1114_OM.mp4"), (5 + k, 25), 24);
    writer.expect(Some(&B4), Some((5 + k, 25)), &[]);
    // Mixed rates: labels at the rate of the cut. 12 + k frames of 24 in 1001/1000 seconds each, at 50 a second.
    writer.number += 1;
    let at = |frame| label("15:00:00:00", 24, false, frame);
    writer.line("B001", "C", (&at(12 + k), &at(24 + k)), 12);
    writer.text.push_str("* FROM CLIP NAME: B001C005_1114_OM.mp4\r\n");
    let place = |frame: u64| (frame * 50 * 1001 * 2 / 24000).div_ceil(2);
    writer.expect(Some(&B5), Some((place(12 + k), place(24 + k) - place(12 + k))), &[]);
    // Half speed; the source is as long as that says.
    writer.own(&C3, "A003C003", None, (10 + k, 10), 20);
    writer.text.push_str("M2   A003C003       012.0       10:15:02:20\r\n");
    writer.expect(Some(&C3), Some((10 + k, 10)), &[]);
    // Double speed, with the source as long as the event: its first label counts.
    writer.own(&C2, "A003C002", None, (8 + k, 8), 8);
    writer.text.push_str("M2   A003C002       048.0       10:09:40:08\r\n");
    writer.expect(Some(&C2), Some((8 + k, 16)), &[]);
    // Backwards, both ways of writing it.
    writer.own(&C1, "A003C001", None, (20, 10 + k), 10 + k);
    writer.text.push_str("M2   A003C001      -024.0       10:02:12:01\r\n");
    writer.expect(Some(&C1), Some((20, 10 + k)), &[]);
    // Frozen.
    writer.own(&C1, "A003C001", None, (20 + k, 24), 24);
    writer.text.push_str("M2   A003C001       000.0       10:02:12:01\r\n");
    writer.expect(Some(&C1), Some((20 + k, 1)), &[]);
    // A dissolve: what goes is shown on.
    writer.own(&C1, "A003C001", None, (10, 10 + k), 10 + k);
    writer.expect(Some(&C1), Some((10, 10 + k + 6)), &[]);
    writer.number += 1;
    let out = label(C1.1, 24, false, 20 + k);
    writer.line("A003C001", "C", (&out, &out), 0);
    let at = |frame| label(C2.1, 24, false, frame);
    writer.line("A003C002", "D 006", (&at(12), &at(24 + k)), 12 + k);
    writer.expect(Some(&C2), Some((12, 12 + k)), &[]);
    // Across midnight; and out of the clip at both ends.
    writer.own(&C9, "A003", None, (6 + k, 12), 12);
    writer.expect(Some(&C9), Some((6 + k, 12)), &[]);
    writer.own(&C2, "AX", Some("A003C002_1114_KV.mov"), (40, 20 + k), 20 + k);
    writer.expect(Some(&C2), Some((40, 8)), &["cut.past-end"]);
    // One name, two clips, and a timecode of neither.
    writer.number += 1;
    writer.line("AX", "C", ("04:00:00:00", "04:00:01:00"), 24);
    writer.text.push_str("* FROM CLIP NAME: A003C002_1114_KV.mov\r\n");
    writer.expect(None, None, &["cut.two-clips"]);
    // No clip.
    writer.number += 1;
    writer.line("C001C009", "C", ("04:00:00:00", "04:00:01:00"), 24);
    writer.text.push_str("* FROM CLIP NAME: C001C009_1114_KV.mov\r\n");
    writer.expect(None, None, &["cut.no-clip"]);
    // A label that does not exist at 24, and lengths that fit no way.
    writer.number += 1;
    writer.line("AX", "C", ("10:02:11:29", "10:02:12:29"), 24);
    writer.text.push_str("* FROM CLIP NAME: A003C001_1114_KV.mov\r\n");
    writer.expect(Some(&C1), None, &["cut.frames"]);
    writer.own(&C1, "AX", Some("A003C001_1114_KV.mov"), (10, 12), 20 + k);
    writer.expect(Some(&C1), Some((10, 12)), &["cut.frames"]);
    // A clip that says nothing of itself.
    writer.number += 1;
    writer.line("AX", "C", ("10:50:00:00", "10:50:01:00"), 24);
    writer.text.push_str("* FROM CLIP NAME: A003C008_1114_KV.mov\r\n");
    writer.expect(Some(&Clip("A003C008", "", 24, false, 0)), None, &["cut.frames"]);
    // Neither black nor sound has a lens.
    writer.number += 1;
    writer.line("BL", "C", ("00:00:00:00", "00:00:01:00"), 24);
    writer.text.push_str("999  A003C001 A C 10:02:11:05 10:02:12:05 01:00:00:00 01:00:01:00\r\n");
}

#[test]
fn two_hundred_events_with_every_trap() {
    let folder = tempfile::tempdir().unwrap();
    let mut shoot = tree(&sample());
    // Another clip of the same name: it holds what C001 does.
    let other = shoot["dump/A003/A003C001_1114_KV.mov"].clone();
    shoot.insert("dump/C/A003C002_1114_KV.mov".to_owned(), other);
    plant(&shoot, folder.path());
    let mut writer = Writer {
        text: "TITLE: TRAPS\r\nFCM: NON-DROP FRAME\r\n".to_owned(),
        at: 0,
        number: 0,
        expected: Vec::new(),
    };
    for k in 0..10 {
        round(&mut writer, k);
    }
    assert!(writer.expected.len() >= 200, "{} events", writer.expected.len());
    let cut = folder.path().join("traps.edl");
    fs::write(&cut, &writer.text).unwrap();
    let out = folder.path().join("out");
    let (code, record) = turned(folder.path(), &cut, &out, &[]);
    assert_eq!(code, 1);
    let shots = record["shots"].as_array().unwrap();
    assert_eq!(shots.len(), writer.expected.len());
    for (shot, expected) in shots.iter().zip(&writer.expected) {
        let about = format!("event {}: {shot}", expected.number);
        assert_eq!(shot["event"], expected.number.as_str(), "{about}");
        assert_eq!(shot.get("clip").and_then(Json::as_str), expected.clip, "{about}");
        let used = shot
            .get("used")
            .map(|used| (used["firstFrame"].as_u64().unwrap(), used["frames"].as_u64().unwrap()));
        assert_eq!(used, expected.used, "{about}");
        let mut codes: Vec<&str> = findings(&record, &expected.number);
        let short = |(first, frames): (u64, u64)| first < 8 || first + frames + 8 > expected.frames;
        let frozen = shot.get("speed").is_some_and(|speed| *speed == 0.0);
        let handles = used.is_some_and(short) && !frozen;
        assert_eq!(codes.contains(&"cut.handles"), handles, "{about}");
        codes.retain(|code| *code != "cut.handles");
        assert_eq!(codes, expected.codes, "{about}");
        if let Some((first, frames)) = used {
            let handed = &shot["handedOver"];
            let reach = if frozen { 0 } else { 8 };
            let start = first.saturating_sub(reach);
            let end = (first + frames + reach).min(expected.frames);
            assert_eq!(handed["firstFrame"], start, "{about}");
            assert_eq!(handed["frames"], end - start, "{about}");
            assert_eq!(handed["firstNumber"], 1001, "{about}");
        }
    }
    // The list again: its own lines, in order, byte for byte, and comments between them.
    let again = fs::read_to_string(out.join("turnover.edl")).unwrap();
    let kept: String = again.split_inclusive('\n').filter(|l| !l.starts_with("* LENS:")).collect();
    assert_eq!(kept, writer.text);
    assert!(again.lines().all(|line| !line.starts_with("* LENS:") || line.len() <= 80));
    // Read back, its comments add nothing.
    let (before, after) =
        (cut::parse("a", writer.text.as_bytes()), cut::parse("a", again.as_bytes()));
    assert_eq!(before.value.events.len(), after.value.events.len());
    assert!(
        after.value.events.iter().zip(&before.value.events).all(|(a, b)| a.comments == b.comments)
    );
    // A second run with nothing new writes nothing.
    let before = tree(&out);
    let (_, second) = turned(folder.path(), &cut, &out, &[]);
    assert_eq!(tree(&out), before);
    assert_eq!(second, record);
    // What somebody edited stays, and is said.
    fs::write(out.join("turnover.csv"), "mine").unwrap();
    let (_, third) = turned(folder.path(), &cut, &out, &[]);
    assert_eq!(fs::read(out.join("turnover.csv")).unwrap(), b"mine");
    let kept = third["findings"].as_array().unwrap().iter();
    assert_eq!(kept.filter(|finding| finding["code"] == "output.kept").count(), 1);
}

fn findings<'a>(record: &'a Json, number: &str) -> Vec<&'a str> {
    let begins = format!("event {number}: ");
    let found = record["findings"].as_array().unwrap().iter();
    found
        .filter(|finding| finding["message"].as_str().unwrap().starts_with(&begins))
        .map(|finding| finding["code"].as_str().unwrap())
        .collect()
}

#[test]
fn edl_lines_are_read_as_they_are_written() {
    let text = "\u{feff}TITLE:  A B \nFCM: DROP FRAME\n\
        001  REEL ONE V2 C 01:00:00;00 01:00:01;00 02:00:00;00 02:00:01;00\n\
        * from clip name:  One.mov\n* anything\nM2 REEL ONE -029.97 01:00:00;00\n\
        002  TWO AA/V W012 030 01:00:00:00 01:00:01:00 02:00:01;00 02:00:02;00\n\
        003  THREE NONE C 01:00:00:00 01:00:01:00 02:00:01;00 02:00:02;00\n\
        004  FOUR V C 01:00:00:00 01:00:01:00\n\
        >>> SOURCE x\n";
    let found = cut::parse("a.edl", text.as_bytes());
    assert_eq!(found.value.title.as_deref(), Some("A B"));
    assert_eq!(found.value.drop, Some(true));
    let [one, two] = found.value.events.as_slice() else { panic!("{:?}", found.value.events) };
    assert_eq!(one.name.as_deref(), Some("One.mov"));
    assert_eq!(one.comments, ["anything"]);
    assert_eq!(one.speed, Some(Speed::FramesASecond(-29.97)));
    assert_eq!(one.source.0, Time::Label("01:00:00;00".to_owned()));
    let wipe = two.transition.as_ref().unwrap();
    assert_eq!((wipe.kind.as_str(), wipe.frames), ("wipe 012", 30));
    let codes: Vec<&str> = found.findings.iter().map(|finding| finding.code.word()).collect();
    assert_eq!(codes, ["cut.line"], "an event of two timecodes cannot be read");
    // Latin-1 comes from old editing programs.
    let latin =
        b"001 A V C 01:00:00:00 01:00:01:00 01:00:00:00 01:00:01:00\n* FROM CLIP NAME: caf\xe9\n";
    let found = cut::parse("a.edl", latin);
    assert_eq!(found.value.events[0].name.as_deref(), Some("caf\u{e9}"));
    let empty = cut::parse("a.edl", b"nothing");
    assert_eq!(empty.findings[0].code.word(), "cut.empty");
}

#[test]
fn hostile_cuts_do_no_harm() {
    let edl = fs::read(sample().join("turnover.edl")).unwrap();
    for end in 0..edl.len() {
        cut::parse("a", &edl[..end]);
        let mut bent = edl.clone();
        bent[end] ^= 0x15;
        cut::parse("a", &bent);
    }
    let deep = "{\"OTIO_SCHEMA\":\"Stack.1\",\"children\":[".repeat(40);
    for text in [
        deep.as_str(),
        "{\"OTIO_SCHEMA\":\"Timeline.1\",\"tracks\":{\"OTIO_SCHEMA\":\"Stack.1\",\"children\":[{\"OTIO_SCHEMA\":\"Clip.1\"}]}}",
        "{\"OTIO_SCHEMA\":\"Clip.1\",\"source_range\":{\"start_time\":{\"value\":1e308,\"rate\":24},\"duration\":{\"value\":1e308,\"rate\":1e-300}}}",
        "{}",
    ] {
        let found = cut::parse("a", text.as_bytes());
        assert!(!found.findings.is_empty(), "{text}");
    }
    // Numbers beyond any clip go through the whole program.
    let folder = tempfile::tempdir().unwrap();
    let cut = folder.path().join("wild.otio");
    let clip = |start: &str, long: &str, scalar: &str| {
        format!(
            "{{\"OTIO_SCHEMA\":\"Clip.1\",\"name\":\"A003C001\",\"source_range\":{{\"start_time\":{{\"value\":{start},\"rate\":24}},\
             \"duration\":{{\"value\":{long},\"rate\":24}}}},\"effects\":[{{\"OTIO_SCHEMA\":\"LinearTimeWarp.1\",\"time_scalar\":{scalar}}}],\
             \"metadata\":7}}"
        )
    };
    let clips = [
        ("1e300", "24", "1"),
        ("-1e15", "1e18", "1e300"),
        ("0", "1e-9", "-1e300"),
        ("5", "0", "0"),
    ];
    let clips: Vec<String> = clips.iter().map(|(a, b, c)| clip(a, b, c)).collect();
    let text = format!("{{\"OTIO_SCHEMA\":\"Track.1\",\"children\":[{}]}}", clips.join(","));
    fs::write(&cut, text).unwrap();
    let (code, record) = turned(&sample(), &cut, &folder.path().join("out"), &[]);
    assert_eq!(code, 1);
    assert_eq!(record["shots"].as_array().unwrap().len(), 4);
}

#[test]
fn what_cannot_be_carried_out_is_refused_and_nothing_written() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let empty = folder.path().join("empty.edl");
    fs::write(&empty, "TITLE: nothing\n").unwrap();
    let sample = sample();
    let good = sample.join("turnover.edl");
    let cases: [(&Path, &[&str], &str); 4] = [
        (&empty, &[], "cut.empty"),
        (&good, &["--rate", "fast"], "--rate fast"),
        (&good, &["--plate", "scope"], "no plate"),
        (&folder.path().join("none.edl"), &[], "cannot read the cut"),
    ];
    for (cut, more, words) in cases {
        let mut arguments =
            vec!["turnover", sample.to_str().unwrap(), "--cut", cut.to_str().unwrap()];
        arguments.extend(["--into", out.to_str().unwrap()]);
        arguments.extend(more);
        let run = lensmend(&arguments);
        let said = String::from_utf8_lossy(&run.stderr).into_owned();
        assert_eq!(run.status.code(), Some(2), "{said}");
        assert!(said.contains(words), "{said}");
        assert!(!out.exists());
    }
    let (code, _) = turned(&sample, &good, &out, &["--dry-run"]);
    assert_eq!(code, 1);
    assert!(!out.exists(), "a dry run writes nothing");
}

/// Texts of people cannot run in a spreadsheet, and cannot leave their place on the page.
#[test]
fn hostile_words_stay_words() {
    let folder = tempfile::tempdir().unwrap();
    let cut = folder.path().join("a.edl");
    let text = "TITLE: <script>alert(1)</script>\n\
        001 A003C001 V C 10:02:11:17 10:02:12:05 01:00:00:00 01:00:00:12\n\
        * =HYPERLINK(\"x\")\n* <b onmouseover=x>\n";
    fs::write(&cut, text).unwrap();
    let out = folder.path().join("out");
    turned(&sample(), &cut, &out, &[]);
    let page = fs::read_to_string(out.join("turnover.html")).unwrap();
    assert!(page.contains("&lt;script&gt;") && !page.contains("<script"), "{page}");
    assert!(!page.contains("<b "));
    for outside in ["http://", "https://", "src=", "url("] {
        assert!(!page.contains(outside), "the page points outside: {outside}");
    }
    let table = fs::read_to_string(out.join("turnover.csv")).unwrap();
    assert!(table.contains("'=HYPERLINK"), "{table}");
}

/// Traps beside those of the two hundred: keys, an event of no length, a reel without that timecode, what is switched off,
/// bars, and clips under a nest.
#[test]
fn events_that_show_nothing_say_so_or_are_no_shots() {
    let folder = tempfile::tempdir().unwrap();
    let cut = folder.path().join("a.edl");
    let text = "TITLE: A\nFCM: NON-DROP FRAME\n\
        1 A003C001 V K B 10:02:11:17 10:02:12:05 01:00:00:00 01:00:00:12\n\
        * FROM CLIP NAME: A003C001_1114_KV.mov\n\
        2 A003C001 V K O 012 10:02:11:17 10:02:12:05 01:00:00:12 01:00:01:00\n\
        3 A003C001 V C 10:02:11:20 10:02:11:20 01:00:01:00 01:00:01:00\n\
        4 A003C001 V C 99:99:99:99 10:02:12:05 01:00:01:00 01:00:02:00\n\
        5 A003C001 V C 12:02:11:17 12:02:12:05 01:00:02:00 01:00:02:12\n";
    fs::write(&cut, text).unwrap();
    let (_, record) = turned(&sample(), &cut, &folder.path().join("edl"), &[]);
    let shots = record["shots"].as_array().unwrap();
    let frames = |shot: &Json| shot.get("used").map(|used| used["frames"].as_u64().unwrap());
    let used: Vec<Option<u64>> = shots.iter().map(frames).collect();
    assert_eq!(used, [Some(12), Some(12), None, None, None], "{record}");
    let told: Vec<Vec<&str>> = ["1", "2", "3", "4", "5"].map(|n| findings(&record, n)).into();
    assert_eq!(told[..3], [vec!["cut.handles"; 0], vec![], vec!["cut.frames"]]);
    for told in &told[3..] {
        assert_eq!(*told, ["cut.no-clip"]);
    }
    let messages = record["findings"].to_string();
    assert_eq!(messages.matches("the source lies in no clip of `A003C001`").count(), 2);

    let clip = |more: &str| {
        format!(
            "{{\"OTIO_SCHEMA\":\"Clip.2\",\"name\":\"A003C001\",\"source_range\":{{\"start_time\":{{\"value\":12,\"rate\":24}},\
             \"duration\":{{\"value\":10,\"rate\":24}}}}{more}}}"
        )
    };
    let bars =
        ",\"media_references\":{\"DEFAULT_MEDIA\":{\"OTIO_SCHEMA\":\"GeneratorReference.1\"}}";
    let clips = [clip(""), clip(",\"enabled\":false"), clip(bars), clip("")].join(",");
    let otio = folder.path().join("a.otio");
    fs::write(&otio, format!("{{\"OTIO_SCHEMA\":\"Track.1\",\"children\":[{clips}]}}")).unwrap();
    let (_, record) = turned(&sample(), &otio, &folder.path().join("otio"), &[]);
    let shots = record["shots"].as_array().unwrap();
    assert_eq!(shots.len(), 2, "{record}");
    // The time of what is no shot is counted.
    assert!(shots[1]["record"].to_string().contains("00:00:01:06"), "{}", shots[1]);
}
