//! The sheet as a workbook: cells that keep what is typed, and the names of the kit to choose from.

use anyhow::{Context, Result};
use rust_xlsxwriter::{
    Color, DataValidation, DataValidationErrorStyle, DocProperties, ExcelDateTime, Format,
    FormatAlign, FormatBorder, Formula, IgnoreError, Workbook, Worksheet,
};

use crate::output::Stamp;
use crate::output::calm::calm;
use crate::output::table::harmless;
use crate::sheet::{Choice, Column, Legend, Sheet};

use super::{parts, seal, usual};

/// Rows below the prepared ones in which the lists are offered too: for changes inside clips.
const SPARE: u32 = 200;
/// The mark that repeats the cell above; offered in every list, so that it is not complained of.
const DITTO: &str = "\"";
/// Name of the sheet that is filled in, and of the one that holds the lists.
const NOTES: &str = "Notes";
const KIT: &str = "Kit";

/// A list to choose from, and how it is offered.
struct List {
    column: fn(Column) -> bool,
    heading: &'static str,
    choices: Vec<Choice>,
    /// What to say of a word that is not in the list; `None` where any word may be written.
    otherwise: Option<&'static str>,
}

/// The sheet as a workbook (ECMA-376), sealed. The date is that of the stamp.
pub(super) fn write(sheet: &Sheet, stamp: &Stamp) -> Result<Vec<u8>> {
    let lists = lists(&sheet.legend);
    let mut book = Workbook::new();
    let date = stamp.date.trim_end_matches('Z');
    let date = ExcelDateTime::parse_from_str(date)
        .with_context(|| format!("a workbook cannot carry the date {}", stamp.date))?;
    let properties = DocProperties::new()
        .set_title("Lens notes")
        .set_creation_datetime(&date)
        .set_custom_property("Seal", seal::open());
    book.set_properties(&properties);
    let kit = kit_sheet(&lists)?;
    book.push_worksheet(notes_sheet(sheet, &lists)?);
    book.push_worksheet(kit);
    let bytes = book.save_to_buffer()?;
    parts::read(&bytes).context("the workbook cannot be read back")?.sealed("lensmend")
}

/// What can be chosen, each list in two columns of the sheet of the kit.
fn lists(legend: &Legend) -> Vec<List> {
    let word = |write: &str, about: &str| Choice { write: write.into(), about: about.into() };
    let ditto = || word(DITTO, "as above");
    let with = |choices: &[Choice], more: Vec<Choice>| {
        // What a spreadsheet may take for a formula is not offered: choosing it types it.
        let calm = |choice: &Choice| word(&calm(&choice.write), &calm(&choice.about));
        let safe = |choice: &Choice| harmless(&choice.write) == choice.write;
        choices.iter().map(calm).filter(safe).chain(more).collect::<Vec<_>>()
    };
    let stops: Vec<Choice> = Legend::stops().iter().map(|stop| word(stop, "")).collect();
    let named = |heading, column, choices: &[Choice], more, otherwise| {
        // Of an empty kit nothing is known, so no word is wrong.
        let otherwise = if choices.is_empty() { None } else { Some(otherwise) };
        List { column, heading, choices: with(choices, more), otherwise }
    };
    let mut lists = vec![
        named(
            "Lenses",
            |column| column == Column::Lens,
            &legend.lenses,
            vec![ditto()],
            "This is no lens of the kit by this name. Keep it if it is right, and add the lens to kit.toml.",
        ),
        named(
            "Attachments",
            |column| column == Column::Attachment,
            &legend.attachments,
            vec![word("none", "a bare camera"), ditto()],
            "This is no attachment of the kit by this name. Keep it if it is right, and add it to kit.toml.",
        ),
        List {
            column: |column| column == Column::Stop,
            heading: "Stops",
            choices: with(&stops, vec![ditto()]),
            otherwise: None,
        },
        List {
            column: |column| column == Column::Circled,
            heading: "Circled takes",
            choices: vec![word("x", "circled")],
            otherwise: None,
        },
    ];
    if !legend.modes.is_empty() {
        lists.push(named(
            "Modes",
            |column| column == Column::Mode,
            &legend.modes,
            vec![ditto()],
            "This is no recording mode of the kit. Keep it if it is right, and add it to kit.toml.",
        ));
    }
    lists
}

