//! What the media says of itself: container facts and camera tags, each with the place where it stands.

#![deny(clippy::indexing_slicing)]

pub mod acquisition;
mod agree;
mod choice;
mod clock;
mod edits;
mod exif;
mod exif_names;
mod exr;
pub mod frames;
mod keys;
mod mxf;
mod number;
mod packet;
mod per_frame;
mod promise;
mod quicktime;
mod settings;
mod several;
mod st12;
mod start;
mod timed;
mod xmp;

use std::sync::Arc;

use chrono::NaiveDateTime;

use crate::finding::{Code, Found};
use crate::header::{self, Header, Limits};
use crate::ratio::{FrameRate, Ratio};
use crate::read_at::ReadAt;
use crate::sourced::{Origin, Sourced};
use crate::timecode::Timecode;
use crate::units::{FNumber, Factor, Meters, Millimeters, Raster, TNumber, Unit};

pub use settings::{AUTOMATIC, CameraSettings, MANUAL};

/// Reads what the media file `source` says of itself; `file` is its path inside the dump, for origins and findings.
pub fn read(source: &dyn ReadAt, file: &str) -> Found<Recorded> {
    read_frames(source, None, file)
}

/// The same; with `essence`, the same bytes once more, timed metadata is read from it frame by frame.
pub fn read_frames(
    source: &dyn ReadAt,
    essence: Option<&dyn ReadAt>,
    file: &str,
) -> Found<Recorded> {
    let Found { value: header, mut findings } = header::read(source, file, &Limits::default());
    let whole =
        !findings.iter().any(|f| matches!(f.code, Code::MediaCutOff | Code::DumpUnreadable));
    let picture = matches!(header, Header::Image(_) | Header::Exr(_));
    let mut value = match header {
        Header::QuickTime(movie) => {
            let (mut recorded, more) = quicktime::read(&movie, file, whole);
            findings.extend(more);
            if let Some(essence) = essence {
                per_frame::read(essence, &movie, file, &mut recorded, &mut findings);
            }
            recorded
        }
        Header::Mxf(mxf) => {
            let (mut recorded, more) = mxf::read(&mxf, file, whole);
            findings.extend(more);
            if let Some(essence) = essence {
                per_frame::read_mxf(essence, &mxf, file, &mut recorded, &mut findings);
            }
            recorded
        }
        Header::Image(image) => {
            let (recorded, more) = exif::read(&image, file);
            findings.extend(more);
            recorded
        }
        Header::Exr(exr) => {
            let (recorded, more) = exr::read(&exr, file);
            findings.extend(more);
            recorded
        }
        Header::Opaque => {
            promise::check(source, file, &mut findings);
            Recorded::default()
        }
    };
    if picture {
        value.frames = Some(Sourced::new(1, Origin::Computed("a picture is one frame")));
    }
    Found { value, findings }
}

/// Kinds of container.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Container {
    /// QuickTime file format.
    QuickTime,
    /// ISO base media file format (ISO/IEC 14496-12) and MP4 (14496-14).
    Mp4,
    /// Material exchange format (SMPTE ST 377-1).
    Mxf,
    /// TIFF 6.0.
    Tiff,
    /// DNG, a TIFF with the picture of the sensor.
    Dng,
    /// JPEG.
    Jpeg,
    /// HEIF (ISO/IEC 23008-12).
    Heif,
    /// OpenEXR.
    OpenExr,
    /// Not one that lensmend reads.
    #[default]
    Opaque,
}

/// How the picture must be turned, clockwise, to stand upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rotation {
    /// Not at all.
    None,
    /// A quarter turn clockwise.
    Quarter,
    /// Upside down.
    Half,
    /// A quarter turn against the clock.
    ThreeQuarters,
}

/// What was read of one file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FileFacts {
    /// What it says; a clip of one file says the same, and shares it.
    pub recorded: Arc<Recorded>,
    /// SHA-256 over the header bytes read, in hexadecimal.
    pub header_sha256: Option<String>,
}

/// What the media says of the lens at one moment. Absent is absent.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LensData {
    /// Lens model.
    pub lens: Option<Sourced<String>>,
    /// Focal length.
    pub focal_length: Option<Reading<Millimeters>>,
    /// f-number.
    pub f_number: Option<Reading<FNumber>>,
    /// T-number.
    pub t_number: Option<Reading<TNumber>>,
    /// Focus distance.
    pub focus_distance: Option<Reading<Meters>>,
    /// Magnification of an optical extender.
    pub extender: Option<Reading<Factor>>,
}

impl LensData {
    /// What `recorded` says of the lens as a whole.
    pub fn of(recorded: &Recorded) -> Self {
        Self {
            lens: recorded.lens.clone(),
            focal_length: recorded.focal_length.clone(),
            f_number: recorded.f_number.clone(),
            t_number: recorded.t_number.clone(),
            focus_distance: recorded.focus_distance.clone(),
            extender: recorded.extender.clone(),
        }
    }
}

