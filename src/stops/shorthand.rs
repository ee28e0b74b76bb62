//! The shorthand in which a film set writes stops.

use libm::{exp2, sqrt};

use super::{distance, exact};

/// Whether a stop was written as an f-number or as a T-number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Letter {
    /// f-number.
    F,
    /// T-number.
    T,
}

/// A stop as people write it, understood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StopText {
    /// As far open as the lens goes.
    WideOpen,
    /// A ring setting.
    Number {
        /// The letter before it; `None` where there was none.
        letter: Option<Letter>,
        /// The exact number, above zero.
        number: f64,
    },
}

/// The smallest and the largest number that is believed to be a stop.
const BELIEVED: std::ops::RangeInclusive<f64> = 0.5..=128.0;

/// Reads the shorthand of a film set: `T2.8`, `f/2`, `5,6`, `2.8½`, `2.8+1/3` (closed by a third), `2.8-1/3`
/// (opened by a third), `T2 3/10` (a stop and tenths), `2.8/4` (split: half-way between), `WO`.
///
/// Numbers come back exact. `None` for everything else, numbers outside 0.5 to 128 included. A split is between
/// neighbours: its ends are at most a stop and a half apart, so that `21/2` and `1/2` are not taken for one.
pub fn parse(text: &str) -> Option<StopText> {
    let text = plain(text)?;
    if matches!(text.as_str(), "wo" | "w.o." | "wide open" | "wide-open" | "wideopen") {
        return Some(StopText::WideOpen);
    }
    let text = text.strip_suffix("split").unwrap_or(&text).trim();
    let (letter, rest) = letter(text);
    let (first, rest) = number(rest)?;
    let number = match rest.strip_prefix('/') {
        Some(second) => split(letter, first, second)?,
        None => exact(first.value).number * exp2(offset(rest)? / 2.0),
    };
    Some(StopText::Number { letter, number })
}

/// Lower case, with one way to write each sign. `None` where the text is too long to be a stop.
fn plain(text: &str) -> Option<String> {
    let text = text.trim();
    if text.len() > 64 {
        return None;
    }
    let mut out = String::with_capacity(text.len());
    for c in text.chars().flat_map(char::to_lowercase) {
        match c {
            '½' => out.push_str(" 1/2"),
            '⅓' => out.push_str(" 1/3"),
            '⅔' => out.push_str(" 2/3"),
            '¼' => out.push_str(" 1/4"),
            '¾' => out.push_str(" 3/4"),
            'ƒ' => out.push('f'),
            '–' | '−' => out.push('-'),
            '⁄' => out.push('/'),
            c if c.is_whitespace() => out.push(' '),
            c => out.push(c),
        }
    }
    Some(out)
}

/// The letter at the start, with the stroke of `f/2`, and what follows.
fn letter(text: &str) -> (Option<Letter>, &str) {
    let (letter, rest) = match (text.strip_prefix('f'), text.strip_prefix('t')) {
        (Some(rest), _) => (Letter::F, rest),
        (_, Some(rest)) => (Letter::T, rest),
        _ => return (None, text),
    };
    let rest = rest.trim_start();
    (Some(letter), rest.strip_prefix('/').unwrap_or(rest).trim_start())
}

/// A number as written: how many decimals it has tells a mark from two numbers run together.
struct Written {
    value: f64,
    decimals: usize,
}

/// A number with a point or a comma at the start of `text`, and what follows it.
fn number(text: &str) -> Option<(Written, &str)> {
    let digits = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let whole = digits(text);
    let tail = text.get(whole..)?;
    let decimals = match tail.strip_prefix(['.', ',']) {
        Some(after) => digits(after),
        None => 0,
    };
    let end = whole + if decimals > 0 { decimals + 1 } else { 0 };
    let value: f64 = text.get(..end)?.replace(',', ".").parse().ok()?;
    let written = Written { value, decimals };
    BELIEVED.contains(&value).then_some((written, text.get(end..)?))
}

