//! Lenses: marked and measured values.

use super::defaults::Defaults;
use super::distortion::{Distortion, read_distortions};
use super::opening::Opening;
use super::read::{Reader, Section};
use super::stated;
use super::table::{LensTable, read_tables};
use crate::estimate::together;
use crate::number::short;
use crate::optics::attachment::transmittance;
use crate::sourced::{Basis, Origin, Quantity};
use crate::units::{FNumber, Factor, Millimeters, Offset, TNumber, Transmittance};

/// A lens.
#[derive(Clone, Debug, PartialEq)]
pub struct Lens {
    /// Id.
    pub id: String,
    /// Name as the crew says it; goes into sidecars as the lens model.
    pub name: String,
    /// Other names by which notes and cameras call it.
    pub aliases: Vec<String>,
    /// Maker.
    pub maker: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Mount id.
    pub mount: Option<String>,
    /// Focal length of a prime: measured where the kit has a measurement, else as marked.
    pub focal: Option<Quantity<Millimeters>>,
    /// Focal length on the barrel of a prime.
    pub marked_focal: Option<Millimeters>,
    /// Marked range of a zoom.
    pub range: Option<(Millimeters, Millimeters)>,
    /// Which numbers stand on the iris ring.
    pub scale: Option<IrisScale>,
    /// Image circle.
    pub image_circle: Option<Quantity<Millimeters>>,
    /// Anamorphic squeeze; one for spherical lenses.
    pub squeeze: Quantity<Factor>,
    /// Entrance pupil from the lens's own sensor plane, positive toward the object.
    pub pupil_offset: Option<Quantity<Offset>>,
    /// How far the rear reaches behind its flange, in millimetres.
    pub rear_protrusion: Option<f64>,
    /// True if the whole lens moves to focus, so that its breathing can be worked out.
    pub unit_focus: bool,
    /// What was measured of its breathing: one table for a prime, for a zoom one a focal length, rising.
    pub tables: Vec<LensTable>,
    /// What was measured of its distortion.
    pub distortions: Vec<Distortion>,
    f_max: Option<Opening>,
    t_max: Option<Opening>,
    transmittance: Glass,
}

/// What the kit says of a lens's glass.
#[derive(Clone, Debug, PartialEq)]
enum Glass {
    /// So much light gets through.
    Stated(Quantity<Transmittance>),
    /// It follows from the largest openings.
    FromOpenings {
        /// Standard uncertainty, where the kit states one.
        uncertainty: Option<f64>,
        /// Dotted path of the two openings.
        key: String,
    },
}

/// The numbers on an iris ring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IrisScale {
    /// f-numbers.
    F,
    /// T-numbers.
    T,
}

/// A measured focal length farther from the mark than this part is no measurement of that lens (common practice, no source).
const FARTHEST: f64 = 0.2;
/// Millimetres in an inch.
const INCH: f64 = 25.4;

impl Lens {
    /// True for a zoom.
    pub fn is_zoom(&self) -> bool {
        self.range.is_some()
    }

    /// Largest opening as f-number at a marked focal length, exact: the number behind the mark (ISO 517:2008),
    /// and in a zoom that ramps linear in stops over the focal length (common practice, no source).
    /// `None` asks for the widest opening there is.
    pub fn f_max_at(&self, focal: Option<Millimeters>) -> Option<Quantity<FNumber>> {
        self.f_max.as_ref()?.at(focal, FNumber::new)
    }

    /// Largest opening as T-number, likewise.
    pub fn t_max_at(&self, focal: Option<Millimeters>) -> Option<Quantity<TNumber>> {
        self.t_max.as_ref()?.at(focal, TNumber::new)
    }

    /// True if the largest opening changes over the zoom, so that it is only known where the ring's place is.
    pub fn ramps(&self) -> bool {
        [&self.f_max, &self.t_max]
            .into_iter()
            .flatten()
            .any(|opening| opening.focals().nth(1).is_some())
    }

