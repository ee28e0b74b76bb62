//! How the time and memory of a camera report grow with the shoot: PDF and page of 300, 1,000, 3,000 and 10,000 clips.
//!
//! `cargo bench --bench report [-- --rounds N]` makes clips and notes in memory, reconciles them, and writes the report once
//! as a PDF and once as a page. Each size and format runs in a process of its own, so that its peak of memory is its own;
//! from that the peak is taken off that the same process had before it began to write.
//!
//! The slope is that of the time over the size, both as logarithms, from the smallest to the largest: 1 is linear.
//! Nothing here fails for being slow.
#![expect(clippy::disallowed_methods, reason = "a benchmark looks at its own process")]
#![expect(clippy::print_stdout, reason = "the table is the result")]

mod many;

use std::process::Command;
use std::time::Instant;

use anyhow::{Context as _, Result, bail};
use lensmend::kit;
use lensmend::notes;
use lensmend::output::Stamp;
use lensmend::output::paper;
use lensmend::output::report::{Options, html, report};
use lensmend::reconcile::{Trust, reconcile};

use many::{KIT, clips, peak, rows};

const SIZES: [usize; 4] = [300, 1_000, 3_000, 10_000];

/// What a process of one size found: seconds, KiB that writing added, bytes of the file.
type Found = (f64, f64, f64);

fn main() -> Result<()> {
    let arguments: Vec<String> = std::env::args().collect();
    let after =
        |name: &str| arguments.iter().position(|a| a == name).and_then(|at| arguments.get(at + 1));
    if let (Some(format), Some(size)) = (after("--one"), after("--clips")) {
        return one(format, size.parse()?);
    }
    let rounds = after("--rounds").map_or(Ok(3), |text| text.parse::<usize>());
    let rounds = rounds.context("--rounds takes a number")?.max(1);
    println!(
        "{:>8} {:>6} {:>11} {:>12} {:>13} {:>10}",
        "clips", "as", "time", "each clip", "memory added", "file"
    );
    for format in ["pdf", "html"] {
        let mut points: Vec<(f64, Found)> = Vec::new();
        for size in SIZES {
            let mut best: Option<Found> = None;
            for _ in 0..rounds {
                let found = child(format, size)?;
                if best.is_none_or(|(fastest, ..)| found.0 < fastest) {
                    best = Some(found);
                }
            }
            let Some(found) = best else { continue };
            let clips = f64::from(u32::try_from(size)?);
            println!(
                "{size:>8} {format:>6} {:>9.3} s {:>9.0} us {:>9.1} MiB {:>6.1} MB",
                found.0,
                found.0 / clips * 1e6,
                found.1 / 1024.0,
                found.2 / 1e6
            );
            points.push((clips, found));
        }
        if let (Some((small, less)), Some((large, more))) = (points.first(), points.last()) {
            let slope = |less: f64, more: f64| (more / less).ln() / (large / small).ln();
            println!(
                "slope of {format}: time {:.2}, memory {:.2} (1 is linear), fastest of {rounds} rounds",
                slope(less.0, more.0),
                slope(less.1, more.1)
            );
        }
    }
    Ok(())
}

fn child(format: &str, size: usize) -> Result<Found> {
    let mut child = Command::new(std::env::current_exe()?);
    let out = child.args(["--one", format, "--clips", &size.to_string()]).output()?;
    let line = String::from_utf8(out.stdout)?;
    let numbers: Vec<f64> = line.split_whitespace().filter_map(|word| word.parse().ok()).collect();
    let [seconds, kib, bytes] = numbers.as_slice() else {
        bail!("no numbers in {line:?}: {}", String::from_utf8_lossy(&out.stderr));
    };
    Ok((*seconds, *kib, *bytes))
}

/// One size and format, in this process.
fn one(format: &str, size: usize) -> Result<()> {
    let kit = kit::parse("kit.toml", KIT.as_bytes()).value;
    let (dump, facts) = clips(size)?;
    let notes = notes::parse("notes.csv", rows(0, size).as_bytes()).value;
    let shoot = reconcile(&dump, &facts, &[notes], &kit, Trust::Nobody);
    let stamp = Stamp { date: "2026-11-14T19:00:00Z".to_owned(), tool: "bench".to_owned() };
    let report = report(&shoot, &Options::default(), &stamp);
    let peak =
        || peak().map(f64::from).context("the kernel does not say how much memory there was");
    let before = peak()?;
    let start = Instant::now();
    let bytes = match format {
        "pdf" => paper::write(&report)?,
        _ => html::write(&report),
    };
    let took = start.elapsed().as_secs_f64();
    println!("{took} {} {}", peak()? - before, bytes.len());
    Ok(())
}
