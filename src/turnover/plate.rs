//! What a plate shows of the sensor: a crop cuts the film back, a resize keeps it.

use crate::annotation::Setup;
use crate::kit::Plate;
use crate::units::{Factor, Raster};

/// The part of the sensor that a plate shows, and its pixels.
#[derive(Clone, Debug, PartialEq)]
pub struct Area {
    /// Width and height on the sensor, mm.
    pub back: (f64, f64),
    /// Standard uncertainty of both, mm, where it is known.
    pub uncertainty: (Option<f64>, Option<f64>),
    /// Middle of the plate from the middle of the recorded area on the sensor, mm to the right and up.
    pub off: (f64, f64),
    /// Raster of the plate.
    pub raster: Raster,
    /// Squeeze that its pictures still have.
    pub squeeze: f64,
    /// Pixels of the plate to a millimetre of the sensor, across and down.
    pub pixels_per_mm: (f64, f64),
}

/// Left upper corner of a plate in a recorded raster, in pixels; `None` if it does not fit.
pub(super) fn corner(plate: &Plate, recorded: Raster) -> Option<(f64, f64)> {
    let spare = |whole: u32, kept: u32| whole.checked_sub(kept).map(f64::from);
    let across = spare(recorded.width(), plate.crop.width())?;
    let down = spare(recorded.height(), plate.crop.height())?;
    let (left, top) = match plate.offset {
        Some((left, top)) => (f64::from(left), f64::from(top)),
        None => (across / 2.0, down / 2.0),
    };
    (left <= across && top <= down).then_some((left, top))
}

/// What a plate shows of what was recorded with `setup`; `None` if it does not fit, or if the film back is not known.
/// Without a plate, all of it.
pub fn area(plate: Option<&Plate>, recorded: Raster, setup: &Setup) -> Option<Area> {
    let back = (setup.derived.back_width.as_ref()?, setup.derived.back_height.as_ref()?);
    let whole = (back.0.value.get(), back.1.value.get());
    let sides = (f64::from(recorded.width()), f64::from(recorded.height()));
    let lens = setup.squeeze.as_ref().map_or(1.0, |squeeze| squeeze.value.get());
    let (kept, corner, raster, squeeze) = match plate {
        None => (recorded, (0.0, 0.0), recorded, lens),
        Some(plate) => {
            let corner = corner(plate, recorded)?;
            let taken = plate.squeeze.map_or(1.0, Factor::get);
            let raster = match plate.size {
                Some(size) => size,
                None => desqueezed(plate.crop, taken)?,
            };
            (plate.crop, corner, raster, lens / taken)
        }
    };
    let kept = (f64::from(kept.width()), f64::from(kept.height()));
    let part = (kept.0 / sides.0, kept.1 / sides.1);
    let size = (whole.0 * part.0, whole.1 * part.1);
    Some(Area {
        back: size,
        uncertainty: (
            back.0.uncertainty.map(|u| u * part.0),
            back.1.uncertainty.map(|u| u * part.1),
        ),
        off: (
            (corner.0 + kept.0 / 2.0 - sides.0 / 2.0) * whole.0 / sides.0,
            // Pixels count downward.
            (sides.1 / 2.0 - corner.1 - kept.1 / 2.0) * whole.1 / sides.1,
        ),
        raster,
        squeeze,
        pixels_per_mm: (f64::from(raster.width()) / size.0, f64::from(raster.height()) / size.1),
    })
}

/// The raster after the squeeze was taken out across, where the kit does not say another.
fn desqueezed(crop: Raster, taken: f64) -> Option<Raster> {
    let width: u32 = format!("{:.0}", f64::from(crop.width()) * taken).parse().ok()?;
    Raster::new(width, crop.height())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sourced::Origin;

    fn plate(crop: (u32, u32), offset: Option<(u32, u32)>) -> Plate {
        Plate {
            id: "p".to_owned(),
            crop: Raster::new(crop.0, crop.1).unwrap(),
            offset,
            size: None,
            squeeze: None,
            origin: Origin::Asked("plate"),
        }
    }

    #[test]
    fn a_plate_lies_in_the_raster_or_does_not_fit() {
        let recorded = Raster::new(3840, 2160).unwrap();
        assert_eq!(corner(&plate((3840, 1608), None), recorded), Some((0.0, 276.0)));
        assert_eq!(
            corner(&plate((2048, 1080), Some((1792, 1080))), recorded),
            Some((1792.0, 1080.0))
        );
        assert_eq!(corner(&plate((2048, 1080), Some((1793, 0))), recorded), None);
        assert_eq!(corner(&plate((4096, 2160), None), recorded), None);
    }
}
