//! `report`: the camera report at wrap.

use std::path::PathBuf;

use clap::ValueEnum;

use super::{Reading, Telling};

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
    /// What is read besides
    #[command(flatten)]
    pub reading: Reading,
    /// How to tell of it
    #[command(flatten)]
    pub telling: Telling,
}
