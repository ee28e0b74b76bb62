//! Reading TOML key by key, so that every fault of the file is reported in one run, each with its place.

use std::cell::RefCell;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::finding::{Code, Finding, Place, nearest};
use crate::sourced::{Origin, Sourced};

type Span = std::ops::Range<usize>;

/// Most findings of one kit: nobody mends more in one go, and a file of rubbish must not cost the day.
const MOST_FINDINGS: usize = 200;

/// The file being read and what was found in it.
pub(super) struct Reader<'a> {
    file: Arc<str>,
    text: &'a str,
    pub(super) findings: Vec<Finding>,
}

impl<'a> Reader<'a> {
    pub(super) fn new(file: &str, text: &'a str) -> Self {
        Self { file: Arc::from(file), text, findings: Vec::new() }
    }

    /// Adds a fault at `span`.
    pub(super) fn fault(
        &mut self,
        span: Span,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.say(Code::KitFault, span, message, hint);
    }

    pub(super) fn syntax(&mut self, error: &toml::de::Error) {
        let span = error.span().unwrap_or(0..0);
        let message = error.message().lines().next().unwrap_or("not TOML").to_owned();
        self.fault(span, message, "see docs/kit-toml.md for the form of the file");
    }

    fn say(&mut self, code: Code, span: Span, message: impl Into<String>, hint: impl Into<String>) {
        // One fault is enough to refuse the kit, so the first is never left out.
        let faulty = || self.findings.iter().any(|finding| finding.code == Code::KitFault);
        if self.findings.len() >= MOST_FINDINGS && (code != Code::KitFault || faulty()) {
            return;
        }
        let place = Place::span(Arc::clone(&self.file), self.text, span);
        self.findings.push(Finding::new(code, message).at(place).hint(hint));
    }
}

/// One table of the file. Remembers which keys were asked for, so that the others can be named as unknown.
pub(super) struct Section<'a> {
    table: &'a DeTable<'a>,
    /// Where the table stands.
    pub(super) span: Span,
    /// Dotted path for origins: `lens.sorrel-50`.
    path: String,
    asked: RefCell<Vec<&'static str>>,
}

impl<'a> Section<'a> {
    pub(super) fn root(table: &'a DeTable<'a>) -> Self {
        Self { table, span: 0..0, path: String::new(), asked: RefCell::default() }
    }

    fn inside(&self, table: &'a DeTable<'a>, span: Span, key: &str) -> Self {
        let id = ["id", "name"].iter().find_map(|name| match table.get(*name)?.get_ref() {
            DeValue::String(id) => Some(id.to_string()),
            _ => None,
        });
        let key = self.key(key);
        let path = id.map_or_else(|| key.clone(), |id| format!("{key}.{id}"));
        Self { table, span, path, asked: RefCell::default() }
    }

    /// The value under `key`, noting that it was asked for.
    pub(super) fn get(&self, key: &'static str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.asked.borrow_mut().push(key);
        self.table.get(key)
    }

    /// Dotted path of this table.
    pub(super) fn path(&self) -> &str {
        &self.path
    }

    /// Dotted path of `key` in this table.
    pub(super) fn key(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    /// Where the value under `key` stands; where the table stands if there is none.
    pub(super) fn place(&self, key: &str) -> Span {
        self.table.get(key).map_or_else(|| self.span.clone(), Spanned::span)
    }

    pub(super) fn table(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<Section<'a>> {
        let value = self.get(key)?;
        let DeValue::Table(table) = value.get_ref() else {
            reader.fault(value.span(), format!("{key} must be a table"), format!("write [{key}]"));
            return None;
        };
        Some(self.inside(table, value.span(), key))
    }

    pub(super) fn tables(&self, key: &'static str, reader: &mut Reader<'_>) -> Vec<Section<'a>> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        let wrong = format!("write each one under its own heading [[{key}]]");
        let DeValue::Array(array) = value.get_ref() else {
            reader.fault(value.span(), format!("{key} must be a list of tables"), wrong);
            return Vec::new();
        };
        let mut sections = Vec::new();
        for entry in array {
            if let DeValue::Table(table) = entry.get_ref() {
                sections.push(self.inside(table, entry.span(), key));
            } else {
                reader.fault(entry.span(), format!("{key} must be a table"), wrong.clone());
            }
        }
        sections
    }

    /// A number within `low..=high`, both included; a fault says the range.
    pub(super) fn number(
        &self,
        key: &'static str,
        low: f64,
        high: f64,
        reader: &mut Reader<'_>,
    ) -> Option<f64> {
        let value = self.get(key)?;
        let Some(number) = as_number(value.get_ref()) else {
            let hint = format!("write {key} = and a number, without quotes and without a unit");
            reader.fault(value.span(), format!("{key} must be a number"), hint);
            return None;
        };
        if !(low..=high).contains(&number) {
            let message = format!("{key} = {number} is out of range");
            reader.fault(
                value.span(),
                message,
                format!("{key} lies between {low} and {high}{}", slip(key, number, low, high)),
            );
            return None;
        }
        Some(number)
    }

