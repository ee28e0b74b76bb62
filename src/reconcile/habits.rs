//! What clips of one camera show together and none of them alone: a focal length that was typed into the camera and
//! stayed there, and whether the camera records bare values or those behind an attachment.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;

use crate::kit::Reports;
use crate::number::short;

use super::clocks::camera_name;
use super::join::Joined;
use super::settle::Bench;
use super::{Asked, Scene, World, pick, rig};

/// What is known of how the camera of one clip records.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Habit {
    /// Why the recorded focal length seems to be left from another lens.
    pub(super) stale: Option<Arc<str>>,
    /// How it records focal lengths behind what was on it.
    pub(super) focal: Option<Reports>,
    /// How it records stops.
    pub(super) stop: Option<Reports>,
    /// The command line says so, not the other clips.
    pub(super) stated: bool,
}

/// What is known of how cameras record, by clip.
#[derive(Default)]
pub(super) struct Habits {
    usual: Habit,
    of_clips: Vec<Habit>,
}

impl Habits {
    pub(super) fn of(&self, clip: usize) -> &Habit {
        self.of_clips.get(clip).unwrap_or(&self.usual)
    }
}

/// One clip at a glance, as it begins.
struct Glance {
    /// Camera, or the roll where it is not known.
    camera: String,
    /// Id of what was on the camera, where it changes the picture; and whether it is there because it was asked for.
    on: Option<(String, bool)>,
    /// Id and name of the lens.
    lens: Option<(String, String)>,
    /// Lens that the media names.
    recorded_lens: Option<String>,
    focal: Option<Read>,
    stop: Option<Read>,
}

/// A reading held against what the lens can show.
#[derive(Clone, Copy)]
struct Read {
    number: f64,
    half_step: f64,
    /// It fits the bare value, and it fits the one behind the attachment; `None` where that cannot be told.
    fits: Option<(bool, bool)>,
    /// Magnification of what was on the camera.
    m: f64,
}

/// Looks at all clips together. `rows` are those of each clip.
pub(super) fn learn(world: &World<'_>, rows: &[Vec<Joined<'_>>], asked: &Asked) -> Habits {
    let glances: Vec<Glance> = (0..world.facts.len())
        .into_par_iter()
        .filter_map(|at| glance(world, at, rows.get(at)?, asked))
        .collect();
    let stale = stale(&glances);
    let mut shown: BTreeMap<(&str, &str), [Shown; 2]> = BTreeMap::new();
    for (glance, stale) in glances.iter().zip(&stale) {
        let Some((on, _)) = &glance.on else { continue };
        let [focal, stop] = shown.entry((&glance.camera, on)).or_default();
        if stale.is_none() {
            focal.see(glance.focal);
        }
        stop.see(glance.stop);
    }
    // How finely a camera writes is known only with all of its readings: fractions are written in lowest terms.
    for (glance, stale) in glances.iter().zip(&stale) {
        let of = glance
            .on
            .as_ref()
            .and_then(|(on, _)| shown.get_mut(&(glance.camera.as_str(), on.as_str())));
        if let (Some([focal, _]), Some(read), None) = (of, glance.focal, stale) {
            focal.look(read);
        }
    }
    let habit = |(glance, stale): (&Glance, &Option<Arc<str>>)| {
        let mut habit = Habit { stale: stale.clone(), ..Habit::default() };
        if let Some((on, stated)) = &glance.on {
            let shown = shown.get(&(glance.camera.as_str(), on.as_str())).copied();
            let [focal, stop] = shown.unwrap_or_default();
            habit.focal =
                focal.habit().or_else(|| focal.as_stated(glance.focal).filter(|_| *stated));
            // What was asked holds for a stop as long as it holds for the focal length beside it.
            let bare = habit.focal == Some(Reports::Marked);
            habit.stop =
                stop.habit().or((*stated && bare && !stop.any()).then_some(Reports::Marked));
            habit.stated = *stated && focal.habit().is_none();
        }
        habit
    };
    Habits { usual: Habit::default(), of_clips: glances.iter().zip(&stale).map(habit).collect() }
}

