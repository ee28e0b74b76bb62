//! Facts of a picture: Exif (CIPA DC-008), TIFF 6.0, and what the DNG specification adds for moving pictures.

mod settings;

use std::sync::Arc;

use chrono::NaiveDateTime;

use crate::finding::Finding;
use crate::header::image::{Directory, Field, FieldValue, Image, Kind, Role};
use crate::ratio::{FrameRate, Ratio};
use crate::recorded::exif_names::{self as names, name};
use crate::recorded::number::{self, Written};
use crate::recorded::{Container, Reading, Recorded, Rotation, Tag, st12, xmp};
use crate::sourced::{Origin, Sourced};
use crate::units::{FNumber, Meters, Millimeters, Raster, TNumber, Unit};

/// Everything that `image` says.
pub(super) fn read(image: &Image, file: &str) -> (Recorded, Vec<Finding>) {
    let view = View { image, file: file.into() };
    let mut findings = Vec::new();
    let mut recorded = Recorded { container: container(image.kind), ..Recorded::default() };
    picture(&view, &mut recorded);
    recorded.rotation = view.first(&[names::ORIENTATION], |field| rotation(number_of(field)?));
    recorded.created =
        view.first(&[names::DATE_TIME_ORIGINAL, names::DATE_TIME_DIGITIZED], |f| time(text_of(f)?));
    recorded.maker = view.text(&[names::MAKE]);
    recorded.model = view.text(&[names::MODEL, names::UNIQUE_CAMERA_MODEL]);
    recorded.serial = view.text(&[names::BODY_SERIAL_NUMBER, names::CAMERA_SERIAL_NUMBER]);
    recorded.lens = view.text(&[names::LENS_MODEL]);
    recorded.reel = view.text(&[names::REEL_NAME]);
    recorded.focal_length = view.reading(names::FOCAL_LENGTH, number::rational, Millimeters::new);
    recorded.f_number = view
        .reading(names::F_NUMBER, number::rational, FNumber::new)
        .or_else(|| view.reading(names::APERTURE_VALUE, number::apex, FNumber::new));
    recorded.t_number = view.reading(names::T_STOP, number::rational, TNumber::new);
    recorded.focus_distance = view.reading(names::SUBJECT_DISTANCE, xmp::distance, Meters::new);
    recorded.settings = settings::read(&view).boxed();
    recorded.rate = view.first(&[names::FRAME_RATE], frame_rate);
    timecode(&view, &mut recorded, &mut findings);
    for directory in &image.directories {
        let tags = directory.fields.iter().map(|field| Tag {
            key: name(field.tag),
            value: shown(field),
            origin: view.origin(directory, field),
        });
        recorded.tags.extend(tags);
    }
    for packet in &image.packets {
        xmp::read(packet, file, &mut recorded, &mut findings);
    }
    if let Some(extended) = &image.extended {
        let place = |at| extended.place(at);
        let whole = (&extended.packet[..], "APP1/extended XMP", &place as &dyn Fn(u64) -> u64);
        xmp::read_placed(whole, file, &mut recorded, &mut findings);
    }
    (recorded, findings)
}

fn container(kind: Kind) -> Container {
    match kind {
        Kind::Tiff => Container::Tiff,
        Kind::Dng => Container::Dng,
        Kind::Jpeg => Container::Jpeg,
        Kind::Heif => Container::Heif,
    }
}

struct View<'a> {
    image: &'a Image,
    file: Arc<str>,
}

impl View<'_> {
    /// Every field of a number, those of the Exif directory first: pictures inside a file may carry copies.
    fn fields(&self, tag: u16) -> impl Iterator<Item = (&Directory, &Field)> {
        let of = move |role| {
            let directories = self.image.directories.iter().filter(move |d| d.role == role);
            directories.filter_map(move |d| Some((d, d.field(tag)?)))
        };
        of(Role::Exif).chain(of(Role::Picture))
    }

    /// The first field of the first of several numbers that means something.
    fn first<T>(&self, tags: &[u16], mean: impl Fn(&Field) -> Option<T>) -> Option<Sourced<T>> {
        tags.iter().flat_map(|tag| self.fields(*tag)).find_map(|(directory, field)| {
            Some(Sourced::new(mean(field)?, self.origin(directory, field)))
        })
    }

    fn text(&self, tags: &[u16]) -> Option<Sourced<String>> {
        self.first(tags, |field| text_of(field).map(str::to_owned))
    }

    fn reading<U: Unit>(
        &self,
        tag: u16,
        parse: impl Fn(&str) -> Option<Written>,
        unit: impl Fn(f64) -> Option<U>,
    ) -> Option<Reading<U>> {
        self.fields(tag).find_map(|(directory, field)| {
            let raw = ratio_of(field)?;
            let written = parse(&raw)?;
            let origin = self.origin(directory, field);
            Some(Reading { value: unit(written.value)?, raw, half_step: written.half_step, origin })
        })
    }

    fn origin(&self, directory: &Directory, field: &Field) -> Origin {
        Origin::Media {
            file: Arc::clone(&self.file),
            path: format!("{}/{}", directory.path, name(field.tag)).into(),
            offset: field.value.offset,
        }
    }
}

