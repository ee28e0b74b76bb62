//! Stops: the engraved series of ISO 517 and the exact numbers behind the marks.
/// A mark understood.
pub struct Mark {
    /// exact
    pub number: f64,
}
/// temp
pub fn exact(mark: f64) -> Mark {
    Mark { number: mark }
}
