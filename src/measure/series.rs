//! Shots sorted into series: the same lens, mark, attachment and focus setting.

use std::collections::BTreeMap;

use crate::estimate::Cause;
use crate::finding::{Code, Finding, nearest};
use crate::kit::called::{attachment_called, lens_called};
use crate::kit::{Attachment, Kind, Kit, Lens};
use crate::naming::key;
use crate::notes::AttachmentNote;
use crate::notes::cells::quoted;
use crate::number::short;
use crate::optics::attachment::shift;
use crate::units::{Factor, Millimeters, Offset};

use super::shots::{Setting, Shot};

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
    /// The shots, in the order of the sheet; never empty.
    pub shots: Vec<Shot>,
    /// What lens, mark and focus setting are compared by.
    setting: SettingKey,
}

/// Lens as names are compared, mark, focus setting.
type SettingKey = (String, Option<i64>, i64);

/// A lens as the sheet and the kit know it.
#[derive(Clone, Debug, PartialEq)]
pub struct Glass {
    /// As typed, or its name in the kit; `None` where the sheet does not say.
    pub name: Option<String>,
    /// Id in the kit.
    pub id: Option<String>,
    /// True for a zoom of the kit.
    pub zoom: bool,
    /// Entrance pupil of the lens alone from the sensor plane, and its standard uncertainty where known.
    pub pupil: Option<(Offset, Option<f64>)>,
}

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
    /// How far it brings the sensor plane toward the lens.
    pub shift: Option<Offset>,
}

impl Series {
    /// The series in words: `Sorrel 50, corbel-071, focus 2 m`.
    pub fn title(&self) -> String {
        let lens = self.lens.name.as_deref().unwrap_or("lens");
        let at = self.focal.map(|focal| format!(" at {} mm", short(focal.get(), 1)));
        let at = at.unwrap_or_default();
        format!("{lens}{at}, {}, {}", self.between.name, self.focus.words())
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

/// Sorts shots into series, in the order in which each is met. Names that the kit does not have are findings.
pub fn sort(shots: Vec<Shot>, kit: Option<&Kit>) -> (Vec<Series>, Vec<Finding>) {
    let (mut all, mut findings): (Vec<Series>, _) = (Vec::new(), Vec::new());
    let mut index = BTreeMap::new();
    let mut lenses: Vec<(Option<String>, Glass)> = Vec::new();
    let mut betweens: Vec<(AttachmentNote, Between)> = Vec::new();
    for shot in shots {
        let met = lenses.iter().find(|(typed, _)| *typed == shot.lens);
        let lens = if let Some((_, lens)) = met {
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
        let (focal, focus) = (shot.focal, shot.focus);
        let setting = (key(name), focal.map(|focal| micro(focal.get())), focus.micro());
        let at = *index.entry((setting.clone(), key(&between.name))).or_insert(all.len());
        match all.get_mut(at) {
            Some(series) => series.shots.push(shot),
            None => all.push(Series { lens, focal, between, focus, shots: vec![shot], setting }),
        }
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

fn lens(shot: &Shot, kit: Option<&Kit>, findings: &mut Vec<Finding>) -> Glass {
    let unknown = Glass { name: shot.lens.clone(), id: None, zoom: false, pupil: None };
    let (Some(typed), Some(kit)) = (&shot.lens, kit) else { return unknown };
    match lens_called(&kit.lenses, typed) {
        Ok(lens) => of_kit(lens),
        Err(several) => {
            let known = kit.lenses.iter().map(|lens| lens.id.as_str());
            findings.push(
                stranger(Code::LensUnknown, "lens", typed, several, known).at(shot.place.clone()),
            );
            unknown
        }
    }
}

fn of_kit(lens: &Lens) -> Glass {
    Glass {
        name: Some(lens.name.clone()),
        id: Some(lens.id.clone()),
        zoom: lens.is_zoom(),
        pupil: lens.pupil_offset.as_ref().map(|pupil| (pupil.value, pupil.uncertainty)),
    }
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
                shift: Offset::new(0.0),
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
        shift: None,
    };
    let Some(kit) = kit else { return unknown };
    match attachment_called(&kit.attachments, typed) {
        Ok(attachment) => Between {
            name: attachment.id.clone(),
            id: Some(attachment.id.clone()),
            bare: attachment.kind == Kind::Adapter,
            plain: attachment.kind == Kind::Adapter,
            marked: attachment.marked.or(match attachment.kind {
                Kind::Adapter => Factor::new(1.0),
                Kind::Reducer | Kind::Extender => None,
            }),
            shift: brought_forward(attachment, kit),
        },
        Err(several) => {
            let known = kit.attachments.iter().map(|attachment| attachment.id.as_str());
            let finding = stranger(Code::AttachmentUnknown, "attachment", typed, several, known);
            findings.push(finding.at(shot.place.clone()));
            unknown
        }
    }
}

/// As stated, else from the flange depths and the thickness (docs/optics.md).
fn brought_forward(attachment: &Attachment, kit: &Kit) -> Option<Offset> {
    if let Some(stated) = &attachment.shift {
        return Some(stated.value);
    }
    let flange = |id: &Option<String>| {
        let mount = kit.mounts.iter().find(|mount| Some(&mount.id) == id.as_ref())?;
        Some(mount.flange.value)
    };
    let thickness = attachment.thickness.as_ref()?.estimate(Cause::Shift);
    let shift = shift(flange(&attachment.lens_mount)?, flange(&attachment.body_mount)?, thickness)?;
    Some(shift.value)
}

fn stranger<'k>(
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
