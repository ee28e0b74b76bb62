//! A comparison of set-ups: a table for a small screen, and what to read from it in words.

use unicode_width::UnicodeWidthStr;

use crate::comparison::{Comparison, Sharp, Side, Which};
use crate::fields::Field;
use crate::number::{fixed, short};
use crate::sourced::{Origin, Quantity};
use crate::stops;
use crate::units::Meters;

use super::calm::calm;
use super::values::{Cells, Value, of_setup};

/// Columns of a telephone held upright.
const NARROW: usize = 40;

/// The rows of the table: label, field, most decimals, and whether the uncertainty stands below it.
const ROWS: &[(&str, Field, usize, bool)] = &[
    ("focal mm", Field::FocalLength, 2, true),
    ("f/", Field::FNumber, 2, true),
    ("T", Field::TNumber, 2, true),
    ("light stops", Field::Light, 2, false),
    ("sensor w mm", Field::BackWidth, 2, false),
    ("sensor h mm", Field::BackHeight, 2, false),
    ("pinhole mm", Field::Pinhole, 2, true),
    ("view h deg", Field::AngleHorizontal, 1, true),
    ("view v deg", Field::AngleVertical, 1, false),
    ("view d deg", Field::AngleDiagonal, 1, false),
    ("crop w", Field::CropWidth, 2, false),
    ("crop d", Field::CropDiagonal, 2, false),
    ("equal w mm", Field::EquivalentByWidth, 1, false),
    ("equal d mm", Field::Equivalent, 1, false),
    ("circle mm", Field::ImageCircle, 1, false),
    ("covers x", Field::Coverage, 2, false),
    ("dark mm", Field::DarkCorner, 2, false),
    ("dark px", Field::DarkCornerPixels, 0, false),
    ("sides mm", Field::DarkSides, 2, false),
    ("sides px", Field::DarkSidesPixels, 0, false),
    ("top/bot mm", Field::DarkTopBottom, 2, false),
    ("top/bot px", Field::DarkTopBottomPixels, 0, false),
    ("pupil mm", Field::PupilOffset, 1, false),
    ("hyperf. m", Field::Hyperfocal, 1, false),
    ("near m", Field::Near, 3, true),
    ("far m", Field::Far, 3, true),
];

/// The comparison for a terminal.
pub fn text(comparison: &Comparison) -> String {
    let mut page = head(comparison);
    page.push_str(&table(comparison));
    if !comparison.sweep.is_empty() {
        page.push('\n');
        page.push_str(&sweep(&comparison.sweep));
    }
    page.push('\n');
    page.push_str(&wrapped(&sentences(comparison)));
    page
}

fn head(comparison: &Comparison) -> String {
    let attachment = comparison.attachment.as_ref();
    let attachment = attachment.map_or_else(String::new, |name| format!(" on {}", calm(name)));
    let camera = comparison.camera.as_ref();
    let camera = camera.map_or_else(String::new, |name| format!(", {}", calm(name)));
    let setup = comparison.sides.last().map(|side| &side.setup);
    let focus = match setup.and_then(|setup| setup.focus_distance.value.as_ref()) {
        Some(at) if at.value.get().is_infinite() => ", focus inf".to_owned(),
        Some(at) => format!(", focus {} m", short(at.value.get(), 3)),
        None => String::new(),
    };
    let mut page = wrapped(&[format!("{}{attachment}{camera}{focus}", calm(&comparison.lens))]);
    page.push('\n');
    page
}

fn table(comparison: &Comparison) -> String {
    let sides: Vec<Cells> = comparison.sides.iter().map(|side| of_setup(&side.setup)).collect();
    let number = |cells: &Cells, field| match cells.get(&field).and_then(|cell| cell.value.as_ref())
    {
        Some(Value::Number { number, uncertainty, .. }) => Some((*number, *uncertainty)),
        _ => None,
    };
    let mut lines: Vec<Vec<String>> = Vec::new();
    if comparison.sides.len() > 1 {
        let heads = comparison.sides.iter().map(|side| side.which.word().to_owned());
        lines.push(std::iter::once(String::new()).chain(heads).collect());
    }
    for (label, field, decimals, spread) in ROWS {
        let found: Vec<_> = sides.iter().map(|cells| number(cells, *field)).collect();
        if found.iter().all(Option::is_none) || said_before(*field, &sides) {
            continue;
        }
        let print = |number: Option<(f64, Option<f64>)>| {
            number.map_or_else(|| "-".to_owned(), |(number, _)| shown(*field, number, *decimals))
        };
        lines.push(
            std::iter::once((*label).to_owned()).chain(found.iter().map(|n| print(*n))).collect(),
        );
        let off = |number: &Option<(f64, Option<f64>)>| {
            let by = number.and_then(|(_, by)| by).filter(|by| *by > 0.0);
            by.map_or_else(String::new, |by| format!("±{}", beside(by, *decimals)))
        };
        if *spread && found.iter().any(|number| !off(number).is_empty()) {
            lines.push(std::iter::once(String::new()).chain(found.iter().map(off)).collect());
        }
    }
    right(&lines)
}

