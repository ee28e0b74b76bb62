//! The properties of a sidecar that is there, in any layout of RDF/XML, each with the bytes where it stands.
//!
//! The file comes from anywhere. It is measured before it is taken apart, so that neither nesting nor attributes nor
//! namespaces can cost more than the file is long; a document type, and with it every entity of somebody's own, is refused.

use std::ops::Range;

use quick_xml::events::{BytesStart, Event};
use quick_xml::reader::Reader;
use roxmltree::{Document, Node, ParsingOptions};

use super::RDF;
use super::property::{Property, Value, name};

/// Nesting that is followed; XMP structures are a few deep.
const DEPTH: usize = 64;
/// Attributes of one element: a writer that likes attributes puts a whole packet into them.
const ATTRIBUTES: usize = 1024;
/// Namespaces in scope at one place.
const SPACES: usize = 256;
/// Elements, comments and texts of a sidecar.
const NODES: u32 = 200_000;

/// A property where it stands.
pub(super) struct Standing {
    /// What it says.
    pub(super) property: Property,
    /// Its bytes in the text.
    pub(super) span: Range<usize>,
    /// Which of the descriptions it is in.
    pub(super) within: usize,
}

/// An `rdf:Description` of the clip directly in `rdf:RDF`.
pub(super) struct Description {
    /// Its bytes in the text.
    pub(super) span: Range<usize>,
    /// True if besides properties it holds nothing that somebody could miss.
    pub(super) bare: bool,
}

/// A sidecar taken apart.
pub(super) struct Packet {
    /// Properties of the clip in the order of the file.
    pub(super) standing: Vec<Standing>,
    /// Where they stand.
    pub(super) descriptions: Vec<Description>,
    /// `rdf:about` of the clip, as a value.
    pub(super) about: String,
    /// Bytes of the whole `rdf:RDF`.
    pub(super) rdf: Range<usize>,
    /// Its name as it is spelled there.
    pub(super) rdf_name: String,
    /// True if `rdf:` means RDF there.
    pub(super) rdf_prefix: bool,
}

impl Packet {
    /// The value of the first property of this name.
    pub(super) fn value(&self, name: &str) -> Option<&Value> {
        let found = self.standing.iter().find(|there| there.property.name == name)?;
        Some(&found.property.value)
    }
}

/// Takes a sidecar apart. The error says why that cannot be done.
pub(super) fn read(text: &str) -> Result<Packet, String> {
    measure(text)?;
    let options = ParsingOptions { allow_dtd: false, nodes_limit: NODES, ..Default::default() };
    let document = Document::parse_with_options(text, options)
        .map_err(|error| format!("not whole XML: {error}"))?;
    let mut all = document.descendants().filter(|node| is_rdf(*node, "RDF"));
    let rdf = all.next().ok_or("no XMP: it holds no rdf:RDF")?;
    if all.next().is_some() {
        return Err("no XMP: it holds more than one rdf:RDF".into());
    }
    let mut packet = Packet {
        standing: Vec::new(),
        descriptions: Vec::new(),
        about: String::new(),
        rdf: rdf.range(),
        rdf_name: element_name(text, rdf)?.to_owned(),
        rdf_prefix: rdf.lookup_namespace_uri(Some("rdf")) == Some(RDF),
    };
    let about = |node: Node<'_, '_>| {
        // Older packets write it without its prefix (RDF/XML, 6.1.4).
        let about = node.attribute((RDF, "about")).or_else(|| node.attribute("about"));
        about.unwrap_or_default().to_owned()
    };
    let of_clip = |node: &Node<'_, '_>| {
        node.is_element() && ["ID", "nodeID"].iter().all(|id| node.attribute((RDF, *id)).is_none())
    };
    if let Some(first) = rdf.children().find(|node| of_clip(node)) {
        packet.about = about(first);
    }
    for node in rdf.children().filter(of_clip) {
        if about(node) == packet.about {
            description(text, node, &mut packet);
        }
    }
    Ok(packet)
}

/// Adds the properties of a description, attributes first.
fn description(text: &str, node: Node<'_, '_>, packet: &mut Packet) {
    let within = packet.descriptions.len();
    let mut bare = is_rdf(node, "Description");
    for attribute in node.attributes() {
        match attribute.namespace() {
            None | Some(RDF) if attribute.name() == "about" => {}
            Some(space) if space != RDF && space != roxmltree::NS_XML_URI => {
                let property = Property {
                    name: name(space, attribute.name()),
                    value: Value::Text(attribute.value().to_owned()),
                };
                packet.standing.push(Standing { property, span: attribute.range(), within });
            }
            _ => bare = false,
        }
    }
    for child in node.children() {
        if child.is_element() {
            let space = child.tag_name().namespace().unwrap_or_default();
            // A comment inside would be lost with the property, so it counts as an edit.
            let remarked = child.descendants().any(|node| node.is_comment() || node.is_pi());
            let value = if remarked { odd(text, child) } else { value(text, child) };
            let property = Property { name: name(space, child.tag_name().name()), value };
            packet.standing.push(Standing { property, span: child.range(), within });
        } else {
            bare &= child.is_text() && child.text().is_some_and(|text| text.trim().is_empty());
        }
    }
    packet.descriptions.push(Description { span: node.range(), bare });
}

