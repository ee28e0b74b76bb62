//! What lies over a moment: stretches of time, looked up without going through all of them.

/// A stretch of time and whose it is. Any unit; the end is not part of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Span {
    pub(super) start: i64,
    pub(super) end: i64,
    /// Number of the clip.
    pub(super) clip: usize,
}

/// Stretches that begin inside one day and may run past its end, in a tree that knows how far each half reaches.
pub(super) struct Spans {
    /// By start.
    sorted: Vec<Span>,
    /// For the middle of each half of halves, the farthest end in that half.
    reach: Vec<i64>,
    /// Units of a day; counting wraps there.
    day: i64,
}

impl Spans {
    pub(super) fn new(mut spans: Vec<Span>, day: i64) -> Self {
        spans.sort_unstable();
        let mut reach = vec![i64::MIN; spans.len()];
        build(&spans, &mut reach, 0, spans.len());
        Self { sorted: spans, reach, day }
    }

    /// The stretches that share a moment with `start` to `end`, wherever midnight lies: at most `most`, by their start.
    pub(super) fn over(&self, start: i64, end: i64, most: usize) -> Vec<Span> {
        let mut met = Vec::new();
        // The day before runs past midnight into this one, and this one into the next.
        for turn in [self.day, 0, -self.day] {
            self.search((start + turn, end + turn), (0, self.sorted.len()), most, &mut met);
        }
        met.sort_unstable();
        met.dedup();
        met.truncate(most);
        met
    }

    fn search(
        &self,
        asked: (i64, i64),
        (low, high): (usize, usize),
        most: usize,
        met: &mut Vec<Span>,
    ) {
        let middle = usize::midpoint(low, high);
        let (Some(span), Some(reach)) = (self.sorted.get(middle), self.reach.get(middle)) else {
            return;
        };
        if low >= high || *reach <= asked.0 || met.len() >= most {
            return;
        }
        self.search(asked, (low, middle), most, met);
        if span.start < asked.1 {
            if span.end > asked.0 && met.len() < most {
                met.push(*span);
            }
            self.search(asked, (middle + 1, high), most, met);
        }
    }

    /// The stretch that begins nearest to `moment`, across midnight if need be.
    pub(super) fn nearest(&self, moment: i64) -> Option<Span> {
        let at = self.sorted.partition_point(|span| span.start < moment);
        let near = [
            self.sorted.get(at),
            at.checked_sub(1).and_then(|before| self.sorted.get(before)),
            self.sorted.first(),
            self.sorted.last(),
        ];
        let apart = |span: &&Span| {
            let apart = (span.start - moment).rem_euclid(self.day);
            apart.min(self.day - apart)
        };
        near.into_iter().flatten().min_by_key(apart).copied()
    }
}

/// Fills in how far each half of `low` to `high` reaches, and says how far all of it does.
fn build(spans: &[Span], reach: &mut [i64], low: usize, high: usize) -> i64 {
    let middle = usize::midpoint(low, high);
    let Some(own) = spans.get(middle).filter(|_| low < high).map(|span| span.end) else {
        return i64::MIN;
    };
    let (left, right) = (build(spans, reach, low, middle), build(spans, reach, middle + 1, high));
    let all = own.max(left).max(right);
    if let Some(slot) = reach.get_mut(middle) {
        *slot = all;
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every stretch looked at one by one.
    fn plainly(spans: &[Span], (start, end): (i64, i64), day: i64) -> Vec<Span> {
        let meets = |span: &&Span| {
            [day, 0, -day].iter().any(|turn| span.start < end + turn && span.end > start + turn)
        };
        let mut met: Vec<Span> = spans.iter().filter(meets).copied().collect();
        met.sort_unstable();
        met
    }

    #[test]
    fn the_tree_finds_what_a_plain_search_finds() {
        let mut seed = 7u64;
        let mut next = |below: u64| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            i64::try_from((seed >> 33) % below).unwrap()
        };
        for count in [0usize, 1, 2, 3, 10, 100] {
            let spans: Vec<Span> = (0..count)
                .map(|clip| {
                    let start = next(1000);
                    Span {
                        start,
                        end: start + 1 + next(if clip % 10 == 0 { 999 } else { 20 }),
                        clip,
                    }
                })
                .collect();
            let tree = Spans::new(spans.clone(), 1000);
            for _ in 0..300 {
                let start = next(1000);
                let end = start + 1 + next(60);
                assert_eq!(
                    tree.over(start, end, 1000),
                    plainly(&spans, (start, end), 1000),
                    "{start} {end}"
                );
            }
        }
    }

    #[test]
    fn midnight_is_no_border() {
        let spans =
            vec![Span { start: 990, end: 1010, clip: 0 }, Span { start: 40, end: 50, clip: 1 }];
        let tree = Spans::new(spans, 1000);
        let clips =
            |start, end| tree.over(start, end, 9).iter().map(|s| s.clip).collect::<Vec<_>>();
        assert_eq!(clips(5, 6), [0]);
        assert_eq!(clips(10, 11), [0; 0]);
        assert_eq!(clips(995, 1045), [1, 0]);
        assert_eq!(tree.nearest(20).map(|span| span.clip), Some(1));
        assert_eq!(tree.nearest(960).map(|span| span.clip), Some(0));
        assert_eq!(tree.nearest(2).map(|span| span.clip), Some(0));
    }
}
