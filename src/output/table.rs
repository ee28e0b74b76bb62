//! `lens-table.csv`: one row a clip or piece, with the columns that are asked for under the names that are asked for.

use anyhow::{Context, Result, bail};

use crate::annotation::Shoot;
use crate::fields::{Facet, Field};
use crate::finding::nearest;

use super::rows::rows;
use super::values::{Cell, Cells, Value, cells};

/// Columns when none are chosen.
pub const DEFAULT: &str = "file,clip,roll,part,camera,start-timecode,end-timecode,frames,frame-rate,coded-raster,\
slate,take,circled,lens,lens-serial,attachment,magnification,lens-focal-length,\
focal-length,focal-length.uncertainty,focal-length.basis,focal-length.verdict,focal-length.recorded,\
lens-f-number,lens-t-number,f-number,f-number.uncertainty,f-number.verdict,f-number.recorded,\
t-number,t-number.uncertainty,t-number.verdict,focus-distance,focus-distance.uncertainty,focus-distance.verdict,\
film-back-width,film-back-height,pinhole-focal-length,pinhole-focal-length.uncertainty,pupil-offset,pupil-offset.uncertainty,\
angle-horizontal,angle-horizontal.uncertainty,angle-vertical,crop-width,crop-diagonal,equivalent-focal-length,\
light-gain,image-circle,coverage,coverage.uncertainty,dark-corner,squeeze,filter,filter-density,attachment-secured,\
iso,exposure-index,shutter-angle,exposure-time,white-balance,white-balance-mode,lens-height,tilt,operator,assistants,unit,day,\
remarks,note-rows";

/// One column of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    field: Field,
    facet: Facet,
    heading: String,
}

/// Reads a choice of columns: ids parted by commas, each with an optional `=` and heading of its own,
/// such as `file=File Name,focal-length=Focal Length,focal-length.verdict`.
pub fn columns(choice: &str) -> Result<Vec<Column>> {
    let mut columns = Vec::new();
    for part in choice.split(',').map(str::trim).filter(|part| !part.is_empty()) {
        let (id, heading) = match part.split_once('=') {
            Some((id, heading)) => (id.trim(), heading.trim().to_owned()),
            None => (part, part.to_owned()),
        };
        let (name, side) = id.split_once('.').unwrap_or((id, ""));
        let Some(field) = Field::ALL.iter().copied().find(|field| field.id() == name) else {
            let hint = nearest(name, Field::ALL.iter().map(|field| field.id())).map_or_else(
                || "docs/fields.md lists them".to_owned(),
                |near| format!("did you mean {near}?"),
            );
            bail!("there is no column {name}; {hint}");
        };
        let facet = Facet::ALL.iter().find(|(_, word)| *word == side).map(|(facet, _)| *facet);
        let facet = facet.with_context(|| {
            let words: Vec<&str> =
                Facet::ALL.iter().map(|(_, word)| *word).filter(|word| !word.is_empty()).collect();
            format!("{id}: after the point stands one of {}", words.join(", "))
        })?;
        if heading.is_empty() {
            bail!("column {id} has an empty heading; write {id}=Heading");
        }
        columns.push(Column { field, facet, heading });
    }
    if columns.is_empty() {
        bail!("no columns are chosen; docs/fields.md lists them");
    }
    Ok(columns)
}

/// The table as CSV (RFC 4180), UTF-8.
pub fn write(shoot: &Shoot, columns: &[Column]) -> Result<Vec<u8>> {
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(columns.iter().map(|column| harmless(&column.heading)))?;
    for row in shoot.clips.iter().flat_map(rows) {
        writer.write_record(texts(&cells(&row), columns).map(|text| harmless(&text)))?;
    }
    Ok(writer.into_inner()?)
}

/// What stands in the columns for a row with `cells`.
pub(super) fn texts<'a>(
    cells: &'a Cells,
    columns: &'a [Column],
) -> impl Iterator<Item = String> + 'a {
    columns.iter().map(|column| {
        cells.get(&column.field).and_then(|cell| side(cell, column)).unwrap_or_default()
    })
}

/// The headings of the columns.
pub(super) fn headings(columns: &[Column]) -> impl Iterator<Item = &str> {
    columns.iter().map(|column| column.heading.as_str())
}

fn side(cell: &Cell, column: &Column) -> Option<String> {
    match column.facet {
        Facet::Value => cell.value.as_ref().map(|value| value.text(column.field)),
        Facet::Uncertainty => cell.value.as_ref().and_then(|value| value.uncertainty(column.field)),
        Facet::Basis => {
            cell.value.as_ref().and_then(Value::basis).map(|basis| basis.word().to_owned())
        }
        Facet::Verdict => cell.verdict.map(|verdict| verdict.word().to_owned()),
        Facet::Recorded => cell.recorded.as_ref().map(|value| value.text(column.field)),
        Facet::Reason => Some(cell.reason.clone()),
    }
}

/// Keeps a spreadsheet from taking text for a formula: such text gets an apostrophe in front.
/// Numbers keep their sign, and a lone dash is no formula.
pub(super) fn harmless(text: &str) -> String {
    let risky = text.starts_with([
        '=', '+', '-', '@', '\t', '\r', '\n', '|', '%', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}',
        '\u{ff20}',
    ]);
    if risky && text.len() > 1 && text.parse::<f64>().is_err() {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_chosen_and_renamed() {
        let chosen = columns("file=File Name, focal-length.verdict").unwrap();
        assert_eq!(chosen[0].heading, "File Name");
        assert_eq!((chosen[1].field, chosen[1].facet), (Field::FocalLength, Facet::Verdict));
        assert!(columns(DEFAULT).is_ok());
        for (bad, word) in [
            ("focal-lenght", "did you mean focal-length?"),
            ("", "no columns"),
            ("file.size", "uncertainty"),
            ("file=", "heading"),
        ] {
            let error = columns(bad).unwrap_err().to_string();
            assert!(error.contains(word), "{bad}: {error}");
        }
    }

    #[test]
    fn notes_cannot_run_in_a_spreadsheet() {
        for (text, want) in [
            ("=1+1", "'=1+1"),
            ("@cmd", "'@cmd"),
            ("+1 stop", "'+1 stop"),
            ("-0.5", "-0.5"),
            ("-", "-"),
            ("night", "night"),
        ] {
            assert_eq!(harmless(text), want);
        }
    }
}
