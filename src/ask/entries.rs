//! Lens, attachment and recorded area: found in the kit, or taken from words.

use anyhow::{Context, Result, anyhow, bail};

use crate::cli::Optics;
use crate::comparison::{Frame, PlateFrame};
use crate::estimate::{Cause, Estimate};
use crate::finding::nearest;
use crate::kit::called::{attachment_called, lens_called, only};
use crate::kit::{Attachment, Camera, Kind, Kit, Lens, Mode, Plate};
use crate::naming::key;
use crate::number::short;
use crate::optics::view::{self, Area};
use crate::sourced::{Known, Origin, Quantity};
use crate::train::{Back, Parts};
use crate::units::{FNumber, Factor, Meters, Millimeters, Offset, TNumber, Transmittance};

use super::{given, words};

/// The lens, and where its zoom ring stands.
pub(super) struct Glass<'a> {
    pub(super) label: String,
    pub(super) lens: Option<&'a Lens>,
    /// Focal length of the lens alone.
    pub(super) focal: Quantity<Millimeters>,
    /// Where the ring of a zoom stands.
    pub(super) setting: Option<Millimeters>,
}

impl<'a> Glass<'a> {
    pub(super) fn read(asked: &Optics, kit: &'a Kit) -> Result<Self> {
        let typed = asked.lens.trim();
        let zoomed = asked.focal.as_ref().map(|text| words::focal(text, "focal")).transpose()?;
        let marked = |value: Millimeters, option| {
            given(value, Some(kit.defaults.focal * value.get()), option)
        };
        match lens_called(&kit.lenses, typed) {
            Ok(lens) => {
                let setting = setting(lens, zoomed)?;
                let focal = match setting {
                    Some(mark) => Some(marked(mark, "focal")),
                    None => lens.focal.clone(),
                };
                let focal = focal.context("the lens has no focal length")?;
                Ok(Self { label: lens.name.clone(), lens: Some(lens), focal, setting })
            }
            Err(true) => {
                bail!("--lens {typed}: more than one lens of the kit is called so; write its id")
            }
            Err(false) if words::is_focal(typed) => {
                let focal = words::focal(typed, "lens")?;
                if zoomed.is_some_and(|zoomed| zoomed != focal) {
                    bail!("--lens {typed} and --focal say two different things; leave --focal out");
                }
                let label = format!("{} mm", short(focal.get(), 2));
                Ok(Self { label, lens: None, focal: marked(focal, "lens"), setting: None })
            }
            Err(false) if kit.lenses.is_empty() => {
                bail!(
                    "--lens {typed}: write a focal length in millimetres, or name the kit with --kit FILE"
                )
            }
            Err(false) => {
                let names =
                    kit.lenses.iter().flat_map(|lens| [lens.id.as_str(), lens.name.as_str()]);
                Err(stranger("lens", typed, names))
            }
        }
    }

    /// Refuses a distance nearer than a lens of this focal length can focus: object and image of a thin lens are at
    /// least four focal lengths apart, and no thick one halves that (Gaussian optics; half is common practice, no source).
    pub(super) fn reaches(&self, tape: Meters, option: &str) -> Result<()> {
        let focal = self.focal.value.get();
        if tape.get() * 1000.0 < 2.0 * focal {
            bail!(
                "--{option} {} m: no lens of {} mm focuses so near; distances run from the sensor mark",
                short(tape.get(), 4),
                short(focal, 1)
            );
        }
        Ok(())
    }

    /// The largest opening at this zoom setting.
    pub(super) fn widest(&self) -> (Option<Quantity<FNumber>>, Option<Quantity<TNumber>>) {
        let Some(lens) = self.lens else { return (None, None) };
        (lens.f_max_at(self.setting), lens.t_max_at(self.setting))
    }
}

/// Where the ring of a zoom stands; `None` for a prime.
fn setting(lens: &Lens, zoomed: Option<Millimeters>) -> Result<Option<Millimeters>> {
    let name = &lens.name;
    match (lens.range, zoomed) {
        (None, None) => Ok(None),
        (None, Some(mm)) if lens.marked_focal == Some(mm) => Ok(None),
        (None, Some(mm)) => {
            bail!("--focal {}: {name} is a prime; leave --focal out", short(mm.get(), 2))
        }
        (Some((low, high)), None) => {
            let (low, high) = (short(low.get(), 2), short(high.get(), 2));
            bail!("{name} is a zoom: say where its ring stands, --focal {low} to {high}")
        }
        (Some((low, high)), Some(mm)) if mm < low || mm > high => {
            let (low, high) = (short(low.get(), 2), short(high.get(), 2));
            bail!("--focal {}: {name} goes from {low} to {high} mm", short(mm.get(), 2))
        }
        (Some(_), Some(mm)) => Ok(Some(mm)),
    }
}

/// What stands between lens and camera.
pub(super) struct Between<'a> {
    pub(super) label: String,
    pub(super) kind: Kind,
    pub(super) attachment: Option<&'a Attachment>,
    pub(super) magnification: Known<Factor>,
    pub(super) glass: Option<Known<Transmittance>>,
}

