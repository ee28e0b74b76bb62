//! How the camera was set and stood, and who was there, in the words of a report.

use crate::annotation::{Settled, Setup};
use crate::number::fixed;
use crate::sourced::{Quantity, Sourced};
use crate::units::{Seconds, Unit};

use super::line::one_line;
use super::{Cell, Column, Options};

/// What a piece says in one of the columns of exposure, place and crew; empty where nothing is said.
pub(super) fn cell(column: Column, setup: &Setup, options: &Options) -> Cell {
    let Some(shot) = &setup.shot else { return Cell::default() };
    let text = |text: String| Cell { text, ..Cell::default() };
    let noted = |noted: &Option<Sourced<String>>| {
        text(noted.as_ref().map(|noted| one_line(&noted.value)).unwrap_or_default())
    };
    let number = |number: Option<f64>| Cell {
        text: number.map(|number| options.number(number, 2)).unwrap_or_default(),
        order: number,
        ..Cell::default()
    };
    match column {
        Column::Unit => noted(&shot.unit),
        Column::ShootingDay => noted(&shot.day),
        Column::Operator => noted(&shot.operator),
        Column::Assistants => noted(&shot.assistants),
        Column::Height => number(shot.height.as_ref().map(|height| height.value.get())),
        Column::Tilt => number(shot.tilt.as_ref().map(|tilt| tilt.value.get())),
        Column::Iso => {
            let index =
                print(&shot.exposure_index, |index| format!("EI {}", options.number(index, 0)));
            both(print(&shot.iso, |iso| options.number(iso, 0)), index)
        }
        Column::Shutter => {
            let angle =
                print(&shot.shutter_angle, |angle| format!("{}\u{b0}", options.number(angle, 2)));
            let time = shot.exposure_time.value.as_ref().map(|time| seconds(time, options));
            both(angle, time)
        }
        Column::WhiteBalance => {
            let mode = shot.white_balance_mode.value.as_ref().map(|mode| one_line(&mode.value));
            both(
                print(&shot.white_balance, |kelvin| format!("{} K", options.number(kelvin, 0))),
                mode,
            )
        }
        _ => Cell::default(),
    }
}

fn print<U: Unit>(settled: &Settled<Quantity<U>>, print: impl Fn(f64) -> String) -> Option<String> {
    settled.value.as_ref().map(|quantity| print(quantity.value.number()))
}

fn both(one: Option<String>, other: Option<String>) -> Cell {
    let words: Vec<String> = one.into_iter().chain(other).collect();
    Cell { text: words.join(", "), ..Cell::default() }
}

/// An exposure time as people say it: a fraction with one above, where it is one.
fn seconds(time: &Quantity<Seconds>, options: &Options) -> String {
    let time = time.value.get();
    let parts = 1.0 / time;
    // Within a part in a thousand, which is how finely such times are marked.
    if time < 1.0 && (parts - parts.round()).abs() < parts / 1000.0 {
        format!("1/{} s", fixed(parts, 0))
    } else {
        format!("{} s", options.number(time, 4))
    }
}