/// Raster and pixel aspect. The picture is the largest that is no thumbnail (TIFF 6.0, `NewSubfileType`); of a DNG
/// it is shown as `DefaultCropSize` and `DefaultScale` say.
fn picture(view: &View, recorded: &mut Recorded) {
    let image = view.image;
    if let Some(size) = &image.size {
        let origin = Origin::Media {
            file: Arc::clone(&view.file),
            path: Arc::clone(&size.path),
            offset: size.offset,
        };
        let raster = Raster::new(size.value.0, size.value.1);
        recorded.coded = raster.map(|raster| Sourced::new(raster, origin));
        recorded.display = recorded.coded.clone();
        return;
    }
    if !matches!(image.kind, Kind::Tiff | Kind::Dng) {
        return;
    }
    let size = |directory: &Directory| {
        let side = |tag| u32::try_from(directory.whole(tag)?).ok();
        Raster::new(side(names::IMAGE_WIDTH)?, side(names::IMAGE_LENGTH)?)
    };
    let pictures = image.directories.iter().filter_map(|directory| {
        let field = directory.field(names::IMAGE_WIDTH)?;
        Some((directory, field, size(directory)?))
    });
    let rank = |directory: &Directory, raster: Raster| {
        let whole = directory.whole(names::NEW_SUBFILE_TYPE).unwrap_or_default() == 0;
        (whole, u64::from(raster.width()) * u64::from(raster.height()))
    };
    // Of equals the first, where `max_by_key` would take the last.
    let best = pictures
        .reduce(|best, next| if rank(next.0, next.2) > rank(best.0, best.2) { next } else { best });
    let Some((directory, field, coded)) = best else {
        return;
    };
    recorded.coded = Some(Sourced::new(coded, view.origin(directory, field)));
    recorded.display = recorded.coded.clone();
    if let Some(field) = directory.field(names::DEFAULT_SCALE) {
        let aspect = aspect(field);
        recorded.pixel_aspect = aspect.map(|a| Sourced::new(a, view.origin(directory, field)));
    }
    let crop = directory.field(names::DEFAULT_CROP_SIZE);
    let cropped = crop.and_then(|field| Some((field, cropped(field, coded)?)));
    let (field, raster) = cropped.unwrap_or((field, coded));
    let aspect = recorded.pixel_aspect.as_ref().map_or(1.0, |aspect| aspect.value.to_f64());
    let width = libm::round(f64::from(raster.width()) * aspect);
    // A width of a raster is far below the largest whole number that a float counts exactly.
    let width = (1.0..=f64::from(u32::MAX)).contains(&width).then(|| format!("{width}"));
    let display = width.and_then(|width| Raster::new(width.parse().ok()?, raster.height()));
    recorded.display = display.map(|display| Sourced::new(display, view.origin(directory, field)));
}

/// How much wider than high a pixel is to be shown (DNG specification, `DefaultScale`).
fn aspect(field: &Field) -> Option<Ratio> {
    match field.value.value {
        FieldValue::Ratios(ref ratios) => match ratios.as_slice() {
            [(h, h_den), (v, v_den)] => {
                Ratio::new(u64::from(*h) * u64::from(*v_den), u64::from(*v) * u64::from(*h_den))
            }
            _ => None,
        },
        _ => None,
    }
}

