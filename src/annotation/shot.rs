//! What a camera report has beside the lens: how the camera was set and stood, who was there, and for whom.

use chrono::NaiveDate;

use crate::sourced::{Quantity, Sourced};
use crate::units::{ExposureIndex, Kelvin, Meters, Seconds, ShutterAngle, Tilt};

use super::Settled;

/// How the camera was set and stood over one piece of a clip, and who was there. `None` is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Shot {
    /// ISO speed.
    pub iso: Settled<Quantity<ExposureIndex>>,
    /// Exposure index that the picture was metered at.
    pub exposure_index: Settled<Quantity<ExposureIndex>>,
    /// Shutter angle.
    pub shutter_angle: Settled<Quantity<ShutterAngle>>,
    /// Exposure time.
    pub exposure_time: Settled<Quantity<Seconds>>,
    /// White balance as a colour temperature.
    pub white_balance: Settled<Quantity<Kelvin>>,
    /// White balance in words.
    pub white_balance_mode: Settled<Sourced<String>>,
    /// Height of the lens above the ground, as noted.
    pub height: Option<Quantity<Meters>>,
    /// Tilt as noted, upwards positive.
    pub tilt: Option<Quantity<Tilt>>,
    /// Camera operator.
    pub operator: Option<Sourced<String>>,
    /// Camera assistants.
    pub assistants: Option<Sourced<String>>,
    /// Unit.
    pub unit: Option<Sourced<String>>,
    /// Shooting day, as the crew counts it.
    pub day: Option<Sourced<String>>,
}

impl Default for Shot {
    fn default() -> Self {
        Self {
            iso: Settled::unsaid(),
            exposure_index: Settled::unsaid(),
            shutter_angle: Settled::unsaid(),
            exposure_time: Settled::unsaid(),
            white_balance: Settled::unsaid(),
            white_balance_mode: Settled::unsaid(),
            height: None,
            tilt: None,
            operator: None,
            assistants: None,
            unit: None,
            day: None,
        }
    }
}

/// What the kit says of the production beside its title: the head of a camera report.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Details {
    /// Production company.
    pub company: Option<String>,
    /// Director.
    pub director: Option<String>,
    /// Director of photography.
    pub cinematographer: Option<String>,
    /// Camera operator, where no camera has its own.
    pub operator: Option<String>,
    /// Camera assistants, likewise.
    pub assistants: Option<String>,
    /// Unit.
    pub unit: Option<String>,
    /// Shooting day, as the crew counts it.
    pub day: Option<String>,
    /// Date of the day.
    pub date: Option<NaiveDate>,
}
