//! `check`: whether what an earlier run wrote still agrees with media, notes and kit, and if not, what changed.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use anyhow::Result;

use crate::annotation::Shoot;
use crate::cli::Check;
use crate::dump::walk::{There, read_input, shown, there};
use crate::folder::{JOURNAL, RECORD, usual_output};
use crate::output::Stamp;
use crate::output::check::{Cause, Checked, Report, State};
use crate::output::last::{self, Last, LastFile};
use crate::outputs;
use crate::watch::Watch;

use super::prepared::{Faults, prepare};
use super::{Look, Outcome, options, refuse};

/// Largest run record.
const LARGEST: u64 = 1 << 30;
/// Said of a broken kit.
const NOTHING_CHECKED: &str = "The kit does not hold together, so nothing was checked.";

/// What changed since the last run.
#[derive(Default)]
struct Changes {
    /// What every output rests on.
    of_all: Vec<Cause>,
    /// Files of clips, by clip of the shoot.
    of_clips: BTreeMap<usize, Vec<Cause>>,
    /// Files of clips that are gone.
    gone: Vec<Cause>,
}

pub(super) fn check(
    request: &Check,
    stamp: &Stamp,
    look: Look,
    watch: &dyn Watch,
) -> Result<Outcome> {
    let typed = match request.options.as_slice() {
        [] => None,
        words => Some(options::typed(&request.folder, words)?),
    };
    let given = request.into.clone().or_else(|| typed.as_ref()?.into.clone());
    let into = given.map_or_else(|| usual_output(&request.folder), Ok)?;
    let record = into.join(RECORD);
    let record = (there(&record) == There::File).then(|| read_input(&record, LARGEST).ok());
    let last = record.flatten().as_deref().and_then(last::read);
    let before = last.as_ref().map(|last| last.options.as_slice()).unwrap_or_default();
    let mut asked = typed.map_or_else(|| options::recorded(&request.folder, before), Ok)?;
    asked.into = Some(into.clone());
    (asked.dry_run, asked.json) = (true, false);
    let now = if request.options.is_empty() { before } else { &request.options };
    let mut prepared = match prepare(&asked, stamp, watch)? {
        Ok(prepared) => prepared,
        Err(Faults(all)) => return refuse(&all, NOTHING_CHECKED, request.json, stamp, look),
    };
    let there = prepared.there.take();
    let (shoot, _) = prepared.shoot()?;
    let job = prepared.job(stamp, watch);
    let mut files = outputs::check::check(&shoot, &job, there, last.as_ref())?;
    let words = if request.options.is_empty() { before } else { job.options };
    let changes = last.as_ref().map(|last| changes(last, &shoot, words, stamp, &into));
    let changes = changes.unwrap_or_default();
    for file in &mut files {
        changes.tell(file);
    }
    let clips: Vec<String> = shoot.clips.iter().map(|one| one.clip.name.to_string()).collect();
    let report = Report {
        files: &files,
        clips: &clips,
        changes: &changes.all(),
        into: &shown(&into),
        options: now,
        written: last.as_ref().map(|last| last.written.as_str()),
    };
    let result = if request.json { report.json(stamp)? } else { report.text().into_bytes() };
    Ok(Outcome { result, talk: Vec::new(), code: u8::from(!report.agrees()) })
}

fn cause(what: &str, name: Option<&str>, how: impl Into<String>) -> Cause {
    Cause { what: what.to_owned(), name: name.map(str::to_owned), how: how.into() }
}

fn changes(last: &Last, shoot: &Shoot, now: &[String], stamp: &Stamp, into: &Path) -> Changes {
    let mut changes = Changes::default();
    if there(&into.join(JOURNAL)) == There::File {
        let how = "was killed while it was writing, or is writing now";
        changes.of_all.push(cause("a run", None, how));
    }
    for input in &shoot.inputs {
        let before = last.inputs.iter().find(|b| b.role == input.role && b.file == input.file);
        let how = match before {
            None => "is new",
            Some(before) if before.sha256 != input.sha256 => "changed",
            Some(_) => continue,
        };
        changes.of_all.push(cause(input.role, Some(&input.file), how));
    }
    for before in &last.inputs {
        if !shoot.inputs.iter().any(|now| now.role == before.role && now.file == before.file) {
            changes.of_all.push(cause(&before.role, Some(&before.file), "is gone"));
        }
    }
    let (then, now) = (options::that_matter(&last.options), options::that_matter(now));
    if then != now {
        let words = |words: &[&str]| match words {
            [] => "none".to_owned(),
            words => words.join(" "),
        };
        let how = format!("were {}, now {}", words(&then), words(&now));
        changes.of_all.push(cause("options", None, how));
    }
    if last.tool != stamp.tool {
        let how = format!("was {}, now {}", last.tool, stamp.tool);
        changes.of_all.push(cause("program", None, how));
    }
    media(&mut changes, last, shoot);
    changes
}

fn media(changes: &mut Changes, last: &Last, shoot: &Shoot) {
    let files = last.clips.iter().flat_map(|clip| &clip.files);
    let mut before: BTreeMap<&str, &LastFile> =
        files.map(|file| (file.file.as_str(), file)).collect();
    let copies = last.clips.iter().flat_map(|clip| clip.copies.iter().flatten());
    let mut copies: BTreeSet<&str> = copies.map(String::as_str).collect();
    for (at, annotation) in shoot.clips.iter().enumerate() {
        for copy in annotation.clip.copies.iter().flatten() {
            let known =
                copies.remove(copy.shown.as_ref()) | before.contains_key(copy.shown.as_ref());
            before.remove(copy.shown.as_ref());
            if !known {
                let cause = cause("media", Some(&copy.shown), "is new");
                changes.of_clips.entry(at).or_default().push(cause);
            }
        }
        for file in &annotation.clip.files {
            let was_copy = copies.remove(file.shown.as_ref());
            let how = match before.remove(file.shown.as_ref()) {
                None if was_copy => continue,
                None => "is new",
                Some(LastFile { bytes, header, files, .. })
                    if *bytes != file.size
                        || *header != file.header_sha256
                        || *files != file.row.as_ref().map(|row| row.files) =>
                {
                    "changed"
                }
                Some(_) => continue,
            };
            let cause = cause("media", Some(&file.shown), how);
            changes.of_clips.entry(at).or_default().push(cause);
        }
    }
    let gone = before.into_keys().chain(copies);
    changes.gone.extend(gone.map(|file| cause("media", Some(file), "is gone")));
}

impl Changes {
    fn all(&self) -> Vec<Cause> {
        let of_clips = self.of_clips.values().flatten();
        self.of_all.iter().chain(of_clips).chain(&self.gone).cloned().collect()
    }

    /// Tells a stale file, or one that is missing, what it comes from: changes of its own clip, else those of any.
    fn tell(&self, file: &mut Checked) {
        let own = file.clip.and_then(|clip| self.of_clips.get(&clip));
        match file.state {
            State::Missing => file.causes.extend(own.into_iter().flatten().cloned()),
            State::Stale if file.causes.is_empty() => {
                let own = own.into_iter().flatten();
                file.causes.extend(self.of_all.iter().chain(own).cloned());
                if file.causes.is_empty() {
                    file.causes = self.all();
                }
                if file.causes.is_empty() && file.says.is_empty() {
                    file.causes.push(cause("dump", None, "was read differently"));
                }
            }
            _ => {}
        }
    }
}
