//! `stamp`: copies of OpenEXR plates with the lens data of their frames in the header.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::annotation::{Annotation, Shoot};
use crate::cli::Stamp as Request;
use crate::cut;
use crate::dump::walk::{self, MediaFile, read_input, shown};
use crate::finding::{Code, Finding, Found, Level, Place};
use crate::folder::{self, LARGEST_INPUT, STAMPED, STAMPED_JOURNAL, Sources};
use crate::inputs;
use crate::kit::Plate;
use crate::naming::Naming;
use crate::output::lens_data::exr;
use crate::output::stamp::{Plan, copy, plan};
use crate::output::stamped::{self, Stamped};
use crate::output::{Stamp, findings};
use crate::outputs::package::{self, Files, Folder, Kind, Stream};
use crate::turnover::{self, Shot, area, clips_called, turn_over};
use crate::watch::Watch;

use super::shoot::{Given, given};
use super::turnover::{plate, rate};
use super::{Look, Outcome, annotate, code, refuse};

const KIND: Kind = Kind { record: STAMPED, format: stamped::FORMAT, journal: STAMPED_JOURNAL };
/// Number of the first frame of shots, if nothing else is said.
const FIRST: u64 = 1001;

pub(super) fn stamp(
    request: &Request,
    stamp: &Stamp,
    look: Look,
    watch: &dyn Watch,
) -> Result<Outcome> {
    let (reading, telling) = (&request.reading, &request.telling);
    let sources = folder::find(&request.folder, &given(reading, &request.into))?;
    apart(&request.plates, &request.into, &sources.dump)?;
    let read = Given::read(&sources, inputs::read_kit_of(&sources)?, reading.sheet.as_deref())?;
    if let Some(all) = read.broken() {
        return refuse(&all, super::NOTHING_WRITTEN, telling.json, stamp, look);
    }
    let kit_plate = plate(request.plate.as_deref(), &read.kit.value)?;
    let (mut shoot, dump) = read.clips(&sources, reading.per_frame, &reading.into(), watch)?;
    let naming = inputs::naming(&read.kit.value)?;
    let mut found = Vec::new();
    let Found { value: files, findings: unread } = walk::plates(&request.plates);
    found.extend(unread);
    let cut = shots(request, &sources, &mut shoot, (kit_plate, &naming))?;
    let of_cut = cut.as_ref().map(|cut| cut.findings.clone()).unwrap_or_default();
    if of_cut.iter().any(|finding| finding.level() == Level::Fault) {
        return refuse(&of_cut, super::turnover::NO_CUT, telling.json, stamp, look);
    }
    found.extend(of_cut);
    let shots = cut.map(|cut| cut.value);
    let names: Vec<Named> = files.into_iter().map(Named::of).collect();
    let called: Vec<Vec<&str>> = names.iter().map(Named::called).collect();
    let clips = if shots.is_none() { clips_called(&shoot, &naming, &called) } else { Vec::new() };
    let mut made: Vec<Stamped> = Vec::new();
    let mut streams = Vec::new();
    for (at, name) in names.iter().enumerate() {
        let whose = match &shots {
            Some(shots) => of_shot(name, &called, at, shots, request),
            None => of_clip(name, clips.get(at).copied().flatten(), &shoot, request),
        };
        let trouble = |code, words: String, hint: &str| {
            Finding::new(code, words).at(Place::file(shown(&name.path))).hint(hint)
        };
        let (clip, frame, shot) = match whose {
            Ok(whose) => whose,
            Err(why) => {
                let hint = "plates are called after shots (with --cut) or clips, with a number at the end; --first-frame says where it begins";
                found.push(trouble(Code::StampNoClip, why, hint));
                continue;
            }
        };
        let Some(annotation) = shoot.clips.get(clip) else { continue };
        let path = request.plates.join(&name.path);
        let planned = match planned(&path, annotation, frame, kit_plate) {
            Ok(planned) => planned,
            Err(why) => {
                let hint = "write the plate again; what is not understood is not copied";
                let words = format!("no copy was made: {why}");
                found.push(trouble(Code::StampRefused, words, hint));
                continue;
            }
        };
        if !planned.replaced.is_empty() {
            let words = format!("had other values of {}", planned.replaced.join(", "));
            let hint = "the copy has those of lensmend; the plate itself is as it was";
            found.push(trouble(Code::StampReplaced, words, hint));
        }
        made.push(Stamped {
            file: shown(&name.path),
            clip: annotation.clip.name.to_string(),
            frame,
            shot,
        });
        streams.push(Stream {
            role: "plate",
            file: shown(&name.path),
            fill: Box::new(move |out| copy(&planned, &MediaFile::open(&path)?, out)),
        });
    }
    if names.is_empty() {
        let words = "no OpenEXR file was found";
        let place = Place::file(shown(&request.plates));
        found.push(Finding::new(Code::StampNoClip, words).at(place).hint("check --plates"));
    }
    let make = |outputs: &[_], of_files: &[Finding], stamp: &Stamp| {
        let all = [found.as_slice(), of_files].concat();
        stamped::write(&made, &shoot.inputs, outputs, &all, stamp)
    };
    let folder = Folder { into: &sources.into, dry_run: telling.dry_run, stamp, watch };
    let files = Files { whole: &[], streams: &streams };
    let done = package::write(KIND, folder, files, &make)?;
    let all = [found.as_slice(), &done.findings].concat();
    let result = if telling.json {
        done.record
    } else {
        let text = findings::text(&all, look.colour, look.width);
        (text + &stamped::summary(&made, names.len())).into_bytes()
    };
    let mut talk = annotate::used(&sources, Some(&read.notes.value), &dump);
    talk.push(done.talk);
    Ok(Outcome { result, talk, code: code(&all) })
}

