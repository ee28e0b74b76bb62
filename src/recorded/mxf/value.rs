//! Types of values in MXF header metadata (SMPTE ST 377-1, 4.3).

use chrono::{NaiveDate, NaiveDateTime};

use crate::ratio::Ratio;

pub(super) fn flag(value: &[u8]) -> Option<bool> {
    let [byte] = value else { return None };
    Some(*byte != 0)
}

pub(super) fn short(value: &[u8]) -> Option<u16> {
    value.try_into().ok().map(u16::from_be_bytes)
}

pub(super) fn long(value: &[u8]) -> Option<u32> {
    value.try_into().ok().map(u32::from_be_bytes)
}

/// A place on a track.
pub(super) fn position(value: &[u8]) -> Option<i64> {
    value.try_into().ok().map(i64::from_be_bytes)
}

/// A length; -1 stands for "not known", as nothing else below zero makes sense, and 0 is written before anything is recorded.
pub(super) fn duration(value: &[u8]) -> Option<u64> {
    u64::try_from(position(value)?).ok().filter(|length| *length > 0)
}

/// Two signed numbers of 32 bits; no rate and no aspect is zero or below.
pub(super) fn ratio(value: &[u8]) -> Option<Ratio> {
    let (num, den) = value.split_at_checked(4)?;
    let part = |bytes: &[u8]| u64::try_from(i32::from_be_bytes(bytes.try_into().ok()?)).ok();
    Ratio::new(part(num)?, part(den)?)
}

/// UTF-16, big-endian, up to the first zero.
pub(super) fn text(value: &[u8]) -> Option<String> {
    let units =
        value.chunks_exact(2).map(|unit| u16::from_be_bytes(unit.try_into().unwrap_or_default()));
    let units: Vec<u16> = units.take_while(|unit| *unit != 0).take(1024).collect();
    let text = String::from_utf16_lossy(&units);
    let text = text.trim();
    let clean: String = text.chars().filter(|c| !c.is_control()).collect();
    (!clean.is_empty()).then_some(clean)
}

/// Year, month, day, hour, minute, second and quarters of a hundredth; all zeros are not known.
pub(super) fn time(value: &[u8]) -> Option<NaiveDateTime> {
    let [y0, y1, month, day, hour, minute, second, quarters] = *value else { return None };
    let year = i32::from(u16::from_be_bytes([y0, y1]));
    let date = NaiveDate::from_ymd_opt(year, month.into(), day.into())?;
    let milliseconds = u32::from(quarters) * 4;
    date.and_hms_milli_opt(hour.into(), minute.into(), second.into(), milliseconds)
}
