//! Timed metadata: what the first sample of each track says of the lens. Samples of acquisition metadata (SMPTE RDD 18;
//! in MP4 a track of `rtmd` samples), and of values by key (`mebx`) where the key has a meaning here.

use crate::header::quicktime::Track;
use crate::recorded::acquisition::{self, Whence};
use crate::recorded::quicktime::Reading;
use crate::recorded::{CameraSettings, Recorded, Tag, keys};

/// Samples that hold sets of acquisition metadata.
const SETS: [u8; 4] = *b"rtmd";

/// Adds what the first sample of such a track says: its tags, and its readings as those of one more carrier.
pub(super) fn read(
    reading: &mut Reading,
    main: Option<&Track>,
    said: &mut Vec<Recorded>,
    tags: &mut Vec<Tag>,
) {
    let main = main.and_then(Track::id);
    for track in &reading.movie.tracks {
        let (Some(entry), Some(sample)) = (&track.metadata, &track.metadata_sample) else {
            continue;
        };
        // A track that says it describes another one than the picture is not about the picture (`cdsc`, 14496-12, 8.3.3).
        let mut described = track.references.iter().filter(|(kind, _)| kind == b"cdsc").peekable();
        let of_other = described.peek().is_some() && described.all(|(_, id)| Some(*id) != main);
        if of_other {
            continue;
        }
        if entry.value.format != SETS {
            let values: Vec<_> = track.metadata_values.iter().collect();
            said.append(&mut keys::read(&values, &reading.file));
            continue;
        }
        let whence = Whence::at(&reading.file, &sample.path, sample.offset);
        let mut met = acquisition::sample(&sample.value, &whence);
        tags.append(&mut met.tags);
        said.push(Recorded {
            focal_length: met.focal_length.first().cloned(),
            f_number: met.f_number.first().cloned(),
            t_number: met.t_number.first().cloned(),
            focus_distance: met.focus_distance.first().cloned(),
            extender: met.extender.first().cloned(),
            settings: first_said(met.settings).boxed(),
            ..Recorded::default()
        });
    }
}

/// Of each setting what was said first.
fn first_said(all: Vec<CameraSettings>) -> CameraSettings {
    all.into_iter().fold(CameraSettings::default(), |mut first, more| {
        first.fill(more);
        first
    })
}
