//! Pictures built in code: TIFF, DNG, JPEG, HEIF and OpenEXR headers for the tests of stills and sequences.

use crate::boxes::{full, part};

/// How a TIFF is written.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Way {
    /// Big-endian.
    pub(crate) big_endian: bool,
    /// 64-bit offsets.
    pub(crate) wide: bool,
}

pub(crate) const LITTLE: Way = Way { big_endian: false, wide: false };

/// All four ways.
pub(crate) const WAYS: [Way; 4] = [
    LITTLE,
    Way { big_endian: true, wide: false },
    Way { big_endian: false, wide: true },
    Way { big_endian: true, wide: true },
];

/// A field: number and values.
#[derive(Clone, Debug)]
pub(crate) struct Put(pub(crate) u16, pub(crate) Values);

#[derive(Clone, Debug)]
pub(crate) enum Values {
    Text(&'static str),
    Bytes(Vec<u8>),
    Undefined(Vec<u8>),
    Shorts(Vec<u16>),
    Longs(Vec<u32>),
    Ratios(Vec<(u32, u32)>),
    SignedRatios(Vec<(i32, i32)>),
    /// Directories of their own, by their place in the list given to [`tiff`].
    Directories(Vec<usize>),
}

impl Way {
    fn number(self, value: u64, size: usize) -> Vec<u8> {
        let bytes = value.to_be_bytes()[8 - size..].to_vec();
        if self.big_endian { bytes } else { bytes.into_iter().rev().collect() }
    }

    fn word(self) -> usize {
        if self.wide { 8 } else { 4 }
    }

