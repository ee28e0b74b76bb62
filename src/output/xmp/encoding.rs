//! The bytes of a sidecar as text and back: what cannot be turned back into the very same bytes is not touched.

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE};

/// How a file spells its text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spelling {
    encoding: &'static Encoding,
    /// Whether a byte order mark stands at its start.
    marked: bool,
}

/// The text of a file, its byte order mark left out (XML 1.0, 4.3.3 and annex F). The error says why it is none.
pub(super) fn decode(bytes: &[u8]) -> Result<(String, Spelling), String> {
    let spelling = match Encoding::for_bom(bytes) {
        Some((encoding, _)) => Spelling { encoding, marked: true },
        None => Spelling { encoding: unmarked(bytes)?, marked: false },
    };
    let text = spelling.encoding.decode_with_bom_removal(bytes).0.into_owned();
    if spelling.encode(&text).as_deref() == Some(bytes) {
        Ok((text, spelling))
    } else {
        Err(format!("not whole text in {}", spelling.encoding.name()))
    }
}

fn unmarked(bytes: &[u8]) -> Result<&'static Encoding, String> {
    match bytes {
        [b'<', 0, ..] => return Ok(UTF_16LE),
        [0, b'<', ..] => return Ok(UTF_16BE),
        _ => {}
    }
    let Some(declared) = declared(bytes) else { return Ok(UTF_8) };
    let unknown = || format!("in an encoding that is not known here: {declared}");
    // UTF-16 without a mark, and yet with a `<` of one byte, is none.
    let known =
        Encoding::for_label(declared.as_bytes()).filter(|known| known.is_ascii_compatible());
    known.ok_or_else(unknown)
}

/// The encoding that the XML declaration names.
fn declared(bytes: &[u8]) -> Option<String> {
    let head = bytes.strip_prefix(b"<?xml")?;
    let end = head.iter().take(200).position(|byte| *byte == b'>')?;
    let head = std::str::from_utf8(head.get(..end)?).ok()?;
    let value = head.split_once("encoding")?.1.trim_start().strip_prefix('=')?.trim_start();
    let quote = value.chars().next().filter(|quote| ['"', '\''].contains(quote))?;
    Some(value.get(1..)?.split_once(quote)?.0.to_owned())
}

impl Spelling {
    /// True if it is that in which lensmend writes.
    pub(super) fn is_plain(self) -> bool {
        self.encoding == UTF_8 && !self.marked
    }

    /// `text` spelled as the file was. Characters that an old encoding does not have become references of XML;
    /// `None` where the file's encoding is only ever read.
    pub(super) fn encode(self, text: &str) -> Option<Vec<u8>> {
        let mark = if self.marked { "\u{feff}" } else { "" };
        let marked = mark.chars().chain(text.chars());
        if self.encoding == UTF_16LE {
            let units = marked.map(|c| c.encode_utf16(&mut [0; 2]).to_vec());
            return Some(units.flatten().flat_map(u16::to_le_bytes).collect());
        }
        if self.encoding == UTF_16BE {
            let units = marked.map(|c| c.encode_utf16(&mut [0; 2]).to_vec());
            return Some(units.flatten().flat_map(u16::to_be_bytes).collect());
        }
        if self.encoding == UTF_8 {
            return Some([mark, text].concat().into_bytes());
        }
        let (bytes, used, _) = self.encoding.encode(text);
        (used == self.encoding).then(|| bytes.into_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_spelling_goes_there_and_back() {
        let text = "<?xml version=\"1.0\" encoding=\"UTF-16\"?><a>é \u{1f3a5}</a>";
        for (encoding, marked) in
            [(UTF_8, false), (UTF_8, true), (UTF_16LE, false), (UTF_16LE, true), (UTF_16BE, true)]
        {
            let spelling = Spelling { encoding, marked };
            let text = if encoding == UTF_8 { &text.replace("UTF-16", "utf-8") } else { text };
            let bytes = spelling.encode(text).unwrap();
            assert_eq!(decode(&bytes), Ok((text.to_owned(), spelling)), "{spelling:?}");
        }
        let old = b"<?xml version='1.0' encoding='ISO-8859-1'?><a>\xe9</a>";
        let (text, spelling) = decode(old).unwrap();
        assert!(text.contains('é'));
        assert_eq!(spelling.encode("\u{1f3a5}").unwrap(), b"&#127909;");
    }

    #[test]
    fn what_is_no_text_is_refused() {
        assert!(decode(b"<a>\xff</a>").is_err());
        assert!(decode(b"<\0a\0>").is_err(), "half a unit");
        assert!(decode(b"<?xml version='1.0' encoding='ebcdic-cp-us'?><a/>").is_err());
        assert!(decode(b"\xff\xfe<\0\0\xd8").is_err(), "half a pair");
    }
}
