//! Lines for `kit.toml`: what was measured, under the keys that the kit reads it from, no finer than it is known.

use crate::measure::Known;
use crate::measure::report::{Alone, Report};
use crate::measure::solve::{Solved, Way};
use crate::number::{fixed, short};
use crate::units::{Meters, Unit};

use super::calm::calm;
use super::measure::decimals;

/// The lines; a blank one stands between entries.
pub(super) fn lines(report: &Report) -> Vec<String> {
    let mut blocks = Vec::new();
    for alone in report.alone() {
        blocks.push(of_lens(&alone));
    }
    for (series, mean, _) in report.attachments() {
        let (value, uncertainty) = rounded(&mean);
        blocks.push(vec![
            under("attachment", series.between.id.as_deref(), &series.between.name),
            format!("measured-magnification = {value}"),
            format!("measured-magnification-uncertainty = {uncertainty}"),
        ]);
    }
    blocks.retain(|block| block.len() > 1);
    blocks.join(&String::new())
}

fn of_lens(alone: &Alone<'_>) -> Vec<String> {
    let name = alone.lens.name.as_deref().unwrap_or("the lens");
    let mut lines = vec![under("lens", alone.lens.id.as_deref(), name)];
    let marks: Vec<(Meters, &Solved)> =
        alone.marks().into_iter().filter(|(_, solved)| solved.way == Way::Line).collect();
    let zoom = alone.lens.zoom || alone.focal.is_some();
    if let Some(solved) = alone.whole().filter(|solved| !zoom && solved.way != Way::OneDistance) {
        let (value, uncertainty) = rounded(&solved.focal);
        lines.push(format!("measured-focal = {value}"));
        lines.push(format!("measured-focal-uncertainty = {uncertainty}"));
        if let Some(pupil) = &solved.pupil {
            let (value, uncertainty) = rounded(pupil);
            lines.push(format!("pupil-offset = {value}"));
            lines.push(format!("pupil-offset-uncertainty = {uncertainty}"));
        }
    }
    // A table keyed by focus; a zoom has one for each mark.
    if marks.len() > 1 || (zoom && !marks.is_empty()) {
        lines.push("[[lens.table]]".to_owned());
        if let Some(focal) = alone.focal {
            lines.push(format!("focal = {}", short(focal.get(), 2)));
        }
        let row = |of: &dyn Fn(&(Meters, &Solved)) -> Option<String>| {
            marks.iter().map(of).collect::<Option<Vec<String>>>().map(|cells| cells.join(", "))
        };
        let columns = [
            ("focus", row(&|(mark, _)| Some(meters(*mark)))),
            ("pinhole", row(&|(_, solved)| Some(rounded(&solved.focal).0))),
            ("pupil-offset", row(&|(_, solved)| Some(rounded(solved.pupil.as_ref()?).0))),
        ];
        for (column, cells) in columns {
            lines.extend(cells.map(|cells| format!("{column} = [{cells}]")));
        }
        // The kit takes one uncertainty a table: that of the worst row.
        let worst = |of: &dyn Fn(&Solved) -> f64| {
            let worst = marks.iter().map(|(_, solved)| of(solved)).fold(0.0, f64::max);
            fixed(worst, decimals(worst))
        };
        let pupil = |solved: &Solved| solved.pupil.map_or(0.0, |pupil| pupil.uncertainty);
        let pinhole = worst(&|solved| solved.focal.uncertainty);
        lines.push(format!("pinhole-uncertainty = {pinhole}"));
        lines.push(format!("pupil-offset-uncertainty = {}", worst(&pupil)));
    }
    lines
}

fn under(table: &str, id: Option<&str>, name: &str) -> String {
    // A line end in a name would end the comment, and the rest of the name be read as a key.
    let name = calm(name);
    match id {
        Some(id) => format!("# under [[{table}]] id = \"{id}\""),
        None => format!(
            "# under the [[{table}]] of \"{name}\", which the kit does not have or which was not given"
        ),
    }
}

/// Number and uncertainty with the digits that the uncertainty warrants.
fn rounded<U: Unit>(known: &Known<U>) -> (String, String) {
    let decimals = decimals(known.uncertainty);
    (fixed(known.value.number(), decimals), fixed(known.uncertainty, decimals))
}

/// With a point always, as the tables want numbers of one kind.
fn meters(mark: Meters) -> String {
    if mark.get().is_infinite() {
        return "inf".to_owned();
    }
    let text = short(mark.get(), 3);
    if text.contains('.') { text } else { text + ".0" }
}
