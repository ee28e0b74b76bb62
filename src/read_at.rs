//! The one seam through which headers are read: bytes at a place, nothing else.
//!
//! Files, slices (tests, fuzzing) and whatever stores come later look the same to the readers above.

use std::io;
use std::sync::Mutex;

use sha2::{Digest as _, Sha256};
use twox_hash::XxHash3_128;

/// Bytes that can be read at any place.
pub trait ReadAt: Sync {
    /// Bytes in all.
    fn size(&self) -> u64;

    /// Reads at `offset` into `buffer` and says how many bytes came; fewer than asked only at the end.
    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> io::Result<usize>;
}

impl ReadAt for [u8] {
    fn size(&self) -> u64 {
        u64::try_from(self.len()).unwrap_or(u64::MAX)
    }

    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> io::Result<usize> {
        let rest = usize::try_from(offset).ok().and_then(|at| self.get(at..)).unwrap_or_default();
        let count = rest.len().min(buffer.len());
        let (Some(to), Some(from)) = (buffer.get_mut(..count), rest.get(..count)) else {
            return Ok(0);
        };
        to.copy_from_slice(from);
        Ok(count)
    }
}

/// Slices have no size of their own, so only a reference to one can be handed on as `&dyn ReadAt`.
impl<T: ReadAt + ?Sized> ReadAt for &T {
    fn size(&self) -> u64 {
        (**self).size()
    }

    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> io::Result<usize> {
        (**self).read_at(offset, buffer)
    }
}

/// A source that remembers every read, so that a benchmark can repeat them and a test can count them.
pub struct Watched<'a> {
    source: &'a dyn ReadAt,
    reads: Mutex<Vec<(u64, usize)>>,
}

impl<'a> Watched<'a> {
    /// Watches `source`.
    pub fn new(source: &'a dyn ReadAt) -> Self {
        Self { source, reads: Mutex::new(Vec::new()) }
    }

    /// Place and length of every read so far, in order.
    pub fn reads(&self) -> Vec<(u64, usize)> {
        self.reads
            .lock()
            .map_or_else(|poisoned| poisoned.into_inner().clone(), |reads| reads.clone())
    }
}

impl ReadAt for Watched<'_> {
    fn size(&self) -> u64 {
        self.source.size()
    }

    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.source.read_at(offset, buffer)?;
        if let Ok(mut reads) = self.reads.lock() {
            reads.push((offset, count));
        }
        Ok(count)
    }
}

/// A source that takes a digest of everything read through it, place by place.
pub struct Digested<'a> {
    source: &'a dyn ReadAt,
    digest: Mutex<Sha256>,
}

impl<'a> Digested<'a> {
    /// Digests what is read of `source`.
    pub fn new(source: &'a dyn ReadAt) -> Self {
        Self { source, digest: Mutex::new(Sha256::new()) }
    }

    /// SHA-256 over place, length and bytes of every read so far, in hexadecimal; `None` if a reader broke off.
    pub fn sha256(self) -> Option<String> {
        Some(hexadecimal(&self.digest.into_inner().ok()?.finalize()))
    }
}

impl ReadAt for Digested<'_> {
    fn size(&self) -> u64 {
        self.source.size()
    }

    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.source.read_at(offset, buffer)?;
        if let (Ok(mut digest), Some(bytes)) = (self.digest.lock(), buffer.get(..count)) {
            digest.update(offset.to_be_bytes());
            digest.update(u64::try_from(count).unwrap_or(u64::MAX).to_be_bytes());
            digest.update(bytes);
        }
        Ok(count)
    }
}

/// SHA-256 of `bytes`, in hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

/// XXH3 of 128 bits of `bytes`, in hexadecimal as its authors print it: many times quicker than [`sha256`], and as good at
/// telling that nobody touched a file. No proof against somebody who means to deceive.
pub fn xxh128(bytes: &[u8]) -> String {
    hexadecimal(&XxHash3_128::oneshot(bytes).to_be_bytes())
}

/// The hashes under which a file was written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Hashes {
    /// SHA-256, in hexadecimal; empty if the file could not be made.
    pub sha256: String,
    /// XXH3 of 128 bits, in hexadecimal; empty where it was not taken.
    pub xxh128: String,
}

impl Hashes {
    /// Both hashes of `bytes`.
    pub fn of(bytes: &[u8]) -> Self {
        Self { sha256: sha256(bytes), xxh128: xxh128(bytes) }
    }

    /// The one hash that is known.
    pub fn sha256(sha256: String) -> Self {
        Self { sha256, xxh128: String::new() }
    }

    /// True if `bytes` are those that were hashed.
    pub fn fit(&self, bytes: &[u8]) -> bool {
        if self.xxh128.is_empty() {
            return sha256(bytes) == self.sha256;
        }
        xxh128(bytes) == self.xxh128
    }
}

/// Bytes in hexadecimal.
pub fn hexadecimal(bytes: &[u8]) -> String {
    let digit = |value: u8| char::from_digit(value.into(), 16).unwrap_or('0');
    bytes.iter().flat_map(|byte| [digit(byte >> 4), digit(byte & 15)]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn either_hash_tells_a_file_from_another() {
        let both = Hashes::of(b"abc");
        // FIPS 180-4, example of one block; XXH128 of nothing from the sanity tests of the xxHash specification, from memory.
        assert!(both.sha256.starts_with("ba7816bf8f01cfea"));
        assert_eq!(xxh128(b""), "99aa06d3014798d86001c324468d497f");
        let old = Hashes { xxh128: String::new(), ..both.clone() };
        for hashes in [both, old] {
            assert!(hashes.fit(b"abc") && !hashes.fit(b"abd") && !hashes.fit(b""));
        }
    }
}
