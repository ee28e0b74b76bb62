//! OpenEXR header attributes by the names of version 3.2, as JSON here and as bytes for stamped plates.

use std::io;

use serde_json::{Value as Json, json};

use crate::annotation::{Annotation, Attached};
use crate::ratio::FrameRate;
use crate::sourced::Quantity;
use crate::timecode::Timecode;
use crate::turnover::Area;
use crate::units::Unit;

use super::super::Stamp;
use super::super::record::Document;
use super::super::rows::{Row, rows, within};

/// The first member of the JSON form.
pub const FORMAT: &str = "lensmend openexr attributes";

/// The value of an attribute, by its type in the file.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// `float`.
    Float(f32),
    /// `string`.
    Text(String),
    /// `v2f`.
    Pair(f32, f32),
    /// `rational`.
    Rational(i32, u32),
    /// `timecode`: the label and its two words.
    Timecode(String, [u32; 2]),
}

/// An attribute of a header.
#[derive(Clone, Debug, PartialEq)]
pub struct Attribute {
    /// Name.
    pub name: &'static str,
    /// Value.
    pub value: Value,
}

impl Value {
    /// Name of its type in the file.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Float(_) => "float",
            Self::Text(_) => "string",
            Self::Pair(..) => "v2f",
            Self::Rational(..) => "rational",
            Self::Timecode(..) => "timecode",
        }
    }

    /// Its bytes in the file, little-endian.
    pub fn bytes(&self) -> Vec<u8> {
        match self {
            Self::Float(number) => number.to_le_bytes().to_vec(),
            Self::Text(text) => text.as_bytes().to_vec(),
            Self::Pair(a, b) => [a.to_le_bytes(), b.to_le_bytes()].concat(),
            Self::Rational(num, den) => [num.to_le_bytes(), den.to_le_bytes()].concat(),
            Self::Timecode(_, words) => words.iter().flat_map(|word| word.to_le_bytes()).collect(),
        }
    }

    fn json(&self) -> Json {
        match self {
            Self::Float(number) => float(*number),
            Self::Text(text) => json!(text),
            Self::Pair(a, b) => json!([float(*a), float(*b)]),
            Self::Rational(num, den) => json!([num, den]),
            Self::Timecode(label, words) => json!({"label": label, "words": words}),
        }
    }
}

/// JSON has no infinity; the shortest digits that give the same 32 bits back are enough.
fn float(number: f32) -> Json {
    if number.is_infinite() {
        return json!("infinity");
    }
    number.to_string().parse::<f64>().map_or(Json::Null, |number| json!(number))
}

/// The attributes of every piece of a clip.
pub fn write(annotation: &Annotation, stamp: &Stamp) -> io::Result<Vec<u8>> {
    let mut document = Document::new(FORMAT, stamp)?;
    document.member("clip", &json!(annotation.clip.name.as_ref()))?;
    let pieces = rows(annotation);
    let pieces = pieces.iter().map(|row| {
        let attributes = attributes(row).into_iter().map(|Attribute { name, value }| {
            json!({"name": name, "type": value.kind(), "value": value.json()})
        });
        let attributes: Vec<Json> = attributes.collect();
        json!({
            "file": row.file.shown.as_ref(),
            "firstFrame": row.in_file,
            "frames": row.frames,
            "attributes": attributes,
        })
    });
    document.list("pieces", pieces)?;
    Ok(document.end())
}

