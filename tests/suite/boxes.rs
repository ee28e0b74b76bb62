//! Builders of tiny QuickTime and MP4 files, box by box (ISO/IEC 14496-12, 4.2): no fixture is binary.
#![expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "kinds are written as byte strings, which are references"
)]
#![expect(clippy::unwrap_used, reason = "a builder that cannot build is a failed test")]

/// A box.
pub(crate) fn part(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let size = u32::try_from(body.len() + 8).unwrap();
    [&size.to_be_bytes()[..], kind, body].concat()
}

/// A full box: version and flags before the body.
pub(crate) fn full(kind: &[u8; 4], version: u8, flags: u32, body: &[u8]) -> Vec<u8> {
    let word = (u32::from(version) << 24) | flags;
    part(kind, &[&word.to_be_bytes()[..], body].concat())
}

/// 32-bit words.
pub(crate) fn words(words: &[u32]) -> Vec<u8> {
    words.iter().flat_map(|word| word.to_be_bytes()).collect()
}

/// A timecode track.
#[derive(Clone)]
pub(crate) struct Clock {
    pub(crate) flags: u32,
    pub(crate) timescale: u32,
    pub(crate) frame_duration: u32,
    pub(crate) labels: u8,
    pub(crate) count: i32,
    pub(crate) samples: u32,
    pub(crate) edit: Option<u32>,
    pub(crate) reel: Option<&'static str>,
}

impl Clock {
    pub(crate) fn new(
        flags: u32,
        timescale: u32,
        frame_duration: u32,
        labels: u8,
        count: i32,
    ) -> Self {
        Self { flags, timescale, frame_duration, labels, count, samples: 1, edit: None, reel: None }
    }
}

/// One clip; change what a test is about.
#[derive(Clone)]
pub(crate) struct Clip {
    pub(crate) brand: Option<&'static [u8; 4]>,
    pub(crate) created: u32,
    pub(crate) enabled: bool,
    pub(crate) handler: &'static [u8; 4],
    pub(crate) timescale: u32,
    pub(crate) runs: Vec<(u32, u32)>,
    pub(crate) raster: (u16, u16),
    pub(crate) matrix: [i32; 4],
    pub(crate) shown: (u32, u32),
    /// Boxes behind the picture entry, such as `pasp`.
    pub(crate) entry: Vec<u8>,
    /// Boxes in the picture's `trak`, such as `tapt`.
    pub(crate) trak: Vec<u8>,
    /// Whole tracks besides.
    pub(crate) tracks: Vec<u8>,
    /// Boxes in `moov`, such as `udta`.
    pub(crate) moov: Vec<u8>,
    /// Boxes at the top level, before `moov`.
    pub(crate) top: Vec<u8>,
    pub(crate) clock: Option<Clock>,
}

impl Default for Clip {
    fn default() -> Self {
        Self {
            brand: Some(b"qt  "),
            created: 0,
            enabled: true,
            handler: b"vide",
            timescale: 24000,
            runs: vec![(48, 1001)],
            raster: (1920, 1080),
            matrix: [1, 0, 0, 1],
            shown: (1920, 1080),
            entry: Vec::new(),
            trak: Vec::new(),
            tracks: Vec::new(),
            moov: Vec::new(),
            top: Vec::new(),
            clock: None,
        }
    }
}

impl Clip {
    /// The file: brand, essence (the timecode sample and some filling), then the movie.
    pub(crate) fn bytes(&self) -> Vec<u8> {
        let mut file = self.brand.map_or_else(Vec::new, |brand| {
            part(b"ftyp", &[&brand[..], &[0; 4], &brand[..]].concat())
        });
        file.extend(part(b"wide", &[]));
        let sample = u32::try_from(file.len() + 8).unwrap();
        let count = self.clock.as_ref().map_or(0, |clock| clock.count);
        file.extend(part(b"mdat", &[&count.to_be_bytes()[..], b"essence"].concat()));
        file.extend(&self.top);
        file.extend(self.movie(sample));
        file
    }

    /// The movie box, for a timecode sample at `sample`.
    pub(crate) fn movie(&self, sample: u32) -> Vec<u8> {
        let mut moov =
            full(b"mvhd", 0, 0, &[words(&[self.created, 0, 600, 1200]), vec![0; 80]].concat());
        moov.extend(self.picture());
        if let Some(clock) = &self.clock {
            moov.extend(clock.track(sample));
        }
        moov.extend(&self.tracks);
        moov.extend(&self.moov);
        part(b"moov", &moov)
    }

    fn picture(&self) -> Vec<u8> {
        let runs: Vec<u32> = self.runs.iter().flat_map(|(n, d)| [*n, *d]).collect();
        let count = u32::try_from(self.runs.len()).unwrap();
        let mut entry = vec![0; 24];
        entry.extend(self.raster.0.to_be_bytes());
        entry.extend(self.raster.1.to_be_bytes());
        entry.extend([0; 48]);
        entry.extend([0xFF, 0xFF]);
        entry.extend(&self.entry);
        let stbl = [
            full(b"stsd", 0, 0, &[words(&[1]), part(b"test", &entry)].concat()),
            full(b"stts", 0, 0, &words(&[&[count], &runs[..]].concat())),
            full(b"stsz", 0, 0, &words(&[0, 4, 9, 9, 9, 9])),
        ]
        .concat();
        let duration =
            self.runs.iter().fold(0, |sum: u32, (n, d)| sum.wrapping_add(n.wrapping_mul(*d)));
        let mut trak = tkhd(1, self.enabled, self.matrix, self.shown);
        trak.extend(&self.trak);
        if self.clock.is_some() {
            trak.extend(part(b"tref", &part(b"tmcd", &words(&[2]))));
        }
        trak.extend(media(self.timescale, duration, self.handler, &stbl));
        part(b"trak", &trak)
    }
}

