//! `optics`: one set-up, in numbers and as a picture.

use std::path::Path;

use anyhow::{Result, bail};

use crate::ask;
use crate::cli::Optics;
use crate::folder::KIT;
use crate::inputs::{self, Read};
use crate::kit::{self, Kit};
use crate::output::calm::calm;
use crate::output::{Stamp, findings, optics as page, optics_json, scenes};

use super::drawing::draw;
use super::{Look, Outcome, broken, code, refuse};

pub(super) fn optics(request: &Optics, stamp: &Stamp, look: Look) -> Result<Outcome> {
    let here = Path::new(KIT);
    // A kit that nobody named is only looked at if a name has to be looked up.
    let path =
        request.kit.as_deref().or_else(|| (!ask::plain(request) && here.is_file()).then_some(here));
    let Read { value: kit, findings: mut found, inputs } = match path {
        Some(path) => {
            let path = inputs::kit_in(path)?;
            inputs::read_kit(&path, &path.display().to_string())?
        }
        None => Read { value: plain(), findings: Vec::new(), inputs: Vec::new() },
    };
    if broken(&found) {
        let words = "The kit does not hold together; nothing can be worked out from it.";
        return refuse(&found, words, request.json, stamp, look);
    }
    let comparison = ask::ask(request, &kit)?;
    found.extend(comparison.findings.iter().cloned());
    let mut talk = Vec::new();
    if request.kit.is_none() && path.is_some() {
        talk.push(format!("Used kit {KIT}."));
    }
    if let Some(target) = &request.picture {
        let Some(svg) = scenes::drawn(&comparison) else {
            bail!(
                "there is nothing to draw: give the recorded area with --sensor, or --camera and --mode"
            );
        };
        draw(target, &svg)?;
        talk.push(format!("Drew {}.", calm(&target.display().to_string())));
    }
    let result = if request.json {
        optics_json::write(&comparison, &inputs, &found, stamp)?
    } else {
        (findings::text(&found, look.colour, look.width) + &page::text(&comparison)).into_bytes()
    };
    Ok(Outcome { result, talk, code: code(&found) })
}

/// A kit with nothing in it but the defaults.
fn plain() -> Kit {
    kit::parse(KIT, b"").value
}
