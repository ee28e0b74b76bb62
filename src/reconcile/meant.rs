//! Names in a clip cell that could be one name or several, told by what the dump has, and names with a star.

use std::borrow::Cow;
use std::collections::BTreeMap;

use crate::notes::ClipNames;

/// The names of a cell, each doubtful one taken as a whole where `is_one` knows it, else apart.
pub(super) fn flatten<'n>(
    names: &'n [ClipNames],
    is_one: &impl Fn(&str) -> bool,
) -> Vec<Cow<'n, ClipNames>> {
    let mut flat = Vec::new();
    // Parts of parts are the deepest that the reader of notes makes.
    let mut left: Vec<&ClipNames> = names.iter().rev().collect();
    while let Some(name) = left.pop() {
        match name {
            ClipNames::Either { typed, .. } if is_one(typed) => {
                flat.push(Cow::Owned(ClipNames::One(typed.clone())));
            }
            ClipNames::Either { parts, .. } => left.extend(parts.iter().rev()),
            plain => flat.push(Cow::Borrowed(plain)),
        }
    }
    flat
}

/// Names that may be compared with patterns in one run: a few seconds of work.
const MOST_COMPARED: usize = 20_000_000;

/// Clips by their names as they are spelt, for patterns such as `C01*`.
#[derive(Default)]
pub(super) struct Spelt {
    names: BTreeMap<String, Vec<usize>>,
    compared: std::cell::Cell<usize>,
}

impl Spelt {
    /// Adds a name of a clip.
    pub(super) fn add(&mut self, name: &str, clip: usize) {
        self.names.entry(name.to_lowercase()).or_default().push(clip);
    }

    /// The clips of which a name looks like `pattern`, in order; `None` where too many names were compared already.
    pub(super) fn find(&self, pattern: &str) -> Option<Vec<usize>> {
        let pattern = pattern.trim().to_lowercase();
        let (begin, rest) = pattern.split_once('*').unwrap_or((&pattern, ""));
        let mut found = Vec::new();
        for (name, clips) in self.names.range(begin.to_owned()..) {
            let Some(tail) = name.strip_prefix(begin) else { break };
            let compared = self.compared.get() + 1;
            self.compared.set(compared);
            if compared > MOST_COMPARED {
                return None;
            }
            if fits(tail, rest) {
                found.extend(clips);
            }
        }
        found.sort_unstable();
        found.dedup();
        Some(found)
    }
}

/// True where `text` looks like what follows the first star of a pattern.
fn fits(text: &str, rest: &str) -> bool {
    let mut pieces: Vec<&str> = rest.split('*').collect();
    let end = pieces.pop().unwrap_or_default();
    let mut text = text;
    for piece in pieces {
        let Some(at) = text.find(piece) else { return false };
        text = text.get(at + piece.len()..).unwrap_or_default();
    }
    text.ends_with(end)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stars_stand_for_anything() {
        let mut spelt = Spelt::default();
        for (at, name) in ["A003C010", "A003C011", "A003C020", "B001C011"].iter().enumerate() {
            spelt.add(name, at);
        }
        for (pattern, clips) in [
            ("a003c01*", &[0, 1][..]),
            ("A003*", &[0, 1, 2]),
            ("*C011", &[1, 3]),
            ("A*3*1", &[1]),
            ("A003C0*0", &[0, 2]),
            ("X*", &[]),
            ("A003C010*", &[0]),
        ] {
            assert_eq!(spelt.find(pattern).as_deref(), Some(clips), "{pattern}");
        }
    }

    #[test]
    fn the_dump_tells_one_name_from_several() {
        let range = ClipNames::Range("C003".to_owned(), "C009".to_owned());
        let either = ClipNames::Either { typed: "C003-9".to_owned(), parts: vec![range.clone()] };
        let known = flatten(std::slice::from_ref(&either), &|typed| typed == "C003-9");
        assert_eq!(known[0].as_ref(), &ClipNames::One("C003-9".to_owned()));
        let unknown = flatten(std::slice::from_ref(&either), &|_| false);
        assert_eq!(unknown[0].as_ref(), &range);
    }
}
