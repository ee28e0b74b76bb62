//! The cells of one line of the form.

use crate::annotation::{Annotation, Attached, ClipFacts, Setup, Verdict};
use crate::recorded::Container;
use crate::sourced::{Origin, Quantity};
use crate::units::Unit;

use super::super::calm::calm;
use super::piece::{Piece, count};
use super::words::Word;
use super::{Cell, Column, Options, said};

/// Words that belong to the section a line stands in.
pub(super) struct Section<'a> {
    pub(super) production: &'a str,
    pub(super) day: &'a str,
    pub(super) roll: &'a str,
}

/// What stands in each column for a piece of a clip, in the order of [`Column::ALL`]. Remarks and what needs a person are
/// the clip's, and are left to the caller.
pub(super) fn cells(
    annotation: &Annotation,
    piece: &Piece<'_>,
    section: &Section<'_>,
    options: &Options,
) -> Vec<Cell> {
    Column::ALL.iter().map(|column| cell(*column, annotation, piece, section, options)).collect()
}

fn cell(
    column: Column,
    annotation: &Annotation,
    piece: &Piece<'_>,
    section: &Section<'_>,
    options: &Options,
) -> Cell {
    let (clip, setup) = (&annotation.clip, piece.setup);
    let text = |text: String| Cell { text, ..Cell::default() };
    let noted = |noted: Option<&str>| text(noted.map(one_line).unwrap_or_default());
    let number = |number: Option<f64>, decimals| ordered(number, |n| options.number(n, decimals));
    match column {
        Column::Production => text(section.production.to_owned()),
        Column::Day => text(section.day.to_owned()),
        Column::Roll => text(section.roll.to_owned()),
        Column::Camera => noted(setup.camera.as_ref().map(|camera| camera.value.as_str())),
        Column::CameraModel => text(camera_model(clip)),
        Column::CameraSerial => noted(clip.media.serial.as_ref().map(|s| s.value.as_str())),
        Column::Media => text(media(clip)),
        Column::Mode => noted(setup.mode.as_ref().map(|mode| mode.value.as_str())),
        Column::Raster => {
            let raster = clip.media.coded.as_ref().or(clip.media.display.as_ref());
            text(raster.map(|raster| raster.value.to_string()).unwrap_or_default())
        }
        Column::Rate => number(clip.media.rate.as_ref().map(|rate| rate.value.to_f64()), 3),
        Column::Area => text(area(setup, options)),
        Column::Clip => noted(Some(&clip.name)),
        Column::Files => {
            let files = clip.files.iter().map(|file| file.row.as_ref().map_or(1, |row| row.files));
            let files = files.fold(0, u64::saturating_add);
            ordered((files > 1).then(|| count(files)), |n| options.number(n, 0))
        }
        Column::Slate => noted(setup.slate.as_ref().map(|slate| slate.value.as_str())),
        Column::Take => noted(setup.take.as_ref().map(|take| take.value.as_str())),
        Column::Circled => {
            text(if is_circled(setup) { options.say(Word::Yes) } else { String::new() })
        }
        Column::Start => text(piece.start.map(|start| start.to_string()).unwrap_or_default()),
        Column::End => text(piece.end.map(|end| end.to_string()).unwrap_or_default()),
        Column::Duration => ordered(piece.seconds, |seconds| options.time(seconds)),
        Column::Frames => ordered(piece.frames.map(count), |frames| options.number(frames, 0)),
        Column::Lens => text(lens(setup, options)),
        Column::Serial => noted(setup.lens_serial.as_ref().map(|serial| serial.value.as_str())),
        Column::Attachment => text(attachment(setup, options)),
        Column::Magnification => {
            let on =
                matches!(setup.attachment.as_ref().map(|on| &on.value), Some(Attached::On { .. }));
            number(setup.magnification.as_ref().filter(|_| on).map(|m| m.value.get()), 3)
        }
        Column::MarkedFocal => number(setup.lens_focal.as_ref().map(|mm| mm.value.get()), 1),
        Column::Effective => number(setup.focal_length.value.as_ref().map(|mm| mm.value.get()), 1),
        Column::Doubt => {
            let doubt = setup.focal_length.value.as_ref().and_then(|mm| mm.uncertainty);
            number(doubt.filter(|by| *by > 0.0 && by.is_finite()), 2)
        }
        Column::StopSet => stop_set(setup, options),
        Column::EffectiveT => {
            ordered(value(setup.t_number.value.as_ref()), |t| options.stop("T", t))
        }
        Column::EffectiveF => {
            ordered(value(setup.f_number.value.as_ref()), |f| options.stop("f/", f))
        }
        Column::Focus => number(value(setup.focus_distance.value.as_ref()), 2),
        Column::Filter => noted(setup.filter.as_ref().map(|filter| filter.value.as_str())),
        Column::Density => number(value(setup.density.as_ref()), 2),
        Column::Verdict => text(verdicts(setup, options)),
        Column::RecordedFocal => number(value(setup.focal_length.recorded.as_ref()), 2),
        Column::Unit
        | Column::ShootingDay
        | Column::Operator
        | Column::Assistants
        | Column::Shutter
        | Column::Iso
        | Column::WhiteBalance
        | Column::Height
        | Column::Tilt => said::cell(column, setup, options),
        Column::Remarks | Column::Matters => Cell::default(),
    }
}

/// True for a circled take.
pub(super) fn is_circled(setup: &Setup) -> bool {
    setup.circled.as_ref().is_some_and(|circled| circled.value)
}

