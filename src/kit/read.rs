//! Reading TOML key by key, so that every fault of the file is reported in one run, each with its place.

use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::form::{Form, Heading};
use super::keys::{HEADINGS, heading};
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

    /// A reader whose findings nobody hears: what it would say was said before.
    pub(super) fn aside() -> Reader<'static> {
        Reader::new("", "")
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

/// One table of the file, with what the table of keys says of its heading.
pub(super) struct Section<'a> {
    table: &'a DeTable<'a>,
    /// Where the table stands.
    pub(super) span: Span,
    /// Dotted path for origins: `lens.sorrel-50`.
    path: String,
    /// `None` for the file itself.
    heading: Option<&'static Heading>,
}

impl<'a> Section<'a> {
    pub(super) fn root(table: &'a DeTable<'a>) -> Self {
        Self { table, span: 0..0, path: String::new(), heading: None }
    }

    fn inside(&self, table: &'a DeTable<'a>, span: Span, key: &str) -> Self {
        let id = ["id", "name"].iter().find_map(|name| match table.get(*name)?.get_ref() {
            DeValue::String(id) => Some(id.to_string()),
            _ => None,
        });
        let under =
            self.heading.map_or_else(|| key.to_owned(), |own| format!("{}.{key}", own.path));
        let key = self.key(key);
        let path = id.map_or_else(|| key.clone(), |id| format!("{key}.{id}"));
        Self { table, span, path, heading: heading(&under) }
    }

    /// The value under `key`; a fault where it is required and missing.
    pub(super) fn get(
        &self,
        key: &'static str,
        reader: &mut Reader<'_>,
    ) -> Option<&'a Spanned<DeValue<'a>>> {
        let value = self.table.get(key);
        let required = || self.heading.and_then(|own| own.key(key)).is_some_and(|key| key.required);
        if value.is_none() && required() {
            let what = if self.path.is_empty() { "the kit" } else { &self.path };
            let message = format!("{what} has no {key}");
            reader.fault(self.span.clone(), message, format!("add {key} = ..."));
        }
        value
    }

    /// Whether `key` is written here, whatever it holds.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.get(key).is_some()
    }

    /// Whether a list is written under `key`.
    pub(super) fn is_list(&self, key: &str) -> bool {
        self.table.get(key).is_some_and(|value| value.get_ref().is_array())
    }

    /// Whether a table is written under `key`.
    pub(super) fn is_table(&self, key: &str) -> bool {
        self.table.get(key).is_some_and(|value| value.get_ref().is_table())
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
        let value = self.get(key, reader)?;
        let DeValue::Table(table) = value.get_ref() else {
            reader.fault(value.span(), format!("{key} must be a table"), format!("write [{key}]"));
            return None;
        };
        Some(self.inside(table, value.span(), key))
    }

    pub(super) fn tables(&self, key: &'static str, reader: &mut Reader<'_>) -> Vec<Section<'a>> {
        let Some(value) = self.get(key, reader) else {
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

    pub(super) fn text(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<String> {
        let value = self.get(key, reader)?;
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

    pub(super) fn sourced_text(
        &self,
        key: &'static str,
        reader: &mut Reader<'_>,
    ) -> Option<Sourced<String>> {
        let text = self.text(key, reader)?;
        Some(Sourced::new(text, Origin::Kit { key: Arc::from(self.key(key)) }))
    }

    /// A list of texts; a single text stands for a list of one.
    pub(super) fn texts(&self, key: &'static str, reader: &mut Reader<'_>) -> Vec<String> {
        let Some(value) = self.get(key, reader) else {
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

    /// The one of the key's words that is written, whatever its case.
    pub(super) fn word(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<&'static str> {
        let (Form::Word(words) | Form::Reports(words)) = self.form(key)? else { return None };
        let text = self.text(key, reader)?;
        let found = words.iter().copied().find(|word| word.eq_ignore_ascii_case(&text));
        if found.is_none() {
            let known: Vec<_> = words.iter().map(|word| format!("\"{word}\"")).collect();
            reader.fault(
                self.place(key),
                format!("{key} = \"{text}\" is not known"),
                format!("write one of {}", known.join(", ")),
            );
        }
        found
    }

    /// `true` or `false`; false where the key is left out.
    pub(super) fn flag(&self, key: &'static str, reader: &mut Reader<'_>) -> bool {
        let Some(value) = self.get(key, reader) else { return false };
        if let DeValue::Boolean(flag) = value.get_ref() {
            return *flag;
        }
        let hint = format!("write {key} = true or {key} = false, without quotes");
        reader.fault(value.span(), format!("{key} must be true or false"), hint);
        false
    }

    /// Names every key that the heading does not have.
    pub(super) fn close(&self, reader: &mut Reader<'_>) {
        let known: Vec<&'static str> = self.known().collect();
        for key in self.table.keys() {
            let name = key.get_ref().as_ref();
            if known.contains(&name) {
                continue;
            }
            let hint = match nearest(name, known.iter().copied()) {
                // A key typed below a table of its heading belongs to that table, by the rules of TOML.
                _ if self.above().is_some_and(|above| above.key(name).is_some()) => {
                    format!("it stands below [[{}]]; move it up", self.heading_path())
                }
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

    /// The heading that this one stands under: `lens` for `lens.table`.
    fn above(&self) -> Option<&'static Heading> {
        heading(self.heading_path().rsplit_once('.')?.0)
    }

    fn heading_path(&self) -> &'static str {
        self.heading.map_or("", |heading| heading.path)
    }

    /// Every key and heading that may stand in this table.
    fn known(&self) -> impl Iterator<Item = &'static str> {
        let own = self.heading.map_or("", |heading| heading.path);
        let below = HEADINGS.iter().filter_map(move |heading| {
            let (above, name) = heading.path.rsplit_once('.').unwrap_or(("", heading.path));
            (above == own).then_some(name)
        });
        self.heading.iter().flat_map(|heading| heading.keys).map(|key| key.name).chain(below)
    }

    /// What the table of keys says of `key`.
    pub(super) fn form(&self, key: &str) -> Option<Form> {
        Some(self.heading?.key(key)?.form)
    }
}
