//! `annotate`, the main job: dump, notes and kit become sidecars, lens table and run record.

use anyhow::Result;

use crate::cli::Annotate;
use crate::dump::Dump;
use crate::dump::walk::shown as shown_path;
use crate::finding::Finding;
use crate::folder::Sources;
use crate::notes::Notes;
use crate::output::calm::calm;
use crate::output::{Stamp, findings, summary};
use crate::outputs;
use crate::watch::Watch;

use super::prepared::{self, Faults};
use super::{Look, NOTHING_WRITTEN, Outcome, code, refuse};

pub(super) fn annotate(
    request: &Annotate,
    stamp: &Stamp,
    look: Look,
    watch: &dyn Watch,
) -> Result<Outcome> {
    let mut prepared = match prepared::prepare(request, stamp, watch)? {
        Ok(prepared) => prepared,
        // The faults of the notes are said in the same run: whoever mends one file can mend them all.
        Err(Faults(all)) => return refuse(&all, NOTHING_WRITTEN, request.json, stamp, look),
    };
    let mut talk = std::mem::take(&mut prepared.talk);
    if let Some(before) = prepared.as_before(stamp, watch) {
        let result = match before.record {
            Some(record) => record,
            None => shown(&before.findings, &before.shown, look),
        };
        talk.extend(before.talk);
        return Ok(Outcome { result, talk, code: code(&before.findings) });
    }
    let there = prepared.there.take();
    let mut shoot = prepared.shoot();
    let done = outputs::write(&mut shoot, &prepared.job(stamp, watch), there)?;
    let result = if request.json {
        done.record
    } else {
        let text = done.shown.unwrap_or_else(|| summary::annotate(&shoot));
        shown(&shoot.findings, &text, look)
    };
    talk.extend(done.talk);
    Ok(Outcome { result, talk, code: code(&shoot.findings) })
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
        calm(&shown_path(&sources.dump)),
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

fn shown(found: &[Finding], clips: &str, look: Look) -> Vec<u8> {
    let mut text = findings::text(found, look.colour, look.width);
    text.push_str(clips);
    text.into_bytes()
}
