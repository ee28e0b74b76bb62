//! The cells of a sheet as the text that CSV would give: typed numbers, times and dates as one would write them.

use std::ops::RangeInclusive;

use calamine::{Data, DataRef, ExcelDateTime};

use crate::number::short;

use super::Refusal;

/// Stands in [`Sheet::marked`] for a line end inside a cell: one line of text is one row of the sheet.
pub(in crate::notes) const LINE_END: char = '\u{1d}';
/// Stands in [`Sheet::marked`] for the first digit of a date that the spreadsheet keeps as one.
pub(in crate::notes) const DATE: char = '\u{1c}';

/// Filled cells that are kept of a sheet: more than notes of a whole shoot have.
const MOST_CELLS: usize = 2_000_000;
/// Bytes of the text that a sheet becomes.
const MOST_TEXT: usize = 32 << 20;
/// Rows that are looked at; the limit of the notes themselves is lower.
const MOST_ROWS: u32 = 200_000;
/// Columns that are looked at.
const MOST_COLUMNS: u32 = 256;

/// A sheet as text, cells parted by commas, a line for each row from the first.
#[derive(Debug, PartialEq)]
pub(in crate::notes) struct Sheet {
    /// As it is shown to people.
    pub(in crate::notes) shown: String,
    /// The same, byte for byte, with [`LINE_END`] and [`DATE`] where those stand.
    pub(in crate::notes) marked: String,
    /// True where cells lie farther out than is read.
    pub(in crate::notes) beyond: bool,
}

/// What a cell holds.
pub(super) struct Content {
    text: String,
    date: bool,
}

/// A cell that runs over several rows.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Merged {
    pub(super) column: u32,
    pub(super) rows: RangeInclusive<u32>,
}

/// The filled cells of a sheet, while they are gathered.
#[derive(Default)]
pub(super) struct Filled {
    cells: Vec<((u32, u32), Content)>,
    bytes: usize,
    beyond: bool,
    full: bool,
}

impl Filled {
    /// Takes a cell; false where the sheet holds more than is read.
    pub(super) fn put(&mut self, at: (u32, u32), value: &Value<'_>) -> bool {
        let Some(content) = value.content() else { return true };
        if at.0 >= MOST_ROWS || at.1 >= MOST_COLUMNS {
            self.beyond = true;
            return true;
        }
        self.bytes = self.bytes.saturating_add(content.text.len());
        self.full |= self.bytes > MOST_TEXT || self.cells.len() >= MOST_CELLS;
        if !self.full {
            self.cells.push((at, content));
        }
        !self.full
    }

    /// The text of the sheet. A merged cell says in each of its rows what it says in the first.
    pub(super) fn finish(mut self, merged: &[Merged]) -> Result<Sheet, Refusal> {
        let too_much = || {
            Refusal::new(
                "the sheet holds more than anybody types",
                "keep only the notes in it, or split it by day",
            )
        };
        if self.full {
            return Err(too_much());
        }
        self.cells.sort_by_key(|(at, _)| *at);
        self.cells.dedup_by_key(|(at, _)| *at);
        self.spread(merged);
        let mut sheet = Sheet { shown: String::new(), marked: String::new(), beyond: self.beyond };
        let (mut row, mut column) = (0, 0);
        for ((at_row, at_column), content) in &self.cells {
            while row < *at_row {
                sheet.push("\n");
                (row, column) = (row + 1, 0);
            }
            while column < *at_column {
                sheet.push(",");
                column += 1;
            }
            sheet.cell(content);
            if sheet.shown.len() > MOST_TEXT {
                return Err(too_much());
            }
        }
        sheet.push("\n");
        Ok(sheet)
    }

    /// Writes merged cells into the rows below that hold anything at all.
    fn spread(&mut self, merged: &[Merged]) {
        let mut more = Vec::new();
        let mut bytes = self.bytes;
        for Merged { column, rows } in merged {
            let first = (*rows.start(), *column);
            let Ok(first) = self.cells.binary_search_by_key(&first, |(at, _)| *at) else {
                continue;
            };
            let Some((_, content)) = self.cells.get(first) else { continue };
            let mut last = *rows.start();
            let below = self.cells.iter().skip(first).take_while(|((row, _), _)| row <= rows.end());
            for ((row, _), _) in below {
                if *row == last {
                    continue;
                }
                last = *row;
                bytes = bytes.saturating_add(content.text.len());
                if bytes > MOST_TEXT || more.len() >= MOST_CELLS / 4 {
                    break;
                }
                let content = Content { text: content.text.clone(), date: content.date };
                more.push(((*row, *column), content));
            }
        }
        self.cells.extend(more);
        // A cell's own content stands before what a merged one would put there.
        self.cells.sort_by_key(|(at, _)| *at);
        self.cells.dedup_by_key(|(at, _)| *at);
    }
}

impl Sheet {
    fn push(&mut self, text: &str) {
        self.shown.push_str(text);
        self.marked.push_str(text);
    }

