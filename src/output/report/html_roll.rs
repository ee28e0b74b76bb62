//! A roll as a table: a row group a clip, so that its lines and what is said of it stay together.

use maud::{Markup, html};

use super::html::boxes;
use super::{Align, Clip, Column, Day, Line, Report, Roll, Word};

/// Id of a clip for links.
pub(super) fn anchor(roll: &str, at: usize) -> String {
    format!("{roll}-clip-{}", at + 1)
}

pub(super) fn section(report: &Report, day: &Day, roll: &Roll) -> Markup {
    let say = |word| report.options.say(word);
    let columns = &report.columns;
    html! {
        section.roll aria-labelledby=(roll.id) {
            h3 id=(roll.id) { (roll.heading) }
            (boxes(&roll.head))
            table.clips role="table" aria-labelledby=(roll.id) {
                colgroup { @for _ in columns { col; } }
                thead role="rowgroup" {
                    // On paper the heads of a table come again on every sheet, and this with them.
                    tr.onpaper role="row" { th role="columnheader" scope="colgroup" colspan=(columns.len()) {
                        (roll.heading) " \u{b7} " (day.heading)
                        @if let Some(production) = &report.production { " \u{b7} " (production) }
                    } }
                    tr role="row" { @for column in columns {
                        th role="columnheader" scope="col" class=[class(*column)] {
                            span.h { (say(column.word())) }
                            @for beneath in column.beneath() { " " small { (say(beneath.word())) } }
                        }
                    } }
                }
                @for (at, clip) in roll.clips.iter().enumerate() {
                    (row_group(report, clip, &anchor(&roll.id, at)))
                }
            }
            (boxes(&roll.totals))
        }
    }
}

fn row_group(report: &Report, clip: &Clip, id: &str) -> Markup {
    let say = |word| report.options.say(word);
    let columns = report.columns.len();
    html! {
        tbody.clip role="rowgroup" id=(id)
            data-circled[clip.circled] data-matter[!clip.matters.is_empty()]
        {
            @for line in clip.on_page() {
                tr role="row" { @for column in &report.columns { (cell(report, line, *column)) } }
                @if !line.aside.is_empty() {
                    tr.below role="row" { td role="cell" colspan=(columns) {
                        @for (at, fact) in line.aside.iter().enumerate() {
                            @if at > 0 { " \u{b7} " }
                            span.k { (fact.label) } " " (fact.value)
                        }
                    } }
                }
            }
            @if let Some(more) = clip.more(&report.options) {
                tr.below role="row" { td role="cell" colspan=(columns) { (more) } }
            }
            @if !clip.remarks.is_empty() {
                tr.below role="row" { td role="cell" colspan=(columns) {
                    span.k { (say(Word::Remarks)) } " " (clip.remarks.join("; "))
                } }
            }
            @if !clip.matters.is_empty() {
                tr.below.matter role="row" { td role="cell" colspan=(columns) {
                    span.k { (say(Word::Matters)) } " " (clip.matters.join("; "))
                } }
            }
        }
    }
}

fn cell(report: &Report, line: &Line, column: Column) -> Markup {
    let say = |word| report.options.say(word);
    let cell = line.cell(column);
    let circled = column == Column::Take && !line.cell(Column::Circled).text.is_empty();
    let inner = html! {
        @if circled { span.ring { (cell.text) } span.unseen { " " (say(Word::Circled)) } }
        @else if column == Column::Verdict && line.unresolved { strong { (cell.text) } }
        @else { (cell.text) }
        @for beneath in column.beneath() {
            @let small = line.cell(beneath);
            @if !small.text.is_empty() { " " small data-k=(say(beneath.word())) { (small.text) } }
        }
    };
    let class = [class(column), cell.again.then_some("again")];
    let class: Vec<&str> = class.into_iter().flatten().collect();
    let class = (!class.is_empty()).then(|| class.join(" "));
    html! {
        @if column == Column::Clip {
            th role="rowheader" scope="row" class=[class] data-k=(say(column.word())) data-o=[cell.order] { (inner) }
        } @else {
            td role="cell" class=[class] data-k=(say(column.word())) data-o=[cell.order] { (inner) }
        }
    }
}

fn class(column: Column) -> Option<&'static str> {
    match column.align() {
        Align::Left => None,
        Align::Right => Some("num"),
        Align::Middle => Some("mid"),
    }
}
