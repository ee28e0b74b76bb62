//! The benchmark.
fn main() {}
