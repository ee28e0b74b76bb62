//! The kit: what the crew had with them, from `kit.toml`. `docs/kit-toml.md` documents every key.
//!
//! A kit that does not hold together stops the run before anything is written: every number downstream
//! rests on it. So `parse` gives findings of code `kit.fault` for everything wrong in the file, in one run.

#![deny(clippy::indexing_slicing)]

mod attachment;
pub mod called;
mod camera;
mod check;
pub mod fit;
mod lens;
mod read;

use std::sync::Arc;

pub use attachment::{Attachment, Kind, Reports};
pub use camera::{Camera, Mode};
pub use lens::{IrisScale, Lens};

use crate::finding::{Code, Finding, Found, Place};
use crate::naming;
use crate::sourced::{Basis, Origin, Quantity, Sourced};
use crate::units::{Millimeters, Transmittance, Unit};
use read::{Reader, Section};

/// Relative standard uncertainty of a marked focal length: 3.7 %.
/// Common practice, no source; from 29 set-ups of an open collection of lens calibrations.
const MARKED_FOCAL: f64 = 0.037;
/// Relative standard uncertainty of a marked magnification: 1.2 %. Same standing.
const MARKED_MAGNIFICATION: f64 = 0.012;
/// Relative standard uncertainty of a transmittance that the kit states: 3 % (common practice, no source).
const STATED_TRANSMITTANCE: f64 = 0.03;
/// The blur circle that counts as sharp is the diagonal over this number (common practice, no source).
const BLUR_PARTS: f64 = 1500.0;

/// A commented kit to start from.
pub const STARTER: &str = include_str!("starter.toml");

/// Everything that `kit.toml` says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kit {
    /// Title of the production.
    pub production: Option<Sourced<String>>,
    /// Mounts.
    pub mounts: Vec<Mount>,
    /// Cameras.
    pub cameras: Vec<Camera>,
    /// Lenses.
    pub lenses: Vec<Lens>,
    /// Attachments: reducers, adapters, extenders.
    pub attachments: Vec<Attachment>,
    /// What holds for a whole roll unless a note says otherwise.
    pub rolls: Vec<RollDefaults>,
    /// Patterns of clip names, tried in order before the built-in ones.
    pub naming: Vec<Sourced<String>>,
    /// Columns of the lens table, as the command line would write them.
    pub columns: Option<Sourced<String>>,
    /// The blur circle is the diagonal over this number.
    pub blur_parts: f64,
    /// Relative standard uncertainty of a focal length known from its mark alone.
    pub marked_focal: f64,
}

/// A lens or body mount.
#[derive(Clone, Debug, PartialEq)]
pub struct Mount {
    /// Id.
    pub id: String,
    /// Flange depth.
    pub flange: Quantity<Millimeters>,
}

/// What holds for a whole roll.
#[derive(Clone, Debug, PartialEq)]
pub struct RollDefaults {
    /// Roll name, as in the clip names.
    pub roll: String,
    /// Camera id.
    pub camera: Option<Sourced<String>>,
    /// Mode id.
    pub mode: Option<Sourced<String>>,
    /// Lens id.
    pub lens: Option<Sourced<String>>,
    /// Attachment id, or `none`.
    pub attachment: Option<Sourced<String>>,
}

/// The uncertainties that hold where an entry does not state its own.
#[derive(Clone, Copy, Debug)]
struct Defaults {
    focal: f64,
    magnification: f64,
}

