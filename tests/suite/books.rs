//! Lens notes in spreadsheet documents: typed cells read as what was typed, sheets chosen, hostile documents refused.
//!
//! XLSX is written by another library; ODS by hand, as OASIS `OpenDocument` 1.3, part 3, 9.1 (tables) and 19.385
//! (types of cells) has it.

use std::io::{Cursor, Write};

use lensmend::notes::{SheetMissing, looks_like_notes, parse, parse_sheet};
use proptest::prelude::*;
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook, Worksheet};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use crate::wild::{Encoding, reading};

/// A sheet: its name, and what fills it.
type Filled<'f> = (&'f str, &'f dyn Fn(&mut Worksheet));

fn xlsx(sheets: &[Filled<'_>]) -> Vec<u8> {
    let mut book = Workbook::new();
    for (name, fill) in sheets {
        let sheet = book.add_worksheet();
        sheet.set_name(*name).unwrap();
        fill(sheet);
    }
    book.save_to_buffer().unwrap()
}

fn headings(sheet: &mut Worksheet, row: u32, headings: &[&str]) {
    for (column, heading) in (0..).zip(headings) {
        sheet.write_string(row, column, *heading).unwrap();
    }
}

fn zipped(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// An ODS with sheets of rows in XML.
fn ods(sheets: &[(&str, String)]) -> Vec<u8> {
    let table = |(name, rows): &(&str, String)| {
        format!("<table:table table:name=\"{name}\">{rows}</table:table>")
    };
    let tables = sheets.iter().map(table).collect::<Vec<_>>().concat();
    let content = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><office:document-content \
         xmlns:office=\"urn:oasis:names:tc:opendocument:xmlns:office:1.0\" \
         xmlns:table=\"urn:oasis:names:tc:opendocument:xmlns:table:1.0\" \
         xmlns:text=\"urn:oasis:names:tc:opendocument:xmlns:text:1.0\" office:version=\"1.3\">\
         <office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"
    );
    zipped(&[
        ("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"),
        ("content.xml", content.as_bytes()),
        ("META-INF/manifest.xml", b"<manifest:manifest xmlns:manifest=\"urn:oasis:names:tc:opendocument:xmlns:manifest:1.0\"/>"),
    ])
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;")
}

fn text_cell(text: &str) -> String {
    let line = |line: &str| format!("<text:p>{}</text:p>", escaped(line));
    let lines = text.split('\n').map(line).collect::<Vec<_>>().concat();
    format!("<table:table-cell office:value-type=\"string\">{lines}</table:table-cell>")
}

fn ods_row(cells: &[String]) -> String {
    format!("<table:table-row>{}</table:table-row>", cells.concat())
}

fn ods_texts(cells: &[&str]) -> String {
    let cell = |text: &&str| {
        if text.is_empty() { "<table:table-cell/>".to_owned() } else { text_cell(text) }
    };
    ods_row(&cells.iter().map(cell).collect::<Vec<_>>())
}

#[test]
fn typed_cells_of_a_workbook_are_what_was_typed() {
    let bytes = xlsx(&[("Day 3", &|sheet| {
        let titles =
            ["Clip", "Lens", "Focal mm", "Stop", "Reducer", "Focus m", "TC", "Circled", "Remarks"];
        headings(sheet, 0, &titles);
        let time = Format::new().set_num_format("hh:mm:ss");
        let date = Format::new().set_num_format("yyyy-mm-dd");
        // Numbers, a time, a yes.
        sheet.write_string(1, 0, "C003").unwrap();
        sheet.write_number(1, 1, 50).unwrap();
        sheet.write_number(1, 2, 17.5).unwrap();
        sheet.write_number(1, 3, 1.4).unwrap();
        sheet.write_number(1, 4, 0.71).unwrap();
        sheet.write_number(1, 5, 0.1 + 0.2).unwrap();
        sheet
            .write_datetime_with_format(1, 6, ExcelDateTime::from_hms(14, 32, 5.0).unwrap(), &time)
            .unwrap();
        sheet.write_boolean(1, 7, true).unwrap();
        // Texts with a decimal comma; a date where a stop was typed; a row further down.
        headings(sheet, 4, &["C004", "Sorrel, the \"50\"", "17,5", "1,4", "-"]);
        headings(sheet, 5, &["C005", "\"", "35>70"]);
        sheet
            .write_datetime_with_format(5, 3, ExcelDateTime::from_ymd(2026, 6, 5).unwrap(), &date)
            .unwrap();
        sheet.write_string(5, 8, "first line\nsecond").unwrap();
        let moment = ExcelDateTime::from_ymd(2026, 6, 5).unwrap().and_hms(14, 32, 5.0).unwrap();
        sheet.write_string(6, 0, "C006\nC008").unwrap();
        sheet
            .write_datetime_with_format(
                6,
                6,
                moment,
                &Format::new().set_num_format("yyyy-mm-dd hh:mm:ss"),
            )
            .unwrap();
        sheet.write_string(7, 0, "C007").unwrap();
        sheet.write_string(7, 11, "beyond").unwrap();
    })]);
    assert!(looks_like_notes(&bytes));
    let found = parse("notes.xlsx", &bytes);
    assert_eq!(found.value.sheet.as_deref(), Some("Day 3"));
    assert_eq!(
        reading(&found),
        [
            "C003 from=14:32:05 lens=50 focal=17.5 stop=1.41 on=0.71 focus=0.3 circled",
            "C004 lens=Sorrel, the \"50\" focal=17.5 stop=1.41 bare",
            "C005 lens=Sorrel, the \"50\" focal=35>70 remarks=first line/second",
            "C006|C008 from=14:32:05",
            "! notes.cell D6 2026-06-05",
            "! notes.heading L8 beyond",
        ]
    );
    let date = &found.findings[0];
    assert!(date.message.contains("is a date"), "{date:?}");
    assert!(date.hint.as_deref().unwrap().contains("as text"), "{date:?}");
}

#[test]
fn merged_cells_say_the_same_in_each_row() {
    let bytes = xlsx(&[("Notes", &|sheet| {
        sheet.merge_range(0, 0, 0, 3, "Day 3", &Format::new()).unwrap();
        headings(sheet, 1, &["Roll", "Clip", "Lens", "Stop"]);
        sheet.merge_range(2, 0, 4, 0, "A003", &Format::new()).unwrap();
        sheet.merge_range(2, 2, 3, 2, "Sorrel 50", &Format::new()).unwrap();
        for (row, clip, stop) in [(2, "C001", 2.0), (3, "C002", 2.8), (4, "C003", 4.0)] {
            sheet.write_string(row, 1, clip).unwrap();
            sheet.write_number(row, 3, stop).unwrap();
        }
    })]);
    let expected = [
        "C001 @A003 lens=Sorrel 50 stop=2",
        "C002 @A003 lens=Sorrel 50 stop=2.83",
        "C003 @A003 stop=4",
    ];
    assert_eq!(reading(&parse("notes.xlsx", &bytes)), expected);
    let merged = |text: &str, rows: u32| {
        text_cell(text).replacen(
            "<table:table-cell",
            &format!("<table:table-cell table:number-rows-spanned=\"{rows}\""),
            1,
        )
    };
    let covered = || "<table:covered-table-cell/>".to_owned();
    let rows = [
        ods_texts(&["Roll", "Clip", "Lens", "Stop"]),
        ods_row(&[merged("A003", 3), text_cell("C001"), merged("Sorrel 50", 2), text_cell("2")]),
        ods_row(&[covered(), text_cell("C002"), covered(), text_cell("2.8")]),
        ods_row(&[covered(), text_cell("C003"), "<table:table-cell/>".to_owned(), text_cell("4")]),
    ];
    assert_eq!(reading(&parse("notes.ods", &ods(&[("Notes", rows.concat())]))), expected);
}

#[test]
fn typed_cells_of_ods_are_what_was_typed() {
    let typed = |kind: &str, attribute: &str, value: &str| {
        format!(
            "<table:table-cell office:value-type=\"{kind}\" office:{attribute}=\"{value}\"><text:p>shown otherwise</text:p></table:table-cell>"
        )
    };
    let rows = [
        "<table:table-row table:number-rows-repeated=\"2\"><table:table-cell table:number-columns-repeated=\"1024\"/></table:table-row>".to_owned(),
        ods_texts(&["Clip", "Lens", "Focal mm", "Stop", "TC", "Remarks"]),
        ods_row(&[
            text_cell("C003"),
            text_cell("Umber & Co 24"),
            typed("float", "value", "17.5"),
            typed("float", "value", "1.4"),
            typed("time", "time-value", "PT14H32M05S"),
            text_cell("two\nlines"),
        ]),
        "<table:table-row table:number-rows-repeated=\"3\"><table:table-cell table:number-columns-repeated=\"6\"/></table:table-row>".to_owned(),
        ods_row(&[
            text_cell("C004"),
            "<table:table-cell table:number-columns-repeated=\"2\"/>".to_owned(),
            typed("date", "date-value", "2026-06-05"),
        ]),
        "<table:table-row table:number-rows-repeated=\"1048000\"><table:table-cell table:number-columns-repeated=\"1024\"/></table:table-row>".to_owned(),
    ];
    let bytes = ods(&[("Notes", rows.concat())]);
    assert!(looks_like_notes(&bytes));
    assert_eq!(
        reading(&parse("notes.ods", &bytes)),
        [
            "C003 from=14:32:05 lens=Umber & Co 24 focal=17.5 stop=1.41 remarks=two/lines",
            "C004",
            "! notes.cell D8 2026-06-05",
        ]
    );
}

#[test]
fn the_sheet_is_chosen_or_the_choice_is_said() {
    let notes = |clip: &'static str| {
        move |sheet: &mut Worksheet| {
            headings(sheet, 0, &["Clip", "Lens", "Stop"]);
            headings(sheet, 1, &[clip, "Sorrel 50", "2"]);
        }
    };
    let legend = |sheet: &mut Worksheet| headings(sheet, 0, &["Abbreviations"]);
    let (two, three) = (notes("C002"), notes("C003"));
    let one = xlsx(&[("Legend", &legend), ("Day 3", &three)]);
    let found = parse("notes.xlsx", &one);
    assert_eq!(found.value.sheet.as_deref(), Some("Day 3"));
    assert_eq!(reading(&found), ["C003 lens=Sorrel 50 stop=2"]);
    let both = xlsx(&[("Day 2", &two), ("Day 3", &three)]);
    let found = parse("notes.xlsx", &both);
    assert_eq!(reading(&found), ["C002 lens=Sorrel 50 stop=2", "! notes.sheets"]);
    assert!(found.findings[0].message.contains("\"Day 3\" holds"), "{:?}", found.findings);
    let chosen = parse_sheet("notes.xlsx", &both, Some("day 3")).unwrap();
    assert_eq!(reading(&chosen), ["C003 lens=Sorrel 50 stop=2"]);
    let missing = parse_sheet("notes.xlsx", &both, Some("Day 4"));
    assert_eq!(missing, Err(SheetMissing(vec!["Day 2".to_owned(), "Day 3".to_owned()])));
    // A sheet asked for that holds no notes says so.
    let legend = parse_sheet("notes.xlsx", &one, Some("Legend")).unwrap();
    assert_eq!(reading(&legend), ["! notes.no-header"]);
}

