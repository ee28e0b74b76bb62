//! What the pictures of a report show, as data: what ran when, which rigs were used, what the media said and what it was.

use std::collections::BTreeMap;

use chrono::Timelike;

use crate::annotation::{Annotation, Attached, Setup, Shoot};
use crate::sourced::Quantity;
use crate::units::{Millimeters, Pixels};

use super::line::{attachment, lens, one_line};
use super::piece::{count, pieces};
use super::{FocalPair, Options, Rig, Span, Timeline};

/// What ran when on one day. A time of day is the creation time that the camera wrote.
pub(super) fn timeline(clips: &[&Annotation], options: &Options) -> Timeline {
    let mut timeline = Timeline::default();
    for annotation in clips {
        let clip = &annotation.clip;
        let Some(created) = &clip.media.created else {
            timeline.untimed.push(one_line(&clip.name));
            continue;
        };
        let midnight = f64::from(created.value.num_seconds_from_midnight());
        let rate = clip.media.rate.as_ref().map(|rate| rate.value.to_f64());
        for piece in pieces(annotation) {
            let setup = piece.setup;
            // Where in the clip a piece begins can only be told with a rate.
            let offset = match (piece.first, rate) {
                (0, _) => 0.0,
                (first, Some(rate)) => count(first) / rate,
                (_, None) => continue,
            };
            timeline.spans.push(Span {
                clip: one_line(&clip.name),
                roll: clip.roll.as_deref().map(one_line),
                camera: setup.camera.as_ref().map(|camera| one_line(&camera.value)),
                start: midnight + offset,
                seconds: piece.seconds,
                lens: setup.lens.value.as_ref().map(|_| lens(setup, options)),
                attachment: is_on(setup).then(|| attachment(setup, options)),
            });
        }
    }
    timeline.spans.sort_by(|a, b| a.start.total_cmp(&b.start));
    timeline
}

/// True where something stood between lens and camera.
fn is_on(setup: &Setup) -> bool {
    matches!(setup.attachment.as_ref().map(|on| &on.value), Some(Attached::On { .. }))
}

/// Every rig of which the recorded area is known, in the order in which it was first used.
pub(super) fn rigs(shoot: &Shoot, options: &Options) -> Vec<Rig> {
    let mut rigs: Vec<(Rig, usize)> = Vec::new();
    let mut index = BTreeMap::new();
    for (at, annotation) in shoot.clips.iter().enumerate() {
        for piece in pieces(annotation) {
            let Some(rig) = rig(piece.setup, options) else { continue };
            let bits = |mm: Option<Millimeters>| mm.map(|mm| mm.get().to_bits());
            let key = (
                rig.title.clone(),
                bits(Some(rig.width)),
                bits(Some(rig.height)),
                bits(rig.circle),
            );
            let place = *index.entry(key).or_insert(rigs.len());
            match rigs.get_mut(place) {
                Some((rig, last)) if *last != at => (rig.clips, *last) = (rig.clips + 1, at),
                Some(_) => {}
                None => rigs.push((rig, at)),
            }
        }
    }
    rigs.into_iter().map(|(rig, _)| rig).collect()
}

fn rig(setup: &Setup, options: &Options) -> Option<Rig> {
    let derived = &setup.derived;
    let (width, height) = (derived.back_width.as_ref()?.value, derived.back_height.as_ref()?.value);
    setup.lens.value.as_ref()?;
    let camera = [&setup.camera, &setup.mode].into_iter().flatten();
    let camera: Vec<String> = camera.map(|word| one_line(&word.value)).collect();
    let words = [lens(setup, options), attachment(setup, options), camera.join(" ")];
    let words: Vec<String> = words.into_iter().filter(|word| !word.is_empty()).collect();
    let dark = |lost: &Option<Quantity<Millimeters>>, pixels: &Option<Quantity<Pixels>>| {
        lost.as_ref().map(|lost| (lost.value, pixels.as_ref().map(|px| px.value.get())))
    };
    Some(Rig {
        title: words.join(", "),
        clips: 1,
        width,
        height,
        circle: derived.image_circle.as_ref().map(|circle| circle.value),
        dark: dark(&derived.dark_corner, &derived.dark_corner_pixels),
        dark_sides: dark(&derived.dark_sides, &derived.dark_sides_pixels),
        dark_top_bottom: dark(&derived.dark_top_bottom, &derived.dark_top_bottom_pixels),
    })
}

/// The lens, and what it stood behind.
fn rig_words(setup: &Setup, options: &Options) -> String {
    let lens = lens(setup, options);
    if is_on(setup) { format!("{lens}, {}", attachment(setup, options)) } else { lens }
}

/// Recorded and true focal length of every piece of which either is known.
pub(super) fn focals(shoot: &Shoot, options: &Options) -> Vec<FocalPair> {
    let of_clip = |annotation: &Annotation| -> Vec<FocalPair> {
        let clip = &annotation.clip;
        let pairs = pieces(annotation).into_iter().filter_map(|piece| {
            let focal = &piece.setup.focal_length;
            let (recorded, effective) = (focal.recorded.as_ref(), focal.value.as_ref());
            (recorded.is_some() || effective.is_some()).then(|| FocalPair {
                clip: one_line(&clip.name),
                roll: clip.roll.as_deref().map(one_line),
                rig: rig_words(piece.setup, options),
                recorded: recorded.map(|mm| mm.value),
                effective: effective.map(|mm| mm.value),
                verdict: focal.verdict,
            })
        });
        pairs.collect()
    };
    shoot.clips.iter().flat_map(of_clip).collect()
}
