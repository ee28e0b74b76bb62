//! Text to cells: records and the bytes of each of their cells, so that a finding can point at the very cell.
//!
//! The csv crate says what a cell holds; it does not say where the cell stands. [`Scanner`] walks the same text by the
//! same rules (RFC 4180 with the usual leniency) and keeps the places; a test holds the two together.

use std::ops::Range;

/// Cells of one record whose places are kept. Wider records are counted, and still read.
const MAX_CELLS: usize = 256;

/// Stands for a stray quotation mark while the text goes through the CSV parser: one byte, like the mark.
pub(super) const LONE_QUOTE: char = '\u{1a}';

/// The delimiters that notes come in, the most usual first.
pub(super) const DELIMITERS: [u8; 3] = [b',', b';', b'\t'];

/// Where one record stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Record {
    /// Its bytes, line end excluded.
    pub(super) span: Range<usize>,
    /// Line of its first byte, from 1.
    pub(super) line: u64,
    /// Bytes of its first cells, quotation marks included.
    pub(super) cells: Vec<Range<usize>>,
    /// How many cells it has.
    pub(super) count: usize,
    /// The first cell whose quotation marks do not pair: one that is never closed, or goes on after it was closed.
    pub(super) unpaired: Option<Range<usize>>,
    /// True where the text ends inside quotation marks.
    pub(super) unclosed: bool,
}

/// Walks the records of a text.
pub(super) struct Scanner<'t> {
    bytes: &'t [u8],
    delimiter: u8,
    at: usize,
    line: u64,
}

impl<'t> Scanner<'t> {
    /// From the start of `text`.
    pub(super) fn new(text: &'t str, delimiter: u8) -> Self {
        Self { bytes: text.as_bytes(), delimiter, at: 0, line: 1 }
    }

    /// Reads the next record into `record`; false at the end of the text. Empty lines are no records.
    pub(super) fn read(&mut self, record: &mut Record) -> bool {
        while let Some(byte) = self.peek().filter(|byte| is_line_end(*byte)) {
            self.step(byte);
        }
        record.cells.clear();
        (record.count, record.unpaired, record.unclosed) = (0, None, false);
        (record.line, record.span) = (self.line, self.at..self.at);
        if self.at >= self.bytes.len() {
            return false;
        }
        loop {
            let cell = self.cell(record);
            record.span.end = cell.end;
            record.count += 1;
            if record.cells.len() < MAX_CELLS {
                record.cells.push(cell);
            }
            match self.peek() {
                Some(byte) if byte == self.delimiter => self.at += 1,
                Some(byte) => {
                    self.step(byte);
                    if byte == b'\r' && self.peek() == Some(b'\n') {
                        self.step(b'\n');
                    }
                    return true;
                }
                None => return true,
            }
        }
    }

    /// Where the next record is looked for.
    pub(super) fn at(&self) -> usize {
        self.at
    }

    /// Walks over one cell, up to the delimiter or line end behind it.
    fn cell(&mut self, record: &mut Record) -> Range<usize> {
        let start = self.at;
        let quoted = self.peek() == Some(b'"');
        let closed = !quoted || self.quoted();
        let after_quotes = self.at;
        while let Some(byte) = self.peek() {
            if byte == self.delimiter || is_line_end(byte) {
                break;
            }
            self.at += 1;
        }
        let cell = start..self.at;
        if !closed || (quoted && self.at > after_quotes) {
            record.unpaired.get_or_insert_with(|| cell.clone());
        }
        record.unclosed |= !closed;
        cell
    }

    /// Walks over a quoted part; false where it is never closed. Two quotation marks stand for one.
    fn quoted(&mut self) -> bool {
        self.at += 1;
        while let Some(byte) = self.peek() {
            self.step(byte);
            if byte == b'"' {
                if self.peek() != Some(b'"') {
                    return true;
                }
                self.at += 1;
            }
        }
        false
    }

    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn step(&mut self, byte: u8) {
        self.at += 1;
        self.line += u64::from(byte == b'\n');
    }
}

