//! The whole pipeline, a file a command: the only module that knows every station.

mod annotate;
mod asked;
mod check;
mod drawing;
mod form;
mod kit;
mod measure;
mod optics;
mod options;
mod prepared;
mod report;
mod scan;
mod sealed;
mod sheet;
mod shoot;
mod stamp;
mod turnover;
mod unchanged;

use anyhow::Result;

use crate::cli::{Cli, Command};
use crate::finding::{Finding, Level};
use crate::output::lens_data::fdl::Cut;
use crate::output::{Stamp, findings, record};
use crate::watch::Watch;

/// How many files are read at once: a network volume is slow to answer, not to send.
pub const IN_FLIGHT: usize = 16;

/// How results look on this terminal.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// Whether colours may be used in results.
    pub colour: bool,
    /// Whether colours may be used in talk, which goes elsewhere.
    pub colour_of_talk: bool,
    /// Columns of the terminal.
    pub width: usize,
}

/// What a run comes to.
#[derive(Debug, Default)]
pub struct Outcome {
    /// For stdout.
    pub result: Vec<u8>,
    /// For stderr.
    pub talk: Vec<String>,
    /// Exit code.
    pub code: u8,
}

/// Carries out a command. An error means that the request could not be carried out and nothing was written; if it is
/// [`Interrupted`](crate::watch::Interrupted), `watch` asked for it, and it says how far writing had come.
pub fn run(cli: &Cli, stamp: &Stamp, look: Look, watch: &dyn Watch) -> Result<Outcome> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(IN_FLIGHT).build()?;
    pool.install(|| match &cli.command {
        Command::Scan(request) => scan::scan(request, stamp, look, watch),
        Command::Sheet(request) => sheet::sheet(request, stamp, look, watch),
        Command::Annotate(request) => annotate::annotate(request, stamp, look, watch),
        Command::Report(request) => report::report(request, stamp, look, watch),
        Command::Check(request) => check::check(request, stamp, look, watch),
        Command::Turnover(request) => turnover::turnover(request, stamp, look, watch),
        Command::Stamp(request) => stamp::stamp(request, stamp, look, watch),
        Command::Optics(request) => optics::optics(request, stamp, look),
        Command::Kit(request) => kit::kit(request, stamp, look),
        Command::Measure(request) => measure::measure(request, stamp, look),
    })
}

/// Said of a broken kit by the commands that write.
const NOTHING_WRITTEN: &str = "The kit does not hold together; nothing was written.";

/// The outcome of a kit that does not hold together: every number downstream rests on it, so nothing is written.
fn refuse(
    findings: &[Finding],
    words: &str,
    json: bool,
    stamp: &Stamp,
    look: Look,
) -> Result<Outcome> {
    let words = words.to_owned();
    if json {
        let result = record::refusal(findings, stamp)?;
        return Ok(Outcome { result, talk: vec![words], code: 2 });
    }
    let talk = vec![findings::text(findings, look.colour_of_talk, look.width), words];
    Ok(Outcome { result: Vec::new(), talk, code: 2 })
}

/// A plate of the kit, as far as framing goes.
fn cut(plate: &crate::kit::Plate) -> Cut {
    Cut {
        id: plate.id.clone(),
        kept: plate.crop,
        offset: plate.offset,
        size: plate.size,
        squeeze: plate.squeeze.map(crate::units::Factor::get),
    }
}

fn broken(findings: &[Finding]) -> bool {
    findings.iter().any(|finding| finding.level() == Level::Fault)
}

fn code(found: &[Finding]) -> u8 {
    u8::from(found.iter().any(|finding| finding.level() > Level::Info))
}
