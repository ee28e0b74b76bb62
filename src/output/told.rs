//! What a run told, read back from its record: findings, and what was shown of the clips.

use serde::Deserialize;

use crate::finding::{Code, Excerpt, Finding, Place, Spot};

/// What a run told.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Told {
    /// Its findings.
    pub findings: Vec<Finding>,
    /// What was shown of the clips below them.
    pub shown: String,
}

/// The members of a record that are told.
#[derive(Deserialize)]
struct Wire {
    findings: Vec<WireFinding>,
    shown: Vec<String>,
}

/// A finding as `json::finding` writes it.
#[derive(Deserialize)]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
struct WireFinding {
    code: String,
    #[serde(rename = "level")]
    _level: String,
    clip: Option<String>,
    file: Option<String>,
    offset: Option<u64>,
    line: Option<u64>,
    column: Option<u64>,
    cell: Option<String>,
    cell_at: Option<usize>,
    spreadsheet_cell: Option<String>,
    row: Option<String>,
    message: String,
    understood: Option<String>,
    hint: Option<String>,
}

/// Reads it from an object that has these members; `None` if it has them not, or in a shape that another version wrote.
pub fn read(object: &[u8]) -> Option<Told> {
    let Wire { findings, shown } = serde_json::from_slice(object).ok()?;
    let findings = findings.into_iter().map(finding).collect::<Option<_>>()?;
    Some(Told { findings, shown: shown.iter().flat_map(|line| [line, "\n"]).collect() })
}

fn finding(wire: WireFinding) -> Option<Finding> {
    let code = Code::ALL.iter().copied().find(|code| code.word() == wire.code)?;
    let excerpt = match (wire.row, wire.cell) {
        (None, _) => None,
        (Some(row), cell) => {
            let start = wire.cell_at.unwrap_or(0);
            let part = start..start.checked_add(cell?.len())?;
            row.get(part.clone())?;
            Some(Excerpt { line: row.into(), part })
        }
    };
    let spot = match (wire.offset, wire.line, wire.column) {
        (None, None, None) => Spot::Whole,
        (Some(offset), None, None) => Spot::Byte(offset),
        (None, Some(line), Some(column)) => {
            Spot::Text { line, column, excerpt, name: wire.spreadsheet_cell.map(Into::into) }
        }
        _ => return None,
    };
    Some(Finding {
        code,
        clip: wire.clip.map(Into::into),
        place: wire.file.map(|file| Place { file: file.into(), spot }),
        message: wire.message,
        understood: wire.understood,
        hint: wire.hint,
    })
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::output::json;

    #[test]
    fn findings_read_back_as_they_were() {
        let new = || Finding::new(Code::NotesCell, "what \"is\" the\nmatter \u{202e}");
        let row = "A003C001,1.4,1.4";
        let span = |span| Place::span("notes.csv", &format!("clip,a,b\n{row}\n"), span);
        let mut named = span(18..21);
        if let Spot::Text { name, column, .. } = &mut named.spot {
            (*name, *column) = (Some("B2".into()), 2);
        }
        let all = [
            new(),
            new().clip("A003C001").hint("look").understood("50 mm"),
            new().at(Place::file("a.mov")),
            new().at(Place::byte("a.mov", 0)),
            new().at(span(9..17)),
            new().at(span(18..21)),
            new().at(span(22..25)),
            new().at(span(22..22)),
            new().at(named),
        ];
        let wire: Vec<_> = all.iter().map(json::finding).collect();
        let text = json!({"findings": wire, "shown": ["a", "", " b"]}).to_string();
        let told = read(text.as_bytes()).unwrap();
        assert_eq!(told.findings, all);
        assert_eq!(told.shown, "a\n\n b\n");
    }

    #[test]
    fn what_another_version_wrote_is_none() {
        let usual = json!({"code": "notes.cell", "level": "warning", "message": "m"});
        let with = |key: &str, value: serde_json::Value| {
            let mut finding = usual.clone();
            finding[key] = value;
            read(json!({"findings": [finding], "shown": []}).to_string().as_bytes())
        };
        assert!(with("clip", json!("a")).is_some());
        assert!(with("code", json!("notes.new")).is_none());
        assert!(with("more", json!(1)).is_none());
        assert!(with("line", json!(1)).is_none());
        assert!(with("row", json!("a")).is_none());
        assert!(read(b"{\"findings\": []}").is_none());
    }
}
