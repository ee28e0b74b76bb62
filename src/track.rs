//! Values over the frames of a clip: pieces keyed by the frame where each begins. A constant is one piece.

/// Pieces in frame order; the first begins at frame 0, neighbours differ.
#[derive(Clone, Debug, PartialEq)]
pub struct Track<T> {
    first: T,
    later: Vec<(u64, T)>,
}

/// One piece of a [`Track`]: from its first frame up to and without `end`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece<'a, T> {
    /// First frame, counted from the start of the clip.
    pub start: u64,
    /// First frame after the piece; `None` for the last piece, which runs to the end of the clip.
    pub end: Option<u64>,
    /// What holds over these frames.
    pub value: &'a T,
}

impl<T: PartialEq> Track<T> {
    /// The same value over the whole clip.
    pub fn constant(value: T) -> Self {
        Self { first: value, later: Vec::new() }
    }

    /// Lets `value` hold from `frame` on. Pieces are added in rising order of frames; a frame not
    /// after the last one replaces nothing and is refused with `false`. An equal value joins the piece before it.
    pub fn then(&mut self, frame: u64, value: T) -> bool {
        let (last_frame, last) = self.later.last().map_or((0, &self.first), |(f, v)| (*f, v));
        if frame <= last_frame {
            return false;
        }
        if *last != value {
            self.later.push((frame, value));
        }
        true
    }

    /// The pieces in order; never empty.
    pub fn pieces(&self) -> impl Iterator<Item = Piece<'_, T>> {
        let starts =
            std::iter::once((0, &self.first)).chain(self.later.iter().map(|(f, v)| (*f, v)));
        let ends = self.later.iter().map(|(f, _)| Some(*f)).chain(std::iter::once(None));
        starts.zip(ends).map(|((start, value), end)| Piece { start, end, value })
    }

    /// What holds at the first frame.
    pub fn first(&self) -> &T {
        &self.first
    }

    /// What holds at `frame`.
    pub fn at(&self, frame: u64) -> &T {
        let after = self.later.partition_point(|(start, _)| *start <= frame);
        after.checked_sub(1).and_then(|i| self.later.get(i)).map_or(&self.first, |(_, v)| v)
    }

    /// True where one value holds throughout.
    pub fn is_constant(&self) -> bool {
        self.later.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_join_and_keep_order() {
        let mut track = Track::constant("a");
        assert!(track.then(10, "a"));
        assert!(track.is_constant());
        assert!(track.then(20, "b"));
        assert!(!track.then(20, "c"));
        assert!(track.then(30, "c"));
        let spans: Vec<_> = track.pieces().map(|p| (p.start, p.end, *p.value)).collect();
        assert_eq!(spans, [(0, Some(20), "a"), (20, Some(30), "b"), (30, None, "c")]);
        assert_eq!(
            (*track.at(0), *track.at(19), *track.at(20), *track.at(99)),
            ("a", "a", "b", "c")
        );
    }
}
