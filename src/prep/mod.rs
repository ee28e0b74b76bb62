//! Prep day: every lens of the kit on every camera, bare and with each attachment: does it fit, and what does it become?

#![deny(clippy::indexing_slicing)]

mod cautions;
mod judge;
mod outlook;

use std::collections::BTreeSet;

use anyhow::{Result, bail};

pub use crate::kit::fit::{Fit, Fitting, Matter, Remark, Weight};
pub use cautions::{Caution, Whom};
pub use outlook::{Coverage, Outlook};

use crate::finding::Finding;
use crate::kit::{Attachment, Camera, Kit, Lens};
use crate::optics::view::FilmBack;
use crate::units::Raster;

/// More are no kit that anybody carries, and nobody would read the table.
const MOST_WAYS: usize = 50_000;

/// What the kit comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Prep {
    /// Cameras looked at, in the order of the kit.
    pub cameras: Vec<OnCamera>,
    /// What calls for care, each once with whom it concerns.
    pub cautions: Vec<Caution>,
    /// What needs a person.
    pub findings: Vec<Finding>,
}

/// One camera with everything that may go on it.
#[derive(Clone, Debug, PartialEq)]
pub struct OnCamera {
    /// The camera.
    pub name: Name,
    /// Its mount.
    pub mount: Option<String>,
    /// Recording modes: id, raster and recorded area.
    pub modes: Vec<(String, Raster, FilmBack)>,
    /// Every lens bare and with each attachment, also those that do not fit.
    pub ways: Vec<Way>,
}

/// One lens on one camera, bare or with one attachment.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// The lens.
    pub lens: Name,
    /// Its mount.
    pub lens_mount: Option<String>,
    /// What stands between; `None` is nothing.
    pub attachment: Option<Name>,
    /// Mount of the attachment on the camera side.
    pub body_mount: Option<String>,
    /// Whether it fits.
    pub fit: Fit,
    /// What it becomes; nothing where it does not fit.
    pub outlook: Option<Outlook>,
}

/// What an entry of the kit is called.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Name {
    /// Id in the kit.
    pub id: String,
    /// Name for people; with the id where two entries share it.
    pub label: String,
}

/// Looks at the lenses and cameras chosen; those that `None` stands for are all. `file` is the kit as findings call it.
pub fn prepare(
    kit: &Kit,
    camera: Option<&Camera>,
    lens: Option<&Lens>,
    file: &str,
) -> Result<Prep> {
    let lenses: Vec<&Lens> =
        kit.lenses.iter().filter(|l| lens.is_none_or(|lens| lens.id == l.id)).collect();
    let modes: usize = kit.cameras.iter().map(|camera| camera.modes.len().max(1)).sum();
    let ways = modes.saturating_mul(lenses.len()).saturating_mul(kit.attachments.len() + 1);
    if ways > MOST_WAYS {
        bail!(
            "the kit can be put together in {ways} ways, more than the {MOST_WAYS} that are looked at; name one lens with --lens ID"
        );
    }
    let names = Names::of(kit);
    // A lens that goes on no camera is found only by looking at all of them, whichever is asked for.
    let all: Vec<OnCamera> =
        kit.cameras.iter().map(|camera| on_camera(kit, camera, &lenses, &names)).collect();
    let findings = judge::findings(kit, &all, camera, lens, &names, file);
    let cameras: Vec<OnCamera> =
        all.into_iter().filter(|on| camera.is_none_or(|camera| camera.id == on.name.id)).collect();
    let cautions = cautions::cautions(&cameras);
    Ok(Prep { cameras, cautions, findings })
}

fn on_camera(kit: &Kit, camera: &Camera, lenses: &[&Lens], names: &Names) -> OnCamera {
    let bare = std::iter::once(None);
    let between: Vec<Option<&Attachment>> = bare.chain(kit.attachments.iter().map(Some)).collect();
    let ways = lenses.iter().flat_map(|lens| {
        between.iter().map(|attachment| {
            let fit = crate::kit::fit::fit(kit, camera, lens, *attachment);
            let goes = fit.verdict != Fitting::DoesNotFit;
            Way {
                lens: names.lens(lens),
                lens_mount: lens.mount.clone(),
                attachment: attachment.map(|attachment| names.attachment(attachment)),
                body_mount: attachment.and_then(|attachment| attachment.body_mount.clone()),
                fit,
                outlook: goes.then(|| outlook::outlook(kit, camera, lens, *attachment)),
            }
        })
    });
    OnCamera {
        name: Names::camera(camera),
        mount: camera.mount.clone(),
        ways: ways.collect(),
        modes: camera.modes.iter().map(|mode| (mode.id.clone(), mode.raster, mode.back)).collect(),
    }
}

/// Names that stand for several entries, which then go with their ids.
struct Names {
    shared: BTreeSet<String>,
}

impl Names {
    fn of(kit: &Kit) -> Self {
        let mut seen = BTreeSet::new();
        let names = kit.lenses.iter().map(|lens| &lens.name);
        let names = names.chain(kit.attachments.iter().map(|attachment| &attachment.name));
        let shared = names.filter(|name| !seen.insert(name.to_lowercase()));
        Self { shared: shared.map(|name| name.to_lowercase()).collect() }
    }

    fn name(&self, id: &str, name: &str) -> Name {
        let shared = self.shared.contains(&name.to_lowercase());
        let label = if shared { format!("{name} ({id})") } else { name.to_owned() };
        Name { id: id.to_owned(), label }
    }

    fn lens(&self, lens: &Lens) -> Name {
        self.name(&lens.id, &lens.name)
    }

    fn attachment(&self, attachment: &Attachment) -> Name {
        self.name(&attachment.id, &attachment.name)
    }

    fn camera(camera: &Camera) -> Name {
        let label = match &camera.name {
            Some(name) if *name != camera.id => format!("{}, {name}", camera.id),
            _ => camera.id.clone(),
        };
        Name { id: camera.id.clone(), label }
    }
}
