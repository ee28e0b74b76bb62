//! Facts in the boxes of a form: what it is in small print, and the value below it.

use super::{LABEL, VALUE};
use crate::output::pdf::sheet::SIDE;
use crate::output::pdf::{Ink, Layout, Role, broken, wide};
use crate::output::report::Fact;

/// White inside of a box.
const PAD: f32 = 4.0;
/// A box that is narrower looks like a slip of the pen.
const NARROWEST: f32 = 62.0;
/// Values of more lines than this flow over sheets as a paragraph, outside of any box.
const MOST_LINES: usize = 24;

/// Boxes side by side, in as many rows as they need.
pub(super) fn facts(layout: &mut Layout<'_>, facts: &[Fact]) {
    let widest = layout.width();
    let mut row: Vec<(f32, &Fact, Vec<String>)> = Vec::new();
    let mut used = 0.0;
    for fact in facts {
        let label =
            wide(layout.fonts, &layout.fonts.printable(&fact.label), LABEL.bold, LABEL.size);
        let value =
            wide(layout.fonts, &layout.fonts.printable(&fact.value), VALUE.bold, VALUE.size);
        // A hair more than the words, so that rounding does not break them.
        let width = (label.max(value) + 2.0 * PAD + 0.5).clamp(NARROWEST, widest);
        let mut lines =
            broken(layout.fonts, &fact.value, VALUE.bold, VALUE.size, width - 2.0 * PAD);
        if lines.len() > MOST_LINES {
            draw(layout, &mut row);
            used = 0.0;
            layout.paragraph(Role::Paragraph, LABEL, &fact.label);
            layout.paragraph(Role::Paragraph, VALUE, &fact.value);
            layout.y += 4.0;
            continue;
        }
        // What is copied from the page keeps the words of neighbours apart.
        if let Some(last) = lines.last_mut() {
            last.push(' ');
        }
        if used + width > widest + 0.01 {
            draw(layout, &mut row);
            used = 0.0;
        }
        used += width;
        row.push((width, fact, lines));
    }
    draw(layout, &mut row);
    layout.y += 6.0;
}

/// One row of boxes, all as high as the highest.
fn draw(layout: &mut Layout<'_>, row: &mut Vec<(f32, &Fact, Vec<String>)>) {
    let lines = row.iter().map(|(_, _, lines)| lines.len()).max().unwrap_or(0).max(1);
    let height = lines_high(lines) + LABEL.leading + 5.0;
    if row.is_empty() {
        return;
    }
    layout.need(height);
    let mut x = SIDE;
    for (width, fact, lines) in row.drain(..) {
        layout.aside();
        layout.frame([x, layout.y], [width, height], 0.5, Ink::Faint);
        layout.open(Role::Paragraph);
        layout.leaf();
        let printable = layout.fonts.printable(&fact.label).into_owned();
        layout.words(x + PAD, layout.y + LABEL.leading, LABEL, &format!("{printable} "));
        let mut y = layout.y + LABEL.leading + 1.0;
        for line in &lines {
            y += VALUE.leading;
            layout.words(x + PAD, y, VALUE, line);
        }
        layout.close();
        x += width;
    }
    layout.y += height;
}

fn lines_high(lines: usize) -> f32 {
    std::iter::repeat_n(VALUE.leading, lines).sum()
}

/// A box to sign in: who, and the date.
pub(super) fn signature(layout: &mut Layout<'_>, who: &str, date: &str) {
    let height = 34.0;
    layout.need(height);
    let (whole, y) = (layout.width() * 0.6, layout.y);
    let widths = [whole * 0.72, whole * 0.28];
    let mut x = SIDE;
    layout.open(Role::Paragraph);
    for (words, width) in [who, date].into_iter().zip(widths) {
        let line = broken(layout.fonts, words, LABEL.bold, LABEL.size, width - 2.0 * PAD);
        layout.aside();
        layout.frame([x, y], [width, height], 0.5, Ink::Faint);
        layout.leaf();
        if let Some(line) = line.first() {
            layout.words(x + PAD, y + LABEL.leading, LABEL, &format!("{} ", line.trim_end()));
        }
        x += width;
    }
    layout.close();
    layout.y += height;
}