    /// Type, count, bytes.
    fn encode(self, values: &Values, starts: &[u64]) -> (u16, usize, Vec<u8>) {
        let all = |numbers: Vec<u64>, size| {
            numbers.into_iter().flat_map(|n| self.number(n, size)).collect::<Vec<u8>>()
        };
        let (kind, count, bytes) = match values {
            Values::Text(text) => (2, text.len() + 1, [text.as_bytes(), &[0]].concat()),
            Values::Bytes(bytes) => (1, bytes.len(), bytes.clone()),
            Values::Undefined(bytes) => (7, bytes.len(), bytes.clone()),
            Values::Shorts(n) => (3, n.len(), all(n.iter().map(|n| u64::from(*n)).collect(), 2)),
            Values::Longs(n) => (4, n.len(), all(n.iter().map(|n| u64::from(*n)).collect(), 4)),
            Values::Ratios(n) => {
                let flat = n.iter().flat_map(|(a, b)| [u64::from(*a), u64::from(*b)]);
                (5, n.len(), all(flat.collect(), 4))
            }
            Values::SignedRatios(n) => {
                let flat = n.iter().flat_map(|(a, b)| [*a, *b]);
                let flat = flat.map(|n| u64::from(n.cast_unsigned())).collect();
                (10, n.len(), all(flat, 4))
            }
            Values::Directories(list) => {
                let at = list.iter().map(|at| starts.get(*at).copied().unwrap_or_default());
                (if self.wide { 18 } else { 4 }, list.len(), all(at.collect(), self.word()))
            }
        };
        (kind, count, bytes)
    }
}

/// A TIFF of the directories given; the first is the main one and leads to no next.
pub(crate) fn tiff(way: Way, directories: &[Vec<Put>]) -> Vec<u8> {
    // Twice: first to learn where each directory comes to stand.
    let mut starts = vec![0; directories.len()];
    let mut bytes = Vec::new();
    for _ in 0..2 {
        bytes = if way.big_endian { b"MM".to_vec() } else { b"II".to_vec() };
        if way.wide {
            bytes.extend(
                [(43, 2), (8, 2), (0, 2), (16, 8)].iter().flat_map(|(n, s)| way.number(*n, *s)),
            );
        } else {
            bytes.extend([(42, 2), (8, 4)].iter().flat_map(|(n, s)| way.number(*n, *s)));
        }
        for (at, fields) in directories.iter().enumerate() {
            let here = bytes.len() as u64;
            let (count, entry) = if way.wide { (8, 20) } else { (2, 12) };
            let mut behind = here + count as u64 + (fields.len() * entry + way.word()) as u64;
            let mut values = Vec::new();
            bytes.extend(way.number(fields.len() as u64, count));
            for Put(tag, put) in fields {
                let (kind, count, mut data) = way.encode(put, &starts);
                bytes.extend(way.number(u64::from(*tag), 2));
                bytes.extend(way.number(u64::from(kind), 2));
                bytes.extend(way.number(count as u64, way.word()));
                if data.len() <= way.word() {
                    data.resize(way.word(), 0);
                    bytes.extend(data);
                } else {
                    bytes.extend(way.number(behind, way.word()));
                    behind += data.len() as u64;
                    values.extend(data);
                }
            }
            bytes.extend(way.number(0, way.word()));
            bytes.extend(values);
            starts[at] = here;
        }
    }
    bytes
}

/// How a picture was taken, as Exif fields.
pub(crate) fn taken() -> Vec<Put> {
    vec![
        Put(0x829D, Values::Ratios(vec![(28, 10)])),
        Put(0x9003, Values::Text("2026:11:14 10:02:11")),
        Put(0x9206, Values::Ratios(vec![(15, 10)])),
        Put(0x920A, Values::Ratios(vec![(35, 1)])),
        Put(0x927C, Values::Undefined(vec![0xAB; 100])),
        Put(0xA405, Values::Shorts(vec![50])),
        Put(0xA431, Values::Text("K-0042")),
        Put(0xA432, Values::Ratios(vec![(24, 1), (70, 1), (28, 10), (0, 0)])),
        Put(0xA434, Values::Text("Sorrel 35")),
    ]
}

/// A DNG frame: a thumbnail in front, the sensor's picture and the Exif fields in directories of their own.
pub(crate) fn dng(way: Way, timecode: [u8; 8], exif: Vec<Put>) -> Vec<u8> {
    let main = vec![
        Put(0x00FE, Values::Longs(vec![1])),
        Put(0x0100, Values::Longs(vec![160])),
        Put(0x0101, Values::Longs(vec![120])),
        Put(0x010F, Values::Text("Kestrel")),
        Put(0x0110, Values::Text("K1")),
        Put(0x0112, Values::Shorts(vec![1])),
        Put(0x014A, Values::Directories(vec![1])),
        Put(0x8769, Values::Directories(vec![2])),
        Put(0xC612, Values::Bytes(vec![1, 4, 0, 0])),
        Put(0xC763, Values::Bytes(timecode.to_vec())),
        Put(0xC764, Values::SignedRatios(vec![(24000, 1001)])),
        Put(0xC789, Values::Text("A003")),
    ];
    let sensor = vec![
        Put(0x00FE, Values::Longs(vec![0])),
        Put(0x0100, Values::Longs(vec![2048])),
        Put(0x0101, Values::Longs(vec![1152])),
        Put(0xC61E, Values::Ratios(vec![(2, 1), (1, 1)])),
        Put(0xC620, Values::Longs(vec![2000, 1100])),
    ];
    tiff(way, &[main, sensor, exif])
}

/// A JPEG with the segments given in front of its picture.
pub(crate) fn jpeg(segments: &[(u8, Vec<u8>)]) -> Vec<u8> {
    let mut bytes = vec![0xFF, 0xD8];
    let frame = (0xC0, vec![8, 0x04, 0x38, 0x07, 0x80, 1, 1, 0x11, 0]);
    for (marker, body) in segments.iter().chain([&frame, &(0xDA, vec![0; 6])]) {
        bytes.extend([0xFF, *marker]);
        bytes.extend(u16::try_from(body.len() + 2).unwrap().to_be_bytes());
        bytes.extend(body);
    }
    [bytes, vec![0x12; 32], vec![0xFF, 0xD9]].concat()
}

/// The APP1 segment that carries Exif.
pub(crate) fn exif_segment(tiff: &[u8]) -> (u8, Vec<u8>) {
    (0xE1, [b"Exif\0\0", tiff].concat())
}

/// A HEIF still with the fields given in its Exif item.
pub(crate) fn heif(tiff: &[u8]) -> Vec<u8> {
    let ftyp = part(b"ftyp", b"heic\0\0\0\0mif1");
    let make = |at: u32| {
        let infe = full(b"infe", 2, 0, b"\0\x01\0\0Exif\0");
        let iinf = full(b"iinf", 0, 0, &[&[0, 1], &infe[..]].concat());
        let length = u32::try_from(tiff.len() + 4).unwrap();
        let place = [at.to_be_bytes(), length.to_be_bytes()].concat();
        let iloc = [&[0x44, 0, 0, 1, 0, 1, 0, 0, 0, 1], &place[..]].concat();
        let meta = full(b"meta", 0, 0, &[iinf, full(b"iloc", 0, 0, &iloc)].concat());
        [&ftyp[..], &meta].concat()
    };
    let head = make(u32::try_from(make(0).len() + 8).unwrap());
    [head, part(b"mdat", &[&[0; 4], tiff].concat())].concat()
}

/// An attribute of an OpenEXR header.
pub(crate) fn attribute(name: &str, kind: &str, value: &[u8]) -> Vec<u8> {
    let size = i32::try_from(value.len()).unwrap().to_le_bytes();
    [name.as_bytes(), b"\0", kind.as_bytes(), b"\0", &size, value].concat()
}

/// An OpenEXR file of the headers given, without its picture.
pub(crate) fn exr(headers: &[Vec<Vec<u8>>]) -> Vec<u8> {
    let multipart = headers.len() > 1;
    let mut bytes = vec![0x76, 0x2F, 0x31, 0x01, 2, if multipart { 0x10 } else { 0 }, 0, 0];
    for header in headers {
        bytes.extend(header.concat());
        bytes.push(0);
    }
    if multipart {
        bytes.push(0);
    }
    bytes
}

/// Attributes of one frame.
pub(crate) fn attributes() -> Vec<Vec<u8>> {
    let float = |name: &str, value: f32| attribute(name, "float", &value.to_le_bytes());
    let text = |name: &str, value: &str| attribute(name, "string", value.as_bytes());
    let window = |name: &str, edges: [i32; 4]| {
        attribute(name, "box2i", &edges.map(i32::to_le_bytes).concat())
    };
    vec![
        attribute("compression", "compression", &[200]),
        window("dataWindow", [-16, -8, 2031, 1143]),
        window("displayWindow", [0, 0, 1999, 1099]),
        float("pixelAspectRatio", 2.0),
        attribute(
            "framesPerSecond",
            "rational",
            &[24000i32.to_le_bytes(), 1001i32.to_le_bytes()].concat(),
        ),
        attribute("timeCode", "timecode", &[4, 3, 2, 1, 0, 0, 0, 0]),
        float("nominalFocalLength", 50.0),
        float("aperture", 2.8),
        float("tStop", 3.1),
        float("focus", 1.5),
        text("cameraMake", "Kestrel"),
        text("cameraModel", "K1"),
        text("cameraSerialNumber", "K-0042"),
        text("lensMake", "Sorrel"),
        text("lensModel", "Sorrel 50"),
        text("lensSerialNumber", "77"),
        text("reelName", "A003"),
        text("capDate", "2026:11:14 10:02:11"),
    ]
}
