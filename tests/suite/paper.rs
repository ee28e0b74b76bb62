//! The report on paper by itself: whatever is written in it, it is printed, the same way each time.

use chrono::NaiveDate;
use lensmend::annotation::Shoot;
use lensmend::output::report::{Matter, Options, Report, report};
use lensmend::output::{Stamp, paper};
use proptest::prelude::*;

use crate::workshop::DATE;

/// A report of no clips, with words in all places that a document has.
fn with_words(words: &str) -> Report {
    let stamp = Stamp { date: DATE.to_owned(), tool: "lensmend 0".to_owned() };
    let shoot = Shoot { production: Some(words.to_owned()), ..Shoot::default() };
    let mut report = report(&shoot, &Options::default(), &stamp);
    report.dated = NaiveDate::from_ymd_opt(2026, 11, 14);
    report.matters = vec![Matter {
        level: "warning",
        clips: vec![words.to_owned(); 3],
        message: words.to_owned(),
        hint: Some(words.to_owned()),
        code: "lens.stop",
        place: Some(words.to_owned()),
    }];
    report.lenses.rows = vec![vec![words.to_owned(); report.lenses.heads.len()]; 2];
    report
}

/// How many sheets a PDF has, by its own count (ISO 32000-1, 7.7.3.2: `/Count` of the page tree).
fn sheets(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    let counts = text.split("/Count ").skip(1).filter_map(|rest| {
        let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
        digits.parse::<usize>().ok()
    });
    counts.max().unwrap_or(0)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// The library refuses what its standards forbid: letters without a face, codes that mean nothing, private ones.
    #[test]
    fn any_words_can_be_printed(words in prop_oneof![
        "\\PC{0,60}", ".{0,40}", "[a-z\u{300}-\u{36f}\u{5d0}-\u{5ea}\u{627}-\u{64a}\u{200c}\u{200d}\u{fe0f} 0-9]{0,40}",
        "[\u{1100}-\u{11ff}\u{3040}-\u{30ff}\u{4e00}-\u{4eff}\u{ac00}-\u{acff}\u{302a}\u{3099} ]{0,40}",
        "[\u{e000}-\u{f8ff}\u{fff0}-\u{ffff}\u{1f300}-\u{1f64f}\u{0}-\u{1f}]{0,30}",
    ]) {
        let report = with_words(&words);
        let pdf = paper::write(&report).map_err(|error| TestCaseError::fail(format!("{words:?}: {error}")))?;
        prop_assert!(pdf.starts_with(b"%PDF-1.7"));
        prop_assert_eq!(&pdf, &paper::write(&report).unwrap());
    }
}

#[test]
fn words_without_end_go_on_over_sheets_and_are_all_there() {
    let short = sheets(&paper::write(&with_words("short")).unwrap());
    let one = sheets(&paper::write(&with_words(&"word ".repeat(4_000))).unwrap());
    let two = sheets(&paper::write(&with_words(&"word ".repeat(8_000))).unwrap());
    assert!(short < one && one < two, "{short} {one} {two}");
    // Twice the words are about twice the sheets: nothing is cut, and nothing runs on for ever.
    let growth = (two - short) * 10 / (one - short);
    assert!((18..=22).contains(&growth), "{short} {one} {two}");
    let unbroken = sheets(&paper::write(&with_words(&"W".repeat(20_000))).unwrap());
    assert!(unbroken > one, "{unbroken} {one}");
}
