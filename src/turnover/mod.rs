//! Turnover: which frames of which clips a cut uses, handles included, for those who work on its shots.
//!
//! A shot is an event of the cut with the clip that it shows and the frames of that clip. An event of which no clip is
//! found, or two, is a shot all the same: it is listed, with a finding.

#![deny(clippy::indexing_slicing)]

mod find;
mod frames;
mod plate;
mod timing;

use std::collections::BTreeSet;
use std::ops::Range;

use crate::annotation::{Annotation, Shoot};
use crate::cut::{Cut, Event, Speed, Time};
use crate::finding::{Code, Finding};
use crate::kit::Plate;
use crate::naming::Naming;
use crate::ratio::FrameRate;
use find::{Clips, Match};
use frames::{ClipFrames, Span};
pub use plate::{Area, area};
pub use timing::Timing;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// Frames before and after those that the cut uses.
    pub handles: u64,
    /// Number of the first frame of each shot, its handle included.
    pub first_frame: u64,
    /// Rate of the cut, if not as the cut says it.
    pub rate: Option<FrameRate>,
    /// Plate that the shots are handed over as.
    pub plate: Option<&'a Plate>,
    /// How clips are called.
    pub naming: &'a Naming,
}

/// A cut turned over.
#[derive(Clone, Debug, PartialEq)]
pub struct Turnover {
    /// Title of the cut.
    pub title: Option<String>,
    /// How the cut counts, where that could be told.
    pub timing: Option<Timing>,
    /// Handles asked for, in frames of the clips.
    pub handles: u64,
    /// Number of the first frame of each shot.
    pub first_frame: u64,
    /// Plate that the shots are handed over as.
    pub plate: Option<Plate>,
    /// Shots in the order of the cut.
    pub shots: Vec<Shot>,
    /// What was found about the cut as a whole.
    pub findings: Vec<Finding>,
}

/// One event of the cut, and what it shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Shot {
    /// Name, also of its files: number of the event and name of the clip; no two shots have the same.
    pub name: String,
    /// The event.
    pub event: Event,
    /// Which clip of the shoot it shows.
    pub clip: Option<usize>,
    /// Frames of the clip that the event names, transitions not included, whether or not the clip has them.
    pub source: Option<Range<i64>>,
    /// Frames of the clip that the cut uses, transitions included, as far as the clip has them.
    pub used: Option<Range<u64>>,
    /// The same with handles, as far as the clip has them.
    pub range: Option<Range<u64>>,
    /// Frames of the clip that are shown in one frame of it at its own speed; below 0 it runs backwards. `None`: as recorded.
    pub speed: Option<f64>,
    /// True if source labels count at the rate of the cut and not at that of the clip.
    pub by_time: bool,
    /// True if the plate asked for fits into the recorded raster; false also where the raster is not known.
    pub plate_fits: bool,
    /// What was found about it.
    pub findings: Vec<Finding>,
}

/// Finds the clip and the frames of each event.
pub fn turn_over(cut: Cut, shoot: &Shoot, request: &Request<'_>) -> Turnover {
    let clips = Clips::of(shoot, request.naming);
    let matched: Vec<Match> = cut.events.iter().map(|event| clips.find(event)).collect();
    let own = matched.iter().filter_map(|found| shoot.clips.get(found.one()?));
    let timing = Timing::of(&cut, request.rate, own.map(ClipFrames::of));
    let mut taken = BTreeSet::new();
    let mut findings = Vec::new();
    if timing.is_none() && !cut.events.is_empty() {
        let message = "the frame rate of the cut is not known";
        findings.push(Finding::new(Code::CutFrames, message).hint("name it with --rate"));
    }
    let Cut { title, events, .. } = cut;
    let shots = events.into_iter().zip(matched).map(|(event, found)| {
        let clip = found.one().and_then(|at| Some((at, shoot.clips.get(at)?)));
        let name = name(&event, clip.map(|(_, clip)| clip), &mut taken);
        let mut shot = Shot {
            name,
            clip: clip.map(|(at, _)| at),
            source: None,
            used: None,
            range: None,
            speed: None,
            by_time: false,
            plate_fits: false,
            findings: Vec::new(),
            event,
        };
        match clip {
            Some((_, annotation)) => resolve(&mut shot, annotation, timing, request),
            None => shot.findings.push(unmatched(&shot, &found, &clips, shoot)),
        }
        shot
    });
    let shots = shots.collect();
    Turnover {
        title,
        timing,
        handles: request.handles,
        first_frame: request.first_frame,
        plate: request.plate.cloned(),
        shots,
        findings,
    }
}

