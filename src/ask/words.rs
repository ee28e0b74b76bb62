//! Words of the command line to numbers. What cannot be meant is refused, with what to write instead.

use anyhow::{Result, anyhow, bail};

use crate::notes::distance as as_noted;
use crate::number::short;
use crate::optics::view::FilmBack;
use crate::stops::{self, StopText};
use crate::units::{Factor, Meters, Millimeters, Transmittance};

/// Focal lengths that are believed, in millimetres.
const FOCAL: std::ops::RangeInclusive<f64> = 1.0..=3000.0;
/// Sides of a recorded area that are believed, in millimetres.
const SIDE: std::ops::RangeInclusive<f64> = 3.0..=100.0;
/// Millimetres of an inch (NIST SP 811:2008, B.8).
const INCH: f64 = 25.4;

/// A number as typed; a decimal comma will do.
pub(super) fn number(text: &str) -> Option<f64> {
    let text = text.trim().replace(',', ".");
    let plain = text.bytes().all(|b| b.is_ascii_digit() || b == b'.' || b == b'-');
    plain.then(|| text.parse().ok()).flatten().filter(|number: &f64| number.is_finite())
}

/// The number before a unit of length, and what a millimetre of it is; `None` where there is no number.
fn length(text: &str) -> Option<(f64, f64)> {
    let text = text.trim().to_lowercase();
    for (unit, scale) in [("mm", 1.0), ("cm", 10.0), ("inch", INCH), ("in", INCH), ("\"", INCH)] {
        if let Some(before) = text.strip_suffix(unit) {
            return Some((number(before)?, scale));
        }
    }
    Some((number(&text)?, 1.0))
}

/// True for what can only be a focal length, and no name.
pub(super) fn is_focal(text: &str) -> bool {
    length(text).is_some()
}

/// A focal length. Millimetres, and nothing else: inches on a lens are a century old.
pub(super) fn focal(text: &str, option: &str) -> Result<Millimeters> {
    let (value, scale) = length(text).ok_or_else(|| {
        anyhow!("--{option} {text}: write a focal length in millimetres, such as 50")
    })?;
    let mm = value * scale;
    if (scale - 1.0).abs() > f64::EPSILON {
        bail!("--{option} {text}: focal lengths are in millimetres; write {}", short(mm, 1));
    }
    if !FOCAL.contains(&mm) {
        // Only a slip that gives a round number is worth a guess.
        let whole = |mm: &f64| (mm - libm::round(*mm)).abs() < 1e-9;
        let meant = [1000.0, 100.0, 10.0]
            .map(|by| mm / by)
            .into_iter()
            .find(|mm| (8.0..=1200.0).contains(mm) && whole(mm));
        let meant = meant.filter(|_| mm > 3000.0);
        let meant =
            meant.map_or_else(String::new, |mm| format!("; did you mean {}?", short(mm, 2)));
        bail!("--{option} {text}: a focal length lies between 1 and 3000 mm{meant}");
    }
    Millimeters::new(mm).ok_or_else(|| anyhow!("--{option} {text}: no focal length"))
}

/// A width and a height in millimetres.
pub(super) fn sensor(text: &str) -> Result<FilmBack> {
    let plain = text.trim().to_lowercase();
    let plain = plain.strip_suffix("mm").unwrap_or(&plain).trim();
    let sides = plain.split_once(['x', '\u{d7}', '*']);
    let sides = sides.and_then(|(w, h)| Some((number(w)?, number(h)?)));
    let Some((width, height)) = sides else {
        bail!(
            "--sensor {text}: write width x height of the recorded area in millimetres, such as 26.2x13.8"
        );
    };
    let back = |w, h| Some(FilmBack { width: Millimeters::new(w)?, height: Millimeters::new(h)? });
    if SIDE.contains(&width) && SIDE.contains(&height) {
        return back(width, height).ok_or_else(|| anyhow!("--sensor {text}: no area"));
    }
    if width > 640.0 {
        bail!(
            "--sensor {text}: these look like pixels; write the recorded area in millimetres, such as 26.2x13.8"
        );
    }
    let (w, h) = (width * INCH, height * INCH);
    if SIDE.contains(&w) && SIDE.contains(&h) {
        let (w, h) = (short(w, 2), short(h, 2));
        bail!(
            "--sensor {text}: the recorded area is in millimetres; if these are inches, write {w}x{h}"
        );
    }
    bail!("--sensor {text}: a side of the recorded area lies between 3 and 100 mm");
}

