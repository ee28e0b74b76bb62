//! Recorded areas in their image circles, side by side at one scale: what an attachment does to a set-up, drawn.

use crate::number::short;
use crate::units::{Millimeters, Offset};

use super::drawing::{
    AREA, ASIDE, BOLD_LINE, CIRCLE, Drawing, FRAME, HATCHED, HEADING, Held, LIT, Look, PLATE, THIN,
    TITLE, WORDS, steps,
};
use super::lettering::{brief, rows};

/// What is drawn: one set-up, seen bare and behind its attachment, say.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// What the whole is about: lens, attachment, camera.
    pub title: String,
    /// One to three drawings as a rule; more go on in rows below.
    pub scenes: Vec<View>,
}

/// One recorded area in its image circle.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// `bare`, `behind` and the name of the attachment, or the like.
    pub label: String,
    /// Width of the recorded area.
    pub width: Millimeters,
    /// Height of the recorded area.
    pub height: Millimeters,
    /// The image circle where it is known.
    pub circle: Option<Circle>,
    /// The plate that is cut from the recorded area, if one is.
    pub plate: Option<Plate>,
    /// What of the corners lies outside of the circle. The area is hatched by its geometry, this is what is said of it.
    pub dark: Option<Dark>,
    /// How far in from its left and right edges the area is dark, if the circle is narrower than it.
    pub dark_sides: Option<Dark>,
    /// The same from its top and bottom edges, if the circle is lower than it.
    pub dark_top_bottom: Option<Dark>,
    /// What else is to be read: effective focal length, f and T, angles, crop. One row each, broken if long.
    pub lines: Vec<String>,
}

/// An image circle around the middle of the recorded area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    /// Its diameter.
    pub diameter: Millimeters,
    /// True where the attachment's own exit circle cuts that of the lens.
    pub exit_limited: bool,
}

/// A plate within the recorded area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plate {
    /// Width on the sensor.
    pub width: Millimeters,
    /// Height on the sensor.
    pub height: Millimeters,
    /// How far its middle lies to the right of that of the recorded area, as the picture is seen.
    pub right: Offset,
    /// How far its middle lies below that of the recorded area.
    pub down: Offset,
}

/// What is lost in the corners, along the diagonal, or at the middle of an edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dark {
    /// From the circle to the corner or edge.
    pub lost: Millimeters,
    /// The same in photosites, where their pitch is known.
    pub pixels: Option<f64>,
}

/// Room around everything, in CSS pixels like all that follow.
const MARGIN: f64 = 28.0;
/// Width of one drawing and the words below it.
const PANEL: f64 = 340.0;
/// Between two drawings.
const GAP: f64 = 28.0;
/// Air between a drawing and its frame.
const AIR: f64 = 14.0;
/// From one row of words to the next.
const ROW: f64 = 19.0;
/// Width of the line that explains a word.
const SAMPLE: f64 = 34.0;
/// Drawings side by side before a new row begins.
pub(super) const ACROSS: usize = 3;
/// Pixels a millimetre at most, so that ten millimetres stay narrower than a drawing.
const LARGEST_SCALE: f64 = 30.0;
/// A circle larger than this many diagonals is told and not drawn: it would make a dot of the area.
const LARGEST_CIRCLE: f64 = 2.2;

/// The picture as an SVG document: same picture, same bytes.
pub fn picture(picture: &Picture) -> String {
    drawing(picture, Scale::of(&picture.scenes)).svg()
}