/// Documents that unpack to gigabytes, announce what they do not hold, or repeat a cell a billion times.
#[test]
fn hostile_documents_are_refused() {
    let rows = [
        ods_texts(&["Clip", "Stop"]),
        format!(
            "<table:table-row table:number-rows-repeated=\"1000000\">{}</table:table-row>",
            text_cell("a").replacen(
                "<table:table-cell",
                "<table:table-cell table:number-columns-repeated=\"16000\"",
                1
            )
        ),
    ];
    let repeated = ods(&[("Notes", rows.concat())]);
    let long = "a".repeat(60_000);
    let text = [
        ods_texts(&["Clip", "Stop"]),
        format!(
            "<table:table-row table:number-rows-repeated=\"10000\">{}</table:table-row>",
            text_cell(&long)
        ),
    ];
    let texts = ods(&[("Notes", text.concat())]);
    let bomb = zipped(&[("content.xml", &vec![b' '; 200 << 20])]);
    let announced = zipped(&[
        ("xl/sharedStrings.xml", b"<sst xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\" uniqueCount=\"99999999999\"><si><t>a</t></si></sst>"),
    ]);
    let whole = xlsx(&[("Notes", &|sheet| headings(sheet, 0, &["Clip", "Lens"]))]);
    let cut = &whole[..whole.len() / 2];
    for (name, bytes) in [
        ("repeated cells", &repeated[..]),
        ("repeated text", &texts),
        ("a bomb", &bomb),
        ("announced texts", &announced),
        ("cut off", cut),
        ("no archive", b"PK\x03\x04nothing more"),
        ("an empty archive", &zipped(&[])),
        ("another archive", &zipped(&[("readme.txt", b"hello")])),
    ] {
        assert!(!looks_like_notes(bytes), "{name}");
        let found = parse("notes.xlsx", bytes);
        assert!(found.value.rows.is_empty(), "{name}");
        assert_eq!(reading(&found), ["! notes.unreadable"], "{name}");
        assert!(found.findings[0].hint.is_some(), "{name}");
    }
}

