//! What a document may hold before it is read: sizes, counts and repeats, counted and not taken at their word.

use std::io::{self, BufReader, Cursor, Read};

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use zip::ZipArchive;

use super::Refusal;
use super::grid::Merged;

/// Bytes of XML, unpacked: a hundred thousand rows of notes have half of that.
const MOST_UNPACKED: u64 = 128 << 20;
/// Files in the archive.
const MOST_FILES: usize = 2_000;
/// Cells of the rectangles that an ODS spans over all its sheets.
const MOST_CELLS: u64 = 4_000_000;
/// Bytes of text that repeats in an ODS blow up to.
const MOST_REPEATED: u64 = 64 << 20;
/// Cells that run over several rows; more are not followed.
const MOST_MERGED: usize = 100_000;

/// What was learnt on the way.
pub(super) struct Passed {
    /// An `OpenDocument` sheet; else it is taken for XLSX.
    pub(super) ods: bool,
    /// Cells of an ODS that run over several rows, by sheet.
    pub(super) merged: Vec<(String, Vec<Merged>)>,
}

fn too_large() -> Refusal {
    Refusal::new(
        "the document unpacks to more than anybody types",
        "keep only the notes in it, or save the sheet as CSV (UTF-8)",
    )
}

/// Looks a document over. The error says why it is not read.
pub(super) fn check(bytes: &[u8]) -> Result<Passed, Refusal> {
    let broken = |_| Refusal::broken();
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(broken)?;
    if archive.len() > MOST_FILES {
        return Err(too_large());
    }
    let (mut left, mut ods, mut merged) = (MOST_UNPACKED, false, Vec::new());
    for at in 0..archive.len() {
        let file = archive.by_index(at).map_err(|_| Refusal::broken())?;
        let name = file.name().map_err(|_| Refusal::broken())?.to_lowercase();
        let xml = name.rsplit_once('.').is_some_and(|(_, end)| matches!(end, "xml" | "rels"));
        if !xml && name != "mimetype" {
            continue;
        }
        let mut bounded = Counted { inner: file, left, over: false };
        let looked = match name.as_str() {
            "content.xml" => {
                ods = true;
                repeats(&mut bounded).map(|found| merged = found)
            }
            _ if name.ends_with("sharedstrings.xml") => strings(&mut bounded),
            _ => Ok(()),
        };
        // Whatever a reader left is counted too.
        let rest = io::copy(&mut bounded, &mut io::sink());
        if bounded.over {
            return Err(too_large());
        }
        left = bounded.left;
        rest.map_err(|_| Refusal::broken())?;
        looked?;
    }
    Ok(Passed { ods, merged })
}

/// A reader that ends where no more is allowed.
struct Counted<R> {
    inner: R,
    left: u64,
    over: bool,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(buffer)?;
        let count = u64::try_from(read).unwrap_or(u64::MAX);
        if count > self.left {
            self.over = true;
            return Err(io::Error::other("more than is read"));
        }
        self.left -= count;
        Ok(read)
    }
}

/// The table of shared texts announces how many it holds (ECMA-376, part 1, 18.4.9), and room is made for them.
fn strings(xml: &mut impl Read) -> Result<(), Refusal> {
    let mut reader = Reader::from_reader(BufReader::new(xml));
    let mut buffer = Vec::new();
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer) {
            Ok(Event::Start(start) | Event::Empty(start))
                if start.local_name().as_ref() == "sst" =>
            {
                let count = number(&start, "uniqueCount")?.unwrap_or(0);
                return if count > MOST_CELLS { Err(too_large()) } else { Ok(()) };
            }
            Ok(Event::Eof) | Err(_) => return Ok(()),
            Ok(_) => {}
        }
    }
}

/// A whole number of an attribute.
fn number(start: &BytesStart<'_>, name: &str) -> Result<Option<u64>, Refusal> {
    for attribute in start.attributes() {
        let attribute = attribute.map_err(|_| Refusal::broken())?;
        if attribute.key.as_ref() == name {
            let value = attribute.value.trim().parse().map_err(|_| Refusal::broken())?;
            return Ok(Some(value));
        }
    }
    Ok(None)
}

/// The walk over an ODS: how far its cells reach when its repeats are written out.
#[derive(Default)]
struct Walk {
    sheets: Vec<(String, Vec<Merged>)>,
    merged: usize,
    /// Cells of the sheets before this one.
    cells: u64,
    /// Bytes of repeated text.
    bytes: u64,
    row: u64,
    row_repeats: u64,
    column: u64,
    /// Rows and columns that this sheet reaches.
    reach: (u64, u64),
    /// The cell that is open: repeats, and whether its attributes say something.
    open: Option<(u64, bool)>,
    text: u64,
}

