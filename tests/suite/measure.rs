//! `measure`: chart shots whose truth is known, from outside libraries and from a thousand noisy repeats.
#![allow(clippy::disallowed_methods, reason = "tests write sheets of their own")]

use std::fmt::Write as _;
use std::fs;

use lensmend::finding::{Code, Finding};
use lensmend::kit;
use lensmend::measure::report::Report;
use lensmend::measure::shots::{self, Usual};
use lensmend::measure::solve::{Setup, Solved};
use lensmend::measure::{Errors, Known, series};
use lensmend::output::{Stamp, measure_json};
use lensmend::units::{Millimeters, Offset, Unit};

use crate::workshop::{blessing, first_difference, lensmend, root, text};

/// Spans of a chart 500 mm wide at a pitch of 4.4 um, from projectPoints of OpenCV: a pinhole of 50 mm whose pupil is
/// 40.769946 mm before the sensor, and one of 35.5 mm at 33.519946 mm (the 50 mm double Gauss and an ideal reducer).
const DISTANCES: [f64; 5] = [1000.0, 1500.0, 2000.0, 3000.0, 4000.0];
const BARE: [f64; 5] = [5923.3113, 3893.7097, 2900.0260, 1920.0326, 1435.0816];
const REDUCED: [f64; 5] = [4174.0033, 2750.8665, 2051.4273, 1359.8915, 1017.0456];
/// The same lens refocused at each distance, traced with optiland.
const BARE_REFOCUSED: [f64; 5] = [6224.0805, 4018.6936, 2968.0773, 1949.3279, 1451.3032];
const REDUCED_REFOCUSED: [f64; 5] = [4384.1744, 2838.6979, 2099.3786, 1380.5878, 1028.5203];

const PLAIN: Setup = Setup {
    errors: Errors { pixels: 1.0, tape: 1.0 },
    raster_width: None,
    native: None,
    pupil: None,
};

/// A sheet of one lens: attachment, focus setting, distance in mm, span.
fn sheet<'r>(rows: impl IntoIterator<Item = (&'r str, &'r str, f64, f64)>) -> String {
    let mut sheet =
        String::from("Lens,Attachment,Focus m,Tape mm,Chart width mm,Span px,Pitch um\n");
    for (attachment, focus, distance, span) in rows {
        writeln!(sheet, "Sorrel 50,{attachment},{focus},{distance:.6},500,{span:.6},4.4").unwrap();
    }
    sheet
}

fn both<'r>(focus: &'r str, bare: &[f64], reduced: &[f64]) -> String {
    let of = |name: &'r str, spans: &[f64]| -> Vec<_> {
        DISTANCES.iter().zip(spans).map(|(d, q)| (name, focus, *d, *q)).collect()
    };
    sheet(of("none", bare).into_iter().chain(of("0.71", reduced)))
}

fn measure(sheet: &str, setup: Setup) -> (Report, Vec<Finding>) {
    let read = shots::parse("chart.csv", sheet.as_bytes(), &Usual::default());
    let (series, mut findings) = series::sort(read.value, None);
    let (report, said) = Report::make(series, setup);
    findings.splice(0..0, read.findings);
    findings.extend(said);
    (report, findings)
}

fn solved(report: &Report, at: usize) -> &Solved {
    report.series[at].1.as_ref().unwrap()
}

#[track_caller]
fn close<U: Unit>(found: &Known<U>, wanted: f64, within: f64) {
    let off = found.value.number() - wanted;
    assert!(off.abs() <= within, "{found:?}, not {wanted}");
}

/// Source: OpenCV projectPoints, as above; spans are given to 0.0001 px, which leaves the last digits of the pupil open.
#[test]
fn a_fixed_focus_gives_back_the_pinhole_and_its_pupil() {
    let (report, findings) = measure(&both("2", &BARE, &REDUCED), PLAIN);
    assert_eq!(findings, []);
    for (at, p, e) in [(0, 50.0, 40.769946), (1, 35.5, 33.519946)] {
        close(&solved(&report, at).focal, p, 2e-6);
        close(solved(&report, at).pupil.as_ref().unwrap(), e, 1e-4);
    }
    close(&report.pairs[0].magnification, 0.71, 1e-7);
    assert!(report.pairs[0].off_mark_percent().unwrap().abs() < 1e-4);
}

