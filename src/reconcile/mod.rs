//! Facts, notes and kit become annotations: join, pick, settle, derive.
//!
//! 1. `media` joins the files of a clip. 2. `join` finds the note rows that speak of a clip. 3. `pick` takes the row
//!    that ranks highest for each field. 4. `rig` finds camera, mode, lens and attachment in the kit.
//! 5. `settle` weighs what was recorded against what should have been. 6. `derive` works out what follows.

#![deny(clippy::indexing_slicing)]

mod agree;
mod aside;
pub(crate) mod called;
mod camera;
mod clocks;
pub mod copies;
mod derive;
mod distortion;
mod elsewhere;
mod engraved;
mod extender;
mod fit;
mod focal;
mod habits;
mod halves;
pub(crate) mod join;
mod lens;
pub mod listed;
mod marks;
mod meant;
pub mod media;
mod moments;
mod names;
mod pick;
mod rig;
mod settle;
mod shelf;
mod shot;
mod spans;
mod stop;
mod suspects;
mod twice;
mod watch;
mod weigh;

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::sync::Arc;

use rayon::prelude::*;

use crate::annotation::{Annotation, ClipFacts, MatchedRow, Setup, Shoot, Still, Stray};
use crate::dump::walk::shown;
use crate::dump::{self, Dump};
use crate::finding::{Code, Finding, Found, Place};
use crate::kit::{Attachment, Kit};
use crate::notes::Notes;
use crate::recorded::{FileFacts, Recorded};
use crate::track::Track;

pub use clocks::Clocks;
use shelf::Shelf;

/// Whom to believe where media and notes contradict each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Trust {
    /// Nobody: the field is left out.
    #[default]
    Nobody,
    /// The notes: the recorded value is replaced.
    Notes,
    /// The media: what was noted gives way.
    Media,
}

/// What was asked for on the command line beyond the files themselves.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asked {
    /// Whom to believe.
    pub trust: Trust,
    /// How far the clocks of cameras were off.
    pub clocks: Clocks,
    /// What stood between lens and camera wherever no note says otherwise. It also says that the media has the values
    /// of the bare lens, unless the media itself shows that it has not.
    pub attachment: Option<(Attachment, &'static str)>,
}

impl From<Trust> for Asked {
    fn from(trust: Trust) -> Self {
        Self { trust, ..Self::default() }
    }
}

/// Everything that is known before clips and rows are brought together.
struct World<'w> {
    dump: &'w Dump,
    facts: &'w [ClipFacts],
    kit: &'w Kit,
    clocks: &'w Clocks,
}

/// Reconciles a whole dump. `recorded` holds, for each clip of the dump, what each of its files says.
pub fn reconcile(
    dump: &Dump,
    recorded: &[Vec<FileFacts>],
    notes: &[Notes],
    kit: &Kit,
    asked: impl Into<Asked>,
) -> Shoot {
    let asked = asked.into();
    // Straight into place: a clip and what is known of it are large, and there are many.
    let (mut facts, mut of_media) = (Vec::new(), Vec::new());
    let joined = dump.clips.par_iter().zip(recorded).map(|(clip, recorded)| {
        let Found { value, findings } = media::join(clip, recorded);
        (value, findings)
    });
    joined.unzip_into_vecs(&mut facts, &mut of_media);
    let world = World { dump, facts: &facts, kit, clocks: &asked.clocks };
    let Found { value: rows, mut findings } = join::join(&world, notes);
    let habits = habits::learn(&world, &rows, &asked);
    let noted = notes.iter().any(|notes| !notes.rows.is_empty());
    let (mut clips, mut of_clips) = (Vec::new(), Vec::new());
    let resolved = dump.clips.par_iter().zip(facts).zip(&rows).enumerate().map_init(
        Shelf::default,
        |shelf, (at, ((clip, facts), rows))| {
            let scene = Scene::of(clip, &facts, kit, &asked, habits.of(at));
            let Resolved { setups, elsewhere, rows, findings } =
                annotate(&scene, &facts, rows, noted, shelf);
            (Annotation { clip: facts, setups, elsewhere, rows }, findings)
        },
    );
    resolved.unzip_into_vecs(&mut clips, &mut of_clips);
    for (of_media, of_clip) in of_media.into_iter().zip(of_clips) {
        findings.extend(of_media);
        findings.extend(of_clip);
    }
    findings.extend(twice::check(dump, kit, &asked.clocks, &clips));
    let mut shoot = Shoot {
        production: kit.production.title.as_ref().map(|title| title.value.clone()),
        details: shot::details(&kit.production),
        strays: dump.strays.iter().map(|stray| self::stray(stray, None)).collect(),
        clips,
        ..Shoot::default()
    };
    shoot.findings = findings;
    shoot
}

/// A file that is no clip; `media` is what it says of itself, if it was opened.
pub fn stray(stray: &dump::Stray, media: Option<Recorded>) -> Stray {
    let still = stray.still.as_ref().map(|still| Still {
        clip: still.clip.clone(),
        roll: still.roll.clone(),
        media: media.map(Box::new),
    });
    Stray { file: shown(&stray.path), reason: stray.reason, still }
}

/// One clip resolved.
struct Resolved {
    setups: Track<Setup>,
    elsewhere: Option<Box<Setup>>,
    rows: Vec<MatchedRow>,
    findings: Vec<Finding>,
}

