//! The `lensmend` program.
fn main() {}
