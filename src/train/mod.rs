//! The optical train: everything between scene and recorded area, in numbers, and what follows from it.
//!
//! A train is filled from the kit (`parts`) and from what was settled or asked for; `follow` works out the rest:
//! film back, view, crop, coverage, pupil, pinhole focal length and depth of field, each with its uncertainty.
//! Clips and the set-ups asked about on the command line go the same way.

#![deny(clippy::indexing_slicing)]

mod depth;
mod parts;
mod pinhole;

pub use parts::Parts;

use crate::annotation::Derived;
use crate::estimate::Estimate;
use crate::optics::attachment as behind;
use crate::optics::pinhole::Curve;
use crate::optics::view::{self, Area};
use crate::sourced::{Basis, Known, Origin};
use crate::units::{
    FNumber, Factor, Meters, Millimeters, Offset, Pixels, Raster, Stops, Transmittance,
};

/// What is known of a set-up. `None` is not known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Train {
    /// Effective focal length.
    pub focal: Option<Known<Millimeters>>,
    /// Effective f-number.
    pub stop: Option<Known<FNumber>>,
    /// Focus distance from the sensor-plane mark.
    pub focus: Option<Known<Meters>>,
    /// Focal length behind the attachment from a measured lens, where it is better known than the effective one.
    pub better: Option<Known<Millimeters>>,
    /// Magnification of what stands between lens and camera.
    pub magnification: Option<Known<Factor>>,
    /// Transmittance of its glass.
    pub glass: Option<Known<Transmittance>>,
    /// Image circle of the lens alone.
    pub circle: Option<Known<Millimeters>>,
    /// Largest image circle that the attachment lets out; `None` is no limit.
    pub exit: Option<Known<Millimeters>>,
    /// Entrance pupil of the lens alone, from its own sensor plane.
    pub pupil: Option<Known<Offset>>,
    /// How far the attachment brings the sensor plane toward the lens.
    pub shift: Option<Known<Offset>>,
    /// Anamorphic squeeze; `None` counts as none.
    pub squeeze: Option<Factor>,
    /// How the pinhole focal length changes with focus.
    pub breathing: Breathing,
    /// The recorded area.
    pub back: Option<Back>,
    /// The blur that counts as sharp.
    pub blur: Option<Blur>,
}

/// The recorded area and where it was stated.
#[derive(Clone, Debug, PartialEq)]
pub struct Back {
    /// Its sides.
    pub area: Area,
    /// Twice the distances from the optical axis to its farthest sides: the area itself where it lies in the middle.
    pub reach: Area,
    /// Pixels of the recording.
    pub raster: Option<Raster>,
    /// Where it was stated.
    pub origin: Origin,
}

impl Back {
    /// An area around the optical axis.
    pub fn centred(area: Area, raster: Option<Raster>, origin: Origin) -> Self {
        Self { area, reach: area, raster, origin }
    }
}

/// How the pinhole focal length of a lens changes with focus.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Breathing {
    /// The lens focuses by moving as one piece.
    pub unit_focus: bool,
    /// Measured pinhole focal lengths of the lens alone, by zoom setting.
    pub pinhole: Vec<Curve<Millimeters>>,
    /// Standard uncertainty of these, in millimetres.
    pub pinhole_uncertainty: Option<f64>,
    /// Measured places of the entrance pupil, by zoom setting.
    pub pupil: Vec<Curve<Offset>>,
    /// Standard uncertainty of these, in millimetres.
    pub pupil_uncertainty: Option<f64>,
}

/// The blur circle that counts as sharp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Blur {
    /// The diagonal of the recorded area over this number.
    Parts(Factor),
    /// This wide on the sensor.
    Circle(Millimeters),
}

impl Train {
    /// Works out what follows.
    pub fn follow(&self) -> Derived {
        let pinhole = self.pinhole();
        let pupil = self.pupil_behind();
        let circle = self.circle_behind();
        let mut derived = Derived {
            pinhole: pinhole.as_ref().map(Known::quantity),
            pupil_offset: pupil.as_ref().map(Known::quantity),
            image_circle: circle.as_ref().map(Known::quantity),
            light: self.light().as_ref().map(Known::quantity),
            ..Derived::default()
        };
        let Some(back) = &self.back else { return derived };
        let side = |side: Estimate<Millimeters>| Known {
            estimate: side,
            basis: Basis::Nominal,
            origin: back.origin.clone(),
        };
        derived.back_width = Some(side(back.area.width).quantity());
        derived.back_height = Some(side(back.area.height).quantity());
        self.crop(back, &mut derived);
        if let Some(pinhole) = &pinhole {
            self.view(back, pinhole, &mut derived);
            self.depth(back, pinhole, pupil.as_ref(), &mut derived);
        }
        if let Some(circle) = &circle {
            cover(back, circle, &mut derived);
        }
        derived
    }

    /// True for a lens without squeeze.
    fn spherical(&self) -> bool {
        self.squeeze.is_none_or(|squeeze| (squeeze.get() - 1.0).abs() < 1e-9)
    }

    fn light(&self) -> Option<Known<Stops>> {
        let (m, glass) = (self.magnification.as_ref()?, self.glass.as_ref()?);
        let rule = "stops won = -2 log2(magnification) + log2(transmittance of the attachment)";
        let light = behind::light(m.estimate, glass.estimate)?;
        Some(Known::computed(light, m.binding().weaker(glass.binding()), rule))
    }