/// Source: optiland, as above. Fitted with the plain line, all shots weighed alike, the refocused lens comes out short;
/// the ratio hardly suffers. The exact curve gives back 50 mm and 0.71.
#[test]
fn a_refocused_lens_needs_the_curve() {
    // A tape error far above that of the pixels weighs all shots alike.
    let alike = Setup { errors: Errors { pixels: 0.001, tape: 200.0 }, ..PLAIN };
    let (report, _) = measure(&both("2", &BARE_REFOCUSED, &REDUCED_REFOCUSED), alike);
    close(&solved(&report, 0).focal, 49.9683, 1e-4);
    close(&solved(&report, 1).focal, 35.4777, 1e-4);
    close(&report.pairs[0].magnification, 0.71, 5e-6);
    let (report, findings) =
        measure(&both("refocused", &BARE_REFOCUSED, &REDUCED_REFOCUSED), PLAIN);
    assert_eq!(findings, []);
    close(&solved(&report, 0).focal, 50.0, 5e-6);
    close(&solved(&report, 1).focal, 35.5, 5e-6);
    close(&report.pairs[0].magnification, 0.71, 1e-7);
    // Without the bare series the curve tells m f by itself; m only if the spans are very well known.
    let of = DISTANCES.iter().zip(REDUCED_REFOCUSED).map(|(d, q)| ("0.71", "each", *d, q));
    let (report, findings) = measure(&sheet(of.clone()), PLAIN);
    assert_eq!(findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::ChartNoBare]);
    close(&solved(&report, 0).focal, 35.5, 1e-4);
    let exact = Setup { errors: Errors { pixels: 0.01, tape: 0.0 }, ..PLAIN };
    let (report, findings) = measure(&sheet(of), exact);
    assert_eq!(findings, []);
    close(&report.pairs[0].magnification, 0.71, 1e-4);
    assert!(report.pairs[0].bare.is_none() && report.pairs[0].magnification.uncertainty > 0.001);
}

/// Source: arithmetic on the spans above: 0.70439 at 1 m to 0.70869 at 4 m for a true 0.71.
#[test]
fn one_distance_is_biased_and_said_so() {
    for (at, ratio) in [(0, 0.70467), (4, 0.70870)] {
        // The ratio is m (d - e)/(d - e').
        let d = DISTANCES[at];
        let model = 0.71 * (d - 40.769946) / (d - 33.519946);
        assert!((REDUCED[at] / BARE[at] - model).abs() < 1e-7);
        assert!((model - ratio).abs() < 2e-5, "{model}");
        let rows = [("none", "2", d, BARE[at]), ("0.71", "2", d, REDUCED[at])];
        let (report, findings) = measure(&sheet(rows), PLAIN);
        assert!(report.pairs.is_empty());
        assert_eq!(findings.len(), 2, "{findings:?}");
        let told = findings[1].message.contains("m (d - e)/(d - e')");
        assert!(told, "{}", findings[1].message);
        for finding in findings {
            assert_eq!(finding.code, Code::ChartOneDistance);
            let twice = format!("{} m", 2.0 * d / 1000.0);
            assert!(finding.hint.unwrap().contains(&twice));
        }
    }
    // Refocused at each distance, the plain ratios of the widths.
    for (at, ratio) in [(0, 0.70439), (4, 0.70869)] {
        assert!((REDUCED_REFOCUSED[at] / BARE_REFOCUSED[at] - ratio).abs() < 5e-6);
    }
    let pupil = Setup { pupil: Offset::new(40.769946), ..PLAIN };
    let (report, findings) = measure(&sheet([("none", "2", 1000.0, BARE[0])]), pupil);
    assert_eq!(findings, []);
    close(&solved(&report, 0).focal, 50.0, 1e-6);
}

#[test]
fn a_given_focal_length_stands_in_for_the_bare_series() {
    let of = DISTANCES.iter().zip(REDUCED).map(|(d, q)| ("0.71", "2", *d, q));
    let (report, findings) = measure(&sheet(of.clone()), PLAIN);
    assert!(report.pairs.is_empty());
    assert_eq!(findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::ChartNoBare]);
    let native = Known { value: Millimeters::new(50.0).unwrap(), uncertainty: 0.5 };
    let (report, findings) = measure(&sheet(of), Setup { native: Some(native), ..PLAIN });
    assert_eq!(findings, []);
    let m = report.pairs[0].magnification;
    close(&m, 0.71, 1e-7);
    // 1 % of the lens goes through, and the fit's own part is small beside it.
    assert!((m.uncertainty / 0.00713 - 1.0).abs() < 0.01, "{m:?}");
}

