//! Facts, notes and kit become annotations: join, pick, settle, derive.
//!
//! 1. `media` joins the files of a clip. 2. `join` finds the note rows that speak of a clip. 3. `pick` takes the row
//!    that ranks highest for each field. 4. `rig` finds camera, mode, lens and attachment in the kit.
//! 5. `settle` weighs what was recorded against what should have been. 6. `derive` works out what follows.

#![deny(clippy::indexing_slicing)]

mod agree;
pub(crate) mod called;
pub mod copies;
mod derive;
mod fit;
mod focal;
pub(crate) mod join;
mod lens;
pub mod listed;
mod marks;
pub mod media;
mod pick;
mod rig;
mod settle;
mod stop;
mod weigh;

use std::collections::BTreeSet;
use std::sync::Arc;

use rayon::prelude::*;

use crate::annotation::{Annotation, ClipFile, Setup, Shoot, Stray};
use crate::dump::Dump;
use crate::dump::walk::shown;
use crate::finding::{Code, Finding, Found, Place};
use crate::kit::Kit;
use crate::notes::Notes;
use crate::recorded::{FileFacts, Recorded};
use crate::track::Track;

/// Whom to believe where media and notes contradict each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Trust {
    /// Nobody: the field is left out.
    #[default]
    Nobody,
    /// The notes: the recorded value is replaced.
    Notes,
}

/// Reconciles a whole dump. `recorded` holds, for each clip of the dump, what each of its files says.
pub fn reconcile(
    dump: &Dump,
    recorded: &[Vec<FileFacts>],
    notes: &[Notes],
    kit: &Kit,
    trust: Trust,
) -> Shoot {
    let Found { value: rows, mut findings } = join::join(dump, notes, kit);
    let clips: Vec<Resolved> = dump
        .clips
        .par_iter()
        .zip(recorded)
        .zip(&rows)
        .map(|((clip, recorded), rows)| annotate(clip, recorded, rows, kit, trust))
        .collect();
    let mut shoot = Shoot {
        production: kit.production.as_ref().map(|title| title.value.clone()),
        strays: dump
            .strays
            .iter()
            .map(|stray| Stray { file: shown(&stray.path), reason: stray.reason })
            .collect(),
        ..Shoot::default()
    };
    let placed: BTreeSet<usize> =
        clips.iter().flat_map(|clip| clip.placed.iter().copied()).collect();
    let mut said = BTreeSet::new();
    for clip in clips {
        findings.extend(clip.findings);
        // A row with a timecode that any clip holds is no trouble for the others of its roll.
        let missed = clip.missed.into_iter().filter(|(row, _)| !placed.contains(row));
        findings.extend(missed.filter(|(row, _)| said.insert(*row)).map(|(_, finding)| finding));
        shoot.clips.push(clip.annotation);
    }
    shoot.findings = findings;
    shoot
}

/// One clip resolved.
struct Resolved {
    annotation: Annotation,
    findings: Vec<Finding>,
    /// Numbers of the rows that fell into it.
    placed: Vec<usize>,
    /// Rows whose timecode it does not hold.
    missed: Vec<(usize, Finding)>,
}

/// What holds for every piece of one clip.
struct Scene<'a> {
    kit: &'a Kit,
    trust: Trust,
    clip: &'a crate::dump::Clip,
    media: &'a Recorded,
    files: &'a [ClipFile],
    name: &'a Arc<str>,
    /// The first file, for findings that no row is to blame for.
    place: Place,
}

impl Scene<'_> {
    fn finding(&self, code: Code, message: impl Into<String>) -> Finding {
        Finding::new(code, message).clip(Arc::clone(self.name)).at(self.place.clone())
    }
}

