//! One set-up of the comparison, finished.

use crate::annotation::{Attached, Settled, Setup};
use crate::comparison::{Frame, PlateFrame, Side, Which};
use crate::estimate::Cause;
use crate::fields::Field;
use crate::optics::attachment as behind;
use crate::sourced::{Known, Origin, Sourced};
use crate::units::{Millimeters, Offset, TNumber, Unit};

use super::{Desk, Rigged, given};

impl Desk<'_> {
    /// Follows a train and puts down what is known of it.
    pub(super) fn side(&self, which: Which, rigged: &Rigged) -> Side {
        let Rigged { train, ring } = rigged;
        let t_number = effective_t(rigged);
        let mut causes = Vec::new();
        let mut split = |field, parts: Vec<(Cause, f64)>| {
            if !parts.is_empty() {
                causes.push((field, parts));
            }
        };
        split(Field::FocalLength, parts_of(train.focal.as_ref()));
        split(Field::FNumber, parts_of(train.stop.as_ref()));
        split(Field::TNumber, parts_of(t_number.as_ref()));
        let attached = match (&self.between, which) {
            (Some(between), Which::Behind) => Attached::On {
                id: between.label.clone(),
                name: between.label.clone(),
                kind: between.kind.word(),
            },
            _ => Attached::Bare,
        };
        let text = |text: &str| Sourced::new(text.to_owned(), Origin::Asked("lens"));
        let setup = Setup {
            camera: None,
            mode: None,
            lens: plain_value(Some(text(&self.glass.label))),
            lens_maker: None,
            lens_serial: None,
            lens_marks: None,
            squeeze: train.squeeze.map(|squeeze| given(squeeze, Some(0.0), "squeeze")),
            attachment: Some(Sourced::new(attached, Origin::Asked("attachment"))),
            attachment_reason: String::new(),
            magnification: train.magnification.as_ref().map(Known::quantity),
            glass: train.glass.as_ref().map(Known::quantity),
            lens_focal: Some(self.glass.focal.clone()),
            lens_f: ring.f.as_ref().map(Known::quantity),
            lens_t: ring.t.as_ref().map(Known::quantity),
            focal_length: plain_value(train.focal.as_ref().map(Known::quantity)),
            f_number: plain_value(train.stop.as_ref().map(Known::quantity)),
            t_number: plain_value(t_number.as_ref().map(Known::quantity)),
            focus_distance: plain_value(train.focus.as_ref().map(Known::quantity)),
            distortion: None,
            derived: train.follow().into(),
            slate: None,
            take: None,
            circled: None,
            attachment_secured: None,
            filter: None,
            density: None,
            shot: None,
            remarks: None,
        };
        let raster = train.back.as_ref().and_then(|back| back.raster);
        let frame = self.body.as_ref().map(|body| body.frame);
        let frame = match which {
            Which::SameView => frame.and_then(|frame| self.larger(frame)),
            Which::Bare | Which::Behind => frame,
        };
        let exit = train.exit.as_ref().map(|exit| exit.estimate.value);
        let circle = setup.derived.image_circle.as_ref().map(|circle| circle.value);
        let exit_limited = exit.is_some() && exit == circle;
        Side { which, setup, raster, frame, exit_limited, causes }
    }

    /// A frame on the sensor of the same view.
    fn larger(&self, frame: Frame) -> Option<Frame> {
        let m = self.between.as_ref()?.magnification.estimate.value.get();
        let side = |side: Millimeters| Millimeters::new(side.get() / m);
        let off = |off: Offset| Offset::new(off.get() / m);
        let plate = |plate: PlateFrame| {
            Some(PlateFrame {
                width: side(plate.width)?,
                height: side(plate.height)?,
                right: off(plate.right)?,
                down: off(plate.down)?,
            })
        };
        let Frame { width, height, plate: cut } = frame;
        Some(Frame { width: side(width)?, height: side(height)?, plate: cut.and_then(plate) })
    }
}

/// The T-number behind the attachment: only where its glass is known.
pub(super) fn effective_t(rigged: &Rigged) -> Option<Known<TNumber>> {
    let Rigged { train, ring } = rigged;
    let (t, m, glass) = (ring.t.as_ref()?, train.magnification.as_ref()?, train.glass.as_ref()?);
    let value = behind::t_number(t.estimate, m.estimate, glass.estimate)?;
    let rule = "effective T-number = magnification x T-number on the lens / root of the attachment's transmittance";
    Some(Known::computed(value, t.basis.weaker(m.binding()).weaker(glass.binding()), rule))
}

fn parts_of<U: Unit>(known: Option<&Known<U>>) -> Vec<(Cause, f64)> {
    known.map(|known| known.estimate.spread.parts().collect()).unwrap_or_default()
}

fn plain_value<T>(value: Option<T>) -> Settled<T> {
    Settled { value, ..Settled::unsaid() }
}
