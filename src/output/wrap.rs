//! Words broken into lines that fit the terminal.

use unicode_width::UnicodeWidthStr;

/// `text` in lines of at most `width` columns. Breaks stand between words alone: a path or name that is longer than a line
/// stays whole, so that it can be copied.
pub(super) fn wrapped(text: &str, width: usize) -> String {
    let mut out = String::with_capacity(text.len());
    let mut used = 0;
    for word in text.split(' ') {
        let wide = word.width();
        if used > 0 && used + 1 + wide > width {
            out.push('\n');
            used = 0;
        } else if used > 0 {
            out.push(' ');
            used += 1;
        }
        out.push_str(word);
        used += wide;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_between_words() {
        assert_eq!(wrapped("a bc def", 4), "a bc\ndef");
        assert_eq!(wrapped("a very-long-name b", 6), "a\nvery-long-name\nb");
        assert_eq!(wrapped("", 6), "");
        // Wide letters take two columns (UAX #11).
        assert_eq!(wrapped("映画 映画", 5), "映画\n映画");
    }
}
