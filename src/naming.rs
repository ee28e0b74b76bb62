//! Names of clips: which part of a file name is the roll, which the clip, which the number of a part.
//!
//! A pattern is written as a file name without extension: `@` stands for a letter, `#` for a digit,
//! `*` for any run of characters, and `<roll ...>`, `<clip ...>`, `<part ...>` say what the characters inside mean.

use std::path::Path;

use regex_lite::Regex;

/// Patterns tried after those of the kit: a spanned clip first, so that its number is not taken for a suffix.
const BUILT_IN: &[&str] = &["<roll @###><clip C###>*_<part ###>", "<roll @###><clip C###>*"];

/// The patterns of one run, in the order they are tried.
#[derive(Debug)]
pub struct Naming {
    patterns: Vec<Regex>,
}

/// A file name understood.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Name of the clip.
    pub name: String,
    /// Roll.
    pub roll: Option<String>,
    /// The clip part alone.
    pub short: String,
    /// Number of the part.
    pub part: Option<u32>,
    /// True if a pattern fitted; else the name is the file name as it stands.
    pub by_pattern: bool,
}

impl Default for Naming {
    fn default() -> Self {
        Self { patterns: BUILT_IN.iter().filter_map(|pattern| compile(pattern).ok()).collect() }
    }
}

impl Naming {
    /// The kit's patterns before the built-in ones; the error says what is wrong with which.
    pub fn new<'a>(patterns: impl IntoIterator<Item = &'a str>) -> Result<Self, (String, String)> {
        let mut naming = Self { patterns: Vec::new() };
        for pattern in patterns {
            naming.patterns.push(compile(pattern).map_err(|why| (pattern.to_owned(), why))?);
        }
        naming.patterns.extend(Self::default().patterns);
        Ok(naming)
    }

    /// Reads the name of the file at `path`.
    pub fn name(&self, path: &Path) -> Named {
        let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let folder = roll_folder(path);
        for pattern in &self.patterns {
            let Some(found) = pattern.captures(&stem) else {
                continue;
            };
            let group = |name| found.name(name).map(|group| group.as_str().to_owned());
            let roll = group("roll");
            let short = group("clip").unwrap_or_else(|| stem.clone());
            return Named {
                name: format!("{}{short}", roll.as_deref().unwrap_or_default()),
                part: group("part").and_then(|number| number.parse().ok()),
                roll: roll.or(folder),
                short,
                by_pattern: true,
            };
        }
        Named { name: stem.clone(), roll: folder, short: stem, part: None, by_pattern: false }
    }
}

/// The folder that stands for the roll where the file name has none: the nearest one that is called like a roll
/// (`A003`, `A003_1114`), else the topmost. Folders between are a camera's own and the same on every card.
fn roll_folder(path: &Path) -> Option<String> {
    let folders = || path.parent().into_iter().flat_map(Path::ancestors);
    let names = || folders().filter_map(Path::file_name).map(|name| name.to_string_lossy());
    let roll = names().find(|name| is_like_a_roll(name)).or_else(|| names().last());
    roll.map(std::borrow::Cow::into_owned)
}

/// A letter and three digits, and nothing or a mark behind them.
fn is_like_a_roll(name: &str) -> bool {
    let mut letters = name.chars();
    letters.next().is_some_and(char::is_alphabetic)
        && letters.by_ref().take(3).filter(char::is_ascii_digit).count() == 3
        && letters.next().is_none_or(|next| !next.is_alphanumeric())
}

/// A pattern as a regular expression; the error says what is wrong with it.
fn compile(pattern: &str) -> Result<Regex, String> {
    let mut expression = String::from("(?i)^");
    let mut open = false;
    let mut rest = pattern;
    while let Some(letter) = rest.chars().next() {
        rest = rest.get(letter.len_utf8()..).unwrap_or_default();
        match letter {
            '<' if !open => {
                let known =
                    ["roll ", "clip ", "part "].iter().find(|word| rest.starts_with(**word));
                let word = known.ok_or("write <roll ...>, <clip ...> or <part ...>")?;
                rest = rest.get(word.len()..).unwrap_or_default();
                expression.extend(["(?P<", word.trim(), ">"]);
                open = true;
            }
            '>' if open => {
                expression.push(')');
                open = false;
            }
            '<' | '>' => return Err("< and > do not pair".to_owned()),
            '@' => expression.push_str("[A-Z]"),
            '#' => expression.push_str("[0-9]"),
            '*' => expression.push_str(".*"),
            _ => expression.push_str(&regex_lite::escape(&letter.to_string())),
        }
    }
    if open {
        return Err("a < is never closed".to_owned());
    }
    if !expression.contains("<clip>") {
        return Err("no <clip ...> says which part names the clip".to_owned());
    }
    expression.push('$');
    Regex::new(&expression).map_err(|error| error.to_string())
}

