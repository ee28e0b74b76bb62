//! Tables: heads come again on every sheet, rows are not split where one fits a sheet, and those that fit none go on.

use super::LABEL;
use crate::output::pdf::sheet::SIDE;
use crate::output::pdf::{Ink, Layout, Role, Style, broken, wide};
use crate::output::report::Align;

/// White to the sides of the words of a cell, and above and below them.
pub(super) const PAD: f32 = 2.6;
const RISE: f32 = 1.8;
/// More of it where numbers end beside words that begin.
const INSET: f32 = 3.4;

/// A cell: lines in their styles.
pub(super) struct Cell {
    pub(super) role: Role,
    pub(super) left: f32,
    pub(super) width: f32,
    pub(super) align: Align,
    pub(super) lines: Vec<(Style, String)>,
    /// True for a ring around the first line.
    pub(super) ring: bool,
    /// True for a bar at the side, for what needs a person.
    pub(super) bar: bool,
}

/// Cells side by side.
pub(super) type Strip = Vec<Cell>;

/// A table under way.
pub(super) struct Grid<'l, 'f> {
    pub(super) layout: &'l mut Layout<'f>,
    /// Left edge and width of each column.
    pub(super) places: Vec<(f32, f32, Align)>,
    head: Strip,
    /// Stands above the head on the sheets that follow.
    running: String,
}

