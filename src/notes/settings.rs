//! Cells of how the camera was set and stood: sensitivity, shutter, white balance, height, tilt.

use crate::number::short;
use crate::units::{ExposureIndex, Kelvin, Meters, Seconds, ShutterAngle, Tilt};

use super::camera::{IsoKind, IsoNote, ShutterNote, WhiteNote};
use super::cell::{Wrong, decimal, words};
use super::columns::{Heading, key};
use super::headings::Column;
use super::length::{self, NO_UNIT};

/// Sensitivities that are believed.
const ISO: std::ops::RangeInclusive<f64> = 1.0..=10_000_000.0;
/// Exposure times that are believed, in seconds.
const TIME: std::ops::RangeInclusive<f64> = 1e-6..=86_400.0;
/// Colour temperatures that are believed, in kelvins: candles to open shade.
const KELVIN: std::ops::RangeInclusive<f64> = 1000.0..=40_000.0;
/// Heights of a lens that are believed, in metres; a crane or a roof, and a drone is no camera report's.
const HEIGHT: f64 = 2000.0;
/// Whole numbers that are angles of shutters and no usual exposure time (common practice, no source).
const ANGLES: [&str; 12] =
    ["11", "22", "45", "90", "135", "144", "172", "173", "180", "216", "270", "360"];

/// `800`, `EI 800`, `ISO800`, `800 ASA`, `12,800`; the heading says what a bare number is.
pub(super) fn iso(text: &str, heading: &Heading<Column>) -> Result<IsoNote, Wrong> {
    let wrong = Wrong { what: "is no ISO or exposure index", hint: "write it like 800 or EI 800" };
    let lower = text.to_lowercase();
    let named = [
        ("iso", IsoKind::Iso),
        ("asa", IsoKind::Iso),
        ("exposure index", IsoKind::Index),
        ("ei", IsoKind::Index),
    ];
    let own = named.iter().find_map(|(name, kind)| {
        let rest = lower.strip_prefix(name).or_else(|| lower.strip_suffix(name))?;
        Some((rest.trim_matches([' ', ':', '=', '.']), *kind))
    });
    let of_heading = match key(&heading.typed).as_str() {
        "iso" | "asa" | "isoasa" | "asaiso" => IsoKind::Iso,
        "ei" | "exposureindex" => IsoKind::Index,
        _ => IsoKind::Unsaid,
    };
    let (number, kind) = own.unwrap_or((&lower, of_heading));
    // No sensitivity has decimals, so a sign before three digits parts thousands.
    let number = grouped(number).or_else(|| decimal(number)).ok_or(wrong)?;
    let value = ExposureIndex::new(number).filter(|_| ISO.contains(&number)).ok_or(wrong)?;
    Ok(IsoNote { value, kind })
}

/// `12,800`, `12.800`, `12 800`, `12'800`: a whole number with its thousands parted.
fn grouped(text: &str) -> Option<f64> {
    let sign = text.chars().find(|c| !c.is_ascii_digit())?;
    if !matches!(sign, ',' | '.' | ' ' | '\'' | '\u{2019}' | '\u{a0}' | '\u{202f}') {
        return None;
    }
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    let mut parts = text.split(sign);
    let first = parts.next().filter(|first| (1..=3).contains(&first.len()) && digits(first))?;
    let mut all = first.to_owned();
    for part in parts {
        if part.len() != 3 || !digits(part) || all.len() > 6 {
            return None;
        }
        all.push_str(part);
    }
    all.parse().ok()
}

