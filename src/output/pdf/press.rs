//! Sheets become a PDF: archival (PDF/A-2a, ISO 19005-2) and accessible (PDF/UA-1, ISO 14289-1), as the library checks.

use chrono::{Datelike as _, NaiveDate};
use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::rgb;
use krilla::configure::{Accessibility, Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect};
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag};

use super::drawn::{draw, ellipse};
use super::faces::Fonts;
use super::runs::runs;
use super::sheet::{Bookmark, Ink, LONGEST_TITLE, Layout, Mark, Placed, Style, cut};
use crate::output::drawing::Colour;

/// What a document says of itself.
pub(in crate::output) struct Facts<'a> {
    pub(in crate::output) title: &'a str,
    /// Language tag (BCP 47).
    pub(in crate::output) language: &'a str,
    /// Program and version.
    pub(in crate::output) tool: &'a str,
    /// A day, without a time: the same content is the same bytes. PDF/A asks for one, so without it this is none.
    pub(in crate::output) date: Option<NaiveDate>,
}

/// The document: same layout, same bytes. An error is one of the library, in its words.
pub(in crate::output) fn print(layout: Layout<'_>, facts: &Facts<'_>) -> Result<Vec<u8>, String> {
    let mut configuration =
        ConfigurationBuilder::new().with_accessibility_validator(Accessibility::UA1);
    if facts.date.is_some() {
        configuration = configuration.with_archival_validator(Archival::A2_A);
    }
    let configuration = configuration.finish().map_err(|error| format!("{error:?}"))?;
    let settings =
        SerializeSettings { configuration, enable_tagging: true, ..SerializeSettings::default() };
    let mut document = Document::new_with(settings);
    let [width, height] = layout.size;
    let mut leaves = vec![None; layout.tree.leaves()];
    for sheet in layout.sheets {
        let settings = PageSettings::from_wh(width, height).ok_or("a sheet of no size")?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        for placed in &sheet.placed {
            let identifier = surface.start_tagged(tag(placed));
            for mark in &placed.marks {
                print_mark(&mut surface, layout.fonts, mark);
            }
            surface.end_tagged();
            if let Some(leaf) = placed.leaf.and_then(|leaf| leaves.get_mut(leaf)) {
                *leaf = Some(identifier);
            }
        }
        surface.finish();
        page.finish();
    }
    document.set_tag_tree(layout.tree.printed(facts.language, &leaves));
    document.set_outline(outline(&layout.bookmarks));
    document.set_metadata(metadata(facts));
    document.finish().map_err(|error| format!("{error:?}"))
}

fn tag(placed: &Placed) -> ContentTag<'static> {
    match placed.leaf {
        Some(_) => ContentTag::Span(SpanTag::empty()),
        None => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
    }
}

fn metadata(facts: &Facts<'_>) -> Metadata {
    let metadata = Metadata::new()
        .title(cut(facts.title, LONGEST_TITLE))
        .language(facts.language.to_owned())
        .creator(facts.tool.to_owned());
    let Some(day) = facts.date else { return metadata };
    let part = |number: u32| u8::try_from(number).unwrap_or(1);
    let date = DateTime::new(u16::try_from(day.year()).unwrap_or(1970));
    let date = date.month(part(day.month())).day(part(day.day()));
    let midnight = date.hour(0).minute(0).second(0).utc_offset_hour(0).utc_offset_minute(0);
    metadata.creation_date(midnight)
}

/// Bookmarks within bookmarks, by their depth.
fn outline(bookmarks: &[Bookmark]) -> Outline {
    let mut outline = Outline::new();
    // Bookmarks that may still get others below them, outermost first.
    let mut open: Vec<(usize, OutlineNode)> = Vec::new();
    let close = |open: &mut Vec<(usize, OutlineNode)>, outline: &mut Outline| {
        if let Some((_, node)) = open.pop() {
            match open.last_mut() {
                Some((_, above)) => above.push_child(node),
                None => outline.push_child(node),
            }
        }
    };
    for bookmark in bookmarks {
        while open.last().is_some_and(|(depth, _)| *depth >= bookmark.depth) {
            close(&mut open, &mut outline);
        }
        let place =
            XyzDestination::new(bookmark.sheet, Point::from_xy(0.0, (bookmark.y - 6.0).max(0.0)));
        let node = OutlineNode::new(bookmark.title.clone(), place).with_open(true);
        open.push((bookmark.depth, node));
    }
    while !open.is_empty() {
        close(&mut open, &mut outline);
    }
    outline
}

