//! The report as finished words in their structure. Writers lay it out and decide nothing: every text is calm (it steers
//! neither terminal nor line of writing), every number is printed in the form that was asked for.

use chrono::NaiveDate;

use crate::annotation::Verdict;
use crate::units::Millimeters;

use super::Options;
use super::columns::Column;
use super::words::Word;

/// One document: title block, days, totals, lenses, what needs a person, signatures.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// The form it is printed in.
    pub options: Options,
    /// `Camera report`.
    pub title: String,
    /// Title of the production.
    pub production: Option<String>,
    /// The title block: what, and the word for it.
    pub head: Vec<Fact>,
    /// Columns of a page that have a column of their own, in order: those in use anywhere in the report, and those that a
    /// form has in any case.
    pub columns: Vec<Column>,
    /// Days in order; clips of which the day is not known come last.
    pub days: Vec<Day>,
    /// Totals over all days.
    pub totals: Vec<Fact>,
    /// Which lenses were used behind what.
    pub lenses: Table,
    /// What needs a person, worst first.
    pub matters: Vec<Matter>,
    /// Who signs, a line each.
    pub signatures: Vec<String>,
    /// A sensor in its image circle for each rig used.
    pub rigs: Vec<Rig>,
    /// Recorded and true focal length of every piece of every clip of which both or either is known, in order.
    pub focals: Vec<FocalPair>,
    /// Words of caution.
    pub caution: String,
    /// Program and version. The report carries no date of making, so that the same content is the same bytes.
    pub made_by: String,
    /// The last day of shooting that is known: the date for a format that must carry one.
    pub dated: Option<NaiveDate>,
}

/// A word and what it stands for here.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// The word.
    pub label: String,
    /// What it is.
    pub value: String,
}

/// One day of shooting.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// Id of the section, for links: `day-1`.
    pub id: String,
    /// The date as asked for, or that it is not known.
    pub heading: String,
    /// The date.
    pub date: Option<NaiveDate>,
    /// Rolls in the order of the dump.
    pub rolls: Vec<Roll>,
    /// Totals of the day.
    pub totals: Vec<Fact>,
    /// What ran when.
    pub timeline: Timeline,
}

/// One roll on one day.
#[derive(Clone, Debug, PartialEq)]
pub struct Roll {
    /// Id of the section, for links: `day-1-roll-2`.
    pub id: String,
    /// `Roll A003`.
    pub heading: String,
    /// Name of the roll, if it has one.
    pub name: Option<String>,
    /// The head: camera, media, mode. Values that are not the same for every clip are all named, and stand beneath the
    /// lines of the clips.
    pub head: Vec<Fact>,
    /// Clips in the order of the dump.
    pub clips: Vec<Clip>,
    /// Totals of the roll.
    pub totals: Vec<Fact>,
}

/// One clip: a row of the form, with a line for each piece over which something changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Clip {
    /// Its name.
    pub name: String,
    /// True if a piece of it is circled.
    pub circled: bool,
    /// Its lines; at least one.
    pub lines: Vec<Line>,
    /// Remarks as noted, each once; line breaks of the notes are ` / `.
    pub remarks: Vec<String>,
    /// What needs a person, each once.
    pub matters: Vec<String>,
}

/// Most lines of a clip on a page. A focus pulled over a whole take is hundreds of changes: nobody reads them on paper.
const MOST_LINES: usize = 12;

impl Clip {
    /// The lines that stand on a page.
    pub fn on_page(&self) -> &[Line] {
        self.lines.get(..MOST_LINES).unwrap_or(&self.lines)
    }

    /// What is said of the lines that do not, if there are such.
    pub fn more(&self, options: &Options) -> Option<String> {
        let more = self.lines.len().saturating_sub(MOST_LINES);
        (more > 0).then(|| format!("+ {more} {}", options.say(Word::MoreLines)))
    }
}

/// One line: what held over one piece of a clip.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// What stands in each column, in the order of [`Column::ALL`].
    pub cells: Vec<Cell>,
    /// Facts that would stand in the head of the roll, if they were the same for all of it.
    pub aside: Vec<Fact>,
    /// True if a field of it was left out, because nobody can say what is right.
    pub unresolved: bool,
}

impl Line {
    /// What stands in a column.
    pub fn cell(&self, column: Column) -> &Cell {
        self.cells.get(column.index()).unwrap_or(&NOTHING)
    }
}

/// What stands in one column of one line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cell {
    /// The words; empty where nothing is known.
    pub text: String,
    /// True where the line above, of the same clip, says the same: on paper it need not be said again.
    pub again: bool,
    /// The number to sort by, for columns of numbers.
    pub order: Option<f64>,
}

static NOTHING: Cell = Cell { text: String::new(), again: false, order: None };

/// A small table.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Its headings, with the alignment and share of width of those of [`Column`].
    pub heads: Vec<(String, Column)>,
    /// Its rows, each as long as `heads`.
    pub rows: Vec<Vec<String>>,
}

/// Something that needs a person; the same trouble of several clips is said once.
#[derive(Clone, Debug, PartialEq)]
pub struct Matter {
    /// `fault` or `warning`.
    pub level: &'static str,
    /// The clips concerned, in order.
    pub clips: Vec<String>,
    /// What is the matter.
    pub message: String,
    /// What to do about it.
    pub hint: Option<String>,
    /// The stable code.
    pub code: &'static str,
    /// Where to look.
    pub place: Option<String>,
}

/// What ran when on one day.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline {
    /// Pieces with a time of day, by time.
    pub spans: Vec<Span>,
    /// Names of the clips of which the media does not say when they ran.
    pub untimed: Vec<String>,
}

/// A piece of a clip on the timeline.
#[derive(Clone, Debug, PartialEq)]
pub struct Span {
    /// Clip.
    pub clip: String,
    /// Roll.
    pub roll: Option<String>,
    /// The camera by its letter in the kit, if that is known.
    pub camera: Option<String>,
    /// Second of the day at which it began, by the camera's clock.
    pub start: f64,
    /// Seconds that it ran; unknown for a clip of unknown length.
    pub seconds: Option<f64>,
    /// Lens.
    pub lens: Option<String>,
    /// What stood between lens and camera, if anything did.
    pub attachment: Option<String>,
}

/// A lens behind an attachment on a camera in a mode, as used.
#[derive(Clone, Debug, PartialEq)]
pub struct Rig {
    /// Lens, attachment, camera and mode in words.
    pub title: String,
    /// How many clips were taken with it.
    pub clips: usize,
    /// Width of the recorded area.
    pub width: Millimeters,
    /// Height of the recorded area.
    pub height: Millimeters,
    /// Diameter of the image circle behind the attachment; `None` where the kit does not tell it.
    pub circle: Option<Millimeters>,
    /// What lies in the dark along the diagonal, and the same in pixels.
    pub dark: Option<(Millimeters, Option<f64>)>,
    /// The same in from the left and right edges.
    pub dark_sides: Option<(Millimeters, Option<f64>)>,
    /// The same in from the top and bottom edges.
    pub dark_top_bottom: Option<(Millimeters, Option<f64>)>,
}

/// What the media said the focal length was, and what it was.
#[derive(Clone, Debug, PartialEq)]
pub struct FocalPair {
    /// Clip.
    pub clip: String,
    /// Roll.
    pub roll: Option<String>,
    /// Lens and attachment in words.
    pub rig: String,
    /// What the media said.
    pub recorded: Option<Millimeters>,
    /// What it was: the effective focal length, where it is known.
    pub effective: Option<Millimeters>,
    /// What became of it.
    pub verdict: Option<Verdict>,
}
