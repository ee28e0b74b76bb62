//! Lens notes: rows in every dialect read back the same, faults are pointed at, hostile bytes do no harm.

#![allow(clippy::unwrap_used, reason = "a helper that finds nothing fails its test")]

use lensmend::finding::{Code, Finding, Spot};
use lensmend::notes::{
    AttachmentNote, ClipNames, FocalNote, NoteRow, Notes, StopNote, Target, looks_like_notes, parse,
};
use lensmend::units::Unit;
use proptest::prelude::*;

/// What is written for one row, in numbers of tenths so that every dialect can print it.
#[derive(Clone, Debug)]
struct Row {
    clip: u32,
    last: Option<u32>,
    lens: String,
    focal: u32,
    stop: Option<(&'static str, f64)>,
    focus: u32,
    bare: bool,
    circled: bool,
    remarks: String,
}

/// How a sheet is written.
#[derive(Clone, Debug)]
struct Dialect {
    delimiter: u8,
    comma: bool,
    encoding: usize,
    quotes: csv::QuoteStyle,
    line_end: csv::Terminator,
    titles: bool,
    order: Vec<usize>,
}

const HEADINGS: [&str; 8] =
    ["Clip Name", "LENS", "Focal (mm)", "T-Stop", "Focus [m]", "Adaptor", "Circle", "Notes"];

fn rows() -> impl Strategy<Value = Vec<Row>> {
    let stops = [("1.4", std::f64::consts::SQRT_2), ("2", 2.0), ("5.6", 5.656_854_249_492_381)];
    let row = (
        1u32..900,
        prop::option::of(0u32..50),
        "[A-Z][a-zé]{2,8}( [0-9]{2})?",
        10u32..4000,
        prop::option::of(prop::sample::select(stops.to_vec())),
        1u32..300,
        any::<bool>(),
        any::<bool>(),
        "r [a-zé ,;\"'0-9\n\t]{0,20}e",
    );
    let row = row.prop_map(|(clip, more, lens, focal, stop, focus, bare, circled, remarks)| Row {
        clip,
        last: more.map(|more| clip + more),
        lens,
        focal,
        stop,
        focus,
        bare,
        circled,
        remarks,
    });
    prop::collection::vec(row, 1..8)
}

fn dialects() -> impl Strategy<Value = Dialect> {
    let order = Just((0..HEADINGS.len()).collect::<Vec<_>>()).prop_shuffle();
    let delimiter = prop::sample::select(vec![b',', b';', b'\t']);
    let flags = (any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>());
    (delimiter, 0usize..5, flags, order).prop_map(|(delimiter, encoding, flags, order)| Dialect {
        delimiter,
        comma: flags.0,
        encoding,
        quotes: if flags.1 { csv::QuoteStyle::Always } else { csv::QuoteStyle::Necessary },
        line_end: if flags.2 { csv::Terminator::CRLF } else { csv::Terminator::Any(b'\n') },
        titles: flags.3,
        order,
    })
}

fn write(rows: &[Row], dialect: &Dialect) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new()
        .delimiter(dialect.delimiter)
        .flexible(true)
        .quote_style(dialect.quotes)
        .terminator(dialect.line_end)
        .from_writer(Vec::new());
    if dialect.titles {
        writer.write_record(["Lens notes", "Day 3"]).unwrap();
        writer.write_record(["", ""]).unwrap();
    }
    let mut line = |cells: [String; 8]| {
        let shuffled: Vec<_> = dialect.order.iter().map(|at| cells[*at].clone()).collect();
        writer.write_record(shuffled).unwrap();
    };
    line(HEADINGS.map(str::to_owned));
    let sign = |text: String| {
        if dialect.comma { text.replace('.', ",") } else { text }
    };
    let tenths = |n: u32| sign(format!("{}.{}", n / 10, n % 10));
    for row in rows {
        line([
            match row.last {
                Some(last) => format!("C{:03}-C{last:03}", row.clip),
                None => format!("C{:03}", row.clip),
            },
            row.lens.clone(),
            tenths(row.focal),
            row.stop.map(|(mark, _)| sign(mark.to_owned())).unwrap_or_default(),
            tenths(row.focus),
            if row.bare { "-" } else { "0.71" }.to_owned(),
            if row.circled { "x" } else { "" }.to_owned(),
            row.remarks.clone(),
        ]);
    }
    encode(&String::from_utf8(writer.into_inner().unwrap()).unwrap(), dialect.encoding)
}

