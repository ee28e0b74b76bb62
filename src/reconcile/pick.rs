//! Which row stands for each field: timecode before clip before range before roll. Two rows of one rank
//! that differ are a finding, and then neither stands; it is never the last one that wins.

use crate::finding::{Code, Finding};
use crate::notes::{
    AttachmentNote, CameraNote, FocalNote, IsoNote, NoteRow, Noted, ShutterNote, StopNote,
    WhiteNote,
};
use crate::sourced::Sourced;
use crate::units::{Meters, Stops, Tilt};

use super::Scene;
use crate::naming::key;

use super::join::Joined;

/// What the notes say of one field.
pub(super) enum Pick<'a, T> {
    /// Nothing.
    Unsaid,
    /// Rows of one rank say different things; no default may step in.
    Disputed,
    /// This.
    Said(&'a Noted<T>),
}

impl<'a, T> Pick<'a, T> {
    /// What stands, if anything does.
    pub(super) fn said(&self) -> Option<&'a Noted<T>> {
        match self {
            Self::Said(noted) => Some(noted),
            Self::Unsaid | Self::Disputed => None,
        }
    }

    /// True if rows of one rank say different things.
    pub(super) fn disputed(&self) -> bool {
        matches!(self, Self::Disputed)
    }
}

/// What the notes say of one piece of a clip.
pub(super) struct Said<'a> {
    pub(super) camera: Pick<'a, String>,
    pub(super) mode: Pick<'a, String>,
    pub(super) lens: Pick<'a, String>,
    pub(super) focal: Pick<'a, FocalNote>,
    pub(super) stop: Pick<'a, StopNote>,
    pub(super) attachment: Pick<'a, AttachmentNote>,
    pub(super) secured: Pick<'a, bool>,
    pub(super) focus: Pick<'a, Meters>,
    pub(super) slate: Pick<'a, String>,
    pub(super) take: Pick<'a, String>,
    pub(super) circled: Pick<'a, bool>,
    pub(super) filter: Pick<'a, String>,
    pub(super) density: Pick<'a, Stops>,
    pub(super) shot: SaidOfShot<'a>,
    pub(super) remarks: Pick<'a, String>,
    rows: usize,
}

/// What the notes say beside the lens.
pub(super) struct SaidOfShot<'a> {
    pub(super) iso: Pick<'a, IsoNote>,
    pub(super) shutter: Pick<'a, ShutterNote>,
    pub(super) white_balance: Pick<'a, WhiteNote>,
    pub(super) height: Pick<'a, Meters>,
    pub(super) tilt: Pick<'a, Tilt>,
    pub(super) operator: Pick<'a, String>,
    pub(super) assistant: Pick<'a, String>,
    pub(super) second_assistant: Pick<'a, String>,
    pub(super) unit: Pick<'a, String>,
    pub(super) day: Pick<'a, String>,
}

impl Said<'_> {
    /// True if no row speaks of the clip.
    pub(super) fn nothing(&self) -> bool {
        self.rows == 0
    }
}

/// What holds from `frame` on.
pub(super) fn pick<'a>(
    scene: &Scene<'_>,
    rows: &[Joined<'a>],
    frame: u64,
    findings: &mut Vec<Finding>,
) -> Said<'a> {
    let mut active: Vec<&Joined<'a>> = rows.iter().filter(|row| row.frame <= frame).collect();
    active.sort_by_key(|row| std::cmp::Reverse((row.rank, row.frame)));
    let mut chooser = Chooser { scene, rows: &active, findings };
    Said {
        rows: active.len(),
        camera: chooser.choose("camera", |row| row.camera.as_deref()),
        mode: chooser.choose("mode", |row| row.mode.as_deref()),
        lens: chooser.choose("lens", |row| row.lens.as_deref()),
        focal: chooser.choose("focal length", |row| row.focal.as_deref()),
        stop: chooser.choose("stop", |row| row.stop.as_deref()),
        attachment: chooser.choose("attachment", |row| row.attachment.as_deref()),
        secured: chooser.choose("secured", |row| row.secured.as_deref()),
        focus: chooser.choose("focus distance", |row| row.focus.as_deref()),
        slate: chooser.choose("slate", |row| row.slate.as_deref()),
        take: chooser.choose("take", |row| row.take.as_deref()),
        circled: chooser.choose("circled", |row| row.circled.as_deref()),
        filter: chooser.choose("filter", |row| row.filter.as_deref()),
        density: chooser.choose("neutral density", |row| row.density.as_deref()),
        shot: of_shot(&mut chooser),
        remarks: chooser.choose("remarks", |row| row.remarks.as_deref()),
    }
}

