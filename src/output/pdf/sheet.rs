//! Sheets under way: marks in their places, and what they are to each other.

use super::faces::Fonts;
use super::lines::{broken, wide};
use super::tree::{Role, Tree};
use crate::output::Drawing;
use crate::output::drawing::Colour;

/// How words are set: size, weight, colour, and from one line to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::output) struct Style {
    pub(in crate::output) size: f32,
    pub(in crate::output) bold: bool,
    pub(in crate::output) ink: Ink,
    pub(in crate::output) leading: f32,
}

/// A colour of the page. Letters stand at 4.5:1 or more on white (WCAG 2.2, 1.4.3); no colour says anything alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::output) enum Ink {
    Black,
    Soft,
    /// Lines of the form.
    Faint,
    /// Ground under the heads of tables.
    Ground,
    /// What needs a person.
    Warning,
}

impl Ink {
    pub(super) fn colour(self) -> Colour {
        match self {
            Self::Black => [0x1b, 0x1d, 0x21],
            Self::Soft => [0x56, 0x5a, 0x61],
            Self::Faint => [0xb4, 0xb9, 0xc1],
            Self::Ground => [0xf1, 0xf2, 0xf0],
            Self::Warning => [0x8a, 0x2b, 0x0c],
        }
    }
}

/// One thing on a sheet.
pub(super) enum Mark {
    /// A line of words; the place is the foot of its letters.
    Words(f32, f32, Style, String),
    /// From, to, width.
    Rule([f32; 2], [f32; 2], f32, Ink),
    /// Corner, size.
    Ground([f32; 2], [f32; 2], Ink),
    /// The outline of a rectangle: corner, size, width of the line.
    Frame([f32; 2], [f32; 2], f32, Ink),
    /// A ring around a place: corner, size.
    Ring([f32; 2], [f32; 2]),
    /// A drawing in a place, at points a pixel.
    Drawing([f32; 2], f32, Box<Drawing>),
}

/// Marks that belong together.
pub(super) struct Placed {
    /// The leaf that they are; none for what only adorns the page.
    pub(super) leaf: Option<usize>,
    pub(super) marks: Vec<Mark>,
}

/// One sheet.
#[derive(Default)]
pub(in crate::output) struct Sheet {
    pub(super) placed: Vec<Placed>,
    /// What it tells of, in order, for its foot.
    pub(in crate::output) about: Vec<String>,
}

/// A bookmark.
pub(super) struct Bookmark {
    pub(super) depth: usize,
    pub(super) title: String,
    pub(super) sheet: usize,
    pub(super) y: f32,
}

/// White around a sheet: left and right, top, bottom with the foot in it.
pub(in crate::output) const SIDE: f32 = 31.0;
const TOP: f32 = 30.0;
const BOTTOM: f32 = 42.0;
/// Longest title of a bookmark or heading of the structure, in characters; a string of PDF/A may have 32,767 bytes.
pub(super) const LONGEST_TITLE: usize = 400;
/// Longest words for a picture or a cell, in characters.
const LONGEST_WORDS: usize = 6_000;

/// A document under way.
pub(in crate::output) struct Layout<'f> {
    pub(in crate::output) fonts: &'f Fonts,
    /// Width and height of a sheet.
    pub(super) size: [f32; 2],
    pub(super) sheets: Vec<Sheet>,
    pub(super) tree: Tree,
    pub(super) bookmarks: Vec<Bookmark>,
    /// How far down the last sheet is filled.
    pub(in crate::output) y: f32,
}

impl<'f> Layout<'f> {
    /// An empty document on sheets of a size.
    pub(in crate::output) fn new(fonts: &'f Fonts, size: [f32; 2]) -> Self {
        let (sheets, tree) = (vec![Sheet::default()], Tree::new());
        Self { fonts, size, sheets, tree, bookmarks: Vec::new(), y: TOP }
    }

    /// Width between the margins.
    pub(in crate::output) fn width(&self) -> f32 {
        let [width, _] = self.size;
        width - 2.0 * SIDE
    }

