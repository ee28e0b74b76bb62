//! A comparison of set-ups as a picture: each recorded area in its image circle.

use crate::comparison::{Comparison, Frame, PlateFrame, Side, Which};
use crate::fields::Field;
use crate::number::fixed;
use crate::sourced::Quantity;
use crate::units::{Millimeters, Pixels};

use super::optics::with_doubt;
use super::picture::{Circle, Dark, Picture, Plate, View, picture};
use super::values::{Cells, Value, of_setup};

/// The picture as SVG; `None` where no recorded area is known, so that there is nothing to draw.
pub fn drawn(comparison: &Comparison) -> Option<String> {
    let Comparison { lens, attachment, camera, sides, .. } = comparison;
    let title = [Some(lens), attachment.as_ref(), camera.as_ref()].into_iter().flatten();
    let title: Vec<&str> = title.map(String::as_str).collect();
    let behind = attachment.as_deref().unwrap_or("the attachment");
    let width = sides.first().and_then(|side| side.frame).map(|frame| frame.width);
    let scenes: Vec<View> = sides
        .iter()
        .filter_map(|side| {
            let frame = side.frame?;
            let label = match side.which {
                Which::Bare => "bare".to_owned(),
                Which::Behind => format!("behind {behind}"),
                Which::SameView if width.is_some_and(|width| frame.width < width) => {
                    "same view, bare on a smaller sensor".to_owned()
                }
                Which::SameView => "same view, bare on a larger sensor".to_owned(),
            };
            Some(scene(side, frame, label))
        })
        .collect();
    (!scenes.is_empty()).then(|| picture(&Picture { title: title.join(", "), scenes }))
}

fn scene(side: &Side, frame: Frame, label: String) -> View {
    let Frame { width, height, plate } = frame;
    let derived = &side.setup.derived;
    let plate =
        plate.map(|PlateFrame { width, height, right, down }| Plate { width, height, right, down });
    View {
        label,
        width,
        height,
        circle: derived
            .image_circle
            .as_ref()
            .map(|circle| Circle { diameter: circle.value, exit_limited: side.exit_limited }),
        plate,
        dark: dark(derived.dark_corner.as_ref(), derived.dark_corner_pixels.as_ref()),
        dark_sides: dark(derived.dark_sides.as_ref(), derived.dark_sides_pixels.as_ref()),
        dark_top_bottom: dark(
            derived.dark_top_bottom.as_ref(),
            derived.dark_top_bottom_pixels.as_ref(),
        ),
        lines: lines(&of_setup(&side.setup)),
    }
}

fn dark(lost: Option<&Quantity<Millimeters>>, pixels: Option<&Quantity<Pixels>>) -> Option<Dark> {
    let pixels = pixels.map(|px| px.value.get());
    lost.map(|lost| Dark { lost: lost.value, pixels })
}

fn lines(cells: &Cells) -> Vec<String> {
    let number = |field: Field| match cells.get(&field).and_then(|cell| cell.value.as_ref()) {
        Some(Value::Number { number, uncertainty, .. }) => Some((*number, *uncertainty)),
        _ => None,
    };
    let mut lines = Vec::new();
    if let Some((mm, by)) = number(Field::FocalLength) {
        lines.push(format!("focal length {} mm", with_doubt(mm, by, 2)));
    }
    let stops = [(Field::FNumber, "f/"), (Field::TNumber, "T")];
    let stops: Vec<String> = stops
        .into_iter()
        .filter_map(|(field, letter)| Some(format!("{letter}{}", fixed(number(field)?.0, 2))))
        .collect();
    if !stops.is_empty() {
        lines.push(format!("stop {}", stops.join(", ")));
    }
    if let (Some((h, by)), Some((v, _))) =
        (number(Field::AngleHorizontal), number(Field::AngleVertical))
    {
        lines.push(format!("view {} x {} deg", with_doubt(h, by, 1), fixed(v, 1)));
    }
    if let (Some((w, _)), Some((d, _))) = (number(Field::CropWidth), number(Field::CropDiagonal)) {
        lines.push(format!("crop {} by width, {} by diagonal", fixed(w, 2), fixed(d, 2)));
    }
    if let Some((coverage, _)) = number(Field::Coverage) {
        lines.push(format!("the circle is {} diagonals wide", fixed(coverage, 2)));
    }
    lines
}