fn encode(text: &str, encoding: usize) -> Vec<u8> {
    let units = |text: &str| text.encode_utf16().collect::<Vec<_>>();
    let marked = format!("\u{feff}{text}");
    match encoding {
        0 => text.as_bytes().to_vec(),
        1 => marked.into_bytes(),
        2 => units(&marked).into_iter().flat_map(u16::to_le_bytes).collect(),
        3 => units(&marked).into_iter().flat_map(u16::to_be_bytes).collect(),
        _ => encoding_rs::WINDOWS_1252.encode(text).0.into_owned(),
    }
}

/// What a row was read as, in the words of [`Row`].
fn check(row: &Row, read: &NoteRow) {
    let first = format!("C{:03}", row.clip);
    let clip = match row.last {
        Some(last) => ClipNames::Range(first, format!("C{last:03}")),
        None => ClipNames::One(first),
    };
    assert_eq!(read.target, Target::Clips(vec![clip]));
    assert_eq!(read.lens.as_ref().unwrap().value, row.lens);
    let FocalNote::At(focal) = read.focal.as_ref().unwrap().value else { panic!("{read:?}") };
    let focal = focal.number();
    assert!((focal * 10.0 - f64::from(row.focal)).abs() < 1e-9);
    let focus = read.focus.as_ref().unwrap().value.number();
    assert!((focus * 10.0 - f64::from(row.focus)).abs() < 1e-9);
    match (row.stop, read.stop.as_ref().map(|stop| stop.value)) {
        (None, None) => {}
        (Some((_, exact)), Some(StopNote::T(t))) => assert!((t.get() - exact).abs() < 1e-12),
        (wanted, found) => panic!("{wanted:?} was read as {found:?}"),
    }
    let attachment = read.attachment.as_ref().unwrap();
    assert_eq!(attachment.value == AttachmentNote::Nothing, row.bare);
    let circled = read.circled.as_ref().map(|circled| circled.value);
    assert_eq!(circled, row.circled.then_some(true));
    assert_eq!(read.remarks.as_ref().unwrap().value, row.remarks);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn rows_read_back_from_any_dialect(rows in rows(), dialect in dialects()) {
        let bytes = write(&rows, &dialect);
        prop_assert!(looks_like_notes(&bytes));
        let found = parse("notes.csv", &bytes);
        let others: Vec<_> = found
            .findings
            .iter()
            .filter(|finding| finding.code != Code::NotesEncoding)
            .collect();
        prop_assert!(others.is_empty(), "{:?}", others);
        prop_assert_eq!(found.value.rows.len(), rows.len());
        for (row, read) in rows.iter().zip(&found.value.rows) {
            check(row, read);
        }
    }

    #[test]
    fn hostile_bytes_do_no_harm(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        parse("notes.csv", &bytes);
        looks_like_notes(&bytes);
    }

    #[test]
    fn hostile_cells_do_no_harm(text in "(Clip|Roll)[,;]Stop[,;]Focus m[,;]mm\n[C0-9,;\"'/.+½ \n\r-]{0,200}") {
        parse("notes.csv", text.as_bytes());
    }

    #[test]
    fn damaged_notes_do_no_harm(
        rows in rows(),
        dialect in dialects(),
        blows in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..20),
        cut in any::<prop::sample::Index>(),
    ) {
        let mut bytes = write(&rows, &dialect);
        for (at, byte) in blows {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        let cut = cut.index(bytes.len());
        for bytes in [&bytes[..], &bytes[..cut]] {
            parse("notes.csv", bytes);
            looks_like_notes(bytes);
        }
    }
}

