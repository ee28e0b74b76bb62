//! An ASC framing decision list (version 2.0): the recorded raster with its size on the sensor, the plates cut from it, and
//! the part of it that the image circle lights.

use std::io;

use serde_json::{Map, Value as Json, json};

use crate::annotation::Annotation;
use crate::number::fixed;
use crate::ratio::Ratio;
use crate::units::Raster;

use super::super::rows::rows;
use super::{Wanted, ids};

/// Id of the one canvas.
const CANVAS: &str = "recorded";
/// Longest id that the format takes.
const LONGEST_ID: usize = 32;

/// A plate of the kit, as far as framing goes.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// Id in the kit.
    pub id: String,
    /// Recorded pixels kept.
    pub kept: Raster,
    /// Pixels left of them and above; centred if nothing is said.
    pub offset: Option<(u32, u32)>,
    /// What they were resized to.
    pub size: Option<Raster>,
    /// Squeeze taken out.
    pub squeeze: Option<f64>,
}

/// The list of one clip.
pub fn write(annotation: &Annotation, wanted: &Wanted<'_>) -> io::Result<Vec<u8>> {
    let clip = &annotation.clip;
    let raster = clip.media.coded.as_ref().map(|coded| coded.value);
    let raster = raster.ok_or_else(|| io::Error::other("the raster is not known"))?;
    let mut intents = Vec::new();
    let mut decisions = Vec::new();
    for cut in wanted.plates {
        let Some((intent, decision)) = framing(cut, raster) else { continue };
        // Two plates whose ids differ in signs alone would be one here; the first stands.
        if !intents.iter().any(|before: &Json| before.get("id") == intent.get("id")) {
            intents.push(intent);
            decisions.push(decision);
        }
    }
    let mut list = Map::new();
    list.insert("version".into(), json!({"major": 2, "minor": 0}));
    list.insert("fdl_creator".into(), json!(wanted.stamp.tool));
    if !intents.is_empty() {
        list.insert("framing_intents".into(), json!(intents));
    }
    let context = json!({
        "label": clip.name.as_ref(),
        "context_creator": wanted.stamp.tool,
        "clip_id": clip_id(annotation),
        "canvases": [canvas(annotation, raster, &decisions)],
    });
    list.insert("contexts".into(), json!([context]));
    // The same list has the same id, a changed one another.
    let id = ids::of(&["fdl", clip.name.as_ref(), &serde_json::to_string(&list)?]);
    let mut whole = Map::new();
    whole.insert("uuid".into(), json!(id.hyphenated().to_string()));
    whole.extend(list);
    let mut bytes = serde_json::to_vec_pretty(&whole)?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// The clip by its name, and its one file or its sequence.
fn clip_id(annotation: &Annotation) -> Json {
    let clip = &annotation.clip;
    let mut id = Map::new();
    id.insert("clip_name".into(), json!(clip.name.as_ref()));
    // Of a spanned clip no one file is the clip.
    if let [file] = clip.files.as_slice() {
        let name = |path: &str| path.rsplit('/').next().unwrap_or(path).to_owned();
        match &file.row {
            None => {
                id.insert("file".into(), json!(name(&file.shown)));
            }
            Some(row) => {
                if let Some(sequence) = sequence(&name(&file.shown), row.numbers) {
                    id.insert("sequence".into(), sequence);
                }
            }
        }
    }
    Json::Object(id)
}

/// The names of a sequence, with one sign for each digit of the number.
fn sequence(first: &str, (min, max): (u64, u64)) -> Option<Json> {
    let (stem, ending) = first.rsplit_once('.').unwrap_or((first, ""));
    let digits = stem.chars().rev().take_while(char::is_ascii_digit).count();
    if digits == 0 {
        return None;
    }
    let kept = stem.get(..stem.len().checked_sub(digits)?)?;
    let sign = ['#', '@', '%', '*'].into_iter().find(|sign| !first.contains(*sign))?;
    let signs: String = std::iter::repeat_n(sign, digits).collect();
    let ending = if ending.is_empty() { String::new() } else { format!(".{ending}") };
    let value = format!("{kept}{signs}{ending}");
    Some(json!({"value": value, "idx": sign.to_string(), "min": min, "max": max}))
}

fn canvas(annotation: &Annotation, raster: Raster, decisions: &[Json]) -> Json {
    let mut canvas = Map::new();
    canvas.insert("id".into(), json!(CANVAS));
    canvas.insert("source_canvas_id".into(), json!(CANVAS));
    canvas.insert("label".into(), json!("recorded raster"));
    canvas.insert("dimensions".into(), whole(raster.width(), raster.height()));
    if let Some((width, height)) = lit(annotation, raster) {
        let middle = |whole: u32, part: u32| f64::from(whole.saturating_sub(part)) / 2.0;
        let anchor = (middle(raster.width(), width), middle(raster.height(), height));
        let corner = json!({"x": anchor.0, "y": anchor.1});
        // The format holds that a framing decision lies within the effective area. A plate that reaches into the dark is
        // handed over all the same, and the lit part then stands in a private member.
        if decisions.iter().all(|decision| within(decision, anchor, (width, height))) {
            canvas.insert("effective_dimensions".into(), whole(width, height));
            canvas.insert("effective_anchor_point".into(), corner);
        } else {
            let lit = json!({"dimensions": whole(width, height), "anchor_point": corner});
            canvas.insert("_lensmend_lit".into(), lit);
        }
    }
    if let Some((width, height)) = area(annotation) {
        let area = json!({"width": rounded(width), "height": rounded(height)});
        canvas.insert("physical_dimensions".into(), area);
    }
    let squeeze = annotation.setups.first().squeeze.as_ref();
    canvas.insert("anamorphic_squeeze".into(), json!(squeeze.map_or(1.0, |s| s.value.get())));
    if !decisions.is_empty() {
        canvas.insert("framing_decisions".into(), json!(decisions));
    }
    Json::Object(canvas)
}

/// True if a framing decision lies in the part of the raster that begins at `anchor`.
fn within(decision: &Json, anchor: (f64, f64), (width, height): (u32, u32)) -> bool {
    let number = |a: &str, b: &str| decision.get(a).and_then(|o| o.get(b)).and_then(Json::as_f64);
    let side = |at: &str, size: &str, from: f64, long: u32| {
        let begins = number("anchor_point", at).zip(number("dimensions", size));
        begins.is_some_and(|(at, size)| at >= from && at + size <= from + f64::from(long))
    };
    side("x", "width", anchor.0, width) && side("y", "height", anchor.1, height)
}

/// The recorded area in millimetres, if it is the same throughout.
fn area(annotation: &Annotation) -> Option<(f64, f64)> {
    let of = |derived: &crate::annotation::Derived| {
        Some((derived.back_width.as_ref()?.value.get(), derived.back_height.as_ref()?.value.get()))
    };
    let first = of(&annotation.setups.first().derived)?;
    annotation.setups.pieces().all(|piece| of(&piece.value.derived) == Some(first)).then_some(first)
}

/// The largest part of the raster, of its own shape and centred, that the smallest image circle of the clip lights to its
/// corners; `None` where all of it is lit, or where nobody knows.
fn lit(annotation: &Annotation, raster: Raster) -> Option<(u32, u32)> {
    let (width, height) = area(annotation)?;
    let circles = rows(annotation)
        .iter()
        .map(|row| row.setup.derived.image_circle.as_ref().map(|circle| circle.value.get()))
        .collect::<Option<Vec<f64>>>()?;
    let part = circles.into_iter().fold(f64::INFINITY, f64::min) / libm::hypot(width, height);
    if part >= 1.0 {
        return None;
    }
    let side = |pixels: u32| format!("{:.0}", (f64::from(pixels) * part).floor()).parse().ok();
    Some((side(raster.width())?, side(raster.height())?)).filter(|(w, h)| *w > 0 && *h > 0)
}

/// A plate as framing intent and framing decision; `None` if it does not fit into the raster.
fn framing(cut: &Cut, raster: Raster) -> Option<(Json, Json)> {
    let id = id(&cut.id);
    let spare = |whole: u32, kept: u32| whole.checked_sub(kept).map(|spare| f64::from(spare) / 2.0);
    let (kept, centred) = (
        cut.kept,
        (spare(raster.width(), cut.kept.width())?, spare(raster.height(), cut.kept.height())?),
    );
    let (left, top) = cut.offset.map_or(centred, |(x, y)| (f64::from(x), f64::from(y)));
    let fits = |at: f64, kept: u32, whole: u32| at + f64::from(kept) <= f64::from(whole);
    if !fits(left, kept.width(), raster.width()) || !fits(top, kept.height(), raster.height()) {
        return None;
    }
    let shape = cut.size.unwrap_or(kept);
    let squeeze = cut.squeeze.filter(|_| cut.size.is_none()).unwrap_or(1.0);
    let wide: u64 = format!("{:.0}", f64::from(shape.width()) * squeeze).parse().ok()?;
    let aspect = Ratio::new(wide, shape.height().into())?;
    let intent = json!({
        "id": id,
        "label": cut.id,
        "aspect_ratio": whole(aspect.num(), aspect.den()),
    });
    let decision = json!({
        "id": format!("{CANVAS}-{id}"),
        "framing_intent_id": id,
        "label": cut.id,
        "dimensions": {"width": f64::from(kept.width()), "height": f64::from(kept.height())},
        "anchor_point": {"x": left, "y": top},
    });
    Some((intent, decision))
}

/// An id that the format takes: letters, digits and `_`.
fn id(text: &str) -> String {
    let id: String = text
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '_' })
        .take(LONGEST_ID)
        .collect();
    if id.is_empty() { "_".to_owned() } else { id }
}

