//! Which rows of the notes speak of which clip, and how closely.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::meant::{self, Spelt};
use crate::dump::{Clip, Dump};
use crate::finding::{Code, Finding, Found, either, near};
use crate::kit::Kit;
use crate::naming::key;

use crate::notes::{ClipNames, NoteRow, Notes, Target};

/// How closely a row speaks of a clip; higher ranks win.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Rank {
    /// The roll as a whole.
    Roll,
    /// A range of clips.
    Range,
    /// The clip by name.
    Clip,
    /// The clip, or part of it, from a timecode on.
    Timecode,
}

/// A row that speaks of a clip.
#[derive(Clone, Copy)]
pub(super) struct Joined<'a> {
    pub(super) rank: Rank,
    /// Number of the row among all notes.
    pub(super) id: usize,
    pub(super) row: &'a NoteRow,
}

/// Most rows for one clip; a day of notes stays far below, and memory grows with clips times rows.
const MOST_ROWS: usize = 500;

/// For each clip of the dump, in order, the rows that speak of it, in file order.
/// Rows that speak of no clip are findings.
pub(super) fn join<'a>(dump: &Dump, notes: &'a [Notes], kit: &Kit) -> Found<Vec<Vec<Joined<'a>>>> {
    let index = Index::new(&dump.clips, kit);
    let mut joined: Vec<Vec<Joined<'a>>> = dump.clips.iter().map(|_| Vec::new()).collect();
    let mut findings = Vec::new();
    let mut crowded: Option<&NoteRow> = None;
    for (id, row) in notes.iter().flat_map(|notes| &notes.rows).enumerate() {
        let mut met = Vec::new();
        match &row.target {
            Target::Roll(roll) => {
                let clips = index.rolls.get(&key(roll)).cloned().unwrap_or_default();
                if clips.is_empty() {
                    findings.push(nobody(row, roll, "no clip of the dump is on this roll"));
                }
                met.extend(clips.into_iter().map(|clip| (Rank::Roll, clip)));
            }
            Target::Clips(names) => {
                let is_one = |typed: &str| index.one(typed, row).is_ok();
                for name in meant::flatten(names, &is_one) {
                    match index.find(&name, row) {
                        Ok((rank, clips)) => met.extend(clips.into_iter().map(|clip| (rank, clip))),
                        Err((typed, why)) => findings.push(nobody(row, &typed, why)),
                    }
                }
            }
        }
        met.sort_by_key(|(rank, clip)| (*clip, std::cmp::Reverse(*rank)));
        met.dedup_by_key(|(_, clip)| *clip);
        for (rank, clip) in met {
            let rank = if row.from.is_some() { Rank::Timecode } else { rank };
            match joined.get_mut(clip) {
                Some(rows) if rows.len() < MOST_ROWS => rows.push(Joined { rank, id, row }),
                _ => {
                    crowded.get_or_insert(row);
                }
            }
        }
    }
    if let Some(row) = crowded {
        let message = format!("more than {MOST_ROWS} rows speak of one clip");
        let finding = Finding::new(Code::NotesRow, message).at(row.place.clone());
        findings
            .push(finding.hint("from this row on such rows were not used; split the notes by day"));
    }
    offer_names(&mut findings, dump);
    Found { value: joined, findings }
}

fn nobody(row: &NoteRow, typed: &str, why: &str) -> Finding {
    Finding::new(Code::NotesNoMatch, format!("\"{typed}\": {why}"))
        .at(row.named.clone())
        .hint(NO_SUCH_CLIP)
}

const NO_SUCH_CLIP: &str = "check the name against the card, and that the whole card was copied";
/// Rows for which names near to theirs are looked up; whoever has more of them has another dump.
const MOST_NEAR: usize = 100;

/// Adds to rows that name no clip the names of the dump that are nearest to theirs.
fn offer_names(findings: &mut [Finding], dump: &Dump) {
    let names: Vec<&str> =
        dump.clips.iter().flat_map(|clip| [clip.name.as_str(), clip.short.as_str()]).collect();
    let strangers = findings.iter_mut().filter(|finding| finding.code == Code::NotesNoMatch);
    for finding in strangers.take(MOST_NEAR) {
        let typed = finding.message.split('"').nth(1).unwrap_or_default();
        let near = near(typed, names.iter().copied());
        if !near.is_empty() {
            finding.hint = Some(format!("did you mean {}? {NO_SUCH_CLIP}", either(&near)));
        }
    }
}

