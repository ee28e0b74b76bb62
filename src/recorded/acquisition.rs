//! Lens and camera facts of acquisition metadata (SMPTE RDD 18): sets of tags that stand beside each frame, in
//! ancillary data of MXF and in timed metadata of MP4. One set, or one sample that holds some, gives readings and tags.

mod camera;
mod coding;
mod table;

use std::sync::Arc;

use crate::header::klv::{self, Item, Label};
use crate::recorded::acquisition::coding::{Coded, distance, iris, percent, word};
use crate::recorded::{CameraSettings, Reading, Tag};
use crate::sourced::Origin;
use crate::units::{FNumber, Factor, Meters, Millimeters, TNumber, Unit};

/// What the keys of the sets begin with; the byte behind tells which set (RDD 18).
const SETS: [u8; 12] = [0x06, 0x0E, 0x2B, 0x34, 0x02, 0x53, 0x01, 0x01, 0x0C, 0x02, 0x01, 0x01];
/// Bytes before the first set of a sample: a timecode and the like. Some thirty in practice.
const LEAD: usize = 256;
/// Items of one sample that are kept; RDD 18 knows some fifty.
const ITEMS: usize = 512;

/// Which set an item stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Set {
    /// The lens unit.
    Lens,
    /// The camera unit.
    Camera,
    /// A maker's own.
    UserDefined,
}

impl Set {
    /// The set that `key` names.
    pub fn of(key: &Label) -> Option<Self> {
        let [.., kind, _, _, _] = *key;
        match (klv::begins(key, &SETS), kind) {
            (true, 0x01) => Some(Self::Lens),
            (true, 0x02) => Some(Self::Camera),
            (true, 0x7F) => Some(Self::UserDefined),
            _ => None,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Self::Lens => "lens",
            Self::Camera => "camera",
            Self::UserDefined => "user",
        }
    }
}

/// Where the bytes handed over stand in the file. They may have been put together from pieces.
#[derive(Clone, Debug, PartialEq)]
pub struct Whence {
    file: Arc<str>,
    path: Arc<str>,
    pieces: Vec<(usize, u64)>,
}

impl Whence {
    /// The bytes stand in one piece at `offset` of `file`, in the element `path`.
    pub fn at(file: &str, path: &str, offset: u64) -> Self {
        Self::pieces(file, path, vec![(0, offset)])
    }

    /// The bytes come in pieces: where each begins in the bytes, and in the file; in order.
    pub fn pieces(file: &str, path: &str, pieces: Vec<(usize, u64)>) -> Self {
        Self { file: file.into(), path: path.into(), pieces }
    }

    /// Place in the file of the byte `at`.
    fn place(&self, at: usize) -> u64 {
        let piece = self.pieces.iter().rev().find(|(start, _)| *start <= at);
        let (start, offset) = piece.copied().unwrap_or_default();
        offset.saturating_add(u64::try_from(at.saturating_sub(start)).unwrap_or_default())
    }

    fn origin(&self, set: Set, item: &Item, body: usize) -> Origin {
        Origin::Media {
            file: Arc::clone(&self.file),
            path: format!("{}/{}/{:04X}", self.path, set.word(), item.tag).into(),
            offset: self.place(body.saturating_add(item.at)),
        }
    }
}

/// What sets of acquisition metadata say. Each list holds every reading met; they need not agree.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Acquisition {
    /// Actual focal length (tag 8005).
    pub focal_length: Vec<Reading<Millimeters>>,
    /// f-number of the iris (8000).
    pub f_number: Vec<Reading<FNumber>>,
    /// T-number of the iris (8008).
    pub t_number: Vec<Reading<TNumber>>,
    /// Focus position from the image plane (8001).
    pub focus_distance: Vec<Reading<Meters>>,
    /// Magnification of the optical extender (8006).
    pub extender: Vec<Reading<Factor>>,
    /// How the camera was set (8106, 8108, 8109, 810B, 810D, 810E, 8115), each time it was said.
    pub settings: Vec<CameraSettings>,
    /// Every item as written.
    pub tags: Vec<Tag>,
}

