//! The sheet as a page to print and fill in by hand, one roll a page or more.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::output::calm::calm;
use crate::sheet::{Choice, Column, Recorded, Roll, Row, Sheet};

use super::seal;

/// Free rows below the clips of a roll, for changes inside clips.
const SPARE: usize = 3;
/// How it looks, on a screen and on paper.
const LOOK: &str = include_str!("page.css");

/// The page (HTML, UTF-8), which needs nothing else: no script, no font, no picture, nothing from elsewhere.
pub(super) fn write(sheet: &Sheet) -> Vec<u8> {
    let title = sheet.production.as_deref().map(calm).unwrap_or_default();
    let columns = columns(sheet);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="generator" content=(seal::open());
                meta name="viewport" content="width=device-width";
                title { "Lens notes" @if !title.is_empty() { ", " (title) } }
                style { (PreEscaped(LOOK)) }
            }
            body {
                @for roll in &sheet.rolls { (section(sheet, roll, &title, &columns)) }
            }
        }
    };
    let mut text = page.into_string();
    text.push('\n');
    seal::close(text.into_bytes())
}

/// A column of the page.
#[derive(Clone, Copy, PartialEq)]
enum Cell {
    /// The clip; its roll stands above the table.
    Clip,
    /// Everything recorded, in small print.
    Recorded,
    /// To be filled in; its heading, class and what to write.
    Blank(Column),
}

fn columns(sheet: &Sheet) -> Vec<Cell> {
    let mut cells = Vec::new();
    for column in &sheet.columns {
        match column {
            // On paper the circle is drawn round the take, and roll and mode stand above the rows.
            Column::Roll | Column::Circled | Column::Mode => {}
            Column::Clip => cells.push(Cell::Clip),
            column if column.is_recorded() => {
                if !cells.contains(&Cell::Recorded) {
                    cells.push(Cell::Recorded);
                }
            }
            column => cells.push(Cell::Blank(*column)),
        }
    }
    cells
}

fn section(sheet: &Sheet, roll: &Roll, title: &str, columns: &[Cell]) -> Markup {
    let name = roll.name.as_deref().map(calm);
    let camera = roll.camera.as_deref().map(calm);
    let mode = roll.usual.iter().find(|(what, _)| *what == "mode").map(|(_, mode)| mode.as_str());
    html! {
        section {
            header {
                h1 { "Lens notes" }
                dl {
                    (field("Production", Some(title).filter(|title| !title.is_empty()), "wide"))
                    (field("Roll", name.as_deref(), "narrow"))
                    (field("Camera", camera.as_deref(), "wide"))
                    @if sheet.columns.contains(&Column::Mode) { (field("Mode", mode.map(calm).as_deref(), "narrow")) }
                    (field("Date", None, "narrow"))
                    (field("Notes by", None, "wide"))
                    (field("Page", None, "narrow"))
                }
            }
            table {
                colgroup { @for cell in columns { col class=(class(*cell)); } }
                thead {
                    // Stands on every page of the roll, so that no loose page is lost.
                    tr.running {
                        th colspan=(columns.len()) {
                            @if let Some(name) = &name { "Roll " (name) } @else { "Roll" }
                            @if !title.is_empty() { " \u{b7} " (title) }
                        }
                    }
                    tr { @for cell in columns { th scope="col" { (heading(*cell)) } } }
                }
                tbody {
                    @for row in &roll.rows { (line(row, columns)) }
                    @if sheet.of_dump {
                        @for _ in 0..SPARE { (line(&Row::default(), columns)) }
                    }
                }
            }
            (legend(sheet, roll))
        }
    }
}

/// A box of the head, with what is known or room to write.
fn field(label: &str, known: Option<&str>, class: &str) -> Markup {
    html! { div class=(class) { dt { (label) } dd { (known.unwrap_or_default()) } } }
}

fn line(row: &Row, columns: &[Cell]) -> Markup {
    html! {
        tr {
            @for cell in columns {
                @match cell {
                    Cell::Clip => th scope="row" { (calm(&row.clip)) },
                    Cell::Recorded => td.recorded { (recorded(&row.recorded)) },
                    Cell::Blank(_) => td {},
                }
            }
        }
    }
}

fn recorded(recorded: &Recorded) -> Markup {
    let Recorded { start, duration, lens, focal, stop, focus } = recorded;
    let line = |parts: &[&Option<String>]| {
        let parts: Vec<String> = parts.iter().filter_map(|it| it.as_deref()).map(calm).collect();
        parts.join(", ")
    };
    let lines = [line(&[start, duration]), line(&[lens]), line(&[focal, stop, focus])];
    html! { @for line in lines.iter().filter(|line| !line.is_empty()) { div { (line) } } }
}

fn heading(cell: Cell) -> Markup {
    match cell {
        Cell::Clip => html! { "Clip" },
        Cell::Recorded => html! { "Recorded" },
        Cell::Blank(Column::Take) => html! { "Take" small { "ring = circled" } },
        Cell::Blank(Column::From) => html! { "From" small { "if it changes" } },
        Cell::Blank(Column::Focal) => html! { "mm" },
        Cell::Blank(Column::Focus(None)) => html! { "Focus" small { "with unit" } },
        Cell::Blank(column) => html! { (column.heading()) },
    }
}

fn class(cell: Cell) -> &'static str {
    match cell {
        Cell::Clip => "clip",
        Cell::Recorded => "recorded",
        Cell::Blank(Column::From | Column::Attachment) => "from",
        Cell::Blank(Column::Lens) => "lens",
        Cell::Blank(Column::Remarks) => "remarks",
        Cell::Blank(Column::Take | Column::Focal) => "short",
        Cell::Blank(_) => "usual",
    }
}

/// What can be written, below the rows of the roll.
fn legend(sheet: &Sheet, roll: &Roll) -> Markup {
    let lists: [(&str, &[Choice]); 3] = [
        ("Lenses", &sheet.legend.lenses),
        ("Attachments", &sheet.legend.attachments),
        ("Modes", &sheet.legend.modes),
    ];
    html! {
        footer {
            @for (name, choices) in lists.into_iter().filter(|(_, choices)| !choices.is_empty()) {
                p {
                    b { (name) " " }
                    @for choice in choices {
                        span {
                            (calm(&choice.write))
                            @if !choice.about.is_empty() { small { " " (calm(&choice.about)) } }
                        }
                        " "
                    }
                }
            }
            @if !roll.usual.is_empty() {
                p {
                    b { "If nothing is noted " }
                    @for (what, usual) in &roll.usual { span { (what) " " (calm(usual)) } " " }
                }
            }
            p {
                b { "How " }
                span { "stop as on the ring: 2.8, T2.8 1/2, WO" } " "
                span { "focus from the sensor-plane mark: 2.4 m, 6'3\", inf" } " "
                span { "attachment: none for a bare camera" } " "
                span { "ditto mark: as above" } " "
                span { "a change inside a clip: a row of its own, with the timecode under From" }
            }
        }
    }
}
