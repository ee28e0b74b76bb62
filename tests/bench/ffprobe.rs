//! Another reader of media: `ffprobe`, a process a file.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use anyhow::{Result, bail};

/// It runs over one file of this many, and its time is scaled up: it would take most of the time otherwise.
pub(crate) const SHARE: usize = 10;

/// `ffprobe` on one file.
fn ffprobe(file: &Path) -> Command {
    let mut ffprobe = Command::new("ffprobe");
    ffprobe.args(["-v", "error", "-print_format", "json", "-show_streams", "-show_format"]);
    ffprobe.arg(file).stdout(Stdio::null()).stderr(Stdio::null());
    ffprobe
}

/// True if `ffprobe` is installed.
pub(crate) fn is_there() -> bool {
    ffprobe(Path::new("-version")).status().is_ok()
}

/// How long `ffprobe` takes for `files`: two at a time over a share of them, scaled to all.
pub(crate) fn time(files: &[PathBuf]) -> Result<Duration> {
    let share: Vec<&PathBuf> = files.iter().step_by(SHARE).collect();
    let each = |files: &[&PathBuf]| {
        files.iter().try_for_each(|file| {
            let status = ffprobe(file).status()?;
            if status.success() { Ok(()) } else { bail!("ffprobe ended with {status}") }
        })
    };
    let (one, other) = share.split_at(share.len() / 2);
    let start = Instant::now();
    thread::scope(|scope| {
        let beside = scope.spawn(|| each(one));
        each(other)?;
        beside.join().unwrap_or_else(|_| bail!("a thread broke off"))
    })?;
    let scale = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    Ok(start.elapsed() * scale(files.len()) / scale(share.len()).max(1))
}
