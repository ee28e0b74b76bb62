//! A roll on paper: its head, a row a clip with what is said of the clip beneath, its totals.

use super::grid::{Cell, Grid, PAD, Strip, lines};
use super::{AGAIN, LABEL, PLAIN, SMALL, STRONG, SUBHEADING, WARNING, boxes};
use crate::output::pdf::sheet::SIDE;
use crate::output::pdf::{Layout, Role, Style, wide};
use crate::output::report::{Align, Clip, Column, Day, Fact, Line, Report, Roll, Word};

/// Room that the totals of a roll take.
const TOTALS: f32 = 34.0;

pub(super) fn section(layout: &mut Layout<'_>, report: &Report, day: &Day, roll: &Roll) {
    layout.need(150.0);
    layout.y += 6.0;
    layout.open(Role::Section);
    layout.bookmark(1, &roll.heading);
    layout.about(&roll.heading);
    layout.paragraph(Role::Heading(3, roll.heading.clone()), SUBHEADING, &roll.heading);
    layout.y += 2.0;
    boxes::facts(layout, &roll.head);

    let columns: Vec<(u16, Align)> =
        report.columns.iter().map(|column| (column.weight(), column.align())).collect();
    let running = [Some(&roll.heading), Some(&day.heading), report.production.as_ref()];
    let running: Vec<&str> = running.into_iter().flatten().map(String::as_str).collect();
    let mut grid = Grid::new(layout, &columns, running.join(" \u{b7} "), |layout, at, width| {
        let Some(column) = report.columns.get(at) else { return Vec::new() };
        let say = |column: Column| report.options.say(column.word());
        let mut head = lines(layout, STRONG, &say(*column), width);
        for beneath in column.beneath() {
            head.extend(lines(layout, LABEL, &say(beneath), width));
        }
        head
    });
    grid.begin();
    let last = roll.clips.len().saturating_sub(1);
    for (at, clip) in roll.clips.iter().enumerate() {
        let strips = strips(&grid, report, clip);
        // The totals stand below the last clip, and not alone on a sheet.
        grid.group(&strips, if at == last { TOTALS } else { 0.0 }, &[&roll.heading]);
    }
    grid.end();
    boxes::facts(layout, &roll.totals);
    layout.close();
}

fn strips(grid: &Grid<'_, '_>, report: &Report, clip: &Clip) -> Vec<Strip> {
    let say = |word| report.options.say(word);
    let mut strips = Vec::new();
    for line in clip.on_page() {
        let cells = report.columns.iter().zip(&grid.places);
        let cells = cells.map(|(column, place)| cell(grid.layout, report, line, *column, *place));
        strips.push(cells.collect());
        if !line.aside.is_empty() {
            let facts = line.aside.iter().map(|Fact { label, value }| format!("{label} {value}"));
            let words = facts.collect::<Vec<_>>().join(" \u{b7} ");
            strips.push(below(grid, "", &words, SMALL, false));
        }
    }
    if let Some(more) = clip.more(&report.options) {
        strips.push(below(grid, "", &more, SMALL, false));
    }
    if !clip.remarks.is_empty() {
        let (label, words) = (say(Word::Remarks), clip.remarks.join("; "));
        strips.push(below(grid, &label, &words, PLAIN, false));
    }
    if !clip.matters.is_empty() {
        let (label, words) = (say(Word::Matters), clip.matters.join("; "));
        strips.push(below(grid, &label, &words, PLAIN, true));
    }
    strips
}

fn cell(
    layout: &Layout<'_>,
    report: &Report,
    line: &Line,
    column: Column,
    (left, width, align): (f32, f32, Align),
) -> Cell {
    let cell = line.cell(column);
    let ring = column == Column::Take && !line.cell(Column::Circled).text.is_empty();
    let style = match column {
        Column::Clip if !cell.again => STRONG,
        Column::Verdict if line.unresolved => STRONG,
        _ if cell.again => AGAIN,
        _ => PLAIN,
    };
    let room = width - 2.0 * PAD;
    let mut words = lines(layout, style, &cell.text, room);
    for beneath in column.beneath() {
        words.extend(lines(layout, SMALL, &line.cell(beneath).text, room));
    }
    let role = match column {
        Column::Clip => Role::RowHead,
        // The ring is for eyes; who listens is told.
        _ if ring => {
            let circled = report.options.say(Word::Circled);
            Role::Cell(1, Some(format!("{}, {circled}", cell.text)))
        }
        _ => Role::Cell(1, None),
    };
    Cell { role, left, width, align, lines: words, ring: ring && !cell.text.is_empty(), bar: false }
}

/// What is said of a clip in full width beneath its lines.
fn below(grid: &Grid<'_, '_>, label: &str, words: &str, style: Style, warning: bool) -> Strip {
    let layout = &*grid.layout;
    let across = u32::try_from(grid.places.len()).unwrap_or(1);
    let (indent, whole) = (10.0, layout.width());
    let label_style = if warning { WARNING } else { Style { bold: true, ..SMALL } };
    let label = layout.fonts.printable(label).into_owned();
    let beside = if label.is_empty() {
        0.0
    } else {
        wide(layout.fonts, &label, true, label_style.size) + 6.0
    };
    let cell = |left, width, lines, bar, role| Cell {
        role,
        left,
        width,
        align: Align::Left,
        lines,
        ring: false,
        bar,
    };
    let text = lines(layout, style, words, whole - indent - beside - 2.0 * PAD);
    if label.is_empty() {
        return vec![cell(SIDE + indent, whole - indent, text, false, Role::Cell(across, None))];
    }
    let head = vec![(Style { leading: style.leading, ..label_style }, label)];
    vec![
        cell(SIDE + indent, beside + 2.0 * PAD, head, warning, Role::Cell(1, None)),
        cell(
            SIDE + indent + beside,
            whole - indent - beside,
            text,
            false,
            Role::Cell(across.saturating_sub(1), None),
        ),
    ]
}
