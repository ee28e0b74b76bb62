//! Timecode labels (SMPTE ST 12-1): counting frames to labels and back, drop frame included.

/// How a timecode counts: labels a second, and whether labels are dropped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Counting {
    base: u32,
    drop: bool,
}

impl Counting {
    /// Counting with `base` labels a second. Drop frame exists for 30 and 60 labels only
    /// (ST 12-1; 120 is taken as the same rule doubled again); any other base with `drop` is refused, as is a base of 0 or above 240.
    pub fn new(base: u32, drop: bool) -> Option<Self> {
        let drops = matches!(base, 30 | 60 | 120);
        ((1..=240).contains(&base) && (drops || !drop)).then_some(Self { base, drop })
    }

    /// Labels a second: 30 for 29.97.
    pub fn base(self) -> u32 {
        self.base
    }

    /// True where labels are dropped to stay with the clock.
    pub fn drop(self) -> bool {
        self.drop
    }

    /// Labels in 24 hours; counting wraps there.
    pub fn day(self) -> u64 {
        24 * 60 * 60 * u64::from(self.base) - self.dropped_a_minute() * 9 * 6 * 24
    }

    fn dropped_a_minute(self) -> u64 {
        if self.drop { u64::from(self.base / 15) } else { 0 }
    }
}

/// One timecode: a frame count since midnight in a [`Counting`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Timecode {
    frame: u64,
    counting: Counting,
}

impl Timecode {
    /// The timecode `frame` frames after midnight, wrapped to the day.
    pub fn from_frame(frame: u64, counting: Counting) -> Self {
        Self { frame: frame % counting.day(), counting }
    }

    /// Reads `hh:mm:ss:ff`; `;` or `.` before the frames mean the same as `:`.
    ///
    /// `None` for anything else: parts out of range, or a label that drop frame skips
    /// (ST 12-1: `;00` and `;01` of each minute not divisible by ten do not exist).
    pub fn parse(text: &str, counting: Counting) -> Option<Self> {
        let mut parts = text.trim().split([':', ';', '.']).map(|part| {
            let digits =
                !part.is_empty() && part.len() <= 3 && part.bytes().all(|b| b.is_ascii_digit());
            digits.then(|| part.parse::<u64>().ok()).flatten()
        });
        let mut next = || parts.next().flatten();
        let (hours, minutes, seconds, frames) = (next()?, next()?, next()?, next()?);
        if parts.next().is_some() || hours > 23 || minutes > 59 || seconds > 59 {
            return None;
        }
        let dropped = counting.dropped_a_minute();
        let base = u64::from(counting.base);
        if frames >= base || (seconds == 0 && minutes % 10 != 0 && frames < dropped) {
            return None;
        }
        let minute = hours * 60 + minutes;
        let frame = (minute * 60 + seconds) * base + frames - dropped * (minute - minute / 10);
        Some(Self { frame, counting })
    }

    /// Frames since midnight.
    pub fn frame(self) -> u64 {
        self.frame
    }

    /// How it counts.
    pub fn counting(self) -> Counting {
        self.counting
    }

    /// The timecode `frames` later, wrapped to the day.
    #[must_use]
    pub fn later(self, frames: u64) -> Self {
        Self::from_frame(self.frame.wrapping_add(frames % self.counting.day()), self.counting)
    }

    /// Frames from `self` forward to `other`, across midnight if need be; `None` if they count differently.
    pub fn frames_until(self, other: Self) -> Option<u64> {
        let day = self.counting.day();
        (self.counting == other.counting).then(|| (other.frame + day - self.frame) % day)
    }

    /// Hours, minutes, seconds and frames of the label.
    pub fn label(self) -> (u64, u64, u64, u64) {
        let base = u64::from(self.counting.base);
        let dropped = self.counting.dropped_a_minute();
        // Put the dropped labels back, then divide as if nothing had been dropped.
        let ten_minutes = base * 600 - dropped * 9;
        let (tens, rest) = (self.frame / ten_minutes, self.frame % ten_minutes);
        let minute = base * 60 - dropped;
        let skipped =
            if rest < base * 60 { 0 } else { dropped * (1 + (rest - base * 60) / minute) };
        let count = tens * base * 600 + rest + skipped;
        (count / (base * 3600), count / (base * 60) % 60, count / base % 60, count % base)
    }
}

impl std::fmt::Display for Timecode {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (hours, minutes, seconds, frames) = self.label();
        let mark = if self.counting.drop { ';' } else { ':' };
        let width = if self.counting.base > 100 { 3 } else { 2 };
        write!(f, "{hours:02}:{minutes:02}:{seconds:02}{mark}{frames:0width$}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drop(base: u32) -> Counting {
        Counting::new(base, true).unwrap()
    }

    /// SMPTE ST 12-1 drop-frame counts; the same values come from two public libraries
    /// (`OpenTimelineIO` 0.18.1 and `timecode` 1.5.1).
    #[test]
    fn drop_frame_counts_of_st_12_1() {
        let cases = [
            (30, 1799, "00:00:59;29"),
            (30, 1800, "00:01:00;02"),
            (30, 17982, "00:10:00;00"),
            (30, 107_892, "01:00:00;00"),
            (30, 2_589_407, "23:59:59;29"),
            (60, 3599, "00:00:59;59"),
            (60, 3600, "00:01:00;04"),
            (60, 35964, "00:10:00;00"),
            (60, 215_784, "01:00:00;00"),
            (60, 5_178_815, "23:59:59;59"),
        ];
        for (base, frame, label) in cases {
            assert_eq!(Timecode::from_frame(frame, drop(base)).to_string(), label);
            assert_eq!(Timecode::parse(label, drop(base)).unwrap().frame(), frame, "{label}");
        }
        assert_eq!(drop(30).day(), 2_589_408);
        assert_eq!(drop(60).day(), 5_178_816);
    }

    #[test]
    fn every_label_of_the_drop_frame_day_reads_back() {
        for frame in 0..drop(30).day() {
            let timecode = Timecode::from_frame(frame, drop(30));
            let (h, m, s, f) = timecode.label();
            assert!(s != 0 || m % 10 == 0 || f >= 2, "label {timecode} does not exist");
            let counted = (h * 3600 + m * 60 + s) * 30 + f - 2 * (h * 60 + m - (h * 60 + m) / 10);
            assert_eq!(counted, frame);
        }
    }

    #[test]
    fn labels_that_do_not_exist_are_refused() {
        let whole = Counting::new(24, false).unwrap();
        for text in [
            "00:01:00;00",
            "00:01:00;01",
            "24:00:00:00",
            "00:60:00:00",
            "1:2:3",
            "",
            "a:b:c:d",
            "00:00:00:30",
        ] {
            assert_eq!(Timecode::parse(text, drop(30)), None, "{text}");
        }
        assert_eq!(Timecode::parse("00:00:00:24", whole), None);
        assert!(Counting::new(25, true).is_none());
        assert!(Counting::new(0, false).is_none());
    }

    #[test]
    fn later_and_until_cross_midnight() {
        let whole = Counting::new(25, false).unwrap();
        let start = Timecode::parse("23:59:59:20", whole).unwrap();
        let end = start.later(10);
        assert_eq!(end.to_string(), "00:00:00:05");
        assert_eq!(start.frames_until(end), Some(10));
    }
}