impl<'l, 'f> Grid<'l, 'f> {
    /// A table of columns with these shares of the width; `head` makes the cells of its head.
    pub(super) fn new(
        layout: &'l mut Layout<'f>,
        columns: &[(u16, Align)],
        running: String,
        head: impl Fn(&Layout<'f>, usize, f32) -> Vec<(Style, String)>,
    ) -> Self {
        let whole: f32 = columns.iter().map(|(share, _)| f32::from(*share)).sum();
        let unit = layout.width() / whole.max(1.0);
        let mut places = Vec::new();
        let mut left = SIDE;
        for (share, align) in columns {
            let width = f32::from(*share) * unit;
            places.push((left, width, *align));
            left += width;
        }
        let head = places.iter().enumerate().map(|(at, (left, width, align))| {
            let lines = head(layout, at, *width - 2.0 * PAD);
            Cell {
                role: Role::ColumnHead,
                left: *left,
                width: *width,
                align: *align,
                lines,
                ring: false,
                bar: false,
            }
        });
        let head = head.collect();
        Self { layout, places, head, running }
    }

    /// Opens the table and sets its head, with room for a row below it.
    pub(super) fn begin(&mut self) {
        let height = high(&self.head);
        self.layout.need(height + 30.0);
        self.layout.open(Role::Table);
        self.layout.open(Role::TableHead);
        self.layout.open(Role::Row);
        self.ground(height);
        for cell in &self.head {
            self.layout.open(cell.role.clone());
            self.layout.leaf();
            draw(self.layout, cell, 0..cell.lines.len());
            self.layout.close();
        }
        self.layout.close();
        self.layout.close();
        self.layout.open(Role::TableBody);
        self.layout.y += height;
        self.rule(0.9, Ink::Black);
    }

    pub(super) fn end(self) {
        self.layout.close();
        self.layout.close();
        self.layout.y += 5.0;
    }

    /// The head again, on a sheet that follows: it is read once, and seen on every sheet.
    fn again(&mut self) {
        self.layout.next_sheet();
        self.layout.aside();
        let width = self.layout.width();
        let running = broken(self.layout.fonts, &self.running, LABEL.bold, LABEL.size, width);
        if let Some(line) = running.first() {
            self.layout.y += LABEL.leading;
            self.layout.words(SIDE, self.layout.y - 1.5, LABEL, line);
        }
        let height = high(&self.head);
        self.ground(height);
        self.layout.aside();
        for cell in &self.head {
            draw(self.layout, cell, 0..cell.lines.len());
        }
        self.layout.y += height;
        self.rule(0.9, Ink::Black);
    }

    fn ground(&mut self, height: f32) {
        let width = self.layout.width();
        self.layout.aside();
        self.layout.ground([SIDE, self.layout.y], [width, height], Ink::Ground);
    }

    fn rule(&mut self, width: f32, ink: Ink) {
        let (right, y) = (SIDE + self.layout.width(), self.layout.y);
        self.layout.aside();
        self.layout.rule([SIDE, y], [right, y], width, ink);
    }

    /// Strips that belong together, and what of this height follows them: on one sheet where one can hold them. The foot
    /// of every sheet that they are on tells what they are about.
    pub(super) fn group(&mut self, strips: &[Strip], after: f32, about: &[&str]) {
        let repeated = high(&self.head) + LABEL.leading;
        let body = self.layout.whole() - repeated;
        let whole: f32 = strips.iter().map(|strip| high(strip)).sum::<f32>() + after;
        if whole > self.layout.room() && whole <= body {
            self.again();
        }
        self.tell(about);
        for strip in strips {
            let height = high(strip);
            if height > self.layout.room() && height <= body {
                self.again();
                self.tell(about);
            }
            self.strip(strip, about);
        }
        self.rule(0.4, Ink::Faint);
    }

    fn tell(&mut self, about: &[&str]) {
        for what in about {
            self.layout.about(what);
        }
    }

    /// One strip; where it is higher than a sheet, its cells go on side by side on the next.
    fn strip(&mut self, strip: &Strip, about: &[&str]) {
        let mut done: Vec<usize> = vec![0; strip.len()];
        loop {
            let room = self.layout.room() - 2.0 * RISE;
            let mut used = 0.0_f32;
            let mut rest = false;
            self.layout.open(Role::Row);
            for (cell, done) in strip.iter().zip(&mut done) {
                let mut height = 0.0;
                let start = *done;
                for (style, _) in cell.lines.iter().skip(start) {
                    // A line at least, or it would go on for ever.
                    if height + style.leading > room && *done > start {
                        rest = true;
                        break;
                    }
                    height += style.leading;
                    *done += 1;
                }
                used = used.max(height);
                self.layout.open(cell.role.clone());
                self.layout.leaf();
                draw(self.layout, cell, start..*done);
                self.layout.close();
            }
            self.layout.close();
            self.layout.y += used + 2.0 * RISE;
            if !rest {
                break;
            }
            self.rule(0.4, Ink::Faint);
            self.again();
            self.tell(about);
        }
    }
}

/// How high a strip is.
fn high(strip: &[Cell]) -> f32 {
    let of = |cell: &Cell| cell.lines.iter().map(|(style, _)| style.leading).sum::<f32>();
    strip.iter().map(of).fold(0.0, f32::max) + 2.0 * RISE
}

/// Some lines of a cell, from where the sheet is filled to.
fn draw(layout: &mut Layout<'_>, cell: &Cell, lines: std::ops::Range<usize>) {
    let Some(lines) = cell.lines.get(lines) else { return };
    let mut y = layout.y + RISE;
    if cell.bar && !lines.is_empty() {
        let height: f32 = lines.iter().map(|(style, _)| style.leading).sum();
        layout.ground([cell.left, y], [1.6, height], Ink::Warning);
    }
    for (at, (style, words)) in lines.iter().enumerate() {
        y += style.leading;
        let width = wide(layout.fonts, words.trim_end(), style.bold, style.size);
        let left = match cell.align {
            Align::Left => cell.left + PAD,
            Align::Right => cell.left + cell.width - PAD - width - INSET,
            Align::Middle => cell.left + (cell.width - width) / 2.0,
        };
        let foot = y - style.leading * 0.26;
        layout.words(left, foot, *style, words);
        if cell.ring && at == 0 {
            let (rx, ry) = ((width / 2.0 + 3.4).max(5.2), style.size * 0.62);
            let middle = [left + width / 2.0, foot - style.size * 0.36];
            layout.ring([middle[0] - rx, middle[1] - ry], [2.0 * rx, 2.0 * ry]);
        }
    }
}

/// Words in the lines of a cell.
pub(super) fn lines(
    layout: &Layout<'_>,
    style: Style,
    words: &str,
    width: f32,
) -> Vec<(Style, String)> {
    let mut lines = broken(layout.fonts, words, style.bold, style.size, width);
    // What is copied from the page keeps the words of neighbours apart.
    if let Some(last) = lines.last_mut() {
        last.push(' ');
    }
    lines.into_iter().map(|line| (style, line)).collect()
}