/// What the clips of one camera with one attachment showed.
#[derive(Clone, Copy, Default)]
#[expect(clippy::struct_excessive_bools, reason = "each is something that was seen or was not")]
struct Shown {
    /// A reading fitted bare only, or behind only, what its lens can show.
    bare: bool,
    behind: bool,
    /// Half of the finest step in which readings were written.
    finest: Option<f64>,
    /// Where no lens is known: a reading looks bare; a first one, and another, look worked out.
    looks_bare: bool,
    looks_behind: Option<u64>,
    looks_behind_again: bool,
}

impl Shown {
    fn see(&mut self, read: Option<Read>) {
        let Some(read) = read else { return };
        self.finest = Some(self.finest.map_or(read.half_step, |finest| finest.min(read.half_step)));
        match read.fits {
            Some((true, false)) => self.bare = true,
            Some((false, true)) => self.behind = true,
            _ => {}
        }
    }

    fn look(&mut self, read: Read) {
        match self.of(read) {
            Some(Reports::Marked) => self.looks_bare = true,
            Some(Reports::Reduced) => {
                let number = read.number.to_bits();
                self.looks_behind_again |= self.looks_behind.is_some_and(|first| first != number);
                self.looks_behind.get_or_insert(number);
            }
            _ => {}
        }
    }

    /// What a reading looks like of which no lens is known.
    fn of(&self, read: Read) -> Option<Reports> {
        if read.fits.is_some() {
            return None;
        }
        looks((read.number, self.finest.unwrap_or(read.half_step)), read.m)
    }

    fn any(self) -> bool {
        self.bare || self.behind
    }

    /// The one way that was shown.
    fn habit(self) -> Option<Reports> {
        match (self.bare, self.behind) {
            (true, false) => Some(Reports::Marked),
            (false, true) => Some(Reports::Reduced),
            _ => None,
        }
    }

    /// How a reading is to be taken where the command line says that bare values were recorded: so, unless clips show
    /// another way. One number that looks worked out can be chance; two cannot, and then the statement is wrong.
    fn as_stated(self, read: Option<Read>) -> Option<Reports> {
        if self.any() {
            return None;
        }
        let reduced = self.looks_behind_again && !self.looks_bare;
        match read.and_then(|read| self.of(read)) {
            Some(Reports::Marked) => Some(Reports::Marked),
            _ if reduced => Some(Reports::Reduced),
            None if self.looks_behind.is_none() => Some(Reports::Marked),
            _ => None,
        }
    }
}

fn glance(world: &World<'_>, at: usize, rows: &[Joined<'_>], asked: &Asked) -> Option<Glance> {
    let (clip, facts) = (world.dump.clips.get(at)?, world.facts.get(at)?);
    let nothing = Habit::default();
    let scene = Scene::of(clip, facts, world.kit, asked, &nothing);
    // What is wrong is said when the clip is settled.
    let mut aside = Vec::new();
    let said = pick::pick(&scene, rows, 0, &mut aside);
    let rig = rig::find(&scene, &said, &mut aside);
    let mut bench = Bench::new(&scene, &said, &rig, &mut aside);
    let focal = bench.lens_focal();
    let case = bench.focal_case(&focal);
    let m = case.magnification.map_or(1.0, |(m, _)| m);
    let read_focal = facts.media.focal_length.as_ref().map(|reading| Read {
        number: reading.value.get(),
        half_step: reading.half_step,
        fits: case.fits(),
        m,
    });
    let ring = bench.ring(bench.setting(&focal, None));
    let read_stop = facts.media.f_number.as_ref().map(|reading| Read {
        number: reading.value.get(),
        half_step: reading.half_step,
        fits: bench.stop_case(&ring).fits(),
        m,
    });
    let camera = camera_name(clip, world.kit).or_else(|| clip.roll.clone()).unwrap_or_default();
    let on = rig.on().filter(|on| (on.magnification.value.get() - 1.0).abs() > 1e-9);
    let stated = rig.asked();
    Some(Glance {
        camera,
        on: on.map(|on| (on.id.clone(), stated)),
        lens: rig.lens.as_ref().map(|lens| (lens.value.id.clone(), lens.value.name.clone())),
        recorded_lens: facts.media.lens.as_ref().map(|lens| lens.value.clone()),
        focal: read_focal,
        stop: read_stop,
    })
}

