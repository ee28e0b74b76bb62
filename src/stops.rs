//! Stops: the engraved series of ISO 517 and the exact numbers behind the marks.
//!
//! A mark on a ring is a rounded number: 1.4 stands for the square root of 2. Members of the series are
//! `2^(s/2)` with `s` in full, half or third stops from 1 (ISO 517:2008; Exif APEX `Av = 2 log2 N`). What an
//! attachment does to a stop is worked out from the exact number, and rounding happens once, when it is spoken of.
//!
//! Where a mark is engraved for two members, the nearer one is meant: 1.2 is the half stop 1.1892 (the third stop
//! 1.2599, which some rings call 1.2 and others 1.3, is 0.14 stop away), 13 is the third stop 12.6992 (the half
//! stop 13.4543 is 0.10 stop away). A mark of no series, such as a maximum of 1.5 or 0.95, stands as it is.

use libm::{exp2, log2};

mod shorthand;

pub use shorthand::{Letter, StopText, parse};

/// Which series a mark belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Series {
    /// Full stops: 1, 1.4, 2, 2.8.
    Full,
    /// The marks half-way between full stops: 1.2, 1.7, 2.4.
    Half,
    /// The marks a third and two thirds between full stops: 1.1, 1.6, 1.8.
    Third,
}

/// What a mark stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// The exact number; the mark itself where it belongs to no series.
    pub number: f64,
    /// The series it belongs to; `None` where it stands as it is.
    pub series: Option<Series>,
}

/// Where the opening of a zoom comes from between two focal lengths at which its kit entry states one.
pub const BETWEEN_MARKS: &str =
    "largest opening between two focal lengths of the kit, linear in stops over the focal length";

/// Full-stop marks, from two stops below 1 upward (ISO 517:2008).
const FULL: &[f64] =
    &[0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0, 90.0, 128.0];
/// Half-stop marks, from half a stop above 1, one stop apart. Below 1 rings carry none that is not a third-stop mark too.
const HALF: &[f64] = &[1.2, 1.7, 2.4, 3.3, 4.8, 6.7, 9.5, 13.0, 19.0, 27.0, 38.0, 54.0, 76.0];
/// Third-stop marks, one third and two thirds above each full stop from two stops below 1.
const THIRD: &[[f64; 2]] = &[
    [0.56, 0.63],
    [0.8, 0.9],
    [1.1, 1.3],
    [1.6, 1.8],
    [2.2, 2.5],
    [3.2, 3.5],
    [4.5, 5.0],
    [6.3, 7.1],
    [9.0, 10.0],
    [13.0, 14.0],
    [18.0, 20.0],
    [25.0, 29.0],
    [36.0, 40.0],
    [51.0, 57.0],
    [72.0, 81.0],
    [102.0, 114.0],
];
/// Marks this near to each other are the same mark; far finer than any engraving.
const SAME: f64 = 1e-6;
/// Within this many stops a number is a half stop, not something near it.
const HALF_STOP_ITSELF: f64 = 0.02;

/// What the engraved `mark` stands for: 1.4 gives the square root of 2.
pub fn exact(mark: f64) -> Mark {
    full()
        .chain(half())
        .chain(thirds())
        .filter(|(engraved, _)| (engraved - mark).abs() < SAME)
        .map(|(_, member)| member)
        .min_by(|a, b| distance(a.number, mark).total_cmp(&distance(b.number, mark)))
        .unwrap_or(Mark { number: mark, series: None })
}

/// The third-stop mark nearest to an exact number, for speaking of it: 1.0041 is called 1.
///
/// A half stop lies as near to the third below as to the one above, so it keeps its own mark: 1.1892 is called 1.2.
/// `None` where the number is no stop or lies more than a third of a stop outside the marks.
pub fn nominal(exact: f64) -> Option<f64> {
    full()
        .chain(half())
        .chain(thirds())
        .map(|(mark, member)| (distance(exact, member.number), mark, member.series))
        .filter(|(steps, _, series)| match series {
            Some(Series::Half) => *steps <= HALF_STOP_ITSELF,
            _ => *steps <= 1.0 / 3.0,
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, mark, _)| mark)
}

/// Stops from `a` to `b`: positive where `b` is the larger number, that is the smaller opening (APEX: difference of Av).
/// NaN where one of them is no positive number.
pub fn steps_between(a: f64, b: f64) -> f64 {
    2.0 * log2(b / a)
}

/// Stops between two numbers, without a sign.
fn distance(a: f64, b: f64) -> f64 {
    steps_between(a, b).abs()
}

