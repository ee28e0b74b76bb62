//! `turnover.csv`: one row a piece of a shot, at least one a shot.

use anyhow::Result;

use crate::number::short;
use crate::turnover::{Area, Shot};

use super::super::table::{Column, columns, harmless, headings, texts};
use super::super::values::Cells;
use super::{Handed, Piece};

/// What the shot and the cut say, before the fields of the piece.
const OF_SHOT: [&str; 17] = [
    "shot",
    "event",
    "track",
    "edit-name",
    "edit-reel",
    "source-in",
    "source-out",
    "record-in",
    "record-out",
    "speed",
    "transition",
    "transition-frames",
    "handle-before",
    "handle-after",
    "first-number",
    "last-number",
    "findings",
];

/// Fields of the piece, as in the lens table.
const FIELDS: &str = "clip,file,part,roll,camera,mode,start-timecode,end-timecode,frames,frame-rate,coded-raster,\
lens,lens-serial,attachment,magnification,lens-focal-length,lens-marks,\
focal-length,focal-length.uncertainty,focal-length.basis,focal-length.verdict,\
pinhole-focal-length,pinhole-focal-length.uncertainty,pinhole-focal-length.basis,\
pupil-offset,pupil-offset.uncertainty,pupil-offset.basis,f-number,f-number.uncertainty,f-number.basis,f-number.verdict,\
t-number,t-number.uncertainty,t-number.basis,t-number.verdict,\
focus-distance,focus-distance.uncertainty,focus-distance.basis,focus-distance.verdict,squeeze,squeeze.basis,\
distortion,film-back-width,film-back-width.uncertainty,film-back-width.basis,film-back-height,film-back-height.uncertainty,\
angle-horizontal,angle-vertical,image-circle,coverage,coverage.uncertainty,dark-corner-pixels,dark-sides-pixels,\
dark-top-bottom-pixels,shutter-angle,exposure-time,iso,exposure-index,white-balance,lens-height,tilt,slate,take,circled,filter,remarks";

/// What the plate shows, behind the fields of the piece.
const OF_PLATE: [&str; 13] = [
    "plate",
    "plate-raster",
    "plate-film-back-width",
    "plate-film-back-width.uncertainty",
    "plate-film-back-height",
    "plate-film-back-height.uncertainty",
    "plate-off-right",
    "plate-off-up",
    "plate-squeeze",
    "pixels-per-mm-across",
    "pixels-per-mm-down",
    "pinhole-focal-length-pixels",
    "comments",
];

/// The table as CSV (RFC 4180), UTF-8.
pub fn write(handed: &Handed<'_>) -> Result<Vec<u8>> {
    let fields = columns(FIELDS)?;
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let head = OF_SHOT.into_iter().chain(headings(&fields)).chain(OF_PLATE);
    writer.write_record(head)?;
    for shot in &handed.turnover.shots {
        let pieces = handed.pieces(shot);
        if pieces.is_empty() {
            writer.write_record(line(handed, shot, None, &fields))?;
        }
        for piece in &pieces {
            writer.write_record(line(handed, shot, Some(piece), &fields))?;
        }
    }
    Ok(writer.into_inner()?)
}

fn line(
    handed: &Handed<'_>,
    shot: &Shot,
    piece: Option<&Piece<'_>>,
    fields: &[Column],
) -> Vec<String> {
    let event = &shot.event;
    let (source, record) = (handed.source(shot), shot.record(handed.turnover.timing));
    let count = |count: Option<u64>| count.map(|count| count.to_string());
    let handles = shot.handles();
    let last = piece.and_then(|piece| (piece.number + piece.row.frames?).checked_sub(1));
    let mut codes: Vec<&str> = Vec::new();
    for code in shot.findings.iter().map(|finding| finding.code.word()) {
        if !codes.contains(&code) {
            codes.push(code);
        }
    }
    let transition = event.transition.as_ref();
    let of_shot: [Option<String>; 17] = [
        Some(shot.name.clone()),
        Some(event.number.clone()),
        Some(event.track.clone()),
        event.name.clone().or_else(|| event.file.clone()),
        event.reel.clone(),
        source.0,
        source.1,
        record.0,
        record.1,
        shot.speed_words(),
        transition.map(|transition| transition.kind.clone()),
        count(transition.map(|transition| transition.frames)),
        count(handles.map(|handles| handles.0)),
        count(handles.map(|handles| handles.1)),
        count(piece.map(|piece| piece.number)),
        count(last),
        Some(codes.join(" ")),
    ];
    let mut cells: Vec<String> = of_shot.into_iter().map(Option::unwrap_or_default).collect();
    let none = Cells::new();
    let known = piece.map_or(&none, |piece| &piece.cells);
    let mut of_fields: Vec<String> = texts(known, fields).collect();
    // The clip is known even where its frames are not.
    if let (None, Some(clip), Some(first)) = (piece, handed.clip(shot), of_fields.first_mut()) {
        *first = clip.clip.name.to_string();
    }
    cells.extend(of_fields);
    cells.extend(of_plate(handed, piece));
    cells.push(event.comments.join(" / "));
    cells.iter().map(|cell| harmless(cell)).collect()
}

fn of_plate(handed: &Handed<'_>, piece: Option<&Piece<'_>>) -> Vec<String> {
    let plate = handed.turnover.plate.as_ref();
    let Some((piece, area)) = piece.and_then(|piece| Some((piece, piece.area.as_ref()?))) else {
        return vec![String::new(); OF_PLATE.len() - 1];
    };
    let Area { back, uncertainty, off, raster, squeeze, pixels_per_mm } = area;
    let fixed = |number: Option<f64>| number.map(|number| short(number, 5)).unwrap_or_default();
    // Of a recording handed over whole, what stands in its own columns is not said again.
    let of_plate = |text: String| if plate.is_some() { text } else { String::new() };
    let pinhole = piece.row.setup.derived.pinhole.as_ref();
    vec![
        plate.map(|plate| plate.id.clone()).unwrap_or_default(),
        of_plate(raster.to_string()),
        of_plate(short(back.0, 4)),
        of_plate(fixed(uncertainty.0)),
        of_plate(short(back.1, 4)),
        of_plate(fixed(uncertainty.1)),
        of_plate(short(off.0, 4)),
        of_plate(short(off.1, 4)),
        of_plate(short(*squeeze, 4)),
        short(pixels_per_mm.0, 4),
        short(pixels_per_mm.1, 4),
        pinhole.map(|f| short(f.value.get() * pixels_per_mm.0, 2)).unwrap_or_default(),
    ]
}
