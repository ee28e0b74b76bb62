//! What stands beside the pictures, edit unit by edit unit (SMPTE ST 379, generic container; ST 436).
//! Keys and lengths are stepped over, one block after the other; pictures and sound are never read.

use std::collections::BTreeMap;

use crate::header::Placed;
use crate::header::klv::{self, Label};
use crate::header::mxf::block::{self, Block};
use crate::header::mxf::{Beside, ancillary, partition};
use crate::header::reader::Reader;

/// Essence elements; the byte behind tells picture, sound or data (ST 379, 7.1).
const ELEMENT: [u8; 12] = [0x06, 0x0E, 0x2B, 0x34, 0x01, 0x02, 0x01, 0x01, 0x0D, 0x01, 0x03, 0x01];
/// Anything of the generic container, the system item included.
const CONTAINER: [u8; 4] = [0x0D, 0x01, 0x03, 0x01];
/// Data elements: of the content-package kind, and of the generic container.
const DATA: [u8; 2] = [0x07, 0x17];
/// Data elements that hold the ancillary packets of a frame (ST 436, 5.3).
const ANCILLARY: u8 = 0x02;
/// Sets of acquisition metadata that stand by themselves (RDD 18).
const ACQUISITION: [u8; 12] =
    [0x06, 0x0E, 0x2B, 0x34, 0x02, 0x53, 0x01, 0x01, 0x0C, 0x02, 0x01, 0x01];
/// Blocks that are stepped through for the first edit unit: partition, index, system item, picture, sixteen sounds and data.
const BLOCKS: u32 = 32;
/// The same for all edit units of a file: ten for each of the most that are gone through.
const ALL_BLOCKS: u32 = 10_000_000;
/// Edit units gone through; nine hours at 30 a second.
const FRAMES: u64 = 1_000_000;
/// Bytes of one data element, and of all of an edit unit.
const LENGTH: usize = 32 * 1024;
const LENGTHS: usize = 64 * 1024;
/// Elements of one edit unit that are told apart, and containers in one file.
const ELEMENTS: usize = 64;
const CONTAINERS: usize = 16;

/// One essence container being stepped through; pictures and data may each have one.
#[derive(Default)]
struct Container {
    /// Elements of the edit unit so far: one of them again is the next edit unit.
    seen: Vec<Label>,
    frame: u64,
}

/// A walk over the blocks of a file.
struct Walk {
    at: u64,
    blocks: u32,
    containers: BTreeMap<u32, Container>,
    /// Number of the container that the partition of now holds.
    now: u32,
    /// It came to the end of the essence, with nothing left out.
    done: bool,
}

/// A block that is read, and in which edit unit of which container it stands.
struct Met {
    block: Block,
    container: u32,
    frame: u64,
}

impl Walk {
    fn new(at: u64, now: u32, blocks: u32) -> Self {
        Self { at, blocks, containers: BTreeMap::new(), now, done: false }
    }

    /// The next block of an edit unit before `frames`; `None` at the end, and where the walk was long enough.
    fn next(&mut self, reader: &mut Reader, frames: u64) -> Option<Met> {
        while self.blocks > 0 {
            self.blocks = self.blocks.saturating_sub(1);
            let Some(block) = block::read(reader, self.at) else {
                self.done = self.at == reader.size();
                return None;
            };
            self.at = block.end;
            if partition::is(&block) {
                let partition = partition::read(reader, block.at)?;
                if partition.is_footer() {
                    self.done = true;
                    return None;
                }
                self.now = partition.body;
                self.at = block::behind_fill(reader, partition.end)
                    .saturating_add(partition.header_bytes)
                    .saturating_add(partition.index_bytes);
                continue;
            }
            let is_set = klv::begins(&block.key, &ACQUISITION);
            let is_element = block.key.get(8..12) == Some(&CONTAINER[..]);
            if !is_set && !is_element {
                continue;
            }
            if !self.containers.contains_key(&self.now) && self.containers.len() >= CONTAINERS {
                return None;
            }
            let container = self.containers.entry(self.now).or_default();
            if is_element {
                if container.seen.contains(&block.key) {
                    container.seen.clear();
                    container.frame = container.frame.saturating_add(1);
                }
                if container.seen.len() < ELEMENTS {
                    container.seen.push(block.key);
                }
            }
            let frame = container.frame;
            if frame >= frames {
                return None;
            }
            return Some(Met { block, container: self.now, frame });
        }
        None
    }
}

