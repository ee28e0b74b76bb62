//! `turnover`: the shots of a cut, with what they were taken with, as a package for VFX.

use anyhow::{Context, Result, anyhow, bail};

use crate::cli::Turnover;
use crate::cut;
use crate::dump::walk::read_input;
use crate::finding::{Code, Finding, Found, Level, nearest};
use crate::folder::{self, LARGEST_INPUT, TURNOVER, TURNOVER_JOURNAL, TURNOVER_TABLE};
use crate::inputs;
use crate::kit::{Kit, Plate};
use crate::output::turnover::{Handed, cameras, edl, otio, page, record, table, text};
use crate::output::{Stamp, findings};
use crate::outputs::package::{self, Files, Folder, Item, Kind};
use crate::ratio::{FrameRate, parse_rate};
use crate::turnover::{Request, turn_over};
use crate::watch::Watch;

use super::shoot::{Given, given};
use super::{Look, Outcome, annotate, code, refuse};

/// What is said of a cut or kit that cannot be used.
pub(super) const NO_CUT: &str = "The cut cannot be read; nothing was written.";

const KIND: Kind = Kind { record: TURNOVER, format: record::FORMAT, journal: TURNOVER_JOURNAL };

pub(super) fn turnover(
    request: &Turnover,
    stamp: &Stamp,
    look: Look,
    watch: &dyn Watch,
) -> Result<Outcome> {
    let (reading, telling) = (&request.reading, &request.telling);
    let sources = folder::find(&request.folder, &given(reading, &request.into))?;
    let rate = rate(request.rate.as_deref())?;
    let bytes = read_input(&request.cut, LARGEST_INPUT)
        .with_context(|| format!("cannot read the cut {}", request.cut.display()))?;
    let cut_name = sources.name(&request.cut);
    let Found { value: cut, findings: of_cut } = cut::parse(&cut_name, &bytes);
    let kit = inputs::read_kit_of(&sources)?;
    let read = Given::read(&sources, kit, reading.sheet.as_deref())?;
    if let Some(all) = read.broken() {
        return refuse(&all, super::NOTHING_WRITTEN, telling.json, stamp, look);
    }
    if of_cut.iter().any(|finding| finding.level() == Level::Fault) {
        return refuse(&of_cut, NO_CUT, telling.json, stamp, look);
    }
    let plate = plate(request.plate.as_deref(), &read.kit.value)?;
    let (mut shoot, dump) = read.clips(&sources, reading.per_frame, &reading.into(), watch)?;
    shoot.inputs.push(inputs::input("cut", &cut_name, &bytes));
    let naming = inputs::naming(&read.kit.value)?;
    let asked = Request {
        handles: request.handles,
        first_frame: request.first_frame,
        rate,
        plate,
        naming: &naming,
    };
    let mut turnover = turn_over(cut.clone(), &shoot, &asked);
    turnover.findings.splice(0..0, of_cut);
    let handed = Handed {
        turnover: &turnover,
        shoot: &shoot,
        cut: &cut,
        cut_name: &cut_name,
        cut_bytes: &bytes,
        stamp,
        per_frame: reading.per_frame,
    };
    let mut found = handed.findings();
    let items = items(&handed, &mut found)?;
    let make = |outputs: &[_], of_files: &[Finding], stamp: &Stamp| {
        let all = [found.as_slice(), of_files].concat();
        record::write(&handed, &shoot.inputs, outputs, &all, stamp)
    };
    let folder = Folder { into: &sources.into, dry_run: telling.dry_run, stamp, watch };
    let done = package::write(KIND, folder, Files { whole: &items, streams: &[] }, &make)?;
    let all = [found.as_slice(), &done.findings].concat();
    let result = if telling.json {
        done.record
    } else {
        let mut shown = findings::text(&all, look.colour, look.width);
        shown.push_str(&text::summary(&handed, &all));
        shown.into_bytes()
    };
    let mut talk = annotate::used(&sources, Some(&read.notes.value), &dump);
    talk.push(done.talk);
    Ok(Outcome { result, talk, code: code(&all) })
}

pub(super) fn rate(text: Option<&str>) -> Result<Option<FrameRate>> {
    let Some(text) = text else { return Ok(None) };
    let rate = parse_rate(text).filter(|rate| (1.0..=240.0).contains(&rate.to_f64()));
    rate.map(Some).ok_or_else(|| {
        anyhow!("--rate {text}: write a frame rate such as 24, 23.976 or 30000/1001, up to 240")
    })
}

pub(super) fn plate<'a>(id: Option<&str>, kit: &'a Kit) -> Result<Option<&'a Plate>> {
    let Some(id) = id else { return Ok(None) };
    if let Some(plate) = kit.plates.iter().find(|plate| plate.id == id) {
        return Ok(Some(plate));
    }
    let known: Vec<&str> = kit.plates.iter().map(|plate| plate.id.as_str()).collect();
    match nearest(id, known.iter().copied()) {
        Some(near) => bail!("--plate: the kit has no plate {id}; did you mean {near}?"),
        None if known.is_empty() => {
            bail!("--plate: the kit has no plate; write a [[plate]] into it (docs/kit-toml.md)")
        }
        None => bail!("--plate: the kit has no plate {id}; there are {}", known.join(", ")),
    }
}

/// The files of the package. Shots without a camera are findings.
fn items<'a>(handed: &'a Handed<'a>, found: &mut Vec<Finding>) -> Result<Vec<Item<'a>>> {
    let item = |role, file: &str, bytes: Vec<u8>| Item {
        role,
        file: file.to_owned(),
        make: Box::new(move || Ok(bytes.clone())),
    };
    let mut files = Vec::new();
    for shot in &handed.turnover.shots {
        if handed.clip(shot).is_none() || shot.range.is_none() {
            continue;
        }
        let left_out = |message: String| {
            let hint =
                "what is not written there, the format would fill in with a number of its own";
            let mut finding = Finding::new(Code::OutputLeftOut, message).hint(hint);
            finding.clip = handed.clip(shot).map(|clip| clip.clip.name.clone());
            finding
        };
        let plate_missing = handed.turnover.plate.is_some() && !shot.plate_fits;
        match cameras::lacks(handed, shot) {
            Some(why) => found.push(left_out(format!("no camera of shot {}: {why}", shot.name))),
            None => files.push(Item {
                role: "camera",
                file: format!("shots/{}.usda", shot.name),
                make: Box::new(move || cameras::usd(handed, shot)),
            }),
        }
        if !plate_missing {
            files.push(Item {
                role: "camera",
                file: format!("shots/{}.opentrackio.jsonl", shot.name),
                make: Box::new(move || cameras::opentrackio(handed, shot)),
            });
        }
    }
    match otio::write(handed) {
        Ok(bytes) => files.push(item("cut", "turnover.otio", bytes)),
        Err(why) => {
            let message = format!("no turnover.otio: {why}");
            found
                .push(Finding::new(Code::OutputLeftOut, message).hint("name the rate with --rate"));
        }
    }
    files.extend(edl::write(handed).map(|bytes| item("cut", "turnover.edl", bytes)));
    files.push(item("table", TURNOVER_TABLE, table::write(handed)?));
    files.push(item("page", "turnover.html", page::write(handed, found)));
    Ok(files)
}