    fn circle_behind(&self) -> Option<Known<Millimeters>> {
        let (circle, m) = (self.circle.as_ref()?, self.magnification.as_ref()?);
        let exit = self.exit.as_ref().map(|exit| exit.estimate);
        let value = behind::image_circle(circle.estimate, m.estimate, exit)?;
        if let Some(exit) = self.exit.as_ref().filter(|exit| exit.estimate == value) {
            let rule = "image circle = exit circle of the attachment, which is smaller than magnification x that of the lens";
            return Some(Known::computed(value, exit.basis, rule));
        }
        let rule = "image circle = magnification x image circle of the lens";
        Some(Known::computed(value, circle.basis.weaker(m.binding()), rule))
    }

    fn crop(&self, back: &Back, derived: &mut Derived) {
        let crop = |crop: Option<Estimate<Factor>>, rule| {
            Some(Known::computed(crop?, Basis::Nominal, rule).quantity())
        };
        let (width, diagonal) = (view::crop_by_width(back.area), view::crop_by_diagonal(back.area));
        derived.crop_width = crop(width, "crop = 36 mm / width of the recorded area");
        derived.crop_diagonal = crop(diagonal, "crop = 43.27 mm / diagonal of the recorded area");
        let equivalent = |crop: Option<Estimate<Factor>>, rule| {
            let focal = self.focal.as_ref()?;
            let value = view::equivalent(focal.estimate, crop?)?;
            Some(Known::computed(value, focal.basis, rule).quantity())
        };
        // A squeezed picture has no one focal length that would see the same.
        if self.spherical() {
            derived.equivalent = equivalent(
                diagonal,
                "equivalent focal length = effective focal length x crop by diagonal",
            );
            derived.equivalent_by_width = equivalent(
                width,
                "equivalent focal length = effective focal length x crop by width",
            );
        }
    }

    fn view(&self, back: &Back, pinhole: &Known<Millimeters>, derived: &mut Derived) {
        let angle = |side: Option<Estimate<Millimeters>>, rule| {
            let angle = view::angle(side?, pinhole.estimate)?;
            Some(Known::computed(angle, pinhole.basis, rule).quantity())
        };
        let squeeze = self.squeeze.map_or(1.0, Factor::get);
        let wide = (back.area.width.bare() * squeeze).unit();
        derived.angle_horizontal = angle(wide, "2 atan(width x squeeze / 2 pinhole focal length)");
        derived.angle_vertical =
            angle(Some(back.area.height), "2 atan(height / 2 pinhole focal length)");
        // What is looked at is the desqueezed picture, and so is its diagonal.
        let seen = wide.and_then(|width| Area { width, ..back.area }.diagonal());
        let rule = if self.spherical() {
            "2 atan(diagonal / 2 pinhole focal length)"
        } else {
            "2 atan(diagonal of width x squeeze and height / 2 pinhole focal length)"
        };
        derived.angle_diagonal = angle(seen, rule);
    }
}

fn cover(back: &Back, circle: &Known<Millimeters>, derived: &mut Derived) {
    let Some(reach) = back.reach.diagonal() else { return };
    let Some(coverage) = view::coverage(circle.estimate, reach) else { return };
    let rule = "coverage = image circle / diagonal of the recorded area";
    derived.coverage = Some(Known::computed(coverage, circle.basis, rule).quantity());
    let dark = |reach| {
        let margin = view::margin(circle.estimate, reach)?;
        (margin.bare() * -1.0).unit::<Millimeters>()
    };
    let known = |dark: Option<Estimate<Millimeters>>, rule| {
        Some(Known::computed(dark?, circle.basis, rule).quantity())
    };
    let pixels =
        |dark: Option<Estimate<Millimeters>>, along: (u32, Estimate<Millimeters>), rule| {
            let (pixels, side) = (f64::from(along.0), along.1);
            let pixels = (dark?.bare() * pixels / side.bare()).unit::<Pixels>()?;
            Some(Known::computed(pixels, circle.basis, rule).quantity())
        };
    let width = back.raster.map(|raster| (raster.width(), back.area.width));
    let height = back.raster.map(|raster| (raster.height(), back.area.height));

    let corner = dark(reach);
    let rule =
        "dark corner = half of the diagonal of the recorded area - radius of the image circle";
    derived.dark_corner = known(corner, rule);
    let rule = "the same in pixels of the recording, along the width";
    derived.dark_corner_pixels = width.and_then(|width| pixels(corner, width, rule));

    let sides = dark(back.reach.width);
    let rule = "dark sides = half of the width of the recorded area - radius of the image circle";
    derived.dark_sides = known(sides, rule);
    let rule = "the same in pixels of the recording, along the width";
    derived.dark_sides_pixels = width.and_then(|width| pixels(sides, width, rule));

    let ends = dark(back.reach.height);
    let rule = "dark top and bottom = half of the height of the recorded area - radius of the image circle";
    derived.dark_top_bottom = known(ends, rule);
    let rule = "the same in pixels of the recording, along the height";
    derived.dark_top_bottom_pixels = height.and_then(|height| pixels(ends, height, rule));
}
