//! What the kit knows of a train.

use crate::estimate::{Cause, Estimate, together};
use crate::kit::{Attachment, Camera, Defaults, Kit, Lens, LensTable, Mode};
use crate::optics::attachment as behind;
use crate::optics::pinhole::Curve;
use crate::optics::view::Area;
use crate::sourced::{Basis, Known, Origin, Quantity};
use crate::units::{Factor, Millimeters, Offset, Transmittance};

use super::{Back, Blur, Breathing, Train};

/// Entries of the kit that stand in a row from scene to sensor. `None` is not known.
#[derive(Clone, Copy)]
pub struct Parts<'a> {
    /// The kit.
    pub kit: &'a Kit,
    /// Camera.
    pub camera: Option<&'a Camera>,
    /// Its recording mode.
    pub mode: Option<&'a Mode>,
    /// Lens.
    pub lens: Option<&'a Lens>,
    /// What stands between them; inside it, `None` is nothing.
    pub between: Option<Option<&'a Attachment>>,
}

impl Parts<'_> {
    /// The train as far as the kit knows it: neither setting nor focus.
    pub fn train(&self) -> Train {
        let lens = self.lens;
        Train {
            magnification: self.magnification().map(|m| m.known(Cause::Magnification)),
            glass: self.glass().map(|glass| glass.known(Cause::Glass)),
            circle: lens
                .and_then(|lens| lens.image_circle.as_ref())
                .map(|circle| circle.known(Cause::Circle)),
            exit: self
                .attachment()
                .and_then(|attachment| attachment.exit_circle.as_ref())
                .map(|exit| exit.known(Cause::Exit)),
            pupil: lens
                .and_then(|lens| lens.pupil_offset.as_ref())
                .map(|pupil| pupil.known(Cause::Pupil)),
            shift: self.shift(),
            squeeze: lens.map(|lens| lens.squeeze.value),
            breathing: lens.map(|lens| breathing(lens, &self.kit.defaults)).unwrap_or_default(),
            back: self.mode.map(back),
            blur: Factor::new(self.kit.defaults.blur_parts).map(Blur::Parts),
            ..Train::default()
        }
    }

    fn attachment(&self) -> Option<&Attachment> {
        self.between?
    }

    /// Magnification of what stands between; exactly one for a bare camera.
    pub fn magnification(&self) -> Option<Quantity<Factor>> {
        match self.between? {
            Some(attachment) => Some(attachment.magnification.clone()),
            None => Some(nothing(Factor::new(1.0)?)),
        }
    }

    /// Transmittance of its glass; one for a bare camera.
    pub fn glass(&self) -> Option<Quantity<Transmittance>> {
        match self.between? {
            Some(attachment) => attachment.transmittance.clone(),
            None => Some(nothing(Transmittance::new(1.0)?)),
        }
    }

    /// How far the sensor plane comes forward: as stated, or from thickness and flange depths; never from m.
    fn shift(&self) -> Option<Known<Offset>> {
        let Some(attachment) = self.between? else {
            return Some(nothing(Offset::new(0.0)?).known(Cause::Shift));
        };
        if let Some(shift) = &attachment.shift {
            return Some(shift.known(Cause::Shift));
        }
        let thickness = attachment.thickness.as_ref()?;
        let flange = |mount: Option<&String>| {
            Some(&self.kit.mounts.iter().find(|known| Some(&known.id) == mount)?.flange)
        };
        let lens =
            self.lens.and_then(|lens| lens.mount.as_ref()).or(attachment.lens_mount.as_ref());
        let body =
            self.camera.and_then(|camera| camera.mount.as_ref()).or(attachment.body_mount.as_ref());
        let (lens, body) = (flange(lens)?, flange(body)?);
        let flanges = lens.uncertainty.zip(body.uncertainty).map(|(a, b)| together(a, b));
        let thickness_at = thickness.estimate(Cause::Shift).also(Cause::Flange, flanges);
        let shift = behind::shift(lens.value, body.value, thickness_at)?;
        let rule = "shift = flange of the lens mount - flange of the body mount - thickness of the attachment";
        Some(Known::computed(shift, thickness.basis, rule))
    }
}

fn nothing<U>(value: U) -> Quantity<U> {
    let origin = Origin::Computed("nothing stands between lens and camera");
    Quantity { value, uncertainty: Some(0.0), basis: Basis::Nominal, origin }
}

fn back(mode: &Mode) -> Back {
    // Both sides come from one pitch or one data sheet: they are off together.
    let side = |side: Millimeters| {
        Estimate::caused(side, Cause::Area, Some(mode.back_relative * side.get()))
    };
    let area = Area { width: side(mode.back.width), height: side(mode.back.height) };
    Back::centred(area, Some(mode.raster), mode.origin.clone())
}

fn breathing(lens: &Lens, defaults: &Defaults) -> Breathing {
    let curve = |table: &LensTable| Curve {
        mark: table.focal,
        focus: table.focus.clone(),
        values: table.pinhole.clone(),
    };
    let pupil = |table: &LensTable| {
        (!table.pupil.is_empty()).then(|| Curve {
            mark: table.focal,
            focus: table.focus.clone(),
            values: table.pupil.clone(),
        })
    };
    // Of several tables the one that was measured worst speaks for all; a measurement that does not say how good it is
    // counts no more than a mark.
    let longest = |table: &LensTable| table.pinhole.iter().map(|p| p.get()).fold(0.0, f64::max);
    let pinhole_off =
        |table: &LensTable| table.pinhole_uncertainty.unwrap_or(defaults.focal * longest(table));
    let pupil_off = |table: &LensTable| table.pupil_uncertainty.unwrap_or(defaults.pupil);
    Breathing {
        unit_focus: lens.unit_focus,
        pinhole: lens.tables.iter().map(curve).collect(),
        pinhole_uncertainty: lens.tables.iter().map(pinhole_off).reduce(f64::max),
        pupil: lens.tables.iter().filter_map(pupil).collect(),
        pupil_uncertainty: lens.tables.iter().map(pupil_off).reduce(f64::max),
    }
}
