//! A seal in what lensmend writes for people to fill in: a digest of all the rest. It holds as long as nobody changed a byte.

use std::ops::Range;

use crate::read_at::sha256;

/// What stands before the digest. It is the first of its kind in a file: nothing that a person typed stands before it.
pub(super) const MARK: &str = "lensmend-sheet:";
/// Stands for the digest while it is worked out. Sixteen digits tell any accident.
pub(super) const OPEN: &str = "0000000000000000";

/// The mark with an open seal, to be put into a file that is sealed afterwards.
pub(super) fn open() -> String {
    format!("{MARK}{OPEN}")
}

/// Seals bytes in which the mark stands; without a mark they stay as they are.
pub(super) fn close(mut bytes: Vec<u8>) -> Vec<u8> {
    let digest = digest(&bytes);
    if let Some(place) = place(&bytes) {
        bytes.splice(place, digest.bytes());
    }
    bytes
}

/// True if the seal of `bytes` holds.
pub(super) fn holds(bytes: &[u8]) -> bool {
    let Some(place) = place(bytes) else { return false };
    let sealed = bytes.get(place.clone()).unwrap_or_default().to_vec();
    let mut opened = bytes.to_vec();
    opened.splice(place, OPEN.bytes());
    digest(&opened).as_bytes() == sealed
}

/// The digest as it stands in a file.
pub(super) fn digest(bytes: &[u8]) -> String {
    sha256(bytes).chars().take(OPEN.len()).collect()
}

/// Where the digest stands.
pub(super) fn place(bytes: &[u8]) -> Option<Range<usize>> {
    let mark = MARK.as_bytes();
    let start = bytes.windows(mark.len()).position(|window| window == mark)? + mark.len();
    let place = start..start + OPEN.len();
    (place.end <= bytes.len()).then_some(place)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seal_holds_until_a_byte_changes() {
        let sealed = close(format!("Lens notes,{}\r\nRoll,Clip\r\n", open()).into_bytes());
        assert!(holds(&sealed));
        assert!(!holds(b"Lens notes") && !holds(b"lensmend-sheet:00"));
        for at in 0..sealed.len() {
            let mut changed = sealed.clone();
            changed[at] ^= 1;
            assert!(!holds(&changed), "byte {at}");
        }
    }
}
