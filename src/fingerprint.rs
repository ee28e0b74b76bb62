//! A fingerprint of many things, so that a later run can tell whether all of them are the same again.

use sha2::{Digest as _, Sha256};

use crate::finding::{Excerpt, Finding, Place, Spot};
use crate::read_at::hexadecimal;

/// Takes things in one after the other. Each carries its length, so that no two rows of things look alike.
#[derive(Clone, Default)]
pub struct Fingerprint {
    digest: Sha256,
    /// What was taken in and not digested yet: many short pieces cost more than one long one.
    waiting: Vec<u8>,
}

/// Bytes that may wait.
const MOST_WAITING: usize = 1 << 14;

impl Fingerprint {
    /// Takes in bytes.
    pub fn bytes(&mut self, bytes: &[u8]) -> &mut Self {
        self.number(size(bytes.len()));
        self.waiting.extend_from_slice(bytes);
        if self.waiting.len() > MOST_WAITING {
            self.digest.update(&self.waiting);
            self.waiting.clear();
        }
        self
    }

    /// Takes in a text.
    pub fn text(&mut self, text: &str) -> &mut Self {
        self.bytes(text.as_bytes())
    }

    /// Takes in a whole number.
    pub fn number(&mut self, number: u64) -> &mut Self {
        self.waiting.extend_from_slice(&number.to_be_bytes());
        self
    }

    /// Takes in something that may be absent; absent is not the same as empty.
    pub fn maybe<T>(&mut self, some: Option<T>, take: impl FnOnce(&mut Self, T)) -> &mut Self {
        self.number(u64::from(some.is_some()));
        if let Some(value) = some {
            take(self, value);
        }
        self
    }

    /// Takes in a list, with how long it is.
    pub fn each<T>(&mut self, all: &[T], mut take: impl FnMut(&mut Self, &T)) -> &mut Self {
        self.number(size(all.len()));
        for one in all {
            take(self, one);
        }
        self
    }

    /// Takes in a finding, word by word.
    pub fn finding(&mut self, finding: &Finding) -> &mut Self {
        let Finding { code, clip, place, message, hint, understood } = finding;
        let text = |print: &mut Self, text: &str| {
            print.text(text);
        };
        self.text(code.word()).text(message);
        self.maybe(clip.as_deref(), text).maybe(hint.as_deref(), text);
        self.maybe(understood.as_deref(), text);
        self.maybe(place.as_ref(), |print, Place { file, spot }| {
            print.text(file);
            match spot {
                Spot::Whole => print.number(0),
                Spot::Byte(offset) => print.number(1).number(*offset),
                Spot::Text { line, column, excerpt, name } => {
                    print.number(2).number(size(*line)).number(size(*column));
                    print.maybe(name.as_deref(), text);
                    print.maybe(excerpt.as_ref(), |print, Excerpt { line, part }| {
                        print.text(line).number(size(part.start)).number(size(part.end));
                    })
                }
            };
        })
    }

    /// SHA-256 of all of it, in hexadecimal.
    pub fn end(mut self) -> String {
        self.digest.update(&self.waiting);
        hexadecimal(&self.digest.finalize())
    }
}

fn size(count: impl TryInto<u64>) -> u64 {
    count.try_into().unwrap_or(u64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_one_thing_ends_and_the_next_begins_counts() {
        let of = |texts: &[&str]| {
            let mut print = Fingerprint::default();
            print.each(texts, |print, text| {
                print.text(text);
            });
            print.end()
        };
        assert_eq!(of(&["ab", "c"]), of(&["ab", "c"]));
        assert_ne!(of(&["ab", "c"]), of(&["a", "bc"]));
        assert_ne!(of(&["ab", ""]), of(&["ab"]));
        let absent = |some: Option<&str>| {
            let mut print = Fingerprint::default();
            print.maybe(some, |print, text| {
                print.text(text);
            });
            print.end()
        };
        assert_ne!(absent(None), absent(Some("")));
        // Long ones are digested on the way.
        let long = "x".repeat(MOST_WAITING * 3);
        assert_ne!(of(&[&long, "a"]), of(&[&long, "b"]));
    }
}
