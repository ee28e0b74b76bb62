//! `sheet`: blank lens notes, for the clips of a dump or for the day to come.

use std::io;
use std::path::{Path, PathBuf};

use anyhow::{Result, bail};

use crate::annotation::{ClipFacts, Input};
use crate::cli::{FocusUnit, Sheet as Request};
use crate::dump;
use crate::finding::{Finding, Found};
use crate::folder::{self, KIT, OUT};
use crate::inputs::{self, Clips, Read};
use crate::kit::Kit;
use crate::output::calm::calm;
use crate::output::sheet::json::Placed;
use crate::output::sheet::{self as form, Form, json};
use crate::output::{Stamp, findings};
use crate::place::{self, Fate, Planned};
use crate::reconcile;
use crate::sheet::{Sheet, Wanted, of_dump, of_kit};
use crate::watch::{Interrupted, Watch};

use super::{Look, NOTHING_WRITTEN, Outcome, broken, code, refuse};

pub(super) fn sheet(
    request: &Request,
    stamp: &Stamp,
    look: Look,
    watch: &dyn Watch,
) -> Result<Outcome> {
    if !request.folder.is_dir() {
        bail!("{} is not a folder", request.folder.display());
    }
    let into = match request.into.as_deref() {
        Some(into) => Some((into, form_of(into)?)),
        None => None,
    };
    let kit = kit(request)?;
    if broken(&kit.findings) {
        return refuse(&kit.findings, NOTHING_WRITTEN, request.json, stamp, look);
    }
    let Read { value: kit, findings: mut found, inputs } = kit;
    let wanted = Wanted {
        rolls: request.rolls.clone(),
        rows: request.rows,
        focus_unit: request.focus_unit.map(FocusUnit::word),
    };
    let Found { value: sheet, findings } = if request.blank {
        of_kit(&kit, &wanted)
    } else {
        let dump = folder::dump_in(&request.folder, request.dump.as_deref())?;
        if let Some((into, _)) = into {
            outside(into, &dump, &request.folder)?;
        }
        let Found { value: clips, findings } = clips(&dump, &request.folder, &kit, watch)?;
        if clips.is_empty() {
            bail!(
                "no clip was found in {}; for the day to come, `--blank` makes an empty sheet from the kit",
                dump.display()
            );
        }
        found.extend(findings);
        of_dump(&clips, &kit, &wanted)
    };
    found.extend(findings);
    finish(request, &Made { sheet, inputs, found }, into, stamp, look)
}

/// A sheet, and how it was come by.
struct Made {
    sheet: Sheet,
    inputs: Vec<Input>,
    found: Vec<Finding>,
}

/// Writes or prints what was made.
fn finish(
    request: &Request,
    made: &Made,
    into: Option<(&Path, Form)>,
    stamp: &Stamp,
    look: Look,
) -> Result<Outcome> {
    let Made { sheet, inputs, found } = made;
    let mut talk = Vec::new();
    if !request.json {
        let text = findings::text(found, look.colour_of_talk, look.width);
        talk.extend((!text.is_empty()).then(|| text.trim_end().to_owned()));
    }
    let placed =
        into.map(|(into, form)| put(sheet, into, form, stamp, request.dry_run)).transpose()?;
    if let Some(placed) = &placed {
        talk.push(words(placed, sheet));
    }
    if inputs.is_empty() {
        talk.push(format!("There is no {KIT}, so the sheet has no names to choose from."));
    }
    let result = match (request.json, &placed) {
        (true, _) => json::write(sheet, placed.as_ref(), inputs, found, stamp)?,
        (false, None) => form::write(sheet, Form::Csv, stamp)?,
        (false, Some(_)) => Vec::new(),
    };
    Ok(Outcome { result, talk, code: code(found) })
}

fn form_of(into: &Path) -> Result<Form> {
    match Form::of(into) {
        Some(form) => Ok(form),
        None => bail!(
            "{}: a sheet is written as .csv, as .xlsx with drop-down lists, or as .html to print; give the file one of these endings",
            into.display()
        ),
    }
}

/// The kit of the folder, if there is one: without it a sheet has no names to offer, and is still of use.
fn kit(request: &Request) -> Result<Read<Kit>> {
    let own = request.folder.join(KIT);
    match &request.kit {
        Some(path) => inputs::read_kit(path, &path.display().to_string()),
        None if own.is_file() => inputs::read_kit(&own, KIT),
        None => Ok(Read { value: Kit::default(), findings: Vec::new(), inputs: Vec::new() }),
    }
}

