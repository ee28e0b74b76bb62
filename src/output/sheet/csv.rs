//! The sheet as CSV: a block of words above, which the notes reader passes over, then headings and rows.

use anyhow::Result;

use crate::output::calm::calm;
use crate::output::table::harmless;
use crate::sheet::{Choice, Legend, Sheet};

use super::{lines, seal, usual};

/// The sheet as CSV (RFC 4180). A byte order mark stands in front where letters need it: spreadsheets take text without one for Windows-1252.
pub(super) fn write(sheet: &Sheet) -> Result<Vec<u8>> {
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let width = sheet.columns.len();
    for line in above(sheet) {
        let cells = line.iter().map(String::as_str).chain(std::iter::repeat(""));
        writer.write_record(cells.take(width).map(harmless))?;
    }
    writer.write_record(sheet.columns.iter().map(|column| column.heading()))?;
    for row in sheet.rolls.iter().flat_map(|roll| &roll.rows) {
        let cells = sheet.columns.iter().map(|column| harmless(&calm(row.prefilled(*column))));
        writer.write_record(cells)?;
    }
    let text = writer.into_inner()?;
    if text.is_ascii() {
        return Ok(seal::close(text));
    }
    let mark = '\u{feff}'.to_string().into_bytes();
    Ok(seal::close([mark, text].concat()))
}

/// The block above the headings. Each line is one cell, so that it can never be taken for headings.
fn above(sheet: &Sheet) -> Vec<Vec<String>> {
    let title = sheet.production.as_deref().map_or_else(String::new, calm);
    let Legend { lenses, attachments, modes, rolls } = &sheet.legend;
    let named = |choices: &[Choice]| {
        choices
            .iter()
            .map(|choice| match choice.about.as_str() {
                "" => calm(&choice.write),
                about => calm(&format!("{} ({about})", choice.write)),
            })
            .collect::<Vec<_>>()
    };
    let mut block = vec![vec!["Lens notes".to_owned(), seal::open()]];
    if !title.is_empty() {
        block.push(vec![title]);
    }
    let mut words = vec![
        "Fill in what was set on the lens. A ditto mark repeats the cell above; an empty cell says nothing.".to_owned(),
        "A change inside a clip: one more row for the clip, with the timecode under From.".to_owned(),
    ];
    if sheet.columns.iter().any(|column| column.is_recorded()) {
        words.push(
            "Columns named Recorded say what the media says; they are not read as notes."
                .to_owned(),
        );
    }
    words.extend(lines("Lenses", named(lenses)));
    words.extend(lines("Attachments, or none", named(attachments)));
    words.extend(lines("Modes", named(modes)));
    if !sheet.of_dump {
        words.extend(lines("Rolls begin with", named(rolls)));
    }
    words.extend(usual(sheet));
    block.extend(words.into_iter().map(|line| vec![line]));
    block
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_beyond_a_few_lines_are_counted() {
        let many: Vec<String> = (0..500).map(|at| format!("Sorrel {at}")).collect();
        let cut = lines("Lenses", many);
        assert_eq!(cut.len(), super::super::LINES);
        assert!(cut.last().is_some_and(|line| line.contains("more in the kit")), "{cut:?}");
        assert!(cut.iter().all(|line| line.len() < 150), "{cut:?}");
        assert_eq!(lines("Lenses", ["a".to_owned(), "b".to_owned()]), ["Lenses: a, b"]);
    }
}
