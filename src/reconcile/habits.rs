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
    /// It fits the bare value, and it fits the one behind the attachment; `None` where that cannot be told.
    fits: Option<(bool, bool)>,
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
    let habit = |(glance, stale): (&Glance, &Option<Arc<str>>)| {
        let mut habit = Habit { stale: stale.clone(), ..Habit::default() };
        if let Some((on, stated)) = &glance.on {
            let shown = shown.get(&(glance.camera.as_str(), on.as_str())).copied();
            let [focal, stop] = shown.unwrap_or_default();
            // Where one of the two shows that values were worked out, what was asked does not hold for the other.
            habit.focal = focal.habit(*stated && !stop.behind);
            habit.stop = stop.habit(*stated && !focal.behind);
            habit.stated = *stated && !focal.any() && !stop.any();
        }
        habit
    };
    Habits { usual: Habit::default(), of_clips: glances.iter().zip(&stale).map(habit).collect() }
}

/// How often clips showed one way of recording and no other.
#[derive(Clone, Copy, Default)]
struct Shown {
    bare: bool,
    behind: bool,
}

impl Shown {
    fn see(&mut self, read: Option<Read>) {
        match read.and_then(|read| read.fits) {
            Some((true, false)) => self.bare = true,
            Some((false, true)) => self.behind = true,
            _ => {}
        }
    }

    fn any(self) -> bool {
        self.bare || self.behind
    }

    /// The one way that was shown. What was asked says that it is the bare one, as long as nothing shows another.
    fn habit(self, stated: bool) -> Option<Reports> {
        match (self.bare, self.behind) {
            (true, false) => Some(Reports::Marked),
            (false, true) => Some(Reports::Reduced),
            (true, true) => None,
            (false, false) => stated.then_some(Reports::Marked),
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
    let read_focal = facts.media.focal_length.as_ref().map(|reading| {
        let whole = looks_worked_out((reading.value.get(), reading.half_step), case.magnification);
        let fits = case.fits().or(whole.then_some((false, true)));
        Read { number: reading.value.get(), fits }
    });
    let ring = bench.ring(bench.setting(&focal, None));
    let read_stop = facts
        .media
        .f_number
        .as_ref()
        .map(|reading| Read { number: reading.value.get(), fits: bench.stop_case(&ring).fits() });
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

/// A number that is no whole one, written finely enough to tell, and that the attachment makes of a whole one: lenses
/// are engraved in whole millimetres (common practice, no source), so 35.5 behind 0.71 was worked out from 50.
fn looks_worked_out((reading, half_step): (f64, f64), magnification: Option<(f64, f64)>) -> bool {
    let Some((m, _)) = magnification.filter(|(m, _)| (m - 1.0).abs() > 1e-9) else { return false };
    let off = |number: f64| (number - libm::round(number)).abs();
    half_step < 0.25 && off(reading) > half_step + 1e-9 && off(reading / m) <= half_step / m + 1e-9
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
        for (reading, step, m, shown) in [
            (35.5, 0.05, 0.71, true),
            (17.04, 0.005, 0.71, true),
            (50.0, 0.05, 0.71, false),
            (35.0, 0.5, 0.71, false),
            (35.5, 0.5, 0.71, false),
            (17.3, 0.05, 0.71, false),
            (35.5, 0.05, 1.0, false),
        ] {
            assert_eq!(looks_worked_out((reading, step), Some((m, 0.012))), shown, "{reading} {m}");
        }
    }
}
