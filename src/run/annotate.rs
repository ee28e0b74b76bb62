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
use crate::outputs::{self, AsBefore};
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
    if let Some(AsBefore { findings, shown, record, talk }) = prepared.as_before(stamp, watch) {
        let show = || record.unwrap_or_else(|| self::shown(&findings, &shown, look));
        // To give back what thousands of clips say takes as long as to show what was found in them.
        let (result, ()) = rayon::join(show, move || drop(prepared));
        return Ok(Outcome { result, talk, code: code(&findings) });
    }
    let there = prepared.there.take();
    let (mut shoot, mut talk) = prepared.shoot()?;
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

/// What a run rests on; `read` is what was understood of the notes, if that was needed.
pub(super) fn used(sources: &Sources, read: Option<&[Notes]>, dump: &Dump) -> Vec<String> {
    let name = |path: &std::path::PathBuf| {
        let name = sources.name(path);
        let sheet = read?.iter().find(|notes| *notes.file == *name)?.sheet.as_deref()?;
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
        let rows = |read: &[Notes]| read.iter().map(|notes| notes.rows.len()).sum::<usize>();
        let rows = read.map_or_else(String::new, |read| format!(" ({} rows)", rows(read)));
        format!("{}{rows}", notes.join(", "))
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