impl Walk {
    fn sheet(&mut self, start: &BytesStart<'_>) {
        self.end_sheet();
        let name = start.attributes().flatten().find(|a| a.key.as_ref() == "table:name");
        let name = name.and_then(|a| {
            let name = quick_xml::escape::unescape(&a.value).ok()?.into_owned();
            Some(name)
        });
        self.sheets.push((name.unwrap_or_default(), Vec::new()));
    }

    fn end_sheet(&mut self) {
        self.cells = self.cells.saturating_add(self.reach.0.saturating_mul(self.reach.1));
        (self.row, self.reach) = (0, (0, 0));
    }

    fn cell(&mut self, start: &BytesStart<'_>) -> Result<(), Refusal> {
        let repeats = number(start, "table:number-columns-repeated")?.unwrap_or(1);
        let (mut says, mut bytes) = (false, 0);
        for attribute in start.attributes() {
            let attribute = attribute.map_err(|_| Refusal::broken())?;
            let key = attribute.key.as_ref();
            says |=
                key.starts_with("office:") || key.starts_with("calcext:") || key == "table:formula";
            bytes += u64::try_from(attribute.value.len()).unwrap_or(u64::MAX);
        }
        if let Some(rows) = number(start, "table:number-rows-spanned")?.filter(|rows| *rows > 1)
            && self.merged < MOST_MERGED
        {
            let place = |at: u64| u32::try_from(at).unwrap_or(u32::MAX);
            let last = self.row.saturating_add(rows - 1);
            if let Some((_, merged)) = self.sheets.last_mut() {
                merged.push(Merged {
                    column: place(self.column),
                    rows: place(self.row)..=place(last),
                });
                self.merged += 1;
            }
        }
        (self.open, self.text) = (Some((repeats, says)), bytes);
        Ok(())
    }

    fn end_cell(&mut self) -> Result<(), Refusal> {
        let Some((repeats, says)) = self.open.take() else { return Ok(()) };
        self.column = self.column.saturating_add(repeats);
        if says {
            let times = repeats.saturating_mul(self.row_repeats);
            let blown = self.text.saturating_add(1).saturating_mul(times);
            self.bytes = self.bytes.saturating_add(blown);
            let rows = self.row.saturating_add(self.row_repeats);
            self.reach = (self.reach.0.max(rows), self.reach.1.max(self.column));
        }
        let cells = self.cells.saturating_add(self.reach.0.saturating_mul(self.reach.1));
        let over = cells > MOST_CELLS || self.bytes > MOST_REPEATED;
        if over { Err(too_large()) } else { Ok(()) }
    }
}

/// Cells of an ODS may be repeated, along the row and down (ODF 1.3, part 3, 19.675 and 19.677): a few bytes stand for
/// a sheet of millions. Gives the cells that run over several rows, too.
fn repeats(xml: &mut impl Read) -> Result<Vec<(String, Vec<Merged>)>, Refusal> {
    let mut reader = Reader::from_reader(BufReader::new(xml));
    let mut buffer = Vec::new();
    let mut walk = Walk::default();
    loop {
        buffer.clear();
        let event = reader.read_event_into(&mut buffer).map_err(|_| Refusal::broken())?;
        match &event {
            Event::Start(start) | Event::Empty(start) => match start.name().as_ref() {
                "table:table" => walk.sheet(start),
                "table:table-row" => {
                    walk.row_repeats = number(start, "table:number-rows-repeated")?.unwrap_or(1);
                    walk.column = 0;
                }
                "table:table-cell" | "table:covered-table-cell" => walk.cell(start)?,
                _ => {}
            },
            Event::Text(text) => {
                walk.text += u64::try_from(text.len()).unwrap_or(u64::MAX);
            }
            Event::Eof => break,
            _ => {}
        }
        let ended = match &event {
            Event::End(end) => Some(end.name()),
            Event::Empty(empty) => Some(empty.name()),
            _ => None,
        };
        match ended.as_ref().map(AsRef::as_ref) {
            Some("table:table-cell" | "table:covered-table-cell") => walk.end_cell()?,
            Some("table:table-row") => walk.row = walk.row.saturating_add(walk.row_repeats),
            _ => {}
        }
    }
    Ok(walk.sheets)
}
