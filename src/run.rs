//! The whole pipeline: the only file that knows every station.

use anyhow::{Result, bail};

use crate::annotation::{ClipFacts, Shoot, Stray};
use crate::cli::{Annotate, Cli, Command, Scan, Trusted};
use crate::dump::walk::shown;
use crate::dump::{self, Dump};
use crate::finding::{Finding, Found, Level};
use crate::folder::{self, Given, Sources};
use crate::inputs;
use crate::kit::Kit;
use crate::output::calm::calm;
use crate::output::record;
use crate::output::{Stamp, findings, summary, table};
use crate::outputs::{self, Job};
use crate::reconcile::{self, Trust};

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

/// Carries out a command. An error means that the request could not be carried out and nothing was written.
pub fn run(cli: &Cli, stamp: &Stamp, look: Look) -> Result<Outcome> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(IN_FLIGHT).build()?;
    pool.install(|| match &cli.command {
        Command::Scan(request) => scan(request, stamp, look),
        Command::Annotate(request) => annotate(request, stamp, look),
    })
}

fn scan(request: &Scan, stamp: &Stamp, look: Look) -> Result<Outcome> {
    if !request.dump.is_dir() {
        bail!("the dump {} is not a folder", request.dump.display());
    }
    let (mut kit, mut found) = (Kit::default(), Vec::new());
    if let Some(path) = &request.kit {
        let read = inputs::read_kit(path, &path.display().to_string())?;
        if broken(&read.findings) {
            return refuse(&read.findings, request.json, stamp, look);
        }
        (kit, found) = (read.value, read.findings);
    }
    let Found { value: dump, findings } =
        dump::read(&request.dump, &inputs::naming(&kit)?, &[], &[]);
    found.extend(findings);
    let Found { value: facts, findings } = inputs::read_clips(&dump);
    found.extend(findings);
    let mut clips: Vec<ClipFacts> = Vec::new();
    for (clip, facts) in dump.clips.iter().zip(&facts) {
        let Found { value, findings } = reconcile::media::join(clip, facts);
        clips.push(value);
        found.extend(findings);
    }
    let strays: Vec<Stray> = dump
        .strays
        .iter()
        .map(|stray| Stray { file: shown(&stray.path), reason: stray.reason })
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

fn annotate(request: &Annotate, stamp: &Stamp, look: Look) -> Result<Outcome> {
    let given = Given {
        kit: request.kit.clone(),
        notes: request.notes.clone(),
        dump: request.dump.clone(),
        into: request.into.clone(),
    };
    let sources = folder::find(&request.folder, &given)?;
    let kit = inputs::read_kit(&sources.kit, &sources.name(&sources.kit))?;
    let notes = inputs::read_notes(&sources)?;
    if broken(&kit.findings) {
        // The faults of the notes are said in the same run: whoever mends one file can mend them all.
        let all = [kit.findings, notes.findings].concat();
        return refuse(&all, request.json, stamp, look);
    }
    let chosen = kit.value.columns.as_ref().map(|columns| columns.value.as_str());
    let chosen = request.columns.as_deref().or(chosen).unwrap_or(table::DEFAULT);
    let columns = table::columns(chosen)?;
    let dump = inputs::read_dump(&sources, &kit.value)?;
    let recorded = inputs::read_clips(&dump.value);
    let trust = match request.trust {
        Some(Trusted::Notes) => Trust::Notes,
        None => Trust::Nobody,
    };
    let mut shoot =
        reconcile::reconcile(&dump.value, &recorded.value, &notes.value, &kit.value, trust);
    shoot.inputs = kit.inputs.into_iter().chain(notes.inputs).collect();
    let before = [kit.findings, notes.findings, dump.findings, recorded.findings].concat();
    shoot.findings.splice(0..0, before);
    let job = Job {
        sources: &sources,
        columns: &columns,
        stamp,
        beside: request.beside,
        dry_run: request.dry_run,
    };
    let done = outputs::write(&mut shoot, &job)?;
    let result = if request.json { done.record } else { show(&shoot, look) };
    let rows = notes.value.iter().map(|notes| notes.rows.len()).sum();
    let mut talk = used(&sources, rows, &dump.value);
    talk.extend(done.talk);
    Ok(Outcome { result, talk, code: code(&shoot.findings) })
}

/// The outcome of a kit that does not hold together: every number downstream rests on it, so nothing is written.
fn refuse(findings: &[Finding], json: bool, stamp: &Stamp, look: Look) -> Result<Outcome> {
    let words = "The kit does not hold together; nothing was written.".to_owned();
    if json {
        let result = record::refusal(findings, stamp)?;
        return Ok(Outcome { result, talk: vec![words], code: 2 });
    }
    let talk = vec![findings::text(findings, look.colour_of_talk, look.width), words];
    Ok(Outcome { result: Vec::new(), talk, code: 2 })
}

fn broken(findings: &[Finding]) -> bool {
    findings.iter().any(|finding| finding.level() == Level::Fault)
}

fn used(sources: &Sources, rows: usize, dump: &Dump) -> Vec<String> {
    let notes: Vec<String> = sources.notes.iter().map(|notes| calm(&sources.name(notes))).collect();
    let notes = if notes.is_empty() {
        "none found".to_owned()
    } else {
        format!("{} ({rows} rows)", notes.join(", "))
    };
    let mut used = vec![format!(
        "Used kit {}, notes {notes}, dump {} ({} files).",
        calm(&sources.name(&sources.kit)),
        calm(&shown(&sources.dump)),
        dump.files()
    )];
    for table in &sources.passed_over {
        used.push(format!(
            "Not taken for lens notes: {}, no row of it has headings for clips and lenses (docs/lens-notes.md).",
            calm(&sources.name(table))
        ));
    }
    used
}

fn show(shoot: &Shoot, look: Look) -> Vec<u8> {
    let mut text = findings::text(&shoot.findings, look.colour, look.width);
    text.push_str(&summary::annotate(shoot));
    text.into_bytes()
}

fn code(found: &[Finding]) -> u8 {
    u8::from(found.iter().any(|finding| finding.level() > Level::Info))
}
