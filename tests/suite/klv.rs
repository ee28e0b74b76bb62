//! MXF files built in code (SMPTE ST 377-1), as strange as a test needs them.

/// Bytes of a label from its hexadecimal digits; blanks part them.
pub(crate) fn label(digits: &str) -> Vec<u8> {
    let digits: String = digits.split_whitespace().collect();
    (0..digits.len() / 2)
        .map(|at| u8::from_str_radix(&digits[at * 2..at * 2 + 2], 16).unwrap())
        .collect()
}

/// Key, length of four bytes, value.
pub(crate) fn klv(key: &[u8], value: &[u8]) -> Vec<u8> {
    let length = u32::try_from(value.len()).unwrap().to_be_bytes();
    [key, &[0x84], &length, value].concat()
}

pub(crate) fn fill(bytes: usize) -> Vec<u8> {
    klv(&label("060E2B34 01010102 03010210 01000000"), &vec![0; bytes])
}

/// Tag, length, value.
pub(crate) fn item(tag: u16, value: &[u8]) -> Vec<u8> {
    let length = u16::try_from(value.len()).unwrap().to_be_bytes();
    [&tag.to_be_bytes()[..], &length, value].concat()
}

/// An identifier of a set.
fn id(number: u8) -> Vec<u8> {
    vec![number; 16]
}

fn umid(number: u8) -> Vec<u8> {
    vec![number; 32]
}

fn batch(numbers: &[u8]) -> Vec<u8> {
    let count = u32::try_from(numbers.len()).unwrap().to_be_bytes();
    let ids: Vec<u8> = numbers.iter().flat_map(|number| id(*number)).collect();
    [&count[..], &16_u32.to_be_bytes(), &ids].concat()
}

/// A set of header metadata.
pub(crate) fn set(kind: u8, number: u8, items: &[Vec<u8>]) -> Vec<u8> {
    let key = [label("060E2B34 02530101 0D010101 0101"), vec![kind, 0]].concat();
    klv(&key, &[item(0x3C0A, &id(number)), items.concat()].concat())
}

fn utf16(text: &str) -> Vec<u8> {
    text.encode_utf16().chain([0]).flat_map(u16::to_be_bytes).collect()
}

/// A clip and the file that holds it.
#[derive(Clone)]
pub(crate) struct Mxf {
    pub(crate) run_in: usize,
    /// Status of the header partition: 1 open, 2 closed but incomplete, 3 open but complete, 4 finished.
    pub(crate) status: u8,
    /// Rate in the header, where the footer repeats the metadata with the right one.
    pub(crate) early_rate: Option<(i32, i32)>,
    /// The partition pack tells where the footer is; else the random index pack has to.
    pub(crate) footer_told: bool,
    pub(crate) stored: (u32, u32),
    pub(crate) sampled: Option<(u32, u32)>,
    pub(crate) display: Option<(u32, u32)>,
    pub(crate) layout: u8,
    pub(crate) aspect: (i32, i32),
    pub(crate) rate: (i32, i32),
    pub(crate) length: i64,
    /// Start, base, drop.
    pub(crate) clock: Option<(i64, u16, bool)>,
    /// That of the package that describes the essence, where it is another.
    pub(crate) stored_clock: Option<(i64, u16, bool)>,
    pub(crate) reel: Option<&'static str>,
    pub(crate) primer: Vec<(u16, Vec<u8>)>,
    /// More items of the descriptor.
    pub(crate) more: Vec<u8>,
    /// Blocks behind the first picture.
    pub(crate) beside: Vec<u8>,
    /// Blocks behind the second picture, and behind one more for each further entry.
    pub(crate) later: Vec<Vec<u8>>,
    /// Start and length of what is played, where that is not all.
    pub(crate) played: Option<(i64, i64)>,
}

impl Default for Mxf {
    fn default() -> Self {
        Self {
            run_in: 0,
            status: 4,
            early_rate: None,
            footer_told: true,
            stored: (1920, 1088),
            sampled: Some((1920, 1080)),
            display: Some((1920, 1080)),
            layout: 0,
            aspect: (16, 9),
            rate: (25, 1),
            length: 50,
            clock: Some((90_000, 25, false)),
            stored_clock: None,
            reel: Some("A001R1"),
            primer: vec![],
            more: vec![],
            beside: vec![],
            later: vec![],
            played: None,
        }
    }
}

const PICTURE: &str = "060E2B34 04010101 01030202 01000000";
const TIMECODE: &str = "060E2B34 04010101 01030201 01000000";

