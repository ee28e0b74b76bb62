//! The form of a camera report, as asked for on the command line.

use anyhow::{Context, Result, anyhow};

use crate::annotation::Input;
use crate::cli::{DateForm, Decimal, Form, Paper};
use crate::dump::walk::read_input;
use crate::folder::Sources;
use crate::inputs;
use crate::output::calm::calm;
use crate::output::report::{self, Options, Words};

/// Largest file of headings: each word many times over.
const LARGEST: u64 = 1 << 20;

/// Reads the form, and the file of headings with it. The error says what is wrong with that.
pub(super) fn form(asked: &Form, sources: &Sources) -> Result<(Options, Option<Input>)> {
    // Taken apart, so that a new option does not compile until it has its place.
    let Form { paper, date_form, decimal, headings } = asked;
    let mut options = Options {
        paper: match paper {
            Some(Paper::A4) | None => report::Paper::A4,
            Some(Paper::Letter) => report::Paper::Letter,
        },
        dates: match date_form {
            Some(DateForm::Iso) | None => report::DateForm::Iso,
            Some(DateForm::DayFirst) => report::DateForm::DayFirst,
            Some(DateForm::MonthFirst) => report::DateForm::MonthFirst,
            Some(DateForm::Words) => report::DateForm::Words,
        },
        decimal: match decimal {
            Some(Decimal::Point) | None => report::Decimal::Point,
            Some(Decimal::Comma) => report::Decimal::Comma,
        },
        words: Words::default(),
    };
    let Some(path) = headings else { return Ok((options, None)) };
    let name = sources.name(path);
    let bytes = read_input(path, LARGEST)
        .with_context(|| format!("cannot read the headings {}", path.display()))?;
    let text = std::str::from_utf8(&bytes)
        .map_err(|_| anyhow!("the headings {} are not UTF-8 text", calm(&name)))?;
    // Some editors put a mark in front.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    options.words = Words::read(text)
        .map_err(|why| anyhow!("the headings {} cannot be used: {}", calm(&name), calm(&why)))?;
    Ok((options, Some(inputs::input("headings", &name, &bytes))))
}
