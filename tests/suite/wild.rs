//! Lens notes as tired people write them: sheets made to be difficult, each with its expected reading.
//!
//! The forms are common practice, no source; what is read of them is `docs/lens-notes.md`.

use lensmend::finding::{Finding, Found, Spot};
use lensmend::notes::{
    AttachmentNote, ClipNames, FocalNote, NoteRow, Notes, StopNote, Target, looks_like_notes, parse,
};
use lensmend::number::short;
use lensmend::units::Unit;

/// How a text becomes bytes.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Encoding {
    Utf8,
    Utf8Marked,
    Utf16Le,
    Utf16Be,
    Utf16LeUnmarked,
    Utf16BeUnmarked,
    Western,
}

impl Encoding {
    pub(crate) const ALL: [Self; 7] = [
        Self::Utf8,
        Self::Utf8Marked,
        Self::Utf16Le,
        Self::Utf16Be,
        Self::Utf16LeUnmarked,
        Self::Utf16BeUnmarked,
        Self::Western,
    ];

    pub(crate) fn bytes(self, text: &str) -> Vec<u8> {
        let marked = format!("\u{feff}{text}");
        let pairs = |text: &str, order: fn(u16) -> [u8; 2]| {
            text.encode_utf16().flat_map(order).collect::<Vec<u8>>()
        };
        match self {
            Self::Utf8 => text.as_bytes().to_vec(),
            Self::Utf8Marked => marked.into_bytes(),
            Self::Utf16Le => pairs(&marked, u16::to_le_bytes),
            Self::Utf16Be => pairs(&marked, u16::to_be_bytes),
            Self::Utf16LeUnmarked => pairs(text, u16::to_le_bytes),
            Self::Utf16BeUnmarked => pairs(text, u16::to_be_bytes),
            Self::Western => {
                let (bytes, _, lost) = encoding_rs::WINDOWS_1252.encode(text);
                assert!(!lost, "{text}");
                bytes.into_owned()
            }
        }
    }
}

fn names(names: &ClipNames) -> String {
    match names {
        ClipNames::One(name) => name.clone(),
        ClipNames::Range(first, last) => format!("{first}~{last}"),
        ClipNames::Pattern(name) => format!("<{name}>"),
        ClipNames::Either { typed, parts } => {
            let parts: Vec<String> = parts.iter().map(self::names).collect();
            format!("{typed} or [{}]", parts.join("|"))
        }
    }
}

/// A row in one line.
pub(crate) fn line(row: &NoteRow) -> String {
    let mut out = match &row.target {
        Target::Roll(roll) => format!("roll {roll}"),
        Target::Then => "then".to_owned(),
        Target::Clips(all) => all.iter().map(names).collect::<Vec<_>>().join("|"),
    };
    let mut put = |text: Option<String>| {
        if let Some(text) = text {
            out.push(' ');
            out.push_str(&text.replace(['\n', '\r'], "/"));
        }
    };
    let named = matches!(row.target, Target::Clips(_));
    put(row.roll.as_ref().filter(|_| named).map(|n| format!("@{}", n.value)));
    put(row.camera.as_ref().map(|n| format!("cam={}", n.value)));
    put(row.from.as_ref().map(|n| format!("from={}", n.value)));
    put(row.lens.as_ref().map(|n| format!("lens={}", n.value)));
    put(row.focal.as_ref().map(|n| match n.value {
        FocalNote::At(at) => format!("focal={}", short(at.get(), 3)),
        FocalNote::Moves(a, b) => format!("focal={}>{}", short(a.get(), 3), short(b.get(), 3)),
    }));
    put(row.stop.as_ref().map(|n| match n.value {
        StopNote::F(f) => format!("stop=f{}", short(f.get(), 2)),
        StopNote::T(t) => format!("stop=T{}", short(t.get(), 2)),
        StopNote::Unsaid(number) => format!("stop={}", short(number, 2)),
        StopNote::WideOpen => "stop=WO".to_owned(),
    }));
    put(row.attachment.as_ref().map(|n| match &n.value {
        AttachmentNote::Named(name) => format!("on={name}"),
        AttachmentNote::Nothing => "bare".to_owned(),
    }));
    put(row.secured.as_ref().map(|n| if n.value { "tight" } else { "loose" }.to_owned()));
    put(row.focus.as_ref().map(|n| format!("focus={}", short(n.value.number(), 3))));
    put(row.slate.as_ref().map(|n| format!("slate={}", n.value)));
    put(row.take.as_ref().map(|n| format!("take={}", n.value)));
    put(row.circled.as_ref().map(|n| if n.value { "circled" } else { "no-circle" }.to_owned()));
    put(row.filter.as_ref().map(|n| format!("filter={}", n.value)));
    put(row.density.as_ref().map(|n| format!("nd={}", short(n.value.get(), 2))));
    put(row.remarks.as_ref().map(|n| format!("remarks={}", n.value)));
    out
}

