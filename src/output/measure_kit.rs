//! Lines for `kit.toml`: what was measured, under the keys that the kit reads it from, no finer than it is known.

use crate::measure::glass::Before;
use crate::measure::report::{Alone, Report};
use crate::measure::solve::{Solved, Way};
use crate::measure::{Known, decimals};
use crate::number::{fixed, short};
use crate::units::{Meters, Millimeters, Unit};

use super::calm::calm;

/// A line to paste.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Line {
    /// Words for whoever pastes, without the comment sign.
    Words(String),
    /// A key or a heading, as it stands in the kit.
    Key(String),
    /// The same, kept from being read, because the kit contradicts it.
    Doubted(String),
    /// Between entries.
    Blank,
}

impl Line {
    /// The line as it is printed.
    pub(super) fn text(&self) -> String {
        match self {
            Self::Words(words) => format!("# {words}"),
            Self::Key(key) => key.clone(),
            Self::Doubted(key) => format!("# {key}"),
            Self::Blank => String::new(),
        }
    }
}

/// The lines; a blank one stands between entries. Tables come last: what is typed below one belongs to it.
pub(super) fn lines(report: &Report) -> Vec<Line> {
    let mut blocks = Vec::new();
    let all = report.alone();
    let doubted = |alone: &Alone<'_>| report.doubt_of(&alone.series);
    for alone in &all {
        blocks.push(held(of_lens(&all, alone), doubted(alone)));
    }
    for (series, mean, _) in report.attachments() {
        let (name, id) = (&series.between.name, series.between.id.as_deref());
        let mut lines = vec![under("attachment", id, name)];
        let before = series.between.measured;
        lines.extend(before.map(|before| replaces("measured-magnification", before.get())));
        let (value, uncertainty) = rounded(&mean);
        lines.push(Line::Key(format!("measured-magnification = {value}")));
        lines.push(Line::Key(format!("measured-magnification-uncertainty = {uncertainty}")));
        blocks.push(held(lines, report.doubt_of_attachment(name)));
    }
    let mut tables: Vec<&Alone<'_>> = all.iter().collect();
    // The kit wants the tables of a zoom by rising focal length; the order of the lenses stays.
    tables.sort_by(|a, b| {
        let same = a.lens.id == b.lens.id && a.lens.name == b.lens.name;
        let mark = |alone: &Alone<'_>| alone.focal.map_or(0.0, Millimeters::get);
        if same { mark(a).total_cmp(&mark(b)) } else { std::cmp::Ordering::Equal }
    });
    for alone in tables {
        blocks.push(held(table(&all, alone), doubted(alone)));
    }
    blocks.retain(|block| block.len() > 1);
    blocks.join(&Line::Blank)
}

/// The same, behind comment signs where the kit contradicts it.
fn held(lines: Vec<Line>, doubt: Option<&str>) -> Vec<Line> {
    let Some(doubt) = doubt.filter(|_| lines.iter().any(|line| matches!(line, Line::Key(_))))
    else {
        return lines;
    };
    let reason = format!("not to be pasted before this is cleared up: {}", calm(doubt));
    let mut lines = lines.into_iter();
    let first = lines.next();
    let rest = lines.map(|line| match line {
        Line::Key(key) => Line::Doubted(key),
        other => other,
    });
    first.into_iter().chain(std::iter::once(Line::Words(reason))).chain(rest).collect()
}

