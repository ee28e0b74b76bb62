//! The one seam through which headers are read: bytes at a place, nothing else.
//!
//! Files, slices (tests, fuzzing) and whatever stores come later look the same to the readers above.

use std::io;
use std::sync::Mutex;

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
        let rest = usize::try_from(offset)
            .ok()
            .and_then(|at| self.get(at..))
            .unwrap_or_default();
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
        Self {
            source,
            reads: Mutex::new(Vec::new()),
        }
    }

    /// Place and length of every read so far, in order.
    pub fn reads(&self) -> Vec<(u64, usize)> {
        self.reads.lock().map_or_else(
            |poisoned| poisoned.into_inner().clone(),
            |reads| reads.clone(),
        )
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