/// `172.8`, `180°`, `1/50`, `1/50 s`, `20 ms`; a bare number by the heading, or where it can only be one of the two.
pub(super) fn shutter(text: &str, heading: &Heading<Column>) -> Result<ShutterNote, Wrong> {
    let hint = "write an angle like 180° or a time like 1/50";
    let wrong = Wrong { what: "is no shutter angle or exposure time", hint };
    let angle = |number: f64| ShutterAngle::new(number).map(ShutterNote::Angle).ok_or(wrong);
    let time = |seconds: f64| {
        let believed = Seconds::new(seconds).filter(|_| TIME.contains(&seconds));
        believed.map(ShutterNote::Time).ok_or(wrong)
    };
    let lower = text.to_lowercase();
    let degrees = ["degrees", "degree", "deg.", "deg", "°", "º"];
    if let Some(number) = degrees.iter().find_map(|unit| lower.strip_suffix(unit)) {
        return angle(decimal(number.trim()).ok_or(wrong)?);
    }
    let bare = lower.trim_end_matches('.');
    let milli = bare.strip_suffix("msec").or_else(|| bare.strip_suffix("ms"));
    if let Some(number) = milli {
        return time(decimal(number.trim()).ok_or(wrong)? / 1000.0);
    }
    let seconds = ["seconds", "second", "secs", "sec", "th s", "ths", "th", "s", "\""]
        .iter()
        .find_map(|unit| bare.strip_suffix(unit));
    let number = seconds.unwrap_or(bare).trim();
    if let Some((top, bottom)) = number.split_once('/') {
        let (top, bottom) =
            (decimal(top.trim()).ok_or(wrong)?, decimal(bottom.trim()).ok_or(wrong)?);
        return time(if bottom > 0.0 { top / bottom } else { 0.0 });
    }
    let number = decimal(number).ok_or(wrong)?;
    if seconds.is_some() {
        return time(number);
    }
    match key(&heading.typed).as_str() {
        "shutterangle" => return angle(number),
        // `50` in a column of speeds is a fiftieth.
        "shutterspeed" if number >= 2.0 => return time(1.0 / number),
        "shutterspeed" => return time(number),
        "exposuretime" if number < 1.0 => return time(number),
        _ => {}
    }
    if number > 360.0 {
        return time(1.0 / number);
    }
    if number >= 1.0 && (number.fract() > 0.0 || ANGLES.contains(&short(number, 0).as_str())) {
        return angle(number);
    }
    Err(Wrong { what: "may be an angle or a time", hint })
}

/// `5600K`, `5600`, `3200 K`, `daylight`, `auto`, `5600K +3`.
pub(super) fn white_balance(text: &str, heading: &Heading<Column>) -> Result<WhiteNote, Wrong> {
    let wrong = Wrong {
        what: "is no white balance",
        hint: "write a colour temperature like 5600K, or a word like daylight or auto",
    };
    let end = text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',' | '\'')));
    let (number, rest) = text.split_at(end.unwrap_or(text.len()));
    if number.is_empty() {
        let said = words(text, heading)?;
        let means = said.chars().any(char::is_alphabetic);
        return means.then_some(WhiteNote { temperature: None, words: Some(said) }).ok_or(wrong);
    }
    let number = number.trim_end_matches(['.', ',']);
    let rest = rest.trim_start();
    let rest = rest.strip_prefix('°').unwrap_or(rest);
    let (kelvins, rest) =
        rest.strip_prefix(['K', 'k']).map_or((false, rest), |rest| (true, rest.trim_start()));
    let rest = rest.trim_start_matches("elvin").trim();
    let number = grouped(number).or_else(|| decimal(number)).ok_or(wrong)?;
    // `5.6K` is said for 5600 K: nothing is as cold as six kelvins.
    let kelvins = if number < 100.0 && kelvins { number * 1000.0 } else { number };
    let temperature = Kelvin::new(kelvins).filter(|_| KELVIN.contains(&kelvins)).ok_or(wrong)?;
    let said = if rest.is_empty() { None } else { Some(words(rest, heading)?) };
    Ok(WhiteNote { temperature: Some(temperature), words: said })
}

