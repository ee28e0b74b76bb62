//! How the time and memory of reconciling grow with the dump: as many clips as rows, 1,000, 10,000 and 100,000 of each.
//!
//! `cargo bench --bench reconcile [-- --most N --rounds N]` makes clips and notes in memory, reads the notes, and
//! reconciles. Each size runs in a process of its own, so that its peak of memory is its own. Every third clip has a row
//! by timecode too, every fifth one by the time of day, and every roll one for all of it.
//!
//! The slope is that of the time over the size, both as logarithms, from the smallest to the largest: 1 is linear.
//! Nothing here fails for being slow.
#![expect(clippy::disallowed_methods, reason = "a benchmark looks at its own process")]
#![expect(clippy::print_stdout, reason = "the table is the result")]

use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::Command;
use std::sync::Arc;
use std::time::Instant;

use anyhow::{Context as _, Result};
use chrono::{NaiveDate, TimeDelta};
use lensmend::annotation::Verdict;
use lensmend::dump::{Clip, Dump, Part};
use lensmend::kit;
use lensmend::notes;
use lensmend::ratio::Ratio;
use lensmend::reconcile::{Trust, reconcile};
use lensmend::recorded::{FileFacts, Reading, Recorded};
use lensmend::sourced::{Origin, Sourced};
use lensmend::timecode::{Counting, Timecode};
use lensmend::units::{Millimeters, Raster};

/// Clips of a roll.
const ROLL: usize = 500;
/// Frames of a clip, four seconds.
const FRAMES: u64 = 100;
/// Seconds from the start of a clip to that of the next on its roll: so a roll lasts less than a day.
const APART: usize = 60;
const KIT: &str = r#"
[[camera]]
id = "A"
[[camera.mode]]
id = "uhd"
raster = "3840x2160"
width = 26.2
height = 14.7375
[[lens]]
id = "p35"
focal = 35
f-max = 1.4
[[lens]]
id = "p50"
focal = 50
f-max = 1.4
[[attachment]]
id = "r"
kind = "reducer"
magnification = 0.71
transmittance = 0.95
"#;

fn main() -> Result<()> {
    let arguments: Vec<String> = std::env::args().collect();
    let after =
        |name: &str| arguments.iter().position(|a| a == name).and_then(|at| arguments.get(at + 1));
    let number = |name, usual: usize| after(name).map_or(Ok(usual), |text| text.parse::<usize>());
    if after("--one").is_some() {
        return one(number("--one", 0)?);
    }
    let most = number("--most", 100_000).context("--most takes a number")?;
    let rounds = number("--rounds", 3).context("--rounds takes a number")?.max(1);
    println!(
        "{:>8} {:>12} {:>12} {:>12} {:>14} {:>10}",
        "clips", "read notes", "reconcile", "each clip", "peak memory", "settled"
    );
    let mut points = Vec::new();
    for size in [most / 100, most / 10, most].into_iter().filter(|size| *size > 0) {
        let mut best: Option<(f64, String)> = None;
        for _ in 0..rounds {
            let out = Command::new(std::env::current_exe()?)
                .args(["--one", &size.to_string()])
                .output()?;
            let line = String::from_utf8(out.stdout)?;
            let seconds = line.split_whitespace().nth(3).and_then(|word| word.parse::<f64>().ok());
            let seconds = seconds.with_context(|| format!("no time in {line:?}"))?;
            if best.as_ref().is_none_or(|(fastest, _)| seconds < *fastest) {
                best = Some((seconds, line));
            }
        }
        let Some((seconds, line)) = best else { continue };
        print!("{line}");
        points.push((size, seconds));
    }
    if let (Some((small, quick)), Some((large, slow))) = (points.first(), points.last())
        && large > small
    {
        #[expect(clippy::cast_precision_loss, reason = "sizes of a benchmark")]
        let sizes = (*large as f64 / *small as f64).ln();
        println!(
            "slope of reconcile {:.2} (1 is linear), fastest of {rounds} rounds",
            (slow / quick).ln() / sizes
        );
    }
    Ok(())
}

