//! The structure of a QuickTime or ISO base media file: integers as they were written, each with its place.

use std::collections::BTreeMap;

use crate::header::Placed;
pub use crate::header::runs::Defaults;
use crate::header::samples::{Sample, Tables};
pub use crate::header::timing::Timing;

/// Four characters that name a brand, a handler, a codec.
pub type FourCc = [u8; 4];

/// A whole file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Movie {
    /// Major brand of `ftyp` (ISO/IEC 14496-12, 4.3); old QuickTime files have none.
    pub brand: Option<Placed<FourCc>>,
    /// Movie header.
    pub header: Option<Placed<MediaTime>>,
    /// Tracks in file order.
    pub tracks: Vec<Track>,
    /// True where the movie says that it goes on in fragments (`mvex`, ISO/IEC 14496-12, 8.8.1).
    pub fragmented: bool,
    /// What samples of each track are like where fragments do not say (`trex`, 8.8.3).
    pub fragment_defaults: BTreeMap<u32, Defaults>,
    /// True where some fragments could not be counted, so that a count of frames is too low.
    pub fragments_missed: bool,
    /// Texts and keys that speak of the whole file.
    pub texts: Vec<RawTag>,
    /// XMP packets, as stored.
    pub packets: Vec<Placed<Vec<u8>>>,
}

/// Times of a movie or a track (`mvhd`, ISO/IEC 14496-12, 8.2.2; `mdhd`, 8.4.2).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MediaTime {
    /// Creation, seconds since 1904-01-01; 0 is unset.
    pub created: u64,
    /// Units a second.
    pub timescale: u32,
    /// Length in those units; 0 or all ones is unknown.
    pub duration: u64,
}

/// One track.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Track {
    /// Track header.
    pub header: Option<Placed<TrackHeader>>,
    /// Media header: the exact timescale.
    pub media: Option<Placed<MediaTime>>,
    /// Handler of the media (8.4.3): `vide`, `soun`, `tmcd`.
    pub handler: Option<Placed<FourCc>>,
    /// Clean aperture dimensions, 16.16 fixed point (QuickTime, `tapt`/`clef`).
    pub clean: Option<Placed<(u32, u32)>>,
    /// Picture sample entry.
    pub picture: Option<Placed<PictureEntry>>,
    /// Timecode sample entry.
    pub timecode: Option<Placed<TimecodeEntry>>,
    /// Frames and their durations, fragments included.
    pub timing: Option<Placed<Timing>>,
    /// Edits in order; at most a few are kept.
    pub edits: Vec<Edit>,
    /// How many edits there are, kept or not, and where they stand.
    pub edit_count: Option<Placed<u32>>,
    /// What the edits show of a picture track; `None` without edits, or where frames and edits cannot be brought together.
    pub shown: Option<Shown>,
    /// First runs of composition offsets of a picture track that has edits: how many frames, and by how much each is
    /// shown later than it is decoded (`ctts`, 8.6.1.3).
    pub composition: Vec<(u32, i32)>,
    /// Other tracks this one refers to, by kind of reference (8.3.3).
    pub references: Vec<(FourCc, u32)>,
    /// Where the first sample of a timecode track stands.
    pub first_sample: Option<Placed<u64>>,
    /// The number in it: frames since midnight.
    pub first_count: Option<Placed<i32>>,
    /// The samples after it, where a timecode track has more than one; at most some are read.
    pub later_counts: Vec<LaterCount>,
    /// Entry of a timed-metadata track.
    pub metadata: Option<Placed<MetadataEntry>>,
    /// Its first sample, which may be cut.
    pub metadata_sample: Option<Placed<Vec<u8>>>,
    /// The values in it, where the form of the sample is that of an open standard.
    pub metadata_values: Vec<RawTag>,
    /// Where its samples are listed.
    pub(super) tables: Tables,
    /// The first of its samples that lie in fragments, where they are looked up: of timecode and timed metadata.
    pub(super) fragment_samples: Vec<Sample>,
    /// Texts and keys that speak of this track.
    pub texts: Vec<RawTag>,
}

