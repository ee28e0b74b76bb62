//! The kit: what the crew had with them, from `kit.toml`. `docs/kit-toml.md` documents every key.
//!
//! A kit that does not hold together stops the run before anything is written: every number downstream
//! rests on it. So `parse` gives findings of code `kit.fault` for everything wrong in the file, in one run.

#![deny(clippy::indexing_slicing)]

mod attachment;
pub mod called;
mod camera;
mod check;
mod defaults;
mod distortion;
pub mod fit;
pub mod form;
pub mod keys;
mod lens;
mod numbers;
mod opening;
mod plate;
mod production;
mod read;
mod schema;
mod shapes;
mod table;

use std::sync::Arc;

pub use attachment::{Attachment, Kind, Reports};
pub use camera::{Camera, Mode};
pub use defaults::Defaults;
pub use distortion::{Distortion, Maps};
pub use lens::{IrisScale, Lens};
pub use plate::Plate;
pub use production::Production;
pub use schema::schema;
pub use table::LensTable;

use crate::finding::{Code, Finding, Found, Place};
use crate::naming;
use crate::sourced::{Basis, Origin, Quantity, Sourced};
use crate::units::{Millimeters, Unit};
use read::{Reader, Section};

/// A kit to begin with: every heading explained, with placeholders to replace.
pub const STARTER: &str = include_str!("starter.toml");

/// Standard uncertainty of a flange depth that states none, in millimetres: mounts are set to a few hundredths
/// (common practice, no source).
const FLANGE: f64 = 0.02;

/// Everything that `kit.toml` says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kit {
    /// What was shot, for whom and by whom.
    pub production: Production,
    /// Mounts.
    pub mounts: Vec<Mount>,
    /// Cameras.
    pub cameras: Vec<Camera>,
    /// Plates: what is cut out of recordings for VFX.
    pub plates: Vec<Plate>,
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
    /// Uncertainties that hold where an entry has none of its own, and the blur circle.
    pub defaults: Defaults,
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
    let mut kit = Kit::default();
    // Keys after a syntax error may be missing or misplaced; checking them would only add noise.
    if errors.is_empty() {
        let root = Section::root(document.get_ref());
        fill(&mut kit, &root, &mut reader);
        check::references(&kit, &root, &mut reader);
    }
    Found { value: kit, findings: reader.findings }
}

fn fill(kit: &mut Kit, root: &Section<'_>, reader: &mut Reader<'_>) {
    if let Some(production) = root.table("production", reader) {
        kit.production = Production::read(&production, reader);
    }
    if let Some(section) = root.table("defaults", reader) {
        kit.defaults = Defaults::read(&section, reader);
    }
    for section in root.tables("mount", reader) {
        kit.mounts.extend(Mount::read(&section, reader));
    }
    let defaults = &kit.defaults;
    kit.cameras = root
        .tables("camera", reader)
        .iter()
        .filter_map(|s| Camera::read(s, defaults, reader))
        .collect();
    kit.plates =
        root.tables("plate", reader).iter().filter_map(|s| Plate::read(s, reader)).collect();
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
        kit.rolls.extend(RollDefaults::read(&section, reader));
    }
    for section in root.tables("naming", reader) {
        if let Some(pattern) = section.sourced_text("pattern", reader) {
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

impl Mount {
    fn read(section: &Section<'_>, reader: &mut Reader<'_>) -> Option<Self> {
        let id = section.text("id", reader);
        let flange = section.number("flange", reader).and_then(Millimeters::new);
        let uncertainty = section.number("flange-uncertainty", reader).unwrap_or(FLANGE);
        section.close(reader);
        let key = section.key("flange");
        Some(Self { id: id?, flange: stated(flange?, Some(uncertainty), Basis::Nominal, &key) })
    }
}

impl RollDefaults {
    fn read(section: &Section<'_>, reader: &mut Reader<'_>) -> Option<Self> {
        let roll = section.text("name", reader);
        let camera = section.sourced_text("camera", reader);
        let mode = section.sourced_text("mode", reader);
        let lens = section.sourced_text("lens", reader);
        let attachment = section.sourced_text("attachment", reader);
        section.close(reader);
        Some(Self { roll: roll?, camera, mode, lens, attachment })
    }
}

/// A number stated in the kit, under `key`.
fn stated<U: Unit>(value: U, uncertainty: Option<f64>, basis: Basis, key: &str) -> Quantity<U> {
    Quantity { value, uncertainty, basis, origin: Origin::Kit { key: Arc::from(key) } }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_starter_is_a_good_kit() {
        let found = parse("kit.toml", STARTER.as_bytes());
        assert_eq!(found.findings, []);
        let kit = found.value;
        assert_eq!((kit.cameras.len(), kit.lenses.len(), kit.attachments.len()), (2, 3, 2));
        for heading in keys::HEADINGS.iter().filter(|heading| !heading.path.contains('.')) {
            let begins = format!("[{}]", heading.path);
            assert!(STARTER.contains(&begins), "the starter does not show {begins}");
        }
    }
}
