//! How the sets of MXF header metadata hang together: references, packages, tracks (SMPTE ST 377-1, 9.5 and annexes B, D).

use std::collections::BTreeMap;

use crate::header::klv::{self, Label};
use crate::header::mxf::Set;

/// Kinds of set.
pub(super) const ESSENCE_DATA: u8 = 0x23;
pub(super) const SOURCE_CLIP: u8 = 0x11;
pub(super) const TIMECODE: u8 = 0x14;
pub(super) const IDENTIFICATION: u8 = 0x30;
pub(super) const PREFACE: u8 = 0x2F;
pub(super) const MATERIAL: u8 = 0x36;
pub(super) const SOURCE: u8 = 0x37;

/// References followed from one set; a camera writes a few.
const REFERENCES: usize = 256;

/// Picture essence (SMPTE ST 400 labels).
const PICTURE: [u8; 13] =
    [0x06, 0x0E, 0x2B, 0x34, 0x04, 0x01, 0x01, 0x01, 0x01, 0x03, 0x02, 0x02, 0x01];
/// The same before there were labels (common practice, no source).
const OLD_PICTURE: Label = [
    0x80, 0x7D, 0x00, 0x60, 0x08, 0x14, 0x3E, 0x6F, 0x6F, 0x3C, 0x8C, 0xE1, 0x6C, 0xEF, 0x11, 0xD2,
];

/// All sets, by the identifier that others refer to them with.
pub(super) struct Graph<'a> {
    sets: &'a [Set],
    by_id: BTreeMap<&'a [u8], &'a Set>,
}

/// A track: what it is measured in, and the sequence that fills it.
#[derive(Clone, Copy)]
pub(super) struct Track<'a> {
    pub(super) set: &'a Set,
    pub(super) sequence: &'a Set,
}

impl<'a> Graph<'a> {
    pub(super) fn new(sets: &'a [Set]) -> Self {
        let mut by_id = BTreeMap::new();
        for set in sets {
            if let Some(id) = bytes(set, 0x3C0A) {
                by_id.entry(id).or_insert(set);
            }
        }
        Self { sets, by_id }
    }

    pub(super) fn kind(&self, kind: u8) -> impl Iterator<Item = &'a Set> + use<'a> {
        self.sets.iter().filter(move |set| set.kind == kind)
    }

    /// The first set of any kind that has the item `tag`.
    pub(super) fn having(&self, tag: u16) -> Option<&'a Set> {
        self.sets.iter().find(|set| bytes(set, tag).is_some())
    }

    /// Sets that the item `tag` refers to: one, or a batch with its count and size in front.
    pub(super) fn refer(&self, set: &Set, tag: u16) -> Vec<&'a Set> {
        let value = bytes(set, tag).unwrap_or_default();
        let ids = if value.len() == 16 { value } else { value.get(8..).unwrap_or_default() };
        let known = ids.chunks_exact(16).take(REFERENCES).map(|id| self.by_id.get(id).copied());
        known.flatten().collect()
    }

    /// The package of this identifier.
    pub(super) fn package(&self, id: &[u8]) -> Option<&'a Set> {
        let mut packages = self.sets.iter().filter(|set| matches!(set.kind, MATERIAL | SOURCE));
        packages.find(|set| bytes(set, 0x4401) == Some(id))
    }

    /// The package to play: the one that the preface names, else the first.
    pub(super) fn material(&self) -> Option<&'a Set> {
        let named = self.kind(PREFACE).find_map(|preface| {
            self.refer(preface, 0x3B08).into_iter().find(|set| set.kind == MATERIAL)
        });
        named.or_else(|| self.kind(MATERIAL).next())
    }

    pub(super) fn tracks(&self, package: &Set) -> Vec<Track<'a>> {
        let tracks = self.refer(package, 0x4403).into_iter();
        let track = |set| Some(Track { set, sequence: *self.refer(set, 0x4803).first()? });
        tracks.filter_map(track).collect()
    }

    /// What a sequence is made of; a track may also hold its only part directly.
    pub(super) fn parts(&self, track: &Track<'a>) -> Vec<&'a Set> {
        if bytes(track.sequence, 0x1001).is_none() {
            return vec![track.sequence];
        }
        self.refer(track.sequence, 0x1001)
    }

    pub(super) fn picture(&self, package: &Set) -> Option<Track<'a>> {
        self.tracks(package).into_iter().find(|track| {
            let label = bytes(track.sequence, 0x0201).and_then(|label| Label::try_from(label).ok());
            label.is_some_and(|label| klv::begins(&label, &PICTURE) || label == OLD_PICTURE)
        })
    }

    /// The clip by which a picture track points at its source.
    pub(super) fn clip(&self, track: &Track<'a>) -> Option<&'a Set> {
        self.parts(track).into_iter().find(|part| part.kind == SOURCE_CLIP)
    }

    /// The package that the picture of `package` was taken from; a chain ends with an identifier of zeros.
    pub(super) fn source(&self, package: &Set) -> Option<&'a Set> {
        let clip = self.clip(&self.picture(package)?)?;
        self.package(bytes(clip, 0x1101)?)
    }
}

/// The item `tag` as stored.
pub(super) fn bytes(set: &Set, tag: u16) -> Option<&[u8]> {
    set.items.iter().find(|item| item.tag == tag).map(|item| &item.value[..])
}
