//! Focal length: what the lens was set to, and what that came out as behind the attachment.

use crate::estimate::Cause;
use crate::finding::Code;
use crate::kit::Lens;
use crate::notes::{FocalNote, Noted};
use crate::number::short;
use crate::optics::attachment as behind;
use crate::sourced::{Basis, Known, Quantity};
use crate::units::Millimeters;

use super::settle::{Aside, Bench, Choice, Finished, Weighed, as_recorded, finish};
use super::weigh::{Case, Native};

/// How far a noted focal length may lie from a prime's mark and still mean it: 49 or 51 for 50 (common practice, no source).
pub(super) const SLIP: f64 = 0.02;

/// The lens alone, as far as notes and kit tell its focal length.
#[derive(Default)]
pub(super) struct LensFocal {
    pub(super) best: Option<Quantity<Millimeters>>,
    native: Option<Native>,
    /// Rows disagree, or notes and kit exclude each other: nothing may be built on them.
    unusable: bool,
}

impl LensFocal {
    fn unusable() -> Self {
        Self { unusable: true, ..Self::default() }
    }
}

impl Bench<'_, '_> {
    /// What notes and kit say of the lens alone.
    pub(super) fn lens_focal(&mut self) -> LensFocal {
        if self.said.focal.disputed() {
            return LensFocal::unusable();
        }
        let noted = match self.said.focal.said() {
            Some(noted) => match noted.value {
                FocalNote::At(at) => Some(noted_at(noted, at)),
                FocalNote::Moves(from, to) => return self.zooms(noted, from, to),
            },
            None => None,
        };
        let noted = noted.as_ref();
        let relative = self.scene.kit.defaults.focal;
        let from_note = noted.map(|noted| Quantity {
            value: noted.value,
            uncertainty: Some(relative * noted.value.get()),
            basis: Basis::Nominal,
            origin: noted.origin.clone(),
        });
        let Some(lens) = self.lens_kit() else {
            let unnamed = || self.named_in_media().or_else(|| self.any_of_kit());
            let native = from_note.as_ref().map(Native::around).or_else(unnamed);
            return LensFocal { native, best: from_note, unusable: false };
        };
        if let Some(message) = noted.and_then(|noted| cannot_be(lens, noted)) {
            let hint = "check which lens was on; the focal length is left out";
            self.say(Code::LensFocal, noted.map(|n| &n.place), message, hint);
            return LensFocal::unusable();
        }
        if let Some((low, high)) = lens.range {
            let reach =
                Native::between(low.get() * (1.0 - relative), high.get() * (1.0 + relative));
            if from_note.is_none() && self.scene.media.focal_length.is_none() {
                let place = self.said.lens.said().map(|noted| &noted.place);
                let message = format!("{} is a zoom, and its focal length is not noted", lens.name);
                self.say(Code::LensFocal, place, message, "note the focal length on the barrel");
            }
            let native = from_note.as_ref().map_or(reach, Native::around);
            return LensFocal { native: Some(native), best: from_note, unusable: false };
        }
        let best = lens.focal.clone();
        let mark = lens.marked_focal.map(Millimeters::get);
        let native = best.as_ref().map(|best| Native::around(best).marked(mark));
        LensFocal { best, native, unusable: false }
    }

    /// The lens zooms over the piece: from where to where is known, what it was at each frame is not, and a number of its
    /// beginning would be wrong for the rest. Only media that tell the focal length frame by frame know more.
    fn zooms(&mut self, noted: &Noted<FocalNote>, from: Millimeters, to: Millimeters) -> LensFocal {
        if let Some(lens) = self.lens_kit() {
            let ends = [from, to].map(|end| cannot_be(lens, &noted_at(noted, end)));
            if let Some(message) = ends.into_iter().flatten().next() {
                let hint = "check which lens was on; the focal length is left out";
                self.say(Code::LensFocal, Some(&noted.place), message, hint);
                return LensFocal::unusable();
            }
        }
        if self.scene.by_frame && self.scene.media.focal_length.is_some() {
            let relative = self.scene.kit.defaults.focal;
            let (low, high) = if from < to { (from, to) } else { (to, from) };
            let native =
                Native::between(low.get() * (1.0 - relative), high.get() * (1.0 + relative));
            return LensFocal { native: Some(native), best: None, unusable: false };
        }
        let message = format!("the lens {}; the focal length is left out", zoom_words(from, to));
        let hint =
            "for numbers write a row for each part of the clip, with the timecode where it begins";
        self.say(Code::LensZooms, Some(&noted.place), message, hint);
        LensFocal::unusable()
    }

