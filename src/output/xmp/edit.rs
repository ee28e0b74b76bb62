//! Surgery on the text of a sidecar: properties are cut out and one description is put in; every other byte stays.

use std::collections::BTreeSet;
use std::ops::Range;

use crate::read_at::sha256;

use super::read::Packet;

/// Where the new description goes in the text that is left.
pub(super) struct Place {
    at: usize,
    /// White space in front of it, with the line end of the file.
    lead: String,
    /// What follows it: the end of an `rdf:RDF` that had none.
    trail: String,
    /// The file ends its lines with carriage return and line feed.
    returns: bool,
}

/// The text without the properties named in `gone`, and without descriptions that held nothing else.
pub(super) fn without(text: &str, packet: &Packet, gone: &BTreeSet<String>) -> (String, Place) {
    let mut cuts: Vec<Range<usize>> = Vec::new();
    for (at, description) in packet.descriptions.iter().enumerate() {
        let inside = || packet.standing.iter().filter(|standing| standing.within == at);
        let out = |name: &String| gone.contains(name);
        let emptied = inside().all(|standing| out(&standing.property.name));
        if description.bare && emptied && inside().next().is_some() {
            cuts.push(description.span.clone());
        } else {
            let out = inside().filter(|standing| out(&standing.property.name));
            cuts.extend(out.map(|standing| standing.span.clone()));
        }
    }
    cuts.sort_by_key(|cut| cut.start);
    let end = packet.rdf.end;
    let rdf = text.get(packet.rdf.clone()).unwrap_or_default();
    let closed = rdf.rfind("</").filter(|_| !rdf.ends_with("/>"));
    // Text up to here stands before the new description, text from here on behind it.
    let (content, rest) = match closed {
        Some(close) => {
            let close = packet.rdf.start + close;
            (text.get(..close).unwrap_or_default().trim_end().len(), None)
        }
        None => (end.saturating_sub(2), Some(end)),
    };
    let mut left = String::with_capacity(text.len());
    let mut from = 0;
    for cut in cuts {
        // The white space before it goes with it.
        let before = text.get(from..cut.start).unwrap_or_default().trim_end();
        left.push_str(before);
        from = cut.end;
    }
    left.push_str(text.get(from..content).unwrap_or_default());
    let at = left.len();
    left.push_str(text.get(rest.unwrap_or(content)..).unwrap_or_default());
    let returns = text.contains("\r\n");
    let indent = packet.descriptions.first().and_then(|first| {
        let line = text.get(..first.span.start)?.rsplit('\n').next()?;
        line.trim().is_empty().then_some(line)
    });
    let lead = ["\n", indent.unwrap_or("  ")].concat();
    let trail = rest.map_or_else(String::new, |_| ["\n</", &packet.rdf_name, ">"].concat());
    (left, Place { at, lead, trail, returns })
}

/// The text that is left, with the description.
pub(super) fn with(left: &str, place: &Place, description: &str) -> String {
    let open = if place.trail.is_empty() { "" } else { ">" };
    let added = [open, &place.lead, description, &place.trail].concat();
    let added = if place.returns { added.replace('\n', "\r\n") } else { added };
    let (before, behind) = left.split_at_checked(place.at).unwrap_or((left, ""));
    [before, &added, behind].concat()
}

/// SHA-256 of what is left, white space aside.
pub(super) fn digest(left: &str) -> String {
    let dense: String = left.split_whitespace().collect();
    sha256(dense.as_bytes())
}

/// True if nothing is left but what lensmend puts around its one description.
pub(super) fn is_skeleton(left: &str) -> bool {
    const SKELETON: &str = "<?xmlversion=\"1.0\"encoding=\"UTF-8\"?><x:xmpmetaxmlns:x=\"adobe:ns:meta/\">\
        <rdf:RDFxmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\"></rdf:RDF></x:xmpmeta>";
    left.chars().filter(|c| !c.is_whitespace()).eq(SKELETON.chars())
}