    pub(super) fn required_number(
        &self,
        key: &'static str,
        low: f64,
        high: f64,
        reader: &mut Reader<'_>,
    ) -> Option<f64> {
        self.require(key, reader);
        self.number(key, low, high, reader)
    }

    pub(super) fn text(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<String> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::String(text) if !text.trim().is_empty() => Some(text.trim().to_owned()),
            _ => {
                let hint = format!(
                    "write {key} = \"...\" with words between the quotes, or leave the key out"
                );
                reader.fault(value.span(), format!("{key} must be text"), hint);
                None
            }
        }
    }

    pub(super) fn required_text(
        &self,
        key: &'static str,
        reader: &mut Reader<'_>,
    ) -> Option<String> {
        self.require(key, reader);
        self.text(key, reader)
    }

    pub(super) fn sourced_text(
        &self,
        key: &'static str,
        reader: &mut Reader<'_>,
    ) -> Option<Sourced<String>> {
        let text = self.text(key, reader)?;
        Some(Sourced::new(text, Origin::Kit { key: Arc::from(self.key(key)) }))
    }

    pub(super) fn required_sourced_text(
        &self,
        key: &'static str,
        reader: &mut Reader<'_>,
    ) -> Option<Sourced<String>> {
        self.require(key, reader);
        self.sourced_text(key, reader)
    }

    /// A list of texts; a single text stands for a list of one.
    pub(super) fn texts(&self, key: &'static str, reader: &mut Reader<'_>) -> Vec<String> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        let entries = match value.get_ref() {
            DeValue::Array(array) => array.iter().collect(),
            _ => vec![value],
        };
        let mut texts = Vec::new();
        for entry in entries {
            match entry.get_ref() {
                DeValue::String(text) if !text.trim().is_empty() => {
                    texts.push(text.trim().to_owned());
                }
                _ => reader.fault(
                    entry.span(),
                    format!("{key} must hold texts"),
                    format!("write {key} = [\"...\", \"...\"]"),
                ),
            }
        }
        texts
    }

    /// Two numbers, the second at least the first.
    pub(super) fn pair(
        &self,
        key: &'static str,
        low: f64,
        high: f64,
        reader: &mut Reader<'_>,
    ) -> Option<(f64, f64)> {
        let value = self.get(key)?;
        let numbers: Vec<f64> = match value.get_ref() {
            DeValue::Array(array) => array.iter().filter_map(|v| as_number(v.get_ref())).collect(),
            _ => Vec::new(),
        };
        match numbers[..] {
            [from, to] if from <= to && from >= low && to <= high => Some((from, to)),
            _ => {
                reader.fault(
                    value.span(),
                    format!("{key} must be two rising numbers between {low} and {high}"),
                    format!("write {key} = [24, 70]"),
                );
                None
            }
        }
    }

    /// One of `words`.
    pub(super) fn word<T: Copy>(
        &self,
        key: &'static str,
        words: &[(&str, T)],
        reader: &mut Reader<'_>,
    ) -> Option<T> {
        let text = self.text(key, reader)?;
        let found = words
            .iter()
            .find(|(word, _)| word.eq_ignore_ascii_case(&text))
            .map(|(_, value)| *value);
        if found.is_none() {
            let known: Vec<_> = words.iter().map(|(word, _)| format!("\"{word}\"")).collect();
            reader.fault(
                self.place(key),
                format!("{key} = \"{text}\" is not known"),
                format!("write one of {}", known.join(", ")),
            );
        }
        found
    }

    fn require(&self, key: &'static str, reader: &mut Reader<'_>) {
        if self.get(key).is_some() {
            return;
        }
        let what = if self.path.is_empty() { "the kit" } else { &self.path };
        reader.fault(self.span.clone(), format!("{what} has no {key}"), format!("add {key} = ..."));
    }

    /// Names every key that nobody asked for.
    pub(super) fn close(&self, reader: &mut Reader<'_>) {
        let asked = self.asked.borrow();
        for key in self.table.keys() {
            let name = key.get_ref().as_ref();
            if asked.contains(&name) {
                continue;
            }
            let hint = match nearest(name, asked.iter().copied()) {
                Some(known) => format!("did you mean {known}?"),
                None => "remove it, or see docs/kit-toml.md for the keys there are".to_owned(),
            };
            reader.say(
                Code::KitUnknownKey,
                key.span(),
                format!("{} is not a key of the kit", self.key(name)),
                hint,
            );
        }
    }
}

fn as_number(value: &DeValue<'_>) -> Option<f64> {
    let text = match value {
        DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
        DeValue::Float(float) => float.as_str(),
        _ => return None,
    };
    text.replace('_', "").parse().ok().filter(|number: &f64| number.is_finite())
}

/// Guesses the usual slip behind a number out of range: percent for a ratio, or another unit of length.
fn slip(key: &str, number: f64, low: f64, high: f64) -> String {
    let fits = |factor: f64| (low..=high).contains(&(number * factor));
    if (key.contains("magnification") || key == "transmittance") && number > high && fits(0.01) {
        format!("; did you mean {}?", number / 100.0)
    } else if number > high && fits(0.001) {
        "; it is in millimetres".to_owned()
    } else {
        String::new()
    }
}
