//! From a folder to finished annotations: what every command does that works on a whole shoot.

use anyhow::Result;

use crate::annotation::Shoot;
use crate::dump::Dump;
use crate::finding::{Code, Finding};
use crate::folder::Sources;
use crate::inputs::{self, Read};
use crate::kit::Kit;
use crate::lists::ClipList;
use crate::notes::Notes;
use crate::reconcile::{self, Asked, listed};
use crate::recorded::FileFacts;

use super::broken;

/// Everything that is read before a clip is opened.
pub(super) struct Given {
    pub(super) kit: Read<Kit>,
    pub(super) notes: Read<Vec<Notes>>,
    pub(super) lists: Read<Vec<ClipList>>,
}

impl Given {
    /// Reads notes and clip lists beside the kit; of workbooks the sheet that is named.
    pub(super) fn read(sources: &Sources, kit: Read<Kit>, sheet: Option<&str>) -> Result<Self> {
        let notes = inputs::read_notes(sources, sheet)?;
        let lists = inputs::read_lists(sources)?;
        Ok(Self { kit, notes, lists })
    }

    /// What is wrong, if the kit does not hold together. The faults of the notes are said in the same run: whoever mends
    /// one file can mend them all.
    pub(super) fn broken(&self) -> Option<Vec<Finding>> {
        let Self { kit, notes, lists } = self;
        broken(&kit.findings)
            .then(|| [kit.findings.as_slice(), &notes.findings, &lists.findings].concat())
    }

    /// Reconciles clips with notes and kit. `recorded` is what the files say, copies folded; `met` what was found on the way.
    pub(super) fn shoot(
        &self,
        sources: &Sources,
        dump: &Dump,
        recorded: &mut [Vec<FileFacts>],
        met: Vec<Finding>,
        asked: Asked,
    ) -> Shoot {
        let Self { kit, notes, lists } = self;
        let listed = listed::apply(dump, recorded, &lists.value);
        let mut shoot = reconcile::reconcile(dump, recorded, &notes.value, &kit.value, asked);
        let read = [&kit.inputs, &notes.inputs, &lists.inputs];
        shoot.inputs = read.into_iter().flatten().cloned().collect();
        let no_cameras =
            sources.kit.is_some() && kit.value.cameras.is_empty() && !shoot.clips.is_empty();
        let no_cameras = no_cameras.then(|| {
            Finding::new(
                Code::CameraUnknown,
                "the kit has no cameras, so film back, view and coverage are left out",
            )
            .hint("add each camera with its recording modes to the kit")
        });
        let of_texts = [&kit.findings, &notes.findings, &lists.findings];
        let before = of_texts.into_iter().flatten().cloned().chain(met).chain(listed);
        let before: Vec<Finding> = before.chain(no_cameras).collect();
        shoot.findings.splice(0..0, before);
        shoot
    }
}
