//! Cuts in `OpenTimelineIO`'s JSON: tracks and stacks, nested as they like.
//!
//! Schemas are told by their name, whatever their version: the members read here have been the same in all of them. Ranges
//! count at a rate of their own, and a source range counts from where its media begins, if the file says where.

use serde_json::{Map, Value as Json};

use crate::finding::{Code, Found, Place};
use crate::ratio::{FrameRate, parse_rate};

use super::{Anchor, Cut, Event, MOST_EVENTS, Speed, Time, Transition, trouble};

/// Deepest nesting of tracks and stacks; edits nest a few deep.
const DEEPEST: usize = 32;

/// Reads a timeline, or anything else with clips in it.
pub fn parse(file: &str, text: &str) -> Found<Cut> {
    let place = Place::file(file);
    // The library refuses what nests deeper than 128.
    let root: Json = match serde_json::from_str(text) {
        Ok(root) => root,
        Err(error) => {
            let start = line_start(text, error.line());
            let place = Place::span(file, text, start..start + error.column());
            let found = trouble(
                Code::CutEmpty,
                &place,
                format!("this is no JSON: {error}"),
                "export the cut again",
            );
            return Found { value: Cut::default(), findings: vec![found] };
        }
    };
    let mut walk = Walk { place, cut: Cut::default(), findings: Vec::new(), at: 0.0 };
    walk.cut.title = text_of(&root, "name");
    let global = root.get("global_start_time").and_then(rational);
    if let Some((value, rate)) = global {
        walk.at = seconds(value, rate);
        walk.cut.rate = exact(rate);
    }
    match root.get("tracks") {
        Some(tracks) => walk.item(tracks, "", "/tracks", 0),
        None => walk.item(&root, "", "", 0),
    };
    let Walk { place, mut cut, mut findings, .. } = walk;
    if cut.rate.is_none() {
        cut.rate = cut.events.iter().find_map(|event| match &event.record {
            Some((Time::Count { rate, .. }, _)) => exact(*rate),
            _ => None,
        });
    }
    if cut.events.is_empty() {
        let hint = "hand over a timeline with clips in it";
        findings.push(trouble(Code::CutEmpty, &place, "no clip could be read", hint));
    }
    Found { value: cut, findings }
}

struct Walk {
    place: Place,
    cut: Cut,
    findings: Vec<crate::finding::Finding>,
    /// Seconds of the cut before what is read next.
    at: f64,
}

impl Walk {
    /// One item of a track or stack; says how many seconds of the cut it takes.
    /// `at` is its JSON pointer.
    fn item(&mut self, item: &Json, track: &str, at: &str, depth: usize) -> f64 {
        if depth > DEEPEST || self.cut.events.len() >= MOST_EVENTS {
            let message = if depth > DEEPEST {
                "tracks nest too deep here"
            } else {
                "there are too many events"
            };
            if !self.findings.iter().any(|finding| finding.message == message) {
                self.findings.push(trouble(
                    Code::CutLine,
                    &self.place,
                    message,
                    "cut the list in parts",
                ));
            }
            return 0.0;
        }
        match schema(item) {
            "Track" => {
                // Sound has no lens.
                if item.get("kind").and_then(Json::as_str).is_some_and(|kind| kind != "Video") {
                    return 0.0;
                }
                let name = text_of(item, "name").unwrap_or_else(|| track.to_owned());
                self.track(item, &name, at, depth)
            }
            "Stack" | "SerializableCollection" => self.stack(item, track, at, depth),
            "Timeline" => {
                let tracks = item.get("tracks").unwrap_or(&Json::Null);
                self.item(tracks, track, &format!("{at}/tracks"), depth + 1)
            }
            "Clip" => self.clip(item, track, at),
            "Gap" => range(item.get("source_range")).map_or(0.0, |r| seconds(r.duration, r.rate)),
            _ => 0.0,
        }
    }