/// What holds for every piece of one clip.
struct Scene<'a> {
    kit: &'a Kit,
    asked: &'a Asked,
    clip: &'a crate::dump::Clip,
    media: &'a Recorded,
    name: &'a Arc<str>,
    /// The media tells lens data frame by frame.
    by_frame: bool,
    /// What is known of how its camera records.
    habit: &'a habits::Habit,
    /// The first file, for findings that no row is to blame for.
    place: Place,
}

impl<'a> Scene<'a> {
    fn of(
        clip: &'a crate::dump::Clip,
        facts: &'a ClipFacts,
        kit: &'a Kit,
        asked: &'a Asked,
        habit: &'a habits::Habit,
    ) -> Self {
        let place =
            facts.files.first().map_or_else(|| Arc::clone(&facts.name), |f| Arc::clone(&f.shown));
        let (media, name) = (&facts.media, &facts.name);
        let by_frame = !facts.lens.is_empty();
        Self { kit, asked, clip, media, name, by_frame, habit, place: Place::file(place) }
    }

    fn finding(&self, code: Code, message: impl Into<String>) -> Finding {
        Finding::new(code, message).clip(Arc::clone(self.name)).at(self.place.clone())
    }

    fn trusts(&self, trust: Trust) -> bool {
        self.asked.trust == trust
    }
}

fn annotate(
    scene: &Scene<'_>,
    facts: &ClipFacts,
    rows: &[join::Joined<'_>],
    noted: bool,
    shelf: &mut Shelf,
) -> Resolved {
    let lens_changes = facts.lens.iter().map(|(frame, _)| *frame);
    let breaks: BTreeSet<u64> =
        rows.iter().map(|row| row.frame).chain(lens_changes).filter(|frame| *frame > 0).collect();
    // Pieces differ in lens data alone, so tags need not go along where each has a copy of its own.
    let mut plain = Cow::Borrowed(&*facts.media);
    if !facts.lens.is_empty() {
        plain.to_mut().tags = Vec::new();
    }
    let first = lens::at(&plain, &facts.lens, 0);
    let of_first = Scene { media: &first, place: scene.place.clone(), ..*scene };
    let Found { value: first, mut findings } = setup(&of_first, rows, 0, shelf);
    let mut setups = Track::constant(first);
    for frame in breaks {
        let media = lens::at(&plain, &facts.lens, frame);
        let of_piece = Scene { media: &media, place: scene.place.clone(), ..*scene };
        let Found { value: setup, findings: more } = setup(&of_piece, rows, frame, shelf);
        // The same trouble in every piece of a clip is said once.
        for finding in more {
            if !findings.contains(&finding) {
                findings.push(finding);
            }
        }
        setups.then(frame, setup);
    }
    let unsaid = findings.iter().any(|finding| finding.code == Code::NotesNone);
    if noted && rows.is_empty() && !unsaid {
        let message = "no row of the notes speaks of this clip; kit and media alone tell its lens";
        findings.push(scene.finding(Code::NotesNoRow, message).hint("nothing to do if that is so"));
    }
    let rows = rows.iter().map(|joined| MatchedRow {
        file: Arc::clone(&joined.row.place.file),
        line: joined.row.line,
        why: Arc::clone(&joined.why),
        frame: joined.frame,
    });
    let elsewhere = elsewhere::of(facts, &setups);
    Resolved { rows: rows.collect(), elsewhere, setups, findings }
}

/// One piece of one clip, from `frame` on.
fn setup(
    scene: &Scene<'_>,
    rows: &[join::Joined<'_>],
    frame: u64,
    shelf: &mut Shelf,
) -> Found<Setup> {
    let mut findings = Vec::new();
    let said = pick::pick(scene, rows, frame, &mut findings);
    let rig = rig::find(scene, &said, &mut findings);
    extender::check(scene, &said, &rig, &mut findings);
    let settled = settle::settle(scene, &said, &rig, &mut findings);
    // A default of the kit is enough where it settles the focal length; a clip of which nobody knows the lens is not.
    let unsaid = settled.focal_length.verdict.is_none() && settled.lens.verdict.is_none();
    if unsaid && said.lens.said().is_none() {
        let message = "no note speaks of this clip, and no kit default tells its lens";
        let hint = "add a row to the notes, or a [[roll]] to the kit";
        findings.push(scene.finding(Code::NotesNone, message).hint(hint));
    }
    aside::loose(scene, &said, &rig, &mut findings);
    let distortion = distortion::of(scene, &rig, &settled, &mut findings);
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
        attachment_reason: rig.attachment_reason(settled.inferred.as_ref()),
        magnification: rig.magnification(),
        glass: rig.glass(),
        lens_focal: settled.lens_focal,
        lens_f: settled.lens_f,
        lens_t: settled.lens_t,
        focal_length: settled.focal_length,
        f_number: settled.f_number,
        t_number: settled.t_number,
        focus_distance: settled.focus_distance,
        distortion,
        derived: shelf.share(derived),
        slate: said.slate.said().map(pick::text),
        take: said.take.said().map(pick::text),
        circled: said
            .circled
            .said()
            .map(|noted| crate::sourced::Sourced::new(noted.value, noted.origin.clone())),
        attachment_secured: aside::secured(&said),
        filter: said.filter.said().map(pick::text),
        density: aside::density(&said),
        shot: settled.shot,
        remarks: aside::remarks(&said),
    };
    Found { value, findings }
}
