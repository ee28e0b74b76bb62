//! Shots sorted into series: the same lens, mark, attachment and focus setting.

use std::collections::{BTreeMap, BTreeSet};

use crate::estimate::Cause;
use crate::finding::{Code, Finding};
use crate::kit::called::attachment_called;
use crate::kit::{Attachment, Kind, Kit, Lens};
use crate::naming::key;
use crate::notes::AttachmentNote;
use crate::number::short;
use crate::optics::attachment::shift;
use crate::sourced::Basis;
use crate::units::{Factor, Meters, Millimeters, Offset};

use super::glass::{Glass, Known, lens, mark_fits, no_side, pupil_at, stranger};
use super::shots::{Setting, Shot, Side};

/// Shots that one curve goes through.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// The lens.
    pub lens: Glass,
    /// Mark on the zoom ring.
    pub focal: Option<Millimeters>,
    /// What stood between.
    pub between: Between,
    /// Focus setting.
    pub focus: Setting,
    /// Side of the picture that was measured along, where the lens squeezes and the sheet says.
    pub side: Option<Side>,
    /// The shots, in the order of the sheet; never empty.
    pub shots: Vec<Shot>,
    /// What lens, mark and focus setting are compared by.
    setting: SettingKey,
}

/// Lens as names are compared, mark, focus setting, side.
type SettingKey = (String, Option<i64>, i64, Option<Side>);

/// What stood between lens and camera.
#[derive(Clone, Debug, PartialEq)]
pub struct Between {
    /// Its id in the kit, or as typed; `bare` for nothing.
    pub name: String,
    /// Id in the kit.
    pub id: Option<String>,
    /// True where no glass stood between: nothing at all, or a plain adapter of the kit. Such a series is the lens alone.
    pub bare: bool,
    /// True for a plain adapter.
    pub plain: bool,
    /// Magnification as marked.
    pub marked: Option<Factor>,
    /// Magnification that the kit has as measured.
    pub measured: Option<Factor>,
    /// How far it brings the sensor plane toward the lens.
    pub shift: Option<Offset>,
    /// Standard uncertainty of the shift, in millimetres.
    pub shift_uncertainty: Option<f64>,
}

impl Series {
    /// The series in words: `Sorrel 50, corbel-071, focus 2 m`.
    pub fn title(&self) -> String {
        let lens = self.lens.name.as_deref().unwrap_or("lens");
        let at = self.focal.map(|focal| format!(" at {} mm", short(focal.get(), 1)));
        let at = at.unwrap_or_default();
        let side = self.side.map(|side| format!(", along the {}", side.word())).unwrap_or_default();
        format!("{lens}{at}, {}, {}{side}", self.between.name, self.focus.words())
    }

    /// By what a lens that squeezes makes the picture narrower along the side that was measured.
    pub fn squeezed(&self) -> f64 {
        if self.side == Some(Side::Width) { self.lens.squeeze } else { 1.0 }
    }

    /// True where it is not known whether the squeeze is in the spans.
    pub fn side_unknown(&self) -> bool {
        self.lens.squeezes() && self.side.is_none()
    }

    /// True where both show the lens at the same setting, whatever stands behind it.
    pub fn same_setting(&self, other: &Self) -> bool {
        self.setting == other.setting
    }

    /// What a lens at one mark is compared by, whatever its focus setting.
    pub fn lens_key(&self) -> (&str, Option<i64>) {
        (&self.setting.0, self.setting.1)
    }
}

impl Setting {
    fn micro(self) -> i64 {
        match self {
            Self::Mark(mark) => micro(mark.get()),
            Self::Refocused => -1,
            Self::Unsaid => -2,
        }
    }

    /// True where the focal length is that at infinity: set to it, or told by refocused shots.
    pub fn at_infinity(self) -> bool {
        matches!(self, Self::Refocused)
            || matches!(self, Self::Mark(mark) if mark.get().is_infinite())
    }

    /// The mark, where it was set to one.
    pub fn mark(self) -> Option<Meters> {
        match self {
            Self::Mark(mark) => Some(mark),
            Self::Refocused | Self::Unsaid => None,
        }
    }

    /// The setting in words.
    pub fn words(self) -> String {
        match self {
            Self::Mark(mark) if mark.get().is_infinite() => "focus infinity".to_owned(),
            Self::Mark(mark) => format!("focus {} m", short(mark.get(), 3)),
            Self::Refocused => "refocused for every shot".to_owned(),
            Self::Unsaid => "focus not noted".to_owned(),
        }
    }
}

/// How many settings of lens and rings were shot behind an attachment and not without it.
pub fn settings_without_bare<'s>(all: impl IntoIterator<Item = &'s Series> + Clone) -> usize {
    let bare: BTreeSet<_> =
        all.clone().into_iter().filter(|series| series.between.bare).map(|s| &s.setting).collect();
    let behind =
        all.into_iter().filter(|series| !series.between.bare).map(|series| &series.setting);
    behind.filter(|setting| !bare.contains(setting)).collect::<BTreeSet<_>>().len()
}