/// What the header of a frame of this piece can carry; the timecode is that of the piece's first frame.
pub fn attributes(row: &Row<'_>) -> Vec<Attribute> {
    let setup = row.setup;
    let media = &row.annotation.clip.media;
    let derived = &setup.derived;
    let mut out = Vec::new();
    let texts = [
        ("cameraMake", media.maker.as_ref().map(|text| text.value.clone())),
        ("cameraModel", media.model.as_ref().map(|text| text.value.clone())),
        ("cameraSerialNumber", media.serial.as_ref().map(|text| text.value.clone())),
        ("cameraLabel", setup.camera.as_ref().map(|text| text.value.clone())),
        ("lensMake", setup.lens_maker.as_ref().map(|text| text.value.clone())),
        ("lensModel", setup.lens.value.as_ref().map(|text| text.value.clone())),
        ("lensSerialNumber", setup.lens_serial.as_ref().map(|text| text.value.clone())),
        (
            "reelName",
            media
                .reel
                .as_ref()
                .map(|r| r.value.clone())
                .or_else(|| row.annotation.clip.roll.clone()),
        ),
        ("lensmendClip", Some(row.annotation.clip.name.to_string())),
        (
            "lensmendAttachment",
            setup.attachment.as_ref().map(|attached| match &attached.value {
                Attached::Bare => "none".to_owned(),
                Attached::On { name, .. } => name.clone(),
            }),
        ),
        ("lensmendFocalLengthBasis", derived.pinhole.as_ref().map(|q| q.basis.word().to_owned())),
    ];
    for (name, text) in texts {
        out.extend(text.map(|text| Attribute { name, value: Value::Text(text) }));
    }
    let f_number = single(setup.f_number.value.as_ref());
    let t_number = single(setup.t_number.value.as_ref());
    let shot = setup.shot.as_deref();
    let numbers = [
        ("isoSpeed", shot.and_then(|shot| single(shot.iso.value.as_ref()))),
        ("shutterAngle", shot.and_then(|shot| single(shot.shutter_angle.value.as_ref()))),
        ("expTime", shot.and_then(|shot| single(shot.exposure_time.value.as_ref()))),
        ("cameraCCTSetting", shot.and_then(|shot| single(shot.white_balance.value.as_ref()))),
        ("nominalFocalLength", super::engraved(setup).map(narrow)),
        ("pinholeFocalLength", single(derived.pinhole.as_ref())),
        ("effectiveFocalLength", single(setup.focal_length.value.as_ref())),
        // Millimetres here; metres in OpenTrackIO.
        ("entrancePupilOffset", single(derived.pupil_offset.as_ref())),
        ("aperture", f_number),
        // The standard holds that it is larger than the aperture.
        ("tStop", t_number.filter(|t| f_number.is_none_or(|f| *t > f))),
        ("focus", single(setup.focus_distance.value.as_ref())),
        ("lensmendMagnification", single(setup.magnification.as_ref())),
        ("lensmendSqueeze", single(setup.squeeze.as_ref())),
        (
            "lensmendFocalLengthUncertainty",
            derived.pinhole.as_ref().and_then(|q| q.uncertainty).map(narrow),
        ),
    ];
    for (name, number) in numbers {
        out.extend(number.map(|number| Attribute { name, value: Value::Float(number) }));
    }
    if let (Some(width), Some(height)) =
        (single(derived.back_width.as_ref()), single(derived.back_height.as_ref()))
    {
        // The standard's own are of the whole sensor, whatever part of it is recorded.
        out.push(Attribute { name: "lensmendFilmBack", value: Value::Pair(width, height) });
    }
    if let Some(rate) = media.rate.as_ref().map(|rate| rate.value) {
        if let Ok(num) = i32::try_from(rate.num()) {
            out.push(Attribute {
                name: "framesPerSecond",
                value: Value::Rational(num, rate.den()),
            });
        }
        let start = row.start_timecode().and_then(|start| timecode(start, rate, 0));
        out.extend(start.map(|value| Attribute { name: "timeCode", value }));
    }
    out
}