/// What is written for one row: which of a few lenses, stops and reducers, so that rows often say the same.
#[derive(Clone, Debug)]
struct Row {
    clip: u32,
    lens: usize,
    focal: u32,
    stop: usize,
    reducer: usize,
    focus: u32,
    remarks: String,
}

const LENSES: [&str; 3] = ["Sorrel 50", "Umbér 24", "Z 24"];
const STOPS: [(&str, &str); 4] =
    [("", ""), ("2.8", " stop=T2.83"), ("5.6", " stop=T5.66"), ("WO", " stop=WO")];
const REDUCERS: [(&str, &str); 4] =
    [("", ""), ("0.71", " on=0.71"), ("none", " bare"), ("0.71 loose", " on=0.71 loose")];
const TITLES: [&str; 7] =
    ["Clip", "Lens", "Focal (mm)", "T-Stop", "Reducer", "Focus [m]", "Remarks"];

/// What a sheet is written in.
#[derive(Clone, Debug)]
enum Form {
    Text { delimiter: u8, encoding: Encoding },
    Xlsx,
    Ods,
}

#[derive(Clone, Debug)]
struct Dialect {
    form: Form,
    comma: bool,
    ditto: Option<&'static str>,
    order: Vec<usize>,
}

fn row() -> impl Strategy<Value = Row> {
    let numbers = (1u32..900, 0usize..3, 50u32..4000, 0usize..4, 0usize..4, 1u32..300);
    (numbers, "r [a-z é,;\"\n0-9]{0,12}e").prop_map(|(numbers, remarks)| {
        let (clip, lens, focal, stop, reducer, focus) = numbers;
        Row { clip, lens, focal, stop, reducer, focus, remarks }
    })
}