/// Reads `kit.toml`. Any finding of level fault means that the kit must not be used.
pub fn parse(file: &str, bytes: &[u8]) -> Found<Kit> {
    let text = String::from_utf8_lossy(bytes);
    let mut reader = Reader::new(file, &text);
    if let Err(error) = std::str::from_utf8(bytes) {
        let at = error.valid_up_to();
        reader.findings.push(
            Finding::new(Code::KitFault, "the kit file is not UTF-8 text")
                .at(Place::span(file, &text, at..at + 1))
                .hint("save it as UTF-8"),
        );
    }
    let (document, errors) = toml::de::DeTable::parse_recoverable(&text);
    for error in &errors {
        reader.syntax(error);
    }
    let mut kit = Kit { blur_parts: BLUR_PARTS, ..Kit::default() };
    // Keys after a syntax error may be missing or misplaced; checking them would only add noise.
    if errors.is_empty() {
        let root = Section::root(document.get_ref());
        fill(&mut kit, &root, &mut reader);
        check::references(&kit, &root, &mut reader);
    }
    Found { value: kit, findings: reader.findings }
}

fn fill(kit: &mut Kit, root: &Section<'_>, reader: &mut Reader<'_>) {
    let mut defaults = Defaults { focal: MARKED_FOCAL, magnification: MARKED_MAGNIFICATION };
    if let Some(production) = root.table("production", reader) {
        kit.production = production.sourced_text("title", reader);
        production.close(reader);
    }
    if let Some(section) = root.table("defaults", reader) {
        let percent = |key, reader: &mut Reader<'_>| section.number(key, 0.0, 50.0, reader);
        if let Some(value) = percent("focal-uncertainty-percent", reader) {
            defaults.focal = value / 100.0;
        }
        if let Some(value) = percent("magnification-uncertainty-percent", reader) {
            defaults.magnification = value / 100.0;
        }
        if let Some(value) = section.number("blur-circle-parts", 100.0, 10_000.0, reader) {
            kit.blur_parts = value;
        }
        section.close(reader);
    }
    kit.marked_focal = defaults.focal;
    for section in root.tables("mount", reader) {
        let id = section.required_text("id", reader);
        let flange = section.required_number("flange", 1.0, 200.0, reader);
        if let (Some(id), Some(flange)) = (id, flange.and_then(Millimeters::new)) {
            let flange = stated(flange, None, Basis::Nominal, &format!("mount.{id}.flange"));
            kit.mounts.push(Mount { id, flange });
        }
        section.close(reader);
    }
    kit.cameras =
        root.tables("camera", reader).iter().filter_map(|s| Camera::read(s, reader)).collect();
    kit.lenses = root
        .tables("lens", reader)
        .iter()
        .filter_map(|s| Lens::read(s, defaults, reader))
        .collect();
    kit.attachments = root
        .tables("attachment", reader)
        .iter()
        .filter_map(|s| Attachment::read(s, defaults, reader))
        .collect();
    for section in root.tables("roll", reader) {
        if let Some(roll) = section.required_text("name", reader) {
            kit.rolls.push(RollDefaults {
                roll,
                camera: section.sourced_text("camera", reader),
                mode: section.sourced_text("mode", reader),
                lens: section.sourced_text("lens", reader),
                attachment: section.sourced_text("attachment", reader),
            });
        }
        section.close(reader);
    }
    for section in root.tables("naming", reader) {
        if let Some(pattern) = section.required_sourced_text("pattern", reader) {
            match naming::check(&pattern.value) {
                Ok(()) => kit.naming.push(pattern),
                Err(why) => reader.fault(
                    section.place("pattern"),
                    format!("the pattern cannot be used: {why}"),
                    "write it like \"<roll @###><clip C###>*\": @ a letter, # a digit, * anything",
                ),
            }
        }
        section.close(reader);
    }
    if let Some(section) = root.table("table", reader) {
        kit.columns = section.sourced_text("columns", reader);
        section.close(reader);
    }
    root.close(reader);
}

/// A number stated in the kit, under `key`.
fn stated<U: Unit>(value: U, uncertainty: Option<f64>, basis: Basis, key: &str) -> Quantity<U> {
    Quantity { value, uncertainty, basis, origin: Origin::Kit { key: Arc::from(key) } }
}

/// A transmittance stated in the kit.
fn stated_transmittance(tau: Transmittance, key: &str) -> Quantity<Transmittance> {
    stated(tau, Some(STATED_TRANSMITTANCE * tau.get()), Basis::Nominal, key)
}
