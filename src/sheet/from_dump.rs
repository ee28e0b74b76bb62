//! A sheet for the clips of a dump: a row for each, and what the media recorded beside it.

use std::collections::{BTreeMap, BTreeSet};

use super::column::Column;
use super::from_kit::{Wanted, roll_of};
use super::legend::Legend;
use super::{Recorded, Roll, Row, Sheet};
use crate::annotation::ClipFacts;
use crate::finding::{Code, Finding, Found, Place};
use crate::kit::Kit;
use crate::naming::key;
use crate::notes::{is_name, names_one_clip};
use crate::number::{fixed, short};

/// The sheet. Clips that notes cannot tell apart share a row; a clip that they cannot name is a finding and has none.
pub fn of_dump(clips: &[ClipFacts], kit: &Kit, wanted: &Wanted) -> Found<Sheet> {
    let legend = Legend::of(kit);
    let mut findings = Vec::new();
    let names = names(clips);
    let mut rolls: Vec<Roll> = Vec::new();
    let mut places: BTreeMap<Option<&str>, usize> = BTreeMap::new();
    let mut cells: BTreeMap<&str, Option<String>> = BTreeMap::new();
    let mut met = BTreeSet::new();
    for (clip, name) in clips.iter().zip(names) {
        let roll = clip.roll.as_deref();
        let cell = roll.map(|roll| {
            cells
                .entry(roll)
                .or_insert_with(|| cell_of_roll(roll, Some(clip), &mut findings))
                .clone()
        });
        let Some(name) = name else {
            findings.push(nameless(clip));
            continue;
        };
        let cell = cell.flatten().unwrap_or_default();
        if !met.insert((key(&cell), key(&name))) {
            continue;
        }
        let place = *places.entry(roll).or_insert_with(|| {
            rolls.push(roll_of(kit, roll));
            rolls.len() - 1
        });
        if let Some(roll) = rolls.get_mut(place) {
            roll.rows.push(Row { roll: cell, clip: name, recorded: recorded(clip) });
        }
    }
    let sheet = Sheet {
        production: kit.production.title.as_ref().map(|title| title.value.clone()),
        columns: Column::chosen(true, !legend.modes.is_empty(), wanted.focus_unit),
        rolls,
        legend,
        of_dump: true,
    };
    Found { value: sheet, findings }
}

/// What the clip cell of each is to say: its name, or that of its first file where several clips of a roll share the
/// name or it would be read as something else.
fn names(clips: &[ClipFacts]) -> Vec<Option<String>> {
    let group = |clip: &ClipFacts| (clip.roll.as_deref().map(key), key(&clip.name));
    let mut sharing: BTreeMap<_, usize> = BTreeMap::new();
    for clip in clips {
        *sharing.entry(group(clip)).or_default() += 1;
    }
    let name = |clip: &ClipFacts| {
        let alone = sharing.get(&group(clip)) == Some(&1);
        let own = alone.then(|| clip.name.trim()).filter(|name| names_one_clip(name));
        own.map(str::to_owned).or_else(|| {
            let file = clip.files.first()?.path.file_name()?.to_str()?.trim();
            names_one_clip(file).then(|| file.to_owned())
        })
    };
    clips.iter().map(name).collect()
}

/// What the roll cell is to say; `None`, with a finding, where a cell cannot say it.
pub(super) fn cell_of_roll(
    roll: &str,
    clip: Option<&ClipFacts>,
    findings: &mut Vec<Finding>,
) -> Option<String> {
    if is_name(roll.trim()) {
        return Some(roll.trim().to_owned());
    }
    let message = format!("no cell of the notes can say the roll \"{}\"", roll.escape_default());
    let finding = Finding::new(Code::SheetName, message)
        .hint("its rows have no roll; give the folder or the roll another name");
    let file = clip.and_then(|clip| clip.files.first());
    findings.push(match file {
        Some(file) => finding.at(Place::file(file.shown.as_ref())),
        None => finding,
    });
    None
}

fn nameless(clip: &ClipFacts) -> Finding {
    let finding = Finding::new(
        Code::SheetName,
        "no cell of the notes can name this clip: its name reads as something else there",
    );
    let finding = finding
        .clip(clip.name.as_ref())
        .hint("it has no row; note it by a row for its whole roll, or copy it under another name");
    match clip.files.first() {
        Some(file) => finding.at(Place::file(file.shown.as_ref())),
        None => finding,
    }
}

fn recorded(clip: &ClipFacts) -> Recorded {
    let media = &clip.media;
    let stop = match (&media.f_number, &media.t_number) {
        (Some(f), Some(t)) => {
            Some(format!("f/{} T{}", short(f.value.get(), 2), short(t.value.get(), 2)))
        }
        (Some(f), None) => Some(format!("f/{}", short(f.value.get(), 2))),
        (None, Some(t)) => Some(format!("T{}", short(t.value.get(), 2))),
        (None, None) => None,
    };
    Recorded {
        start: media.start.as_ref().map(|start| start.value.to_string()),
        duration: duration(clip),
        lens: media.lens.as_ref().map(|lens| lens.value.clone()),
        focal: media.focal_length.as_ref().map(|mm| format!("{} mm", short(mm.value.get(), 2))),
        stop,
        focus: media.focus_distance.as_ref().map(|at| match at.value.get() {
            at if at.is_infinite() => "inf".to_owned(),
            at => format!("{} m", short(at, 2)),
        }),
    }
}

/// How long the clip runs, for people: `12.2 s`, `3 min 05 s`.
fn duration(clip: &ClipFacts) -> Option<String> {
    let media = &clip.media;
    let counted = media.frames.as_ref().zip(media.rate.as_ref()).map(|(frames, rate)| {
        #[expect(clippy::cast_precision_loss, reason = "shown to a tenth of a second")]
        let frames = frames.value as f64;
        frames / rate.value.to_f64()
    });
    let seconds = media.duration.as_ref().map(|it| it.value.seconds()).or(counted)?;
    if !seconds.is_finite() {
        return None;
    }
    if seconds < 59.95 {
        return Some(format!("{} s", fixed(seconds, 1)));
    }
    let (minutes, rest) = ((seconds.round() / 60.0).floor(), seconds.round() % 60.0);
    Some(format!("{} min {rest:02} s", fixed(minutes, 0)))
}
