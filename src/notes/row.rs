//! One record to one row of notes: cells read under their headings, ditto marks filled in, faults pointed at.

use std::ops::Range;
use std::sync::Arc;

use crate::finding::{Code, Finding, Place, Spot};
use crate::sourced::Origin;

use super::cell::{self, Wrong, is_blank, is_ditto, is_open};
use super::clips::{ClipCell, clips};
use super::columns::{Column, Heading, Layout, key};
use super::memory::{Above, Memory};
use super::table::{LONE_QUOTE, Record};
use super::{NoteRow, Noted, Target};

/// The longest cell that is read, in bytes: a remark of two pages.
const MAX_CELL: usize = 4000;
/// Bytes that ditto marks may repeat in one file; a mark is small and what it repeats may not be.
const MAX_REPEATED: usize = 8 << 20;
/// The longest line that goes whole into a finding, in bytes.
const MAX_EXCERPT: usize = 400;

/// Reads rows one after the other.
pub(super) struct Rows<'a> {
    file: Arc<str>,
    /// The text as it stands in the file.
    text: &'a str,
    layout: &'a Layout,
    memory: Memory,
    repeated: usize,
    /// Columns without a heading that were found to hold something.
    unheaded: Vec<usize>,
}

impl<'a> Rows<'a> {
    /// A reader of rows of `text`, which stand below the headings of `layout`.
    pub(super) fn new(file: Arc<str>, text: &'a str, layout: &'a Layout) -> Self {
        Self { file, text, layout, memory: Memory::default(), repeated: 0, unheaded: Vec::new() }
    }

    /// Reads one row; its findings come in the order of the cells. `None` where it is empty, repeats the headings,
    /// or cannot be used.
    pub(super) fn read(
        &mut self,
        record: &Record,
        values: &csv::StringRecord,
        findings: &mut Vec<Finding>,
    ) -> Option<NoteRow> {
        let blank = values.iter().all(|value| value.trim().is_empty());
        if blank || self.repeats_header(values) {
            return None;
        }
        if let Some(finding) = self.unusable(record, values) {
            // Ditto marks below would repeat cells of which nobody knows where they belong.
            self.memory = Memory::default();
            findings.push(finding);
            return None;
        }
        let mut found = Vec::new();
        self.unheaded(record, values, &mut found);
        let mut memory = std::mem::take(&mut self.memory);
        let row = self.fields(record, values, &mut memory, &mut found);
        self.memory = memory;
        found.sort_by_key(|(at, _)| *at);
        findings.extend(found.into_iter().map(|(_, finding)| finding));
        row
    }

    fn repeats_header(&self, values: &csv::StringRecord) -> bool {
        let mut known = self
            .layout
            .headings
            .iter()
            .zip(values.iter())
            .filter_map(|((_, h), v)| Some((h.as_ref()?, v)));
        let count = self.layout.headings.iter().filter(|(_, heading)| heading.is_some()).count();
        count <= values.len() && known.all(|(heading, value)| key(&heading.typed) == key(value))
    }

    /// What makes a row unusable as a whole.
    fn unusable(&self, record: &Record, values: &csv::StringRecord) -> Option<Finding> {
        let row = |span: &Range<usize>, message: &str, hint: &str| {
            Finding::new(Code::NotesRow, message).at(self.place(record, span)).hint(hint)
        };
        if let Some(cell) = &record.unpaired {
            return Some(row(
                cell,
                "the quotation marks of this cell do not pair, so its row cannot be told from the next",
                "close the cell with a quotation mark, and write inch marks inside it twice",
            ));
        }
        let width = self.layout.headings.len();
        let filled = |at: &usize| values.get(*at).is_some_and(|value| !value.trim().is_empty());
        let beyond = (width..values.len()).find(filled);
        let shifted = beyond.or_else(|| self.split_number(values))?;
        let span = record.cells.get(shifted).unwrap_or(&record.span);
        Some(row(
            span,
            "this row has more cells than there are headings, so its cells may be shifted",
            "put quotation marks around a cell that holds the sign between cells, such as a decimal comma",
        ))
    }

    /// The cell where a decimal comma may have split a number (`5,6`) and shifted the rest into an empty last cell:
    /// the row is too wide, and whole digits stand before a digit.
    fn split_number(&self, values: &csv::StringRecord) -> Option<usize> {
        if self.layout.delimiter != b',' || values.len() <= self.layout.headings.len() {
            return None;
        }
        let measured = |at: &usize| {
            let heading = self.layout.headings.get(*at).and_then(|(_, h)| h.as_ref());
            let column = heading.map(|heading| heading.column);
            matches!(column, Some(Column::Focal | Column::Stop | Column::Focus))
        };
        let split = |at: &usize| {
            let (before, after) = (values.get(*at).unwrap_or_default(), values.get(at + 1));
            let whole = before.trim().trim_start_matches(['T', 't', 'F', 'f', '/', ' ']);
            !whole.is_empty()
                && whole.bytes().all(|b| b.is_ascii_digit())
                && after.is_some_and(|after| after.trim().starts_with(|c: char| c.is_ascii_digit()))
        };
        (0..values.len()).filter(measured).find(split)
    }

