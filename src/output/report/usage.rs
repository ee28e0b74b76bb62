//! Which lenses were used, behind what, how long and at which settings.

use std::collections::BTreeMap;

use crate::annotation::Shoot;

use super::line::{attachment, lens, one_line, stop_set};
use super::piece::pieces;
use super::words::Word;
use super::{Column, Options, Table};

#[derive(Default)]
struct Use {
    clips: u64,
    last: Option<usize>,
    seconds: f64,
    set: Range,
    effective: Range,
    /// Stops by number, with the words for each; those in f and in T apart.
    stops: BTreeMap<char, (Range, BTreeMap<u64, String>)>,
}

/// The least and the greatest of numbers.
#[derive(Default)]
struct Range(Option<(f64, f64)>);

impl Range {
    fn take(&mut self, number: Option<f64>) {
        if let Some(number) = number {
            let (from, to) = self.0.unwrap_or((number, number));
            self.0 = Some((from.min(number), to.max(number)));
        }
    }

    fn words(&self, print: impl Fn(f64) -> String) -> String {
        let Some((from, to)) = self.0 else { return String::new() };
        let (from, to) = (print(from), print(to));
        if from == to { from } else { format!("{from} \u{2013} {to}") }
    }
}

/// A line for each lens behind each attachment, by name.
pub(super) fn lenses(shoot: &Shoot, options: &Options) -> Table {
    let mut uses: BTreeMap<(String, String, String), Use> = BTreeMap::new();
    for (at, annotation) in shoot.clips.iter().enumerate() {
        for piece in pieces(annotation) {
            let setup = piece.setup;
            let serial = setup.lens_serial.as_ref().map(|serial| one_line(&serial.value));
            let key =
                (lens(setup, options), serial.unwrap_or_default(), attachment(setup, options));
            let of = uses.entry(key).or_default();
            if of.last != Some(at) {
                of.clips += 1;
                of.last = Some(at);
            }
            of.seconds += piece.seconds.unwrap_or(0.0);
            of.set.take(setup.lens_focal.as_ref().map(|mm| mm.value.get()));
            of.effective.take(setup.focal_length.value.as_ref().map(|mm| mm.value.get()));
            let stop = stop_set(setup, options);
            if let (Some(number), Some(letter)) = (stop.order, stop.text.chars().next()) {
                let (range, words) = of.stops.entry(letter).or_default();
                range.take(Some(number));
                words.insert(number.to_bits(), stop.text);
            }
        }
    }
    let head = |word: Word, like: Column| (options.say(word), like);
    let heads = vec![
        head(Word::Lens, Column::Lens),
        head(Word::Serial, Column::Slate),
        head(Word::Attachment, Column::Attachment),
        head(Word::Clips, Column::Duration),
        head(Word::Duration, Column::Duration),
        head(Word::MarkedFocal, Column::Effective),
        head(Word::Effective, Column::Effective),
        head(Word::Stops, Column::Verdict),
    ];
    let rows = uses.into_iter().map(|((lens, serial, attachment), of)| {
        let mm = |number| options.number(number, 1);
        let stops = of.stops.into_values().map(|(range, words)| {
            range.words(|stop| words.get(&stop.to_bits()).cloned().unwrap_or_default())
        });
        vec![
            lens,
            serial,
            attachment,
            of.clips.to_string(),
            options.time(of.seconds),
            of.set.words(mm),
            of.effective.words(mm),
            stops.collect::<Vec<_>>().join(", "),
        ]
    });
    Table { rows: rows.collect(), heads }
}
