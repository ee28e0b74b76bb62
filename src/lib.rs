//! lensmend
pub mod annotation;
pub mod dump;
pub mod finding;
pub mod kit;
pub mod naming;
pub mod notes;
pub mod number;
pub mod optics;
pub mod ratio;
pub mod read_at;
pub mod reconcile;
pub mod recorded;
pub mod sourced;
pub mod stops;
pub mod timecode;
pub mod track;
pub mod units;