/// What stands beside the first picture. The walk begins behind the header metadata and its index.
pub(super) fn first(reader: &mut Reader, start: u64, body: u32) -> Beside {
    let mut beside = Beside::default();
    let mut budget = LENGTHS;
    let mut walk = Walk::new(start, body, BLOCKS);
    while let Some(met) = walk.next(reader, 1) {
        add(reader, &met, "essence", &mut budget, &mut beside);
    }
    beside
}

/// Hands what stands beside each picture to `each`, until that has enough; false where some were left out. The first
/// container that holds data is the one that counts, from the first edit unit that has some.
pub(super) fn each(
    reader: &mut Reader,
    (start, body): (u64, u32),
    mut each: impl FnMut(u64, &Beside) -> bool,
) -> bool {
    let mut walk = Walk::new(start, body, ALL_BLOCKS);
    let (mut beside, mut frame, mut budget) = (Beside::default(), 0, LENGTHS);
    let mut teller = None;
    while let Some(met) = walk.next(reader, FRAMES) {
        if teller.is_some_and(|teller| teller != met.container) {
            continue;
        }
        if teller.is_some() && met.frame != frame {
            if !each(frame, &beside) {
                return true;
            }
            (beside, budget) = (Beside::default(), LENGTHS);
        }
        frame = met.frame;
        let name = format!("essence/frame[{}]", frame.saturating_add(1));
        if !add(reader, &met, &name, &mut budget, &mut beside) {
            return false;
        }
        let told = !beside.packets.is_empty() || !beside.data.is_empty();
        teller = teller.or_else(|| told.then_some(met.container));
    }
    // Of a file that ends inside a frame nothing is known of that frame.
    let told = !beside.packets.is_empty() || !beside.data.is_empty();
    if teller.is_some() && (walk.done || told) && !each(frame, &beside) {
        return true;
    }
    walk.done
}

/// Adds the block to `beside` if it is data; false where the file ends inside it.
fn add(
    reader: &mut Reader,
    Met { block, .. }: &Met,
    name: &str,
    budget: &mut usize,
    beside: &mut Beside,
) -> bool {
    let before = beside.data.len();
    if klv::begins(&block.key, &ACQUISITION) {
        let whole = Block { body: block.at, ..*block };
        beside.data.extend(take(reader, &whole, &format!("{name}/acquisition"), before, budget));
    } else if let [.., item, _, kind, _] = block.key
        && klv::begins(&block.key, &ELEMENT)
        && DATA.contains(&item)
        && let Some(element) = take(reader, block, &format!("{name}/data"), before, budget)
    {
        if kind == ANCILLARY {
            beside.packets.extend(ancillary::packets(&element));
        } else {
            beside.data.push(element);
        }
    }
    block.end <= reader.size()
}

fn take(
    reader: &mut Reader,
    block: &Block,
    name: &str,
    before: usize,
    budget: &mut usize,
) -> Option<Placed<Vec<u8>>> {
    if block.end > reader.size() {
        reader.cut_off(block.at, "the file ends inside its first frame");
    }
    let value = block.value(reader, LENGTH.min(*budget));
    *budget = budget.saturating_sub(value.len());
    let path = format!("{name}[{}]", before.saturating_add(1)).into();
    (!value.is_empty()).then_some(Placed { value, path, offset: block.body })
}