/// Numbers that look like chance and are the same on every run: `SplitMix64`, then Box and Muller.
struct Noise(u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        (f64::from(u32::try_from(z >> 32).unwrap()) + 0.5) / 4_294_967_296.0
    }

    fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform(), self.uniform());
        libm::sqrt(-2.0 * libm::log(a)) * libm::cos(2.0 * std::f64::consts::PI * b)
    }
}

/// Span of the 500 mm chart in the model of a fixed focus.
fn pinhole(p: f64, e: f64, d: f64) -> f64 {
    p * 500.0 / 0.0044 / (d - e)
}

/// Span in the exact model of a lens refocused at each distance; K as the traced lens has it.
fn refocused(m: f64, focal: f64, distance: f64) -> f64 {
    let (near, reach) = (m * focal, distance + 12.0);
    let root = libm::sqrt(reach * reach - 4.0 * focal * focal);
    500.0 / 0.0044 * 2.0 * near / (reach + root)
}

/// The estimates' distances from the truth, in their own standard uncertainties.
#[derive(Default)]
struct Pulls(Vec<f64>);

impl Pulls {
    fn push<U: Unit>(&mut self, found: &Known<U>, truth: f64) {
        self.0.push((found.value.number() - truth) / found.uncertainty);
    }

    /// A normal distribution of width one: mean 0, standard deviation 1, 68.27 % inside one. The allowances are some
    /// four times what chance does in 1000 repeats.
    fn hold(&self, what: &str) {
        let count = f64::from(u32::try_from(self.0.len()).unwrap());
        let mean = self.0.iter().sum::<f64>() / count;
        let deviation = libm::sqrt(
            self.0.iter().map(|pull| (pull - mean) * (pull - mean)).sum::<f64>() / (count - 1.0),
        );
        let inside = self.0.iter().filter(|pull| pull.abs() < 1.0).count();
        let inside = f64::from(u32::try_from(inside).unwrap()) / count;
        assert!(mean.abs() < 0.13, "{what}: mean {mean}");
        assert!((deviation - 1.0).abs() < 0.07, "{what}: standard deviation {deviation}");
        assert!((inside - 0.6827).abs() < 0.045, "{what}: {inside} inside");
    }
}

#[test]
fn error_bars_hold_in_a_thousand_noisy_repeats() {
    let mut noise = Noise(14);
    for (pixels, tape) in [(1.0, 0.0), (0.2, 2.0), (1.0, 1.0)] {
        let setup = Setup { errors: Errors { pixels, tape }, ..PLAIN };
        let [mut p, mut e, mut m, mut curve, mut of_curve, mut free] =
            std::array::from_fn::<_, 6, _>(|_| Pulls::default());
        for _ in 0..1000 {
            let shoot = |noise: &mut Noise, span: &dyn Fn(f64) -> f64| -> Vec<(f64, f64)> {
                let shot =
                    |d: &f64| (d + tape * noise.normal(), span(*d) + pixels * noise.normal());
                DISTANCES.iter().map(shot).collect()
            };
            let mut run = |focus: &str, bare: &dyn Fn(f64) -> f64, behind: &dyn Fn(f64) -> f64| {
                let (bare, behind) = (shoot(&mut noise, bare), shoot(&mut noise, behind));
                let bare = bare.iter().map(|(d, q)| ("none", focus, *d, *q));
                let behind = behind.iter().map(|(d, q)| ("0.71", focus, *d, *q));
                (
                    measure(&sheet(bare.chain(behind.clone())), setup).0,
                    measure(&sheet(behind), setup).0,
                )
            };
            let (report, _) = run("2", &|d| pinhole(50.0, 40.8, d), &|d| pinhole(35.5, 33.5, d));
            for (at, truth) in [(0, (50.0, 40.8)), (1, (35.5, 33.5))] {
                p.push(&solved(&report, at).focal, truth.0);
                e.push(solved(&report, at).pupil.as_ref().unwrap(), truth.1);
            }
            m.push(&report.pairs[0].magnification, 0.71);
            let (report, alone) =
                run("each", &|d| refocused(1.0, 50.0, d), &|d| refocused(0.71, 50.0, d));
            curve.push(&solved(&report, 0).focal, 50.0);
            of_curve.push(&report.pairs[0].magnification, 0.71);
            // Three numbers from five shots: m alone is so ill known that the first order no longer holds; m f does.
            free.push(&solved(&alone, 0).focal, 35.5);
        }
        for (pulls, what) in
            [(p, "p"), (e, "e"), (m, "m"), (curve, "f"), (of_curve, "m of curves"), (free, "a")]
        {
            pulls.hold(&format!("{what} at {pixels} px and {tape} mm"));
        }
    }
}

