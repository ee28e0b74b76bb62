//! MXF (SMPTE ST 377-1): partitions, the sets of the header metadata, and what data stands beside the first picture.
//!
//! Deliberately not read: index tables, descriptive metadata, and essence, bar the data elements of the first edit unit
//! (and, where asked for, of all).

mod ancillary;
mod block;
mod essence;
mod metadata;
mod partition;

use std::sync::Arc;

use crate::header::Placed;
use crate::header::cursor::Limits;
use crate::header::klv::Label;
pub use crate::header::mxf::ancillary::Packet;
use crate::header::reader::Reader;
use crate::read_at::ReadAt;

/// A whole file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mxf {
    /// Operational pattern: how packages and essence are arranged (ST 377-1, 8.3).
    pub pattern: Option<Placed<Label>>,
    /// Sets of the header metadata in file order.
    pub sets: Vec<Set>,
    /// What stands beside the first picture.
    pub beside: Beside,
    /// Where the essence begins, and the number of its container as the first partition has it.
    essence: (u64, u32),
}

/// Data of one edit unit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Beside {
    /// Ancillary packets (ST 436).
    pub packets: Vec<Packet>,
    /// Other data, as stored.
    pub data: Vec<Placed<Vec<u8>>>,
}

/// One set of the header metadata (ST 377-1, 9.6).
#[derive(Clone, Debug, PartialEq)]
pub struct Set {
    /// Which set: the fifteenth byte of its key, such as `0x14` for a timecode component.
    pub kind: u8,
    /// Where it stands: `header/TimecodeComponent[1]`; sets of a kind count from 1.
    pub path: Arc<str>,
    /// First byte of its key in the file.
    pub offset: u64,
    /// Items in file order.
    pub items: Vec<Item>,
}

/// One item of a set.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// The tag that ST 377-1 gives this item, whatever the primer of the file calls it.
    pub tag: u16,
    /// First byte of its tag in the file.
    pub offset: u64,
    /// Value as stored.
    pub value: Vec<u8>,
}

impl Mxf {
    /// Where the essence begins.
    pub fn essence(&self) -> u64 {
        self.essence.0
    }
}

impl Set {
    /// What `parse` makes of the item `tag`, placed; `None` where it is absent or not of that form.
    pub fn item<T>(&self, tag: u16, parse: impl Fn(&[u8]) -> Option<T>) -> Option<Placed<T>> {
        let item = self.items.iter().find(|item| item.tag == tag)?;
        Some(Placed {
            value: parse(&item.value)?,
            path: format!("{}/{tag:04X}", self.path).into(),
            offset: item.offset,
        })
    }
}

/// Where the first partition begins, if this is an MXF file: it may stand behind a run-in (ST 377-1, 6.5).
pub(super) fn begins_at(reader: &mut Reader) -> Option<u64> {
    partition::first(reader)
}

/// Reads the file whose first partition stands at `run_in`.
pub(super) fn read(reader: &mut Reader, run_in: u64) -> Mxf {
    let mut mxf = Mxf::default();
    let Some(head) = partition::read(reader, run_in) else {
        reader.cut_off(run_in, "the file ends inside its first partition");
        return mxf;
    };
    mxf.pattern =
        Some(Placed { value: head.pattern, path: "header/partition".into(), offset: run_in });
    let best = partition::finished(reader, run_in, &head);
    let (sets, behind) = metadata::read(reader, &head, "header", best.is_none());
    mxf.sets = sets;
    if let Some(best) = best {
        let (sets, _) = metadata::read(reader, &best, "footer", true);
        if !sets.is_empty() {
            mxf.sets = sets;
        }
    }
    mxf.essence = (behind.saturating_add(head.index_bytes), head.body);
    mxf.beside = essence::first(reader, mxf.essence.0, mxf.essence.1);
    mxf
}

/// Hands what stands beside each picture of `mxf` to `each`, with the number of the picture from 0, until that has
/// enough. False where some were left out, because they are too many or the file ends early.
pub fn each_frame(
    source: &dyn ReadAt,
    file: &str,
    mxf: &Mxf,
    each: impl FnMut(u64, &Beside) -> bool,
) -> bool {
    let limits = Limits::default();
    let mut reader = Reader::new(source, file, &limits);
    essence::each(&mut reader, mxf.essence, each)
}
