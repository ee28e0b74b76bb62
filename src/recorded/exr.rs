//! Facts of an OpenEXR header: its standard attributes, by the names of release 3.2 and those from before.

use std::sync::Arc;

use crate::finding::Finding;
use crate::header::exr::{Attribute, AttributeValue, Exr};
use crate::ratio::{FrameRate, Ratio};
use crate::recorded::{CameraSettings, Container, Reading, Recorded, Tag, exif, st12};
use crate::sourced::{Origin, Sourced};
use crate::units::{
    ExposureIndex, FNumber, Kelvin, Meters, Millimeters, Raster, Seconds, ShutterAngle, TNumber,
    Unit,
};

/// Everything that `exr` says. The focal length is that of the whole optics where the file says it; else the one
/// engraved on the lens. `pinholeFocalLength` is another thing (the distance to the pinhole) and stays a tag.
pub(super) fn read(exr: &Exr, file: &str) -> (Recorded, Vec<Finding>) {
    let view = View { exr, file: file.into() };
    let mut findings = Vec::new();
    let mut recorded = Recorded { container: Container::OpenExr, ..Recorded::default() };
    recorded.coded = view.find("dataWindow", raster);
    recorded.pixel_aspect =
        view.find("pixelAspectRatio", |value| nearest(f64::from(float(value)?)));
    let aspect = recorded.pixel_aspect.as_ref().map_or(1.0, |aspect| aspect.value.to_f64());
    recorded.display = view.find("displayWindow", |value| {
        let window = raster(value)?;
        let width = libm::round(f64::from(window.width()) * aspect);
        Raster::new(format!("{width}").parse().ok()?, window.height())
    });
    recorded.rate = view.find("framesPerSecond", rate);
    recorded.settings = settings(&view).boxed();
    recorded.reel = view.text("reelName");
    recorded.created = view.find("capDate", |value| exif::time(text(value)?));
    recorded.maker = view.text("cameraMake");
    recorded.model = view.text("cameraModel");
    recorded.serial = view.text("cameraSerialNumber");
    recorded.lens = view.text("lensModel");
    recorded.focal_length = view
        .reading("effectiveFocalLength", Millimeters::new)
        .or_else(|| view.reading("nominalFocalLength", Millimeters::new));
    recorded.f_number = view.reading("aperture", FNumber::new);
    recorded.t_number = view.reading("tStop", TNumber::new);
    recorded.focus_distance = view.reading("focus", Meters::new);
    let code = view.find("timeCode", |value| match value {
        AttributeValue::Timecode(time, _) => Some(time.to_le_bytes()),
        _ => None,
    });
    if let Some(code) = code {
        st12::start(&code, &mut recorded, &mut findings);
    }
    recorded.tags = exr.attributes.iter().map(|attribute| view.tag(attribute)).collect();
    (recorded, findings)
}

/// How the camera was set; `cameraCCTSetting` is the number on its dial.
fn settings(view: &View<'_>) -> CameraSettings {
    CameraSettings {
        iso: view.reading("isoSpeed", ExposureIndex::new),
        shutter_angle: view.reading("shutterAngle", ShutterAngle::new),
        exposure_time: view.reading("expTime", Seconds::new),
        white_balance: view.reading("cameraCCTSetting", Kelvin::new),
        capture_rate: view.find("captureRate", rate),
        ..CameraSettings::default()
    }
}

struct View<'a> {
    exr: &'a Exr,
    file: Arc<str>,
}

