//! Numbers of the kit: alone, in lists and in pairs, each held to the range that the table of keys gives it.

use toml::Spanned;
use toml::de::{DeArray, DeValue};

use super::form::{Form, MOST_NUMBERS, Range};
use super::read::{Reader, Section};
use crate::number::short;

/// Millimetres in an inch.
const INCH: f64 = 25.4;

/// A number, or numbers over the focal lengths of a zoom, rising.
pub(super) enum Ramp {
    /// One for all focal lengths.
    One(f64),
    /// Focal length in millimetres, and the number there.
    Over(Vec<(f64, f64)>),
}

impl Section<'_> {
    /// A number within its range; a fault says the range.
    pub(super) fn number(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<f64> {
        let range = self.range(key);
        let value = self.get(key, reader)?;
        one(key, value, range?, reader)
    }

    /// The range of a number. `None` where it hangs on another key that says nothing known: that was said there.
    fn range(&self, key: &'static str) -> Option<Range> {
        match self.form(key)? {
            Form::Number(range) => Some(range),
            Form::NumberBy(other, ranges) => {
                let word = self.word(other, &mut Reader::aside())?;
                ranges.iter().find(|(known, _)| *known == word).map(|(_, range)| *range)
            }
            _ => None,
        }
    }

    /// A list of numbers; `None` with a fault where one of them cannot be.
    pub(super) fn numbers(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<Vec<f64>> {
        let Form::Numbers(range) = self.form(key)? else { return None };
        let value = self.get(key, reader)?;
        let list = list(key, value, "[1, 2, 4]", reader)?;
        let numbers: Vec<_> =
            list.iter().filter_map(|entry| one(key, entry, range, reader)).collect();
        (numbers.len() == list.len()).then_some(numbers)
    }

    /// Two numbers, the second at least the first.
    pub(super) fn pair(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<(f64, f64)> {
        let Form::Pair(range) = self.form(key)? else { return None };
        let value = self.get(key, reader)?;
        let found = two(value)
            .filter(|(from, to)| from.0 <= to.0 && range.holds(from.0) && range.holds(to.0));
        if found.is_none() {
            let Range { low, high, .. } = range;
            let message = format!("{key} must be two rising numbers between {low} and {high}");
            reader.fault(value.span(), message, format!("write {key} = [24, 70]"));
        }
        found.map(|(from, to)| (from.0, to.0))
    }

    /// One number, or `[[24, 2.8], [70, 4]]`: numbers at rising focal lengths.
    pub(super) fn ramp(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<Ramp> {
        let Form::Ramp { focal, number } = self.form(key)? else { return None };
        let value = self.get(key, reader)?;
        if !matches!(value.get_ref(), DeValue::Array(_)) {
            return one(key, value, number, reader).map(Ramp::One);
        }
        let example = "[[24, 2.8], [70, 4]]";
        let list = list(key, value, example, reader)?;
        let mut steps: Vec<(f64, f64)> = Vec::new();
        let mut good = true;
        for entry in list {
            let Some(((_, at), (_, stop))) = two(entry) else {
                let message = format!("{key} must hold pairs of focal length and stop");
                reader.fault(entry.span(), message, format!("write {key} = {example}"));
                return None;
            };
            let (at, stop) = (one(key, at, focal, reader), one(key, stop, number, reader));
            let (Some(at), Some(stop)) = (at, stop) else {
                good = false;
                continue;
            };
            if steps.last().is_some_and(|(before, _)| *before >= at) {
                let message = format!("the focal lengths of {key} must rise");
                reader.fault(entry.span(), message, format!("write {key} = {example}"));
                good = false;
            }
            steps.push((at, stop));
        }
        good.then_some(Ramp::Over(steps))
    }
}

/// The entries of a list that is neither empty nor too long.
fn list<'a>(
    key: &str,
    value: &'a Spanned<DeValue<'a>>,
    example: &str,
    reader: &mut Reader<'_>,
) -> Option<&'a DeArray<'a>> {
    let hint = || format!("write {key} = {example}");
    let DeValue::Array(array) = value.get_ref() else {
        reader.fault(value.span(), format!("{key} must be a list of numbers"), hint());
        return None;
    };
    if array.is_empty() {
        reader.fault(value.span(), format!("{key} holds no number"), hint());
        return None;
    }
    if array.len() > MOST_NUMBERS {
        let message = format!("{key} holds {} entries", array.len());
        reader.fault(value.span(), message, format!("{MOST_NUMBERS} are the most; leave some out"));
        return None;
    }
    Some(array)
}

/// A number with where it stands.
type Placed<'a> = (f64, &'a Spanned<DeValue<'a>>);

/// The numbers of a list of exactly two.
fn two<'a>(value: &'a Spanned<DeValue<'a>>) -> Option<(Placed<'a>, Placed<'a>)> {
    let DeValue::Array(array) = value.get_ref() else { return None };
    let mut entries = array.iter();
    let (first, second) = (entries.next()?, entries.next()?);
    if entries.next().is_some() {
        return None;
    }
    Some(((as_number(first.get_ref())?, first), (as_number(second.get_ref())?, second)))
}

fn one(
    key: &str,
    value: &Spanned<DeValue<'_>>,
    range: Range,
    reader: &mut Reader<'_>,
) -> Option<f64> {
    let number = as_number(value.get_ref());
    let Some(number) = number.filter(|n| n.is_finite() || range.high.is_infinite()) else {
        let hint = format!("write {key} = and a number, without quotes and without a unit");
        reader.fault(value.span(), format!("{key} must be a number"), hint);
        return None;
    };
    if range.holds(number) {
        return Some(number);
    }
    let Range { low, high, .. } = range;
    let lies = if high.is_infinite() {
        format!("{key} is at least {low}")
    } else if low < high {
        format!("{key} lies between {low} and {high}")
    } else {
        format!("{key} can only be {low}")
    };
    let message = format!("{key} = {number} is out of range");
    reader.fault(value.span(), message, format!("{lies}{}", slip(number, range)));
    None
}

fn as_number(value: &DeValue<'_>) -> Option<f64> {
    let text = match value {
        DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
        DeValue::Float(float) => float.as_str(),
        _ => return None,
    };
    text.replace('_', "").parse().ok().filter(|number: &f64| !number.is_nan())
}

/// Guesses the usual slip behind a number out of range: percent for a ratio, or another unit of length.
fn slip(number: f64, range: Range) -> String {
    let fits = |factor: f64| range.holds(number * factor);
    let meant = |number: f64| format!("did you mean {}?", short(number, 4));
    let too_large = number > range.high;
    match range.unit {
        // Ratios; larger pure numbers are no percentages.
        "" if too_large && range.high <= 4.0 && fits(0.01) => {
            format!("; {}", meant(number / 100.0))
        }
        "mm" if too_large && fits(0.001) => {
            format!("; it is in millimetres: {}", meant(number / 1000.0))
        }
        "mm" if !too_large && number > 0.0 => match (fits(INCH), fits(1000.0)) {
            (true, false) => format!(
                "; it is in millimetres, and {} inches are {} mm",
                short(number, 4),
                short(number * INCH, 2)
            ),
            // So small an inch would hardly be a length of this kind: metres are likelier.
            (inches, true) if !inches || number * INCH < 3.0 * range.low => {
                format!("; it is in millimetres: {}", meant(number * 1000.0))
            }
            _ => "; it is in millimetres".to_owned(),
        },
        "\u{b5}m" if !too_large && fits(1000.0) => {
            format!("; it is in micrometres: {}", meant(number * 1000.0))
        }
        _ => String::new(),
    }
}
