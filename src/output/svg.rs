//! The smallest helper that writes SVG 1.1 safely: text is escaped, numbers are rounded once, nothing points outside.
//!
//! Every line and letter has a look twice: as plain attributes, for renderers that know no style sheets, and
//! as a class, whose colours follow the light, dark or printed page. What lines mean is told by their dashes
//! and hatching, never by colour alone.

use crate::number::short;

use super::calm::calm;

/// How a line, area or letter is drawn: its class, and the attributes where no style sheet is understood.
#[derive(Clone, Copy)]
pub(super) struct Look {
    class: &'static str,
    plain: &'static str,
}

impl Look {
    const fn new(class: &'static str, plain: &'static str) -> Self {
        Self { class, plain }
    }
}

pub(super) const PAPER: Look = Look::new("paper", r##"fill="#ffffff""##);
pub(super) const FRAME: Look =
    Look::new("faint", r##"fill="none" stroke="#c3c7cd" stroke-width="1""##);
pub(super) const AREA: Look =
    Look::new("ink", r##"fill="none" stroke="#1b1d21" stroke-width="2""##);
pub(super) const THIN: Look =
    Look::new("soft", r##"fill="none" stroke="#565a61" stroke-width="0.6""##);
pub(super) const LIT: Look = Look::new("lit", r##"fill="#eef4fb""##);
pub(super) const CIRCLE: Look = Look::new(
    "circle",
    r##"fill="none" stroke="#0b5394" stroke-width="1.6" stroke-dasharray="9 4""##,
);
pub(super) const PLATE: Look = Look::new(
    "plate",
    r##"fill="none" stroke="#6a2f8f" stroke-width="1.6" stroke-dasharray="8 3 2 3""##,
);
pub(super) const HATCHED: Look =
    Look::new("", r#"fill="url(#lensmend-hatch)" fill-rule="evenodd""#);
/// The ground between the hatches: without it a corner narrower than the hatching would look lit.
const SHADE: Look = Look::new("shade", r##"fill="#f6ddd0""##);
const HATCH: Look = Look::new("dark", r##"fill="none" stroke="#9a3412" stroke-width="1.4""##);
pub(super) const BOLD_LINE: Look =
    Look::new("ink", r##"fill="none" stroke="#1b1d21" stroke-width="1.6""##);
pub(super) const POINT: Look =
    Look::new("point", r##"fill="#0b5394" stroke="#1b1d21" stroke-width="1""##);

pub(super) const TITLE: Look =
    Look::new("words", r##"fill="#1b1d21" font-size="18" font-weight="bold""##);
pub(super) const HEADING: Look =
    Look::new("words", r##"fill="#1b1d21" font-size="15" font-weight="bold""##);
pub(super) const WORDS: Look = Look::new("words", r##"fill="#1b1d21" font-size="13""##);
pub(super) const ASIDE: Look = Look::new("aside", r##"fill="#565a61" font-size="12""##);

/// Colours of the page: light where nothing is said, dark where it is asked for, black on white in print.
/// Every colour of a line or letter stands at 4.5:1 or more on its paper (WCAG 2.2, 1.4.3), the frame aside.
const STYLE: &str = "\
.lensmend{color-scheme:light dark;--paper:#ffffff;--ink:#1b1d21;--soft:#565a61;--faint:#c3c7cd;--lit:#eef4fb;--circle:#0b5394;--plate:#6a2f8f;--dark:#9a3412;--shade:#f6ddd0}
@media (prefers-color-scheme:dark){.lensmend{--paper:#15171b;--ink:#eceae5;--soft:#abb0b8;--faint:#474c54;--lit:#1c2733;--circle:#86bdf5;--plate:#d3adf0;--dark:#ffb27d;--shade:#4a2c1c}}
@media print{.lensmend{--paper:#ffffff;--ink:#000000;--soft:#000000;--faint:#999999;--lit:#ffffff;--circle:#000000;--plate:#000000;--dark:#000000;--shade:#ffffff}}
.lensmend .paper{fill:var(--paper)}
.lensmend .ink{stroke:var(--ink)}
.lensmend .soft{stroke:var(--soft)}
.lensmend .faint{stroke:var(--faint)}
.lensmend .lit{fill:var(--lit)}
.lensmend .circle{stroke:var(--circle)}
.lensmend .plate{stroke:var(--plate)}
.lensmend .dark{stroke:var(--dark)}
.lensmend .shade{fill:var(--shade)}
.lensmend .point{stroke:var(--ink);fill:var(--circle)}
.lensmend .words{fill:var(--ink)}
.lensmend .aside{fill:var(--soft)}
";

/// How every drawing begins, and no other: the class is ours.
const BEGINNING: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" class="lensmend" role="img""#;

/// True for the bytes of a drawing that lensmend made.
pub fn is_drawing(bytes: &[u8]) -> bool {
    bytes.starts_with(BEGINNING.as_bytes())
}

/// Where a text is held.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Held {
    Start,
    Middle,
    End,
}

/// A drawing under way. Lengths are CSS pixels, y grows downward.
pub(super) struct Svg {
    text: String,
}

impl Svg {
    /// A drawing of a size, with the words that stand for it where it cannot be seen.
    pub(super) fn new(width: f64, height: f64, title: &str, description: &str) -> Self {
        let mut svg = Self { text: String::new() };
        svg.text.push_str(BEGINNING);
        svg.numbers(&[("width", width), ("height", height)]);
        let corner = [short(width, 3), short(height, 3)].join(" ");
        svg.attribute("viewBox", &format!("0 0 {corner}"));
        svg.text.push_str(" font-family=\"sans-serif\" style=\"max-width:100%;height:auto\">\n");
        svg.element("title", title);
        svg.element("desc", description);
        svg.text.push_str("<style>\n");
        svg.text.push_str(STYLE);
        svg.text.push_str("</style>\n");
        // The same in every drawing, so that several may stand in one page.
        svg.text.push_str(
            "<defs><pattern id=\"lensmend-hatch\" width=\"6\" height=\"6\" \
             patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">",
        );
        svg.rect(SHADE, (0.0, 0.0), (6.0, 6.0));
        svg.line(HATCH, (3.0, 0.0), (3.0, 6.0));
        svg.text.push_str("</pattern></defs>\n");
        svg.rect(PAPER, (0.0, 0.0), (width, height));
        svg
    }

    /// The finished document.
    pub(super) fn finish(mut self) -> String {
        self.text.push_str("</svg>\n");
        self.text
    }

    /// Opens a window whose middle is the origin of what follows; what reaches out of it is cut off.
    pub(super) fn open(&mut self, corner: (f64, f64), size: (f64, f64)) {
        self.text.push_str("<svg");
        self.numbers(&[("x", corner.0), ("y", corner.1), ("width", size.0), ("height", size.1)]);
        let numbers = [-size.0 / 2.0, -size.1 / 2.0, size.0, size.1].map(number);
        self.attribute("viewBox", &numbers.join(" "));
        self.text.push_str(" overflow=\"hidden\">\n");
    }

    /// Closes the window.
    pub(super) fn close(&mut self) {
        self.text.push_str("</svg>\n");
    }

    pub(super) fn rect(&mut self, look: Look, corner: (f64, f64), size: (f64, f64)) {
        self.shape(
            "rect",
            look,
            &[("x", corner.0), ("y", corner.1), ("width", size.0), ("height", size.1)],
        );
    }

    pub(super) fn circle(&mut self, look: Look, middle: (f64, f64), radius: f64) {
        self.shape("circle", look, &[("cx", middle.0), ("cy", middle.1), ("r", radius)]);
    }

    pub(super) fn line(&mut self, look: Look, from: (f64, f64), to: (f64, f64)) {
        self.shape("line", look, &[("x1", from.0), ("y1", from.1), ("x2", to.0), ("y2", to.1)]);
    }

    /// A closed outline through points.
    pub(super) fn outline(&mut self, look: Look, points: &[(f64, f64)]) {
        let points: Vec<String> =
            points.iter().map(|(x, y)| format!("{},{}", number(*x), number(*y))).collect();
        self.text.push_str("<polygon");
        self.attribute("points", &points.join(" "));
        self.look(look);
        self.text.push_str("/>\n");
    }

    /// A rectangle around the origin without the circle around it; a window keeps it inside of the rectangle.
    pub(super) fn around_circle(&mut self, look: Look, size: (f64, f64), radius: f64) {
        let (w, h, r) = (number(size.0), number(size.1), number(radius));
        let (left, top) = (number(-size.0 / 2.0), number(-size.1 / 2.0));
        let twice = number(radius * 2.0);
        self.text.push_str("<path");
        self.attribute(
            "d",
            &format!(
                "M{left} {top}h{w}v{h}h-{w}z M-{r} 0a{r} {r} 0 1 0 {twice} 0a{r} {r} 0 1 0 -{twice} 0z"
            ),
        );
        self.look(look);
        self.text.push_str("/>\n");
    }

    /// One row of text; `at` is the foot of its letters.
    pub(super) fn words(&mut self, look: Look, at: (f64, f64), held: Held, words: &str) {
        self.text.push_str("<text");
        self.numbers(&[("x", at.0), ("y", at.1)]);
        match held {
            Held::Start => {}
            Held::Middle => self.attribute("text-anchor", "middle"),
            Held::End => self.attribute("text-anchor", "end"),
        }
        self.look(look);
        self.text.push('>');
        self.escaped(words);
        self.text.push_str("</text>\n");
    }

    fn element(&mut self, name: &str, words: &str) {
        self.text.extend(["<", name, ">"]);
        self.escaped(words);
        self.text.extend(["</", name, ">\n"]);
    }

    fn shape(&mut self, name: &str, look: Look, numbers: &[(&str, f64)]) {
        self.text.extend(["<", name]);
        self.numbers(numbers);
        self.look(look);
        self.text.push_str("/>\n");
    }

    fn look(&mut self, look: Look) {
        if !look.class.is_empty() {
            self.attribute("class", look.class);
        }
        self.text.extend([" ", look.plain]);
    }

    fn numbers(&mut self, numbers: &[(&str, f64)]) {
        for (name, value) in numbers {
            self.attribute(name, &number(*value));
        }
    }

    fn attribute(&mut self, name: &str, value: &str) {
        self.text.extend([" ", name, "=\""]);
        self.escaped(value);
        self.text.push('"');
    }

    /// Text as XML can hold it (XML 1.0, 2.2 and 2.4), with letters that steer shown.
    fn escaped(&mut self, words: &str) {
        for letter in calm(words).chars() {
            match letter {
                '&' => self.text.push_str("&amp;"),
                '<' => self.text.push_str("&lt;"),
                '>' => self.text.push_str("&gt;"),
                '"' => self.text.push_str("&quot;"),
                '\'' => self.text.push_str("&#39;"),
                // Two letters that are no control characters, and that XML still refuses.
                '\u{fffe}' | '\u{ffff}' => self.text.push('\u{fffd}'),
                letter => self.text.push(letter),
            }
        }
    }
}

/// Places that follow each other by a step.
pub(super) fn steps(start: f64, step: f64) -> impl Iterator<Item = f64> {
    std::iter::successors(Some(start), move |at| Some(at + step))
}

/// A number of an attribute. What is no number is drawn at the origin, because a bad one would spoil the file.
fn number(value: f64) -> String {
    if value.is_finite() { short(value, 3) } else { "0".to_owned() }
}
