//! Which frames of its clip an event uses.
//!
//! Source labels count as those of the clip do. In a cut of mixed rates some editing programs write them at the rate of
//! the cut instead: that is told by the length of the event in the cut, which only fits one of the two (common practice,
//! no source). Where neither fits, the clip's own counting is taken and the doubt is said.

use std::ops::Range;

use crate::annotation::Annotation;
use crate::cut::{Event, Time};
use crate::ratio::FrameRate;
use crate::timecode::{Counting, Timecode};

use super::times;
use super::timing::Timing;

/// Longest span that is worked with: beyond any clip, and far from where whole numbers end.
const LONGEST: f64 = 1e12;

/// What counting frames of a clip needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ClipFrames {
    pub(super) rate: Option<FrameRate>,
    pub(super) frames: Option<u64>,
    start: Option<Timecode>,
}

impl ClipFrames {
    pub(super) fn of(annotation: &Annotation) -> Self {
        let media = &annotation.clip.media;
        Self {
            rate: media.rate.as_ref().map(|rate| rate.value),
            frames: media.frames.as_ref().map(|frames| frames.value),
            start: media.start.as_ref().map(|start| start.value),
        }
    }

    /// Pictures that one label stands for; `None` where labels have nothing to do with pictures.
    fn step(&self, base: u32) -> Option<i64> {
        let pictures = base_of(self.rate?);
        [1, 2].into_iter().find(|step| base.checked_mul(*step) == Some(pictures)).map(i64::from)
    }

    /// Place of a label, counted from the first frame; before it below 0.
    pub(super) fn place(&self, label: &str) -> Option<i64> {
        let Some(start) = self.start else { return self.untimed(label) };
        let at = Timecode::parse(label, start.counting())?;
        apart(start, at)?.checked_mul(self.step(start.counting().base())?)
    }

    /// Place of a label in a clip without timecode, whose frames then count from 0.
    fn untimed(&self, label: &str) -> Option<i64> {
        let counting = Counting::new(base_of(self.rate?), false)?;
        let frame = Timecode::parse(label, counting)?.frame();
        self.frames.is_none_or(|frames| frame <= frames).then(|| i64::try_from(frame).ok())?
    }

    /// True if a place lies in the clip, or at its very end.
    pub(super) fn holds(&self, place: i64) -> bool {
        let end = self.frames.and_then(|frames| i64::try_from(frames).ok());
        place >= 0 && end.is_none_or(|end| place <= end)
    }
}

/// Frames from one label to another, the shorter way round the day.
fn apart(from: Timecode, to: Timecode) -> Option<i64> {
    let (forward, day) = (from.frames_until(to)?, from.counting().day());
    let (forward, day) = (i64::try_from(forward).ok()?, i64::try_from(day).ok()?);
    Some(if forward > day / 2 { forward - day } else { forward })
}

/// Labels a second at a rate: 30 for 29.97.
pub(super) fn base_of(rate: FrameRate) -> u32 {
    rate.num().div_ceil(rate.den())
}

/// The frames of a clip that an event asks for, whether or not the clip has them.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Span {
    /// The first, counted from the start of the clip.
    pub(super) first: i64,
    /// The one after the last.
    pub(super) end: i64,
    /// The same without what transitions need.
    pub(super) source: Range<i64>,
    /// Speed as a multiple of the clip's own.
    pub(super) speed: Option<f64>,
    /// True if labels count at the rate of the cut.
    pub(super) by_time: bool,
    /// What does not fit, in words.
    pub(super) doubt: Option<String>,
}