/// How the copy of a plate with the lens data of its frame is made.
fn planned(
    path: &Path,
    annotation: &Annotation,
    frame: u64,
    plate: Option<&Plate>,
) -> Result<Plan, String> {
    let raster = annotation.clip.media.coded.as_ref().map(|coded| coded.value);
    let seen = plate.map(|plate| {
        raster.and_then(|raster| area(Some(plate), raster, annotation.setups.at(frame)))
    });
    let attributes = exr::of_frame(annotation, frame, seen.as_ref().map(Option::as_ref));
    let source = MediaFile::open(path).map_err(|error| error.to_string())?;
    plan(&source, &attributes)
}

/// The shots of the cut that plates are called after; `None` without one.
fn shots(
    request: &Request,
    sources: &Sources,
    shoot: &mut Shoot,
    (plate, naming): (Option<&Plate>, &Naming),
) -> Result<Option<Found<Vec<Shot>>>> {
    let Some(path) = &request.cut else { return Ok(None) };
    let bytes = read_input(path, LARGEST_INPUT)
        .with_context(|| format!("cannot read the cut {}", path.display()))?;
    let name = sources.name(path);
    let Found { value, findings } = cut::parse(&name, &bytes);
    shoot.inputs.push(inputs::input("cut", &name, &bytes));
    let asked = turnover::Request {
        handles: request.handles,
        first_frame: request.first_frame.unwrap_or(FIRST),
        rate: rate(request.rate.as_deref())?,
        plate,
        naming,
    };
    Ok(Some(Found { value: turn_over(value, shoot, &asked).shots, findings }))
}

/// Holds that the copies go to a place of their own, not among plates or clips.
fn apart(plates: &Path, into: &Path, dump: &Path) -> Result<()> {
    let plates = plates
        .canonicalize()
        .ok()
        .filter(|plates| plates.is_dir())
        .with_context(|| format!("the plates {} are not a folder", plates.display()))?;
    // Of a folder that is not there yet, the nearest one above it that is.
    let full = std::path::absolute(into).unwrap_or_else(|_| into.to_owned());
    let above = full.ancestors().find_map(|above| above.canonicalize().ok());
    let there = into.canonicalize().ok();
    let inside = |of: &Path| above.as_deref().is_some_and(|above| above.starts_with(of));
    let holds = there.as_deref().is_some_and(|there| plates.starts_with(there));
    let in_dump = dump.canonicalize().is_ok_and(|dump| inside(&dump));
    if inside(&plates) || holds || in_dump {
        bail!(
            "the copies must not lie among plates or clips; choose another output folder with --into"
        );
    }
    Ok(())
}

/// A plate by its name: what it is called after, and its number.
struct Named {
    path: PathBuf,
    stem: String,
    number: Option<u64>,
    folders: Vec<String>,
}

impl Named {
    fn of(path: PathBuf) -> Self {
        let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let name = stem.trim_end_matches(|c: char| c.is_ascii_digit());
        let number = stem.get(name.len()..).and_then(|number| number.parse().ok());
        let name = name.trim_end_matches(['.', '_', '-']).to_owned();
        let folders = path.parent().into_iter().flat_map(Path::ancestors);
        let folders = folders.filter_map(Path::file_name);
        let folders = folders.map(|name| name.to_string_lossy().into_owned()).collect();
        Self { stem: name, number, folders, path }
    }

    /// Its own name, and then those of its folders from the nearest outward.
    fn called(&self) -> Vec<&str> {
        let folders = self.folders.iter().map(String::as_str);
        std::iter::once(self.stem.as_str()).chain(folders).filter(|name| !name.is_empty()).collect()
    }
}

type Whose = (usize, u64, Option<String>);

fn of_shot(
    name: &Named,
    called: &[Vec<&str>],
    at: usize,
    shots: &[Shot],
    request: &Request,
) -> Result<Whose, String> {
    let called = called.get(at).map(Vec::as_slice).unwrap_or_default();
    let shot = called
        .iter()
        .find_map(|called| shots.iter().find(|shot| shot.name.eq_ignore_ascii_case(called)))
        .ok_or("no shot of the cut is called so")?;
    let (clip, range) =
        shot.clip.zip(shot.range.clone()).ok_or("the frames of its shot are not known")?;
    let number = name.number.ok_or("it has no number")?;
    let first = request.first_frame.unwrap_or(FIRST);
    let frame = number.checked_sub(first).and_then(|frame| range.start.checked_add(frame));
    let frame = frame.filter(|frame| range.contains(frame));
    let frame = frame.ok_or_else(|| {
        format!("its shot has frames {first} to {}", first + (range.end - range.start) - 1)
    })?;
    Ok((clip, frame, Some(shot.name.clone())))
}

fn of_clip(
    name: &Named,
    clip: Option<usize>,
    shoot: &Shoot,
    request: &Request,
) -> Result<Whose, String> {
    let (at, annotation) = clip
        .and_then(|at| Some((at, shoot.clips.get(at)?)))
        .ok_or("no clip of the dump is called so, or several are")?;
    let numbered = annotation.clip.files.first().and_then(|file| file.row.as_ref());
    let first = request.first_frame.or(numbered.map(|row| row.numbers.0)).unwrap_or(0);
    let number = name.number.ok_or("it has no number")?;
    let frames = annotation.clip.media.frames.as_ref().map(|frames| frames.value);
    let frame =
        number.checked_sub(first).filter(|frame| frames.is_none_or(|frames| *frame < frames));
    let frame = frame.ok_or_else(|| {
        let last = frames
            .map_or_else(String::new, |frames| (first + frames).saturating_sub(1).to_string());
        format!("its clip has frames {first} to {last}")
    })?;
    Ok((at, frame, None))
}
