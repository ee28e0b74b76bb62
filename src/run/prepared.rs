//! Everything that `annotate` rests on, read and not yet reconciled, and a fingerprint of it: if that is the one of the run
//! before, and its outputs still stand, nothing need be worked out again.

use std::mem;

use anyhow::{Result, anyhow, bail};

use crate::annotation::{Input, Shoot};
use crate::cli::Annotate;
use crate::dump::Dump;
use crate::finding::{Finding, Found};
use crate::folder::{self, Sources};
use crate::inputs::{self, Clips, Read, Texts};
use crate::kit::Kit;
use crate::output::Stamp;
use crate::output::lens_data::Kind;
use crate::output::lens_data::fdl::Cut;
use crate::output::report::Options;
use crate::output::table::{self, Column};
use crate::outputs::{self, AsBefore, Job, Sealing, There};
use crate::reconcile::{self, Asked, copies};
use crate::recorded::FileFacts;
use crate::watch::{Interrupted, Watch};

use super::annotate::used;
use super::asked::asked;
use super::form::form;
use super::sealed::{self, Sealed};
use super::shoot::Given;
use super::{broken, options, unchanged};

/// What is the matter with a kit that does not hold together, and with the notes.
pub(super) struct Faults(pub(super) Vec<Finding>);

/// A run of `annotate` before anything is worked out.
pub(super) struct Prepared<'a> {
    request: &'a Annotate,
    sources: Sources,
    kit: Read<Kit>,
    texts: Texts,
    /// Notes and lists understood, where it was clear early that they are needed.
    parsed: Option<Given>,
    dump: Dump,
    recorded: Vec<Vec<FileFacts>>,
    met: Vec<Finding>,
    asked: Asked,
    sealing: Sealing,
    columns: Vec<Column>,
    lens_data: Vec<Kind>,
    plates: Vec<Cut>,
    form: Options,
    headings: Option<Input>,
    made_from: String,
    options: Vec<String>,
    /// What stands in the output folder.
    pub(super) there: Option<There>,
    told: Vec<String>,
}

/// Reads everything. The error may be that somebody asked the run to end.
pub(super) fn prepare<'a>(
    request: &'a Annotate,
    stamp: &Stamp,
    watch: &dyn Watch,
) -> Result<Result<Prepared<'a>, Faults>> {
    let given = folder::Given {
        kit: request.kit.clone(),
        kitless: request.reducer.is_some() || request.extender.is_some(),
        notes: request.notes.clone(),
        lists: request.clip_list.clone(),
        dump: request.dump.clone(),
        into: request.into.clone(),
    };
    let sources = folder::find(&request.folder, &given)?;
    let (form, headings) = form(&request.form, &sources)?;
    let kit = inputs::read_kit_of(&sources)?;
    if broken(&kit.findings) {
        let given = Given::read(&sources, kit, request.sheet.as_deref())?;
        return Ok(Err(Faults(given.all_findings())));
    }
    let chosen = kit.value.columns.as_ref().map(|columns| columns.value.clone());
    let chosen = request.columns.clone().or(chosen).unwrap_or_else(|| table::DEFAULT.to_owned());
    let columns = table::columns(&chosen)?;
    let lens_data = formats(request.lens_data.as_deref())?;
    let plates: Vec<Cut> = kit.value.plates.iter().map(super::cut).collect();
    // Three things that wait for the disk or reckon, and none for the others.
    let sheet = request.sheet.as_deref();
    let (read, others) = rayon::join(
        || clips(request, &sources, &kit.value, watch),
        || -> Result<_> {
            let texts = inputs::read_texts(&sources)?;
            let there = outputs::look(&sources, request.dry_run)?;
            // Where all of the outputs still stand, nothing may have changed, and then nobody needs the notes.
            let needed = !there.as_ref().is_some_and(There::untouched);
            let parsed = needed.then(|| Given::parse(&texts, kit.clone(), sheet)).transpose()?;
            Ok((texts, there, parsed))
        },
    );
    let (texts, there, parsed) = others?;
    let (mut dump, asked, mut recorded) = read?;
    let mut made_from = mem::take(&mut recorded.fingerprint);
    unchanged::dump(&mut made_from, &dump.value);
    unchanged::asked(&mut made_from, request, &chosen, &stamp.tool);
    let copied = copies::fold(&mut dump.value, &mut recorded.value);
    let Sealed { sealing, findings: seals, talk: told } =
        sealed::look(request, &sources, &dump.value, watch)?;
    let met = [dump.findings, recorded.findings, copied, seals].concat();
    let of_texts = texts.notes.iter().chain(&texts.lists).map(|text| &text.input);
    let inputs: Vec<_> = kit.inputs.iter().chain(of_texts).chain(&headings).cloned().collect();
    unchanged::texts(&mut made_from, &inputs);
    unchanged::found(&mut made_from, &met);
    let options = options::words(request, &sources);
    Ok(Ok(Prepared {
        request,
        dump: dump.value,
        recorded: recorded.value,
        met,
        asked,
        sealing,
        columns,
        lens_data,
        plates,
        form,
        headings,
        made_from: made_from.end(),
        options,
        there,
        told,
        kit,
        texts,
        parsed,
        sources,
    }))
}

