//! Facts of a QuickTime or ISO base media file: structure in, meaning out.

use std::sync::Arc;

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};

use crate::finding::{Code, Finding, Place};
use crate::header::Placed;
use crate::header::quicktime::{Movie, PictureEntry, Track};
use crate::ratio::Ratio;
use crate::recorded::{
    Container, Recorded, Rotation, agree, choice, edits, keys, start, timed, xmp,
};
use crate::sourced::{Origin, Sourced};
use crate::units::Raster;

/// One movie being read for its meaning.
pub(super) struct Reading<'a> {
    pub(super) movie: &'a Movie,
    pub(super) file: Arc<str>,
    pub(super) findings: Vec<Finding>,
}

impl Reading<'_> {
    /// `value`, found where `placed` stands.
    pub(super) fn source<T, U>(&self, placed: &Placed<T>, value: U) -> Sourced<U> {
        let origin = Origin::Media {
            file: Arc::clone(&self.file),
            path: Arc::clone(&placed.path),
            offset: placed.offset,
        };
        Sourced::new(value, origin)
    }

    pub(super) fn report(&mut self, code: Code, offset: u64, message: &str, hint: &str) {
        let place = Place::byte(Arc::clone(&self.file), offset);
        self.findings.push(Finding::new(code, message).at(place).hint(hint));
    }
}

/// Everything that `movie` says. `whole` is false where the header was cut off or broken, so that missing parts are no surprise.
pub(super) fn read(movie: &Movie, file: &str, whole: bool) -> (Recorded, Vec<Finding>) {
    let mut reading = Reading { movie, file: file.into(), findings: Vec::new() };
    let mut recorded = Recorded { container: container(movie), ..Recorded::default() };
    let main = choice::main_picture(&reading, &mut recorded.tags);
    if let Some(track) = main {
        picture(&mut reading, track, &mut recorded);
        start::read(&mut reading, track, &mut recorded);
    } else if whole {
        let finding = Finding::new(Code::MediaNoPicture, "the file holds no picture track");
        reading.findings.push(
            finding
                .at(Place::file(Arc::clone(&reading.file)))
                .hint("leave it out of the dump if it is sound only"),
        );
    }
    recorded.created = created(&reading, main);
    let picture_texts = main.map_or(&[][..], |track| &track.texts);
    let texts: Vec<_> = movie.texts.iter().chain(picture_texts).collect();
    // What each carrier says is read apart, so that one that contradicts another is seen.
    let mut said = keys::read(&texts, file);
    for packet in &movie.packets {
        let mut packed = Recorded::default();
        xmp::read(packet, file, &mut packed, &mut reading.findings);
        recorded.tags.append(&mut packed.tags);
        said.push(packed);
    }
    timed::read(&mut reading, main, &mut said, &mut recorded.tags);
    agree::join(&said, &mut recorded, &mut reading.findings);
    let all =
        movie.tracks.iter().flat_map(|track| track.texts.iter().chain(&track.metadata_values));
    let tags = movie.texts.iter().chain(all).map(|raw| keys::tag(raw, file));
    recorded.tags.extend(tags);
    recorded.tags.sort_by_key(|tag| match tag.origin {
        Origin::Media { offset, .. } => offset,
        _ => u64::MAX,
    });
    (recorded, reading.findings)
}

/// Files without `ftyp` are from before there was one, and so QuickTime.
fn container(movie: &Movie) -> Container {
    match &movie.brand {
        Some(brand) if brand.value != *b"qt  " => Container::Mp4,
        _ => Container::QuickTime,
    }
}

fn picture(reading: &mut Reading, track: &Track, recorded: &mut Recorded) {
    if let Some(entry) = &track.picture {
        let coded = Raster::new(entry.value.width.into(), entry.value.height.into());
        recorded.coded = coded.map(|raster| reading.source(entry, raster));
        recorded.pixel_aspect = entry.value.pixel_aspect.as_ref().and_then(|pasp| {
            let (width, height) = pasp.value;
            let ratio = Ratio::new(width.into(), height.into())?;
            Some(reading.source(pasp, ratio))
        });
    }
    recorded.display = display(reading, track, recorded);
    recorded.rotation = track.header.as_ref().and_then(|header| {
        let rotation = rotation(header.value.matrix)?;
        Some(reading.source(header, rotation))
    });
    edits::timing(reading, track, recorded);
}