fn dialect() -> impl Strategy<Value = Dialect> {
    let text = (
        prop::sample::select(vec![b',', b';', b'\t']),
        prop::sample::select(Encoding::ALL.to_vec()),
    )
        .prop_map(|(delimiter, encoding)| Form::Text { delimiter, encoding });
    let form = prop_oneof![3 => text, 1 => Just(Form::Xlsx), 1 => Just(Form::Ods)];
    let ditto = prop::sample::select(vec![None, Some("\""), Some("do."), Some("''")]);
    let order = Just((0..TITLES.len()).collect::<Vec<_>>()).prop_shuffle();
    (form, any::<bool>(), ditto, order).prop_map(|(form, comma, ditto, order)| Dialect {
        form,
        comma,
        ditto,
        order,
    })
}

fn tenths(number: u32, comma: bool) -> String {
    format!("{}{}{}", number / 10, if comma { ',' } else { '.' }, number % 10)
}

/// The cells of a sheet, dittos and order applied.
fn table(rows: &[Row], dialect: &Dialect) -> Vec<Vec<String>> {
    let sign = |text: &str| if dialect.comma { text.replace('.', ",") } else { text.to_owned() };
    let mut above: Vec<String> = vec![String::new(); TITLES.len()];
    let mut table = vec![TITLES.map(str::to_owned).to_vec()];
    for row in rows {
        let cells = vec![
            format!("C{:03}", row.clip),
            LENSES[row.lens].to_owned(),
            tenths(row.focal, dialect.comma),
            sign(STOPS[row.stop].0),
            REDUCERS[row.reducer].0.to_owned(),
            tenths(row.focus, dialect.comma),
            row.remarks.clone(),
        ];
        let repeated = cells.iter().zip(&above).map(|(cell, above)| match dialect.ditto {
            Some(mark) if cell == above && !cell.is_empty() => mark.to_owned(),
            _ => cell.clone(),
        });
        table.push(repeated.collect());
        above = cells;
    }
    table.into_iter().map(|row| dialect.order.iter().map(|at| row[*at].clone()).collect()).collect()
}

