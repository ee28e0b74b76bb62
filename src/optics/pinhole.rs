//! Pinhole focal length at a focus setting (breathing): from a measured table, or for a lens that focuses as one piece.
//!
//! Distances are run from the sensor-plane mark. Everything here is the lens alone; behind an attachment the pinhole
//! focal length is m times as long, because all lateral magnifications are and the entrance pupil stays put.

use super::math::sqrt;
use crate::estimate::{Bare, Estimate};
use crate::units::{Meters, Millimeters, Unit};

/// Pinhole focal length of a lens that focuses by moving as one piece: its image distance
/// p = f + f^2 / (u - f), with u from the thin lens at which object and image are `tape` apart:
/// u + p = tape. `None` nearer than four focal lengths, where a thin lens has no image.
pub fn unit_focus(
    f: Estimate<Millimeters>,
    tape: Estimate<Meters>,
) -> Option<Estimate<Millimeters>> {
    if tape.value.get().is_infinite() {
        return Some(f);
    }
    let rest = Bare::exact(1.0) - f.bare() * 4.0 / (tape.bare() * 1000.0);
    if rest.number <= 0.0 {
        return None;
    }
    (f.bare() * 2.0 / (Bare::exact(1.0) + sqrt(rest))).unit()
}

/// Values measured over the focus scale of a lens, for one setting of its zoom ring.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve<U> {
    /// Marked focal length of the setting; `None` for a prime.
    pub mark: Option<Millimeters>,
    /// Focus distances, rising; infinity may be the last.
    pub focus: Vec<Meters>,
    /// The value at each.
    pub values: Vec<U>,
}

/// What a table gives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found<U> {
    /// The value, off for want of a better focus distance or zoom setting; the table's own doubt is the caller's to add.
    pub value: Estimate<U>,
    /// `None` inside the table. Outside its last value is held, and by so much a straight continuation would differ;
    /// infinite where one point tells of no direction.
    pub held: Option<f64>,
}

/// Looks up a table: linear in 1/distance, linear over the zoom ring; the end is held outside of it.
/// `None` for an empty table, and for one of several zoom settings where the setting is not known.
pub fn look_up<U: Unit>(
    curves: &[Curve<U>],
    mark: Option<Estimate<Millimeters>>,
    focus: Estimate<Meters>,
) -> Option<Found<U>> {
    let inverse = |at: f64| if at.is_infinite() { 0.0 } else { 1.0 / at };
    let at = focus.value.get();
    let x = if at.is_infinite() { Bare::exact(0.0) } else { Bare::exact(1.0) / focus.bare() };
    let along = |curve: &Curve<U>| {
        let nodes = curve.focus.iter().zip(&curve.values);
        // From infinity to near, so that 1/distance rises.
        let nodes = nodes.map(|(at, value)| (inverse(at.get()), Bare::exact(value.number()))).rev();
        between(&nodes.collect::<Vec<_>>(), x)
    };
    let looked = match curves {
        [curve] if curve.mark.is_none() => along(curve)?,
        _ => {
            let nodes: Option<Vec<_>> =
                curves.iter().map(|curve| Some((curve.mark?.get(), along(curve)?))).collect();
            across(&nodes?, mark?.bare())?
        }
    };
    Some(Found { value: looked.value.unit()?, held: looked.held })
}

/// A place in a table of numbers.
#[derive(Clone, Copy)]
struct Looked {
    value: Bare,
    held: Option<f64>,
}

fn across(nodes: &[(f64, Looked)], mark: Bare) -> Option<Looked> {
    let values: Vec<(f64, Bare)> = nodes.iter().map(|(at, looked)| (*at, looked.value)).collect();
    let over = between(&values, mark)?;
    // What a curve held was held for every setting between it and the next.
    let held = nodes.iter().filter_map(|(_, looked)| looked.held).chain(over.held);
    Some(Looked { held: held.reduce(f64::max), ..over })
}