/// The picture at a scale that it may share with others.
pub(super) fn drawing(picture: &Picture, scale: Scale) -> Drawing {
    let across = picture.scenes.len().clamp(1, ACROSS);
    let columns: Vec<f64> = steps(MARGIN, PANEL + GAP).take(across).collect();
    let width = columns.last().map_or(0.0, |left| left + PANEL + MARGIN);
    let titles = rows(&picture.title, 18.0, width - 2.0 * MARGIN, 3);

    let below_titles = steps(MARGIN + 14.0, 24.0).nth(titles.len()).unwrap_or(MARGIN);
    let mut bands = Vec::new();
    let mut top = below_titles;
    for scenes in picture.scenes.chunks(ACROSS) {
        let scenes: Vec<Scene<'_>> = scenes.iter().map(|view| Scene::of(view, scale)).collect();
        let labels = scenes.iter().map(|scene| scene.labels.len()).max().unwrap_or(0);
        let notes = scenes.iter().map(|scene| scene.notes.len()).max().unwrap_or(0);
        let frame = steps(top, ROW).nth(labels).unwrap_or(top);
        let first = frame + scale.height + ROW + 4.0;
        let foot = steps(first, ROW).nth(notes).unwrap_or(first);
        bands.push((scenes, top, frame, first));
        top = foot + 12.0;
    }
    let height = top + MARGIN + 14.0;

    let mut drawing =
        Drawing::new(width, height, &brief(&picture.title), &description(picture, scale));
    for (row, y) in titles.iter().zip(steps(MARGIN + 14.0, 24.0)) {
        drawing.words(TITLE, (MARGIN, y), Held::Start, row);
    }
    for (scenes, labels, frame, first) in &bands {
        for (scene, left) in scenes.iter().zip(&columns) {
            // Labels of different lengths end on the same row, right above the frames.
            let lead = steps(0.0, ROW).nth(scene.labels.len()).unwrap_or(0.0);
            for (label, y) in scene.labels.iter().zip(steps(frame - lead + 8.0, ROW)) {
                drawing.words(HEADING, (*left, y.max(*labels)), Held::Start, label);
            }
            scene.draw(&mut drawing, scale, (*left, *frame));
            for (note, y) in scene.notes.iter().zip(steps(*first, ROW)) {
                note.draw(&mut drawing, (*left, y));
            }
        }
    }
    bar(&mut drawing, scale, (MARGIN, top + 4.0));
    drawing
}

/// What all drawings of a picture share.
#[derive(Clone, Copy)]
pub(super) struct Scale {
    /// Pixels a millimetre.
    pixels: f64,
    /// Height of every drawing.
    height: f64,
}

impl Scale {
    /// The largest scale at which the largest area, and its circle if it is drawn, fit.
    pub(super) fn of(scenes: &[View]) -> Self {
        let (mut width, mut height) = (0.0_f64, 0.0_f64);
        for view in scenes {
            let circle = drawable(view).unwrap_or(0.0);
            width = width.max(view.width.get()).max(circle);
            height = height.max(view.height.get()).max(circle);
        }
        let room = PANEL - 2.0 * AIR;
        let pixels = (room / width.max(height)).min(LARGEST_SCALE);
        Self { pixels, height: (height * pixels + 2.0 * AIR).clamp(80.0, PANEL) }
    }
}

/// The diameter of a view's circle, if it is not far too large.
fn drawable(view: &View) -> Option<f64> {
    let circle = view.circle?.diameter.get();
    (circle <= LARGEST_CIRCLE * diagonal(view)).then_some(circle)
}

fn diagonal(view: &View) -> f64 {
    libm::hypot(view.width.get(), view.height.get())
}

/// A view with its words broken into rows.
struct Scene<'a> {
    view: &'a View,
    labels: Vec<String>,
    notes: Vec<Note>,
}

/// A row of words, with a sample of the line that it explains.
struct Note {
    sample: Option<Sample>,
    words: String,
}

#[derive(Clone, Copy)]
enum Sample {
    Line(Look),
    Hatched,
    /// Room for a sample, on the rows that go on.
    Blank,
}