/// Text of notes on one line, calm; a line break is ` / `.
pub(super) fn one_line(text: &str) -> String {
    let lines = text.split(['\n', '\r']).map(str::trim).filter(|line| !line.is_empty());
    let lines: Vec<String> = lines.map(|line| calm(&line.replace('\t', " "))).collect();
    lines.join(" / ")
}

fn ordered(number: Option<f64>, print: impl Fn(f64) -> String) -> Cell {
    let text = number.map(print).unwrap_or_default();
    Cell { text, order: number, ..Cell::default() }
}

fn value<U: Unit>(quantity: Option<&Quantity<U>>) -> Option<f64> {
    quantity.map(|quantity| quantity.value.number())
}

/// The camera as it calls itself.
fn camera_model(clip: &ClipFacts) -> String {
    let media = [&clip.media.maker, &clip.media.model].into_iter().flatten();
    media.map(|word| one_line(&word.value)).collect::<Vec<_>>().join(" ")
}

/// Kind of files, and the folder of the dump that they lie in.
fn media(clip: &ClipFacts) -> String {
    let file = clip.files.first();
    let shown = file.map(|file| file.shown.as_ref()).unwrap_or_default();
    let name = shown.rsplit('/').next().unwrap_or_default();
    let kind = match clip.media.container {
        Container::QuickTime => "QuickTime".to_owned(),
        Container::Mp4 => "MP4".to_owned(),
        Container::Mxf => "MXF".to_owned(),
        Container::Tiff => "TIFF".to_owned(),
        Container::Dng => "DNG".to_owned(),
        Container::Jpeg => "JPEG".to_owned(),
        Container::Heif => "HEIF".to_owned(),
        Container::OpenExr => "OpenEXR".to_owned(),
        Container::Opaque => name.rsplit_once('.').map_or(name, |(_, ending)| ending).to_owned(),
    };
    let folder = shown.split_once('/').map(|(folder, _)| one_line(folder));
    match folder {
        Some(folder) => format!("{}, {folder}", calm(&kind)),
        None => calm(&kind),
    }
}

fn area(setup: &Setup, options: &Options) -> String {
    let (width, height) = (&setup.derived.back_width, &setup.derived.back_height);
    let print = |mm: f64| options.number(mm, 2);
    width.as_ref().zip(height.as_ref()).map_or_else(String::new, |(width, height)| {
        format!("{} x {}", print(width.value.get()), print(height.value.get()))
    })
}

/// The lens, or that it is not known: a blank would look as if nobody cared.
pub(super) fn lens(setup: &Setup, options: &Options) -> String {
    let lens = setup.lens.value.as_ref();
    lens.map_or_else(|| options.say(Word::NotKnown), |lens| one_line(&lens.value))
}

/// What stood between lens and camera, nothing and not knowing told apart.
pub(super) fn attachment(setup: &Setup, options: &Options) -> String {
    match setup.attachment.as_ref().map(|attached| &attached.value) {
        None => options.say(Word::NotKnown),
        Some(Attached::Bare) => options.say(Word::None),
        Some(Attached::On { name, .. }) => one_line(name),
    }
}

/// The stop on the ring: in T where it was noted in T, else in f.
pub(super) fn stop_set(setup: &Setup, options: &Options) -> Cell {
    fn noted<U: Unit>(ring: Option<&Quantity<U>>) -> bool {
        ring.is_some_and(|ring| !matches!(ring.origin, Origin::Computed(_)))
    }
    let (t, f) = (setup.lens_t.as_ref(), setup.lens_f.as_ref());
    let in_t = noted(t) && !noted(f) || f.is_none();
    let (letter, ring) = if in_t { ("T", value(t)) } else { ("f/", value(f)) };
    ordered(ring, |stop| options.stop(letter, stop))
}

/// What became of the focal length, and of stop, lens and focus where that is another thing and needs a word.
fn verdicts(setup: &Setup, options: &Options) -> String {
    let focal = setup.focal_length.verdict;
    let stop = setup.f_number.verdict.or(setup.t_number.verdict);
    let usual = |verdict: &Verdict| matches!(verdict, Verdict::Filled | Verdict::Kept);
    let unusual = |verdict: Option<Verdict>| verdict.filter(|v| !usual(v));
    let others = [
        (Word::OfStop, stop),
        (Word::OfLens, unusual(setup.lens.verdict)),
        (Word::OfFocus, unusual(setup.focus_distance.verdict)),
    ];
    let others = others.into_iter().filter(|(_, verdict)| *verdict != focal);
    let others = others.filter_map(|(what, verdict)| {
        Some(format!("{} {}", options.say(what), options.say(word(verdict?))))
    });
    let focal = focal.map(|verdict| options.say(word(verdict)));
    focal.into_iter().chain(others).collect::<Vec<_>>().join(", ")
}

/// True if one of the fields that a line shows was left out for a contradiction.
pub(super) fn is_unresolved(setup: &Setup) -> bool {
    let Setup { focal_length, f_number, t_number, lens, focus_distance, .. } = setup;
    let verdicts = [
        focal_length.verdict,
        f_number.verdict,
        t_number.verdict,
        lens.verdict,
        focus_distance.verdict,
    ];
    verdicts.contains(&Some(Verdict::Unresolved))
}

fn word(verdict: Verdict) -> Word {
    match verdict {
        Verdict::Filled => Word::Filled,
        Verdict::Scaled => Word::Scaled,
        Verdict::Kept => Word::Kept,
        Verdict::Replaced => Word::Replaced,
        Verdict::Unresolved => Word::Unresolved,
    }
}
