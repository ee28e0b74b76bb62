//! Spreadsheet documents, XLSX (ECMA-376) and ODS (OASIS `OpenDocument`): a sheet of one becomes the same text as CSV
//! would give, so that everything above reads notes in one way.
//!
//! The calamine crate reads them. It takes what a document announces at its word, so `guard` looks first: sizes,
//! counts and repeats that nobody types are refused before anything is made of them.

mod grid;
mod guard;

use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

use calamine::{Data, DataRef, Ods, Range, Reader, SheetType, SheetVisible, Xlsx};

pub(super) use grid::{DATE, LINE_END, Sheet};
use grid::{Filled, Merged};

/// True where bytes are a ZIP archive, as both kinds of document are.
pub(super) fn is_book(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04")
}

/// Why a document, or a sheet of it, is not read.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Refusal {
    pub(super) message: String,
    pub(super) hint: &'static str,
}

impl Refusal {
    fn new(message: impl Into<String>, hint: &'static str) -> Self {
        Self { message: message.into(), hint }
    }

    fn broken() -> Self {
        Self::new(
            "the file is no spreadsheet document that can be read",
            "save it as .xlsx or .ods without a password, or as CSV (UTF-8)",
        )
    }
}

/// A document, opened.
pub(super) struct Book<'b> {
    kind: Kind<'b>,
    /// Cells of ODS that run over several rows, a list a sheet; calamine does not tell.
    merged: Vec<(String, Vec<Merged>)>,
}

enum Kind<'b> {
    Xlsx(Box<Xlsx<Cursor<&'b [u8]>>>),
    Ods(Box<Ods<Cursor<&'b [u8]>>>),
}

/// Runs what another's parser does with hostile bytes; should it panic, the document is broken and the run goes on.
fn kept<T>(work: impl FnOnce() -> Option<T>) -> Result<T, Refusal> {
    catch_unwind(AssertUnwindSafe(work)).ok().flatten().ok_or_else(Refusal::broken)
}

impl<'b> Book<'b> {
    /// Opens a document.
    pub(super) fn open(bytes: &'b [u8]) -> Result<Self, Refusal> {
        let passed = guard::check(bytes)?;
        let kind = if passed.ods {
            kept(|| Some(Kind::Ods(Box::new(Ods::new(Cursor::new(bytes)).ok()?))))?
        } else {
            kept(|| Some(Kind::Xlsx(Box::new(Xlsx::new(Cursor::new(bytes)).ok()?))))?
        };
        Ok(Self { kind, merged: passed.merged })
    }

    /// Names of its sheets in order, each with whether it is shown; sheets of charts alone are none.
    pub(super) fn sheets(&self) -> Vec<(String, bool)> {
        let sheets = match &self.kind {
            Kind::Xlsx(book) => book.sheets_metadata(),
            Kind::Ods(book) => book.sheets_metadata(),
        };
        let tables = sheets.iter().filter(|sheet| sheet.typ == SheetType::WorkSheet);
        tables.map(|sheet| (sheet.name.clone(), sheet.visible == SheetVisible::Visible)).collect()
    }

    /// The cells of a sheet.
    pub(super) fn sheet(&mut self, name: &str) -> Result<Sheet, Refusal> {
        let mut sheet = Filled::default();
        let merged = match &mut self.kind {
            Kind::Xlsx(book) => {
                kept(|| xlsx_cells(book, name, &mut sheet))?;
                kept(|| Some(book.merge_cells_by_sheet_name(name)))?
                    .unwrap_or_default()
                    .into_iter()
                    .map(|area| Merged { column: area.start.1, rows: area.start.0..=area.end.0 })
                    .collect()
            }
            Kind::Ods(book) => {
                let range: Range<Data> = kept(|| book.worksheet_range(name).ok())?;
                let (top, left) = range.start().unwrap_or_default();
                for (row, column, value) in range.used_cells() {
                    let place = |start: u32, at: usize| {
                        start.saturating_add(u32::try_from(at).unwrap_or(u32::MAX))
                    };
                    if !sheet.put((place(top, row), place(left, column)), &value.into()) {
                        break;
                    }
                }
                let own = self.merged.iter().find(|(sheet, _)| sheet == name);
                own.map(|(_, merged)| merged.clone()).unwrap_or_default()
            }
        };
        sheet.finish(&merged)
    }
}

/// Streams the cells of a sheet: a list of what is there, however far apart, never the rectangle around it.
fn xlsx_cells(book: &mut Xlsx<Cursor<&[u8]>>, name: &str, sheet: &mut Filled) -> Option<()> {
    let mut cells = book.worksheet_cells_reader(name).ok()?;
    while let Some(cell) = cells.next_cell().ok()? {
        let value: &DataRef<'_> = cell.get_value();
        if !sheet.put(cell.get_position(), &value.into()) {
            break;
        }
    }
    Some(())
}
