//! One set-up that somebody asks about, from words or from the names of the kit: the lens bare, behind its attachment,
//! and bare on a sensor on which it sees the same.
//!
//! `words` reads what was typed, `entries` finds lens, attachment and recorded area, `ring` the stop, and here the
//! optical trains are put together and followed.

#![deny(clippy::indexing_slicing)]

mod entries;
mod ring;
mod words;

use anyhow::{Context, Result, bail};

use crate::annotation::{Attached, Settled, Setup};
use crate::cli::Optics;
use crate::comparison::{Comparison, Frame, PlateFrame, Sharp, Side, Which};
use crate::estimate::{Cause, Estimate};
use crate::fields::Field;
use crate::kit::Kit;
use crate::number::{fixed, short};
use crate::optics::attachment as behind;
use crate::optics::view::Area;
use crate::sourced::{Basis, Known, Origin, Quantity, Sourced};
use crate::train::{Back, Blur, Parts, Train};
use crate::units::{Factor, Meters, Millimeters, Offset, TNumber, Unit};

use entries::{Between, Body, Glass};
use ring::Ring;

/// True if every lens and attachment asked for is a plain number, so that no kit is needed.
pub fn plain(asked: &Optics) -> bool {
    let number =
        |text: &Option<String>| text.as_ref().is_none_or(|text| entries::factor(text).is_some());
    words::is_focal(&asked.lens)
        && number(&asked.reducer)
        && number(&asked.extender)
        && asked.attachment.is_none()
        && asked.camera.is_none()
        && asked.mode.is_none()
        && asked.plate.is_none()
}

/// Works out what was asked. An error says which word cannot be meant, and what to write.
pub fn ask(asked: &Optics, kit: &Kit) -> Result<Comparison> {
    let desk = Desk::read(asked, kit)?;
    let mut sides = Vec::new();
    let bare = desk.bare()?;
    let same = desk.same_view(&bare);
    let lens_only = desk.between.is_none();
    sides.push(desk.side(Which::Bare, &bare));
    let mut last = bare;
    if let Some(between) = &desk.between {
        last = desk.behind(between)?;
        sides.push(desk.side(Which::Behind, &last));
        sides.extend(same.map(|same| desk.side(Which::SameView, &same)));
    }
    let (Some(shown), sweep) = (sides.get(usize::from(!lens_only)), desk.sweep(&last)?) else {
        bail!("nothing was worked out");
    };
    let stabiliser = shown.setup.focal_length.value.clone();
    let cautions = desk.cautions(shown);
    Ok(Comparison {
        lens: desk.glass.label.clone(),
        attachment: desk.between.as_ref().map(|between| between.label.clone()),
        camera: desk.body.as_ref().and_then(|body| body.label.clone()),
        stabiliser,
        sweep,
        cautions,
        sides,
    })
}

/// Everything that was asked, understood.
struct Desk<'a> {
    asked: &'a Optics,
    kit: &'a Kit,
    glass: Glass<'a>,
    between: Option<Between<'a>>,
    body: Option<Body<'a>>,
    ring: Ring,
    focus: Option<Known<Meters>>,
}

/// A train, and the lens as it was set in it.
#[derive(Clone)]
struct Rigged {
    train: Train,
    ring: Ring,
}

impl<'a> Desk<'a> {
    fn read(asked: &'a Optics, kit: &'a Kit) -> Result<Self> {
        let glass = Glass::read(asked, kit)?;
        let between = Between::read(asked, kit)?;
        let body = Body::read(asked, kit)?;
        let ring = Ring::read(&asked.stop, &glass, kit.defaults.stop)?;
        let focus = asked.focus.as_ref().map(|text| words::distance(text, "focus")).transpose()?;
        let focus = focus.map(|at| focused(at, kit.defaults.focus, "focus"));
        Ok(Self { asked, kit, glass, between, body, ring, focus })
    }