/// Frames stored and not all shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stored {
    /// Frames stored in all.
    pub frames: u64,
    /// The one shown first, counted from 0.
    pub first_shown: u64,
}

/// An exact length of time: media units, and how many of them make a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Duration {
    /// Units.
    pub units: u64,
    /// Units a second, never 0.
    pub timescale: u32,
}

impl Duration {
    /// Seconds, for people.
    pub fn seconds(self) -> f64 {
        // A clip of 2^53 units would run for millennia.
        #[expect(clippy::cast_precision_loss, reason = "shown to three decimals")]
        let units = self.units as f64;
        units / f64::from(self.timescale)
    }
}

/// A number that the camera recorded: what was written, what it means, and how finely it was written.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading<U: Unit> {
    /// What it means.
    pub value: U,
    /// What was written, as text: `35/1`, `F1.78`.
    pub raw: String,
    /// Half of the smallest step of the way it was written, in the unit of `value`: 0.5 for whole millimetres.
    pub half_step: f64,
    /// Where it stands.
    pub origin: Origin,
}

impl<U: Unit> Reading<U> {
    /// True where both can be one number, given how finely each was written.
    pub fn agrees(&self, other: &Self) -> bool {
        let (a, b) = (self.value.number(), other.value.number());
        let steps = self.half_step + other.half_step;
        // Twelve digits are beyond any writing: they only forgive the last bits of a quotient.
        (a.is_infinite() && b.is_infinite()) || (a - b).abs() <= steps + 1e-12 * a.abs()
    }
}

/// A camera tag kept as written, whether or not it has a meaning here.
#[derive(Clone, Debug, PartialEq)]
pub struct Tag {
    /// Key as written: `com.example.lens`, `exif:FocalLength`.
    pub key: String,
    /// Value as text; binary values as hexadecimal, long ones cut.
    pub value: String,
    /// Where it stands.
    pub origin: Origin,
}

/// Everything one media file says of itself. Absent is absent: nothing is filled in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Recorded {
    /// Kind of container.
    pub container: Container,
    /// Raster of the coded picture.
    pub coded: Option<Sourced<Raster>>,
    /// Raster it is meant to be shown in, pixel aspect applied, before rotation.
    pub display: Option<Sourced<Raster>>,
    /// Width of a pixel over its height.
    pub pixel_aspect: Option<Sourced<Ratio>>,
    /// How the picture must be turned.
    pub rotation: Option<Sourced<Rotation>>,
    /// Exact frame rate of the main picture track; the average where it varies, and then with a finding.
    pub rate: Option<Sourced<FrameRate>>,
    /// Frames of the main picture track as it is shown: those that an edit list hides do not count.
    pub frames: Option<Sourced<u64>>,
    /// The frames stored, where an edit list hides some of them.
    pub stored: Option<Sourced<Stored>>,
    /// How long they are shown, exactly; what `frames` over `rate` cannot say where the rate varies.
    pub duration: Option<Sourced<Duration>>,
    /// Timecode of the first frame shown.
    pub start: Option<Sourced<Timecode>>,
    /// Reel or tape name carried by the timecode track.
    pub reel: Option<Sourced<String>>,
    /// Creation time as the camera wrote it; the container calls it UTC, many cameras write local time.
    pub created: Option<Sourced<NaiveDateTime>>,
    /// Camera maker.
    pub maker: Option<Sourced<String>>,
    /// Camera model.
    pub model: Option<Sourced<String>>,
    /// Camera serial number.
    pub serial: Option<Sourced<String>>,
    /// Lens model.
    pub lens: Option<Sourced<String>>,
    /// Focal length.
    pub focal_length: Option<Reading<Millimeters>>,
    /// f-number.
    pub f_number: Option<Reading<FNumber>>,
    /// T-number.
    pub t_number: Option<Reading<TNumber>>,
    /// Focus distance.
    pub focus_distance: Option<Reading<Meters>>,
    /// Magnification of an optical extender that lens or attachment told the camera of, 1 for none (RDD 18, tag 8006).
    /// Whether the focal length recorded beside it holds it already the standard does not say, so nothing is scaled by it.
    pub extender: Option<Reading<Factor>>,
    /// Sensitivity, shutter and white balance; `None` where nothing is said of them.
    pub settings: Option<Box<CameraSettings>>,
    /// Lens data over the frames shown, from each frame where it changes; empty unless the whole track was asked for.
    pub per_frame: Vec<(u64, LensData)>,
    /// Every camera tag met, as written, in file order.
    pub tags: Vec<Tag>,
}
