//! The `lensmend` program: arguments, one run, exit code.

use std::process::ExitCode;

use clap::Parser as _;

fn main() -> ExitCode {
    let cli = lensmend::cli::Cli::parse();
    lensmend::terminal::start(&cli)
}
