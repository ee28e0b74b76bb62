//! Lens data of frame after frame, kept as pieces over which nothing changes.

use crate::finding::{Code, Finding, Place};
use crate::recorded::{LensData, Reading, Recorded};
use crate::units::Unit;

/// Most pieces of one file. Beyond it a table of pieces tells a person nothing, and outputs would grow with the clip.
const MOST_PIECES: usize = 500;

/// The pieces so far.
#[derive(Default)]
pub(super) struct Pieces {
    pieces: Vec<(u64, LensData)>,
    crowded: Option<u64>,
}

impl Pieces {
    /// Adds what is said at `frame`; frames come in order. False once there are too many pieces.
    pub(super) fn add(&mut self, frame: u64, data: LensData) -> bool {
        let full = self.pieces.len() >= MOST_PIECES;
        match self.pieces.last_mut() {
            Some((_, last)) if same(last, &data) => {}
            // What stands before the first frame shown holds until another sample says otherwise.
            Some((at, last)) if *at == frame => *last = data,
            _ if full => {
                self.crowded = Some(frame);
                return false;
            }
            _ => self.pieces.push((frame, data)),
        }
        true
    }

    /// Hands the pieces to `recorded`; where they end too early that is a finding at `offset`. `whole` is false where
    /// samples were left out.
    pub(super) fn finish(
        mut self,
        whole: bool,
        (file, offset): (&str, u64),
        recorded: &mut Recorded,
        findings: &mut Vec<Finding>,
    ) {
        let nothing = LensData { lens: recorded.lens.clone(), ..LensData::default() };
        // A track that never speaks of the lens leaves what the file says elsewhere.
        if self.crowded.is_none() && self.pieces.iter().all(|(_, data)| same(data, &nothing)) {
            return;
        }
        let mut say = |message: String, hint: &str| {
            let finding = Finding::new(Code::MediaPerFrame, message);
            findings.push(finding.at(Place::byte(file, offset)).hint(hint));
        };
        if let Some(frame) = self.crowded {
            // A value known to be stale is worse than none.
            self.pieces.push((frame, nothing));
            let message = format!(
                "the lens data changes more than {MOST_PIECES} times; from frame {frame} on (counted from 0) it is left out"
            );
            say(message, "take the moves of this clip from the file itself");
        } else if !whole {
            let message = "the lens data of each frame could not be read to its end; the last that was read goes on";
            say(message.to_owned(), "compare the copy with the card");
        }
        recorded.per_frame = self.pieces;
    }
}

/// True where two samples say the same numbers; their places in the file differ of course.
fn same(a: &LensData, b: &LensData) -> bool {
    fn number<U: Unit>(reading: Option<&Reading<U>>) -> Option<u64> {
        reading.map(|reading| reading.value.number().to_bits())
    }
    let name = |data: &LensData| data.lens.as_ref().map(|lens| lens.value.clone());
    number(a.focal_length.as_ref()) == number(b.focal_length.as_ref())
        && number(a.f_number.as_ref()) == number(b.f_number.as_ref())
        && number(a.t_number.as_ref()) == number(b.t_number.as_ref())
        && number(a.focus_distance.as_ref()) == number(b.focus_distance.as_ref())
        && number(a.extender.as_ref()) == number(b.extender.as_ref())
        && name(a) == name(b)
}
