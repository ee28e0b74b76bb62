//! Clips by day and roll, each section with its head and totals.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use crate::annotation::{Annotation, Shoot};

use super::super::calm::calm;
use super::line::{Section, cells, is_circled, is_unresolved, one_line};
use super::piece::{pieces, seconds};
use super::words::Word;
use super::{Clip, Column, Day, Fact, Line, Options, Roll, Spot, matters, pictures};

/// The days of a shoot in order; clips of which the day is not known come last.
pub(super) fn days(shoot: &Shoot, options: &Options) -> Vec<Day> {
    let matters = matters::by_clip(&shoot.findings);
    let mut by_day: BTreeMap<(bool, Option<NaiveDate>), Vec<&Annotation>> = BTreeMap::new();
    for annotation in &shoot.clips {
        let date = date_of(annotation);
        by_day.entry((date.is_none(), date)).or_default().push(annotation);
    }
    let production = shoot.production.as_deref().map(calm).unwrap_or_default();
    let day = |(at, ((_, date), clips)): (usize, ((bool, Option<NaiveDate>), Vec<&Annotation>))| {
        let id = format!("day-{}", at + 1);
        let known = date.map(|date| options.date(date));
        let heading = known.clone().unwrap_or_else(|| options.say(Word::UnknownDay));
        let mut rolls: Vec<(Option<&str>, Vec<&Annotation>)> = Vec::new();
        let mut index = BTreeMap::new();
        for annotation in &clips {
            let roll = annotation.clip.roll.as_deref();
            let at = *index.entry(roll).or_insert(rolls.len());
            match rolls.get_mut(at) {
                Some((_, clips)) => clips.push(annotation),
                None => rolls.push((roll, vec![annotation])),
            }
        }
        let rolls = rolls.into_iter().enumerate().map(|(at, (name, clips))| {
            let name = name.map(one_line);
            let section = Section {
                production: &production,
                day: known.as_deref().unwrap_or_default(),
                roll: name.as_deref().unwrap_or_default(),
            };
            let id = format!("{id}-roll-{}", at + 1);
            roll(id, &section, &clips, &matters, options)
        });
        Day {
            rolls: rolls.collect(),
            totals: totals(&clips, options),
            timeline: pictures::timeline(&clips, options),
            id,
            heading,
            date,
        }
    };
    by_day.into_iter().enumerate().map(day).collect()
}

/// The day on which a clip was shot: that of the creation time that the camera wrote.
fn date_of(annotation: &Annotation) -> Option<NaiveDate> {
    annotation.clip.media.created.as_ref().map(|created| created.value.date())
}

fn roll(
    id: String,
    section: &Section<'_>,
    clips: &[&Annotation],
    matters: &BTreeMap<&str, Vec<String>>,
    options: &Options,
) -> Roll {
    let mut of: Vec<Clip> =
        clips.iter().map(|annotation| clip(annotation, section, matters, options)).collect();
    let head = head_of_roll(&mut of, options);
    let name = Some(section.roll.to_owned()).filter(|name| !name.is_empty());
    let heading = name.as_ref().map(|name| format!("{} {name}", options.say(Word::Roll)));
    Roll {
        id,
        heading: heading.unwrap_or_else(|| options.say(Word::NoRoll)),
        name,
        head,
        clips: of,
        totals: totals(clips, options),
    }
}

/// What the head of the roll says. What is not the same for all of its lines is named there in full, and each line says
/// its own.
fn head_of_roll(clips: &mut [Clip], options: &Options) -> Vec<Fact> {
    let mut head = Vec::new();
    for column in Column::ALL.iter().copied().filter(|column| column.spot() == Spot::Head) {
        let mut values: Vec<String> = Vec::new();
        let mut met = BTreeSet::new();
        for line in clips.iter().flat_map(|clip| &clip.lines) {
            let text = &line.cell(column).text;
            if met.insert(text.clone()) {
                values.push(text.clone());
            }
        }
        let said = |text: &String| {
            if text.is_empty() { options.say(Word::NotKnown) } else { text.clone() }
        };
        if values.iter().all(String::is_empty) {
            continue;
        }
        let label = options.say(column.word());
        if values.len() > 1 {
            for line in clips.iter_mut().flat_map(|clip| &mut clip.lines) {
                let value = said(&line.cell(column).text);
                line.aside.push(Fact { label: label.clone(), value });
            }
        }
        let value = values.iter().map(said).collect::<Vec<_>>().join("; ");
        head.push(Fact { label, value });
    }
    head
}

