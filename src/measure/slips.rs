//! What most likely went wrong on the day, from how far a measurement is off what the kit knows.

use crate::kit::{Kit, Lens};
use crate::number::short;
use crate::units::Factor;

use super::series::Series;

/// Hint for a pupil that does not move as the attachment makes it.
pub(super) const OF_SHIFT: &str = "tape from the sensor-plane mark, not from the lens front or the mount: these move with \
     the attachment; or a ring was turned between the shots; or check thickness, shift and mounts of the attachment in the kit";

/// By how much a slip may miss the ratio that it makes: a lens is seldom further off its mark (common practice, no source).
const NEAR: f64 = 0.05;

/// Tapes and charts read in the wrong unit: the ratio that it makes, and what it is.
const UNITS: [(f64, &str); 6] = [
    (1.0 / 25.4, "the tape was read in inches, and the sheet says millimetres"),
    (25.4, "the chart width is in inches, and the sheet says millimetres"),
    (0.3048, "the tape was read in metres, and the sheet says feet"),
    (1.0 / 0.3048, "the tape was read in feet, and the sheet says metres"),
    (0.1, "a length is in centimetres, and the sheet says millimetres: the tape"),
    (10.0, "a length is in centimetres, and the sheet says millimetres: the chart width"),
];

/// What makes a focal length `ratio` times too long: the likeliest first, then what to check anyway.
pub(super) fn of_focal(kit: &Kit, lens: &Lens, series: &Series, ratio: f64) -> String {
    let mut likely: Vec<(f64, String)> =
        UNITS.iter().map(|(makes, words)| (*makes, (*words).to_owned())).collect();
    likely.extend(modes(kit, series));
    let squeeze = series.lens.squeeze;
    if series.lens.squeezes() {
        let words =
            "the chart was measured along the other side of the picture than the sheet says";
        likely.extend([(squeeze, words.to_owned()), (1.0 / squeeze, words.to_owned())]);
    }
    for attachment in &kit.attachments {
        let m = attachment.magnification.value.get();
        if (m - 1.0).abs() < NEAR {
            continue;
        }
        if series.between.bare {
            likely.push((m, format!("{} was on, and the sheet says bare", attachment.id)));
        } else if series.between.id.as_ref() == Some(&attachment.id) {
            likely.push((1.0 / m, format!("{} was not on", attachment.id)));
        }
    }
    let alone = |lens: &Lens| lens.focal.as_ref().map(|focal| focal.value.get());
    for other in kit.lenses.iter().filter(|other| other.id != lens.id) {
        if let (Some(other_focal), Some(own)) = (alone(other), alone(lens)) {
            likely.push((other_focal / own, format!("{} was on", other.id)));
        }
    }
    let always = "check the chart width, the unit of the tape, where it was taped from (the sensor-plane mark), \
                  --camera and --mode, and that no ring was turned";
    sentence(&likely, ratio, always)
}

/// What makes a pupil stand `off` millimetres too far forward.
pub(super) fn of_pupil(off: f64) -> String {
    let first = if off < 0.0 {
        "was the tape held to the lens front instead of the sensor-plane mark, or read in inches?"
    } else {
        "was the tape held behind the sensor-plane mark, or to the front of the chart's stand?"
    };
    format!(
        "{first} or was the ring turned for every shot: then write refocused under Focus; or check pupil-offset in the kit"
    )
}

/// What makes a magnification come out as `m`.
pub(super) fn of_magnification(kit: &Kit, series: &Series, m: f64) -> String {
    let own = series.between.marked.map_or(1.0, Factor::get);
    let mut likely = Vec::new();
    for other in kit.attachments.iter().filter(|a| Some(&a.id) != series.between.id.as_ref()) {
        let value = other.magnification.value.get();
        likely.push((value / own, format!("{} was on", other.id)));
    }
    likely.push((1.0 / own, "nothing was on".to_owned()));
    likely.extend(modes(kit, series));
    let always = "check that lens, rings, chart and recording mode were the same with and without it, and which attachment was on";
    sentence(&likely, m / own, always)
}

/// Other recording modes: pixels taken for larger than they are make the lens longer.
fn modes(kit: &Kit, series: &Series) -> Vec<(f64, String)> {
    let Some(used) = series.shots.first().map(|shot| shot.pitch.get()) else { return Vec::new() };
    let mut modes = Vec::new();
    for camera in &kit.cameras {
        for mode in &camera.modes {
            let pitch = mode.back.width.get() / f64::from(mode.raster.width());
            if (pitch / used - 1.0).abs() > 0.02 {
                modes.push((
                    used / pitch,
                    format!("it was recorded in mode {} of camera {}", mode.id, camera.id),
                ));
            }
        }
    }
    modes
}

/// The two slips that come nearest to the ratio, and what to check anyway.
fn sentence(likely: &[(f64, String)], ratio: f64, always: &str) -> String {
    let mut near: Vec<(f64, &str)> = likely
        .iter()
        .map(|(makes, words)| ((ratio / makes - 1.0).abs(), words.as_str()))
        .filter(|(off, _)| *off < NEAR)
        .collect();
    near.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    near.dedup_by(|next, last| next.1 == last.1);
    let words: Vec<&str> = near.iter().take(2).map(|(_, words)| *words).collect();
    if words.is_empty() {
        return format!("{always}; it is {} times what it should be", short(ratio, 3));
    }
    format!("likely {}; {always}", words.join(", or "))
}