/// Reads a sample or a piece of essence that holds whole sets, with or without something in front of the first.
pub fn sample(bytes: &[u8], whence: &Whence) -> Acquisition {
    let mut acquisition = Acquisition::default();
    let lead = bytes.windows(SETS.len()).take(LEAD).position(|window| window == SETS);
    let Some(start) = lead else { return acquisition };
    let rest = bytes.get(start..).unwrap_or_default();
    for triplet in klv::triplets(rest) {
        if let Some(kind) = Set::of(&triplet.key) {
            let body = start.saturating_add(triplet.body);
            acquisition.set(kind, triplet.value, body, whence);
        }
    }
    acquisition
}

/// Reads the items of one set: `bytes` begins with its first tag.
pub fn set(kind: Set, bytes: &[u8], whence: &Whence) -> Acquisition {
    let mut acquisition = Acquisition::default();
    acquisition.set(kind, bytes, 0, whence);
    acquisition
}

impl Acquisition {
    /// True where nothing was met.
    pub fn is_empty(&self) -> bool {
        self.tags.is_empty()
    }

    /// Adds what others say.
    pub fn append(&mut self, mut other: Self) {
        self.focal_length.append(&mut other.focal_length);
        self.f_number.append(&mut other.f_number);
        self.t_number.append(&mut other.t_number);
        self.focus_distance.append(&mut other.focus_distance);
        self.extender.append(&mut other.extender);
        self.settings.append(&mut other.settings);
        self.tags.append(&mut other.tags);
    }

    fn set(&mut self, kind: Set, bytes: &[u8], body: usize, whence: &Whence) {
        for item in klv::items(bytes) {
            if self.tags.len() >= ITEMS {
                return;
            }
            let origin = whence.origin(kind, &item, body);
            // A maker's own set may use a standard tag for anything.
            if kind != Set::UserDefined {
                self.reading(&item, &origin);
                self.settings.extend(camera::setting(&item, &origin));
            }
            let value = table::value(kind, &item);
            let key = format!("rdd18.{}.{}", kind.word(), table::name(kind, item.tag));
            self.tags.push(Tag { key, value, origin });
        }
    }

    fn reading(&mut self, item: &Item, origin: &Origin) {
        let Some(word) = word(item.value) else { return };
        match item.tag {
            0x8000 => self.f_number.extend(read(word, iris(word), FNumber::new, origin)),
            0x8008 => self.t_number.extend(read(word, iris(word), TNumber::new, origin)),
            0x8006 => self.extender.extend(read(word, percent(word), Factor::new, origin)),
            0x8001 => self.focus_distance.extend(read(word, distance(word), Meters::new, origin)),
            0x8005 => {
                // An infinite focal length is none, which the unit refuses.
                let length = distance(word).map(|d| d.times(1000.0));
                self.focal_length.extend(read(word, length, Millimeters::new, origin));
            }
            _ => {}
        }
    }
}

