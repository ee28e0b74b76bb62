//! A thousand annotations at random: sidecars, some of them merged into those of other programs, read back as the run record says.

#![expect(clippy::disallowed_methods, reason = "the judges read files")]

use std::fs;
use std::path::PathBuf;

use chrono::{DateTime, NaiveDateTime};
use lensmend::annotation::{
    Annotation, Attached, ClipFacts, ClipFile, Derived, LensMarks, Settled, Setup, Shoot, Shot,
    Verdict,
};
use lensmend::output::before::Fingerprints;
use lensmend::output::record::{self, OutputFile, Run};
use lensmend::output::{Stamp, xmp};
use lensmend::ratio::Ratio;
use lensmend::read_at::Hashes;
use lensmend::recorded::{Container, Recorded, Rotation};
use lensmend::sourced::{Basis, Origin, Quantity, Sourced};
use lensmend::timecode::{Counting, Timecode};
use lensmend::track::Track;
use lensmend::units::{ExposureIndex, FNumber, Millimeters, Raster, TNumber, Unit};

use super::Judges;
use super::sidecars::{Reading, assert_no_complaints};
use crate::merging::shapes::shapes;
use crate::workshop::DATE;

const ANNOTATIONS: usize = 1000;
/// Shapes of the merge corpus that all three readers read, wherever what is ours stands in them.
const SHARED: &[&str] = &[
    "attributes",
    "elements",
    "a description for each namespace",
    "packet that may be written",
    "structures as resources",
    "lists and languages",
    "an older date",
    "one line",
    "lines that end in two characters",
];

#[test]
fn a_thousand_annotations_read_back_as_the_record_says() {
    let Some(judges) = Judges::called() else { return };
    let mut dice = Dice::new(2026);
    let stamp = Stamp { date: DATE.into(), tool: "lensmend 0.0.0".into() };
    let clips: Vec<Annotation> = (0..ANNOTATIONS).map(|at| dice.annotation(at)).collect();
    let production = Some(dice.words());
    let bases: Vec<Vec<u8>> = shapes()
        .into_iter()
        .filter_map(|(name, bytes)| SHARED.contains(&name).then_some(bytes))
        .collect();
    assert_eq!(bases.len(), SHARED.len());
    let folder = tempfile::tempdir().unwrap();
    let (mut files, mut owners, mut outputs) = (Vec::<PathBuf>::new(), Vec::new(), Vec::new());
    for (at, annotation) in clips.iter().enumerate() {
        for part in 1..=annotation.clip.files.len() {
            let sidecar = xmp::Sidecar { annotation, part, production: production.as_deref() };
            let shared = dice.below(4) == 0;
            let bytes = if shared {
                let bytes = dice.pick(&bases);
                let base = xmp::Base { bytes, begun_from: None, replace: false };
                let merged = sidecar.merge(&base, &stamp).unwrap();
                assert_eq!((merged.edited, merged.differing), (vec![], vec![]));
                merged.bytes.unwrap()
            } else {
                sidecar.write(&stamp).unwrap()
            };
            // Merged into itself it stays as it is, whoever else wrote into it.
            let base = xmp::Base { bytes: &bytes, begun_from: None, replace: false };
            assert_eq!(sidecar.merge(&base, &stamp).unwrap().bytes, None);
            let name = format!("{at}-{part}.xmp");
            fs::write(folder.path().join(&name), &bytes).unwrap();
            files.push(folder.path().join(&name));
            owners.push((annotation.clip.name.to_string(), part - 1, shared));
            outputs.push(OutputFile {
                role: "sidecar",
                file: name,
                of: Some((at, part)),
                hashes: Hashes::default(),
            });
        }
    }
    let shoot = Shoot { production, clips, ..Shoot::default() };
    let fingerprints = Fingerprints::default();
    let run = Run { outputs: &outputs, fingerprints: &fingerprints, options: &[], shown: "" };
    let record = record::write(&shoot, &run, &stamp).unwrap();
    let record = serde_json::from_slice(&record).unwrap();
    assert_no_complaints(&Reading::of(&judges, record, owners, &files));
}

