//! Standard uncertainties that hold where an entry of the kit, or a note, has none of its own.

use super::read::{Reader, Section};

/// What `[defaults]` says, or common practice where it says nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Defaults {
    /// Relative, of a focal length known from its mark alone: 3.7 %.
    /// Common practice, no source; from 29 set-ups of an open collection of lens calibrations.
    pub focal: f64,
    /// Relative, of a magnification known from its mark alone: 1.2 %. Same standing.
    pub magnification: f64,
    /// Relative, of each side of a recorded area: 0.3 % (common practice, no source).
    pub area: f64,
    /// Relative, of an image circle or exit circle: 2 % (common practice, no source).
    pub circle: f64,
    /// Relative, of a transmittance that the kit states: 3 % (common practice, no source).
    pub transmittance: f64,
    /// Relative, of an f- or T-number on a ring, set or engraved: that of a tenth of a stop (common practice, no source).
    pub stop: f64,
    /// Relative, of a noted focus distance: 5 % (common practice, no source).
    pub focus: f64,
    /// Of the place of an entrance pupil, in millimetres: 1 (common practice, no source).
    pub pupil: f64,
    /// Of the thickness of an attachment or its shift, in millimetres: 0.5. Common practice, no source; one real
    /// adapter measured 0.9 mm short of its nominal thickness, and 0.9 / sqrt 3 is 0.5 (rectangular, JCGM 100:2008, 4.3.7).
    pub thickness: f64,
    /// The blur circle that counts as sharp is the diagonal of the recorded area over this: 1500 (common practice, no source).
    pub blur_parts: f64,
}

/// Relative change of an f- or T-number for a change of one stop: N is 2^(stops / 2).
const STOP: f64 = std::f64::consts::LN_2 / 2.0;

/// A part in percent as a number.
pub(super) fn percent(number: f64) -> f64 {
    number / 100.0
}

impl Default for Defaults {
    fn default() -> Self {
        Self {
            focal: percent(3.7),
            magnification: percent(1.2),
            area: percent(0.3),
            circle: percent(2.0),
            transmittance: percent(3.0),
            stop: 0.1 * STOP,
            focus: percent(5.0),
            pupil: 1.0,
            thickness: 0.5,
            blur_parts: 1500.0,
        }
    }
}

impl Defaults {
    pub(super) fn read(section: &Section<'_>, reader: &mut Reader<'_>) -> Self {
        let mut defaults = Self::default();
        let mut set = |value: &mut f64, key, meaning: fn(f64) -> f64| {
            if let Some(number) = section.number(key, reader) {
                *value = meaning(number);
            }
        };
        set(&mut defaults.focal, "focal-uncertainty-percent", percent);
        set(&mut defaults.magnification, "magnification-uncertainty-percent", percent);
        set(&mut defaults.area, "area-uncertainty-percent", percent);
        set(&mut defaults.circle, "circle-uncertainty-percent", percent);
        set(&mut defaults.transmittance, "transmittance-uncertainty-percent", percent);
        set(&mut defaults.stop, "stop-uncertainty-stops", |stops| stops * STOP);
        set(&mut defaults.focus, "focus-uncertainty-percent", percent);
        set(&mut defaults.pupil, "pupil-uncertainty", |as_is| as_is);
        set(&mut defaults.thickness, "thickness-uncertainty", |as_is| as_is);
        set(&mut defaults.blur_parts, "blur-circle-parts", |as_is| as_is);
        section.close(reader);
        defaults
    }
}

#[cfg(test)]
mod tests {
    use std::fmt::Write as _;

    use super::*;
    use crate::kit::{self, keys};

    /// What the table of keys calls the default is the default: written into a kit it changes nothing.
    #[test]
    fn the_table_of_keys_tells_the_defaults() {
        let mut text = String::from("[defaults]\n");
        for key in keys::heading("defaults").unwrap().keys {
            writeln!(text, "{} = {}", key.name, key.default).unwrap();
        }
        let found = kit::parse("kit.toml", text.as_bytes());
        assert_eq!(found.findings, []);
        assert_eq!(found.value.defaults, Defaults::default());
    }

    #[test]
    fn every_default_can_be_set() {
        let mut text = String::from("[defaults]\n");
        for key in keys::heading("defaults").unwrap().keys {
            let value = if key.name == "blur-circle-parts" { 2000 } else { 0 };
            writeln!(text, "{} = {value}", key.name).unwrap();
        }
        let found = kit::parse("kit.toml", text.as_bytes());
        assert_eq!(found.findings, []);
        let none = Defaults {
            focal: 0.0,
            magnification: 0.0,
            area: 0.0,
            circle: 0.0,
            transmittance: 0.0,
            stop: 0.0,
            focus: 0.0,
            pupil: 0.0,
            thickness: 0.0,
            blur_parts: 2000.0,
        };
        assert_eq!(found.value.defaults, none);
    }
}
