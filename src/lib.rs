//! `lensmend` works out what lens a clip was really shot with behind a focal reducer, an adapter or an extender.
//!
//! The camera records the wrong focal length and stop then, or none. This crate reads what the clips of a card dump
//! carry, joins it with the lens notes and the kit, and writes down what the picture was taken with.
//!
//! ```text
//!  dump ── header ── recorded ┐
//!  notes ─────────────────────┼── reconcile ── annotation ── output ── place
//!  kit ───────────────────────┘       │                       (bytes)   (files)
//!                                  optics
//! ```
//!
//! Data flows one way and by value. Trouble with one clip, row or field is a [`finding`], never an error; an error means
//! that the request could not be carried out. Every number knows its unit, its uncertainty and where it came from
//! ([`units`], [`sourced`]), and what is not known stays absent.
//!
//! In reading order:
//!
//! 1. [`annotation`]: the finished product, one clip with everything resolved. Everything else leads to it or from it.
//! 2. [`dump`], [`header`], [`recorded`]: a folder becomes clips, their bytes structure, and that facts.
//! 3. [`notes`] and [`kit`]: CSV becomes rows, TOML becomes cameras, lenses and attachments.
//! 4. [`reconcile`] with [`train`] and [`optics`]: which row speaks of which clip, which value stands, and what follows from it.
//!    [`ask`] does the same for one set-up that somebody asks about, and gives a [`comparison`].
//!    [`prep`] asks the same of a kit before the shoot: what goes on what, and what becomes of it.
//!    [`sheet`] is what is there before the notes: rows for a dump's clips, or for the day to come.
//! 5. [`output`], [`outputs`], [`place`]: annotations become bytes, bytes become files.
//! 6. [`run`] with [`folder`], [`cli`] and [`terminal`]: the whole on one page, and the edge to the world.
//!
//! `DEVELOPERS.md` says how to add to it, `docs/optics.md` which formulas are used.

// The edge to the world, and the pipeline.
pub mod cli;
pub mod folder;
pub mod inputs;
pub mod run;
pub mod terminal;

// Vocabulary: what every station speaks.
pub mod estimate;
pub mod fields;
pub mod finding;
pub mod fingerprint;
pub mod naming;
pub mod number;
pub mod ratio;
pub mod read_at;
pub mod sourced;
pub mod stops;
pub mod timecode;
pub mod track;
pub mod units;
pub mod watch;

// What goes in.
pub mod dump;
pub mod header;
pub mod kit;
pub mod lists;
pub mod notes;
pub mod recorded;
pub mod seal;

// What is made of it.
pub mod annotation;
pub mod ask;
pub mod comparison;
pub mod cut;
pub mod measure;
pub mod optics;
pub mod prep;
pub mod reconcile;
pub mod sheet;
pub mod train;
pub mod turnover;

// What comes out.
pub mod output;
pub mod outputs;
pub mod place;
