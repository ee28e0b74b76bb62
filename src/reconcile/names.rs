//! Names of the dump, and which clips a name in the notes means.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::dump::Clip;
use crate::kit::Kit;
use crate::naming::key;
use crate::notes::{ClipNames, NoteRow};

use super::join::Rank;
use super::meant::{self, Spelt};

/// Names of the dump, spelt so that any usual spelling in the notes finds them.
pub(super) struct Index {
    /// Full clip names and whole file names.
    full: BTreeMap<String, Vec<usize>>,
    /// Clip parts such as `C007`.
    short: BTreeMap<String, Vec<usize>>,
    /// Clips of a roll in order of the dump.
    rolls: BTreeMap<String, Vec<usize>>,
    /// Clips by roll, letters and number, for ranges.
    numbered: BTreeMap<(String, String, u64), Vec<usize>>,
    /// What tells clips of one name apart.
    of_clip: Vec<Mark>,
    /// Clips by their names as spelt.
    spelt: Spelt,
}

/// The clips that a name means: how closely it speaks of them, in which words, and which.
type Meant = (Rank, Arc<str>, Vec<usize>);

/// What tells clips of one name apart.
struct Mark {
    roll: String,
    /// Other names of its roll: folders that it lies in, where its own name says no roll.
    folders: Vec<String>,
    cameras: Vec<String>,
    folder: PathBuf,
    size: u64,
    /// The roll stands in the clip's own name, so that no other shot can have it.
    whole: bool,
    /// Letters and number of its short name.
    number: Option<(String, u64)>,
}

impl Mark {
    fn of(clip: &Clip, cameras: Vec<String>) -> Self {
        let mut rolls = clip.rolls().into_iter().map(key);
        let roll = rolls.next().unwrap_or_default();
        let folder = clip.parts.first().and_then(|part| part.path.parent());
        Self {
            roll,
            folders: rolls.collect(),
            cameras,
            folder: folder.unwrap_or(Path::new("")).to_owned(),
            size: clip.parts.iter().fold(0, |sum, part| sum.saturating_add(part.size)),
            whole: clip.name != clip.short,
            number: numbered(&key(&clip.short)),
        }
    }

    /// True if its roll, or a folder that may stand for it, is called so.
    fn is_on(&self, roll: &str) -> bool {
        self.roll == roll || self.folders.iter().any(|folder| folder == roll)
    }

    /// True if a camera of the kit that claims it is called so, or if none does.
    fn may_be_of(&self, camera: &str) -> bool {
        self.cameras.is_empty() || self.cameras.iter().any(|name| name == camera)
    }

    /// True if two clips of one name and roll are one shot: copies of it, or a proxy beside it.
    fn same_shot(&self, other: &Self) -> bool {
        (self.whole && other.whole) || self.folder == other.folder || self.size == other.size
    }
}

impl Index {
    pub(super) fn new(clips: &[Clip], kit: &Kit) -> Self {
        let mut index = Self {
            full: BTreeMap::new(),
            short: BTreeMap::new(),
            rolls: BTreeMap::new(),
            numbered: BTreeMap::new(),
            of_clip: Vec::new(),
            spelt: Spelt::default(),
        };
        for (at, clip) in clips.iter().enumerate() {
            let names = super::camera::cameras_of(kit, clip).into_iter().flat_map(|camera| {
                [Some(&camera.id), camera.name.as_ref(), camera.serial.as_ref()]
            });
            let mark = Mark::of(clip, names.flatten().map(|name| key(name)).collect());
            let mut full = vec![key(&clip.name)];
            for part in &clip.parts {
                let path = part.row.as_ref().map_or(&part.path, |row| &row.stem);
                full.push(key(&path.file_stem().unwrap_or_default().to_string_lossy()));
            }
            full.sort();
            full.dedup();
            for name in full {
                index.full.entry(name).or_default().push(at);
            }
            index.short.entry(key(&clip.short)).or_default().push(at);
            index.spelt.add(&clip.short, at);
            index.spelt.add(&clip.name, at);
            if let Some((letters, number)) = mark.number.clone() {
                index.numbered.entry((mark.roll.clone(), letters, number)).or_default().push(at);
            }
            let mut rolls: Vec<&String> =
                std::iter::once(&mark.roll).chain(&mark.folders).collect();
            rolls.sort_unstable();
            rolls.dedup();
            for roll in rolls {
                index.rolls.entry(roll.clone()).or_default().push(at);
            }
            index.of_clip.push(mark);
        }
        index
    }

    /// The clips of a roll, in order of the dump.
    pub(super) fn on_roll(&self, roll: &str) -> &[usize] {
        self.rolls.get(&key(roll)).map(Vec::as_slice).unwrap_or_default()
    }