/// A magnification within `low..=high`.
pub(super) fn magnification(value: f64, option: &str, (low, high): (f64, f64)) -> Result<Factor> {
    if (low..=high).contains(&value) {
        return Factor::new(value).ok_or_else(|| anyhow!("--{option} {value}: no magnification"));
    }
    let percent = value / 100.0;
    if (low..=high).contains(&percent) {
        bail!(
            "--{option} {value}: a magnification is a factor; did you mean {}?",
            short(percent, 4)
        );
    }
    match option {
        "reducer" if value > 1.0 && value <= 4.0 => {
            bail!(
                "--reducer {value}: a reducer's magnification is below 1; for an extender write --extender {value}"
            )
        }
        "extender" if (0.2..1.0).contains(&value) => {
            bail!(
                "--extender {value}: an extender's magnification is above 1; for a reducer write --reducer {value}"
            )
        }
        _ => bail!("--{option} {value}: the magnification lies between {low} and {high}"),
    }
}

/// A number of an option within a range.
pub(super) fn within(
    text: &str,
    option: &str,
    range: std::ops::RangeInclusive<f64>,
) -> Result<f64> {
    let plain = text.trim().to_lowercase();
    let value = number(plain.strip_suffix("mm").unwrap_or(&plain));
    let value = value.ok_or_else(|| anyhow!("--{option} {text}: write a number"))?;
    if range.contains(&value) {
        return Ok(value);
    }
    bail!("--{option} {text}: write a number between {} and {}", range.start(), range.end())
}

/// A transmittance.
pub(super) fn glass(text: &str) -> Result<Transmittance> {
    let plain = text.trim();
    let part = match plain.strip_suffix('%') {
        Some(percent) => number(percent).map(|percent| percent / 100.0),
        None => number(plain),
    };
    let part =
        part.ok_or_else(|| anyhow!("--glass {text}: write a part of the light, such as 0.95"))?;
    let tau = Transmittance::new(part).filter(|_| part >= 0.01);
    let percent = (10.0..=100.0).contains(&part);
    let meant = if percent { format!("; did you mean {}?", part / 100.0) } else { String::new() };
    tau.ok_or_else(|| anyhow!("--glass {text}: a part of the light lies between 0.01 and 1{meant}"))
}

/// A stop in the shorthand of a film set.
pub(super) fn stop(text: &str, option: &str) -> Result<StopText> {
    stops::parse(text).ok_or_else(|| {
        anyhow!("--{option} {text}: this is no stop; write f/1.4, T1.5, f/2.8+1/3, 2.8/4 or wo")
    })
}

/// A focus distance.
pub(super) fn distance(text: &str, option: &str) -> Result<Meters> {
    as_noted(text).map_err(|(what, _)| {
        anyhow!("--{option} {text}: {what}; write it with its unit, like 2.4m, 85cm, 6'3\" or inf")
    })
}

/// The entries of a list, parted by commas.
pub(super) fn list<T>(text: &str, read: impl Fn(&str) -> Result<T>) -> Result<Vec<(String, T)>> {
    /// More than anybody reads.
    const MOST: usize = 100;
    let parts: Vec<&str> = text.split(',').map(str::trim).filter(|part| !part.is_empty()).collect();
    if parts.len() > MOST {
        bail!("a list of {} entries is too long; at most {MOST}", parts.len());
    }
    parts.into_iter().map(|part| Ok((part.to_owned(), read(part)?))).collect()
}
