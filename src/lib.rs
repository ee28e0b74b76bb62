//! lensmend
pub mod finding;
pub mod header;
pub mod notes;
pub mod ratio;
pub mod read_at;
pub mod recorded;
pub mod sourced;
pub mod stops;
pub mod timecode;
pub mod track;
pub mod units;
