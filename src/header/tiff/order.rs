//! Byte order (TIFF 6.0, section 2): the first two bytes tell it.

/// Order of the bytes of a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    Big,
    Little,
}

/// Order and whether offsets have 64 bits, from the first eight bytes; `None` where they are not those of a TIFF.
pub(super) fn of(head: &[u8]) -> Option<(Order, bool)> {
    match head.get(..8)? {
        [b'I', b'I', 42, 0, ..] => Some((Order::Little, false)),
        [b'M', b'M', 0, 42, ..] => Some((Order::Big, false)),
        [b'I', b'I', 43, 0, 8, 0, 0, 0] => Some((Order::Little, true)),
        [b'M', b'M', 0, 43, 0, 8, 0, 0] => Some((Order::Big, true)),
        _ => None,
    }
}

impl Order {
    /// A number of up to eight bytes; `None` of more or of none.
    pub(super) fn number(self, bytes: &[u8]) -> Option<u64> {
        let mut wide = [0; 8];
        let put = wide.get_mut(..bytes.len()).filter(|put| !put.is_empty())?;
        put.copy_from_slice(bytes);
        if self == Self::Big {
            put.reverse();
        }
        Some(u64::from_le_bytes(wide))
    }

    pub(super) fn u32(self, bytes: [u8; 4]) -> u32 {
        match self {
            Self::Big => u32::from_be_bytes(bytes),
            Self::Little => u32::from_le_bytes(bytes),
        }
    }

    pub(super) fn u64(self, bytes: [u8; 8]) -> u64 {
        match self {
            Self::Big => u64::from_be_bytes(bytes),
            Self::Little => u64::from_le_bytes(bytes),
        }
    }
}
