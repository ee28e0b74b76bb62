//! Facts of exposure and crew that a camera report has room for, from wherever the annotation carries them.

use super::piece::Piece;
use crate::annotation::ClipFacts;

/// What is said of a piece beside lens and stop. Empty is not said.
#[derive(Clone, Debug, Default)]
pub(super) struct Said {
    /// Unit.
    pub(super) unit: String,
    /// Operator.
    pub(super) operator: String,
    /// Assistants.
    pub(super) assistants: String,
    /// Sensitivity.
    pub(super) iso: String,
    /// Shutter.
    pub(super) shutter: String,
    /// White balance.
    pub(super) white_balance: String,
    /// Height of the lens.
    pub(super) height: String,
    /// Tilt.
    pub(super) tilt: String,
}

/// What is said of a piece of a clip.
pub(super) fn said(_clip: &ClipFacts, _piece: &Piece<'_>) -> Said {
    // Filled as soon as annotations carry these facts.
    Said::default()
}
