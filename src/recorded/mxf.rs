//! Facts of an MXF file (SMPTE ST 377-1): structure in, meaning out.

pub(super) mod data;
mod graph;
mod picture;
mod start;
mod value;

use std::sync::Arc;

use crate::finding::{Code, Finding, Place};
use crate::header::Placed;
use crate::header::mxf::{Mxf, Set};
use crate::recorded::mxf::graph::{Graph, Track};
use crate::recorded::{Container, Recorded, Tag, several};
use crate::sourced::{Origin, Sourced};

/// Tags kept.
const TAGS: usize = 1024;
/// Packages searched for a picture where none is named.
const PACKAGES: usize = 32;

/// One file being read for its meaning.
struct Reading<'a> {
    graph: Graph<'a>,
    file: Arc<str>,
    findings: Vec<Finding>,
    tags: Vec<Tag>,
}

/// The packages and tracks that are the clip, as far as the file has them.
struct Clip<'a> {
    material: Option<&'a Set>,
    /// The package that describes the essence in this very file.
    package: Option<&'a Set>,
    shown: Option<Track<'a>>,
    stored: Option<Track<'a>>,
    descriptor: Option<&'a Set>,
}

impl Reading<'_> {
    fn origin<T>(&self, placed: &Placed<T>) -> Origin {
        Origin::Media {
            file: Arc::clone(&self.file),
            path: Arc::clone(&placed.path),
            offset: placed.offset,
        }
    }

    /// `value`, found where `placed` stands.
    fn source<T, U>(&self, placed: &Placed<T>, value: U) -> Sourced<U> {
        Sourced::new(value, self.origin(placed))
    }

    fn report(&mut self, code: Code, offset: u64, message: &str, hint: &str) {
        let place = Place::byte(Arc::clone(&self.file), offset);
        self.findings.push(Finding::new(code, message).at(place).hint(hint));
    }

    fn tag<T: std::fmt::Display>(&mut self, key: &str, placed: &Placed<T>) {
        let tag = Tag {
            key: format!("mxf.{key}"),
            value: placed.value.to_string(),
            origin: self.origin(placed),
        };
        if self.tags.len() < TAGS {
            self.tags.push(tag);
        }
    }
}

/// Everything that `mxf` says. `whole` is false where the file was cut off, so that missing parts are no surprise.
pub(super) fn read(mxf: &Mxf, file: &str, whole: bool) -> (Recorded, Vec<Finding>) {
    let graph = Graph::new(&mxf.sets);
    let mut reading = Reading { graph, file: file.into(), findings: Vec::new(), tags: Vec::new() };
    let mut recorded = Recorded { container: Container::Mxf, ..Recorded::default() };
    let clip = clip(&reading.graph);
    if clip.descriptor.is_none() && whole {
        let finding = Finding::new(Code::MediaNoPicture, "the file holds no picture track");
        reading.findings.push(
            finding
                .at(Place::file(Arc::clone(&reading.file)))
                .hint("leave it out of the dump if it is sound only"),
        );
    }
    picture::read(&mut reading, &clip, &mut recorded);
    start::read(&mut reading, &clip, &mut recorded);
    let packages = [clip.package, clip.material];
    recorded.created = packages.into_iter().flatten().find_map(|package| {
        let created = package.item(0x4405, value::time)?;
        Some(reading.source(&created, created.value))
    });
    wrote(&mut reading);
    let acquisition = data::read(&mxf.beside, file);
    let mut findings = std::mem::take(&mut reading.findings);
    recorded.tags = std::mem::take(&mut reading.tags);
    several::add(acquisition, &reading.file, &mut recorded, &mut findings);
    (recorded, findings)
}

/// Follows the picture from the package that is played to the package that describes the essence.
fn clip<'a>(graph: &Graph<'a>) -> Clip<'a> {
    let material = graph.material();
    let shown = material.and_then(|package| graph.picture(package));
    let inside = || {
        let mut held = graph.kind(graph::ESSENCE_DATA);
        held.find_map(|data| graph.package(graph::bytes(data, 0x2701)?))
    };
    let package = material.and_then(|material| graph.source(material)).or_else(inside);
    let package = package.or_else(|| {
        graph
            .kind(graph::SOURCE)
            .take(PACKAGES)
            .find(|package| descriptor(graph, package).is_some())
    });
    // A broken chain still leaves the descriptor, which is what matters most.
    let described = package.and_then(|package| descriptor(graph, package));
    let described = described.or_else(|| {
        let lone = package.is_none_or(|package| graph.refer(package, 0x4701).is_empty());
        graph.having(0x3203).filter(|_| lone)
    });
    let stored = package.and_then(|package| graph.picture(package));
    Clip { material, package, shown, stored, descriptor: described }
}

/// The picture descriptor of a package, alone or among several (ST 377-1, annex F).
fn descriptor<'a>(graph: &Graph<'a>, package: &Set) -> Option<&'a Set> {
    let all = graph.refer(package, 0x4701);
    let several = all.iter().flat_map(|set| graph.refer(set, 0x3F01));
    let mut each = all.iter().copied().chain(several.collect::<Vec<_>>());
    each.find(|set| graph::bytes(set, 0x3203).is_some())
}

/// What made and changed the file, as tags. In a camera original the first one is the camera, in a transcode it is the
/// encoder, and nothing in the set tells which: so no camera is named by it (ST 377-1, identification set).
fn wrote(reading: &mut Reading) {
    let all: Vec<&Set> = reading.graph.kind(graph::IDENTIFICATION).collect();
    for set in all {
        for (tag, name) in [
            (0x3C01, "companyName"),
            (0x3C02, "productName"),
            (0x3C04, "versionString"),
            (0x3C08, "platform"),
        ] {
            if let Some(text) = set.item(tag, value::text) {
                reading.tag(name, &text);
            }
        }
    }
}