fn is_line_end(byte: u8) -> bool {
    matches!(byte, b'\r' | b'\n')
}

/// The csv crate's reader over `text`, set as notes need it: rows may be of any length.
pub(super) fn reader(text: &str, delimiter: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter)
        .from_reader(text.as_bytes())
}

/// Makes stray quotation marks harmless: puts [`LONE_QUOTE`] in their place, byte for byte, so that places stay true.
///
/// Lone marks meant as dittos (`C004,",2.8`): a spreadsheet writes that cell as `""""`, which needs no help; a text
/// editor leaves the bare mark, and CSV would take it for the start of a quoted cell and swallow what follows. A line
/// is mended only where that fits better: as it stands it does not give `width` cells, or does not end with the line.
///
/// Marks that open a cell and are never closed well (`C004,"oops,2`) would swallow the rows below; their cell is
/// reported, and its row ends where its line does.
pub(super) fn mend_quotes(text: &str, delimiter: u8, width: usize) -> String {
    let mut mended = text.as_bytes().to_vec();
    let mut replace = |at: usize| {
        if let Some(byte) = mended.get_mut(at) {
            *byte = LONE_QUOTE as u8;
        }
    };
    let mut at = 0;
    let mut record = Record::default();
    while let Some(rest) = text.get(at..).filter(|rest| !rest.is_empty()) {
        let line = rest.split_inclusive('\n').next().unwrap_or(rest);
        if let Some(marks) = lone_quotes(line, rest, delimiter, width) {
            for mark in marks {
                replace(at + mark);
            }
            at += line.len();
            continue;
        }
        // A record may run over several lines; the next one starts where it ends.
        let mut scanner = Scanner::new(rest, delimiter);
        scanner.read(&mut record);
        let swallowing = record.unpaired.as_ref().and_then(|cell| {
            let line_end = rest.get(cell.clone())?.find('\n')?;
            Some((cell.start, cell.start + line_end + 1))
        });
        // What such a mark swallows ends at the next odd mark, so no part of the text is walked over and over.
        if let Some((mark, next_line)) = swallowing {
            replace(at + mark);
            at += next_line;
        } else {
            at += scanner.at().max(1);
        }
    }
    // One ASCII byte took the place of another, so this is still UTF-8.
    String::from_utf8(mended).unwrap_or_else(|_| text.to_owned())
}

/// Places in `line` of quotation marks that are better read as dittos; `rest` is the text from that line on.
fn lone_quotes(line: &str, rest: &str, delimiter: u8, width: usize) -> Option<Vec<usize>> {
    let marks = bare_quotes(line, delimiter);
    let last = *marks.last()?;
    let mut plain = Record::default();
    Scanner::new(line, delimiter).read(&mut plain);
    if plain.unpaired.is_none() && plain.count == width {
        return None;
    }
    let mut bytes = line.as_bytes().to_vec();
    for mark in &marks {
        *bytes.get_mut(*mark)? = LONE_QUOTE as u8;
    }
    let ditto_line = String::from_utf8(bytes).ok()?;
    let mut ditto = Record::default();
    Scanner::new(&ditto_line, delimiter).read(&mut ditto);
    let fits = ditto.unpaired.is_none() && (ditto.count == width || plain.unclosed);
    // `C004,"` at the end of a line may also open a cell that goes on below: then its closing mark is the next one.
    let opens = plain.unclosed
        && line.get(last + 1..).is_some_and(|tail| tail.trim().is_empty())
        && rest.get(line.len()..).is_some_and(|below| closes(below, delimiter));
    (fits && !opens).then_some(marks)
}

