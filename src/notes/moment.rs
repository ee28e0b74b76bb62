//! Timecode and time of day as people write them.

/// Reads a timecode or a time of day: `10:32:05:12`, `10:32:05`, `14:32`, `2:32 pm`, `14h32`.
///
/// A timecode with frames stays as typed, since how it counts is known only with the clip; all else becomes `hh:mm:ss`
/// or, where no seconds were written, `hh:mm`. `None` for anything else.
pub(super) fn moment(text: &str) -> Option<String> {
    let lower = text.trim().to_lowercase();
    // A spreadsheet puts a date before the time of day.
    let lower = match lower.split_once(' ') {
        Some((date, time)) if is_date(date) => time.trim(),
        _ => lower.as_str(),
    };
    let bare = lower.replace("a.m.", "am").replace("p.m.", "pm");
    let (bare, half) = match (bare.strip_suffix("am"), bare.strip_suffix("pm")) {
        (Some(bare), _) => (bare.trim_end(), Some(0)),
        (_, Some(bare)) => (bare.trim_end(), Some(12)),
        _ => (bare.as_str(), None),
    };
    // A point between hours and minutes alone would make a time of every number.
    let short = bare.split([':', 'h']).count() == 2 && !bare.contains([';', '.', ',']);
    let parts: Vec<&str> = bare.split([':', ';', '.', ',', 'h']).collect();
    let number = |part: &&str| {
        let digits = (1..=3).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
        digits.then(|| part.parse::<u32>().ok()).flatten()
    };
    let numbers: Option<Vec<u32>> = parts.iter().map(number).collect();
    let hour = |hours: u32| match half {
        None => (hours < 24).then_some(hours),
        Some(half) => (1..=12).contains(&hours).then_some(hours % 12 + half),
    };
    match numbers.as_deref()? {
        [hours, minutes @ 0..=59] if short => Some(format!("{:02}:{minutes:02}", hour(*hours)?)),
        [hours, minutes @ 0..=59, seconds @ 0..=59] => {
            Some(format!("{:02}:{minutes:02}:{seconds:02}", hour(*hours)?))
        }
        [0..=23, 0..=59, 0..=59, _] if half.is_none() && !bare.contains('h') => {
            Some(bare.replace(',', ";"))
        }
        _ => None,
    }
}

/// `2026-06-05`.
fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let digits = |part: &&str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    parts.len() == 3 && parts.iter().all(digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read() {
        for (text, expected) in [
            ("10:00:00:00", Some("10:00:00:00")),
            ("10:00:00;02", Some("10:00:00;02")),
            ("23:59:59.119", Some("23:59:59.119")),
            ("9:05:00", Some("09:05:00")),
            ("14.32.05", Some("14:32:05")),
            ("14:32", Some("14:32")),
            ("9:05", Some("09:05")),
            ("14h32", Some("14:32")),
            ("2:32 PM", Some("14:32")),
            ("2:32:05pm", Some("14:32:05")),
            ("12:05 a.m.", Some("00:05")),
            ("12:05 pm", Some("12:05")),
            ("2026-06-05 14:32:05", Some("14:32:05")),
            ("14.32", None),
            ("24:00", None),
            ("13:05 pm", None),
            ("10:60:00", None),
            ("10:00:00:00 am", None),
            ("10000000", None),
            ("a:b:c", None),
            ("2026-06-05", None),
            ("", None),
        ] {
            assert_eq!(moment(text).as_deref(), expected, "{text}");
        }
    }
}