/// One distance rests on a pupil that is itself in doubt; and what several magnifications have in common, the focal
/// length given for the lens alone, does not average out.
#[test]
fn what_was_given_is_doubted_too_and_only_once() {
    let mut noise = Noise(15);
    let errors = Errors { pixels: 1.0, tape: 1.0 };
    let (mut p, mut m) = (Pulls::default(), Pulls::default());
    for _ in 0..1000 {
        // The pupil as stated, off by a millimetre.
        let stated = 40.8 + noise.normal();
        let setup = Setup { pupil: Offset::new(stated), errors, ..PLAIN };
        let shot = (1000.0 + noise.normal(), pinhole(50.0, 40.8, 1000.0) + noise.normal());
        let (report, _) = measure(&sheet([("none", "2", shot.0, shot.1)]), setup);
        p.push(&solved(&report, 0).focal, 50.0);
        // The lens alone as stated, off by half a millimetre, for two lots of shots at one setting.
        let native = Known {
            value: Millimeters::new(50.0 + 0.5 * noise.normal()).unwrap(),
            uncertainty: 0.5,
        };
        let setup = Setup { native: Some(native), errors, ..PLAIN };
        let mut lots = |name: &'static str| -> Vec<_> {
            DISTANCES
                .iter()
                .map(|d| {
                    (name, "inf", d + noise.normal(), pinhole(35.5, 33.5, *d) + noise.normal())
                })
                .collect()
        };
        let (one, two) =
            (measure(&sheet(lots("0.71")), setup).0, measure(&sheet(lots("0.71")), setup).0);
        let pairs = [&one.pairs[0], &two.pairs[0]];
        m.push(&lensmend::measure::compare::mean(&pairs).unwrap(), 0.71);
    }
    p.hold("p of one distance");
    m.hold("mean of two magnifications against one native");
}

#[test]
fn scatter_beyond_the_stated_errors_widens_them() {
    let mut spans = BARE;
    spans[2] += 40.0;
    let rows = |spans: [f64; 5]| {
        sheet(DISTANCES.iter().zip(spans).map(|(d, q)| ("none", "2", *d, q)).collect::<Vec<_>>())
    };
    let (calm, _) = measure(&rows(BARE), PLAIN);
    let (report, findings) = measure(&rows(spans), PLAIN);
    assert_eq!(findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::ChartScatter]);
    let found = solved(&report, 0);
    assert!(found.widened > 5.0);
    let wider = found.focal.uncertainty / solved(&calm, 0).focal.uncertainty;
    assert!((wider / found.widened - 1.0).abs() < 0.05, "{wider}");
}