fn full() -> impl Iterator<Item = (f64, Mark)> {
    members(FULL.iter().copied(), -2.0, Series::Full)
}

fn half() -> impl Iterator<Item = (f64, Mark)> {
    members(HALF.iter().copied(), 0.5, Series::Half)
}

fn thirds() -> impl Iterator<Item = (f64, Mark)> {
    let third = |place: f64, pick: fn(&[f64; 2]) -> f64| {
        members(THIRD.iter().map(pick), place / 3.0 - 2.0, Series::Third)
    };
    third(1.0, |[one, _]| *one).chain(third(2.0, |[_, two]| *two))
}

/// Marks one stop apart with the exact numbers behind them; the first stands `from` stops above 1.
fn members(
    marks: impl Iterator<Item = f64>,
    from: f64,
    series: Series,
) -> impl Iterator<Item = (f64, Mark)> {
    let steps = std::iter::successors(Some(from), |step| Some(step + 1.0));
    marks.zip(steps).map(move |(mark, step)| {
        let member = Mark { number: exp2(step / 2.0), series: Some(series) };
        (mark, member)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, tolerance: f64) -> bool {
        (a - b).abs() <= tolerance
    }

    #[test]
    fn marks_stand_for_members_of_the_series() {
        // ISO 517:2008: N = 2^(s/2); digits from the definition.
        let full = Some(Series::Full);
        let half = Some(Series::Half);
        let third = Some(Series::Third);
        for (mark, number, series) in [
            (1.4, std::f64::consts::SQRT_2, full),
            (2.0, 2.0, full),
            (2.8, 2.828_427_124_746, full),
            (5.6, 5.656_854_249_492, full),
            (8.0, 8.0, full),
            (11.0, 11.313_708_498_985, full),
            (22.0, 22.627_416_997_970, full),
            (45.0, 45.254_833_995_939, full),
            (90.0, 90.509_667_991_878, full),
            (0.7, std::f64::consts::FRAC_1_SQRT_2, full),
            (0.8, 0.793_700_525_984, third),
            (0.9, 0.890_898_718_140, third),
            (1.1, 1.122_462_048_309, third),
            (1.2, 1.189_207_115_003, half),
            (1.6, 1.587_401_051_968, third),
            (1.8, 1.781_797_436_281, third),
            (1.7, 1.681_792_830_507, half),
            (2.4, 2.378_414_230_005, half),
            (3.5, 3.563_594_872_561, third),
            (9.5, 9.513_656_920_022, half),
            (13.0, 12.699_208_415_746, third),
            (19.0, 19.027_313_840_043, half),
            (29.0, 28.508_758_980_490, third),
            (0.95, 0.95, None),
            (1.5, 1.5, None),
            (1.3, 1.259_921_049_895, third),
        ] {
            let found = exact(mark);
            assert!(near(found.number, number, 1e-9), "{mark}: {found:?}");
            assert_eq!(found.series, series, "{mark}");
        }
    }

    #[test]
    fn every_mark_is_near_what_it_stands_for() {
        for (mark, member) in full().chain(half()).chain(thirds()) {
            let steps = steps_between(member.number, mark);
            assert!(steps.abs() < 0.141, "{mark}: {steps}");
        }
    }

    #[test]
    fn distances_of_marks_from_their_members() {
        // Exif APEX, Av = 2 log2 N, against 2^(k/2): ISO 517:2008.
        for (mark, member, steps) in [
            (1.4, exp2(0.5), -0.0291),
            (5.6, exp2(2.5), -0.0291),
            (11.0, exp2(3.5), -0.0811),
            (90.0, exp2(6.5), -0.0163),
            (1.2, exp2(1.0 / 3.0), -0.1406),
            (3.5, exp2(11.0 / 6.0), -0.0520),
            (13.0, exp2(11.0 / 3.0), 0.0675),
        ] {
            let found = steps_between(member, mark);
            assert!(near(found, steps, 5e-5), "{mark}: {found}");
        }
    }

    #[test]
    fn spoken_marks_are_the_nearest_third_stops() {
        for (number, mark) in [
            (1.0041, Some(1.0)),
            (1.42, Some(1.4)),
            (8.0327, Some(8.0)),
            (2.309_401, Some(2.2)),
            (1.26, Some(1.3)),
            (1.1892, Some(1.2)),
            (3.3636, Some(3.3)),
            (3.25, Some(3.2)),
            (0.5, Some(0.5)),
            (0.1, None),
            (0.0, None),
            (f64::NAN, None),
            (500.0, None),
        ] {
            assert_eq!(nominal(number), mark, "{number}");
        }
    }
}
