//! Clips by day and roll, each section with its head and totals.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use crate::annotation::{Annotation, Details, Shoot};

use super::line::{Section, cells, is_circled, is_unresolved, one_line};
use super::piece::{pieces, seconds};
use super::words::Word;
use super::{Clip, Column, Day, Fact, Line, Options, Roll, Spot, matters, pictures};

/// The days of a shoot in order; clips of which the day is not known come last.
pub(super) fn days(shoot: &Shoot, options: &Options) -> Vec<Day> {
    let matters = matters::by_clip(&shoot.findings);
    let mut by_day: BTreeMap<Key, Vec<&Annotation>> = BTreeMap::new();
    for (key, annotation) in keys(shoot).into_iter().zip(&shoot.clips) {
        by_day.entry(key).or_default().push(annotation);
    }
    let production = shoot.production.as_deref().map(one_line).unwrap_or_default();
    let day = |(at, (key, clips)): (usize, (Key, Vec<&Annotation>))| {
        let Key { date, .. } = key;
        let id = format!("day-{}", at + 1);
        let known = date.map(|date| options.date(date));
        let heading = heading(&key, &clips, options);
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

/// What a section of the report is of: a date, or else a shooting day as the crew counts it, or else a day nobody knows.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    undated: bool,
    date: Option<NaiveDate>,
    /// Only where there is no date.
    counted: Option<String>,
}

/// The day of each clip: that of the creation time that the camera wrote. A clip without one was shot when the rest of its
/// roll was, if that is one day, and else on the date of the kit.
fn keys(shoot: &Shoot) -> Vec<Key> {
    let written = |annotation: &Annotation| {
        annotation.clip.media.created.as_ref().map(|created| created.value.date())
    };
    let mut dates: BTreeMap<&str, BTreeSet<NaiveDate>> = BTreeMap::new();
    for annotation in &shoot.clips {
        if let Some((roll, date)) = annotation.clip.roll.as_deref().zip(written(annotation)) {
            dates.entry(roll).or_default().insert(date);
        }
    }
    let of_roll = |annotation: &Annotation| {
        let dates = dates.get(annotation.clip.roll.as_deref()?)?;
        dates.first().copied().filter(|_| dates.len() == 1)
    };
    let key = |annotation: &Annotation| {
        let date = written(annotation).or_else(|| of_roll(annotation)).or(shoot.details.date);
        let counted = counted(annotation).filter(|_| date.is_none());
        Key { undated: date.is_none(), date, counted }
    };
    shoot.clips.iter().map(key).collect()
}

/// The shooting day of a clip, as the crew counts it.
fn counted(annotation: &Annotation) -> Option<String> {
    let day = annotation.setups.first().shot.as_ref()?.day.as_ref()?;
    Some(one_line(&day.value))
}

/// The date, and the day as the crew counts it where its clips agree.
fn heading(key: &Key, clips: &[&Annotation], options: &Options) -> String {
    let date = key.date.map(|date| options.date(date));
    let mut days: BTreeSet<Option<String>> = clips.iter().map(|clip| counted(clip)).collect();
    let day = days.pop_first().flatten().filter(|_| days.is_empty());
    let day = day.map(|day| format!("{} {day}", options.say(Word::ShootingDay)));
    match (date, day) {
        (Some(date), Some(day)) => format!("{date} \u{b7} {day}"),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => options.say(Word::UnknownDay),
    }
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

/// Columns whose blanks say nothing: a camera is called the same whether or not its every file says so.
const BLANK_IS_NOTHING: &[Column] = &[
    Column::CameraModel,
    Column::CameraSerial,
    Column::ShootingDay,
    Column::Unit,
    Column::Operator,
    Column::Assistants,
];
/// Most values that a head names: beyond them the clips say theirs alone.
const MOST_NAMED: usize = 6;

/// What the head of the roll says: what most of its lines say first. Lines that differ from that say so themselves.
fn head_of_roll(clips: &mut [Clip], options: &Options) -> Vec<Fact> {
    let mut head = Vec::new();
    for column in Column::ALL.iter().copied().filter(|column| column.spot() == Spot::Head) {
        let blank_counts = !BLANK_IS_NOTHING.contains(&column);
        let mut values: Vec<(String, usize)> = Vec::new();
        let mut index = BTreeMap::new();
        for line in clips.iter().flat_map(|clip| &clip.lines) {
            let text = &line.cell(column).text;
            if !text.is_empty() || blank_counts {
                let at = *index.entry(text.clone()).or_insert(values.len());
                match values.get_mut(at) {
                    Some((_, count)) => *count += 1,
                    None => values.push((text.clone(), 1)),
                }
            }
        }
        if values.iter().all(|(text, _)| text.is_empty()) {
            continue;
        }
        values.sort_by_key(|(_, count)| Reverse(*count));
        let said = |text: &str| {
            if text.is_empty() { options.say(Word::NotKnown) } else { text.to_owned() }
        };
        let label = options.say(column.word());
        let first = values.first().map(|(text, _)| text.clone()).unwrap_or_default();
        for line in clips.iter_mut().flat_map(|clip| &mut clip.lines) {
            let text = &line.cell(column).text;
            if *text != first && (!text.is_empty() || blank_counts) {
                let value = said(text);
                line.aside.push(Fact { label: label.clone(), value });
            }
        }
        // Those of which it is not known say so themselves.
        let known = values.iter().skip(1).filter(|(text, _)| !text.is_empty());
        let others: Vec<String> =
            known.clone().take(MOST_NAMED).map(|(text, _)| text.clone()).collect();
        let mut value = said(&first);
        if !others.is_empty() {
            let more = if known.count() > MOST_NAMED { ", ..." } else { "" };
            let also = options.say(Word::Also);
            value.extend(["; ", &also, " ", &others.join(", "), more]);
        }
        head.push(Fact { label, value });
    }
    for clip in clips {
        // Once a clip, where its lines do not differ in it.
        let before: Vec<Vec<Fact>> = clip.lines.iter().map(|line| line.aside.clone()).collect();
        for (line, above) in clip.lines.iter_mut().skip(1).zip(before) {
            if line.aside == above {
                line.aside.clear();
            }
        }
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
        let unknown = unknown.to_string();
        minutes.extend([" + ", &unknown, " ", &options.say(Word::NotKnown)]);
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

/// The title block, without the production, which is its title.
pub(super) fn head(shoot: &Shoot, days: &[Day], options: &Options) -> Vec<Fact> {
    let fact = |word, value| Fact { label: options.say(word), value };
    let Details { company, director, cinematographer, .. } = &shoot.details;
    let named = [
        (Word::Company, company),
        (Word::Director, director),
        (Word::Cinematographer, cinematographer),
    ];
    let named = named.into_iter().filter_map(|(word, name)| Some((word, name.as_ref()?)));
    let mut head: Vec<Fact> = named.map(|(word, name)| fact(word, one_line(name))).collect();
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
