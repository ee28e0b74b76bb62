//! What calls for care on prep day, each thing once, with everything it concerns.

use std::collections::{BTreeMap, BTreeSet};

use super::{Fitting, OnCamera, Weight};

/// Something to know before lens and camera are put together, and whom it concerns.
#[derive(Clone, Debug, PartialEq)]
pub struct Caution {
    /// What it does to the verdict.
    pub weight: Weight,
    /// What is the matter, without a full stop.
    pub message: String,
    /// What to do about it.
    pub advice: String,
    /// Attachments, or cameras for bare lenses, each with the lenses that it concerns.
    pub whom: Vec<Whom>,
}

/// One attachment or bare camera, and lenses on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Whom {
    /// As people say it: `Corbel 0.71`, or `bare camera A`.
    pub on: String,
    /// Names of the lenses.
    pub lenses: Vec<String>,
    /// True if these are all the lenses that go on it.
    pub all: bool,
}

/// Lenses by what they are on, both in the order in which they were met.
#[derive(Default)]
struct Lists {
    order: Vec<String>,
    lenses: BTreeMap<String, Vec<String>>,
    seen: BTreeSet<(String, String)>,
}

impl Lists {
    fn add(&mut self, on: &str, lens: &str) {
        if !self.lenses.contains_key(on) {
            self.order.push(on.to_owned());
        }
        // A second camera with the same mount tells nothing new.
        if self.seen.insert((on.to_owned(), lens.to_owned())) {
            self.lenses.entry(on.to_owned()).or_default().push(lens.to_owned());
        }
    }
}

/// Gathers the remarks of everything that goes together.
pub(super) fn cautions(cameras: &[OnCamera]) -> Vec<Caution> {
    let mut every = Lists::default();
    let mut found: Vec<(Weight, &str, &str, Lists)> = Vec::new();
    let mut index = BTreeMap::new();
    for camera in cameras {
        for way in camera.ways.iter().filter(|way| way.fit.verdict != Fitting::DoesNotFit) {
            let on = match &way.attachment {
                Some(attachment) => attachment.label.clone(),
                None => format!("bare camera {}", camera.name.id),
            };
            every.add(&on, &way.lens.label);
            for remark in &way.fit.remarks {
                let key = (remark.weight, remark.message.as_str(), remark.advice.as_str());
                let at = *index.entry(key).or_insert(found.len());
                if at == found.len() {
                    found.push((key.0, key.1, key.2, Lists::default()));
                }
                if let Some((.., lists)) = found.get_mut(at) {
                    lists.add(&on, &way.lens.label);
                }
            }
        }
    }
    // What is wrong is a finding already.
    found.retain(|(weight, ..)| *weight != Weight::Wrong);
    found.sort_by_key(|(weight, ..)| *weight);
    let whom = |lists: Lists| {
        let Lists { order, mut lenses, .. } = lists;
        let of = order.into_iter().map(|on| {
            let lenses = lenses.remove(&on).unwrap_or_default();
            let all = every.lenses.get(&on).is_some_and(|every| every.len() == lenses.len());
            Whom { on, lenses, all }
        });
        of.collect()
    };
    found
        .into_iter()
        .map(|(weight, message, advice, lists)| Caution {
            weight,
            message: message.to_owned(),
            advice: advice.to_owned(),
            whom: whom(lists),
        })
        .collect()
}
