//! Set-ups side by side: what the command `optics` found. Finished public data without behaviour of its own.

use crate::annotation::Setup;
use crate::estimate::Cause;
use crate::fields::Field;
use crate::finding::Finding;
use crate::sourced::Quantity;
use crate::units::{FNumber, Meters, Millimeters, Offset, Raster, TNumber};

/// What was asked about, and what came out.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// The lens, as it was asked for.
    pub lens: String,
    /// The attachment; `None` for a bare camera.
    pub attachment: Option<String>,
    /// Camera, mode and plate, as far as they were named.
    pub camera: Option<String>,
    /// The lens bare, behind the attachment, and on a sensor on which it sees the same bare.
    pub sides: Vec<Side>,
    /// What to dial into a body that moves its sensor against shake: the effective focal length.
    pub stabiliser: Option<Quantity<Millimeters>>,
    /// Depth of field at the stops and distances asked for.
    pub sweep: Vec<Sharp>,
    /// What a person should know, in words.
    pub cautions: Vec<String>,
    /// What does not go together, or not as it should.
    pub findings: Vec<Finding>,
}

/// One set-up.
#[derive(Clone, Debug, PartialEq)]
pub struct Side {
    /// Which one it is.
    pub which: Which,
    /// Everything known of it.
    pub setup: Setup,
    /// Pixels of the recorded area or plate, where known.
    pub raster: Option<Raster>,
    /// Where it lies on the sensor.
    pub frame: Option<Frame>,
    /// True where the attachment's exit circle, and not the lens, ends the image circle.
    pub exit_limited: bool,
    /// What the uncertainties of its main numbers consist of: standard uncertainty by cause, in the field's unit.
    pub causes: Vec<(Field, Vec<(Cause, f64)>)>,
}

/// A recorded area around the optical axis, and the plate within it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Width of the recorded area.
    pub width: Millimeters,
    /// Height of the recorded area.
    pub height: Millimeters,
    /// The plate, if one was asked for.
    pub plate: Option<PlateFrame>,
}

/// The part of a recorded area that a plate keeps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlateFrame {
    /// Width on the sensor.
    pub width: Millimeters,
    /// Height on the sensor.
    pub height: Millimeters,
    /// How far its middle lies to the right of the axis, as the picture is seen.
    pub right: Offset,
    /// How far its middle lies below the axis.
    pub down: Offset,
}

/// Which set-up of a comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// The lens alone on the sensor.
    Bare,
    /// Behind the attachment.
    Behind,
    /// The lens alone on a sensor of another size, on which it sees what it sees behind the attachment.
    SameView,
}

impl Which {
    /// The word used in every output.
    pub fn word(self) -> &'static str {
        match self {
            Self::Bare => "bare",
            Self::Behind => "behind",
            Self::SameView => "same view",
        }
    }
}

/// Depth of field at one stop and distance.
#[derive(Clone, Debug, PartialEq)]
pub struct Sharp {
    /// Stop on the ring, as it was asked for.
    pub ring: String,
    /// Effective f-number.
    pub f_number: Option<Quantity<FNumber>>,
    /// Effective T-number.
    pub t_number: Option<Quantity<TNumber>>,
    /// Focus distance from the sensor-plane mark.
    pub focus: Quantity<Meters>,
    /// Nearest sharp distance from the mark.
    pub near: Option<Quantity<Meters>>,
    /// Farthest sharp distance from the mark.
    pub far: Option<Quantity<Meters>>,
}