/// A finding in one line: code, place, what stands there.
pub(crate) fn fault(finding: &Finding) -> String {
    let code = finding.code.word();
    match finding.place.as_ref().map(|place| &place.spot) {
        Some(Spot::Text { line, column, excerpt, name }) => {
            let part = excerpt.as_ref().map_or("", |e| &e.line[e.part.clone()]);
            match name {
                Some(name) => format!("! {code} {name} {part}"),
                None => format!("! {code} {line}:{column} {part}"),
            }
        }
        _ => format!("! {code}"),
    }
}

/// Rows, then faults.
pub(crate) fn reading(found: &Found<Notes>) -> Vec<String> {
    let rows = found.value.rows.iter().map(line);
    rows.chain(found.findings.iter().map(fault)).collect()
}

/// What is difficult, how it is written, the sheet, and what is read.
type Case = (&'static str, Encoding, &'static str, &'static [&'static str]);

use Encoding::{Utf8, Utf8Marked, Utf16Be, Utf16Le, Utf16LeUnmarked, Western};

const CASES: &[Case] = &[
    (
        "commas",
        Utf8,
        "Clip,Lens,Stop,Reducer,Focus m\nC003,Sorrel 50,T2.8,0.71,2.4\n",
        &["C003 lens=Sorrel 50 stop=T2.83 on=0.71 focus=2.4"],
    ),
    (
        "semicolons and decimal commas",
        Utf8,
        "Clip;Focal mm;Stop;Reducer;Focus m\nC003;17,5;5,6;0,71;2,4\n",
        &["C003 focal=17.5 stop=5.66 on=0,71 focus=2.4"],
    ),
    (
        "tabs",
        Utf8,
        "Clip\tLens\tStop\nC003\tSorrel, the 50\t2\n",
        &["C003 lens=Sorrel, the 50 stop=2"],
    ),
    (
        "a line that names the delimiter",
        Utf8,
        "sep=;\nClip;Lens;Stop\nC003;a;2,8\n",
        &["C003 lens=a stop=2.83"],
    ),
    (
        "a byte order mark",
        Utf8Marked,
        "Clip,Lens,Stop\nC003,Ümber,2\n",
        &["C003 lens=Ümber stop=2"],
    ),
    (
        "UTF-16, low byte first",
        Utf16Le,
        "Clip;Lens;Stop\r\nC003;Ümber;2\r\n",
        &["C003 lens=Ümber stop=2", "! notes.encoding"],
    ),
    (
        "UTF-16, high byte first",
        Utf16Be,
        "Clip;Lens;Stop\r\nC003;Ümber;∞\r\n",
        &["C003 lens=Ümber", "! notes.encoding", "! notes.cell 2:12 ∞"],
    ),
    (
        "UTF-16 without a mark",
        Utf16LeUnmarked,
        "Clip\tLens\tStop\nC003\ta\t2\n",
        &["C003 lens=a stop=2", "! notes.encoding"],
    ),
    (
        "Windows-1252",
        Western,
        "Clip;Lens;Stop\nC003;Ümber;2.8½\n",
        &["C003 lens=Ümber stop=3.36", "! notes.encoding"],
    ),
    (
        "line ends of an old spreadsheet",
        Utf8,
        "Clip,Lens,Stop\rC003,a,2\rC004,b,4\r",
        &["C003 lens=a stop=2", "C004 lens=b stop=4"],
    ),
    (
        "empty lines and rows",
        Utf8,
        "\r\nClip,Lens,Stop\r\n\r\nC003,a,2\r\n,,\r\n , ,\r\nC004,b,4\r\n\r\n",
        &["C003 lens=a stop=2", "C004 lens=b stop=4"],
    ),
    (
        "columns in any order",
        Utf8,
        "Notes,Iris (T),Adaptor,CLIP_NAME,lens\nwet,2.8,-,C003,a\n",
        &["C003 lens=a stop=T2.83 bare remarks=wet"],
    ),
    (
        "line ends inside cells",
        Utf8,
        "Clip,Stop,Remarks\n\"C003\nC005\",2,\"rain,\nthen none\"\nC006,4,\n",
        &["C003|C005 stop=2 remarks=rain,/then none", "C006 stop=4"],
    ),
    (
        "units in headings",
        Utf8,
        "Clip,Focal (cm),Focus (ft)\nC003,8.5,6.25\nC004,\"3,5\",2 m\n",
        &["C003 focal=85 focus=1.905", "C004 focal=35 focus=2"],
    ),
    (
        "feet and inches in the heading",
        Utf8,
        "Clip,Focus (ft/in)\nC003,6'3\nC004,6\n",
        &["C003 focus=1.905", "C004 focus=1.829"],
    ),
    (
        "headings that explain themselves",
        Utf8,
        "Clip (no.),Lens [name],Circled (y/n)\nC003,a,y\nC004,b,n\n",
        &["C003 lens=a circled", "C004 lens=b no-circle"],
    ),
    (
        "a block above the headings",
        Utf8,
        "Lens notes,Day 3\nCamera:,A\nRoll:,A003\n\nClip,Lens,Stop\nC003,a,2\nall,,4\n",
        &["C003 @A003 cam=A lens=a stop=2", "roll A003 cam=A stop=4"],
    ),
    (
        "a block in one cell",
        Utf8,
        "CAM A - ROLL A003;;\nClip;Lens;Stop\nC003;a;2\n",
        &["C003 @A003 cam=A lens=a stop=2"],
    ),
    (
        "two rolls in the block",
        Utf8,
        "Roll: A003,Roll: A004\nClip,Lens\nC003,a\n",
        &["C003 lens=a"],
    ),
    (
        "a day sheet of several rolls",
        Utf8,
        "Clip,Lens,Stop\nRoll A003,,\nC001,a,2\nRoll: A004\nC001,b,4\n",
        &["C001 @A003 lens=a stop=2", "C001 @A004 lens=b stop=4"],
    ),
    (
        "rolls alone between the rows",
        Utf8,
        "Clip,Lens,Stop\nA003,,\nC001,a,2\nA004,,\nC001,b,4\n",
        &["C001 @A003 lens=a stop=2", "C001 @A004 lens=b stop=4"],
    ),
    (
        "headings again for each roll",
        Utf8,
        "Roll: A003\nClip,Lens\nC001,a\n\nRoll: A004\nClip,Lens\nC001,b\n",
        &["C001 @A003 lens=a", "C001 @A004 lens=b"],
    ),
    (
        "a roll written once",
        Utf8,
        "Roll,Clip,Stop\nA003,C001,2\n,C002,4\nA004,C001,2\n,all,8\n",
        &["C001 @A003 stop=2", "C002 @A003 stop=4", "C001 @A004 stop=2", "roll A004 stop=8"],
    ),
    (
        "names with a roll of their own end it",
        Utf8,
        "Roll,Clip,Stop\nA003,C001,2\n,B001C002,4\n,C003,8\n",
        &["C001 @A003 stop=2", "B001C002 stop=4", "C003 stop=8"],
    ),
    (
        "a clip written once, then timecodes",
        Utf8,
        "Clip,TC,Focal mm\nC009,,24\n,10:00:05:00,50\n,10:00:07:12,70\n",
        &["C009 focal=24", "C009 from=10:00:05:00 focal=50", "C009 from=10:00:07:12 focal=70"],
    ),
    (
        "a line without clip, roll and time",
        Utf8,
        "Clip,TC,Stop\nC009,,2\n,,4\n",
        &["C009 stop=2", "! notes.row 3:1 ,,4"],
    ),
    (
        "dittos of all kinds",
        Utf8,
        "Clip,Lens,Stop\nC001,a,2\nC002,〃,do.\nC003,ditto,''\nC004,-\"-,″\n",
        &["C001 lens=a stop=2", "C002 lens=a stop=2", "C003 lens=a stop=2", "C004 lens=a stop=2"],
    ),
    (
        "dittos of a spreadsheet",
        Utf8,
        "Clip,Lens,Stop\nC001,a,2\nC002,\"\"\"\",4\n",
        &["C001 lens=a stop=2", "C002 lens=a stop=4"],
    ),
    (
        "dittos of a text editor",
        Utf8,
        "Clip,Lens,Stop\nC001,a,2\nC002,\",\"\n",
        &["C001 lens=a stop=2", "C002 lens=a stop=2"],
    ),
    (
        "a ditto under nothing",
        Utf8,
        "Clip,Lens,Stop\nC001,,2\nC002,do.,4\n",
        &["C001 stop=2", "C002 stop=4", "! notes.cell 3:6 do."],
    ),
    (
        "a ditto under the clip",
        Utf8,
        "Clip,TC,Stop\nC001,,2\ndo.,10:00:05:00,4\n",
        &["C001 stop=2", "C001 from=10:00:05:00 stop=4"],
    ),
    (
        "ranges",
        Utf8,
        "Clip,Stop\nC003-C009,2\nC003 - C009,2\nC003 to C009,2\nC003..C009,2\nA003C003-C009,2\n",
        &[
            "C003~C009 stop=2",
            "C003~C009 stop=2",
            "C003~C009 stop=2",
            "C003~C009 stop=2",
            "A003C003~C009 stop=2",
        ],
    ),
    (
        "short ranges",
        Utf8,
        "Clip,Stop\nC003-9,2\nC003-009,2\nC118-25,2\n",
        &[
            "C003-9 or [C003~C009] stop=2",
            "C003-009 or [C003~C009] stop=2",
            "C118-25 or [C118~C125] stop=2",
        ],
    ),
    (
        "a range that runs backwards",
        Utf8,
        "Clip,Stop\nC009-C003,2\nC010,4\n",
        &["C010 stop=4", "! notes.row 2:1 C009-C003"],
    ),
    (
        "lists",
        Utf8,
        "Clip,Stop\n\"C003, C005\",2\nC003+C005,2\nC003 & C005,2\nC003/C005,2\nC003 C005,2\n",
        &[
            "C003|C005 stop=2",
            "C003|C005 stop=2",
            "C003|C005 stop=2",
            "C003|C005 stop=2",
            "C003|C005 stop=2",
        ],
    ),
    (
        "short lists",
        Utf8,
        "Clip;Stop\nC003+5;2\nC003/5/7;2\nC003, 5, 7-9;2\n",
        &["C003|C5 stop=2", "C003|C5|C7 stop=2", "C003, 5, 7-9 or [C003|C5|C7~C9] stop=2"],
    ),
    (
        "names with a star",
        Utf8,
        "Roll,Clip,Stop\nA003,C01*,2\nA003,*,4\n,A004*,2\n",
        &["<C01*> @A003 stop=2", "roll A003 stop=4", "<A004*> stop=2"],
    ),
    (
        "a clip that nobody is sure of",
        Utf8,
        "Clip,Stop\nC012?,2\n?,4\n",
        &["! notes.row 2:1 C012?", "! notes.row 3:1 ?,4"],
    ),
    (
        "file names with signs of a list",
        Utf8,
        "Clip,Stop\nshot;2.mov,2\na&b_0001.mov,4\n",
        &["shot;2.mov or [shot|2.mov] stop=2", "a&b_0001.mov stop=4"],
    ),
    (
        "full file names",
        Utf8,
        "File name,Stop\nA003C007_1114_KV.mov,2\nA003C003_1114_KV.mov-A003C009_1114_QX.mov,4\n",
        &["A003C007_1114_KV.mov stop=2", "A003C003_1114_KV.mov~A003C009_1114_QX.mov stop=4"],
    ),
    (
        "rows of a roll",
        Utf8,
        "Reel,Clip,Adapter,TC\nA003,all,0.71,\nA003,,,10:00:05:00\n",
        &["roll A003 on=0.71", "roll A003 from=10:00:05:00"],
    ),
    (
        "timecodes and times",
        Utf8,
        "Roll,TC,Stop\nA003,10:00:00;02,2\nA003,10:00:05,2\nA003,14:32,2\nA003,2:32 pm,2\n",
        &[
            "roll A003 from=10:00:00;02 stop=2",
            "roll A003 from=10:00:05 stop=2",
            "roll A003 from=14:32 stop=2",
            "roll A003 from=14:32 stop=2",
        ],
    ),
    (
        "a timecode that is none",
        Utf8,
        "Clip,TC,Stop\nC001,25:00:00:00,2\nC002,later,4\n",
        &["! notes.row 2:6 25:00:00:00", "! notes.row 3:6 later"],
    ),
    (
        "stops in shorthand",
        Utf8,
        "Clip;Stop\nC1;2.8½\nC2;T2.8 1/2\nC3;T2.8/4\nC4;WO\nC5;.95\nC6;5,6\nC7;f/2\nC8;2.8-1/3\nC9;T2 3/10\n",
        &[
            "C1 stop=3.36",
            "C2 stop=T3.36",
            "C3 stop=T3.36",
            "C4 stop=WO",
            "C5 stop=0.95",
            "C6 stop=5.66",
            "C7 stop=f2",
            "C8 stop=2.52",
            "C9 stop=T2.22",
        ],
    ),
    (
        "a pull of the stop",
        Utf8,
        "Clip,Stop\nC1,2.8>4\nC2,22/22/11\n",
        &["C1", "C2", "! notes.cell 2:4 2.8>4", "! notes.cell 3:4 22/22/11"],
    ),
    (
        "zooms",
        Utf8,
        "Clip,Lens,Zoom\nC1,Z,35>70\nC2,Z,70 -> 24 mm\nC3,Z,24-70\nC4,Z,35\n",
        &[
            "C1 lens=Z focal=35>70",
            "C2 lens=Z focal=70>24",
            "C3 lens=Z",
            "C4 lens=Z focal=35",
            "! notes.cell 4:6 24-70",
        ],
    ),
    (
        "focus marks",
        Utf8,
        "Clip,Focus\nC1,6'3\"\nC2,6ft 3in\nC3,75\"\nC4,inf\nC5,∞\nC6,2.4 m\nC7,85cm\nC8,6½ ft\nC9,6’3”\n",
        &[
            "C1 focus=1.905",
            "C2 focus=1.905",
            "C3 focus=1.905",
            "C4 focus=infinity",
            "C5 focus=infinity",
            "C6 focus=2.4",
            "C7 focus=0.85",
            "C8 focus=1.981",
            "C9 focus=1.905",
        ],
    ),
    (
        "a focus mark without unit",
        Utf8,
        "Clip,Focus\nC1,6\nC2,6 m\n",
        &["C1", "C2 focus=6", "! notes.cell 2:4 6"],
    ),
    (
        "a pull of focus",
        Utf8,
        "Clip,Focus m\nC1,2>4\nC2,2 m to 4 m\nC3,2\n",
        &["C1", "C2", "C3 focus=2", "! notes.cell 2:4 2>4", "! notes.cell 3:4 2 m to 4 m"],
    ),
    (
        "neutral density",
        Utf8,
        "Clip;Filter\nC1;ND 0.6\nC2;ND4\nC3;2 stops\nC4;85ND6\nC5;pola\nC6;ND 0.6 grad\nC7;ND 0,9, pola\nC8;none\n",
        &[
            "C1 filter=ND 0.6 nd=2",
            "C2 filter=ND4 nd=2",
            "C3 filter=2 stops nd=2",
            "C4 filter=85ND6 nd=2",
            "C5 filter=pola",
            "C6 filter=ND 0.6 grad",
            "C7 filter=ND 0,9, pola nd=3",
            "C8 filter=none nd=0",
        ],
    ),
    (
        "a column of neutral density",
        Utf8,
        "Clip,Filter,ND\nC1,85,0.6\nC2,,4\nC3,pola,\n",
        &["C1 filter=85, ND 0.6 nd=2", "C2 filter=ND 4", "C3 filter=pola"],
    ),
    ("neutral density in stops", Utf8, "Clip,ND (stops)\nC1,4\n", &["C1 filter=ND 4 nd=4"]),
    (
        "adapters that sat tight or loose",
        Utf8,
        "Clip,Reducer,Locked\nC1,0.71 loose,\nC2,0.71,yes\nC3,0.71 (secured),\nC4,0.71,loose\nC5,loose,\n",
        &[
            "C1 on=0.71 loose",
            "C2 on=0.71 tight",
            "C3 on=0.71 tight",
            "C4 on=0.71 loose",
            "C5",
            "! notes.cell 6:4 loose",
        ],
    ),
    (
        "reducers named, denied, left open",
        Utf8,
        "Clip,Reducer\nC1,none\nC2,-\nC3,no\nC4,\nC5,Corbel 0.71\nC6,yes\nC7,off\nC8,?\n",
        &["C1 bare", "C2 bare", "C3 bare", "C5 on=Corbel 0.71", "C6 on=reducer", "C7 bare"],
    ),
    (
        "cells that say nothing",
        Utf8,
        "Clip,Lens,Focal mm,Circled\nC1,-,n/a,-\nC2,--,tbd,\n",
        &["C1 no-circle"],
    ),
    (
        "rows that end early",
        Utf8,
        "Clip,Lens,Focal mm,Stop,Reducer,Focus m,Remarks\nC1,a\nC2,b,35,2\n",
        &["C1 lens=a", "C2 lens=b focal=35 stop=2"],
    ),
    (
        "a short row with a cell that cannot be",
        Utf8,
        "Clip,Lens,Focal mm,Stop,Reducer\nC1,a,0.71\nC2,b,35,2,0.71\n",
        &["C2 lens=b focal=35 stop=2 on=0.71", "! notes.row 2:6 0.71"],
    ),
    (
        "a short row with a stop under focal length",
        Utf8,
        "Clip,Lens,Focal mm,Stop,Reducer\nC1,a,2.8,0.71\nC2,b,,2.8,0.71\n",
        &["C2 lens=b stop=2.83 on=0.71", "! notes.row 2:6 2.8"],
    ),
    (
        "a row with a cell too many",
        Utf8,
        "Clip,Lens,Stop\nC1,a,2,extra\nC2,b,4,\n",
        &["C2 lens=b stop=4", "! notes.row 2:8 extra"],
    ),
    (
        "a decimal comma between commas",
        Utf8,
        "Clip,Stop,Focus m\nC1,5,6,2\nC2,\"5,6\",2\n",
        &["C2 stop=5.66 focus=2", "! notes.row 2:8 2"],
    ),
    (
        "headings unknown and doubled",
        Utf8,
        "Clip,Lenz,Lens,Stop,Iris\nC1,x,a,2,4\n",
        &["C1 lens=a stop=2", "! notes.heading 1:6 Lenz", "! notes.heading 1:21 Iris"],
    ),
    (
        "a column without heading",
        Utf8,
        "Clip,Stop,\nC1,2,x\nC2,4,y\n",
        &["C1 stop=2", "C2 stop=4", "! notes.heading 2:6 x"],
    ),
    (
        "a quotation mark never closed",
        Utf8,
        "Clip,Lens,Stop\nC1,\"oops,2\nC2,b,4\n",
        &["C1 stop=2", "C2 lens=b stop=4", "! notes.cell 2:4 \"oops"],
    ),
    (
        "signs that steer a terminal",
        Utf8,
        "Clip,Lens,Stop\nC1,a\u{1b}[2J,2\n",
        &["C1 stop=2", "! notes.cell 2:4 a\u{1b}[2J"],
    ),
    (
        "thousands or decimals",
        Utf8,
        "Clip;Focal mm;Stop\nC1;1,234;2\n",
        &["C1 stop=2", "! notes.cell 2:4 1,234"],
    ),
    (
        "spaces of all kinds",
        Utf8,
        "Clip,Lens,Focal mm\n\u{200b}C1\u{a0}, Sorrel 50\u{a0},35\u{202f}mm\n",
        &["C1 lens=Sorrel 50 focal=35"],
    ),
    (
        "many slips in one row",
        Utf8,
        "Clip,Lens,Focal mm,Stop,Focus m,Reducer\nC1,a,3S,2.8.5,far,0.71\n",
        &[
            "C1 lens=a on=0.71",
            "! notes.cell 2:6 3S",
            "! notes.cell 2:9 2.8.5",
            "! notes.cell 2:15 far",
        ],
    ),
    ("an empty file", Utf8, "", &["! notes.no-header"]),
    ("no headings", Utf8, "C1,a,2\nC2,b,4\n", &["! notes.no-header"]),
    ("headings with a slip each", Utf8, "Klip,Lenz,Stopp\nC1,a,2\n", &["! notes.no-header"]),
    ("no text", Utf8, "\0\0\0\0\0\0\0\0\0\0\0\0", &["! notes.unreadable"]),
];