/// Track header (`tkhd`, ISO/IEC 14496-12, 8.3.2).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TrackHeader {
    /// The track is to be shown.
    pub enabled: bool,
    /// Its number, for references.
    pub id: u32,
    /// Tracks of one number are alternatives to each other; 0 is none.
    pub alternate: u16,
    /// a, b, c, d of the matrix, 16.16 fixed point.
    pub matrix: [i32; 4],
    /// Width to show, 16.16 fixed point.
    pub width: u32,
    /// Height to show, 16.16 fixed point.
    pub height: u32,
}

/// Picture sample entry (ISO/IEC 14496-12, 12.1.3; QuickTime, "Video Sample Description").
#[derive(Clone, Debug, PartialEq)]
pub struct PictureEntry {
    /// Codec.
    pub format: FourCc,
    /// Coded width in pixels.
    pub width: u16,
    /// Coded height in pixels.
    pub height: u16,
    /// Pixel aspect, width to height (`pasp`, 12.1.4).
    pub pixel_aspect: Option<Placed<(u32, u32)>>,
    /// Width and height of the clean aperture, each a numerator and a denominator (`clap`, 12.1.4).
    pub clean: Option<Placed<[u32; 4]>>,
}

/// Timecode sample entry (QuickTime, "Timecode Sample Description").
#[derive(Clone, Debug, PartialEq)]
pub struct TimecodeEntry {
    /// 1 drop frame, 2 wraps at 24 hours, 4 may be negative, 8 counts instead of telling time.
    pub flags: u32,
    /// Units a second.
    pub timescale: u32,
    /// Units a frame.
    pub frame_duration: u32,
    /// Labels a second; some cameras write 29 where they count to 30.
    pub labels: u8,
    /// Reel or tape name.
    pub reel: Option<Placed<String>>,
}

/// One edit (`elst`, ISO/IEC 14496-12, 8.6.6).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Edit {
    /// Length in movie units.
    pub duration: u64,
    /// Where it starts in the media, in media units; -1 is a gap.
    pub media_time: i64,
    /// Speed, 16.16 fixed point: 0x10000 as recorded, 0 a picture held.
    pub rate: i32,
}

impl Edit {
    /// Where it starts in the media; `None` for a gap.
    pub fn start(&self) -> Option<u64> {
        u64::try_from(self.media_time).ok()
    }
}

/// What edits show of the frames of a track, counted in the order they are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// The first frame shown, counted from the first one stored.
    pub first: u64,
    /// Frames shown in all.
    pub frames: u64,
}

/// A timecode sample after the first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LaterCount {
    /// Where it begins, in media units.
    pub time: u64,
    /// Frames since midnight.
    pub count: i32,
    /// Byte of the file where it stands.
    pub offset: u64,
}

/// Sample entry of a timed-metadata track (ISO/IEC 14496-12, 12.3 and 12.9; QuickTime, "Timed Metadata Media").
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MetadataEntry {
    /// Its kind: `mebx`, `rtmd`, `metx`, `mett`.
    pub format: FourCc,
    /// Keys of the values in a sample, by their number there, and the well-known type of each (`mebx` alone).
    pub keys: BTreeMap<u32, (String, u32)>,
}

/// A text or key as written.
#[derive(Clone, Debug, PartialEq)]
pub struct RawTag {
    /// `©mod`, or the whole name of a metadata key.
    pub key: String,
    /// Value and place.
    pub value: Placed<RawValue>,
}

/// The value of a [`RawTag`].
#[derive(Clone, Debug, PartialEq)]
pub enum RawValue {
    /// Text, without padding.
    Text(String),
    /// A number, printed.
    Number(String),
    /// Anything else; long values are cut.
    Bytes(Vec<u8>),
}

impl Track {
    /// True where a track header says so; a track without one is not shown.
    pub fn enabled(&self) -> bool {
        self.header.as_ref().is_some_and(|h| h.value.enabled)
    }

    /// Number of the track.
    pub fn id(&self) -> Option<u32> {
        self.header.as_ref().map(|h| h.value.id)
    }

    /// True where the media is of `kind`.
    pub fn is(&self, kind: FourCc) -> bool {
        self.handler.as_ref().is_some_and(|h| h.value == kind)
    }
}