/// True for a pinhole focal length that is the focal length everywhere: the row would only repeat.
fn said_before(field: Field, sides: &[Cells]) -> bool {
    let text = |cells: &Cells, field: Field| {
        cells
            .get(&field)
            .and_then(|cell| cell.value.as_ref())
            .map(|value| value.text(Field::Pinhole))
    };
    field == Field::Pinhole
        && sides.iter().all(|cells| text(cells, Field::Pinhole) == text(cells, Field::FocalLength))
}

fn shown(field: Field, number: f64, decimals: usize) -> String {
    match field {
        _ if number.is_infinite() => "inf".to_owned(),
        Field::Light if number > 0.0 => format!("+{}", fixed(number, decimals)),
        Field::FocalLength | Field::Pinhole | Field::BackWidth | Field::BackHeight => {
            short(number, decimals)
        }
        Field::Near | Field::Far | Field::Hyperfocal => distance(number),
        _ => fixed(number, decimals),
    }
}

/// A distance as finely as a tape is read.
fn distance(meters: f64) -> String {
    let decimals = match meters {
        near if near < 3.0 => 3,
        near if near < 10.0 => 2,
        far if far < 100.0 => 1,
        _ => 0,
    };
    if meters.is_infinite() { "inf".to_owned() } else { fixed(meters, decimals) }
}

/// An uncertainty with two digits that count: more would say more than is known.
fn two_digits(by: f64) -> String {
    fixed(by, counting(by))
}

/// An uncertainty below a number with so many decimals: no finer than that, unless nothing of it would be left.
fn beside(by: f64, decimals: usize) -> String {
    fixed(by, counting(by).min(decimals.max(counting(by).saturating_sub(1))))
}

/// Decimals with which a number has two digits that count.
fn counting(by: f64) -> usize {
    let tens = [10.0, 1.0, 0.1, 0.01, 0.001, 0.0001];
    tens.iter().position(|ten| by >= 0.95 * ten).unwrap_or(tens.len())
}

/// A number with its uncertainty, no finer than that, and at most with `decimals` where nothing is known of it.
pub(super) fn with_doubt(number: f64, by: Option<f64>, decimals: usize) -> String {
    match by.filter(|by| *by > 0.0) {
        Some(by) => format!("{} ± {}", fixed(number, counting(by)), two_digits(by)),
        None => short(number, decimals),
    }
}

fn sweep(sweep: &[Sharp]) -> String {
    let mut lines =
        vec![["ring", "f", "focus m", "near m", "far m", "depth m"].map(str::to_owned).to_vec()];
    let meters = |q: Option<&Quantity<Meters>>| {
        q.map_or_else(|| "-".to_owned(), |q| shown(Field::Near, q.value.get(), 2))
    };
    let mut before = None;
    for sharp in sweep {
        let Sharp { ring, f_number, focus, near, far, .. } = sharp;
        let depth =
            near.as_ref().zip(far.as_ref()).map(|(near, far)| far.value.get() - near.value.get());
        let f = f_number.as_ref().map_or_else(|| "-".to_owned(), |f| fixed(f.value.get(), 2));
        // The stop stands once above its distances.
        let again = before == Some(ring);
        before = Some(ring);
        lines.push(vec![
            if again { String::new() } else { calm(ring) },
            if again { String::new() } else { f },
            distance(focus.value.get()),
            meters(near.as_ref()),
            meters(far.as_ref()),
            depth.map_or_else(|| "-".to_owned(), distance),
        ]);
    }
    right(&lines)
}

