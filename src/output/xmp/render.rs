//! Properties to RDF/XML (ISO 16684-1, 7): a whole sidecar, or the one `rdf:Description` that a merge adds.

use std::io;

use quick_xml::Writer;
use quick_xml::escape::escape;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use super::property::{Property, Value};
use super::{NAMESPACES, RDF};

/// Where the one description begins and ends in what is rendered here: no value can hold a `<`.
const BEGIN: &str = "<rdf:Description";
const END: &str = "</rdf:Description>";

/// A sidecar with these properties and nothing else.
pub(super) fn document(properties: &[Property]) -> io::Result<Vec<u8>> {
    rendered(properties, "", false)
}

/// The description alone, on lines indented as in a whole sidecar but for the first. `about` is that of the others;
/// with `declare_rdf` it says itself what `rdf:` stands for.
pub(super) fn block(properties: &[Property], about: &str, declare_rdf: bool) -> io::Result<String> {
    let whole = String::from_utf8(rendered(properties, about, declare_rdf)?)
        .map_err(|_| io::Error::other("the sidecar is no text"))?;
    let cut = whole.find(BEGIN).zip(whole.rfind(END)).and_then(|(from, to)| whole.get(from..to));
    cut.map(|cut| [cut, END].concat()).ok_or_else(|| io::Error::other("the sidecar is empty"))
}

fn rendered(properties: &[Property], about: &str, declare_rdf: bool) -> io::Result<Vec<u8>> {
    let mut out = Out { writer: Writer::new_with_indent(Vec::new(), b' ', 1) };
    out.writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    out.open("x:xmpmeta", &[("xmlns:x", "adobe:ns:meta/")])?;
    out.open("rdf:RDF", &[("xmlns:rdf", RDF)])?;
    let declared: Vec<(String, &str)> =
        NAMESPACES.iter().map(|(prefix, uri)| (format!("xmlns:{prefix}"), *uri)).collect();
    let mut attributes = vec![("rdf:about", about)];
    if declare_rdf {
        attributes.push(("xmlns:rdf", RDF));
    }
    attributes.extend(declared.iter().map(|(name, uri)| (name.as_str(), *uri)));
    out.open("rdf:Description", &attributes)?;
    for property in properties {
        out.property(&property.name, &property.value)?;
    }
    out.close("rdf:Description")?;
    out.close("rdf:RDF")?;
    out.close("x:xmpmeta")?;
    let mut bytes = out.writer.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

struct Out {
    writer: Writer<Vec<u8>>,
}

impl Out {
    fn open(&mut self, name: &str, attributes: &[(&str, &str)]) -> io::Result<()> {
        let start = BytesStart::new(name).with_attributes(attributes.iter().copied());
        self.writer.write_event(Event::Start(start))
    }

    fn close(&mut self, name: &str) -> io::Result<()> {
        self.writer.write_event(Event::End(BytesEnd::new(name)))
    }

    fn property(&mut self, name: &str, value: &Value) -> io::Result<()> {
        match value {
            Value::Text(text) | Value::Odd(text) => {
                self.writer.write_event(Event::Start(BytesStart::new(name)))?;
                self.writer.write_event(Event::Text(BytesText::from_escaped(escape(text))))?;
            }
            Value::Struct(members) => {
                self.open(name, &[("rdf:parseType", "Resource")])?;
                for member in members {
                    self.property(&member.name, &member.value)?;
                }
            }
            Value::Array(kind, items) => {
                self.open(name, &[])?;
                let list = ["rdf:", kind].concat();
                self.open(&list, &[])?;
                for item in items {
                    self.property("rdf:li", item)?;
                }
                self.close(&list)?;
            }
        }
        self.close(name)
    }
}
