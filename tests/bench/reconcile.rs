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

mod many;

use std::process::Command;
use std::time::Instant;

use anyhow::{Context as _, Result};
use lensmend::annotation::Verdict;
use lensmend::kit;
use lensmend::notes;
use lensmend::reconcile::{Trust, reconcile};

use many::{KIT, clips, peak, rows};

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
    let peak = peak().map_or("not known".to_owned(), |kib| format!("{} MiB", kib.div_ceil(1024)));
    #[expect(clippy::cast_precision_loss, reason = "sizes of a benchmark")]
    let each = took / size as f64 * 1e6;
    println!("{size:>8} {read:>10.3} s {took:>10.3} s {each:>9.1} us {peak:>14} {settled:>10}");
    Ok(())
}
