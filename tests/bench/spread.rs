//! Tables of times and ratios: the median, and how far the rounds lie apart.
#![expect(clippy::print_stdout, reason = "the table is the result")]

use std::time::Duration;

/// A line of times.
pub(crate) fn line(what: &str, times: &[Duration]) {
    let seconds = sorted(times.iter().map(Duration::as_secs_f64).collect());
    if let (Some(low), Some(middle), Some(high)) = spread(&seconds) {
        println!("{what:38} {middle:>8.3} s   {low:.3} .. {high:.3} s");
    }
}

/// A line of ratios, sorted.
pub(crate) fn ratio(what: &str, ratios: &[f64]) {
    if let (Some(low), Some(middle), Some(high)) = spread(ratios) {
        println!("{what:38} {middle:>10.2}   {low:.2} .. {high:.2}");
    }
}

/// The numbers, lowest first.
pub(crate) fn sorted(mut numbers: Vec<f64>) -> Vec<f64> {
    numbers.sort_by(f64::total_cmp);
    numbers
}

/// Lowest, middle and highest of sorted numbers.
fn spread(sorted: &[f64]) -> (Option<f64>, Option<f64>, Option<f64>) {
    let at = |at: Option<usize>| at.and_then(|at| sorted.get(at)).copied();
    (at(Some(0)), at(Some(sorted.len() / 2)), at(sorted.len().checked_sub(1)))
}
