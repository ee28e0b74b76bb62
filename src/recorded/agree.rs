//! What several carriers inside one file say of one thing: the first to speak stands, unless another contradicts it.

use crate::finding::{Code, Finding, Place};
use crate::naming::key;
use crate::number::short;
use crate::recorded::{CameraSettings, Reading, Recorded};
use crate::sourced::{Origin, Sourced};
use crate::units::Unit;

/// Puts lens and camera facts of `said`, the most telling first, into `recorded`, which has none yet.
///
/// Lens, serial number and readings that differ by more than their writing explains are findings, and then none of
/// them stands. Maker and model are written in too many ways to contradict each other: the first one stands.
pub(super) fn join(said: &[Recorded], recorded: &mut Recorded, findings: &mut Vec<Finding>) {
    let mut joint = Joint { findings };
    recorded.maker = said.iter().find_map(|said| said.maker.clone());
    recorded.model = said.iter().find_map(|said| said.model.clone());
    recorded.serial =
        joint.text("serial number", said.iter().filter_map(|said| said.serial.as_ref()));
    recorded.lens = joint.text("lens", said.iter().filter_map(|said| said.lens.as_ref()));
    recorded.focal_length =
        joint.reading("focal length", said.iter().filter_map(|said| said.focal_length.as_ref()));
    recorded.f_number =
        joint.reading("f-number", said.iter().filter_map(|said| said.f_number.as_ref()));
    recorded.t_number =
        joint.reading("T-number", said.iter().filter_map(|said| said.t_number.as_ref()));
    recorded.focus_distance = joint
        .reading("focus distance", said.iter().filter_map(|said| said.focus_distance.as_ref()));
    recorded.extender =
        joint.reading("optical extender", said.iter().filter_map(|said| said.extender.as_ref()));
    let settings = || said.iter().filter_map(|said| said.settings.as_deref());
    let mut agreed = CameraSettings {
        iso: joint.reading("ISO", settings().filter_map(|s| s.iso.as_ref())),
        exposure_index: joint
            .reading("exposure index", settings().filter_map(|s| s.exposure_index.as_ref())),
        shutter_angle: joint
            .reading("shutter angle", settings().filter_map(|s| s.shutter_angle.as_ref())),
        exposure_time: joint
            .reading("exposure time", settings().filter_map(|s| s.exposure_time.as_ref())),
        white_balance: joint
            .reading("white balance", settings().filter_map(|s| s.white_balance.as_ref())),
        ..CameraSettings::default()
    };
    agreed.white_balance_mode = settings().find_map(|s| s.white_balance_mode.clone());
    agreed.capture_rate = settings().find_map(|s| s.capture_rate.clone());
    recorded.settings = agreed.boxed();
}

struct Joint<'a> {
    findings: &'a mut Vec<Finding>,
}

impl Joint<'_> {
    fn text<'t>(
        &mut self,
        what: &str,
        mut said: impl Iterator<Item = &'t Sourced<String>>,
    ) -> Option<Sourced<String>> {
        let first = said.next()?;
        // One carrier may hold the name cut short, or with the maker's before it.
        let same = |other: &Sourced<String>| {
            let (a, b) = (key(&first.value), key(&other.value));
            a.contains(&b) || b.contains(&a)
        };
        match said.find(|other| !same(other)) {
            None => Some(first.clone()),
            Some(other) => {
                let texts = (&first.value[..], &other.value[..]);
                self.contradiction(what, texts, (&first.origin, &other.origin));
                None
            }
        }
    }

    fn reading<'t, U: Unit + 't>(
        &mut self,
        what: &str,
        mut said: impl Iterator<Item = &'t Reading<U>>,
    ) -> Option<Reading<U>> {
        let first = said.next()?;
        match said.find(|other| !first.agrees(other)) {
            None => Some(first.clone()),
            Some(other) => {
                let number = |reading: &Reading<U>| short(reading.value.number(), 3);
                let texts = (&number(first)[..], &number(other)[..]);
                self.contradiction(what, texts, (&first.origin, &other.origin));
                None
            }
        }
    }

    fn contradiction(&mut self, what: &str, texts: (&str, &str), at: (&Origin, &Origin)) {
        let path = |origin: &Origin| match origin {
            Origin::Media { path, .. } => path.to_string(),
            _ => String::new(),
        };
        let message = format!(
            "{what}: {} says {}, {} says {}; neither is taken",
            path(at.0),
            texts.0,
            path(at.1),
            texts.1
        );
        let finding = Finding::new(Code::MediaContradiction, message);
        let finding = match at.1 {
            Origin::Media { file, offset, .. } => finding.at(Place::byte(file.clone(), *offset)),
            _ => finding,
        };
        self.findings.push(finding.hint("write the true value into the lens notes"));
    }
}
