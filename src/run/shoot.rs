//! From a folder to finished annotations, for commands that rest on what `annotate` works out and write something else.

use std::path::Path;

use anyhow::{Result, bail};

use crate::annotation::Shoot;
use crate::cli::Reading;
use crate::dump::Dump;
use crate::finding::{Code, Finding};
use crate::folder::{self, Sources};
use crate::inputs::{self, Read, Texts};
use crate::kit::Kit;
use crate::lists::ClipList;
use crate::notes::Notes;
use crate::reconcile::{self, Asked, copies, listed};
use crate::recorded::FileFacts;
use crate::watch::{Interrupted, Watch};

use super::asked::{Told, asked};
use super::broken;

/// Where the folder is looked into, as the flags say.
pub(super) fn given(reading: &Reading, into: &Path) -> folder::Given {
    folder::Given {
        kit: reading.kit.clone(),
        kitless: reading.reducer.is_some() || reading.extender.is_some(),
        notes: reading.notes.clone(),
        lists: reading.clip_list.clone(),
        dump: reading.dump.clone(),
        into: Some(into.to_owned()),
    }
}

/// Everything that is read and is no clip.
pub(super) struct Given {
    pub(super) kit: Read<Kit>,
    pub(super) notes: Read<Vec<Notes>>,
    lists: Read<Vec<ClipList>>,
}

impl Given {
    /// Reads notes and clip lists beside the kit; of workbooks the sheet that is named.
    pub(super) fn read(sources: &Sources, kit: Read<Kit>, sheet: Option<&str>) -> Result<Self> {
        Self::parse(&inputs::read_texts(sources)?, kit, sheet)
    }

    /// Understands notes and clip lists.
    pub(super) fn parse(texts: &Texts, kit: Read<Kit>, sheet: Option<&str>) -> Result<Self> {
        let notes = inputs::parse_notes(&texts.notes, sheet)?;
        let lists = inputs::parse_lists(&texts.lists);
        Ok(Self { kit, notes, lists })
    }

    /// What is wrong, if the kit does not hold together. The faults of the notes are said in the same run: whoever mends
    /// one file can mend them all.
    pub(super) fn broken(&self) -> Option<Vec<Finding>> {
        broken(&self.kit.findings).then(|| self.all_findings())
    }

    /// What was found in kit, notes and lists.
    pub(super) fn all_findings(&self) -> Vec<Finding> {
        let Self { kit, notes, lists } = self;
        [kit.findings.as_slice(), &notes.findings, &lists.findings].concat()
    }

    /// Reads the clips and reconciles them. The error may be that somebody asked the run to end.
    pub(super) fn clips(
        &self,
        sources: &Sources,
        per_frame: bool,
        told: &Told<'_>,
        watch: &dyn Watch,
    ) -> Result<(Shoot, Dump)> {
        let mut dump = inputs::read_dump(sources, &self.kit.value)?;
        let asked = asked(told, &self.kit.value, &dump.value)?;
        let mut recorded = inputs::read_clips(&dump.value, per_frame, watch);
        if !watch.go_on() {
            bail!(Interrupted { written: None });
        }
        let copied = copies::fold(&mut dump.value, &mut recorded.value);
        let met = [dump.findings, recorded.findings, copied].concat();
        let shoot = self.shoot(sources, &dump.value, &mut recorded.value, met, asked);
        Ok((shoot, dump.value))
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
