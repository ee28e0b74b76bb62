//! What a recorded focal length can have come from where notes do not say: lenses of the kit, the name that the media
//! gives its lens, and the attachment with which recorded and noted would agree.

use crate::kit::Lens;
use crate::units::{Factor, Millimeters};

use super::engraved::engraved;
use super::focal::SLIP;
use super::settle::Bench;
use super::weigh::{Case, Native};

impl Bench<'_, '_> {
    /// What a lens can show of which the media alone tells the name, and in it its focal length.
    pub(super) fn named_in_media(&self) -> Option<Native> {
        let (low, high) = engraved(&self.scene.media.lens.as_ref()?.value)?;
        let relative = self.scene.kit.defaults.focal;
        Some(Native::between(low * (1.0 - relative), high * (1.0 + relative)))
    }

    /// What any lens of the kit can show that goes on what was on the camera. Nothing where a lens was noted that is
    /// not in the kit: then the kit does not have them all.
    pub(super) fn any_of_kit(&self) -> Option<Native> {
        if self.said.lens.said().is_some() || self.said.lens.disputed() {
            return None;
        }
        let relative = self.scene.kit.defaults.focal;
        let span = |lens: &Lens| {
            let (low, high) = match (lens.range, &lens.focal) {
                (Some((low, high)), _) => (low.get(), high.get()),
                (None, Some(focal)) => (focal.value.get(), focal.value.get()),
                (None, None) => return None,
            };
            Some((low * (1.0 - relative), high * (1.0 + relative)))
        };
        Native::of_any(self.lenses().filter_map(span))
    }

    /// Lenses of the kit that go on the attachment, as far as mounts are known.
    fn lenses(&self) -> impl Iterator<Item = &Lens> {
        let takes = self.rig.on().and_then(|attachment| attachment.lens_mount.as_ref());
        let goes_on = move |lens: &&Lens| {
            takes.zip(lens.mount.as_ref()).is_none_or(|(takes, mount)| takes == mount)
        };
        self.scene.kit.lenses.iter().filter(goes_on)
    }

    /// The attachments of the kit with which recorded and noted focal length would agree, where they do not with what
    /// is known: in words, to be looked at and not to be applied.
    pub(super) fn would_agree(&self, case: &Case) -> Option<String> {
        let native = case.native.as_ref().filter(|_| case.best.is_some())?;
        let reading = case.reading?;
        // Without an attachment they agree, or with the one that is known.
        let agrees = match case.magnification {
            None => native.explains(reading, 1.0, 0.0),
            Some((m, relative)) => {
                native.explains(reading, 1.0, 0.0) || native.explains(reading, m, relative)
            }
        };
        if agrees {
            return None;
        }
        let lens_mount = self.lens_kit().and_then(|lens| lens.mount.as_ref());
        let fits = |on: &&crate::kit::Attachment| {
            let m = &on.magnification;
            let goes_on =
                lens_mount.zip(on.lens_mount.as_ref()).is_none_or(|(lens, takes)| lens == takes);
            goes_on && native.explains(reading, m.value.get(), m.relative().unwrap_or(0.0))
        };
        let names: Vec<&str> = self
            .scene
            .kit
            .attachments
            .iter()
            .filter(fits)
            .map(|on| on.name.as_str())
            .take(3)
            .collect();
        let only = if case.magnification.is_none() { "agree only" } else { "would agree" };
        (!names.is_empty())
            .then(|| format!("recorded and noted {only} with {} on the camera", names.join(" or ")))
    }

    /// What a recorded focal length could be, in words, when no lens is noted.
    pub(super) fn candidates(&self) -> String {
        let words = || {
            let reading = self.scene.media.focal_length.as_ref()?;
            let reach = reading.half_step + SLIP * reading.value.get();
            let near = |lens: &&Lens, m: Factor| {
                let marked = |mark: Millimeters| mark.get() * m.get() - reading.value.get();
                lens.marked_focal.is_some_and(|mark| marked(mark).abs() <= reach)
            };
            let lenses = &self.scene.kit.lenses;
            let one = Factor::new(1.0)?;
            let m = self.rig.magnification()?.value;
            let bare = lenses.iter().find(|lens| near(lens, one))?;
            let behind = lenses.iter().find(|lens| near(lens, m) && lens.id != bare.id)?;
            Some(format!("; it may be {} bare or {} behind the attachment", bare.name, behind.name))
        };
        words().unwrap_or_default()
    }
}
