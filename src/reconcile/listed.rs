//! What clip lists say of the clips of a dump: facts where the media keeps silent, a cross-check where it speaks.

use std::collections::BTreeMap;
use std::fmt::Display;
use std::sync::Arc;

use crate::dump::{Clip, Dump};
use crate::finding::{Code, Finding};
use crate::lists::{ClipList, ListRow, Listed, ListedStop};
use crate::naming::key;
use crate::notes::Noted;
use crate::ratio::Ratio;
use crate::recorded::{FileFacts, Reading, Recorded};
use crate::sourced::Sourced;
use crate::stops::Letter;
use crate::timecode::{Counting, Timecode};
use crate::units::{FNumber, TNumber, Unit};

/// Fills what the files of a clip do not say from the rows that name it; what differs is a finding, and the media stands.
pub fn apply(dump: &Dump, recorded: &mut [Vec<FileFacts>], lists: &[ClipList]) -> Vec<Finding> {
    let index = Index::new(&dump.clips);
    let mut findings = Vec::new();
    let mut met: BTreeMap<usize, &ListRow> = BTreeMap::new();
    for row in lists.iter().flat_map(|list| &list.rows) {
        let clip = match index.find(row) {
            Ok(clip) => clip,
            Err(why) => {
                let message = format!("\"{}\": {why}", row.name.typed);
                findings.push(
                    Finding::new(Code::ListNoMatch, message).at(row.name.place.clone()).hint(
                        "check the name against the card, and that the whole card was copied",
                    ),
                );
                continue;
            }
        };
        if let Some(first) = met.get(&clip) {
            let message = format!(
                "the clip stands in the list twice; the row of \"{}\" before it is used",
                first.name.typed
            );
            findings.push(
                Finding::new(Code::ListNoMatch, message)
                    .at(row.name.place.clone())
                    .hint("keep one row a clip"),
            );
            continue;
        }
        met.insert(clip, row);
        let Some(facts) = recorded.get_mut(clip).and_then(|files| files.first_mut()) else {
            continue;
        };
        let parts = dump.clips.get(clip).map_or(1, |clip| clip.parts.len());
        let mut desk = Desk { row, found: Vec::new() };
        desk.fill(Arc::make_mut(&mut facts.recorded), parts > 1);
        let name = dump.clips.get(clip).map_or("", |clip| clip.name.as_str());
        findings.extend(desk.found.into_iter().map(|finding| finding.clip(name)));
    }
    findings
}

/// Names of the clips and their files, spelt so that any usual spelling finds them.
struct Index {
    names: BTreeMap<String, Vec<usize>>,
    rolls: Vec<Option<String>>,
}

impl Index {
    fn new(clips: &[Clip]) -> Self {
        let mut names: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        let mut add = |name: &str, at: usize| {
            let at_name = names.entry(key(name)).or_default();
            if at_name.last() != Some(&at) {
                at_name.push(at);
            }
        };
        for (at, clip) in clips.iter().enumerate() {
            add(&clip.name, at);
            add(&clip.short, at);
            for part in &clip.parts {
                add(&part.path.file_name().unwrap_or_default().to_string_lossy(), at);
                add(&part.path.file_stem().unwrap_or_default().to_string_lossy(), at);
            }
        }
        for clips in names.values_mut() {
            clips.sort_unstable();
            clips.dedup();
        }
        Self { names, rolls: clips.iter().map(|clip| clip.roll.as_deref().map(key)).collect() }
    }

    /// The one clip that a row names; its reel tells clips of one name apart.
    fn find(&self, row: &ListRow) -> Result<usize, &'static str> {
        // Lists give whole paths, too.
        let typed = row.name.value.rsplit(['/', '\\']).next().unwrap_or_default();
        let found = self.names.get(&key(typed)).map(Vec::as_slice).unwrap_or_default();
        match found {
            [] => Err("no clip of the dump is called so"),
            [clip] => Ok(*clip),
            several => {
                let reel = row.reel.as_ref().map(|reel| key(&reel.value));
                let on_reel =
                    |clip: &&usize| self.rolls.get(**clip).is_some_and(|roll| *roll == reel);
                let mut on_reel = several.iter().filter(on_reel);
                match (on_reel.next(), on_reel.next()) {
                    (Some(clip), None) => Ok(*clip),
                    _ => Err(
                        "several clips of the dump are called so, and the reel does not tell which",
                    ),
                }
            }
        }
    }
}

/// One row at work.
struct Desk<'a> {
    row: &'a ListRow,
    found: Vec<Finding>,
}

