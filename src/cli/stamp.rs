//! `stamp`: copies of plates with lens data in their headers.

use std::path::PathBuf;

use super::{Reading, Telling};

/// `stamp FOLDER --plates PLATES --into OUT`.
#[derive(Debug, clap::Args)]
pub struct Stamp {
    /// Folder with kit.toml, lens notes and the dump
    pub folder: PathBuf,
    /// Folder with the OpenEXR plates, numbered in their names
    #[arg(
        long,
        value_name = "PLATES",
        help = "Folder with the OpenEXR plates, numbered in their names"
    )]
    pub plates: PathBuf,
    /// Output folder for the copies
    #[arg(long, value_name = "OUT")]
    pub into: PathBuf,
    /// The cut whose shots the plates are called after; without it they are called after clips
    #[arg(long, value_name = "CUT")]
    pub cut: Option<PathBuf>,
    /// Handles of the shots, as they were turned over
    #[arg(long, value_name = "FRAMES", default_value_t = 8, requires = "cut", value_parser = clap::value_parser!(u64).range(..=100_000))]
    pub handles: u64,
    /// Plate of the kit that the files are
    #[arg(long, value_name = "ID")]
    pub plate: Option<String>,
    /// Frame rate of the cut, if not as the file says it or as most of its clips have it
    #[arg(long, value_name = "RATE", requires = "cut")]
    pub rate: Option<String>,
    /// Number of the first frame of each shot (1001), or without a cut of each clip (0, or that of its own first file)
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u64).range(..=100_000_000))]
    pub first_frame: Option<u64>,
    /// What is read besides
    #[command(flatten)]
    pub reading: Reading,
    /// How to tell of it
    #[command(flatten)]
    pub telling: Telling,
}
