//! The finished product of reconciling: what is known of each clip. Public data without behaviour of its own.

mod shot;

use std::path::PathBuf;
use std::sync::Arc;

use crate::finding::Finding;
use crate::recorded::{LensData, Recorded};
use crate::sourced::{Quantity, Sourced};
use crate::timecode::Timecode;
use crate::track::Track;
use crate::units::{
    Degrees, FNumber, Factor, Meters, Millimeters, Offset, Pixels, Stops, TNumber, Transmittance,
};

pub use shot::{Details, Shot};

/// Every clip of a dump, and everything of the dump that is no clip.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shoot {
    /// Title of the production.
    pub production: Option<String>,
    /// What else the kit says of it.
    pub details: Details,
    /// Clips in the order of the dump.
    pub clips: Vec<Annotation>,
    /// Files that are no clips.
    pub strays: Vec<Stray>,
    /// Everything that was found on the way, in the order of the pipeline.
    pub findings: Vec<Finding>,
    /// Kit and notes that were read.
    pub inputs: Vec<Input>,
}

/// An input file that was read whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// What it is to the run: `kit` or `notes`.
    pub role: &'static str,
    /// File, as the user would name it.
    pub file: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// Bytes.
    pub size: u64,
}

/// A file of the dump that is no clip.
#[derive(Clone, Debug, PartialEq)]
pub struct Stray {
    /// Path inside the dump, as shown.
    pub file: String,
    /// Why it is no clip.
    pub reason: &'static str,
    /// What it is a reference for, if it is a still.
    pub still: Option<Still>,
}

/// A still. What it says of itself is shown and never taken for a fact of the clip: it may have been taken with any lens.
#[derive(Clone, Debug, PartialEq)]
pub struct Still {
    /// Name of the clip that it belongs to.
    pub clip: Option<String>,
    /// Roll that it belongs to.
    pub roll: Option<String>,
    /// What it says of itself, where it was opened.
    pub media: Option<Box<Recorded>>,
}

/// One clip, resolved.
#[derive(Clone, Debug, PartialEq)]
pub struct Annotation {
    /// Its names, files and container facts.
    pub clip: ClipFacts,
    /// What the picture was taken with, over the frames of the clip.
    pub setups: Track<Setup>,
    /// What holds for files of which nobody knows where in the clip they begin, where the set-up changes inside the
    /// clip: what is the same throughout.
    pub elsewhere: Option<Box<Setup>>,
    /// Rows of the notes that speak of the clip, in file order.
    pub rows: Vec<MatchedRow>,
}

/// A row of the notes that speaks of a clip.
#[derive(Clone, Debug, PartialEq)]
pub struct MatchedRow {
    /// Notes file.
    pub file: Arc<str>,
    /// Line of the row in that file, from 1.
    pub line: u64,
    /// What made it speak of the clip: `clip C007`, `roll A003`, `timecode 10:00:02:00 in clip C007`.
    pub why: Arc<str>,
    /// Frame of the clip from which it holds.
    pub frame: u64,
}

/// What is known of a clip without notes and kit.
#[derive(Clone, Debug, PartialEq)]
pub struct ClipFacts {
    /// Name of the clip, such as `A003C007`.
    pub name: Arc<str>,
    /// Roll.
    pub roll: Option<String>,
    /// Its files in order; at least one.
    pub files: Vec<ClipFile>,
    /// The same files again elsewhere in the dump, each time in order.
    pub copies: Vec<Vec<CopiedFile>>,
    /// What the media says, joined over the files; of one file, what that says.
    pub media: Arc<Recorded>,
    /// Lens data that the media says over the frames of the clip, from where it differs from that of `media`.
    pub lens: Vec<(u64, LensData)>,
}

/// A file that is a copy of one of a clip.
#[derive(Clone, Debug, PartialEq)]
pub struct CopiedFile {
    /// Path inside the dump; of a row of files, the one that they would have without numbers.
    pub path: PathBuf,
    /// The same as text; of a row, that of its first file.
    pub shown: Arc<str>,
}

/// One file of a clip.
#[derive(Clone, Debug, PartialEq)]
pub struct ClipFile {
    /// Path inside the dump; of a row of numbered files the one without number, after which its sidecar is called.
    pub path: PathBuf,
    /// The same as text; of a row that of the first file.
    pub shown: Arc<str>,
    /// Bytes, of a row in all.
    pub size: u64,
    /// The rest of the row, if it is one.
    pub row: Option<FileRow>,
    /// SHA-256 over the header bytes that were read, in hexadecimal; the essence is not part of it.
    pub header_sha256: Option<String>,
    /// First frame of this file, counted from the start of the clip; unknown after a file of unknown length.
    pub first_frame: Option<u64>,
    /// Frames in this file.
    pub frames: Option<u64>,
    /// Timecode of its first frame.
    pub start: Option<Timecode>,
}