/// Code, line, column and the part of the line that a finding means.
fn pointed(finding: &Finding) -> (Code, u64, u64, String) {
    let Some(Spot::Text { line, column, excerpt, .. }) = finding.place.as_ref().map(|p| &p.spot)
    else {
        panic!("{finding:?} points at no text")
    };
    let excerpt = excerpt.as_ref().unwrap();
    let part = excerpt.line[excerpt.part.clone()].to_owned();
    (finding.code, *line, *column, part)
}

#[test]
fn every_fault_is_pointed_at_in_one_run() {
    let text = "Day 3\n\nClip;Lenz;Lens;Focal mm;Stop;Focus;Reducer\n\
        C003;a;Sorrel 50;50;2.8.5;2,4 m;0.71\n\
        ;;;;;;\n\
        C004;;Sorrel 50;24-70; abc ;2.4;-\n\
        ;;Sorrel 50;50;2;;\n\
        C009-C005;;Sorrel 50;50;2;;\n\
        \"C010\nC011\";;\"Bühne\";0;4;\"6'3\"\"\";bare\n\
        C012;;x;50;2;1 m;-;zu viel\n";
    let found = parse("notes.csv", text.as_bytes());
    let pointed: Vec<_> = found.findings.iter().map(pointed).collect();
    let expected = [
        (Code::NotesHeading, 3, 6, "Lenz"),
        (Code::NotesCell, 4, 21, "2.8.5"),
        (Code::NotesCell, 6, 17, "24-70"),
        (Code::NotesCell, 6, 24, "abc"),
        (Code::NotesCell, 6, 29, "2.4"),
        (Code::NotesRow, 7, 1, ";;Sorrel 50;50;2;;"),
        (Code::NotesRow, 8, 1, "C009-C005"),
        (Code::NotesCell, 10, 16, "0"),
        (Code::NotesRow, 11, 20, "zu viel"),
    ];
    let expected = expected.map(|(code, line, column, part)| (code, line, column, part.to_owned()));
    assert_eq!(pointed, expected);
    for finding in &found.findings {
        assert!(finding.hint.is_some(), "{finding:?}");
    }
    // What was good in those rows is used.
    let rows = &found.value.rows;
    assert_eq!(rows.iter().map(|row| row.line).collect::<Vec<_>>(), [4, 6, 9]);
    assert!(rows[0].stop.is_none() && rows[0].focus.is_some() && rows[0].focal.is_some());
    assert_eq!(rows[1].attachment.as_ref().unwrap().value, AttachmentNote::Nothing);
    assert_eq!(rows[2].lens.as_ref().unwrap().value, "Bühne");
    assert_eq!(rows[2].stop.as_ref().unwrap().value, StopNote::Unsaid(4.0));
}

fn read(text: &str) -> (Notes, Vec<Code>) {
    let found = parse("notes.csv", text.as_bytes());
    let codes = found.findings.iter().map(|finding| finding.code).collect();
    (found.value, codes)
}

#[test]
fn ditto_marks_repeat_the_cell_above() {
    for mark in ["\"\"\"\"", "\"", "''", "〃", "do.", "ditto", " \" "] {
        let text = format!(
            "Clip,Lens,Stop,Remarks\nC003,Sorrel 50,T2.8,wet\n{mark},{mark},4,{mark}\n,,,\nC005,{mark},{mark},\nC006,Sorrel 85,{mark},{mark}\n"
        );
        let (notes, codes) = read(&text);
        let lenses: Vec<_> =
            notes.rows.iter().map(|row| &row.lens.as_ref().unwrap().value[..]).collect();
        assert_eq!(lenses, ["Sorrel 50", "Sorrel 50", "Sorrel 50", "Sorrel 85"], "{mark}");
        assert_eq!(notes.rows[1].target, notes.rows[0].target, "{mark}");
        assert_eq!(notes.rows[1].remarks.as_ref().unwrap().typed, "wet", "{mark}");
        assert_eq!(notes.rows[3].stop.as_ref().unwrap().value, StopNote::Unsaid(4.0), "{mark}");
        // The cell above the last remark is empty, so there is nothing to repeat.
        assert_eq!(codes, [Code::NotesCell], "{mark}");
        assert!(notes.rows[3].remarks.is_none(), "{mark}");
    }
}

