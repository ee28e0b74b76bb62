//! From a folder to finished annotations, for commands that rest on what `annotate` works out and write something else.

use anyhow::{Result, bail};

use crate::annotation::Shoot;
use crate::dump::Dump;
use crate::finding::Finding;
use crate::folder::Sources;
use crate::inputs::{self, Read};
use crate::kit::Kit;
use crate::lists::ClipList;
use crate::notes::Notes;
use crate::reconcile::{self, copies, listed};
use crate::watch::{Interrupted, Watch};

use super::asked::{Told, asked};
use super::broken;

/// Everything that is read before a clip is opened.
pub(super) struct Given {
    pub(super) kit: Read<Kit>,
    pub(super) notes: Read<Vec<Notes>>,
    lists: Read<Vec<ClipList>>,
}

impl Given {
    pub(super) fn read(sources: &Sources, sheet: Option<&str>) -> Result<Self> {
        let kit = inputs::read_kit_of(sources)?;
        let notes = inputs::read_notes(sources, sheet)?;
        let lists = inputs::read_lists(sources)?;
        Ok(Self { kit, notes, lists })
    }

    /// What is wrong, if the kit does not hold together. The faults of the notes are said in the same run: whoever mends
    /// one file can mend them all.
    pub(super) fn broken(&self) -> Option<Vec<Finding>> {
        let Self { kit, notes, lists } = self;
        let all = || [kit.findings.as_slice(), &notes.findings, &lists.findings].concat();
        broken(&kit.findings).then(all)
    }

    /// Reads the clips and reconciles them with notes and kit. The error may be that somebody asked the run to end.
    pub(super) fn shoot(
        &self,
        sources: &Sources,
        per_frame: bool,
        told: &Told<'_>,
        watch: &dyn Watch,
    ) -> Result<(Shoot, Dump)> {
        let Self { kit, notes, lists } = self;
        let mut dump = inputs::read_dump(sources, &kit.value)?;
        let asked = asked(told, &kit.value, &dump.value)?;
        let mut recorded = inputs::read_clips(&dump.value, per_frame, watch);
        if !watch.go_on() {
            bail!(Interrupted { written: None });
        }
        let copied = copies::fold(&mut dump.value, &mut recorded.value);
        let listed = listed::apply(&dump.value, &mut recorded.value, &lists.value);
        let mut shoot =
            reconcile::reconcile(&dump.value, &recorded.value, &notes.value, &kit.value, asked);
        let read = [&kit.inputs, &notes.inputs, &lists.inputs];
        shoot.inputs = read.into_iter().flatten().cloned().collect();
        let before = [
            kit.findings.clone(),
            notes.findings.clone(),
            lists.findings.clone(),
            dump.findings,
            recorded.findings,
            copied,
            listed,
        ]
        .concat();
        shoot.findings.splice(0..0, before);
        Ok((shoot, dump.value))
    }
}