    fn track(&mut self, track: &Json, name: &str, at: &str, depth: usize) -> f64 {
        let (first, begins) = (self.cut.events.len(), self.at);
        self.at = 0.0;
        let mut coming: Option<(Transition, u64)> = None;
        let mut last = first..first;
        for (child_at, child) in children(track).enumerate() {
            if schema(child) == "Transition" {
                let (transition, (before, after)) = transition(child);
                // The clip before it is shown on; a gap has nothing to show.
                if let Some(event) = self.cut.events.get_mut(last.clone()).and_then(<[_]>::last_mut)
                {
                    event.beyond.1 = after;
                }
                coming = Some((transition, before));
                continue;
            }
            let event = self.cut.events.len();
            let long = self.item(child, name, &format!("{at}/children/{child_at}"), depth + 1);
            self.at += long;
            last = event..self.cut.events.len();
            if let (Some((transition, before)), Some(event)) =
                (coming.take(), self.cut.events.get_mut(event))
            {
                event.transition = Some(transition);
                event.beyond.0 = before;
            }
        }
        let long = self.at;
        self.shown(track, first, begins, long)
    }

    fn stack(&mut self, stack: &Json, track: &str, at: &str, depth: usize) -> f64 {
        let (first, begins) = (self.cut.events.len(), self.at);
        let mut longest: f64 = 0.0;
        for (child_at, child) in children(stack).enumerate() {
            self.at = 0.0;
            let at = format!("{at}/children/{child_at}");
            longest = longest.max(self.item(child, track, &at, depth + 1));
        }
        self.shown(stack, first, begins, longest)
    }

    /// Puts what was read of a track or stack, counted from its own beginning, to its place in the cut: only what its range
    /// shows of it. Says how long it is shown.
    fn shown(&mut self, item: &Json, first: usize, begins: f64, long: f64) -> f64 {
        self.at = begins;
        let range = range(item.get("source_range"));
        let from = range.map_or(0.0, |range| seconds(range.start, range.rate));
        let until = range.map_or(long, |range| from + seconds(range.duration, range.rate));
        for event in self.cut.events.split_off(first) {
            self.cut.events.extend(windowed(event, from, until, begins));
        }
        until - from
    }

    fn clip(&mut self, clip: &Json, track: &str, at: &str) -> f64 {
        let media = media(clip);
        // What is switched off is not in the cut, and bars and black have no lens; the time that they take is.
        let off = clip.get("enabled").and_then(Json::as_bool) == Some(false);
        if off || media.is_some_and(|media| schema(media) == "GeneratorReference") {
            let made = media.and_then(|media| range(media.get("available_range")));
            let long = range(clip.get("source_range")).or(made);
            return long.map_or(0.0, |long| seconds(long.duration, long.rate));
        }
        let available = media.and_then(|media| range(media.get("available_range")));
        let Some(source) = range(clip.get("source_range")).or(available) else {
            let name = text_of(clip, "name").unwrap_or_default();
            let message = format!("clip `{name}` has no source range");
            let hint = "give it a source_range, or its media an available_range";
            self.findings.push(trouble(Code::CutLine, &self.place, message, hint));
            return 0.0;
        };
        let speed = children_of(clip, "effects").find_map(speed);
        let begins = available.map(|available| available.start * source.rate / available.rate);
        let count = |frames: f64| Time::Count { frames, rate: source.rate, begins };
        let long = seconds(source.duration, source.rate);
        let record =
            |at: f64| Time::Count { frames: at * source.rate, rate: source.rate, begins: None };
        self.cut.events.push(Event {
            number: (self.cut.events.len() + 1).to_string(),
            name: text_of(clip, "name"),
            file: media.and_then(|media| {
                text_of(media, "target_url").or_else(|| text_of(media, "target_url_base"))
            }),
            reel: None,
            track: track.to_owned(),
            source: (count(source.start), count(source.start + source.duration)),
            record: Some((record(self.at), record(self.at + long))),
            speed,
            transition: None,
            beyond: (0, 0),
            anchor: Anchor::Pointer(at.to_owned()),
            comments: Vec::new(),
            place: self.place.clone(),
        });
        long
    }
}

