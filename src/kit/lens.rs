//! Lenses: marked and measured values.

use super::read::{Reader, Section};
use super::{Defaults, stated, stated_transmittance};
use crate::optics::attachment::transmittance;
use crate::sourced::{Basis, Origin, Quantity};
use crate::stops;
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
    /// Largest opening as f-number, exact.
    pub f_max: Option<Quantity<FNumber>>,
    /// Largest opening as T-number, exact.
    pub t_max: Option<Quantity<TNumber>>,
    /// Which numbers stand on the iris ring.
    pub scale: Option<IrisScale>,
    /// Transmittance, stated or from the largest openings.
    pub transmittance: Option<Quantity<Transmittance>>,
    /// Image circle.
    pub image_circle: Option<Quantity<Millimeters>>,
    /// Anamorphic squeeze; one for spherical lenses.
    pub squeeze: Quantity<Factor>,
    /// Entrance pupil from the lens's own sensor plane, positive toward the object.
    pub pupil_offset: Option<Quantity<Offset>>,
    /// How far the rear reaches behind its flange, in millimetres.
    pub rear_protrusion: Option<f64>,
}

/// The numbers on an iris ring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IrisScale {
    /// f-numbers.
    F,
    /// T-numbers.
    T,
}

/// Relative standard uncertainty of a transmittance worked out from two engraved openings: each mark
/// is good to about a tenth of a stop (common practice, no source).
const MARKED_TRANSMITTANCE: f64 = 0.07;

impl Lens {
    /// True for a zoom.
    pub fn is_zoom(&self) -> bool {
        self.range.is_some()
    }

    pub(super) fn read(
        section: &Section<'_>,
        defaults: Defaults,
        reader: &mut Reader<'_>,
    ) -> Option<Self> {
        let id = section.required_text("id", reader);
        let name = section.text("name", reader);
        let (focal, marked_focal) = read_focal(section, defaults, reader);
        let range = section
            .pair("range", 1.0, 3000.0, reader)
            .and_then(|(from, to)| Some((Millimeters::new(from)?, Millimeters::new(to)?)));
        if focal.is_none()
            && range.is_none()
            && section.get("focal").is_none()
            && section.get("range").is_none()
        {
            reader.fault(
                section.span.clone(),
                "the lens has neither a focal length nor a range",
                "add focal = 50, or range = [24, 70] for a zoom",
            );
        }
        if focal.is_some() && range.is_some() {
            reader.fault(
                section.place("range"),
                "the lens has both a focal length and a range",
                "keep focal for a prime, range for a zoom",
            );
        }
        let opening = |key| section_stop(section, key);
        let f_max = opening("f-max")(reader)
            .and_then(FNumber::new)
            .map(|n| stated(n, None, Basis::Nominal, &section.key("f-max")));
        let t_max = opening("t-max")(reader)
            .and_then(TNumber::new)
            .map(|t| stated(t, None, Basis::Nominal, &section.key("t-max")));
        let scale = section.word("scale", &[("f", IrisScale::F), ("T", IrisScale::T)], reader).or(
            match (&f_max, &t_max) {
                (Some(_), None) => Some(IrisScale::F),
                (None, Some(_)) => Some(IrisScale::T),
                _ => None,
            },
        );
        let transmittance = read_transmittance(section, f_max.as_ref(), t_max.as_ref(), reader);
        let circle = section.number("image-circle", 1.0, 300.0, reader).and_then(Millimeters::new);
        let squeeze = section.number("squeeze", 1.0, 3.0, reader);
        let pupil = section.number("pupil-offset", -1000.0, 3000.0, reader).and_then(Offset::new);
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
            f_max,
            t_max,
            scale,
            transmittance,
            image_circle: circle
                .map(|c| stated(c, None, Basis::Nominal, &section.key("image-circle"))),
            squeeze: squeeze_of(squeeze, section)?,
            pupil_offset: pupil
                .map(|e| stated(e, None, Basis::Nominal, &section.key("pupil-offset"))),
            rear_protrusion: section.number("rear-protrusion", 0.0, 200.0, reader),
        };
        section.close(reader);
        id.map(|_| lens)
    }
}

fn section_stop<'a>(
    section: &'a Section<'_>,
    key: &'static str,
) -> impl Fn(&mut Reader<'_>) -> Option<f64> + 'a {
    move |reader| section.number(key, 0.5, 64.0, reader).map(|mark| stops::exact(mark).number)
}

/// Spherical unless the kit says otherwise.
fn squeeze_of(squeeze: Option<f64>, section: &Section<'_>) -> Option<Quantity<Factor>> {
    if let Some(squeeze) = squeeze.and_then(Factor::new) {
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
    defaults: Defaults,
    reader: &mut Reader<'_>,
) -> (Option<Quantity<Millimeters>>, Option<Millimeters>) {
    let marked = section.number("focal", 1.0, 3000.0, reader).and_then(Millimeters::new);
    let measured = section.number("measured-focal", 1.0, 3000.0, reader).and_then(Millimeters::new);
    let uncertainty = section.number("measured-focal-uncertainty", 0.0, 100.0, reader);
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

fn read_transmittance(
    section: &Section<'_>,
    f_max: Option<&Quantity<FNumber>>,
    t_max: Option<&Quantity<TNumber>>,
    reader: &mut Reader<'_>,
) -> Option<Quantity<Transmittance>> {
    if let Some(tau) = section.number("transmittance", 0.01, 1.0, reader) {
        let key = section.key("transmittance");
        return Transmittance::new(tau).map(|tau| stated_transmittance(tau, &key));
    }
    let (n, t) = (f_max?, t_max?);
    let tau = transmittance(n.value, t.value);
    if tau.is_none() {
        reader.fault(
            section.place("t-max"),
            "the largest T-number is below the largest f-number",
            "no glass adds light: check f-max and t-max",
        );
    }
    let tau = tau?;
    Some(stated(
        tau,
        Some(MARKED_TRANSMITTANCE * tau.get()),
        Basis::Nominal,
        &section.key("f-max and t-max"),
    ))
}
