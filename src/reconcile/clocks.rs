//! How far the clock of each camera was off, as somebody who compared them says.

use crate::dump::{Clip, Dump};
use crate::kit::{Camera, Kit};
use crate::naming::key;

use super::camera::cameras_of;

/// Most that a clock is believed to be off, in seconds: a day. What is off by more is a wrong date, and dates are not noted.
const MOST: i64 = 24 * 60 * 60;
/// How an offset is written.
const FORM: &str =
    "write it like --clock A=+00:01:30: the clock of camera A was a minute and a half fast";

/// Offsets of cameras' clocks. A camera without one is taken to have had the right time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Clocks {
    /// Name of a camera as a key, and by how many seconds its clock was fast.
    offsets: Vec<(String, i64)>,
}

impl Clocks {
    /// Reads `A=+00:01:30` and its like; the error says what is wrong and what to write.
    pub fn read(typed: &[String], kit: &Kit, dump: &Dump) -> Result<Self, String> {
        let mut clocks = Self::default();
        for text in typed {
            let wrong = |what: &str| format!("--clock {text}: {what}; {FORM}");
            let (camera, offset) =
                text.split_once('=').ok_or_else(|| wrong("which camera, and by how much?"))?;
            let offset = read(offset.trim()).map_err(wrong)?;
            let name = camera_called(camera.trim(), kit, dump)
                .map_err(|known| format!("--clock {text}: {known}"))?;
            if clocks.offsets.iter().any(|(other, _)| *other == name) {
                return Err(wrong("the camera was given a clock twice"));
            }
            clocks.offsets.push((name, offset));
        }
        Ok(clocks)
    }

    /// By how many seconds the clock was fast that wrote the times into this clip.
    pub(super) fn fast(&self, clip: &Clip, kit: &Kit) -> i64 {
        if self.offsets.is_empty() {
            return 0;
        }
        let name = camera_name(clip, kit);
        let found = self.offsets.iter().find(|(camera, _)| Some(camera) == name.as_ref());
        found.map_or(0, |(_, offset)| *offset)
    }
}

/// The camera of a clip as a key: its id in the kit, else the letter with which its roll begins.
pub(super) fn camera_name(clip: &Clip, kit: &Kit) -> Option<String> {
    match cameras_of(kit, clip)[..] {
        [camera] => Some(key(&camera.id)),
        [] if kit.cameras.is_empty() => letters(clip.roll.as_deref()?),
        _ => None,
    }
}

/// The letters with which a roll begins, if a number follows: `A` of `A003`.
fn letters(roll: &str) -> Option<String> {
    let end = roll.find(|c: char| !c.is_alphabetic())?;
    let numbered = roll.get(end..)?.starts_with(|c: char| c.is_ascii_digit());
    (end > 0 && numbered).then(|| key(roll.get(..end).unwrap_or_default()))
}

/// What a camera of the command line is called here; the error says which there are.
fn camera_called(typed: &str, kit: &Kit, dump: &Dump) -> Result<String, String> {
    let wanted = key(typed);
    if kit.cameras.is_empty() {
        let known = dump.clips.iter().any(|clip| camera_name(clip, kit).as_ref() == Some(&wanted));
        return if known {
            Ok(wanted)
        } else {
            Err(format!(
                "no roll of the dump begins with the letter of camera \"{typed}\", and there are no cameras in the kit"
            ))
        };
    }
    let called = |camera: &&Camera| {
        let names = [Some(&camera.id), camera.name.as_ref(), camera.serial.as_ref()];
        names.into_iter().flatten().any(|name| key(name) == wanted)
    };
    let mut found = kit.cameras.iter().filter(called);
    match (found.next(), found.next()) {
        (Some(camera), None) => Ok(key(&camera.id)),
        (Some(_), Some(_)) => {
            Err(format!("several cameras of the kit are called \"{typed}\"; write the id"))
        }
        (None, _) => {
            let known: Vec<&str> = kit.cameras.iter().map(|camera| camera.id.as_str()).collect();
            Err(format!("the kit has no camera \"{typed}\"; its cameras are {}", known.join(", ")))
        }
    }
}

/// `+00:01:30`, `-02:00:00`, `00:00:05`: seconds.
fn read(text: &str) -> Result<i64, &'static str> {
    let (sign, clock) = match (text.strip_prefix('+'), text.strip_prefix(['-', '\u{2212}'])) {
        (Some(clock), _) => (1, clock),
        (_, Some(clock)) => (-1, clock),
        _ => (1, text),
    };
    let parts: Vec<i64> = clock
        .split(':')
        .map(|part| {
            let digits = part.len() == 2 && part.bytes().all(|b| b.is_ascii_digit());
            digits.then(|| part.parse().ok()).flatten().unwrap_or(-1)
        })
        .collect();
    match parts[..] {
        [hours, minutes @ 0..=59, seconds @ 0..=59] if hours >= 0 => {
            let all = (hours * 60 + minutes) * 60 + seconds;
            if all > MOST { Err("a clock is off by a day at most") } else { Ok(sign * all) }
        }
        _ => Err("the offset is hours, minutes and seconds of two digits each"),
    }
}

/// An offset as it is written behind `--clock A=`.
pub(super) fn written(seconds: i64) -> String {
    let sign = if seconds < 0 { '-' } else { '+' };
    let all = seconds.abs();
    format!("{sign}{:02}:{:02}:{:02}", all / 3600, all / 60 % 60, all % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offsets_are_read_and_written() {
        for (text, seconds) in [
            ("+00:01:30", 90),
            ("-02:00:00", -7200),
            ("\u{2212}02:00:00", -7200),
            ("00:00:00", 0),
            ("+24:00:00", 86_400),
        ] {
            assert_eq!(read(text), Ok(seconds), "{text}");
        }
        assert_eq!((written(90), written(-7200)), ("+00:01:30".to_owned(), "-02:00:00".to_owned()));
        for text in [
            "",
            "90",
            "1:30",
            "+1:30:00",
            "00:60:00",
            "00:00:60",
            "24:00:01",
            "+-00:00:01",
            "00:00:01:00",
            "x",
        ] {
            assert!(read(text).is_err(), "{text}");
        }
    }
}