    /// Writes a cell as CSV has it (RFC 4180).
    fn cell(&mut self, content: &Content) {
        let quoted = content.text.contains([',', '"', '\n', '\r']);
        if quoted {
            self.push("\"");
        }
        for (at, letter) in content.text.char_indices() {
            match letter {
                '\r' if content.text.get(at + 1..).is_some_and(|rest| rest.starts_with('\n')) => {}
                '\n' | '\r' => {
                    self.shown.push(' ');
                    self.marked.push(LINE_END);
                }
                '"' => self.push("\"\""),
                letter if at == 0 && content.date => {
                    self.shown.push(letter);
                    self.marked.push(if letter.is_ascii() { DATE } else { letter });
                }
                // These mean something on the way; nobody types them.
                '\u{1a}' | LINE_END | DATE => self.push("?"),
                letter => {
                    self.shown.push(letter);
                    self.marked.push(letter);
                }
            }
        }
        if quoted {
            self.push("\"");
        }
    }
}

/// A value of a cell, whichever way calamine hands it over.
pub(super) enum Value<'v> {
    Empty,
    Text(&'v str),
    Number(f64),
    Flag(bool),
    Moment(ExcelDateTime),
    /// A date, with a time behind it or not (ISO 8601).
    Date(&'v str),
    /// `PT14H32M05S` (ISO 8601).
    Duration(&'v str),
    Fault(String),
}

#[expect(clippy::cast_precision_loss, reason = "a number this long is refused by every cell")]
fn whole(number: i64) -> f64 {
    number as f64
}

impl<'v> From<&'v DataRef<'_>> for Value<'v> {
    fn from(value: &'v DataRef<'_>) -> Self {
        match value {
            DataRef::Empty => Self::Empty,
            DataRef::String(text) => Self::Text(text),
            DataRef::SharedString(text) => Self::Text(text),
            DataRef::Int(number) => Self::Number(whole(*number)),
            DataRef::Float(number) => Self::Number(*number),
            DataRef::Bool(flag) => Self::Flag(*flag),
            DataRef::DateTime(moment) => Self::Moment(*moment),
            DataRef::DateTimeIso(text) => Self::Date(text),
            DataRef::DurationIso(text) => Self::Duration(text),
            DataRef::Error(error) => Self::Fault(error.to_string()),
        }
    }
}

impl<'v> From<&'v Data> for Value<'v> {
    fn from(value: &'v Data) -> Self {
        match value {
            Data::Empty => Self::Empty,
            Data::String(text) => Self::Text(text),
            Data::Int(number) => Self::Number(whole(*number)),
            Data::Float(number) => Self::Number(*number),
            Data::Bool(flag) => Self::Flag(*flag),
            Data::DateTime(moment) => Self::Moment(*moment),
            Data::DateTimeIso(text) => Self::Date(text),
            Data::DurationIso(text) => Self::Duration(text),
            Data::Error(error) => Self::Fault(error.to_string()),
        }
    }
}

impl Value<'_> {
    /// The cell as one would have typed it; `None` where it is empty.
    fn content(&self) -> Option<Content> {
        let plain = |text: String| Some(Content { text, date: false });
        match self {
            Self::Empty => None,
            Self::Text(text) => plain((*text).to_owned()).filter(|c| !c.text.trim().is_empty()),
            // Ten decimals: what is left of a binary fraction behind them was not typed.
            Self::Number(number) if number.abs() < 1e15 => plain(short(*number, 10)),
            Self::Number(number) => plain(format!("{number:e}")),
            Self::Flag(flag) => plain(if *flag { "yes" } else { "no" }.to_owned()),
            Self::Fault(error) => plain(error.clone()),
            Self::Moment(moment) => Some(moment_text(moment)),
            Self::Date(text) => match (text.split_once('T'), text.contains(':')) {
                (Some((date, time)), _) => {
                    let time = time.split(['.', 'Z', '+']).next().unwrap_or_default();
                    Some(Content { text: format!("{date} {time}"), date: true })
                }
                (None, time) => Some(Content { text: (*text).to_owned(), date: !time }),
            },
            Self::Duration(text) => plain(duration(text).unwrap_or_else(|| (*text).to_owned())),
        }
    }
}

/// A date, a time of day, or both: days since an epoch (ECMA-376, part 1, 18.17.4.1).
fn moment_text(moment: &ExcelDateTime) -> Content {
    let days = moment.as_f64();
    let time_only = moment.is_duration() || (0.0..1.0).contains(&days);
    let of_day = if moment.is_duration() { days } else { days - days.floor() };
    let time = clock(of_day * 86_400.0);
    if time_only {
        return Content { text: time, date: false };
    }
    let (year, month, day, ..) = moment.to_ymd_hms_milli();
    let date = format!("{year:04}-{month:02}-{day:02}");
    let text = if of_day < 1e-6 { date } else { format!("{date} {time}") };
    Content { text, date: true }
}

/// Seconds as hours, minutes and seconds; what is left of a second is the rounding of the cell.
fn clock(seconds: f64) -> String {
    let seconds = seconds.abs().min(1e9).round();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded above")]
    let whole = seconds as u64;
    format!("{:02}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
}

/// `PT14H32M05S` as `14:32:05`; `None` for anything else.
fn duration(text: &str) -> Option<String> {
    let (hours, rest) = text.strip_prefix("PT")?.split_once('H')?;
    let (minutes, rest) = rest.split_once('M')?;
    let seconds = rest.strip_suffix('S')?;
    let (hours, minutes): (u32, u32) = (hours.parse().ok()?, minutes.parse().ok()?);
    let seconds: f64 = seconds.replace(',', ".").parse().ok()?;
    Some(clock(f64::from(hours) * 3600.0 + f64::from(minutes) * 60.0 + seconds))
}
