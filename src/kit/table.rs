//! Measured tables of a lens: how its pinhole focal length and entrance pupil change over the focus distance.

use std::sync::Arc;

use super::read::{Reader, Section};
use crate::units::{Meters, Millimeters, Offset};

/// What was measured of a lens, for a zoom at one setting of its zoom ring.
#[derive(Clone, Debug, PartialEq)]
pub struct LensTable {
    /// Marked focal length that a zoom was set to; `None` for a prime.
    pub focal: Option<Millimeters>,
    /// Focus distances from the sensor-plane mark, rising; the last may be infinity.
    pub focus: Vec<Meters>,
    /// Pinhole focal length of the lens alone at each of them.
    pub pinhole: Vec<Millimeters>,
    /// Entrance pupil from the lens's own sensor plane at each of them; empty where it was not measured.
    pub pupil: Vec<Offset>,
    /// Standard uncertainty of the pinhole focal lengths, in millimetres.
    pub pinhole_uncertainty: Option<f64>,
    /// Standard uncertainty of the pupil places, in millimetres.
    pub pupil_uncertainty: Option<f64>,
    /// Dotted path in the kit, such as `lens.sorrel-zoom.table.24`.
    pub key: Arc<str>,
}

/// Reads the tables of a lens with this marked range; one that is said to focus as a unit needs none.
pub(super) fn read_tables(
    section: &Section<'_>,
    range: Option<(Millimeters, Millimeters)>,
    unit_focus: bool,
    reader: &mut Reader<'_>,
) -> Vec<LensTable> {
    let zoom = section.has("range");
    let sections = section.tables("table", reader);
    let mut tables: Vec<LensTable> = Vec::new();
    for (at, entry) in sections.iter().enumerate() {
        let table = LensTable::read(entry, zoom, reader);
        entry.close(reader);
        if !zoom && at > 0 {
            let message = "a prime has one table only";
            reader.fault(
                entry.span.clone(),
                message,
                "put all focus distances into one [[lens.table]]",
            );
        }
        let Some(table) = table else { continue };
        if let Some(focal) = table.focal {
            if range.is_some_and(|(low, high)| focal < low || focal > high) {
                let message =
                    format!("the table for {} mm lies outside the zoom's range", focal.get());
                reader.fault(entry.place("focal"), message, "write the marked zoom setting");
            }
            if tables.last().is_some_and(|before| before.focal >= Some(focal)) {
                let message = "the tables of a zoom must follow each other by rising focal";
                let hint = "sort them, and merge those for the same focal";
                reader.fault(entry.place("focal"), message, hint);
            }
        }
        tables.push(table);
    }
    if unit_focus && !sections.is_empty() {
        let message = "the lens has both unit-focus and a measured table";
        let hint = "keep the table: it is what was measured";
        reader.fault(section.place("unit-focus"), message, hint);
    }
    tables
}

impl LensTable {
    fn read(section: &Section<'_>, zoom: bool, reader: &mut Reader<'_>) -> Option<Self> {
        let focal = section.number("focal", reader);
        match (zoom, section.has("focal")) {
            (true, false) => reader.fault(
                section.span.clone(),
                "the table of a zoom has no focal",
                "add focal = and the marked zoom setting it was measured at",
            ),
            (false, true) => reader.fault(
                section.place("focal"),
                "the table of a prime needs no focal",
                "remove it, or move it up if it is the focal of the lens and stands below [[lens.table]], or give the lens a range = [24, 70] if it is a zoom",
            ),
            _ => {}
        }
        let focus = section.numbers("focus", reader);
        let pinhole = section.numbers("pinhole", reader);
        let pupil = section.numbers("pupil-offset", reader);
        if let Some(focus) = &focus
            && !focus.is_sorted_by(|a, b| a < b)
        {
            let hint = "sort the columns by focus distance; each distance once, inf last";
            reader.fault(section.place("focus"), "focus distances must rise", hint);
            return None;
        }
        for (key, list) in [("pinhole", &pinhole), ("pupil-offset", &pupil)] {
            let (Some(focus), Some(list)) = (&focus, list) else { continue };
            if focus.len() != list.len() {
                let message =
                    format!("{key} has {} entries, and focus has {}", list.len(), focus.len());
                let hint = "write one for each focus distance";
                reader.fault(section.place(key), message, hint);
                return None;
            }
        }
        let focal = focal.and_then(Millimeters::new);
        let path = section.path();
        let key = focal.map_or_else(|| path.to_owned(), |f| format!("{path}.{}", f.get()));
        let pinhole_uncertainty = section.number("pinhole-uncertainty", reader);
        let pupil_uncertainty = section.number("pupil-offset-uncertainty", reader);
        Some(Self {
            focal,
            focus: focus?.into_iter().filter_map(Meters::new).collect(),
            pinhole: pinhole?.into_iter().filter_map(Millimeters::new).collect(),
            pupil: pupil.unwrap_or_default().into_iter().filter_map(Offset::new).collect(),
            pinhole_uncertainty,
            pupil_uncertainty,
            key: Arc::from(key),
        })
    }
}
