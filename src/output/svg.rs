//! The smallest writer of SVG 1.1 that is safe: text is escaped, numbers are rounded once, nothing points outside.
//!
//! Every line and letter has its look twice: as plain attributes, for renderers that know no style sheets, and
//! as a class, whose colours follow the light, dark or printed page.

use crate::number::short;

use super::calm::calm;
use super::drawing::{Colour, Drawing, Fill, HATCH, Held, Look, Mark, PAPER, Pair, SHADE};

/// Colours of the page: light where nothing is said, dark where it is asked for, black on white in print.
/// A page that holds drawings inline needs it once.
/// Every colour of a line or letter stands at 4.5:1 or more on its paper (WCAG 2.2, 1.4.3), the frame aside.
pub const STYLE: &str = "\
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
.lensmend .hollow{stroke:var(--ink);fill:var(--paper)}
.lensmend .bar{stroke:var(--ink);fill:var(--lit)}
.lensmend .words{fill:var(--ink)}
.lensmend .aside{fill:var(--soft)}
";

/// How every drawing begins, and no other: the class is ours.
const BEGINNING: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" class="lensmend" role="img""#;

/// True for the bytes of a drawing that lensmend made.
pub fn is_drawing(bytes: &[u8]) -> bool {
    bytes.starts_with(BEGINNING.as_bytes())
}

impl Drawing {
    /// The drawing as a document of its own: same drawing, same bytes.
    pub fn svg(&self) -> String {
        let mut svg = Svg { text: String::new(), hatch: "lensmend-hatch".to_owned() };
        svg.begin(self);
        svg.text.push_str(" font-family=\"sans-serif\" style=\"max-width:100%;height:auto\">\n");
        svg.words_for_it(self);
        svg.text.push_str("<style>\n");
        svg.text.push_str(STYLE);
        svg.text.push_str("</style>\n");
        svg.drawn(self)
    }

    /// The drawing as an element of an HTML page whose style sheet has [`STYLE`] in it; it needs no style of its own,
    /// which a strict content security policy refuses. `number` tells the drawings of one page apart.
    pub fn inline(&self, number: usize) -> String {
        let mut svg = Svg { text: String::new(), hatch: format!("lensmend-hatch-{number}") };
        svg.begin(self);
        svg.text.push_str(" font-family=\"sans-serif\">\n");
        svg.words_for_it(self);
        svg.drawn(self)
    }
}

/// A document under way.
struct Svg {
    text: String,
    /// Name of the hatching in the page.
    hatch: String,
}

impl Svg {
    fn begin(&mut self, drawing: &Drawing) {
        let (width, height) = (drawing.width, drawing.height);
        self.text.push_str(BEGINNING);
        self.numbers(&[("width", width), ("height", height)]);
        let corner = [short(width, 3), short(height, 3)].join(" ");
        self.attribute("viewBox", &format!("0 0 {corner}"));
    }

    fn words_for_it(&mut self, drawing: &Drawing) {
        self.element("title", &drawing.title);
        self.element("desc", &drawing.description);
    }

    /// Hatching, paper and marks: the finished document.
    fn drawn(mut self, drawing: &Drawing) -> String {
        self.text.extend(["<defs><pattern id=\"", &self.hatch.clone(), "\""]);
        self.text.push_str(
            " width=\"6\" height=\"6\" \
             patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">",
        );
        self.mark(&Mark::Rect(SHADE, (0.0, 0.0), (6.0, 6.0)));
        self.mark(&Mark::Line(HATCH, (3.0, 0.0), (3.0, 6.0)));
        self.text.push_str("</pattern></defs>\n");
        self.mark(&Mark::Rect(PAPER, (0.0, 0.0), (drawing.width, drawing.height)));
        for mark in &drawing.marks {
            self.mark(mark);
        }
        self.text.push_str("</svg>\n");
        self.text
    }

    fn mark(&mut self, mark: &Mark) {
        match mark {
            Mark::Rect(look, corner, size) => self.shape("rect", *look, &place(*corner, *size)),
            Mark::Circle(look, middle, radius) => {
                self.shape("circle", *look, &[("cx", middle.0), ("cy", middle.1), ("r", *radius)]);
            }
            Mark::Line(look, from, to) => {
                let ends = [("x1", from.0), ("y1", from.1), ("x2", to.0), ("y2", to.1)];
                self.shape("line", *look, &ends);
            }
            Mark::Outline(look, points) => {
                let points: Vec<String> =
                    points.iter().map(|(x, y)| format!("{},{}", number(*x), number(*y))).collect();
                self.text.push_str("<polygon");
                self.attribute("points", &points.join(" "));
                self.look(*look);
                self.text.push_str("/>\n");
            }
            Mark::AroundCircle(look, size, radius) => self.around_circle(*look, *size, *radius),
            Mark::Words(look, at, held, words) => self.words(*look, *at, *held, words),
            Mark::Open(corner, size) => {
                self.text.push_str("<svg");
                self.numbers(&place(*corner, *size));
                let numbers = [-size.0 / 2.0, -size.1 / 2.0, size.0, size.1].map(number);
                self.attribute("viewBox", &numbers.join(" "));
                self.text.push_str(" overflow=\"hidden\">\n");
            }
            Mark::Close => self.text.push_str("</svg>\n"),
        }
    }

    fn around_circle(&mut self, look: Look, size: Pair, radius: f64) {
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

    fn words(&mut self, look: Look, at: Pair, held: Held, words: &str) {
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
        match look.fill {
            Fill::Empty => self.attribute("fill", "none"),
            Fill::Plain(colour) => self.attribute("fill", &hexadecimal(colour)),
            Fill::Hatched => {
                self.attribute("fill", &format!("url(#{})", self.hatch));
                self.attribute("fill-rule", "evenodd");
            }
        }
        if let Some(line) = look.line {
            self.attribute("stroke", &hexadecimal(line.colour));
            self.numbers(&[("stroke-width", line.width)]);
            if !line.dashes.is_empty() {
                let dashes: Vec<String> = line.dashes.iter().copied().map(number).collect();
                self.attribute("stroke-dasharray", &dashes.join(" "));
            }
        }
        if let Some(letters) = look.letters {
            self.numbers(&[("font-size", letters.size)]);
            if letters.bold {
                self.attribute("font-weight", "bold");
            }
        }
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

fn place(corner: Pair, size: Pair) -> [(&'static str, f64); 4] {
    [("x", corner.0), ("y", corner.1), ("width", size.0), ("height", size.1)]
}

/// A colour as `#rrggbb`.
fn hexadecimal([red, green, blue]: Colour) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

/// A number of an attribute. What is no number is drawn at the origin, because a bad one would spoil the file.
fn number(value: f64) -> String {
    if value.is_finite() { short(value, 3) } else { "0".to_owned() }
}
