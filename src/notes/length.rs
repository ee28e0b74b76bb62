//! Focus distances as people write them: metric, feet and inches, infinity.

use crate::units::Meters;

use super::cell::{Wrong, decimal};

/// A unit that a heading or a cell names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Unit {
    Meter,
    Centimeter,
    Millimeter,
    Foot,
    Inch,
}

impl Unit {
    /// The ways to write each, a longer one before any that it ends with.
    pub(crate) const NAMES: &[(&str, Unit)] = &[
        ("millimetres", Unit::Millimeter),
        ("millimeters", Unit::Millimeter),
        ("centimetres", Unit::Centimeter),
        ("centimeters", Unit::Centimeter),
        ("metres", Unit::Meter),
        ("meters", Unit::Meter),
        ("metre", Unit::Meter),
        ("meter", Unit::Meter),
        ("mm", Unit::Millimeter),
        ("cm", Unit::Centimeter),
        ("m", Unit::Meter),
        ("feet", Unit::Foot),
        ("foot", Unit::Foot),
        ("ft", Unit::Foot),
        ("'", Unit::Foot),
        ("inches", Unit::Inch),
        ("inch", Unit::Inch),
        ("in", Unit::Inch),
        ("\"", Unit::Inch),
    ];

    /// `number` of this unit in metres. Divisions by whole numbers keep 240 cm at exactly 2.4 m;
    /// the foot is 0.3048 m, the inch a twelfth of it (NIST SP 811:2008, B.8).
    fn meters(self, number: f64) -> f64 {
        match self {
            Self::Meter => number,
            Self::Centimeter => number / 100.0,
            Self::Millimeter => number / 1000.0,
            Self::Foot => number * 3048.0 / 10_000.0,
            Self::Inch => number * 254.0 / 10_000.0,
        }
    }
}

/// The farthest distance that is believed; beyond it one writes infinity. Metres.
const FARTHEST: f64 = 20_000.0;

/// What is wrong with a bare number under a heading without a unit: the fault of the column, and not of the cell.
pub(crate) const NO_UNIT: &str = "says no unit";

/// Reads a focus distance; a bare number is in the `heading`'s unit.
pub(crate) fn focus(text: &str, heading: Option<Unit>) -> Result<Meters, Wrong> {
    let wrong = |what| Wrong { what, hint: "write it like 2.4 m, 85 cm, 6'3\", 6 ft or inf" };
    let text = plain(text);
    if matches!(text.as_str(), "inf" | "infinity" | "infinite" | "∞") {
        return Meters::new(f64::INFINITY).ok_or(wrong("is no distance"));
    }
    let meters = match (feet_and_inches(&text), with_unit(&text), mixed(&text)) {
        (Some(meters), _, _) | (_, Some(meters), _) => meters,
        (_, _, Some(number)) => match heading {
            Some(unit) => unit.meters(number),
            None => {
                return Err(Wrong {
                    what: NO_UNIT,
                    hint: "write it like 2.4 m or 6'3\", or put the unit in the heading: Focus (m)",
                });
            }
        },
        _ => return Err(wrong("is no distance")),
    };
    let believed = Meters::new(meters).filter(|_| meters <= FARTHEST);
    believed.ok_or(wrong("is no distance that a lens is set to"))
}

/// Lower case, with one way to write each sign.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.trim().chars().flat_map(char::to_lowercase) {
        match c {
            '′' | '’' | '‘' | '`' | '´' => out.push('\''),
            '″' | '“' | '”' => out.push('"'),
            '½' => out.push_str(" 1/2"),
            '¼' => out.push_str(" 1/4"),
            '¾' => out.push_str(" 3/4"),
            c if c.is_whitespace() => out.push(' '),
            c => out.push(c),
        }
    }
    let out = out.replace("''", "\"");
    out.strip_suffix('.').unwrap_or(&out).to_owned()
}