impl<'a> Scene<'a> {
    fn of(view: &'a View, scale: Scale) -> Self {
        let mut notes = Vec::new();
        let mut explain = |sample: Sample, words: &str| {
            for (at, words) in rows(words, 13.0, PANEL - SAMPLE - 8.0, 4).into_iter().enumerate() {
                let sample = if at == 0 { sample } else { Sample::Blank };
                notes.push(Note { sample: Some(sample), words });
            }
        };
        explain(Sample::Line(AREA), &area_words(view));
        let drawn = is_seen(view, scale);
        explain(
            if drawn { Sample::Line(CIRCLE) } else { Sample::Blank },
            &circle_words(view, drawn),
        );
        if let Some(words) = dark_words(view) {
            explain(Sample::Hatched, &words);
        }
        if let Some(words) = plate_words(view) {
            explain(Sample::Line(PLATE), &words);
        }
        if !view.lines.is_empty() {
            notes.push(Note { sample: None, words: String::new() });
        }
        for line in &view.lines {
            let rows = rows(line, 13.0, PANEL, 3);
            notes.extend(rows.into_iter().map(|words| Note { sample: None, words }));
        }
        Self { view, labels: rows(&view.label, 15.0, PANEL, 2), notes }
    }

    fn draw(&self, drawing: &mut Drawing, scale: Scale, corner: (f64, f64)) {
        let view = self.view;
        let (w, h) = (view.width.get() * scale.pixels, view.height.get() * scale.pixels);
        let radius = view.circle.map(|circle| circle.diameter.get() / 2.0 * scale.pixels);
        drawing.open(corner, (PANEL, scale.height));
        let seen = radius.filter(|_| is_seen(view, scale));
        if let Some(radius) = seen {
            drawing.circle(LIT, (0.0, 0.0), radius);
        } else if radius.is_some() {
            // All that is drawn lies within the circle.
            drawing.rect(LIT, (-PANEL / 2.0, -scale.height / 2.0), (PANEL, scale.height));
        }
        if let Some(radius) = radius.filter(|_| has_dark_corners(view)) {
            drawing.open((-w / 2.0, -h / 2.0), (w, h));
            drawing.around_circle(HATCHED, (w, h), radius);
            drawing.close();
        }
        if let Some(radius) = seen {
            drawing.circle(CIRCLE, (0.0, 0.0), radius);
        }
        drawing.line(THIN, (-w / 2.0, -h / 2.0), (w / 2.0, h / 2.0));
        drawing.line(THIN, (-w / 2.0, h / 2.0), (w / 2.0, -h / 2.0));
        let mark = (w.min(h) / 8.0).clamp(2.0, 8.0);
        drawing.line(BOLD_LINE, (-mark, 0.0), (mark, 0.0));
        drawing.line(BOLD_LINE, (0.0, -mark), (0.0, mark));
        if let Some(plate) = view.plate {
            let (pw, ph) = (plate.width.get() * scale.pixels, plate.height.get() * scale.pixels);
            let (x, y) = (plate.right.get() * scale.pixels, plate.down.get() * scale.pixels);
            drawing.rect(PLATE, (x - pw / 2.0, y - ph / 2.0), (pw, ph));
        }
        drawing.rect(AREA, (-w / 2.0, -h / 2.0), (w, h));
        drawing.close();
        drawing.rect(FRAME, corner, (PANEL, scale.height));
    }
}

impl Note {
    fn draw(&self, drawing: &mut Drawing, (left, y): (f64, f64)) {
        match self.sample {
            Some(Sample::Line(look)) => {
                drawing.line(look, (left, y - 4.5), (left + SAMPLE - 2.0, y - 4.5));
            }
            Some(Sample::Hatched) => {
                drawing.rect(HATCHED, (left, y - 11.0), (SAMPLE - 2.0, 13.0));
            }
            Some(Sample::Blank) | None => {}
        }
        if self.words.is_empty() {
            return;
        }
        let left = if self.sample.is_some() { left + SAMPLE + 8.0 } else { left };
        drawing.words(WORDS, (left, y), Held::Start, &self.words);
    }
}

