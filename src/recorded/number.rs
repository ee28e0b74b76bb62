//! Numbers as cameras write them: `35/1`, `F1.78`, `2.8`; and how finely they were written.

/// A number above zero, and half of the smallest step of its writing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Written {
    pub(super) value: f64,
    pub(super) half_step: f64,
}

/// Largest numerator of an Exif rational: infinity for a distance, unknown for all else (CIPA DC-008, 4.6.5).
const ALL_ONES: u32 = u32::MAX;

/// True where a rational stands for infinity.
pub(super) fn is_infinite(text: &str) -> bool {
    parts(text).is_some_and(|(num, den)| num == ALL_ONES && den != 0)
}

/// Reads a rational. `None` for what means "unknown" (0, a zero denominator, all ones) and for what is none.
/// The step is taken from the denominator: `35/1` was written in whole units, `355/10` in tenths.
pub(super) fn rational(text: &str) -> Option<Written> {
    let (num, den) = parts(text)?;
    if num == 0 || den == 0 || num == ALL_ONES {
        return None;
    }
    Some(Written { value: f64::from(num) / f64::from(den), half_step: 0.5 / f64::from(den) })
}

/// Reads a plain decimal number above zero. The step is that of the last digit written.
pub(super) fn decimal(text: &str) -> Option<Written> {
    let text = text.trim();
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    // A printed floating-point number has up to seventeen digits.
    let digits = |text: &str, most| text.len() <= most && text.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || !digits(whole, 9) || !digits(part, 18) {
        return None;
    }
    let value: f64 = text.parse().ok()?;
    let step = format!("1e-{}", part.len()).parse::<f64>().ok()?;
    (value > 0.0).then_some(Written { value, half_step: step / 2.0 })
}

/// Reads a stop written as `F1.78`, `f/2.8`, `2.8` or `178/100`.
pub(super) fn stop(text: &str) -> Option<Written> {
    let text = text.trim();
    let bare = text.strip_prefix(['F', 'f']).unwrap_or(text);
    let bare = bare.strip_prefix('/').unwrap_or(bare);
    rational(bare).or_else(|| decimal(bare))
}

/// Reads an APEX aperture value: N is the square root of 2 to that power (CIPA DC-008, annex C).
pub(super) fn apex(text: &str) -> Option<Written> {
    let apex = rational(text)?;
    let value = libm::exp2(apex.value / 2.0);
    Some(Written {
        value,
        // The slope of the same formula carries the step over.
        half_step: apex.half_step * value * std::f64::consts::LN_2 / 2.0,
    })
}

/// Reads an APEX shutter speed value: the time in seconds is two to minus that power (CIPA DC-008, annex C). It is
/// signed, and 0 is a second.
pub(super) fn shutter(text: &str) -> Option<Written> {
    let (num, den) = text.trim().split_once('/')?;
    let (num, den): (i32, i32) = (num.parse().ok()?, den.parse().ok()?);
    let speed = f64::from(num) / f64::from(den);
    // Beyond a day and a millionth of a millionth of a second nobody exposes a frame.
    let value = (den != 0 && speed.abs() < 40.0).then(|| libm::exp2(-speed))?;
    Some(Written { value, half_step: 0.5 / f64::from(den).abs() * value * std::f64::consts::LN_2 })
}

/// Reads `180.0`, `1/48`: a number above zero in either writing.
pub(super) fn either(text: &str) -> Option<Written> {
    rational(text).or_else(|| decimal(text))
}

fn parts(text: &str) -> Option<(u32, u32)> {
    let (num, den) = text.trim().split_once('/')?;
    let part = |text: &str| {
        let digits = text.bytes().all(|b| b.is_ascii_digit());
        digits.then(|| text.parse().ok()).flatten()
    };
    Some((part(num)?, part(den)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_follow_the_writing() {
        let cases = [
            ("35/1", Some((35.0, 0.5))),
            ("355/10", Some((35.5, 0.05))),
            ("71/2", Some((35.5, 0.25))),
            ("0/1", None),
            ("35/0", None),
            ("0/0", None),
            ("4294967295/1", None),
            ("-35/1", None),
            ("35", None),
            ("99999999999/1", None),
        ];
        for (text, wanted) in cases {
            let read = rational(text).map(|w| (w.value, w.half_step));
            assert_eq!(read, wanted, "{text}");
        }
        for (text, value, half_step) in
            [("F1.78", 1.78, 0.005), ("f/2.8", 2.8, 0.05), ("4", 4.0, 0.5)]
        {
            let read = stop(text).unwrap();
            assert!((read.value - value).abs() < 1e-12, "{text}");
            assert!((read.half_step - half_step).abs() < 1e-12, "{text}");
        }
        for text in ["", "F", "wide open", "0.0", "-2", "1e5", "NaN", "inf"] {
            assert_eq!(stop(text), None, "{text}");
        }
    }

    /// CIPA DC-008, annex C: aperture value 2.97085 is f/2.8.
    #[test]
    fn apex_of_exif() {
        let read = apex("297085/100000").unwrap();
        assert!((read.value - 2.8).abs() < 1e-4);
    }

    /// CIPA DC-008, annex C: shutter speed values 0, 5 and -1 are 1 s, 1/32 s (called 1/30) and 2 s.
    #[test]
    fn apex_shutter_speeds_of_exif() {
        for (text, seconds) in [("0/1", 1.0), ("5/1", 0.031_25), ("-1/1", 2.0), ("-1000/1000", 2.0)]
        {
            assert!((shutter(text).unwrap().value - seconds).abs() < 1e-12, "{text}");
        }
        for text in ["", "5", "5/0", "-2147483648/1", "4294967295/1", "x/1"] {
            assert_eq!(shutter(text), None, "{text}");
        }
        for (text, value) in [("1/50", 0.02), ("172.8", 172.8)] {
            assert!((either(text).unwrap().value - value).abs() < 1e-12, "{text}");
        }
    }
}
