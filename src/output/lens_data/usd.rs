//! A camera in a USD layer (`UsdGeomCamera` of `OpenUSD`), as text.
//!
//! The scene unit is a centimetre, so that lens and film back, which stand in tenths of a unit, are in millimetres.
//! USD knows no squeeze: the film back of an anamorphic picture is that of the desqueezed picture, its width times the
//! squeeze, and the sensor's own stands beside it in the own namespace. An attribute that is not written has a value all
//! the same in USD (50 mm, 20.955 mm), so that without focal length or film back there is no camera.

use std::fmt::Write as _;

use crate::annotation::{Annotation, Setup};
use crate::number::short;
use crate::ratio::FrameRate;
use crate::sourced::Quantity;
use crate::units::Unit;

use super::super::Stamp;
use super::super::rows::{Row, rows};
use super::super::values::origin_words;

/// A camera to be written: what holds from frame to frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Camera {
    /// Name of the prim; made a valid one when written.
    pub name: String,
    /// Frames a second.
    pub rate: FrameRate,
    /// What it shows over its frames, in rising order; the first begins the range.
    pub pieces: Vec<Piece>,
    /// Words about the whole: name in the own namespace, and text.
    pub words: Vec<(String, String)>,
    /// Date and version, for people.
    pub doc: String,
}

/// What a camera shows from one frame to another.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// First frame.
    pub first: i64,
    /// Last frame; unknown at the end of a clip of unknown length.
    pub last: Option<i64>,
    /// Pinhole focal length, mm.
    pub focal: f64,
    /// Film back that the picture fills, mm, squeeze taken out.
    pub back: (f64, f64),
    /// Centre of the picture off the axis, mm to the right and up, squeeze taken out.
    pub off: (f64, f64),
    /// f-number, for depth of field.
    pub f_stop: Option<f64>,
    /// Focus distance, m; infinity is one.
    pub focus: Option<f64>,
    /// Numbers of the own namespace.
    pub numbers: Vec<(String, f64)>,
    /// Words of the own namespace.
    pub words: Vec<(String, String)>,
}

/// The layer of a clip's camera; the error says what is not known.
pub fn of_clip(annotation: &Annotation, stamp: &Stamp) -> Result<Vec<u8>, &'static str> {
    let camera = camera(annotation)?;
    let doc = format!("Camera of {}, by {}.", annotation.clip.name, stamp.tool);
    Ok(write(&Camera { doc, ..camera }))
}

/// The camera of a clip over its frames, the first being 0, or the number in the name of the first file of a sequence.
pub fn camera(annotation: &Annotation) -> Result<Camera, &'static str> {
    let clip = &annotation.clip;
    let rate =
        clip.media.rate.as_ref().map(|rate| rate.value).ok_or("the frame rate is not known")?;
    let numbered = clip.files.first().and_then(|file| file.row.as_ref()).map(|row| row.numbers.0);
    let zero = numbered.and_then(|number| i64::try_from(number).ok()).unwrap_or(0);
    let pieces = rows(annotation).iter().map(|row| piece(row, zero)).collect::<Result<_, _>>()?;
    let mut words = vec![("clip".to_owned(), clip.name.to_string())];
    words.extend(clip.roll.iter().map(|roll| ("roll".to_owned(), roll.clone())));
    if let Some(start) = &clip.media.start {
        words.push(("startTimecode".to_owned(), start.value.to_string()));
    }
    Ok(Camera { name: clip.name.to_string(), rate, pieces, words, doc: String::new() })
}