fn of_shot<'a>(chooser: &mut Chooser<'_, 'a>) -> SaidOfShot<'a> {
    /// The cell of a row that has any of them.
    fn of<'a, T: 'a>(
        cell: impl Fn(&'a CameraNote) -> Option<&'a Noted<T>>,
    ) -> impl Fn(&'a NoteRow) -> Option<&'a Noted<T>> {
        move |row| cell(row.shot.as_deref()?)
    }
    SaidOfShot {
        iso: chooser.choose("ISO", of(|shot| shot.iso.as_ref())),
        shutter: chooser.choose("shutter", of(|shot| shot.shutter.as_ref())),
        white_balance: chooser.choose("white balance", of(|shot| shot.white_balance.as_ref())),
        height: chooser.choose("lens height", of(|shot| shot.height.as_ref())),
        tilt: chooser.choose("tilt", of(|shot| shot.tilt.as_ref())),
        operator: chooser.choose("operator", of(|shot| shot.operator.as_ref())),
        assistant: chooser.choose("assistant", of(|shot| shot.assistant.as_ref())),
        second_assistant: chooser
            .choose("second assistant", of(|shot| shot.second_assistant.as_ref())),
        unit: chooser.choose("unit", of(|shot| shot.unit.as_ref())),
        day: chooser.choose("day", of(|shot| shot.day.as_ref())),
    }
}

struct Chooser<'s, 'a> {
    scene: &'s Scene<'s>,
    rows: &'s [&'s Joined<'a>],
    findings: &'s mut Vec<Finding>,
}

impl<'a> Chooser<'_, 'a> {
    fn choose<T: Same>(
        &mut self,
        what: &'static str,
        field: impl Fn(&'a NoteRow) -> Option<&'a Noted<T>>,
    ) -> Pick<'a, T> {
        // A cell that could not be read hides what lies below it: a broader row does not stand in.
        let unread = self.rows.iter().find(|row| row.row.unread.contains(&what));
        let readable = self.rows.iter().find(|row| field(row.row).is_some());
        let rank = |row: &&&Joined<'_>| (row.rank, row.frame);
        if unread.as_ref().map(rank) >= readable.as_ref().map(rank) && unread.is_some() {
            return Pick::Disputed;
        }
        let mut said =
            self.rows.iter().filter_map(|row| Some(((row.rank, row.frame), field(row.row)?)));
        let Some((rank, first)) = said.next() else {
            return Pick::Unsaid;
        };
        let other = said
            .take_while(|(other, _)| *other == rank)
            .find(|(_, noted)| !noted.value.same(&first.value));
        let Some((_, other)) = other else {
            return Pick::Said(first);
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
        Pick::Disputed
    }
}

/// Whether two cells say the same. Spelling of names does not make a difference.
trait Same {
    fn same(&self, other: &Self) -> bool;
}

impl Same for String {
    fn same(&self, other: &Self) -> bool {
        self == other || key(self) == key(other)
    }
}

impl Same for AttachmentNote {
    fn same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Named(a), Self::Named(b)) => a.same(b),
            (a, b) => a == b,
        }
    }
}

/// Cells that hold no names say the same if they are equal.
macro_rules! same_if_equal {
    ($($cell:ty),*) => {
        $(impl Same for $cell {
            fn same(&self, other: &Self) -> bool {
                self == other
            }
        })*
    };
}

same_if_equal!(FocalNote, StopNote, Meters, Stops, bool, IsoNote, ShutterNote, WhiteNote, Tilt);

/// A noted text as it goes into outputs.
pub(super) fn text(noted: &Noted<String>) -> Sourced<String> {
    Sourced::new(noted.value.clone(), noted.origin.clone())
}