fn annotate(
    clip: &crate::dump::Clip,
    recorded: &[FileFacts],
    rows: &[join::Joined<'_>],
    kit: &Kit,
    trust: Trust,
) -> Resolved {
    let Found { value: facts, mut findings } = media::join(clip, recorded);
    let place =
        facts.files.first().map_or_else(|| Arc::clone(&facts.name), |f| Arc::clone(&f.shown));
    let place = Place::file(place);
    let scene = Scene {
        kit,
        trust,
        clip,
        media: &facts.media,
        files: &facts.files,
        name: &facts.name,
        place,
    };
    let pick::Placed { rows: timed, missed } = pick::place_rows(&scene, rows);
    let lens_changes = facts.lens.iter().map(|(frame, _)| *frame);
    let breaks: BTreeSet<u64> =
        timed.iter().map(|row| row.frame).chain(lens_changes).filter(|frame| *frame > 0).collect();
    // Pieces differ in lens data alone, so tags need not go along.
    let plain = Recorded { tags: Vec::new(), ..facts.media.clone() };
    let first = lens::at(&plain, &facts.lens, 0);
    let of_first = Scene { media: &first, place: scene.place.clone(), ..scene };
    let Found { value: first, findings: of_first } = setup(&of_first, &timed, 0);
    findings.extend(of_first);
    let mut setups = Track::constant(first);
    for frame in breaks {
        let media = lens::at(&plain, &facts.lens, frame);
        let of_piece = Scene { media: &media, place: scene.place.clone(), ..scene };
        let Found { value: setup, findings: more } = setup(&of_piece, &timed, frame);
        // The same trouble in every piece of a clip is said once.
        for finding in more {
            if !findings.contains(&finding) {
                findings.push(finding);
            }
        }
        setups.then(frame, setup);
    }
    let placed = timed.iter().map(|row| row.id).collect();
    Resolved { annotation: Annotation { clip: facts, setups }, findings, placed, missed }
}

/// One piece of one clip, from `frame` on.
fn setup(scene: &Scene<'_>, rows: &[pick::Timed<'_>], frame: u64) -> Found<Setup> {
    let mut findings = Vec::new();
    let said = pick::pick(scene, rows, frame, &mut findings);
    let rig = rig::find(scene, &said, &mut findings);
    let settled = settle::settle(scene, &said, &rig, &mut findings);
    // A default of the kit is enough where it settles the focal length; a clip of which nobody knows the lens is not.
    let unsaid = settled.focal_length.verdict.is_none() && settled.lens.verdict.is_none();
    if unsaid && said.lens.said().is_none() {
        let message = "no note speaks of this clip, and no kit default tells its lens";
        let hint = "add a row to the notes, or a [[roll]] to the kit";
        findings.push(scene.finding(Code::NotesNone, message).hint(hint));
    }
    let derived = derive::derive(scene, &rig, &settled, &mut findings);
    // Of a lens that is left out, maker, serial and squeeze are too.
    let lens = rig.lens.as_ref().filter(|_| settled.lens.value.is_some());
    let value = Setup {
        camera: rig.camera.as_ref().map(|camera| camera.of(|c| c.id.clone())),
        mode: rig.mode.as_ref().map(|mode| mode.of(|m| m.id.clone())),
        lens: settled.lens,
        lens_maker: lens.and_then(|l| rig::stated(l, "maker", l.value.maker.as_ref())),
        lens_serial: lens.and_then(|l| rig::stated(l, "serial", l.value.serial.as_ref())),
        lens_marks: lens.and_then(marks::of),
        squeeze: lens.map(|l| l.value.squeeze.clone()),
        attachment: rig.attached(),
        magnification: rig.magnification(),
        glass: rig.glass(),
        lens_focal: settled.lens_focal,
        lens_engraved: lens.and_then(rig::engraved),
        lens_f: settled.lens_f,
        lens_t: settled.lens_t,
        focal_length: settled.focal_length,
        f_number: settled.f_number,
        t_number: settled.t_number,
        focus_distance: settled.focus_distance,
        derived,
        slate: said.slate.said().map(pick::text),
        take: said.take.said().map(pick::text),
        circled: said
            .circled
            .said()
            .map(|noted| crate::sourced::Sourced::new(noted.value, noted.origin.clone())),
        filter: said.filter.said().map(pick::text),
        remarks: said.remarks.said().map(pick::text),
    };
    Found { value, findings }
}