    fn bottom(&self) -> f32 {
        let [_, height] = self.size;
        height - BOTTOM
    }

    /// What is left of the sheet.
    pub(in crate::output) fn room(&self) -> f32 {
        self.bottom() - self.y
    }

    /// What an empty sheet holds.
    pub(in crate::output) fn whole(&self) -> f32 {
        self.bottom() - TOP
    }

    /// True at the top of a sheet.
    pub(in crate::output) fn is_fresh(&self) -> bool {
        self.y <= TOP
    }

    pub(in crate::output) fn next_sheet(&mut self) {
        self.sheets.push(Sheet::default());
        self.y = TOP;
    }

    /// Goes on on the next sheet if less than this is left.
    pub(in crate::output) fn need(&mut self, height: f32) {
        if self.room() < height && !self.is_fresh() {
            self.next_sheet();
        }
    }

    pub(in crate::output) fn open(&mut self, role: Role) {
        let role = match role {
            Role::Heading(level, title) => Role::Heading(level, cut(&title, LONGEST_TITLE)),
            Role::Figure(words, sheet, place) => {
                Role::Figure(cut(&words, LONGEST_WORDS), sheet, place)
            }
            Role::Cell(across, words) => {
                Role::Cell(across, words.map(|words| cut(&words, LONGEST_WORDS)))
            }
            role => role,
        };
        self.tree.open(role);
    }

    pub(in crate::output) fn close(&mut self) {
        self.tree.close();
    }

    /// Says at the foot of the sheet what it tells of.
    pub(in crate::output) fn about(&mut self, what: &str) {
        if let Some(sheet) = self.sheets.last_mut()
            && sheet.about.last().is_none_or(|last| last != what)
        {
            sheet.about.push(what.to_owned());
        }
    }

    /// A bookmark to where the sheet is filled to.
    pub(in crate::output) fn bookmark(&mut self, depth: usize, title: &str) {
        let title = cut(&self.fonts.printable(title), LONGEST_TITLE);
        self.bookmarks.push(Bookmark { depth, title, sheet: self.sheet(), y: self.y });
    }

    /// Number of the sheet under way, from 0.
    pub(in crate::output) fn sheet(&self) -> usize {
        self.sheets.len().saturating_sub(1)
    }

    /// What follows is a part of the document.
    pub(in crate::output) fn leaf(&mut self) {
        let leaf = self.tree.leaf();
        self.begin(Some(leaf));
    }

    /// What follows only adorns the page.
    pub(in crate::output) fn aside(&mut self) {
        self.begin(None);
    }

    fn begin(&mut self, leaf: Option<usize>) {
        if let Some(sheet) = self.sheets.last_mut() {
            sheet.placed.push(Placed { leaf, marks: Vec::new() });
        }
    }

    fn mark(&mut self, mark: Mark) {
        if let Some(placed) = self.sheets.last_mut().and_then(|sheet| sheet.placed.last_mut()) {
            // Most have one mark, and there are very many of them.
            if placed.marks.is_empty() {
                placed.marks.reserve_exact(1);
            }
            placed.marks.push(mark);
        }
    }

    /// A printable line of words; `y` is the foot of its letters.
    pub(in crate::output) fn words(&mut self, x: f32, y: f32, style: Style, words: &str) {
        self.mark(Mark::Words(x, y, style, words.to_owned()));
    }

    pub(in crate::output) fn rule(&mut self, from: [f32; 2], to: [f32; 2], width: f32, ink: Ink) {
        self.mark(Mark::Rule(from, to, width, ink));
    }

    pub(in crate::output) fn ground(&mut self, corner: [f32; 2], size: [f32; 2], ink: Ink) {
        self.mark(Mark::Ground(corner, size, ink));
    }

    pub(in crate::output) fn frame(
        &mut self,
        corner: [f32; 2],
        size: [f32; 2],
        width: f32,
        ink: Ink,
    ) {
        self.mark(Mark::Frame(corner, size, width, ink));
    }

