//! The clip cell: one name, a list, ranges, or the whole roll.
//!
//! Clip names may hold hyphens, spaces and signs themselves (`A003C007-1.mov`). So commas, semicolons and line ends
//! always part a list; the other signs part names only where both sides look alike: the same letters and signs with
//! other digits (`C003-C009`, not `A003C007-1`). What does not look like a list or a range is one name.

use super::ClipNames;
use super::cell::Wrong;

mod merge;

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
    let parts: Vec<&str> = text.split(['\n', '\r', ';', ',']).map(str::trim).collect();
    for part in &parts {
        if part.len() > LONGEST {
            return Err(wrong("holds a name that is longer than any file name"));
        }
        if part.chars().any(char::is_control) {
            return Err(wrong("holds characters that cannot be printed"));
        }
        if part.contains('?') {
            return Err(Wrong {
                what: "is not sure of the clip",
                hint: "write the clip's name; C01* means every clip whose name begins so",
            });
        }
        if part.is_empty() {
            continue;
        }
        let begun = names.len();
        if let Some(range) = range(part)? {
            names.push(range);
        } else {
            for name in list(part) {
                names.push(match range(name)? {
                    Some(range) => range,
                    None if name.contains('*') => ClipNames::Pattern(name.to_owned()),
                    None => ClipNames::One(name.to_owned()),
                });
            }
        }
        lengthen(&mut names, begun);
    }
    if names.is_empty() {
        return Err(wrong("names no clip"));
    }
    let names = merge::overlapping(names);
    // A file name may hold the signs that part a list; the dump tells.
    let filled = parts.iter().filter(|part| !part.is_empty()).count();
    let one_name = text.trim().len() <= LONGEST && !text.contains(['\n', '\r', '*']);
    let unlike = parts.windows(2).any(|two| match two {
        [a, b] => !alike(ends(a), ends(b)),
        _ => false,
    });
    if filled > 1 && one_name && unlike {
        let typed = text.trim().to_owned();
        return Ok(ClipCell::Names(vec![ClipNames::Either { typed, parts: names }]));
    }
    Ok(ClipCell::Names(names))
}

fn wrong(what: &'static str) -> Wrong {
    Wrong { what, hint: "write it like C003, C003-C009, or a list with commas between the names" }
}

/// Numbers alone behind a longer name are short for more of its kind: `C003, 5, 7-9`.
fn lengthen(names: &mut [ClipNames], begun: usize) {
    let (before, added) = names.split_at_mut(begun.min(names.len()));
    let mut stem = before.iter().rev().find_map(|name| stem(name).map(str::to_owned));
    for name in added {
        match (name, &stem) {
            (ClipNames::One(number), Some(stem)) if is_number(number) => {
                *number = format!("{stem}{number}");
            }
            (ClipNames::Range(first, last), Some(stem)) if is_number(first) && is_number(last) => {
                *first = format!("{stem}{first}");
                *last = format!("{stem}{last}");
            }
            (other, _) => stem = self::stem(other).map(str::to_owned).or(stem),
        }
    }
}

/// What stands before the number at the end of a name.
fn stem(name: &ClipNames) -> Option<&str> {
    let name = match name {
        ClipNames::One(name) | ClipNames::Range(name, _) => name,
        ClipNames::Either { typed, parts } => match parts.first() {
            Some(ClipNames::Range(first, _)) => first,
            _ => typed,
        },
        ClipNames::Pattern(_) => return None,
    };
    let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
    (has_letter(stem) && stem.len() < name.len()).then_some(stem)
}

