//! What `annotate` does about hash lists: looks for them, verifies the clips, and gets ready to add to a history.

use std::path::Path;

use anyhow::{Result, bail};

use crate::cli::Annotate;
use crate::dump::Dump;
use crate::finding::{Finding, Found};
use crate::folder::{OUT, RECORD, Sources};
use crate::output::calm::calm;
use crate::outputs::Sealing;
use crate::seal::{self, History, Lists, verify};
use crate::watch::{Interrupted, Watch};

/// What came of it.
#[derive(Default)]
pub(super) struct Sealed {
    pub(super) sealing: Sealing,
    pub(super) findings: Vec<Finding>,
    pub(super) talk: Vec<String>,
}

/// Reads hash lists where the request or the place of the outputs asks for it, and verifies the clips if asked to.
pub(super) fn look(
    request: &Annotate,
    sources: &Sources,
    dump: &Dump,
    watch: &dyn Watch,
) -> Result<Sealed> {
    let mut sealed = Sealed::default();
    let around = seal::managed(&sources.into);
    if request.into.is_none() && sources.into != request.folder.join(OUT) {
        sealed.talk.push(format!(
            "{} would lie in a folder sealed by a history (ASC MHL), so the outputs go beside that folder.",
            calm(&request.folder.join(OUT).display().to_string())
        ));
    }
    if !request.verify && !request.beside && around.is_none() {
        return Ok(sealed);
    }
    let Found { value: mut lists, findings } =
        if request.verify { seal::lists(dump) } else { histories(dump) };
    sealed.findings = findings;
    if let Some(around) = around {
        into_sealed(request, sources, &lists, &around)?;
    }
    if request.append_history {
        if lists.histories.all.is_empty() {
            bail!(
                "the dump {} has no sealed history (ASC MHL) to add to; leave out --append-history",
                sources.dump.display()
            );
        }
        lists.histories.all.iter_mut().for_each(History::take_up);
        sealed.sealing.append = Some(gethostname::gethostname().to_string_lossy().into_owned());
    }
    sealed.findings.extend(lists.histories.all.iter().flat_map(History::strange));
    if request.verify {
        let verified = verify::verify(dump, &lists, watch);
        if !watch.go_on() {
            bail!(Interrupted { written: None });
        }
        sealed.talk.extend(said(&lists, &verified));
        sealed.findings.extend(verified.findings);
        sealed.sealing.unsound = verified.unsound;
    }
    if request.beside {
        sealed.sealing.unrecorded = verify::unrecorded(dump, &lists.histories);
    }
    sealed.sealing.histories = lists.histories;
    Ok(sealed)
}

fn histories(dump: &Dump) -> Found<Lists> {
    let Found { value: histories, findings } = seal::histories(dump);
    Found { value: Lists { histories, ..Lists::default() }, findings }
}

/// An output folder in a sealed one: what changes with every run must not be recorded there.
fn into_sealed(request: &Annotate, sources: &Sources, lists: &Lists, around: &Path) -> Result<()> {
    let into = sources.into.display();
    if request.append_history {
        bail!(
            "the output folder {into} lies in {}, which is sealed; lens table and run record change from run to run, so choose one outside with --into OUT",
            around.display()
        );
    }
    let real = sources.into.canonicalize().unwrap_or_default();
    if lists.histories.record_at(&real.join(RECORD)) {
        bail!(
            "the run record in {into} is recorded in a sealed history (ASC MHL) and must stay as it is; choose another output folder with --into OUT"
        );
    }
    Ok(())
}

fn said(lists: &Lists, verified: &verify::Verified) -> Option<String> {
    let (histories, plain) = (lists.histories.all.len(), lists.plain);
    let (whole, bad) = (verified.whole, verified.unsound.len());
    (histories + plain > 0).then(|| {
        format!(
            "Verified against hash lists: {histories} sealed histories (ASC MHL), {plain} plain. Clip files that are whole: {whole}; clips with one that is not: {bad}."
        )
    })
}
