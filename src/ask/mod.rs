//! One set-up that somebody asks about, from words or from the names of the kit: the lens bare, behind its attachment,
//! and bare on a sensor on which it sees the same.
//!
//! `words` reads what was typed, `entries` finds lens, attachment and recorded area, `ring` the stop, and here the
//! optical trains are put together and followed.

#![deny(clippy::indexing_slicing)]

mod cautions;
mod entries;
mod ring;
mod side;
mod words;

use anyhow::{Context, Result, bail};

use crate::cli::Optics;
use crate::comparison::{Comparison, Sharp, Which};
use crate::estimate::{Cause, Estimate};
use crate::kit::Kit;
use crate::optics::attachment as behind;
use crate::optics::view::Area;
use crate::sourced::{Basis, Known, Origin, Quantity};
use crate::train::{Back, Blur, Parts, Train};
use crate::units::{Factor, Meters, Millimeters, Offset, Unit};

use entries::{Between, Body, Glass};
use ring::Ring;
use side::effective_t;

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
    let lens_only = desk.between.is_none();
    sides.push(desk.side(Which::Bare, &bare));
    let mut last = bare.clone();
    if let Some(between) = &desk.between {
        last = desk.behind(between)?;
        sides.push(desk.side(Which::Behind, &last));
        let same = desk.same_view(&bare, &last);
        sides.extend(same.map(|same| desk.side(Which::SameView, &same)));
    }
    let (Some(shown), sweep) = (sides.get(usize::from(!lens_only)), desk.sweep(&last)?) else {
        bail!("nothing was worked out");
    };
    let stabiliser = shown.setup.focal_length.value.clone();
    let bare_pupil =
        lens_only || bare.train.pupil.is_some() || !bare.train.breathing.pupil.is_empty();
    let cautions = desk.cautions(shown, bare_pupil, &sweep);
    let findings = desk.misfits();
    Ok(Comparison {
        lens: desk.glass.label.clone(),
        attachment: desk.between.as_ref().map(|between| between.label.clone()),
        camera: desk.body.as_ref().and_then(|body| body.label.clone()),
        stabiliser,
        sweep,
        cautions,
        findings,
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
        if let Some(focus) = focus {
            glass.reaches(focus, "focus")?;
        }
        if asked.shift.is_some() && between.is_none() {
            bail!(
                "--shift belongs to an attachment: name it with --reducer, --extender or --attachment"
            );
        }
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
            let shift = words::within(text, "shift", -200.0..=200.0)?;
            train.shift = Offset::new(shift).map(|shift| {
                given(shift, Some(self.kit.defaults.thickness), "shift").known(Cause::Shift)
            });
        }
        Ok(self.set(train, &self.ring, self.focus.as_ref()))
    }

    /// The lens alone on the sensor on which it sees what it sees behind the attachment: larger by 1/m.
    fn same_view(&self, bare: &Rigged, behind: &Rigged) -> Option<Rigged> {
        let m = self.between.as_ref()?.magnification.estimate.value;
        let back = bare.train.back.as_ref()?;
        if (m.get() - 1.0).abs() < 1e-9 {
            return None;
        }
        let side = |side: Estimate<Millimeters>| (side.bare() / m.get()).unit::<Millimeters>();
        let larger =
            |area: Area| Some(Area { width: side(area.width)?, height: side(area.height)? });
        let area = larger(back.area)?;
        let origin = Origin::Computed(
            "recorded area / magnification: sees bare what is seen behind the attachment",
        );
        let mut same = bare.clone();
        // The two are there to be compared, so their distances have to count from the same place: with the shift of the
        // attachment unknown the place of its pupil is, and then both count from the mark.
        if behind.train.shift.is_none() {
            (same.train.pupil, same.train.breathing.pupil) = (None, Vec::new());
        }
        let reach = larger(back.reach)?;
        same.train.back = Some(Back { area, reach, raster: back.raster, origin });
        if let Some(Blur::Circle(circle)) = same.train.blur {
            same.train.blur = Millimeters::new(circle.get() / m.get()).map(Blur::Circle);
        }
        Some(same)
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
            let basis = self.glass.focal.basis.weaker(m.binding());
            Some(Known::computed(behind::focal_length(native, m.estimate)?, basis, rule))
        };
        train.focal = m.as_ref().and_then(through);
        train.stop = m.as_ref().zip(ring.f.as_ref()).and_then(|(m, n)| {
            let rule = "effective f-number = magnification x f-number on the lens";
            Some(Known::computed(
                behind::f_number(n.estimate, m.estimate)?,
                n.basis.weaker(m.binding()),
                rule,
            ))
        });
        train.focus = focus.cloned();
        Rigged { train, ring: ring.clone() }
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
                .map(|(_, at)| {
                    self.glass.reaches(at, "focuses")?;
                    Ok(focused(at, self.kit.defaults.focus, "focuses"))
                })
                .collect::<Result<Vec<_>>>()?,
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
}

/// A number given on the command line.
fn given<U: Unit>(value: U, uncertainty: Option<f64>, option: &'static str) -> Quantity<U> {
    Quantity { value, uncertainty, basis: Basis::Nominal, origin: Origin::Asked(option) }
}

fn focused(at: Meters, relative: f64, option: &'static str) -> Known<Meters> {
    given(at, Some(relative * at.get()), option).known(Cause::Focus)
}
