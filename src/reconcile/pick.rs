//! Which row stands for each field: timecode before clip before range before roll. Two rows of one rank
//! that differ are a finding, and then neither stands; it is never the last one that wins.

use crate::finding::{Code, Found};
use crate::notes::{AttachmentNote, NoteRow, Noted, StopNote};
use crate::sourced::Sourced;
use crate::timecode::Timecode;
use crate::units::{Meters, Millimeters};

use super::Scene;
use super::join::{Joined, Rank};

/// A row with the frame of the clip from which it holds.
pub(super) struct Timed<'a> {
    pub(super) rank: Rank,
    pub(super) frame: u64,
    pub(super) row: &'a NoteRow,
}

/// What the notes say of one piece of a clip.
#[derive(Default)]
pub(super) struct Said<'a> {
    pub(super) camera: Option<&'a Noted<String>>,
    pub(super) mode: Option<&'a Noted<String>>,
    pub(super) lens: Option<&'a Noted<String>>,
    pub(super) focal: Option<&'a Noted<Millimeters>>,
    pub(super) stop: Option<&'a Noted<StopNote>>,
    pub(super) attachment: Option<&'a Noted<AttachmentNote>>,
    pub(super) focus: Option<&'a Noted<Meters>>,
    pub(super) slate: Option<&'a Noted<String>>,
    pub(super) take: Option<&'a Noted<String>>,
    pub(super) circled: Option<&'a Noted<bool>>,
    pub(super) filter: Option<&'a Noted<String>>,
    pub(super) remarks: Option<&'a Noted<String>>,
    /// Rows of one rank said different things of the attachment: no default may step in.
    pub(super) attachment_disputed: bool,
    /// The same of the lens.
    pub(super) lens_disputed: bool,
    /// The same of the focal length, the stop or the focus distance.
    pub(super) focal_disputed: bool,
    /// The same of the stop.
    pub(super) stop_disputed: bool,
    rows: usize,
}

impl Said<'_> {
    /// True if no row speaks of the clip.
    pub(super) fn nothing(&self) -> bool {
        self.rows == 0
    }
}

/// Puts each row at the frame from which it holds. A timecode outside the clip is a finding.
pub(super) fn place_rows<'a>(scene: &Scene<'_>, rows: &[Joined<'a>]) -> Found<Vec<Timed<'a>>> {
    let mut timed = Vec::new();
    let mut findings = Vec::new();
    for Joined { rank, row } in rows {
        let frame = match &row.from {
            None => Ok(0),
            Some(from) => frame_of(scene, &from.value),
        };
        match frame {
            Ok(frame) => timed.push(Timed { rank: *rank, frame, row }),
            Err(why) => {
                let typed = row.from.as_ref().map_or("", |from| &from.typed);
                let place = row.from.as_ref().map_or(&row.place, |from| &from.place);
                findings.push(
                    scene
                        .finding(Code::NotesNoMatch, format!("timecode \"{typed}\": {why}"))
                        .at(place.clone())
                        .hint("check the timecode against the clip's start and end; the row was not used"),
                );
            }
        }
    }
    Found { value: timed, findings }
}

fn frame_of(scene: &Scene<'_>, typed: &str) -> Result<u64, String> {
    let start =
        scene.media.start.as_ref().ok_or("the clip carries no timecode to compare with")?.value;
    let from = Timecode::parse(typed, start.counting())
        .ok_or_else(|| format!("is no timecode that counts like the clip's {start}"))?;
    let frame = start.frames_until(from).ok_or("counts otherwise than the clip")?;
    match scene.media.frames.as_ref().map(|frames| frames.value) {
        Some(frames) if frame >= frames => Err(format!(
            "lies outside the clip, which runs from {start} to {}",
            start.later(frames.saturating_sub(1))
        )),
        None if frame > start.counting().day() / 2 => {
            Err(format!("lies before the clip, which starts at {start}"))
        }
        _ => Ok(frame),
    }
}

/// What holds from `frame` on.
pub(super) fn pick<'a>(
    scene: &Scene<'_>,
    rows: &[Timed<'a>],
    frame: u64,
    findings: &mut Vec<crate::finding::Finding>,
) -> Said<'a> {
    let mut active: Vec<&Timed<'a>> = rows.iter().filter(|row| row.frame <= frame).collect();
    active.sort_by_key(|row| std::cmp::Reverse((row.rank, row.frame)));
    let mut chooser = Chooser { scene, rows: &active, findings };
    let lens = chooser.choose("lens", |row| row.lens.as_ref());
    let focal = chooser.choose("focal length", |row| row.focal.as_ref());
    let stop = chooser.choose("stop", |row| row.stop.as_ref());
    let attachment = chooser.choose("attachment", |row| row.attachment.as_ref());
    Said {
        rows: active.len(),
        lens_disputed: lens.is_err(),
        focal_disputed: focal.is_err(),
        stop_disputed: stop.is_err(),
        attachment_disputed: attachment.is_err(),
        lens: lens.unwrap_or_default(),
        focal: focal.unwrap_or_default(),
        stop: stop.unwrap_or_default(),
        attachment: attachment.unwrap_or_default(),
        camera: chooser.choose("camera", |row| row.camera.as_ref()).unwrap_or_default(),
        mode: chooser.choose("mode", |row| row.mode.as_ref()).unwrap_or_default(),
        focus: chooser.choose("focus distance", |row| row.focus.as_ref()).unwrap_or_default(),
        slate: chooser.choose("slate", |row| row.slate.as_ref()).unwrap_or_default(),
        take: chooser.choose("take", |row| row.take.as_ref()).unwrap_or_default(),
        circled: chooser.choose("circled", |row| row.circled.as_ref()).unwrap_or_default(),
        filter: chooser.choose("filter", |row| row.filter.as_ref()).unwrap_or_default(),
        remarks: chooser.choose("remarks", |row| row.remarks.as_ref()).unwrap_or_default(),
    }
}

struct Chooser<'s, 'a> {
    scene: &'s Scene<'s>,
    rows: &'s [&'s Timed<'a>],
    findings: &'s mut Vec<crate::finding::Finding>,
}

/// Rows of one rank said different things.
#[derive(Debug)]
struct Disputed;

impl<'a> Chooser<'_, 'a> {
    fn choose<T: PartialEq>(
        &mut self,
        what: &str,
        field: impl Fn(&'a NoteRow) -> Option<&'a Noted<T>>,
    ) -> Result<Option<&'a Noted<T>>, Disputed> {
        let mut said =
            self.rows.iter().filter_map(|row| Some(((row.rank, row.frame), field(row.row)?)));
        let Some((rank, first)) = said.next() else {
            return Ok(None);
        };
        let other = said
            .take_while(|(other, _)| *other == rank)
            .find(|(_, noted)| noted.value != first.value);
        let Some((_, other)) = other else {
            return Ok(Some(first));
        };
        self.findings.push(
            self.scene
                .finding(
                    Code::NotesDisagree,
                    format!(
                        "{what}: one row says \"{}\", another \"{}\"",
                        first.typed, other.typed
                    ),
                )
                .at(other.place.clone())
                .hint("correct one of the rows; until then the field is left out"),
        );
        Err(Disputed)
    }
}

/// A noted text as it goes into outputs.
pub(super) fn text(noted: &Noted<String>) -> Sourced<String> {
    Sourced::new(noted.value.clone(), noted.origin.clone())
}
