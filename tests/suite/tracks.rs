//! Builders of timed-metadata tracks, in one piece and in fragments (ISO/IEC 14496-12, 8.6 to 8.8; QuickTime, "Timed Metadata Media").
#![expect(clippy::unwrap_used, reason = "a builder that cannot build is a failed test")]

use crate::boxes::{Clip, full, media, part, tkhd, words};
use crate::klv::{acquisition, item};

/// A key of a `mebx` entry: its number, its name, its well-known type.
pub(crate) fn key(number: u32, name: &str, kind: u32) -> Vec<u8> {
    let declared =
        [part(b"keyd", &[b"mdta", name.as_bytes()].concat()), part(b"dtyp", &words(&[0, kind]))];
    part(&number.to_be_bytes(), &declared.concat())
}

/// Stops and lens models by key; the last key is a maker's own.
pub(crate) fn entry() -> Vec<u8> {
    let keys = [
        key(1, "com.apple.quicktime.camera.lens_irisfnumber", 1),
        key(2, "com.apple.quicktime.camera.lens_model", 1),
        key(3, "org.smpte.rdd18.lens.irisfnumber", 23),
        key(4, "com.example.lens_irisfnumber", 1),
    ];
    part(b"mebx", &[vec![0; 8], part(b"keys", &keys.concat())].concat())
}

pub(crate) fn value(number: u32, value: &[u8]) -> Vec<u8> {
    part(&number.to_be_bytes(), value)
}

/// A track of samples of any size, one a frame of a 24th, in one chunk.
pub(crate) fn track(entry: &[u8], samples: &[Vec<u8>], trak: &[u8]) -> Vec<u8> {
    let mut file = part(b"ftyp", b"qt  \0\0\0\0");
    let at = u32::try_from(file.len() + 8).unwrap();
    file.extend(part(b"mdat", &samples.concat()));
    let count = u32::try_from(samples.len()).unwrap();
    let sizes: Vec<u32> = samples.iter().map(|s| u32::try_from(s.len()).unwrap()).collect();
    let stbl = [
        full(b"stsd", 0, 0, &[words(&[1]), entry.to_vec()].concat()),
        full(b"stts", 0, 0, &words(&[1, count, 1])),
        full(b"stsc", 0, 0, &words(&[1, 1, count, 1])),
        full(b"stsz", 0, 0, &words(&[&[0, count], &sizes[..]].concat())),
        full(b"stco", 0, 0, &words(&[1, at])),
    ];
    let track = [
        tkhd(5, true, [1, 0, 0, 1], (0, 0)),
        trak.to_vec(),
        media(24, count, b"meta", &stbl.concat()),
    ];
    let clip = Clip {
        timescale: 24,
        runs: vec![(count, 1)],
        tracks: part(b"trak", &track.concat()),
        ..Clip::default()
    };
    [file, clip.movie(0)].concat()
}

/// One fragment of a metadata track 5: a sample a frame of a 24th.
pub(crate) struct Fragment {
    pub(crate) samples: Vec<Vec<u8>>,
    /// When it begins, if it says so (`tfdt`).
    pub(crate) time: Option<u32>,
    /// Sizes stand in the header of the track instead of the run, which all samples then share.
    pub(crate) even: bool,
    /// The second half of the samples stands in a run of its own, which does not say where.
    pub(crate) split: bool,
}

impl Fragment {
    pub(crate) fn of(samples: &[Vec<u8>]) -> Self {
        Self { samples: samples.to_vec(), time: None, even: false, split: false }
    }

    /// ISO/IEC 14496-12, 8.8.4 to 8.8.12; data offsets count from the `moof`.
    pub(crate) fn bytes(&self) -> Vec<u8> {
        let size = |sample: &Vec<u8>| u32::try_from(sample.len()).unwrap();
        let make = |behind: usize| {
            let middle = if self.split { self.samples.len() / 2 } else { self.samples.len() };
            let (first, second) = self.samples.split_at(middle);
            let run = |samples: &[Vec<u8>], at: Option<usize>| {
                let sizes: Vec<u32> = samples.iter().map(size).collect();
                let own = if self.even { &[][..] } else { &sizes[..] };
                let place = at.map(|at| u32::try_from(at).unwrap());
                let head = [vec![u32::try_from(samples.len()).unwrap()], Vec::from_iter(place)];
                let flags = u32::from(place.is_some()) | if self.even { 0 } else { 0x200 };
                full(b"trun", 0, flags, &words(&[&head.concat(), own].concat()))
            };
            let shared = [5, 1].into_iter().chain(self.even.then(|| size(&self.samples[0])));
            let flags = 0x2_0008 | if self.even { 0x10 } else { 0 };
            let traf = [
                full(b"tfhd", 0, flags, &words(&shared.collect::<Vec<_>>())),
                self.time.map_or(vec![], |time| full(b"tfdt", 0, 0, &words(&[time]))),
                run(first, Some(behind)),
                if self.split { run(second, None) } else { vec![] },
            ];
            // Sound in front: a track of which nothing is looked up.
            let sound = full(b"tfhd", 0, 0x2_0000, &words(&[9]));
            part(b"moof", &[part(b"traf", &sound), part(b"traf", &traf.concat())].concat())
        };
        let behind = make(0).len() + 8;
        [make(behind), part(b"mdat", &self.samples.concat())].concat()
    }
}

/// A fragmented file whose picture stands in the movie, so that only the metadata is in fragments.
pub(crate) fn fragmented(entry: &[u8], fragments: &[Fragment]) -> Vec<u8> {
    let empty = [
        full(b"stsd", 0, 0, &[words(&[1]), entry.to_vec()].concat()),
        full(b"stts", 0, 0, &words(&[0])),
        full(b"stsc", 0, 0, &words(&[0])),
        full(b"stsz", 0, 0, &words(&[0, 0])),
        full(b"stco", 0, 0, &words(&[0])),
    ];
    let track = [tkhd(5, true, [1, 0, 0, 1], (0, 0)), media(24, 0, b"meta", &empty.concat())];
    let clip = Clip {
        brand: Some(b"isom"),
        timescale: 24,
        runs: vec![(48, 1)],
        tracks: part(b"trak", &track.concat()),
        moov: part(b"mvex", &full(b"trex", 0, 0, &words(&[5, 1, 1, 0, 0]))),
        ..Clip::default()
    };
    [clip.bytes(), fragments.iter().flat_map(Fragment::bytes).collect()].concat()
}

/// A sample of acquisition metadata: focal length in whole millimetres (RDD 18, DISTANCE with a power of -3).
pub(crate) fn set(focal: u16) -> Vec<u8> {
    acquisition(1, &[item(0x8005, &(0xD000 | focal).to_be_bytes())])
}
