//! Every fixture and every file of the sample, cut, bent and lied about: nothing panics, nothing takes 64 MiB.
//!
//! A binary of its own, because memory can only be counted where nothing else runs: no harness, one thread.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on has failed")]
#![allow(dead_code, reason = "builders are shared with the suite, which uses more of them")]

#[path = "../suite/boxes.rs"]
mod boxes;
#[path = "../suite/fixtures.rs"]
mod fixtures;
#[path = "../suite/frames.rs"]
mod frames;
#[path = "../suite/klv.rs"]
mod klv;
#[path = "../suite/tracks.rs"]
mod tracks;

use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

use lensmend::read_at::ReadAt;
use lensmend::recorded::read_frames;
use peak_alloc::PeakAlloc;

use boxes::{packet, part, with_packet};
use frames::{LITTLE, Put, Values, tiff};

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

/// What one file may take, whatever is in it.
const MOST: usize = 64 << 20;
/// What it may have read, in bytes and in reads: bounded work, said without a clock. Read twice, for header and frames.
const MOST_BYTES: u64 = 256 << 20;
const MOST_READS: u64 = 400_000;
/// Places at which a file is cut that is longer than that.
const CUTS: usize = 4096;
/// Bytes in front that are all bent; and of them those in which sizes lie.
const BENT: usize = 4096;
const LYING: usize = 1024;

/// A file that claims more bytes than it holds; those are zeros. It counts what is read.
struct Claimed<'a> {
    bytes: &'a [u8],
    size: u64,
    read: AtomicU64,
    reads: AtomicU64,
}

impl ReadAt for Claimed<'_> {
    fn size(&self) -> u64 {
        self.size
    }

    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> std::io::Result<usize> {
        let left = usize::try_from(self.size.saturating_sub(offset)).unwrap_or(usize::MAX);
        let count = buffer.len().min(left);
        let there = usize::try_from(offset).ok().and_then(|at| self.bytes.get(at..));
        let there = there.unwrap_or_default();
        for (at, slot) in buffer.iter_mut().take(count).enumerate() {
            *slot = there.get(at).copied().unwrap_or_default();
        }
        self.read.fetch_add(u64::try_from(count).unwrap(), Ordering::Relaxed);
        self.reads.fetch_add(1, Ordering::Relaxed);
        Ok(count)
    }
}

/// Reads a file with all its frames and holds the reader to its memory and its work.
fn held(name: &str, how: &str, bytes: &[u8], size: u64) {
    let file = Claimed { bytes, size, read: AtomicU64::new(0), reads: AtomicU64::new(0) };
    let before = MEMORY.current_usage();
    MEMORY.reset_peak_usage();
    read_frames(&file, Some(&file), name);
    let taken = MEMORY.peak_usage().saturating_sub(before);
    let (read, reads) = (file.read.into_inner(), file.reads.into_inner());
    assert!(taken < MOST, "{name}, {how}: {taken} bytes of memory");
    assert!(
        read < MOST_BYTES && reads < MOST_READS,
        "{name}, {how}: {read} bytes in {reads} reads"
    );
}

fn whole(name: &str, how: &str, bytes: &[u8]) {
    held(name, how, bytes, u64::try_from(bytes.len()).unwrap());
}

fn main() {
    // Asked for a test of the suite by name, this binary has none.
    let asked: Vec<String> = std::env::args().skip(1).filter(|arg| !arg.starts_with('-')).collect();
    let listed = std::env::args().any(|arg| arg == "--list");
    if listed || (!asked.is_empty() && !asked.iter().any(|name| "hostile".contains(name.as_str())))
    {
        return;
    }
    counting_counts();
    let mut files = fixtures::all();
    files.extend(sample());
    assert!(files.len() > 35, "only {} fixtures: the walk has gone blind", files.len());
    for (name, bytes) in &mut files {
        whole(name, "as it is", bytes);
        cut(name, bytes);
        bend(name, bytes);
        lie(name, bytes);
        for size in [1 << 31, 1 << 63, u64::MAX] {
            held(name, &format!("{size} bytes claimed"), bytes, size);
        }
    }
    nests();
}

/// A counter that counts nothing would let everything pass.
fn counting_counts() {
    MEMORY.reset_peak_usage();
    let before = MEMORY.current_usage();
    let block = std::hint::black_box(vec![1_u8; MOST]);
    assert!(MEMORY.peak_usage() - before >= block.len());
}

