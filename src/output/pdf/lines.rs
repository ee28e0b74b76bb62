//! Text broken into lines that fit.

use super::faces::Fonts;
use super::runs::{clings, runs};

/// How wide a text is at a size.
pub(in crate::output) fn wide(fonts: &Fonts, text: &str, bold: bool, size: f32) -> f32 {
    let at_one = fonts
        .ascii(text, bold)
        .unwrap_or_else(|| runs(fonts, text, bold).iter().map(|run| run.width).sum());
    at_one * size
}

/// A text in lines no wider than `width`, printable. All of it is there: a line that goes on behind a space keeps the
/// space, so that what is copied from the page has its words apart. An empty text has no line.
pub(in crate::output) fn broken(
    fonts: &Fonts,
    text: &str,
    bold: bool,
    size: f32,
    width: f32,
) -> Vec<String> {
    let text = fonts.printable(text);
    let whole = text.trim_end();
    if whole.is_empty() {
        return Vec::new();
    }
    if wide(fonts, whole, bold, size) <= width {
        return vec![whole.to_owned()];
    }
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut used = 0.0;
    for piece in pieces(whole) {
        let visible = wide(fonts, piece.trim_end_matches(' '), bold, size);
        if used + visible > width && !line.is_empty() {
            lines.push(std::mem::take(&mut line));
            used = 0.0;
        }
        if visible <= width {
            line.push_str(piece);
            used += wide(fonts, piece, bold, size);
            continue;
        }
        // Longer than a line: broken where the line ends, but not between a letter and its marks.
        let mut letters = piece.chars().peekable();
        while let Some(letter) = letters.next() {
            let mut cluster = String::from(letter);
            while let Some(mark) = letters.next_if(|next| clings(*next)) {
                cluster.push(mark);
            }
            let more = wide(fonts, &cluster, bold, size);
            if used + more > width && !line.is_empty() && letter != ' ' {
                lines.push(std::mem::take(&mut line));
                used = 0.0;
            }
            line.push_str(&cluster);
            used += more;
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// The text in pieces that a line should not be broken in: words with the spaces behind them, letters of East Asia with
/// the marks that may not begin a line.
fn pieces(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        if rest.is_empty() {
            return None;
        }
        let mut letters = rest.char_indices().peekable();
        let mut end = rest.len();
        while let Some((_, letter)) = letters.next() {
            let Some((at, next)) = letters.peek().copied() else { break };
            if may_break(letter, next) {
                end = at;
                break;
            }
        }
        let (piece, after) = rest.split_at_checked(end)?;
        rest = after;
        Some(piece)
    })
}

/// Where a line may end: a small part of UAX #14 that serves notes, names and paths.
fn may_break(before: char, after: char) -> bool {
    if after == ' ' || clings(after) {
        return false;
    }
    if matches!(before, ' ' | '/' | '\\' | ';') {
        return true;
    }
    let closes = matches!(
        after,
        '\u{3001}'
            | '\u{3002}'
            | '\u{300d}'
            | '\u{300f}'
            | '\u{3011}'
            | '\u{30fc}'
            | '\u{ff01}'
            | '\u{ff09}'
            | '\u{ff0c}'
            | '\u{ff0e}'
            | '\u{ff1a}'
            | '\u{ff1b}'
            | '\u{ff1f}'
            | ')'
            | ','
            | '.'
    );
    let opens = matches!(before, '\u{300c}' | '\u{300e}' | '\u{3010}' | '\u{ff08}' | '(');
    (is_east(before) || is_east(after)) && !closes && !opens
}

/// Ideographs and kana, between any two of which a line may end (UAX #14, class ID).
fn is_east(letter: char) -> bool {
    matches!(letter, '\u{3040}'..='\u{30ff}' | '\u{3400}'..='\u{9fff}' | '\u{f900}'..='\u{faff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(text: &str, width: f32) -> Vec<String> {
        let fonts = Fonts::load().unwrap();
        let lines = broken(&fonts, text, false, 10.0, width);
        for line in &lines {
            assert!(wide(&fonts, line.trim_end(), false, 10.0) <= width + 0.01, "{line}");
        }
        lines
    }

    #[test]
    fn lines_are_broken_at_words_and_nothing_is_lost() {
        assert_eq!(set("one two", 400.0), ["one two"]);
        assert_eq!(set("seven letters", 45.0), ["seven ", "letters"]);
        let long = "W".repeat(300);
        assert_eq!(set(&long, 100.0).concat(), long);
        assert!(set("   ", 100.0).is_empty());
        let path = "cards/A003/clips/A003C007_of_the_day.mov";
        assert_eq!(set(path, 60.0).concat(), path);
        let note = "focus  buzzed, then  4\u{a0}ft, \u{65e5}\u{672c}\u{8a9e}\u{306e}\u{30e1}\u{30e2}\u{3002} na\u{ef}ve";
        assert_eq!(set(note, 40.0).concat(), note);
        assert!(set(note, 40.0).iter().all(|line| !line.starts_with('\u{3002}')));
    }

    #[test]
    fn letters_taken_apart_are_put_together_and_unknown_ones_show_their_code() {
        // NFC of "e" and a combining acute (Unicode 16, UAX #15, figure 3 has the like).
        assert_eq!(set("caf\u{65}\u{301}", 100.0), ["caf\u{e9}"]);
        assert_eq!(set("\u{1112}\u{1161}\u{11ab}", 100.0), ["\u{d55c}"]);
        assert_eq!(set("a\u{e000}\u{202e}\u{1f9ff}", 900.0), ["a\\u{e000}\\u{202e}\\u{1f9ff}"]);
        // A letter for which no composed one exists keeps its mark.
        assert_eq!(set("x\u{301}", 100.0), ["x\u{301}"]);
    }

    #[test]
    fn shaping_gives_each_letter_a_width_and_marks_none() {
        let fonts = Fonts::load().unwrap();
        let w = |text: &str| wide(&fonts, text, false, 1.0);
        assert!((w("x\u{301}") - w("x")).abs() < 1e-4);
        assert!(w("\u{5e9}\u{5dc}\u{5d5}\u{5dd}") > w("\u{5e9}"));
        assert!((w("\u{65e5}") - 1.0).abs() < 0.01, "{}", w("\u{65e5}"));
        assert!((w("a b") - w("a") - w(" b")).abs() < 1e-5);
    }
}
