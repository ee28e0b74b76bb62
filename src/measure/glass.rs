//! The lens of a series: what the kit knows of it, and what the sheet says of it that cannot be.

use crate::estimate::Estimate;
use crate::finding::{Code, Finding, nearest};
use crate::kit::called::lens_called;
use crate::kit::{Kit, Lens};
use crate::notes::cells::quoted;
use crate::number::short;
use crate::optics::pinhole::{Curve, look_up};
use crate::sourced::Basis;
use crate::units::{Millimeters, Offset};

use super::series::Series;
use super::shots::{Setting, Shot};

/// A lens as the sheet and the kit know it.
#[derive(Clone, Debug, PartialEq)]
pub struct Glass {
    /// As typed, or its name in the kit; `None` where the sheet does not say.
    pub name: Option<String>,
    /// Id in the kit.
    pub id: Option<String>,
    /// True for a zoom of the kit.
    pub zoom: bool,
    /// Anamorphic squeeze; one for a lens that does not squeeze, or of which nobody knows.
    pub squeeze: f64,
    /// Entrance pupil of the lens alone from the sensor plane at the focus setting of the series, and its standard
    /// uncertainty where known: from the table of the kit, else its `pupil-offset`.
    pub pupil: Option<(Offset, Option<f64>)>,
    /// What the kit has, for whoever pastes a measurement over it.
    pub before: Before,
}

/// What the kit has of a lens before the measurement.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Before {
    /// Focal length on the barrel of a prime.
    pub mark: Option<Millimeters>,
    /// Standard uncertainty of a mark, as a part of it.
    pub mark_uncertainty: f64,
    /// Focal length as measured.
    pub focal: Option<Millimeters>,
    /// `pupil-offset`.
    pub pupil: Option<Offset>,
    /// Its tables, each by the mark on the zoom ring; a prime has none there.
    pub tables: Vec<Option<Millimeters>>,
    /// `unit-focus`, which rules a table out.
    pub unit_focus: bool,
}

/// A lens, and its entry in the kit.
pub(super) type Known<'k> = (Glass, Option<&'k Lens>);

impl Glass {
    /// True for an anamorphic lens of the kit.
    pub fn squeezes(&self) -> bool {
        (self.squeeze - 1.0).abs() > 1e-6
    }
}

/// What the ring of the lens cannot have been set to, or what the sheet does not say of it.
pub(super) fn mark_fits(series: &Series, lens: &Lens) -> Option<Finding> {
    let shot = series.shots.first()?;
    let say = |message: String, hint: &str| {
        Some(Finding::new(Code::LensFocal, message).at(shot.place.clone()).hint(hint))
    };
    let title = series.title();
    match (lens.range, shot.focal) {
        (Some(_), None) => say(
            format!("{title}: the lens is a zoom, and the sheet does not say what it was set to"),
            "add a column Focal with the mark on the zoom ring; without it no line for the lens is printed",
        ),
        (Some((low, high)), Some(focal)) if focal < low || focal > high => say(
            format!("{title}: the zoom ring of the lens has no such mark"),
            "write the mark that the ring was set to",
        ),
        (None, Some(focal)) => {
            let mark = lens.marked_focal.filter(|mark| (mark.get() - focal.get()).abs() > 1e-6)?;
            let (typed, mark) = (short(focal.get(), 1), short(mark.get(), 1));
            say(
                format!("{title}: the sheet says {typed} mm, and the lens is marked {mark} mm"),
                "check which lens was on",
            )
        }
        _ => None,
    }
}

pub(super) fn no_side(series: &Series) -> Option<Finding> {
    if !series.side_unknown() {
        return None;
    }
    let message = format!(
        "{}: the lens squeezes by {}, and the sheet does not say along which side of the picture the chart was \
         measured; the focal length is that of the side that was measured, whichever it is",
        series.title(),
        short(series.lens.squeeze, 2)
    );
    let hint = "measure the chart from top to bottom and add a column Side: height; from left to right write width, \
                and the squeeze is taken out";
    Some(Finding::new(Code::ChartSide, message).at(series.shots.first()?.place.clone()).hint(hint))
}

/// The entrance pupil that the table of the lens tells for a focus setting.
pub(super) fn pupil_at(
    lens: &Lens,
    focal: Option<Millimeters>,
    focus: Setting,
) -> Option<(Offset, Option<f64>)> {
    let Setting::Mark(focus) = focus else { return None };
    let tables: Vec<_> = lens.tables.iter().filter(|table| !table.pupil.is_empty()).collect();
    let curves: Vec<Curve<Offset>> = tables
        .iter()
        .map(|table| Curve {
            mark: table.focal,
            focus: table.focus.clone(),
            values: table.pupil.clone(),
        })
        .collect();
    let found = look_up(&curves, focal.map(Estimate::exact), Estimate::exact(focus))?;
    let worst = tables.iter().filter_map(|table| table.pupil_uncertainty).reduce(f64::max);
    let of_lens = lens.pupil_offset.as_ref().and_then(|pupil| pupil.uncertainty);
    Some((found.value.value, worst.or(of_lens)))
}

pub(super) fn lens<'k>(
    shot: &Shot,
    kit: Option<&'k Kit>,
    findings: &mut Vec<Finding>,
) -> Known<'k> {
    let unknown = Glass {
        name: shot.lens.clone(),
        id: None,
        zoom: false,
        squeeze: 1.0,
        pupil: None,
        before: Before::default(),
    };
    let unknown = (unknown, None);
    let (Some(typed), Some(kit)) = (&shot.lens, kit) else { return unknown };
    match lens_called(&kit.lenses, typed) {
        Ok(lens) => (of_kit(lens, kit), Some(lens)),
        Err(several) => {
            let known = kit.lenses.iter().map(|lens| lens.id.as_str());
            findings.push(
                stranger(Code::LensUnknown, "lens", typed, several, known).at(shot.place.clone()),
            );
            unknown
        }
    }
}

fn of_kit(lens: &Lens, kit: &Kit) -> Glass {
    let measured = lens.focal.as_ref().filter(|focal| focal.basis == Basis::Measured);
    let before = Before {
        mark: lens.marked_focal,
        mark_uncertainty: kit.defaults.focal,
        focal: measured.map(|focal| focal.value),
        pupil: lens.pupil_offset.as_ref().map(|pupil| pupil.value),
        tables: lens.tables.iter().map(|table| table.focal).collect(),
        unit_focus: lens.unit_focus,
    };
    Glass {
        before,
        name: Some(lens.name.clone()),
        id: Some(lens.id.clone()),
        zoom: lens.is_zoom(),
        squeeze: lens.squeeze.value.get(),
        pupil: lens.pupil_offset.as_ref().map(|pupil| (pupil.value, pupil.uncertainty)),
    }
}

pub(super) fn stranger<'k>(
    code: Code,
    what: &str,
    typed: &str,
    several: bool,
    known: impl Iterator<Item = &'k str>,
) -> Finding {
    let shown = quoted(typed);
    if several {
        return Finding::new(code, format!("{shown} fits more than one {what} of the kit"))
            .hint("write its id");
    }
    let hint = match nearest(typed, known) {
        Some(near) => format!("write {near}, if that is meant; it was measured all the same"),
        None => format!(
            "write an id from the kit, or add the {what} to it; it was measured all the same"
        ),
    };
    Finding::new(code, format!("the kit has no {what} {shown}")).hint(hint)
}