    /// Rolls, as keys, with their clips.
    pub(super) fn rolls(&self) -> impl Iterator<Item = (&String, &[usize])> {
        self.rolls.iter().map(|(roll, clips)| (roll, clips.as_slice()))
    }

    /// True if a clip can be one of the roll and camera that a row names.
    pub(super) fn may_be(&self, clip: usize, row: &NoteRow) -> bool {
        let Some(mark) = self.of_clip.get(clip) else { return false };
        row.roll.as_ref().is_none_or(|roll| mark.is_on(&key(&roll.value)))
            && row.camera.as_ref().is_none_or(|camera| mark.may_be_of(&key(&camera.value)))
    }

    /// True if clips are one shot: copies of it, or a proxy beside it.
    pub(super) fn one_shot(&self, clips: &[usize]) -> bool {
        let marks: Vec<&Mark> = clips.iter().filter_map(|clip| self.of_clip.get(*clip)).collect();
        marks.split_first().is_none_or(|(first, others)| {
            let named = |mark: &&Mark| mark.roll == first.roll && mark.number == first.number;
            others.iter().all(|mark| named(mark) && mark.same_shot(first))
        })
    }

    /// The clips that one name or range of a row means, and how they were found; the error is what was typed and why
    /// it means none.
    pub(super) fn find(
        &self,
        names: &ClipNames,
        row: &NoteRow,
    ) -> Result<Meant, (String, &'static str)> {
        match names {
            ClipNames::One(typed) => match self.one(typed, row) {
                Ok(clips) => Ok((Rank::Clip, format!("clip {typed}").into(), clips)),
                Err(why) => Err((typed.clone(), why)),
            },
            ClipNames::Pattern(typed) => match self.pattern(typed, row) {
                Ok(clips) => Ok((Rank::Range, format!("pattern {typed}").into(), clips)),
                Err(why) => Err((typed.clone(), why)),
            },
            // `flatten` leaves none.
            ClipNames::Either { typed, .. } => {
                Err((typed.clone(), "no clip of the dump has this name"))
            }
            ClipNames::Range(from, to) => {
                let typed = format!("{from}-{to}");
                match self.range(from, to, row) {
                    Ok(clips) => Ok((Rank::Range, format!("range {typed}").into(), clips)),
                    Err(why) => Err((typed, why)),
                }
            }
        }
    }

