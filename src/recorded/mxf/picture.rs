//! Raster, pixel aspect, rate and length of the picture (SMPTE ST 377-1, annexes B, D and G).

use crate::finding::Code;
use crate::header::Placed;
use crate::header::mxf::Set;
use crate::ratio::Ratio;
use crate::recorded::mxf::{Clip, Reading, value};
use crate::recorded::{Recorded, Stored, several};
use crate::units::Raster;

/// Frame layouts whose heights are those of one field: separate fields, and segmented frames (G.2.1).
const HALVED: [u8; 2] = [1, 4];

pub(super) fn read(reading: &mut Reading, clip: &Clip, recorded: &mut Recorded) {
    if let Some(descriptor) = clip.descriptor {
        raster(reading, descriptor, recorded);
    }
    rate(reading, clip, recorded);
    let described = clip.descriptor.and_then(|set| set.item(0x3002, value::duration));
    let length = |track: super::Track| track.sequence.item(0x0202, value::duration);
    let stored = described.or_else(|| length(clip.stored?));
    if let Some(trimmed) = trimmed(reading, clip, stored.as_ref()) {
        let Trimmed { frames, stored } = trimmed;
        let last = stored.value.frames - stored.value.first_shown - frames.value;
        let message = format!(
            "the file plays {} of {} frames: it leaves out {} in front, {last} at the end",
            frames.value, stored.value.frames, stored.value.first_shown
        );
        let hint = "count in frames from the first one played; a program that reads the essence alone shows others";
        reading.report(Code::MediaTrimmed, stored.offset, &message, hint);
        recorded.stored = Some(reading.source(&stored, stored.value));
        recorded.frames = Some(reading.source(&frames, frames.value));
        return;
    }
    if let Some(frames) = stored.or_else(|| length(clip.shown?)) {
        recorded.frames = Some(reading.source(&frames, frames.value));
    }
}

/// What the package that is played takes of the pictures stored.
struct Trimmed {
    frames: Placed<u64>,
    stored: Placed<Stored>,
}

/// The part of the stored pictures that is played, where that is not all: one source clip into them, at their own rate
/// (ST 377-1, annex B: start position and duration). `None` where all is played, and where pictures of other files
/// are played too.
fn trimmed(reading: &Reading, clip: &Clip, stored: Option<&Placed<u64>>) -> Option<Trimmed> {
    let (shown, inside) = (clip.shown?, clip.stored?);
    let rate = |track: super::Track| track.set.item(0x4B01, value::ratio);
    if rate(shown)?.value != rate(inside)?.value || reading.graph.parts(&shown).len() != 1 {
        return None;
    }
    let source = reading.graph.clip(&shown)?;
    let skipped = source.item(0x1201, value::position)?;
    let first_shown = u64::try_from(skipped.value).ok()?;
    let frames = shown.sequence.item(0x0202, value::duration)?;
    let all = stored?.value;
    let fits = first_shown.checked_add(frames.value)? <= all && frames.value < all;
    let Placed { path, offset, .. } = skipped;
    fits.then_some(Trimmed {
        frames,
        stored: Placed { value: Stored { frames: all, first_shown }, path, offset },
    })
}

/// The stored raster is padded to whole blocks of the coding, such as 1088 lines; the sampled one is the picture that the
/// camera took, and the display raster what is meant to be seen of it.
fn raster(reading: &mut Reading, descriptor: &Set, recorded: &mut Recorded) {
    let layout = descriptor.item(0x320C, |value| value.first().copied());
    let halved = layout.is_some_and(|layout| HALVED.contains(&layout.value));
    let read = |width, height| {
        let width = descriptor.item(width, value::long)?;
        let height = descriptor.item(height, value::long)?.value;
        let height = if halved { height.checked_mul(2)? } else { height };
        let raster = Raster::new(width.value, height)?;
        Some(Placed { value: raster, path: width.path, offset: width.offset })
    };
    let Some(stored) = read(0x3203, 0x3202) else { return };
    let inside = |raster: &Placed<Raster>| {
        let (all, part) = (stored.value, raster.value);
        part.width() <= all.width() && part.height() <= all.height()
    };
    let sampled = read(0x3205, 0x3204).filter(inside);
    let shown = read(0x3209, 0x3208).filter(inside);
    let coded = sampled.as_ref().or(shown.as_ref()).unwrap_or(&stored);
    recorded.coded = Some(reading.source(coded, coded.value));
    let shown = shown.as_ref().unwrap_or(coded);
    recorded.pixel_aspect = descriptor.item(0x320E, value::ratio).and_then(|whole| {
        let aspect = pixel_aspect(whole.value, shown.value)?;
        Some(reading.source(&whole, aspect))
    });
    let stretched = match &recorded.pixel_aspect {
        Some(aspect) => stretch(shown.value, aspect.value),
        None => Some(shown.value),
    };
    recorded.display = stretched.map(|raster| reading.source(shown, raster));
}

/// The aspect ratio is that of the whole displayed picture (G.2.4). Many writers round it, such as 17:9 for 2048x1080:
/// what comes within a hundredth of square pixels is square.
fn pixel_aspect(whole: Ratio, shown: Raster) -> Option<Ratio> {
    let (num, den) = (u64::from(whole.num()), u64::from(whole.den()));
    let (wide, high) =
        (num.checked_mul(shown.height().into())?, den.checked_mul(shown.width().into())?);
    if wide.abs_diff(high) <= high / 100 { Ratio::new(1, 1) } else { Ratio::new(wide, high) }
}

fn stretch(shown: Raster, aspect: Ratio) -> Option<Raster> {
    let wide = u64::from(shown.width()).checked_mul(aspect.num().into())?;
    let den = u64::from(aspect.den());
    let width = wide.checked_add(den / 2)?.checked_div(den)?;
    Raster::new(u32::try_from(width).ok()?, shown.height())
}

/// The edit rate of the track that the picture is stored on, which is its frame rate as the descriptor also says it.
fn rate(reading: &mut Reading, clip: &Clip, recorded: &mut Recorded) {
    let edit = |track: Option<super::Track>| track?.set.item(0x4B01, value::ratio);
    let described = clip.descriptor.and_then(|set| set.item(0x3001, value::ratio));
    let stored = edit(clip.stored);
    if let (Some(stored), Some(described)) = (&stored, &described)
        && stored.value != described.value
    {
        let message = format!(
            "the file records two frame rates, {} and {}; none is used",
            stored.value, described.value
        );
        reading.report(Code::MediaContradiction, described.offset, &message, several::HINT);
        reading.tag("editRate", stored);
        reading.tag("sampleRate", described);
        return;
    }
    let rate = stored.or(described).or_else(|| edit(clip.shown));
    recorded.rate = rate.map(|rate| reading.source(&rate, rate.value));
}
