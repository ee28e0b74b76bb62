//! What was shot, for whom and by whom: the head of a camera report.

use chrono::NaiveDate;

use crate::sourced::{Origin, Sourced};

use super::read::{Reader, Section};

/// `[production]` of the kit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Production {
    /// Title.
    pub title: Option<Sourced<String>>,
    /// Production company.
    pub company: Option<Sourced<String>>,
    /// Director.
    pub director: Option<Sourced<String>>,
    /// Director of photography.
    pub cinematographer: Option<Sourced<String>>,
    /// Camera operator, where no camera has its own.
    pub operator: Option<Sourced<String>>,
    /// Camera assistants, likewise, parted by commas.
    pub assistants: Option<Sourced<String>>,
    /// Unit.
    pub unit: Option<Sourced<String>>,
    /// Shooting day, as the crew counts it.
    pub day: Option<Sourced<String>>,
    /// Date of the day.
    pub date: Option<Sourced<NaiveDate>>,
}

impl Production {
    pub(super) fn read(section: &Section<'_>, reader: &mut Reader<'_>) -> Self {
        let production = Self {
            title: section.sourced_text("title", reader),
            company: section.sourced_text("company", reader),
            director: section.sourced_text("director", reader),
            cinematographer: section.sourced_text("cinematographer", reader),
            operator: section.sourced_text("operator", reader),
            assistants: names(section, "assistants", reader),
            unit: section.sourced_text("unit", reader),
            day: section.sourced_text("day", reader),
            date: date(section, reader),
        };
        section.close(reader);
        production
    }
}

/// One name or several, as one text.
pub(super) fn names(
    section: &Section<'_>,
    key: &'static str,
    reader: &mut Reader<'_>,
) -> Option<Sourced<String>> {
    let names = section.texts(key, reader);
    let origin = Origin::Kit { key: section.key(key).into() };
    (!names.is_empty()).then(|| Sourced::new(names.join(", "), origin))
}

fn date(section: &Section<'_>, reader: &mut Reader<'_>) -> Option<Sourced<NaiveDate>> {
    let text = section.sourced_text("date", reader)?;
    let read = NaiveDate::parse_from_str(&text.value, "%Y-%m-%d").ok();
    if read.is_none() || text.value.len() != 10 {
        let message = format!("date = \"{}\" is no date", text.value);
        reader.fault(section.place("date"), message, "write year, month and day: \"2026-05-14\"");
        return None;
    }
    read.map(|date| text.map(|_| date))
}
