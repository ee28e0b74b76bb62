//! Clips, notes and a kit in memory, as many as asked for; and how much memory a process had.
#![allow(dead_code, reason = "not every bench uses all of it")]

use std::fmt::Write as _;
use std::path::PathBuf;
use std::sync::Arc;

use anyhow::{Context as _, Result};
use chrono::{NaiveDate, TimeDelta};
use lensmend::dump::{Clip, Dump, Part};
use lensmend::ratio::Ratio;
use lensmend::recorded::{FileFacts, Reading, Recorded};
use lensmend::sourced::{Origin, Sourced};
use lensmend::timecode::{Counting, Timecode};
use lensmend::units::{Millimeters, Raster};

/// Clips of a roll.
const ROLL: usize = 500;
/// Frames of a clip, four seconds.
const FRAMES: u64 = 100;
/// Seconds from the start of a clip to that of the next on its roll: so a roll lasts less than a day.
const APART: usize = 60;
pub(crate) const KIT: &str = r#"
[[camera]]
id = "A"
[[camera.mode]]
id = "uhd"
raster = "3840x2160"
width = 26.2
height = 14.7375
[[lens]]
id = "p35"
focal = 35
f-max = 1.4
[[lens]]
id = "p50"
focal = 50
f-max = 1.4
[[attachment]]
id = "r"
kind = "reducer"
magnification = 0.71
transmittance = 0.95
"#;

pub(crate) fn clips(size: usize) -> Result<(Dump, Vec<Vec<FileFacts>>)> {
    let day = NaiveDate::from_ymd_opt(2026, 11, 14).and_then(|day| day.and_hms_opt(8, 0, 0));
    let day = day.context("no such day")?;
    let counting = Counting::new(25, false).context("no such counting")?;
    let mut clips = Vec::with_capacity(size);
    let mut facts = Vec::with_capacity(size);
    for at in 0..size {
        let (roll, number) = (at / ROLL, at % ROLL);
        let file = format!("A{roll:03}/A{roll:03}C{number:03}.mov");
        let origin =
            Origin::Media { file: Arc::from(file.as_str()), path: Arc::from("moov"), offset: 0 };
        let seconds = number * APART;
        let frames = u64::try_from(seconds)? * 25 + 8 * 3600 * 25;
        let focal = [50.0, 36.0][at % 2];
        let start =
            TimeDelta::seconds(i64::try_from(seconds)?) + TimeDelta::days(i64::try_from(roll)?);
        let recorded = Recorded {
            coded: Raster::new(3840, 2160).map(|raster| Sourced::new(raster, origin.clone())),
            rate: Ratio::new(25, 1).map(|rate| Sourced::new(rate, origin.clone())),
            frames: Some(Sourced::new(FRAMES, origin.clone())),
            start: Some(Sourced::new(Timecode::from_frame(frames, counting), origin.clone())),
            created: Some(Sourced::new(day + start, origin.clone())),
            focal_length: Millimeters::new(focal).map(|value| Reading {
                value,
                raw: focal.to_string(),
                half_step: 0.5,
                origin: origin.clone(),
            }),
            ..Recorded::default()
        };
        facts.push(vec![FileFacts { recorded: recorded.into(), header_sha256: None }]);
        clips.push(Clip {
            name: format!("A{roll:03}C{number:03}"),
            roll: Some(format!("A{roll:03}")),
            short: format!("C{number:03}"),
            parts: vec![Part { path: PathBuf::from(file), number: None, size: 1, row: None }],
            copies: Vec::new(),
        });
    }
    Ok((Dump { root: PathBuf::new(), clips, strays: Vec::new() }, facts))
}

/// A row for each clip from `from` to `to`, of which some say when and not which.
pub(crate) fn rows(from: usize, to: usize) -> String {
    let mut text = String::from("Roll,Clip,TC,Time,Lens,Stop,Attachment,Remarks\n");
    for at in from..to {
        let (roll, number) = (at / ROLL, at % ROLL);
        let seconds = 8 * 3600 + number * APART;
        let (hour, minute, second) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
        if number == 0 {
            let _ = writeln!(text, "A{roll:03},,,,,,r,");
        }
        let _ = match at {
            _ if at % 3 == 0 => writeln!(
                text,
                "A{roll:03},,{hour:02}:{minute:02}:{second:02}:00,,p50,2.8,,by timecode"
            ),
            _ if at % 5 == 0 => {
                writeln!(text, "A{roll:03},,,{hour:02}:{minute:02}:{second:02},p50,2.8,,by time")
            }
            _ => writeln!(text, "A{roll:03},C{number:03},,,p50,2.8,,by name"),
        };
    }
    text
}

/// The most memory that this process had at once, in KiB.
pub(crate) fn peak() -> Option<u32> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix("kB")?.trim().parse().ok()
}
