//! OpenTrackIO samples (SMPTE RIS OSVP camera metadata model) as JSON Lines: one sample a line.
//!
//! The version named is 1.0.0. Its readers refuse the later `dropFrame` beside a timecode, so a drop-frame label stands
//! with the rate it belongs to, and that it drops stands in the own member of `custom`.

use std::io;

use serde_json::{Map, Value as Json, json};

use crate::annotation::{Annotation, Distortion};
use crate::number::short;
use crate::ratio::Ratio;
use crate::sourced::Quantity;
use crate::timecode::Timecode;
use crate::units::Unit;

use super::super::json::{fields, number, piece_only};
use super::super::rows::{Row, rows};
use super::super::values::cells;
use super::{Wanted, counted_rate, ids, timecode_at};

/// Most samples of one clip: over an hour at 50 frames a second. The count of frames is the header's word.
const MOST_SAMPLES: u64 = 250_000;
/// Longest text that the model takes.
const LONGEST_TEXT: usize = 1023;

/// The samples of a clip: one a piece, or with `per_frame` one a frame as far as the frames are known.
pub fn write(annotation: &Annotation, wanted: &Wanted<'_>) -> io::Result<Vec<u8>> {
    let frames = annotation.clip.media.frames.as_ref().map(|frames| frames.value);
    of_rows(&rows(annotation), frames, wanted, &|_| None)
}

/// A part of what was recorded, as a camera of its own.
#[derive(Clone, Debug, PartialEq)]
pub(in super::super) struct View {
    /// Width and height on the sensor, mm.
    pub(in super::super) back: (f64, f64),
    /// Middle of the part off the axis, mm to the right and up.
    pub(in super::super) off: (f64, f64),
    /// More for the own member of `custom`.
    pub(in super::super) own: Map<String, Json>,
}

