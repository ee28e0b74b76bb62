//! How long `annotate` takes for a day of 2,000 clips, beside what cannot be avoided and beside what people do today.
//!
//! `cargo bench --bench annotate [-- --clips N --rounds N]` makes the shoot below `target/` and runs, as child processes
//! and in turn, so that a slow moment of the machine meets all of them:
//!
//! - `annotate` into an empty folder;
//! - the floor: this program with `--floor`, see `floor.rs`;
//! - `ffprobe`, a process a file, two at a time;
//! - `annotate` again with nothing new, as a table and as JSON, and `scan` likewise.
//!
//! The file cache is warm. Nothing here fails for being slow.
#![expect(clippy::disallowed_methods, reason = "a benchmark makes and removes files of its own")]
#![expect(clippy::print_stdout, reason = "the table is the result")]

mod ffprobe;
mod floor;
mod shoot;
mod spread;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use anyhow::{Context as _, Result, bail};

use spread::{line, ratio, sorted};

const LENSMEND: &str = env!("CARGO_BIN_EXE_lensmend");
fn main() -> Result<()> {
    let arguments: Vec<String> = std::env::args().collect();
    let after =
        |name: &str| arguments.iter().position(|a| a == name).and_then(|at| arguments.get(at + 1));
    if let Some(plan) = after("--floor") {
        return floor::carry_out(Path::new(plan));
    }
    let number = |name, usual| after(name).map_or(Ok(usual), |text| text.parse());
    let clips = number("--clips", 2000).context("--clips takes a number")?;
    let rounds = number("--rounds", 7).context("--rounds takes a number")?;
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR"))?;
    Bench::new(folder.path(), clips)?.run(rounds.max(1))
}

/// Everything that is measured.
struct Bench {
    shoot: PathBuf,
    out: PathBuf,
    floor_out: PathBuf,
    plan_file: PathBuf,
    plan: floor::Plan,
    files: Vec<PathBuf>,
    has_ffprobe: bool,
}

/// The times of one round.
struct Round {
    annotate: Duration,
    floor: Duration,
    again: Duration,
    again_json: Duration,
    scan: Duration,
    scan_json: Duration,
    ffprobe: Option<Duration>,
}

impl Bench {
    fn new(folder: &Path, clips: usize) -> Result<Self> {
        let folder = folder.canonicalize()?;
        let (shoot, out) = (folder.join("shoot"), folder.join("out"));
        shoot::build(&shoot, clips)?;
        time(&mut annotate(&shoot, &out))?;
        let (plan_file, floor_out) = (folder.join("plan"), folder.join("floor-out"));
        let plan = floor::Plan::make(&plan_file, &shoot.join("dump"), &out, &floor_out)?;
        let files = plan.files().collect();
        let has_ffprobe = ffprobe::is_there();
        let bench = Self { shoot, out, floor_out, plan_file, plan, files, has_ffprobe };
        // The floor stands for `annotate` only while both leave the same bytes.
        time(&mut bench.floor()?)?;
        if !same_tree(&bench.out, &bench.floor_out)? {
            bail!("the floor does not write what annotate writes");
        }
        Ok(bench)
    }

    fn run(&self, rounds: usize) -> Result<()> {
        let rounds: Vec<Round> = (0..rounds)
            .map(|at: usize| self.round(!at.is_multiple_of(2)))
            .collect::<Result<_>>()?;
        let times = |of: fn(&Round) -> Duration| rounds.iter().map(of).collect::<Vec<_>>();
        println!("{} clips, {} rounds in turn, file cache warm", self.files.len(), rounds.len());
        println!("{:38} {:>10}   fastest .. slowest", "", "median");
        line("annotate into an empty folder", &times(|r| r.annotate));
        line("floor: the same reads and writes", &times(|r| r.floor));
        line("annotate again, nothing new", &times(|r| r.again));
        line("annotate --json again", &times(|r| r.again_json));
        line("scan", &times(|r| r.scan));
        line("scan --json", &times(|r| r.scan_json));
        let ffprobe: Vec<Duration> = rounds.iter().filter_map(|round| round.ffprobe).collect();
        if self.has_ffprobe {
            line("ffprobe, a process a file, 2 at once", &ffprobe);
            println!("  (measured on 1 file of {} and scaled)", ffprobe::SHARE);
        } else {
            println!("ffprobe is not installed; its line is left out");
        }
        let ratios = |of: fn(&Round) -> Option<(Duration, Duration)>| {
            let pairs = rounds.iter().filter_map(of);
            sorted(pairs.map(|(a, b)| a.as_secs_f64() / b.as_secs_f64()).collect())
        };
        println!("{:38} {:>10}   lowest .. highest of a round", "ratio", "median");
        ratio("annotate / floor", &ratios(|r| Some((r.annotate, r.floor))));
        ratio("ffprobe / annotate", &ratios(|r| Some((r.ffprobe?, r.annotate))));
        ratio("annotate again / scan", &ratios(|r| Some((r.again, r.scan))));
        ratio("annotate again / scan --json", &ratios(|r| Some((r.again, r.scan_json))));
        ratio(
            "annotate --json again / scan --json",
            &ratios(|r| Some((r.again_json, r.scan_json))),
        );
        self.sizes()
    }

