//! What a camera report has beside the lens: how the camera was set and stood, and who was there.

use crate::units::{ExposureIndex, Kelvin, Meters, Seconds, ShutterAngle, Tilt};

use super::cells::Cells;
use super::headings::Column;
use super::memory::Above;
use super::{Noted, cell, settings};

/// Which of two numbers of sensitivity was noted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IsoKind {
    /// An ISO speed: `ISO 800`, `800 ASA`.
    Iso,
    /// An exposure index: `EI 800`.
    Index,
    /// A number that does not say.
    Unsaid,
}

/// A sensitivity as noted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IsoNote {
    /// The number.
    pub value: ExposureIndex,
    /// What it is.
    pub kind: IsoKind,
}

/// A shutter as noted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ShutterNote {
    /// An angle.
    Angle(ShutterAngle),
    /// An exposure time.
    Time(Seconds),
}

/// A white balance as noted: a colour temperature, words, or both (`5600K +3`). One of them is there.
#[derive(Clone, Debug, PartialEq)]
pub struct WhiteNote {
    /// Colour temperature.
    pub temperature: Option<Kelvin>,
    /// What was written in words, or behind the number.
    pub words: Option<String>,
}

/// The cells of one row. `None` where empty, missing or not understood.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CameraNote {
    /// Sensitivity.
    pub iso: Option<Noted<IsoNote>>,
    /// Shutter.
    pub shutter: Option<Noted<ShutterNote>>,
    /// White balance.
    pub white_balance: Option<Noted<WhiteNote>>,
    /// Height of the lens above the ground.
    pub height: Option<Noted<Meters>>,
    /// Tilt, upwards positive.
    pub tilt: Option<Noted<Tilt>>,
    /// Camera operator.
    pub operator: Option<Noted<String>>,
    /// First assistant, or all of them.
    pub assistant: Option<Noted<String>>,
    /// Second assistant.
    pub second_assistant: Option<Noted<String>>,
    /// Unit.
    pub unit: Option<Noted<String>>,
    /// Shooting day.
    pub day: Option<Noted<String>>,
}

/// What stands above each of the cells.
#[derive(Default)]
pub(super) struct CameraMemory {
    iso: Above<IsoNote>,
    shutter: Above<ShutterNote>,
    white_balance: Above<WhiteNote>,
    height: Above<Meters>,
    tilt: Above<Tilt>,
    operator: Above<String>,
    assistant: Above<String>,
    second_assistant: Above<String>,
    unit: Above<String>,
    day: Above<String>,
}

/// Reads the cells of one row; `None` where none of them says anything.
pub(super) fn read(
    cells: &mut Cells<'_, '_, Column>,
    memory: &mut CameraMemory,
) -> Option<CameraNote> {
    let white = &mut memory.white_balance;
    let note = CameraNote {
        iso: cells.value("ISO", Column::Iso, &mut memory.iso, settings::iso),
        shutter: cells.value("shutter", Column::Shutter, &mut memory.shutter, settings::shutter),
        white_balance: cells.value(
            "white balance",
            Column::WhiteBalance,
            white,
            settings::white_balance,
        ),
        height: cells.value("lens height", Column::Height, &mut memory.height, settings::height),
        tilt: cells.value("tilt", Column::Tilt, &mut memory.tilt, settings::tilt),
        operator: cells.read(Column::Operator, &mut memory.operator, cell::words),
        assistant: cells.read(Column::Assistant, &mut memory.assistant, cell::words),
        second_assistant: cells.read(
            Column::SecondAssistant,
            &mut memory.second_assistant,
            cell::words,
        ),
        unit: cells.read(Column::Unit, &mut memory.unit, cell::words),
        day: cells.read(Column::Day, &mut memory.day, cell::words),
    };
    (note != CameraNote::default()).then_some(note)
}
