//! `measure`: chart shots.

use std::path::PathBuf;

/// `measure CHART.csv`.
#[derive(Debug, clap::Args)]
pub struct Measure {
    /// The sheet of chart shots
    #[arg(value_name = "CHART.csv")]
    pub chart: PathBuf,
    /// Kit file that knows the lenses, attachments and recording modes of the sheet
    #[arg(long, value_name = "FILE")]
    pub kit: Option<PathBuf>,
    /// Camera of the kit, for the pitch of its recorded pixels; needed where the kit has several
    #[arg(long, value_name = "ID", requires = "kit")]
    pub camera: Option<String>,
    /// Recording mode of that camera; needed where it has several
    #[arg(long, value_name = "ID", requires = "kit")]
    pub mode: Option<String>,
    /// Pitch of the recorded pixels in micrometres, instead of that of the mode
    #[arg(long, value_name = "UM")]
    pub pitch: Option<String>,
    /// Width of the chart, for rows that do not say it: 500mm, 19.7in; a bare number is millimetres
    #[arg(long, value_name = "WIDTH")]
    pub chart_width: Option<String>,
    /// Standard uncertainty of a span, in pixels
    #[arg(long, value_name = "PX", default_value_t = 1.0)]
    pub pixel_error: f64,
    /// Standard uncertainty of a tape reading, in millimetres
    #[arg(long, value_name = "MM", default_value_t = 1.0)]
    pub tape_error: f64,
    /// Pinhole focal length of the lens alone in millimetres, where there are no bare shots
    #[arg(long, value_name = "MM")]
    pub native: Option<f64>,
    /// Standard uncertainty of --native, in millimetres
    #[arg(long, value_name = "MM", requires = "native")]
    pub native_uncertainty: Option<f64>,
    /// Entrance pupil of the lens alone before the sensor plane in millimetres, for shots at one distance
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub pupil: Option<f64>,
    /// Draw the residuals into this file
    #[arg(long, value_name = "FILE.svg")]
    pub picture: Option<PathBuf>,
    /// Print JSON instead of text
    #[arg(long)]
    pub json: bool,
}
