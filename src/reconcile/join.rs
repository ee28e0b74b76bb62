//! Which rows of the notes speak of which clip, how closely, from which frame on, and why.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::dump::Dump;
use crate::finding::{Code, Finding, Found, either, near};
use crate::naming::key;
use crate::notes::{NoteRow, Noted, Notes, Target, TimeOfDay};

use super::World;
use super::moments::{Moments, frame_at};
use super::names::Index;
use super::watch::Watch;

/// How closely a row speaks of a clip; higher ranks win.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Rank {
    /// The roll as a whole.
    Roll,
    /// A range of clips.
    Range,
    /// The clip by name, or by the time at which it ran.
    Clip,
    /// The clip, or part of it, from a timecode or a second of the day on.
    Timecode,
}

/// A row that speaks of a clip.
#[derive(Clone, Debug)]
pub(super) struct Joined<'a> {
    pub(super) rank: Rank,
    /// Frame of the clip from which it holds.
    pub(super) frame: u64,
    pub(super) row: &'a NoteRow,
    /// What made it speak of the clip, in words.
    pub(super) why: Arc<str>,
}

/// Most rows for one clip; a day of notes stays far below, and memory grows with clips times rows.
const MOST_ROWS: usize = 500;
/// Most rows that begin inside one clip; nobody types more, and work grows with their square.
const MOST_CHANGES: usize = 200;
/// Most clips that all rows may speak of, each counted for each row: a hundred rows for every clip of the largest dump.
const MOST_PAIRS: usize = 10_000_000;

/// For each clip of the dump, in order, the rows that speak of it, in file order.
/// Rows that speak of no clip are findings.
pub(super) fn join<'a>(world: &World<'_>, notes: &'a [Notes]) -> Found<Vec<Vec<Joined<'a>>>> {
    let index = Index::new(&world.dump.clips, world.kit);
    let rows = || notes.iter().flat_map(|notes| &notes.rows);
    // Rows that say when and not which are looked up by time; most days have none.
    let timed = |row: &NoteRow| row.from.is_some() || row.time.is_some();
    let needed = rows().any(|row| timed(row) && !matches!(row.target, Target::Clips(_)));
    let moments = if needed { Moments::new(world, &index) } else { Moments::default() };
    let mut desk = Desk {
        world,
        index: &index,
        moments: &moments,
        joined: world.facts.iter().map(|_| Vec::new()).collect(),
        changes: BTreeMap::new(),
        watch: Watch::default(),
        findings: Vec::new(),
        crowded: None,
        left: MOST_PAIRS,
    };
    for row in rows() {
        desk.seat(row);
    }
    let watch = std::mem::take(&mut desk.watch);
    watch.settle(world, &mut desk.findings, &mut desk.joined);
    if let Some(row) = desk.crowded {
        let message = format!(
            "more than {MOST_ROWS} rows speak of one clip, or more than {MOST_CHANGES} with a timecode"
        );
        let finding = Finding::new(Code::NotesRow, message).at(row.place.clone());
        let hint = "from this row on such rows were not used; split the notes by day";
        desk.findings.push(finding.hint(hint));
    }
    offer_names(&mut desk.findings, world.dump);
    Found { value: desk.joined, findings: desk.findings }
}

const NO_SUCH_CLIP: &str = "check the name against the card, and that the whole card was copied";
/// Rows for which names near to theirs are looked up; whoever has more of them has another dump.
const MOST_NEAR: usize = 100;

/// Adds to rows that name no clip the names of the dump that are nearest to theirs.
fn offer_names(findings: &mut [Finding], dump: &Dump) {
    let names: Vec<&str> =
        dump.clips.iter().flat_map(|clip| [clip.name.as_str(), clip.short.as_str()]).collect();
    let stranger = |finding: &&mut Finding| finding.hint.as_deref() == Some(NO_SUCH_CLIP);
    for finding in findings.iter_mut().filter(stranger).take(MOST_NEAR) {
        let typed = finding.message.split('"').nth(1).unwrap_or_default();
        let near = near(typed, names.iter().copied());
        if !near.is_empty() {
            finding.hint = Some(format!("did you mean {}? {NO_SUCH_CLIP}", either(&near)));
        }
    }
}

/// Rows on their way to their clips.
struct Desk<'w, 'a> {
    world: &'w World<'w>,
    index: &'w Index,
    moments: &'w Moments,
    joined: Vec<Vec<Joined<'a>>>,
    /// Rows that begin inside a clip.
    changes: BTreeMap<usize, usize>,
    /// Rows with a time of day, and their clips.
    watch: Watch<'a>,
    findings: Vec<Finding>,
    /// The first row for which there was no room.
    crowded: Option<&'a NoteRow>,
    /// How many more clips rows may speak of.
    left: usize,
}