/// True where part of the circle falls into the drawing.
fn is_seen(view: &View, scale: Scale) -> bool {
    view.circle.is_some_and(|circle| {
        let radius = circle.diameter.get() / 2.0 * scale.pixels;
        radius < libm::hypot(PANEL, scale.height) / 2.0
    })
}

fn has_dark_corners(view: &View) -> bool {
    view.circle.is_some_and(|circle| circle.diameter.get() < diagonal(view))
}

/// The bar against which everything is measured: ten millimetres, or more where that would be a dot.
fn bar(drawing: &mut Drawing, scale: Scale, (left, y): (f64, f64)) {
    let lengths = [10.0, 100.0, 1000.0, 10_000.0];
    let Some(length) = lengths.into_iter().find(|length| length * scale.pixels >= 12.0) else {
        return;
    };
    let right = left + length * scale.pixels;
    drawing.line(BOLD_LINE, (left, y), (right, y));
    drawing.line(BOLD_LINE, (left, y - 5.0), (left, y + 5.0));
    drawing.line(BOLD_LINE, (right, y - 5.0), (right, y + 5.0));
    drawing.words(
        ASIDE,
        (left, y + 20.0),
        Held::Start,
        &format!("{} mm on the sensor", short(length, 0)),
    );
}

fn area_words(view: &View) -> String {
    let size = size_words(view.width, view.height);
    format!("recorded area {size}, diagonal\u{a0}{}", mm(diagonal(view)))
}

fn circle_words(view: &View, drawn: bool) -> String {
    let Some(circle) = view.circle else { return "image circle not known".to_owned() };
    let mut words = format!("image circle {}", mm(circle.diameter.get()));
    if circle.exit_limited {
        words.push_str(", cut by the exit of the attachment");
    }
    if !drawn {
        words.push_str(", larger than this drawing");
    }
    words
}

fn dark_words(view: &View) -> Option<String> {
    if !has_dark_corners(view) {
        return None;
    }
    let Some(dark) = view.dark else { return Some("dark corners".to_owned()) };
    let lost = |dark: Dark| {
        let pixels = dark.pixels.map(|pixels| format!(" ({} px)", short(pixels, 0)));
        format!("{}{}", mm(dark.lost.get()), pixels.unwrap_or_default())
    };
    let edges = [(view.dark_sides, "left and right"), (view.dark_top_bottom, "top and bottom")];
    let edges = edges.into_iter().filter_map(|(dark, which)| Some((dark?, which)));
    // A length and its unit stay on one row.
    let whole = |dark| lost(dark).replace(' ', "\u{a0}");
    let edges: Vec<_> = edges.map(|(dark, which)| format!("{which} {}", whole(dark))).collect();
    if edges.is_empty() {
        return Some(format!("dark corners, {} each", lost(dark)));
    }
    Some(format!("whole edges dark: {}; corners {} each", edges.join(", "), whole(dark)))
}

fn plate_words(view: &View) -> Option<String> {
    let plate = view.plate?;
    Some(format!("plate {}", size_words(plate.width, plate.height)))
}

fn size_words(width: Millimeters, height: Millimeters) -> String {
    format!("{}\u{a0}\u{d7}\u{a0}{}\u{a0}mm", short(width.get(), 2), short(height.get(), 2))
}

fn mm(length: f64) -> String {
    format!("{}\u{a0}mm", short(length, 2))
}

/// The picture in words, for those who cannot see it.
fn description(picture: &Picture, scale: Scale) -> String {
    let mut words = "Recorded areas in their image circles, all at one scale.".to_owned();
    for view in &picture.scenes {
        let mut said = vec![area_words(view), circle_words(view, is_seen(view, scale))];
        said.extend(dark_words(view));
        said.extend(plate_words(view));
        said.extend(view.lines.iter().map(|line| brief(line)));
        words.extend([" ", &brief(&view.label), ": ", &said.join("; "), "."]);
    }
    words
}
