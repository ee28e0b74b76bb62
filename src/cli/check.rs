//! `check FOLDER`.

use std::path::PathBuf;

/// What of an earlier run to check.
#[derive(Debug, clap::Args)]
pub struct Check {
    /// Folder with kit.toml, lens notes and the dump
    pub folder: PathBuf,
    /// Output folder of the run, if it is not the usual one
    #[arg(long, value_name = "OUT")]
    pub into: Option<PathBuf>,
    /// Print JSON instead of text
    #[arg(long)]
    pub json: bool,
    /// Options of `annotate` that should hold, instead of those of the last run
    #[arg(last = true, value_name = "OPTIONS", allow_hyphen_values = true)]
    pub options: Vec<String>,
}
