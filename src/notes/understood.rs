//! What was understood of a row, in the words of the set: for whoever has to mend one of its cells.

use crate::number::short;

use super::{AttachmentNote, ClipNames, FocalNote, NoteRow, StopNote, Target};

/// Names shown of a list.
const SHOWN: usize = 4;

/// The row as it is used; `None` where nothing of it is left.
pub(super) fn of(row: &NoteRow) -> Option<String> {
    let mut said = Vec::new();
    let mut text = |label: &str, text: Option<&str>| {
        if let Some(text) = text {
            said.push(format!("{label}{}", super::cells::quoted(text)));
        }
    };
    text("lens ", row.lens.as_ref().map(|noted| noted.value.as_str()));
    let focal = row.focal.as_ref().map(|noted| match noted.value {
        FocalNote::At(at) => format!("{} mm", short(at.get(), 2)),
        FocalNote::Moves(from, to) => {
            format!("{} to {} mm", short(from.get(), 2), short(to.get(), 2))
        }
    });
    let stop = row.stop.as_ref().map(|noted| match noted.value {
        StopNote::WideOpen => "wide open".to_owned(),
        // As typed: a mark is a rounded number, and its exact one would puzzle.
        _ => format!("stop {}", super::cells::quoted(&noted.typed)),
    });
    let attachment = row.attachment.as_ref().map(|noted| match &noted.value {
        AttachmentNote::Named(name) => format!("attachment {}", super::cells::quoted(name)),
        AttachmentNote::Nothing => "no attachment".to_owned(),
    });
    let focus = row.focus.as_ref().map(|noted| format!("focus {} m", short(noted.value.get(), 3)));
    said.extend([focal, stop, attachment, focus].into_iter().flatten());
    if said.is_empty() {
        return None;
    }
    let from = row.from.as_ref().map(|noted| format!(" from {}", noted.value));
    Some(format!("{}{}: {}", target(row), from.unwrap_or_default(), said.join(", ")))
}

fn target(row: &NoteRow) -> String {
    match &row.target {
        Target::Then => "the clip that ran then".to_owned(),
        Target::Roll(roll) => format!("roll {}", super::cells::quoted(roll)),
        Target::Clips(names) => {
            let shown: Vec<String> = names.iter().take(SHOWN).map(name).collect();
            let more = if names.len() > SHOWN { " and more" } else { "" };
            format!("{}{more}", super::cells::quoted(&shown.join(", ")))
        }
    }
}

fn name(names: &ClipNames) -> String {
    match names {
        ClipNames::One(name) | ClipNames::Pattern(name) => name.clone(),
        ClipNames::Range(first, last) => format!("{first} to {last}"),
        ClipNames::Either { typed, .. } => typed.clone(),
    }
}