/// At every byte of a small file and of the beginning of a large one, and at 4,096 places of the rest.
fn cut(name: &str, bytes: &[u8]) {
    let step = (bytes.len() / CUTS).max(1);
    let places = (0..bytes.len().min(CUTS)).chain((CUTS..bytes.len()).step_by(step));
    for end in places {
        whole(name, &format!("cut at {end}"), &bytes[..end]);
    }
}

fn bend(name: &str, bytes: &mut [u8]) {
    for at in 0..bytes.len().min(BENT) {
        let was = bytes[at];
        for is in [!was, was ^ 1, was ^ 0x80, 0] {
            bytes[at] = is;
            whole(name, &format!("{is} at {at}"), bytes);
        }
        bytes[at] = was;
    }
}

/// Sizes and counts of four and of eight bytes, at every place where one may stand.
fn lie(name: &str, bytes: &mut [u8]) {
    let wide = [0, 1, 1 << 31, 1 << 63, u64::MAX].map(u64::to_be_bytes);
    let narrow = [0, 1, 1 << 31, u32::MAX].map(u32::to_be_bytes);
    let lies = || wide.iter().map(|b| &b[..]).chain(narrow.iter().map(|b| &b[..]));
    for at in 0..bytes.len().min(LYING) {
        for lie in lies() {
            // Little-endian containers lie in their own order.
            for reversed in [false, true] {
                let Some(slot) = bytes.get_mut(at..at + lie.len()) else { continue };
                let was = slot.to_vec();
                slot.copy_from_slice(lie);
                if reversed {
                    slot.reverse();
                }
                whole(name, &format!("{lie:?} at {at}, reversed: {reversed}"), bytes);
                bytes[at..at + was.len()].copy_from_slice(&was);
            }
        }
    }
}

/// Ten thousand deep, of everything that can hold itself.
fn nests() {
    const DEEP: u32 = 10_000;
    for kind in [b"moov", b"trak", b"mdia", b"meta", b"udta", b"moof", b"traf", b"ilst", b"stsd"] {
        let nest: Vec<u8> =
            (1..=DEEP).rev().flat_map(|d| [(d * 8).to_be_bytes(), *kind].concat()).collect();
        whole("nest.mov", "boxes", &nest);
        whole("nest.mov", "boxes in a movie", &part(b"moov", &nest));
        whole("nest.heic", "boxes in a still", &[part(b"ftyp", b"heic\0\0\0\0"), nest].concat());
    }
    let deep = usize::try_from(DEEP).unwrap();
    for body in [
        "<rdf:Description><e:Flash>",
        "<rdf:Bag><rdf:li>",
        "<a>",
        "<e:Flash rdf:parseType='Resource'>",
    ] {
        whole("nest.mov", body, &with_packet(&packet(&body.repeat(deep))));
    }
    let directories: Vec<Vec<Put>> =
        (1..=deep).map(|next| vec![Put(0x014A, Values::Directories(vec![next]))]).collect();
    whole("nest.tif", "directories", &tiff(LITTLE, &directories));
    let mut set = Vec::new();
    for _ in 0..deep {
        set = klv::acquisition(1, &[set]);
    }
    let beside = klv::Mxf { beside: set.clone(), ..klv::Mxf::default() };
    whole("nest.mxf", "sets", &beside.bytes());
    let rtmd = part(b"rtmd", &[0; 8]);
    whole("nest.mov", "sets", &tracks::track(&rtmd, &[set], &[]));
}

/// The media of the sample shoot.
fn sample() -> Vec<(String, Vec<u8>)> {
    let dump = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/saltmarsh-day/dump");
    let walk = walkdir::WalkDir::new(dump).sort_by_file_name().into_iter().map(Result::unwrap);
    let files = walk.filter(|entry| entry.file_type().is_file());
    files
        .map(|entry| {
            let name = entry.file_name().to_string_lossy().into_owned();
            (name, read(entry.path()))
        })
        .collect()
}

#[expect(clippy::disallowed_methods, reason = "a test reads the files of the sample as they are")]
fn read(path: &Path) -> Vec<u8> {
    std::fs::read(path).unwrap()
}
