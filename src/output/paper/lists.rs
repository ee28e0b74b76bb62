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
        grid.group(&[strip], 0.0, &[&title]);
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

/// Number, level and clips in bold, what is the matter and what to do, where and the code.
fn matter(layout: &mut Layout<'_>, number: usize, matter: &Matter) {
    let indent = 24.0;
    let width = layout.width() - indent;
    let head = [&[matter.level.to_owned()], matter.clips.as_slice()].concat();
    let head = match head.as_slice() {
        [level, clips @ ..] if !clips.is_empty() => format!("{level}: {}", clips.join(", ")),
        alone => alone.concat(),
    };
    let said = [Some(&matter.message), matter.hint.as_ref()].into_iter().flatten();
    let said: Vec<String> = said.map(|said| sentence(said)).collect();
    let place = [matter.place.as_deref(), Some(matter.code)].into_iter().flatten();
    let place = place.collect::<Vec<_>>().join(" \u{b7} ");
    let parts = [(WARNING, head), (PLAIN, said.join(" ")), (SMALL, place)].map(|(style, words)| {
        let mut lines = broken(layout.fonts, &words, style.bold, style.size, width);
        if let Some(last) = lines.last_mut() {
            last.push(' ');
        }
        (style, lines)
    });
    let of = |(style, lines): &(Style, Vec<String>)| -> f32 {
        lines.iter().map(|_| style.leading).sum()
    };
    let whole: f32 = parts.iter().map(of).sum::<f32>() + 3.0;
    // One that fits a sheet is not split.
    layout.need(if whole <= layout.whole() { whole } else { 40.0 });
    layout.open(Role::Paragraph);
    layout.aside();
    let right = SIDE + layout.width();
    layout.rule([SIDE, layout.y + 1.0], [right, layout.y + 1.0], 0.4, Ink::Faint);
    layout.y += 3.0;
    layout.leaf();
    let counted = number.to_string();
    let left = SIDE + 18.0 - wide(layout.fonts, &counted, false, PLAIN.size);
    layout.words(left, layout.y + WARNING.leading * 0.74, PLAIN, &format!("{counted} "));
    for (style, lines) in &parts {
        layout.flow(SIDE + indent, *style, lines);
    }
    layout.close();
    layout.y += 2.0;
}

/// The words with the full stop that they lack.
fn sentence(words: &str) -> String {
    if words.ends_with(['.', '?', '!']) { words.to_owned() } else { format!("{words}.") }
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
