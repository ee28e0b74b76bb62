//! `kit`: what goes on what, and what becomes of it, before the shoot.

use std::path::{Path, PathBuf};

use anyhow::{Result, bail};

use crate::cli::KitCheck;
use crate::dump::walk::shown;
use crate::finding::nearest;
use crate::folder::KIT;
use crate::inputs;
use crate::kit::called::{lens_called, only};
use crate::kit::{Camera, Kit, Lens, STARTER, schema};
use crate::output::calm::calm;
use crate::output::{Stamp, findings, kit as sheet, kit_json};
use crate::place::{self, Fate, Planned};
use crate::prep;
use crate::watch::Unwatched;

use super::{Look, Outcome, broken, code, refuse};

pub(super) fn kit(request: &KitCheck, stamp: &Stamp, look: Look) -> Result<Outcome> {
    if let Some(target) = &request.new {
        return start(target);
    }
    if request.schema {
        return Ok(Outcome { result: schema().into_bytes(), ..Outcome::default() });
    }
    let path = inputs::kit_in(&request.path)?;
    let name = shown(path.strip_prefix(".").unwrap_or(&path));
    let mut read = inputs::read_kit(&path, &name)?;
    if broken(&read.findings) {
        let words = "The kit does not hold together; nothing can be worked out from it.";
        return refuse(&read.findings, words, request.json, stamp, look);
    }
    let kit = read.value;
    let camera = request.camera.as_deref().map(|typed| chosen_camera(&kit, typed)).transpose()?;
    let lens = request.lens.as_deref().map(|typed| chosen_lens(&kit, typed)).transpose()?;
    let mut prep = prep::prepare(&kit, camera, lens, &name)?;
    read.findings.append(&mut prep.findings);
    prep.findings = read.findings;
    let result = if request.json {
        kit_json::write(&prep, &read.inputs, stamp)?
    } else {
        let mut text = findings::text(&prep.findings, look.colour, look.width);
        text.push_str(&sheet::text(&prep, look.width));
        text.into_bytes()
    };
    Ok(Outcome { result, talk: Vec::new(), code: code(&prep.findings) })
}

fn chosen_camera<'a>(kit: &'a Kit, typed: &str) -> Result<&'a Camera> {
    let names =
        |it: &'a Camera| std::iter::once(&it.id).chain(it.name.as_ref()).chain(it.serial.as_ref());
    only(&kit.cameras, typed, names).or_else(|several| {
        let ids: Vec<&str> = kit.cameras.iter().map(|camera| camera.id.as_str()).collect();
        bail!("{}", not_one("camera", typed, several, &ids))
    })
}

fn chosen_lens<'a>(kit: &'a Kit, typed: &str) -> Result<&'a Lens> {
    lens_called(&kit.lenses, typed).or_else(|several| {
        let ids: Vec<&str> = kit.lenses.iter().map(|lens| lens.id.as_str()).collect();
        bail!("{}", not_one("lens", typed, several, &ids))
    })
}

fn not_one(what: &str, typed: &str, several: bool, ids: &[&str]) -> String {
    if several {
        return format!("\"{typed}\" fits more than one {what} of the kit; name it by its id");
    }
    let hint = match nearest(typed, ids.iter().copied()) {
        Some(id) => format!("did you mean {id}?"),
        None if ids.is_empty() => format!("the kit has no {what} at all"),
        None => format!("the kit has {}", some(ids)),
    };
    format!("no {what} of the kit is called \"{typed}\"; {hint}")
}

/// The first few of many.
fn some(ids: &[&str]) -> String {
    let first: Vec<&str> = ids.iter().take(12).copied().collect();
    let more = if ids.len() > first.len() { " and more" } else { "" };
    format!("{}{more}", first.join(", "))
}

/// Writes a kit to start from. What is there, whatever it is, stays.
fn start(target: &Path) -> Result<Outcome> {
    let named = target.display();
    if target.is_dir() {
        bail!("{named} is a folder; name the file, such as {}", target.join(KIT).display());
    }
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    };
    let Some(file) = target.file_name().filter(|_| folder.is_dir()) else {
        bail!("there is no folder {}; make it first", folder.display());
    };
    let planned = [Planned {
        target: folder.join(file),
        within: folder,
        make: Box::new(|_| Ok(STARTER.as_bytes().into())),
    }];
    let mut decisions = place::decide(&planned, &|_, _| false);
    if decisions.iter().any(|decision| matches!(decision.fate, Fate::Foreign | Fate::Same)) {
        bail!("{named} is there already and stays as it is; name a file that is not there");
    }
    place::carry_out(&planned, &mut decisions, &Unwatched);
    for decision in decisions {
        if let Fate::Failed(why) = decision.fate {
            bail!("cannot write {named}: {why}");
        }
    }
    let talk = vec![
        format!("Wrote {}.", calm(&named.to_string())),
        "Change it to what you have (docs/kit-toml.md), then look at it with `lensmend kit`."
            .to_owned(),
    ];
    Ok(Outcome { result: Vec::new(), talk, code: 0 })
}
