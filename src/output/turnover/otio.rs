//! The cut as an `OpenTimelineIO` timeline, each clip with what it was taken with under the key `lensmend`.
//!
//! A cut that came as one keeps everything it says. An EDL becomes a timeline with a track for each channel of picture.

use serde_json::{Map, Value as Json, json};

use crate::annotation::Annotation;
use crate::cut::{Anchor, Time};
use crate::turnover::{Shot, Timing};

use super::{Handed, shot_json};

/// The one key of the metadata that is ours.
const KEY: &str = "lensmend";

/// The timeline as JSON. The error says why there is none.
pub fn write(handed: &Handed<'_>) -> Result<Vec<u8>, String> {
    let from_otio =
        handed.turnover.shots.iter().any(|shot| matches!(shot.event.anchor, Anchor::Pointer(_)));
    let timeline = if from_otio { again(handed) } else { made(handed) }?;
    let mut bytes = serde_json::to_vec_pretty(&timeline).map_err(|error| error.to_string())?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// The timeline that was handed in, with metadata added.
fn again(handed: &Handed<'_>) -> Result<Json, String> {
    let bytes = handed.cut_bytes;
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut root: Json = serde_json::from_slice(bytes).map_err(|error| error.to_string())?;
    for shot in &handed.turnover.shots {
        let Anchor::Pointer(at) = &shot.event.anchor else { continue };
        let Some(Json::Object(clip)) = root.pointer_mut(at) else { continue };
        let metadata = clip.entry("metadata").or_insert_with(|| json!({}));
        if !metadata.is_object() {
            *metadata = json!({});
        }
        if let Json::Object(metadata) = metadata {
            metadata.insert(KEY.to_owned(), Json::Object(shot_json(handed, shot)));
        }
    }
    Ok(root)
}

/// A timeline made of the events of a list.
fn made(handed: &Handed<'_>) -> Result<Json, String> {
    let timing = handed.turnover.timing.ok_or("the frame rate of the cut is not known")?;
    let begins =
        handed.turnover.shots.iter().filter_map(|shot| Some(placed(shot, timing)?.0)).min();
    let begins = begins.unwrap_or(0);
    let mut channels: Vec<&str> = Vec::new();
    for shot in &handed.turnover.shots {
        if !channels.contains(&shot.event.track.as_str()) {
            channels.push(&shot.event.track);
        }
    }
    let tracks: Vec<Json> =
        channels.iter().map(|channel| track(handed, timing, channel, begins)).collect();
    let mut timeline = Map::new();
    timeline.insert("OTIO_SCHEMA".into(), json!("Timeline.1"));
    timeline.insert("name".into(), json!(handed.turnover.title.as_deref().unwrap_or("")));
    timeline.insert("global_start_time".into(), rational(begins, timing.rate.to_f64()));
    timeline.insert("metadata".into(), json!({}));
    let stack = json!({
        "OTIO_SCHEMA": "Stack.1",
        "name": "tracks",
        "source_range": null,
        "effects": [],
        "markers": [],
        "metadata": {},
        "children": tracks,
    });
    timeline.insert("tracks".into(), stack);
    Ok(Json::Object(timeline))
}

/// First frame of an event in the cut, counted from midnight, and its length.
fn placed(shot: &Shot, timing: Timing) -> Option<(i64, i64)> {
    let Some((Time::Label(from), _)) = &shot.event.record else { return None };
    let from = crate::timecode::Timecode::parse(from, timing.counting)?.frame();
    let long = shot.record_frames(Some(timing))?;
    Some((i64::try_from(from).ok()?, i64::try_from(long).ok()?))
}

fn track(handed: &Handed<'_>, timing: Timing, channel: &str, begins: i64) -> Json {
    let rate = timing.rate.to_f64();
    let shots = handed.turnover.shots.iter().filter(|shot| shot.event.track == channel);
    let mut placed: Vec<(i64, i64, &Shot)> = shots
        .filter_map(|shot| placed(shot, timing).map(|(from, long)| (from - begins, long, shot)))
        .collect();
    placed.sort_by_key(|(from, ..)| *from);
    let mut children = Vec::new();
    let mut at = 0;
    for (from, long, shot) in placed {
        if from > at {
            children.push(json!({
                "OTIO_SCHEMA": "Gap.1",
                "name": "",
                "source_range": range(0.0, rate, from - at, rate),
                "effects": [],
                "markers": [],
                "enabled": true,
                "metadata": {},
            }));
            at = from;
        }
        // A transition stands between two items; with nothing before it there is none to go.
        if let Some(transition) = shot.event.transition.as_ref().filter(|_| !children.is_empty()) {
            children.push(json!({
                "OTIO_SCHEMA": "Transition.1",
                "name": transition.kind,
                "transition_type":
                    if transition.kind == "dissolve" { "SMPTE_Dissolve" } else { "Custom_Transition" },
                "in_offset": rational(0, rate),
                "out_offset": rational(i64::try_from(transition.frames).unwrap_or(0), rate),
                "metadata": {},
            }));
        }
        children.push(clip(handed, shot, timing, long));
        at += long;
    }
    json!({
        "OTIO_SCHEMA": "Track.1",
        "name": channel,
        "kind": "Video",
        "source_range": null,
        "effects": [],
        "markers": [],
        "enabled": true,
        "metadata": {},
        "children": children,
    })
}

fn clip(handed: &Handed<'_>, shot: &Shot, timing: Timing, long: i64) -> Json {
    let rate = timing.rate.to_f64();
    let annotation = handed.clip(shot);
    let media = annotation.and_then(media);
    let begins = media.as_ref().map_or(0.0, |(begins, ..)| *begins);
    let of_media = media.as_ref().map_or(rate, |(_, rate, _)| *rate);
    let (start, start_rate) = match (&shot.source, &shot.event.source.0) {
        (Some(source), _) => (begins + as_f64(source.start), of_media),
        (None, Time::Label(label)) => {
            let label = crate::timecode::Timecode::parse(label, timing.counting);
            let frame = label.and_then(|label| i64::try_from(label.frame()).ok());
            (as_f64(frame.unwrap_or(0)), rate)
        }
        (None, Time::Count { frames, rate, .. }) => (*frames, *rate),
    };
    let effects: Vec<Json> = shot
        .speed
        .map(|times| {
            let schema = if times == 0.0 { "FreezeFrame.1" } else { "LinearTimeWarp.1" };
            json!({
                "OTIO_SCHEMA": schema,
                "name": "",
                "effect_name": if times == 0.0 { "FreezeFrame" } else { "LinearTimeWarp" },
                "time_scalar": times,
                "enabled": true,
                "metadata": {},
            })
        })
        .into_iter()
        .collect();
    let reference = match (annotation, media) {
        (Some(annotation), Some((begins, rate, frames))) => {
            let file = annotation.clip.files.first().map_or("", |file| file.shown.as_ref());
            json!({
                "OTIO_SCHEMA": "ExternalReference.1",
                "name": file.rsplit('/').next().unwrap_or(file),
                "target_url": file,
                "available_range": frames.map(|frames| range(begins, rate, frames, rate)),
                "metadata": {},
            })
        }
        _ => {
            json!({"OTIO_SCHEMA": "MissingReference.1", "name": "", "available_range": null, "metadata": {}})
        }
    };
    let name = annotation.map(|annotation| annotation.clip.name.as_ref());
    let name = name.or(shot.event.name.as_deref()).or(shot.event.reel.as_deref());
    let mut metadata = Map::new();
    metadata.insert(KEY.to_owned(), Json::Object(shot_json(handed, shot)));
    json!({
        "OTIO_SCHEMA": "Clip.2",
        "name": name.unwrap_or(&shot.name),
        "source_range": range(start, start_rate, long, rate),
        "effects": effects,
        "markers": [],
        "enabled": true,
        "media_references": {"DEFAULT_MEDIA": reference},
        "active_media_reference_key": "DEFAULT_MEDIA",
        "metadata": metadata,
    })
}

/// Where the media of a clip begins on the scale of its timecode, its rate, and its frames.
fn media(annotation: &Annotation) -> Option<(f64, f64, Option<i64>)> {
    let media = &annotation.clip.media;
    let rate = media.rate.as_ref()?.value;
    let step = media.start.as_ref().map(|start| {
        let labels = start.value.counting().base();
        let pictures = rate.num().div_ceil(rate.den());
        let step = if labels.checked_mul(2) == Some(pictures) { 2 } else { 1 };
        start.value.frame().saturating_mul(step)
    });
    let begins = as_f64(i64::try_from(step.unwrap_or(0)).unwrap_or(0));
    let frames = media.frames.as_ref().and_then(|frames| i64::try_from(frames.value).ok());
    Some((begins, rate.to_f64(), frames))
}

fn range(start: f64, start_rate: f64, long: i64, rate: f64) -> Json {
    json!({
        "OTIO_SCHEMA": "TimeRange.1",
        "start_time": {"OTIO_SCHEMA": "RationalTime.1", "rate": start_rate, "value": start},
        "duration": rational(long, rate),
    })
}

fn rational(frames: i64, rate: f64) -> Json {
    json!({"OTIO_SCHEMA": "RationalTime.1", "rate": rate, "value": as_f64(frames)})
}

#[expect(clippy::cast_precision_loss, reason = "a day has some millions of frames")]
fn as_f64(frames: i64) -> f64 {
    frames as f64
}