#[test]
fn difficult_sheets_are_read_as_expected() {
    assert!(CASES.len() >= 60, "{} cases", CASES.len());
    let mut wrong = Vec::new();
    for (name, encoding, text, expected) in CASES {
        let found = parse("notes.csv", &encoding.bytes(text));
        let reading = reading(&found);
        if reading != *expected {
            wrong.push(format!("{name}:\n  expected {expected:#?}\n  read {reading:#?}"));
        }
        // Whatever is refused says what to do.
        for finding in &found.findings {
            assert!(finding.hint.is_some(), "{name}: {finding:?}");
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), CASES.len(), wrong.join("\n"));
}

#[test]
fn difficult_sheets_are_recognised() {
    for (name, encoding, text, _) in CASES {
        let headings =
            ["Lens", "lens", "Stop", "Iris", "Zoom", "Focal", "Focus", "Reducer", "Adapter"];
        let tells =
            headings.iter().any(|heading| text.contains(heading)) && !name.contains("slip each");
        assert_eq!(looks_like_notes(&encoding.bytes(text)), tells, "{name}");
    }
}

#[test]
fn a_fault_says_what_was_understood_and_what_to_write() {
    let text = "Clip,Lens,Focal mm,Stop,Focus m,Reducer\nC1,Sorrel 50,35,2.8.5,2.4,0.71\n";
    let found = parse("notes.csv", text.as_bytes());
    let [finding] = &found.findings[..] else { panic!("{:?}", found.findings) };
    assert_eq!(finding.message, "\"2.8.5\" under \"Stop\" is no stop");
    let understood = finding.understood.as_deref().unwrap();
    assert_eq!(understood, "\"C1\": lens \"Sorrel 50\", 35 mm, attachment \"0.71\", focus 2.4 m");
    assert!(finding.hint.as_deref().unwrap().contains("T2.8"), "{finding:?}");
    let slip = parse("notes.csv", b"Klip,Lenz,Stopp\nC1,a,2\n");
    let hint = slip.findings[0].hint.as_deref().unwrap();
    assert!(hint.starts_with("is \"Klip\" meant to be clip?"), "{hint}");
}

#[test]
fn a_cell_full_of_ranges_becomes_few() {
    let cell: Vec<String> = (0..400).map(|n| format!("C{}-C{}", n % 9, 1000 + n)).collect();
    let text = format!("Clip,Stop\n\"{}\",2\n", cell.join(","));
    let found = parse("notes.csv", text.as_bytes());
    assert_eq!(reading(&found), ["C0~C1399 stop=2"]);
}