/// One size, in this process.
fn one(size: usize) -> Result<()> {
    let kit = kit::parse("kit.toml", KIT.as_bytes()).value;
    let (dump, facts) = clips(size)?;
    // One file holds no more rows than the reader takes.
    let files: Vec<String> =
        (0..size).step_by(50_000).map(|from| rows(from, size.min(from + 50_000))).collect();
    let start = Instant::now();
    let notes: Vec<notes::Notes> =
        files.iter().map(|text| notes::parse("notes.csv", text.as_bytes()).value).collect();
    let read = start.elapsed().as_secs_f64();
    let start = Instant::now();
    let shoot = reconcile(&dump, &facts, &notes, &kit, Trust::Nobody);
    let took = start.elapsed().as_secs_f64();
    let settled =
        |verdict: Option<Verdict>| matches!(verdict, Some(Verdict::Scaled | Verdict::Kept));
    let settled =
        shoot.clips.iter().filter(|clip| settled(clip.setups.first().focal_length.verdict)).count();
    let peak = peak().unwrap_or_else(|| "not known".to_owned());
    #[expect(clippy::cast_precision_loss, reason = "sizes of a benchmark")]
    let each = took / size as f64 * 1e6;
    println!("{size:>8} {read:>10.3} s {took:>10.3} s {each:>9.1} us {peak:>14} {settled:>10}");
    Ok(())
}

fn clips(size: usize) -> Result<(Dump, Vec<Vec<FileFacts>>)> {
    let day = NaiveDate::from_ymd_opt(2026, 11, 14).and_then(|day| day.and_hms_opt(8, 0, 0));
    let day = day.context("no such day")?;
    let counting = Counting::new(25, false).context("no such counting")?;
    let mut clips = Vec::with_capacity(size);
    let mut facts = Vec::with_capacity(size);
    for at in 0..size {
        let (roll, number) = (at / ROLL, at % ROLL);
        let file = format!("A{roll:03}/A{roll:03}C{number:03}.mov");
        let origin =
            Origin::Media { file: Arc::from(file.as_str()), path: Arc::from("moov"), offset: 0 };
        let seconds = number * APART;
        let frames = u64::try_from(seconds)? * 25 + 8 * 3600 * 25;
        let focal = [50.0, 36.0][at % 2];
        let start =
            TimeDelta::seconds(i64::try_from(seconds)?) + TimeDelta::days(i64::try_from(roll)?);
        let recorded = Recorded {
            coded: Raster::new(3840, 2160).map(|raster| Sourced::new(raster, origin.clone())),
            rate: Ratio::new(25, 1).map(|rate| Sourced::new(rate, origin.clone())),
            frames: Some(Sourced::new(FRAMES, origin.clone())),
            start: Some(Sourced::new(Timecode::from_frame(frames, counting), origin.clone())),
            created: Some(Sourced::new(day + start, origin.clone())),
            focal_length: Millimeters::new(focal).map(|value| Reading {
                value,
                raw: focal.to_string(),
                half_step: 0.5,
                origin: origin.clone(),
            }),
            ..Recorded::default()
        };
        facts.push(vec![FileFacts { recorded, header_sha256: None }]);
        clips.push(Clip {
            name: format!("A{roll:03}C{number:03}"),
            roll: Some(format!("A{roll:03}")),
            short: format!("C{number:03}"),
            parts: vec![Part { path: PathBuf::from(file), number: None, size: 1, row: None }],
            copies: Vec::new(),
        });
    }
    Ok((Dump { root: PathBuf::new(), clips, strays: Vec::new() }, facts))
}

/// A row for each clip from `from` to `to`, of which some say when and not which.
fn rows(from: usize, to: usize) -> String {
    let mut text = String::from("Roll,Clip,TC,Time,Lens,Stop,Attachment,Remarks\n");
    for at in from..to {
        let (roll, number) = (at / ROLL, at % ROLL);
        let seconds = 8 * 3600 + number * APART;
        let (hour, minute, second) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
        if number == 0 {
            let _ = writeln!(text, "A{roll:03},,,,,,r,");
        }
        let _ = match at {
            _ if at % 3 == 0 => writeln!(
                text,
                "A{roll:03},,{hour:02}:{minute:02}:{second:02}:00,,p50,2.8,,by timecode"
            ),
            _ if at % 5 == 0 => {
                writeln!(text, "A{roll:03},,,{hour:02}:{minute:02}:{second:02},p50,2.8,,by time")
            }
            _ => writeln!(text, "A{roll:03},C{number:03},,,p50,2.8,,by name"),
        };
    }
    text
}

/// The most memory that this process had at once, as the kernel words it.
fn peak() -> Option<String> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    let kib: u64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(format!("{} MiB", kib.div_ceil(1024)))
}
