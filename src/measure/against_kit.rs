//! What was measured, held against what the kit knows: a tape in inches or from the lens front, another recording
//! mode or a chart of another width fit their own curve as well as good shots do, and only the kit gives them away.
//!
//! The limits are documented in docs/measure.md.

use crate::estimate::{Cause, Estimate};
use crate::finding::{Code, Finding};
use crate::kit::{Kit, Lens};
use crate::number::{fixed, short};
use crate::optics::pinhole::{Curve, look_up, unit_focus};
use crate::sourced::Basis;
use crate::units::{Meters, Millimeters, Offset};

use super::compare::Pair;
use super::series::Series;
use super::shots::Setting;
use super::slips;
use super::solve::{Solved, Way};
use super::{Known, printed};

/// Why kit lines are not to be pasted as they stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// The series in doubt, counted from 0, with all that rests on them.
    pub series: Vec<usize>,
    /// The attachment in doubt, by the name that its series have.
    pub attachment: Option<String>,
    /// What is the matter, in one sentence without a full stop.
    pub reason: String,
}

/// Combined standard uncertainties from which two measurements are no longer of one thing.
const APART: f64 = 3.0;
/// Standard uncertainties of a mark that a measurement may be off it.
const OFF_MARK: f64 = 2.0;
/// Longest lens whose entrance pupil cannot stand behind the sensor plane, in millimetres: that of a long telephoto
/// lens can (common practice, no source).
const NEVER_BEHIND: f64 = 100.0;

/// What was solved, as the report has it.
type All = [(Series, Option<Solved>)];

/// Everything measured that the kit contradicts; the finding stands beside each doubt, where none was made before.
pub fn doubts(kit: &Kit, all: &All, pairs: &[Pair]) -> Vec<(Doubt, Option<Finding>)> {
    let mut doubts = Vec::new();
    for (at, (series, solved)) in all.iter().enumerate() {
        let Some(solved) = solved else { continue };
        if series.side_unknown() {
            let reason =
                "the sheet does not say along which side of the picture the chart was measured";
            doubts
                .push((Doubt { series: vec![at], attachment: None, reason: reason.into() }, None));
        }
        let lens = series.lens.id.as_ref();
        let Some(lens) = lens.and_then(|id| kit.lenses.iter().find(|lens| lens.id == *id)) else {
            continue;
        };
        if series.between.bare {
            // One slip makes both wrong: the focal length says it better.
            let said = focal(kit, lens, series, solved, 1.0, 0.0);
            let said = said.or_else(|| pupil(lens, series, solved));
            doubts.extend(said.map(|said| of(at, series, said)));
        } else if !pairs.iter().any(|pair| pair.series == at) {
            // With nothing to be held against, the focal length behind the attachment is all there is.
            let attachment =
                kit.attachments.iter().find(|a| Some(&a.id) == series.between.id.as_ref());
            let m = attachment.map(|attachment| &attachment.magnification);
            let said = m.and_then(|m| {
                focal(kit, lens, series, solved, m.value.get(), m.relative().unwrap_or(0.0))
            });
            doubts.extend(said.map(|said| of(at, series, said)));
        }
    }
    let mut met: Vec<&str> = Vec::new();
    for pair in pairs {
        let Some((series, _)) = all.get(pair.series) else { continue };
        let name = series.between.name.as_str();
        if let Some(said) = magnification(kit, series, pair)
            && !met.contains(&name)
        {
            met.push(name);
            doubts.push(of_attachment(name, series, said));
        }
    }
    met.clear();
    let mut shifts = Vec::new();
    for pair in pairs {
        let Some((series, _)) = all.get(pair.series) else { continue };
        let name = series.between.name.as_str();
        if met.contains(&name) {
            continue;
        }
        met.push(name);
        let said = shift(kit, name, all, pairs);
        shifts.extend(said.map(|said| (name, of_attachment(name, series, said))));
    }
    // The series themselves being in doubt, the difference of their pupils adds nothing.
    let rests = |name: &str, at: usize| {
        let of = |pair: &&Pair| pair.series == at || pair.bare == Some(at);
        let named = |pair: &Pair| {
            all.get(pair.series).is_some_and(|(series, _)| series.between.name == name)
        };
        pairs.iter().filter(of).any(named)
    };
    let doubted: Vec<usize> = doubts.iter().flat_map(|(doubt, _)| doubt.series.clone()).collect();
    let fresh = |(name, _): &(&str, _)| !doubted.iter().any(|at| rests(name, *at));
    let fresh: Vec<_> = shifts.into_iter().filter(fresh).map(|(_, doubt)| doubt).collect();
    doubts.extend(fresh);
    doubts
}

/// A contradiction: the sentence, and what is likely wrong.
type Said = (String, String);

fn of(at: usize, series: &Series, (reason, hint): Said) -> (Doubt, Option<Finding>) {
    let finding = finding(series, &format!("{}: {reason}", series.title()), &hint);
    (Doubt { series: vec![at], attachment: None, reason }, Some(finding))
}