/// What a focal length looks like, written finely enough to tell, of which no lens is known. Lenses are engraved in whole
/// millimetres (common practice, no source): 35.5 behind 0.71 was worked out from 50, and 50 itself was not from 70.4.
fn looks((reading, half_step): (f64, f64), m: f64) -> Option<Reports> {
    let whole = |number: f64, reach: f64| (number - libm::round(number)).abs() <= reach + 1e-9;
    if (m - 1.0).abs() < 1e-9 || half_step >= 0.25 {
        return None;
    }
    match (whole(reading, half_step), whole(reading / m, half_step / m)) {
        (true, false) => Some(Reports::Marked),
        (false, true) => Some(Reports::Reduced),
        _ => None,
    }
}

/// For each clip, why its recorded focal length seems to be left from another lens.
///
/// Clips of one camera in order of the dump: as long as the number stays and the lens changes, so that the number cannot
/// be that of each of them, it was typed in by hand. A camera that knows its lens would have changed it, or named the lens.
fn stale(glances: &[Glance]) -> Vec<Option<Arc<str>>> {
    let mut of_camera: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (at, glance) in glances.iter().enumerate() {
        of_camera.entry(&glance.camera).or_default().push(at);
    }
    let mut why: Vec<Option<Arc<str>>> = vec![None; glances.len()];
    for clips in of_camera.values() {
        let number =
            |at: &usize| glances.get(*at).and_then(|g| g.focal).map(|read| read.number.to_bits());
        for run in clips.chunk_by(|a, b| number(a).is_some() && number(a) == number(b)) {
            let of_run: Vec<&Glance> = run.iter().filter_map(|at| glances.get(*at)).collect();
            let Some(told) = told(&of_run) else { continue };
            let told: Arc<str> = told.into();
            for at in run {
                if let Some(slot) = why.get_mut(*at) {
                    *slot = Some(Arc::clone(&told));
                }
            }
        }
    }
    why
}

/// What a run of clips with one recorded focal length shows, if the lens changed and the number cannot have stayed.
fn told(run: &[&Glance]) -> Option<String> {
    let number = run.first()?.focal?.number;
    let wrong =
        run.iter().any(|glance| glance.focal.and_then(|read| read.fits) == Some((false, false)));
    let named = run.iter().filter_map(|glance| glance.recorded_lens.as_ref());
    let mut lenses: Vec<(&str, &str)> = Vec::new();
    for (id, name) in run.iter().filter_map(|glance| glance.lens.as_ref()) {
        if !lenses.iter().any(|(other, _)| other == id) {
            lenses.push((id, name));
        }
    }
    // A camera that names one lens after the other knows what is on it.
    let mut names: Vec<&String> = named.collect();
    names.sort_unstable();
    names.dedup();
    if !wrong || lenses.len() < 2 || names.len() > 1 {
        return None;
    }
    let names: Vec<&str> = lenses.iter().take(3).map(|(_, name)| *name).collect();
    Some(format!(
        "{} mm stayed recorded over {} clips while the lens went {}{}, so it was typed into the camera by hand",
        short(number, 2),
        run.len(),
        names.join(", "),
        if lenses.len() > 3 { " and on" } else { "" }
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_were_worked_out_show_it() {
        let (bare, behind) = (Some(Reports::Marked), Some(Reports::Reduced));
        for (reading, step, m, look) in [
            (35.5, 0.05, 0.71, behind),
            (17.04, 0.005, 0.71, behind),
            (50.0, 0.05, 0.71, bare),
            (35.0, 0.5, 0.71, None),
            (35.5, 0.5, 0.71, None),
            (17.3, 0.05, 0.71, None),
            (71.0, 0.05, 0.71, None),
            (35.5, 0.05, 1.0, None),
        ] {
            assert_eq!(looks((reading, step), m), look, "{reading} {m}");
        }
    }
}
