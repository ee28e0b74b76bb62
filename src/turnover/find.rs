//! Which clip an event shows: by the names of clip and file, else by reel and timecode.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use crate::annotation::{Annotation, Shoot};
use crate::cut::{Event, Time};
use crate::naming::{Naming, key};

use super::frames::ClipFrames;

/// Letters of a reel that an EDL has room for.
const REEL: usize = 8;

/// Whether a clip, with the first and last place asked for and its length, will do.
type Fits = fn(&(usize, i64, i64, i64)) -> bool;

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Match {
    /// No clip.
    None,
    /// This one.
    One(usize),
    /// Any of these.
    Several(Vec<usize>),
}

impl Match {
    /// The clip, if it is one.
    pub(super) fn one(&self) -> Option<usize> {
        match self {
            Self::One(at) => Some(*at),
            Self::None | Self::Several(_) => None,
        }
    }
}

/// The clips of a shoot under everything that a cut may call them.
pub(super) struct Clips<'a> {
    shoot: &'a Shoot,
    naming: &'a Naming,
    /// Whole file names, with extension.
    files: BTreeMap<String, BTreeSet<usize>>,
    /// Clip names, and file names without extension.
    names: BTreeMap<String, BTreeSet<usize>>,
    reels: BTreeMap<String, BTreeSet<usize>>,
}

impl<'a> Clips<'a> {
    pub(super) fn of(shoot: &'a Shoot, naming: &'a Naming) -> Self {
        let (mut files, mut names, mut reels) = (BTreeMap::new(), BTreeMap::new(), BTreeMap::new());
        let put = |map: &mut BTreeMap<String, BTreeSet<usize>>, key: String, at: usize| {
            if !key.is_empty() {
                map.entry(key).or_default().insert(at);
            }
        };
        for (at, annotation) in shoot.clips.iter().enumerate() {
            let clip = &annotation.clip;
            put(&mut names, key(&clip.name), at);
            put(&mut reels, reel(&clip.name), at);
            for word in clip.roll.iter().chain(clip.media.reel.as_ref().map(|reel| &reel.value)) {
                put(&mut reels, reel(word), at);
            }
            let shown = clip.files.iter().map(|file| &file.shown);
            let copies = clip.copies.iter().flatten().map(|file| &file.shown);
            for shown in shown.chain(copies) {
                let name = base_name(shown);
                put(&mut files, key(name), at);
                put(&mut names, key(stem(name)), at);
                put(&mut reels, reel(stem(name)), at);
            }
            // A sequence is called by its name without the number, too.
            for file in clip.files.iter().filter(|file| file.row.is_some()) {
                let path = file.path.to_string_lossy();
                put(&mut names, key(stem(base_name(&path))), at);
                put(&mut files, key(base_name(&path)), at);
            }
        }
        Self { shoot, naming, files, names, reels }
    }

    /// The clip of an event.
    pub(super) fn find(&self, event: &Event) -> Match {
        let file = event.file.as_deref().map(unescaped);
        let called: Vec<&str> = file
            .as_deref()
            .into_iter()
            .chain(event.name.as_deref())
            .map(base_name)
            .filter(|name| !name.is_empty())
            .collect();
        for name in called {
            if let Some(found) = self.named(name) {
                return self.narrowed(found, event);
            }
        }
        let reels = event.reel.as_deref().map(reel).filter(|reel| !reel.is_empty());
        let found = reels.and_then(|reel| self.reels.get(&reel));
        found.map_or(Match::None, |found| self.by_timecode(found, event))
    }

    /// True for an event that is found by its reel alone, and whose reel clips of the shoot have.
    pub(super) fn has_reel(&self, event: &Event) -> bool {
        let named = event.file.is_some() || event.name.is_some();
        !named && event.reel.as_deref().is_some_and(|word| self.reels.contains_key(&reel(word)))
    }

    /// The clip of a name alone.
    pub(super) fn called(&self, name: &str) -> Match {
        let found: Vec<usize> = self.named(name).into_iter().flatten().copied().collect();
        match found.as_slice() {
            [] => Match::None,
            [at] => Match::One(*at),
            several => Match::Several(several.to_vec()),
        }
    }

    /// The clips that have a name, spelled as it may be.
    fn named(&self, name: &str) -> Option<&BTreeSet<usize>> {
        let by_pattern = |name: &str| {
            let named = self.naming.name(Path::new(name));
            named.by_pattern.then(|| key(&named.name))
        };
        self.files
            .get(&key(name))
            .or_else(|| self.names.get(&key(name)))
            .or_else(|| self.names.get(&key(stem(name))))
            .or_else(|| self.names.get(&by_pattern(name)?))
    }

