//! Printing numbers: one rounding, a full stop as decimal sign, never an exponent, never `-0`.

/// `value` with exactly `decimals` digits behind the point.
pub fn fixed(value: f64, decimals: usize) -> String {
    let mut text = format!("{value:.decimals$}");
    if text.starts_with('-') && text.bytes().skip(1).all(|b| b == b'0' || b == b'.') {
        text.remove(0);
    }
    text
}

/// `value` with at most `decimals` digits behind the point and no zeros at the end.
pub fn short(value: f64, decimals: usize) -> String {
    if value.is_infinite() {
        return "infinity".to_owned();
    }
    let mut text = fixed(value, decimals);
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_rounding_and_no_minus_zero() {
        assert_eq!(fixed(-0.0004, 3), "0.000");
        assert_eq!(fixed(35.5, 3), "35.500");
        assert_eq!(short(35.5, 3), "35.5");
        assert_eq!(short(50.0, 3), "50");
        assert_eq!(short(1e6, 0), "1000000");
        assert_eq!(short(f64::INFINITY, 2), "infinity");
    }
}