/// `SplitMix64`: the same throws everywhere.
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn throw(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub(crate) fn below(&mut self, sides: u64) -> u64 {
        self.throw() % sides
    }

    pub(crate) fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[usize::try_from(self.below(of.len() as u64)).unwrap()]
    }

    fn maybe<T>(&mut self, make: impl FnOnce(&mut Self) -> T) -> Option<T> {
        (self.below(4) > 0).then(|| make(self))
    }

    /// A number between two, evenly spread over its orders of magnitude.
    fn number(&mut self, from: f64, to: f64) -> f64 {
        let part = f64::from(u32::try_from(self.below(1 << 31)).unwrap()) / f64::from(1_u32 << 31);
        from * (to / from).powf(part)
    }

    fn words(&mut self) -> String {
        const ODD: &[&str] = &[
            "Sorrel 50",
            "24A",
            "3B",
            "a & b",
            "<b>",
            "]]>",
            "'\"",
            "\u{1f3a5} é",
            "x\ty",
            "one\ntwo",
            "\u{202e}abc",
            "=1+1",
            "a  b",
            "e\u{301}",
            "ﬀ",
            "中",
            "&amp;",
            "<!-- no -->",
            "50/1",
            "%s\\n",
            "true",
            "{}",
            "100 %",
        ];
        let count = 1 + self.below(3);
        let words: Vec<&str> = (0..count).map(|_| *self.pick(ODD)).collect();
        words.join(" ")
    }

    fn origin(&mut self) -> Origin {
        match self.below(4) {
            0 => Origin::Note {
                file: "notes.csv".into(),
                line: self.below(900),
                heading: self.words().into(),
            },
            1 => Origin::Kit { key: "lens.sorrel-50.focal".into() },
            2 => Origin::Computed("effective = magnification x lens"),
            _ => Origin::Media {
                file: "A/x.mov".into(),
                path: "moov/trak[1]".into(),
                offset: self.throw() >> 1,
            },
        }
    }

    fn text(&mut self) -> Option<Sourced<String>> {
        self.maybe(|dice| Sourced::new(dice.words(), dice.origin()))
    }

    fn amount<U: Unit>(&mut self, from: f64, to: f64) -> Quantity<U> {
        let number = self.number(from, to);
        self.around(number)
    }

    fn around<U: Unit>(&mut self, number: f64) -> Quantity<U> {
        let uncertainty = self.maybe(|dice| dice.number(1e-4, 0.1) * number);
        Quantity {
            value: U::of(number).unwrap(),
            uncertainty: uncertainty.filter(|u| u.is_finite()),
            basis: *self.pick(&[Basis::Nominal, Basis::Measured, Basis::Assumed, Basis::Recorded]),
            origin: self.origin(),
        }
    }

    fn quantity<U: Unit>(&mut self, from: f64, to: f64) -> Option<Quantity<U>> {
        self.maybe(|dice| dice.amount(from, to))
    }

    fn settled<T>(&mut self, mut make: impl FnMut(&mut Self) -> T) -> Settled<T> {
        let Some(verdict) = self.maybe(|dice| *dice.pick(&Verdict::ALL)) else {
            return Settled::unsaid();
        };
        Settled {
            verdict: Some(verdict),
            value: (verdict != Verdict::Unresolved).then(|| make(self)),
            recorded: self.maybe(make),
            reason: self.words(),
        }
    }

    fn lens_marks(&mut self) -> LensMarks {
        let mark =
            |dice: &mut Self, from: f64, to: f64| (dice.number(from, to) * 100.0).round() / 100.0;
        let low = mark(self, 8.0, 200.0);
        let high = if self.below(2) == 0 { low } else { low + mark(self, 1.0, 400.0).round() };
        let f = self.maybe(|dice| (mark(dice, 0.95, 5.6), mark(dice, 0.95, 8.0)));
        let t = self.maybe(|dice| mark(dice, 1.0, 5.6)).and_then(TNumber::new);
        LensMarks {
            focal: (Millimeters::new(low).unwrap(), Millimeters::new(high).unwrap()),
            f: f.map(|(a, b)| (FNumber::new(a).unwrap(), FNumber::new(b).unwrap())),
            t: t.map(|t| (t, t)),
        }
    }

    fn setup(&mut self) -> Setup {
        let magnification = *self.pick(&[0.58, 0.71, 1.0, 1.4]);
        let squeeze = *self.pick(&[1.0, 1.0, 1.33, 2.0]);
        Setup {
            camera: self.text(),
            mode: self.text(),
            lens: self.settled(|dice| Sourced::new(dice.words(), dice.origin())),
            lens_maker: self.text(),
            lens_serial: self.text(),
            lens_marks: self.maybe(|dice| Sourced::new(dice.lens_marks(), dice.origin())),
            squeeze: self.maybe(|dice| dice.around(squeeze)),
            attachment: self.maybe(|dice| {
                let on = Attached::On { id: "c".into(), name: dice.words(), kind: "reducer" };
                Sourced::new(if dice.below(3) == 0 { Attached::Bare } else { on }, dice.origin())
            }),
            attachment_reason: String::new(),
            magnification: self.maybe(|dice| dice.around(magnification)),
            glass: self.quantity(0.5, 1.0),
            lens_focal: self.quantity(4.0, 2000.0),
            attachment_secured: self.maybe(|dice| Sourced::new(dice.below(2) == 0, dice.origin())),
            density: self.quantity(0.5, 10.0),
            lens_f: self.quantity(0.7, 64.0),
            lens_t: self.quantity(0.8, 64.0),
            focal_length: self.settled(|dice| dice.amount(2.0, 3000.0)),
            f_number: self.settled(|dice| dice.amount(0.5, 90.0)),
            t_number: self.settled(|dice| dice.amount(0.6, 90.0)),
            focus_distance: self.settled(|dice| {
                if dice.below(5) == 0 {
                    dice.around(f64::INFINITY)
                } else {
                    dice.amount(0.05, 5000.0)
                }
            }),
            distortion: None,
            derived: Derived {
                back_width: self.quantity(3.0, 70.0),
                back_height: self.quantity(2.0, 50.0),
                pinhole: self.quantity(2.0, 3000.0),
                pupil_offset: self.quantity(1.0, 300.0),
                angle_horizontal: self.quantity(0.5, 150.0),
                equivalent: self.quantity(2.0, 5000.0),
                coverage: self.quantity(0.5, 3.0),
                hyperfocal: self.quantity(0.5, 5000.0),
                far: self.maybe(|dice| dice.around(f64::INFINITY)),
                ..Derived::default()
            }
            .into(),
            slate: self.text(),
            take: self.maybe(|dice| {
                let take = dice.below(40).to_string();
                let take = if dice.below(3) == 0 { take + "B" } else { take };
                Sourced::new(take, dice.origin())
            }),
            circled: self.maybe(|dice| Sourced::new(dice.below(2) == 0, dice.origin())),
            filter: self.text(),
            shot: self.maybe(|dice| Box::new(dice.shot())),
            remarks: self.text(),
        }
    }

    fn shot(&mut self) -> Shot {
        let modes = ["automatic", "manual", "preset", "daylight"];
        let iso = |dice: &mut Self| {
            let iso = *dice.pick(&[50.0, 800.0, 65_534.0, 102_400.0]);
            let mut iso: Quantity<ExposureIndex> = dice.around(iso);
            iso.uncertainty = None;
            iso
        };
        Shot {
            iso: self.settled(iso),
            exposure_index: self.settled(iso),
            shutter_angle: self.settled(|dice| dice.amount(1.0, 360.0)),
            exposure_time: self.settled(|dice| dice.amount(0.0001, 30.0)),
            white_balance: self.settled(|dice| dice.amount(1500.0, 12_000.0)),
            white_balance_mode: self
                .settled(|dice| Sourced::new((*dice.pick(&modes)).to_owned(), dice.origin())),
            height: self.quantity(0.1, 12.0),
            tilt: self.maybe(|dice| {
                let degrees = *dice.pick(&[-90.0, -12.5, 0.0, 5.0, 90.0]);
                let mut tilt = dice.around(degrees);
                tilt.uncertainty = None;
                tilt
            }),
            operator: self.text(),
            assistants: self.text(),
            unit: self.text(),
            day: self.text(),
        }
    }

    fn media(&mut self, rate: Option<Ratio>) -> Recorded {
        let created = |dice: &mut Self| -> NaiveDateTime {
            let seconds = i64::try_from(dice.below(2_000_000_000)).unwrap();
            DateTime::from_timestamp(seconds, 0).unwrap().naive_utc()
        };
        Recorded {
            container: *self.pick(&[
                Container::QuickTime,
                Container::Mp4,
                Container::Mxf,
                Container::Tiff,
                Container::Dng,
                Container::Jpeg,
                Container::Heif,
                Container::OpenExr,
                Container::Opaque,
            ]),
            coded: self.maybe(|dice| {
                let mut side = |most| u32::try_from(16 + dice.below(most)).unwrap();
                let raster = Raster::new(side(9000), side(7000)).unwrap();
                Sourced::new(raster, dice.origin())
            }),
            pixel_aspect: self.maybe(|dice| {
                Sourced::new(Ratio::new(1 + dice.below(4), 3).unwrap(), dice.origin())
            }),
            rotation: self.maybe(|dice| {
                let turned =
                    [Rotation::None, Rotation::Quarter, Rotation::Half, Rotation::ThreeQuarters];
                Sourced::new(*dice.pick(&turned), dice.origin())
            }),
            rate: rate.map(|rate| Sourced::new(rate, self.origin())),
            reel: self.text(),
            created: self.maybe(|dice| Sourced::new(created(dice), dice.origin())),
            maker: self.text(),
            model: self.text(),
            serial: self.text(),
            ..Recorded::default()
        }
    }

    pub(crate) fn annotation(&mut self, at: usize) -> Annotation {
        let (num, den, drop) = *self.pick(&[
            (24, 1, false),
            (24000, 1001, false),
            (25, 1, false),
            (30000, 1001, true),
            (30000, 1001, false),
            (48, 1, false),
            (50, 1, false),
            (60000, 1001, true),
            (60, 1, false),
            (120, 1, false),
        ]);
        let rate = self.maybe(|_| Ratio::new(num, den).unwrap());
        let counting = Counting::new(u32::try_from(num.div_ceil(den)).unwrap(), drop).unwrap();
        let mut start = self.maybe(|dice| Timecode::from_frame(dice.throw() >> 8, counting));
        let mut first = 0;
        let parts = if self.below(4) == 0 { 2 + self.below(2) } else { 1 };
        let files: Vec<ClipFile> = (1..=parts)
            .map(|part| {
                let frames = 1 + self.below(5000);
                let name = format!("A{:03}/clip {at} é_{part}.mov", at % 7);
                let file = ClipFile {
                    path: PathBuf::from(&name),
                    shown: name.into(),
                    size: self.throw() >> 20,
                    row: None,
                    header_sha256: None,
                    first_frame: Some(first),
                    frames: Some(frames),
                    start,
                };
                first += frames;
                start = start.map(|start| start.later(frames));
                file
            })
            .collect();
        let mut setups = Track::constant(self.setup());
        for _ in 0..self.below(3) {
            let frame = 1 + self.below(first.max(2));
            let setup = if self.below(2) == 0 { self.setup() } else { setups.first().clone() };
            setups.then(frame, setup);
        }
        let clip = ClipFacts {
            name: format!("clip {at}").into(),
            roll: self.maybe(Self::words),
            files,
            copies: Vec::new(),
            media: self.media(rate).into(),
            lens: Vec::new(),
        };
        Annotation { clip, setups, elsewhere: None, rows: Vec::new() }
    }
}
