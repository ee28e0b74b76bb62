//! Fields that an attachment does not change: focus distance and the name of the lens. Media and notes agree or they do not.

use crate::annotation::{Settled, Verdict};
use crate::finding::{Code, Place};
use crate::number::short;
use crate::sourced::{Basis, Quantity, Sourced};
use crate::units::Meters;

use super::Trust;
use super::settle::{Bench, as_recorded};
use crate::kit::called::lens_called;

impl Bench<'_, '_> {
    /// The focus distance: measured to the sensor-plane mark, whatever stands behind the lens.
    pub(super) fn focus_distance(&mut self) -> Settled<Quantity<Meters>> {
        let spread = self.scene.kit.defaults.focus;
        let reading = self.scene.media.focus_distance.as_ref();
        let recorded = reading.map(|reading| as_recorded(reading, spread));
        let noted = self.said.focus.said();
        let value = noted.map(|noted| Quantity {
            value: noted.value,
            uncertainty: Some(spread * noted.value.get()).filter(|u| u.is_finite()),
            basis: Basis::Nominal,
            origin: noted.origin.clone(),
        });
        let agree = |recorded: &Quantity<Meters>, noted: &Quantity<Meters>| {
            let (a, b) = (recorded.value.get(), noted.value.get());
            let step = reading.map_or(0.0, |reading| reading.half_step);
            (a.is_infinite() && b.is_infinite()) || (a - b).abs() <= step + 2.0 * spread * b
        };
        let differ = |recorded: &Quantity<Meters>, noted: &Quantity<Meters>| {
            let (a, b) = (short(recorded.value.get(), 3), short(noted.value.get(), 3));
            format!("focus distance: recorded {a} m, noted {b} m")
        };
        let place = noted.map(|noted| &noted.place);
        let hint = "check the note; with --trust notes or --trust media one of them is taken";
        let disputed = self.said.focus.disputed();
        self.agree((recorded, value, disputed), agree, differ, (place, hint))
    }

    /// The lens, by the name the kit gives it.
    pub(super) fn lens(&mut self) -> Settled<Sourced<String>> {
        let recorded = self.scene.media.lens.clone();
        let rig = self.rig;
        let kit = self.scene.kit;
        let known = rig.lens.as_ref().map(|lens| lens.of(|lens| lens.name.clone()));
        let agree = |recorded: &Sourced<String>, _: &Sourced<String>| {
            let called = lens_called(&kit.lenses, &recorded.value).ok();
            called.map(|lens| &lens.id) == rig.lens.as_ref().map(|lens| &lens.value.id)
        };
        let differ = |recorded: &Sourced<String>, known: &Sourced<String>| {
            format!("lens: recorded \"{}\", noted \"{}\"", recorded.value, known.value)
        };
        let noted = self.said.lens.said();
        let place = noted.map(|noted| &noted.place);
        let hint = "if both are one lens, add the recorded name to its aliases in the kit; else check the note";
        // A lens noted that the kit does not have contradicts nothing, but neither does it let the recorded one stand.
        let media_goes = self.scene.trusts(Trust::Media) && recorded.is_some();
        let unclear =
            (self.said.lens.disputed() || (noted.is_some() && known.is_none())) && !media_goes;
        if self.against_lens && recorded.is_none() {
            let mut settled = Settled::unsaid();
            settled.verdict = Some(Verdict::Unresolved);
            "the media was trusted, as asked, and its focal length is not that of the lens noted"
                .clone_into(&mut settled.reason);
            return settled;
        }
        let mut settled = self.agree((recorded, known, unclear), agree, differ, (place, hint));
        // A recorded spelling gives way to the kit's where both mean one lens.
        if let (Some(Verdict::Kept), Some(lens)) = (settled.verdict, &rig.lens) {
            settled.value = Some(lens.of(|lens| lens.name.clone()));
        }
        settled
    }

    /// Settles a field that nothing between lens and camera changes.
    pub(super) fn agree<T: Clone>(
        &mut self,
        (recorded, noted, unclear): (Option<T>, Option<T>, bool),
        agree: impl Fn(&T, &T) -> bool,
        differ: impl Fn(&T, &T) -> String,
        (place, hint): (Option<&Place>, &str),
    ) -> Settled<T> {
        let settled = |verdict, value, recorded, reason: &str| Settled {
            verdict: Some(verdict),
            value,
            recorded,
            reason: reason.to_owned(),
        };
        let unresolved = |recorded, why: &str| settled(Verdict::Unresolved, None, recorded, why);
        match (recorded, noted) {
            (recorded, _) if unclear => unresolved(recorded, "what was noted is not clear"),
            (None, None) => Settled::unsaid(),
            (None, noted) => settled(Verdict::Filled, noted, None, "from notes or kit"),
            (recorded, None) => {
                settled(Verdict::Kept, recorded.clone(), recorded, "nothing else was noted")
            }
            (Some(a), Some(b)) if agree(&a, &b) => {
                settled(Verdict::Kept, Some(a.clone()), Some(a), "agrees with notes and kit")
            }
            (Some(a), Some(b)) if self.scene.trusts(Trust::Media) => {
                let message = format!("{}; the media was taken, as asked", differ(&a, &b));
                self.say(Code::FieldKept, place, message, "nothing to do");
                settled(Verdict::Kept, Some(a.clone()), Some(a), "the media was trusted, as asked")
            }
            (Some(a), Some(b)) if self.scene.trusts(Trust::Notes) => {
                let message = format!("{}; the notes were taken, as asked", differ(&a, &b));
                self.say(Code::FieldReplaced, place, message, "nothing to do");
                settled(Verdict::Replaced, Some(b), Some(a), "the notes were trusted, as asked")
            }
            (Some(a), Some(b)) => {
                let message = differ(&a, &b);
                self.say(Code::FieldContradiction, place, message.clone(), hint);
                unresolved(Some(a), &message)
            }
        }
    }
}