/// What the header of one frame of a clip can carry, its own timecode included. `seen` is the part of the sensor that a
/// plate shows: nothing where the whole recorded raster is the plate, `Some(None)` where it is not known.
pub fn of_frame(
    annotation: &Annotation,
    frame: u64,
    seen: Option<Option<&Area>>,
) -> Vec<Attribute> {
    let Some(end) = frame.checked_add(1) else { return Vec::new() };
    let rows = within(annotation, frame..end);
    let Some(row) = rows.first() else { return Vec::new() };
    let mut out = attributes(row);
    out.retain(|attribute| {
        attribute.name != "timeCode" && (seen.is_none() || attribute.name != "lensmendFilmBack")
    });
    if let Some(area) = seen.flatten() {
        let back = Value::Pair(narrow(area.back.0), narrow(area.back.1));
        out.push(Attribute { name: "lensmendFilmBack", value: back });
    }
    let media = &annotation.clip.media;
    if let Some((start, rate)) = media.start.as_ref().zip(media.rate.as_ref()) {
        let (start, rate) = (start.value, rate.value);
        let (pictures, labels) = (rate.num().div_ceil(rate.den()), start.counting().base());
        // Labels may count every picture, or every second one.
        let step = [1, 2].into_iter().find(|step| labels.checked_mul(*step) == Some(pictures));
        let label = step.and_then(|step| {
            let step = u64::from(step);
            let second = u32::try_from(frame % step).ok()?;
            timecode(start.later(frame / step), rate, second)
        });
        out.extend(label.map(|value| Attribute { name: "timeCode", value }));
    }
    out
}

fn single<U: Unit>(quantity: Option<&Quantity<U>>) -> Option<f32> {
    quantity.map(|quantity| narrow(quantity.value.number()))
}

#[expect(clippy::cast_possible_truncation, reason = "the file has 32 bits; rounding is meant")]
fn narrow(number: f64) -> f32 {
    number as f32
}

/// A timecode as the file has it (ST 12-1 as OpenEXR packs it): BCD digits and flags. Above 30 frames a second the number of
/// the pair of frames is written and a flag tells the second of it; `second` is that flag where labels count pairs.
pub fn timecode(label: Timecode, rate: FrameRate, second: u32) -> Option<Value> {
    let (hours, minutes, seconds, frames) = label.label();
    let base = label.counting().base();
    let labels = rate.num().div_ceil(rate.den());
    let (frames, second) = match base {
        0..=30 => (frames, if labels == base * 2 { second & 1 } else { 0 }),
        31..=60 if base.is_multiple_of(2) => (frames / 2, u32::try_from(frames % 2).ok()?),
        _ => return None,
    };
    let bcd = |number: u64| u32::try_from(number / 10 * 16 + number % 10).ok();
    let drop = u32::from(label.counting().drop()) << 6;
    let word = bcd(frames)?
        | drop
        | (bcd(seconds)? << 8)
        | (second << 15)
        | (bcd(minutes)? << 16)
        | (bcd(hours)? << 24);
    Some(Value::Timecode(label.to_string(), [word, 0]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ratio::Ratio;
    use crate::timecode::Counting;

    fn word(text: &str, base: u32, drop: bool, rate: (u64, u64), second: u32) -> u32 {
        let label = Timecode::parse(text, Counting::new(base, drop).unwrap()).unwrap();
        match timecode(label, Ratio::new(rate.0, rate.1).unwrap(), second).unwrap() {
            Value::Timecode(_, [word, _]) => word,
            other => panic!("{other:?}"),
        }
    }

    /// `OpenEXR`'s own packing gave the first; the flags are those of its header `ImfTimeCode.h`.
    #[test]
    fn timecodes_are_packed_as_the_library_packs_them() {
        assert_eq!(word("01:02:03:04", 24, false, (24, 1), 0), 0x0102_0304);
        assert_eq!(word("01:02:03;04", 30, true, (30000, 1001), 0), 0x0102_0344);
        assert_eq!(word("01:02:03:49", 50, false, (50, 1), 0), 0x0102_8324);
        assert_eq!(word("01:02:03:24", 25, false, (50, 1), 1), 0x0102_8324);
    }

    #[test]
    fn numbers_are_as_short_as_they_can_be() {
        assert_eq!(float(35.5).to_string(), "35.5");
        assert_eq!(float(1.0041).to_string(), "1.0041");
        assert_eq!(float(f32::INFINITY), json!("infinity"));
    }
}