/// The raster to show, before rotation: the clean aperture where the camera wrote it out, else the coded picture
/// without what `clap` trims, stretched by the pixel aspect; the size of the track header only where nothing else speaks.
fn display(reading: &Reading, track: &Track, recorded: &Recorded) -> Option<Sourced<Raster>> {
    if let Some(clean) = &track.clean
        && let Some(raster) = Raster::new(whole(clean.value.0), whole(clean.value.1))
    {
        return Some(reading.source(clean, raster));
    }
    let shown = track.header.as_ref().and_then(|header| {
        let raster = Raster::new(whole(header.value.width), whole(header.value.height))?;
        Some(reading.source(header, raster))
    });
    let Some((entry, coded)) = track.picture.as_ref().zip(recorded.coded.as_ref()) else {
        return shown;
    };
    let trimmed = trimmed(&entry.value, coded.value);
    if let Some(aspect) = &recorded.pixel_aspect {
        let wide = u64::from(trimmed.width()) * u64::from(aspect.value.num());
        let width = divide(wide, aspect.value.den().into())?;
        let raster = Raster::new(u32::try_from(width).ok()?, trimmed.height())?;
        return Some(reading.source(entry, raster));
    }
    // Writers that squeeze but leave `pasp` out give the stretched width in the track header (14496-12, 8.3.2.1).
    let stretched = shown.filter(|shown| {
        shown.value.height() == trimmed.height() && shown.value.width() != trimmed.width()
    });
    stretched.or_else(|| Some(reading.source(entry, trimmed)))
}

/// The coded raster less what the clean aperture of `clap` leaves out (ISO/IEC 14496-12, 12.1.4).
fn trimmed(entry: &PictureEntry, coded: Raster) -> Raster {
    let clean = entry.clean.as_ref().and_then(|clean| {
        let [width, width_den, height, height_den] = clean.value;
        let width = u32::try_from(divide(width.into(), width_den.into())?).ok()?;
        let height = u32::try_from(divide(height.into(), height_den.into())?).ok()?;
        let raster = Raster::new(width, height)?;
        (width <= coded.width() && height <= coded.height()).then_some(raster)
    });
    clean.unwrap_or(coded)
}

/// Quarter turns of the matrix a, b, c, d (ISO/IEC 14496-12, 8.2.2): a point (x, y) goes to (ax + cy, bx + dy),
/// y pointing down, so that 0, 1, -1, 0 is a quarter clockwise. Anything slanted or mirrored has no name here.
fn rotation(matrix: [i32; 4]) -> Option<Rotation> {
    match matrix.map(i32::signum) {
        [1, 0, 0, 1] => Some(Rotation::None),
        [0, 1, -1, 0] => Some(Rotation::Quarter),
        [-1, 0, 0, -1] => Some(Rotation::Half),
        [0, -1, 1, 0] => Some(Rotation::ThreeQuarters),
        _ => None,
    }
}

/// Seconds since 1904-01-01 (ISO/IEC 14496-12, 8.2.2); 0 is unset.
fn created(reading: &Reading, main: Option<&Track>) -> Option<Sourced<NaiveDateTime>> {
    let movie = reading.movie.header.as_ref();
    let media = main.and_then(|track| track.media.as_ref());
    let time = movie.into_iter().chain(media).find(|time| time.value.created != 0)?;
    let epoch = NaiveDate::from_ymd_opt(1904, 1, 1)?.and_hms_opt(0, 0, 0)?;
    let seconds = TimeDelta::try_seconds(i64::try_from(time.value.created).ok()?)?;
    let created = epoch.checked_add_signed(seconds)?;
    Some(reading.source(time, created))
}

/// A 16.16 fixed-point number to the nearest whole one.
fn whole(fixed: u32) -> u32 {
    (fixed >> 16) + (fixed >> 15 & 1)
}

/// The nearest whole number to a ratio; `None` for a zero denominator.
fn divide(num: u64, den: u64) -> Option<u64> {
    num.checked_add(den / 2)?.checked_div(den)
}
