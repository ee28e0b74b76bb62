//! What follows from a set-up, taken apart.

use crate::annotation::{Derived, Distortion};
use crate::fields::Field;

use super::{Cells, put, quantity};

/// Adds the fields. No `..`: a new member does not compile until it has a field.
pub(super) fn take(derived: &Derived, cells: &mut Cells) {
    let Derived {
        back_width,
        back_height,
        pinhole,
        pupil_offset,
        angle_horizontal,
        angle_vertical,
        angle_diagonal,
        crop_width,
        crop_diagonal,
        equivalent,
        equivalent_by_width,
        light,
        image_circle,
        coverage,
        dark_corner,
        dark_corner_pixels,
        dark_sides,
        dark_sides_pixels,
        dark_top_bottom,
        dark_top_bottom_pixels,
        hyperfocal,
        near,
        far,
    } = derived;
    put(cells, Field::BackWidth, quantity(back_width.as_ref()));
    put(cells, Field::BackHeight, quantity(back_height.as_ref()));
    put(cells, Field::Pinhole, quantity(pinhole.as_ref()));
    put(cells, Field::PupilOffset, quantity(pupil_offset.as_ref()));
    put(cells, Field::AngleHorizontal, quantity(angle_horizontal.as_ref()));
    put(cells, Field::AngleVertical, quantity(angle_vertical.as_ref()));
    put(cells, Field::AngleDiagonal, quantity(angle_diagonal.as_ref()));
    put(cells, Field::CropWidth, quantity(crop_width.as_ref()));
    put(cells, Field::CropDiagonal, quantity(crop_diagonal.as_ref()));
    put(cells, Field::Equivalent, quantity(equivalent.as_ref()));
    put(cells, Field::EquivalentByWidth, quantity(equivalent_by_width.as_ref()));
    put(cells, Field::Light, quantity(light.as_ref()));
    put(cells, Field::ImageCircle, quantity(image_circle.as_ref()));
    put(cells, Field::Coverage, quantity(coverage.as_ref()));
    put(cells, Field::DarkCorner, quantity(dark_corner.as_ref()));
    put(cells, Field::DarkCornerPixels, quantity(dark_corner_pixels.as_ref()));
    put(cells, Field::DarkSides, quantity(dark_sides.as_ref()));
    put(cells, Field::DarkSidesPixels, quantity(dark_sides_pixels.as_ref()));
    put(cells, Field::DarkTopBottom, quantity(dark_top_bottom.as_ref()));
    put(cells, Field::DarkTopBottomPixels, quantity(dark_top_bottom_pixels.as_ref()));
    put(cells, Field::Hyperfocal, quantity(hyperfocal.as_ref()));
    put(cells, Field::Near, quantity(near.as_ref()));
    put(cells, Field::Far, quantity(far.as_ref()));
}

/// A distortion in one line: model, coefficients, how it is known.
pub(super) fn distorted(distortion: &Distortion) -> String {
    let list = |numbers: &[f64]| {
        let each: Vec<String> = numbers.iter().map(|number| scientific(*number)).collect();
        each.join(" ")
    };
    let Distortion { model, radial, tangential, how } = distortion;
    let mut text = format!("{model}: k {}", list(radial));
    if !tangential.is_empty() {
        text.extend(["; p ", &list(tangential)]);
    }
    text.extend(["; ", how]);
    text
}

/// Seven digits; the coefficients of high powers are tiny.
fn scientific(number: f64) -> String {
    let rounded: f64 = format!("{number:.6e}").parse().unwrap_or(number);
    if rounded.abs() > 0.0 { format!("{rounded:e}") } else { "0".to_owned() }
}
