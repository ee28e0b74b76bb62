//! The only caller of roots, logarithms and trigonometry: `libm` gives the same bits on every platform.

pub(super) fn sqrt(x: f64) -> f64 {
    libm::sqrt(x)
}

pub(super) fn log2(x: f64) -> f64 {
    libm::log2(x)
}

pub(super) fn hypot(x: f64, y: f64) -> f64 {
    libm::hypot(x, y)
}

pub(super) fn atan_degrees(x: f64) -> f64 {
    libm::atan(x).to_degrees()
}
