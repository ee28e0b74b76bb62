//! Text that cannot steer a terminal: what would move the cursor, clear the screen or turn the writing round is shown, not sent.

/// The text with every letter that steers written out as `\u{1b}`.
pub fn calm(text: &str) -> String {
    let mut calm = String::with_capacity(text.len());
    for letter in text.chars() {
        push(&mut calm, letter);
    }
    calm
}

/// Adds a letter to a text for a terminal.
pub(super) fn push(text: &mut String, letter: char) {
    if steers(letter) {
        text.extend(letter.escape_unicode());
    } else {
        text.push(letter);
    }
}

/// JSON with the letters that steer written as JSON writes them, `\u202e`: it reads back as the same text.
pub(super) fn json(json: &str) -> String {
    let mut calm = String::with_capacity(json.len());
    for letter in json.chars() {
        // JSON is itself free of control characters below U+0020; those above stand in strings only.
        if steers(letter) && letter > ' ' {
            calm.extend(["\\u", &format!("{:04x}", u32::from(letter))]);
        } else {
            calm.push(letter);
        }
    }
    calm
}

/// Control characters (Unicode class Cc), separators of lines, and marks that change the direction of writing (UAX #9).
fn steers(letter: char) -> bool {
    letter.is_control()
        || matches!(letter,
            '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}'
            | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_is_shown_and_json_reads_back() {
        let text = "a\u{1b}[2J\u{9b}\u{202e}b\u{feff}";
        assert_eq!(calm(text), "a\\u{1b}[2J\\u{9b}\\u{202e}b\\u{feff}");
        let written = json(&serde_json::to_string(text).unwrap());
        assert!(!written.chars().any(steers));
        assert_eq!(serde_json::from_str::<String>(&written).unwrap(), text);
    }
}
