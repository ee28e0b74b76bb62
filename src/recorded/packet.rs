//! An XMP packet to its simple properties (ISO 16684-1, 7; RDF/XML Syntax). No entity is ever expanded
//! beyond the five that XML itself defines, and nothing here calls itself.

use quick_xml::XmlVersion;
use quick_xml::escape::resolve_xml_entity;
use quick_xml::events::{BytesStart, Event};
use quick_xml::name::{NamespaceResolver, QName, ResolveResult};
use quick_xml::reader::NsReader;

/// Nesting that is followed; XMP structures are a few deep.
const DEPTH: usize = 64;
/// Properties kept of one packet.
const PROPERTIES: usize = 1024;
/// Bytes kept of one value.
const VALUE: usize = 4096;
/// Bytes kept of a name or a namespace.
const NAME: usize = 256;

const RDF: &str = "http://www.w3.org/1999/02/22-rdf-syntax-ns#";

/// Prefixes that properties are called by here, whatever the packet calls them.
const PREFIXES: &[(&str, &str)] = &[
    ("http://ns.adobe.com/exif/1.0/", "exif"),
    ("http://cipa.jp/exif/1.0/", "exifEX"),
    ("http://ns.adobe.com/exif/1.0/aux/", "aux"),
    ("http://ns.adobe.com/tiff/1.0/", "tiff"),
    ("http://ns.adobe.com/xap/1.0/", "xmp"),
    ("http://ns.adobe.com/xap/1.0/mm/", "xmpMM"),
    ("http://ns.adobe.com/xmp/1.0/DynamicMedia/", "xmpDM"),
    ("http://purl.org/dc/elements/1.1/", "dc"),
];

/// A simple value somewhere in a packet.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Property {
    /// `exif:FNumber`; parts of structures and lists follow after `/`. Only a namespace of the table has its usual
    /// prefix; any other is written in braces, so that no foreign prefix can pass for one of them.
    pub(super) key: String,
    /// Value as written, entities resolved.
    pub(super) value: String,
    /// Byte of the packet where the tag begins that it was read from, or the one that ends its text.
    pub(super) offset: u64,
}

/// Simple properties in packet order, and where the XML breaks its rules, if it does; what stands before is kept.
pub(super) fn read(packet: &[u8]) -> (Vec<Property>, Option<u64>) {
    let text = match std::str::from_utf8(packet) {
        Ok(text) => text,
        Err(error) => std::str::from_utf8(packet.get(..error.valid_up_to()).unwrap_or_default())
            .unwrap_or_default(),
    };
    let broken = (text.len() < packet.len()).then(|| offset(text.len()));
    let text = text.trim_end_matches('\0');
    let mut walk = Walk::default();
    let mut reader = NsReader::from_str(text);
    loop {
        let at = reader.buffer_position();
        let Ok(event) = reader.read_event() else {
            return (walk.found, Some(at));
        };
        let fine = match &event {
            Event::Start(tag) => walk.open(reader.resolver(), tag, at),
            Event::Empty(tag) => {
                let fine = walk.open(reader.resolver(), tag, at);
                walk.close(at);
                fine
            }
            Event::End(_) => {
                walk.close(at);
                true
            }
            Event::Text(text) => {
                walk.text(text);
                true
            }
            Event::CData(text) => {
                walk.text(text);
                true
            }
            Event::GeneralRef(name) => {
                let character = name.resolve_char_ref().ok().flatten();
                let known = resolve_xml_entity(name).map(str::to_owned);
                let text = character.map(String::from).or(known);
                text.inspect(|text| walk.text(text)).is_some()
            }
            Event::Eof => {
                let unclosed = !walk.levels.is_empty();
                return (walk.found, broken.or(unclosed.then_some(at)));
            }
            Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::DocType(_) => true,
        };
        if !fine {
            return (walk.found, Some(at));
        }
    }
}

/// What an open element is in the stripes of RDF/XML, where nodes and properties take turns.
enum Level {
    /// Outside of `rdf:RDF`, or something to be passed over.
    Outside,
    /// `rdf:RDF` itself.
    Rdf,
    /// A resource, or a list; the number counts its items.
    Node(u32),
    /// A property of the resource around it, and its text so far.
    Property { text: String, simple: bool },
}

#[derive(Default)]
struct Walk {
    levels: Vec<Level>,
    /// Length of `path` below each level, to go back to.
    paths: Vec<usize>,
    path: String,
    found: Vec<Property>,
}