impl View<'_> {
    fn find<T>(
        &self,
        name: &str,
        mean: impl Fn(&AttributeValue) -> Option<T>,
    ) -> Option<Sourced<T>> {
        let attribute = self.exr.attributes.iter().find(|a| a.name.as_ref() == name)?;
        Some(Sourced::new(mean(&attribute.value.value)?, self.origin(attribute)))
    }

    fn text(&self, name: &str) -> Option<Sourced<String>> {
        self.find(name, |value| text(value).map(str::to_owned))
    }

    /// A number above zero; how finely it was written is the grain of a 32-bit float there.
    fn reading<U: Unit>(&self, name: &str, unit: impl Fn(f64) -> Option<U>) -> Option<Reading<U>> {
        let read = self.find(name, |value| float(value).filter(|number| *number > 0.0))?;
        let value = f64::from(read.value);
        let next = f64::from(read.value.next_up());
        Some(Reading {
            value: unit(value)?,
            raw: number(read.value),
            half_step: if value.is_finite() { (next - value) / 2.0 } else { 0.0 },
            origin: read.origin,
        })
    }

    fn tag(&self, attribute: &Attribute) -> Tag {
        let mut value = match &attribute.value.value {
            AttributeValue::Text(text) => text.clone(),
            AttributeValue::Int(number) => number.to_string(),
            AttributeValue::Float(value) => number(*value),
            AttributeValue::Double(number) => number.to_string(),
            AttributeValue::Rational(num, den) => format!("{num}/{den}"),
            AttributeValue::Pair([x, y]) => format!("{} {}", number(*x), number(*y)),
            AttributeValue::Box([left, top, right, bottom]) => {
                format!("{left} {top} {right} {bottom}")
            }
            AttributeValue::Timecode(time, user) => {
                format!("{} {user:08x}", st12::label(time.to_le_bytes()))
            }
            AttributeValue::Bytes(bytes) => {
                bytes.iter().flat_map(|byte| [format!("{byte:02x}")]).collect()
            }
        };
        if attribute.cut {
            value.push_str(" ...");
        }
        Tag { key: attribute.name.to_string(), value, origin: self.origin(attribute) }
    }

    fn origin(&self, attribute: &Attribute) -> Origin {
        Origin::Media {
            file: Arc::clone(&self.file),
            path: Arc::clone(&attribute.value.path),
            offset: attribute.value.offset,
        }
    }
}

/// A float as its shortest text; `focus` may be infinite.
fn number(value: f32) -> String {
    if value == f32::INFINITY { "infinity".to_owned() } else { value.to_string() }
}

fn rate(value: &AttributeValue) -> Option<FrameRate> {
    match value {
        AttributeValue::Rational(num, den) => {
            Ratio::new(u64::try_from(*num).ok()?, u64::from(*den))
        }
        _ => None,
    }
}

fn float(value: &AttributeValue) -> Option<f32> {
    match value {
        AttributeValue::Float(number) => Some(*number),
        _ => None,
    }
}

fn text(value: &AttributeValue) -> Option<&str> {
    match value {
        AttributeValue::Text(text) => exif::said(text),
        _ => None,
    }
}

/// Width and height of a window whose corners both lie inside.
fn raster(value: &AttributeValue) -> Option<Raster> {
    let AttributeValue::Box([left, top, right, bottom]) = value else {
        return None;
    };
    let side = |from: &i32, to: &i32| u32::try_from(i64::from(*to) - i64::from(*from) + 1).ok();
    Raster::new(side(left, right)?, side(top, bottom)?)
}

/// The simplest ratio within a millionth: the attribute is a float, the squeeze it stands for is not.
fn nearest(value: f64) -> Option<Ratio> {
    if !(0.01..=100.0).contains(&value) {
        return None;
    }
    (1..=1000u32).find_map(|den| {
        let num = libm::round(value * f64::from(den));
        let close = (num / f64::from(den) - value).abs() <= value * 1e-6;
        close.then(|| Ratio::new(format!("{num}").parse().ok()?, den.into())).flatten()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_float_is_the_ratio_it_stands_for() {
        for (value, wanted) in [(1.0f32, "1"), (2.0, "2"), (1.333_333_4, "4/3"), (1.8, "9/5")] {
            let ratio = nearest(f64::from(value));
            assert_eq!(ratio.unwrap().to_string(), wanted);
        }
        for value in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e9] {
            assert_eq!(nearest(value), None);
        }
    }
}
