//! What stands behind the days: lenses used, what needs a person, signatures.

use super::grid::{Cell, Grid, PAD, lines};
use super::{PLAIN, SMALL, STRONG, WARNING, boxes, heading};
use crate::output::pdf::sheet::SIDE;
use crate::output::pdf::{Ink, Layout, Role, Style, broken, wide};
use crate::output::report::{Align, Matter, Report, Word};

/// Which lenses were used behind what.
pub(super) fn lenses(layout: &mut Layout<'_>, report: &Report) {
    let title = report.options.say(Word::Lenses);
    heading(layout, 0, &title);
    let heads = &report.lenses.heads;
    let columns: Vec<(u16, Align)> =
        heads.iter().map(|(_, column)| (column.weight(), column.align())).collect();
    let mut grid = Grid::new(layout, &columns, title.clone(), |layout, at, width| {
        heads.get(at).map_or_else(Vec::new, |(head, _)| lines(layout, STRONG, head, width))
    });
    grid.begin();
    for row in &report.lenses.rows {
        let cells = row.iter().zip(&grid.places).enumerate();
        let strip = cells.map(|(at, (words, (left, width, align)))| Cell {
            role: if at == 0 { Role::RowHead } else { Role::Cell(1, None) },
            left: *left,
            width: *width,
            align: *align,
            lines: lines(grid.layout, PLAIN, words, *width - 2.0 * PAD),
            ring: false,
            bar: false,
        });
        let strip = strip.collect();
        grid.group(&[strip], &[&title]);
    }
    grid.end();
}

/// What needs a person, worst first.
pub(super) fn matters(layout: &mut Layout<'_>, report: &Report) {
    let title = report.options.say(Word::Matters);
    heading(layout, 0, &title);
    layout.about(&title);
    if report.matters.is_empty() {
        layout.paragraph(
            Role::Paragraph,
            PLAIN,
            &format!("{}.", report.options.say(Word::Nothing)),
        );
    }
    for (at, matter) in report.matters.iter().enumerate() {
        self::matter(layout, at + 1, matter);
    }
}

/// Number, level and clips in bold, then what is the matter and what to do, then where.
fn matter(layout: &mut Layout<'_>, number: usize, matter: &Matter) {
    let indent = 22.0;
    let width = layout.width() - indent;
    let set = |layout: &Layout<'_>, style: Style, words: &str| {
        broken(layout.fonts, words, style.bold, style.size, width)
    };
    let level = format!("{}: {} ", matter.level, matter.code);
    let clips = matter.clips.join(", ");
    let mut said = format!("{}.", matter.message);
    if let Some(hint) = &matter.hint {
        said.extend([" ", hint, "."]);
    }
    layout.need(WARNING.leading + PLAIN.leading * 2.0 + 3.0);
    layout.open(Role::Paragraph);
    layout.aside();
    layout.rule([SIDE, layout.y + 1.0], [SIDE + layout.width(), layout.y + 1.0], 0.4, Ink::Faint);
    layout.y += 3.0;
    layout.leaf();
    let counted = format!("{number} ");
    let foot = layout.y + WARNING.leading * 0.74;
    layout.words(
        SIDE + 16.0 - wide(layout.fonts, &counted, false, PLAIN.size),
        foot,
        PLAIN,
        &counted,
    );
    let head = set(layout, WARNING, &level);
    layout.flow(SIDE + indent, WARNING, &head);
    for (style, words) in
        [(STRONG, clips), (PLAIN, said), (SMALL, matter.place.clone().unwrap_or_default())]
    {
        let lines = set(layout, style, &words);
        layout.flow(SIDE + indent, style, &lines);
    }
    layout.close();
    layout.y += 2.0;
}

/// Lines to sign on.
pub(super) fn signatures(layout: &mut Layout<'_>, report: &Report) {
    let title = report.options.say(Word::Signatures);
    layout.need(50.0 + 34.0 * f32::from(u8::try_from(report.signatures.len()).unwrap_or(8)));
    heading(layout, 0, &title);
    layout.about(&title);
    let date = report.options.say(Word::Date);
    for who in &report.signatures {
        boxes::signature(layout, who, &date);
    }
}
