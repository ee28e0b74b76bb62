//! A comparison of set-ups as JSON, complete.

use anyhow::Result;
use serde_json::{Map, Value as Json, json};

use crate::annotation::Input;
use crate::comparison::{Comparison, Sharp, Side};
use crate::finding::Finding;
use crate::sourced::Quantity;
use crate::stops;
use crate::units::Unit;

use super::values::of_setup;
use super::{Stamp, calm, json};

/// The comparison as a document.
pub fn write(
    comparison: &Comparison,
    inputs: &[Input],
    findings: &[Finding],
    stamp: &Stamp,
) -> Result<Vec<u8>> {
    let Comparison { lens, attachment, camera, sides, stabiliser, sweep, cautions, findings: _ } =
        comparison;
    let mut object = Map::new();
    object.insert("format".into(), json!("lensmend optics"));
    object.insert("version".into(), json!(1));
    object.insert("tool".into(), json!(stamp.tool));
    object.insert("inputs".into(), inputs.iter().map(json::input).collect());
    object.insert("lens".into(), json!(lens));
    object.insert("attachment".into(), json!(attachment.as_deref().unwrap_or("none")));
    if let Some(camera) = camera {
        object.insert("camera".into(), json!(camera));
    }
    object.insert("sides".into(), sides.iter().map(side_json).collect());
    if let Some(focal) = stabiliser {
        object.insert("stabiliser".into(), quantity("mm", focal));
    }
    object.insert("sweep".into(), sweep.iter().map(sharp_json).collect());
    object.insert("cautions".into(), json!(cautions));
    object.insert("findings".into(), findings.iter().map(json::finding).collect());
    let text = serde_json::to_string_pretty(&Json::Object(object))?;
    Ok(format!("{}\n", calm::json(&text)).into_bytes())
}

fn side_json(side: &Side) -> Json {
    let Side { which, setup, raster, frame: _, exit_limited, causes } = side;
    let mut object = Map::new();
    object.insert("which".into(), json!(which.word()));
    if let Some(raster) = raster {
        object.insert("raster".into(), json!(raster.to_string()));
    }
    object.insert("exitLimited".into(), json!(exit_limited));
    object.insert("fields".into(), json::fields(&of_setup(setup)));
    let nearest = |number: Option<f64>| number.and_then(stops::nominal);
    for (name, number) in [
        ("nearestThirdF", nearest(setup.f_number.value.as_ref().map(|f| f.value.get()))),
        ("nearestThirdT", nearest(setup.t_number.value.as_ref().map(|t| t.value.get()))),
    ] {
        if let Some(number) = number {
            object.insert(name.into(), json!(number));
        }
    }
    let causes: Map<String, Json> = causes
        .iter()
        .map(|(field, parts)| {
            let parts = parts
                .iter()
                .map(|(cause, by)| json!({"cause": cause.words(), "uncertainty": json::number(by.abs())}));
            (field.camel(), parts.collect())
        })
        .collect();
    object.insert("causes".into(), Json::Object(causes));
    Json::Object(object)
}

fn sharp_json(sharp: &Sharp) -> Json {
    let Sharp { ring, f_number, t_number, focus, near, far } = sharp;
    let mut object = Map::new();
    object.insert("ring".into(), json!(ring));
    let mut put = |name: &str, value: Option<Json>| {
        if let Some(value) = value {
            object.insert(name.into(), value);
        }
    };
    put("fNumber", f_number.as_ref().map(|f| quantity("", f)));
    put("tNumber", t_number.as_ref().map(|t| quantity("", t)));
    put("focusDistance", Some(quantity("m", focus)));
    put("nearLimit", near.as_ref().map(|near| quantity("m", near)));
    put("farLimit", far.as_ref().map(|far| quantity("m", far)));
    let depth = near.as_ref().zip(far.as_ref());
    put("depth", depth.map(|(near, far)| json::number(far.value.get() - near.value.get())));
    Json::Object(object)
}

fn quantity<U: Unit>(unit: &str, quantity: &Quantity<U>) -> Json {
    let mut object = Map::new();
    object.insert("value".into(), json::number(quantity.value.number()));
    if !unit.is_empty() {
        object.insert("unit".into(), json!(unit));
    }
    if let Some(u) = quantity.uncertainty {
        object.insert("uncertainty".into(), json::number(u));
    }
    object.insert("basis".into(), json!(quantity.basis.word()));
    Json::Object(object)
}