fn print_mark(surface: &mut Surface<'_>, fonts: &Fonts, mark: &Mark) {
    match mark {
        Mark::Words(x, y, style, words) => print_words(surface, fonts, [*x, *y], *style, words),
        Mark::Rule([x1, y1], [x2, y2], width, ink) => {
            let mut path = PathBuilder::new();
            path.move_to(*x1, *y1);
            path.line_to(*x2, *y2);
            outlined(surface, path, *width, *ink);
        }
        Mark::Ground([x, y], [width, height], ink) => {
            let mut path = PathBuilder::new();
            path.extend_rect([*x, *y], [*width, *height]);
            surface.set_stroke(None);
            surface.set_fill(Some(fill(ink.colour())));
            if let Some(path) = path.finish() {
                surface.draw_path(&path);
            }
        }
        Mark::Frame(corner, size, width, ink) => {
            let mut path = PathBuilder::new();
            path.extend_rect(*corner, *size);
            outlined(surface, path, *width, *ink);
        }
        Mark::Ring([x, y], [width, height]) => {
            let mut path = PathBuilder::new();
            let (rx, ry) = (width / 2.0, height / 2.0);
            ellipse(&mut path, [x + rx, y + ry], [rx, ry]);
            outlined(surface, path, 0.9, Ink::Black);
        }
        Mark::Drawing(corner, scale, drawing) => draw(surface, fonts, *corner, *scale, drawing),
    }
}

fn outlined(surface: &mut Surface<'_>, path: PathBuilder, width: f32, ink: Ink) {
    surface.set_fill(None);
    surface.set_stroke(Some(stroke(ink.colour(), width)));
    if let Some(path) = path.finish() {
        surface.draw_path(&path);
    }
}

/// A line of words, run by run.
pub(super) fn print_words(
    surface: &mut Surface<'_>,
    fonts: &Fonts,
    [x, y]: [f32; 2],
    style: Style,
    words: &str,
) {
    words_in(surface, fonts, [x, y], (style.size, style.bold), style.ink.colour(), words);
}

/// A line of words in any size and colour.
pub(super) fn words_in(
    surface: &mut Surface<'_>,
    fonts: &Fonts,
    [mut x, y]: [f32; 2],
    (size, bold): (f32, bool),
    colour: Colour,
    words: &str,
) {
    surface.set_fill(Some(fill(colour)));
    surface.set_stroke(None);
    for run in runs(fonts, words, bold) {
        let font = fonts.face(run.which).font.clone();
        surface.draw_glyphs(Point::from_xy(x, y), &run.glyphs, font, &run.text, size, false);
        x += run.width * size;
    }
}

pub(super) fn fill([red, green, blue]: Colour) -> Fill {
    Fill {
        paint: rgb::Color::new(red, green, blue).into(),
        opacity: NormalizedF32::ONE,
        rule: krilla::paint::FillRule::EvenOdd,
    }
}

pub(super) fn stroke([red, green, blue]: Colour, width: f32) -> Stroke {
    Stroke { paint: rgb::Color::new(red, green, blue).into(), width, ..Stroke::default() }
}

/// Rectangles by corner and size; those of no size are nothing.
pub(super) trait Rectangles {
    fn extend_rect(&mut self, corner: [f32; 2], size: [f32; 2]);
}

impl Rectangles for PathBuilder {
    fn extend_rect(&mut self, [x, y]: [f32; 2], [width, height]: [f32; 2]) {
        if let Some(rect) = Rect::from_xywh(x, y, width, height) {
            self.push_rect(rect);
        }
    }
}