#[test]
fn bad_sheets_are_told_and_the_rest_counts() {
    let good: String = DISTANCES
        .iter()
        .zip(BARE)
        .map(|(d, q)| format!("x,none,2,{d},500,{q}"))
        .collect::<Vec<_>>()
        .join("\n")
        + "\n";
    let head = "Lens,Attachment,Focus m,Tape mm,Chart width mm,Span px\n";
    for (rows, code, word) in [
        ("x,0.71,2,1000,500,0\n", Code::NotesRow, "no number of pixels"),
        ("x,0.71,2,-1,500,400\n", Code::NotesRow, "is no distance"),
        ("x,0.71,2,inf,500,400\n", Code::NotesRow, "cannot be taped"),
        ("x,0.71,2,1000,0,400\n", Code::NotesRow, "is no distance"),
        ("x,0.71,2,1000,500,\n", Code::NotesRow, "says no span"),
        ("x,0.71,2,,500,400\n", Code::NotesRow, "says no tape distance"),
        ("x,,2,1000,500,400\n", Code::NotesRow, "nothing of an attachment"),
        ("x,0.71,2,1000,500,\"1,234\"\n", Code::NotesRow, "no number of pixels"),
        ("x,0.71,2,1000,500,400,9\n", Code::NotesRow, "more cells"),
        (
            "x,0.71,2,1000,500,400\nx,0.71,2,2000,500,900\n",
            Code::ChartSeries,
            "looks larger at 2 m than at 1 m",
        ),
        (
            "x,0.71,2,1000,500,4000\nx,0.71,2,2000,500,9000\n",
            Code::ChartSeries,
            "wider than the raster",
        ),
        (
            "x,0.71,2,1000,500,4000\nx,0.71,2,1000,500,4001\n",
            Code::ChartOneDistance,
            "at one distance",
        ),
        ("x,0.71,each,1000,500,4000\n", Code::ChartOneDistance, "at one distance"),
        (
            "x,0.71,each,1000,500,4000\nx,0.71,each,2000,500,1950\n",
            Code::ChartSeries,
            "two distances do not tell",
        ),
    ] {
        let usual = Usual { pitch: Millimeters::new(0.0044), ..Usual::default() };
        let read = shots::parse("chart.csv", format!("{head}{good}{rows}").as_bytes(), &usual);
        let (series, _) = series::sort(read.value, None);
        let (report, said) = Report::make(series, Setup { raster_width: Some(8192), ..PLAIN });
        let all: Vec<Finding> = read.findings.into_iter().chain(said).collect();
        let there =
            all.iter().any(|f| f.code == code && f.message.contains(word) && f.hint.is_some());
        assert!(there, "{rows}: {all:?}");
        assert!(all.iter().all(|f| f.place.is_some()), "{rows}");
        close(&solved(&report, 0).focal, 50.0, 1e-5);
    }
}

#[test]
fn sheets_are_read_as_tolerantly_as_notes() {
    let mut sheet =
        String::from("Prep day;;;;;\nOptik;Reducer;Span (px);Tape (m);Focus;Chart width (cm)\n");
    for (at, (d, q)) in DISTANCES.iter().zip(BARE).enumerate() {
        let lens = if at == 0 { "Sorrel 50" } else { "\"\"\"\"" };
        let tape = format!("{:.1}", d / 1000.0).replace('.', ",");
        writeln!(sheet, "{lens};-;{};{tape};6'6\";50", format!("{q:.1} px").replace('.', ","))
            .unwrap();
    }
    // In UTF-16, as spreadsheets save it.
    let bytes: Vec<u8> = format!("\u{feff}{}", sheet.replace("Optik", "Lens"))
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    let read = shots::parse(
        "chart.csv",
        &bytes,
        &Usual { pitch: Millimeters::new(0.0044), ..Usual::default() },
    );
    assert_eq!(read.findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::NotesEncoding]);
    let (series, _) = series::sort(read.value, None);
    assert_eq!(series.len(), 1);
    let (report, _) = Report::make(series, PLAIN);
    close(&solved(&report, 0).focal, 50.0, 0.002);
}

#[test]
fn ten_thousand_shots_take_bounded_time() {
    let mut sheet = String::from("Lens,Attachment,Focus m,Tape mm,Chart width mm,Span px\n");
    for at in 0..10_100 {
        writeln!(sheet, "lens {at},0.71,{at},{},500,4000", 1000 + at).unwrap();
    }
    let usual = Usual { pitch: Millimeters::new(0.0044), ..Usual::default() };
    let read = shots::parse("chart.csv", sheet.as_bytes(), &usual);
    assert_eq!(read.value.len(), 10_000);
    let (series, _) = series::sort(read.value, Some(&kit::Kit::default()));
    let (report, _) = Report::make(series, PLAIN);
    assert_eq!(report.series.len(), 10_000);
}

