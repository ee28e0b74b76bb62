//! XML as manifests and chains use it: elements with attributes and text, in bounds. A document type is refused, and
//! with it every entity but the five of XML itself; nothing here calls itself.

use quick_xml::XmlVersion;
use quick_xml::escape::resolve_xml_entity;
use quick_xml::events::{BytesStart, Event};
use quick_xml::name::ResolveResult;
use quick_xml::reader::NsReader;

/// Nesting that is followed; free metadata aside, manifests are seven deep.
const DEPTH: usize = 64;
/// Attributes of one element.
const ATTRIBUTES: usize = 32;
/// Bytes of the text of one element, or of one attribute: a path, and far more than a hash.
const TEXT: usize = 8 << 10;

/// Why a document cannot be used.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    /// What is wrong, to stand behind the name of the file.
    pub what: String,
    /// Byte of the file.
    pub at: u64,
}

impl Broken {
    pub(super) fn new(what: impl Into<String>, at: u64) -> Self {
        Self { what: what.into(), at }
    }
}

/// An open element.
#[derive(Debug)]
pub(super) struct Element {
    /// Local name; empty for elements of other namespaces.
    pub(super) name: String,
    pub(super) attributes: Vec<(String, String)>,
    /// Its own text, that of the elements in it left out.
    pub(super) text: String,
}

impl Element {
    pub(super) fn attribute(&self, name: &str) -> Option<&str> {
        let mut found = self.attributes.iter().filter(|(key, _)| key == name);
        found.next().map(|(_, value)| value.as_str())
    }
}

/// Calls `closed` for every element as it ends, with it and those around it, outermost first, and the byte behind it.
/// The document's element must be `root` of `namespace`.
pub(super) fn each(
    bytes: &[u8],
    namespace: &str,
    root: &str,
    mut closed: impl FnMut(&[&str], &Element, u64) -> Result<(), Broken>,
) -> Result<(), Broken> {
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.trim_start_matches('\u{feff}'),
        Err(error) => {
            let at = u64::try_from(error.valid_up_to()).unwrap_or(u64::MAX);
            return Err(Broken::new("is no UTF-8", at));
        }
    };
    let mut reader = NsReader::from_str(text);
    let mut open: Vec<Element> = Vec::new();
    let mut met = false;
    loop {
        let at = reader.buffer_position();
        let event = reader
            .read_event()
            .map_err(|error| Broken::new(format!("is no well-formed XML: {error}"), at))?;
        match event {
            Event::Start(tag) => {
                let element = enter(&reader, &tag, namespace, open.len(), at)?;
                met = met || is_root(&element, root, at)?;
                open.push(element);
            }
            Event::Empty(tag) => {
                let element = enter(&reader, &tag, namespace, open.len(), at)?;
                met = met || is_root(&element, root, at)?;
                leave(&open, &element, reader.buffer_position(), &mut closed)?;
            }
            Event::End(_) => {
                if let Some(element) = open.pop() {
                    leave(&open, &element, reader.buffer_position(), &mut closed)?;
                }
            }
            Event::Text(more) => add(&mut open, &more.xml10_content(), at)?,
            Event::CData(more) => add(&mut open, &more.xml10_content(), at)?,
            Event::GeneralRef(name) => {
                let letter = name.resolve_char_ref().ok().flatten().map(String::from);
                let known = resolve_xml_entity(&name).map(str::to_owned);
                let Some(text) = letter.or(known) else {
                    return Err(Broken::new("uses an entity that XML does not know", at));
                };
                add(&mut open, &text, at)?;
            }
            Event::DocType(_) => {
                return Err(Broken::new("declares a document type, which no hash list has", at));
            }
            Event::Eof if !met => return Err(Broken::new("holds no hash list", at)),
            Event::Eof if !open.is_empty() => return Err(Broken::new("ends too early", at)),
            Event::Eof => return Ok(()),
            Event::Comment(_) | Event::Decl(_) | Event::PI(_) => {}
        }
    }
}

fn is_root(element: &Element, root: &str, at: u64) -> Result<bool, Broken> {
    if element.name == root {
        return Ok(true);
    }
    Err(Broken::new(format!("does not begin with `{root}` of the namespace it should"), at))
}

fn enter(
    reader: &NsReader<&[u8]>,
    tag: &BytesStart,
    namespace: &str,
    depth: usize,
    at: u64,
) -> Result<Element, Broken> {
    if depth >= DEPTH {
        return Err(Broken::new("is nested too deeply", at));
    }
    let (space, local) = reader.resolver().resolve_element(tag.name());
    let ours = matches!(space, ResolveResult::Bound(space) if space.0 == namespace);
    let name = if ours { local.into_inner().to_owned() } else { String::new() };
    let mut attributes = Vec::new();
    // Unchecked, because checking each against all before it takes the square of their number.
    for attribute in tag.attributes().with_checks(false) {
        let attribute = attribute
            .map_err(|error| Broken::new(format!("is no well-formed XML: {error}"), at))?;
        if attributes.len() >= ATTRIBUTES {
            return Err(Broken::new("has an element with too many attributes", at));
        }
        let value = attribute
            .normalized_value(XmlVersion::Implicit1_0)
            .map_err(|error| Broken::new(format!("is no well-formed XML: {error}"), at))?;
        if value.len() > TEXT {
            return Err(Broken::new("has an attribute that is too long", at));
        }
        let key = attribute.key.local_name().into_inner().to_owned();
        attributes.push((key, value.into_owned()));
    }
    Ok(Element { name, attributes, text: String::new() })
}

fn leave(
    open: &[Element],
    element: &Element,
    at: u64,
    closed: &mut impl FnMut(&[&str], &Element, u64) -> Result<(), Broken>,
) -> Result<(), Broken> {
    let path: Vec<&str> =
        open.iter().chain([element]).map(|element| element.name.as_str()).collect();
    closed(&path, element, at)
}

fn add(open: &mut [Element], more: &str, at: u64) -> Result<(), Broken> {
    if let Some(element) = open.last_mut() {
        // Free metadata may hold whole pages; of other namespaces nothing is kept.
        if element.name.is_empty() {
            return Ok(());
        }
        if element.text.len() + more.len() > TEXT {
            return Err(Broken::new("has a text that is too long", at));
        }
        element.text.push_str(more);
    }
    Ok(())
}
