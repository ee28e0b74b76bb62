//! One lens on two cameras at one time, and one camera recording twice at one time: a log that cannot be right.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::annotation::{Annotation, Setup};
use crate::dump::Dump;
use crate::finding::{Code, Finding, Place};
use crate::kit::Kit;
use crate::naming::key;

use super::Clocks;
use super::moments::seconds;

/// Two clips that share less than this, in seconds, may follow each other: clips are made to the second, and ran for begun ones.
const TOUCH: i64 = 2;
/// Most findings of this kind; after so many the log is wrong as a whole, or a clock is.
const MOST: usize = 50;

/// Something with a serial number, on a camera for a while.
struct Use<'a> {
    start: i64,
    end: i64,
    camera: &'a str,
    clip: usize,
}

/// What is used: a lens of the kit by name and serial, or a body by serial.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
enum What<'a> {
    Lens(&'a str, &'a str),
    Body(String),
}

/// How times are compared: by the creation time, or by timecode that counts alike.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum By {
    Clock,
    Timecode(u32, bool),
}

/// Everything with a serial number that was in two places at one time.
pub(super) fn check(dump: &Dump, kit: &Kit, clocks: &Clocks, clips: &[Annotation]) -> Vec<Finding> {
    let mut uses: BTreeMap<(What<'_>, By), Vec<Use<'_>>> = BTreeMap::new();
    for (clip, (annotation, of)) in clips.iter().zip(&dump.clips).enumerate() {
        let fast = clocks.fast(of, kit);
        let Some((by, start, length)) = when(annotation, fast) else { continue };
        for piece in annotation.setups.pieces() {
            let Setup { camera, lens, lens_serial, .. } = piece.value;
            let Some(camera) = camera.as_ref().map(|camera| camera.value.as_str()) else {
                continue;
            };
            let at = |frame: u64| in_clip(annotation, by, frame);
            let begin = start + at(piece.start).unwrap_or(0);
            let end = piece.end.and_then(at).map_or(start + length, |end| start + end);
            let mut add = |what| {
                let of = uses.entry((what, by)).or_default();
                of.push(Use { start: begin, end, camera, clip });
            };
            if let (Some(lens), Some(serial)) = (&lens.value, lens_serial) {
                add(What::Lens(&lens.value, &serial.value));
            }
            if let Some(serial) = annotation.clip.media.serial.as_ref().filter(|_| piece.start == 0)
            {
                add(What::Body(key(&serial.value)));
            }
        }
    }
    let mut findings = Vec::new();
    for ((what, by), mut of) in uses {
        of.sort_by_key(|one| (one.start, one.clip));
        // For each camera, what runs longest of all that began before.
        let mut running: BTreeMap<&str, &Use<'_>> = BTreeMap::new();
        for now in &of {
            let touch = if by == By::Clock { TOUCH } else { 0 };
            let other = running
                .values()
                .find(|other| other.camera != now.camera && other.end > now.start + touch);
            if let Some(other) = other
                && now.end > now.start + touch
                && findings.len() < MOST
            {
                findings.push(finding(clips, &what, (by, other, now)));
            }
            let longest = running.entry(now.camera).or_insert(now);
            if now.end > longest.end {
                *longest = now;
            }
        }
    }
    findings
}

/// When a clip ran: by its creation time, camera's clock set right, else by its timecode.
fn when(annotation: &Annotation, fast: i64) -> Option<(By, i64, i64)> {
    let facts = &annotation.clip;
    if let Some(created) = &facts.media.created {
        let start = created.value.and_utc().timestamp().checked_sub(fast)?;
        return Some((By::Clock, start, seconds(&facts.media)?));
    }
    let start = facts.media.start.as_ref()?.value;
    let counting = start.counting();
    let frames = i64::try_from(facts.media.frames.as_ref()?.value).ok()?;
    Some((
        By::Timecode(counting.base(), counting.drop()),
        i64::try_from(start.frame()).ok()?,
        frames,
    ))
}

/// A frame of a clip in the units in which times are compared.
fn in_clip(annotation: &Annotation, by: By, frame: u64) -> Option<i64> {
    let frame = match by {
        By::Timecode(..) => frame,
        By::Clock => {
            let rate = annotation.clip.media.rate.as_ref()?.value;
            frame.checked_mul(u64::from(rate.den()))?.checked_div(u64::from(rate.num()))?
        }
    };
    i64::try_from(frame).ok()
}

fn finding(
    clips: &[Annotation],
    what: &What<'_>,
    (by, other, now): (By, &Use<'_>, &Use<'_>),
) -> Finding {
    let name = |one: &Use<'_>| {
        clips.get(one.clip).map_or_else(|| Arc::from(""), |of| Arc::clone(&of.clip.name))
    };
    let file = clips.get(now.clip).and_then(|of| of.clip.files.first());
    let told =
        if by == By::Clock { "by the time at which they were made" } else { "by their timecode" };
    let (code, message, hint) = match what {
        What::Lens(lens, serial) => (
            Code::LensTwice,
            format!(
                "{lens}, serial number {serial}, is on camera {} in {} and on camera {} in {}, which ran at the same time {told}",
                other.camera,
                name(other),
                now.camera,
                name(now)
            ),
            "one of the two clips had another lens, or the cameras' clocks differ (--clock); correct the notes",
        ),
        What::Body(_) => (
            Code::CameraSerial,
            format!(
                "{} of camera {} and {} of camera {} were recorded by one body at the same time, {told}",
                name(other),
                other.camera,
                name(now),
                now.camera
            ),
            "check which camera shot which roll, and their clocks (--clock)",
        ),
    };
    let finding = Finding::new(code, message).hint(hint).clip(name(now));
    match file {
        Some(file) => finding.at(Place::file(Arc::clone(&file.shown))),
        None => finding,
    }
}
