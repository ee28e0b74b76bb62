//! What reading clips costs: bytes and reads of each kind of container, speed beside two readers that are there already,
//! and what threads bring.
//!
//! `cargo bench --bench reading [-- --clips N --rounds N]` makes its clips below `target/` and prints
//!
//! - bytes and reads of one clip of each container, counted where the library reads, and the system calls of the built
//!   program on that file where `strace` is installed; two of the clips are 100 GB long;
//! - `scan` of a dump beside `ffprobe`, a process a file, two at once, and beside MediaInfo's library in one process;
//! - the headers of that dump read by 1, 2 and 4 threads;
//! - the same with every open delayed by 20 ms, as on a network volume, one in flight and as many as the program has.
//!
//! What is compared runs in turn in the same round, so that a slow moment of the machine meets all. The file cache is warm.
//! Nothing here fails for being slow; a clip that costs more bytes than promised does.
#![expect(clippy::disallowed_methods, reason = "a benchmark makes files of its own")]
#![expect(clippy::print_stdout, reason = "the table is the result")]

#[allow(dead_code, clippy::unwrap_used, reason = "builders of the tests; few are needed here")]
#[path = "../suite/boxes.rs"]
mod boxes;
mod clips;
mod ffprobe;
#[allow(dead_code, clippy::unwrap_used, reason = "builders of the tests; few are needed here")]
#[path = "../suite/frames.rs"]
mod frames;
#[allow(dead_code, clippy::unwrap_used, reason = "builders of the tests; few are needed here")]
#[path = "../suite/klv.rs"]
mod klv;
mod library;
mod shoot;
mod spread;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use anyhow::{Context as _, Result, bail};
use lensmend::dump::walk::MediaFile;
use lensmend::dump::{self, Dump};
use lensmend::inputs::{self, Open};
use lensmend::naming::Naming;
use lensmend::read_at::Watched;
use lensmend::recorded;
use lensmend::run::IN_FLIGHT;
use lensmend::watch::Unwatched;

use clips::May;
use spread::{line, ratio, sorted};

const LENSMEND: &str = env!("CARGO_BIN_EXE_lensmend");
/// How long a network volume lets wait for a file to be opened.
const DELAY: Duration = Duration::from_millis(20);
/// Files opened so late; one after the other they take 20 ms each.
const DELAYED: usize = 320;

fn main() -> Result<()> {
    let arguments: Vec<String> = std::env::args().collect();
    let after =
        |name: &str| arguments.iter().position(|a| a == name).and_then(|at| arguments.get(at + 1));
    let number = |name, usual| after(name).map_or(Ok(usual), |text| text.parse());
    let clips = number("--clips", 2000).context("--clips takes a number")?;
    let rounds = number("--rounds", 7).context("--rounds takes a number")?.max(1);
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR"))?;
    let folder = folder.path().canonicalize()?;
    containers(&folder.join("containers"))?;
    shoot::build(&folder.join("shoot"), clips)?;
    let dump = folder.join("shoot/dump");
    beside_others(&dump, rounds)?;
    threads(&dump, rounds)
}

/// What one clip of each container costs.
fn containers(folder: &Path) -> Result<()> {
    let (clips, missing) = clips::make(folder)?;
    println!(
        "{:30} {:>14} {:>11} {:>6} {:>13}",
        "one clip", "its bytes", "bytes read", "reads", "system calls"
    );
    let mut over = Vec::new();
    for clip in &clips {
        let file = MediaFile::open(&clip.file)?;
        let watched = Watched::new(&file);
        let found = recorded::read(&watched, "clip").findings;
        if let Some(finding) = found.first() {
            bail!("{}: {}", clip.what, finding.message);
        }
        let reads = watched.reads();
        let bytes: usize = reads.iter().map(|(_, length)| length).sum();
        let size = fs::metadata(&clip.file)?.len();
        let calls = system_calls(&clip.file)?.map_or("-".to_owned(), |calls| calls.to_string());
        println!("{:30} {size:>14} {bytes:>11} {:>6} {calls:>13}", clip.what, reads.len());
        if matches!(clip.may, May::Read(most) if bytes >= most) {
            over.push(clip.what);
        }
    }
    for what in missing {
        println!("left out: {what}");
    }
    println!("promised: MOV and MP4 under 131072 bytes, MXF under 262144");
    if over.is_empty() { Ok(()) } else { bail!("over what was promised: {}", over.join(", ")) }
}

/// System calls of `scan` that have to do with one file, its only clip; `None` where nobody can watch.
fn system_calls(file: &Path) -> Result<Option<usize>> {
    let log = file.with_extension("calls");
    let dump = file.parent().context("no folder")?;
    let watched = Command::new("strace")
        .args(["-f", "-qq", "-e", "trace=openat,read,pread64,lseek,statx,newfstatat,fstat", "-P"])
        .arg(file)
        .arg("-o")
        .arg(&log)
        .args([LENSMEND, "scan"])
        .arg(dump)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    if !watched.is_ok_and(|status| matches!(status.code(), Some(0 | 1))) {
        return Ok(None);
    }
    let text = fs::read_to_string(&log)?;
    fs::remove_file(&log)?;
    Ok(Some(text.lines().filter(|line| line.contains('(') && !line.contains("resumed")).count()))
}

