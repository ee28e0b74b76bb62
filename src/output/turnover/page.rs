//! The turnover as a page to read and to print: a line a shot, then each shot with all of its numbers and how they are known.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::fields::Field;
use crate::finding::{Code, Finding, Level};
use crate::number::short;
use crate::turnover::Shot;

use super::super::calm::calm;
use super::super::summary::CAUTION;
use super::super::values::{Cell, Value, origin_words};
use super::cameras::back_words;
use super::{Handed, Piece, quantity_words};

/// How it looks, on a screen and on paper.
const LOOK: &str = include_str!("page.css");

/// The numbers of a piece, in the order in which they are asked for.
const NUMBERS: &[Field] = &[
    Field::Lens,
    Field::LensSerial,
    Field::Attachment,
    Field::LensFocal,
    Field::FocalLength,
    Field::Pinhole,
    Field::PupilOffset,
    Field::Distortion,
    Field::FNumber,
    Field::TNumber,
    Field::FocusDistance,
    Field::Squeeze,
    Field::BackWidth,
    Field::BackHeight,
    Field::AngleHorizontal,
    Field::AngleVertical,
    Field::Coverage,
    Field::ShutterAngle,
    Field::ExposureTime,
    Field::Iso,
    Field::ExposureIndex,
    Field::WhiteBalance,
    Field::LensHeight,
    Field::Tilt,
    Field::Filter,
    Field::Remarks,
];

/// The page (HTML, UTF-8). It needs nothing else: no script, no font, no picture, nothing from elsewhere.
pub fn write(handed: &Handed<'_>, findings: &[Finding]) -> Vec<u8> {
    let turnover = handed.turnover;
    let title = turnover.title.as_deref().map_or_else(|| calm(handed.cut_name), calm);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width";
                title { "Turnover: " (title) }
                style { (PreEscaped(LOOK)) }
            }
            body {
                header {
                    h1 { "Turnover: " (title) }
                    @if let Some(production) = &handed.shoot.production { p { (calm(production)) } }
                    p.soft { (about(handed)) }
                }
                main {
                    (index(handed))
                    (people(findings))
                    h2 { "Shots" }
                    @for shot in &turnover.shots { (article(handed, shot)) }
                }
                footer { p.soft { (CAUTION) " Made by " (handed.stamp.tool) "." } }
            }
        }
    };
    let mut text = page.into_string();
    text.push('\n');
    text.into_bytes()
}

fn about(handed: &Handed<'_>) -> String {
    let turnover = handed.turnover;
    let mut words = vec![format!("cut {}", calm(handed.cut_name))];
    words.push(turnover.timing.map_or("rate of the cut not known".to_owned(), |timing| {
        let drop = if timing.counting.drop() { " drop frame" } else { "" };
        format!("{} frames a second{drop}", short(timing.rate.to_f64(), 3))
    }));
    words.push(format!("{} shots", turnover.shots.len()));
    words.push(format!("handles of {} frames of the clip", turnover.handles));
    words.push(format!("frames from {}, handles included", turnover.first_frame));
    match &turnover.plate {
        Some(plate) => words.push(format!("plate {} ({})", calm(&plate.id), plate.crop)),
        None => words.push("the whole recorded raster".to_owned()),
    }
    words.join(" \u{b7} ")
}