    /// Says once for each column that it has no heading though it is used.
    fn unheaded(
        &mut self,
        record: &Record,
        values: &csv::StringRecord,
        found: &mut Vec<(usize, Finding)>,
    ) {
        for (index, ((title, _), value)) in self.layout.headings.iter().zip(values).enumerate() {
            let used = title.is_empty() && !value.trim().is_empty();
            if !used || self.unheaded.contains(&index) {
                continue;
            }
            self.unheaded.push(index);
            let span = record.cells.get(index).unwrap_or(&record.span);
            let message = format!("column {} has no heading; it is not used", index + 1);
            let finding = Finding::new(Code::NotesHeading, message)
                .at(self.place(record, span))
                .hint("write what the column tells above it");
            found.push((span.start, finding));
        }
    }

    fn fields(
        &mut self,
        record: &Record,
        values: &csv::StringRecord,
        memory: &mut Memory,
        found: &mut Vec<(usize, Finding)>,
    ) -> Option<NoteRow> {
        let mut cells = Cells { rows: self, record, values, found, unread: Vec::new() };
        let roll = cells.read(Column::Roll, &mut memory.roll, cell::words);
        let target = cells.target(&mut memory.clip, roll.as_ref());
        let camera = cells.read(Column::Camera, &mut memory.camera, cell::words);
        let told = cells.found.len();
        let from = cells.read(Column::From, &mut memory.from, cell::from);
        if from.is_none() && cells.found.len() > told {
            // Without its timecode the row would hold for the whole clip.
            if let Some((_, finding)) = cells.found.last_mut() {
                finding.code = Code::NotesRow;
                finding.message.push_str("; the row was not used");
            }
            return None;
        }
        let mode = cells.read(Column::Mode, &mut memory.mode, cell::words);
        let lens = cells.value("lens", Column::Lens, &mut memory.lens, cell::words);
        let focal = cells.value("focal length", Column::Focal, &mut memory.focal, cell::focal);
        let stop = cells.value("stop", Column::Stop, &mut memory.stop, cell::stop);
        let between = &mut memory.attachment;
        let attachment = cells.value("attachment", Column::Attachment, between, cell::attachment);
        let focus = cells.value("focus distance", Column::Focus, &mut memory.focus, cell::focus);
        let slate = cells.read(Column::Slate, &mut memory.slate, cell::words);
        let take = cells.read(Column::Take, &mut memory.take, cell::words);
        let circled = cells.read(Column::Circled, &mut memory.circled, cell::circled);
        let filter = cells.read(Column::Filter, &mut memory.filter, cell::words);
        let remarks = cells.read(Column::Remarks, &mut memory.remarks, cell::words);
        let unread = cells.unread;
        Some(NoteRow {
            place: self.place(record, &record.span),
            line: record.line,
            target: target?,
            roll,
            camera,
            from,
            mode,
            lens,
            focal,
            stop,
            attachment,
            focus,
            slate,
            take,
            circled,
            filter,
            remarks,
            unread,
        })
    }

    /// The place of a cell, or of a whole row. A record begins with a line, so lines are counted within it alone.
    fn place(&self, record: &Record, span: &Range<usize>) -> Place {
        let start = record.span.start;
        let row = self.text.get(record.span.clone()).unwrap_or_default();
        let raw = self.text.get(span.clone()).unwrap_or_default();
        let from = span.start - start + (raw.len() - raw.trim_start().len());
        let inner = from..from + raw.trim().len();
        let mut place = Place::span(self.file.clone(), row, inner);
        if let Spot::Text { line, excerpt, .. } = &mut place.spot {
            *line += record.line - 1;
            // A line of thousands of bytes helps nobody, and a copy of it for each cell would fill the memory.
            *excerpt = excerpt.take().filter(|excerpt| excerpt.line.len() <= MAX_EXCERPT);
        }
        place
    }
}

/// The cells of one record, while they are read.
struct Cells<'r, 'a> {
    /// What stood in the row and could not be read.
    unread: Vec<&'static str>,
    rows: &'r mut Rows<'a>,
    record: &'r Record,
    values: &'r csv::StringRecord,
    found: &'r mut Vec<(usize, Finding)>,
}

impl Cells<'_, '_> {
    /// Reads a cell that others may stand in for; that it was filled and not understood is remembered as `what`.
    fn value<T: Clone>(
        &mut self,
        what: &'static str,
        column: Column,
        above: &mut Above<T>,
        read: impl FnOnce(&str, &Heading) -> Result<T, Wrong>,
    ) -> Option<Noted<T>> {
        let told = self.found.len();
        let noted = self.read(column, above, read);
        if noted.is_none() && self.found.len() > told {
            self.unread.push(what);
        }
        noted
    }