/// A magnification as typed: `0.71`, `0.71x`, `0,71`, `71%`.
pub(super) fn factor(text: &str) -> Option<f64> {
    let text = text.trim().trim_matches(['x', 'X', '\u{d7}', ' ']);
    match text.strip_suffix('%') {
        Some(percent) => words::number(percent).map(|percent| percent / 100.0),
        None => words::number(text),
    }
}

impl<'a> Between<'a> {
    pub(super) fn read(asked: &Optics, kit: &'a Kit) -> Result<Option<Self>> {
        let glass = asked.glass.as_ref().map(|text| words::glass(text)).transpose()?;
        let given_glass = glass.map(|tau| {
            given(tau, Some(kit.defaults.transmittance * tau.get()), "glass").known(Cause::Glass)
        });
        let (option, text, kind) = match (&asked.reducer, &asked.extender, &asked.attachment) {
            (Some(text), _, _) => ("reducer", text, Some(Kind::Reducer)),
            (_, Some(text), _) => ("extender", text, Some(Kind::Extender)),
            (_, _, Some(text)) => ("attachment", text, None),
            _ if glass.is_some() => {
                bail!("--glass belongs to an attachment: name it with --reducer or --extender")
            }
            _ => return Ok(None),
        };
        if kind.is_none()
            && ["none", "no", "-", "bare"].contains(&text.trim().to_lowercase().as_str())
        {
            return Ok(None);
        }
        // However the number is written, it is the mark that is looked for.
        let number = factor(text).map(|m| m.to_string());
        let called = number.as_deref().unwrap_or(text);
        if let Ok(attachment) = attachment_called(&kit.attachments, called) {
            if let Some(kind) = kind.filter(|kind| *kind != attachment.kind) {
                let name = &attachment.name;
                let is = match attachment.kind {
                    Kind::Reducer => "a reducer",
                    Kind::Adapter => "a plain adapter",
                    Kind::Extender => "an extender",
                };
                bail!(
                    "--{option} {text}: {name} is no {}; it is {is}, name it with --attachment",
                    kind.word()
                );
            }
            let parts = Parts {
                kit,
                camera: None,
                mode: None,
                lens: None,
                between: Some(Some(attachment)),
            };
            let of_kit = parts.glass().map(|glass| glass.known(Cause::Glass));
            return Ok(Some(Self {
                label: attachment.name.clone(),
                kind: attachment.kind,
                attachment: Some(attachment),
                magnification: attachment.magnification.known(Cause::Magnification),
                glass: given_glass.or(of_kit),
            }));
        }
        let (Some(kind), Some(value)) = (kind, factor(text)) else {
            let names = kit.attachments.iter().flat_map(|a| [a.id.as_str(), a.name.as_str()]);
            return Err(stranger(option, text, names));
        };
        let (range, article) = match kind {
            Kind::Reducer => ((0.2, 0.999), "reducer"),
            _ => ((1.001, 4.0), "extender"),
        };
        let m = words::magnification(value, option, range)?;
        let relative = kit.defaults.magnification;
        let origin = if kind == Kind::Reducer { "reducer" } else { "extender" };
        Ok(Some(Self {
            label: format!("{article} {}", short(m.get(), 4)),
            kind,
            attachment: None,
            magnification: given(m, Some(relative * m.get()), origin).known(Cause::Magnification),
            glass: given_glass,
        }))
    }
}

/// The camera, and the part of its sensor that is recorded or kept.
pub(super) struct Body<'a> {
    pub(super) label: Option<String>,
    pub(super) camera: Option<&'a Camera>,
    pub(super) mode: Option<&'a Mode>,
    pub(super) back: Back,
    pub(super) frame: Frame,
}

impl<'a> Body<'a> {
    pub(super) fn read(asked: &Optics, kit: &'a Kit) -> Result<Option<Self>> {
        let camera = asked.camera.as_ref().map(|id| camera(kit, id)).transpose()?;
        if let Some(text) = &asked.sensor {
            if asked.mode.is_some() || asked.plate.is_some() {
                bail!("--sensor says what is recorded; leave --mode and --plate out, or --sensor");
            }
            let back = words::sensor(text)?;
            let side = |side: Millimeters| {
                Estimate::caused(side, Cause::Area, Some(kit.defaults.area * side.get()))
            };
            let area = Area { width: side(back.width), height: side(back.height) };
            let frame = Frame { width: back.width, height: back.height, plate: None };
            let back = Back::centred(area, None, Origin::Asked("sensor"));
            let sides =
                format!("{} x {} mm", short(frame.width.get(), 2), short(frame.height.get(), 2));
            let label = match camera {
                Some(camera) => format!("camera {}, sensor {sides}", camera.id),
                None => format!("sensor {sides}"),
            };
            let label = Some(label);
            return Ok(Some(Self { label, camera, mode: None, back, frame }));
        }
        let Some(camera) = camera else {
            if asked.mode.is_some() || asked.plate.is_some() {
                bail!("--mode and --plate need the camera they belong to: --camera ID");
            }
            return Ok(None);
        };
        let mode = mode(camera, asked.mode.as_deref())?;
        let parts =
            Parts { kit, camera: Some(camera), mode: Some(mode), lens: None, between: None };
        let back = parts.train().back.context("the mode has no recorded area")?;
        let name = camera.name.as_ref().unwrap_or(&camera.id);
        let label = format!("{name} {}", mode.id);
        let frame = Frame { width: mode.back.width, height: mode.back.height, plate: None };
        let body = Self { label: Some(label), camera: Some(camera), mode: Some(mode), back, frame };
        match &asked.plate {
            Some(id) => Ok(Some(body.cut(mode, plate(kit, id)?)?)),
            None => Ok(Some(body)),
        }
    }