fn whole(width: u32, height: u32) -> Json {
    json!({"width": width, "height": height})
}

/// Four decimals, as the format advises for millimetres.
fn rounded(side: f64) -> Json {
    fixed(side, 4).parse::<f64>().map_or(Json::Null, |side| json!(side))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sequence_is_named_with_a_sign_for_each_digit() {
        let found = sequence("A003C007_000001.dng", (1, 240)).unwrap();
        assert_eq!(found["value"], "A003C007_######.dng");
        assert_eq!(found["idx"], "#");
        assert_eq!(sequence("odd#name_0001.exr", (1, 2)).unwrap()["value"], "odd#name_@@@@.exr");
        assert_eq!(sequence("none.exr", (1, 2)), None);
    }

    #[test]
    fn a_plate_that_does_not_fit_is_none() {
        let raster = Raster::new(3840, 2160).unwrap();
        let cut = |w, h, offset| Cut {
            id: "2.39 crop".to_owned(),
            kept: Raster::new(w, h).unwrap(),
            offset,
            size: None,
            squeeze: None,
        };
        let (intent, decision) = framing(&cut(3840, 1608, None), raster).unwrap();
        assert_eq!(intent["id"], "2_39_crop");
        assert_eq!(intent["aspect_ratio"], json!({"width": 160, "height": 67}));
        assert_eq!(decision["anchor_point"], json!({"x": 0.0, "y": 276.0}));
        assert!(framing(&cut(4096, 2160, None), raster).is_none());
        assert!(framing(&cut(3840, 1608, Some((0, 553))), raster).is_none());
    }
}
