//! A drawing before it is anything to look at: shapes and words, each in a look, in the order in which they lie on each other.
//!
//! `svg` writes it for a screen and for paper, the PDF draws it into a page. What lines mean is told by their
//! dashes and hatching, never by colour alone.

/// How a line, area or letter is drawn: the class by which a style sheet knows it, and its look where there is none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Look {
    pub(super) class: &'static str,
    pub(super) fill: Fill,
    pub(super) line: Option<Line>,
    pub(super) letters: Option<Letters>,
}

/// A colour as red, green and blue (sRGB, IEC 61966-2-1).
pub(super) type Colour = [u8; 3];

/// What fills an area or a letter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Fill {
    Empty,
    Plain(Colour),
    /// Slanted lines on a ground, the same in every drawing.
    Hatched,
}

/// A line, in CSS pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line {
    pub(super) colour: Colour,
    pub(super) width: f64,
    /// Lengths of dashes and gaps by turns; none for a whole line.
    pub(super) dashes: &'static [f64],
}

/// Letters, their size in CSS pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Letters {
    pub(super) size: f64,
    pub(super) bold: bool,
}

impl Look {
    const fn area(class: &'static str, colour: Colour) -> Self {
        Self { class, fill: Fill::Plain(colour), line: None, letters: None }
    }

    const fn line(class: &'static str, colour: Colour, width: f64, dashes: &'static [f64]) -> Self {
        let line = Some(Line { colour, width, dashes });
        Self { class, fill: Fill::Empty, line, letters: None }
    }

    const fn both(class: &'static str, fill: Colour, line: Colour, width: f64) -> Self {
        let line = Some(Line { colour: line, width, dashes: &[] });
        Self { class, fill: Fill::Plain(fill), line, letters: None }
    }

    const fn words(class: &'static str, colour: Colour, size: f64, bold: bool) -> Self {
        let letters = Some(Letters { size, bold });
        Self { class, fill: Fill::Plain(colour), line: None, letters }
    }
}

const WHITE: Colour = [0xff, 0xff, 0xff];
const INK: Colour = [0x1b, 0x1d, 0x21];
const SOFT: Colour = [0x56, 0x5a, 0x61];
const FAINT: Colour = [0xc3, 0xc7, 0xcd];
const BLUE: Colour = [0x0b, 0x53, 0x94];
const PURPLE: Colour = [0x6a, 0x2f, 0x8f];
const BROWN: Colour = [0x9a, 0x34, 0x12];
const PALE: Colour = [0xee, 0xf4, 0xfb];

pub(super) const PAPER: Look = Look::area("paper", WHITE);
pub(super) const FRAME: Look = Look::line("faint", FAINT, 1.0, &[]);
pub(super) const AREA: Look = Look::line("ink", INK, 2.0, &[]);
pub(super) const THIN: Look = Look::line("soft", SOFT, 0.6, &[]);
pub(super) const LIT: Look = Look::area("lit", PALE);
pub(super) const CIRCLE: Look = Look::line("circle", BLUE, 1.6, &[9.0, 4.0]);
pub(super) const PLATE: Look = Look::line("plate", PURPLE, 1.6, &[8.0, 3.0, 2.0, 3.0]);
pub(super) const HATCHED: Look = Look { class: "", fill: Fill::Hatched, line: None, letters: None };
/// The ground between the hatches: without it a corner narrower than the hatching would look lit.
pub(super) const SHADE: Look = Look::area("shade", [0xf6, 0xdd, 0xd0]);
pub(super) const HATCH: Look = Look::line("dark", BROWN, 1.4, &[]);
pub(super) const BOLD_LINE: Look = Look::line("ink", INK, 1.6, &[]);
pub(super) const POINT: Look = Look::both("point", BLUE, INK, 1.0);
/// A point that is only an outline: what the media recorded, beside what stands.
pub(super) const HOLLOW: Look = Look::both("hollow", WHITE, INK, 1.4);
/// A stretch of time.
pub(super) const BAR: Look = Look::both("bar", PALE, INK, 1.0);

pub(super) const TITLE: Look = Look::words("words", INK, 18.0, true);
pub(super) const HEADING: Look = Look::words("words", INK, 15.0, true);
pub(super) const WORDS: Look = Look::words("words", INK, 13.0, false);
pub(super) const ASIDE: Look = Look::words("aside", SOFT, 12.0, false);

/// Where a text is held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Held {
    Start,
    Middle,
    End,
}

/// A place or a size, in CSS pixels; y grows downward.
pub(super) type Pair = (f64, f64);

/// One thing that is drawn.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Mark {
    Rect(Look, Pair, Pair),
    Circle(Look, Pair, f64),
    Line(Look, Pair, Pair),
    Outline(Look, Vec<Pair>),
    /// A rectangle of a size around the origin, without the circle of a radius around it.
    AroundCircle(Look, Pair, f64),
    Words(Look, Pair, Held, String),
    Open(Pair, Pair),
    Close,
}

/// A drawing. Lengths are CSS pixels, y grows downward.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) title: String,
    pub(super) description: String,
    pub(super) marks: Vec<Mark>,
}

impl Drawing {
    /// A drawing of a size, with the words that stand for it where it cannot be seen.
    pub(super) fn new(width: f64, height: f64, title: &str, description: &str) -> Self {
        let (title, description) = (title.to_owned(), description.to_owned());
        Self { width, height, title, description, marks: Vec::new() }
    }

    /// What it is about, in few words.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// What it shows, in words, for those who cannot see it.
    pub fn description(&self) -> &str {
        &self.description
    }

    /// Opens a window whose middle is the origin of what follows; what reaches out of it is cut off.
    pub(super) fn open(&mut self, corner: Pair, size: Pair) {
        self.marks.push(Mark::Open(corner, size));
    }

    /// Closes the window.
    pub(super) fn close(&mut self) {
        self.marks.push(Mark::Close);
    }

    pub(super) fn rect(&mut self, look: Look, corner: Pair, size: Pair) {
        self.marks.push(Mark::Rect(look, corner, size));
    }

    pub(super) fn circle(&mut self, look: Look, middle: Pair, radius: f64) {
        self.marks.push(Mark::Circle(look, middle, radius));
    }

    pub(super) fn line(&mut self, look: Look, from: Pair, to: Pair) {
        self.marks.push(Mark::Line(look, from, to));
    }

    /// A closed outline through points.
    pub(super) fn outline(&mut self, look: Look, points: &[Pair]) {
        self.marks.push(Mark::Outline(look, points.to_vec()));
    }

    /// A rectangle around the origin without the circle around it; a window keeps it inside of the rectangle.
    pub(super) fn around_circle(&mut self, look: Look, size: Pair, radius: f64) {
        self.marks.push(Mark::AroundCircle(look, size, radius));
    }

    /// One row of text; `at` is the foot of its letters.
    pub(super) fn words(&mut self, look: Look, at: Pair, held: Held, words: &str) {
        self.marks.push(Mark::Words(look, at, held, words.to_owned()));
    }
}

/// Places that follow each other by a step.
pub(super) fn steps(start: f64, step: f64) -> impl Iterator<Item = f64> {
    std::iter::successors(Some(start), move |at| Some(at + step))
}
