//! The flags of every command that works out what clips were shot with, written once.

use std::path::PathBuf;

use super::Trusted;

/// What is read besides the folder, and whom to believe.
#[derive(Debug, clap::Args)]
pub struct Reading {
    /// Kit file, if not FOLDER/kit.toml; with --reducer or --extender none is needed
    #[arg(long, value_name = "FILE")]
    pub kit: Option<PathBuf>,
    /// Lens notes (CSV, .xlsx or .ods), if not every one of FOLDER that looks like notes; may be given several times
    #[arg(long, value_name = "FILE")]
    pub notes: Vec<PathBuf>,
    /// Sheet of the notes, where a workbook (.xlsx, .ods) has several; else the first that looks like notes
    #[arg(long, value_name = "NAME")]
    pub sheet: Option<String>,
    /// Clip list (CSV of another program), if not every CSV of FOLDER that looks like one; may be given several times
    #[arg(long, value_name = "FILE")]
    pub clip_list: Vec<PathBuf>,
    /// The dump, if not FOLDER/dump or FOLDER itself
    #[arg(long, value_name = "DIR")]
    pub dump: Option<PathBuf>,
    /// Read lens data frame by frame where a clip carries it, and cut the clip where it changes
    #[arg(long)]
    pub per_frame: bool,
    /// The reducer that was on wherever neither notes nor media say otherwise: its magnification, or a reducer of the kit.
    /// Says too that the cameras recorded the values of the bare lenses
    #[arg(long, value_name = "MAGNIFICATION", conflicts_with = "extender")]
    pub reducer: Option<String>,
    /// The extender that was on, likewise
    #[arg(long, value_name = "MAGNIFICATION")]
    pub extender: Option<String>,
    /// How far a camera's clock was off, as A=+00:01:30 for one that was fast; for notes with times of day, a camera each
    #[arg(long, value_name = "CAMERA=OFFSET", allow_hyphen_values = true)]
    pub clock: Vec<String>,
    /// Whom to believe where media and notes contradict each other; without it such a field is left out
    #[arg(long, value_name = "WHOM")]
    pub trust: Option<Trusted>,
}

/// Whether to write, and how to tell of it.
#[derive(Debug, clap::Args)]
pub struct Telling {
    /// Say what would be written, and write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Date to write into the outputs.
    #[arg(
        long,
        value_name = "DATE",
        help = "Date to write into the outputs, as 2026-11-14T18:30:00Z; SOURCE_DATE_EPOCH does the same"
    )]
    pub date: Option<String>,
    /// Print the record as JSON instead of the summary
    #[arg(long)]
    pub json: bool,
}
