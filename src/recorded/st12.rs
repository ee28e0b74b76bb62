//! The binary timecode of SMPTE ST 12-1, as OpenEXR (`timeCode`) and DNG (`TimeCodes`) store it.

use crate::finding::{Code, Finding, Place};
use crate::ratio::FrameRate;
use crate::recorded::Recorded;
use crate::sourced::{Origin, Sourced};
use crate::timecode::{Counting, Timecode};

const DROP: u8 = 0x40;
const FIELD: u8 = 0x80;

/// The label that stands in frames, seconds, minutes and hours, each in two decimal digits of four bits;
/// the flags of ST 12-1 share their upper bits. `;` in front of the frames means drop frame.
pub(super) fn label(bytes: [u8; 4]) -> String {
    let [frames, seconds, minutes, hours] = bytes;
    let mark = if frames & DROP != 0 { ';' } else { ':' };
    let (hours, minutes, seconds, frames) =
        (hours & 0x3F, minutes & 0x7F, seconds & 0x7F, frames & 0x3F);
    format!("{hours:02x}:{minutes:02x}:{seconds:02x}{mark}{frames:02x}")
}

/// The timecode at `rate`. Above 30 frames a second ST 12-1 numbers pairs of frames, and the field mark tells
/// the second of a pair; above 60 it has no labels. `None` for a label that does not exist.
fn timecode(bytes: [u8; 4], rate: FrameRate) -> Option<Timecode> {
    let base = rate.num().div_ceil(rate.den());
    let [frames, seconds, _, hours] = bytes;
    let label = label(bytes).replace(';', ":");
    let (start, digits) = label.rsplit_once(':')?;
    let mut frame: u32 = digits.parse().ok()?;
    if base > 60 {
        return None;
    }
    if base > 30 {
        // At 50 the mark stands where other rates have a flag for the user bits (ST 12-1, table of flag bits).
        let marked = seconds & FIELD != 0 || (base == 50 && hours & FIELD != 0);
        frame = frame * 2 + u32::from(marked);
    }
    let drop = frames & DROP != 0;
    let counting = Counting::new(base, drop).or_else(|| Counting::new(base, false))?;
    Timecode::parse(&format!("{start}:{frame:02}"), counting)
}

/// Fills the start of the clip. Without a rate the timecode cannot be counted, and stays a tag.
pub(super) fn start(code: &Sourced<[u8; 4]>, recorded: &mut Recorded, findings: &mut Vec<Finding>) {
    let Some(rate) = recorded.rate.as_ref().map(|rate| rate.value) else {
        return;
    };
    recorded.start =
        timecode(code.value, rate).map(|start| Sourced::new(start, code.origin.clone()));
    if recorded.start.is_none()
        && let Origin::Media { file, offset, .. } = &code.origin
    {
        let message =
            format!("the timecode {} does not exist at {rate} frames a second", label(code.value));
        findings.push(
            Finding::new(Code::MediaTimecodeOdd, message)
                .at(Place::byte(file.as_ref(), *offset))
                .hint("check the timecode against slate and notes"),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ratio::Ratio;

    /// The word 0x01020304 is 01:02:03:04 (OpenEXR library, standards sheet); pairs and field marks by ST 12-1.
    #[test]
    fn labels_of_st_12_1() {
        let cases = [
            ([0x04, 0x03, 0x02, 0x01], (24, 1), Some("01:02:03:04")),
            ([0x42, 0x00, 0x01, 0x00], (30000, 1001), Some("00:01:00;02")),
            // A label that drop frame skips.
            ([0x40, 0x00, 0x01, 0x00], (30000, 1001), None),
            // Drop frame does not exist at 25.
            ([0x44, 0x03, 0x02, 0x01], (25, 1), Some("01:02:03:04")),
            ([0x24, 0x00, 0x00, 0x00], (24, 1), None),
            ([0x12, 0x83, 0x02, 0x01], (48, 1), Some("01:02:03:25")),
            ([0x12, 0x03, 0x02, 0x81], (50, 1), Some("01:02:03:25")),
            ([0x29, 0x80, 0x00, 0x00], (60, 1), Some("00:00:00:59")),
            ([0x00, 0x00, 0x00, 0x00], (120, 1), None),
            ([0x0A, 0x00, 0x00, 0x00], (24, 1), None),
            ([0xFF, 0xFF, 0xFF, 0xFF], (24, 1), None),
        ];
        for (bytes, (num, den), wanted) in cases {
            let read = timecode(bytes, Ratio::new(num, den).unwrap());
            assert_eq!(read.map(|t| t.to_string()).as_deref(), wanted, "{bytes:02x?}");
        }
    }
}