fn written(rows: &[Row], dialect: &Dialect) -> Vec<u8> {
    let table = table(rows, dialect);
    match &dialect.form {
        Form::Text { delimiter, encoding } => {
            let mut writer =
                csv::WriterBuilder::new().delimiter(*delimiter).from_writer(Vec::new());
            for row in &table {
                writer.write_record(row).unwrap();
            }
            encoding.bytes(&String::from_utf8(writer.into_inner().unwrap()).unwrap())
        }
        Form::Xlsx => xlsx(&[("Notes", &|sheet| {
            for (at, row) in (0..).zip(&table) {
                for (column, cell) in (0..).zip(row) {
                    // A spreadsheet keeps a number as one.
                    match cell.parse::<f64>() {
                        Ok(number) => sheet.write_number(at, column, number).unwrap(),
                        Err(_) if cell.is_empty() => continue,
                        Err(_) => sheet.write_string(at, column, cell).unwrap(),
                    };
                }
            }
        })]),
        Form::Ods => {
            let rows: String = table
                .iter()
                .map(|row| ods_texts(&row.iter().map(String::as_str).collect::<Vec<_>>()))
                .collect();
            ods(&[("Notes", rows)])
        }
    }
}

fn expected(row: &Row) -> String {
    let number = |tenths: u32| {
        let text = self::tenths(tenths, false);
        text.strip_suffix(".0").unwrap_or(&text).to_owned()
    };
    let (reducer, sat) = match REDUCERS[row.reducer].1.strip_suffix(" loose") {
        Some(reducer) => (reducer, " loose"),
        None => (REDUCERS[row.reducer].1, ""),
    };
    format!(
        "C{:03} lens={} focal={}{}{reducer}{sat} focus={} remarks={}",
        row.clip,
        LENSES[row.lens],
        number(row.focal),
        STOPS[row.stop].1,
        number(row.focus),
        row.remarks.replace('\n', "/")
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn rows_read_back_from_any_sheet(rows in prop::collection::vec(row(), 1..8), dialect in dialect()) {
        let bytes = written(&rows, &dialect);
        prop_assert!(looks_like_notes(&bytes));
        let found = parse("notes", &bytes);
        let read: Vec<String> =
            reading(&found).into_iter().filter(|line| line != "! notes.encoding").collect();
        let expected: Vec<String> = rows.iter().map(expected).collect();
        prop_assert_eq!(read, expected, "{:?}", dialect);
    }

    #[test]
    fn damaged_workbooks_do_no_harm(
        kind in any::<bool>(),
        blows in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        cut in any::<prop::sample::Index>(),
    ) {
        let mut bytes = if kind {
            xlsx(&[("Notes", &|sheet| {
                headings(sheet, 0, &["Clip", "Lens", "Stop"]);
                headings(sheet, 1, &["C001", "Sorrel 50", "2"]);
            })])
        } else {
            ods(&[("Notes", [ods_texts(&["Clip", "Lens", "Stop"]), ods_texts(&["C001", "a", "2"])].concat())])
        };
        for (at, byte) in blows {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        let cut = cut.index(bytes.len());
        for bytes in [&bytes[..], &bytes[..cut]] {
            parse("notes.xlsx", bytes);
            looks_like_notes(bytes);
        }
    }
}