impl<'a> Desk<'_, 'a> {
    fn seat(&mut self, row: &'a NoteRow) {
        match (&row.target, &row.from, &row.time) {
            (Target::Clips(_), from, time) => self.named(row, from.as_ref(), time.as_ref()),
            (Target::Roll(roll), None, None) => {
                let clips = self.index.on_roll(roll);
                if clips.is_empty() {
                    return self.nobody(row, roll, "no clip of the dump is on this roll");
                }
                let why: Arc<str> = format!("roll {roll}").into();
                for clip in clips {
                    self.put(
                        *clip,
                        Joined { rank: Rank::Roll, frame: 0, row, why: Arc::clone(&why) },
                    );
                }
            }
            (Target::Roll(roll), ..) if self.index.on_roll(roll).is_empty() => {
                self.nobody(row, roll, "no clip of the dump is on this roll");
            }
            (Target::Roll(roll), Some(from), _) => self.at_timecode(row, from, Some(roll)),
            (Target::Roll(roll), None, Some(time)) => self.at_time(row, time, Some(roll)),
            (Target::Then, Some(from), _) => self.at_timecode(row, from, None),
            (Target::Then, None, Some(time)) => self.at_time(row, time, None),
            // The reader of notes makes no such row.
            (Target::Then, None, None) => {}
        }
    }

    /// A row that names clips.
    fn named(
        &mut self,
        row: &'a NoteRow,
        from: Option<&Noted<String>>,
        time: Option<&'a Noted<TimeOfDay>>,
    ) {
        let Target::Clips(names) = &row.target else { return };
        let mut met = Vec::new();
        for name in &self.index.meant(names, row) {
            match self.index.find(name, row) {
                Ok((rank, why, clips)) => {
                    if clips.len() > self.left {
                        self.crowded.get_or_insert(row);
                        continue;
                    }
                    // Spent here as well as where they are put: hundreds of ranges in one cell cost, too.
                    self.left = self.left.saturating_sub(clips.len() / 2);
                    met.extend(clips.into_iter().map(|clip| (rank, clip, Arc::clone(&why))));
                }
                Err((typed, why)) => self.nobody(row, &typed, why),
            }
        }
        met.sort_by_key(|(rank, clip, _)| (*clip, std::cmp::Reverse(*rank)));
        met.dedup_by_key(|(_, clip, _)| *clip);
        if let Some(from) = from {
            return self.begins_at(row, from, met);
        }
        let clips: Vec<usize> = met.iter().map(|(_, clip, _)| *clip).collect();
        let Some(time) = time else {
            for (rank, clip, why) in met {
                self.put(clip, Joined { rank, frame: 0, row, why });
            }
            return;
        };
        if self.index.one_shot(&clips) {
            for (_, clip, why) in met {
                self.watch.named(self.world, clip, (row, time), why);
            }
            return;
        }
        let ran = |clip: &usize| Watch::ran_then(self.world, *clip, time.value);
        let then: Vec<usize> = clips.iter().copied().filter(ran).collect();
        self.then(row, time, &then, || "none of the clips named ran then".to_owned());
    }

    /// A row that names clips and holds from a timecode on: for those that run over it.
    fn begins_at(
        &mut self,
        row: &'a NoteRow,
        from: &Noted<String>,
        met: Vec<(Rank, usize, Arc<str>)>,
    ) {
        let mut missed = None;
        let mut placed = false;
        for (_, clip, why) in met {
            match self.frame(clip, row, &from.value) {
                Ok(None) => placed = true,
                Ok(Some(frame)) => {
                    placed = true;
                    let why = format!("timecode {} in {why}", from.typed).into();
                    self.put(clip, Joined { rank: Rank::Timecode, frame, row, why });
                }
                Err(why) => {
                    missed.get_or_insert((clip, why));
                }
            }
        }
        if let (false, Some((clip, why))) = (placed, missed) {
            let name = self.world.facts.get(clip).map(|facts| Arc::clone(&facts.name));
            let message = format!("timecode \"{}\": {why}", from.typed);
            let finding = Finding::new(Code::NotesNoMatch, message).at(from.place.clone());
            let finding = finding
                .hint("check the timecode against the clip's start and end; the row was not used");
            self.findings.push(match name {
                Some(name) => finding.clip(name),
                None => finding,
            });
        }
    }

    /// A row that holds from a timecode on, for whichever clip of a roll or of all runs over it.
    fn at_timecode(&mut self, row: &'a NoteRow, from: &Noted<String>, roll: Option<&str>) {
        let on = roll.map(key).unwrap_or_default();
        let clips = self.moments.at_timecode(self.index, &on, row, &from.value);
        let which = roll.map_or_else(|| "the dump".to_owned(), |roll| format!("roll {roll}"));
        let refused = match clips[..] {
            [] => Some(format!("no clip of {which} runs over it")),
            _ if !self.index.one_shot(&clips) => {
                Some(format!("{} run over it", self.names(&clips)))
            }
            _ => None,
        };
        if let Some(why) = refused {
            let message = format!("timecode \"{}\": {why}", from.typed);
            let hint =
                "write the clip, or roll and camera, and check the timecode; the row was not used";
            self.findings
                .push(Finding::new(Code::NotesNoMatch, message).at(from.place.clone()).hint(hint));
            return;
        }
        for clip in clips {
            if let Ok(Some(frame)) = self.frame(clip, row, &from.value) {
                let why = format!("timecode {} on {which}", from.typed).into();
                self.put(clip, Joined { rank: Rank::Timecode, frame, row, why });
            }
        }
    }

    /// A row that holds for whichever clip of a roll or of all ran at a time of day.
    fn at_time(&mut self, row: &'a NoteRow, time: &'a Noted<TimeOfDay>, roll: Option<&str>) {
        let on = roll.map(key).unwrap_or_default();
        let clips = self.moments.at_time(self.index, &on, row, time.value);
        let nearest = self.moments.nearest(&on, time.value);
        let which = roll.map_or_else(|| "the dump".to_owned(), |roll| format!("roll {roll}"));
        let world = self.world;
        let index = self.index;
        self.then(row, time, &clips, || {
            let near = nearest.filter(|clip| index.may_be(*clip, row));
            Watch::nobody(world, near, &which, time.value)
        });
    }

    /// Gives a row with a time of day to the clips that ran then, if they are one shot.
    fn then(
        &mut self,
        row: &'a NoteRow,
        time: &'a Noted<TimeOfDay>,
        clips: &[usize],
        none: impl Fn() -> String,
    ) {
        let refused = if clips.is_empty() {
            Some(none())
        } else if self.index.one_shot(clips) {
            None
        } else {
            Some(format!("{} ran then", self.names(clips)))
        };
        if let Some(why) = refused {
            let message = format!("time of day \"{}\": {why}", time.typed);
            let hint = "write the clip, or roll and camera; where a camera's clock was off, run with --clock";
            self.findings
                .push(Finding::new(Code::NotesNoMatch, message).at(time.place.clone()).hint(hint));
            return;
        }
        for clip in clips {
            self.watch.at(self.world, *clip, (row, time));
        }
    }

    /// The frame of a clip at a timecode; `None` where there is no room for one more change in it.
    fn frame(&mut self, clip: usize, row: &'a NoteRow, typed: &str) -> Result<Option<u64>, String> {
        let facts = self.world.facts.get(clip).ok_or("there is no such clip")?;
        let frame = frame_at(facts, typed)?;
        let changes = self.changes.entry(clip).or_default();
        *changes += 1;
        if *changes > MOST_CHANGES {
            self.crowded.get_or_insert(row);
            return Ok(None);
        }
        Ok(Some(frame))
    }

    fn put(&mut self, clip: usize, joined: Joined<'a>) {
        match self.joined.get_mut(clip) {
            Some(rows) if rows.len() < MOST_ROWS && self.left > 0 => {
                self.left -= 1;
                rows.push(joined);
            }
            _ => {
                self.crowded.get_or_insert(joined.row);
            }
        }
    }

    /// The first few clips by name.
    fn names(&self, clips: &[usize]) -> String {
        let names = clips.iter().filter_map(|clip| self.world.facts.get(*clip));
        let names: Vec<&str> = names.take(3).map(|facts| facts.name.as_ref()).collect();
        let more = if clips.len() > 3 { " and others" } else { "" };
        format!("{}{more}", names.join(", "))
    }

    fn nobody(&mut self, row: &NoteRow, typed: &str, why: &str) {
        self.findings.push(
            Finding::new(Code::NotesNoMatch, format!("\"{typed}\": {why}"))
                .at(row.named.clone())
                .hint(NO_SUCH_CLIP),
        );
    }
}