fn of_attachment(name: &str, series: &Series, (reason, hint): Said) -> (Doubt, Option<Finding>) {
    let finding = finding(series, &format!("{name}: {reason}"), &hint);
    (Doubt { series: Vec::new(), attachment: Some(name.to_owned()), reason }, Some(finding))
}

fn finding(series: &Series, message: &str, hint: &str) -> Finding {
    let finding = Finding::new(Code::ChartAgainstKit, message).hint(hint);
    match series.shots.first() {
        Some(shot) => finding.at(shot.place.clone()),
        None => finding,
    }
}

/// A focal length that the kit leads to expect.
struct Expected {
    value: f64,
    uncertainty: f64,
    measured: bool,
    /// By how much the lens may be longer or shorter at the focus setting than at infinity.
    breathing: f64,
}

/// The focal length of the lens alone at the focus setting: from the table, for a lens that focuses as one piece worked
/// out, else the kit's own with room for breathing.
fn expected(kit: &Kit, lens: &Lens, series: &Series) -> Option<Expected> {
    let mark = Setting::mark(series.focus);
    if let Some(mark) = mark
        && let Some(found) = of_table(kit, lens, series, mark)
    {
        return Some(found);
    }
    let (value, uncertainty, measured) = match (&lens.focal, series.focal) {
        (Some(focal), _) => {
            let uncertainty = focal.uncertainty.unwrap_or(kit.defaults.focal * focal.value.get());
            (focal.value, uncertainty, focal.basis == Basis::Measured)
        }
        (None, Some(mark)) if lens.is_zoom() => (mark, kit.defaults.focal * mark.get(), false),
        (None, _) => return None,
    };
    if let (true, Some(mark)) = (lens.unit_focus, mark) {
        let focal = Estimate::caused(value, Cause::Focal, Some(uncertainty));
        let longer = unit_focus(focal, Estimate::exact(mark))?;
        return Some(Expected { value: longer.value.get(), uncertainty, measured, breathing: 0.0 });
    }
    let f = value.get();
    // Of a focus setting that nobody noted only this is known: the nearest chart was not far from sharp.
    let nearest = series.shots.iter().map(|shot| shot.distance.get()).fold(f64::INFINITY, f64::min);
    let focused = match series.focus {
        Setting::Mark(mark) => mark.get() * 1000.0,
        Setting::Refocused => f64::INFINITY,
        Setting::Unsaid => nearest * 1000.0,
    };
    // No lens breathes more than one that moves as a whole.
    let breathing = f * f / (focused - f).max(f);
    Some(Expected { value: f, uncertainty, measured, breathing })
}

fn of_table(kit: &Kit, lens: &Lens, series: &Series, mark: Meters) -> Option<Expected> {
    let curves: Vec<Curve<Millimeters>> = lens
        .tables
        .iter()
        .map(|table| Curve {
            mark: table.focal,
            focus: table.focus.clone(),
            values: table.pinhole.clone(),
        })
        .collect();
    let found = look_up(&curves, series.focal.map(Estimate::exact), Estimate::exact(mark))?;
    // The end of a table held far from where it was measured tells no more than the mark does.
    let value = found.value.value.get();
    let stated = lens.tables.iter().filter_map(|table| table.pinhole_uncertainty).reduce(f64::max);
    let uncertainty = stated.unwrap_or(kit.defaults.focal * value);
    found.held.is_none().then_some(Expected { value, uncertainty, measured: true, breathing: 0.0 })
}

/// The pinhole focal length against the kit's, `m` times as long behind an attachment.
fn focal(
    kit: &Kit,
    lens: &Lens,
    series: &Series,
    solved: &Solved,
    m: f64,
    m_relative: f64,
) -> Option<Said> {
    let expected = expected(kit, lens, series)?;
    let value = expected.value * m;
    let times = if expected.measured { APART } else { OFF_MARK };
    // A measurement shares the doubt about the recorded area with nothing that was measured before.
    let area = if expected.measured { kit.defaults.area * value } else { 0.0 };
    let parts = [expected.uncertainty * m, m_relative * value, area, solved.focal.uncertainty];
    let together = libm::sqrt(parts.iter().map(|part| part * part).sum());
    let limit = times * together + expected.breathing * m;
    let off = solved.focal.value.get() - value;
    if off.abs() <= limit {
        return None;
    }
    let how = if expected.measured { "measured before" } else { "by its mark" };
    let behind = if series.between.bare { "" } else { " behind the attachment" };
    let reason = format!(
        "measured {}, and the kit says {} mm{behind}, {how}: {} % off it, where {} % are allowed",
        printed(&solved.focal),
        short(value, 2),
        signed(off / value * 100.0, 1),
        fixed(limit / value * 100.0, 1)
    );
    Some((reason, slips::of_focal(kit, lens, series, solved.focal.value.get() / value)))
}

