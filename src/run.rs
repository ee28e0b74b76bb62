//! The whole pipeline: the only file that knows every station.

use std::path::Path;

use anyhow::{Context, Result, bail};
use rayon::prelude::*;

use crate::annotation::{ClipFacts, Input, Shoot, Stray};
use crate::cli::{Annotate, Cli, Command, Scan, Trusted};
use crate::dump::walk::{self, MediaFile, read_input, shown};
use crate::dump::{self, Clip, Dump};
use crate::finding::{Finding, Found, Level};
use crate::folder::{self, Given, LARGEST_INPUT, Sources};
use crate::kit::{self, Kit};
use crate::naming::Naming;
use crate::notes;
use crate::output::record;
use crate::output::{Stamp, findings, summary, table};
use crate::outputs::{self, Job};
use crate::read_at::{Digested, sha256};
use crate::reconcile::media::FileFacts;
use crate::reconcile::{self, Trust};
use crate::recorded;

/// How many files are read at once: a network volume is slow to answer, not to send.
const IN_FLIGHT: usize = 16;

/// How results look on this terminal.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// Whether colours may be used.
    pub colour: bool,
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
    let kit = match &request.kit {
        Some(path) => match read_kit(path, &path.display().to_string(), look)? {
            Ok((kit, _, _)) => kit,
            Err(outcome) => return Ok(outcome),
        },
        None => Kit::default(),
    };
    let Found { value: dump, findings: mut found } =
        dump::read(&request.dump, &naming(&kit)?, &[], &[]);
    let Found { value: facts, findings } = read_clips(&dump);
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
    let (kit, kit_findings, kit_input) =
        match read_kit(&sources.kit, &name_in(&sources, &sources.kit), look)? {
            Ok(kit) => kit,
            Err(outcome) => return Ok(outcome),
        };
    let chosen =
        request.columns.as_deref().or(kit.columns.as_ref().map(|columns| columns.value.as_str()));
    let columns = table::columns(chosen.unwrap_or(table::DEFAULT))?;
    let (notes, notes_findings, notes_inputs) = read_notes(&sources)?;
    let (dump, dump_findings) = read_dump(&sources, &kit)?;
    let Found { value: recorded, findings: media_findings } = read_clips(&dump);
    let trust = match request.trust {
        Some(Trusted::Notes) => Trust::Notes,
        None => Trust::Nobody,
    };
    let mut shoot = reconcile::reconcile(&dump, &recorded, &notes, &kit, trust);
    shoot.inputs = std::iter::once(kit_input).chain(notes_inputs).collect();
    let before =
        [kit_findings, notes_findings, dump_findings, media_findings].into_iter().flatten();
    shoot.findings = before.chain(shoot.findings).collect();
    let job = Job {
        sources: &sources,
        columns: &columns,
        stamp,
        beside: request.beside,
        dry_run: request.dry_run,
    };
    let done = outputs::write(&mut shoot, &job)?;
    let result = if request.json { done.record } else { show(&shoot, look) };
    let mut talk = used(&sources, notes.iter().map(|notes| notes.rows.len()).sum(), &dump);
    talk.extend(done.talk);
    Ok(Outcome { result, talk, code: code(&shoot.findings) })
}

/// A kit with its findings and input record, or the outcome that says what is wrong with it.
type KitRead = std::result::Result<(Kit, Vec<Finding>, Input), Outcome>;

fn read_kit(path: &Path, name: &str, look: Look) -> Result<KitRead> {
    let bytes = read_input(path, LARGEST_INPUT)
        .with_context(|| format!("cannot read the kit {}", path.display()))?;
    let Found { value: kit, findings } = kit::parse(name, &bytes);
    if findings.iter().any(|finding| finding.level() == Level::Fault) {
        let talk = vec![
            findings::text(&findings, look.colour, look.width),
            format!("The kit {name} does not hold together; nothing was written."),
        ];
        return Ok(Err(Outcome { result: Vec::new(), talk, code: 2 }));
    }
    Ok(Ok((kit, findings, input("kit", name, &bytes))))
}