/// Walks the dump, and reads what each clip says.
fn clips(
    request: &Annotate,
    sources: &Sources,
    kit: &Kit,
    watch: &dyn Watch,
) -> Result<(Found<Dump>, Asked, Clips)> {
    let dump = inputs::read_dump(sources, kit)?;
    let asked = asked(&request.into(), kit, &dump.value)?;
    let recorded = inputs::read_clips(&dump.value, request.per_frame, watch);
    if !watch.go_on() {
        bail!(Interrupted { written: None });
    }
    Ok((dump, asked, recorded))
}

impl Prepared<'_> {
    /// What the run before came to, if this one would come to the same.
    pub(super) fn as_before(&self, stamp: &Stamp, watch: &dyn Watch) -> Option<AsBefore> {
        let strays: Vec<_> = self.dump.strays.iter().map(|s| reconcile::stray(s, None)).collect();
        let before = outputs::as_before(self.there.as_ref()?, &strays, &self.job(stamp, watch))?;
        let mut talk = used(&self.sources, None, &self.dump);
        talk.extend(self.told.iter().cloned());
        talk.extend(before.talk);
        Some(AsBefore { talk, ..before })
    }

    /// Reconciles what was read, and tells what there is to say of it. To be done once: what the media said goes into it.
    pub(super) fn shoot(&mut self) -> Result<(Shoot, Vec<String>)> {
        let given = match self.parsed.take() {
            Some(given) => given,
            None => Given::parse(&self.texts, self.kit.clone(), self.request.sheet.as_deref())?,
        };
        let mut talk = used(&self.sources, Some(&given.notes.value), &self.dump);
        talk.append(&mut self.told);
        let (met, asked) = (mem::take(&mut self.met), mem::take(&mut self.asked));
        let mut shoot = given.shoot(&self.sources, &self.dump, &mut self.recorded, met, asked);
        shoot.inputs.extend(self.headings.take());
        Ok((shoot, talk))
    }

    /// What is to be done about the shoot.
    pub(super) fn job<'a>(&'a self, stamp: &'a Stamp, watch: &'a dyn Watch) -> Job<'a> {
        let Self { request, sources, sealing, columns, lens_data, plates, form, .. } = self;
        Job {
            sources,
            columns,
            stamp,
            beside: request.beside,
            replace_edited: request.replace_edited,
            dry_run: request.dry_run,
            sealing,
            watch,
            lens_data,
            per_frame: request.per_frame,
            plates,
            form,
            made_from: &self.made_from,
            json: request.json,
            options: &self.options,
        }
    }
}

/// The formats of `--lens-data`.
fn formats(list: Option<&str>) -> Result<Vec<Kind>> {
    Kind::list(list.unwrap_or_default()).map_err(|stranger| {
        let known = Kind::ALL.map(Kind::word).join(", ");
        anyhow!("--lens-data: `{stranger}` is no format; there are {known}, and all")
    })
}
