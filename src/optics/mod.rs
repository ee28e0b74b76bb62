//! The optics: pure functions on units, after `docs/optics.md`. No files, no options, no findings.
//!
//! Symbols: *m* magnification of what stands between lens and camera (reducer below 1, plain adapter 1,
//! extender above 1); *f* focal length; *N* f-number; *T* T-number; *tau* transmittance; *D* entrance-pupil
//! diameter; *w*, *h* width and height of the recorded area. A prime marks the value behind the attachment.
//! One model serves all three kinds of attachment: the rear group scales the image and leaves the
//! entrance pupil where it is and as large as it is.

pub mod attachment;
pub mod distortion;
pub mod focus;
mod math;
pub mod pinhole;
pub mod view;