    /// The same with the numbers of a plate: what it keeps, and how far its corners reach from the axis.
    fn cut(self, mode: &Mode, plate: &Plate) -> Result<Self> {
        let (kept, recorded) = (plate.crop, mode.raster);
        let id = &plate.id;
        let left = plate.offset.unwrap_or_else(|| {
            let middle = |recorded: u32, kept: u32| recorded.saturating_sub(kept) / 2;
            (middle(recorded.width(), kept.width()), middle(recorded.height(), kept.height()))
        });
        let inside = |first: u32, kept: u32, recorded: u32| {
            first.checked_add(kept).is_some_and(|last| last <= recorded)
        };
        if !inside(left.0, kept.width(), recorded.width())
            || !inside(left.1, kept.height(), recorded.height())
        {
            bail!(
                "--plate {id}: it keeps {kept} pixels from {}x{} on, but mode {} records {recorded}",
                left.0,
                left.1,
                mode.id
            );
        }
        let area = view::plate(self.back.area, recorded, kept).context("no plate")?;
        let middle = |first: u32, kept: u32, recorded: u32, side: Estimate<Millimeters>| {
            let pixels = f64::from(first) + f64::from(kept) / 2.0 - f64::from(recorded) / 2.0;
            (side.bare() * pixels / f64::from(recorded)).unit::<Offset>().context("no plate")
        };
        let right = middle(left.0, kept.width(), recorded.width(), self.back.area.width)?;
        let down = middle(left.1, kept.height(), recorded.height(), self.back.area.height)?;
        let reach = view::reach(area, right, down).context("no plate")?;
        let cut = PlateFrame {
            width: area.width.value,
            height: area.height.value,
            right: right.value,
            down: down.value,
        };
        Ok(Self {
            label: self.label.map(|label| format!("{label}, plate {id}")),
            back: Back { area, reach, raster: Some(kept), origin: plate.origin.clone() },
            frame: Frame { plate: Some(cut), ..self.frame },
            ..self
        })
    }
}

fn mode<'a>(camera: &'a Camera, id: Option<&str>) -> Result<&'a Mode> {
    let modes: Vec<&str> = camera.modes.iter().map(|mode| mode.id.as_str()).collect();
    let modes = modes.join(", ");
    match (id, camera.modes.as_slice()) {
        (Some(id), all) => all.iter().find(|mode| key(&mode.id) == key(id)).ok_or_else(|| {
            anyhow!("--mode {id}: camera {} has no such mode; its modes are: {modes}", camera.id)
        }),
        (None, [only]) => Ok(only),
        (None, []) => bail!("camera {} has no modes in the kit; give --sensor", camera.id),
        (None, _) => {
            bail!("camera {} has several modes; choose one with --mode: {modes}", camera.id)
        }
    }
}

fn plate<'a>(kit: &'a Kit, id: &str) -> Result<&'a Plate> {
    let found = kit.plates.iter().find(|plate| key(&plate.id) == key(id));
    found.ok_or_else(|| stranger("plate", id, kit.plates.iter().map(|plate| plate.id.as_str())))
}

fn camera<'a>(kit: &'a Kit, id: &str) -> Result<&'a Camera> {
    let names = |camera: &'a Camera| {
        [Some(&camera.id), camera.name.as_ref(), camera.serial.as_ref()].into_iter().flatten()
    };
    only(&kit.cameras, id, names).map_err(|several| {
        if several {
            anyhow!("--camera {id}: more than one camera of the kit is called so; write its id")
        } else {
            stranger("camera", id, kit.cameras.iter().map(|camera| camera.id.as_str()))
        }
    })
}

/// The refusal of a name that the kit does not have.
fn stranger<'k>(what: &str, typed: &str, known: impl Iterator<Item = &'k str>) -> anyhow::Error {
    let known: Vec<&str> = known.collect();
    if known.is_empty() {
        return anyhow!(
            "--{what} {typed}: there is no kit to look it up in; name one with --kit FILE"
        );
    }
    // Of a letter or two anything is near.
    let near = nearest(typed, known.iter().copied()).filter(|_| typed.chars().count() > 2);
    match near {
        Some(near) => {
            anyhow!("--{what} {typed}: the kit has none called so; did you mean \"{near}\"?")
        }
        None => {
            anyhow!("--{what} {typed}: the kit has none called so; it has: {}", known.join(", "))
        }
    }
}
