//! `scan`: the clips of a dump, and what each says of itself.

use anyhow::{Result, bail};

use crate::annotation::{ClipFacts, Stray};
use crate::cli::Scan;
use crate::dump;
use crate::finding::Found;
use crate::inputs::{self, Clips};
use crate::kit::Kit;
use crate::output::{Stamp, findings, record, summary};
use crate::reconcile;
use crate::watch::{Interrupted, Watch};

use super::{Look, NOTHING_WRITTEN, Outcome, broken, code, refuse};

pub(super) fn scan(
    request: &Scan,
    stamp: &Stamp,
    look: Look,
    watch: &dyn Watch,
) -> Result<Outcome> {
    if !request.dump.is_dir() {
        bail!("the dump {} is not a folder", request.dump.display());
    }
    let (mut kit, mut found) = (Kit::default(), Vec::new());
    if let Some(path) = &request.kit {
        let read = inputs::read_kit(path, &path.display().to_string())?;
        if broken(&read.findings) {
            return refuse(&read.findings, NOTHING_WRITTEN, request.json, stamp, look);
        }
        (kit, found) = (read.value, read.findings);
    }
    let Found { value: mut dump, findings } =
        dump::read(&request.dump, &inputs::naming(&kit)?, &[], &[]);
    found.extend(findings);
    let Clips { value: mut facts, findings, .. } =
        inputs::read_clips(&dump, request.per_frame, watch);
    if !watch.go_on() {
        bail!(Interrupted { written: None });
    }
    found.extend(findings);
    found.extend(reconcile::copies::fold(&mut dump, &mut facts));
    let mut clips: Vec<ClipFacts> = Vec::new();
    for (clip, facts) in dump.clips.iter().zip(&facts) {
        let Found { value, findings } = reconcile::media::join(clip, facts);
        clips.push(value);
        found.extend(findings);
    }
    let Found { value: stills, findings } = inputs::read_stills(&dump);
    found.extend(findings);
    let strays: Vec<Stray> = dump
        .strays
        .iter()
        .zip(stills)
        .map(|(stray, media)| reconcile::stray(stray, media))
        .collect();
    let result = if request.json {
        record::scan(&clips, &strays, &found, stamp)?
    } else {
        let mut text = findings::text(&found, look.colour, look.width);
        text.push_str(&summary::scan(&clips, &strays, &found));
        text.into_bytes()
    };
    Ok(Outcome { result, talk: Vec::new(), code: code(&found) })
}
