//! Keys, lengths and values (SMPTE ST 336): the bricks of MXF, of its sets, and of metadata that travels beside pictures.

use crate::header::cursor::Cursor;

/// A universal label: sixteen bytes that name what follows (SMPTE ST 298).
pub type Label = [u8; 16];

/// Two keys are of one kind where they differ only in this byte, the version of the register (SMPTE ST 336, 5.3).
const VERSION: usize = 7;

/// A value with its key.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Triplet<'a> {
    /// What it is.
    pub key: Label,
    /// First byte of the key.
    pub at: usize,
    /// First byte of the value.
    pub body: usize,
    /// The value; shorter than announced where `cut`.
    pub value: &'a [u8],
    /// The bytes end before the value does.
    pub cut: bool,
}

/// One item of a set: a tag, and a value of at most 65,535 bytes (SMPTE ST 336, "local sets").
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Item<'a> {
    /// Which item; what it stands for depends on the set.
    pub tag: u16,
    /// First byte of the tag in the set.
    pub at: usize,
    /// The value.
    pub value: &'a [u8],
}

/// True where `key` begins as `start` does, whatever version of the register it was taken from.
pub fn begins(key: &Label, start: &[u8]) -> bool {
    let mut pairs = key.iter().zip(start).enumerate();
    start.len() <= key.len() && pairs.all(|(at, (a, b))| at == VERSION || a == b)
}

/// A length in the short or the long form of BER: one byte below 128, or a count of bytes and then these
/// (SMPTE ST 336, 5.4). `None` for the indefinite form, for more than eight bytes, and where bytes are missing.
pub fn length(bytes: &[u8]) -> Option<(usize, u64)> {
    let mut cursor = Cursor::new(bytes);
    let first = cursor.u8()?;
    let count = usize::from(first & 0x7F);
    if first < 0x80 {
        return Some((1, first.into()));
    }
    if !(1..=8).contains(&count) {
        return None;
    }
    let digits = cursor.take(count)?;
    let value = digits.iter().fold(0_u64, |value, digit| value << 8 | u64::from(*digit));
    Some((count.saturating_add(1), value))
}

/// The triplets in `bytes`, one behind the other, up to the first that is none.
pub fn triplets(bytes: &[u8]) -> impl Iterator<Item = Triplet<'_>> {
    let mut at = 0_usize;
    std::iter::from_fn(move || {
        let rest = bytes.get(at..)?;
        let key: Label = Cursor::new(rest).array()?;
        let (taken, length) = length(rest.get(16..)?)?;
        let start = taken.saturating_add(16);
        let body = at.saturating_add(start);
        let left = rest.get(start..)?;
        let wanted = usize::try_from(length).unwrap_or(usize::MAX);
        let value = left.get(..wanted.min(left.len()))?;
        let triplet = Triplet { key, at, body, value, cut: wanted > left.len() };
        at = body.saturating_add(value.len());
        Some(triplet)
    })
}

/// The items of a set with tags and lengths of two bytes, up to the first that does not fit.
pub fn items(set: &[u8]) -> impl Iterator<Item = Item<'_>> {
    let mut at = 0_usize;
    std::iter::from_fn(move || {
        let mut cursor = Cursor::new(set.get(at..)?);
        let (tag, length) = (cursor.u16()?, usize::from(cursor.u16()?));
        let item = Item { tag, at, value: cursor.take(length)? };
        at = at.saturating_add(length).saturating_add(4);
        Some(item)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_of_both_forms() {
        type Case<'a> = (&'a [u8], Option<(usize, u64)>);
        let cases: &[Case] = &[
            (&[0x00], Some((1, 0))),
            (&[0x7F], Some((1, 127))),
            (&[0x81, 0x80], Some((2, 128))),
            (&[0x83, 0, 1, 2], Some((4, 258))),
            (&[0x88, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF], Some((9, u64::MAX))),
            (&[0x80], None),
            (&[0x89, 0, 0, 0, 0, 0, 0, 0, 0, 1], None),
            (&[0x84, 0, 0], None),
            (&[], None),
        ];
        for (bytes, wanted) in cases {
            assert_eq!(length(bytes), *wanted, "{bytes:?}");
        }
    }

    #[test]
    fn triplets_and_items_stop_where_bytes_do() {
        let mut bytes = [7_u8; 16].to_vec();
        bytes.extend([6, 0x80, 0x05, 0, 2, 0, 60]);
        for end in 0..=bytes.len() {
            let found: Vec<_> = triplets(&bytes[..end]).collect();
            assert_eq!(found.len(), usize::from(end > 16), "{end}");
            assert!(found.iter().all(|t| t.cut == (end < 23) && t.body == 17));
        }
        let set = &bytes[17..];
        assert_eq!(
            items(set).map(|i| (i.tag, i.value)).collect::<Vec<_>>(),
            [(0x8005, &[0_u8, 60][..])]
        );
        assert_eq!(items(&set[..5]).count(), 0);
        let register = |version| [6, 14, 43, 52, 2, 83, 1, version, 12, 2, 1, 1, 1, 1, 0, 0];
        assert!(begins(&register(9), &register(1)[..14]));
        assert!(!begins(&[0; 16], &[6]));
    }
}