fn is_number(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

/// Signs between the ends of a range, a longer one before any that it holds.
const TO: [&str; 13] =
    ["...", "..", "…", "->", "→", ">", "–", "—", " through ", " thru ", " to ", "~", "-"];

/// A range, if it looks like one: `C003-C009`, `C003..C009`, `C003 to C009`, `A003C003-C009`, `C003-9`.
fn range(text: &str) -> Result<Option<ClipNames>, Wrong> {
    for sign in TO {
        for (at, _) in text.match_indices(sign) {
            let first = text.get(..at).unwrap_or_default().trim();
            let last = text.get(at + sign.len()..).unwrap_or_default().trim();
            if let Some(short) = short_range(text, first, last) {
                return Ok(Some(short));
            }
            if !alike(first, last) && !tail_alike(first, last) {
                continue;
            }
            let forward = if alike(first, last) {
                numbers(first) <= numbers(last)
            } else {
                numbers(first).last() <= numbers(last).last()
            };
            return match (forward, has_letter(first)) {
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

/// `C003-9`, `C003-009`, `C118-25`: the last number stands for the whole, or for its last digits. As some cameras end
/// names so, too, the dump tells whether it is one name.
fn short_range(text: &str, first: &str, last: &str) -> Option<ClipNames> {
    let stem = first.trim_end_matches(|c: char| c.is_ascii_digit());
    let from = first.get(stem.len()..)?;
    if !is_number(last) || from.is_empty() || !has_letter(stem) || last.len() > 9 || from.len() > 9
    {
        return None;
    }
    let number = |digits: &str| digits.parse::<u64>().ok();
    let low = number(from)?;
    let digits = if number(last)? > low {
        last.to_owned()
    } else {
        let kept = from.get(..from.len().checked_sub(last.len())?)?;
        Some(format!("{kept}{last}")).filter(|digits| number(digits) > Some(low))?
    };
    let width = from.len();
    let last = format!("{stem}{digits:0>width$}");
    Some(ClipNames::Either {
        typed: text.to_owned(),
        parts: vec![ClipNames::Range(first.to_owned(), last)],
    })
}

/// True where the end of the first name looks like the whole of the last: `A003C003` and `C009`.
fn tail_alike(first: &str, last: &str) -> bool {
    let (long, short) = (shape(first), shape(last));
    let head = long.strip_suffix(short.as_str());
    // `C001 C003-C005` is a list: what stands before is of the same kind.
    let parted = |head: &str| {
        head.ends_with(|c: char| c == '0' || !c.is_alphanumeric())
            && head.trim_end_matches(|c: char| !c.is_alphanumeric()) != short
    };
    has_letter(last)
        && short.contains('0')
        && short.starts_with(|c: char| c.is_alphabetic())
        && head.is_some_and(parted)
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
        // `C003+5` is short for more of its kind; further on, so that a path or a fraction is none.
        let begins = numbers(ends(first)).last().copied();
        let more = |other: &str| {
            sign != " "
                && is_number(other)
                && has_letter(ends(first))
                && numbers(other).last().copied() > begins
        };
        let like_first = |other: &&str| alike(ends(first), ends(other)) || more(ends(other));
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
        Ok(Some(ClipNames::Either { parts, .. })) => match parts.first() {
            Some(ClipNames::Range(first, _)) => text.get(..first.len()).unwrap_or(text),
            _ => text,
        },
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

/// The numbers of a name, each with its length before it, so that they compare in order however long they are.
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

    fn one(name: &ClipNames) -> String {
        match name {
            ClipNames::One(name) => name.clone(),
            ClipNames::Pattern(name) => format!("pattern {name}"),
            ClipNames::Range(first, last) => format!("{first}~{last}"),
            ClipNames::Either { typed, parts } => {
                let parts: Vec<String> = parts.iter().map(one).collect();
                format!("{typed} or [{}]", parts.join("|"))
            }
        }
    }

    /// Names with `|` between them and `~` for a range.
    fn check(text: &str, expected: &str) {
        let written = |cell: ClipCell| match cell {
            ClipCell::WholeRoll => "*".to_owned(),
            ClipCell::Names(names) => names.iter().map(one).collect::<Vec<_>>().join("|"),
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
            // Short for the first name's kind.
            ("C003-9", "C003-9 or [C003~C009]"),
            ("C003-009", "C003-009 or [C003~C009]"),
            ("C118-25", "C118-25 or [C118~C125]"),
            ("C098-102", "C098-102 or [C098~C102]"),
            ("A003C003-9", "A003C003-9 or [A003C003~A003C009]"),
            ("A003C003-C009", "A003C003~C009"),
            ("A003_C003 - C009", "A003_C003~C009"),
            ("C003, 5, 7", "C003, 5, 7 or [C003|C5|C7]"),
            ("C003-5, 8, 11-13", "C003-5, 8, 11-13 or [C003-5 or [C003~C005]|C8|C11~C13]"),
            ("C003/5/7", "C003|C5|C7"),
            ("C003+5", "C003|C5"),
            ("C003>C009", "C003~C009"),
            ("C003 thru C009", "C003~C009"),
            ("C01*", "pattern C01*"),
            ("A003*, B002*", "pattern A003*|pattern B002*"),
            // Names that may hold the signs of a list.
            ("shot;2.mov", "shot;2.mov or [shot|2.mov]"),
            ("a&b_0001.mov", "a&b_0001.mov"),
            ("tom & jerry, 2.mov", "tom & jerry, 2.mov or [tom & jerry|2.mov]"),
            // Ranges that overlap are one, so that a cell full of them costs no more than the clips they hold.
            ("C003-C009, C005-C012, C001-C002, C007-C008", "C003~C012|C001~C002"),
            // One name each.
            ("C007-1", "C007-1"),
            ("C003/2", "C003/2"),
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
            ("C012?", "wrong"),
        ] {
            check(text, expected);
        }
        check(&"C".repeat(256), "wrong");
    }
}