/// One round beside the other readers.
struct Round {
    scan: Duration,
    ffprobe: Option<Duration>,
    library: Option<Duration>,
}

fn beside_others(dump: &Path, rounds: usize) -> Result<()> {
    let files: Vec<PathBuf> = read_dump(dump)?
        .clips
        .iter()
        .flat_map(|clip| clip.parts.iter().map(|part| dump.join(&part.path)))
        .collect();
    let (has_ffprobe, python) = (ffprobe::is_there(), library::python());
    let round = || -> Result<Round> {
        Ok(Round {
            scan: scan(dump)?,
            ffprobe: has_ffprobe.then(|| ffprobe::time(&files)).transpose()?,
            library: python.as_ref().map(|python| library::time(python, &files)).transpose()?,
        })
    };
    scan(dump)?;
    let rounds: Vec<Round> = (0..rounds).map(|_| round()).collect::<Result<_>>()?;
    println!("\n{} clips, {} rounds in turn, file cache warm", files.len(), rounds.len());
    println!("{:38} {:>10}   fastest .. slowest", "", "median");
    let scans: Vec<Duration> = rounds.iter().map(|round| round.scan).collect();
    let times =
        |of: fn(&Round) -> Option<Duration>| rounds.iter().filter_map(of).collect::<Vec<_>>();
    line("scan, a whole process", &scans);
    line("ffprobe, a process a file, 2 at once", &times(|round| round.ffprobe));
    line("MediaInfo's library, one process", &times(|round| round.library));
    println!("{:38} {:>10}   lowest .. highest of a round", "ratio", "median");
    let ratios = |of: fn(&Round) -> Option<Duration>| {
        let each = rounds.iter().filter_map(|r| Some(of(r)?.as_secs_f64() / r.scan.as_secs_f64()));
        sorted(each.collect())
    };
    ratio("ffprobe / scan", &ratios(|round| round.ffprobe));
    ratio("MediaInfo's library / scan", &ratios(|round| round.library));
    if has_ffprobe {
        println!("  (ffprobe measured on 1 file of {} and scaled)", ffprobe::SHARE);
    } else {
        println!("ffprobe is not installed; its lines are left out");
    }
    if python.is_none() {
        println!(
            "MediaInfo's library is not installed (tests/run does it); its lines are left out"
        );
    }
    Ok(())
}

fn scan(dump: &Path) -> Result<Duration> {
    let start = Instant::now();
    let mut scan = Command::new(LENSMEND);
    let status = scan.arg("scan").arg(dump).stdout(Stdio::null()).stderr(Stdio::null()).status()?;
    let took = start.elapsed();
    if !matches!(status.code(), Some(0 | 1)) {
        bail!("scan ended with {status}");
    }
    Ok(took)
}

/// How the reading of headers goes with threads, and with many opens in flight.
fn threads(dump: &Path, rounds: usize) -> Result<()> {
    let whole = read_dump(dump)?;
    let cores = thread::available_parallelism().map_or(1, usize::from);
    println!("\nheaders of {} clips, {cores} cores", whole.clips.len());
    let at_once: Open<'_> = &|path| MediaFile::open(path);
    let late: Open<'_> = &|path| {
        thread::sleep(DELAY);
        MediaFile::open(path)
    };
    let mut few = whole.clone();
    few.clips.truncate(DELAYED);
    let round = || -> Result<[f64; 5]> {
        Ok([
            read(&whole, at_once, 1)?,
            read(&whole, at_once, 2)?,
            read(&whole, at_once, 4)?,
            read(&few, late, 1)?,
            read(&few, late, IN_FLIGHT)?,
        ])
    };
    let rounds: Vec<[f64; 5]> = (0..rounds).map(|_| round()).collect::<Result<_>>()?;
    println!("{:38} {:>10}   lowest .. highest of a round", "ratio", "median");
    let ratios = |of: fn(&[f64; 5]) -> f64| sorted(rounds.iter().map(of).collect());
    ratio("1 thread / 2 threads", &ratios(|[one, two, ..]| one / two));
    ratio("1 thread / 4 threads", &ratios(|[one, _, four, ..]| one / four));
    let what = format!("opens of 20 ms: 1 / {IN_FLIGHT} in flight");
    ratio(&what, &ratios(|[_, _, _, one, many]| one / many));
    println!("  (the last over {} clips)", few.clips.len());
    Ok(())
}

/// Seconds for the headers of `dump` by so many threads.
fn read(dump: &Dump, open: Open<'_>, threads: usize) -> Result<f64> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build()?;
    let start = Instant::now();
    let clips = pool.install(|| inputs::read_clips_by(open, dump, false, &Unwatched));
    let took = start.elapsed().as_secs_f64();
    if clips.value.len() != dump.clips.len() {
        bail!("some clips were not read");
    }
    Ok(took)
}

fn read_dump(dump: &Path) -> Result<Dump> {
    let none: [&str; 0] = [];
    let Ok(naming) = Naming::new(none) else { bail!("the built-in patterns do not hold") };
    Ok(dump::read(dump, &naming, &[], &[]).value)
}
