//! Focal length and stop of one clip held against each other: contacts that change one and not the other are rare.

use crate::annotation::Verdict;
use crate::finding::Code;
use crate::kit::Reports;

use super::settle::Bench;

impl Bench<'_, '_> {
    /// Questions a clip whose focal length was read as bare and whose stop as already reduced, or the other way round,
    /// unless the kit says that the attachment does so.
    pub(super) fn halves(&mut self, focal: Option<Verdict>, stop: Option<Verdict>) {
        let Some(on) = self.rig.on() else { return };
        let (first, second, kit) = match (focal, stop) {
            (Some(Verdict::Scaled), Some(Verdict::Kept)) => {
                ("bare", "behind the attachment", (Reports::Marked, Reports::Reduced))
            }
            (Some(Verdict::Kept), Some(Verdict::Scaled)) => {
                ("behind the attachment", "bare", (Reports::Reduced, Reports::Marked))
            }
            _ => return,
        };
        let said = on.reports_focal.zip(on.reports_stop);
        if said == Some(kit) || (on.magnification.value.get() - 1.0).abs() < 1e-9 {
            return;
        }
        let message = format!(
            "the focal length was recorded {first} and the stop {second}: one of them may be noted wrong"
        );
        let hint = "check lens and stop in the notes; if this attachment does so, say reports = { focal = \"...\", stop = \"...\" } in the kit";
        let place = self.said.stop.said().map(|noted| noted.place.clone());
        self.say(Code::AttachmentHalf, place.as_ref(), message, hint);
    }
}