fn read_notes(sources: &Sources) -> Result<(Vec<notes::Notes>, Vec<Finding>, Vec<Input>)> {
    let (mut all, mut findings, mut inputs) = (Vec::new(), Vec::new(), Vec::new());
    for path in &sources.notes {
        let name = name_in(sources, path);
        let bytes = read_input(path, LARGEST_INPUT)
            .with_context(|| format!("cannot read the notes {}", path.display()))?;
        let Found { value, findings: found } = notes::parse(&name, &bytes);
        inputs.push(input("notes", &name, &bytes));
        all.push(value);
        findings.extend(found);
    }
    Ok((all, findings, inputs))
}

fn read_dump(sources: &Sources, kit: &Kit) -> Result<(Dump, Vec<Finding>)> {
    let mut own = vec![(sources.kit.clone(), "the kit of this run")];
    own.extend(sources.notes.iter().map(|notes| (notes.clone(), "lens notes of this run")));
    let leave_out = [sources.into.clone()];
    let Found { value, findings } = dump::read(&sources.dump, &naming(kit)?, &leave_out, &own);
    Ok((value, findings))
}

fn naming(kit: &Kit) -> Result<Naming> {
    let patterns = kit.naming.iter().map(|pattern| pattern.value.as_str());
    Naming::new(patterns).map_err(|(pattern, why)| anyhow::anyhow!("pattern {pattern}: {why}"))
}

/// Reads the headers of every file of every clip; a file that cannot be opened is a finding and says nothing of itself.
fn read_clips(dump: &Dump) -> Found<Vec<Vec<FileFacts>>> {
    let read: Vec<Vec<Found<FileFacts>>> = dump
        .clips
        .par_iter()
        .map(|clip| clip.parts.iter().map(|part| read_file(&dump.root, &part.path, clip)).collect())
        .collect();
    let mut findings = Vec::new();
    let mut facts = Vec::new();
    for clip in read {
        let mut files = Vec::new();
        for file in clip {
            files.push(file.value);
            findings.extend(file.findings);
        }
        facts.push(files);
    }
    Found { value: facts, findings }
}

fn read_file(root: &Path, path: &Path, clip: &Clip) -> Found<FileFacts> {
    let file = match MediaFile::open(&root.join(path)) {
        Ok(file) => file,
        Err(error) => {
            let finding = walk::unreadable(path, &error).clip(clip.name.as_str());
            return Found { value: FileFacts::default(), findings: vec![finding] };
        }
    };
    let digested = Digested::new(&file);
    let Found { value: recorded, findings } = recorded::read(&digested, &shown(path));
    let findings = findings.into_iter().map(|finding| finding.clip(clip.name.as_str())).collect();
    Found { value: FileFacts { recorded, header_sha256: digested.sha256() }, findings }
}

fn input(role: &'static str, file: &str, bytes: &[u8]) -> Input {
    let size = u64::try_from(bytes.len()).unwrap_or(u64::MAX);
    Input { role, file: file.to_owned(), sha256: sha256(bytes), size }
}

/// The path as the user would name it: inside the folder given, or as it stands.
fn name_in(sources: &Sources, path: &Path) -> String {
    shown(path.strip_prefix(&sources.folder).unwrap_or(path))
}

fn used(sources: &Sources, rows: usize, dump: &Dump) -> Vec<String> {
    let notes: Vec<String> = sources.notes.iter().map(|notes| name_in(sources, notes)).collect();
    let notes = if notes.is_empty() {
        "none found".to_owned()
    } else {
        format!("{} ({rows} rows)", notes.join(", "))
    };
    vec![format!(
        "Used kit {}, notes {notes}, dump {} ({} files).",
        name_in(sources, &sources.kit),
        shown(&sources.dump),
        dump.files()
    )]
}

fn show(shoot: &Shoot, look: Look) -> Vec<u8> {
    let mut text = findings::text(&shoot.findings, look.colour, look.width);
    text.push_str(&summary::annotate(shoot));
    text.into_bytes()
}

fn code(findings: &[Finding]) -> u8 {
    u8::from(summary::people(findings) > 0)
}
