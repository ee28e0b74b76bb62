//! Findings for people: what, where with the cell or key pointed at, and what to do.

use std::collections::BTreeMap;

use annotate_snippets::{AnnotationKind, Group, Level as Drawn, Renderer, Snippet};
use rayon::prelude::*;

use crate::finding::{Finding, Level, Place, Spot};

use super::calm::{self, calm};
use super::wrap::wrapped;

/// The same trouble of one clip or of many, said once.
pub struct Said<'a> {
    pub(super) finding: &'a Finding,
    /// Clips concerned, in the order they were met.
    pub(super) clips: Vec<&'a str>,
}

/// Findings that differ only in the clip and its file, put together.
pub fn together(findings: &[Finding]) -> Vec<Said<'_>> {
    let mut said: Vec<Said<'_>> = Vec::new();
    let mut index = BTreeMap::new();
    for finding in findings {
        let cell = finding.place.as_ref().and_then(|place| match place.spot {
            Spot::Text { line, column, .. } => Some((&place.file, line, column)),
            Spot::Byte(_) | Spot::Whole => None,
        });
        let at = *index.entry((finding.code, &finding.message, cell)).or_insert(said.len());
        if finding.clip.is_none() || at == said.len() {
            said.push(Said { finding, clips: finding.clip.as_deref().into_iter().collect() });
        } else if let Some(said) = said.get_mut(at) {
            said.clips.extend(finding.clip.as_deref());
        }
    }
    said
}

/// The findings as text, worst first and else in the order they were met. `width` is that of the terminal.
pub fn text(findings: &[Finding], colour: bool, width: usize) -> String {
    let width = width.max(40);
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() }.term_width(width);
    let together = together(findings);
    let mut text = String::new();
    for level in [Level::Fault, Level::Warning, Level::Info] {
        let of_level = together.par_iter().filter(|said| said.finding.level() == level);
        let drawn: Vec<String> = of_level.map(|said| one(said, &renderer, width)).collect();
        for one in drawn {
            text.push_str(&one);
            text.push('\n');
        }
    }
    text
}

/// Most clips named under one finding.
const MOST_NAMED: usize = 12;

/// Columns that stand before the words of a note: the numbers of lines, the sign and its label.
fn indent(place: Option<&Place>, label: &str) -> usize {
    let line = match place.map(|place| &place.spot) {
        Some(Spot::Text { line, excerpt: Some(_), .. }) => line.to_string().len(),
        _ => 1,
    };
    line + 5 + label.len()
}

fn one(said: &Said<'_>, renderer: &Renderer, width: usize) -> String {
    let Said { finding, clips } = said;
    let drawn = match finding.level() {
        Level::Fault => Drawn::ERROR.with_name("fault"),
        Level::Warning => Drawn::WARNING,
        Level::Info => Drawn::INFO,
    };
    let clip = match clips.as_slice() {
        [] => String::new(),
        [clip] => format!("{}: ", calm(clip)),
        clips => format!("{} clips: ", clips.len()),
    };
    let before = finding.level().word().len() + finding.code.word().len() + 4;
    let title =
        wrapped(&format!("{clip}{}", calm(&finding.message)), width - before.min(width / 2));
    let mut group = Group::with_title(drawn.primary_title(&title).id(finding.code.word()));
    let excerpt;
    let path;
    let label;
    // Of many clips the file of the first would only mislead.
    let place = finding
        .place
        .as_ref()
        .filter(|place| clips.len() < 2 || matches!(place.spot, Spot::Text { .. }));
    if let Some(place) = place {
        path = calm(&place.file);
        match &place.spot {
            Spot::Text { line, excerpt: Some(found), name, .. } => {
                excerpt = calm_excerpt(&found.line, &found.part);
                label = name.as_ref().map(|name| format!("cell {}", calm(name)));
                let meant = AnnotationKind::Primary.span(excerpt.1.clone());
                let meant = match &label {
                    Some(label) => meant.label(label.as_str()),
                    None => meant,
                };
                let snippet = Snippet::source(excerpt.0.as_str())
                    .line_start(usize::try_from(*line).unwrap_or(usize::MAX))
                    .path(path.as_str())
                    .annotation(meant);
                group = group.element(snippet);
            }
            Spot::Text { line, column, .. } => {
                group = group.element(
                    Drawn::NOTE
                        .with_name("at")
                        .message(format!("{path}, line {line}, column {column}")),
                );
            }
            Spot::Byte(offset) => {
                group = group
                    .element(Drawn::NOTE.with_name("at").message(format!("{path}, byte {offset}")));
            }
            Spot::Whole => group = group.element(Drawn::NOTE.with_name("at").message(path)),
        }
    }
    if clips.len() > 1 {
        let named: Vec<String> = clips.iter().take(MOST_NAMED).map(|clip| calm(clip)).collect();
        let more = if clips.len() > MOST_NAMED { ", ..." } else { "" };
        let message =
            wrapped(&format!("{}{more}", named.join(", ")), width - indent(place, "clips"));
        group = group.element(Drawn::NOTE.with_name("clips").message(message));
    }
    let notes = [("understood", &finding.understood), ("do", &finding.hint)];
    for (label, words) in notes {
        let Some(words) = words else { continue };
        let words = wrapped(&calm(words), width - indent(place, label));
        group = group.element(Drawn::HELP.with_name(label).message(words));
    }
    let mut out = renderer.render(&[group]);
    out.push('\n');
    out
}

/// How many findings ask for a person, the same trouble of several clips counted once.
pub fn people(findings: &[Finding]) -> usize {
    together(findings).iter().filter(|said| said.finding.level() > Level::Info).count()
}

/// A line made calm, cut to its neighbourhood if long, with the part that is meant moved along.
fn calm_excerpt(line: &str, part: &std::ops::Range<usize>) -> (String, std::ops::Range<usize>) {
    let (mut out, mut start, mut end) = (String::new(), None, None);
    for (at, letter) in line.char_indices() {
        if at + 200 < part.start || at > part.end + 200 {
            continue;
        }
        if at >= part.start && start.is_none() {
            start = Some(out.len());
        }
        if at >= part.end && end.is_none() {
            end = Some(out.len());
        }
        let letter = if letter == '\t' { ' ' } else { letter };
        calm::push(&mut out, letter);
    }
    let start = start.unwrap_or(out.len());
    let end = end.unwrap_or(out.len()).max(start);
    (out, start..end)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Code, Place};

    #[test]
    fn the_same_trouble_of_many_clips_is_said_once() {
        let corners = |clip: &str| {
            let place = Place::file(format!("{clip}.mov"));
            Finding::new(Code::CoverageCorners, "corners are dark").clip(clip).at(place)
        };
        let other = Finding::new(Code::LensUnknown, "no such lens").clip("C002");
        let found = [corners("C001"), other, corners("C002"), corners("C003")];
        assert_eq!(people(&found), 2);
        let text = text(&found, false, 80);
        assert_eq!(text.matches("corners are dark").count(), 1, "{text}");
        assert!(text.contains("3 clips: corners are dark"), "{text}");
        assert!(text.contains("C001, C002, C003"), "{text}");
        assert!(!text.contains("C001.mov"), "{text}");
    }
}
