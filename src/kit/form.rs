//! What a key of the kit may hold: its form, and that form in words.

use std::fmt::Write as _;

/// A heading of the kit with its keys.
#[derive(Debug)]
pub struct Heading {
    /// Dotted path, such as `camera.mode`; empty for the file itself.
    pub path: &'static str,
    /// Whether it may come again and again: `[[lens]]`, not `[production]`.
    pub many: bool,
    /// What it is for, in one sentence.
    pub meaning: &'static str,
    /// Its keys, in the order of the documentation.
    pub keys: &'static [Key],
}

/// A key of the kit.
#[derive(Debug)]
pub struct Key {
    /// As it is written.
    pub name: &'static str,
    /// What it may hold.
    pub form: Form,
    /// Whether its heading makes no sense without it.
    pub required: bool,
    /// What holds where it is left out, in words; empty for a required key, or where nothing follows.
    pub default: &'static str,
    /// What it means, in one sentence without its full stop.
    pub meaning: &'static str,
}

/// Numbers that a key may hold, both ends included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Least.
    pub low: f64,
    /// Most; infinite where `inf` may be written.
    pub high: f64,
    /// Unit as it is spoken of; empty for pure numbers.
    pub unit: &'static str,
}

/// What a key may hold.
#[derive(Clone, Copy, Debug)]
pub enum Form {
    /// Words.
    Text,
    /// Words, or a list of them.
    Texts,
    /// Id of an entry under this heading.
    Id(&'static str),
    /// Id of an entry under this heading, or `none`.
    IdOrNone(&'static str),
    /// One of these words.
    Word(&'static [&'static str]),
    /// One of these words, or a table that says one for each of focal length and stop.
    Reports(&'static [&'static str]),
    /// `true` or `false`.
    Flag,
    /// A number.
    Number(Range),
    /// A number whose range hangs on the word under another key of the entry.
    NumberBy(&'static str, &'static [(&'static str, Range)]),
    /// Up to [`MOST_NUMBERS`] numbers.
    Numbers(Range),
    /// Two numbers, the second at least the first.
    Pair(Range),
    /// A number, or up to [`MOST_NUMBERS`] pairs of a rising focal length and such a number.
    Ramp {
        /// The focal lengths.
        focal: Range,
        /// The numbers at them.
        number: Range,
    },
    /// Width by height in pixels, with an example.
    Raster(&'static str),
    /// Pixels from the left by pixels from the top, with an example.
    Corner(&'static str),
    /// A frame rate.
    Rate,
    /// A date of the calendar.
    Date,
}

/// Most numbers of one list.
pub const MOST_NUMBERS: usize = 64;

impl Range {
    /// Whether `number` lies in it.
    pub fn holds(self, number: f64) -> bool {
        (self.low..=self.high).contains(&number)
    }

    /// In words: `mm, 1 to 200`.
    pub fn words(self) -> String {
        let Self { low, high, unit } = self;
        let mut words = if unit.is_empty() { String::new() } else { format!("{unit}, ") };
        // Writing to a text cannot fail.
        let _ = match (low < high, high.is_finite()) {
            (false, _) => write!(words, "{low}"),
            (true, true) => write!(words, "{low} to {high}"),
            (true, false) => write!(words, "{low} or more, or `inf`"),
        };
        words
    }
}

impl Form {
    /// In words, for the documentation.
    pub fn words(self) -> String {
        match self {
            Self::Text => "text".to_owned(),
            Self::Texts => "text or list of texts".to_owned(),
            Self::Id(heading) => format!("id of {}", with_article(heading)),
            Self::IdOrNone(heading) => format!("id of {}, or `none`", with_article(heading)),
            Self::Word(words) => one_of(words),
            Self::Reports(words) => {
                format!("{}; or `{{ focal = \"...\", stop = \"...\" }}`", one_of(words))
            }
            Self::Flag => "`true` or `false`".to_owned(),
            Self::Number(range) => range.words(),
            Self::NumberBy(_, ranges) => ranges
                .iter()
                .map(|(word, range)| format!("{word} {}", range.words()))
                .collect::<Vec<_>>()
                .join(", "),
            Self::Numbers(range) => format!("list of {}", range.words()),
            Self::Pair(range) => format!("`[24, 70]`, rising, {}", range.words()),
            Self::Ramp { number, .. } => {
                format!("{}; or `[[24, 2.8], [70, 4]]`", number.words())
            }
            Self::Raster(example) | Self::Corner(example) => format!("`\"{example}\"`"),
            Self::Date => "`\"2026-05-14\"`".to_owned(),
            Self::Rate => "text: `\"50\"`, `\"24000/1001\"`, `\"23.976\"`".to_owned(),
        }
    }
}

/// `"a"`, `"b"` or `"c"`, each as code.
fn one_of(words: &[&str]) -> String {
    let mut text = String::new();
    for (at, word) in words.iter().enumerate() {
        let join = match at {
            0 => "",
            _ if at + 1 == words.len() => " or ",
            _ => ", ",
        };
        let _ = write!(text, "{join}`\"{word}\"`");
    }
    text
}

fn with_article(noun: &str) -> String {
    let article = if noun.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    format!("{article} {noun}")
}