#[test]
fn kit_lines_are_what_the_kit_reads_and_names_stay_in_their_comment() {
    let sheet = both("inf", &BARE, &REDUCED).replace("Sorrel 50", "\"x\nevil = 1\"");
    let (report, _) = measure(&sheet, PLAIN);
    let page = String::from_utf8(
        measure_json::write(&report, &[], &[], &Stamp { date: String::new(), tool: String::new() })
            .unwrap(),
    );
    let page: serde_json::Value = serde_json::from_str(&page.unwrap()).unwrap();
    let lines: Vec<&str> =
        page["kitLines"].as_array().unwrap().iter().map(|line| line.as_str().unwrap()).collect();
    assert!(lines.iter().all(|line| !line.contains('\n')), "{lines:?}");
    let parted = lines.iter().position(|line| line.is_empty()).unwrap();
    let kit = format!(
        "[[lens]]\nid = \"x\"\nfocal = 50\n{}\n[[attachment]]\nid = \"r\"\nkind = \"reducer\"\n{}\n",
        lines[..parted]
            .iter()
            .filter(|line| !line.contains("pupil-offset-u"))
            .copied()
            .collect::<Vec<_>>()
            .join("\n"),
        lines[parted..].join("\n")
    );
    let found = kit::parse("kit.toml", kit.as_bytes());
    assert_eq!(found.findings, [], "{kit}");
    let lens = &found.value.lenses[0];
    assert!((lens.focal.as_ref().unwrap().value.get() - 50.0).abs() < 0.001);
    assert!((found.value.attachments[0].magnification.value.get() - 0.71).abs() < 1e-5);
}

const SAMPLE: &str = "samples/chart-day";

/// `samples/chart-day`: what `measure` prints of it is byte for byte what stands beside it.
#[test]
fn measuring_the_sample_gives_the_expected_text() {
    let chart = format!("{SAMPLE}/chart.csv");
    let run = lensmend(&[
        "measure",
        &chart,
        "--kit",
        "samples/saltmarsh-day/kit.toml",
        "--camera",
        "A",
        "--mode",
        "uhd",
    ]);
    let talk = String::from_utf8_lossy(&run.stderr);
    assert_eq!(run.status.code(), Some(0), "{talk}{}", String::from_utf8_lossy(&run.stdout));
    let expected = format!("{SAMPLE}/expected.txt");
    if blessing() {
        fs::write(root().join(&expected), &run.stdout).unwrap();
        return;
    }
    let there = text(&expected).unwrap_or_default();
    let difference = first_difference(there.as_bytes(), &run.stdout);
    assert_eq!(
        difference, None,
        "if meant: BLESS=1 cargo test --test suite measuring, then read the difference"
    );
}

#[test]
fn requests_that_cannot_be_carried_out_are_2() {
    let folder = tempfile::tempdir().unwrap();
    let chart = folder.path().join("chart.csv");
    fs::write(&chart, both("2", &BARE, &REDUCED)).unwrap();
    let chart = chart.to_str().unwrap();
    let empty = folder.path().join("empty.csv");
    fs::write(&empty, "Tape m,Span px\n").unwrap();
    let kit = "samples/saltmarsh-day/kit.toml";
    let cases: &[(&[&str], i32, &str)] = &[
        (&["measure", chart], 0, ""),
        (&["measure", chart, "--pixel-error", "0"], 2, "--pixel-error"),
        (&["measure", chart, "--tape-error", "NaN"], 2, "--tape-error"),
        (&["measure", chart, "--native", "50"], 2, "--native-uncertainty"),
        (&["measure", chart, "--pitch", "4.4 m"], 2, "--pitch"),
        (&["measure", chart, "--chart-width", "wide"], 2, "--chart-width"),
        (&["measure", chart, "--kit", kit, "--camera", "Z"], 2, "did you mean A?"),
        (
            &["measure", chart, "--kit", kit, "--camera", "A", "--mode", "uhf"],
            2,
            "did you mean uhd?",
        ),
        (&["measure", empty.to_str().unwrap()], 2, "nothing was measured"),
        (&["measure", "no-such.csv"], 2, "no-such.csv"),
    ];
    for (arguments, code, word) in cases {
        let run = lensmend(arguments);
        let talk = String::from_utf8_lossy(&run.stderr);
        assert_eq!(run.status.code(), Some(*code), "{arguments:?}: {talk}");
        assert!(talk.contains(word), "{arguments:?}: {talk}");
    }
}