/// The clips of the dump, with what their headers say.
fn clips(
    root: &Path,
    folder: &Path,
    kit: &Kit,
    watch: &dyn Watch,
) -> Result<Found<Vec<ClipFacts>>> {
    // What runs write beside the dump is no part of it.
    let leave_out: Vec<PathBuf> = inside(&folder.join(OUT), root).into_iter().collect();
    let Found { value: mut dump, mut findings } =
        dump::read(root, &inputs::naming(kit)?, &leave_out, &[]);
    let Clips { value: mut facts, findings: more, .. } = inputs::read_clips(&dump, false, watch);
    if !watch.go_on() {
        bail!(Interrupted { written: None });
    }
    findings.extend(more);
    findings.extend(reconcile::copies::fold(&mut dump, &mut facts));
    let mut clips = Vec::new();
    for (clip, facts) in dump.clips.iter().zip(&facts) {
        let Found { value, findings: more } = reconcile::media::join(clip, facts);
        clips.push(value);
        findings.extend(more);
    }
    Ok(Found { value: clips, findings })
}

/// `path` as the walk of `root` meets it, if it lies in it.
fn inside(path: &Path, root: &Path) -> Option<PathBuf> {
    let path = path.canonicalize().ok()?;
    Some(root.join(path.strip_prefix(root.canonicalize().ok()?).ok()?))
}

/// Refuses a place inside the dump: nothing is written there. Notes lie in the folder of the day itself, which may be the dump.
fn outside(into: &Path, dump: &Path, day: &Path) -> Result<()> {
    let place = folder_of(into);
    let same = place.canonicalize().ok().zip(day.canonicalize().ok()).is_some_and(|(a, b)| a == b);
    if !same && inside(&place, dump).is_some() {
        bail!(
            "{} lies in the dump, where nothing is written; write the sheet into {}",
            into.display(),
            day.display()
        );
    }
    Ok(())
}

fn folder_of(file: &Path) -> PathBuf {
    match file.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// Writes the sheet. Only a sheet of ours that nobody changed gives way to it.
fn put(sheet: &Sheet, into: &Path, form: Form, stamp: &Stamp, dry_run: bool) -> Result<Placed> {
    let named = into.display();
    let folder = folder_of(into);
    let Some(file) = into.file_name().filter(|_| folder.is_dir() && !into.is_dir()) else {
        bail!("cannot write {named}: name a file in a folder that is there");
    };
    let make = |there: Option<&[u8]>| -> io::Result<place::Made<'_>> {
        let stamp = match there {
            None => stamp.clone(),
            Some(there) if form::is_untouched(there, form) => {
                // A workbook that would differ in nothing but its date keeps its date.
                let date = form::date_of(there, form).unwrap_or_else(|| stamp.date.clone());
                let dated = form::write(sheet, form, &Stamp { date, ..stamp.clone() })
                    .map_err(io::Error::other)?;
                if dated == there {
                    return Ok(dated.into());
                }
                stamp.clone()
            }
            Some(_) => {
                return Err(io::Error::other(
                    "a file stands there that may hold notes: lensmend did not write it, or it was changed since; \
                     it stays as it is, name another file or move it away",
                ));
            }
        };
        Ok(form::write(sheet, form, &stamp).map_err(io::Error::other)?.into())
    };
    let planned = Planned { target: folder.join(file), within: folder, make: Box::new(make) };
    let decision = place::put(&planned, dry_run);
    let state = match decision.fate {
        Fate::Failed(why) => bail!("cannot write {named}: {why}"),
        // Neither a history nor Ctrl-C has a say in a single file.
        Fate::Foreign | Fate::Sealed | Fate::Unwritten => {
            bail!("cannot write {named}: it is no file")
        }
        Fate::Same => "unchanged",
        Fate::New | Fate::Stale if dry_run => "would be written",
        Fate::New | Fate::Stale => "written",
    };
    Ok(Placed { file: named.to_string(), form, state })
}

fn words(placed: &Placed, sheet: &Sheet) -> String {
    let verb = match placed.state {
        "unchanged" => "Left as it is:",
        "written" => "Wrote",
        _ => "Would write",
    };
    let (rows, rolls) = (sheet.rows(), sheet.rolls.len());
    let rows = if rows == 1 { "1 row".to_owned() } else { format!("{rows} rows") };
    let rolls = if rolls == 1 { "1 roll".to_owned() } else { format!("{rolls} rolls") };
    format!("{verb} {}, {rows} on {rolls}.", calm(&placed.file))
}