    /// Transmittance: stated, or from the two largest openings at the same focal length.
    /// `None` asks for the focal length where the lens opens widest.
    pub fn transmittance_at(&self, focal: Option<Millimeters>) -> Option<Quantity<Transmittance>> {
        let (uncertainty, key) = match &self.transmittance {
            Glass::Stated(tau) => return Some(tau.clone()),
            Glass::FromOpenings { uncertainty, key } => (uncertainty, key),
        };
        let (f, t) = (self.f_max.as_ref()?, self.t_max.as_ref()?);
        let focal = match focal {
            Some(focal) => focal.get(),
            None if f.focals().next().is_some() => f.widest()?.0,
            None => t.widest()?.0,
        };
        let tau = transmittance_of(f, t, focal)?;
        // tau = (N/T)^2: the doubt of either mark counts twice.
        let relative = 2.0 * together(f.relative(), t.relative());
        let uncertainty = uncertainty.unwrap_or(relative * tau.get());
        Some(stated(tau, Some(uncertainty), Basis::Nominal, key))
    }

    pub(super) fn read(
        section: &Section<'_>,
        defaults: &Defaults,
        reader: &mut Reader<'_>,
    ) -> Option<Self> {
        let id = section.text("id", reader);
        let name = section.text("name", reader);
        let (focal, marked_focal) = read_focal(section, defaults, reader);
        let range = section
            .pair("range", reader)
            .and_then(|(from, to)| Some((Millimeters::new(from)?, Millimeters::new(to)?)));
        one_kind(section, reader);
        let f_max = Opening::read(section, "f-max", range, defaults.stop, reader);
        let t_max = Opening::read(section, "t-max", range, defaults.stop, reader);
        possible(section, f_max.as_ref(), t_max.as_ref(), reader);
        let scale = match section.word("scale", reader) {
            Some("f") => Some(IrisScale::F),
            Some(_) => Some(IrisScale::T),
            None => match (&f_max, &t_max) {
                (Some(_), None) => Some(IrisScale::F),
                (None, Some(_)) => Some(IrisScale::T),
                _ => None,
            },
        };
        let circle = section.number("image-circle", reader).and_then(Millimeters::new);
        let circle_uncertainty = section.number("image-circle-uncertainty", reader);
        let pupil = section.number("pupil-offset", reader).and_then(Offset::new);
        let pupil_uncertainty = section.number("pupil-offset-uncertainty", reader);
        let unit_focus = section.flag("unit-focus", reader);
        let squeeze = read_squeeze(section, reader)?;
        let lens = Self {
            name: name.or_else(|| id.clone()).unwrap_or_default(),
            id: id.clone().unwrap_or_default(),
            aliases: section.texts("aliases", reader),
            maker: section.text("maker", reader),
            serial: section.text("serial", reader),
            mount: section.text("mount", reader),
            focal,
            marked_focal,
            range,
            scale,
            image_circle: circle.map(|c| {
                let uncertainty = circle_uncertainty.unwrap_or(defaults.circle * c.get());
                stated(c, Some(uncertainty), Basis::Nominal, &section.key("image-circle"))
            }),
            distortions: read_distortions(section, Some(squeeze.value), range, reader),
            squeeze,
            pupil_offset: pupil.map(|e| {
                let uncertainty = pupil_uncertainty.unwrap_or(defaults.pupil);
                stated(e, Some(uncertainty), Basis::Nominal, &section.key("pupil-offset"))
            }),
            rear_protrusion: section.number("rear-protrusion", reader),
            unit_focus,
            tables: read_tables(section, range, unit_focus, reader),
            f_max,
            t_max,
            transmittance: read_transmittance(section, defaults, reader),
        };
        section.close(reader);
        id.map(|_| lens)
    }
}

/// A lens is a prime or a zoom.
fn one_kind(section: &Section<'_>, reader: &mut Reader<'_>) {
    match (section.has("focal") || section.has("measured-focal"), section.has("range")) {
        (false, false) => reader.fault(
            section.span.clone(),
            "the lens has neither a focal length nor a range",
            "add focal = 50, or range = [24, 70] for a zoom",
        ),
        (true, true) => reader.fault(
            section.place("range"),
            "the lens has both a focal length and a range",
            "keep focal for a prime, range for a zoom",
        ),
        _ => {}
    }
}

/// Spherical unless the kit says otherwise.
fn read_squeeze(section: &Section<'_>, reader: &mut Reader<'_>) -> Option<Quantity<Factor>> {
    if let Some(squeeze) = section.number("squeeze", reader).and_then(Factor::new) {
        return Some(stated(squeeze, Some(0.0), Basis::Nominal, &section.key("squeeze")));
    }
    Some(Quantity {
        value: Factor::new(1.0)?,
        uncertainty: Some(0.0),
        basis: Basis::Assumed,
        origin: Origin::Computed("the kit states no squeeze: taken for a spherical lens"),
    })
}

