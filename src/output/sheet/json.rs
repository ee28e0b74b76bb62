//! The sheet as JSON. `docs/sheet.md` documents its shape.

use serde_json::{Map, Value as Json, json};

use crate::annotation::Input;
use crate::finding::Finding;
use crate::output::Stamp;
use crate::output::json::{finding, input};
use crate::output::record::Document;
use crate::sheet::{Choice, Legend, Recorded, Roll, Row, Sheet};

use super::Form;

/// The first member of the sheet.
pub const FORMAT: &str = "lensmend sheet";

/// What became of the file that was asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// File, as the user named it.
    pub file: String,
    /// Its form.
    pub form: Form,
    /// `written`, `would be written` or `unchanged`.
    pub state: &'static str,
}

/// The sheet, one row a line.
pub fn write(
    sheet: &Sheet,
    placed: Option<&Placed>,
    inputs: &[Input],
    findings: &[Finding],
    stamp: &Stamp,
) -> serde_json::Result<Vec<u8>> {
    let mut document = Document::new(FORMAT, stamp)?;
    if let Some(production) = &sheet.production {
        document.member("production", &json!(production))?;
    }
    document.member("of", &json!(if sheet.of_dump { "dump" } else { "kit" }))?;
    if let Some(Placed { file, form, state }) = placed {
        document.member("into", &json!({"file": file, "form": form.word(), "state": state}))?;
    }
    document.list("inputs", inputs.iter().map(input))?;
    let columns = sheet.columns.iter();
    let columns = columns
        .map(|column| json!({"heading": column.heading(), "recorded": column.is_recorded()}));
    document.list("columns", columns)?;
    document.list("rolls", sheet.rolls.iter().map(roll))?;
    document.list("rows", sheet.rolls.iter().flat_map(|roll| &roll.rows).map(row))?;
    let Legend { lenses, attachments, modes, rolls } = &sheet.legend;
    document.list("lenses", lenses.iter().map(choice))?;
    document.list("attachments", attachments.iter().map(choice))?;
    document.list("modes", modes.iter().map(choice))?;
    document.list("rollsBegin", rolls.iter().map(choice))?;
    document.list("findings", findings.iter().map(finding))?;
    Ok(document.end())
}

fn roll(roll: &Roll) -> Json {
    let mut object = Map::new();
    for (key, value) in [("roll", &roll.name), ("camera", &roll.camera)] {
        if let Some(value) = value {
            object.insert(key.into(), json!(value));
        }
    }
    object.insert("rows".into(), json!(roll.rows.len()));
    for (what, usual) in &roll.usual {
        object.insert((*what).into(), json!(usual));
    }
    Json::Object(object)
}

fn row(row: &Row) -> Json {
    let mut object = Map::new();
    let Recorded { start, duration, lens, focal, stop, focus } = &row.recorded;
    let recorded = [
        ("start", start),
        ("duration", duration),
        ("lens", lens),
        ("focal", focal),
        ("stop", stop),
        ("focus", focus),
    ];
    for (key, value) in [("roll", &row.roll), ("clip", &row.clip)] {
        if !value.is_empty() {
            object.insert(key.into(), json!(value));
        }
    }
    let said = recorded
        .into_iter()
        .filter_map(|(key, text)| Some((key.to_owned(), json!(text.as_ref()?))));
    let said: Map<String, Json> = said.collect();
    if !said.is_empty() {
        object.insert("recorded".into(), Json::Object(said));
    }
    Json::Object(object)
}

fn choice(choice: &Choice) -> Json {
    let mut object = Map::new();
    object.insert("write".into(), json!(choice.write));
    if !choice.about.is_empty() {
        object.insert("about".into(), json!(choice.about));
    }
    Json::Object(object)
}
