//! `report`: the camera report at wrap.

use std::path::PathBuf;

use clap::ValueEnum;

use super::Trusted;

/// The form of a camera report.
#[derive(Debug, clap::Args)]
pub struct Form {
    /// Sheet that the camera report is printed on
    #[arg(long, value_name = "SHEET")]
    pub paper: Option<Paper>,
    /// Form of the dates of the camera report
    #[arg(long, value_name = "FORM")]
    pub date_form: Option<DateForm>,
    /// Decimal sign of the camera report; with a comma, its CSV is parted by semicolons
    #[arg(long, value_name = "SIGN")]
    pub decimal: Option<Decimal>,
    /// Headings of the camera report in other words or another language (docs/report.md)
    #[arg(long, value_name = "FILE")]
    pub headings: Option<PathBuf>,
}

/// Values of `--paper`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Paper {
    /// 210 x 297 mm; the usual one
    A4,
    /// 8.5 x 11 in
    Letter,
}

/// Values of `--date-form`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum DateForm {
    /// 2026-11-14; the usual one
    Iso,
    /// 14.11.2026
    DayFirst,
    /// 11/14/2026
    MonthFirst,
    /// 14 November 2026
    Words,
}

/// Values of `--decimal`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Decimal {
    /// 35.5; the usual one
    Point,
    /// 35,5
    Comma,
}

/// `report FOLDER --into OUT`.
#[derive(Debug, clap::Args)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a switch of its own on the command line"
)]
pub struct Report {
    /// Folder with kit.toml, lens notes and the dump
    #[arg(required_unless_present = "headings_template")]
    pub folder: Option<PathBuf>,
    /// Output folder
    #[arg(long, value_name = "OUT", required_unless_present = "headings_template")]
    pub into: Option<PathBuf>,
    /// How it is written
    #[command(flatten)]
    pub form: Form,
    /// Print the headings of the report as a file to translate, and do nothing else
    #[arg(long)]
    pub headings_template: bool,
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
    /// Read lens data frame by frame where a clip carries it, and give a clip a line for each change
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
    /// Date to write into the record.
    #[arg(
        long,
        value_name = "DATE",
        help = "Date to write into the record, as 2026-11-14T18:30:00Z; SOURCE_DATE_EPOCH does the same"
    )]
    pub date: Option<String>,
    /// Print the record as JSON instead of the summary
    #[arg(long)]
    pub json: bool,
}
