//! tests
mod notes;