/// Numbered files that are one clip: frames of a sequence, or pieces of an opaque recording.
#[derive(Clone, Debug, PartialEq)]
pub struct FileRow {
    /// Path of the last one inside the dump, as text.
    pub last: Arc<str>,
    /// Numbers of the first and the last.
    pub numbers: (u64, u64),
    /// How many there are.
    pub files: u64,
}

impl ClipFacts {
    /// How many files the clip has, every frame of a sequence and every copy counted.
    pub fn file_count(&self) -> u64 {
        let files = self.files.iter().map(|file| file.row.as_ref().map_or(1, |row| row.files));
        let times = u64::try_from(self.copies.len()).unwrap_or(u64::MAX).saturating_add(1);
        files.fold(0, u64::saturating_add).saturating_mul(times)
    }
}

/// What became of one field that the media may already have carried.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// The media had nothing; notes and kit gave the value.
    Filled,
    /// The media had the bare value; it was scaled by the attachment.
    Scaled,
    /// The media was already right.
    Kept,
    /// The media was wrong; the notes were trusted, as asked.
    Replaced,
    /// Contradiction or ambiguity: the field is left out.
    Unresolved,
}

impl Verdict {
    /// Every verdict, in the order of summaries.
    pub const ALL: [Self; 5] =
        [Self::Filled, Self::Scaled, Self::Kept, Self::Replaced, Self::Unresolved];

    /// The word used in every output.
    pub fn word(self) -> &'static str {
        match self {
            Self::Filled => "filled",
            Self::Scaled => "scaled",
            Self::Kept => "kept",
            Self::Replaced => "replaced",
            Self::Unresolved => "unresolved",
        }
    }
}

/// A field with its verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled<T> {
    /// What became of it; `None` where neither media nor notes speak of it.
    pub verdict: Option<Verdict>,
    /// The value that stands.
    pub value: Option<T>,
    /// What the media recorded.
    pub recorded: Option<T>,
    /// Why, in words.
    pub reason: String,
}

impl<T> Settled<T> {
    /// Nothing is known of the field.
    pub fn unsaid() -> Self {
        Self { verdict: None, value: None, recorded: None, reason: String::new() }
    }
}

/// Distortion of a picture: coefficients of the model of `OpenLensIO`, for points in millimetres on the sensor.
#[derive(Clone, Debug, PartialEq)]
pub struct Distortion {
    /// The model as OpenTrackIO calls it, which says which way the coefficients take a point.
    pub model: &'static str,
    /// k1 and so on.
    pub radial: Vec<f64>,
    /// p1 and p2; empty where there are none.
    pub tangential: Vec<f64>,
    /// What it was measured with, and how it was scaled.
    pub how: String,
}

/// What stood between lens and camera.
#[derive(Clone, Debug, PartialEq)]
pub enum Attached {
    /// Nothing.
    Bare,
    /// This attachment of the kit.
    On {
        /// Id in the kit.
        id: String,
        /// Name.
        name: String,
        /// `reducer`, `adapter` or `extender`.
        kind: &'static str,
    },
}

/// Focal lengths and largest openings as engraved on a lens, those of a prime twice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LensMarks {
    /// Shortest and longest focal length.
    pub focal: (Millimeters, Millimeters),
    /// Smallest f-number at the one and at the other, as marked.
    pub f: Option<(FNumber, FNumber)>,
    /// Smallest T-number, likewise.
    pub t: Option<(TNumber, TNumber)>,
}

