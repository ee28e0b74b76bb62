//! A file to notes: which encoding, which sheet, which headings, then row by row.

use std::sync::Arc;

use crate::finding::{Code, Finding, Found, Place, near};

use super::book::{self, Book, Refusal};
use super::cells::Line;
use super::columns::{self, Layout};
use super::context::{self, Context};
use super::headings::Column;
use super::memory::Memory;
use super::sheet::{self, Source};
use super::{NoteRow, Notes, row, text};

/// Rows that are read from one file: more than any production writes.
const MAX_ROWS: usize = 100_000;
/// How much of a file is looked at to tell whether it holds lens notes.
const GLANCE: usize = 64 << 10;
/// Sheets of a workbook that are looked at.
const MOST_SHEETS: usize = 64;

/// A workbook does not have the sheet that was asked for; it has these.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetMissing(pub Vec<String>);

/// Reads the notes in `bytes`; `file` is the name by which findings speak of them.
///
/// Everything that could not be read is a finding, all of them in one run; the other cells and rows are used. Of a
/// workbook it is the first sheet that is shown and looks like lens notes.
pub fn parse(file: &str, bytes: &[u8]) -> Found<Notes> {
    // Without a wish for a sheet none can be missing.
    parse_sheet(file, bytes, None).unwrap_or_else(|_| Found {
        value: Notes { file: file.into(), sheet: None, rows: Vec::new() },
        findings: Vec::new(),
    })
}

/// Reads the notes in `bytes`, of a workbook those in `sheet`; case does not count. The error tells the sheets that it
/// has instead. A file that is no workbook has no sheets, and is read whatever is asked for.
pub fn parse_sheet(
    file: &str,
    bytes: &[u8],
    sheet: Option<&str>,
) -> Result<Found<Notes>, SheetMissing> {
    let file: Arc<str> = file.into();
    if book::is_book(bytes) {
        return of_book(&file, bytes, sheet);
    }
    let (text, finding) = text::decode(&file, bytes);
    let mut findings: Vec<Finding> = finding.into_iter().collect();
    let mut rows = Vec::new();
    if let Some(text) = text {
        match columns::layout::<Column>(&text) {
            Some(layout) => rows = read(&file, &Source::text(&text), layout, &mut findings),
            None => findings.push(no_header(&file, &text)),
        }
    }
    Ok(Found { value: Notes { file, sheet: None, rows }, findings })
}

/// True where a file looks like lens notes: a row of headings names a clip or roll, and one of lens, focal length,
/// stop, attachment and focus. Meant for finding the notes in a folder; of text it looks at the beginning alone.
pub fn looks_like_notes(bytes: &[u8]) -> bool {
    if book::is_book(bytes) {
        return Book::open(bytes).is_ok_and(|mut book| !fitting(&mut book).0.is_empty());
    }
    // An even cut keeps the pairs of UTF-16 whole; a letter of UTF-8 that is cut does no harm to headings.
    let glance = bytes.get(..GLANCE).unwrap_or(bytes);
    let (text, _) = text::decode(&"".into(), glance);
    text.and_then(|text| columns::layout::<Column>(&text)).is_some_and(|layout| layout.tells_lens())
}

/// A sheet with its headings found.
struct Candidate {
    name: String,
    sheet: book::Sheet,
    layout: Layout<Column>,
}

fn candidate(book: &mut Book<'_>, name: &str) -> Result<Result<Candidate, book::Sheet>, Refusal> {
    let sheet = book.sheet(name)?;
    Ok(match columns::layout_of::<Column>(&sheet.shown, b",") {
        Some(layout) => Ok(Candidate { name: name.to_owned(), sheet, layout }),
        None => Err(sheet),
    })
}

/// Names of the sheets that are shown and look like lens notes, and why others could not be read.
fn fitting(book: &mut Book<'_>) -> (Vec<String>, Option<Refusal>) {
    let (mut names, mut refused) = (Vec::new(), None);
    for (name, _) in book.sheets().into_iter().filter(|(_, shown)| *shown).take(MOST_SHEETS) {
        match candidate(book, &name) {
            Ok(Ok(found)) if found.layout.tells_lens() => names.push(name),
            Ok(_) => {}
            Err(why) => refused = refused.or(Some(why)),
        }
    }
    (names, refused)
}

