//! Lens data of the media over the frames of a clip: where a later file says something else than the one before.

use std::sync::Arc;

use crate::annotation::ClipFile;
use crate::finding::{Code, Finding, Place};
use crate::recorded::{FileFacts, LensData, Reading, Recorded};
use crate::units::Unit;

/// Most pieces of a spanned clip that come of its media; each file of it has a cap of its own.
const MOST_CHANGES: usize = 2000;

/// From which frame on which lens data holds, over the files of a clip. A file that says nothing of a field changes nothing.
pub(super) fn over_files(
    recorded: &[FileFacts],
    files: &[ClipFile],
    name: &Arc<str>,
    findings: &mut Vec<Finding>,
) -> Vec<(u64, LensData)> {
    let mut now = recorded.first().map(|first| LensData::of(&first.recorded)).unwrap_or_default();
    let mut changes = Vec::new();
    for (FileFacts { recorded, .. }, file) in recorded.iter().zip(files) {
        let said = LensData::of(recorded);
        if differs(&now, &said) {
            now = over(now, said);
            match file.first_frame {
                Some(frame) => changes.push((frame, now.clone())),
                None => findings.push(lost(file, name)),
            }
        }
        // A file of which nobody knows where it begins has said so already, or says the same as the one before.
        let Some(first) = file.first_frame else { continue };
        for (frame, said) in &recorded.per_frame {
            if changes.len() >= MOST_CHANGES {
                break;
            }
            // The first sample is what the file says as a whole, unless an edit hides it.
            if *frame == 0 && !differs(&now, said) {
                continue;
            }
            now = said.clone();
            changes.push((first.saturating_add(*frame), now.clone()));
        }
    }
    changes
}

fn lost(file: &ClipFile, name: &Arc<str>) -> Finding {
    let message = "this part says another lens setting than the one before, and the frame at which it begins is not known";
    Finding::new(Code::MediaContradiction, message)
        .at(Place::file(Arc::clone(&file.shown)))
        .clip(Arc::clone(name))
        .hint("write the change into the lens notes, with its timecode")
}

/// `media` with the lens data that holds at `frame`.
pub(super) fn at(media: &Recorded, changes: &[(u64, LensData)], frame: u64) -> Recorded {
    let mut media = media.clone();
    if let Some((_, now)) = changes.iter().take_while(|(from, _)| *from <= frame).last() {
        let LensData { lens, focal_length, f_number, t_number, focus_distance, extender } =
            now.clone();
        (media.lens, media.focal_length, media.f_number) = (lens, focal_length, f_number);
        (media.t_number, media.focus_distance) = (t_number, focus_distance);
        media.extender = extender;
    }
    media
}

/// True where `said` changes something of `now`.
fn differs(now: &LensData, said: &LensData) -> bool {
    let lens = said
        .lens
        .as_ref()
        .is_some_and(|said| now.lens.as_ref().is_none_or(|now| now.value != said.value));
    lens || other(now.focal_length.as_ref(), said.focal_length.as_ref())
        || other(now.f_number.as_ref(), said.f_number.as_ref())
        || other(now.t_number.as_ref(), said.t_number.as_ref())
        || other(now.focus_distance.as_ref(), said.focus_distance.as_ref())
        || other(now.extender.as_ref(), said.extender.as_ref())
}

fn other<U: Unit>(now: Option<&Reading<U>>, said: Option<&Reading<U>>) -> bool {
    said.is_some_and(|said| {
        now.is_none_or(|now| now.value.number().to_bits() != said.value.number().to_bits())
    })
}

fn over(now: LensData, said: LensData) -> LensData {
    LensData {
        lens: said.lens.or(now.lens),
        focal_length: said.focal_length.or(now.focal_length),
        f_number: said.f_number.or(now.f_number),
        t_number: said.t_number.or(now.t_number),
        focus_distance: said.focus_distance.or(now.focus_distance),
        extender: said.extender.or(now.extender),
    }
}