/// Sorts shots into series, in the order in which each is met. Names that the kit does not have are findings.
pub fn sort(shots: Vec<Shot>, kit: Option<&Kit>) -> (Vec<Series>, Vec<Finding>) {
    let (mut all, mut findings): (Vec<Series>, _) = (Vec::new(), Vec::new());
    let mut index = BTreeMap::new();
    let mut lenses: Vec<(Option<String>, Known<'_>)> = Vec::new();
    let mut told = BTreeSet::new();
    let mut betweens: Vec<(AttachmentNote, Between)> = Vec::new();
    for shot in shots {
        let met = lenses.iter().find(|(typed, _)| *typed == shot.lens);
        let (mut lens, of_kit) = if let Some((_, lens)) = met {
            lens.clone()
        } else {
            let lens = lens(&shot, kit, &mut findings);
            lenses.push((shot.lens.clone(), lens.clone()));
            lens
        };
        let met = betweens.iter().find(|(typed, _)| *typed == shot.attachment);
        let between = if let Some((_, between)) = met {
            between.clone()
        } else {
            let between = between(&shot, kit, &mut findings);
            betweens.push((shot.attachment.clone(), between.clone()));
            between
        };
        let name = lens.id.as_deref().or(lens.name.as_deref()).unwrap_or_default();
        // The one focal length of a prime needs no noting, and noted in some rows only it is the same lens.
        let focal = shot.focal.filter(|_| of_kit.is_none_or(Lens::is_zoom));
        let focus = shot.focus;
        let side = shot.side.filter(|_| lens.squeezes());
        let setting = (key(name), focal.map(|focal| micro(focal.get())), focus.micro(), side);
        let at = *index.entry((setting.clone(), key(&between.name))).or_insert(all.len());
        if let Some(series) = all.get_mut(at) {
            series.shots.push(shot);
            continue;
        }
        lens.pupil = of_kit.and_then(|lens| pupil_at(lens, focal, focus)).or(lens.pupil);
        let series = Series { lens, focal, between, focus, side, shots: vec![shot], setting };
        // What holds for the lens wherever it was shot is said once.
        let once = series.focal.is_some() || told.insert(series.lens.id.clone());
        findings.extend(of_kit.filter(|_| once).and_then(|lens| mark_fits(&series, lens)));
        findings.extend(no_side(&series).filter(|_| once));
        all.push(series);
    }
    (all, findings)
}

/// A number as compared: two that differ by less than a millionth are one.
#[expect(
    clippy::cast_possible_truncation,
    reason = "infinity becomes the largest number, which is what is meant"
)]
fn micro(number: f64) -> i64 {
    libm::round(number * 1e6) as i64
}

fn between(shot: &Shot, kit: Option<&Kit>, findings: &mut Vec<Finding>) -> Between {
    let typed = match &shot.attachment {
        AttachmentNote::Named(typed) => typed,
        AttachmentNote::Nothing => {
            return Between {
                name: "bare".to_owned(),
                id: None,
                bare: true,
                plain: false,
                marked: Factor::new(1.0),
                measured: None,
                shift: Offset::new(0.0),
                shift_uncertainty: Some(0.0),
            };
        }
    };
    let number: Option<f64> =
        typed.trim().trim_end_matches(['x', 'X']).replace(',', ".").parse().ok();
    let unknown = Between {
        name: typed.clone(),
        id: None,
        bare: false,
        plain: false,
        marked: number.filter(|m| (0.2..=4.0).contains(m)).and_then(Factor::new),
        measured: None,
        shift: None,
        shift_uncertainty: None,
    };
    let Some(kit) = kit else { return unknown };
    match attachment_called(&kit.attachments, typed) {
        Ok(attachment) => {
            let shift = brought_forward(attachment, kit);
            Between {
                name: attachment.id.clone(),
                id: Some(attachment.id.clone()),
                bare: attachment.kind == Kind::Adapter,
                plain: attachment.kind == Kind::Adapter,
                marked: attachment.marked.or(match attachment.kind {
                    Kind::Adapter => Factor::new(1.0),
                    Kind::Reducer | Kind::Extender => None,
                }),
                measured: Some(&attachment.magnification)
                    .filter(|m| m.basis == Basis::Measured)
                    .map(|m| m.value),
                shift: shift.map(|(shift, _)| shift),
                shift_uncertainty: shift.and_then(|(_, uncertainty)| uncertainty),
            }
        }
        Err(several) => {
            let known = kit.attachments.iter().map(|attachment| attachment.id.as_str());
            let finding = stranger(Code::AttachmentUnknown, "attachment", typed, several, known);
            findings.push(finding.at(shot.place.clone()));
            unknown
        }
    }
}

/// As stated, else from the flange depths and the thickness (docs/optics.md).
fn brought_forward(attachment: &Attachment, kit: &Kit) -> Option<(Offset, Option<f64>)> {
    if let Some(stated) = &attachment.shift {
        return Some((stated.value, stated.uncertainty));
    }
    let flange = |id: &Option<String>| {
        let mount = kit.mounts.iter().find(|mount| Some(&mount.id) == id.as_ref())?;
        Some(mount.flange.value)
    };
    let thickness = attachment.thickness.as_ref()?.estimate(Cause::Shift);
    let shift = shift(flange(&attachment.lens_mount)?, flange(&attachment.body_mount)?, thickness)?;
    Some((shift.value, shift.spread.uncertainty()))
}
