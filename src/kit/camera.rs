//! Cameras and their recording modes.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::read::{Reader, Section};
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

    pub(super) fn read(section: &Section<'_>, reader: &mut Reader<'_>) -> Option<Self> {
        let id = section.required_text("id", reader);
        unique_modes(section, reader);
        let camera = Self {
            id: id.clone().unwrap_or_default(),
            name: section.text("name", reader),
            rolls: section.texts("rolls", reader),
            mount: section.text("mount", reader),
            serial: section.text("serial", reader),
            attachment: section.sourced_text("attachment", reader),
            modes: section
                .tables("mode", reader)
                .iter()
                .filter_map(|mode| Mode::read(mode, reader))
                .collect(),
        };
        section.close(reader);
        id.map(|_| camera)
    }
}

impl Mode {
    fn read(section: &Section<'_>, reader: &mut Reader<'_>) -> Option<Self> {
        let id = section.required_text("id", reader);
        let raster = section.required_text("raster", reader).and_then(|text| {
            let raster = parse_raster(&text);
            if raster.is_none() {
                reader.fault(
                    section.place("raster"),
                    format!("\"{text}\" is not a raster"),
                    "write width x height in pixels, such as raster = \"3840x2160\"",
                );
            }
            raster
        });
        let rate = section.text("rate", reader).and_then(|text| {
            let rate = parse_rate(&text);
            if rate.is_none() {
                reader.fault(
                    section.place("rate"),
                    format!("\"{text}\" is not a frame rate"),
                    "write rate = \"25\", \"24000/1001\" or \"23.976\"",
                );
            }
            rate
        });
        let back = read_back(section, raster, reader);
        section.close(reader);
        let id = id?;
        let origin = Origin::Kit { key: Arc::from(section.path()) };
        Some(Self { id, raster: raster?, rate, back: back?, origin })
    }
}

/// Faults a mode whose id another mode of the camera has too.
fn unique_modes(section: &Section<'_>, reader: &mut Reader<'_>) {
    let mut seen = BTreeSet::new();
    // What else is wrong with a mode is said where it is read.
    let mut aside = Reader::new("", "");
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
    let width = section.number("width", 0.5, 100.0, reader);
    let height = section.number("height", 0.5, 100.0, reader);
    let pitch = section.number("pitch", 0.5, 50.0, reader);
    let photosites = section.text("photosites", reader).and_then(|text| {
        let photosites = parse_raster(&text);
        if photosites.is_none() {
            reader.fault(
                section.place("photosites"),
                format!("\"{text}\" is not a raster"),
                "write the photosites used as \"6240x3510\"",
            );
        }
        photosites
    });
    let back = |w, h| Some(FilmBack { width: Millimeters::new(w)?, height: Millimeters::new(h)? });
    match (width, height, pitch, photosites.or(raster)) {
        (Some(width), Some(height), _, _) => back(width, height),
        (None, None, Some(pitch), Some(used)) => {
            let side = |count: u32| f64::from(count) * pitch / 1000.0;
            back(side(used.width()), side(used.height()))
        }
        _ => {
            reader.fault(
                section.span.clone(),
                "the recorded area of this mode is not stated",
                "add width and height in millimetres, or pitch in micrometres and the photosites used",
            );
            None
        }
    }
}

fn parse_raster(text: &str) -> Option<Raster> {
    let (width, height) = text.split_once(['x', 'X', '\u{d7}'])?;
    Raster::new(width.trim().parse().ok()?, height.trim().parse().ok()?)
}

/// A rate as people write it; 23.976, 29.97 and the like mean the rates over 1001.
pub(crate) fn parse_rate(text: &str) -> Option<Ratio> {
    if let Some((num, den)) = text.split_once('/') {
        return Ratio::new(num.trim().parse().ok()?, den.trim().parse().ok()?);
    }
    let number: f64 = text.trim().parse().ok().filter(|n| (1.0..=1000.0).contains(n))?;
    (1..=1000_u32).flat_map(|whole| [(whole, 1_u64), (whole, 1001)]).find_map(|(whole, den)| {
        let num = u64::from(whole) * if den == 1 { 1 } else { 1000 };
        let ratio = Ratio::new(num, den)?;
        ((ratio.to_f64() - number).abs() < 0.005).then_some(ratio)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_as_people_write_them() {
        for (text, want) in [
            ("23.976", "24000/1001"),
            ("23.98", "24000/1001"),
            ("24", "24"),
            ("29.97", "30000/1001"),
            ("59.94", "60000/1001"),
            ("50", "50"),
            ("24000/1001", "24000/1001"),
        ] {
            assert_eq!(parse_rate(text).unwrap().to_string(), want, "{text}");
        }
        assert!(parse_rate("fast").is_none());
        assert!(parse_rate("0").is_none());
    }
}