fn piece(row: &Row<'_>, zero: i64) -> Result<Piece, &'static str> {
    let place = |frame: u64| i64::try_from(frame).ok().and_then(|frame| zero.checked_add(frame));
    // Frames of a part behind one of unknown length have no place in the clip.
    let first = row
        .in_file
        .and_then(|_| place(row.start))
        .ok_or("the length of an earlier part is not known")?;
    let last = row.frames.and_then(|frames| place(row.start.checked_add(frames.checked_sub(1)?)?));
    let setup = row.setup;
    let back = (setup.derived.back_width.as_ref(), setup.derived.back_height.as_ref());
    let (Some(width), Some(height)) = back else { return Err("the recorded area is not known") };
    let squeeze = setup.squeeze.as_ref().map_or(1.0, |squeeze| squeeze.value.get());
    let (width, height) = (width.value.get() * squeeze, height.value.get());
    let mut piece = of_setup(setup).ok_or("the focal length is not known")?;
    (piece.first, piece.last, piece.back) = (first, last, (width, height));
    Ok(piece)
}

/// What a set-up says, without frames and film back; `None` if it does not say the focal length.
pub fn of_setup(setup: &Setup) -> Option<Piece> {
    let derived = &setup.derived;
    // Without a pinhole focal length (no focus distance, say) the effective one is the nearest there is; which, is said.
    let (focal, which) = match (&derived.pinhole, &setup.focal_length.value) {
        (Some(pinhole), _) => (pinhole, "pinhole"),
        (None, Some(effective)) => (effective, "effective"),
        (None, None) => return None,
    };
    let mut numbers = Vec::new();
    let mut words = vec![
        ("focalLengthIs".to_owned(), which.to_owned()),
        ("focalLengthBasis".to_owned(), focal.basis.word().to_owned()),
        ("focalLengthOrigin".to_owned(), origin_words(&focal.origin)),
    ];
    put(&mut numbers, "focalLengthUncertainty", focal.uncertainty);
    put(&mut numbers, "effectiveFocalLength", value(setup.focal_length.value.as_ref()));
    put(&mut numbers, "engravedFocalLength", super::engraved(setup));
    put(&mut numbers, "tNumber", value(setup.t_number.value.as_ref()));
    put(&mut numbers, "pupilOffset", value(derived.pupil_offset.as_ref()));
    put(&mut numbers, "filmBackWidth", value(derived.back_width.as_ref()));
    put(&mut numbers, "filmBackHeight", value(derived.back_height.as_ref()));
    put(&mut numbers, "squeeze", value(setup.squeeze.as_ref()));
    put(&mut numbers, "magnification", value(setup.magnification.as_ref()));
    put(&mut numbers, "imageCircle", value(derived.image_circle.as_ref()));
    if let Some(lens) = &setup.lens.value {
        words.push(("lens".to_owned(), lens.value.clone()));
    }
    if let Some(attached) = &setup.attachment {
        let name = match &attached.value {
            crate::annotation::Attached::Bare => "none".to_owned(),
            crate::annotation::Attached::On { name, .. } => name.clone(),
        };
        words.push(("attachment".to_owned(), name));
    }
    if let Some(verdict) = setup.focal_length.verdict {
        words.push(("focalLengthVerdict".to_owned(), verdict.word().to_owned()));
    }
    Some(Piece {
        first: 0,
        last: None,
        focal: focal.value.get(),
        back: (0.0, 0.0),
        off: (0.0, 0.0),
        f_stop: value(setup.f_number.value.as_ref()),
        focus: value(setup.focus_distance.value.as_ref()),
        numbers,
        words,
    })
}

fn value<U: Unit>(quantity: Option<&Quantity<U>>) -> Option<f64> {
    quantity.map(|quantity| quantity.value.number())
}

fn put(numbers: &mut Vec<(String, f64)>, name: &str, number: Option<f64>) {
    numbers.extend(number.map(|number| (name.to_owned(), number)));
}

/// The layer that holds the camera.
pub fn write(camera: &Camera) -> Vec<u8> {
    let name = identifier(&camera.name);
    let mut text = String::from("#usda 1.0\n(\n");
    let mut line = |words: std::fmt::Arguments<'_>| {
        // Writing into a text cannot fail.
        let _ = text.write_fmt(words);
        text.push('\n');
    };
    line(format_args!("    defaultPrim = {}", quoted(&name)));
    line(format_args!("    doc = {}", quoted(&camera.doc)));
    let first = camera.pieces.first().map_or(0, |piece| piece.first);
    if let Some(last) = camera.pieces.last().and_then(|piece| piece.last) {
        line(format_args!("    endTimeCode = {last}"));
    }
    let rate = short(camera.rate.to_f64(), 9);
    line(format_args!("    framesPerSecond = {rate}"));
    line(format_args!("    metersPerUnit = 0.01"));
    line(format_args!("    startTimeCode = {first}"));
    line(format_args!("    timeCodesPerSecond = {rate}"));
    line(format_args!("    upAxis = \"Y\""));
    line(format_args!(")\n\ndef Camera {}\n{{", quoted(&name)));
    let pieces = &camera.pieces;
    let track = |of: &dyn Fn(&Piece) -> Option<f64>| track(pieces, of);
    let standard = [
        ("focalLength", track(&|piece| Some(piece.focal))),
        ("horizontalAperture", track(&|piece| Some(piece.back.0))),
        ("verticalAperture", track(&|piece| Some(piece.back.1))),
        ("horizontalApertureOffset", track(&|piece| Some(piece.off.0).filter(|off| *off != 0.0))),
        ("verticalApertureOffset", track(&|piece| Some(piece.off.1).filter(|off| *off != 0.0))),
        ("fStop", track(&|piece| piece.f_stop)),
        // Distances are in scene units, lenses in tenths of them.
        ("focusDistance", track(&|piece| piece.focus.map(|meters| meters * 100.0))),
    ];
    for (name, samples) in standard {
        attribute(&mut text, &format!("float {name}"), &samples, pieces.len() > 1);
    }
    for (name, words) in &camera.words {
        let _ = writeln!(text, "    custom string lensmend:{name} = {}", quoted(words));
    }
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in pieces.iter().flat_map(|piece| &piece.numbers) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    for name in names {
        let find = |piece: &Piece| piece.numbers.iter().find(|(n, _)| n == name).map(|(_, v)| *v);
        let heading = format!("custom double lensmend:{name}");
        attribute(&mut text, &heading, &track(&find), pieces.len() > 1);
    }
    said(&mut text, pieces);
    text.push_str("}\n");
    text.into_bytes()
}