fn of_book(
    file: &Arc<str>,
    bytes: &[u8],
    wanted: Option<&str>,
) -> Result<Found<Notes>, SheetMissing> {
    let mut notes = Notes { file: file.clone(), sheet: None, rows: Vec::new() };
    let mut findings = Vec::new();
    let unreadable = |why: Refusal| {
        Finding::new(Code::NotesUnreadable, why.message)
            .at(Place::file(file.clone()))
            .hint(why.hint)
    };
    let mut book = match Book::open(bytes) {
        Ok(book) => book,
        Err(why) => return Ok(Found { value: notes, findings: vec![unreadable(why)] }),
    };
    let all: Vec<String> = book.sheets().into_iter().map(|(name, _)| name).collect();
    let name = if let Some(wanted) = wanted {
        let same = |name: &&String| name.trim().to_lowercase() == wanted.trim().to_lowercase();
        Some(all.iter().find(same).ok_or_else(|| SheetMissing(all.clone()))?.clone())
    } else {
        let (fit, refused) = fitting(&mut book);
        findings.extend(refused.map(unreadable));
        findings.extend(several(file, &fit));
        // With no sheet that fits, the only one is what is meant, and its findings say why it cannot be used.
        fit.into_iter().next().or_else(|| (all.len() == 1).then(|| all.first().cloned()).flatten())
    };
    let read_sheet = name.as_ref().map(|name| candidate(&mut book, name));
    match read_sheet {
        Some(Ok(Ok(Candidate { name, sheet, layout }))) => {
            if sheet.beyond {
                let message = "cells far to the right or far below were not read";
                let finding = Finding::new(Code::NotesHeading, message)
                    .at(Place::file(file.clone()))
                    .hint("keep the notes within 256 columns and 200000 rows");
                findings.push(finding);
            }
            notes.rows =
                read(file, &Source::grid(&sheet.shown, &sheet.marked), layout, &mut findings);
            notes.sheet = Some(name);
        }
        Some(Ok(Err(sheet))) => findings.push(no_header(file, &sheet.shown)),
        Some(Err(why)) if findings.is_empty() => findings.push(unreadable(why)),
        Some(Err(_)) => {}
        None => findings.push(no_header(file, "no sheet")),
    }
    Ok(Found { value: notes, findings })
}

/// Several sheets hold notes and one is read: the others are lost until somebody says which is meant.
fn several(file: &Arc<str>, fit: &[String]) -> Option<Finding> {
    let (first, others) = fit.split_first().filter(|(_, others)| !others.is_empty())?;
    let others: Vec<String> = others.iter().map(|name| super::cells::quoted(name)).collect();
    let message = format!(
        "sheet {} was read; {} {} lens notes too",
        super::cells::quoted(first),
        others.join(", "),
        if others.len() == 1 { "holds" } else { "hold" }
    );
    let finding = Finding::new(Code::NotesSheets, message).at(Place::file(file.clone()));
    Some(finding.hint("name the sheet with --sheet NAME, or keep each sheet in a file of its own"))
}

fn read(
    file: &Arc<str>,
    source: &Source<'_>,
    layout: Layout<Column>,
    findings: &mut Vec<Finding>,
) -> Vec<NoteRow> {
    let mut rows = Vec::new();
    let (mut memory, mut context) = (Memory::default(), Context::default());
    let (origin, place) = layout.above(file);
    context.begin(context::title(&layout.titles), &origin, &place);
    sheet::read(file, source, layout, MAX_ROWS, findings, |line| match line {
        Line::Cells(cells) => {
            let row = row::read(cells, &mut memory, &mut context);
            let used = row.is_some();
            rows.extend(row);
            used
        }
        // Ditto marks below would repeat cells of which nobody knows where they belong.
        Line::Unusable => {
            memory = Memory::default();
            context.clips = None;
            false
        }
    });
    rows
}

fn no_header(file: &Arc<str>, text: &str) -> Finding {
    let message = if text.trim().is_empty() {
        "the file is empty"
    } else {
        "no row of the file names a clip or roll and what was noted of it"
    };
    let hint = "let the first row say what the columns are: Clip, Lens, Focal mm, Stop, Attachment, Focus m";
    // The row that comes nearest, if a slip or two is all that is wrong with it.
    let words: Vec<&str> = columns::words::<Column>().collect();
    let slip = text.lines().take(30).find_map(|line| {
        let cells = line.split([',', ';', '\t']).map(|cell| cell.trim().trim_matches('"'));
        let known = |cell: &&str| (3..40).contains(&cell.len());
        let slips: Vec<(&str, &str)> = cells
            .take(40)
            .filter(known)
            .filter_map(|cell| Some((cell, *near(cell, words.iter().copied()).first()?)))
            .collect();
        let other = slips.iter().find(|(cell, word)| columns::key(cell) != columns::key(word));
        (slips.len() > 1).then(|| other.copied()).flatten()
    });
    let finding = Finding::new(Code::NotesNoHeader, message).at(Place::file(file.clone()));
    match slip {
        Some((typed, word)) => finding.hint(format!(
            "is \"{}\" meant to be {word}? {hint}",
            typed.chars().take(40).collect::<String>()
        )),
        None => finding.hint(hint),
    }
}
