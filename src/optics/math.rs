//! The only caller of roots, logarithms and trigonometry: `libm` gives the same bits on every platform.
//! Each comes with its slope, so that uncertainty goes through it.

use crate::estimate::Bare;

pub(super) fn sqrt(x: Bare) -> Bare {
    let root = libm::sqrt(x.number);
    x.map(root, 0.5 / root)
}

pub(super) fn log2(x: Bare) -> Bare {
    x.map(libm::log2(x.number), std::f64::consts::LOG2_E / x.number)
}

pub(super) fn hypot(x: Bare, y: Bare) -> Bare {
    // Scaled to the longer side, so that no square overflows.
    let longer = if x.number.abs() >= y.number.abs() { x } else { y };
    let (a, b) = (x / longer, y / longer);
    longer * sqrt(a * a + b * b)
}

pub(super) fn atan_degrees(x: Bare) -> Bare {
    x.map(libm::atan(x.number).to_degrees(), (1.0 / (1.0 + x.number * x.number)).to_degrees())
}