    pub(in crate::output) fn ring(&mut self, corner: [f32; 2], size: [f32; 2]) {
        self.mark(Mark::Ring(corner, size));
    }

    /// Words over the whole width, on as many sheets as they need.
    pub(in crate::output) fn paragraph(&mut self, role: Role, style: Style, words: &str) {
        let lines = broken(self.fonts, words, style.bold, style.size, self.width());
        self.open(role);
        self.flow(SIDE, style, &lines);
        self.close();
    }

    /// Lines below each other, on as many sheets as they need.
    pub(in crate::output) fn flow(&mut self, x: f32, style: Style, lines: &[String]) {
        let mut rest = lines;
        while !rest.is_empty() {
            self.need(style.leading);
            let (now, later) = rest.split_at(self.fitting(style.leading, rest.len()));
            self.leaf();
            for line in now {
                self.y += style.leading;
                self.words(x, self.y - style.leading * 0.26, style, line);
            }
            rest = later;
        }
    }

    /// How many lines fit, at least one.
    pub(in crate::output) fn fitting(&self, leading: f32, lines: usize) -> usize {
        let mut room = self.room() - leading;
        let mut fitting = 1;
        while fitting < lines && room >= leading {
            room -= leading;
            fitting += 1;
        }
        fitting.min(lines)
    }

    /// A drawing as wide as the page, or as wide as fits, with the words that stand for it.
    /// `before` is called on the sheet that it will be on.
    pub(in crate::output) fn drawing_with(
        &mut self,
        drawing: Drawing,
        before: impl FnOnce(&mut Self),
    ) {
        #[expect(clippy::cast_possible_truncation, reason = "a drawing is a few thousand pixels")]
        let (wide, high) = (drawing.width as f32, drawing.height as f32);
        // Letters of 13 pixels become 8 points at most, as those of the tables are.
        let scale = (self.width() / wide).min(self.whole() / high).min(0.82);
        self.need(high * scale);
        before(self);
        let corner = [SIDE, self.y];
        let place = [SIDE, self.y, SIDE + wide * scale, self.y + high * scale];
        self.open(Role::Figure(drawing.description.clone(), self.sheet(), place));
        self.leaf();
        self.mark(Mark::Drawing(corner, scale, Box::new(drawing)));
        self.close();
        self.y += high * scale + 8.0;
    }

    /// Writes at the foot of each sheet: `words` makes what stands left and right from the sheet, its number from 1, and how
    /// many there are.
    pub(in crate::output) fn feet(
        &mut self,
        style: Style,
        words: impl Fn(&Sheet, usize, usize) -> [String; 2],
    ) {
        let (foot, width) = (self.bottom() + 16.0, self.width());
        let of = self.sheets.len();
        for (at, sheet) in self.sheets.iter_mut().enumerate() {
            let [left, right] = words(sheet, at + 1, of);
            let right = self.fonts.printable(&right).into_owned();
            let wide_right = wide(self.fonts, &right, style.bold, style.size);
            let room = width - wide_right - 20.0;
            let left = broken(self.fonts, &left, style.bold, style.size, room);
            let line = foot - 10.0;
            let mut marks = vec![Mark::Rule([SIDE, line], [SIDE + width, line], 0.5, Ink::Faint)];
            // One line is all that the foot holds; what is left out stands on the sheet itself.
            if let [first, rest @ ..] = left.as_slice() {
                let more = if rest.is_empty() { " " } else { "\u{2026} " };
                let words = format!("{}{more}", first.trim_end());
                marks.push(Mark::Words(SIDE, foot, style, words));
            }
            marks.push(Mark::Words(SIDE + width - wide_right, foot, style, right));
            sheet.placed.push(Placed { leaf: None, marks });
        }
    }
}

/// The first so many characters.
pub(super) fn cut(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        Some((at, _)) => format!("{}\u{2026}", text.get(..at).unwrap_or_default()),
        None => text.to_owned(),
    }
}