/// Names of the dump, spelt so that any usual spelling in the notes finds them.
struct Index {
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

/// What tells clips of one name apart.
struct Mark {
    roll: String,
    cameras: Vec<String>,
    folder: PathBuf,
    size: u64,
    /// The roll stands in the clip's own name, so that no other shot can have it.
    whole: bool,
    /// Letters and number of its short name.
    number: Option<(String, u64)>,
}

impl Mark {
    fn of(clip: &Clip, roll: String, cameras: Vec<String>) -> Self {
        let folder = clip.parts.first().and_then(|part| part.path.parent());
        Self {
            roll,
            cameras,
            folder: folder.unwrap_or(Path::new("")).to_owned(),
            size: clip.parts.iter().fold(0, |sum, part| sum.saturating_add(part.size)),
            whole: clip.name != clip.short,
            number: numbered(&key(&clip.short)),
        }
    }

    /// True if two clips of one name and roll are one shot: copies of it, or a proxy beside it.
    fn same_shot(&self, other: &Self) -> bool {
        (self.whole && other.whole) || self.folder == other.folder || self.size == other.size
    }
}

impl Index {
    fn new(clips: &[Clip], kit: &Kit) -> Self {
        let mut index = Self {
            full: BTreeMap::new(),
            short: BTreeMap::new(),
            rolls: BTreeMap::new(),
            numbered: BTreeMap::new(),
            of_clip: Vec::new(),
            spelt: Spelt::default(),
        };
        for (at, clip) in clips.iter().enumerate() {
            let roll = clip.roll.as_deref().map(key).unwrap_or_default();
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
            if let Some((letters, number)) = numbered(&key(&clip.short)) {
                index.numbered.entry((roll.clone(), letters, number)).or_default().push(at);
            }
            index.rolls.entry(roll.clone()).or_default().push(at);
            let names = super::rig::cameras_of(kit, clip).flat_map(|camera| {
                [Some(&camera.id), camera.name.as_ref(), camera.serial.as_ref()]
            });
            let cameras = names.flatten().map(|name| key(name)).collect();
            index.of_clip.push(Mark::of(clip, roll, cameras));
        }
        index
    }

    /// The clips that one name or range of a row means; the error is what was typed and why it means none.
    fn find(
        &self,
        names: &ClipNames,
        row: &NoteRow,
    ) -> Result<(Rank, Vec<usize>), (String, &'static str)> {
        match names {
            ClipNames::One(typed) => self
                .one(typed, row)
                .map(|clips| (Rank::Clip, clips))
                .map_err(|why| (typed.clone(), why)),
            ClipNames::Pattern(typed) => self
                .pattern(typed, row)
                .map(|clips| (Rank::Range, clips))
                .map_err(|why| (typed.clone(), why)),
            // `flatten` leaves none.
            ClipNames::Either { typed, .. } => {
                Err((typed.clone(), "no clip of the dump has this name"))
            }
            ClipNames::Range(from, to) => {
                let typed = format!("{from}-{to}");
                self.range(from, to, row)
                    .map(|clips| (Rank::Range, clips))
                    .map_err(|why| (typed, why))
            }
        }
    }

    /// The clips that look like a name with a star, of the row's roll and camera.
    fn pattern(&self, typed: &str, row: &NoteRow) -> Result<Vec<usize>, &'static str> {
        let found = self.spelt.find(typed).ok_or("there are too many names with a star")?;
        let mut clips = Vec::new();
        for clip in found {
            clips.extend(self.narrow(&[clip], row).unwrap_or_default());
        }
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
        let whole = key(typed);
        let stem = typed.rsplit_once('.').map(|(stem, _)| key(stem));
        let with_roll = row.roll.as_ref().map(|roll| key(&format!("{}{typed}", roll.value)));
        let full = [with_roll.as_ref(), Some(&whole), stem.as_ref()].into_iter().flatten();
        let mut found = full.filter_map(|name| self.full.get(name));
        let short = || self.short.get(&whole).or_else(|| self.short.get(stem.as_ref()?));
        let clips = found.next().or_else(short).ok_or("no clip of the dump has this name")?;
        self.narrow(clips, row)
    }

    /// Clips of one name: those of the row's roll and camera; more than one roll left is no answer.
    /// Many cameras call the first clip of every card the same. A clip that no camera of the kit claims may be any camera's.
    fn narrow(&self, clips: &[usize], row: &NoteRow) -> Result<Vec<usize>, &'static str> {
        let roll = row.roll.as_ref().map(|roll| key(&roll.value));
        let camera = row.camera.as_ref().map(|camera| key(&camera.value));
        let fits = |clip: &usize| {
            self.of_clip.get(*clip).is_some_and(|mark| {
                roll.as_ref().is_none_or(|roll| *roll == mark.roll)
                    && (mark.cameras.is_empty()
                        || camera.as_ref().is_none_or(|camera| mark.cameras.contains(camera)))
            })
        };
        let left: Vec<usize> = clips.iter().copied().filter(fits).collect();
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