/// `6'3"`, `6ft 3in`, `6' 3 1/2"`, `6'3`: feet, then inches below twelve.
fn feet_and_inches(text: &str) -> Option<f64> {
    let (feet, rest) = ["feet", "foot", "ft", "'"].iter().find_map(|name| text.split_once(name))?;
    let rest = rest.trim_start_matches(['.', ',', '-', ' ']);
    let rest = ["inches", "inch", "in", "\""]
        .iter()
        .find_map(|name| rest.strip_suffix(name))
        .unwrap_or(rest);
    let inches = mixed(rest).filter(|inches| *inches < 12.0)?;
    let feet: u32 = feet.trim().parse().ok()?;
    Some(Unit::Inch.meters(f64::from(feet) * 12.0 + inches))
}

/// A number with a unit behind it.
fn with_unit(text: &str) -> Option<f64> {
    let (number, unit) =
        Unit::NAMES.iter().find_map(|(name, unit)| Some((text.strip_suffix(name)?, *unit)))?;
    Some(unit.meters(mixed(number)?))
}

/// `3`, `3.5`, `3,5`, `3 1/2`, `1/2`.
fn mixed(text: &str) -> Option<f64> {
    let text = text.trim();
    let Some((before, bottom)) = text.split_once('/') else {
        return decimal(text);
    };
    let (whole, top) = before.trim_end().rsplit_once(' ').unwrap_or(("0", before));
    let whole: u32 = whole.trim().parse().ok()?;
    let top: u32 = top.trim().parse().ok()?;
    let bottom: u32 = bottom.trim().parse().ok()?;
    let fraction = top > 0 && top < bottom && bottom <= 64;
    fraction.then(|| f64::from(whole) + f64::from(top) / f64::from(bottom))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_read() {
        let ft = Some(Unit::Foot);
        for (text, unit, meters) in [
            ("2.4m", None, 2.4),
            ("2,4 m", None, 2.4),
            ("240cm", None, 2.4),
            ("850 mm", None, 0.85),
            ("0,850 m", None, 0.85),
            ("3 metres", None, 3.0),
            ("2.4", Some(Unit::Meter), 2.4),
            ("240", Some(Unit::Centimeter), 2.4),
            ("2.4 m", ft, 2.4),
            ("6'", None, 1.8288),
            ("6.5'", None, 1.9812),
            ("6 1/2 ft", None, 1.9812),
            ("6'3\"", None, 1.905),
            ("6'3", None, 1.905),
            ("6’3”", None, 1.905),
            ("6'3''", None, 1.905),
            ("6′-3″", None, 1.905),
            ("6ft 3in", None, 1.905),
            ("6 ft. 3 in.", None, 1.905),
            ("6' 3 1/2\"", None, 1.9177),
            ("6' 3½\"", None, 1.9177),
            ("75\"", None, 1.905),
            ("75 inches", None, 1.905),
            ("6.25", ft, 1.905),
            ("inf", None, f64::INFINITY),
            ("∞", None, f64::INFINITY),
            ("Infinity", ft, f64::INFINITY),
        ] {
            let found = focus(text, unit).unwrap_or_else(|wrong| panic!("{text}: {wrong:?}"));
            let close = (found.get() - meters).abs() < 1e-12;
            assert!(close || found.get().total_cmp(&meters).is_eq(), "{text}: {found:?}");
        }
    }

    #[test]
    fn what_is_no_distance_is_refused() {
        let m = Some(Unit::Meter);
        for (text, unit) in [
            ("2.4", None),
            ("0", m),
            ("0 m", None),
            ("-2", m),
            ("2,400 m", None),
            ("6'14\"", None),
            ("6.5'3\"", None),
            ("abc", m),
            ("", m),
            ("m", m),
            ("2.4.5", m),
            ("99999999", m),
            ("3 5/4\"", None),
            ("2m 40", None),
        ] {
            assert!(focus(text, unit).is_err(), "{text}");
        }
    }
}