/// The entrance pupil against the kit's.
fn pupil(lens: &Lens, series: &Series, solved: &Solved) -> Option<Said> {
    let found = solved.pupil.as_ref().filter(|_| solved.way == Way::Line)?;
    let shift = series.between.shift?.get();
    let f = solved.focal.value.get();
    let Some((value, uncertainty)) = series.lens.pupil else {
        let behind = found.value.get() + APART * found.uncertainty < 0.0;
        if !(behind && f <= NEVER_BEHIND && lens.pupil_offset.is_none()) {
            return None;
        }
        let reason = format!(
            "the entrance pupil comes out {} mm behind the sensor plane, where no lens of this length has it",
            fixed(-found.value.get(), 0)
        );
        return Some((reason, slips::of_pupil(-1.0)));
    };
    let expected = value.get() - shift;
    let kit_u = uncertainty.unwrap_or(0.0);
    let adapter_u = series.between.shift_uncertainty.unwrap_or(0.0);
    let parts = [kit_u, adapter_u, found.uncertainty];
    // One number at infinity says little of a lens that moves to focus: its pupil goes forward with it.
    let focused = Setting::mark(series.focus).map_or(f64::INFINITY, |mark| mark.get() * 1000.0);
    let tabled = lens.tables.iter().any(|table| !table.pupil.is_empty());
    let room = if tabled { 0.0 } else { f * f / (focused - f).max(f) };
    let limit = APART * libm::sqrt(parts.iter().map(|part| part * part).sum()) + room;
    let off = found.value.get() - expected;
    if off.abs() <= limit {
        return None;
    }
    let reason = format!(
        "the entrance pupil comes out at {}, and the kit says {} mm: {} mm off it, where {} mm are allowed",
        printed(found),
        short(expected, 1),
        signed(off, 0),
        fixed(limit, 0)
    );
    Some((reason, slips::of_pupil(off)))
}

/// A magnification against the kit's.
fn magnification(kit: &Kit, series: &Series, pair: &Pair) -> Option<Said> {
    let attachment = kit.attachments.iter().find(|a| Some(&a.id) == series.between.id.as_ref())?;
    let known = &attachment.magnification;
    let (value, m) = (known.value.get(), pair.magnification.value.get());
    let limit =
        APART * libm::hypot(known.uncertainty.unwrap_or(0.0), pair.magnification.uncertainty);
    if (m - value).abs() <= limit {
        return None;
    }
    let how = if known.basis == Basis::Measured { "measured before" } else { "by its mark" };
    let reason = format!(
        "measured a magnification of {} ({}), and the kit says {}, {how}: {} % off it, where {} % are allowed",
        printed(&pair.magnification),
        series.focus.words(),
        short(value, 4),
        signed((m / value - 1.0) * 100.0, 1),
        fixed(limit / value * 100.0, 1)
    );
    Some((reason, slips::of_magnification(kit, series, m)))
}

/// How far the pupil comes nearer to the sensor plane behind the attachment, over all its pairs, against the shift
/// that the kit knows of it.
fn shift(kit: &Kit, name: &str, all: &All, pairs: &[Pair]) -> Option<Said> {
    let (mut sum, mut weights, mut expected) = (0.0, 0.0, None);
    for pair in pairs {
        let Some((series, Some(behind))) = all.get(pair.series) else { continue };
        let Some((alone, Some(bare))) = pair.bare.and_then(|at| all.get(at)) else { continue };
        let by_line = bare.way == Way::Line && behind.way == Way::Line;
        let shifts = series.between.shift.zip(alone.between.shift);
        let (Some(e), Some(e_behind), Some((shift, plain))) = (&bare.pupil, &behind.pupil, shifts)
        else {
            continue;
        };
        if series.between.name != name || !by_line {
            continue;
        }
        let u = libm::hypot(e.uncertainty, e_behind.uncertainty);
        sum += (e.value.get() - e_behind.value.get()) / (u * u);
        weights += 1.0 / (u * u);
        let doubt = series.between.shift_uncertainty.unwrap_or(kit.defaults.thickness);
        let plain_doubt = alone.between.shift_uncertainty.unwrap_or(0.0);
        expected = Some((shift.get() - plain.get(), libm::hypot(doubt, plain_doubt)));
    }
    let (expected, doubt) = expected?;
    let found =
        Known { value: Offset::new(sum / weights)?, uncertainty: 1.0 / libm::sqrt(weights) };
    let limit = APART * libm::hypot(found.uncertainty, doubt);
    let off = found.value.get() - expected;
    if off.abs() <= limit {
        return None;
    }
    let reason = format!(
        "the entrance pupil comes {} nearer to the sensor plane behind it, and by the kit it is {} mm: {} mm off, where \
         {} mm are allowed",
        printed(&found),
        short(expected, 2),
        signed(off, 1),
        fixed(limit, 1)
    );
    Some((reason, slips::OF_SHIFT.to_owned()))
}

fn signed(value: f64, decimals: usize) -> String {
    let sign = if value < 0.0 { "" } else { "+" };
    format!("{sign}{}", fixed(value, decimals))
}