fn index(handed: &Handed<'_>) -> Markup {
    html! {
        h2 { "Overview" }
        div.wide {
            table {
                thead { tr {
                    th scope="col" { "Shot" }
                    th scope="col" { "Source" }
                    th scope="col" { "In the cut" }
                    th scope="col" { "Frames" }
                    th scope="col" { "Lens" }
                    th scope="col" { "Pinhole focal length" }
                    th scope="col" { "Film back" }
                    th scope="col" { "Look at" }
                } }
                tbody {
                    @for shot in &handed.turnover.shots {
                        @let pieces = handed.pieces(shot);
                        @let first = pieces.first();
                        @let record = shot.record(handed.turnover.timing);
                        tr {
                            td { a href=(format!("#{}", shot.name)) { (shot.name) } }
                            td { (span(handed.source(shot))) }
                            td { (span(record)) }
                            td {
                                @if let Some(used) = &shot.used { (used.end - used.start) }
                                @if let Some((before, after)) = shot.handles() { " " span.n { "+" (before) " +" (after) } }
                                @if let Some(speed) = shot.speed_words() { ", " (speed) }
                            }
                            td { (first.and_then(|piece| text(piece, Field::Lens)).unwrap_or_default()) }
                            td { (first.and_then(|piece| quantity_words(&piece.cells, Field::Pinhole)).unwrap_or_default()) }
                            td { (first.and_then(|piece| piece.area.as_ref()).map(|area| back_words(area.back)).unwrap_or_default()) }
                            td {
                                @let words = look_at(shot, &pieces);
                                @if !words.is_empty() { span.warn { (words.join(", ")) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// In few words what a person should look at.
fn look_at(shot: &Shot, pieces: &[Piece<'_>]) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for finding in &shot.findings {
        let word = match finding.code {
            Code::CutNoClip => "no clip",
            Code::CutTwoClips => "several clips",
            Code::CutFrames if shot.range.is_none() => "no frames",
            Code::CutFrames => "frames not certain",
            Code::CutPastEnd => "beyond the clip",
            Code::CutPlate => "plate does not fit",
            _ => continue,
        };
        if !words.iter().any(|before| before == word) {
            words.push(word.to_owned());
        }
    }
    if pieces.iter().any(|piece| piece.row.setup.derived.pinhole.is_none()) {
        words.push("no focal length".to_owned());
    }
    if pieces.iter().any(|piece| piece.area.is_none()) {
        words.push("no film back".to_owned());
    }
    if pieces.iter().any(is_dark) {
        words.push("dark corners".to_owned());
    }
    // Files of a spanned clip are pieces, too.
    let changes = pieces.windows(2).filter(|two| match two {
        [a, b] => a.row.setup != b.row.setup,
        _ => false,
    });
    if changes.count() > 0 {
        words.push("changes in the shot".to_owned());
    }
    words
}

fn is_dark(piece: &Piece<'_>) -> bool {
    piece.row.setup.derived.coverage.as_ref().is_some_and(|coverage| coverage.value.get() < 1.0)
}

fn people(findings: &[Finding]) -> Markup {
    let serious: Vec<&Finding> =
        findings.iter().filter(|finding| finding.level() > Level::Info).collect();
    html! {
        h2 { "Needs a person" }
        @if serious.is_empty() { p { "Nothing." } }
        @else {
            ul {
                @for finding in serious {
                    li {
                        @if let Some(clip) = &finding.clip { strong { (calm(clip)) } ": " }
                        (calm(&finding.message))
                        @if let Some(hint) = &finding.hint { span.soft { " (" (calm(hint)) ")" } }
                        " " code.soft { (finding.code.word()) }
                    }
                }
            }
        }
    }
}

fn article(handed: &Handed<'_>, shot: &Shot) -> Markup {
    let pieces = handed.pieces(shot);
    let event = &shot.event;
    let clip = handed.clip(shot);
    html! {
        article id=(shot.name) {
            header {
                h3 { (shot.name) }
                @if let Some(clip) = clip {
                    @for file in clip.clip.files.iter().take(1) { span.soft { (calm(&file.shown)) } }
                } @else { span.warn { "no clip" } }
                @if let Some(name) = &event.name { span.soft { "in the edit: " (calm(name)) } }
            }
            p {
                "Source " (span_words(handed.source(shot)))
                @if let Some(range) = &shot.range {
                    ", with handles " (span_words((
                        handed.label(shot, range.start).map(|label| label.to_string()),
                        handed.label(shot, range.end).map(|label| label.to_string()),
                    )))
                    ", frames " (handed.turnover.first_frame) " to "
                    (handed.turnover.first_frame + (range.end - range.start) - 1)
                }
                ". In the cut " (span_words(shot.record(handed.turnover.timing))) ", track " (calm(&event.track))
                @if let Some(change) = &event.transition { ", " (calm(&change.kind)) " of " (change.frames) " frames" }
                @if let Some(speed) = shot.speed_words() { ", " (speed) }
                @if shot.by_time { ", source counted at the rate of the cut" }
                "."
            }
            @for piece in &pieces {
                @if pieces.len() > 1 { p { strong { "From " (piece.number) } " " span.soft { (calm(&piece.row.file.shown)) } } }
                div.wide { table { tbody {
                    @for field in NUMBERS { (number(piece, *field)) }
                    (plate(handed, piece))
                } } }
                @if is_dark(piece) { p.warn { "Corners are dark: the image circle is smaller than the recorded area." } }
            }
            @if !shot.findings.is_empty() {
                ul { @for finding in &shot.findings { li { (calm(&finding.message)) " " code.soft { (finding.code.word()) } } } }
            }
            @if !event.comments.is_empty() {
                ul { @for comment in &event.comments { li.soft { (calm(comment)) } } }
            }
        }
    }
}

/// A line of a field: name, value with uncertainty, how it is known. Nothing where nothing is known of it.
fn number(piece: &Piece<'_>, field: Field) -> Markup {
    let Some(cell) = piece.cells.get(&field) else { return html! {} };
    html! {
        tr {
            th scope="row" { (field.label()) }
            td.n {
                @match quantity_words(&piece.cells, field) {
                    Some(words) => (calm(&words)),
                    None => span.warn { "not known" },
                }
            }
            td { (calm(&known(cell))) }
        }
    }
}

/// How a value is known, and what became of it.
fn known(cell: &Cell) -> String {
    let basis = cell.value.as_ref().and_then(Value::basis).map(|basis| basis.word().to_owned());
    let verdict = cell.verdict.map(|verdict| verdict.word().to_owned());
    let origin = cell.origin.as_ref().map(origin_words);
    let reason = Some(cell.reason.clone()).filter(|reason| !reason.is_empty());
    let words: Vec<String> = [basis, verdict, reason, origin].into_iter().flatten().collect();
    words.join("; ")
}

fn plate(handed: &Handed<'_>, piece: &Piece<'_>) -> Markup {
    let Some(area) = &piece.area else { return html! {} };
    let density =
        format!("{} x {}", short(area.pixels_per_mm.0, 3), short(area.pixels_per_mm.1, 3));
    html! {
        @if let Some(plate) = &handed.turnover.plate {
            tr {
                th scope="row" { "Plate " (calm(&plate.id)) }
                td.n { (back_words(area.back)) }
                td {
                    (area.raster.to_string()) " pixels; off the axis "
                    (short(area.off.0, 4)) " mm right, " (short(area.off.1, 4)) " mm up; squeeze " (short(area.squeeze, 3))
                }
            }
        }
        tr { th scope="row" { "Pixels a mm" } td.n { (density) } td { "across and down" } }
    }
}

fn text(piece: &Piece<'_>, field: Field) -> Option<String> {
    let value = piece.cells.get(&field)?.value.as_ref()?;
    Some(calm(&value.text(field)))
}

/// Two labels that may stand below one another.
fn span((from, to): (Option<String>, Option<String>)) -> Markup {
    html! {
        @match (from, to) {
            (Some(from), Some(to)) => { span.n { (calm(&from)) " \u{2013}" } " " span.n { (calm(&to)) } },
            _ => "not known",
        }
    }
}

fn span_words((from, to): (Option<String>, Option<String>)) -> String {
    match (from, to) {
        (Some(from), Some(to)) => format!("{} \u{2013} {}", calm(&from), calm(&to)),
        _ => "not known".to_owned(),
    }
}
