//! How acquisition metadata writes its two kinds of number (SMPTE RDD 18).

/// Both use all ones for what is not known (common practice, no source).
const ALL_ONES: u16 = u16::MAX;
/// The largest distance that can be written: it stands for infinity (common practice, no source).
const FARTHEST: u16 = 0x7FFF;

/// A number and half of the step to the next that can be written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Coded {
    pub(super) value: f64,
    pub(super) half_step: f64,
}

impl Coded {
    pub(super) fn times(self, factor: f64) -> Self {
        Self { value: self.value * factor, half_step: self.half_step * factor }
    }
}

/// IRIS: the stop is 2 to the power of 8 (1 - v/65536). 0 and all ones are not known.
pub(super) fn iris(word: u16) -> Option<Coded> {
    if word == 0 || word == ALL_ONES {
        return None;
    }
    let value = libm::exp2(8.0 * (1.0 - f64::from(word) / 65536.0));
    Some(Coded { value, half_step: value * std::f64::consts::LN_2 * 8.0 / 65536.0 / 2.0 })
}

/// DISTANCE in metres: a signed power of ten in the upper four bits, a whole number in the lower twelve.
/// A number of 0 and all ones are not known; the largest distance is infinity.
pub(super) fn distance(word: u16) -> Option<Coded> {
    let digits = word & 0x0FFF;
    if digits == 0 || word == ALL_ONES {
        return None;
    }
    if word == FARTHEST {
        return Some(Coded { value: f64::INFINITY, half_step: 0.0 });
    }
    let power = i32::from(word >> 12);
    let power = if power > 7 { power - 16 } else { power };
    // Divided by a whole power of ten, so that 3550 hundred-thousandths are 0.0355 and nothing beside it.
    let scale = f64::from(10_u32.pow(power.unsigned_abs()));
    let scaled = |number: f64| if power < 0 { number / scale } else { number * scale };
    Some(Coded { value: scaled(f64::from(digits)), half_step: scaled(0.5) })
}

/// Hundredths. 0 and all ones are not known.
pub(super) fn percent(word: u16) -> Option<Coded> {
    let percent = f64::from(known(word)?);
    Some(Coded { value: percent / 100.0, half_step: 0.005 })
}

/// A value of two bytes.
pub(super) fn word(value: &[u8]) -> Option<u16> {
    value.try_into().ok().map(u16::from_be_bytes)
}

/// A word that may mean "not known": 0 and all ones do.
pub(super) fn known(word: u16) -> Option<u16> {
    (word != 0 && word != ALL_ONES).then_some(word)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check values that two public parsers agree on.
    #[test]
    fn iris_of_rdd_18() {
        let cases = [
            (0xF000, std::f64::consts::SQRT_2),
            (0xE000, 2.0),
            (0xC000, 4.0),
            (0xA000, 8.0),
            (0x8000, 16.0),
            (0xEFD0, 1.41997),
            (0xD077, 2.80009),
            (0xFFFE, 1.00017),
        ];
        for (word, stop) in cases {
            let read = iris(word).unwrap();
            assert!((read.value - stop).abs() < 5e-6, "{word:04X}: {}", read.value);
            let next = iris(word - 1).unwrap().value;
            assert!((next - read.value - 2.0 * read.half_step).abs() < 1e-3 * read.half_step);
            assert!((next / read.value - 1.000_085).abs() < 1e-6);
        }
        assert_eq!((iris(0), iris(0xFFFF)), (None, None));
    }

    #[test]
    fn distance_of_rdd_18() {
        let cases = [
            (0xBDDE, 0.0355, 0.000_005),
            (0xC163, 0.0355, 0.000_05),
            (0xC1F4, 0.05, 0.000_05),
            (0xB708, 0.018, 0.000_005),
            (0x8001, 1e-8, 5e-9),
            (0x0FFF, 4095.0, 0.5),
            (0x7FFE, 40_940_000_000.0, 5_000_000.0),
        ];
        for (word, metres, half_step) in cases {
            let read = distance(word).unwrap();
            let near = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-14;
            assert!(near(read.value, metres), "{word:04X}: {}", read.value);
            assert!(near(read.half_step, half_step), "{word:04X}: {}", read.half_step);
        }
        assert!(distance(0x7FFF).unwrap().value.is_infinite());
        assert_eq!([0, 0xB000, 0xFFFF].map(distance), [None; 3]);
    }
}
