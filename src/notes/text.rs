//! Bytes to text: which encoding a notes file is in, worked out from the bytes alone.

use std::borrow::Cow;
use std::sync::Arc;

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

use crate::finding::{Code, Finding, Place};

/// The largest notes file that is read. A sheet of a whole production is a few megabytes; more is something else.
pub(super) const MAX_BYTES: usize = 16 << 20;

/// How much of a file is looked at to tell UTF-16 without a mark from other text.
const SAMPLE: usize = 4096;

/// The text of a notes file, with single line feeds for the lone carriage returns of old spreadsheets,
/// and what there is to say about its encoding. `None` where it cannot be text.
pub(crate) fn decode(file: &Arc<str>, bytes: &[u8]) -> (Option<String>, Option<Finding>) {
    let unreadable = |message: String, hint: &str| {
        let finding = Finding::new(Code::NotesUnreadable, message);
        (None, Some(finding.at(Place::file(file.clone())).hint(hint)))
    };
    if bytes.len() > MAX_BYTES {
        let megabytes = bytes.len() >> 20;
        return unreadable(
            format!("the file holds {megabytes} MiB, which nobody types"),
            "keep only the notes in it, or split it by day",
        );
    }
    if bytes.starts_with(b"PK\x03\x04") {
        return unreadable(
            "the file is a spreadsheet document, not CSV".to_owned(),
            "open it in the spreadsheet and save it as CSV (UTF-8)",
        );
    }
    let (encoding, body) = recognise(bytes);
    let (text, damaged) = encoding.decode_without_bom_handling(body);
    // Zero bytes in plenty mean pictures, archives, or UTF-16 that hides itself too well.
    if text.bytes().filter(|byte| *byte == 0).count() > text.len() / 20 {
        return unreadable("the file is not text".to_owned(), "save the notes as CSV (UTF-8)");
    }
    let finding = (encoding != UTF_8 || damaged).then(|| {
        let message = if damaged {
            let name = encoding.name();
            format!("the file was read as {name}, and some of its characters are damaged")
        } else {
            format!("the file was read as {}", encoding.name())
        };
        Finding::new(Code::NotesEncoding, message)
            .at(Place::file(file.clone()))
            .hint("if accents look wrong, save it as CSV (UTF-8)")
    });
    let text = text.trim_start_matches('\u{feff}');
    (Some(one_line_end(text).into_owned()), finding)
}

/// The encoding, and the bytes behind the byte order mark if there is one.
fn recognise(bytes: &[u8]) -> (&'static Encoding, &[u8]) {
    if let Some((encoding, mark)) = Encoding::for_bom(bytes) {
        return (encoding, bytes.get(mark..).unwrap_or_default());
    }
    let sample = bytes.get(..SAMPLE).unwrap_or(bytes);
    // Letters of western sheets, and every comma and line end, have a zero byte in UTF-16.
    let zeros = |offset| sample.iter().skip(offset).step_by(2).filter(|b| **b == 0).count();
    let (high_first, low_first, pairs) = (zeros(0), zeros(1), sample.len() / 2);
    let encoding = if low_first > pairs / 3 && high_first < low_first / 4 {
        UTF_16LE
    } else if high_first > pairs / 3 && low_first < high_first / 4 {
        UTF_16BE
    } else if std::str::from_utf8(bytes).is_ok() {
        UTF_8
    } else {
        WINDOWS_1252
    };
    (encoding, bytes)
}

/// Lone carriage returns become line feeds: the CSV parser ends records at both, but lines are counted by line feeds.
fn one_line_end(text: &str) -> Cow<'_, str> {
    let mut next = text.bytes().skip(1).chain(std::iter::once(0));
    let lone = text.bytes().any(|byte| next.next() != Some(b'\n') && byte == b'\r');
    if !lone {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        let alone = c == '\r' && rest.peek() != Some(&'\n');
        out.push(if alone { '\n' } else { c });
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(bytes: &[u8], text: Option<&str>, code: Option<Code>) {
        let (found, finding) = decode(&"notes.csv".into(), bytes);
        assert_eq!(found.as_deref(), text, "{bytes:?}");
        assert_eq!(finding.map(|f| f.code), code, "{bytes:?}");
    }

    fn utf16(text: &str, order: fn(u16) -> [u8; 2]) -> Vec<u8> {
        text.encode_utf16().flat_map(order).collect()
    }

    #[test]
    fn encodings_are_told_apart() {
        let encoding = Some(Code::NotesEncoding);
        check(b"", Some(""), None);
        check("Clip,Motiv\nÄ".as_bytes(), Some("Clip,Motiv\nÄ"), None);
        check(b"\xef\xbb\xbfClip", Some("Clip"), None);
        check(b"\xef\xbb\xbfCl\xffip", Some("Cl\u{fffd}ip"), encoding);
        check(b"Clip\n\xc4", Some("Clip\nÄ"), encoding);
        check(b"2.8\xbd \x80", Some("2.8½ €"), encoding);
        let text = "Clip;Bühne\r\nC003;∞\r\n";
        for order in [u16::to_le_bytes, u16::to_be_bytes] {
            check(&utf16(text, order), Some(text), encoding);
            let marked = utf16(&format!("\u{feff}{text}"), order);
            check(&marked, Some(text), encoding);
        }
    }

    #[test]
    fn what_is_no_text_is_said_so() {
        let unreadable = Some(Code::NotesUnreadable);
        check(b"PK\x03\x04etc", None, unreadable);
        check(&[0; 40], None, unreadable);
        check(&vec![b'a'; MAX_BYTES + 1], None, unreadable);
    }

    #[test]
    fn lone_carriage_returns_become_line_feeds() {
        check(b"a\rb\r\nc\r\r\nd\r", Some("a\nb\r\nc\n\r\nd\n"), None);
    }
}
