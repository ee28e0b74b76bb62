//! Somebody at a terminal who waits: sees a bar, and may press Ctrl-C.

use std::io::{self, IsTerminal, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};

use indicatif::{ProgressBar, ProgressStyle};
use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;

use crate::watch::{Amount, Watch};

/// The exit code of a program ended by Ctrl-C, as shells know it: 128 and the number of the signal.
pub(super) const INTERRUPTED: u8 = 130;

/// Said once when the first Ctrl-C is heard.
const ENDING: &str = "Ending once the files in hand are done; press Ctrl-C again to stop at once.";

/// Bar and signals of a terminal.
pub(super) struct Waiting {
    asked: Arc<AtomicBool>,
    told: AtomicBool,
    bar: Mutex<Option<ProgressBar>>,
}

impl Waiting {
    /// Waits, and if `listens` hears signals: the first between files, the second ends the program at once.
    pub(super) fn new(listens: bool) -> Self {
        let asked = Arc::new(AtomicBool::new(false));
        for signal in [SIGINT, SIGTERM].into_iter().filter(|_| listens) {
            // In this order: the first signal finds nothing asked yet. Without either, a signal ends the program at once.
            let _ =
                flag::register_conditional_shutdown(signal, INTERRUPTED.into(), Arc::clone(&asked))
                    .and_then(|_| flag::register(signal, Arc::clone(&asked)));
        }
        Self { asked, told: AtomicBool::new(false), bar: Mutex::new(None) }
    }

    fn with_bar(&self, act: impl FnOnce(&mut Option<ProgressBar>)) {
        if let Ok(mut bar) = self.bar.lock() {
            act(&mut bar);
        }
    }
}

impl Watch for Waiting {
    fn begin(&self, doing: &'static str, amount: Amount) {
        if !io::stderr().is_terminal() {
            return;
        }
        let (length, template) = match amount {
            Amount::Bytes(bytes) => {
                (bytes, "{msg} {wide_bar} {bytes}/{total_bytes} {bytes_per_sec} {eta}")
            }
            Amount::Files(files) => (files, "{msg} {wide_bar} {pos}/{len} files"),
        };
        let bar = ProgressBar::new(length).with_message(doing);
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style.progress_chars("=> "));
        }
        self.with_bar(|at| *at = Some(bar));
    }

    fn done(&self, more: u64) {
        self.with_bar(|bar| {
            if let Some(bar) = bar {
                bar.inc(more);
            }
        });
    }

    fn end(&self) {
        self.with_bar(|bar| {
            if let Some(bar) = bar.take() {
                bar.finish_and_clear();
            }
        });
    }

    fn go_on(&self) -> bool {
        if !self.asked.load(Ordering::Relaxed) {
            return true;
        }
        if !self.told.swap(true, Ordering::Relaxed) {
            self.end();
            // Nobody is left to tell if stderr is gone.
            let _ = writeln!(io::stderr().lock(), "{ENDING}");
        }
        false
    }
}