impl Mxf {
    pub(crate) fn bytes(&self) -> Vec<u8> {
        let early = Self { rate: self.early_rate.unwrap_or(self.rate), ..self.clone() }.metadata();
        let late = if self.early_rate.is_some() { self.metadata() } else { vec![] };
        let body_pack = self.pack(3, 4, 0, 0);
        let picture = klv(&label("060E2B34 01020101 0D010301 15010500"), &[0xAB; 64]);
        let next = klv(&label("060E2B34 01020101 0D010301 15010500"), &[0xCD; 32]);
        let behind_pack = fill(60);
        let head =
            self.pack(2, self.status, 0, early.len()).len() + behind_pack.len() + early.len();
        let later = self.later.iter().map(|beside| [&next[..], beside].concat());
        let later =
            if self.later.is_empty() { next.clone() } else { later.collect::<Vec<_>>().concat() };
        let body = [fill(10), body_pack, fill(20), picture, self.beside.clone(), later].concat();
        let footer_at = head + body.len();
        let told = if self.footer_told { footer_at } else { 0 };
        let entry =
            |sid: u32, at: usize| [&sid.to_be_bytes()[..], &(at as u64).to_be_bytes()].concat();
        let entries = [entry(0, 0), entry(1, head + 30), entry(0, footer_at)].concat();
        let index_key = label("060E2B34 02050101 0D010201 01110100");
        let length = u32::try_from(16 + 5 + entries.len() + 4).unwrap().to_be_bytes();
        [
            vec![0x55; self.run_in],
            self.pack(2, self.status, told, early.len()),
            behind_pack,
            early,
            body,
            self.pack(4, 4, footer_at, late.len()),
            late,
            klv(&index_key, &[&entries[..], &length].concat()),
        ]
        .concat()
    }

    fn pack(&self, kind: u8, status: u8, footer: usize, header: usize) -> Vec<u8> {
        let _ = self;
        let wide = |number: usize| (number as u64).to_be_bytes();
        let value = [
            &[0, 1, 0, 3, 0, 0, 2, 0][..],
            &wide(0),
            &wide(0),
            &wide(footer),
            &wide(header),
            &wide(0),
            &[0; 16],
            &label("060E2B34 04010101 0D010201 01010900"),
            &[0, 0, 0, 0, 0, 0, 0, 16],
        ];
        let key = [label("060E2B34 02050101 0D010201 01"), vec![kind, status, 0]].concat();
        klv(&key, &value.concat())
    }

    fn metadata(&self) -> Vec<u8> {
        let count = u32::try_from(self.primer.len()).unwrap().to_be_bytes();
        let entries =
            self.primer.iter().flat_map(|(tag, ul)| [&tag.to_be_bytes()[..], ul].concat());
        let primer = [&count[..], &18_u32.to_be_bytes(), &entries.collect::<Vec<u8>>()].concat();
        let time = label("07EA 03 04 05 06 07 7D");
        let created = item(0x4405, &time);
        let clock = |base: u8, clock: Option<(i64, u16, bool)>| match clock {
            Some((start, labels, drop)) => [
                self.track(base, 1, TIMECODE, &[base + 2], None),
                set(
                    0x14,
                    base + 2,
                    &[
                        item(0x1501, &start.to_be_bytes()),
                        item(0x1502, &labels.to_be_bytes()),
                        item(0x1503, &[drop.into()]),
                    ],
                ),
            ]
            .concat(),
            None => vec![],
        };
        let clip = |number: u8, from: u8, start: i64| {
            set(
                0x11,
                number,
                &[
                    item(0x1201, &start.to_be_bytes()),
                    item(0x1101, &umid(from)),
                    item(0x1102, &2_u32.to_be_bytes()),
                ],
            )
        };
        let package = |kind: u8, number: u8, own: u8, more: Vec<u8>| {
            set(
                kind,
                number,
                &[
                    item(0x4401, &umid(own)),
                    created.clone(),
                    item(0x4403, &batch(&[number + 1, number + 4])),
                    more,
                ],
            )
        };
        let reel = self.reel.map(|reel| {
            [
                set(
                    0x37,
                    30,
                    &[item(0x4401, &umid(3)), item(0x4402, &utf16(reel)), item(0x4701, &id(37))],
                ),
                set(0x2E, 37, &[]),
            ]
            .concat()
        });
        [
            klv(&label("060E2B34 02050101 0D010201 01050100"), &primer),
            fill(7),
            set(0x2F, 1, &[item(0x3B06, &batch(&[2])), item(0x3B03, &id(3))]),
            set(0x30, 2, &[item(0x3C01, &utf16("Sorrel")), item(0x3C02, &utf16("Kestrel 6"))]),
            set(0x18, 3, &[item(0x1901, &batch(&[10, 20, 30])), item(0x1902, &batch(&[4]))]),
            set(0x23, 4, &[item(0x2701, &umid(2))]),
            package(0x36, 10, 1, vec![]),
            clock(11, self.clock),
            self.track(14, 2, PICTURE, &[17], self.played.map(|(_, length)| length)),
            clip(17, 2, self.played.map_or(0, |(start, _)| start)),
            package(0x37, 20, 2, item(0x4701, &id(28))),
            clock(21, self.stored_clock.or(self.clock)),
            self.track(24, 2, PICTURE, &[27], None),
            clip(27, if self.reel.is_some() { 3 } else { 0 }, 0),
            self.descriptor(),
            reel.unwrap_or_default(),
        ]
        .concat()
    }