/// The name of clip `number` of a roll by the first of `patterns` whose clip part is text and one run of digits; that of
/// the built-in patterns where there are none. `None` where the camera's own letters or marks cannot be foretold.
pub fn foretold<'a>(patterns: impl IntoIterator<Item = &'a str>, number: u32) -> Option<String> {
    let mut patterns = patterns.into_iter().peekable();
    if patterns.peek().is_none() {
        return BUILT_IN.iter().find_map(|pattern| clip_part(pattern, number));
    }
    patterns.find_map(|pattern| clip_part(pattern, number))
}

fn clip_part(pattern: &str, number: u32) -> Option<String> {
    let (_, rest) = pattern.split_once("<clip ")?;
    let (part, _) = rest.split_once('>')?;
    let (from, to) = (part.find('#')?, part.rfind('#')? + 1);
    let (before, run, after) = (part.get(..from)?, part.get(from..to)?, part.get(to..)?);
    let plain = |text: &str| !text.contains(['@', '*']);
    let width = run.len();
    let digits = format!("{number:0width$}");
    let counted = plain(before) && plain(after) && run.bytes().all(|byte| byte == b'#');
    (counted && digits.len() == width).then(|| format!("{before}{digits}{after}"))
}

/// Checks a pattern without using it; the error says what is wrong with it.
pub fn check(pattern: &str) -> Result<(), String> {
    compile(pattern).map(|_| ())
}

/// A name without case, spaces, punctuation and leading zeros: `A003_C007` and `a3c7` are the same.
/// Punctuation between two digits stays, so that `MV07-2` and `MV072` do not become one.
pub fn key(name: &str) -> String {
    let mut key = String::new();
    let mut number = String::new();
    let mut parted = false;
    for letter in name.chars().flat_map(char::to_lowercase) {
        if letter.is_ascii_digit() {
            if parted && number.is_empty() && key.ends_with(|c: char| c.is_ascii_digit()) {
                key.push('-');
            }
            number.push(letter);
            parted = false;
            continue;
        }
        end_number(&mut key, &mut number);
        parted = !letter.is_alphanumeric();
        if !parted {
            key.push(letter);
        }
    }
    end_number(&mut key, &mut number);
    key
}

/// Moves a run of digits into the key, without its leading zeros.
fn end_number(key: &mut String, number: &mut String) {
    if number.is_empty() {
        return;
    }
    let bare = number.trim_start_matches('0');
    key.push_str(if bare.is_empty() { "0" } else { bare });
    number.clear();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_forms_are_read_without_a_kit() {
        let naming = Naming::default();
        let cases = [
            ("A003/A003C007_1114_KV.mov", "A003C007", Some("A003"), None),
            ("x/A003C004_1114_KV_002.mov", "A003C004", Some("A003"), Some(2)),
            ("a003c004_001.mov", "a003c004", Some("a003"), Some(1)),
            ("CARD1/MOVE0012.MP4", "MOVE0012", Some("CARD1"), None),
            ("Card 1/MEDIA/CLIP/MOVE0012.MP4", "MOVE0012", Some("Card 1"), None),
            ("day/A003_1114/CLIP/MOVE0012.MP4", "MOVE0012", Some("A003_1114"), None),
            ("MOVE0012.MP4", "MOVE0012", None, None),
        ];
        for (path, name, roll, part) in cases {
            let named = naming.name(Path::new(path));
            assert_eq!(
                (named.name.as_str(), named.roll.as_deref(), named.part),
                (name, roll, part),
                "{path}"
            );
        }
    }

    #[test]
    fn patterns_of_the_kit_come_first_and_bad_ones_are_explained() {
        let naming = Naming::new(["<clip MV##>-<part #>"]).unwrap();
        let named = naming.name(Path::new("day/MV07-2.mp4"));
        assert_eq!(
            (named.short.as_str(), named.part, named.roll.as_deref()),
            ("MV07", Some(2), Some("day"))
        );
        for bad in ["<clip", "A###", "<reel A###>", "a>b"] {
            assert!(Naming::new([bad]).is_err(), "{bad}");
        }
    }
}
