//! `report`: the camera report of a shoot, in a folder of its own.

use anyhow::{Result, bail};

use crate::cli::Report;
use crate::dump::walk::{There, shown, there};
use crate::finding::Finding;
use crate::folder::{self, RECORD, REPORT, REPORT_JOURNAL};
use crate::inputs;
use crate::output::calm::calm;
use crate::output::report::{record, report as make_report, template, text};
use crate::output::{Stamp, findings};
use crate::outputs::package::{self, Files, Folder, Kind};
use crate::outputs::report as files;
use crate::watch::Watch;

use super::form::form;
use super::shoot::{Given, given};
use super::{Look, Outcome, annotate, code, refuse};

const KIND: Kind = Kind { record: REPORT, format: record::FORMAT, journal: REPORT_JOURNAL };

pub(super) fn report(
    request: &Report,
    stamp: &Stamp,
    look: Look,
    watch: &dyn Watch,
) -> Result<Outcome> {
    if request.headings_template {
        return Ok(Outcome { result: template().into_bytes(), talk: Vec::new(), code: 0 });
    }
    let (Some(folder), Some(into)) = (&request.folder, &request.into) else {
        bail!("name the folder of the day, and with --into where the report goes");
    };
    if there(&into.join(RECORD)) != There::Nothing {
        bail!(
            "{} holds what `annotate` wrote, its camera report among it; run that again, or choose another folder with --into",
            calm(&shown(into))
        );
    }
    let (reading, telling) = (&request.reading, &request.telling);
    let sources = folder::find(folder, &given(reading, into))?;
    let (options, headings) = form(&request.form, &sources)?;
    let kit = inputs::read_kit_of(&sources)?;
    let read = Given::read(&sources, kit, reading.sheet.as_deref())?;
    if let Some(all) = read.broken() {
        return refuse(&all, super::NOTHING_WRITTEN, telling.json, stamp, look);
    }
    let (mut shoot, dump) = read.clips(&sources, reading.per_frame, &reading.into(), watch)?;
    shoot.inputs.extend(headings);
    let made = make_report(&shoot, &options, stamp);
    let items = files::items(&made);
    let make = |outputs: &[_], of_files: &[Finding], stamp: &Stamp| {
        let all = [shoot.findings.as_slice(), of_files].concat();
        record::write(&made, &shoot.inputs, outputs, &all, stamp)
    };
    let folder = Folder { into: &sources.into, dry_run: telling.dry_run, stamp, watch };
    let done = package::write(KIND, folder, Files { whole: &items, streams: &[] }, &make)?;
    let all = [shoot.findings.as_slice(), &done.findings].concat();
    let result = if telling.json {
        done.record
    } else {
        let mut shown = findings::text(&all, look.colour, look.width);
        shown.push_str(&text::summary(&made, &all));
        shown.into_bytes()
    };
    let mut talk = annotate::used(&sources, Some(&read.notes.value), &dump);
    talk.push(done.talk);
    Ok(Outcome { result, talk, code: code(&all) })
}
