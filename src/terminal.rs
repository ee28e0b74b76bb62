//! Where the program meets the world: clock, streams, colours, exit code.
#![expect(clippy::disallowed_methods, reason = "the one look at the clock, when no date was given")]

use std::io::{self, IsTerminal, Write};
use std::process::ExitCode;
use std::time::{SystemTime, UNIX_EPOCH};

use anyhow::{Context, Result};
use chrono::DateTime;

use crate::cli::{Cli, Command};
use crate::output::Stamp;
use crate::output::calm::calm;
use crate::run::{Look, Outcome, run};

/// Runs a command and prints what comes of it: results on stdout, talk on stderr.
pub fn start(cli: &Cli) -> ExitCode {
    let outcome = stamp(cli).and_then(|stamp| run(cli, &stamp, look()));
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
                    // Not 2: files may have been written.
                    ExitCode::from(code.max(1))
                }
                // A reader that has seen enough is no failure.
                _ => ExitCode::from(code),
            }
        }
        Err(error) => {
            let _ = writeln!(io::stderr().lock(), "lensmend: {}", calm(&format!("{error:#}")));
            ExitCode::from(2)
        }
    }
}

fn look() -> Look {
    let stdout = io::stdout();
    let colour = anstream::AutoStream::choice(&stdout) != anstream::ColorChoice::Never;
    let width = if stdout.is_terminal() {
        terminal_size::terminal_size().map(|(width, _)| width.0.into())
    } else {
        None
    };
    Look { colour, width: width.unwrap_or(100) }
}

/// Date from the flag, from `SOURCE_DATE_EPOCH`, or from the clock; version from the build.
fn stamp(cli: &Cli) -> Result<Stamp> {
    let flag = match &cli.command {
        Command::Annotate(annotate) => annotate.date.as_deref(),
        Command::Scan(_) => None,
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
    Ok(Stamp {
        date: at.format("%Y-%m-%dT%H:%M:%SZ").to_string(),
        tool: concat!("lensmend ", env!("CARGO_PKG_VERSION")).to_owned(),
    })
}
