//! Lens data frame by frame: a whole track of acquisition metadata or of keyed values, kept as pieces over which
//! nothing changes.

mod pieces;

use crate::finding::{Code, Finding, Place};
use crate::header::Placed;
use crate::header::mxf::{self as container, Mxf};
use crate::header::quicktime::{Movie, Track};
use crate::header::timed;
use crate::read_at::ReadAt;
use crate::recorded::acquisition::{self, Acquisition, Whence};
use crate::recorded::per_frame::pieces::Pieces;
use crate::recorded::{LensData, Recorded, keys, mxf};

/// Said where the file contradicts itself, so that no frame of it can be believed.
const CONTRADICTED: &str =
    "the file contradicts itself about the lens, so its data of each frame is not taken either";

/// Reads the track of `movie` that tells the lens from `essence` and adds its pieces to `recorded`.
pub(super) fn read(
    essence: &dyn ReadAt,
    movie: &Movie,
    file: &str,
    recorded: &mut Recorded,
    findings: &mut Vec<Finding>,
) {
    let tells = |format: [u8; 4]| {
        movie.tracks.iter().find(|track| {
            let entry = track.metadata.as_ref().filter(|entry| entry.value.format == format);
            let keyed = |(name, _): &(String, u32)| keys::is_of_lens(name);
            entry.is_some_and(|entry| format == *b"rtmd" || entry.value.keys.values().any(keyed))
        })
    };
    let Some(track) = tells(*b"rtmd").or_else(|| tells(*b"mebx")) else { return };
    let offset = track.metadata.as_ref().map_or(0, |entry| entry.offset);
    let contradicted = findings.iter().any(|f| f.code == Code::MediaContradiction);
    let mut say = |message: &str, hint: &str| {
        let finding = Finding::new(Code::MediaPerFrame, message);
        findings.push(finding.at(Place::byte(file, offset)).hint(hint));
    };
    if contradicted {
        say(CONTRADICTED, "write the true values into the lens notes");
        return;
    }
    let varies =
        recorded.duration.as_ref().zip(recorded.frames.as_ref()).zip(recorded.rate.as_ref());
    let even = varies.is_none_or(|((duration, frames), rate)| {
        let (duration, rate) = (duration.value, rate.value);
        u128::from(frames.value) * u128::from(rate.den()) * u128::from(duration.timescale)
            == u128::from(duration.units) * u128::from(rate.num())
    });
    let Some(clock) = Clock::of(track, recorded).filter(|_| even) else {
        say(
            "the lens data of each frame cannot be told to frames: the rate varies or is not known",
            "write changes into the lens notes, with their timecode",
        );
        return;
    };
    let mut pieces = Pieces::default();
    let whole = timed::each_sample(essence, file, (movie, track), |time, sample| {
        let Some(frame) = clock.frame(time) else { return true };
        if clock.frames.is_some_and(|frames| frame >= frames) {
            return false;
        }
        pieces.add(frame, of_sample(track, sample, file, recorded))
    });
    pieces.finish(whole, (file, offset), recorded, findings);
}

/// Reads what stands beside every frame of an MXF file and adds its pieces to `recorded`.
pub(super) fn read_mxf(
    essence: &dyn ReadAt,
    mxf: &Mxf,
    file: &str,
    recorded: &mut Recorded,
    findings: &mut Vec<Finding>,
) {
    let place = (file, mxf.essence());
    if findings.iter().any(|f| f.code == Code::MediaContradiction) {
        // Of a contradiction in other things than the lens a track without lens data has nothing to add.
        if !mxf::data::read(&mxf.beside, file).is_empty() {
            let finding = Finding::new(Code::MediaPerFrame, CONTRADICTED);
            let hint = "write the true values into the lens notes";
            findings.push(finding.at(Place::byte(file, place.1)).hint(hint));
        }
        return;
    }
    let first = recorded.stored.as_ref().map_or(0, |stored| stored.value.first_shown);
    let frames = recorded.frames.as_ref().map(|frames| frames.value);
    let mut pieces = Pieces::default();
    let mut last = None;
    let whole = container::each_frame(essence, file, mxf, |frame, beside| {
        let shown = frame.saturating_sub(first);
        if frames.is_some_and(|frames| shown >= frames) {
            return false;
        }
        last = Some(shown);
        pieces.add(shown, of_sets(mxf::data::read(beside, file), recorded))
    });
    // What stands behind the last picture does not matter.
    let whole = whole || last.and_then(|last| last.checked_add(1)) == frames && frames.is_some();
    pieces.finish(whole, place, recorded, findings);
}

/// How media times of the track become frames shown.
struct Clock {
    num: u128,
    den: u128,
    first: u64,
    frames: Option<u64>,
}

impl Clock {
    fn of(track: &Track, recorded: &Recorded) -> Option<Self> {
        let scale = track.media.as_ref()?.value.timescale;
        let rate = recorded.rate.as_ref()?.value;
        let den = u128::from(scale) * u128::from(rate.den());
        (den > 0).then(|| Self {
            num: rate.num().into(),
            den,
            first: recorded.stored.as_ref().map_or(0, |stored| stored.value.first_shown),
            frames: recorded.frames.as_ref().map(|frames| frames.value),
        })
    }

    /// The nearest frame shown; what comes before the first belongs to it.
    fn frame(&self, time: u64) -> Option<u64> {
        let frame = (u128::from(time) * self.num + self.den / 2) / self.den;
        Some(u64::try_from(frame).ok()?.saturating_sub(self.first))
    }
}

/// What one sample of a movie says.
fn of_sample(track: &Track, sample: &Placed<Vec<u8>>, file: &str, recorded: &Recorded) -> LensData {
    let keyed = track.metadata.as_ref().filter(|entry| entry.value.format == *b"mebx");
    let Some(entry) = keyed else {
        let whence = Whence::at(file, &sample.path, sample.offset);
        return of_sets(acquisition::sample(&sample.value, &whence), recorded);
    };
    let values = timed::values(&entry.value, sample);
    let said = keys::read(&values.iter().collect::<Vec<_>>(), file);
    let lens = said.iter().find_map(|said| said.lens.clone());
    LensData {
        lens: lens.or_else(|| recorded.lens.clone()),
        f_number: said.iter().find_map(|said| said.f_number.clone()),
        ..LensData::default()
    }
}

/// What sets of acquisition metadata say; the name of the lens does not stand in them.
fn of_sets(met: Acquisition, recorded: &Recorded) -> LensData {
    LensData {
        lens: recorded.lens.clone(),
        focal_length: met.focal_length.into_iter().next(),
        f_number: met.f_number.into_iter().next(),
        t_number: met.t_number.into_iter().next(),
        focus_distance: met.focus_distance.into_iter().next(),
        extender: met.extender.into_iter().next(),
    }
}
