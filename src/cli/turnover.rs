//! `turnover`: the shots of a cut for VFX.

use std::path::PathBuf;

use super::Trusted;

/// `turnover FOLDER --cut CUT --into OUT`.
#[derive(Debug, clap::Args)]
pub struct Turnover {
    /// Folder with kit.toml, lens notes and the dump
    pub folder: PathBuf,
    /// The cut: an EDL of the 3600 form, or an `OpenTimelineIO` file
    #[arg(
        long,
        value_name = "CUT",
        help = "The cut: an EDL of the 3600 form, or an OpenTimelineIO file"
    )]
    pub cut: PathBuf,
    /// Output folder
    #[arg(long, value_name = "OUT")]
    pub into: PathBuf,
    /// Handles before and after each shot, in frames of its clip
    #[arg(long, value_name = "FRAMES", default_value_t = 8, value_parser = clap::value_parser!(u64).range(..=100_000))]
    pub handles: u64,
    /// Plate of the kit that the shots are handed over as; without it, the whole recorded raster
    #[arg(long, value_name = "ID")]
    pub plate: Option<String>,
    /// Frame rate of the cut, if not as the file says it or as most of its clips have it
    #[arg(long, value_name = "RATE")]
    pub rate: Option<String>,
    /// Number of the first frame of each shot, its handle included
    #[arg(long, value_name = "NUMBER", default_value_t = 1001, value_parser = clap::value_parser!(u64).range(..=100_000_000))]
    pub first_frame: u64,
    /// Kit file, if not FOLDER/kit.toml
    #[arg(long, value_name = "FILE")]
    pub kit: Option<PathBuf>,
    /// Lens notes (CSV, .xlsx or .ods), if not every one of FOLDER that looks like notes; may be given several times
    #[arg(long, value_name = "FILE")]
    pub notes: Vec<PathBuf>,
    /// Sheet of the notes, where a workbook has several
    #[arg(long, value_name = "NAME")]
    pub sheet: Option<String>,
    /// Clip list (CSV of another program), if not every CSV of FOLDER that looks like one; may be given several times
    #[arg(long, value_name = "FILE")]
    pub clip_list: Vec<PathBuf>,
    /// The dump, if not FOLDER/dump or FOLDER itself
    #[arg(long, value_name = "DIR")]
    pub dump: Option<PathBuf>,
    /// Read lens data frame by frame where a clip carries it, and write a sample for every frame
    #[arg(long)]
    pub per_frame: bool,
    /// The reducer that was on wherever neither notes nor media say otherwise: its magnification, or a reducer of the kit
    #[arg(long, value_name = "MAGNIFICATION", conflicts_with = "extender")]
    pub reducer: Option<String>,
    /// The extender that was on, likewise
    #[arg(long, value_name = "MAGNIFICATION")]
    pub extender: Option<String>,
    /// How far a camera's clock was off, as A=+00:01:30 for one that was fast; a camera each
    #[arg(long, value_name = "CAMERA=OFFSET", allow_hyphen_values = true)]
    pub clock: Vec<String>,
    /// Whom to believe where media and notes contradict each other; without it such a field is left out
    #[arg(long, value_name = "WHOM")]
    pub trust: Option<Trusted>,
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