/// The part of an event that lies between two moments of its track, which itself begins at `begins`; nothing if none does.
fn windowed(mut event: Event, from: f64, until: f64, begins: f64) -> Option<Event> {
    let Some((Time::Count { frames: a, rate, .. }, Time::Count { frames: b, .. })) = event.record
    else {
        return Some(event);
    };
    let (head, tail) = ((from - a / rate).max(0.0), (b / rate - until).max(0.0));
    // Half of a frame is no frame: it is what is left of dividing. What is that short by itself is shown by a transition.
    if head + tail > 0.0 && (b - a) / rate - head - tail < 0.5 / rate {
        return None;
    }
    let moved = |time: &Time, by: f64| match time {
        Time::Count { frames, rate, begins } => {
            Time::Count { frames: frames + by * rate, rate: *rate, begins: *begins }
        }
        Time::Label(label) => Time::Label(label.clone()),
    };
    event.source = (moved(&event.source.0, head), moved(&event.source.1, -tail));
    let shift = begins - from;
    let record = |frames: f64, by: f64| Time::Count {
        frames: frames + (by + shift) * rate,
        rate,
        begins: None,
    };
    event.record = Some((record(a, head), record(b, -tail)));
    // What is cut away at an end needs no more frames beyond it.
    event.beyond.0 = if head > 0.0 { 0 } else { event.beyond.0 };
    event.beyond.1 = if tail > 0.0 { 0 } else { event.beyond.1 };
    Some(event)
}

/// Name of an object's schema, without its version.
fn schema(item: &Json) -> &str {
    let schema = item.get("OTIO_SCHEMA").and_then(Json::as_str).unwrap_or_default();
    schema.split('.').next().unwrap_or_default()
}

fn children(item: &Json) -> impl Iterator<Item = &Json> {
    children_of(item, "children")
}

fn children_of<'a>(item: &'a Json, member: &str) -> impl Iterator<Item = &'a Json> {
    item.get(member).and_then(Json::as_array).into_iter().flatten()
}

/// The media that is active: one of several under names, or the one of older files.
fn media(clip: &Json) -> Option<&Json> {
    let key =
        clip.get("active_media_reference_key").and_then(Json::as_str).unwrap_or("DEFAULT_MEDIA");
    let several = clip.get("media_references").and_then(|several| several.get(key));
    several
        .or_else(|| clip.get("media_reference"))
        .filter(|media| schema(media) != "MissingReference")
}

#[derive(Clone, Copy)]
struct Range {
    start: f64,
    duration: f64,
    rate: f64,
}

/// A range in frames at one rate; nothing where a number is missing, endless, or the rate is none.
fn range(range: Option<&Json>) -> Option<Range> {
    let (start, rate) = rational(range?.get("start_time")?)?;
    let (duration, of_duration) = rational(range?.get("duration")?)?;
    let duration = duration * rate / of_duration;
    (duration >= 0.0 && duration.is_finite()).then_some(Range { start, duration, rate })
}

fn rational(time: &Json) -> Option<(f64, f64)> {
    let number = |member: &str| time.get(member).and_then(Json::as_f64).filter(|n| n.is_finite());
    Some((number("value")?, number("rate").filter(|rate| *rate > 0.0 && *rate <= 1000.0)?))
}

fn seconds(frames: f64, rate: f64) -> f64 {
    frames / rate
}

/// A transition, and the frames that it needs of the clips before and behind their cut: of what comes, of what goes.
fn transition(item: &Json) -> (Transition, (u64, u64)) {
    let frames = |member: &str| {
        let long = item.get(member).and_then(rational).map_or(0.0, |(value, _)| value.max(0.0));
        format!("{:.0}", long.min(1e9)).parse::<u64>().unwrap_or(0)
    };
    let (before, after) = (frames("in_offset"), frames("out_offset"));
    let kind = text_of(item, "transition_type").unwrap_or_default();
    let kind =
        if kind.contains("Dissolve") { "dissolve".to_owned() } else { "transition".to_owned() };
    (Transition { kind, frames: before + after }, (before, after))
}

fn speed(effect: &Json) -> Option<Speed> {
    match schema(effect) {
        "LinearTimeWarp" => effect
            .get("time_scalar")
            .and_then(Json::as_f64)
            .filter(|n| n.is_finite())
            .map(Speed::Times),
        "FreezeFrame" => Some(Speed::Times(0.0)),
        _ => None,
    }
}

fn text_of(item: &Json, member: &str) -> Option<String> {
    let object: &Map<String, Json> = item.as_object()?;
    object.get(member)?.as_str().filter(|text| !text.is_empty()).map(str::to_owned)
}

/// The exact rate behind a rounded one.
fn exact(rate: f64) -> Option<FrameRate> {
    parse_rate(&crate::number::short(rate, 3))
}

fn line_start(text: &str, line: usize) -> usize {
    text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum()
}
