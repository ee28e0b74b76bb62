//! Setting type on paper: fonts, lines that fit, pages, and their way into a PDF. Knows nothing of what is set.
//!
//! A document is laid out first, page by page, as marks on [`Sheet`](sheet::Sheet)s, so that every page can say of how
//! many it is one; `press` then prints them all. Lengths are points (1/72 inch) as in PDF, y grows downward.

mod drawn;
mod faces;
mod lines;
mod press;
mod runs;
pub(super) mod sheet;
mod tree;

pub(super) use faces::Fonts;
pub(super) use lines::{broken, wide};
pub(super) use press::{Facts, print};
pub(super) use sheet::{Ink, Layout, Style};
pub(super) use tree::Role;
