//! `sheet`: blank lens notes.

use std::path::PathBuf;

use clap::ValueEnum;

/// `sheet FOLDER`.
#[derive(Debug, clap::Args)]
pub struct Sheet {
    /// Folder of the day: with kit.toml, and with the dump if there is one
    pub folder: PathBuf,
    /// Kit file, if not FOLDER/kit.toml
    #[arg(long, value_name = "FILE")]
    pub kit: Option<PathBuf>,
    /// The dump, if not FOLDER/dump or FOLDER itself
    #[arg(long, value_name = "DIR", conflicts_with = "blank")]
    pub dump: Option<PathBuf>,
    /// An empty sheet for the next day, from the kit alone; no dump is looked at
    #[arg(long)]
    pub blank: bool,
    /// Rolls to prepare rows for, parted by commas: A004,B002; the [[roll]] entries of the kit if not given
    #[arg(long, value_name = "LIST", value_delimiter = ',', requires = "blank")]
    pub rolls: Vec<String>,
    /// Rows to prepare for each roll
    #[arg(long, value_name = "N", default_value_t = 30, requires = "blank",
        value_parser = clap::value_parser!(u32).range(1..=500))]
    pub rows: u32,
    /// Unit of bare numbers under Focus; without it a distance is noted with its unit
    #[arg(long, value_name = "UNIT")]
    pub focus_unit: Option<FocusUnit>,
    /// Write into this file instead of printing CSV: .csv, .xlsx with drop-down lists, or .html to print and fill in by hand
    #[arg(long, value_name = "FILE")]
    pub into: Option<PathBuf>,
    /// Say what would be written, and write nothing
    #[arg(long, requires = "into")]
    pub dry_run: bool,
    /// Date of making to write into an .xlsx, as 2026-11-14T18:30:00Z; `SOURCE_DATE_EPOCH` does the same
    #[arg(long, value_name = "DATE", requires = "into")]
    pub date: Option<String>,
    /// Print the sheet as JSON
    #[arg(long)]
    pub json: bool,
}

/// Values of `--focus-unit`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum FocusUnit {
    /// Metres
    M,
    /// Centimetres
    Cm,
    /// Feet
    Ft,
    /// Inches
    In,
}

impl FocusUnit {
    /// As a heading names it.
    pub fn word(self) -> &'static str {
        match self {
            Self::M => "m",
            Self::Cm => "cm",
            Self::Ft => "ft",
            Self::In => "in",
        }
    }
}
