//! Where the program meets the world: clock, streams, colours, exit code.
#![expect(clippy::disallowed_methods, reason = "the one look at the clock, when no date was given")]

mod waiting;

use std::ffi::OsString;
use std::io::{self, IsTerminal, Write};
use std::process::ExitCode;
use std::time::{SystemTime, UNIX_EPOCH};

use anyhow::{Context, Result, bail};
use chrono::{DateTime, Datelike as _};
use clap::Parser as _;

use crate::cli::{Cli, Command};
use crate::output::Stamp;
use crate::output::calm::calm;
use crate::run::{Look, Outcome, run};
use crate::watch::Interrupted;
use waiting::{INTERRUPTED, Waiting};

/// Reads the command line. What is wrong with it is printed, and the exit code is that of the error.
pub fn read() -> Result<Cli, ExitCode> {
    Cli::try_parse().map_err(|error| {
        // The words of the command line come from file names as often as from a person: a shell fills them in.
        let steers = |word: OsString| calm(&word.to_string_lossy()) != word.to_string_lossy();
        if error.use_stderr() && std::env::args_os().any(steers) {
            let text = error.to_string();
            let lines: Vec<String> = text.lines().map(calm).collect();
            let _ = writeln!(io::stderr().lock(), "{}", lines.join("\n"));
        } else {
            // Nobody is left to tell if the stream is gone.
            let _ = error.print();
        }
        ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2))
    })
}

/// Runs a command and prints what comes of it: results on stdout, talk on stderr.
pub fn start(cli: &Cli) -> ExitCode {
    let outcome =
        stamp(cli).and_then(|stamp| run(cli, &stamp, look(), &Waiting::new(is_long(cli))));
    match outcome {
        Ok(Outcome { result, talk, code }) => {
            let mut stderr = io::stderr().lock();
            for line in talk {
                // Nobody is left to tell if stderr is gone.
                let _ = writeln!(stderr, "{line}");
            }
            match io::stdout().lock().write_all(&result) {
                Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
                    let _ = writeln!(stderr, "lensmend: cannot print the result: {error}");
                    ExitCode::from(unprinted(cli, code))
                }
                // A reader that has seen enough is no failure.
                _ => ExitCode::from(code),
            }
        }
        Err(error) => {
            let _ = writeln!(io::stderr().lock(), "lensmend: {}", calm(&format!("{error:#}")));
            ExitCode::from(if error.is::<Interrupted>() { INTERRUPTED } else { 2 })
        }
    }
}

/// True for commands that ask while they run whether to go on; the others end as they would without being watched.
fn is_long(cli: &Cli) -> bool {
    matches!(
        cli.command,
        Command::Scan(_)
            | Command::Annotate(_)
            | Command::Check(_)
            | Command::Turnover(_)
            | Command::Stamp(_)
    )
}

/// The exit code of a run whose result could not be printed: 2 would say that nothing was written.
fn unprinted(cli: &Cli, code: u8) -> u8 {
    match &cli.command {
        Command::Annotate(annotate) if !annotate.dry_run && code < 2 => 1,
        Command::Turnover(turnover) if !turnover.telling.dry_run && code < 2 => 1,
        Command::Stamp(stamp) if !stamp.telling.dry_run && code < 2 => 1,
        Command::Report(report) if !report.telling.dry_run && code < 2 => 1,
        Command::Sheet(sheet) if sheet.into.is_some() && !sheet.dry_run && code < 2 => 1,
        _ => 2,
    }
}

fn look() -> Look {
    let (stdout, never) = (io::stdout(), anstream::ColorChoice::Never);
    let colour = anstream::AutoStream::choice(&stdout) != never;
    let colour_of_talk = anstream::AutoStream::choice(&io::stderr()) != never;
    let width = if stdout.is_terminal() {
        terminal_size::terminal_size().map(|(width, _)| width.0.into())
    } else {
        None
    };
    Look { colour, colour_of_talk, width: width.unwrap_or(100) }
}

/// Date from the flag, from `SOURCE_DATE_EPOCH`, or from the clock; version from the build.
fn stamp(cli: &Cli) -> Result<Stamp> {
    let flag = match &cli.command {
        Command::Annotate(annotate) => annotate.date.as_deref(),
        Command::Turnover(turnover) => turnover.telling.date.as_deref(),
        Command::Stamp(stamp) => stamp.telling.date.as_deref(),
        Command::Report(report) => report.telling.date.as_deref(),
        Command::Sheet(sheet) => sheet.date.as_deref(),
        _ => None,
    };
    let at = match (flag, std::env::var("SOURCE_DATE_EPOCH").ok()) {
        (Some(text), _) => DateTime::parse_from_rfc3339(text)
            .with_context(|| format!("--date {text}: write it as 2026-11-14T18:30:00Z"))?
            .to_utc(),
        (None, Some(seconds)) => {
            let seconds = seconds.parse().ok();
            seconds
                .and_then(|s| DateTime::from_timestamp(s, 0))
                .context("SOURCE_DATE_EPOCH must be seconds since 1970")?
        }
        (None, None) => {
            let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
            let seconds = i64::try_from(since.as_secs()).unwrap_or_default();
            DateTime::from_timestamp(seconds, 0).unwrap_or_default()
        }
    };
    if !(1..=9999).contains(&at.year()) {
        bail!("the date is in the year {}; the outputs can carry the years 1 to 9999", at.year());
    }
    Ok(Stamp {
        date: at.format("%Y-%m-%dT%H:%M:%SZ").to_string(),
        tool: concat!("lensmend ", env!("CARGO_PKG_VERSION")).to_owned(),
    })
}
