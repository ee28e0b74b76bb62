//! What can be written into a sheet: the names of the kit, each spelt so that the notes reader knows what is meant.

use crate::kit::called::{attachment_called, lens_called};
use crate::kit::{Attachment, Camera, Kit, Lens};
use crate::notes::{is_name, names_attachment};
use crate::number::short;
use crate::stops::{exact, nominal, steps_between};

/// What to write, and what is meant by it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// What to write.
    pub write: String,
    /// What it is, in a few words; may be empty.
    pub about: String,
}

/// Everything that a sheet offers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Legend {
    /// Lenses of the kit.
    pub lenses: Vec<Choice>,
    /// Attachments of the kit.
    pub attachments: Vec<Choice>,
    /// Recording modes of the kit; offered where a camera has several.
    pub modes: Vec<Choice>,
    /// How the rolls of each camera begin.
    pub rolls: Vec<Choice>,
}

/// Stops between a number and the mark by which it is still called.
const ON_THE_MARK: f64 = 0.06;

/// Marks of full stops (ISO 517:2008), and the crew's word for as far open as the lens goes.
const STOPS: &[&str] = &["WO", "1", "1.4", "2", "2.8", "4", "5.6", "8", "11", "16", "22"];

impl Legend {
    /// The stops that are offered; any other can be written too.
    pub fn stops() -> &'static [&'static str] {
        STOPS
    }

    pub(super) fn of(kit: &Kit) -> Self {
        let lenses = kit.lenses.iter().map(|lens| lens_choice(kit, lens)).collect();
        let attachments = kit.attachments.iter().map(|it| attachment_choice(kit, it)).collect();
        let several = kit.cameras.iter().any(|camera| camera.modes.len() > 1);
        let modes = if several { modes(kit) } else { Vec::new() };
        let rolls = kit.cameras.iter().flat_map(rolls_of).collect();
        Self { lenses, attachments, modes, rolls }
    }
}

/// The name by which people know the lens if it is that of no other; else what tells it apart.
pub(super) fn lens_name(kit: &Kit, lens: &Lens) -> String {
    let means = |typed: &&String| {
        is_name(typed) && lens_called(&kit.lenses, typed).is_ok_and(|found| found.id == lens.id)
    };
    let names = [&lens.name, &lens.id].into_iter().chain(&lens.aliases).chain(&lens.serial);
    names.into_iter().find(means).unwrap_or(&lens.id).clone()
}

/// The same of an attachment.
pub(super) fn attachment_name(kit: &Kit, attachment: &Attachment) -> String {
    let means = |typed: &&String| {
        names_attachment(typed)
            && attachment_called(&kit.attachments, typed).is_ok_and(|it| it.id == attachment.id)
    };
    let names = [&attachment.name, &attachment.id]
        .into_iter()
        .chain(&attachment.aliases)
        .chain(&attachment.serial);
    names.into_iter().find(means).unwrap_or(&attachment.id).clone()
}

fn lens_choice(kit: &Kit, lens: &Lens) -> Choice {
    let focal = match (lens.range, lens.marked_focal) {
        (Some((from, to)), _) => {
            Some(format!("{}-{} mm", short(from.get(), 1), short(to.get(), 1)))
        }
        (None, Some(mark)) => Some(format!("{} mm", short(mark.get(), 1))),
        (None, None) => None,
    };
    let serial = lens.serial.as_ref().map(|serial| format!("no. {serial}"));
    let about = [focal, widest(lens), serial].into_iter().flatten().collect::<Vec<_>>().join(", ");
    Choice { write: lens_name(kit, lens), about }
}

/// Largest openings as engraved.
fn widest(lens: &Lens) -> Option<String> {
    let spoken = |number: f64| {
        let near = |mark: &f64| steps_between(exact(*mark).number, number).abs() < ON_THE_MARK;
        short(nominal(number).filter(near).unwrap_or(number), 2)
    };
    let f = lens.f_max_at(None).map(|f| format!("f/{}", spoken(f.value.get())));
    let t = lens.t_max_at(None).map(|t| format!("T{}", spoken(t.value.get())));
    let both: Vec<String> = [f, t].into_iter().flatten().collect();
    (!both.is_empty()).then(|| both.join(" "))
}

fn attachment_choice(kit: &Kit, attachment: &Attachment) -> Choice {
    let kind = attachment.kind.word();
    let about = match attachment.marked {
        Some(mark) => format!("{kind} {}", short(mark.get(), 3)),
        None => kind.to_owned(),
    };
    Choice { write: attachment_name(kit, attachment), about }
}

/// Each mode once, with the cameras that have it.
fn modes(kit: &Kit) -> Vec<Choice> {
    let mut modes: Vec<Choice> = Vec::new();
    for camera in &kit.cameras {
        for mode in &camera.modes {
            let about = format!("{} {}", camera.id, mode.raster);
            match modes.iter_mut().find(|known| known.write == mode.id) {
                Some(known) => known.about = format!("{}, {about}", known.about),
                None => modes.push(Choice { write: mode.id.clone(), about }),
            }
        }
    }
    modes
}

fn rolls_of(camera: &Camera) -> impl Iterator<Item = Choice> {
    let about = camera_name(camera);
    let begins =
        if camera.rolls.is_empty() { vec![camera.id.clone()] } else { camera.rolls.clone() };
    begins.into_iter().map(move |write| Choice { write, about: about.clone() })
}

/// Id of the camera, and its name where it has one.
pub(super) fn camera_name(camera: &Camera) -> String {
    match &camera.name {
        Some(name) => format!("{}, {name}", camera.id),
        None => camera.id.clone(),
    }
}