impl Clock {
    fn track(&self, sample: u32) -> Vec<u8> {
        let mut entry = vec![0; 12];
        entry.extend(words(&[self.flags, self.timescale, self.frame_duration]));
        entry.extend([self.labels, 0]);
        if let Some(reel) = self.reel {
            entry.extend(part(b"name", &international(reel, 0)));
        }
        let stbl = [
            full(b"stsd", 0, 0, &[words(&[1]), part(b"tmcd", &entry)].concat()),
            full(b"stts", 0, 0, &words(&[1, self.samples, 48048])),
            full(b"stsc", 0, 0, &words(&[1, 1, 1, 1])),
            full(b"stsz", 0, 0, &words(&[4, self.samples])),
            full(b"stco", 0, 0, &words(&[1, sample])),
        ]
        .concat();
        let mut trak = tkhd(2, true, [1, 0, 0, 1], (0, 0));
        if let Some(edit) = self.edit {
            let list = full(b"elst", 0, 0, &words(&[1, 1200, edit, 0x10000]));
            trak.extend(part(b"edts", &list));
        }
        trak.extend(media(self.timescale, 48048, b"tmcd", &stbl));
        part(b"trak", &trak)
    }
}

/// A track header.
pub(crate) fn tkhd(id: u32, enabled: bool, matrix: [i32; 4], shown: (u32, u32)) -> Vec<u8> {
    let [a, b, c, d] = matrix.map(|m| (m * 0x10000).cast_unsigned());
    let body = [
        words(&[0, 0, id, 0, 1200, 0, 0, 0, 0]),
        words(&[a, b, 0, c, d, 0, 0, 0, 0x4000_0000]),
        words(&[shown.0 << 16, shown.1 << 16]),
    ];
    full(b"tkhd", 0, u32::from(enabled), &body.concat())
}

/// The `mdia` of a track. `minf` starts with the second `hdlr` that QuickTime puts there.
pub(crate) fn media(timescale: u32, duration: u32, handler: &[u8; 4], stbl: &[u8]) -> Vec<u8> {
    let data = [&[0; 4][..], b"url ", &[0; 12]].concat();
    let minf = [
        full(b"hdlr", 0, 0, &data),
        part(b"dinf", &full(b"dref", 0, 0, &[words(&[1]), full(b"url ", 0, 1, &[])].concat())),
        part(b"stbl", stbl),
    ];
    let mdia = [
        full(b"mdhd", 0, 0, &words(&[0, 0, timescale, duration, 0])),
        full(b"hdlr", 0, 0, &[&[0; 4][..], handler, &[0; 12]].concat()),
        part(b"minf", &minf.concat()),
    ];
    part(b"mdia", &mdia.concat())
}

/// International text of QuickTime user data: length, language, characters.
pub(crate) fn international(text: &str, language: u16) -> Vec<u8> {
    let length = u16::try_from(text.len()).unwrap();
    [&length.to_be_bytes()[..], &language.to_be_bytes(), text.as_bytes()].concat()
}

/// A `meta` box with keys and UTF-8 values; a full box as in ISO, or a plain one as in QuickTime.
pub(crate) fn keys(iso: bool, pairs: &[(&str, &str)]) -> Vec<u8> {
    let count = u32::try_from(pairs.len()).unwrap();
    let mut names = words(&[count]);
    let mut items = Vec::new();
    for (number, (key, value)) in (1u32..).zip(pairs) {
        names.extend(part(b"mdta", key.as_bytes()));
        let data = part(b"data", &[words(&[1, 0]), value.as_bytes().to_vec()].concat());
        items.extend(part(&number.to_be_bytes(), &data));
    }
    let body = [
        full(b"hdlr", 0, 0, &[&[0; 4][..], b"mdta", &[0; 12]].concat()),
        full(b"keys", 0, 0, &names),
        part(b"ilst", &items),
    ]
    .concat();
    if iso { full(b"meta", 0, 0, &body) } else { part(b"meta", &body) }
}

/// A packet with `body` inside its `rdf:RDF`; the usual prefixes are declared, `e` for Exif among them.
pub(crate) fn packet(body: &str) -> Vec<u8> {
    format!(
        "<?xpacket begin=\"\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?><x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\
         <rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\" \
         xmlns:e=\"http://ns.adobe.com/exif/1.0/\" xmlns:tiff=\"http://ns.adobe.com/tiff/1.0/\" \
         xmlns:ex=\"http://cipa.jp/exif/1.0/\" xmlns:aux=\"http://ns.adobe.com/exif/1.0/aux/\" \
         xmlns:xmpMM=\"http://ns.adobe.com/xap/1.0/mm/\" xmlns:fake=\"http://example.com/\">\
         {body}</rdf:RDF></x:xmpmeta><?xpacket end=\"w\"?>"
    )
    .into_bytes()
}

/// A file whose `udta` holds `packet`.
pub(crate) fn with_packet(packet: &[u8]) -> Vec<u8> {
    Clip { moov: part(b"udta", &part(b"XMP_", packet)), ..Clip::default() }.bytes()
}
