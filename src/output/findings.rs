//! Findings for people: what, where with the cell or key pointed at, and what to do.

use annotate_snippets::{AnnotationKind, Group, Level as Drawn, Renderer, Snippet};

use crate::finding::{Finding, Level, Spot};

use super::calm::{self, calm};

/// The findings as text, worst first within the order they were met. `width` is that of the terminal.
pub fn text(findings: &[Finding], colour: bool, width: usize) -> String {
    let renderer =
        if colour { Renderer::styled() } else { Renderer::plain() }.term_width(width.max(40));
    let mut text = String::new();
    for level in [Level::Fault, Level::Warning, Level::Info] {
        for finding in findings.iter().filter(|finding| finding.level() == level) {
            text.push_str(&one(finding, &renderer));
            text.push('\n');
        }
    }
    text
}

fn one(finding: &Finding, renderer: &Renderer) -> String {
    let drawn = match finding.level() {
        Level::Fault => Drawn::ERROR.with_name("fault"),
        Level::Warning => Drawn::WARNING,
        Level::Info => Drawn::INFO,
    };
    let clip = finding.clip.as_ref().map_or_else(String::new, |clip| format!("{}: ", calm(clip)));
    let title = format!("{clip}{}", calm(&finding.message));
    let mut group = Group::with_title(drawn.primary_title(&title).id(finding.code.word()));
    let excerpt;
    let path;
    if let Some(place) = &finding.place {
        path = calm(&place.file);
        match &place.spot {
            Spot::Text { line, excerpt: Some(found), .. } => {
                excerpt = calm_excerpt(&found.line, &found.part);
                let snippet = Snippet::source(excerpt.0.as_str())
                    .line_start(usize::try_from(*line).unwrap_or(usize::MAX))
                    .path(path.as_str())
                    .annotation(AnnotationKind::Primary.span(excerpt.1.clone()));
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
    if let Some(hint) = &finding.hint {
        group = group.element(Drawn::HELP.with_name("do").message(calm(hint)));
    }
    let mut out = renderer.render(&[group]);
    out.push('\n');
    out
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
