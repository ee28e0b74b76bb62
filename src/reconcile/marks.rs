//! What is engraved on a lens, for outputs that name the lens and not the picture.

use std::sync::Arc;

use crate::annotation::LensMarks;
use crate::kit::Lens;
use crate::sourced::{Origin, Sourced};
use crate::stops;
use crate::units::{FNumber, TNumber, Unit};

/// The marks of a lens whose focal lengths the kit states as marked.
pub(super) fn of(lens: &Sourced<&Lens>) -> Option<Sourced<LensMarks>> {
    let lens = lens.value;
    let (focal, key) = match (lens.marked_focal, lens.range) {
        (_, Some(range)) => (range, "range"),
        (Some(focal), None) => ((focal, focal), "focal"),
        (None, None) => return None,
    };
    let marks = LensMarks {
        focal,
        f: at_both(lens.f_max_at(Some(focal.0)), lens.f_max_at(Some(focal.1)), FNumber::new),
        t: at_both(lens.t_max_at(Some(focal.0)), lens.t_max_at(Some(focal.1)), TNumber::new),
    };
    let key = Arc::from(format!("lens.{}.{key}", lens.id));
    Some(Sourced::new(marks, Origin::Kit { key }))
}

fn at_both<U: Unit>(
    from: Option<crate::sourced::Quantity<U>>,
    to: Option<crate::sourced::Quantity<U>>,
    new: impl Fn(f64) -> Option<U>,
) -> Option<(U, U)> {
    let mark = |exact: f64| new(marked(exact));
    Some((mark(from?.value.number())?, mark(to?.value.number())?))
}

/// The mark that stands for an exact number; a number that is behind no mark is engraved as it is.
fn marked(exact: f64) -> f64 {
    let behind = |mark: &f64| (stops::exact(*mark).number - exact).abs() < 1e-9;
    stops::nominal(exact).filter(behind).unwrap_or(exact)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_come_back_from_the_numbers_behind_them() {
        for mark in [0.95, 1.2, 1.4, 1.8, 2.8, 3.5, 4.0, 5.6, 6.3, 22.0] {
            let back = marked(stops::exact(mark).number);
            assert!((back - mark).abs() < 1e-12, "{mark}: {back}");
        }
    }
}