/// The part of the coded raster that is meant to be shown (DNG specification, `DefaultCropSize`).
fn cropped(field: &Field, coded: Raster) -> Option<Raster> {
    let sides: Vec<u32> = match &field.value.value {
        FieldValue::Whole(sides) => sides.iter().filter_map(|n| u32::try_from(*n).ok()).collect(),
        FieldValue::Ratios(sides) => {
            sides.iter().filter_map(|(num, den)| num.checked_div(*den)).collect()
        }
        _ => return None,
    };
    let [width, height] = sides.as_slice() else {
        return None;
    };
    let inside = *width <= coded.width() && *height <= coded.height();
    Raster::new(*width, *height).filter(|_| inside)
}

/// TIFF 6.0, `Orientation`; the mirrored ones have no name here.
fn rotation(orientation: u64) -> Option<Rotation> {
    match orientation {
        1 => Some(Rotation::None),
        3 => Some(Rotation::Half),
        6 => Some(Rotation::Quarter),
        8 => Some(Rotation::ThreeQuarters),
        _ => None,
    }
}

/// Local time as Exif writes it; blanks and zeros mean unknown and are no date.
pub(super) fn time(text: &str) -> Option<NaiveDateTime> {
    NaiveDateTime::parse_from_str(text, "%Y:%m:%d %H:%M:%S").ok()
}

/// DNG specification, `FrameRate`.
fn frame_rate(field: &Field) -> Option<FrameRate> {
    let (num, den) = match &field.value.value {
        FieldValue::SignedRatios(ratios) => {
            let (num, den) = ratios.first()?;
            (u64::try_from(*num).ok()?, u64::try_from(*den).ok()?)
        }
        FieldValue::Ratios(ratios) => {
            ratios.first().map(|(n, d)| (u64::from(*n), u64::from(*d)))?
        }
        _ => return None,
    };
    Ratio::new(num, den)
}

/// DNG specification, `TimeCodes`: of several the first is the one to use. Without a rate nobody knows how it counts.
fn timecode(view: &View, recorded: &mut Recorded, findings: &mut Vec<Finding>) {
    let code = view.first(&[names::TIME_CODES], |field| match &field.value.value {
        FieldValue::Bytes(bytes) => bytes.first_chunk().copied(),
        FieldValue::Whole(numbers) => {
            let first: [u64; 4] = numbers.first_chunk().copied()?;
            let byte = |at: usize| first.get(at).and_then(|n| u8::try_from(*n).ok());
            Some([byte(0)?, byte(1)?, byte(2)?, byte(3)?])
        }
        _ => None,
    });
    if let Some(code) = code {
        st12::start(&code, recorded, findings);
    }
}

/// Text that says something: not blank, and no row of dashes in place of a name.
fn text_of(field: &Field) -> Option<&str> {
    match &field.value.value {
        FieldValue::Text(text) => said(text),
        _ => None,
    }
}

/// The text, if it says something.
pub(super) fn said(text: &str) -> Option<&str> {
    let text = text.trim();
    text.chars().any(char::is_alphanumeric).then_some(text)
}

fn number_of(field: &Field) -> Option<u64> {
    match &field.value.value {
        FieldValue::Whole(numbers) => numbers.first().copied(),
        _ => None,
    }
}

/// A lone ratio, or whole number, as `num/den`.
fn ratio_of(field: &Field) -> Option<String> {
    match &field.value.value {
        FieldValue::Ratios(ratios) => match ratios.as_slice() {
            [(num, den)] => Some(format!("{num}/{den}")),
            _ => None,
        },
        FieldValue::SignedRatios(ratios) => match ratios.as_slice() {
            [(num, den)] => Some(format!("{num}/{den}")),
            _ => None,
        },
        _ => None,
    }
}

/// A field as text: lists parted by spaces, bytes in hexadecimal, dots where more stands in the file.
fn shown(field: &Field) -> String {
    fn list<T>(values: &[T], show: impl Fn(&T) -> String) -> String {
        values.iter().map(show).collect::<Vec<_>>().join(" ")
    }
    let mut text = match &field.value.value {
        FieldValue::Text(text) => text.clone(),
        FieldValue::Whole(values) => list(values, ToString::to_string),
        FieldValue::Signed(values) => list(values, ToString::to_string),
        FieldValue::Ratios(values) => list(values, |(num, den)| format!("{num}/{den}")),
        FieldValue::SignedRatios(values) => list(values, |(num, den)| format!("{num}/{den}")),
        FieldValue::Floats(values) => list(values, ToString::to_string),
        FieldValue::Bytes(bytes) => bytes.iter().flat_map(|byte| [format!("{byte:02x}")]).collect(),
    };
    if field.cut {
        text.push_str(" ...");
    }
    text
}