    /// The names of a row, each doubtful one taken as the dump has it.
    pub(super) fn meant<'n>(
        &self,
        names: &'n [ClipNames],
        row: &NoteRow,
    ) -> Vec<std::borrow::Cow<'n, ClipNames>> {
        meant::flatten(names, &|typed| self.one(typed, row).is_ok())
    }

    /// The clips that look like a name with a star, of the row's roll and camera.
    fn pattern(&self, typed: &str, row: &NoteRow) -> Result<Vec<usize>, &'static str> {
        let found = self.spelt.find(typed).ok_or("there are too many names with a star")?;
        let clips: Vec<usize> = found.into_iter().filter(|clip| self.may_be(*clip, row)).collect();
        let roll = |clip: &usize| self.of_clip.get(*clip).map(|mark| mark.roll.as_str());
        match clips.first() {
            None => Err("no clip of the dump looks so"),
            Some(first) if clips.iter().any(|clip| roll(clip) != roll(first)) => {
                Err("clips of several rolls look so; write the roll too")
            }
            Some(_) => Ok(clips),
        }
    }

    fn one(&self, typed: &str, row: &NoteRow) -> Result<Vec<usize>, &'static str> {
        // Whole paths are pasted, too.
        let last = typed.trim_end_matches(['/', '\\']).rsplit(['/', '\\']).next().unwrap_or(typed);
        let whole = key(typed);
        let last = Some(key(last)).filter(|last| *last != whole);
        let stem = typed.rsplit_once('.').map(|(stem, _)| stem);
        let stem = stem.map(|stem| key(stem.rsplit(['/', '\\']).next().unwrap_or(stem)));
        let with_roll = row.roll.as_ref().map(|roll| key(&format!("{}{typed}", roll.value)));
        let spellings = || [Some(&whole), stem.as_ref(), last.as_ref()].into_iter().flatten();
        let mut full = with_roll.iter().chain(spellings()).filter_map(|name| self.full.get(name));
        let short = || spellings().find_map(|name| self.short.get(name));
        if let Some(clips) = full.next().or_else(short) {
            return self.narrow(clips, row);
        }
        match self.by_number(&whole, row).or_else(|| self.begun(&whole)) {
            Some(clips) => self.narrow(&clips, row),
            None => Err("no clip of the dump has this name"),
        }
    }

    /// `7` beside a roll: the clip of that number, if all of the roll are called by the same letters.
    fn by_number(&self, whole: &str, row: &NoteRow) -> Option<Vec<usize>> {
        let number: u64 = whole.parse().ok()?;
        let roll = key(&row.roll.as_ref()?.value);
        let from = (roll.clone(), String::new(), 0);
        let mut of_roll = self.numbered.range(from..).take_while(|((on, ..), _)| *on == roll);
        let ((_, letters, _), _) = of_roll.next()?;
        let clips = self.numbered.get(&(roll.clone(), letters.clone(), number))?;
        let others = self.numbered.range((roll.clone(), format!("{letters}\u{0}"), 0)..).next();
        others.is_none_or(|((on, ..), _)| *on != roll).then(|| clips.clone())
    }

    /// A file name whose end was left away: `A003C007_1114` of `A003C007_1114_KV.mov`, if one clip alone begins so.
    fn begun(&self, whole: &str) -> Option<Vec<usize>> {
        if whole.len() < 4 || !whole.contains(|c: char| c.is_ascii_digit()) {
            return None;
        }
        let ends_in_digit = whole.ends_with(|c: char| c.is_ascii_digit());
        let mut met = self.full.range(whole.to_owned()..).filter(|(name, _)| {
            let rest = name.strip_prefix(whole).unwrap_or_default();
            !(ends_in_digit && rest.starts_with(|c: char| c.is_ascii_digit()))
        });
        let (name, clips) = met.next().filter(|(name, _)| name.starts_with(whole))?;
        let another = |(other, more): (&String, &Vec<usize>)| {
            other.starts_with(whole) && other != name && more != clips
        };
        (!met.next().is_some_and(another)).then(|| clips.clone())
    }

    /// Clips of one name: those of the row's roll and camera; more than one roll left is no answer.
    /// Many cameras call the first clip of every card the same. A clip that no camera of the kit claims may be any camera's.
    fn narrow(&self, clips: &[usize], row: &NoteRow) -> Result<Vec<usize>, &'static str> {
        let left: Vec<usize> =
            clips.iter().copied().filter(|clip| self.may_be(*clip, row)).collect();
        let mut marks = left.iter().filter_map(|clip| self.of_clip.get(*clip));
        let first = marks.next().ok_or("no clip of this roll and camera has this name")?;
        for mark in marks {
            if mark.roll != first.roll {
                return Err("clips of several rolls have this name; write the roll too");
            }
            if !mark.same_shot(first) {
                return Err(
                    "different clips of this roll have this name; give each card a folder named for its roll",
                );
            }
        }
        Ok(left)
    }

    fn range(&self, from: &str, to: &str, row: &NoteRow) -> Result<Vec<usize>, &'static str> {
        let first = self.one(from, row)?;
        let clip = first.first().and_then(|clip| self.of_clip.get(*clip));
        let mark = clip.ok_or("the first clip of the range is not in the dump")?;
        let (letters, low) =
            mark.number.clone().ok_or("the range does not begin with a numbered clip")?;
        let name = key(to.rsplit_once('.').map_or(to, |(stem, _)| stem));
        let short = name.strip_prefix(mark.roll.as_str()).filter(|short| numbered(short).is_some());
        let (last_letters, high) = [short, Some(name.as_str())]
            .into_iter()
            .flatten()
            .filter_map(numbered)
            .find(|(last, _)| *last == letters || last.is_empty())
            .ok_or("both ends of a range must be numbered clips of one roll")?;
        if high < low || last_letters.len() > letters.len() {
            return Err("the range runs backward");
        }
        let roll = mark.roll.clone();
        let span = (roll.clone(), letters.clone(), low)..=(roll, letters, high);
        let mut clips = Vec::new();
        for (_, named) in self.numbered.range(span) {
            clips.extend(self.narrow(named, row)?);
        }
        if clips.is_empty() { Err("no clip of the dump lies in this range") } else { Ok(clips) }
    }
}

/// Letters and the number at the end of a key.
fn numbered(key: &str) -> Option<(String, u64)> {
    let letters = key.trim_end_matches(|c: char| c.is_ascii_digit());
    let number = key.get(letters.len()..)?.parse().ok()?;
    Some((letters.to_owned(), number))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spellings_of_one_name_share_a_key() {
        for name in ["A003C007", "a003c007", "A003_C007", "A3 C7", "A003-C007"] {
            assert_eq!(key(name), "a3c7", "{name}");
        }
        assert_ne!(key("C08"), key("C80"));
        assert_eq!(key("C100"), "c100");
        assert_eq!(key("C000"), "c0");
        assert_ne!(key("MV07-2"), key("MV072"));
        assert_eq!(numbered("c9"), Some(("c".to_owned(), 9)));
    }
}
