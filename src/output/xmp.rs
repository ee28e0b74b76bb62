//! XMP sidecars (ISO 16684-1): what a standard property means goes there, everything else into the sidecar's own namespace.
//!
//! A value that changes inside the file has no place in a single-valued standard property; it is then left out there
//! and stands in the own namespace only, piece by piece. `docs/formats.md` lists every property.
//!
//! A sidecar is a list of properties first. [`Sidecar::write`] gives it a file of its own, [`Sidecar::merge`] puts it into
//! one that is there, in whatever layout of RDF, and keeps all of that which lensmend did not write.

mod edit;
mod encoding;
mod facts;
mod merge;
mod own;
mod property;
mod read;
mod render;
mod standard;

use std::io;

use crate::annotation::Annotation;

use super::Stamp;
use super::rows::of_file;
use super::values::{Cells, cells};

pub use merge::{Base, Begun, LARGEST, Merged, begun};
use property::{Property, Value, written_text};

/// The sidecar's own namespace. `.invalid` never resolves (RFC 6761), so nobody else can mean something by it.
pub const NAMESPACE: &str = "https://lensmend.invalid/xmp/1.0/";

/// Prefixes and namespaces that sidecars use, in the order they are declared.
const NAMESPACES: &[(&str, &str)] = &[
    ("dc", "http://purl.org/dc/elements/1.1/"),
    ("exif", "http://ns.adobe.com/exif/1.0/"),
    ("exifEX", "http://cipa.jp/exif/1.0/"),
    ("tiff", "http://ns.adobe.com/tiff/1.0/"),
    ("xmp", "http://ns.adobe.com/xap/1.0/"),
    ("xmpDM", "http://ns.adobe.com/xmp/1.0/DynamicMedia/"),
    ("stDim", "http://ns.adobe.com/xap/1.0/sType/Dimensions#"),
    ("lensmend", NAMESPACE),
];
const RDF: &str = "http://www.w3.org/1999/02/22-rdf-syntax-ns#";

/// When the sidecar last changed: whoever changes it next writes his own date over it.
const DATE: &str = "xmp:MetadataDate";
/// What lensmend wrote, with digests: how it knows an edit of somebody else.
const WRITTEN: &str = "lensmend:written";
/// The sidecar beside the clip that a mirrored one began as.
const BEGUN_FROM: &str = "lensmend:begunFrom";

/// What a sidecar is about.
#[derive(Clone, Copy, Debug)]
pub struct Sidecar<'a> {
    /// The clip.
    pub annotation: &'a Annotation,
    /// Which of its files, from 1.
    pub part: usize,
    /// Title of the production.
    pub production: Option<&'a str>,
}

impl Sidecar<'_> {
    /// The bytes of a sidecar that is not there yet.
    pub fn write(&self, stamp: &Stamp) -> io::Result<Vec<u8>> {
        let mut properties = self.properties(stamp)?;
        properties.insert(0, Property::text(DATE, &stamp.date));
        render::document(&sealed(properties))
    }

    /// Everything that is to be said but the date.
    fn properties(&self, stamp: &Stamp) -> io::Result<Vec<Property>> {
        let file = self.part.checked_sub(1).and_then(|at| self.annotation.clip.files.get(at));
        let file = file.ok_or_else(|| io::Error::other("the clip has no such file"))?;
        let rows = of_file(self.annotation, file, self.part);
        let all: Vec<Cells> = rows.iter().map(cells).collect();
        let mut sheet = Sheet { properties: Vec::new() };
        facts::add(&mut sheet, self, &rows);
        standard::add(&mut sheet, self, &rows, &all);
        own::add(&mut sheet, &all, stamp);
        Ok(sheet.properties)
    }
}

/// The same with the digests of all but the date.
fn sealed(mut properties: Vec<Property>) -> Vec<Property> {
    let told = properties.iter().filter(|property| property.name != DATE);
    let written: Vec<_> = told.map(|property| (property.name.clone(), property.digest())).collect();
    properties.push(Property::text(WRITTEN, &written_text(&written)));
    properties
}

/// The date that a sidecar of ours carries.
pub fn date_of(bytes: &[u8]) -> Option<String> {
    let text = std::str::from_utf8(bytes).ok()?;
    let (_, rest) = text.split_once("<xmp:MetadataDate>")?;
    let (date, _) = rest.split_once("</xmp:MetadataDate>")?;
    (date.len() < 64).then(|| date.to_owned())
}

/// Properties on their way into a sidecar.
struct Sheet {
    properties: Vec<Property>,
}

impl Sheet {
    fn text(&mut self, name: &str, text: &str) {
        self.properties.push(Property::text(name, text));
    }

    fn maybe(&mut self, name: &str, text: Option<String>) {
        if let Some(text) = text {
            self.text(name, &text);
        }
    }

    /// A structure of simple members.
    fn structure(&mut self, name: &str, members: &[(&str, String)]) {
        let members = members.iter().map(|(name, text)| Property::text(*name, text)).collect();
        self.properties.push(Property { name: name.to_owned(), value: Value::Struct(members) });
    }

    /// An ordered array.
    fn sequence(&mut self, name: &str, items: Vec<Value>) {
        self.properties.push(Property { name: name.to_owned(), value: Value::Array("Seq", items) });
    }
}
