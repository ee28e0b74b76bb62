//! The report as one page: it needs nothing else, reads on a phone, prints as a form, and is complete without its script.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::super::{Drawing, STYLE};
use super::policy::policy;
use super::{Align, Day, Fact, Matter, Paper, Report, Table, Word, drawn, html_roll};

/// How it looks, on a screen and on paper.
const LOOK: &str = include_str!("page.css");
/// Sorting and filtering, where scripts run.
const SCRIPT: &str = include_str!("page.js");

/// The page (HTML, UTF-8): same report, same bytes.
pub fn write(report: &Report) -> Vec<u8> {
    let style = style(report);
    let heading = report.production.clone().unwrap_or_else(|| report.title.clone());
    let title = match &report.production {
        Some(production) => format!("{}: {production}", report.title),
        None => report.title.clone(),
    };
    // Tells the drawings of the page apart.
    let mut number = 0;
    let page = html! {
        (DOCTYPE)
        html lang=(report.options.words.language()) {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy(&style, SCRIPT));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                style { (PreEscaped(&style)) }
            }
            body {
                header.top {
                    p.kind { (report.title) }
                    h1 { (heading) }
                    (boxes(&report.head))
                    (boxes(&report.totals))
                }
                (contents(report))
                (tools(report))
                main {
                    @for day in &report.days { (day_section(report, day, &mut number)) }
                    (lenses(report, &mut number))
                    (people(report))
                    (signatures(report))
                }
                footer { p { (report.caution) } p { (report.made_by) } }
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    let mut text = page.into_string();
    text.push('\n');
    text.into_bytes()
}

/// The style sheet, with the sheet of paper and the widths of the columns.
fn style(report: &Report) -> String {
    let mut style = [LOOK, STYLE].concat();
    let size = match report.options.paper {
        Paper::A4 => "A4",
        Paper::Letter => "letter",
    };
    let (page, of) =
        (quoted(&report.options.say(Word::Page)), quoted(&report.options.say(Word::Of)));
    let _ = writeln!(
        style,
        "@page{{size:{size} landscape;margin:11mm 10mm 13mm;\
         @bottom-right{{content:{page} \" \" counter(page) \" \" {of} \" \" counter(pages);font:7pt sans-serif;color:#333}}}}"
    );
    let whole: u32 = report.columns.iter().map(|column| u32::from(column.weight())).sum();
    for (at, column) in report.columns.iter().enumerate() {
        let share = f64::from(column.weight()) * 100.0 / f64::from(whole.max(1));
        let _ = writeln!(style, ".clips col:nth-child({}){{width:{share:.2}%}}", at + 1);
    }
    style
}

/// Text as a string of a style sheet (CSS Syntax Level 3, 4.3.7): all but letters and digits by their number.
fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for letter in text.chars() {
        if letter.is_alphanumeric() {
            quoted.push(letter);
        } else {
            let _ = write!(quoted, "\\{:x} ", u32::from(letter));
        }
    }
    quoted.push('"');
    quoted
}

pub(super) fn boxes(facts: &[Fact]) -> Markup {
    html! {
        @if !facts.is_empty() {
            dl.boxes { @for fact in facts { div { dt { (fact.label) } dd { (fact.value) } } } }
        }
    }
}

/// Links to days and rolls, where there are several.
fn contents(report: &Report) -> Markup {
    let rolls: usize = report.days.iter().map(|day| day.rolls.len()).sum();
    html! {
        @if rolls > 1 {
            nav.contents aria-label=(report.options.say(Word::Contents)) {
                ul {
                    @for day in &report.days {
                        li {
                            a href=(format!("#{}", day.id)) { (day.heading) }
                            @for roll in &day.rolls {
                                " " a href=(format!("#{}", roll.id)) { (roll.heading) }
                            }
                        }
                    }
                    li { a href="#lenses" { (report.options.say(Word::Lenses)) } }
                    li { a href="#matters" { (report.options.say(Word::Matters)) } }
                }
            }
        }
    }
}