/// Words that may change from piece to piece; USD holds a text until the next one.
fn said(text: &mut String, pieces: &[Piece]) {
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in pieces.iter().flat_map(|piece| &piece.words) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    for name in names {
        let find = |piece: &Piece| {
            let word = piece.words.iter().find(|(n, _)| n == name);
            word.map_or_else(|| "None".to_owned(), |(_, word)| quoted(word))
        };
        let mut samples: Vec<(i64, String)> = Vec::new();
        for piece in pieces {
            let word = find(piece);
            if samples.last().is_none_or(|(_, before)| *before != word) {
                samples.push((piece.first, word));
            }
        }
        attribute(text, &format!("custom string lensmend:{name}"), &samples, pieces.len() > 1);
    }
}

/// Samples of a number. USD draws a line from one to the next, so that a piece has one at its first frame and one at its last.
fn track(pieces: &[Piece], of: &dyn Fn(&Piece) -> Option<f64>) -> Vec<(i64, String)> {
    let mut samples: Vec<(i64, String)> = Vec::new();
    for (at, piece) in pieces.iter().enumerate() {
        let value = of(piece).map_or_else(|| "None".to_owned(), real);
        let last = piece.last.filter(|last| at + 1 < pieces.len() && *last > piece.first);
        samples.push((piece.first, value.clone()));
        samples.extend(last.map(|last| (last, value)));
    }
    let first = samples.first().map(|(_, value)| value.clone());
    if samples.iter().all(|(_, value)| Some(value) == first.as_ref()) {
        samples.truncate(1);
    }
    samples
}

/// One attribute: its value, and samples where it changes. What is nowhere known is not written at all.
fn attribute(text: &mut String, heading: &str, samples: &[(i64, String)], pieces: bool) {
    let Some((_, first)) = samples.first() else { return };
    if samples.iter().all(|(_, value)| value == "None") {
        return;
    }
    // Read at no time in particular, an attribute with samples alone would give what USD fills in.
    let known = samples.iter().map(|(_, value)| value).find(|value| *value != "None");
    let _ = writeln!(text, "    {heading} = {}", known.unwrap_or(first));
    if pieces && samples.len() > 1 {
        let _ = writeln!(text, "    {}.timeSamples = {{", heading.trim_start_matches("custom "));
        for (frame, value) in samples {
            let _ = writeln!(text, "        {frame}: {value},");
        }
        text.push_str("    }\n");
    }
}

fn real(number: f64) -> String {
    if number.is_infinite() { "inf".to_owned() } else { short(number, 9) }
}

/// Text between quotes; what a line of the layer cannot hold is written as its escape.
fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            letter if letter.is_control() => out.push('\u{fffd}'),
            letter => out.push(letter),
        }
    }
    out.push('"');
    out
}

/// A name that USD takes for a prim: letters, digits and `_`, not a digit first.
fn identifier(name: &str) -> String {
    let mut out: String =
        name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '_' }).collect();
    if out.is_empty() || out.starts_with(|c: char| c.is_ascii_digit()) {
        out.insert(0, '_');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_texts_cannot_leave_their_place() {
        assert_eq!(identifier("001A-C.mov"), "_001A_C_mov");
        assert_eq!(identifier(""), "_");
        assert_eq!(identifier("Zé"), "Z_");
        assert_eq!(quoted("a\"b\\c\n\u{1b}"), "\"a\\\"b\\\\c\\n\u{fffd}\"");
    }
}
