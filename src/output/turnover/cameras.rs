//! The camera of a shot, for scene and tracking software: the film back of the plate, frames numbered as the shot's.

use std::io;

use serde_json::{Map, json};

use crate::number::short;
use crate::turnover::Shot;

use super::super::lens_data::opentrackio::{self, View};
use super::super::lens_data::{Wanted, usd};
use super::{Handed, Piece, plate_json};

/// Why a shot has no camera: a scene program would fill in a number of its own.
pub fn lacks(handed: &Handed<'_>, shot: &Shot) -> Option<&'static str> {
    camera(handed, shot).err()
}

/// The layer with the camera of a shot. The error says what is not known.
pub fn usd(handed: &Handed<'_>, shot: &Shot) -> io::Result<Vec<u8>> {
    Ok(usd::write(&camera(handed, shot).map_err(io::Error::other)?))
}

fn camera(handed: &Handed<'_>, shot: &Shot) -> Result<usd::Camera, &'static str> {
    let annotation = handed.clip(shot).ok_or("its clip is not known")?;
    let rate = annotation.clip.media.rate.as_ref().ok_or("the frame rate is not known")?.value;
    let pieces = handed.pieces(shot);
    if pieces.is_empty() {
        return Err("its frames are not known");
    }
    if handed.turnover.plate.is_some() && !shot.plate_fits {
        return Err("the plate does not fit");
    }
    let made = pieces.iter().map(piece).collect::<Result<Vec<_>, _>>()?;
    let mut words = vec![
        ("shot".to_owned(), shot.name.clone()),
        ("event".to_owned(), shot.event.number.clone()),
        ("clip".to_owned(), annotation.clip.name.to_string()),
    ];
    words.extend(annotation.clip.roll.iter().map(|roll| ("roll".to_owned(), roll.clone())));
    if let Some(label) = shot.range.as_ref().and_then(|range| handed.label(shot, range.start)) {
        words.push(("startTimecode".to_owned(), label.to_string()));
    }
    if let Some(speed) = shot.speed_words() {
        // The frames are those of the recording: a retime is the edit's affair.
        words.push(("speedInTheCut".to_owned(), speed));
    }
    if let (Some(plate), Some(area)) =
        (&handed.turnover.plate, pieces.first().and_then(|piece| piece.area.as_ref()))
    {
        words.push(("plate".to_owned(), plate.id.clone()));
        words.push(("plateRaster".to_owned(), area.raster.to_string()));
    }
    let doc = format!("Camera of shot {}, by {}.", shot.name, handed.stamp.tool);
    Ok(usd::Camera { name: shot.name.clone(), rate, pieces: made, words, doc })
}

fn piece(piece: &Piece<'_>) -> Result<usd::Piece, &'static str> {
    let area = piece.area.as_ref().ok_or("the recorded area is not known")?;
    let setup = piece.row.setup;
    let mut made = usd::of_setup(setup).ok_or("the focal length is not known")?;
    let squeeze = setup.squeeze.as_ref().map_or(1.0, |squeeze| squeeze.value.get());
    let at = |frame: u64| i64::try_from(frame).ok();
    made.first = at(piece.number).ok_or("it has more frames than there are numbers")?;
    let frames = piece.row.frames.and_then(|frames| frames.checked_sub(1));
    made.last = frames.and_then(|frames| at(piece.number.checked_add(frames)?));
    made.back = (area.back.0 * squeeze, area.back.1);
    made.off = (area.off.0 * squeeze, area.off.1);
    made.numbers.push(("plateSqueeze".to_owned(), area.squeeze));
    made.numbers.push(("pixelsPerMmAcross".to_owned(), area.pixels_per_mm.0));
    made.numbers.push(("pixelsPerMmDown".to_owned(), area.pixels_per_mm.1));
    Ok(made)
}

/// The samples of a shot as JSON Lines.
pub fn opentrackio(handed: &Handed<'_>, shot: &Shot) -> io::Result<Vec<u8>> {
    let pieces = handed.pieces(shot);
    let rows: Vec<_> = pieces.iter().map(|piece| piece.row).collect();
    let long = shot.range.as_ref().map(|range| range.end - range.start);
    let wanted = Wanted { stamp: handed.stamp, per_frame: handed.per_frame, plates: &[] };
    let view = |row: &super::Row<'_>| {
        let piece = pieces.iter().find(|piece| piece.row.start == row.start)?;
        let area = piece.area.as_ref()?;
        let mut own = Map::new();
        own.insert("shot".into(), json!(shot.name));
        own.insert("firstNumber".into(), json!(piece.number));
        own.extend(plate_json(handed, piece).map(|plate| ("plate".to_owned(), plate)));
        Some(View { back: area.back, off: area.off, own })
    };
    opentrackio::of_rows(&rows, long, &wanted, &view)
}

/// The film back in words: `26.2 x 14.7375 mm`.
pub(super) fn back_words(back: (f64, f64)) -> String {
    format!("{} x {} mm", short(back.0, 4), short(back.1, 4))
}
