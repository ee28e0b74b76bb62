//! One record to one row of lens notes.

use crate::finding::Code;
use crate::units::Stops;

use super::cells::Cells;
use super::clips::{ClipCell, clips};
use super::context::Context;
use super::headings::Column;
use super::memory::{Above, Memory};
use super::{FocalNote, NoteRow, Noted, StopNote, Target};
use super::{camera, cell, context, filter, time, understood};

/// Reads one row; `None` where it cannot be used.
pub(super) fn read(
    cells: &mut Cells<'_, '_, Column>,
    memory: &mut Memory,
    context: &mut Context,
) -> Option<NoteRow> {
    if begins_roll(cells, context) {
        *memory = Memory::default();
        return None;
    }
    let mut roll = cells.read(Column::Roll, &mut memory.roll, cell::words);
    let told = cells.told();
    let from = cells.read(Column::From, &mut memory.from, cell::from);
    if from.is_none() && cells.told() > told {
        // Without its timecode the row would hold for the whole clip.
        not_used(cells);
        return None;
    }
    let told = cells.told();
    let time = cells.read(Column::Time, &mut memory.time, |text, _| time::time_of_day(text));
    if time.is_none() && cells.told() > told && !cells.says(Column::Clip) {
        // Without its time the row would hold for a whole roll.
        not_used(cells);
        return None;
    }
    let when = When { from: from.is_some(), any: from.is_some() || time.is_some() };
    let target = target(cells, &mut memory.clip, &mut roll, context, when);
    let camera = cells.read(Column::Camera, &mut memory.camera, cell::words);
    let camera = camera.or_else(|| context.camera.clone());
    let mode = cells.read(Column::Mode, &mut memory.mode, cell::words);
    let lens = cells.value("lens", Column::Lens, &mut memory.lens, cell::words);
    let focal = cells.value("focal length", Column::Focal, &mut memory.focal, cell::focal_note);
    let stop = cells.value("stop", Column::Stop, &mut memory.stop, cell::stop);
    let between = &mut memory.attachment;
    let attachment = cells.value("attachment", Column::Attachment, between, cell::attachment);
    let secured = cells.read(Column::Secured, &mut memory.secured, cell::secured);
    let secured = secured.or_else(|| {
        let noted = attachment.as_ref()?;
        let tight = cell::sat(&noted.typed).1?;
        Some(Noted {
            value: tight,
            typed: noted.typed.clone(),
            origin: noted.origin.clone(),
            place: noted.place.clone(),
        })
    });
    let focus = cells.value("focus distance", Column::Focus, &mut memory.focus, cell::focus);
    let slate = cells.read(Column::Slate, &mut memory.slate, cell::words);
    let take = cells.read(Column::Take, &mut memory.take, cell::words);
    let circled = cells.read(Column::Circled, &mut memory.circled, cell::circled);
    let (filter, density) = filters(cells, memory);
    let shot = camera::read(cells, &mut memory.shot);
    let remarks = cells.read(Column::Remarks, &mut memory.remarks, cell::words);
    if cells.take_back_if_shifted(odd(focal.as_ref(), stop.as_ref())) {
        *memory = Memory::default();
        context.clips = None;
        return None;
    }
    let unread = std::mem::take(&mut cells.unread);
    let row = NoteRow {
        place: cells.place(),
        named: cells
            .place_of(Column::Clip)
            .or_else(|| cells.place_of(Column::Roll))
            .unwrap_or_else(|| cells.place()),
        line: cells.line(),
        target: target?,
        roll: roll.map(Box::new),
        camera: camera.map(Box::new),
        from: from.map(Box::new),
        time: time.map(Box::new),
        mode: mode.map(Box::new),
        lens: lens.map(Box::new),
        focal: focal.map(Box::new),
        stop: stop.map(Box::new),
        attachment: attachment.map(Box::new),
        secured: secured.map(Box::new),
        focus: focus.map(Box::new),
        slate: slate.map(Box::new),
        take: take.map(Box::new),
        circled: circled.map(Box::new),
        filter: filter.map(Box::new),
        density: density.map(Box::new),
        shot: shot.map(Box::new),
        remarks: remarks.map(Box::new),
        unread,
    };
    if cells.told() > 0 {
        cells.understood = understood::of(&row);
    }
    // Rows of a prepared sheet that nobody filled in name a clip, and a clip that was never shot is no mistake.
    says_something(&row).then_some(row)
}

/// True where the row tells more than which clip it speaks of.
fn says_something(row: &NoteRow) -> bool {
    let words =
        [&row.camera, &row.mode, &row.lens, &row.slate, &row.take, &row.filter, &row.remarks];
    words.into_iter().any(Option::is_some)
        || row.from.is_some()
        || row.time.is_some()
        || row.focal.is_some()
        || row.stop.is_some()
        || row.attachment.is_some()
        || row.secured.is_some()
        || row.focus.is_some()
        || row.circled.is_some()
        || row.density.is_some()
        || row.shot.is_some()
        || !row.unread.is_empty()
}

/// A line between the rows that says nothing but roll and camera: `Roll A004`. Rows below belong to them.
fn begins_roll(cells: &Cells<'_, '_, Column>, context: &mut Context) -> bool {
    let filled = cells.filled();
    let said = context::said(&filled).or_else(|| match filled.as_slice() {
        [only] if context::is_like_a_roll(only) => {
            Some(context::Said { roll: Some((*only).to_owned()), camera: None })
        }
        _ => None,
    });
    let Some(said) = said else { return false };
    context.begin(said, &cells.origin("line between the rows"), &cells.place());
    true
}