fn clip(
    annotation: &Annotation,
    section: &Section<'_>,
    matters: &BTreeMap<&str, Vec<String>>,
    options: &Options,
) -> Clip {
    let pieces = pieces(annotation);
    let mut remarks: Vec<String> = Vec::new();
    for piece in &pieces {
        let remark = piece.setup.remarks.as_ref().map(|remarks| one_line(&remarks.value));
        remarks.extend(remark.filter(|remark| !remarks.contains(remark)));
    }
    let matters = matters.get(annotation.clip.name.as_ref()).cloned().unwrap_or_default();
    let mut lines: Vec<Line> = Vec::new();
    for piece in &pieces {
        let mut line = Line {
            cells: cells(annotation, piece, section, options),
            aside: Vec::new(),
            unresolved: is_unresolved(piece.setup),
        };
        let own = piece.setup.remarks.as_ref().map(|remarks| one_line(&remarks.value));
        let below =
            [(Column::Remarks, own.unwrap_or_default()), (Column::Matters, matters.join("; "))];
        for (column, text) in below {
            if let Some(cell) = line.cells.get_mut(column.index()) {
                cell.text = text;
            }
        }
        if let Some(before) = lines.last() {
            for (cell, above) in line.cells.iter_mut().zip(&before.cells) {
                cell.again = !cell.text.is_empty() && cell.text == above.text;
            }
        }
        lines.push(line);
    }
    Clip {
        name: one_line(&annotation.clip.name),
        circled: pieces.iter().any(|piece| is_circled(piece.setup)),
        lines,
        remarks,
        matters,
    }
}

/// Clips, circled takes, minutes and bytes.
pub(super) fn totals(clips: &[&Annotation], options: &Options) -> Vec<Fact> {
    let circled = clips
        .iter()
        .filter(|clip| clip.setups.pieces().any(|piece| is_circled(piece.value)))
        .count();
    let (mut ran, mut unknown) = (0.0, 0_usize);
    for clip in clips {
        match seconds(clip) {
            Some(seconds) => ran += seconds,
            None => unknown += 1,
        }
    }
    let mut minutes = options.fixed(ran / 60.0, 1);
    if unknown > 0 {
        // A clip of unknown length is no clip of no length.
        minutes.push_str(&format!(" + {unknown} {}", options.say(Word::NotKnown)));
    }
    let files = clips.iter().flat_map(|clip| &clip.clip.files);
    let bytes = files.fold(0_u64, |bytes, file| bytes.saturating_add(file.size));
    let fact = |word, value| Fact { label: options.say(word), value };
    vec![
        fact(Word::Clips, clips.len().to_string()),
        fact(Word::Circled, circled.to_string()),
        fact(Word::Minutes, minutes),
        fact(Word::Size, options.size(bytes)),
    ]
}

/// The title block.
pub(super) fn head(shoot: &Shoot, days: &[Day], options: &Options) -> Vec<Fact> {
    let fact = |word, value| Fact { label: options.say(word), value };
    let mut head = Vec::new();
    if let Some(production) = &shoot.production {
        head.push(fact(Word::Production, one_line(production)));
    }
    let dates: Vec<String> = days.iter().map(|day| day.heading.clone()).collect();
    let word = if dates.len() == 1 { Word::Day } else { Word::Days };
    head.push(fact(word, dates.join(", ")));
    for (column, word) in [
        (Column::Unit, Word::Unit),
        (Column::Camera, Word::Cameras),
        (Column::Operator, Word::Operator),
        (Column::Assistants, Word::Assistants),
    ] {
        let lines = days.iter().flat_map(|day| &day.rolls).flat_map(|roll| &roll.clips);
        let texts = lines.flat_map(|clip| &clip.lines).map(|line| &line.cell(column).text);
        let texts: BTreeSet<&String> = texts.filter(|text| !text.is_empty()).collect();
        if !texts.is_empty() {
            let texts: Vec<&str> = texts.into_iter().map(String::as_str).collect();
            head.push(fact(word, texts.join(", ")));
        }
    }
    let rolls: BTreeSet<&String> =
        days.iter().flat_map(|day| &day.rolls).filter_map(|roll| roll.name.as_ref()).collect();
    if !rolls.is_empty() {
        let rolls: Vec<&str> = rolls.into_iter().map(String::as_str).collect();
        head.push(fact(Word::Rolls, rolls.join(", ")));
    }
    head
}