    fn parts(&self, between: Option<&'a crate::kit::Attachment>) -> Parts<'a> {
        Parts {
            kit: self.kit,
            camera: self.body.as_ref().and_then(|body| body.camera),
            mode: self.body.as_ref().and_then(|body| body.mode),
            lens: self.glass.lens,
            between: Some(between),
        }
    }

    /// The lens alone.
    fn bare(&self) -> Result<Rigged> {
        let train = self.dressed(self.parts(None).train())?;
        Ok(self.set(train, &self.ring, self.focus.as_ref()))
    }

    /// The lens behind what stands between it and the camera.
    fn behind(&self, between: &Between<'a>) -> Result<Rigged> {
        let mut train = self.dressed(self.parts(between.attachment).train())?;
        train.magnification = Some(between.magnification.clone());
        train.glass.clone_from(&between.glass);
        if between.attachment.is_none() {
            (train.shift, train.exit) = (None, None);
        }
        if let Some(text) = &self.asked.shift {
            let shift = words::within(text, "shift", -50.0..=100.0)?;
            train.shift = Offset::new(shift).map(|shift| {
                given(shift, Some(self.kit.defaults.thickness), "shift").known(Cause::Shift)
            });
        }
        Ok(self.set(train, &self.ring, self.focus.as_ref()))
    }

    /// The lens alone on the sensor on which it sees what it sees behind the attachment: larger by 1/m.
    fn same_view(&self, bare: &Rigged) -> Option<Rigged> {
        let m = self.between.as_ref()?.magnification.estimate.value;
        let back = bare.train.back.as_ref()?;
        if (m.get() - 1.0).abs() < 1e-9 {
            return None;
        }
        let side = |side: Estimate<Millimeters>| (side.bare() / m.get()).unit::<Millimeters>();
        let area = Area { width: side(back.area.width)?, height: side(back.area.height)? };
        let origin = Origin::Computed(
            "recorded area / magnification: sees bare what is seen behind the attachment",
        );
        let mut same = bare.clone();
        let reach = side(back.reach)?;
        same.train.back = Some(Back { area, reach, raster: back.raster, origin });
        if let Some(Blur::Circle(circle)) = same.train.blur {
            same.train.blur = Millimeters::new(circle.get() / m.get()).map(Blur::Circle);
        }
        Some(same)
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

    /// A train with what was given in words put in the place of what the kit says.
    fn dressed(&self, mut train: Train) -> Result<Train> {
        let asked = self.asked;
        if let Some(text) = &asked.circle {
            let circle = Millimeters::new(words::within(text, "circle", 3.0..=300.0)?);
            let circle = circle.context("--circle: no image circle")?;
            train.circle = Some(
                given(circle, Some(self.kit.defaults.circle * circle.get()), "circle")
                    .known(Cause::Circle),
            );
        }
        if let Some(text) = &asked.pupil {
            let pupil = Offset::new(words::within(text, "pupil", -1000.0..=3000.0)?);
            train.pupil = pupil.map(|pupil| {
                given(pupil, Some(self.kit.defaults.pupil), "pupil").known(Cause::Pupil)
            });
        }
        if let Some(text) = &asked.squeeze {
            train.squeeze = Factor::new(words::within(text, "squeeze", 1.0..=3.0)?);
        }
        if let Some(text) = &asked.blur {
            let blur = Millimeters::new(words::within(text, "blur", 0.001..=1.0)?);
            train.blur = blur.map(Blur::Circle);
        }
        train.back = self.body.as_ref().map(|body| body.back.clone());
        Ok(train)
    }

    /// A train with the lens set to a stop and a distance.
    fn set(&self, mut train: Train, ring: &Ring, focus: Option<&Known<Meters>>) -> Rigged {
        let m = train.magnification.clone();
        let through = |m: &Known<Factor>| {
            let native = self.glass.focal.estimate(Cause::Focal);
            let rule = "effective focal length = magnification x focal length of the lens";
            let basis = self.glass.focal.basis.weaker(m.basis);
            Some(Known::computed(behind::focal_length(native, m.estimate)?, basis, rule))
        };
        train.focal = m.as_ref().and_then(through);
        train.stop = m.as_ref().zip(ring.f.as_ref()).and_then(|(m, n)| {
            let rule = "effective f-number = magnification x f-number on the lens";
            Some(Known::computed(
                behind::f_number(n.estimate, m.estimate)?,
                n.basis.weaker(m.basis),
                rule,
            ))
        });
        train.focus = focus.cloned();
        Rigged { train, ring: ring.clone() }
    }

    fn side(&self, which: Which, rigged: &Rigged) -> Side {
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
            squeeze: train.squeeze.map(|squeeze| given(squeeze, Some(0.0), "squeeze")),
            attachment: Some(Sourced::new(attached, Origin::Asked("attachment"))),
            magnification: train.magnification.as_ref().map(Known::quantity),
            glass: train.glass.as_ref().map(Known::quantity),
            lens_focal: Some(self.glass.focal.clone()),
            lens_f: ring.f.as_ref().map(Known::quantity),
            lens_t: ring.t.as_ref().map(Known::quantity),
            focal_length: plain_value(train.focal.as_ref().map(Known::quantity)),
            f_number: plain_value(train.stop.as_ref().map(Known::quantity)),
            t_number: plain_value(t_number.as_ref().map(Known::quantity)),
            focus_distance: plain_value(train.focus.as_ref().map(Known::quantity)),
            derived: train.follow(),
            slate: None,
            take: None,
            circled: None,
            filter: None,
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

    /// Depth of field at every stop and distance of the lists.
    fn sweep(&self, rigged: &Rigged) -> Result<Vec<Sharp>> {
        let (stops, focuses) = (&self.asked.stops, &self.asked.focuses);
        if stops.is_none() && focuses.is_none() {
            return Ok(Vec::new());
        }
        let rings = match stops {
            Some(list) => words::list(list, |text| {
                Ring::read(&[text.to_owned()], &self.glass, self.kit.defaults.stop)
            })?,
            None => vec![(self.asked.stop.join(" "), self.ring.clone())],
        };
        let distances = match focuses {
            Some(list) => words::list(list, |text| words::distance(text, "focuses"))?
                .into_iter()
                .map(|(_, at)| focused(at, self.kit.defaults.focus, "focuses"))
                .collect(),
            None => self.focus.clone().into_iter().collect::<Vec<_>>(),
        };
        if rings.iter().all(|(_, ring)| ring.f.is_none()) {
            bail!(
                "depth of field needs a stop as f-number: --stops f/2,f/2.8; from T the transmittance of the lens must be known"
            );
        }
        if distances.is_empty() || self.body.is_none() {
            bail!(
                "depth of field needs focus distances and a recorded area: --focuses 1m,2m,4m and --sensor 26.2x13.8"
            );
        }
        let mut sweep = Vec::new();
        for (text, ring) in &rings {
            for at in &distances {
                let set = self.set(rigged.train.clone(), ring, Some(at));
                let derived = set.train.follow();
                sweep.push(Sharp {
                    ring: text.clone(),
                    f_number: set.train.stop.as_ref().map(Known::quantity),
                    t_number: effective_t(&set).as_ref().map(Known::quantity),
                    focus: at.quantity(),
                    near: derived.near,
                    far: derived.far,
                });
            }
        }
        Ok(sweep)
    }

    fn cautions(&self, shown: &Side) -> Vec<String> {
        let Setup { derived, lens_t, glass, squeeze, focus_distance, focal_length, .. } =
            &shown.setup;
        let mut cautions = Vec::new();
        if let (Some(dark), Some(circle)) = (&derived.dark_corner, &derived.image_circle) {
            let px = derived.dark_corner_pixels.as_ref();
            let px =
                px.map_or_else(String::new, |px| format!(" ({} px)", fixed(px.value.get(), 0)));
            cautions.push(format!(
                "Corners are dark by geometry: the image circle of {} mm ends {} mm{px} inside them.",
                short(circle.value.get(), 1),
                fixed(dark.value.get(), 2)
            ));
        }
        if lens_t.is_some() && glass.is_none() {
            cautions.push("The T-number behind the attachment is not known: give the transmittance of its glass with --glass.".to_owned());
        }
        if derived.back_width.is_none() {
            cautions.push("No recorded area was given (--sensor, or --camera and --mode): view, crop, coverage and depth of field are left out.".to_owned());
        }
        if derived.near.is_some() && derived.pupil_offset.is_none() {
            cautions.push("Depth of field is counted as if the entrance pupil stood at the sensor mark; its place is not known.".to_owned());
        } else if focus_distance.value.is_some()
            && derived.near.is_none()
            && derived.hyperfocal.is_some()
        {
            cautions.push(
                "The focus distance lies nearer than the entrance pupil: no depth of field."
                    .to_owned(),
            );
        }
        if squeeze.as_ref().is_some_and(|squeeze| squeeze.value.get() > 1.0) {
            cautions.push("Anamorphic: the stabiliser's one focal length cannot be right both ways; test it, or switch it off.".to_owned());
        }
        let basis = focal_length.value.as_ref().map(|focal| focal.basis);
        if basis != Some(Basis::Measured) {
            cautions.push(
                "Values from marks are nominal: a matchmove wants a measured lens and reducer."
                    .to_owned(),
            );
        }
        if self.between.as_ref().is_some_and(|between| between.kind != crate::kit::Kind::Adapter) {
            cautions.push(
                "Glass can strike glass: test-fit gently, by hand, as the maker of each advises."
                    .to_owned(),
            );
        }
        cautions
    }
}

/// The T-number behind the attachment: only where its glass is known.
fn effective_t(rigged: &Rigged) -> Option<Known<TNumber>> {
    let Rigged { train, ring } = rigged;
    let (t, m, glass) = (ring.t.as_ref()?, train.magnification.as_ref()?, train.glass.as_ref()?);
    let value = behind::t_number(t.estimate, m.estimate, glass.estimate)?;
    let rule = "effective T-number = magnification x T-number on the lens / root of the attachment's transmittance";
    Some(Known::computed(value, t.basis.weaker(m.basis).weaker(glass.basis), rule))
}

fn parts_of<U: Unit>(known: Option<&Known<U>>) -> Vec<(Cause, f64)> {
    known.map(|known| known.estimate.spread.parts().collect()).unwrap_or_default()
}

fn plain_value<T>(value: Option<T>) -> Settled<T> {
    Settled { value, ..Settled::unsaid() }
}

/// A number given on the command line.
fn given<U: Unit>(value: U, uncertainty: Option<f64>, option: &'static str) -> Quantity<U> {
    Quantity { value, uncertainty, basis: Basis::Nominal, origin: Origin::Asked(option) }
}

fn focused(at: Meters, relative: f64, option: &'static str) -> Known<Meters> {
    given(at, Some(relative * at.get()), option).known(Cause::Focus)
}
