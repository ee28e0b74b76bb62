//! Distortion of a lens as measured, with the conditions under which it was.

use super::form::Form;
use super::read::{Reader, Section};
use crate::number::short;
use crate::optics::distortion::{Coefficients, MOST_RADIAL};
use crate::sourced::{Origin, Sourced};
use crate::units::{Factor, Meters, Millimeters};

/// A point of the picture cannot be taken so many times as far out, or so many times as far in: such coefficients were
/// meant for other units (common practice, no source; a strong fisheye pulls the edge in by half).
const WILDEST: f64 = 2.0;
/// How far from the axis that is looked at where the image circle is not stated, mm: inside of any picture.
const INSIDE: f64 = 3.0;

/// What was measured at one setting of the lens.
#[derive(Clone, Debug, PartialEq)]
pub struct Distortion {
    /// Which way the coefficients take a point.
    pub maps: Maps,
    /// The coefficients, for points in millimetres.
    pub coefficients: Coefficients,
    /// Marked focal length that a zoom was set to; `None` for a prime.
    pub focal: Option<Millimeters>,
    /// Focus distance at which it was measured, where stated.
    pub focus: Option<Meters>,
    /// Id of the attachment behind which it was measured; `None` for the lens alone.
    pub behind: Option<String>,
    /// The entry in the kit.
    pub origin: Origin,
}

/// Which way coefficients take a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Maps {
    /// From the distorted picture to the undistorted one.
    ToUndistorted,
    /// From the undistorted picture to the distorted one.
    ToDistorted,
}

impl Maps {
    /// What the OpenTrackIO sample model calls it.
    pub fn model(self) -> &'static str {
        match self {
            Self::ToUndistorted => "Brown-Conrady D-U",
            Self::ToDistorted => "Brown-Conrady U-D",
        }
    }
}

/// Reads what was measured of a lens of this squeeze.
pub(super) fn read_distortions(
    section: &Section<'_>,
    squeeze: Option<Factor>,
    range: Option<(Millimeters, Millimeters)>,
    reader: &mut Reader<'_>,
) -> Vec<Distortion> {
    let circle = section.number("image-circle", &mut Reader::aside());
    let entries = section.tables("distortion", reader);
    let squeezed = squeeze.is_some_and(|squeeze| (squeeze.get() - 1.0).abs() > 1e-9);
    if let (true, Some(entry)) = (squeezed, entries.first()) {
        let message = "the lens squeezes, and the model of its distortion is one of round lenses";
        let hint = "leave the distortion out; hand the grid itself to post";
        reader.fault(entry.span.clone(), message, hint);
    }
    entries
        .iter()
        .filter_map(|entry| {
            let read = read(entry, section.has("range"), range, circle, reader);
            entry.close(reader);
            read
        })
        .collect()
}

fn read(
    section: &Section<'_>,
    zoom: bool,
    range: Option<(Millimeters, Millimeters)>,
    circle: Option<f64>,
    reader: &mut Reader<'_>,
) -> Option<Distortion> {
    let maps = section.word("maps", reader).map(|word| match word {
        "U-D" => Maps::ToDistorted,
        _ => Maps::ToUndistorted,
    });
    let radial = section.numbers("radial", reader);
    let tangential = section.numbers("tangential", reader);
    let by = section.number("normalised-by", reader).and_then(Millimeters::new);
    let focal = section.number("focal", reader).and_then(Millimeters::new);
    let focus = section.number("focus", reader).and_then(Meters::new);
    let behind = section.text("behind", reader).filter(|id| id != "none");
    setting(section, zoom, range, focal, reader);
    if radial.as_ref().is_some_and(|radial| radial.len() > MOST_RADIAL) {
        let hint = "write k1 to k6 at most; of a model of another order, measure again";
        reader.fault(section.place("radial"), "radial has more than six coefficients", hint);
        return None;
    }
    let tangential = match tangential.as_deref() {
        None => None,
        Some([p1, p2]) => Some([*p1, *p2]),
        Some(_) => {
            let hint = "write tangential = [p1, p2], or leave it out";
            reader.fault(section.place("tangential"), "tangential must be two numbers", hint);
            return None;
        }
    };
    let coefficients = Coefficients { radial: radial?, tangential };
    let coefficients = match by {
        Some(by) => coefficients.of_normalised(by)?,
        None => coefficients,
    };
    let origin = Origin::Kit { key: section.path().into() };
    // A number that cannot be has said so.
    if section.has("normalised-by") && by.is_none() {
        return None;
    }
    tame(section, &coefficients, circle, reader);
    Some(Distortion { maps: maps?, coefficients, focal, focus, behind, origin })
}

/// A zoom says at which of its settings; a prime has none.
fn setting(
    section: &Section<'_>,
    zoom: bool,
    range: Option<(Millimeters, Millimeters)>,
    focal: Option<Millimeters>,
    reader: &mut Reader<'_>,
) {
    match (zoom, section.has("focal")) {
        (true, false) => reader.fault(
            section.span.clone(),
            "the distortion of a zoom has no focal",
            "add focal = and the marked zoom setting it was measured at",
        ),
        (false, true) => reader.fault(
            section.place("focal"),
            "the distortion of a prime needs no focal",
            "remove it, or move it up if it is the focal of the lens and stands below [[lens.distortion]]",
        ),
        _ => {}
    }
    if let Some((focal, (low, high))) = focal.zip(range)
        && (focal < low || focal > high)
    {
        let message = format!("the distortion at {} mm lies outside the zoom's range", focal.get());
        reader.fault(section.place("focal"), message, "write the marked zoom setting");
    }
}

/// Faults coefficients that tear the picture apart: they were meant for other units.
fn tame(
    section: &Section<'_>,
    coefficients: &Coefficients,
    circle: Option<f64>,
    reader: &mut Reader<'_>,
) {
    // Half-way out: beyond it a model that was fitted to a smaller picture may go anywhere.
    let out = circle.map_or(INSIDE, |circle| circle / 4.0);
    let far = [(out, 0.0), (0.0, out), (-out, 0.0), (0.0, -out)].into_iter().map(|point| {
        let to = coefficients.map(point);
        to.map_or(f64::INFINITY, |(x, y)| libm::hypot(x, y) / out)
    });
    let wild = far.into_iter().find(|part| !(1.0 / WILDEST..=WILDEST).contains(part));
    let Some(wild) = wild else { return };
    let message = format!(
        "these coefficients take a point {} mm from the axis to {} mm",
        short(out, 2),
        if wild.is_finite() { short(wild * out, 2) } else { "nowhere".to_owned() }
    );
    let hint = match section.form("normalised-by") {
        Some(Form::Number(_)) if !section.has("normalised-by") => {
            "they are for millimetres; if coordinates were divided by the focal length, add normalised-by = and that focal length in millimetres"
        }
        _ => "check them, and the unit that they were measured in",
    };
    reader.fault(section.place("radial"), message, hint);
}

impl Distortion {
    /// The entry with its origin.
    pub fn sourced(&self) -> Sourced<&Self> {
        Sourced::new(self, self.origin.clone())
    }
}
