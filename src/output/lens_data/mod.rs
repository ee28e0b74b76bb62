//! Lens data for VFX: a finished clip in the open formats of scene software, tracking, plates and framing.
//!
//! Each format is a function from an [`Annotation`] to bytes. What a format has no place for is never squeezed into one
//! that means something else; `docs/lens-data.md` says what each carries and what it leaves out.

pub mod exr;
pub mod fdl;
mod ids;
pub mod opentrackio;
pub mod usd;

use std::io;

use crate::annotation::{Annotation, Setup};
use crate::timecode::Timecode;

use super::Stamp;
use super::rows::Row;

/// The formats.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// OpenTrackIO samples (SMPTE RIS OSVP) as JSON Lines.
    OpenTrackIo,
    /// A camera in a USD layer, as text.
    Usd,
    /// OpenEXR header attributes as JSON.
    Exr,
    /// An ASC framing decision list.
    Fdl,
}

/// How the formats are made.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'a> {
    /// Date and version.
    pub stamp: &'a Stamp,
    /// A sample for every frame, where the format has samples.
    pub per_frame: bool,
    /// Plates of the kit.
    pub plates: &'a [fdl::Cut],
}

impl Kind {
    /// Every format, in the order of the documentation.
    pub const ALL: [Self; 4] = [Self::OpenTrackIo, Self::Usd, Self::Exr, Self::Fdl];

    /// The word by which it is asked for.
    pub fn word(self) -> &'static str {
        match self {
            Self::OpenTrackIo => "opentrackio",
            Self::Usd => "usd",
            Self::Exr => "exr",
            Self::Fdl => "fdl",
        }
    }

    /// What stands behind the clip's name in the name of its file.
    pub fn ending(self) -> &'static str {
        match self {
            Self::OpenTrackIo => "opentrackio.jsonl",
            Self::Usd => "usda",
            Self::Exr => "exr-attributes.json",
            Self::Fdl => "fdl",
        }
    }

    /// The formats of a list such as `usd,fdl`, each once and in the order of the documentation; the error names the stranger.
    pub fn list(text: &str) -> Result<Vec<Self>, String> {
        let mut kinds = Vec::new();
        for word in text.split(',').map(str::trim).filter(|word| !word.is_empty()) {
            let word = word.to_lowercase();
            if word == "all" {
                kinds.extend(Self::ALL);
                continue;
            }
            match Self::ALL.into_iter().find(|kind| kind.word() == word) {
                Some(kind) => kinds.push(kind),
                None => return Err(word),
            }
        }
        kinds.sort_unstable();
        kinds.dedup();
        Ok(kinds)
    }

    /// Why this format has no file of a clip: it would fill in what is missing, and make up a number.
    pub fn lacks(self, annotation: &Annotation) -> Option<&'static str> {
        match self {
            Self::OpenTrackIo | Self::Exr => None,
            Self::Usd => usd::camera(annotation).err(),
            Self::Fdl => annotation.clip.media.coded.is_none().then_some("the raster is not known"),
        }
    }

    /// The file of one clip. The error says what is missing, where [`Kind::lacks`] does.
    pub fn make(self, annotation: &Annotation, wanted: &Wanted<'_>) -> io::Result<Vec<u8>> {
        match self {
            Self::OpenTrackIo => opentrackio::write(annotation, wanted),
            Self::Usd => usd::of_clip(annotation, wanted.stamp).map_err(io::Error::other),
            Self::Exr => exr::write(annotation, wanted.stamp),
            Self::Fdl => fdl::write(annotation, wanted),
        }
    }
}

/// The focal length engraved on a prime, mm; a zoom has none.
fn engraved(setup: &Setup) -> Option<f64> {
    let (low, high) = setup.lens_marks.as_ref()?.value.focal;
    (low == high).then(|| low.get())
}

/// The rate at which `timecode` counts, as two whole numbers: that of the pictures, or half of it where every label stands
/// for two of them. `None` where the two have nothing to do with each other.
fn counted_rate(rate: crate::ratio::FrameRate, timecode: Timecode) -> Option<(u32, u32)> {
    let base = timecode.counting().base();
    let labels = rate.num().div_ceil(rate.den());
    if labels == base {
        return Some((rate.num(), rate.den()));
    }
    (base.checked_mul(2) == Some(labels))
        .then(|| crate::ratio::Ratio::new(rate.num().into(), u64::from(rate.den()) * 2))
        .flatten()
        .map(|half| (half.num(), half.den()))
}

/// The timecode of a frame of `row`, counted from its first; `None` where labels do not count frames.
fn timecode_at(row: &Row<'_>, frame: u64) -> Option<Timecode> {
    if frame == 0 {
        return row.start_timecode();
    }
    // The end tells whether labels count frames; of a row of unknown length nothing past its start is asked.
    row.end_timecode()?;
    Some(row.start_timecode()?.later(frame))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ratio::Ratio;
    use crate::timecode::Counting;

    #[test]
    fn lists_of_formats_are_read_once_each() {
        assert_eq!(Kind::list(" usd, FDL,usd ").unwrap(), [Kind::Usd, Kind::Fdl]);
        assert_eq!(Kind::list("all").unwrap(), Kind::ALL);
        assert_eq!(Kind::list("usd,obj").unwrap_err(), "obj");
    }

    #[test]
    fn a_label_may_stand_for_one_picture_or_for_two() {
        let rate = |num, den| Ratio::new(num, den).unwrap();
        let at = |base| Timecode::from_frame(0, Counting::new(base, false).unwrap());
        assert_eq!(counted_rate(rate(24000, 1001), at(24)), Some((24000, 1001)));
        assert_eq!(counted_rate(rate(50, 1), at(25)), Some((25, 1)));
        assert_eq!(counted_rate(rate(60000, 1001), at(30)), Some((30000, 1001)));
        assert_eq!(counted_rate(rate(50, 1), at(24)), None);
    }
}
