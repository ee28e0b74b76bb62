//! Lens data frame by frame: a whole track of acquisition metadata, kept as pieces over which nothing changes.

use crate::finding::{Code, Finding, Place};
use crate::header::quicktime::{Movie, Track};
use crate::header::timed;
use crate::read_at::ReadAt;
use crate::recorded::acquisition::{self, Acquisition, Whence};
use crate::recorded::{LensData, Reading, Recorded};
use crate::units::Unit;

/// Most pieces of one file. Beyond it a table of pieces tells a person nothing, and outputs would grow with the clip.
const MOST_PIECES: usize = 500;

/// Reads the first track of acquisition metadata from `essence` and adds its pieces to `recorded`.
pub(super) fn read(
    essence: &dyn ReadAt,
    movie: &Movie,
    file: &str,
    recorded: &mut Recorded,
    findings: &mut Vec<Finding>,
) {
    let of_sets = |track: &&Track| {
        track.metadata.as_ref().is_some_and(|entry| entry.value.format == *b"rtmd")
    };
    let Some(track) = movie.tracks.iter().find(of_sets) else { return };
    let offset = track.metadata.as_ref().map_or(0, |entry| entry.offset);
    let contradicted = findings.iter().any(|f| f.code == Code::MediaContradiction);
    let mut say = |message: String, hint: &str| {
        let finding = Finding::new(Code::MediaPerFrame, message);
        findings.push(finding.at(Place::byte(file, offset)).hint(hint));
    };
    if contradicted {
        let message = "the file contradicts itself about the lens, so its data of each frame is not taken either";
        say(message.to_owned(), "write the true values into the lens notes");
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
            "the lens data of each frame cannot be told to frames: the rate varies or is not known"
                .to_owned(),
            "write changes into the lens notes, with their timecode",
        );
        return;
    };
    let mut pieces: Vec<(u64, LensData)> = Vec::new();
    let mut crowded = None;
    let whole = timed::each_sample(essence, file, track, |time, sample| {
        let Some(frame) = clock.frame(time) else { return true };
        if clock.frames.is_some_and(|frames| frame >= frames) {
            return false;
        }
        let whence = Whence::at(file, &sample.path, sample.offset);
        let data = lens_data(acquisition::sample(&sample.value, &whence), recorded);
        let full = pieces.len() >= MOST_PIECES;
        match pieces.last_mut() {
            Some((_, last)) if same(last, &data) => {}
            // What stands before the first frame shown holds until another sample says otherwise.
            Some((at, last)) if *at == frame => *last = data,
            _ if full => {
                crowded = Some(frame);
                return false;
            }
            _ => pieces.push((frame, data)),
        }
        true
    });
    if let Some(frame) = crowded {
        // A value known to be stale is worse than none.
        pieces.push((frame, LensData { lens: recorded.lens.clone(), ..LensData::default() }));
        let message = format!(
            "the lens data changes more than {MOST_PIECES} times; from frame {frame} on (counted from 0) it is left out"
        );
        say(message, "take the moves of this clip from the file itself");
    } else if !whole {
        let message = "the lens data of each frame could not be read to its end; the last that was read goes on";
        say(message.to_owned(), "compare the copy with the card");
    }
    recorded.per_frame = pieces;
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

/// What one sample says; the name of the lens does not stand in it.
fn lens_data(met: Acquisition, recorded: &Recorded) -> LensData {
    LensData {
        lens: recorded.lens.clone(),
        focal_length: met.focal_length.into_iter().next(),
        f_number: met.f_number.into_iter().next(),
        t_number: met.t_number.into_iter().next(),
        focus_distance: met.focus_distance.into_iter().next(),
    }
}

/// True where two samples say the same numbers; their places in the file differ of course.
fn same(a: &LensData, b: &LensData) -> bool {
    fn number<U: Unit>(reading: Option<&Reading<U>>) -> Option<u64> {
        reading.map(|reading| reading.value.number().to_bits())
    }
    number(a.focal_length.as_ref()) == number(b.focal_length.as_ref())
        && number(a.f_number.as_ref()) == number(b.f_number.as_ref())
        && number(a.t_number.as_ref()) == number(b.t_number.as_ref())
        && number(a.focus_distance.as_ref()) == number(b.focus_distance.as_ref())
}
