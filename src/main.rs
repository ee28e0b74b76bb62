//! The `lensmend` program: arguments, one run, exit code.

use std::process::ExitCode;

use lensmend::terminal;

fn main() -> ExitCode {
    match terminal::read() {
        Ok(cli) => terminal::start(&cli),
        Err(code) => code,
    }
}