/// Works out the frames of an event. The error says why they cannot be told.
pub(super) fn span(
    event: &Event,
    clip: &ClipFrames,
    timing: Option<Timing>,
) -> Result<Span, String> {
    let rate = clip.rate.ok_or("the frame rate of its clip is not known")?;
    let counting = clip.start.map(Timecode::counting).or(Counting::new(base_of(rate), false));
    let timing = timing.or(counting.map(|counting| Timing { rate, counting }));
    let timing = timing.ok_or("labels do not count at the frame rate of its clip")?;
    // Frames of the clip to a frame of the cut, counted as whole labels are: 23.976 and 24 go one to one.
    let step = f64::from(base_of(rate)) / f64::from(timing.base());
    let long = record_length(event, timing);
    let mut span = match (&event.source.0, &event.source.1) {
        (Time::Label(from), Time::Label(to)) => labels(event, (from, to), clip, timing, long)?,
        (from, to) => counts((from, to), clip, rate)?,
    };
    if let Some(speed) = event.speed {
        let times = times(speed, timing.base());
        let counted = matches!(event.source.0, Time::Count { .. });
        let long = if counted { Some(as_f64(span.end - span.first) / step) } else { long };
        let used = long.ok_or("its length in the cut is not known")? * step * times.abs();
        run(&mut span, times, used);
    } else if span.end < span.first {
        return Err("its source ends before it begins".to_owned());
    }
    span.source = span.first..span.end;
    let part = span.speed.map_or(1.0, f64::abs);
    let (mut head, mut tail) =
        (more(event.beyond.0, step * part), more(event.beyond.1, step * part));
    if span.speed.is_some_and(|times| times < 0.0) {
        std::mem::swap(&mut head, &mut tail);
    }
    span.first = span.first.saturating_sub(head);
    span.end = span.end.saturating_add(tail);
    if span.first == span.end {
        return Err("it has no length, so it uses no frame".to_owned());
    }
    Ok(span)
}

/// Frames of the clip that so many frames of the cut need.
fn more(frames: u64, step: f64) -> i64 {
    let frames: f64 = format!("{frames}").parse().unwrap_or(0.0);
    whole((frames * step - 1e-6).ceil().max(0.0))
}

/// Length in the cut, in frames of it.
pub(super) fn record_length(event: &Event, timing: Timing) -> Option<f64> {
    match event.record.as_ref()? {
        (Time::Label(from), Time::Label(to)) => {
            let label = |text: &str| Timecode::parse(text, timing.counting);
            label(from)?
                .frames_until(label(to)?)
                .map(|frames| as_f64(i64::try_from(frames).unwrap_or(i64::MAX)))
        }
        (Time::Count { frames: from, rate, .. }, Time::Count { frames: to, .. }) => {
            Some((to - from) * f64::from(timing.base()) / rate.ceil())
        }
        _ => None,
    }
}

/// Labels, counted as those of the clip, or else as those of the cut.
fn labels(
    event: &Event,
    (from, to): (&str, &str),
    clip: &ClipFrames,
    timing: Timing,
    long: Option<f64>,
) -> Result<Span, String> {
    let made =
        |first, end, by_time| Span { first, end, speed: None, by_time, doubt: None, source: 0..0 };
    let own = clip.place(from).zip(clip.place(to)).map(|(a, b)| made(a, b, false));
    let cut = at_the_cut((from, to), clip, timing);
    let chosen = if event.speed.is_some() {
        // Lengths say nothing then; only one of two countings may lie in the clip.
        match (own, cut) {
            (Some(own), Some((cut, _))) if !clip.holds(own.first) && clip.holds(cut.first) => {
                Some(cut)
            }
            (own, cut) => own.or(cut.map(|(cut, _)| cut)),
        }
    } else {
        choose(own, cut, clip, timing, long)
    };
    chosen.ok_or_else(|| {
        let missing = if clip.start.is_none() { ": its clip has no timecode" } else { "" };
        format!("source {from} to {to} cannot be counted as the clip counts{missing}")
    })
}

/// The reading whose length fits that in the cut.
fn choose(
    own: Option<Span>,
    cut: Option<(Span, f64)>,
    clip: &ClipFrames,
    timing: Timing,
    long: Option<f64>,
) -> Option<Span> {
    let (Some(long), Some(rate)) = (long, clip.rate) else {
        return own.or(cut.map(|(cut, _)| cut));
    };
    let by_label = f64::from(timing.base()) / f64::from(base_of(rate));
    let by_clock = timing.rate.to_f64() / rate.to_f64();
    // How far the source is off the length in the cut, in frames of the slower of the two.
    let slower = by_label.max(1.0);
    let off = own.as_ref().map_or(f64::INFINITY, |own| {
        let source = as_f64(own.end - own.first);
        let off = |scale: f64| (source * scale - long).abs() / slower;
        off(by_label).min(off(by_clock))
    });
    let cut_off = cut.as_ref().map_or(f64::INFINITY, |(_, labels)| (labels - long).abs());
    let cut = cut.map(|(cut, _)| cut);
    // Lengths are rounded to whole frames on the way from one rate to the other.
    if off <= 0.51 {
        own
    } else if cut_off < 0.01 {
        cut
    } else if off <= 1.01 {
        own
    } else if cut_off <= 1.01 {
        cut
    } else {
        let doubt = "source and record are not of one length, and no speed is said".to_owned();
        own.or(cut).map(|span| Span { doubt: Some(doubt), ..span })
    }
}

