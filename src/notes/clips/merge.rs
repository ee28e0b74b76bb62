//! Ranges of one kind that overlap become one: hundreds of them in a cell must not cost hundreds of times the clips.

use std::collections::BTreeMap;

use crate::naming::key;

use super::{ClipNames, numbers};

/// What tells ranges that can be put together: all before the last number, and what stands behind it.
fn kind(name: &str) -> (String, String) {
    let bare = name.trim_end_matches(|c: char| !c.is_ascii_digit());
    let stem = bare.trim_end_matches(|c: char| c.is_ascii_digit());
    (key(stem), name.get(bare.len()..).unwrap_or_default().to_lowercase())
}

/// The names with ranges that overlap put together, each where the first of them stood.
pub(super) fn overlapping(names: Vec<ClipNames>) -> Vec<ClipNames> {
    let mut kinds: BTreeMap<(String, String), Vec<usize>> = BTreeMap::new();
    for (at, name) in names.iter().enumerate() {
        if let ClipNames::Range(first, last) = name
            && kind(first).0.ends_with(&kind(last).0)
            && kind(first).1 == kind(last).1
        {
            kinds.entry(kind(first)).or_default().push(at);
        }
    }
    let mut kept: Vec<Option<ClipNames>> = names.into_iter().map(Some).collect();
    for places in kinds.into_values().filter(|places| places.len() > 1) {
        let mut ranges: Vec<(usize, String, String)> = places
            .iter()
            .filter_map(|at| match kept.get_mut(*at)?.take()? {
                ClipNames::Range(first, last) => Some((*at, first, last)),
                _ => None,
            })
            .collect();
        ranges.sort_by(|a, b| numbers(&a.1).last().cmp(&numbers(&b.1).last()));
        let mut open: Option<(usize, String, String)> = None;
        let mut put = |(at, first, last): (usize, String, String)| {
            if let Some(place) = kept.get_mut(at) {
                *place = Some(ClipNames::Range(first, last));
            }
        };
        for (at, first, last) in ranges {
            open = Some(match open {
                Some((begun, from, to)) if numbers(&first).last() <= numbers(&to).last() => {
                    let farther = numbers(&last).last() > numbers(&to).last();
                    (begun.min(at), from, if farther { last } else { to })
                }
                Some(done) => {
                    put(done);
                    (at, first, last)
                }
                None => (at, first, last),
            });
        }
        if let Some(done) = open {
            put(done);
        }
    }
    kept.into_iter().flatten().collect()
}