/// Straight between the nodes, which rise; held beyond them.
fn between(nodes: &[(f64, Bare)], at: Bare) -> Option<Looked> {
    let ((first, low), (last, high)) = (nodes.first()?, nodes.last()?);
    let outside = at.number < *first || at.number > *last;
    let Some(before) = nodes.len().checked_sub(2) else {
        let apart = (at.number - first).abs() > 1e-12 * first.abs().max(1.0);
        return Some(Looked { value: *low, held: apart.then_some(f64::INFINITY) });
    };
    let upto = nodes.iter().take_while(|(node, _)| *node <= at.number).count();
    let index = upto.saturating_sub(1).min(before);
    let ((from, a), (to, b)) = (nodes.get(index)?, nodes.get(index + 1)?);
    let straight = *a + (*b - *a) * ((at - Bare::exact(*from)) / (to - from));
    if !outside {
        return Some(Looked { value: straight, held: None });
    }
    let end = if at.number < *first { *low } else { *high };
    Some(Looked { value: end, held: Some((straight.number - end.number).abs()) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::Cause;

    fn mm(v: f64) -> Millimeters {
        Millimeters::new(v).unwrap()
    }

    fn at(v: f64) -> Estimate<Meters> {
        Estimate::exact(Meters::new(v).unwrap())
    }

    fn curve(mark: Option<f64>, points: &[(f64, f64)]) -> Curve<Millimeters> {
        Curve {
            mark: mark.map(mm),
            focus: points.iter().map(|(d, _)| Meters::new(*d).unwrap()).collect(),
            values: points.iter().map(|(_, p)| mm(*p)).collect(),
        }
    }

    #[test]
    fn a_table_is_linear_in_the_inverse_distance_and_held_outside() {
        let table = [curve(None, &[(1.0, 52.0), (2.0, 51.0), (f64::INFINITY, 50.0)])];
        for (focus, value, held) in [
            (1.0, 52.0, false),
            (4.0 / 3.0, 51.5, false),
            (2.0, 51.0, false),
            (4.0, 50.5, false),
            (f64::INFINITY, 50.0, false),
            (0.5, 52.0, true),
        ] {
            let found = look_up(&table, None, at(focus)).unwrap();
            assert!((found.value.value.get() - value).abs() < 1e-12, "{focus}: {found:?}");
            assert_eq!(found.held.is_some(), held, "{focus}");
        }
        let near = [curve(None, &[(1.0, 52.0), (2.0, 51.0)])];
        let found = look_up(&near, None, at(f64::INFINITY)).unwrap();
        assert_eq!(found.value.value, mm(51.0));
        // Straight on it would be 50 at infinity.
        assert!((found.held.unwrap() - 1.0).abs() < 1e-12);
        let point = [curve(None, &[(2.0, 51.0)])];
        assert_eq!(look_up(&point, None, at(2.0)).unwrap().held, None);
        assert_eq!(look_up(&point, None, at(3.0)).unwrap().held, Some(f64::INFINITY));
    }

    #[test]
    fn a_zoom_is_linear_over_its_ring() {
        let table = [
            curve(Some(24.0), &[(1.0, 25.0), (f64::INFINITY, 24.0)]),
            curve(Some(70.0), &[(1.0, 75.0), (f64::INFINITY, 70.0)]),
        ];
        for (mark, focus, value, held) in [
            (24.0, 1.0, 25.0, false),
            (47.0, 1.0, 50.0, false),
            (47.0, f64::INFINITY, 47.0, false),
            (70.0, 2.0, 72.5, false),
            (18.0, 1.0, 25.0, true),
            (85.0, f64::INFINITY, 70.0, true),
        ] {
            let found = look_up(&table, Some(Estimate::exact(mm(mark))), at(focus)).unwrap();
            assert!((found.value.value.get() - value).abs() < 1e-12, "{mark} {focus}: {found:?}");
            assert_eq!(found.held.is_some(), held, "{mark} {focus}");
        }
        assert!(look_up(&table, None, at(1.0)).is_none());
        assert!(look_up::<Millimeters>(&[], None, at(1.0)).is_none());
    }

    #[test]
    fn a_doubtful_focus_makes_a_doubtful_table() {
        let table = [curve(None, &[(1.0, 52.0), (f64::INFINITY, 50.0)])];
        let focus = Estimate::caused(Meters::new(2.0).unwrap(), Cause::Focus, Some(0.1));
        let found = look_up(&table, None, focus).unwrap();
        // p = 50 + 2/d, so dp/dd = -2/d^2 = -0.5 mm a metre.
        assert!((found.value.uncertainty().unwrap() - 0.05).abs() < 1e-12);
    }

    #[test]
    fn every_node_knows_the_slope_beside_it() {
        let table = [
            curve(Some(24.0), &[(1.0, 25.0), (f64::INFINITY, 24.0)]),
            curve(Some(70.0), &[(1.0, 71.0), (f64::INFINITY, 70.0)]),
        ];
        for mark in [24.0, 24.01, 47.0, 69.99, 70.0] {
            let ring = Estimate::caused(mm(mark), Cause::Ring, Some(0.5));
            let found = look_up(&table, Some(ring), at(2.0)).unwrap();
            assert!((found.value.uncertainty().unwrap() - 0.5).abs() < 1e-9, "{mark}: {found:?}");
        }
    }

    #[test]
    fn one_piece_obeys_the_thin_lens() {
        let f = Estimate::exact(mm(50.0));
        let p = unit_focus(f, at(1.0)).unwrap().value.get();
        let u = 1000.0 - p;
        assert!((1.0 / p + 1.0 / u - 1.0 / 50.0).abs() < 1e-12);
        assert!((p - (50.0 + 2500.0 / (u - 50.0))).abs() < 1e-9);
        assert_eq!(unit_focus(f, at(f64::INFINITY)), Some(f));
        assert_eq!(unit_focus(f, at(0.2)), None);
    }
}