#[test]
fn rows_speak_of_clips_or_of_rolls() {
    let roll = || Target::Roll("A003".to_owned());
    let clip = |name: &str| Target::Clips(vec![ClipNames::One(name.to_owned())]);
    for (row, target) in [
        ("C003,A003,2", Some(clip("C003"))),
        (",A003,2", Some(roll())),
        ("n/a,A003,2", Some(roll())),
        ("*,A003,2", Some(roll())),
        ("all,A003,2", Some(roll())),
        ("all,,2", None),
        (",,2", None),
        ("?,A003,2", None),
        ("C009-C003,A003,2", None),
        ("\",A003,2", None),
    ] {
        let (notes, codes) = read(&format!("Clip,Roll,Stop\n{row}\n"));
        let found = notes.rows.first().map(|row| row.target.clone());
        assert_eq!(found, target, "{row}");
        let expected: &[Code] = if target.is_some() { &[] } else { &[Code::NotesRow] };
        assert_eq!(codes, expected, "{row}");
    }
}

#[test]
fn files_that_are_no_notes() {
    for (text, code) in [
        ("", Code::NotesNoHeader),
        ("a,b\n1,2\n", Code::NotesNoHeader),
        ("PK\u{3}\u{4}", Code::NotesUnreadable),
    ] {
        let (notes, codes) = read(text);
        assert!(notes.rows.is_empty());
        assert_eq!(codes, [code], "{text:?}");
    }
    for (text, looks) in [
        ("Clip,Lens\n", true),
        ("title\nReel;Iris\n", true),
        ("Clip,Take\n", false),
        ("Lens,Stop\n", false),
    ] {
        assert_eq!(looks_like_notes(text.as_bytes()), looks, "{text:?}");
    }
}

#[test]
fn headings_stand_again_twice_or_nowhere() {
    let text = "Clip,Stop,Iris,\nC003,2,4,\nclip,STOP,Iris,\nC004,2.8,4,what\nC005,2,,more\n";
    let (notes, codes) = read(text);
    assert_eq!(codes, [Code::NotesHeading, Code::NotesHeading]);
    assert_eq!(notes.rows.len(), 3);
    assert_eq!(notes.rows[0].stop.as_ref().unwrap().value, StopNote::Unsaid(2.0));
}

#[test]
fn a_decimal_comma_that_shifts_a_row_is_noticed() {
    for (row, codes) in [
        ("C003,5,6,2 m,wet", &[Code::NotesRow][..]),
        ("C003,5,6,2 m,", &[Code::NotesRow]),
        ("C003,\"5,6\",2 m,wet", &[]),
        ("C003,T4,2 m,,", &[Code::NotesRow]),
        ("C003,T2.8,2 m,wet,", &[]),
    ] {
        let (notes, found) = read(&format!("Clip,Stop,Focus,Remarks\n{row}\n"));
        assert_eq!(found, codes, "{row}");
        assert_eq!(notes.rows.len(), 1 - codes.len(), "{row}");
    }
}

#[test]
fn a_quotation_mark_that_is_never_closed_costs_its_cell_alone() {
    let (notes, codes) = read("Clip,Lens,Stop\nC003,a,2\nC004,\"oops,2\nC005,b,2\n");
    let lenses: Vec<_> = notes.rows.iter().map(|row| row.lens.is_some()).collect();
    assert_eq!(lenses, [true, false, true]);
    assert_eq!(codes, [Code::NotesCell]);
}

#[test]
fn large_hostile_files_take_bounded_time() {
    for piece in ["\"", ",", "\",", "\",\"\n", "C1,\"\n", "\n", "C1-", "C1 ", "?,\"\"\"\"\n"] {
        let text = format!("Clip,Stop\n{}", piece.repeat(400_000 / piece.len()));
        parse("notes.csv", text.as_bytes());
    }
}