impl Walk {
    /// Enters an element; false where the packet is nested too deeply to be read on.
    fn open(&mut self, names: &NamespaceResolver, tag: &BytesStart, at: u64) -> bool {
        if self.levels.len() >= DEPTH {
            return false;
        }
        let (space, name) = qualify(names, tag.name(), true);
        self.paths.push(self.path.len());
        let level = match self.levels.last_mut() {
            None | Some(Level::Outside) if space == RDF && name == "RDF" => Level::Rdf,
            None | Some(Level::Outside) => Level::Outside,
            Some(Level::Rdf) => Level::Node(0),
            Some(Level::Property { simple, .. }) => {
                *simple = false;
                Level::Node(0)
            }
            Some(Level::Node(items)) => {
                if space == RDF && name == "li" {
                    *items = items.saturating_add(1);
                    let item = format!("[{items}]");
                    self.path.push_str(&item);
                } else if space != RDF || name != "value" {
                    // A qualified value (`rdf:value`) is the value of the property around it.
                    self.descend(&space, &name);
                }
                Level::Property { text: String::new(), simple: true }
            }
        };
        let properties = matches!(level, Level::Node(_) | Level::Property { .. });
        self.levels.push(level);
        properties.then(|| self.attributes(names, tag, at));
        true
    }

    /// Attributes of a node are properties of it; attributes of a property are those of a node left unwritten.
    fn attributes(&mut self, names: &NamespaceResolver, tag: &BytesStart, at: u64) {
        // Unchecked, because checking each against all before it takes the square of their number.
        let mut all = tag.attributes();
        for attribute in all.with_checks(false).flatten().take(PROPERTIES) {
            if attribute.key.as_namespace_binding().is_some() {
                continue;
            }
            let (space, name) = qualify(names, attribute.key, false);
            let Ok(value) = attribute.normalized_value(XmlVersion::Implicit1_0) else {
                continue;
            };
            if space == RDF && name == "parseType" && value == "Resource" {
                if let Some(level) = self.levels.last_mut() {
                    *level = Level::Node(0);
                }
            } else if space == RDF && name == "value" {
                self.keep(&value, at);
            } else if !space.is_empty() && space != RDF && !space.ends_with("/XML/1998/namespace") {
                let back = self.path.len();
                self.descend(&space, &name);
                self.keep(&value, at);
                self.path.truncate(back);
            }
        }
    }

    fn close(&mut self, at: u64) {
        if let Some(Level::Property { text, simple: true }) = self.levels.pop() {
            self.keep(&text, at);
        }
        self.path.truncate(self.paths.pop().unwrap_or_default());
    }

    fn text(&mut self, more: &str) {
        if let Some(Level::Property { text, .. }) = self.levels.last_mut()
            && text.len() < VALUE
        {
            text.push_str(more);
        }
    }

    fn descend(&mut self, space: &str, name: &str) {
        if !self.path.is_empty() {
            self.path.push('/');
        }
        if let Some((_, prefix)) = PREFIXES.iter().find(|(uri, _)| *uri == space) {
            self.path.push_str(prefix);
        } else {
            self.path.push('{');
            self.path.push_str(space);
            self.path.push('}');
        }
        self.path.push(':');
        self.path.push_str(name);
    }

    fn keep(&mut self, value: &str, offset: u64) {
        let value = value.trim();
        if value.is_empty() || self.path.is_empty() || self.found.len() >= PROPERTIES {
            return;
        }
        self.found.push(Property { key: cut(&self.path, VALUE), value: cut(value, VALUE), offset });
    }
}

/// Namespace and local name; the namespace is empty where there is none.
fn qualify(names: &NamespaceResolver, name: QName, element: bool) -> (String, String) {
    let (space, local) =
        if element { names.resolve_element(name) } else { names.resolve_attribute(name) };
    let space = match space {
        ResolveResult::Bound(space) => cut(space.0, NAME),
        ResolveResult::Unbound | ResolveResult::Unknown(_) => String::new(),
    };
    (space, cut(local.into_inner(), NAME))
}

fn cut(text: &str, limit: usize) -> String {
    let mut end = text.len().min(limit);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text.get(..end).unwrap_or_default().to_owned()
}

fn offset(length: usize) -> u64 {
    u64::try_from(length).unwrap_or(u64::MAX)
}