/// Sorting and filtering; hidden until the script is there to do it.
fn tools(report: &Report) -> Markup {
    let say = |word| report.options.say(word);
    html! {
        form #tools hidden role="search" data-shown=(say(Word::Shown)) data-of=(say(Word::Of)) {
            label { (say(Word::Find)) " " input #find type="search" placeholder=(say(Word::FindHint)) autocomplete="off"; }
            label { (say(Word::Only)) " "
                select #only {
                    option value="" { (say(Word::OnlyAll)) }
                    option value="circled" { (say(Word::OnlyCircled)) }
                    option value="matter" { (say(Word::OnlyMatters)) }
                }
            }
            label { (say(Word::SortBy)) " "
                select #sort {
                    option value="" { (say(Word::AsShot)) }
                    @for (at, column) in report.columns.iter().enumerate() {
                        option value=(at) { (say(column.word())) }
                    }
                }
            }
        }
        p #shown role="status" {}
    }
}

/// Drawings, each in a box of its own: on a phone it scrolls there, so that its words stay large enough to read.
fn figures(drawings: &[Drawing], number: &mut usize) -> Markup {
    html! {
        @for drawing in drawings {
            figure tabindex="0" aria-label=(drawing.title()) {
                (PreEscaped(drawing.inline(next(number))))
            }
        }
    }
}

fn next(number: &mut usize) -> usize {
    *number += 1;
    *number
}

fn day_section(report: &Report, day: &Day, number: &mut usize) -> Markup {
    html! {
        section.day aria-labelledby=(day.id) {
            h2 id=(day.id) { (day.heading) }
            @if report.days.len() > 1 { (boxes(&day.totals)) }
            (figures(&drawn::day(report, day), number))
            @for of in &day.rolls { (html_roll::section(report, day, of)) }
        }
    }
}

fn lenses(report: &Report, number: &mut usize) -> Markup {
    html! {
        section {
            h2 #lenses { (report.options.say(Word::Lenses)) }
            (small_table(&report.lenses, "lenses"))
            (figures(&drawn::rigs(report), number))
            (figures(&drawn::focals(report), number))
        }
    }
}

fn small_table(table: &Table, id: &str) -> Markup {
    let class = |align| match align {
        Align::Left => None,
        Align::Right => Some("num"),
        Align::Middle => Some("mid"),
    };
    html! {
        table.small role="table" aria-labelledby=(id) {
            thead role="rowgroup" { tr role="row" {
                @for (head, like) in &table.heads {
                    th role="columnheader" scope="col" class=[class(like.align())] { (head) }
                }
            } }
            tbody role="rowgroup" {
                @for row in &table.rows {
                    tr role="row" {
                        @for (at, (text, (head, like))) in row.iter().zip(&table.heads).enumerate() {
                            @if at == 0 {
                                th role="rowheader" scope="row" data-k=(head) { (text) }
                            } @else {
                                td role="cell" class=[class(like.align())] data-k=(head) { (text) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn people(report: &Report) -> Markup {
    let clips = report.days.iter().flat_map(|day| &day.rolls).flat_map(|roll| {
        let ids = roll.clips.iter().enumerate();
        ids.map(|(at, clip)| (clip.name.as_str(), html_roll::anchor(&roll.id, at)))
    });
    let mut anchors: BTreeMap<&str, String> = BTreeMap::new();
    for (name, anchor) in clips {
        anchors.entry(name).or_insert(anchor);
    }
    html! {
        section {
            h2 #matters { (report.options.say(Word::Matters)) }
            @if report.matters.is_empty() { p { (report.options.say(Word::Nothing)) "." } }
            @else { ol.matters { @for matter in &report.matters { li { (of_matter(matter, &anchors)) } } } }
        }
    }
}

fn of_matter(matter: &Matter, anchors: &BTreeMap<&str, String>) -> Markup {
    html! {
        @for (at, clip) in matter.clips.iter().enumerate() {
            @if at > 0 { ", " }
            @match anchors.get(clip.as_str()) {
                Some(anchor) => a href=(format!("#{anchor}")) { (clip) },
                None => strong { (clip) },
            }
        }
        @if !matter.clips.is_empty() { ": " }
        (sentence(&matter.message)) " "
        @if let Some(hint) = &matter.hint { span.soft { (sentence(hint)) " " } }
        @if let Some(place) = &matter.place { span.soft { (place) ". " } }
        code { (matter.code) }
    }
}

/// With its full stop, if it has none of its own.
fn sentence(words: &str) -> String {
    if words.ends_with(['.', '?', '!']) { words.to_owned() } else { format!("{words}.") }
}

fn signatures(report: &Report) -> Markup {
    let date = report.options.say(Word::Date);
    html! {
        section.signatures {
            h2 { (report.options.say(Word::Signatures)) }
            dl.boxes { @for who in &report.signatures { div { dt { (who) } dd {} dt.date { (date) } } } }
        }
    }
}
