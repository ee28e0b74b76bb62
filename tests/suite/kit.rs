//! Kit files: what is read, and every fault of a bad one in one run, each with its place and remedy.

use lensmend::finding::{Code, Finding, Level, Spot};
use lensmend::kit::form::Form;
use lensmend::kit::keys::HEADINGS;
use lensmend::kit::{self, Kind, Reports};
use lensmend::sourced::{Basis, Origin};
use lensmend::units::{Factor, Millimeters, Raster};
use proptest::prelude::*;

use crate::workshop::text;

fn findings(text: &str) -> Vec<Finding> {
    kit::parse("kit.toml", text.as_bytes()).findings
}

fn line(finding: &Finding) -> u64 {
    match finding.place.as_ref().map(|place| &place.spot) {
        Some(Spot::Text { line, .. }) => *line,
        other => panic!("{other:?}"),
    }
}

fn pointed(finding: &Finding) -> &str {
    match finding.place.as_ref().map(|place| &place.spot) {
        Some(Spot::Text { excerpt: Some(excerpt), .. }) => &excerpt.line[excerpt.part.clone()],
        other => panic!("{other:?}"),
    }
}

/// Each line: a kit of one entry; the words its only finding must hold; what it points at.
pub(crate) const FAULTS: &[(&str, &str, &str)] = &[
    ("[[lens]]\nid = 'a'\nfocal = 50000", "it is in millimetres", "50000"),
    ("[[lens]]\nid = 'a'\nfocal = '50'", "without quotes", "'50'"),
    ("[[lens]]\nid = 'a'", "neither a focal length nor a range", ""),
    (
        "[[lens]]\nid = 'a'\nfocal = 50\nrange = [24, 70]",
        "both a focal length and a range",
        "[24, 70]",
    ),
    ("[[lens]]\nid = 'a'\nrange = [70, 24]", "two rising numbers", "[70, 24]"),
    ("[[lens]]\nid = 'a'\nfocal = 50\nf-max = 2\nt-max = 1.8", "no glass adds light", "1.8"),
    ("[[lens]]\nid = 'a'\nfocal = 50\nmount = 'x'", "no mount \"x\"", "'x'"),
    ("[[lens]]\nfocal = 50", "has no id", ""),
    ("[[lens]]\nid = 'a'\nfocal = nan", "must be a number", "nan"),
    ("[[attachment]]\nid = 'r'\nkind = 'reducer'\nmagnification = 71", "did you mean 0.71?", "71"),
    ("[[attachment]]\nid = 'r'\nkind = 'reducer'", "has no magnification", ""),
    (
        "[[attachment]]\nid = 'r'\nkind = 'reducer'\nmagnification = 1.4",
        "lies between 0.2 and 0.999",
        "1.4",
    ),
    (
        "[[attachment]]\nid = 'r'\nkind = 'speeder'\nmagnification = 0.7",
        "one of \"reducer\"",
        "'speeder'",
    ),
    (
        "[[attachment]]\nid = 'r'\nkind = 'adapter'\nreports = 'half'",
        "one of \"nothing\"",
        "'half'",
    ),
    ("[[attachment]]\nid = 'r'\nkind = 'adapter'\ntransmittance = 95", "did you mean 0.95?", "95"),
    (
        "[[camera]]\nid = 'A'\n[[camera.mode]]\nid = 'm'\nraster = 'big'\nwidth = 20\nheight = 10",
        "3840x2160",
        "'big'",
    ),
    ("[[camera]]\nid = 'A'\n[[camera.mode]]\nid = 'm'\nraster = '1920x1080'", "recorded area", ""),
    ("[[naming]]\npattern = 'A###'", "which part names the clip", "'A###'"),
    ("[[roll]]\nname = 'A001'\nattachment = 'r71'", "no attachment \"r71\"", "'r71'"),
    (
        "[[mount]]\nid = 'a'\nflange = 18\n[[mount]]\nid = 'A'\nflange = 20",
        "two entries mount",
        "'A'",
    ),
    ("lens = 3", "must be a list of tables", "3"),
    // The wrong unit.
    ("[[lens]]\nid = 'a'\nfocal = 50000", "did you mean 50?", "50000"),
    ("[[lens]]\nid = 'a'\nfocal = 50\nimage-circle = 1.7", "1.7 inches are 43.18 mm", "1.7"),
    (
        "[[camera]]\nid = 'A'\n[[camera.mode]]\nid = 'm'\nraster = '1920x1080'\nwidth = 0.98\nheight = 13.8",
        "it is in millimetres, and 0.98 inches are 24.89 mm",
        "0.98",
    ),
    (
        "[[camera]]\nid = 'A'\n[[camera.mode]]\nid = 'm'\nraster = '1920x1080'\nwidth = 24.9\nheight = 0.55",
        "0.55 inches are 13.97 mm",
        "0.55",
    ),
    (
        "[[camera]]\nid = 'A'\n[[camera.mode]]\nid = 'm'\nraster = '1920x1080'\npitch = 0.0068",
        "it is in micrometres: did you mean 6.8?",
        "0.0068",
    ),
    (
        "[[camera]]\nid = 'A'\n[[camera.mode]]\nid = 'm'\nraster = '400000000x1080'\npitch = 6",
        "are an area of",
        "6",
    ),
    ("[[mount]]\nid = 'a'\nflange = 0.044", "did you mean 44?", "0.044"),
    ("[[attachment]]\nid = 'r'\nkind = 'adapter'\nexit-circle = 1.3", "inches are 33.02", "1.3"),
    // Measured values that cannot be of the lens.
    ("[[lens]]\nid = 'a'\nfocal = 50\nmeasured-focal = 1.97", "1.97 inches are 50 mm", "1.97"),
    ("[[lens]]\nid = 'a'\nfocal = 2\nmeasured-focal = 50.1", "2 inches are 50.8 mm", "2"),
    ("[[lens]]\nid = 'a'\nfocal = 50\nmeasured-focal = 35.5", "they are 29 % apart", "35.5"),
    ("[[lens]]\nid = 'a'\nfocal = 50\nmeasured-focal = 60.1", "without an attachment", "60.1"),
    // Openings that change over the zoom.
    (
        "[[lens]]\nid = 'a'\nfocal = 50\nf-max = [[24, 2.8], [70, 4]]",
        "does not have",
        "[[24, 2.8], [70, 4]]",
    ),
    (
        "[[lens]]\nid = 'a'\nrange = [24, 70]\nf-max = [[24, 2.8], [85, 4]]",
        "at 85 mm",
        "[[24, 2.8], [85, 4]]",
    ),
    (
        "[[lens]]\nid = 'a'\nrange = [24, 70]\nf-max = [[70, 4], [24, 2.8]]",
        "must rise",
        "[24, 2.8]",
    ),
    ("[[lens]]\nid = 'a'\nrange = [24, 70]\nf-max = [[24, 280]]", "between 0.5 and 64", "280"),
    (
        "[[lens]]\nid = 'a'\nrange = [24, 70]\nf-max = [24, 2.8]",
        "pairs of focal length and stop",
        "24",
    ),
    ("[[lens]]\nid = 'a'\nrange = [24, 70]\nf-max = []", "holds no number", "[]"),
    (
        "[[lens]]\nid = 'a'\nrange = [24, 70]\nf-max = [[24, 2.8], [70, 4]]\nt-max = 3.2",
        "below the largest f-number at 70 mm",
        "3.2",
    ),
    (
        "[[lens]]\nid = 'a'\nrange = [24, 70]\nf-max = 2.8\nt-max = [[24, 3], [50, 2.5], [70, 3]]",
        "below the largest f-number at 50 mm",
        "[[24, 3], [50, 2.5], [70, 3]]",
    ),
    // Tables of breathing.
    ("[[lens]]\nid = 'a'\nfocal = 50\nunit-focus = 'yes'", "must be true or false", "'yes'"),
    (
        "[[lens]]\nid = 'a'\nfocal = 50\nunit-focus = true\n[[lens.table]]\nfocus = [1]\npinhole = [51]",
        "keep the table",
        "true",
    ),
    ("[[lens]]\nid = 'a'\nfocal = 50\n[[lens.table]]\nfocus = [1]", "has no pinhole", ""),
    (
        "[[lens]]\nid = 'a'\nfocal = 50\n[[lens.table]]\nfocus = []\npinhole = []",
        "holds no number",
        "[]",
    ),
    (
        "[[lens]]\nid = 'a'\nfocal = 50\n[[lens.table]]\nfocus = [1, 2]\npinhole = [51]",
        "pinhole has 1 entries, and focus has 2",
        "[51]",
    ),
    (
        "[[lens]]\nid = 'a'\nfocal = 50\n[[lens.table]]\nfocus = [1, 2]\npinhole = [51, 50]\npupil-offset = [40]",
        "pupil-offset has 1 entries",
        "[40]",
    ),
    (
        "[[lens]]\nid = 'a'\nfocal = 50\n[[lens.table]]\nfocus = [inf, 1]\npinhole = [51, 50]",
        "must rise",
        "[inf, 1]",
    ),
    (
        "[[lens]]\nid = 'a'\nfocal = 50\n[[lens.table]]\nfocus = [1, inf]\npinhole = [51, inf]",
        "pinhole must be a number",
        "inf",
    ),
    (
        "[[lens]]\nid = 'a'\nfocal = 50\n[[lens.table]]\nfocus = [0, 1]\npinhole = [51, 50]",
        "focus is at least 0.01",
        "0",
    ),
    (
        "[[lens]]\nid = 'a'\nfocal = 50\n[[lens.table]]\nfocal = 50\nfocus = [1]\npinhole = [51]",
        "prime needs no focal",
        "50",
    ),
    (
        "[[lens]]\nid = 'a'\nfocal = 50\n[[lens.table]]\nfocus = [1]\npinhole = [51]\n[[lens.table]]\nfocus = [2]\npinhole = [50]",
        "a prime has one table only",
        "",
    ),
    (
        "[[lens]]\nid = 'a'\nrange = [24, 70]\n[[lens.table]]\nfocus = [1]\npinhole = [51]",
        "zoom has no focal",
        "",
    ),
    (
        "[[lens]]\nid = 'a'\nrange = [24, 70]\n[[lens.table]]\nfocal = 85\nfocus = [1]\npinhole = [84]",
        "outside the zoom's range",
        "85",
    ),
    (
        "[[lens]]\nid = 'a'\nrange = [24, 70]\n[[lens.table]]\nfocal = 50\nfocus = [1]\npinhole = [51]\n[[lens.table]]\nfocal = 50\nfocus = [2]\npinhole = [50]",
        "by rising focal",
        "50",
    ),
    // Plates.
    ("[[plate]]\nid = 'p'", "has no crop", ""),
    ("[[plate]]\nid = 'p'\ncrop = '4096'", "crop = \"4096x1716\"", "'4096'"),
    ("[[plate]]\nid = 'p'\ncrop = '4096x1716'\noffset = '-4x0'", "pixels from the left", "'-4x0'"),
    ("[[plate]]\nid = 'p'\ncrop = '4096x1716'\nsize = '0x858'", "is not a raster", "'0x858'"),
    (
        "[[plate]]\nid = 'p'\ncrop = '2x2'\n[[plate]]\nid = 'P'\ncrop = '2x2'",
        "two entries plate",
        "'P'",
    ),
    // A plain adapter that would have to be thinner than nothing.
    (
        "[[mount]]\nid = 'a'\nflange = 44\n[[mount]]\nid = 'b'\nflange = 44\n\
         [[attachment]]\nid = 'p'\nkind = 'adapter'\nlens-mount = 'a'\nbody-mount = 'b'",
        "no plain adapter takes a lenses (44 mm) to b (44 mm)",
        "'b'",
    ),
    // Uncertainties.
    ("[defaults]\nthickness-uncertainty = 500", "did you mean 0.5?", "500"),
    ("[defaults]\nstop-uncertainty-stops = 1.5", "between 0 and 1", "1.5"),
    ("[[lens]]\nid = 'a'\nfocal = 50\ntransmittance-uncertainty = 3", "did you mean 0.03?", "3"),
    ("[[lens]\nid = 'a'", "", ""),
];

