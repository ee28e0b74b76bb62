//! Cameras and their recording modes.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::defaults::{Defaults, percent};
use super::form::Form;
use super::production::names;
use super::read::{Reader, Section};
use crate::number::short;
use crate::optics::view::FilmBack;
use crate::ratio::Ratio;
use crate::sourced::{Origin, Sourced};
use crate::units::{Millimeters, Raster};

/// A camera body.
#[derive(Clone, Debug, PartialEq)]
pub struct Camera {
    /// Id, usually the camera letter.
    pub id: String,
    /// Maker and model as the crew says it.
    pub name: Option<String>,
    /// Rolls it shot, as beginnings of roll names; the id if nothing is said.
    pub rolls: Vec<String>,
    /// Mount id.
    pub mount: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Attachment id that is on unless something else is said; `none` for bare.
    pub attachment: Option<Sourced<String>>,
    /// Who operates it.
    pub operator: Option<Sourced<String>>,
    /// Its assistants, parted by commas.
    pub assistants: Option<Sourced<String>>,
    /// Recording modes.
    pub modes: Vec<Mode>,
}

/// A recording mode: which part of the sensor ends up in which raster.
#[derive(Clone, Debug, PartialEq)]
pub struct Mode {
    /// Id.
    pub id: String,
    /// Raster of the recording.
    pub raster: Raster,
    /// Frame rate, where the mode depends on it.
    pub rate: Option<Ratio>,
    /// The recorded area on the sensor.
    pub back: FilmBack,
    /// Relative standard uncertainty of each side of the recorded area.
    pub back_relative: f64,
    /// The mode itself in the kit.
    pub origin: Origin,
}

impl Camera {
    /// True if a roll of this name is one of its own: the name begins as its rolls do, and no letter follows.
    pub fn shoots(&self, roll: &str) -> bool {
        let roll = roll.to_lowercase();
        let begins = |with: &str| {
            roll.strip_prefix(&with.to_lowercase())
                .is_some_and(|rest| !rest.starts_with(char::is_alphabetic))
        };
        if self.rolls.is_empty() { begins(&self.id) } else { self.rolls.iter().any(|r| begins(r)) }
    }

    pub(super) fn read(
        section: &Section<'_>,
        defaults: &Defaults,
        reader: &mut Reader<'_>,
    ) -> Option<Self> {
        let id = section.text("id", reader);
        unique_modes(section, reader);
        let camera = Self {
            id: id.clone().unwrap_or_default(),
            name: section.text("name", reader),
            rolls: section.texts("rolls", reader),
            mount: section.text("mount", reader),
            serial: section.text("serial", reader),
            attachment: section.sourced_text("attachment", reader),
            operator: section.sourced_text("operator", reader),
            assistants: names(section, "assistants", reader),
            modes: section
                .tables("mode", reader)
                .iter()
                .filter_map(|mode| Mode::read(mode, defaults, reader))
                .collect(),
        };
        section.close(reader);
        id.map(|_| camera)
    }
}

impl Mode {
    fn read(section: &Section<'_>, defaults: &Defaults, reader: &mut Reader<'_>) -> Option<Self> {
        let id = section.text("id", reader);
        let raster = section.raster("raster", reader);
        let rate = section.rate("rate", reader);
        let back = read_back(section, raster, reader);
        let stated = section.number("area-uncertainty-percent", reader);
        let back_relative = stated.map_or(defaults.area, percent);
        section.close(reader);
        let id = id?;
        let origin = Origin::Kit { key: Arc::from(section.path()) };
        Some(Self { id, raster: raster?, rate, back: back?, back_relative, origin })
    }
}

/// Faults a mode whose id another mode of the camera has too.
fn unique_modes(section: &Section<'_>, reader: &mut Reader<'_>) {
    let mut seen = BTreeSet::new();
    // What else is wrong with a mode is said where it is read.
    let mut aside = Reader::aside();
    for mode in section.tables("mode", &mut aside) {
        let Some(id) = mode.text("id", &mut aside) else { continue };
        if !seen.insert(id.to_lowercase()) {
            let message = format!("two modes of the camera are called \"{id}\"");
            reader.fault(mode.place("id"), message, "give each mode an id of its own");
        }
    }
}

/// The recorded area: stated in millimetres, or as photosites used times their pitch.
fn read_back(
    section: &Section<'_>,
    raster: Option<Raster>,
    reader: &mut Reader<'_>,
) -> Option<FilmBack> {
    let width = section.number("width", reader);
    let height = section.number("height", reader);
    let pitch = section.number("pitch", reader);
    let photosites = section.raster("photosites", reader);
    let back = |w, h| Some(FilmBack { width: Millimeters::new(w)?, height: Millimeters::new(h)? });
    match (width, height, pitch, photosites.or(raster)) {
        (Some(width), Some(height), _, _) => back(width, height),
        (None, None, Some(pitch), Some(used)) => {
            let side = |count: u32| f64::from(count) * pitch / 1000.0;
            let (width, height) = (side(used.width()), side(used.height()));
            let holds = |key, side| matches!(section.form(key), Some(Form::Number(range)) if range.holds(side));
            if !holds("width", width) || !holds("height", height) {
                let (width, height) = (short(width, 4), short(height, 4));
                reader.fault(
                    section.place("pitch"),
                    format!("{used} photosites at this pitch are an area of {width} x {height} mm"),
                    "write the pitch in micrometres, and the photosites that the recording is made from",
                );
                return None;
            }
            back(width, height)
        }
        _ => {
            // A number that cannot be has said so.
            let sides = ["width", "height"].map(|key| section.has(key));
            if sides == [true, true] || (sides == [false, false] && section.has("pitch")) {
                return None;
            }
            reader.fault(
                section.span.clone(),
                "the recorded area of this mode is not stated",
                "add width and height in millimetres, or pitch in micrometres and the photosites used",
            );
            None
        }
    }
}
