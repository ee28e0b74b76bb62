//! The last chunk of a plate: whether all of its pixels are there (OpenEXR, "File Layout", "Chunk layout").

use crate::read_at::ReadAt;

use super::piece;

/// The flags of the version word for a file of one part: tiles, and deep data.
const TILED: u32 = 0x200;
const DEEP: u32 = 0x800;

/// How the chunks of a part begin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    /// A row, and the size of its pixels.
    Lines,
    /// Four numbers of the tile, and the size of its pixels.
    Tiles,
    /// A row, and the sizes of its counts and samples.
    DeepLines,
    /// Four numbers of the tile, and the same sizes.
    DeepTiles,
}

impl Shape {
    /// By the attribute `type` of the part, or, where a file of one part has none, by the flags of its version.
    pub(super) fn of(holds: &[u8], version: u32, several: bool) -> Result<Self, String> {
        match holds {
            b"scanlineimage" => Ok(Self::Lines),
            b"tiledimage" => Ok(Self::Tiles),
            b"deepscanline" => Ok(Self::DeepLines),
            b"deeptile" => Ok(Self::DeepTiles),
            b"" if !several && version & DEEP == 0 => {
                Ok(if version & TILED == 0 { Self::Lines } else { Self::Tiles })
            }
            _ => Err("its header does not say what kind of pixels it holds".to_owned()),
        }
    }

    /// Bytes before the sizes: of the row or of the tile.
    fn lead(self) -> u64 {
        match self {
            Self::Lines | Self::DeepLines => 4,
            Self::Tiles | Self::DeepTiles => 16,
        }
    }

    fn is_deep(self) -> bool {
        matches!(self, Self::DeepLines | Self::DeepTiles)
    }
}

/// Holds that the chunk at `offset`, the last of the file, ends inside of it.
pub(super) fn whole(
    source: &dyn ReadAt,
    offset: u64,
    shapes: &[Shape],
    several: bool,
) -> Result<(), String> {
    let missing = || "pixels are missing at its end: it was cut off".to_owned();
    // The longest beginning: number of the part, tile, and three sizes of eight bytes.
    let head = piece(source, offset, 44)?;
    let number = |at: u64, long: usize| {
        let at = usize::try_from(at).ok()?;
        let bytes = head.get(at..at.checked_add(long)?)?;
        let mut whole = [0; 8];
        whole.get_mut(..long)?.copy_from_slice(bytes);
        Some(u64::from_le_bytes(whole))
    };
    let (part, begin) = if several { (number(0, 4).ok_or_else(missing)?, 4) } else { (0, 0) };
    let shape = usize::try_from(part).ok().and_then(|part| shapes.get(part));
    let shape = shape.ok_or("its last pixels are of a part that it does not have")?;
    let sizes = begin + shape.lead();
    let end = if shape.is_deep() {
        // Counts packed, samples packed, samples unpacked: the first two stand in the file.
        let (counts, samples) = (number(sizes, 8), number(sizes + 8, 8));
        let both = counts.zip(samples).ok_or_else(missing)?;
        both.0.checked_add(both.1).and_then(|long| long.checked_add(sizes + 24))
    } else {
        number(sizes, 4).ok_or_else(missing)?.checked_add(sizes + 4)
    };
    let end = end.and_then(|long| offset.checked_add(long));
    if end.is_none_or(|end| end > source.size()) {
        return Err(missing());
    }
    Ok(())
}
