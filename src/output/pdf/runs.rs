//! A line of text as runs of glyphs: which face, which glyphs, in which direction.

use std::ops::Range;

use krilla::text::{GlyphId, KrillaGlyph};
use rustybuzz::{Direction, UnicodeBuffer};
use unicode_bidi::{BidiInfo, Level};

use super::faces::{Fonts, Which, is_selector};

/// Glyphs of one face that follow each other.
pub(super) struct Run {
    pub(super) which: Which,
    pub(super) text: String,
    pub(super) glyphs: Vec<KrillaGlyph>,
    /// At size 1.
    pub(super) width: f32,
}

/// A printable line as runs from left to right. The line itself runs from left to right: letters of scripts that run
/// the other way turn among themselves (UAX #9), and cannot turn what stands in other cells or before and after them.
pub(super) fn runs(fonts: &Fonts, line: &str, bold: bool) -> Vec<Run> {
    let mut runs = Vec::new();
    if !line.chars().any(turns) {
        pieces(fonts, line, bold, false, &mut runs);
        return runs;
    }
    let bidi = BidiInfo::new(line, Some(Level::ltr()));
    for paragraph in &bidi.paragraphs {
        let (levels, places) = bidi.visual_runs(paragraph, paragraph.range.clone());
        for place in places {
            let turned = levels.get(place.start).is_some_and(Level::is_rtl);
            let Some(text) = line.get(place) else { continue };
            let start = runs.len();
            pieces(fonts, text, bold, turned, &mut runs);
            if turned && let Some(turned) = runs.get_mut(start..) {
                turned.reverse();
            }
        }
    }
    runs
}

/// True for letters of scripts that run from right to left (Unicode 16, blocks 0590 to 08FF and presentation forms).
fn turns(letter: char) -> bool {
    matches!(letter, '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{fefc}')
}

/// True for letters whose look depends on their neighbours, and for marks that stand on the letter before.
fn is_joined(letter: char) -> bool {
    turns(letter)
        || matches!(letter,
            '\u{300}'..='\u{36f}' | '\u{483}'..='\u{489}' | '\u{1ab0}'..='\u{1aff}' | '\u{1dc0}'..='\u{1dff}'
            | '\u{20d0}'..='\u{20ff}' | '\u{302a}'..='\u{302f}' | '\u{3099}' | '\u{309a}' | '\u{fe20}'..='\u{fe2f}')
}

/// True for what goes with the face of the letter before it, if that has it.
pub(super) fn clings(letter: char) -> bool {
    is_joined(letter) && !turns(letter)
        || is_selector(letter)
        || matches!(letter, '\u{200c}' | '\u{200d}')
}

/// Cuts text of one direction where the face changes.
fn pieces(fonts: &Fonts, text: &str, bold: bool, turned: bool, runs: &mut Vec<Run>) {
    let mut piece: Option<(Which, Range<usize>)> = None;
    for (at, letter) in text.char_indices() {
        let after = at + letter.len_utf8();
        if let Some((which, range)) = &mut piece {
            let has = fonts.face(*which).glyph(letter).is_some();
            let found = fonts.find(letter, bold);
            if found == Some(*which) || is_selector(letter) || (clings(letter) && has) {
                range.end = after;
                continue;
            }
        }
        // What has no glyph was written as its code before.
        let Some(which) = fonts.find(letter, bold) else { continue };
        if let Some((which, range)) = piece.replace((which, at..after)) {
            runs.extend(text.get(range).map(|text| run(fonts, which, text, turned)));
        }
    }
    if let Some((which, range)) = piece {
        runs.extend(text.get(range).map(|text| run(fonts, which, text, turned)));
    }
}

fn run(fonts: &Fonts, which: Which, text: &str, turned: bool) -> Run {
    let glyphs = if turned || text.chars().any(is_joined) {
        shaped(fonts, which, text, turned)
    } else {
        plain(fonts, which, text)
    };
    let width = glyphs.iter().map(|glyph| glyph.x_advance).sum();
    Run { which, text: text.to_owned(), glyphs, width }
}

/// A glyph a letter, one after the other.
fn plain(fonts: &Fonts, which: Which, text: &str) -> Vec<KrillaGlyph> {
    let face = fonts.face(which);
    let mut glyphs: Vec<KrillaGlyph> = Vec::with_capacity(text.len());
    for (at, letter) in text.char_indices() {
        let range = at..at + letter.len_utf8();
        match face.glyph(letter) {
            Some(glyph) if !is_selector(letter) => {
                let (id, advance) = (GlyphId::new(u32::from(glyph.0)), face.advance(glyph));
                glyphs.push(KrillaGlyph::new(id, advance, 0.0, 0.0, 0.0, range, None));
            }
            // It belongs to the letter before.
            _ => {
                if let Some(before) = glyphs.last_mut() {
                    before.text_range.end = range.end;
                }
            }
        }
    }
    glyphs
}

/// Glyphs as the font joins and stacks them.
fn shaped(fonts: &Fonts, which: Which, text: &str, turned: bool) -> Vec<KrillaGlyph> {
    let face = fonts.face(which);
    let mut buffer = UnicodeBuffer::new();
    buffer.push_str(text);
    buffer.guess_segment_properties();
    buffer.set_direction(if turned { Direction::RightToLeft } else { Direction::LeftToRight });
    let shaped = rustybuzz::shape(&face.shaper, &[], buffer);
    // Clusters begin at bytes of the text; each ends where the next one begins.
    let mut starts: Vec<usize> =
        shaped.glyph_infos().iter().filter_map(|info| usize::try_from(info.cluster).ok()).collect();
    starts.sort_unstable();
    starts.dedup();
    let end = |start: usize| {
        let next = starts.partition_point(|other| *other <= start);
        starts.get(next).copied().unwrap_or(text.len())
    };
    let pairs = shaped.glyph_infos().iter().zip(shaped.glyph_positions());
    let glyphs = pairs.map(|(info, place)| {
        let start = usize::try_from(info.cluster).unwrap_or(0);
        let part = |units: i32| {
            #[expect(clippy::cast_precision_loss, reason = "a few thousand units at most")]
            let units = units as f32;
            units / face.em
        };
        KrillaGlyph::new(
            GlyphId::new(info.glyph_id),
            part(place.x_advance),
            part(place.x_offset),
            part(place.y_offset),
            part(place.y_advance),
            start..end(start),
            None,
        )
    });
    glyphs.collect()
}