/// Places of cells that hold nothing but one quotation mark.
fn bare_quotes(line: &str, delimiter: u8) -> Vec<usize> {
    if !line.contains('"') {
        return Vec::new();
    }
    let mut start = 0;
    let mut marks = Vec::new();
    for cell in line.split(char::from(delimiter)) {
        let lead = cell.len() - cell.trim_start().len();
        if cell.trim() == "\"" {
            marks.push(start + lead);
        }
        start += cell.len() + 1;
    }
    marks
}

/// True where the first quotation mark of `below` stands like a closing one: text before it, cell end behind it.
fn closes(below: &str, delimiter: u8) -> bool {
    let Some((before, after)) = below.split_once('"') else {
        return false;
    };
    let ends = |byte: u8| byte == delimiter || is_line_end(byte);
    let opened = before.bytes().last().is_none_or(ends);
    !opened && after.bytes().next().is_none_or(ends)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// What a cell holds, by the rules of the scanner.
    fn unquoted(raw: &str) -> String {
        let Some(inner) = raw.strip_prefix('"') else {
            return raw.to_owned();
        };
        let mut out = String::new();
        let mut quoted = true;
        let mut rest = inner.chars().peekable();
        while let Some(c) = rest.next() {
            match c {
                '"' if quoted && rest.peek() == Some(&'"') => {
                    rest.next();
                    out.push('"');
                }
                '"' if quoted => quoted = false,
                c => out.push(c),
            }
        }
        out
    }

    fn check(text: &str, delimiter: u8) {
        let mut scanner = Scanner::new(text, delimiter);
        let mut record = Record::default();
        for found in reader(text, delimiter).records() {
            let found = found.unwrap();
            assert!(scanner.read(&mut record), "{text:?}");
            assert_eq!(found.len(), record.count, "{text:?}");
            for (cell, span) in found.iter().zip(&record.cells) {
                assert_eq!(cell, unquoted(&text[span.clone()]), "{text:?}");
            }
            let line = text[..record.span.start].matches('\n').count() + 1;
            assert_eq!(record.line, u64::try_from(line).unwrap(), "{text:?}");
        }
        assert!(!scanner.read(&mut record), "{text:?}");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(256))]
        #[test]
        fn scanner_and_csv_crate_agree(text in "[a,;\t\"\r\n é]{0,40}") {
            for delimiter in DELIMITERS {
                check(&text, delimiter);
            }
        }
    }

    #[test]
    fn lone_quotes_are_dittos_where_that_fits() {
        let q = LONE_QUOTE;
        for (text, width, mended) in [
            ("C004,\",2.8\n", 3, format!("C004,{q},2.8\n")),
            ("\",\",2.8\nC005,a,4\n", 3, format!("{q},{q},2.8\nC005,a,4\n")),
            ("C004,\",\",50\n", 4, format!("C004,{q},{q},50\n")),
            ("C004,2.8,\"\nC005,4,5\n", 3, format!("C004,2.8,{q}\nC005,4,5\n")),
            ("C004, \",\",50\n", 4, format!("C004, {q},{q},50\n")),
            // Marks that are never closed well end with their line.
            ("C4,\"oops,2\nC5,b,2\n", 3, format!("C4,{q}oops,2\nC5,b,2\n")),
            ("C4,\"6\"\",2\nC5,\"b\",2\n", 3, format!("C4,{q}6\"\",2\nC5,\"b\",2\n")),
            // These are CSV as it stands.
            ("C004, \" ,2\n", 3, "C004, \" ,2\n".to_owned()),
            ("C004,\",\",50\n", 3, "C004,\",\",50\n".to_owned()),
            ("C004,\"\"\"\",2.8\n", 3, "C004,\"\"\"\",2.8\n".to_owned()),
            ("C004,2,\"\nwet\"\nC5,4,5\n", 3, "C004,2,\"\nwet\"\nC5,4,5\n".to_owned()),
            ("C004,\"a, b\",\"c\"\"\"\n", 3, "C004,\"a, b\",\"c\"\"\"\n".to_owned()),
        ] {
            assert_eq!(mend_quotes(text, b',', width), mended, "{text:?}");
        }
    }
}
