//! Neutral density as people write it, in stops.
//!
//! Three ways to number a filter are in use side by side (common practice, no source): by its optical density, 0.3 a
//! stop (`ND 0.6`, and `ND6` for short); by its factor, the light divided by it (`ND4`, `1/4`); and in stops. Each is
//! told by its form. Where a number could be two of them nothing is read: the filter stands as noted.

use libm::log2;

use crate::units::Stops;

/// What a number of stops is believed up to.
const MOST: f64 = 24.0;

/// The stops that the neutral density in a filter cell takes; `None` where it names none, or not surely.
pub(super) fn density(text: &str) -> Option<Stops> {
    let text = text.trim().to_lowercase();
    if matches!(text.as_str(), "none" | "no" | "nil" | "clear" | "no filter" | "-") {
        return Stops::new(0.0);
    }
    // Graded and variable filters take another part of the light in another part of the picture, or at another time.
    if ["grad", "vari", "atten"].iter().any(|word| text.contains(word)) {
        return None;
    }
    let mut sum = None;
    for part in parts(&text) {
        match part_stops(part) {
            Part::Other => {}
            Part::Unclear => return None,
            Part::Stops(stops) => sum = Some(sum.unwrap_or(0.0) + stops),
        }
    }
    Stops::new(sum?).filter(|stops| stops.get() <= MOST)
}

/// The stops in a cell below a heading that says neutral density, where a number may stand alone.
pub(super) fn density_below(text: &str, in_stops: bool) -> Option<Stops> {
    let lower = text.trim().to_lowercase();
    let bare = lower.replace(',', ".");
    let number = bare.parse::<f64>().ok().filter(|number| number.is_finite());
    match number {
        None if lower.starts_with("1/") => factor(&lower).and_then(Stops::new),
        None => density(text),
        Some(number) if in_stops => {
            Some(number).filter(|n| (0.0..=MOST).contains(n)).and_then(Stops::new)
        }
        Some(0.0) => Stops::new(0.0),
        Some(_) if bare.contains('.') => by_density(&bare).and_then(Stops::new),
        // Below 16 a whole number may be a factor, tenths of a density, or stops.
        Some(number) if number >= 16.0 => factor(&bare).and_then(Stops::new),
        Some(_) => None,
    }
}

/// Parts of a stack of filters. A comma between digits is a decimal comma.
fn parts(text: &str) -> Vec<&str> {
    let mut parts = Vec::new();
    let mut start = 0;
    for (at, letter) in text.char_indices() {
        let digit = |text: Option<&str>, last: bool| {
            let letter = text.and_then(|t| if last { t.chars().last() } else { t.chars().next() });
            letter.is_some_and(|letter| letter.is_ascii_digit())
        };
        let decimal =
            letter == ',' && digit(text.get(..at), true) && digit(text.get(at + 1..), false);
        if matches!(letter, '+' | '&' | ';' | ',' | '\n') && !decimal {
            parts.push(text.get(start..at).unwrap_or_default());
            start = at + letter.len_utf8();
        }
    }
    parts.push(text.get(start..).unwrap_or_default());
    parts
}

enum Part {
    /// No neutral density.
    Other,
    /// Neutral density of which it cannot be told how much.
    Unclear,
    Stops(f64),
}

fn part_stops(part: &str) -> Part {
    let part = part.trim().replace("n.d.", "nd").replace(',', ".");
    if let Some(stops) = in_stops(&part) {
        return Part::Stops(stops);
    }
    // `85ND6`, `IRND 0.6`, `ND.6`, `N6`: the letters, then the number.
    let Some((before, after)) = part.rsplit_once("nd").or_else(|| {
        let (before, after) = part.rsplit_once('n')?;
        after.starts_with(|c: char| c.is_ascii_digit() || c == '.').then_some((before, after))
    }) else {
        return Part::Other;
    };
    let whole_word = before.chars().last().is_none_or(|c| !c.is_alphabetic())
        || ["ir", "r"].iter().any(|word| before.split_whitespace().last() == Some(word));
    if !whole_word {
        return Part::Other;
    }
    let number = after.trim_start_matches([' ', '-', ':', '#']).trim();
    match by_density(number).or_else(|| factor(number)).or_else(|| tenths(number)) {
        Some(stops) => Part::Stops(stops),
        None => Part::Unclear,
    }
}

