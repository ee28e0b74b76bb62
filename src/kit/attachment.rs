//! Attachments: focal reducers, plain adapters and extenders.

use super::defaults::Defaults;
use super::read::{Reader, Section};
use super::stated;
use crate::number::short;
use crate::sourced::{Basis, Origin, Quantity};
use crate::units::{Factor, Millimeters, Offset, Transmittance};

/// What stands between lens and camera.
#[derive(Clone, Debug, PartialEq)]
pub struct Attachment {
    /// Id.
    pub id: String,
    /// Name as the crew says it.
    pub name: String,
    /// Other names by which notes call it.
    pub aliases: Vec<String>,
    /// Reducer, plain adapter or extender.
    pub kind: Kind,
    /// Serial number.
    pub serial: Option<String>,
    /// Mount id on the lens side.
    pub lens_mount: Option<String>,
    /// Mount id on the camera side.
    pub body_mount: Option<String>,
    /// Magnification: measured where the kit has a measurement, else as marked; exactly one for a plain adapter.
    pub magnification: Quantity<Factor>,
    /// Magnification as marked.
    pub marked: Option<Factor>,
    /// Transmittance of its glass; one for a plain adapter, which has none.
    pub transmittance: Option<Quantity<Transmittance>>,
    /// Largest image circle it lets out.
    pub exit_circle: Option<Quantity<Millimeters>>,
    /// Flange to flange, in millimetres.
    pub thickness: Option<Quantity<Offset>>,
    /// How far it brings the sensor plane toward the lens, where stated.
    pub shift: Option<Quantity<Offset>>,
    /// It scales the picture and adds no distortion of its own: said so, or without glass.
    pub distortion_free: bool,
    /// Room in front of its glass, in millimetres.
    pub front_clearance: Option<f64>,
    /// What the camera records of the focal length with it on.
    pub reports_focal: Option<Reports>,
    /// What the camera records of the stop with it on.
    pub reports_stop: Option<Reports>,
}

/// Kinds of attachment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A focal reducer: glass, magnification below one.
    Reducer,
    /// A plain adapter: no glass.
    Adapter,
    /// An extender: glass, magnification above one.
    Extender,
}

impl Kind {
    /// Every kind.
    const ALL: [Self; 3] = [Self::Reducer, Self::Adapter, Self::Extender];

    /// The word of the trade.
    pub fn word(self) -> &'static str {
        match self {
            Self::Reducer => "reducer",
            Self::Adapter => "adapter",
            Self::Extender => "extender",
        }
    }
}

/// What its contacts tell the camera.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reports {
    /// Nothing; what the camera records was typed into it by hand, or comes from elsewhere.
    Nothing,
    /// The lens's own marks, as if the attachment were not there.
    Marked,
    /// The values behind the attachment.
    Reduced,
}

impl Reports {
    fn read(section: &Section<'_>, key: &'static str, reader: &mut Reader<'_>) -> Option<Self> {
        match section.word(key, reader)? {
            "nothing" => Some(Self::Nothing),
            "marked" => Some(Self::Marked),
            "reduced" => Some(Self::Reduced),
            _ => None,
        }
    }
}

impl Attachment {
    /// One of which nothing is known but its magnification, off by a part of `relative`: `option` of the command line says so.
    pub fn of_magnification(kind: Kind, m: Factor, relative: f64, option: &'static str) -> Self {
        let name = format!("{} {}", kind.word(), short(m.get(), 4));
        let magnification = Quantity {
            value: m,
            uncertainty: Some(relative * m.get()),
            basis: Basis::Nominal,
            origin: Origin::Asked(option),
        };
        Self {
            id: name.replace(' ', "-"),
            name,
            aliases: Vec::new(),
            kind,
            serial: None,
            lens_mount: None,
            body_mount: None,
            magnification,
            marked: Some(m),
            transmittance: None,
            exit_circle: None,
            thickness: None,
            shift: None,
            distortion_free: kind == Kind::Adapter,
            front_clearance: None,
            reports_focal: None,
            reports_stop: None,
        }
    }