fn read<U: Unit>(
    word: u16,
    coded: Option<Coded>,
    unit: impl Fn(f64) -> Option<U>,
    origin: &Origin,
) -> Option<Reading<U>> {
    let Coded { value, half_step } = coded?;
    let raw = format!("0x{word:04X}");
    Some(Reading { value: unit(value)?, raw, half_step, origin: origin.clone() })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lens(items: &[(u16, &[u8])]) -> Vec<u8> {
        let item = |(tag, value): &(u16, &[u8])| {
            let length = u16::try_from(value.len()).unwrap();
            [&tag.to_be_bytes()[..], &length.to_be_bytes(), value].concat()
        };
        items.iter().flat_map(item).collect()
    }

    fn triplet(kind: u8, set: &[u8]) -> Vec<u8> {
        let length = u16::try_from(set.len()).unwrap().to_be_bytes();
        [&SETS[..], &[kind, 1, 0, 0, 0x82], &length, set].concat()
    }

    #[test]
    fn a_lens_set_gives_readings_and_tags() {
        let set_bytes = lens(&[
            (0x8000, &[0xD0, 0x77]),
            (0x8008, &[0xC0, 0]),
            (0x8005, &[0xBD, 0xDE]),
            (0x8001, &[0xE0, 0x96]),
            (0x8006, &[0, 140]),
            (0x8007, b"Marlow 35\0"),
            (0xE012, &[1, 2, 3]),
        ]);
        let whence = Whence::at("A001.mxf", "body[1]/anc", 1000);
        let read = set(Set::Lens, &set_bytes, &whence);
        assert!((read.f_number[0].value.get() - 2.80009).abs() < 1e-5);
        assert!((read.t_number[0].value.get() - 4.0).abs() < 1e-12);
        assert!((read.focal_length[0].value.get() - 35.5).abs() < 1e-12);
        assert!((read.focal_length[0].half_step - 0.005).abs() < 1e-12);
        assert_eq!(read.focal_length[0].raw, "0xBDDE");
        assert!((read.focus_distance[0].value.get() - 1.5).abs() < 1e-12);
        let extender = &read.extender[0];
        assert!((extender.value.get() - 1.4).abs() < 1e-12 && extender.raw == "0x008C");
        assert!((extender.half_step - 0.005).abs() < 1e-12);
        let tags: Vec<_> = read.tags.iter().map(|t| format!("{}={}", t.key, t.value)).collect();
        assert_eq!(
            tags,
            [
                "rdd18.lens.irisFNumber=2.8001 (0xD077)",
                "rdd18.lens.irisTNumber=4 (0xC000)",
                "rdd18.lens.focalLength=35.5 mm (0xBDDE)",
                "rdd18.lens.focusFromImagePlane=1.5 m (0xE096)",
                "rdd18.lens.opticalExtender=140 % (0x008C)",
                "rdd18.lens.lensAttributes=Marlow 35",
                "rdd18.lens.E012=0x010203",
            ]
        );
        let Origin::Media { path, offset, .. } = &read.focal_length[0].origin else { panic!() };
        assert_eq!((&path[..], *offset), ("body[1]/anc/lens/8005", 1012));
    }

    #[test]
    fn what_is_not_known_is_no_number() {
        let unknown = lens(&[
            (0x8000, &[0, 0]),
            (0x8008, &[0xFF, 0xFF]),
            (0x8005, &[0xB0, 0]),
            (0x8005, &[0xFF, 0xFF]),
            (0x8005, &[0x7F, 0xFF]),
            (0x8001, &[0, 0]),
            (0x8001, &[1]),
            (0x8006, &[0, 0]),
            (0x8006, &[0xFF, 0xFF]),
        ]);
        let read = set(Set::Lens, &unknown, &Whence::at("", "", 0));
        let none = Acquisition { tags: read.tags.clone(), ..Acquisition::default() };
        assert_eq!((read.tags.len(), &read), (9, &none));
        let far = set(Set::Lens, &lens(&[(0x8001, &[0x7F, 0xFF])]), &Whence::at("", "", 0));
        assert!(far.focus_distance[0].value.get().is_infinite());
        let own = set(Set::UserDefined, &lens(&[(0x8005, &[0xBD, 0xDE])]), &Whence::at("", "", 0));
        assert!(own.focal_length.is_empty() && own.tags[0].key == "rdd18.user.8005");
    }

    #[test]
    fn a_sample_holds_sets_behind_a_heading() {
        let camera = triplet(2, &lens(&[(0x8108, &10_800_u32.to_be_bytes())]));
        let lens = triplet(1, &lens(&[(0x8005, &[0xC1, 0xF4])]));
        for lead in [0, 28] {
            let bytes = [vec![0; lead], lens.clone(), camera.clone()].concat();
            let read = sample(&bytes, &Whence::at("A001.mp4", "moov/trak[3] -> mdat", 500));
            assert!((read.focal_length[0].value.get() - 50.0).abs() < 1e-12);
            assert_eq!(read.tags[1].value, "180 deg (0x00002A30)");
            let Origin::Media { offset, .. } = read.focal_length[0].origin else { panic!() };
            assert_eq!(offset, 500 + u64::try_from(lead).unwrap() + 19);
            for end in 0..bytes.len() {
                sample(&bytes[..end], &Whence::at("", "", u64::MAX));
            }
        }
    }
}
