//! `kit`: prep day.

use std::path::PathBuf;

/// `kit [PATH]`.
#[derive(Debug, clap::Args)]
pub struct KitCheck {
    /// The kit file, or a folder with kit.toml
    #[arg(default_value = ".")]
    pub path: PathBuf,
    /// Only this camera: its id, name or serial number
    #[arg(long, value_name = "ID")]
    pub camera: Option<String>,
    /// Only this lens: its id, name or serial number, or its focal length
    #[arg(long, value_name = "ID")]
    pub lens: Option<String>,
    /// Print JSON, with everything that does not fit and every recording mode
    #[arg(long)]
    pub json: bool,
    /// Write a commented kit to start from; a file that is there stays
    #[arg(long, value_name = "FILE", conflicts_with_all = ["path", "camera", "lens", "json"])]
    pub new: Option<PathBuf>,
    /// Print the JSON Schema of kit.toml, by which editors complete and check it
    #[arg(long, conflicts_with_all = ["path", "camera", "lens", "json", "new"])]
    pub schema: bool,
}