#[test]
fn each_fault_is_found_pointed_at_and_explained() {
    for (text, words, part) in FAULTS {
        let found = findings(text);
        let all: Vec<String> = found
            .iter()
            .map(|f| format!("{} / {}", f.message, f.hint.clone().unwrap_or_default()))
            .collect();
        let hit = found.iter().find(|f| f.code == Code::KitFault);
        let hit = hit.unwrap_or_else(|| panic!("no fault in {text}: {all:?}"));
        assert!(all.iter().any(|message| message.contains(words)), "{text}: {all:?}");
        assert_eq!(hit.level(), Level::Fault);
        assert!(part.is_empty() || pointed(hit) == *part, "{text}: points at {}", pointed(hit));
        assert!(hit.hint.as_ref().is_some_and(|hint| !hint.is_empty()), "{text}");
    }
}

/// What people copy holds together.
#[test]
fn the_example_of_the_documentation_is_a_good_kit() {
    let page = text("docs/kit-toml.md").unwrap();
    let example = page.split("```toml\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    assert_eq!(findings(example), []);
    for heading in HEADINGS.iter().filter(|heading| heading.path != "attachment.reports") {
        assert!(example.contains(&format!("[{}]", heading.path)), "it shows no {}", heading.path);
        for key in heading.keys {
            let shown = example.contains(&format!("\n{} = ", key.name));
            assert!(shown || key.name.starts_with("shift"), "it shows no {}", key.name);
        }
    }
}

#[test]
fn every_fault_of_a_file_comes_in_one_run() {
    let text = "[[lens]]\nid = 'a'\nfocal = 50000\n\n[[lens]]\nid = 'b'\nfocall = 35\n\n[[attachment]]\nid = 'r'\nkind = 'reducer'\nmagnification = 71\n";
    let found = findings(text);
    let lines: Vec<(Code, u64)> = found.iter().map(|f| (f.code, line(f))).collect();
    assert!(lines.contains(&(Code::KitFault, 3)), "{lines:?}");
    assert!(lines.contains(&(Code::KitUnknownKey, 7)), "{lines:?}");
    assert!(lines.contains(&(Code::KitFault, 12)), "{lines:?}");
    let slip = found.iter().find(|f| f.code == Code::KitUnknownKey).unwrap();
    assert_eq!(slip.hint.as_deref(), Some("did you mean focal?"));
    let syntax = findings("a = \nb = ]\nc = 1\n");
    assert!(syntax.len() >= 2, "two lines are broken: {syntax:?}");
}

#[test]
fn a_file_of_rubbish_ends_soon_and_is_still_refused() {
    let lines: Vec<String> = (0..20_000).map(|at| format!("rubbish{at} = {at}\n")).collect();
    let mut text = lines.concat();
    text.push_str("[[lens]]\nid = 'a'\nfocal = 50000\n");
    let found = findings(&text);
    assert!(found.len() < 300, "{}", found.len());
    assert!(found.iter().any(|finding| finding.code == Code::KitFault));
}

#[test]
fn a_good_kit_is_read_with_origins_and_uncertainties() {
    let text = "[defaults]\nfocal-uncertainty-percent = 2\n[[lens]]\nid = 'a'\nfocal = 50\nf-max = 1.4\nt-max = 1.5\n\
        [[lens]]\nid = 'b'\nfocal = 24\nmeasured-focal = 24.3\nmeasured-focal-uncertainty = 0.1\n\
        [[attachment]]\nid = 'r'\nkind = 'reducer'\nmagnification = 0.71\nreports = { focal = 'reduced', stop = 'marked' }\n\
        [[attachment]]\nid = 'p'\nkind = 'adapter'\n";
    let found = kit::parse("kit.toml", text.as_bytes());
    assert_eq!(found.findings, []);
    let [a, b] = &found.value.lenses[..] else { panic!() };
    let focal = a.focal.as_ref().unwrap();
    assert_eq!(
        (focal.value.get(), focal.uncertainty, focal.basis),
        (50.0, Some(1.0), Basis::Nominal)
    );
    assert_eq!(focal.origin, Origin::Kit { key: "lens.a.focal".into() });
    // tau = (N/T)^2 of the exact stops: ISO 517:2008 for the series, the definition of the T-number for the rest.
    let tau = a.transmittance_at(None).unwrap().value.get();
    assert!((tau - 2.0 / 2.25).abs() < 1e-12);
    let measured = b.focal.as_ref().unwrap();
    assert_eq!(
        (measured.value.get(), measured.uncertainty, measured.basis),
        (24.3, Some(0.1), Basis::Measured)
    );
    let [r, p] = &found.value.attachments[..] else { panic!() };
    assert_eq!((r.reports_focal, r.reports_stop), (Some(Reports::Reduced), Some(Reports::Marked)));
    assert_eq!((p.kind, p.magnification.value.get()), (Kind::Adapter, 1.0));
    assert_eq!(p.transmittance.as_ref().unwrap().value.get().to_bits(), 1f64.to_bits());
}

#[test]
fn what_an_entry_states_goes_before_the_defaults() {
    let text = "[[mount]]\nid = 'a'\nflange = 44\n\
        [[camera]]\nid = 'A'\n[[camera.mode]]\nid = 'm'\nraster = '1920x1080'\nwidth = 20\nheight = 10\n\
        [[camera.mode]]\nid = 'n'\nraster = '1920x1080'\npitch = 6\narea-uncertainty-percent = 1\n\
        [[lens]]\nid = 'a'\nfocal = 50\nimage-circle = 40\npupil-offset = 30\ntransmittance = 0.8\n\
        [[lens]]\nid = 'b'\nfocal = 50\nimage-circle = 40\nimage-circle-uncertainty = 0.1\npupil-offset = 30\n\
        pupil-offset-uncertainty = 0.2\ntransmittance = 0.8\ntransmittance-uncertainty = 0.01\n\
        [[attachment]]\nid = 'r'\nkind = 'reducer'\nmagnification = 0.71\ntransmittance = 0.9\nexit-circle = 32\nthickness = 18\nshift = 3\n\
        [[attachment]]\nid = 's'\nkind = 'reducer'\nmagnification = 0.71\ntransmittance = 0.9\ntransmittance-uncertainty = 0.05\n\
        exit-circle = 32\nexit-circle-uncertainty = 0.3\nthickness = 18\nthickness-uncertainty = 0.01\nshift = 3\nshift-uncertainty = 0.02\n";
    let found = kit::parse("kit.toml", text.as_bytes());
    assert_eq!(found.findings, []);
    let kit = found.value;
    assert_eq!(kit.mounts[0].flange.uncertainty, Some(0.02));
    let modes = &kit.cameras[0].modes;
    assert_eq!(modes.iter().map(|m| m.back_relative).collect::<Vec<_>>(), [0.003, 0.01]);
    let tau = |at: usize| kit.lenses[at].transmittance_at(None).unwrap().uncertainty.unwrap();
    assert!((tau(0) - 0.024).abs() < 1e-12);
    assert!((tau(1) - 0.01).abs() < 1e-12);
    let of_lens = |at: usize| {
        let lens = &kit.lenses[at];
        [
            lens.image_circle.as_ref().unwrap().uncertainty,
            lens.pupil_offset.as_ref().unwrap().uncertainty,
        ]
    };
    assert_eq!([of_lens(0), of_lens(1)], [[Some(0.8), Some(1.0)], [Some(0.1), Some(0.2)]]);
    let of_attachment = |at: usize| {
        let attachment = &kit.attachments[at];
        [
            attachment.exit_circle.as_ref().unwrap().uncertainty,
            attachment.thickness.as_ref().unwrap().uncertainty,
            attachment.shift.as_ref().unwrap().uncertainty,
        ]
    };
    assert_eq!(of_attachment(0), [Some(0.64), Some(0.5), Some(0.5)]);
    assert_eq!(of_attachment(1), [Some(0.3), Some(0.01), Some(0.02)]);
    assert_eq!(kit.attachments[1].transmittance.as_ref().unwrap().uncertainty, Some(0.05));
}

/// Exact numbers of ISO 517:2008 at the marks; between them stops grow evenly with the focal length.
#[test]
fn a_zoom_whose_opening_ramps_opens_as_far_as_its_focal_length_lets_it() {
    let text = "[[lens]]\nid = 'z'\nrange = [24, 70]\nf-max = [[24, 2.8], [48, 4], [60, 4]]\nt-max = [[24, 3.2], [48, 4.5]]\n\
        [[lens]]\nid = 'p'\nfocal = 50\nf-max = 1.4\n[[lens]]\nid = 'q'\nfocal = 50\n";
    let found = kit::parse("kit.toml", text.as_bytes());
    assert_eq!(found.findings, []);
    let [zoom, prime, unknown] = &found.value.lenses[..] else { panic!() };
    let f =
        |focal: Option<f64>| zoom.f_max_at(focal.and_then(Millimeters::new)).unwrap().value.get();
    for (focal, want) in [
        (None, 8f64.sqrt()),
        (Some(24.0), 8f64.sqrt()),
        (Some(20.0), 8f64.sqrt()),
        // Half the way is half a stop: 2^(3.5 / 2).
        (Some(36.0), 3.363585661014858),
        (Some(48.0), 4.0),
        (Some(54.0), 4.0),
        (Some(70.0), 4.0),
    ] {
        assert!((f(focal) - want).abs() < 1e-12, "{focal:?}: {}", f(focal));
    }
    let widest = zoom.f_max_at(None).unwrap();
    assert_eq!(widest.origin, Origin::Kit { key: "lens.z.f-max".into() });
    // A tenth of a stop is ln 2 / 20 of the number.
    assert!((widest.relative().unwrap() - 0.034657359).abs() < 1e-9);
    // f/4 and T4.5 (4.4898): the transmittance at the long end is (4 / 4.4898)^2.
    let tau = zoom.transmittance_at(Millimeters::new(70.0)).unwrap();
    assert!((tau.value.get() - 0.79370053).abs() < 1e-8, "{tau:?}");
    // At the wide end f/2.8 (2.8284) and T3.2 (3.1748).
    let tau = zoom.transmittance_at(None).unwrap();
    assert!((tau.value.get() - 0.79370053).abs() < 1e-8, "{tau:?}");
    assert_eq!(tau.origin, Origin::Kit { key: "lens.z.f-max and t-max".into() });
    assert!(
        (prime.f_max_at(Millimeters::new(50.0)).unwrap().value.get() - 2f64.sqrt()).abs() < 1e-12
    );
    assert!(prime.t_max_at(None).is_none() && prime.transmittance_at(None).is_none());
    assert!(unknown.f_max_at(None).is_none());
}

#[test]
fn tables_and_plates_are_read() {
    let text = "[[lens]]\nid = 'z'\nrange = [24, 70]\n\
        [[lens.table]]\nfocal = 24\nfocus = [0.5, 1, inf]\npinhole = [25.1, 24.8, 24.3]\npupil-offset = [30, 31, -2]\n\
        pinhole-uncertainty = 0.05\npupil-offset-uncertainty = 0.4\n\
        [[lens.table]]\nfocal = 70\nfocus = [+inf]\npinhole = [69]\n\
        [[lens]]\nid = 'p'\nfocal = 50\nunit-focus = true\n\
        [[lens]]\nid = 'q'\nfocal = 50\nunit-focus = false\n[[lens.table]]\nfocus = [1]\npinhole = [51]\n\
        [[plate]]\nid = 'a'\ncrop = '4096x1716'\noffset = '0x222'\nsize = '2048x858'\nsqueeze = 2\n\
        [[plate]]\nid = 'b'\ncrop = '4096x1716'\n";
    let found = kit::parse("kit.toml", text.as_bytes());
    assert_eq!(found.findings, []);
    let [zoom, unit, measured] = &found.value.lenses[..] else { panic!() };
    let [wide, long] = &zoom.tables[..] else { panic!() };
    assert_eq!(wide.focal, Millimeters::new(24.0));
    assert_eq!(wide.focus.iter().map(|d| d.get()).collect::<Vec<_>>(), [0.5, 1.0, f64::INFINITY]);
    assert_eq!(wide.pinhole.iter().map(|p| p.get()).collect::<Vec<_>>(), [25.1, 24.8, 24.3]);
    assert_eq!(wide.pupil.iter().map(|e| e.get()).collect::<Vec<_>>(), [30.0, 31.0, -2.0]);
    assert_eq!((wide.pinhole_uncertainty, wide.pupil_uncertainty), (Some(0.05), Some(0.4)));
    assert_eq!(&*wide.key, "lens.z.table.24");
    assert_eq!((long.pupil.len(), long.pinhole_uncertainty), (0, None));
    assert!(unit.unit_focus && unit.tables.is_empty());
    assert_eq!((measured.unit_focus, measured.tables.len()), (false, 1));
    assert_eq!((measured.tables[0].focal, &*measured.tables[0].key), (None, "lens.q.table"));
    let [a, b] = &found.value.plates[..] else { panic!() };
    assert_eq!(
        (a.crop, a.offset, a.size),
        (Raster::new(4096, 1716).unwrap(), Some((0, 222)), Raster::new(2048, 858))
    );
    assert_eq!(a.squeeze.map(Factor::get), Some(2.0));
    assert_eq!(a.origin, Origin::Kit { key: "plate.a".into() });
    assert_eq!((b.offset, b.size, b.squeeze), (None, None, None));
    let long = format!(
        "[[lens]]\nid = 'p'\nfocal = 50\n[[lens.table]]\nfocus = {0:?}\npinhole = {0:?}",
        (1..66).collect::<Vec<_>>()
    );
    let found = findings(&long);
    assert!(
        found.iter().all(|f| f.message.contains("65 entries")) && found.len() == 2,
        "{found:?}"
    );
}

/// Two mounts that no spacing can join are no fault where glass moves the picture, or where the mounts are not known.
#[test]
fn glass_may_join_any_two_mounts() {
    let mounts = "[[mount]]\nid = 'a'\nflange = 44\n[[mount]]\nid = 'b'\nflange = 46\n[[mount]]\nid = 'c'\nflange = 43.9\n";
    for (entry, good) in [
        ("kind = 'reducer'\nmagnification = 0.71\nlens-mount = 'a'\nbody-mount = 'b'", true),
        ("kind = 'extender'\nmagnification = 1.4\nlens-mount = 'a'\nbody-mount = 'b'", true),
        ("kind = 'adapter'\nbody-mount = 'b'", true),
        ("kind = 'adapter'\nlens-mount = 'a'\nbody-mount = 'c'", true),
        ("kind = 'adapter'\nlens-mount = 'a'\nbody-mount = 'a'", false),
        ("kind = 'Adapter'\nlens-mount = 'a'\nbody-mount = 'b'", false),
    ] {
        let found = findings(&format!("{mounts}[[attachment]]\nid = 'x'\n{entry}\n"));
        assert_eq!(found.is_empty(), good, "{entry}: {found:?}");
    }
}

/// The edges of every range belong to it, and a hair beyond does not.
#[test]
fn the_reader_keeps_to_the_table_of_keys() {
    let mut looked_at = 0;
    for heading in HEADINGS {
        for key in heading.keys {
            let value = |text: &str| {
                let entry = format!("{} = {text}\n", key.name);
                let found = findings(&whole(heading.path, key.name, &entry));
                let about =
                    |f: &&Finding| f.message.contains(key.name) && !f.message.contains("has no");
                found.iter().filter(about).map(|f| f.message.clone()).collect::<Vec<_>>()
            };
            let (dotted, wrong) = (format!("{}.{}", heading.path, key.name), "[[[1979-05-27]]]");
            assert!(!value(wrong).is_empty(), "nobody reads {dotted}");
            let Form::Number(range) = key.form else { continue };
            looked_at += 1;
            assert_eq!(value(&format!("{}", range.low)), [""; 0], "{dotted}");
            assert!(!value(&format!("{}", range.low - 0.001)).is_empty(), "{dotted}");
            assert_eq!(value(&format!("{}", range.high)), [""; 0], "{dotted}");
            // Beyond infinity there is nothing.
            if range.high.is_finite() {
                assert!(!value(&format!("{}", range.high + 0.001)).is_empty(), "{dotted}");
            }
        }
    }
    assert!(looked_at > 30, "{looked_at}");
    for heading in HEADINGS {
        for key in heading.keys {
            let (Form::Word(words) | Form::Reports(words)) = key.form else { continue };
            for word in words {
                let entry = format!("{} = '{word}'\nmagnification = 1\n", key.name);
                let found = findings(&whole(heading.path, key.name, &entry));
                assert!(
                    !found.iter().any(|f| f.message.contains("is not known")),
                    "{word}: {found:?}"
                );
            }
        }
    }
}

/// A kit with one entry in it, under a heading that may need others around it.
fn whole(path: &str, key: &str, entry: &str) -> String {
    let around = match path {
        "camera.mode" => "[[camera]]\nid = 'A'\n[[camera.mode]]\n",
        "lens.table" => "[[lens]]\nid = 'a'\nrange = [1, 3000]\n[[lens.table]]\n",
        "lens.distortion" => "[[lens]]\nid = 'a'\nrange = [1, 3000]\n[[lens.distortion]]\n",
        "attachment.reports" => {
            "[[attachment]]\nid = 'r'\nkind = 'adapter'\n[attachment.reports]\n"
        }
        "attachment" if key != "kind" => "[[attachment]]\nkind = 'reducer'\n",
        "production" | "defaults" | "table" => return format!("[{path}]\n{entry}"),
        _ => return format!("[[{path}]]\n{entry}"),
    };
    format!("{around}{entry}")
}

/// The forms that the starter does not show.
const SHORT: &str = "[[lens]]\nid = 'x'\nrange = [24, 70]\nt-max = [[24, 3], [70, 4.5]]\nscale = 'T'\n\
    [[lens.table]]\nfocal = 24\nfocus = [1, inf]\npinhole = [24, 24]\npupil-offset = [1, 2]\n\
    [[attachment]]\nid = 'y'\nkind = 'extender'\nmeasured-magnification = 1.4\nreports = { focal = 'marked' }\n";

#[test]
fn damage_begins_with_a_good_kit() {
    assert_eq!(findings(&format!("{}{SHORT}", kit::STARTER)), []);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..2000)) {
        kit::parse("kit.toml", &bytes);
    }

    #[test]
    fn no_damage_makes_it_panic(at in 0usize..8000, byte in any::<u8>(), cut in 0usize..8000) {
        let mut text = format!("{}{SHORT}", kit::STARTER).into_bytes();
        let at = at % text.len();
        text[at] = byte;
        kit::parse("kit.toml", &text);
        text.truncate(cut % text.len());
        kit::parse("kit.toml", &text);
    }
}