    pub(super) fn read(
        section: &Section<'_>,
        defaults: &Defaults,
        reader: &mut Reader<'_>,
    ) -> Option<Self> {
        let id = section.text("id", reader);
        let word = section.word("kind", reader);
        let kind = Kind::ALL.into_iter().find(|kind| Some(kind.word()) == word);
        let (magnification, marked) =
            kind.map_or((None, None), |kind| read_magnification(section, kind, defaults, reader));
        let transmittance = read_transmittance(section, kind, defaults, reader);
        let circle = section.number("exit-circle", reader).and_then(Millimeters::new);
        let circle_uncertainty = section.number("exit-circle-uncertainty", reader);
        let exit_circle = circle.map(|circle| {
            let uncertainty = circle_uncertainty.unwrap_or(defaults.circle * circle.get());
            stated(circle, Some(uncertainty), Basis::Nominal, &section.key("exit-circle"))
        });
        let length = |key, uncertainty_key, reader: &mut Reader<'_>| {
            let value = section.number(key, reader).and_then(Offset::new);
            let uncertainty = section.number(uncertainty_key, reader).unwrap_or(defaults.thickness);
            value.map(|value| stated(value, Some(uncertainty), Basis::Nominal, &section.key(key)))
        };
        let thickness = length("thickness", "thickness-uncertainty", reader);
        let shift = length("shift", "shift-uncertainty", reader);
        let reports = read_reports(section, reader);
        let name = section.text("name", reader);
        let aliases = section.texts("aliases", reader);
        let serial = section.text("serial", reader);
        let lens_mount = section.text("lens-mount", reader);
        let body_mount = section.text("body-mount", reader);
        let stated_free = section.flag("distortion-free", reader);
        let front_clearance = section.number("front-clearance", reader);
        section.close(reader);
        Some(Self {
            name: name.or_else(|| id.clone())?,
            id: id?,
            aliases,
            kind: kind?,
            serial,
            lens_mount,
            body_mount,
            magnification: magnification?,
            marked,
            transmittance,
            exit_circle,
            thickness,
            shift,
            distortion_free: stated_free || kind == Some(Kind::Adapter),
            front_clearance,
            reports_focal: reports.0,
            reports_stop: reports.1,
        })
    }
}

/// As stated; one for a plain adapter, which has no glass.
fn read_transmittance(
    section: &Section<'_>,
    kind: Option<Kind>,
    defaults: &Defaults,
    reader: &mut Reader<'_>,
) -> Option<Quantity<Transmittance>> {
    let tau = section.number("transmittance", reader).and_then(Transmittance::new);
    let uncertainty = section.number("transmittance-uncertainty", reader);
    if let Some(tau) = tau {
        let uncertainty = uncertainty.unwrap_or(defaults.transmittance * tau.get());
        let key = section.key("transmittance");
        return Some(stated(tau, Some(uncertainty), Basis::Nominal, &key));
    }
    let all = Transmittance::new(1.0).filter(|_| kind == Some(Kind::Adapter))?;
    Some(stated(all, Some(0.0), Basis::Nominal, &section.key("kind")))
}

fn read_magnification(
    section: &Section<'_>,
    kind: Kind,
    defaults: &Defaults,
    reader: &mut Reader<'_>,
) -> (Option<Quantity<Factor>>, Option<Factor>) {
    let marked = section.number("magnification", reader).and_then(Factor::new);
    let measured = section.number("measured-magnification", reader).and_then(Factor::new);
    let uncertainty = section.number("measured-magnification-uncertainty", reader);
    let plain = Factor::new(1.0).filter(|_| kind == Kind::Adapter);
    let best = if let Some(m) = measured {
        // A measurement that does not say how good it is counts no more than a mark.
        let uncertainty = uncertainty.unwrap_or(defaults.magnification * m.get());
        let key = section.key("measured-magnification");
        Some(stated(m, Some(uncertainty), Basis::Measured, &key))
    } else if let Some(one) = plain {
        Some(stated(one, Some(0.0), Basis::Nominal, &section.key("kind")))
    } else {
        let relative = defaults.magnification;
        let key = section.key("magnification");
        marked.map(|m| stated(m, Some(relative * m.get()), Basis::Nominal, &key))
    };
    let said = section.has("magnification") || section.has("measured-magnification");
    if best.is_none() && !said {
        let example = if kind == Kind::Reducer { 0.71 } else { 1.4 };
        reader.fault(
            section.span.clone(),
            format!("the {} has no magnification", kind.word()),
            format!("add magnification = {example}, as marked on it"),
        );
    }
    (best, marked)
}

/// `reports = "marked"`, or `reports = { focal = "reduced", stop = "marked" }` for one that does it by halves.
fn read_reports(
    section: &Section<'_>,
    reader: &mut Reader<'_>,
) -> (Option<Reports>, Option<Reports>) {
    if section.is_table("reports") {
        let Some(table) = section.table("reports", reader) else {
            return (None, None);
        };
        let both = (Reports::read(&table, "focal", reader), Reports::read(&table, "stop", reader));
        table.close(reader);
        return both;
    }
    let reports = Reports::read(section, "reports", reader);
    (reports, reports)
}
