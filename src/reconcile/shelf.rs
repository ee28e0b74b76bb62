//! What follows from one set-up follows from the next one alike: clips taken with the same glass share the result. A
//! day has thousands of clips and a handful of set-ups, and this is the largest part of what is known of a clip.

use std::collections::VecDeque;
use std::sync::Arc;

use crate::annotation::Derived;
use crate::sourced::Quantity;
use crate::units::Unit;

/// Results that are looked through, the one met last first: more than a unit has set-ups in hand at a time.
const KEPT: usize = 16;

/// The results met last.
#[derive(Default)]
pub(super) struct Shelf(VecDeque<Arc<Derived>>);

impl Shelf {
    /// `derived`, or the very same met before.
    pub(super) fn share(&mut self, derived: Derived) -> Arc<Derived> {
        let known = self.0.iter().position(|kept| same(kept, &derived));
        let shared = known.and_then(|at| self.0.remove(at)).unwrap_or_else(|| Arc::new(derived));
        self.0.truncate(KEPT - 1);
        self.0.push_front(Arc::clone(&shared));
        shared
    }
}

/// True where nobody can tell the two apart, by no output: 0 and -0 are equal and print differently.
fn same(a: &Derived, b: &Derived) -> bool {
    a == b && signs(a) == signs(b)
}

/// Whether each value is negative. Uncertainties are not, being roots.
fn signs(derived: &Derived) -> [bool; 23] {
    fn sign<U: Unit>(quantity: Option<&Quantity<U>>) -> bool {
        quantity.is_some_and(|quantity| quantity.value.number().is_sign_negative())
    }
    // Taken apart, so that no field is forgotten.
    let Derived {
        back_width,
        back_height,
        pinhole,
        pupil_offset,
        angle_horizontal,
        angle_vertical,
        angle_diagonal,
        crop_width,
        crop_diagonal,
        equivalent,
        equivalent_by_width,
        light,
        image_circle,
        coverage,
        dark_corner,
        dark_corner_pixels,
        dark_sides,
        dark_sides_pixels,
        dark_top_bottom,
        dark_top_bottom_pixels,
        hyperfocal,
        near,
        far,
    } = derived;
    [
        sign(back_width.as_ref()),
        sign(back_height.as_ref()),
        sign(pinhole.as_ref()),
        sign(pupil_offset.as_ref()),
        sign(angle_horizontal.as_ref()),
        sign(angle_vertical.as_ref()),
        sign(angle_diagonal.as_ref()),
        sign(crop_width.as_ref()),
        sign(crop_diagonal.as_ref()),
        sign(equivalent.as_ref()),
        sign(equivalent_by_width.as_ref()),
        sign(light.as_ref()),
        sign(image_circle.as_ref()),
        sign(coverage.as_ref()),
        sign(dark_corner.as_ref()),
        sign(dark_corner_pixels.as_ref()),
        sign(dark_sides.as_ref()),
        sign(dark_sides_pixels.as_ref()),
        sign(dark_top_bottom.as_ref()),
        sign(dark_top_bottom_pixels.as_ref()),
        sign(hyperfocal.as_ref()),
        sign(near.as_ref()),
        sign(far.as_ref()),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sourced::{Basis, Origin};
    use crate::units::Stops;

    fn light(stops: f64) -> Derived {
        let value = Stops::new(stops).unwrap();
        let (basis, origin) = (Basis::Nominal, Origin::Computed("light"));
        let light = Some(Quantity { value, uncertainty: None, basis, origin });
        Derived { light, ..Derived::default() }
    }

    #[test]
    fn what_is_the_same_is_held_once_and_nothing_else_is() {
        let mut shelf = Shelf::default();
        let first = shelf.share(light(1.0));
        assert!(Arc::ptr_eq(&first, &shelf.share(light(1.0))));
        let other = shelf.share(light(0.0));
        assert!(!Arc::ptr_eq(&other, &shelf.share(light(-0.0))), "these print differently");
        for stops in 2..200 {
            assert_eq!(*shelf.share(light(f64::from(stops))), light(f64::from(stops)));
        }
        assert_eq!(shelf.0.len(), KEPT);
        assert!(!Arc::ptr_eq(&first, &shelf.share(light(1.0))), "it is not held for ever");
    }
}
