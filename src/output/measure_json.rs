//! What was measured on the chart, as JSON.

use serde_json::{Map, Value as Json, json};

use crate::annotation::Input;
use crate::finding::Finding;
use crate::measure::Known;
use crate::measure::against_kit::Doubt;
use crate::measure::compare::Pair;
use crate::measure::report::Report;
use crate::measure::series::Series;
use crate::measure::shots::Setting;
use crate::measure::solve::{Solved, Way};
use crate::units::Unit;

use super::json::{finding, number};
use super::record::Document;
use super::{Stamp, measure_kit};

/// The first member of what `measure` prints.
pub const FORMAT: &str = "lensmend measure";

/// The report as JSON; `docs/measure.md` documents its shape.
pub fn write(
    report: &Report,
    inputs: &[Input],
    findings: &[Finding],
    stamp: &Stamp,
) -> serde_json::Result<Vec<u8>> {
    let mut document = Document::new(FORMAT, stamp)?;
    let errors = report.setup.errors;
    document.list(
        "inputs",
        inputs
            .iter()
            .map(|i| json!({"role": i.role, "file": i.file, "bytes": i.size, "sha256": i.sha256})),
    )?;
    document.member("pixelError", &in_unit(errors.pixels, "px"))?;
    document.member("tapeError", &in_unit(errors.tape, "mm"))?;
    document.list(
        "series",
        report.series.iter().map(|(series, solved)| one(series, solved.as_ref())),
    )?;
    document.list("magnifications", report.pairs.iter().map(pair))?;
    let means = report.attachments().into_iter().map(|(series, mean, count)| {
        let mut object = known(&mean);
        object.insert("attachment".into(), json!(series.between.name));
        object.insert("pairs".into(), json!(count));
        Json::Object(object)
    });
    document.list("attachments", means)?;
    document.list("doubts", report.doubts.iter().map(doubt))?;
    let lines = measure_kit::lines(report);
    document.list("kitLines", lines.iter().map(|line| json!(line.text())))?;
    document.list("findings", findings.iter().map(finding))?;
    Ok(document.end())
}

fn one(series: &Series, solved: Option<&Solved>) -> Json {
    let mut object = Map::new();
    if let Some(lens) = &series.lens.name {
        object.insert("lens".into(), json!(lens));
    }
    if let Some(id) = &series.lens.id {
        object.insert("lensId".into(), json!(id));
    }
    if let Some(focal) = series.focal {
        object.insert("markedFocal".into(), number(focal.get()));
    }
    object.insert("attachment".into(), json!(series.between.name));
    match series.focus {
        Setting::Mark(mark) => {
            object.insert("focus".into(), number(mark.get()));
        }
        Setting::Refocused => {
            object.insert("focus".into(), json!("refocused"));
        }
        Setting::Unsaid => {}
    }
    if let Some(solved) = solved {
        let way = match solved.way {
            Way::Line => "line",
            Way::Curve => "curve",
            Way::OneDistance => "one distance",
        };
        object.insert("way".into(), json!(way));
        object.insert("focalLength".into(), Json::Object(known(&solved.focal)));
        if let Some(pupil) = &solved.pupil {
            object.insert("pupilOffset".into(), Json::Object(known(pupil)));
        }
        if let Some(covariance) = solved.covariance {
            object.insert("covariance".into(), in_unit(covariance, "mm2"));
        }
        object.insert("chiSquare".into(), number(solved.chi_square));
        object.insert("degreesOfFreedom".into(), json!(solved.free));
        object.insert("widened".into(), number(solved.widened));
        object.insert("rmsResidual".into(), in_unit(solved.rms(), "px"));
    }
    let shots = series.shots.iter().enumerate().map(|(at, shot)| {
        let mut object = Map::new();
        object.insert("line".into(), json!(shot.line));
        object.insert("distance".into(), in_unit(shot.distance.get(), "m"));
        object.insert("chartWidth".into(), in_unit(shot.width.get(), "mm"));
        object.insert("span".into(), in_unit(shot.span, "px"));
        object.insert("pitch".into(), in_unit(shot.pitch.get(), "mm"));
        if let Some((residual, error)) = solved.and_then(|solved| solved.residuals.get(at)) {
            let residual =
                json!({"value": number(*residual), "unit": "px", "uncertainty": number(*error)});
            object.insert("residual".into(), residual);
        }
        Json::Object(object)
    });
    object.insert("shots".into(), shots.collect());
    Json::Object(object)
}

/// Why kit lines stand behind comment signs.
fn doubt(doubt: &Doubt) -> Json {
    let mut object = Map::new();
    object.insert("reason".into(), json!(doubt.reason));
    object.insert("series".into(), json!(doubt.series));
    if let Some(attachment) = &doubt.attachment {
        object.insert("attachment".into(), json!(attachment));
    }
    Json::Object(object)
}

fn in_unit(value: f64, unit: &str) -> Json {
    json!({"value": number(value), "unit": unit})
}

fn pair(pair: &Pair) -> Json {
    let mut object = known(&pair.magnification);
    object.insert("series".into(), json!(pair.series));
    if let Some(bare) = pair.bare {
        object.insert("against".into(), json!(bare));
    }
    if let Some(marked) = pair.marked {
        object.insert("marked".into(), number(marked.get()));
    }
    if let Some(percent) = pair.off_mark_percent() {
        object.insert("offMarkPercent".into(), number(percent));
    }
    if let Some(parts) = pair.off_mark_uncertainties() {
        object.insert("offMarkUncertainties".into(), number(parts));
    }
    Json::Object(object)
}

fn known<U: Unit>(known: &Known<U>) -> Map<String, Json> {
    let mut object = Map::new();
    object.insert("value".into(), number(known.value.number()));
    if !U::SYMBOL.is_empty() {
        object.insert("unit".into(), json!(U::SYMBOL));
    }
    object.insert("uncertainty".into(), number(known.uncertainty));
    object
}
