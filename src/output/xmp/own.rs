//! The own namespace: clip, tool, and one structure a piece with every value, its uncertainty, basis, verdict and origin.

use crate::fields::{Field, OF_CLIP};
use crate::number::short;
use crate::output::Stamp;
use crate::output::values::{Cell, Cells, Value, origin_words};

use super::Sheet;
use super::property::Value as Said;

/// Fields of a file as a whole, as [`OF_CLIP`] is of the clip.
const OF_FILE: &[Field] = &[Field::File, Field::Path, Field::Part];

/// Adds everything of the own namespace.
pub(super) fn add(out: &mut Sheet, all: &[Cells], stamp: &Stamp) {
    out.text("lensmend:tool", &stamp.tool);
    if let Some(first) = all.first() {
        // The path would not survive the sidecar being moved with its clip.
        let whole = OF_FILE.iter().chain(OF_CLIP).filter(|field| **field != Field::Path);
        for field in whole {
            if let Some(value) = first.get(field).and_then(|cell| cell.value.as_ref()) {
                out.text(&format!("lensmend:{}", field.camel()), &value.text(*field));
            }
        }
    }
    let of_piece = |field: &Field| !OF_FILE.contains(field) && !OF_CLIP.contains(field);
    let piece = |cells: &Cells| {
        let mut piece = Sheet { properties: Vec::new() };
        for (field, cell) in cells.iter().filter(|(field, _)| of_piece(field)) {
            member(&mut piece, *field, cell);
        }
        Said::Struct(piece.properties)
    };
    out.sequence("lensmend:pieces", all.iter().map(piece).collect());
}

fn member(out: &mut Sheet, field: Field, cell: &Cell) {
    let name = ["lensmend:", &field.camel()].concat();
    let side = |word| [name.as_str(), word].concat();
    if let Some(value) = &cell.value {
        let text = match value {
            Value::Number { number, .. } => short(*number, 6),
            Value::Flag(flag) => if *flag { "True" } else { "False" }.to_owned(),
            _ => value.text(field),
        };
        out.text(&name, &text);
        if let Value::Number { uncertainty, basis, .. } = value {
            out.maybe(
                &side("Uncertainty"),
                uncertainty.filter(|u| u.is_finite()).map(|u| short(u, 6)),
            );
            out.text(&side("Basis"), basis.word());
        }
    }
    if let Some(verdict) = cell.verdict {
        out.text(&side("Verdict"), verdict.word());
    }
    out.maybe(&side("Recorded"), cell.recorded.as_ref().map(|value| value.text(field)));
    let origin = cell.origin.as_ref().filter(|_| cell.value.is_some());
    out.maybe(&side("Origin"), origin.map(origin_words));
}
