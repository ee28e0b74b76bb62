//! Rows of text that fit a width. The font is the reader's own, so widths are estimated, and rather too wide.

use unicode_width::UnicodeWidthChar;

use super::calm::calm;

/// Most letters of one text that a drawing carries; a name has fewer.
const MOST_LETTERS: usize = 400;

/// The text in rows no wider than `width` at letters of `size`, at most `most` of them; what is cut ends in an ellipsis.
/// Hard spaces (U+00A0) hold: a number stays with its unit.
pub(super) fn rows(text: &str, size: f64, width: f64, most: usize) -> Vec<String> {
    let text = brief(text);
    let mut rows: Vec<String> = Vec::new();
    let mut row = String::new();
    for word in text.split_ascii_whitespace() {
        let longer = if row.is_empty() { word.to_owned() } else { format!("{row} {word}") };
        if wide(&longer, size) <= width {
            row = longer;
            continue;
        }
        if !row.is_empty() {
            rows.push(std::mem::take(&mut row));
        }
        // A word longer than a row is broken where the row ends.
        for letter in word.chars() {
            if wide(&row, size) + letter_wide(letter, size) > width && !row.is_empty() {
                rows.push(std::mem::take(&mut row));
            }
            row.push(letter);
        }
    }
    if !row.is_empty() {
        rows.push(row);
    }
    if rows.len() > most {
        rows.truncate(most);
        if let Some(last) = rows.last_mut() {
            while !last.is_empty() && wide(last, size) + letter_wide('\u{2026}', size) > width {
                last.pop();
            }
            last.push('\u{2026}');
        }
    }
    rows
}

/// The text made calm and cut to what a drawing carries.
pub(super) fn brief(text: &str) -> String {
    // The end of a line is no more than a space here, and need not be shown as an escape.
    let mut letters =
        text.chars().map(|letter| if letter.is_ascii_whitespace() { ' ' } else { letter });
    let mut brief = calm(&letters.by_ref().take(MOST_LETTERS).collect::<String>());
    if letters.next().is_some() {
        brief.push('\u{2026}');
    }
    brief
}

/// About how wide a text is, in the unit of `size`.
pub(super) fn wide(text: &str, size: f64) -> f64 {
    text.chars().map(|letter| letter_wide(letter, size)).sum()
}

/// Parts of the size of letters, a little above those of common sans-serif fonts.
fn letter_wide(letter: char, size: f64) -> f64 {
    let part = match letter {
        'i' | 'j' | 'l' | 'I' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | ' ' | '\u{a0}' => 0.36,
        'm' | 'w' | 'M' | 'W' | '@' | '%' | '\u{2026}' => 1.0,
        'f' | 'r' | 't' | '(' | ')' | '/' => 0.45,
        'A'..='Z' => 0.76,
        letter => match letter.width() {
            Some(0) => 0.0,
            Some(2) => 1.1,
            _ => 0.64,
        },
    };
    part * size
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_broken_at_words_and_cut_with_an_ellipsis() {
        assert_eq!(rows("one two", 10.0, 200.0, 2), ["one two"]);
        assert_eq!(rows("seven letters", 10.0, 60.0, 2), ["seven", "letters"]);
        let cut = rows(&"W".repeat(3000), 10.0, 100.0, 2);
        assert_eq!(cut.len(), 2);
        assert!(cut.iter().all(|row| wide(row, 10.0) <= 100.0), "{cut:?}");
        assert!(cut.last().unwrap().ends_with('\u{2026}'));
        assert!(rows(" \n ", 10.0, 100.0, 2).is_empty());
    }
}
