//! One record to one row of lens notes.

use crate::finding::Code;

use super::cell;
use super::cells::Cells;
use super::clips::{ClipCell, clips};
use super::columns::Column;
use super::memory::{Above, Memory};
use super::{NoteRow, Noted, Target};

/// Reads one row; `None` where it cannot be used.
pub(super) fn read(cells: &mut Cells<'_, '_, Column>, memory: &mut Memory) -> Option<NoteRow> {
    let roll = cells.read(Column::Roll, &mut memory.roll, cell::words);
    let target = target(cells, &mut memory.clip, roll.as_ref());
    let camera = cells.read(Column::Camera, &mut memory.camera, cell::words);
    let told = cells.told();
    let from = cells.read(Column::From, &mut memory.from, cell::from);
    if from.is_none() && cells.told() > told {
        // Without its timecode the row would hold for the whole clip.
        if let Some(finding) = cells.last() {
            finding.code = Code::NotesRow;
            finding.message.push_str("; the row was not used");
        }
        return None;
    }
    let mode = cells.read(Column::Mode, &mut memory.mode, cell::words);
    let lens = cells.value("lens", Column::Lens, &mut memory.lens, cell::words);
    let focal = cells.value("focal length", Column::Focal, &mut memory.focal, cell::focal);
    let stop = cells.value("stop", Column::Stop, &mut memory.stop, cell::stop);
    let between = &mut memory.attachment;
    let attachment = cells.value("attachment", Column::Attachment, between, cell::attachment);
    let focus = cells.value("focus distance", Column::Focus, &mut memory.focus, cell::focus);
    let slate = cells.read(Column::Slate, &mut memory.slate, cell::words);
    let take = cells.read(Column::Take, &mut memory.take, cell::words);
    let circled = cells.read(Column::Circled, &mut memory.circled, cell::circled);
    let filter = cells.read(Column::Filter, &mut memory.filter, cell::words);
    let remarks = cells.read(Column::Remarks, &mut memory.remarks, cell::words);
    let unread = std::mem::take(&mut cells.unread);
    let row = NoteRow {
        place: cells.place(),
        line: cells.line(),
        target: target?,
        roll,
        camera,
        from,
        mode,
        lens,
        focal,
        stop,
        attachment,
        focus,
        slate,
        take,
        circled,
        filter,
        remarks,
        unread,
    };
    // Rows of a prepared sheet that nobody filled in name a clip, and a clip that was never shot is no mistake.
    says_something(&row).then_some(row)
}

/// True where the row tells more than which clip it speaks of.
fn says_something(row: &NoteRow) -> bool {
    let words =
        [&row.camera, &row.mode, &row.lens, &row.slate, &row.take, &row.filter, &row.remarks];
    words.into_iter().any(Option::is_some)
        || row.focal.is_some()
        || row.stop.is_some()
        || row.attachment.is_some()
        || row.focus.is_some()
        || row.circled.is_some()
        || !row.unread.is_empty()
}

/// Which clips the row speaks of; with a finding where it cannot be told.
fn target(
    cells: &mut Cells<'_, '_, Column>,
    above: &mut Above<ClipCell>,
    roll: Option<&Noted<String>>,
) -> Option<Target> {
    let open = cells.is_open(Column::Clip);
    let clip = cells.read(Column::Clip, above, |text, _| clips(text));
    let roll = roll.map(|roll| Target::Roll(roll.value.clone()));
    let (message, hint) = match (clip.map(|clip| clip.value), roll) {
        (Some(ClipCell::Names(names)), _) => return Some(Target::Clips(names)),
        // `?` means that somebody does not know which clip: that is not the whole roll.
        (None, _) if open => ("the clip of this row is not known", "write the clip's name"),
        (None, _) if matches!(above, Above::Lost) && cells.has(Column::Clip) => {
            return None;
        }
        (_, Some(roll)) => return Some(roll),
        (Some(ClipCell::WholeRoll), None) => (
            "this row speaks of a whole roll but does not say of which",
            "write the roll in its column",
        ),
        (None, None) => (
            "this row names neither a clip nor a roll",
            "write the clip's name, or the roll for all of its clips",
        ),
    };
    cells.report_row(message, hint);
    None
}