/// What the picture was taken with over one piece of a clip. `None` is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// Camera id.
    pub camera: Option<Sourced<String>>,
    /// Recording mode id.
    pub mode: Option<Sourced<String>>,
    /// Lens name.
    pub lens: Settled<Sourced<String>>,
    /// Lens maker.
    pub lens_maker: Option<Sourced<String>>,
    /// Lens serial number.
    pub lens_serial: Option<Sourced<String>>,
    /// What is engraved on the lens.
    pub lens_marks: Option<Sourced<LensMarks>>,
    /// Anamorphic squeeze of the lens.
    pub squeeze: Option<Quantity<Factor>>,
    /// What stood between lens and camera.
    pub attachment: Option<Sourced<Attached>>,
    /// Whether that was logged or defaulted, or what the numbers suggest where it is not known.
    pub attachment_reason: String,
    /// Magnification of that.
    pub magnification: Option<Quantity<Factor>>,
    /// Transmittance of its glass.
    pub glass: Option<Quantity<Transmittance>>,
    /// Focal length of the lens alone.
    pub lens_focal: Option<Quantity<Millimeters>>,
    /// f-number on the lens.
    pub lens_f: Option<Quantity<FNumber>>,
    /// T-number on the lens.
    pub lens_t: Option<Quantity<TNumber>>,
    /// Effective focal length.
    pub focal_length: Settled<Quantity<Millimeters>>,
    /// Effective f-number.
    pub f_number: Settled<Quantity<FNumber>>,
    /// Effective T-number.
    pub t_number: Settled<Quantity<TNumber>>,
    /// Focus distance from the sensor-plane mark.
    pub focus_distance: Settled<Quantity<Meters>>,
    /// Distortion of the picture, where the kit has what was measured and it holds for this set-up.
    pub distortion: Option<Sourced<Box<Distortion>>>,
    /// What follows from the values above; clips of one set-up share it.
    pub derived: Arc<Derived>,
    /// Slate.
    pub slate: Option<Sourced<String>>,
    /// Take.
    pub take: Option<Sourced<String>>,
    /// Circled take.
    pub circled: Option<Sourced<bool>>,
    /// Whether the attachment sat tight, as noted.
    pub attachment_secured: Option<Sourced<bool>>,
    /// Filters.
    pub filter: Option<Sourced<String>>,
    /// Stops of light that neutral density among them took; no stop of the clip is changed by it.
    pub density: Option<Quantity<Stops>>,
    /// How the camera was set and stood, and who was there; `None` where nothing of that is known.
    pub shot: Option<Box<Shot>>,
    /// Remarks.
    pub remarks: Option<Sourced<String>>,
}

/// What follows from the settled values and the recorded area.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Derived {
    /// Width of the recorded area.
    pub back_width: Option<Quantity<Millimeters>>,
    /// Height of the recorded area.
    pub back_height: Option<Quantity<Millimeters>>,
    /// Pinhole focal length, for a matchmove camera.
    pub pinhole: Option<Quantity<Millimeters>>,
    /// Entrance pupil from the sensor plane, positive toward the object.
    pub pupil_offset: Option<Quantity<Offset>>,
    /// Horizontal angle of view, squeeze included.
    pub angle_horizontal: Option<Quantity<Degrees>>,
    /// Vertical angle of view.
    pub angle_vertical: Option<Quantity<Degrees>>,
    /// Diagonal angle of view, squeeze included.
    pub angle_diagonal: Option<Quantity<Degrees>>,
    /// Crop by width.
    pub crop_width: Option<Quantity<Factor>>,
    /// Crop by diagonal.
    pub crop_diagonal: Option<Quantity<Factor>>,
    /// Equivalent focal length by diagonal, as Exif means it.
    pub equivalent: Option<Quantity<Millimeters>>,
    /// Equivalent focal length by width, as motion pictures compare.
    pub equivalent_by_width: Option<Quantity<Millimeters>>,
    /// Light won or lost behind the attachment.
    pub light: Option<Quantity<Stops>>,
    /// Image circle behind the attachment.
    pub image_circle: Option<Quantity<Millimeters>>,
    /// Image circle over the diagonal of the recorded area.
    pub coverage: Option<Quantity<Factor>>,
    /// How much of a corner's radius is dark; `None` where the circle covers it, or where nothing is known of it.
    pub dark_corner: Option<Quantity<Millimeters>>,
    /// The same in pixels of the recording.
    pub dark_corner_pixels: Option<Quantity<Pixels>>,
    /// How far the picture is dark in from the middle of its left and right edges; `None` where these are lit.
    pub dark_sides: Option<Quantity<Millimeters>>,
    /// The same in pixels of the recording.
    pub dark_sides_pixels: Option<Quantity<Pixels>>,
    /// How far the picture is dark in from the middle of its top and bottom edges; `None` where these are lit.
    pub dark_top_bottom: Option<Quantity<Millimeters>>,
    /// The same in pixels of the recording.
    pub dark_top_bottom_pixels: Option<Quantity<Pixels>>,
    /// Hyperfocal distance from the sensor-plane mark.
    pub hyperfocal: Option<Quantity<Meters>>,
    /// Nearest sharp distance from the sensor-plane mark.
    pub near: Option<Quantity<Meters>>,
    /// Farthest sharp distance from the sensor-plane mark.
    pub far: Option<Quantity<Meters>>,
}