/// Measured where measured, else as marked with the default uncertainty of a mark.
fn read_focal(
    section: &Section<'_>,
    defaults: &Defaults,
    reader: &mut Reader<'_>,
) -> (Option<Quantity<Millimeters>>, Option<Millimeters>) {
    let marked = section.number("focal", reader).and_then(Millimeters::new);
    let measured = section.number("measured-focal", reader).and_then(Millimeters::new);
    let uncertainty = section.number("measured-focal-uncertainty", reader);
    if let (Some(mark), Some(measured)) = (marked, measured) {
        far_apart(section, mark.get(), measured.get(), reader);
    }
    let focal = match (marked, measured) {
        (_, Some(f)) => {
            // A measurement that does not say how good it is counts no more than a mark.
            let uncertainty = uncertainty.unwrap_or(defaults.focal * f.get());
            Some(stated(f, Some(uncertainty), Basis::Measured, &section.key("measured-focal")))
        }
        (Some(f), None) => {
            Some(stated(f, Some(defaults.focal * f.get()), Basis::Nominal, &section.key("focal")))
        }
        (None, None) => None,
    };
    (focal, marked)
}

/// Faults a mark and a measurement that cannot be of one lens.
fn far_apart(section: &Section<'_>, mark: f64, measured: f64, reader: &mut Reader<'_>) {
    let near = |a: f64, b: f64| (a / b - 1.0).abs() <= FARTHEST;
    if near(measured, mark) {
        return;
    }
    let inches = |number: f64| {
        format!(
            "lengths are millimetres: {} inches are {} mm",
            short(number, 3),
            short(number * INCH, 1)
        )
    };
    let (key, hint) = if near(measured * INCH, mark) {
        ("measured-focal", inches(measured))
    } else if near(measured, mark * INCH) {
        ("focal", inches(mark))
    } else {
        let hint =
            "measure the lens without an attachment, and write the number on its barrel as focal";
        ("measured-focal", hint.to_owned())
    };
    let percent = short((measured / mark - 1.0).abs() * 100.0, 0);
    let message = format!(
        "measured-focal = {measured} and focal = {mark} cannot be of one lens: they are {percent} % apart"
    );
    reader.fault(section.place(key), message, hint);
}

/// Transmittance from the largest openings at a focal length in millimetres.
fn transmittance_of(f: &Opening, t: &Opening, focal: f64) -> Option<Transmittance> {
    let (n, t) = (f.number(Some(focal))?, t.number(Some(focal))?);
    // A hair of rounding between two interpolations is no light made from nothing.
    let t = if t < n && t > n * (1.0 - 1e-12) { n } else { t };
    transmittance(FNumber::new(n)?, TNumber::new(t)?)
}

/// Faults a largest T-number below the f-number. Both are linear in stops between the focal lengths that the
/// kit states, so what holds at each of these holds everywhere.
fn possible(
    section: &Section<'_>,
    f: Option<&Opening>,
    t: Option<&Opening>,
    reader: &mut Reader<'_>,
) {
    let Some((f, t)) = f.zip(t) else { return };
    let widest = f.widest().map(|(at, _)| at);
    let mut focals = f.focals().chain(t.focals()).chain(widest);
    let Some(at) = focals.find(|at| transmittance_of(f, t, *at).is_none()) else { return };
    let place = if at > 0.0 { format!(" at {} mm", short(at, 1)) } else { String::new() };
    reader.fault(
        section.place("t-max"),
        format!("the largest T-number is below the largest f-number{place}"),
        "no glass adds light: check f-max and t-max",
    );
}

fn read_transmittance(
    section: &Section<'_>,
    defaults: &Defaults,
    reader: &mut Reader<'_>,
) -> Glass {
    let tau = section.number("transmittance", reader).and_then(Transmittance::new);
    let uncertainty = section.number("transmittance-uncertainty", reader);
    match tau {
        Some(tau) => {
            let uncertainty = uncertainty.unwrap_or(defaults.transmittance * tau.get());
            let key = section.key("transmittance");
            Glass::Stated(stated(tau, Some(uncertainty), Basis::Nominal, &key))
        }
        None => Glass::FromOpenings { uncertainty, key: section.key("f-max and t-max") },
    }
}
