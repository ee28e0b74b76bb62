//! The clip cell: one name, a list, ranges, or the whole roll.
//!
//! Clip names may hold hyphens, spaces and signs themselves (`A003C007-1.mov`). So commas, semicolons and line ends
//! always part a list; the other signs part names only where both sides look alike: the same letters and signs with
//! other digits (`C003-C009`, not `A003C007-1`). What does not look like a list or a range is one name.

use super::ClipNames;
use super::cell::Wrong;

/// What a clip cell names.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum ClipCell {
    /// Names and ranges.
    Names(Vec<ClipNames>),
    /// Every clip of the roll.
    WholeRoll,
}

/// The longest name of one clip, in bytes: file systems allow no more.
const LONGEST: usize = 255;

/// Reads a clip cell.
pub(super) fn clips(text: &str) -> Result<ClipCell, Wrong> {
    if matches!(text.to_lowercase().as_str(), "*" | "all" | "all clips" | "whole roll") {
        return Ok(ClipCell::WholeRoll);
    }
    let mut names = Vec::new();
    for part in text.split(['\n', '\r', ';', ',']).map(str::trim) {
        if part.len() > LONGEST {
            return Err(wrong("holds a name that is longer than any file name"));
        }
        if part.chars().any(char::is_control) {
            return Err(wrong("holds characters that cannot be printed"));
        }
        if part.is_empty() {
            continue;
        }
        if let Some(range) = range(part)? {
            names.push(range);
            continue;
        }
        for name in list(part) {
            names.push(match range(name)? {
                Some(range) => range,
                None => ClipNames::One(name.to_owned()),
            });
        }
    }
    if names.is_empty() {
        return Err(wrong("names no clip"));
    }
    Ok(ClipCell::Names(names))
}

fn wrong(what: &'static str) -> Wrong {
    Wrong { what, hint: "write it like C003, C003-C009, or a list with commas between the names" }
}

/// A range, if it looks like one: `C003-C009`, `C003..C009`, `C003 to C009`.
fn range(text: &str) -> Result<Option<ClipNames>, Wrong> {
    for sign in ["...", "..", "…", "–", "—", " to ", "-"] {
        for (at, _) in text.match_indices(sign) {
            let first = text.get(..at).unwrap_or_default().trim();
            let last = text.get(at + sign.len()..).unwrap_or_default().trim();
            if !alike(first, last) {
                continue;
            }
            return match (numbers(first) <= numbers(last), has_letter(first)) {
                (true, _) => Ok(Some(ClipNames::Range(first.to_owned(), last.to_owned()))),
                // `20240514-0001` is a name with a date in it.
                (false, false) => Ok(None),
                (false, true) => Err(Wrong {
                    what: "is a range that runs backwards",
                    hint: "write the first clip first: C003-C009",
                }),
            };
        }
    }
    Ok(None)
}

/// The names in a part of a cell: several where a sign or spaces stand between names that look alike.
fn list(text: &str) -> Vec<&str> {
    for sign in ["+", "&", "/", " "] {
        let parts: Vec<&str> = text
            .split(sign)
            .map(str::trim)
            .filter(|part| !part.is_empty())
            .filter(|part| sign != " " || !part.eq_ignore_ascii_case("and"))
            .collect();
        let Some((first, others)) = parts.split_first() else {
            continue;
        };
        // In `C003 C005-C007` the second name is a range, of which the first end must be like the others.
        let like_first = |other: &&str| alike(ends(first), ends(other));
        if !others.is_empty() && others.iter().all(like_first) {
            return parts;
        }
    }
    vec![text]
}

/// The first end of what may be a range.
fn ends(text: &str) -> &str {
    match range(text) {
        Ok(Some(ClipNames::Range(first, _))) => text.get(..first.len()).unwrap_or(text),
        _ => text,
    }
}

/// True where two names differ in nothing but their digits, and have some. What follows the first low line is not
/// compared where a number stands before it: cameras put dates and random letters there.
fn alike(a: &str, b: &str) -> bool {
    let same = |a: &str, b: &str| {
        let shape = shape(a);
        shape.contains('0') && shape == self::shape(b)
    };
    let head = |text: &str| text.split('_').next().unwrap_or_default().to_owned();
    let (head_a, head_b) = (head(a), head(b));
    same(a, b) || (a != head_a && b != head_b && has_letter(a) && same(&head_a, &head_b))
}

/// A name with each run of digits made one `0`, in lower case.
fn shape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '0'..='9' if out.ends_with('0') => {}
            '0'..='9' => out.push('0'),
            c => out.extend(c.to_lowercase()),
        }
    }
    out
}

/// The numbers of a name, as text of one length each, so that they compare in order however long they are.
fn numbers(text: &str) -> Vec<(usize, &str)> {
    text.split(|c: char| !c.is_ascii_digit())
        .filter(|run| !run.is_empty())
        .map(|run| run.trim_start_matches('0'))
        .map(|run| (run.len(), run))
        .collect()
}

fn has_letter(text: &str) -> bool {
    text.chars().any(char::is_alphabetic)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Names with `|` between them and `~` for a range.
    fn check(text: &str, expected: &str) {
        let written = |cell: ClipCell| match cell {
            ClipCell::WholeRoll => "*".to_owned(),
            ClipCell::Names(names) => {
                let one = |name: &ClipNames| match name {
                    ClipNames::One(name) => name.clone(),
                    ClipNames::Range(first, last) => format!("{first}~{last}"),
                };
                names.iter().map(one).collect::<Vec<_>>().join("|")
            }
        };
        let found = clips(text).map(written);
        assert_eq!(found.as_deref().unwrap_or("wrong"), expected, "{text:?}");
    }

    #[test]
    fn names_lists_and_ranges() {
        for (text, expected) in [
            ("C003", "C003"),
            ("A003C007_0514.mov", "A003C007_0514.mov"),
            ("C003, C005", "C003|C005"),
            ("C003 C005", "C003|C005"),
            ("C003+C005", "C003|C005"),
            ("C003 & C005", "C003|C005"),
            ("C003/C005", "C003|C005"),
            ("C003 and C005", "C003|C005"),
            ("C003;C005\nC007\r\nC009", "C003|C005|C007|C009"),
            ("C003-C009", "C003~C009"),
            ("C003 – C009", "C003~C009"),
            ("C003..C009", "C003~C009"),
            ("c003 to C009", "c003~C009"),
            ("003-009", "003~009"),
            ("C003-C005, C007", "C003~C005|C007"),
            ("C001 C003-C005", "C001|C003~C005"),
            ("X-003-X-009", "X-003~X-009"),
            ("C9-C10", "C9~C10"),
            (
                "A003C003_0514_RA.mov-A003C009_0514_QX.mov",
                "A003C003_0514_RA.mov~A003C009_0514_QX.mov",
            ),
            ("*", "*"),
            ("All", "*"),
            // One name each.
            ("A003C007-1.mov", "A003C007-1.mov"),
            ("A003C007-1", "A003C007-1"),
            ("A003 C007", "A003 C007"),
            ("A003/C007.mov", "A003/C007.mov"),
            ("Clip 3", "Clip 3"),
            ("Take one.mov", "Take one.mov"),
            ("20240514-0001", "20240514-0001"),
            ("shot+plate.mov", "shot+plate.mov"),
            // Faults.
            ("C009-C003", "wrong"),
            (",;", "wrong"),
            ("C0\u{7}3", "wrong"),
        ] {
            check(text, expected);
        }
        check(&"C".repeat(256), "wrong");
    }
}