/// Labels counted at the rate of the cut, from the label of the clip's first frame as the cut would write it; with the
/// length in frames of the cut.
fn at_the_cut((from, to): (&str, &str), clip: &ClipFrames, timing: Timing) -> Option<(Span, f64)> {
    let rate = clip.rate?;
    let start = match clip.start {
        Some(start) => {
            let (h, m, s, f) = start.label();
            let frames = f * u64::from(timing.base()) / u64::from(start.counting().base());
            let written = |f: u64| Timecode::parse(&format!("{h}:{m}:{s}:{f}"), timing.counting);
            // A label that drop frame skips is taken for the next that there is.
            (frames..frames + 5).find_map(written)?
        }
        None => Timecode::from_frame(0, timing.counting),
    };
    let label = |text: &str| apart(start, Timecode::parse(text, timing.counting)?);
    let (from, to) = (label(from)?, label(to)?);
    let scale =
        if base_of(rate) == timing.base() { 1.0 } else { rate.to_f64() / timing.rate.to_f64() };
    let first = whole((as_f64(from) * scale).round());
    let end = whole((as_f64(to) * scale).round());
    let span = Span { first, end, speed: None, by_time: true, doubt: None, source: 0..0 };
    Some((span, as_f64(to - from)))
}

/// Counts, from where the media begins: as the file says it, else as timecode where that lies in the clip, else from 0.
fn counts(
    (from, to): (&Time, &Time),
    clip: &ClipFrames,
    of_clip: FrameRate,
) -> Result<Span, String> {
    let (Time::Count { frames: from, rate, begins }, Time::Count { frames: to, .. }) = (from, to)
    else {
        return Err("its source is half label, half count".to_owned());
    };
    let base = f64::from(base_of(of_clip));
    // Whole rates and those over 1001 go one to one.
    let scale = if (rate.ceil() - base).abs() < 0.5 { 1.0 } else { of_clip.to_f64() / rate };
    let start = clip.start.map(|start| {
        let frame = as_f64(i64::try_from(start.frame()).unwrap_or(0));
        frame * rate.ceil() / f64::from(start.counting().base())
    });
    let lies = |from: f64| {
        let place = whole((from * scale + 1e-6).floor());
        clip.holds(place)
            && clip.frames.is_none_or(|frames| i64::try_from(frames).is_ok_and(|end| place < end))
    };
    let zero = match (begins, start) {
        // Media that begins inside the clip is a part of it.
        (Some(begins), Some(start)) if lies(begins - start) => start,
        (Some(begins), _) => *begins,
        (None, Some(start)) if lies(from - start) => start,
        (None, _) => 0.0,
    };
    let place = |frames: f64| (frames - zero) * scale;
    if ![place(*from), place(*to)].iter().all(|place| place.abs() < LONGEST) {
        return Err("its source lies beyond any clip".to_owned());
    }
    let first = whole((place(*from) + 1e-6).floor());
    let end = whole((place(*to) - 1e-6).ceil()).max(first);
    let by_time = (scale - 1.0).abs() > 1e-9;
    Ok(Span { first, end, speed: None, by_time, doubt: None, source: 0..0 })
}

/// Frames used at a speed. Where the source is as long as the speed asks for, it stands; else the first frame shown counts.
fn run(span: &mut Span, times: f64, used: f64) {
    let frozen = if times.abs() < 1e-9 { 0.0 } else { times };
    span.speed = ((times - 1.0).abs() > 1e-9).then_some(frozen);
    let (low, high) = (span.first.min(span.end), span.first.max(span.end));
    if times.abs() < 1e-9 {
        (span.first, span.end) = (span.first, span.first.saturating_add(1));
        return;
    }
    let frames = whole((used - 1e-6).ceil().clamp(1.0, LONGEST));
    if (high - low).abs_diff(frames) <= 1 {
        (span.first, span.end) = (low, high.max(low + 1));
    } else if times > 0.0 {
        span.end = span.first.saturating_add(frames);
    } else {
        let shown = span.first;
        (span.first, span.end) = (shown.saturating_sub(frames - 1), shown.saturating_add(1));
    }
}

#[expect(clippy::cast_precision_loss, reason = "a day has some millions of frames")]
fn as_f64(frames: i64) -> f64 {
    frames as f64
}

#[expect(clippy::cast_possible_truncation, reason = "held far inside of what a whole number holds")]
fn whole(number: f64) -> i64 {
    number.clamp(-LONGEST, LONGEST) as i64
}
