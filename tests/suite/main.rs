//! The one integration suite: the library and the built program, held against outside judges.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on has failed")]

mod boxes;
mod cli;
mod conform;
mod copies;
mod docs;
mod dump;
mod embedded_xmp;
mod evidence;
mod fit;
mod frames;
mod headers;
mod hostile_headers;
mod kit;
mod kit_command;
mod klv;
mod lists;
mod matching;
mod measure;
mod measure_kit;
mod mxf;
mod notes;
mod optics;
mod optics_command;
mod picture;
mod place;
mod propagation;
mod reconcile;
mod sample;
mod sequences;
mod shoot;
mod shown;
mod stills;
mod tidy;
mod train;
mod workshop;
