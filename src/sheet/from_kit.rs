//! A sheet for the day to come, from the kit alone.

use super::column::Column;
use super::legend::{Legend, attachment_name, camera_name, lens_name};
use super::{Roll, Row, Sheet};
use crate::finding::Found;
use crate::kit::{Camera, Kit};
use crate::naming::foretold;

use super::from_dump::cell_of_roll;

/// What is asked of a sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wanted {
    /// Rolls to prepare; those of the kit if there are none.
    pub rolls: Vec<String>,
    /// Rows to prepare for each.
    pub rows: u32,
    /// Unit of bare focus distances.
    pub focus_unit: Option<&'static str>,
}

/// The sheet. Where rolls are known, their clips are numbered from the first on, as cameras do; where they are not, the rows are free.
pub fn of_kit(kit: &Kit, wanted: &Wanted) -> Found<Sheet> {
    let legend = Legend::of(kit);
    let named: Vec<&str> = if wanted.rolls.is_empty() {
        kit.rolls.iter().map(|roll| roll.roll.as_str()).collect()
    } else {
        wanted.rolls.iter().map(|roll| roll.trim()).filter(|roll| !roll.is_empty()).collect()
    };
    let mut findings = Vec::new();
    let mut rolls: Vec<Roll> = Vec::new();
    for name in named {
        if rolls.iter().any(|roll| roll.name.as_deref() == Some(name)) {
            continue;
        }
        let cell = cell_of_roll(name, None, &mut findings);
        let rows = (1..=wanted.rows).map(|number| prepared(kit, cell.as_ref(), number)).collect();
        rolls.push(Roll { rows, ..roll_of(kit, Some(name)) });
    }
    if rolls.is_empty() {
        let rows = (1..=wanted.rows).map(|_| Row::default()).collect();
        rolls.push(Roll { rows, ..Roll::default() });
    }
    let sheet = Sheet {
        production: kit.production.title.as_ref().map(|title| title.value.clone()),
        columns: Column::chosen(false, !legend.modes.is_empty(), wanted.focus_unit),
        rolls,
        legend,
        of_dump: false,
    };
    Found { value: sheet, findings }
}

/// A row for the clip of that number. A row with a roll and no clip would hold for the whole roll, so it has both or neither.
fn prepared(kit: &Kit, roll: Option<&String>, number: u32) -> Row {
    let patterns = kit.naming.iter().map(|pattern| pattern.value.as_str());
    match (roll, foretold(patterns, number)) {
        (Some(roll), Some(clip)) => Row { roll: roll.clone(), clip, ..Row::default() },
        _ => Row::default(),
    }
}

/// What the kit says of a roll, without rows.
pub(super) fn roll_of(kit: &Kit, name: Option<&str>) -> Roll {
    let Some(name) = name else { return Roll::default() };
    let told = kit.rolls.iter().find(|roll| roll.roll.eq_ignore_ascii_case(name));
    let camera = told.and_then(|roll| roll.camera.as_ref());
    let camera = match camera {
        Some(id) => kit.cameras.iter().find(|camera| camera.id == id.value),
        None => only_camera(kit, name),
    };
    let attachment = told
        .and_then(|roll| roll.attachment.as_ref())
        .or_else(|| camera.and_then(|camera| camera.attachment.as_ref()));
    let attachment = attachment.map(|id| {
        let known = kit.attachments.iter().find(|attachment| attachment.id == id.value);
        known.map_or_else(|| id.value.clone(), |known| attachment_name(kit, known))
    });
    let lens = told.and_then(|roll| roll.lens.as_ref()).map(|id| {
        let known = kit.lenses.iter().find(|lens| lens.id == id.value);
        known.map_or_else(|| id.value.clone(), |known| lens_name(kit, known))
    });
    let mode = told.and_then(|roll| roll.mode.as_ref()).map(|mode| mode.value.clone());
    let usual = [("attachment", attachment), ("lens", lens), ("mode", mode)];
    Roll {
        name: Some(name.to_owned()),
        camera: camera.map(camera_name),
        usual: usual.into_iter().filter_map(|(what, usual)| Some((what, usual?))).collect(),
        rows: Vec::new(),
    }
}

/// The camera that shot the roll, if its name tells that of one alone.
fn only_camera<'a>(kit: &'a Kit, roll: &str) -> Option<&'a Camera> {
    let mut cameras = kit.cameras.iter().filter(|camera| camera.shoots(roll));
    cameras.next().filter(|_| cameras.next().is_none())
}