/// Height of the lens above the ground, as distances are written.
pub(super) fn height(text: &str, heading: &Heading<Column>) -> Result<Meters, Wrong> {
    let hint = "write it like 1.2 m, 85 cm or 5'6\"";
    let found = length::focus(text, heading.unit).map_err(|wrong| {
        if wrong.what == NO_UNIT {
            // The same words, by which a column without a unit is told once.
            let hint = "write it like 1.2 m or 5'6\", or put the unit in the heading: Height (m)";
            return Wrong { what: NO_UNIT, hint };
        }
        Wrong { what: "is no height", hint }
    })?;
    if found.get() > HEIGHT {
        return Err(Wrong { what: "is no height of a lens", hint });
    }
    Ok(found)
}

/// `-5°`, `5`, `5 down`, `up 10`, `level`; upwards is positive.
pub(super) fn tilt(text: &str, _: &Heading<Column>) -> Result<Tilt, Wrong> {
    let wrong = Wrong { what: "is no tilt", hint: "write it in degrees, like -5° for down" };
    let lower = text.to_lowercase();
    if matches!(lower.as_str(), "level" | "flat" | "straight") {
        return Tilt::new(0.0).ok_or(wrong);
    }
    let said =
        |word: &str| lower.strip_suffix(word).or_else(|| lower.strip_prefix(word)).map(str::trim);
    let (rest, way) = match (said("down"), said("up")) {
        (Some(rest), _) => (rest, Some(-1.0)),
        (None, Some(rest)) => (rest, Some(1.0)),
        (None, None) => (lower.as_str(), None),
    };
    let rest = ["degrees", "degree", "deg.", "deg", "°", "º"]
        .iter()
        .find_map(|unit| rest.strip_suffix(unit))
        .unwrap_or(rest)
        .trim();
    let (sign, number) = match rest.strip_prefix(['-', '\u{2212}', '–']) {
        Some(number) => (Some(-1.0), number),
        None => match rest.strip_prefix('+') {
            Some(number) => (Some(1.0), number),
            None => (None, rest),
        },
    };
    // `-5 down` says it twice, or takes it back: nobody knows.
    let sign = match (sign, way) {
        (Some(_), Some(_)) => return Err(wrong),
        (sign, way) => sign.or(way).unwrap_or(1.0),
    };
    let number = decimal(number.trim()).ok_or(wrong)?;
    // No negative nought, which would print with its sign.
    let degrees = if number > 0.0 { sign * number } else { 0.0 };
    Tilt::new(degrees).ok_or(wrong)
}

#[cfg(test)]
mod tests {
    use super::super::columns::heading;
    use super::*;

    fn under(typed: &str) -> Heading<Column> {
        heading(typed).unwrap()
    }

    #[test]
    fn sensitivities_are_read() {
        for (text, typed, wanted) in [
            ("800", "ISO", Some((800.0, IsoKind::Iso))),
            ("EI 800", "ISO", Some((800.0, IsoKind::Index))),
            ("ei800", "ISO/EI", Some((800.0, IsoKind::Index))),
            ("ISO 1600", "EI", Some((1600.0, IsoKind::Iso))),
            ("800 ASA", "EI", Some((800.0, IsoKind::Iso))),
            ("400", "EI", Some((400.0, IsoKind::Index))),
            ("800", "ISO/EI", Some((800.0, IsoKind::Unsaid))),
            ("12,800", "ISO", Some((12_800.0, IsoKind::Iso))),
            ("12 800", "ISO", Some((12_800.0, IsoKind::Iso))),
            ("1.600", "ISO", Some((1600.0, IsoKind::Iso))),
            ("800/1600", "ISO", None),
            ("0", "ISO", None),
            ("-800", "ISO", None),
            ("high", "ISO", None),
            ("EI", "ISO", None),
            ("1,2,3", "ISO", None),
        ] {
            let found = iso(text, &under(typed)).ok().map(|note| (note.value.get(), note.kind));
            assert_eq!(found, wanted, "{text} under {typed}");
        }
    }

