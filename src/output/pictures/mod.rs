//! Where people would rather look than read: the pictures of a report.

mod circles;
pub mod focals;
mod lanes;
mod scatter;
pub mod timeline;

pub use focals::{Compared, Focals};
pub use timeline::{Lane, LaneKind, Stretch, Timeline};

use super::drawing::Drawing;
use super::picture;

/// A picture of a report.
#[derive(Clone, Debug, PartialEq)]
pub enum Picture {
    /// Rolls, lenses and attachments against the time of day.
    Timeline(Timeline),
    /// Recorded areas in their image circles, one a rig.
    Circles(picture::Picture),
    /// Recorded against true focal length.
    Focals(Focals),
}

impl Picture {
    /// The picture as one drawing or several, each of which fits a page: same picture, same drawings.
    pub fn drawings(&self) -> Vec<Drawing> {
        match self {
            Self::Timeline(timeline) => timeline::drawings(timeline),
            Self::Circles(picture) => circles::drawings(picture),
            Self::Focals(focals) => focals::drawings(focals),
        }
    }
}

/// Width of the pictures that run over the whole page, in CSS pixels like all lengths here.
const WIDTH: f64 = 960.0;
/// A drawing that is higher goes on in another one: an A4 page on its side holds this much.
const HIGHEST: f64 = 560.0;
const MARGIN: f64 = 20.0;
/// Names that are listed before the rest is only counted.
const MOST_NAMES: usize = 12;

/// Names one after the other, the rest counted: `A003C001, A003C002 and 7 more`.
fn listed(names: &[&str]) -> String {
    let (shown, rest) = names.split_at(names.len().min(MOST_NAMES));
    let mut words = shown.join(", ");
    if !rest.is_empty() {
        words.extend([format!(" and {} more", rest.len())]);
    }
    words
}

/// `1 clip`, `12 clips`.
fn clips(count: usize) -> String {
    if count == 1 { "1 clip".to_owned() } else { format!("{count} clips") }
}

/// The title of one drawing of several.
fn numbered(title: &str, at: usize, of: usize) -> String {
    if of == 1 { title.to_owned() } else { format!("{title} ({} of {of})", at + 1) }
}
