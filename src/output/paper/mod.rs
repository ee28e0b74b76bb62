//! The report on paper: the same words as the page, as a form that prints, archives and reads aloud.

mod boxes;
mod grid;
mod lists;
mod roll;

use anyhow::{Context as _, Error, Result};

use super::report::{Day, Paper, Report, Word, drawn};
use crate::output::Drawing;
use crate::output::pdf::{Facts, Fonts, Ink, Layout, Role, Style, print};

const TITLE: Style = Style { size: 17.0, bold: true, ink: Ink::Black, leading: 22.0 };
const KIND: Style = Style { size: 8.5, bold: false, ink: Ink::Soft, leading: 12.0 };
const HEADING: Style = Style { size: 13.0, bold: true, ink: Ink::Black, leading: 18.0 };
const SUBHEADING: Style = Style { size: 10.5, bold: true, ink: Ink::Black, leading: 15.0 };
const PLAIN: Style = Style { size: 7.8, bold: false, ink: Ink::Black, leading: 9.6 };
const STRONG: Style = Style { bold: true, ..PLAIN };
const AGAIN: Style = Style { ink: Ink::Soft, ..PLAIN };
const SMALL: Style = Style { size: 6.6, bold: false, ink: Ink::Soft, leading: 8.2 };
const LABEL: Style = Style { size: 6.4, bold: false, ink: Ink::Soft, leading: 8.0 };
const VALUE: Style = Style { size: 8.6, bold: false, ink: Ink::Black, leading: 10.6 };
const WARNING: Style = Style { bold: true, ink: Ink::Warning, ..PLAIN };

/// Sheets lying on their side, in points: 297 x 210 mm and 11 x 8.5 in.
fn size(paper: Paper) -> [f32; 2] {
    match paper {
        Paper::A4 => [841.89, 595.28],
        Paper::Letter => [792.0, 612.0],
    }
}

/// The report as a PDF: same report, same bytes. Its date is the last day of shooting. Where no day is known it has none,
/// and is no PDF/A, which asks for one. An error is one of the library that writes it, which is trouble of this program and not of the shoot.
pub fn write(report: &Report) -> Result<Vec<u8>> {
    let fonts = Fonts::load().context("the fonts of this program cannot be read")?;
    let say = |word| report.options.say(word);
    let mut layout = Layout::new(&fonts, size(report.options.paper));
    front(&mut layout, report);
    for day in &report.days {
        self::day(&mut layout, report, day);
    }
    for (word, drawings) in
        [(Word::Focals, drawn::focals(report)), (Word::Rigs, drawn::rigs(report))]
    {
        pictures(&mut layout, 0, &say(word), drawings);
    }
    lists::lenses(&mut layout, report);
    lists::matters(&mut layout, report);
    lists::signatures(&mut layout, report);
    layout.y += 10.0;
    layout.paragraph(Role::Paragraph, SMALL, &report.caution);
    layout.paragraph(Role::Paragraph, SMALL, &report.made_by);

    let title = title(report);
    let (page, of) = (say(Word::Page), say(Word::Of));
    layout.feet(SMALL, |sheet, number, count| {
        let about =
            [std::slice::from_ref(&title), sheet.about.as_slice()].concat().join(" \u{b7} ");
        [about, format!("{page} {number} {of} {count}")]
    });
    let language = report.options.words.language();
    let facts = Facts { title: &title, language, tool: &report.made_by, date: report.dated };
    print(layout, &facts).map_err(Error::msg)
}

/// What the document is called.
fn title(report: &Report) -> String {
    match &report.production {
        Some(production) => format!("{}: {production}", report.title),
        None => report.title.clone(),
    }
}

fn front(layout: &mut Layout<'_>, report: &Report) {
    let name = report.production.as_ref().unwrap_or(&report.title);
    if report.production.is_some() {
        layout.paragraph(Role::Paragraph, KIND, &report.title);
    }
    layout.bookmark(0, &title(report));
    layout.paragraph(Role::Heading(1, name.clone()), TITLE, name);
    layout.y += 4.0;
    boxes::facts(layout, &report.head);
    boxes::facts(layout, &report.totals);
}

fn day(layout: &mut Layout<'_>, report: &Report, day: &Day) {
    heading(layout, 0, &day.heading);
    // Of the only day the totals stand at the front.
    if report.days.len() > 1 {
        boxes::facts(layout, &day.totals);
    }
    let timeline = report.options.say(Word::Timeline);
    pictures(layout, 1, &timeline, drawn::day(report, day));
    for roll in &day.rolls {
        roll::section(layout, report, day, roll);
    }
}

/// A heading of a part, with what it is a heading of on the same sheet.
fn heading(layout: &mut Layout<'_>, depth: usize, words: &str) {
    layout.need(110.0);
    layout.y += 8.0;
    layout.bookmark(depth, words);
    layout.paragraph(Role::Heading(2, words.to_owned()), HEADING, words);
    layout.y += 2.0;
}

fn pictures(layout: &mut Layout<'_>, depth: usize, title: &str, drawings: Vec<Drawing>) {
    for (at, drawing) in drawings.into_iter().enumerate() {
        layout.drawing_with(drawing, |layout| {
            if at == 0 {
                layout.bookmark(depth, title);
            }
        });
    }
}
