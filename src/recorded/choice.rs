//! Which of several picture tracks is the clip, and why.

use std::cmp::Reverse;
use std::sync::Arc;

use crate::header::kind_text;
use crate::header::quicktime::Track;
use crate::recorded::Tag;
use crate::recorded::quicktime::Reading;
use crate::sourced::Origin;

/// References by which a track says that it serves another one: thumbnail, depth, alpha or the like
/// (ISO/IEC 14496-12, 8.3.3; QuickTime, "Track References").
const SERVES: [&[u8; 4]; 4] = [b"thmb", b"auxl", b"vdep", b"vplx"];

/// What speaks for a picture track, the weightiest first.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Rank {
    /// It is to be shown (`tkhd`, 8.3.2). Of alternatives to each other (one alternate group), a writer enables one.
    enabled: bool,
    /// It has more than one frame: one alone is a poster.
    moving: bool,
    /// Pixels: a proxy is smaller.
    area: u32,
    /// Seconds.
    length: u64,
    /// The first of equals.
    first: Reverse<usize>,
}

impl Rank {
    /// Why it is taken before `other`.
    fn over(&self, other: &Self) -> &'static str {
        if self.enabled != other.enabled {
            "it is enabled"
        } else if self.moving != other.moving {
            "it has more than one frame"
        } else if self.area != other.area {
            "it is larger"
        } else if self.length != other.length {
            "it is longer"
        } else {
            "it comes first"
        }
    }
}

/// The track that is the clip: shown, moving, large, long, in that order. Chapter pictures, thumbnails and tracks that
/// serve another never are. Where there are several, every one of them becomes a tag with what was decided and why.
pub(super) fn main_picture<'a>(reading: &Reading<'a>, tags: &mut Vec<Tag>) -> Option<&'a Track> {
    let tracks = &reading.movie.tracks;
    let chapters: Vec<u32> = tracks
        .iter()
        .flat_map(|track| &track.references)
        .filter(|(kind, _)| kind == b"chap")
        .map(|(_, id)| *id)
        .collect();
    let serves = |track: &Track| {
        let chapter = track.id().is_some_and(|id| chapters.contains(&id));
        let served = track.references.iter().any(|(kind, _)| SERVES.contains(&kind));
        match (chapter, served) {
            (true, _) => Some("it holds chapter pictures"),
            (_, true) => Some("it serves another track"),
            _ => None,
        }
    };
    let pictures = || tracks.iter().enumerate().filter(|(_, track)| track.is(*b"vide"));
    let ranked = pictures().filter(|(_, track)| serves(track).is_none());
    let mut ranked: Vec<_> =
        ranked.map(|(place, track)| (rank(place, track), place, track)).collect();
    ranked.sort_by(|a, b| b.0.cmp(&a.0));
    let main = ranked.first();
    if pictures().nth(1).is_some() {
        for (place, track) in pictures() {
            let taken = main.is_some_and(|(_, main, _)| *main == place);
            let why = match (serves(track), main, ranked.get(1)) {
                (Some(why), _, _) => why.to_owned(),
                (None, _, Some((second, ..))) if taken => {
                    main.map_or("", |(first, ..)| first.over(second)).to_owned()
                }
                (None, _, _) if taken => "it is the only one of its kind".to_owned(),
                (None, Some((first, other, _)), _) => {
                    let why = first.over(&rank(place, track));
                    format!("track {} is the picture, because {why}", other + 1)
                }
                (None, None, _) => String::new(),
            };
            tags.push(tag(reading, place, track, taken, &why));
        }
    }
    main.map(|(_, _, track)| *track)
}

fn rank(place: usize, track: &Track) -> Rank {
    let picture = track.picture.as_ref().map(|picture| &picture.value);
    let seconds = track.media.as_ref().map_or(0, |media| {
        media.value.duration.checked_div(media.value.timescale.into()).unwrap_or_default()
    });
    Rank {
        enabled: track.enabled(),
        moving: track.timing.as_ref().is_none_or(|timing| timing.value.frames() != 1),
        area: picture.map_or(0, |p| u32::from(p.width) * u32::from(p.height)),
        length: seconds,
        first: Reverse(place),
    }
}

fn tag(reading: &Reading, place: usize, track: &Track, taken: bool, why: &str) -> Tag {
    let number = place + 1;
    let mut said = vec![if taken { "taken".to_owned() } else { "not taken".to_owned() }];
    said.push(why.to_owned());
    if let Some(picture) = &track.picture {
        let codec = kind_text(picture.value.format);
        said.push(format!("{}x{} {codec}", picture.value.width, picture.value.height));
    }
    if let Some(timing) = &track.timing {
        said.push(format!("{} frames", timing.value.frames()));
    }
    if !track.enabled() {
        said.push("disabled".to_owned());
    }
    let header = track.header.as_ref();
    let group = header.map_or(0, |header| header.value.alternate);
    if group != 0 {
        said.push(format!("alternate group {group}"));
    }
    let origin = Origin::Media {
        file: Arc::clone(&reading.file),
        path: header.map_or_else(|| "moov".into(), |header| Arc::clone(&header.path)),
        offset: header.map_or(0, |header| header.offset),
    };
    Tag { key: format!("picture track {number}"), value: said.join(", "), origin }
}