/// For each list of names the one clip that the first of them names which names any.
pub fn clips_called(shoot: &Shoot, naming: &Naming, names: &[Vec<&str>]) -> Vec<Option<usize>> {
    let clips = Clips::of(shoot, naming);
    let one = |names: &Vec<&str>| names.iter().find_map(|name| clips.called(name).one());
    names.iter().map(one).collect()
}

/// Number and clip, in letters, digits, `-` and `_` alone: it names files and prims.
fn name(event: &Event, clip: Option<&Annotation>, taken: &mut BTreeSet<String>) -> String {
    let clip = clip.map(|clip| clip.clip.name.as_ref());
    let shown = clip.or(event.name.as_deref()).or(event.reel.as_deref()).unwrap_or("no-clip");
    let plain = |text: &str, most: usize| -> String {
        let plain = |c: char| if c.is_ascii_alphanumeric() || c == '_' { c } else { '-' };
        text.chars().take(most).map(plain).collect()
    };
    let base = format!("{}-{}", plain(&event.number, 12), plain(shown, 64));
    let mut name = base.clone();
    let mut again = 1_u32;
    // Case does not tell files apart on every drive.
    while !taken.insert(name.to_lowercase()) {
        again = again.saturating_add(1);
        name = format!("{base}-{again}");
    }
    name
}

fn resolve(
    shot: &mut Shot,
    annotation: &Annotation,
    timing: Option<Timing>,
    request: &Request<'_>,
) {
    let clip = ClipFrames::of(annotation);
    let mut findings = Vec::new();
    let (number, place) = (shot.event.number.clone(), shot.event.place.clone());
    let found = |code, message: String, hint: &str| {
        Finding::new(code, format!("event {number}: {message}"))
            .at(place.clone())
            .clip(annotation.clip.name.clone())
            .hint(hint)
    };
    let raster = annotation.clip.media.coded.as_ref().map(|coded| coded.value);
    let mut plate_fits = false;
    if let Some(plate) = request.plate {
        plate_fits = raster.is_some_and(|raster| plate::corner(plate, raster).is_some());
        if !plate_fits {
            let recorded = raster.map_or("is not known".to_owned(), |r| format!("is {r}"));
            let message = format!(
                "plate {} ({}) does not fit, the recorded raster {recorded}",
                plate.id, plate.crop
            );
            let hint = "turn such shots over with another --plate, or without";
            findings.push(found(Code::CutPlate, message, hint));
        }
    }
    let span = match frames::span(&shot.event, &clip, timing) {
        Ok(span) => span,
        Err(why) => {
            let hint = "look at the event; --rate says how the cut counts";
            findings.push(found(Code::CutFrames, why, hint));
            (shot.plate_fits, shot.findings) = (plate_fits, findings);
            return;
        }
    };
    if let Some(doubt) = &span.doubt {
        let hint = "check the event against the cut; --rate says how the cut counts";
        findings.push(found(Code::CutFrames, doubt.clone(), hint));
    }
    let (used, range) = clipped(&span, &clip, request.handles);
    let past = past_end(&span, &clip);
    findings.extend(past.map(|words| {
        found(Code::CutPastEnd, words, "is this the clip that the cut means, and is it whole?")
    }));
    if let (Some(used), Some(range)) = (&used, &range) {
        let frozen = span.speed == Some(0.0);
        let had = (used.start - range.start, range.end - used.end);
        if !frozen && (had.0 < request.handles || had.1 < request.handles) {
            let message = format!(
                "of {} frames of handle the clip has {} before and {} after",
                request.handles, had.0, had.1
            );
            findings.push(found(Code::CutHandles, message, "plan the shot with what there is"));
        }
    }
    let (speed, by_time) = (span.speed, span.by_time);
    (shot.used, shot.range, shot.plate_fits) = (used, range, plate_fits);
    shot.source = Some(span.source);
    (shot.speed, shot.by_time, shot.findings) = (speed, by_time, findings);
}

/// The frames of a span that the clip has, without and with handles; nothing if it has none.
fn clipped(
    span: &Span,
    clip: &ClipFrames,
    handles: u64,
) -> (Option<Range<u64>>, Option<Range<u64>>) {
    let end = clip.frames.map_or(i64::MAX, |frames| i64::try_from(frames).unwrap_or(i64::MAX));
    // One frozen frame is all that is asked for.
    let handles = if span.speed == Some(0.0) { 0 } else { handles };
    let handles = i64::try_from(handles).unwrap_or(i64::MAX);
    let within = |first: i64, last: i64| {
        let range = first.clamp(0, end)..last.clamp(0, end);
        let whole = |frame: i64| u64::try_from(frame).ok();
        (range.start < range.end).then(|| Some(whole(range.start)?..whole(range.end)?)).flatten()
    };
    let used = within(span.first, span.end);
    let range = used
        .is_some()
        .then(|| within(span.first.saturating_sub(handles), span.end.saturating_add(handles)))
        .flatten();
    (used, range)
}

