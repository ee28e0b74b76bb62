//! Attachments: focal reducers, plain adapters and extenders.

use super::read::{Reader, Section};
use super::{Defaults, stated, stated_transmittance};
use crate::sourced::{Basis, Quantity};
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
    pub exit_circle: Option<Millimeters>,
    /// Flange to flange, in millimetres.
    pub thickness: Option<Quantity<Offset>>,
    /// How far it brings the sensor plane toward the lens, where stated.
    pub shift: Option<Quantity<Offset>>,
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

const REPORTS: &[(&str, Reports)] =
    &[("nothing", Reports::Nothing), ("marked", Reports::Marked), ("reduced", Reports::Reduced)];

impl Attachment {
    pub(super) fn read(
        section: &Section<'_>,
        defaults: Defaults,
        reader: &mut Reader<'_>,
    ) -> Option<Self> {
        let kinds =
            [("reducer", Kind::Reducer), ("adapter", Kind::Adapter), ("extender", Kind::Extender)];
        let id = section.required_text("id", reader);
        let kind_stated = section.required_text("kind", reader).is_some();
        let kind = section.word("kind", &kinds, reader);
        let (magnification, marked) =
            kind.map_or((None, None), |kind| read_magnification(section, kind, defaults, reader));
        let tau = section.number("transmittance", 0.01, 1.0, reader).and_then(Transmittance::new);
        let transmittance = match (tau, kind) {
            (Some(tau), _) => Some(stated_transmittance(tau, &section.key("transmittance"))),
            (None, Some(Kind::Adapter)) => Some(stated(
                Transmittance::new(1.0)?,
                Some(0.0),
                Basis::Nominal,
                &section.key("kind"),
            )),
            (None, _) => None,
        };
        let length = |key, reader: &mut Reader<'_>| {
            let value = section.number(key, -50.0, 200.0, reader).and_then(Offset::new)?;
            Some(stated(value, None, Basis::Nominal, &section.key(key)))
        };
        let reports = read_reports(section, reader);
        let name = section.text("name", reader);
        let attachment = (|| {
            Some(Self {
                name: name.or_else(|| id.clone())?,
                id: id?,
                aliases: section.texts("aliases", reader),
                kind: kind?,
                serial: section.text("serial", reader),
                lens_mount: section.text("lens-mount", reader),
                body_mount: section.text("body-mount", reader),
                magnification: magnification?,
                marked,
                transmittance,
                exit_circle: section
                    .number("exit-circle", 1.0, 300.0, reader)
                    .and_then(Millimeters::new),
                thickness: length("thickness", reader),
                shift: length("shift", reader),
                front_clearance: section.number("front-clearance", 0.0, 200.0, reader),
                reports_focal: reports.0,
                reports_stop: reports.1,
            })
        })();
        // An entry that could not be made has said why; its other keys would only look unknown.
        if attachment.is_some() || !kind_stated {
            section.close(reader);
        }
        attachment
    }
}

fn read_magnification(
    section: &Section<'_>,
    kind: Kind,
    defaults: Defaults,
    reader: &mut Reader<'_>,
) -> (Option<Quantity<Factor>>, Option<Factor>) {
    let (low, high) = match kind {
        Kind::Reducer => (0.2, 0.999),
        Kind::Extender => (1.001, 4.0),
        Kind::Adapter => (1.0, 1.0),
    };
    let ratio =
        |key, reader: &mut Reader<'_>| section.number(key, low, high, reader).and_then(Factor::new);
    let marked = ratio("magnification", reader);
    let measured = ratio("measured-magnification", reader);
    let uncertainty = section.number("measured-magnification-uncertainty", 0.0, 0.5, reader);
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
    if best.is_none() && section.get("magnification").is_none() {
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
    if section.get("reports").is_some_and(|value| value.get_ref().is_table()) {
        let Some(table) = section.table("reports", reader) else {
            return (None, None);
        };
        let both = (table.word("focal", REPORTS, reader), table.word("stop", REPORTS, reader));
        table.close(reader);
        return both;
    }
    let reports = section.word("reports", REPORTS, reader);
    (reports, reports)
}
