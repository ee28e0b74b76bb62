//! How dates, numbers and lengths of time are written in a report.

use chrono::{Datelike, NaiveDate};

use crate::number::{fixed, short};

use super::super::calm::calm;
use super::super::summary::spoken;
use super::Options;
use super::words::Word;

/// Form of dates.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum DateForm {
    /// 2026-11-14 (ISO 8601).
    #[default]
    Iso,
    /// 14.11.2026.
    DayFirst,
    /// 11/14/2026.
    MonthFirst,
    /// 14 November 2026.
    Words,
}

/// Sign between the whole and the parts of a number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Decimal {
    /// 35.5
    #[default]
    Point,
    /// 35,5
    Comma,
}

/// Sheet that the report is printed on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 x 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 x 11 in (ANSI/ASME Y14.1, size A).
    Letter,
}

const MONTHS: [Word; 12] = [
    Word::January,
    Word::February,
    Word::March,
    Word::April,
    Word::May,
    Word::June,
    Word::July,
    Word::August,
    Word::September,
    Word::October,
    Word::November,
    Word::December,
];

impl Options {
    /// The word in the language of the report, calm.
    pub fn say(&self, word: Word) -> String {
        calm(self.words.say(word))
    }

    /// A date.
    pub fn date(&self, date: NaiveDate) -> String {
        let (year, month, day) = (date.year(), date.month(), date.day());
        match self.dates {
            DateForm::Iso => format!("{year:04}-{month:02}-{day:02}"),
            DateForm::DayFirst => format!("{day:02}.{month:02}.{year:04}"),
            DateForm::MonthFirst => format!("{month:02}/{day:02}/{year:04}"),
            DateForm::Words => {
                let name = MONTHS.get(date.month0() as usize).copied().unwrap_or(Word::January);
                format!("{day} {} {year}", self.say(name))
            }
        }
    }

    /// A number with at most so many decimals.
    pub fn number(&self, number: f64, decimals: usize) -> String {
        if number.is_infinite() {
            return self.say(Word::Infinity);
        }
        self.sign(short(number, decimals))
    }

    /// A number with exactly so many decimals.
    pub fn fixed(&self, number: f64, decimals: usize) -> String {
        self.sign(fixed(number, decimals))
    }

    /// A stop as people say it, with its letter.
    pub fn stop(&self, letter: &str, number: f64) -> String {
        format!("{letter}{}", self.sign(spoken(number)))
    }

    /// Seconds as minutes and seconds, from an hour on with hours, below ten seconds with a tenth.
    pub fn time(&self, seconds: f64) -> String {
        if seconds < 10.0 {
            return self.sign(format!("0:{:0>4}", fixed(seconds, 1)));
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "not negative, and a cast of what is too large gives the largest number"
        )]
        let whole = seconds.round() as u64;
        let (hours, minutes, seconds) = (whole / 3600, whole / 60 % 60, whole % 60);
        if hours > 0 {
            format!("{hours}:{minutes:02}:{seconds:02}")
        } else {
            format!("{minutes}:{seconds:02}")
        }
    }

    /// Bytes, as drives are sold: 1 GB is 10^9 bytes (SI; IEC 80000-13 keeps GiB for 2^30).
    pub fn size(&self, bytes: u64) -> String {
        #[expect(clippy::cast_precision_loss, reason = "shown with one decimal")]
        let bytes = bytes as f64;
        let (by, unit) = match bytes {
            b if b >= 1e11 => return format!("{} GB", self.fixed(b / 1e9, 0)),
            b if b >= 1e9 => (1e9, "GB"),
            b if b >= 1e6 => (1e6, "MB"),
            _ => (1e3, "kB"),
        };
        format!("{} {unit}", self.fixed(bytes / by, 1))
    }

    fn sign(&self, number: String) -> String {
        match self.decimal {
            Decimal::Point => number,
            Decimal::Comma => number.replace('.', ","),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_and_numbers_are_written_as_asked() {
        let date = NaiveDate::from_ymd_opt(2026, 11, 4).unwrap();
        let with = |dates| Options { dates, ..Options::default() };
        assert_eq!(with(DateForm::Iso).date(date), "2026-11-04");
        assert_eq!(with(DateForm::DayFirst).date(date), "04.11.2026");
        assert_eq!(with(DateForm::MonthFirst).date(date), "11/04/2026");
        assert_eq!(with(DateForm::Words).date(date), "4 November 2026");
        let comma = Options { decimal: Decimal::Comma, ..Options::default() };
        assert_eq!(comma.number(35.5, 2), "35,5");
        assert_eq!(comma.stop("T", 1.987), "T2,0");
        assert_eq!(comma.size(1_260_000_000), "1,3 GB");
        assert_eq!(comma.number(f64::INFINITY, 2), "infinity");
    }

    #[test]
    fn lengths_of_time_round_once() {
        let plain = Options::default();
        for (seconds, want) in [
            (0.4, "0:00.4"),
            (9.94, "0:09.9"),
            (9.96, "0:10.0"),
            (10.0, "0:10"),
            (59.6, "1:00"),
            (3599.4, "59:59"),
            (3600.0, "1:00:00"),
            (45_296.0, "12:34:56"),
        ] {
            assert_eq!(plain.time(seconds), want, "{seconds}");
        }
    }
}
