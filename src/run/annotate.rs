//! `annotate`, the main job: dump, notes and kit become sidecars, lens table and run record.

use anyhow::{Result, anyhow};

use crate::annotation::Shoot;
use crate::cli::{Annotate, Trusted};
use crate::dump::Dump;
use crate::dump::walk::shown;
use crate::folder::{self, Sources};
use crate::output::calm::calm;
use crate::output::lens_data::Kind;
use crate::output::lens_data::fdl::Cut;
use crate::output::{Stamp, findings, summary, table};
use crate::outputs::{self, Job};
use crate::reconcile::Trust;

use super::shoot::Given;
use super::{Look, NOTHING_WRITTEN, Outcome, code, refuse};

pub(super) fn annotate(request: &Annotate, stamp: &Stamp, look: Look) -> Result<Outcome> {
    let given = folder::Given {
        kit: request.kit.clone(),
        notes: request.notes.clone(),
        lists: request.clip_list.clone(),
        dump: request.dump.clone(),
        into: request.into.clone(),
    };
    let sources = folder::find(&request.folder, &given)?;
    let read = Given::read(&sources)?;
    if let Some(all) = read.broken() {
        return refuse(&all, NOTHING_WRITTEN, request.json, stamp, look);
    }
    let kit = &read.kit;
    let chosen = kit.value.columns.as_ref().map(|columns| columns.value.as_str());
    let chosen = request.columns.as_deref().or(chosen).unwrap_or(table::DEFAULT);
    let columns = table::columns(chosen)?;
    let lens_data = formats(request.lens_data.as_deref())?;
    let plates: Vec<Cut> = kit.value.plates.iter().map(super::cut).collect();
    let trust = match request.trust {
        Some(Trusted::Notes) => Trust::Notes,
        None => Trust::Nobody,
    };
    let (mut shoot, dump) = read.shoot(&sources, request.per_frame, trust)?;
    let job = Job {
        sources: &sources,
        columns: &columns,
        stamp,
        beside: request.beside,
        dry_run: request.dry_run,
        lens_data: &lens_data,
        per_frame: request.per_frame,
        plates: &plates,
    };
    let done = outputs::write(&mut shoot, &job)?;
    let result = if request.json { done.record } else { show(&shoot, look) };
    let mut talk = used(&sources, read.rows(), &dump);
    talk.extend(done.talk);
    Ok(Outcome { result, talk, code: code(&shoot.findings) })
}

/// The formats of `--lens-data`.
fn formats(list: Option<&str>) -> Result<Vec<Kind>> {
    Kind::list(list.unwrap_or_default()).map_err(|stranger| {
        let known = Kind::ALL.map(Kind::word).join(", ");
        anyhow!("--lens-data: `{stranger}` is no format; there are {known}, and all")
    })
}

pub(super) fn used(sources: &Sources, rows: usize, dump: &Dump) -> Vec<String> {
    let notes: Vec<String> = sources.notes.iter().map(|notes| calm(&sources.name(notes))).collect();
    let notes = if notes.is_empty() {
        "none found".to_owned()
    } else {
        format!("{} ({rows} rows)", notes.join(", "))
    };
    let mut used = vec![format!(
        "Used kit {}, notes {notes}, dump {} ({} files).",
        calm(&sources.name(&sources.kit)),
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
