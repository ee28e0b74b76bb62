//! `optics`: one set-up.

use std::path::PathBuf;

/// `optics`.
#[derive(Debug, Default, clap::Args)]
#[command(allow_negative_numbers = true)]
pub struct Optics {
    /// Focal length in mm, or a lens of the kit by any of its names
    #[arg(long, value_name = "LENS")]
    pub lens: String,
    /// Where the zoom ring stands, in mm
    #[arg(long, value_name = "MM")]
    pub focal: Option<String>,
    /// Stop on the ring: f/1.4, T1.5, f/2.8+1/3, wo; give both f and T if the lens has both
    #[arg(long, value_name = "STOP")]
    pub stop: Vec<String>,
    /// Focal reducer: its magnification, or a reducer of the kit
    #[arg(long, value_name = "M", group = "between")]
    pub reducer: Option<String>,
    /// Extender: its magnification, or an extender of the kit
    #[arg(long, value_name = "M", group = "between")]
    pub extender: Option<String>,
    /// Any attachment of the kit, or `none`
    #[arg(long, value_name = "NAME", group = "between")]
    pub attachment: Option<String>,
    /// Part of the light that the attachment's glass lets through, such as 0.95
    #[arg(long, value_name = "PART")]
    pub glass: Option<String>,
    /// Recorded area in mm, such as 26.2x13.8
    #[arg(long, value_name = "WxH")]
    pub sensor: Option<String>,
    /// Camera of the kit
    #[arg(long, value_name = "ID")]
    pub camera: Option<String>,
    /// Recording mode of that camera
    #[arg(long, value_name = "ID")]
    pub mode: Option<String>,
    /// Plate of the kit: numbers for the part of the picture that it keeps
    #[arg(long, value_name = "ID")]
    pub plate: Option<String>,
    /// Focus distance from the sensor mark: 2.4m, 6'3", inf
    #[arg(long, value_name = "DISTANCE")]
    pub focus: Option<String>,
    /// Anamorphic squeeze of the lens
    #[arg(long, value_name = "FACTOR")]
    pub squeeze: Option<String>,
    /// Image circle of the lens, in mm
    #[arg(long, value_name = "MM")]
    pub circle: Option<String>,
    /// Entrance pupil of the lens alone from its sensor plane, in mm
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    pub pupil: Option<String>,
    /// How far the attachment brings the sensor plane toward the lens, in mm
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    pub shift: Option<String>,
    /// Blur circle that counts as sharp, in mm; the diagonal over 1500 if not given
    #[arg(long, value_name = "MM")]
    pub blur: Option<String>,
    /// Depth of field at these stops, parted by commas: f/1.4,f/2,f/2.8
    #[arg(long, value_name = "LIST")]
    pub stops: Option<String>,
    /// Depth of field at these focus distances, parted by commas: 1m,2m,4m
    #[arg(long, value_name = "LIST")]
    pub focuses: Option<String>,
    /// Kit file; ./kit.toml is used if a name is given and no file
    #[arg(long, value_name = "FILE")]
    pub kit: Option<PathBuf>,
    /// Draw the recorded area in the image circle, to scale, into this SVG file
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// Print JSON instead of a table
    #[arg(long)]
    pub json: bool,
}
