//! One record to one row of lens notes.

use crate::finding::Code;

use super::cell;
use super::cells::Cells;
use super::clips::{ClipCell, clips};
use super::columns::Column;
use super::memory::{Above, Memory};
use super::time;
use super::{NoteRow, Noted, Target};

/// Reads one row; `None` where it cannot be used.
pub(super) fn read(cells: &mut Cells<'_, '_, Column>, memory: &mut Memory) -> Option<NoteRow> {
    let roll = cells.read(Column::Roll, &mut memory.roll, cell::words);
    let told = cells.told();
    let from = cells.read(Column::From, &mut memory.from, cell::from);
    if from.is_none() && cells.told() > told {
        // Without its timecode the row would hold for the whole clip.
        not_used(cells);
        return None;
    }
    let told = cells.told();
    let time = cells.read(Column::Time, &mut memory.time, |text, _| time::time_of_day(text));
    if time.is_none() && cells.told() > told && !cells.is_filled(Column::Clip) {
        // Without its time the row would hold for a whole roll.
        not_used(cells);
        return None;
    }
    let when = from.is_some() || time.is_some();
    let target = target(cells, &mut memory.clip, roll.as_ref(), when)?;
    let camera = cells.read(Column::Camera, &mut memory.camera, cell::words);
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
    Some(NoteRow {
        place: cells.place(),
        line: cells.line(),
        target,
        roll,
        camera,
        from,
        time,
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
    })
}

/// Says of the finding last made that it cost the row.
fn not_used(cells: &mut Cells<'_, '_, Column>) {
    if let Some(finding) = cells.last() {
        finding.code = Code::NotesRow;
        finding.message.push_str("; the row was not used");
    }
}

/// Which clips the row speaks of; with a finding where it cannot be told.
fn target(
    cells: &mut Cells<'_, '_, Column>,
    above: &mut Above<ClipCell>,
    roll: Option<&Noted<String>>,
    when: bool,
) -> Option<Target> {
    let open = cells.is_open(Column::Clip);
    let clip = cells.read(Column::Clip, above, |text, _| clips(text));
    let roll = roll.map(|roll| Target::Roll(roll.value.clone()));
    let (message, hint) = match (clip.map(|clip| clip.value), roll) {
        (Some(ClipCell::Names(names)), _) => return Some(Target::Clips(names)),
        // It says when, so it need not say which.
        (None, None) if when && !cells.is_filled(Column::Clip) => return Some(Target::Then),
        (None, Some(roll)) if when && open => return Some(roll),
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
