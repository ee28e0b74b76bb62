//! Who waits for a long run: hears how far it is, and may ask it to end early.

use std::fmt;

/// How much a stage has to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Amount {
    /// Bytes to be read.
    Bytes(u64),
    /// Files to be looked at or written.
    Files(u64),
}

/// Somebody who waits for a run. Stages come one after the other; their work is done on many threads.
pub trait Watch: Sync {
    /// A stage begins, called by what it does: `Verifying`.
    fn begin(&self, doing: &'static str, amount: Amount);

    /// So many bytes or files more are done.
    fn done(&self, more: u64);

    /// The stage has ended.
    fn end(&self);

    /// False as soon as the run should end. It is asked between files and between pieces of large ones; once false it stays so.
    fn go_on(&self) -> bool;
}

/// Nobody waits: for tests, benches and whoever embeds the library.
#[derive(Clone, Copy, Debug, Default)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn begin(&self, _: &'static str, _: Amount) {}

    fn done(&self, _: u64) {}

    fn end(&self) {}

    fn go_on(&self) -> bool {
        true
    }
}

/// The error of a run that was asked to end early. Its words say what stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Interrupted {
    /// Files that were written and that were to be, if writing had begun.
    pub written: Option<(usize, usize)>,
}

impl fmt::Display for Interrupted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.written {
            None => write!(f, "interrupted; nothing was written"),
            Some((written, of)) => write!(
                f,
                "interrupted; {written} of {of} files were written, each of them whole; run the same command again to go on"
            ),
        }
    }
}

impl std::error::Error for Interrupted {}