/// `2 stops`, `nd 2 stop`, `1.5 stops nd`.
fn in_stops(part: &str) -> Option<f64> {
    if !part.contains("stop") {
        return None;
    }
    let words = part.replace("stops", " ").replace("stop", " ").replace("nd", " ");
    let number: f64 = words.trim().trim_start_matches('-').parse().ok()?;
    (0.0..=MOST).contains(&number).then_some(number)
}

/// `0.6`, `.9`, `1.2`: a density, with a point in it. The marks stand for whole thirds: 0.3 for the density 0.301 of a stop.
fn by_density(text: &str) -> Option<f64> {
    let (whole, decimals) = text.split_once('.')?;
    let digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    let right = digits(whole) && digits(decimals) && !decimals.is_empty() && text.len() <= 6;
    let density: f64 = right.then(|| format!("0{text}").parse().ok())??;
    (density > 0.0 && density <= 6.0).then_some(density / 0.3)
}

/// `4`, `64`, `1000`, `1/4`: what the light is divided by.
fn factor(text: &str) -> Option<f64> {
    let text = text.strip_prefix("1/").unwrap_or(text).trim();
    let number: u32 = text.parse().ok()?;
    let usual = number.is_power_of_two() || matches!(number, 100 | 200 | 400 | 500 | 1000);
    (usual && (2..=100_000).contains(&number)).then(|| log2(f64::from(number)))
}

/// `3`, `6`, `12`: tenths of a density, the point left out.
fn tenths(text: &str) -> Option<f64> {
    let number: u32 = text.parse().ok()?;
    (number > 0 && number.is_multiple_of(3) && number <= 30).then(|| f64::from(number) / 3.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Densities of 0.3 a stop and factors of 2 a stop: density is minus the common logarithm of the transmittance
    /// (ISO 5-1), so that a factor of 4 is a density of 0.602; the marks are rounded (common practice, no source).
    #[test]
    fn densities_factors_and_stops() {
        for (text, stops) in [
            ("ND 0.6", Some(2.0)),
            ("ND.6", Some(2.0)),
            ("nd 0,9", Some(3.0)),
            ("IRND 1.2", Some(4.0)),
            ("IR ND 0.3", Some(1.0)),
            ("N.D. 0.6", Some(2.0)),
            ("ND6", Some(2.0)),
            ("N9", Some(3.0)),
            ("85ND6", Some(2.0)),
            ("85 N6", Some(2.0)),
            ("ND4", Some(2.0)),
            ("ND 8", Some(3.0)),
            ("ND64", Some(6.0)),
            ("ND 1/16", Some(4.0)),
            ("ND 2 stops", Some(2.0)),
            ("2 stops", Some(2.0)),
            ("1.5 stops ND", Some(1.5)),
            ("ND 0.6 + ND 0.3", Some(3.0)),
            ("ND 0.6, pola", Some(2.0)),
            ("none", Some(0.0)),
            ("clear", Some(0.0)),
            ("pola", None),
            ("1/4 mist", None),
            ("ND", None),
            ("ND 0.6 grad", None),
            ("vari ND", None),
            ("ND 5", None),
            ("ND 0.6 + ND", None),
            ("blend 4", None),
            ("ND 99.9", None),
            ("", None),
        ] {
            let found = density(text).map(Stops::get);
            let same = match (found, stops) {
                (Some(a), Some(b)) => (a - b).abs() < 1e-9,
                (a, b) => a == b,
            };
            assert!(same, "{text}: {found:?}");
        }
        for (text, in_stops, stops) in [
            ("0.6", false, Some(2.0)),
            (",9", false, Some(3.0)),
            ("4", false, None),
            ("6", false, None),
            ("64", false, Some(6.0)),
            ("1/4", false, Some(2.0)),
            ("ND4", false, Some(2.0)),
            ("0", false, Some(0.0)),
            ("4", true, Some(4.0)),
            ("99", true, None),
        ] {
            let found = density_below(text, in_stops).map(Stops::get);
            assert_eq!(found.map(|s| (s * 1e9).round()), stops.map(|s| s * 1e9), "{text}");
        }
    }
}
