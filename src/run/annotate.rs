//! `annotate`, the main job: dump, notes and kit become sidecars, lens table and run record.

use anyhow::{Result, anyhow, bail};

use crate::annotation::Shoot;
use crate::cli::Annotate;
use crate::dump::Dump;
use crate::dump::walk::shown;
use crate::finding::Finding;
use crate::folder::{self, Sources};
use crate::inputs;
use crate::notes::Notes;
use crate::output::calm::calm;
use crate::output::lens_data::Kind;
use crate::output::lens_data::fdl::Cut;
use crate::output::{Stamp, findings, summary, table};
use crate::outputs::{self, Job, There};
use crate::reconcile::copies;
use crate::watch::{Interrupted, Watch};

use super::asked::asked;
use super::form::form;
use super::sealed::{self, Sealed};
use super::shoot::Given;
use super::{Look, NOTHING_WRITTEN, Outcome, broken, code, options, refuse, unchanged};

pub(super) fn annotate(
    request: &Annotate,
    stamp: &Stamp,
    look: Look,
    watch: &dyn Watch,
) -> Result<Outcome> {
    let written = with_shoot(request, stamp, watch, |shoot, job, there, mut talk| {
        let done = outputs::write(shoot, job, there)?;
        let result = if request.json { done.record } else { show(shoot, look) };
        talk.extend(done.talk);
        Ok(Outcome { result, talk, code: code(&shoot.findings) })
    })?;
    // The faults of the notes are said in the same run: whoever mends one file can mend them all.
    written.or_else(|Faults(all)| refuse(&all, NOTHING_WRITTEN, request.json, stamp, look))
}

/// What is the matter with a kit that does not hold together, and with the notes.
pub(super) struct Faults(pub(super) Vec<Finding>);

/// Everything up to the outputs: reads, reconciles, and hands the shoot to `then`, with what is to be done about it,
/// what stands in the output folder, and what there is to say so far.
pub(super) fn with_shoot<T>(
    request: &Annotate,
    stamp: &Stamp,
    watch: &dyn Watch,
    then: impl FnOnce(&mut Shoot, &Job<'_>, Option<There>, Vec<String>) -> Result<T>,
) -> Result<Result<T, Faults>> {
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
    let holds = !broken(&kit.findings);
    // Two things that wait for the disk, and neither for the other.
    let (read, there) = rayon::join(
        || -> Result<_> {
            let dump = inputs::read_dump(&sources, &kit.value);
            Ok((Given::read(&sources, kit, request.sheet.as_deref())?, dump))
        },
        || if holds { outputs::look(&sources, request.dry_run) } else { Ok(None) },
    );
    let (read, dump) = read?;
    if let Some(all) = read.broken() {
        return Ok(Err(Faults(all)));
    }
    let kit = &read.kit;
    let chosen = kit.value.columns.as_ref().map(|columns| columns.value.as_str());
    let chosen = request.columns.as_deref().or(chosen).unwrap_or(table::DEFAULT);
    let columns = table::columns(chosen)?;
    let lens_data = formats(request.lens_data.as_deref())?;
    let plates: Vec<Cut> = kit.value.plates.iter().map(super::cut).collect();
    let (mut dump, there) = (dump?, there?);
    let asked = asked(&request.into(), &kit.value, &dump.value)?;
    let mut recorded = inputs::read_clips(&dump.value, request.per_frame, watch);
    if !watch.go_on() {
        bail!(Interrupted { written: None });
    }
    let mut made_from = recorded.fingerprint.clone();
    unchanged::dump(&mut made_from, &dump.value);
    let copied = copies::fold(&mut dump.value, &mut recorded.value);
    let Sealed { sealing, findings: seals, talk: told } =
        sealed::look(request, &sources, &dump.value, watch)?;
    let met = [dump.findings, recorded.findings, copied, seals].concat();
    let mut shoot = read.shoot(&sources, &dump.value, &mut recorded.value, met, asked);
    shoot.inputs.extend(headings);
    unchanged::asked(&mut made_from, request, chosen, &stamp.tool);
    unchanged::read(&mut made_from, &shoot);
    let made_from = made_from.end();
    let job = Job {
        sources: &sources,
        columns: &columns,
        stamp,
        beside: request.beside,
        replace_edited: request.replace_edited,
        dry_run: request.dry_run,
        sealing: &sealing,
        watch,
        lens_data: &lens_data,
        per_frame: request.per_frame,
        plates: &plates,
        form: &form,
        made_from: &made_from,
        json: request.json,
        options: &options::words(request, &sources),
    };
    let mut talk = used(&sources, &read.notes.value, &dump.value);
    talk.extend(told);
    then(&mut shoot, &job, there, talk).map(Ok)
}

/// The formats of `--lens-data`.
fn formats(list: Option<&str>) -> Result<Vec<Kind>> {
    Kind::list(list.unwrap_or_default()).map_err(|stranger| {
        let known = Kind::ALL.map(Kind::word).join(", ");
        anyhow!("--lens-data: `{stranger}` is no format; there are {known}, and all")
    })
}

pub(super) fn used(sources: &Sources, read: &[Notes], dump: &Dump) -> Vec<String> {
    let rows: usize = read.iter().map(|notes| notes.rows.len()).sum();
    let name = |path: &std::path::PathBuf| {
        let name = sources.name(path);
        let sheet = read.iter().find(|notes| *notes.file == *name)?.sheet.as_deref()?;
        Some(format!("{} (sheet {})", calm(&name), calm(sheet)))
    };
    let notes: Vec<String> = sources
        .notes
        .iter()
        .map(|path| name(path).unwrap_or_else(|| calm(&sources.name(path))))
        .collect();
    let notes = if notes.is_empty() {
        "none found".to_owned()
    } else {
        format!("{} ({rows} rows)", notes.join(", "))
    };
    let kit = sources.kit.as_ref().map_or_else(
        || "no kit (so no film back, view or coverage)".to_owned(),
        |kit| format!("kit {}", calm(&sources.name(kit))),
    );
    let mut used = vec![format!(
        "Used {kit}, notes {notes}, dump {} ({} files).",
        calm(&shown(&sources.dump)),
        dump.files()
    )];
    for list in &sources.lists {
        used.push(format!("Used clip list {}.", calm(&sources.name(list))));
    }
    for table in &sources.passed_over {
        used.push(format!(
            "Not taken for lens notes: {}, no row of it has headings for clips and lenses (docs/lens-notes.md).",
            calm(&sources.name(table))
        ));
    }
    used
}

fn show(shoot: &Shoot, look: Look) -> Vec<u8> {
    let mut text = findings::text(&shoot.findings, look.colour, look.width);
    text.push_str(&summary::annotate(shoot));
    text.into_bytes()
}