fn sentences(comparison: &Comparison) -> Vec<String> {
    let mut words = Vec::new();
    let side = |which| comparison.sides.iter().find(|side| side.which == which);
    let behind = side(Which::Behind);
    words.extend(behind.and_then(light));
    words.extend(comparison.sides.first().and_then(exact));
    words.extend(behind.and_then(called));
    if let Some(same) = side(Which::SameView) {
        let Some((w, h)) =
            same.setup.derived.back_width.as_ref().zip(same.setup.derived.back_height.as_ref())
        else {
            return words;
        };
        let deep = same.setup.derived.near.is_some();
        words.push(format!(
            "Same view{} as bare on a sensor of {} x {} mm (the column \"same view\").",
            if deep { " and the same depth of field" } else { "" },
            short(w.value.get(), 1),
            short(h.value.get(), 1)
        ));
    }
    if let Some(focal) = &comparison.stabiliser {
        words
            .push(format!("Stabiliser of the body: set it to {} mm.", fixed(focal.value.get(), 0)));
    }
    words.extend(comparison.cautions.iter().map(|caution| calm(caution)));
    words
}

/// How much light the attachment wins or costs; with its glass unknown, how much at most.
fn light(side: &Side) -> Option<String> {
    let how = |by: f64| if by < 0.0 { "darker" } else { "brighter" };
    if let Some(light) = &side.setup.derived.light {
        let by = light.value.get();
        let words = format!("The picture is {} stops {} than bare.", fixed(by.abs(), 2), how(by));
        return (by.abs() >= 0.005).then_some(words);
    }
    let by = stops::steps_between(side.setup.magnification.as_ref()?.value.get(), 1.0);
    Some(format!(
        "Without loss in its glass the picture would be {} stops {} than bare; what the glass takes is not known (--glass).",
        fixed(by.abs(), 2),
        how(by)
    ))
}

/// What the mark on the ring was taken for, or the opening of a lens that is wide open.
fn exact(side: &Side) -> Option<String> {
    // What was worked out from the other of the two was nowhere read.
    let read = |origin: &Origin| match origin {
        Origin::Asked(_) | Origin::Kit { .. } => Some(true),
        Origin::Computed(rule) if *rule == stops::BETWEEN_MARKS => Some(false),
        _ => None,
    };
    let f = side.setup.lens_f.as_ref().and_then(|f| Some((f.value.get(), "f/", read(&f.origin)?)));
    let t = side.setup.lens_t.as_ref().and_then(|t| Some((t.value.get(), "T", read(&t.origin)?)));
    let (number, letter, marked) = f.or(t)?;
    if !marked {
        return Some(format!(
            "Wide open at this focal length is {letter}{}, worked out between two openings of the kit: no mark of the ring.",
            short(number, 2)
        ));
    }
    let mark = stops::nominal(number)?;
    let of_series = stops::steps_between(stops::exact(mark).number, number).abs() < 1e-9;
    Some(if of_series {
        format!("The mark {letter}{} stands for exactly {}.", short(mark, 2), short(number, 4))
    } else {
        format!("{letter}{} is a mark of no series of stops: taken as it stands.", short(number, 4))
    })
}

/// How people will speak of the stop.
fn called(side: &Side) -> Option<String> {
    let f = side.setup.f_number.value.as_ref();
    let t = side.setup.t_number.value.as_ref();
    let mark = |number: f64| stops::nominal(number).map(|mark| short(mark, 2));
    let words = [
        f.and_then(|f| Some(format!("f/{}", mark(f.value.get())?))),
        t.and_then(|t| Some(format!("T{}", mark(t.value.get())?))),
    ];
    let words: Vec<String> = words.into_iter().flatten().collect();
    (!words.is_empty())
        .then(|| format!("To the nearest mark, the stop is {}.", words.join(" and ")))
}

/// Lines of cells, the first to the left, the others to the right, two spaces apart.
fn right(lines: &[Vec<String>]) -> String {
    let count = lines.iter().map(Vec::len).max().unwrap_or(0);
    let width = |at: usize| {
        lines.iter().filter_map(|line| line.get(at)).map(|cell| cell.width()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..count).map(width).collect();
    let mut page = String::new();
    for line in lines {
        let mut out = String::new();
        for (at, (cell, width)) in line.iter().zip(&widths).enumerate() {
            let room = " ".repeat(width.saturating_sub(cell.width()));
            let cell = if at == 0 { format!("{cell}{room}") } else { format!("  {room}{cell}") };
            out.push_str(&cell);
        }
        page.push_str(out.trim_end());
        page.push('\n');
    }
    page
}

/// Sentences broken at words, so that none is wider than a small screen.
fn wrapped(sentences: &[String]) -> String {
    let mut page = String::new();
    for sentence in sentences {
        let mut line = String::new();
        for word in sentence.split_whitespace() {
            if !line.is_empty() && line.width() + 1 + word.width() > NARROW {
                page.push_str(&line);
                page.push('\n');
                line.clear();
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        page.push_str(&line);
        page.push('\n');
    }
    page
}