/// A property element as it stands.
fn odd(text: &str, node: Node<'_, '_>) -> Value {
    Value::Odd(text.get(node.range()).unwrap_or_default().to_owned())
}

/// What a property element says. Its nesting is bounded by [`measure`].
fn value(text: &str, node: Node<'_, '_>) -> Value {
    let odd = || odd(text, node);
    let mut attributes = node.attributes();
    let resource = node.attribute((RDF, "parseType")) == Some("Resource");
    if resource && attributes.len() == 1 {
        return members(text, node).unwrap_or_else(odd);
    }
    let mut children = node.children().filter(Node::is_element);
    let Some(child) = children.next() else {
        if attributes.len() == 0 {
            return Value::Text(
                node.children().filter(Node::is_text).filter_map(|n| n.text()).collect(),
            );
        }
        // Attributes of an empty property are members of a structure left unwritten.
        let members: Option<Vec<Property>> = attributes
            .map(|attribute| {
                let space = attribute
                    .namespace()
                    .filter(|space| *space != RDF && *space != roxmltree::NS_XML_URI)?;
                Some(Property {
                    name: name(space, attribute.name()),
                    value: Value::Text(attribute.value().to_owned()),
                })
            })
            .collect();
        return members.filter(|_| !node.has_children()).map_or_else(odd, Value::Struct);
    };
    if attributes.next().is_some() || children.next().is_some() || has_words(node) {
        return odd();
    }
    for kind in ["Seq", "Bag", "Alt"] {
        if is_rdf(child, kind) && child.attributes().len() == 0 && !has_words(child) {
            let items: Option<Vec<Value>> = child
                .children()
                .filter(Node::is_element)
                .map(|item| is_rdf(item, "li").then(|| value(text, item)))
                .collect();
            return items.map_or_else(odd, |items| Value::Array(kind, items));
        }
    }
    if is_rdf(child, "Description") { members(text, child).unwrap_or_else(odd) } else { odd() }
}

/// The members of a structure; `None` where it is more than one, such as a value with qualifiers.
fn members(text: &str, node: Node<'_, '_>) -> Option<Value> {
    let mut members = Vec::new();
    for attribute in node.attributes() {
        match attribute.namespace() {
            Some(RDF) if attribute.name() == "parseType" => {}
            Some(space) if space != RDF && space != roxmltree::NS_XML_URI => {
                let value = Value::Text(attribute.value().to_owned());
                members.push(Property { name: name(space, attribute.name()), value });
            }
            _ => return None,
        }
    }
    for child in node.children().filter(Node::is_element) {
        let space = child.tag_name().namespace().filter(|space| *space != RDF)?;
        members.push(Property {
            name: name(space, child.tag_name().name()),
            value: value(text, child),
        });
    }
    (!has_words(node)).then_some(Value::Struct(members))
}

/// True if text stands between the elements of a node, where RDF has no place for it.
fn has_words(node: Node<'_, '_>) -> bool {
    node.children()
        .any(|child| child.is_text() && child.text().is_some_and(|t| !t.trim().is_empty()))
}

fn is_rdf(node: Node<'_, '_>, local: &str) -> bool {
    node.is_element() && node.has_tag_name((RDF, local))
}

/// The name of an element with the prefix that it has in the file.
fn element_name<'a>(text: &'a str, node: Node<'_, '_>) -> Result<&'a str, String> {
    let tag = text.get(node.range()).and_then(|tag| tag.strip_prefix('<'));
    let name =
        tag.and_then(|tag| tag.split(|c: char| c.is_whitespace() || "/>".contains(c)).next());
    name.ok_or_else(|| "no XMP".into())
}

/// Refuses what would cost more to take apart than it is worth.
fn measure(text: &str) -> Result<(), String> {
    let mut reader = Reader::from_str(text);
    // Namespaces in scope at each level.
    let mut levels: Vec<usize> = Vec::new();
    loop {
        match reader.read_event() {
            Ok(Event::Start(tag)) => {
                let spaces = spaces(&tag, levels.last().copied().unwrap_or_default())?;
                levels.push(spaces);
                if levels.len() > DEPTH {
                    return Err(format!("nested more than {DEPTH} elements deep"));
                }
            }
            Ok(Event::Empty(tag)) => {
                spaces(&tag, levels.last().copied().unwrap_or_default())?;
            }
            Ok(Event::End(_)) => {
                levels.pop();
            }
            Ok(Event::DocType(_)) => return Err("no XMP: it has a document type".into()),
            Ok(Event::Eof) => return Ok(()),
            Ok(_) => {}
            Err(error) => {
                return Err(format!("not whole XML: {error} at byte {}", reader.error_position()));
            }
        }
    }
}

/// Namespaces in scope inside an element, given those around it.
fn spaces(tag: &BytesStart<'_>, around: usize) -> Result<usize, String> {
    let (mut attributes, mut spaces) = (0, around);
    for attribute in tag.attributes().with_checks(false) {
        let attribute = attribute.map_err(|error| format!("not whole XML: {error}"))?;
        attributes += 1;
        if attribute.key.as_namespace_binding().is_some() {
            spaces += 1;
        }
        if attributes > ATTRIBUTES || spaces > SPACES {
            return Err("too many attributes or namespaces in one place".into());
        }
    }
    Ok(spaces)
}