    /// The focal length, ready to be weighed.
    pub(super) fn focal_case(&self, focal: &LensFocal) -> Case {
        let m = self.rig.magnification();
        let reading = self.scene.media.focal_length.as_ref();
        Case {
            field: "focal length",
            unit: " mm",
            reading: reading.map(|reading| (reading.value.get(), reading.half_step)),
            native: focal.native.clone(),
            best: focal.best.as_ref().map(|best| best.value.get()),
            unusable: focal.unusable,
            magnification: m.as_ref().map(|m| (m.value.get(), m.relative().unwrap_or(0.0))),
            reports: self.rig.on().and_then(|attachment| attachment.reports_focal),
            habit: self.scene.habit.focal,
            stale: self.scene.habit.stale.clone(),
            silent: self.silent(),
        }
    }

    /// The effective focal length.
    pub(super) fn focal_length(&mut self, focal: &LensFocal) -> Finished<Millimeters> {
        let m = self.rig.magnification();
        let reading = self.scene.media.focal_length.as_ref();
        let case = self.focal_case(focal);
        let place = self.said.focal.said().map(|noted| &noted.place);
        let place = place.or(self.said.lens.said().map(|noted| &noted.place));
        let mut aside = Aside::default();
        if self.rig.lens.is_none() {
            aside.more = self.candidates();
        }
        self.inferred = self.would_agree(&case);
        if let Some(inferred) = &self.inferred {
            aside.more = format!("; {inferred}");
            aside.code = self.rig.attachment.is_none().then_some(Code::AttachmentInferred);
        }
        let Weighed { outcome, against_notes } = self.weighed(&case, place, &aside);
        self.say_habit(&case, &outcome);
        self.against_lens = against_notes;
        let recorded = reading.map(|reading| as_recorded(reading, self.scene.kit.defaults.focal));
        // A zoom's own reading is finer than a note of where its ring stood.
        let zoom = self.lens_kit().is_some_and(Lens::is_zoom);
        let bare = if zoom || against_notes {
            recorded.as_ref()
        } else {
            focal.best.as_ref().or(recorded.as_ref())
        };
        let m = m.as_ref().map(|m| m.known(Cause::Magnification));
        let choice = Choice {
            best: focal.best.as_ref(),
            bare,
            recorded: recorded.clone(),
            cause: Cause::Focal,
            scale: m.as_ref().map(|m| m.estimate),
        };
        finish(outcome, choice, |native| {
            let m = m.as_ref()?;
            let value = behind::focal_length(native.estimate(Cause::Focal), m.estimate)?;
            let rule = "effective focal length = magnification x focal length of the lens";
            Some(Known::computed(value, native.basis.weaker(m.binding()), rule))
        })
    }

    /// Where the ring of a zoom stood: as noted, else what came out, taken back through the attachment.
    pub(super) fn setting(
        &self,
        focal: &LensFocal,
        effective: Option<&Known<Millimeters>>,
    ) -> Option<Millimeters> {
        let (low, high) = self.lens_kit()?.range?;
        if let Some(noted) = &focal.best {
            return Some(noted.value);
        }
        let m = self.rig.magnification()?;
        let native = Millimeters::new(effective?.estimate.value.get() / m.value.get())?;
        // Rounding may have carried it a little beyond the end of the ring.
        Some(if native < low {
            low
        } else if native > high {
            high
        } else {
            native
        })
    }
}

/// A zoom in words, as it stands in the remarks.
pub(super) fn zoom_words(from: Millimeters, to: Millimeters) -> String {
    format!("zooms from {} to {} mm", short(from.get(), 2), short(to.get(), 2))
}

/// A noted focal length as one number of its cell.
fn noted_at(noted: &Noted<FocalNote>, value: Millimeters) -> Noted<Millimeters> {
    Noted {
        value,
        typed: noted.typed.clone(),
        origin: noted.origin.clone(),
        place: noted.place.clone(),
    }
}

/// Why a lens cannot have been set to what was noted.
fn cannot_be(lens: &Lens, noted: &Noted<Millimeters>) -> Option<String> {
    let typed = &noted.typed;
    if let Some((low, high)) = lens.range {
        let outside = noted.value < low || noted.value > high;
        let (low, high) = (short(low.get(), 2), short(high.get(), 2));
        return outside
            .then(|| format!("{typed} was noted, but {} goes from {low} to {high} mm", lens.name));
    }
    let mark = lens.marked_focal.or(lens.focal.as_ref().map(|focal| focal.value))?;
    let off = (noted.value.get() / mark.get() - 1.0).abs() > SLIP + 1e-9;
    let mark = short(mark.get(), 2);
    off.then(|| format!("{typed} was noted, but {} is a prime of {mark} mm", lens.name))
}