fn of_lens(all: &[Alone<'_>], alone: &Alone<'_>) -> Vec<Line> {
    let mut lines = vec![heading(alone)];
    let before = &alone.lens.before;
    if alone.lens.zoom && alone.focal.is_none() {
        let words =
            "no line for this zoom: the sheet does not say what its ring was set to (column Focal)";
        lines.push(Line::Words(words.to_owned()));
    }
    if zoom(all, alone) {
        return lines;
    }
    let Some(whole) = alone.whole() else {
        lines.extend(why_no_focal(alone).map(Line::Words));
        return lines;
    };
    if whole.extrapolated {
        let words =
            "carried on to infinity from the focus settings that were shot, linear in 1/distance";
        lines.push(Line::Words(words.to_owned()));
    }
    lines.extend(before.focal.map(|focal| replaces("measured-focal", focal.get())));
    lines.extend(off_mark(whole.focal.value, before));
    let (value, uncertainty) = rounded(&whole.focal);
    lines.push(Line::Key(format!("measured-focal = {value}")));
    lines.push(Line::Key(format!("measured-focal-uncertainty = {uncertainty}")));
    if let Some(pupil) = &whole.pupil {
        lines.extend(before.pupil.map(|pupil| replaces("pupil-offset", pupil.get())));
        let (value, uncertainty) = rounded(pupil);
        lines.push(Line::Key(format!("pupil-offset = {value}")));
        lines.push(Line::Key(format!("pupil-offset-uncertainty = {uncertainty}")));
    }
    lines
}

/// How far the lens is off its mark: a chart of the wrong width or a wrong recording mode moves it as a bad mark does.
fn off_mark(focal: Millimeters, before: &Before) -> Option<Line> {
    let mark = before.mark?.get();
    let off = focal.get() / mark - 1.0;
    let sign = if off < 0.0 { "" } else { "+" };
    let mut words =
        format!("{sign}{} % off the mark, {} mm", fixed(off * 100.0, 2), short(mark, 2));
    if off.abs() > before.mark_uncertainty {
        words.push_str(": check the chart width and the recording mode before pasting");
    }
    Some(Line::Words(words))
}

/// Why a lens that was measured has no focal length to paste.
fn why_no_focal(alone: &Alone<'_>) -> Option<String> {
    let (focus, solved) = alone.settings.first()?;
    Some(match (solved.way, focus.mark()) {
        (Way::OneDistance, _) => {
            "no measured-focal: one distance rests on a pupil that was given, and tells nothing new".to_owned()
        }
        (_, Some(mark)) => format!(
            "no measured-focal: the lens was shot at focus {} m only, where it may be longer than at infinity; shoot it at \
             infinity too",
            short(mark.get(), 3)
        ),
        (_, None) => {
            "no measured-focal: the sheet does not say the focus setting, and the lens may be longer there than at infinity"
                .to_owned()
        }
    })
}

/// A table keyed by focus; a zoom has one for each mark.
fn table(all: &[Alone<'_>], alone: &Alone<'_>) -> Vec<Line> {
    let zoom = zoom(all, alone);
    let marks: Vec<(Meters, &Solved)> =
        alone.marks().into_iter().filter(|(_, solved)| solved.way == Way::Line).collect();
    let near = marks.iter().any(|(mark, _)| mark.get().is_finite());
    if marks.is_empty() || (zoom && alone.focal.is_none()) || !(zoom || near) {
        return Vec::new();
    }
    let mut lines = vec![heading(alone)];
    let before = &alone.lens.before;
    let words = "below all other keys of that lens: what stands below a table belongs to the table";
    lines.push(Line::Words(words.to_owned()));
    if before.tables.iter().any(|focal| !zoom || *focal == alone.focal) {
        lines.push(Line::Words("replaces the [[lens.table]] that the kit has".to_owned()));
    } else if !before.tables.is_empty() {
        let words = "goes among the tables that the kit has, by rising focal";
        lines.push(Line::Words(words.to_owned()));
    }
    if before.unit_focus {
        lines.push(Line::Words("and take unit-focus out: a table says more".to_owned()));
    }
    lines.push(Line::Key("[[lens.table]]".to_owned()));
    if let Some(focal) = alone.focal.filter(|_| zoom) {
        lines.push(Line::Key(format!("focal = {}", short(focal.get(), 2))));
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
        lines.extend(cells.map(|cells| Line::Key(format!("{column} = [{cells}]"))));
    }
    // The kit takes one uncertainty a table: that of the worst row.
    let worst = |of: &dyn Fn(&Solved) -> f64| {
        let worst = marks.iter().map(|(_, solved)| of(solved)).fold(0.0, f64::max);
        fixed(worst, decimals(worst))
    };
    let pupil = |solved: &Solved| solved.pupil.map_or(0.0, |pupil| pupil.uncertainty);
    let pinhole = worst(&|solved| solved.focal.uncertainty);
    lines.push(Line::Key(format!("pinhole-uncertainty = {pinhole}")));
    lines.push(Line::Key(format!("pupil-offset-uncertainty = {}", worst(&pupil))));
    lines
}

/// True for a zoom of the kit; without a kit, for a lens that was shot at several marks.
fn zoom(all: &[Alone<'_>], alone: &Alone<'_>) -> bool {
    if alone.lens.id.is_some() {
        return alone.lens.zoom;
    }
    let own = |other: &Alone<'_>| other.lens.name == alone.lens.name && other.focal != alone.focal;
    alone.focal.is_some() && all.iter().any(own)
}

fn replaces(key: &str, before: f64) -> Line {
    Line::Words(format!("replaces {key} = {}", short(before, 6)))
}

fn heading(alone: &Alone<'_>) -> Line {
    let name = alone.lens.name.as_deref().unwrap_or("the lens");
    under("lens", alone.lens.id.as_deref(), name)
}

fn under(table: &str, id: Option<&str>, name: &str) -> Line {
    // A line end in a name would end the comment, and the rest of the name be read as a key.
    let name = calm(name);
    Line::Words(match id {
        Some(id) => format!("under [[{table}]] id = \"{id}\""),
        None => format!(
            "under the [[{table}]] of \"{name}\", which the kit does not have or which was not given"
        ),
    })
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
