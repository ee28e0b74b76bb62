//! What the rows above have said, for ditto marks.

use crate::units::{Meters, Stops};

use super::camera::CameraMemory;
use super::clips::ClipCell;
use super::{AttachmentNote, FocalNote, StopNote, TimeOfDay};

/// What stands above a cell, for ditto marks.
#[derive(Default)]
pub(crate) enum Above<T> {
    /// A value, and how it was typed.
    Value(T, String),
    /// An empty cell.
    Blank,
    /// A cell that was not understood, or nothing.
    #[default]
    Lost,
}

/// What stands above each column.
#[derive(Default)]
pub(super) struct Memory {
    pub(super) clip: Above<ClipCell>,
    pub(super) roll: Above<String>,
    pub(super) camera: Above<String>,
    pub(super) from: Above<String>,
    pub(super) time: Above<TimeOfDay>,
    pub(super) mode: Above<String>,
    pub(super) lens: Above<String>,
    pub(super) focal: Above<FocalNote>,
    pub(super) stop: Above<StopNote>,
    pub(super) attachment: Above<AttachmentNote>,
    pub(super) secured: Above<bool>,
    pub(super) focus: Above<Meters>,
    pub(super) slate: Above<String>,
    pub(super) take: Above<String>,
    pub(super) circled: Above<bool>,
    pub(super) filter: Above<String>,
    pub(super) density: Above<Option<Stops>>,
    pub(super) shot: CameraMemory,
    pub(super) remarks: Above<String>,
}