/// Filters as noted, and the light that neutral density among them took.
fn filters(
    cells: &mut Cells<'_, '_, Column>,
    memory: &mut Memory,
) -> (Option<Noted<String>>, Option<Noted<Stops>>) {
    let filter = cells.read(Column::Filter, &mut memory.filter, cell::words);
    let own = cells.read(Column::Density, &mut memory.density, |text, heading| {
        cell::words(text, heading)?;
        Ok(filter::density_below(text, heading.typed.to_lowercase().contains("stop")))
    });
    let of = |noted: &Noted<String>| {
        let value = filter::density(&noted.value)?;
        let (typed, origin) = (noted.typed.clone(), noted.origin.clone());
        Some(Noted { value, typed, origin, place: noted.place.clone() })
    };
    let Some(own) = own else {
        let density = filter.as_ref().and_then(of);
        return (filter, density);
    };
    let bare = own.typed.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','));
    let text = if bare { format!("ND {}", own.typed) } else { own.typed.clone() };
    let value = filter.map_or(text.clone(), |filter| format!("{}, {text}", filter.value));
    let (typed, origin, place) = (own.typed, own.origin, own.place);
    let density = own.value.map(|value| Noted {
        value,
        typed: typed.clone(),
        origin: origin.clone(),
        place: place.clone(),
    });
    (Some(Noted { value, typed, origin, place }), density)
}

/// The column of a number that is believed of a whole row, and in a short one is the sign of a cell left out: a stop under
/// focal length, a magnification under stop.
fn odd(focal: Option<&Noted<FocalNote>>, stop: Option<&Noted<StopNote>>) -> Option<Column> {
    let focal = focal.is_some_and(|noted| match noted.value {
        FocalNote::At(focal) | FocalNote::Moves(focal, _) => focal.get() < 5.0,
    });
    let stop = stop.is_some_and(|noted| match noted.value {
        StopNote::Unsaid(number) => number < 0.95,
        _ => false,
    });
    match (focal, stop) {
        (true, _) => Some(Column::Focal),
        (_, true) => Some(Column::Stop),
        _ => None,
    }
}

/// Says of the finding last made that it cost the row.
fn not_used(cells: &mut Cells<'_, '_, Column>) {
    if let Some(finding) = cells.last() {
        finding.code = Code::NotesRow;
        finding.message.push_str("; the row was not used");
    }
}

/// What a row says of the time from which it holds.
#[derive(Clone, Copy)]
struct When {
    /// A timecode.
    from: bool,
    /// That, or a time of day.
    any: bool,
}

/// Which clips the row speaks of; with a finding where it cannot be told. Fills in the roll that goes on from above.
fn target(
    cells: &mut Cells<'_, '_, Column>,
    above: &mut Above<ClipCell>,
    roll: &mut Option<Noted<String>>,
    context: &mut Context,
    when: When,
) -> Option<Target> {
    let open = cells.is_open(Column::Clip);
    let clip = cells.read(Column::Clip, above, |text, _| clips(text)).map(|clip| clip.value);
    if let Some(own) = roll {
        context.roll = Some(own.clone());
    }
    let said = match (clip, roll.as_ref()) {
        // A clip written once for several rows: what follows with timecodes goes on in it.
        (None, None) if when.from && !open && matches!(above, Above::Blank) => {
            context.clips.clone()
        }
        (clip, _) => clip,
    };
    if let Some(ClipCell::Names(names)) = &said {
        context.clips.clone_from(&said);
        if roll.is_none() && context::wants_roll(names) {
            roll.clone_from(&context.roll);
        } else if roll.is_none() {
            // Names with a roll of their own: whose the short ones below are, nobody has said.
            context.roll = None;
        }
    } else {
        context.clips = None;
    }
    let of_roll = roll.as_ref().map(|roll| Target::Roll(roll.value.clone()));
    let (message, hint) = match (said, of_roll) {
        (Some(ClipCell::Names(names)), _) => return Some(Target::Clips(names)),
        // It says when, so it need not say which.
        (None, None) if when.any && !cells.says(Column::Clip) && context.roll.is_none() => {
            return Some(Target::Then);
        }
        (None, Some(roll)) if when.any && open => return Some(roll),
        // `?` means that somebody does not know which clip: that is not the whole roll.
        (None, _) if open => ("the clip of this row is not known", "write the clip's name"),
        (None, _) if matches!(above, Above::Lost) && cells.has(Column::Clip) => {
            return None;
        }
        (_, Some(roll)) => return Some(roll),
        (Some(ClipCell::WholeRoll), None) => match &context.roll {
            Some(above) => {
                *roll = Some(above.clone());
                return Some(Target::Roll(above.value.clone()));
            }
            None => (
                "this row speaks of a whole roll but does not say of which",
                "write the roll in its column",
            ),
        },
        (None, None) if when.any && !open && context.roll.is_some() => {
            roll.clone_from(&context.roll);
            return context.roll.as_ref().map(|above| Target::Roll(above.value.clone()));
        }
        (None, None) => (
            "this row names neither a clip nor a roll",
            "write the clip's name, or the roll for all of its clips",
        ),
    };
    cells.report_row(message, hint);
    None
}