fn kit_sheet(lists: &[List]) -> Result<Worksheet> {
    let mut page = Worksheet::new();
    page.set_name(KIT)?;
    for (at, list) in (0_u16..).step_by(2).zip(lists) {
        page.write_string_with_format(0, at, list.heading, &heading())?;
        page.write_string_with_format(0, at + 1, "", &heading())?;
        for (row, choice) in (1..).zip(&list.choices) {
            page.write_string_with_format(row, at, choice.write.as_str(), &text())?;
            page.write_string_with_format(row, at + 1, choice.about.as_str(), &recorded())?;
        }
        page.set_column_width(at, 22)?;
        page.set_column_width(at + 1, 26)?;
        let last = u32::try_from(list.choices.len()).unwrap_or(u32::MAX);
        page.ignore_error_range(1, at, last.max(1), at, IgnoreError::NumberStoredAsText)?;
    }
    page.set_freeze_panes(1, 0)?;
    Ok(page)
}

fn notes_sheet(sheet: &Sheet, lists: &[List]) -> Result<Worksheet> {
    let mut page = Worksheet::new();
    page.set_name(NOTES)?;
    let title = Format::new().set_bold().set_font_size(14);
    let name =
        sheet.production.as_deref().map_or_else(String::new, |title| format!(": {}", calm(title)));
    page.write_string_with_format(0, 0, format!("Lens notes{name}"), &title)?;
    page.write_string_with_format(
        1,
        0,
        "A ditto mark repeats the cell above; an empty cell says nothing. For a change inside a clip add a row for the clip, with the timecode under From.",
        &recorded(),
    )?;
    let mut top = 2;
    for line in usual(sheet) {
        page.write_string_with_format(top, 0, line, &recorded())?;
        top += 1;
    }
    let prepared = u32::try_from(sheet.rows()).context("more rows than a workbook has")?;
    let end = (top + prepared).saturating_add(SPARE);
    for (at, column) in (0_u16..).zip(&sheet.columns) {
        let format = if column.is_recorded() { recorded() } else { text() };
        page.set_column_width(at, width(*column))?;
        page.set_column_format(at, &format)?;
        page.write_string_with_format(top, at, column.heading(), &heading())?;
        if let Some(advice) = column.advice() {
            let advice = DataValidation::new().allow_any_value().set_input_message(advice)?;
            page.add_data_validation(top, at, top, at, &advice)?;
        }
        let cell = format.set_border(FormatBorder::Hair);
        let rows = sheet.rolls.iter().flat_map(|roll| &roll.rows);
        for (row, line) in (top + 1..).zip(rows) {
            page.write_string_with_format(row, at, calm(line.prefilled(*column)), &cell)?;
        }
        if let Some((place, list)) =
            (0_u16..).step_by(2).zip(lists).find(|(_, list)| (list.column)(*column))
        {
            page.add_data_validation(top + 1, at, end, at, &choice(place, list)?)?;
        }
    }
    let last = u16::try_from(sheet.columns.len()).unwrap_or(u16::MAX).saturating_sub(1);
    page.ignore_error_range(top + 1, 0, end, last, IgnoreError::NumberStoredAsText)?;
    page.set_row_height(top, 30)?;
    page.set_freeze_panes(top + 1, 2)?;
    page.set_repeat_rows(top, top)?;
    page.set_landscape().set_print_fit_to_pages(1, 0);
    page.set_active(true);
    Ok(page)
}

/// The drop-down list of the choices that stand in column `place` of the sheet of the kit.
fn choice(place: u16, list: &List) -> Result<DataValidation> {
    // Ten lists in twenty columns stay within the first letters.
    let letter = char::from_u32(u32::from('A') + u32::from(place)).unwrap_or('A');
    let range = format!("={KIT}!${letter}$2:${letter}${}", list.choices.len() + 1);
    let offered = DataValidation::new().allow_list_formula(Formula::new(range));
    Ok(match list.otherwise {
        Some(words) => offered
            .set_error_style(DataValidationErrorStyle::Warning)
            .set_error_title("Not in the kit")?
            .set_error_message(words)?,
        None => offered.show_error_message(false),
    })
}

fn heading() -> Format {
    Format::new()
        .set_bold()
        .set_text_wrap()
        .set_align(FormatAlign::VerticalCenter)
        .set_background_color(Color::RGB(0xE9_E6DF))
        .set_border_bottom(FormatBorder::Thin)
}

/// Cells to be filled in: what is typed stays as it was typed. A spreadsheet would make a date of the slate 5/6.
fn text() -> Format {
    Format::new().set_num_format("@").set_align(FormatAlign::Top)
}

/// What is there to be read.
fn recorded() -> Format {
    text().set_font_color(Color::RGB(0x6B_6B6B))
}

fn width(column: Column) -> f64 {
    match column {
        Column::Clip | Column::RecordedStart | Column::From => 14.0,
        Column::Lens | Column::RecordedLens => 18.0,
        Column::Attachment => 16.0,
        Column::Remarks => 40.0,
        Column::RecordedDuration | Column::RecordedFocal | Column::Focus(_) | Column::Filter => {
            11.0
        }
        _ => 9.0,
    }
}