    fn track(
        &self,
        number: u8,
        track: u32,
        kind: &str,
        parts: &[u8],
        length: Option<i64>,
    ) -> Vec<u8> {
        [
            set(
                0x3B,
                number,
                &[
                    item(0x4801, &track.to_be_bytes()),
                    item(0x4B01, &pair(self.rate)),
                    item(0x4803, &id(number + 1)),
                ],
            ),
            set(
                0x0F,
                number + 1,
                &[
                    item(0x0201, &label(kind)),
                    item(0x0202, &length.unwrap_or(self.length).to_be_bytes()),
                    item(0x1001, &batch(parts)),
                ],
            ),
        ]
        .concat()
    }

    fn descriptor(&self) -> Vec<u8> {
        let raster = |width: u16, height: u16, raster: Option<(u32, u32)>| match raster {
            Some((w, h)) => {
                [item(width, &w.to_be_bytes()), item(height, &h.to_be_bytes())].concat()
            }
            None => vec![],
        };
        set(
            0x28,
            28,
            &[
                item(0x3001, &pair(self.rate)),
                raster(0x3203, 0x3202, Some(self.stored)),
                raster(0x3205, 0x3204, self.sampled),
                raster(0x3209, 0x3208, self.display),
                item(0x320C, &[self.layout]),
                item(0x320E, &pair(self.aspect)),
                self.more.clone(),
            ],
        )
    }
}

fn pair((num, den): (i32, i32)) -> Vec<u8> {
    [num.to_be_bytes(), den.to_be_bytes()].concat()
}

/// A set of acquisition metadata (RDD 18): 1 the lens, 2 the camera.
pub(crate) fn acquisition(kind: u8, items: &[Vec<u8>]) -> Vec<u8> {
    let key = [label("060E2B34 02530101 0C020101"), vec![kind, 1, 0, 0]].concat();
    klv(&key, &items.concat())
}

/// A data element with `words` in ancillary packets of at most `part` words, `lead` bytes in front of each part
/// (ST 436; ST 291-1).
pub(crate) fn ancillary(words: &[u8], part: usize, lead: usize, ten_bits: bool) -> Vec<u8> {
    let parts: Vec<&[u8]> = words.chunks(part).collect();
    let mut value = u16::try_from(parts.len()).unwrap().to_be_bytes().to_vec();
    for (number, part) in parts.iter().enumerate() {
        let number = u8::try_from(number).unwrap();
        let length = u8::try_from(part.len() + lead).unwrap();
        let samples = [&[0x43, 0x05, length][..], &vec![number; lead], part].concat();
        let mut stored =
            if ten_bits { samples.chunks(3).flat_map(ten).collect() } else { samples.clone() };
        stored.resize(stored.len().next_multiple_of(4), 0);
        value.extend([0, 9, 1, if ten_bits { 7 } else { 4 }]);
        value.extend(u16::try_from(samples.len()).unwrap().to_be_bytes());
        value.extend(u32::try_from(stored.len()).unwrap().to_be_bytes());
        value.extend([0, 0, 0, 1]);
        value.extend(stored);
    }
    klv(&label("060E2B34 01020101 0D010301 17010201"), &value)
}

/// Three samples of ten bits in 32.
fn ten(samples: &[u8]) -> [u8; 4] {
    let shifts = [22, 12, 2];
    let word =
        samples.iter().zip(shifts).fold(0, |word, (sample, at)| word | u32::from(*sample) << at);
    word.to_be_bytes()
}
