//! Units as types: a length cannot be handed over where a stop is wanted, and a number that the unit
//! cannot hold (NaN, zero where only positive makes sense) is refused where it enters the program.

/// What every unit type can do, so that quantities of any unit are printed and written alike.
pub trait Unit: Copy + PartialEq + std::fmt::Debug {
    /// Symbol written after the number, empty for pure numbers.
    const SYMBOL: &'static str;

    /// The number in the unit of [`Unit::SYMBOL`].
    fn number(self) -> f64;

    /// The quantity, or `None` where the unit cannot hold the number.
    fn of(number: f64) -> Option<Self>;
}

/// Declares one unit type: its documentation, name, symbol and the numbers it holds.
macro_rules! unit {
    ($(#[$doc:meta])* $name:ident, $symbol:literal, |$v:ident| $holds:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// The quantity, or `None` where the unit cannot hold the number.
            pub fn new($v: f64) -> Option<Self> {
                ($holds).then_some(Self($v))
            }

            /// The number in this unit.
            pub fn get(self) -> f64 {
                self.0
            }
        }

        impl Unit for $name {
            const SYMBOL: &'static str = $symbol;

            fn number(self) -> f64 {
                self.0
            }

            fn of(number: f64) -> Option<Self> {
                Self::new(number)
            }
        }
    };
}

unit! {
    /// A length at the camera: focal length, film back, image circle. Millimetres, above zero.
    Millimeters, "mm", |v| v.is_finite() && v > 0.0
}
unit! {
    /// A signed place on the optical axis, positive toward the object. Millimetres.
    Offset, "mm", |v| v.is_finite()
}
unit! {
    /// A distance in the scene, from the sensor-plane mark. Metres, above zero; infinity is a distance.
    Meters, "m", |v| v > 0.0
}
unit! {
    /// A full angle of view. Degrees, between 0 and 180.
    Degrees, "deg", |v| v > 0.0 && v < 180.0
}
unit! {
    /// f-number: focal length over entrance-pupil diameter (ISO 517). Above zero.
    FNumber, "", |v| v.is_finite() && v > 0.0
}
unit! {
    /// T-number: f-number over the square root of the transmittance (ISO 517). Above zero.
    TNumber, "", |v| v.is_finite() && v > 0.0
}
unit! {
    /// A length on the sensor in pixels of the recording; a part of one is no pixel less. Above zero.
    Pixels, "px", |v| v.is_finite() && v > 0.0
}
unit! {
    /// A difference of exposure in stops; positive is brighter.
    Stops, "stops", |v| v.is_finite()
}
unit! {
    /// A ratio of lengths: magnification, crop, squeeze, coverage. Above zero.
    Factor, "", |v| v.is_finite() && v > 0.0
}
unit! {
    /// The part of the light that glass lets through. Above zero, at most one.
    Transmittance, "", |v| v > 0.0 && v <= 1.0
}

unit! {
    /// How sensitive the camera was set: an exposure index or ISO speed (ISO 12232), arithmetic. Above zero.
    ExposureIndex, "", |v| v.is_finite() && v > 0.0
}
unit! {
    /// The part of a turn for which a shutter is open. Degrees, above 0, at most 360.
    ShutterAngle, "deg", |v| v > 0.0 && v <= 360.0
}
unit! {
    /// How long a frame is exposed. Seconds, above zero.
    Seconds, "s", |v| v.is_finite() && v > 0.0
}
unit! {
    /// A correlated colour temperature. Kelvins, above zero.
    Kelvin, "K", |v| v.is_finite() && v > 0.0
}
unit! {
    /// How far the optical axis points above the horizon; below it negative. Degrees, -90 to 90.
    Tilt, "deg", |v| (-90.0..=90.0).contains(&v)
}

/// A raster in pixels; neither side is zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Raster {
    width: u32,
    height: u32,
}

impl Raster {
    /// The raster, or `None` where a side is zero.
    pub fn new(width: u32, height: u32) -> Option<Self> {
        (width > 0 && height > 0).then_some(Self { width, height })
    }

    /// Pixels in a row.
    pub fn width(self) -> u32 {
        self.width
    }

    /// Pixels in a column.
    pub fn height(self) -> u32 {
        self.height
    }
}

impl std::fmt::Display for Raster {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}x{}", self.width, self.height)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_a_unit_cannot_hold_are_refused() {
        assert!(Millimeters::new(0.0).is_none());
        assert!(Millimeters::new(f64::NAN).is_none());
        assert!(Offset::new(-3.5).is_some());
        assert!(Meters::new(f64::INFINITY).is_some());
        assert!(Meters::new(f64::NAN).is_none());
        assert!(Transmittance::new(1.01).is_none());
        assert!(Raster::new(0, 1080).is_none());
        assert!(ShutterAngle::new(360.0).is_some() && ShutterAngle::new(360.1).is_none());
        assert!(Tilt::new(-90.0).is_some() && Tilt::new(f64::NAN).is_none());
        assert!(Seconds::new(0.0).is_none() && Kelvin::new(f64::INFINITY).is_none());
        assert!(ExposureIndex::new(-800.0).is_none());
    }
}
