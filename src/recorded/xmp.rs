//! Lens and camera facts of an embedded XMP packet (XMP Specification Part 2; CIPA DC-010 for the Exif properties).

mod settings;

use crate::finding::{Code, Finding, Place};
use crate::header::Placed;
use crate::recorded::number::{self, Written};
use crate::recorded::packet::{self, Property};
use crate::recorded::{Reading, Recorded, Tag};
use crate::sourced::{Origin, Sourced};
use crate::units::{FNumber, Meters, Millimeters, Unit};

/// Adds what `packet` says to what is not yet known, and every simple property to the tags.
pub(super) fn read(
    packet: &Placed<Vec<u8>>,
    file: &str,
    recorded: &mut Recorded,
    findings: &mut Vec<Finding>,
) {
    let place = |at: u64| packet.offset.saturating_add(at);
    read_placed((&packet.value, &packet.path, &place), file, recorded, findings);
}

/// The same for a packet put together from pieces, whose byte `at` stands at `place(at)` of the file.
pub(super) fn read_placed(
    (packet, path, place): (&[u8], &str, &dyn Fn(u64) -> u64),
    file: &str,
    recorded: &mut Recorded,
    findings: &mut Vec<Finding>,
) {
    let (properties, broken) = packet::read(packet);
    if let Some(at) = broken {
        findings.push(
            Finding::new(
                Code::MediaDamaged,
                "the XMP packet is not whole; what stands before this place is used",
            )
            .at(Place::byte(file, place(at)))
            .hint("compare the copy with the card"),
        );
    }
    let view = View { properties: &properties, path, place, file };
    let fill = |slot: &mut Option<Sourced<String>>, keys: &[&str]| {
        if slot.is_none() {
            *slot = view.text(keys);
        }
    };
    fill(&mut recorded.maker, &["tiff:Make"]);
    fill(&mut recorded.model, &["tiff:Model"]);
    fill(&mut recorded.serial, &["exifEX:BodySerialNumber", "aux:SerialNumber"]);
    fill(&mut recorded.lens, &["exifEX:LensModel", "aux:Lens"]);
    if recorded.focal_length.is_none() {
        recorded.focal_length =
            view.reading("exif:FocalLength", number::rational, Millimeters::new);
    }
    if recorded.f_number.is_none() {
        recorded.f_number = view
            .reading("exif:FNumber", number::rational, FNumber::new)
            .or_else(|| view.reading("exif:ApertureValue", number::apex, FNumber::new));
    }
    if recorded.focus_distance.is_none() {
        recorded.focus_distance = view.reading("exif:SubjectDistance", distance, Meters::new);
    }
    let mut known = recorded.settings.take().map_or_else(Default::default, |settings| *settings);
    known.fill(settings::read(&view));
    recorded.settings = known.boxed();
    recorded.tags.extend(properties.iter().map(|property| Tag {
        key: property.key.clone(),
        value: property.value.clone(),
        origin: view.origin(property),
    }));
}

/// A distance is a rational like any other, but all ones mean infinity (CIPA DC-008, `SubjectDistance`).
pub(super) fn distance(text: &str) -> Option<Written> {
    if number::is_infinite(text) {
        return Some(Written { value: f64::INFINITY, half_step: 0.0 });
    }
    number::rational(text)
}

struct View<'a> {
    properties: &'a [Property],
    path: &'a str,
    place: &'a dyn Fn(u64) -> u64,
    file: &'a str,
}

impl View<'_> {
    /// The first property of the first key that the packet has.
    fn text(&self, keys: &[&str]) -> Option<Sourced<String>> {
        let property =
            keys.iter().find_map(|key| self.properties.iter().find(|p| p.key == *key))?;
        Some(Sourced::new(property.value.clone(), self.origin(property)))
    }

    fn reading<U: Unit>(
        &self,
        key: &str,
        parse: impl Fn(&str) -> Option<Written>,
        unit: impl Fn(f64) -> Option<U>,
    ) -> Option<Reading<U>> {
        let property = self.properties.iter().find(|p| p.key == key)?;
        let written = parse(&property.value)?;
        Some(Reading {
            value: unit(written.value)?,
            raw: property.value.clone(),
            half_step: written.half_step,
            origin: self.origin(property),
        })
    }

    fn origin(&self, property: &Property) -> Origin {
        Origin::Media {
            file: self.file.into(),
            path: format!("{}/{}", self.path, property.key).into(),
            offset: (self.place)(property.offset),
        }
    }
}