/// How far an event reaches out of its clip, in words.
fn past_end(span: &Span, clip: &ClipFrames) -> Option<String> {
    let frames = i64::try_from(clip.frames?).ok()?;
    let (before, after) = ((-span.first).max(0), (span.end - frames).max(0));
    if span.first >= frames || span.end <= 0 {
        let side = if span.end <= 0 { "before the clip begins" } else { "after the clip ends" };
        return Some(format!("its frames lie {side}"));
    }
    let words = [(before, "before the clip begins"), (after, "after the clip ends")];
    let words = words.into_iter().filter(|(count, _)| *count > 0);
    let words: Vec<String> = words.map(|(count, side)| format!("{count} frames {side}")).collect();
    (!words.is_empty()).then(|| format!("it asks for {}", words.join(" and ")))
}

fn unmatched(shot: &Shot, found: &Match, clips: &Clips<'_>, shoot: &Shoot) -> Finding {
    let event = &shot.event;
    let called: Vec<String> = [&event.file, &event.name, &event.reel]
        .into_iter()
        .flatten()
        .map(|word| format!("`{word}`"))
        .collect();
    let called = if called.is_empty() { "without a name".to_owned() } else { called.join(", ") };
    let (code, message, hint) = match found {
        Match::Several(clips) => {
            let names = clips.iter().filter_map(|at| shoot.clips.get(*at)).take(4);
            let names: Vec<&str> = names.map(|clip| clip.clip.name.as_ref()).collect();
            let message =
                format!("{called} may be any of {} clips: {}", clips.len(), names.join(", "));
            (Code::CutTwoClips, message, "name the clip's file in the cut")
        }
        Match::None | Match::One(_) if clips.has_reel(event) => {
            let message =
                format!("the source lies in no clip of {called}, or is no timecode of it");
            (Code::CutNoClip, message, "check the source timecodes of the event, or name its clip")
        }
        Match::None | Match::One(_) => {
            let message = format!("no clip of the dump is called {called}");
            (
                Code::CutNoClip,
                message,
                "is the clip of another day, or called otherwise in the cut?",
            )
        }
    };
    Finding::new(code, format!("event {}: {message}", event.number))
        .at(event.place.clone())
        .hint(hint)
}

impl Turnover {
    /// Everything that was found, the cut as a whole first.
    pub fn all_findings(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().chain(self.shots.iter().flat_map(|shot| &shot.findings))
    }
}

impl Shot {
    /// Beginning and end of the event in the cut, as labels where the cut has a timecode.
    pub fn record(&self, timing: Option<Timing>) -> (Option<String>, Option<String>) {
        let label = |time: &Time| match time {
            Time::Label(label) => Some(label.clone()),
            Time::Count { frames, rate, .. } => Some(timing?.label(frames / rate)?.to_string()),
        };
        self.event.record.as_ref().map_or((None, None), |(from, to)| (label(from), label(to)))
    }

    /// How fast it runs, in words; nothing at its own speed.
    pub fn speed_words(&self) -> Option<String> {
        let times = self.speed?;
        Some(if times == 0.0 {
            "frozen".to_owned()
        } else {
            let percent = crate::number::short(times.abs() * 100.0, 2);
            let way = if times < 0.0 { ", backwards" } else { "" };
            format!("{percent} %{way}")
        })
    }

    /// Length of the event in the cut, in its frames.
    pub fn record_frames(&self, timing: Option<Timing>) -> Option<u64> {
        frames::record_length(&self.event, timing?)
            .and_then(|frames| format!("{frames:.0}").parse().ok())
    }

    /// Frames of handle that there are before and after.
    pub fn handles(&self) -> Option<(u64, u64)> {
        let (used, range) = self.used.as_ref().zip(self.range.as_ref())?;
        Some((used.start - range.start, range.end - used.end))
    }
}

/// The speed as a multiple of the clip's own, where the cut's frames last as long as the clip's.
fn times(speed: Speed, base: u32) -> f64 {
    match speed {
        Speed::Times(times) => times,
        Speed::FramesASecond(frames) => frames / f64::from(base.max(1)),
    }
}