/// The samples of some rows of a clip, which are so many frames together, each seen as `view` says.
pub(in super::super) fn of_rows(
    rows: &[Row<'_>],
    long: Option<u64>,
    wanted: &Wanted<'_>,
    view: &dyn Fn(&Row<'_>) -> Option<View>,
) -> io::Result<Vec<u8>> {
    let mut lines = Vec::new();
    let frames = rows.iter().filter_map(|row| row.frames).fold(0, u64::saturating_add);
    let each = wanted.per_frame && frames <= MOST_SAMPLES;
    for row in rows {
        let view = view(row);
        let first = sample(row, long, wanted, each, view.as_ref());
        push(&mut lines, first)?;
        let more = if each { row.frames.unwrap_or(1) } else { 1 };
        for frame in 1..more {
            push(&mut lines, frame_sample(row, frame, view.as_ref()))?;
        }
    }
    Ok(lines)
}

/// The identifier of a sample is that of its content, so that a sample that changed is another one.
fn push(lines: &mut Vec<u8>, sample: Map<String, Json>) -> io::Result<()> {
    let body = serde_json::to_string(&sample)?;
    let mut whole = Map::new();
    whole.insert("protocol".into(), json!({"name": "OpenTrackIO", "version": [1, 0, 0]}));
    whole.insert("sampleId".into(), json!(ids::urn(&["sample", &body])));
    whole.extend(sample);
    lines.extend(serde_json::to_string(&whole)?.bytes());
    lines.push(b'\n');
    Ok(())
}

/// The first sample of a piece: what does not change, and what holds from here on.
fn sample(
    row: &Row<'_>,
    long: Option<u64>,
    wanted: &Wanted<'_>,
    each: bool,
    view: Option<&View>,
) -> Map<String, Json> {
    let mut sample = source(row);
    put(
        &mut sample,
        "static",
        Map::from_iter([
            ("duration".to_owned(), duration(row, long).unwrap_or(Json::Null)),
            ("camera".to_owned(), Json::Object(camera(row, view))),
            ("lens".to_owned(), Json::Object(lens(row))),
        ]),
    );
    if let Some(slate) = row.setup.slate.as_ref().and_then(|slate| text(&slate.value)) {
        sample.insert("tracker".into(), json!({"slate": slate}));
    }
    put(&mut sample, "timing", timing(row, 0, each));
    put(&mut sample, "lens", at_this_frame(row, view));
    let start = row.start_timecode();
    let mut own = Map::new();
    own.insert("tool".into(), json!(wanted.stamp.tool));
    own.insert("clip".into(), json!(row.annotation.clip.name.as_ref()));
    if let Some(rate) = &row.annotation.clip.media.rate {
        own.insert("frameRate".into(), json!(rate.value.to_string()));
    }
    if let Some(start) = start {
        own.insert("dropFrame".into(), json!(start.counting().drop()));
    }
    own.extend(view.map(|view| view.own.clone()).unwrap_or_default());
    own.insert("piece".into(), fields(&piece_only(cells(row))));
    sample.insert("custom".into(), json!({ "lensmend": own }));
    sample
}

/// A later sample of the same piece.
fn frame_sample(row: &Row<'_>, frame: u64, view: Option<&View>) -> Map<String, Json> {
    let mut sample = source(row);
    put(&mut sample, "timing", timing(row, frame, true));
    put(&mut sample, "lens", at_this_frame(row, view));
    sample
}

fn source(row: &Row<'_>) -> Map<String, Json> {
    let camera = row.setup.camera.as_ref().map_or("", |camera| camera.value.as_str());
    let serial = row.annotation.clip.media.serial.as_ref().map_or("", |serial| &serial.value);
    let roll = row.annotation.clip.roll.as_deref().unwrap_or("");
    // A camera that nobody names is told by its roll.
    let told_by = if camera.is_empty() && serial.is_empty() { roll } else { "" };
    let mut sample = Map::new();
    sample.insert("sourceId".into(), json!(ids::urn(&["camera", camera, serial, told_by])));
    sample.insert("sourceNumber".into(), json!(1));
    sample
}

fn duration(row: &Row<'_>, long: Option<u64>) -> Option<Json> {
    let (frames, rate) = (long?, row.annotation.clip.media.rate.as_ref()?.value);
    let seconds = Ratio::new(frames.checked_mul(rate.den().into())?, rate.num().into())?;
    (seconds.num() <= i32::MAX.unsigned_abs())
        .then(|| json!({"num": seconds.num(), "denom": seconds.den()}))
}

fn camera(row: &Row<'_>, view: Option<&View>) -> Map<String, Json> {
    let media = &row.annotation.clip.media;
    let mut camera = Map::new();
    let derived = &row.setup.derived;
    let back = derived.back_width.as_ref().zip(derived.back_height.as_ref());
    let back = back.map(|(width, height)| (width.value.get(), height.value.get()));
    if let Some((width, height)) = view.map(|view| view.back).or(back) {
        let area = json!({"width": number(width), "height": number(height)});
        camera.insert("activeSensorPhysicalDimensions".into(), area);
    }
    let words = [
        ("make", media.maker.as_ref().map(|text| &text.value)),
        ("model", media.model.as_ref().map(|text| &text.value)),
        ("serialNumber", media.serial.as_ref().map(|text| &text.value)),
        ("label", row.setup.camera.as_ref().map(|camera| &camera.value)),
    ];
    put_words(&mut camera, words);
    if let Some(squeeze) = row.setup.squeeze.as_ref().and_then(|squeeze| ratio(squeeze.value.get()))
    {
        let squeeze = json!({"num": squeeze.num(), "denom": squeeze.den()});
        camera.insert("anamorphicSqueeze".into(), squeeze);
    }
    if let Some(shot) = &row.setup.shot {
        // A whole number in the schema, as ISO 12232 gives it.
        let iso = shot.iso.value.as_ref().map(|iso| iso.value.get());
        if let Some(iso) = iso.filter(|iso| *iso >= 1.0 && iso.fract() <= 0.0) {
            let whole = short(iso, 0).parse::<u64>().ok();
            camera.extend(whole.map(|iso| ("isoSpeed".to_owned(), json!(iso))));
        }
        put_number(&mut camera, "shutterAngle", shot.shutter_angle.value.as_ref(), 1.0);
    }
    camera
}

fn lens(row: &Row<'_>) -> Map<String, Json> {
    let setup = row.setup;
    let mut lens = Map::new();
    let words = [
        ("make", setup.lens_maker.as_ref().map(|text| &text.value)),
        ("model", setup.lens.value.as_ref().map(|text| &text.value)),
        ("serialNumber", setup.lens_serial.as_ref().map(|text| &text.value)),
    ];
    put_words(&mut lens, words);
    if let Some(engraved) = super::engraved(setup) {
        lens.insert("nominalFocalLength".into(), number(engraved));
    }
    lens
}

/// What may change from frame to frame. The offset of the pupil is in metres here; infinity has no number in JSON.
fn at_this_frame(row: &Row<'_>, view: Option<&View>) -> Map<String, Json> {
    let setup = row.setup;
    let mut lens = Map::new();
    put_number(&mut lens, "pinholeFocalLength", setup.derived.pinhole.as_ref(), 1.0);
    put_number(&mut lens, "fStop", setup.f_number.value.as_ref(), 1.0);
    put_number(&mut lens, "tStop", setup.t_number.value.as_ref(), 1.0);
    put_number(&mut lens, "focusDistance", setup.focus_distance.value.as_ref(), 1.0);
    put_number(&mut lens, "entrancePupilOffset", setup.derived.pupil_offset.as_ref(), 0.001);
    if let Some(distortion) = &setup.distortion {
        let Distortion { model, radial, tangential, how: _ } = &*distortion.value;
        let list = |numbers: &[f64]| numbers.iter().copied().map(number).collect::<Json>();
        let mut entry = Map::new();
        entry.insert("model".into(), json!(model));
        entry.insert("radial".into(), list(radial));
        if !tangential.is_empty() {
            entry.insert("tangential".into(), list(tangential));
        }
        lens.insert("distortion".into(), json!([entry]));
    }
    if let Some((right, up)) = view.map(|view| view.off).filter(|off| *off != (0.0, 0.0)) {
        // The axis from the middle of the sensor, to the right and down: the SMPTE RIS paper on lens calibrations
        // of OpenCV (corrected 2025-09-02) takes the principal point's own signs over.
        lens.insert("projectionOffset".into(), json!({"x": number(-right), "y": number(up)}));
    }
    lens
}

fn timing(row: &Row<'_>, frame: u64, each: bool) -> Map<String, Json> {
    let mut timing = Map::new();
    let Some(rate) = row.annotation.clip.media.rate.as_ref().map(|rate| rate.value) else {
        return timing;
    };
    if each {
        timing.insert("sampleRate".into(), json!({"num": rate.num(), "denom": rate.den()}));
    }
    if let Some(timecode) = timecode_at(row, frame).and_then(|timecode| label(timecode, rate)) {
        timing.insert("timecode".into(), timecode);
    }
    if !timing.is_empty() {
        timing.insert("mode".into(), json!("internal"));
    }
    timing
}

fn label(timecode: Timecode, rate: Ratio) -> Option<Json> {
    let (num, denom) = counted_rate(rate, timecode)?;
    let (hours, minutes, seconds, frames) = timecode.label();
    (frames < 120).then(|| {
        json!({
            "hours": hours, "minutes": minutes, "seconds": seconds, "frames": frames,
            "frameRate": {"num": num, "denom": denom},
        })
    })
}

/// A factor of a few digits as a ratio: 1.33 is 133/100.
fn ratio(factor: f64) -> Option<Ratio> {
    let parts: u64 = format!("{:.0}", factor * 10_000.0).parse().ok()?;
    Ratio::new(parts, 10_000)
}

fn put(sample: &mut Map<String, Json>, key: &str, mut object: Map<String, Json>) {
    object.retain(|_, value| !value.is_null() && value.as_object().is_none_or(|o| !o.is_empty()));
    if !object.is_empty() {
        sample.insert(key.to_owned(), Json::Object(object));
    }
}

fn put_words<'a>(
    object: &mut Map<String, Json>,
    words: impl IntoIterator<Item = (&'a str, Option<&'a String>)>,
) {
    for (key, word) in words {
        if let Some(word) = word.and_then(|word| text(word)) {
            object.insert(key.to_owned(), json!(word));
        }
    }
}

fn put_number<U: Unit>(
    object: &mut Map<String, Json>,
    key: &str,
    quantity: Option<&Quantity<U>>,
    scale: f64,
) {
    if let Some(value) = quantity.map(|quantity| quantity.value.number()).filter(|v| v.is_finite())
    {
        object.insert(key.to_owned(), number(value * scale));
    }
}

/// Text that the model takes: neither empty nor longer than it allows.
fn text(text: &str) -> Option<&str> {
    (!text.is_empty() && text.chars().count() <= LONGEST_TEXT).then_some(text)
}
