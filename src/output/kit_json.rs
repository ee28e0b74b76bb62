//! What a kit comes to, as JSON: everything that was looked at, also what does not fit. `docs/kit-command.md` documents its shape.

use serde_json::{Map, Value as Json, json};

use crate::annotation::Input;
use crate::prep::{Caution, Coverage, Name, OnCamera, Outlook, Prep, Remark, Way};
use crate::sourced::Quantity;
use crate::units::Unit;

use super::Stamp;
use super::json::{finding, input, number};
use super::record::Document;

/// The first member of the sheet.
pub const FORMAT: &str = "lensmend kit";

/// The sheet as JSON, one way of putting things together a line.
pub fn write(prep: &Prep, inputs: &[Input], stamp: &Stamp) -> serde_json::Result<Vec<u8>> {
    let mut document = Document::new(FORMAT, stamp)?;
    document.list("inputs", inputs.iter().map(input))?;
    document.list("cameras", prep.cameras.iter().map(camera))?;
    let ways = prep.cameras.iter().flat_map(|on| on.ways.iter().map(move |it| way(on, it)));
    document.list("combinations", ways)?;
    document.list("cautions", prep.cautions.iter().map(caution))?;
    document.list("findings", prep.findings.iter().map(finding))?;
    Ok(document.end())
}

fn camera(on: &OnCamera) -> Json {
    let mut object = named(&on.name);
    if let Some(mount) = &on.mount {
        object.insert("mount".into(), json!(mount));
    }
    let modes = on.modes.iter().map(|(id, raster, back)| {
        json!({
            "id": id,
            "raster": raster.to_string(),
            "width": number(back.width.get()),
            "height": number(back.height.get()),
        })
    });
    object.insert("modes".into(), modes.collect());
    Json::Object(object)
}

fn named(name: &Name) -> Map<String, Json> {
    let mut object = Map::new();
    object.insert("id".into(), json!(name.id));
    object.insert("name".into(), json!(name.label));
    object
}

fn way(on: &OnCamera, way: &Way) -> Json {
    let mut object = Map::new();
    object.insert("camera".into(), json!(on.name.id));
    object.insert("lens".into(), json!(way.lens.id));
    // The kit's own word for a bare camera, which no attachment may be called by.
    let on = way.attachment.as_ref().map_or("none", |attachment| attachment.id.as_str());
    object.insert("attachment".into(), json!(on));
    object.insert("fit".into(), json!(way.fit.verdict.words()));
    object.insert("remarks".into(), way.fit.remarks.iter().map(remark).collect());
    if let Some(outlook) = &way.outlook {
        numbers(outlook, &mut object);
    }
    Json::Object(object)
}

fn remark(remark: &Remark) -> Json {
    json!({"weight": remark.weight.word(), "message": remark.message, "do": remark.advice})
}

fn numbers(outlook: &Outlook, object: &mut Map<String, Json>) {
    if let Some((shortest, longest)) = &outlook.focal {
        object.insert("focalLength".into(), quantity(shortest));
        if shortest.value != longest.value {
            object.insert("longestFocalLength".into(), quantity(longest));
        }
    }
    if let Some((f, longest)) = &outlook.f_number {
        object.insert("fNumber".into(), quantity(f));
        if f.value != longest.value {
            object.insert("longestFNumber".into(), quantity(longest));
        }
    }
    if let Some((t, longest)) = &outlook.t_number {
        object.insert("tNumber".into(), quantity(t));
        if t.value != longest.value {
            object.insert("longestTNumber".into(), quantity(longest));
        }
    }
    if let Some(circle) = &outlook.circle {
        object.insert("imageCircle".into(), quantity(circle));
    }
    object.insert("coverage".into(), outlook.coverage.iter().map(coverage).collect());
}

fn coverage(of: &Coverage) -> Json {
    let mut object = Map::new();
    object.insert("mode".into(), json!(of.mode));
    if let Some(diagonal) = of.diagonal {
        object.insert("diagonal".into(), number(diagonal.get()));
    }
    if let Some(ratio) = &of.ratio {
        object.insert("covers".into(), json!(ratio.value.get() >= 1.0));
        object.insert("borderline".into(), json!(of.borderline()));
        object.insert("coverage".into(), quantity(ratio));
    }
    if let Some(margin) = of.margin {
        object.insert("margin".into(), number(margin.get()));
    }
    if let Some(dark) = &of.dark {
        object.insert("darkCorner".into(), quantity(dark));
    }
    if let Some(pixels) = &of.dark_pixels {
        object.insert("darkCornerPixels".into(), quantity(pixels));
    }
    for (edges, mm, px) in [
        (&of.sides, "darkSides", "darkSidesPixels"),
        (&of.top_bottom, "darkTopBottom", "darkTopBottomPixels"),
    ] {
        let Some((dark, pixels)) = edges else { continue };
        object.insert(mm.into(), quantity(dark));
        if let Some(pixels) = pixels {
            object.insert(px.into(), quantity(pixels));
        }
    }
    Json::Object(object)
}

fn quantity<U: Unit>(quantity: &Quantity<U>) -> Json {
    let mut object = Map::new();
    object.insert("value".into(), number(quantity.value.number()));
    if !U::SYMBOL.is_empty() {
        object.insert("unit".into(), json!(U::SYMBOL));
    }
    if let Some(u) = quantity.uncertainty.filter(|u| u.is_finite()) {
        object.insert("uncertainty".into(), number(u));
    }
    object.insert("basis".into(), json!(quantity.basis.word()));
    Json::Object(object)
}

fn caution(caution: &Caution) -> Json {
    let whom = caution.whom.iter().map(|whom| json!({"on": whom.on, "lenses": whom.lenses}));
    json!({
        "weight": caution.weight.word(),
        "message": caution.message,
        "do": caution.advice,
        "whom": whom.collect::<Vec<_>>(),
    })
}