impl Desk<'_> {
    fn fill(&mut self, facts: &mut Recorded, spanned: bool) {
        let row = self.row;
        let ListRow { place: _, name: _, reel, start, end, frames, rate, raster, .. } = row;
        let ListRow { focal, stop, focus, lens, maker, model, serial, .. } = row;
        self.fact("frame rate", &mut facts.rate, rate.as_ref());
        self.fact("raster", &mut facts.coded, raster.as_ref());
        let counted = start.as_ref().and_then(|start| self.counted(start, facts));
        self.fact("start timecode", &mut facts.start, counted.as_ref());
        // The parts of a spanned clip stand as one in a list, and the media of the first part speaks for itself.
        if !spanned {
            self.fact("number of frames", &mut facts.frames, frames.as_ref());
        }
        self.check_end(facts, end.as_ref());
        self.fact("reel", &mut facts.reel, reel.as_ref());
        text(&mut facts.lens, lens.as_ref());
        text(&mut facts.maker, maker.as_ref());
        text(&mut facts.model, model.as_ref());
        text(&mut facts.serial, serial.as_ref());
        self.reading("focal length", &mut facts.focal_length, focal.as_ref());
        self.reading("focus distance", &mut facts.focus_distance, focus.as_ref());
        if let Some(stop) = stop {
            let ListedStop { number, letter } = stop.value;
            match letter {
                Some(Letter::T) => {
                    let number = listed::<TNumber>(stop, number);
                    self.reading("T-number", &mut facts.t_number, number.as_ref());
                }
                Some(Letter::F) => {
                    let number = listed::<FNumber>(stop, number);
                    self.reading("f-number", &mut facts.f_number, number.as_ref());
                }
                None => self.say(
                    Code::ListCell,
                    stop,
                    format!(
                        "stop {}: the list does not say whether it is f or T; it is not used",
                        stop.typed
                    ),
                    "name the column f-stop or T-stop",
                ),
            }
        }
    }

    /// The start as a timecode: counted by the rate of clip or list, drop frame where a semicolon or point says so.
    fn counted(&mut self, start: &Noted<String>, facts: &Recorded) -> Option<Noted<Timecode>> {
        let counting = if let Some(media) = &facts.start {
            Some(media.value.counting())
        } else {
            let rate = facts.rate.as_ref()?.value;
            let drop = start.value.contains(';') || start.value.contains('.');
            let base = rate.num().div_ceil(rate.den());
            Counting::new(base, drop).or_else(|| Counting::new(base, false))
        };
        let timecode = counting.and_then(|counting| Timecode::parse(&start.value, counting));
        let Some(value) = timecode else {
            let message = format!("{} is no timecode at this frame rate", start.typed);
            self.say(Code::ListCell, start, message, "check timecode and rate in the list");
            return None;
        };
        Some(Noted {
            value,
            typed: start.typed.clone(),
            origin: start.origin.clone(),
            place: start.place.clone(),
        })
    }

    /// Frames from start and end, where nothing else tells them: lists give the last frame or the one after it, so the
    /// end is only a check, one frame to either side.
    fn check_end(&mut self, facts: &Recorded, end: Option<&Noted<String>>) {
        let (Some(end), Some(start), Some(frames)) = (end, &facts.start, &facts.frames) else {
            return;
        };
        let rate = facts.rate.as_ref().map(|rate| rate.value);
        let base = start.value.counting().base();
        // Where the timecode counts every second picture its labels are no frames.
        if rate.is_some_and(|rate: Ratio| rate.num().div_ceil(rate.den()) != base) {
            return;
        }
        let Some(listed) = Timecode::parse(&end.value, start.value.counting()) else { return };
        let length = start.value.frames_until(listed).unwrap_or_default();
        if length != frames.value && length.saturating_add(1) != frames.value {
            let message = format!(
                "the list ends the clip at {}, the media at {}",
                end.typed,
                start.value.later(frames.value)
            );
            self.say(
                Code::ListDiffers,
                end,
                message,
                "compare the clip with the card: it may be cut short",
            );
        }
    }

    /// A fact: filled where it is absent, a finding where it differs.
    fn fact<T: Clone + PartialEq + Display>(
        &mut self,
        what: &str,
        fact: &mut Option<Sourced<T>>,
        listed: Option<&Noted<T>>,
    ) {
        let Some(listed) = listed else { return };
        match fact {
            None => *fact = Some(Sourced::new(listed.value.clone(), listed.origin.clone())),
            Some(media) if media.value == listed.value => {}
            Some(media) => {
                let message =
                    format!("{what}: the media says {}, the list {}", media.value, listed.typed);
                self.say(
                    Code::ListDiffers,
                    listed,
                    message,
                    "the media was taken; check that the list is of this card",
                );
            }
        }
    }

    /// A number of the lens: the same where the steps of both writings reach each other.
    fn reading<U: Unit>(
        &mut self,
        what: &str,
        reading: &mut Option<Reading<U>>,
        listed: Option<&Noted<Listed<U>>>,
    ) {
        let Some(noted) = listed else { return };
        let Listed { value, half_step } = noted.value;
        match reading {
            None => {
                *reading = Some(Reading {
                    value,
                    raw: noted.typed.clone(),
                    half_step,
                    origin: noted.origin.clone(),
                });
            }
            Some(media) => {
                let (a, b) = (media.value.number(), value.number());
                let same = (a.is_infinite() && b.is_infinite())
                    || (a - b).abs() <= media.half_step + half_step + 1e-9;
                if !same {
                    let message =
                        format!("{what}: the media says {}, the list {}", media.raw, noted.typed);
                    self.say(
                        Code::ListDiffers,
                        noted,
                        message,
                        "the media was taken; check that the list is of this card",
                    );
                }
            }
        }
    }

    fn say<T>(&mut self, code: Code, noted: &Noted<T>, message: String, hint: &str) {
        self.found.push(Finding::new(code, message).at(noted.place.clone()).hint(hint));
    }
}

fn listed<U: Unit>(stop: &Noted<ListedStop>, number: Listed<f64>) -> Option<Noted<Listed<U>>> {
    Some(Noted {
        value: Listed { value: U::of(number.value)?, half_step: number.half_step },
        typed: stop.typed.clone(),
        origin: stop.origin.clone(),
        place: stop.place.clone(),
    })
}

/// A text: spellings differ, so only what is absent is filled.
fn text(fact: &mut Option<Sourced<String>>, listed: Option<&Noted<String>>) {
    if let (None, Some(listed)) = (&fact, listed) {
        *fact = Some(Sourced::new(listed.value.clone(), listed.origin.clone()));
    }
}
