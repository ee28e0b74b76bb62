//! Blank lens notes as files: CSV, a workbook with drop-down lists, a page for the clipboard; and as JSON.

mod csv;
mod html;
pub mod json;
mod parts;
mod seal;
mod workbook;

use std::path::Path;

use anyhow::Result;

use crate::sheet::Sheet;

use super::Stamp;
use super::calm::calm;

/// Most bytes of a line of the block above the headings; what does not fit goes on below.
const LINE: usize = 110;
/// Most lines that one of five kinds of names takes there: the notes reader looks for the headings in the first 30 rows alone.
const LINES: usize = 4;

/// The forms of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// CSV (RFC 4180), UTF-8.
    Csv,
    /// A workbook (ECMA-376, Office Open XML).
    Xlsx,
    /// A page to print.
    Html,
}

impl Form {
    /// The form that the extension of a file asks for.
    pub fn of(file: &Path) -> Option<Self> {
        let extension = file.extension()?;
        let forms = [("csv", Self::Csv), ("xlsx", Self::Xlsx), ("html", Self::Html)];
        forms.into_iter().find(|(known, _)| extension.eq_ignore_ascii_case(known)).map(|(_, it)| it)
    }

    /// The word used in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Xlsx => "xlsx",
            Self::Html => "html",
        }
    }
}

/// The sheet in a form. Only a workbook carries the date.
pub fn write(sheet: &Sheet, form: Form, stamp: &Stamp) -> Result<Vec<u8>> {
    match form {
        Form::Csv => csv::write(sheet),
        Form::Xlsx => workbook::write(sheet, stamp),
        Form::Html => Ok(html::write(sheet)),
    }
}

/// True for bytes that lensmend wrote as a sheet and that nobody changed since, so that no note is in them.
pub fn is_untouched(there: &[u8], form: Form) -> bool {
    match form {
        Form::Csv | Form::Html => seal::holds(there),
        Form::Xlsx => parts::read(there).is_some_and(|parts| parts.seal_holds()),
    }
}

/// The date that an untouched sheet carries, if it carries one.
pub fn date_of(there: &[u8], form: Form) -> Option<String> {
    match form {
        Form::Csv | Form::Html => None,
        Form::Xlsx => parts::read(there)?.created(),
    }
}

/// What the kit takes where nothing is noted, roll by roll, in lines.
fn usual(sheet: &Sheet) -> Vec<String> {
    let usual = sheet.rolls.iter().flat_map(|roll| {
        let name = roll.name.as_deref().unwrap_or_default();
        roll.usual.iter().map(move |(what, usual)| calm(&format!("{name} {what} {usual}")))
    });
    lines("If nothing is noted", usual)
}

/// Names with commas between them, cut into lines; what does not fit is counted.
fn lines(what: &str, names: impl IntoIterator<Item = String>) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut left_out = 0_usize;
    for name in names {
        let full = lines.len() >= LINES;
        match lines.last_mut() {
            Some(line) if left_out == 0 && line.len() + name.len() + 2 <= LINE => {
                line.push_str(", ");
                line.push_str(&name);
            }
            _ if !full && left_out == 0 => lines.push(format!("{what}: {name}")),
            _ => left_out += 1,
        }
    }
    if let Some(line) = lines.last_mut().filter(|_| left_out > 0) {
        line.push_str(", and ");
        line.push_str(&left_out.to_string());
        line.push_str(" more in the kit");
    }
    lines
}
