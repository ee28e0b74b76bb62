//! The camera report: every clip of a shoot by day and roll, in the words and columns of the trade's paper form.
//!
//! [`report`] makes the finished words; the writers (`html`, `csv`) lay them out. What the form says of a clip is worked out
//! in `piece` (a line of it) and `line` (its cells), by day and roll in `days`.

mod columns;
pub mod csv;
mod days;
pub mod drawn;
pub mod html;
mod html_roll;
mod line;
mod matters;
mod model;
mod pictures;
mod piece;
mod policy;
pub mod record;
mod said;
pub mod text;
mod usage;
mod words;
mod writing;

use crate::annotation::Shoot;

use super::Stamp;

pub use columns::{Align, Column, Spot};
pub use model::{
    Cell, Clip, Day, Fact, FocalPair, Line, Matter, Report, Rig, Roll, Span, Table, Timeline,
};
pub use words::{Word, Words, template};
pub use writing::{DateForm, Decimal, Paper};

/// The form that was asked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Options {
    /// Sheet.
    pub paper: Paper,
    /// Form of dates.
    pub dates: DateForm,
    /// Decimal sign.
    pub decimal: Decimal,
    /// Headings.
    pub words: Words,
}

/// The report of a shoot, in the form that `options` ask for.
pub fn report(shoot: &Shoot, options: &Options, stamp: &Stamp) -> Report {
    let say = |word| options.say(word);
    let days = days::days(shoot, options);
    let production = shoot.production.as_deref().map(line::one_line);
    let dated = days.iter().filter_map(|day| day.date).next_back();
    Report {
        title: say(Word::Report),
        head: days::head(shoot, &days, options),
        columns: columns_of(&days),
        totals: days::totals(&shoot.clips.iter().collect::<Vec<_>>(), options),
        lenses: usage::lenses(shoot, options),
        matters: matters::all(&shoot.findings),
        signatures: [Word::SignOperator, Word::SignAssistant, Word::SignData, Word::SignProduction]
            .map(say)
            .to_vec(),
        rigs: pictures::rigs(shoot, options),
        focals: pictures::focals(shoot, options),
        caution: say(Word::Caution),
        made_by: format!("{} {}", say(Word::MadeBy), stamp.tool),
        options: options.clone(),
        production,
        days,
        dated,
    }
}

/// The columns in use anywhere, so that all rolls are one form.
fn columns_of(days: &[Day]) -> Vec<Column> {
    let lines = || {
        let clips = days.iter().flat_map(|day| &day.rolls).flat_map(|roll| &roll.clips);
        clips.flat_map(|clip| &clip.lines)
    };
    let used = |column: Column| lines().any(|line| !line.cell(column).text.is_empty());
    let own = Column::ALL.iter().copied().filter(|column| column.spot() == Spot::Own);
    own.filter(|column| column.always() || used(*column) || column.beneath().any(used)).collect()
}