/// The stops that stand behind a number: nothing, ` 1/2`, `+1/3`, `- 1/3`.
fn offset(text: &str) -> Option<f64> {
    let spaced = text.starts_with(' ');
    let text = text.trim();
    if text.is_empty() {
        return Some(0.0);
    }
    let (sign, part) = match (text.strip_prefix('+'), text.strip_prefix('-')) {
        (Some(part), _) => (1.0, part),
        (_, Some(part)) => (-1.0, part),
        _ if spaced => (1.0, text),
        _ => return None,
    };
    let (top, bottom) = part.trim().split_once('/')?;
    let bottom = match bottom {
        "2" => 2.0,
        "3" => 3.0,
        "4" => 4.0,
        "8" => 8.0,
        "10" => 10.0,
        _ => return None,
    };
    let digit = top.len() == 1 && top.bytes().all(|b| b.is_ascii_digit());
    let top: f64 = digit.then(|| top.parse().ok())??;
    (top > 0.0 && top < bottom).then_some(sign * top / bottom)
}

/// Half-way between two stops: the geometric mean of the exact numbers (optics: half of the stops between them).
fn split(first_letter: Option<Letter>, first: Written, second: &str) -> Option<f64> {
    let (second_letter, rest) = letter(second.trim());
    let (second, rest) = number(rest)?;
    if !rest.is_empty() || (second_letter.is_some() && second_letter != first_letter) {
        return None;
    }
    // `2.81/2` is `2.8 1/2` run together, and `3/4` is a fraction: neither end of a split looks like that.
    let ends = [first, second].map(|end| {
        let mark = exact(end.value);
        (mark.series.is_some() || end.decimals == 1).then_some(mark.number)
    });
    let [Some(a), Some(b)] = ends else {
        return None;
    };
    (distance(a, b) <= 1.5).then(|| sqrt(a * b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shorthand_is_read() {
        use Letter::{F, T};
        for (text, letter, number) in [
            ("T2.8", Some(T), exp2(1.5)),
            ("t 2.8", Some(T), exp2(1.5)),
            ("f/2", Some(F), 2.0),
            ("F2.0", Some(F), 2.0),
            ("f2", Some(F), 2.0),
            ("ƒ/1.4", Some(F), exp2(0.5)),
            ("2.8", None, exp2(1.5)),
            (" 5,6 ", None, exp2(2.5)),
            (".95", None, 0.95),
            ("2.8½", None, exp2(1.75)),
            ("2.8 1/2", None, exp2(1.75)),
            ("2.8+1/3", None, exp2(1.5 + 1.0 / 6.0)),
            ("2.8-1/3", None, exp2(1.5 - 1.0 / 6.0)),
            ("2.8−⅓", None, exp2(1.5 - 1.0 / 6.0)),
            ("T2.8 + 1/3", Some(T), exp2(1.5 + 1.0 / 6.0)),
            // Some cameras write T as a stop and tenths: 'T2 3/10' is 2 * 2^0.15.
            ("T2 3/10", Some(T), 2.2191),
            ("2.8/4", None, exp2(1.75)),
            ("4/2.8", None, exp2(1.75)),
            ("T2.8/4 split", Some(T), exp2(1.75)),
            ("f/2/2.8", Some(F), exp2(1.25)),
            ("f2/f2.8", Some(F), exp2(1.25)),
        ] {
            let Some(StopText::Number { letter: l, number: n }) = parse(text) else {
                panic!("{text}: {:?}", parse(text))
            };
            assert_eq!(l, letter, "{text}");
            assert!((n - number).abs() <= 5e-5, "{text}: {n}");
        }
        for text in ["WO", "wide open", "Wide-Open", "w.o."] {
            assert_eq!(parse(text), Some(StopText::WideOpen), "{text}");
        }
    }

    #[test]
    fn junk_is_refused() {
        for text in [
            "",
            "2.8.5",
            "abc",
            "0",
            "-1",
            "300",
            "f",
            "T",
            "2.8 4",
            "2.8-4",
            "2.81/2",
            "21/2",
            "1/2",
            "2/3",
            "3/4",
            "2.8+",
            "2.8 5/4",
            "2.8 1/7",
            "2.81/3",
            "f2/t2.8",
            "NaN",
            "inf",
            "1e1",
            "w/o",
            "2.8 +",
            "2.8½½",
            "2..8",
            "2,8,5",
            "T2.8 / 16",
        ] {
            assert_eq!(parse(text), None, "{text}");
        }
    }
}
