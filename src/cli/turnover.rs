//! `turnover`: the shots of a cut for VFX.

use std::path::PathBuf;

use super::{Reading, Telling};

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
    /// What is read besides
    #[command(flatten)]
    pub reading: Reading,
    /// How to tell of it
    #[command(flatten)]
    pub telling: Telling,
}
