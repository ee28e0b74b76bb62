//! One value out of all that a file records of the same thing: those that contradict each other cancel out.

use std::sync::Arc;

use crate::finding::{Code, Finding, Place};
use crate::recorded::acquisition::Acquisition;
use crate::recorded::{CameraSettings, Reading, Recorded};
use crate::sourced::Origin;
use crate::units::Unit;

/// What every contradiction is answered with.
pub(super) const HINT: &str =
    "look at the tags of the clip, and note the right value in the lens notes";

/// Fills the readings of `recorded` from acquisition metadata and keeps its tags. What stands in `recorded` already has
/// a say too.
pub(super) fn add(
    acquisition: Acquisition,
    file: &Arc<str>,
    recorded: &mut Recorded,
    findings: &mut Vec<Finding>,
) {
    let Acquisition { focal_length, f_number, t_number, focus_distance, extender, settings, tags } =
        acquisition;
    let mut table = Table { file, findings };
    table.settle("focal length", &mut recorded.focal_length, focal_length);
    table.settle("f-number", &mut recorded.f_number, f_number);
    table.settle("T-number", &mut recorded.t_number, t_number);
    table.settle("focus distance", &mut recorded.focus_distance, focus_distance);
    table.settle("optical extender", &mut recorded.extender, extender);
    recorded.settings = table.settings(settings).boxed();
    recorded.tags.extend(tags);
}

struct Table<'a> {
    file: &'a Arc<str>,
    findings: &'a mut Vec<Finding>,
}

impl Table<'_> {
    /// How the camera was set; a capture rate and a word for the white balance are those said first.
    fn settings(&mut self, all: Vec<CameraSettings>) -> CameraSettings {
        let mut settled = CameraSettings::default();
        let (mut iso, mut index) = (Vec::new(), Vec::new());
        let (mut angle, mut time, mut balance) = (Vec::new(), Vec::new(), Vec::new());
        for mut said in all {
            iso.extend(said.iso.take());
            index.extend(said.exposure_index.take());
            angle.extend(said.shutter_angle.take());
            time.extend(said.exposure_time.take());
            balance.extend(said.white_balance.take());
            settled.fill(said);
        }
        self.settle("ISO", &mut settled.iso, iso);
        self.settle("exposure index", &mut settled.exposure_index, index);
        self.settle("shutter angle", &mut settled.shutter_angle, angle);
        self.settle("exposure time", &mut settled.exposure_time, time);
        self.settle("white balance", &mut settled.white_balance, balance);
        settled
    }

    /// The finest of all readings where they agree, none where two of them do not.
    fn settle<U: Unit>(
        &mut self,
        name: &str,
        slot: &mut Option<Reading<U>>,
        more: Vec<Reading<U>>,
    ) {
        let mut all: Vec<Reading<U>> = slot.take().into_iter().chain(more).collect();
        all.sort_by(|a, b| a.half_step.total_cmp(&b.half_step));
        let mut rest = all.into_iter();
        let Some(finest) = rest.next() else { return };
        let other = rest.find(|reading| !agree(&finest, reading));
        let Some(other) = other else {
            *slot = Some(finest);
            return;
        };
        let message = format!(
            "the file records two values of the {name}, {} and {}; none is used",
            finest.raw, other.raw
        );
        let place = match &other.origin {
            Origin::Media { offset, .. } => Place::byte(Arc::clone(self.file), *offset),
            _ => Place::file(Arc::clone(self.file)),
        };
        self.findings.push(Finding::new(Code::MediaContradiction, message).at(place).hint(HINT));
    }
}

/// Two readings agree where they may be one number that was rounded twice.
fn agree<U: Unit>(a: &Reading<U>, b: &Reading<U>) -> bool {
    let (first, second) = (a.value.number(), b.value.number());
    let same = first.is_infinite() && second.is_infinite();
    let off = (first - second).abs();
    same || off <= (a.half_step + b.half_step) * (1.0 + 1e-9)
}
