//! Times of day as people write them: by the watch of whoever kept the notes.

use super::cell::Wrong;

/// A time of day as noted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeOfDay {
    /// Seconds since midnight, below 86 400; of a time without seconds, the first of its minute.
    pub seconds: u32,
    /// True if it was written with seconds; else it means any moment of its minute.
    pub to_the_second: bool,
}

impl TimeOfDay {
    /// How many seconds it may mean: one, or a minute of them.
    pub fn spread(self) -> u32 {
        if self.to_the_second { 1 } else { 60 }
    }
}

/// Reads `14:32`, `14:32:05`, `14.32`, `14h32`, `2:32 pm`.
pub(super) fn time_of_day(text: &str) -> Result<TimeOfDay, Wrong> {
    read(text).ok_or(Wrong {
        what: "is no time of day",
        hint: "write it like 14:32, or 14:32:05; a timecode belongs under a heading such as TC",
    })
}

fn read(text: &str) -> Option<TimeOfDay> {
    let text = text.trim().to_lowercase();
    let half = |ends: [&str; 4]| ends.iter().find_map(|end| text.strip_suffix(end));
    let (clock, afternoon) =
        match (half([" am", "am", "a.m.", " a"]), half([" pm", "pm", "p.m.", " p"])) {
            (Some(clock), _) => (clock, Some(false)),
            (_, Some(clock)) => (clock, Some(true)),
            _ => (text.as_str(), None),
        };
    let mut parts = Vec::new();
    for part in clock.trim().split([':', '.', 'h']) {
        let digits = (1..=2).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
        parts.push(digits.then(|| part.parse::<u32>().ok()).flatten()?);
    }
    let (hours, minutes, seconds) = match parts[..] {
        [hours, minutes] => (hours, minutes, None),
        [hours, minutes, seconds] => (hours, minutes, Some(seconds)),
        _ => return None,
    };
    let hours = match afternoon {
        None => hours,
        Some(afternoon) if (1..=12).contains(&hours) => hours % 12 + if afternoon { 12 } else { 0 },
        Some(_) => return None,
    };
    if hours > 23 || minutes > 59 || seconds.is_some_and(|seconds| seconds > 59) {
        return None;
    }
    let whole = (hours * 60 + minutes) * 60 + seconds.unwrap_or(0);
    Some(TimeOfDay { seconds: whole, to_the_second: seconds.is_some() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_as_they_are_written() {
        for (text, seconds, exact) in [
            ("14:32", 52_320, false),
            ("14.32", 52_320, false),
            ("14h32", 52_320, false),
            ("2:32 pm", 52_320, false),
            ("2:32PM", 52_320, false),
            ("12:00 am", 0, false),
            ("12:05 p.m.", 43_500, false),
            ("0:00:00", 0, true),
            ("23:59:59", 86_399, true),
        ] {
            let found = time_of_day(text).unwrap_or_else(|wrong| panic!("{text}: {wrong:?}"));
            assert_eq!((found.seconds, found.to_the_second), (seconds, exact), "{text}");
        }
        for text in [
            "",
            "14",
            "24:00",
            "14:60",
            "14:32:05:12",
            "13:00 pm",
            "0:10 am",
            "noon",
            "-1:00",
            "14:3a",
        ] {
            assert!(time_of_day(text).is_err(), "{text}");
        }
    }
}
