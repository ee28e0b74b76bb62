//! A property as a name and a tree of values, apart from how a file spells it, and the short digest by which
//! lensmend knows its own hand again.

use std::borrow::Cow;
use std::collections::BTreeMap;

use crate::read_at::sha256;

use super::NAMESPACES;

/// Hexadecimal digits of a digest: it tells an edit from none, and defends against nobody.
const DIGITS: usize = 8;

/// A property of the clip: its name with the usual prefix, and what it says.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Property {
    /// `exif:FNumber`; a namespace that lensmend does not use stands in braces before the name.
    pub(super) name: String,
    /// What it says.
    pub(super) value: Value,
}

/// A value in the data model of XMP (ISO 16684-1, 6.3).
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    /// A simple value.
    Text(String),
    /// A structure: members by name.
    Struct(Vec<Property>),
    /// An array: `Seq`, `Bag` or `Alt`, and its items.
    Array(&'static str, Vec<Value>),
    /// Anything with qualifiers, addresses or shapes that lensmend never writes, as it stands in the file.
    Odd(String),
}

impl Property {
    /// A simple property.
    pub(super) fn text(name: impl Into<String>, text: &str) -> Self {
        Self { name: name.into(), value: Value::Text(legal(text).into_owned()) }
    }

    /// The first digits of the SHA-256 over the value in a spelling of its own, the same for every layout of RDF.
    /// Files carry it: a change of the spelling would make every value look edited.
    pub(super) fn digest(&self) -> String {
        let mut spelled = String::new();
        spell(&self.value, &mut spelled);
        let mut digest = sha256(spelled.as_bytes());
        digest.truncate(DIGITS);
        digest
    }
}

/// Nested no deeper than what was read, which is bounded.
fn spell(value: &Value, out: &mut String) {
    let text = |kind: &str, text: &str, out: &mut String| {
        out.extend([kind, &text.len().to_string(), ":", text]);
    };
    match value {
        Value::Text(simple) => text("text ", simple, out),
        Value::Odd(source) => text("odd ", source, out),
        Value::Struct(members) => {
            // Members have no order.
            let mut members: Vec<&Property> = members.iter().collect();
            members.sort_by(|a, b| a.name.cmp(&b.name));
            out.push('{');
            for member in members {
                text("", &member.name, out);
                spell(&member.value, out);
            }
            out.push('}');
        }
        Value::Array(kind, items) => {
            out.extend([*kind, "["]);
            for item in items {
                spell(item, out);
            }
            out.push(']');
        }
    }
}

/// Characters that XML 1.0 (2.2) cannot hold become the replacement character.
pub(super) fn legal(text: &str) -> Cow<'_, str> {
    let fits = |c: char| matches!(c, '\t' | '\n' | '\r' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..);
    if text.chars().all(fits) {
        return text.into();
    }
    text.chars().map(|c| if fits(c) { c } else { '\u{fffd}' }).collect()
}

/// A name as it is called here, whatever prefix the file gives its namespace.
pub(super) fn name(space: &str, local: &str) -> String {
    match NAMESPACES.iter().find(|(_, uri)| *uri == space) {
        Some((prefix, _)) => [prefix, ":", local].concat(),
        None => ["{", space, "}", local].concat(),
    }
}

/// Names of the properties that lensmend wrote, each with the digest it had: the text of `lensmend:written`.
pub(super) fn written_text(written: &[(String, String)]) -> String {
    let each: Vec<String> =
        written.iter().map(|(name, digest)| [name, "=", digest].concat()).collect();
    each.join(" ")
}

/// The same read back; what is no such pair is passed over.
pub(super) fn written_of(text: &str) -> BTreeMap<String, String> {
    let pairs = text.split_whitespace().filter_map(|pair| pair.split_once('='));
    pairs.map(|(name, digest)| (name.to_owned(), digest.to_owned())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_xml_cannot_hold_is_replaced() {
        assert_eq!(legal("a\u{1b}[31m\u{0}b\tc"), "a\u{fffd}[31m\u{fffd}b\tc");
    }

    /// Sidecars carry these digests; if this test fails, every sidecar out there looks edited.
    #[test]
    fn digests_are_for_good_and_know_no_order_of_members() {
        let member = |name: &str, text: &str| Property::text(name, text);
        let time =
            |members| Property { name: "xmpDM:duration".into(), value: Value::Struct(members) };
        let (scale, value) = (member("xmpDM:scale", "1/24"), member("xmpDM:value", "48"));
        let one = time(vec![scale.clone(), value.clone()]);
        assert_eq!(one.digest(), time(vec![value, scale]).digest());
        assert_eq!(member("exif:FNumber", "7/5").digest(), sha256(b"text 3:7/5")[..8]);
        assert_eq!(
            one.digest(),
            sha256(b"{11:xmpDM:scaletext 4:1/2411:xmpDM:valuetext 2:48}")[..8]
        );
        let item = Value::Text("a".into());
        let list =
            |kind| Property { name: "x".into(), value: Value::Array(kind, vec![item.clone()]) };
        assert_ne!(list("Seq").digest(), list("Bag").digest());
    }

    #[test]
    fn what_was_written_reads_back() {
        let pairs = [("exif:FNumber".to_owned(), "0123abcd".to_owned())];
        let text = written_text(&pairs);
        assert_eq!(written_of(&format!("{text}  rubbish")), BTreeMap::from(pairs));
    }
}
