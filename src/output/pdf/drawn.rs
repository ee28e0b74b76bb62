//! Drawings on a sheet: the same marks that SVG shows, as paths.

use krilla::geom::{Path, PathBuilder, Transform};
use krilla::paint::{FillRule, StrokeDash};
use krilla::surface::Surface;

use super::faces::Fonts;
use super::lines::wide;
use super::press::{Rectangles as _, fill, stroke, words_in};
use crate::output::drawing::{Drawing, Fill, HATCH, Held, Look, Mark, PAPER, Pair, SHADE};

/// Part of the radius at which the handles of a quarter of a circle lie, as a cubic curve: 4/3 (sqrt 2 - 1).
const HANDLE: f32 = 0.552_284_8;
/// From one hatch to the next, in pixels of the drawing, as in SVG.
const HATCH_STEP: f32 = 6.0;
/// Hatches of one area at most, so that an area of any size costs little.
const MOST_HATCHES: f32 = 400.0;

/// Draws into a place at a scale.
pub(super) fn draw(
    surface: &mut Surface<'_>,
    fonts: &Fonts,
    [x, y]: [f32; 2],
    scale: f32,
    drawing: &Drawing,
) {
    surface.push_transform(&Transform::from_row(scale, 0.0, 0.0, scale, x, y));
    shape(surface, PAPER, rectangle((0.0, 0.0), (drawing.width, drawing.height)));
    // What each window that is open pushed, so that all of it is taken off again.
    let mut windows: Vec<usize> = Vec::new();
    for mark in &drawing.marks {
        match mark {
            Mark::Open(corner, size) => windows.push(open(surface, *corner, *size)),
            Mark::Close => close(surface, windows.pop()),
            Mark::Words(look, at, held, words) => letters(surface, fonts, *look, *at, *held, words),
            mark => {
                if let Some((look, path)) = path(mark) {
                    shape(surface, look, path);
                }
            }
        }
    }
    while let Some(window) = windows.pop() {
        close(surface, Some(window));
    }
    surface.pop();
}

fn open(surface: &mut Surface<'_>, corner: Pair, size: Pair) -> usize {
    let mut pushed = 0;
    if let Some(window) = rectangle(corner, size).finish() {
        surface.push_clip_path(&window, &FillRule::NonZero);
        pushed += 1;
    }
    let middle = (corner.0 + size.0 / 2.0, corner.1 + size.1 / 2.0);
    surface.push_transform(&Transform::from_translate(short(middle.0), short(middle.1)));
    pushed + 1
}

fn close(surface: &mut Surface<'_>, pushed: Option<usize>) {
    for _ in 0..pushed.unwrap_or(0) {
        surface.pop();
    }
}

fn path(mark: &Mark) -> Option<(Look, PathBuilder)> {
    let mut path = PathBuilder::new();
    let look = match mark {
        Mark::Rect(look, corner, size) => {
            path = rectangle(*corner, *size);
            look
        }
        Mark::Circle(look, middle, radius) => {
            let radius = short(*radius);
            ellipse(&mut path, [short(middle.0), short(middle.1)], [radius, radius]);
            look
        }
        Mark::Line(look, from, to) => {
            path.move_to(short(from.0), short(from.1));
            path.line_to(short(to.0), short(to.1));
            look
        }
        Mark::Outline(look, points) => {
            for (at, point) in points.iter().enumerate() {
                let (x, y) = (short(point.0), short(point.1));
                if at == 0 { path.move_to(x, y) } else { path.line_to(x, y) }
            }
            path.close();
            look
        }
        Mark::AroundCircle(look, size, radius) => {
            path = rectangle((-size.0 / 2.0, -size.1 / 2.0), *size);
            let radius = short(*radius);
            ellipse(&mut path, [0.0, 0.0], [radius, radius]);
            look
        }
        Mark::Words(..) | Mark::Open(..) | Mark::Close => return None,
    };
    Some((*look, path))
}

fn rectangle(corner: Pair, size: Pair) -> PathBuilder {
    let mut path = PathBuilder::new();
    path.extend_rect([short(corner.0), short(corner.1)], [short(size.0), short(size.1)]);
    path
}

/// An ellipse around a middle, as four curves.
pub(super) fn ellipse(path: &mut PathBuilder, [x, y]: [f32; 2], [rx, ry]: [f32; 2]) {
    let (hx, hy) = (rx * HANDLE, ry * HANDLE);
    path.move_to(x + rx, y);
    path.cubic_to(x + rx, y + hy, x + hx, y + ry, x, y + ry);
    path.cubic_to(x - hx, y + ry, x - rx, y + hy, x - rx, y);
    path.cubic_to(x - rx, y - hy, x - hx, y - ry, x, y - ry);
    path.cubic_to(x + hx, y - ry, x + rx, y - hy, x + rx, y);
    path.close();
}

fn shape(surface: &mut Surface<'_>, look: Look, path: PathBuilder) {
    let Some(path) = path.finish() else { return };
    if look.fill == Fill::Hatched {
        hatch(surface, &path);
        return;
    }
    surface.set_fill(match look.fill {
        Fill::Plain(colour) => Some(fill(colour)),
        Fill::Empty | Fill::Hatched => None,
    });
    surface.set_stroke(look.line.map(|line| {
        let mut stroke = stroke(line.colour, short(line.width));
        let dashes: Vec<f32> = line.dashes.iter().copied().map(short).collect();
        stroke.dash = (!dashes.is_empty()).then_some(StrokeDash { array: dashes, offset: 0.0 });
        stroke
    }));
    if look.fill != Fill::Empty || look.line.is_some() {
        surface.draw_path(&path);
    }
}

/// Slanted lines on their ground, inside of a path.
fn hatch(surface: &mut Surface<'_>, path: &Path) {
    surface.push_clip_path(path, &FillRule::EvenOdd);
    // The window around the path keeps what is drawn to a few hundred pixels.
    let reach = HATCH_STEP * MOST_HATCHES / 2.0;
    let ground = rectangle(
        (f64::from(-reach), f64::from(-reach)),
        (f64::from(reach) * 2.0, f64::from(reach) * 2.0),
    );
    shape(surface, SHADE, ground);
    let mut lines = PathBuilder::new();
    // Lines at 45 degrees, a step apart across, are the root of 2 as far apart along an edge.
    let along = HATCH_STEP * std::f32::consts::SQRT_2;
    let mut at = -reach;
    while at <= reach {
        lines.move_to(at - reach, reach);
        lines.line_to(at + reach, -reach);
        at += along;
    }
    shape(surface, HATCH, lines);
    surface.pop();
}

fn letters(
    surface: &mut Surface<'_>,
    fonts: &Fonts,
    look: Look,
    at: Pair,
    held: Held,
    words: &str,
) {
    let (Some(letters), Fill::Plain(colour)) = (look.letters, look.fill) else { return };
    let words = fonts.printable(words);
    let size = short(letters.size);
    let width = wide(fonts, &words, letters.bold, size);
    let left = match held {
        Held::Start => 0.0,
        Held::Middle => width / 2.0,
        Held::End => width,
    };
    words_in(
        surface,
        fonts,
        [short(at.0) - left, short(at.1)],
        (size, letters.bold),
        colour,
        &words,
    );
}

/// A number as PDF writes it; what is no number is drawn at the origin, as in SVG.
fn short(value: f64) -> f32 {
    #[expect(clippy::cast_possible_truncation, reason = "a drawing is a few thousand pixels")]
    let value = value.clamp(-1e6, 1e6) as f32;
    if value.is_finite() { value } else { 0.0 }
}