    /// Reads the cell of `column`, and remembers it for the row below.
    fn read<T: Clone>(
        &mut self,
        column: Column,
        above: &mut Above<T>,
        read: impl FnOnce(&str, &Heading) -> Result<T, Wrong>,
    ) -> Option<Noted<T>> {
        let layout = self.rows.layout;
        let (index, heading) = layout.headings.iter().enumerate().find_map(|(index, (_, h))| {
            h.as_ref().filter(|h| h.column == column).map(|h| (index, h))
        })?;
        let text = self.text(index);
        if is_blank(&text, column) {
            *above = Above::Blank;
            return None;
        }
        let understood = if is_ditto(&text) {
            self.repeat(above)
        } else if text.contains(LONE_QUOTE) {
            Err(Wrong {
                what: "opens a quotation mark that is never closed well",
                hint: "close it, and write a quotation mark inside it twice",
            })
        } else if text.len() > MAX_CELL {
            Err(Wrong { what: "is longer than any note", hint: "shorten it to a few lines" })
        } else {
            read(&text, heading).map(|value| (value, text.clone()))
        };
        match understood {
            Ok((value, typed)) => {
                *above = Above::Value(value.clone(), typed.clone());
                Some(Noted {
                    value,
                    typed,
                    origin: Origin::Note {
                        file: self.rows.file.clone(),
                        line: self.record.line,
                        heading: heading.typed.clone(),
                    },
                    place: self.rows.place(self.record, self.span(index)),
                })
            }
            Err(wrong) => {
                *above = Above::Lost;
                // A clip cell that is not understood takes its row with it.
                let code = match column {
                    Column::Clip => Code::NotesRow,
                    _ => Code::NotesCell,
                };
                let message =
                    format!("{} under {} {}", quoted(&text), quoted(&heading.typed), wrong.what);
                self.report(code, self.span(index).clone(), message, wrong.hint);
                None
            }
        }
    }

    /// What a ditto mark repeats.
    fn repeat<T: Clone>(&mut self, above: &Above<T>) -> Result<(T, String), Wrong> {
        let hint = "write the value itself";
        let Above::Value(value, typed) = above else {
            return Err(Wrong {
                what: "repeats a cell above it that says nothing or was not understood",
                hint,
            });
        };
        self.rows.repeated = self.rows.repeated.saturating_add(typed.len());
        if self.rows.repeated > MAX_REPEATED {
            return Err(Wrong { what: "repeats more than is believed of lens notes", hint });
        }
        Ok((value.clone(), typed.clone()))
    }

    /// Which clips the row speaks of; with a finding where it cannot be told.
    fn target(
        &mut self,
        above: &mut Above<ClipCell>,
        roll: Option<&Noted<String>>,
    ) -> Option<Target> {
        let open = self.index(Column::Clip).is_some_and(|index| is_open(&self.text(index)));
        let clip = self.read(Column::Clip, above, |text, _| clips(text));
        let roll = roll.map(|roll| Target::Roll(roll.value.clone()));
        let (message, hint) = match (clip.map(|clip| clip.value), roll) {
            (Some(ClipCell::Names(names)), _) => return Some(Target::Clips(names)),
            // `?` means that somebody does not know which clip: that is not the whole roll.
            (None, _) if open => ("the clip of this row is not known", "write the clip's name"),
            (None, _) if matches!(above, Above::Lost) && self.index(Column::Clip).is_some() => {
                return None;
            }
            (_, Some(roll)) => return Some(roll),
            (Some(ClipCell::WholeRoll), None) => (
                "this row speaks of a whole roll but does not say of which",
                "write the roll in its column",
            ),
            (None, None) => (
                "this row names neither a clip nor a roll",
                "write the clip's name, or the roll for all of its clips",
            ),
        };
        let span = self.record.span.clone();
        self.report(Code::NotesRow, span, message.to_owned(), hint);
        None
    }

    fn report(&mut self, code: Code, span: Range<usize>, message: String, hint: &str) {
        let finding =
            Finding::new(code, message).at(self.rows.place(self.record, &span)).hint(hint);
        self.found.push((span.start, finding));
    }

    fn index(&self, column: Column) -> Option<usize> {
        let mut headings = self.rows.layout.headings.iter();
        headings.position(|(_, h)| h.as_ref().is_some_and(|h| h.column == column))
    }

    /// The trimmed text of a cell; empty where the row is too short to have it.
    fn text(&self, index: usize) -> String {
        let text = self.values.get(index).unwrap_or_default().trim();
        let mut lone = [0; 4];
        if text == LONE_QUOTE.encode_utf8(&mut lone) {
            return "\"".to_owned();
        }
        text.to_owned()
    }

    fn span(&self, index: usize) -> &Range<usize> {
        self.record.cells.get(index).unwrap_or(&self.record.span)
    }
}

/// A cell as a message shows it: on one line, without signs that steer a terminal, and not longer than is readable.
pub(super) fn quoted(text: &str) -> String {
    const SHOWN: usize = 40;
    let steers = |c: char| {
        c.is_control()
            || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    let mut shown: String = text
        .chars()
        .take(SHOWN)
        .map(|c| match c {
            LONE_QUOTE => '"',
            c if steers(c) => ' ',
            c => c,
        })
        .collect();
    if text.chars().nth(SHOWN).is_some() {
        shown.push('…');
    }
    format!("\"{shown}\"")
}