    #[test]
    fn shutters_are_angles_or_times() {
        let angle = |number| ShutterAngle::new(number).map(ShutterNote::Angle);
        let time = |number| Seconds::new(number).map(ShutterNote::Time);
        for (text, typed, wanted) in [
            ("172.8", "Shutter", angle(172.8)),
            ("172,8", "Shutter", angle(172.8)),
            ("180", "Shutter", angle(180.0)),
            ("180°", "Shutter", angle(180.0)),
            ("50 deg", "Shutter", angle(50.0)),
            ("50", "Shutter angle", angle(50.0)),
            ("1/50", "Shutter", time(0.02)),
            ("1/50 s", "Shutter angle", time(0.02)),
            ("1/50th", "Shutter", time(0.02)),
            ("1/47.95", "Shutter", time(1.0 / 47.95)),
            ("20 ms", "Shutter", time(0.02)),
            ("0.02s", "Shutter", time(0.02)),
            ("50", "Shutter speed", time(0.02)),
            ("500", "Shutter", time(0.002)),
            ("0.02", "Exposure time", time(0.02)),
            ("50", "Shutter", None),
            ("120", "Shutter", None),
            ("361°", "Shutter", None),
            ("0", "Shutter angle", None),
            ("1/0", "Shutter", None),
            ("open", "Shutter", None),
        ] {
            assert_eq!(shutter(text, &under(typed)).ok(), wanted, "{text} under {typed}");
        }
        let both = shutter("50", &under("Shutter")).unwrap_err();
        assert_eq!(both.what, "may be an angle or a time");
    }

    #[test]
    fn white_balances_are_numbers_or_words() {
        for (text, kelvins, words) in [
            ("5600K", Some(5600.0), None),
            ("5600 K", Some(5600.0), None),
            ("3200", Some(3200.0), None),
            ("5,600 K", Some(5600.0), None),
            ("5.6K", Some(5600.0), None),
            ("4300°K", Some(4300.0), None),
            ("5600 Kelvin", Some(5600.0), None),
            ("5600K +3", Some(5600.0), Some("+3")),
            ("5600 tint -2", Some(5600.0), Some("tint -2")),
            ("daylight", None, Some("daylight")),
            ("Auto", None, Some("Auto")),
        ] {
            let found = white_balance(text, &under("WB")).unwrap_or_else(|_| panic!("{text}"));
            let wanted = (kelvins, words.map(str::to_owned));
            assert_eq!((found.temperature.map(Kelvin::get), found.words), wanted, "{text}");
        }
        for text in ["0", "500", "99999", "+3", "1/50"] {
            assert!(white_balance(text, &under("WB")).is_err(), "{text}");
        }
    }

    #[test]
    fn heights_and_tilts_are_read() {
        for (text, typed, meters) in [
            ("5'6\"", "Height", Some(1.6764)),
            ("1.2 m", "Lens height", Some(1.2)),
            ("85", "Height (cm)", Some(0.85)),
            ("1.2", "Height", None),
            ("inf", "Height m", None),
            ("0", "Height m", None),
        ] {
            let found = height(text, &under(typed)).ok().map(Meters::get);
            let close = found.zip(meters).is_some_and(|(a, b)| (a - b).abs() < 1e-12);
            assert!(close || found == meters, "{text}: {found:?}");
        }
        assert_eq!(height("1.2", &under("Height")).unwrap_err().what, NO_UNIT);
        for (text, degrees) in [
            ("-5°", Some(-5.0)),
            ("\u{2212}5", Some(-5.0)),
            ("+12.5", Some(12.5)),
            ("5 down", Some(-5.0)),
            ("5° down", Some(-5.0)),
            ("up 10", Some(10.0)),
            ("level", Some(0.0)),
            ("-0", Some(0.0)),
            ("-5 down", None),
            ("91", None),
            ("slightly", None),
        ] {
            let found = tilt(text, &under("Tilt")).ok().map(Tilt::get);
            assert_eq!(found, degrees, "{text}");
            assert!(found.is_none_or(|degrees| degrees != 0.0 || degrees.is_sign_positive()));
        }
    }
}
