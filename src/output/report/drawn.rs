//! The pictures of a report as drawings, for a page and for paper.

use std::collections::BTreeMap;

use chrono::{Duration, NaiveDate, NaiveTime};

use super::{Day, Report, Rig, Span, Word};
use crate::output::Drawing;
use crate::output::picture::{self, Circle, Dark, View};
use crate::output::pictures::{Compared, Focals, Lane, LaneKind, Picture, Stretch, Timeline};
use crate::units::Millimeters;

/// What ran when on a day. Nothing where no clip of it has a time of day: those are listed anyway.
pub fn day(report: &Report, day: &Day) -> Vec<Drawing> {
    if day.timeline.spans.is_empty() {
        return Vec::new();
    }
    let say = |word| report.options.say(word);
    let midnight = day.date.unwrap_or_default().and_time(NaiveTime::MIN);
    let mut cameras: Vec<Option<&str>> = Vec::new();
    for span in &day.timeline.spans {
        if !cameras.contains(&span.camera.as_deref()) {
            cameras.push(span.camera.as_deref());
        }
    }
    cameras.sort_unstable();
    let mut lanes = Vec::new();
    for camera in cameras {
        let name = match camera {
            Some(camera) => format!("{} {camera}", say(Word::Camera)),
            None => format!("{}: {}", say(Word::Camera), say(Word::NotKnown)),
        };
        let spans = || day.timeline.spans.iter().filter(|span| span.camera.as_deref() == camera);
        let lane = |kind, label: fn(&Span) -> Option<&String>| {
            let stretches = spans().filter_map(|span| stretch(span, label(span)?, midnight.date()));
            Lane { camera: name.clone(), kind, stretches: stretches.collect() }
        };
        lanes.push(lane(LaneKind::Roll, |span| span.roll.as_ref()));
        lanes.push(lane(LaneKind::Lens, |span| span.lens.as_ref()));
        lanes.push(lane(LaneKind::Attachment, |span| span.attachment.as_ref()));
    }
    let title = format!("{}: {}", say(Word::Timeline), day.heading);
    let without_time = day.timeline.untimed.clone();
    Picture::Timeline(Timeline { title, lanes, without_time }).drawings()
}

fn stretch(span: &Span, label: &str, day: NaiveDate) -> Option<Stretch> {
    let at = |seconds: f64| {
        // A clip runs hours, not centuries; one that claims more is drawn as long as a day.
        #[expect(clippy::cast_possible_truncation, reason = "between 0 and 172,800")]
        let seconds = seconds.clamp(0.0, 172_800.0) as i64;
        day.and_time(NaiveTime::MIN).checked_add_signed(Duration::seconds(seconds))
    };
    let to = span.start + span.seconds.unwrap_or(0.0);
    Some(Stretch { from: at(span.start)?, to: at(to)?, label: label.to_owned() })
}

/// Rigs of one drawing that are named before the rest is counted.
const MOST_RIGS: usize = 6;

/// The recorded area in the image circle of each rig. Rigs that look the same are one drawing, and those with dark
/// corners come first.
pub fn rigs(report: &Report) -> Vec<Drawing> {
    let mut alike: Vec<(&Rig, Vec<&Rig>)> = Vec::new();
    let mut index = BTreeMap::new();
    for rig in &report.rigs {
        let bits = |mm: Millimeters| mm.get().to_bits();
        let look = (bits(rig.width), bits(rig.height), rig.circle.map(bits));
        let at = *index.entry(look).or_insert(alike.len());
        match alike.get_mut(at) {
            Some((_, rigs)) => rigs.push(rig),
            None => alike.push((rig, vec![rig])),
        }
    }
    if alike.is_empty() {
        return Vec::new();
    }
    alike.sort_by_key(|(rig, _)| rig.dark.is_none());
    let scenes = alike.iter().map(|(rig, rigs)| view(report, rig, rigs)).collect();
    Picture::Circles(picture::Picture { title: report.options.say(Word::Rigs), scenes }).drawings()
}

fn view(report: &Report, rig: &Rig, alike: &[&Rig]) -> View {
    let dark =
        |lost: Option<(Millimeters, Option<f64>)>| lost.map(|(lost, pixels)| Dark { lost, pixels });
    let clips = report.options.say(Word::Clips);
    let mut lines = vec![format!("{clips}: {}", alike.iter().map(|rig| rig.clips).sum::<usize>())];
    if alike.len() > 1 {
        let counted = |rig: &&Rig| format!("{}: {}", rig.title, rig.clips);
        lines.extend(alike.iter().take(MOST_RIGS).map(counted));
    }
    let rest = alike.len().saturating_sub(MOST_RIGS);
    if rest > 0 {
        lines.push(format!("+ {rest}"));
    }
    let label = match alike.len() {
        1 => rig.title.clone(),
        rigs => format!("{} + {}", rig.title, rigs - 1),
    };
    View {
        label,
        width: rig.width,
        height: rig.height,
        circle: rig.circle.map(|diameter| Circle { diameter, exit_limited: false }),
        plate: None,
        dark: dark(rig.dark),
        dark_sides: dark(rig.dark_sides),
        dark_top_bottom: dark(rig.dark_top_bottom),
        lines,
    }
}

/// What the media said the focal length was, and what it was.
pub fn focals(report: &Report) -> Vec<Drawing> {
    let clips = report.focals.iter().map(|pair| Compared {
        clip: pair.clip.clone(),
        rig: pair.rig.clone(),
        recorded: pair.recorded,
        stands: pair.effective,
        verdict: pair.verdict,
    });
    let title = report.options.say(Word::Focals);
    Picture::Focals(Focals { title, clips: clips.collect() }).drawings()
}