    /// One of several that have the name: that whose reel and timecode it is.
    fn narrowed(&self, found: &BTreeSet<usize>, event: &Event) -> Match {
        if found.len() < 2 {
            return found.first().map_or(Match::None, |at| Match::One(*at));
        }
        let same = event.reel.as_deref().and_then(|word| self.reels.get(&reel(word)));
        let of_reel: BTreeSet<usize> =
            same.map(|same| found.intersection(same).copied().collect()).unwrap_or_default();
        let found = if of_reel.is_empty() { found } else { &of_reel };
        if let ([at], _) | (_, [at]) = (
            found.iter().copied().collect::<Vec<_>>().as_slice(),
            self.inside(found, event).as_slice(),
        ) {
            return Match::One(*at);
        }
        Match::Several(found.iter().copied().collect())
    }

    /// Of a reel, the clip in which the source lies.
    fn by_timecode(&self, found: &BTreeSet<usize>, event: &Event) -> Match {
        match self.inside(found, event).as_slice() {
            [] => Match::None,
            [at] => Match::One(*at),
            several => Match::Several(several.to_vec()),
        }
    }

    /// Clips that hold all of the source, else its first frame, else a part of it.
    fn inside(&self, found: &BTreeSet<usize>, event: &Event) -> Vec<usize> {
        let (Time::Label(from), Time::Label(to)) = &event.source else { return Vec::new() };
        let places: Vec<(usize, i64, i64, i64)> = found
            .iter()
            .filter_map(|at| {
                let clip = ClipFrames::of(self.clip(*at)?);
                let end = i64::try_from(clip.frames?).ok()?;
                Some((*at, clip.place(from)?, clip.place(to)?, end))
            })
            .collect();
        let ways: [Fits; 3] = [
            |(_, from, to, end)| *from >= 0 && from < end && *to <= *end,
            |(_, from, _, end)| *from >= 0 && from < end,
            |(_, from, to, end)| from < end && *to > 0,
        ];
        ways.iter()
            .map(|fits| places.iter().filter(|place| fits(place)).map(|(at, ..)| *at).collect())
            .find(|found: &Vec<usize>| !found.is_empty())
            .unwrap_or_default()
    }

    fn clip(&self, at: usize) -> Option<&'a Annotation> {
        self.shoot.clips.get(at)
    }
}

/// A reel as an EDL writes it: letters and digits, whatever their case, and no more than there is room for.
fn reel(name: &str) -> String {
    let plain = name.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_uppercase());
    plain.take(REEL).collect()
}

/// What follows the last separator of a path, whichever system wrote it.
fn base_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

/// A file name without its extension; what follows a point and has more than letters and digits is none.
fn stem(name: &str) -> &str {
    match name.rsplit_once('.') {
        Some((stem, ending))
            if !stem.is_empty()
                && (1..=5).contains(&ending.len())
                && ending.bytes().all(|b| b.is_ascii_alphanumeric()) =>
        {
            stem
        }
        _ => name,
    }
}

/// An address with its `%20`s read (RFC 3986, 2.1); what is no address stays.
fn unescaped(text: &str) -> String {
    if !text.contains("://") {
        return text.to_owned();
    }
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let Some((first, after)) = rest.split_first() {
        let digits = after.get(..2).and_then(|two| std::str::from_utf8(two).ok());
        let digits = digits.filter(|two| two.bytes().all(|b| b.is_ascii_hexdigit()));
        let digits = digits.and_then(|two| u8::from_str_radix(two, 16).ok());
        if let Some(byte) = digits.filter(|_| *first == b'%') {
            bytes.push(byte);
            rest = after.get(2..).unwrap_or_default();
        } else {
            bytes.push(*first);
            rest = after;
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_as_editors_write_them() {
        assert_eq!(unescaped("file:///a/b%20c%2Fd%zz%"), "file:///a/b c/d%zz%");
        assert_eq!(unescaped("100%20"), "100%20");
        assert_eq!(base_name("C:\\x\\A003C002.mov"), "A003C002.mov");
        assert_eq!(stem("A003C002.new.01"), "A003C002.new");
        assert_eq!(stem("take 2. good"), "take 2. good");
        assert_eq!(stem(".mov"), ".mov");
        assert_eq!(reel("a003_c002-1114"), "A003C002");
    }
}