    fn round(&self, floor_first: bool) -> Result<Round> {
        empty(&self.out)?;
        // Each goes first in every other round: the disk is in another state after the one than after the other.
        let early = if floor_first { Some(time(&mut self.floor()?)?) } else { None };
        let annotate = time(&mut self.annotate())?;
        let floor = early.map_or_else(|| time(&mut self.floor()?), Ok)?;
        let again = time(&mut self.annotate())?;
        let again_json = time(self.annotate().arg("--json"))?;
        let scan = || {
            let mut scan = Command::new(LENSMEND);
            scan.arg("scan").arg(self.shoot.join("dump"));
            scan
        };
        let (scan, scan_json) = (time(&mut scan())?, time(scan().arg("--json"))?);
        let ffprobe = self.has_ffprobe.then(|| ffprobe::time(&self.files)).transpose()?;
        Ok(Round { annotate, floor, again, again_json, scan, scan_json, ffprobe })
    }

    fn annotate(&self) -> Command {
        annotate(&self.shoot, &self.out)
    }

    fn floor(&self) -> Result<Command> {
        empty(&self.floor_out)?;
        let mut floor = Command::new(std::env::current_exe()?);
        floor.arg("--floor").arg(&self.plan_file);
        Ok(floor)
    }

    /// Memory, and what is read and written; a run of its own, since looking at a process slows it down.
    fn sizes(&self) -> Result<()> {
        empty(&self.out)?;
        match peak(&mut self.annotate())? {
            Some(peak) => println!("{:38} {peak:>10}", "peak memory of annotate"),
            None => println!("peak memory is told only where there is /proc"),
        }
        let (reads, read) = self.plan.reads();
        let (writes, written) = self.plan.writes();
        let clips = self.files.len().max(1);
        let (tenths, read) = (reads * 10 / clips, read / clips);
        println!(
            "{:38} {read:>10} in {}.{} reads",
            "bytes read of a clip",
            tenths / 10,
            tenths % 10
        );
        println!("{:38} {:>10} in {writes} files", "bytes written in all", written);
        Ok(())
    }
}

fn annotate(shoot: &Path, out: &Path) -> Command {
    let mut annotate = Command::new(LENSMEND);
    annotate.arg("annotate").arg(shoot).arg("--into").arg(out);
    annotate
}

/// Runs `command` to its end. Clips that need a person are no failure.
fn time(command: &mut Command) -> Result<Duration> {
    let start = Instant::now();
    let status = command.stdout(Stdio::null()).stderr(Stdio::null()).status()?;
    let took = start.elapsed();
    if !matches!(status.code(), Some(0 | 1)) {
        bail!("{command:?} ended with {status}");
    }
    Ok(took)
}

/// The most memory that `command` had at once, as the kernel words it, such as `20480 kB`.
fn peak(command: &mut Command) -> Result<Option<String>> {
    let mut child = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn()?;
    let status = PathBuf::from(format!("/proc/{}/status", child.id()));
    let mut peak = None;
    while child.try_wait()?.is_none() {
        let text = fs::read_to_string(&status).unwrap_or_default();
        let now = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        peak = now.map(|now| now.trim().to_owned()).or(peak);
        thread::sleep(Duration::from_millis(1));
    }
    Ok(peak)
}

fn empty(folder: &Path) -> Result<()> {
    if folder.exists() {
        fs::remove_dir_all(folder)?;
    }
    Ok(())
}

/// True if both folders hold the same files.
fn same_tree(one: &Path, other: &Path) -> Result<bool> {
    let (names, others) = (floor::files(one)?, floor::files(other)?);
    for (a, b) in names.iter().zip(&others) {
        if a.strip_prefix(one)? != b.strip_prefix(other)? || fs::read(a)? != fs::read(b)? {
            return Ok(false);
        }
    }
    Ok(names.len() == others.len())
}
