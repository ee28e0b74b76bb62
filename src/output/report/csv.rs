//! `report.csv`: a row a line of the form, every column a column of its own, under the headings of the page.

use anyhow::Result;

use super::super::table::harmless;
use super::{Column, Decimal, Report};

/// The table as CSV (RFC 4180), UTF-8. With a decimal comma fields are parted by semicolons, as spreadsheets of such
/// places expect (common practice, no source).
pub fn write(report: &Report) -> Result<Vec<u8>> {
    let parted = match report.options.decimal {
        Decimal::Point => b',',
        Decimal::Comma => b';',
    };
    let mut writer = csv::WriterBuilder::new()
        .delimiter(parted)
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    let headings = Column::ALL.iter().map(|column| report.options.say(column.word()));
    writer.write_record(headings.map(|heading| harmless(&heading)))?;
    let rolls = report.days.iter().flat_map(|day| &day.rolls);
    for line in rolls.flat_map(|roll| &roll.clips).flat_map(|clip| &clip.lines) {
        let texts = line.cells.iter().map(|cell| match cell.order {
            // A number is no formula, whatever its decimal sign.
            Some(_) => cell.text.clone(),
            _ => harmless(&cell.text),
        });
        writer.write_record(texts)?;
    }
    Ok(writer.into_inner()?)
}
