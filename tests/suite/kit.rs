//! Kit files: what is read, and every fault of a bad one in one run, each with its place and remedy.

use lensmend::finding::{Code, Finding, Level, Spot};
use lensmend::kit::{self, Kind, Reports};
use lensmend::sourced::{Basis, Origin};
use proptest::prelude::*;

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
const FAULTS: &[(&str, &str, &str)] = &[
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
    let tau = a.transmittance.as_ref().unwrap().value.get();
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

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..2000)) {
        kit::parse("kit.toml", &bytes);
    }

    #[test]
    fn no_damage_makes_it_panic(at in 0usize..4000, byte in any::<u8>(), cut in 0usize..4000) {
        let mut text = include_bytes!("../../samples/saltmarsh-day/kit.toml").to_vec();
        let at = at % text.len();
        text[at] = byte;
        kit::parse("kit.toml", &text);
        text.truncate(cut % text.len());
        kit::parse("kit.toml", &text);
    }
}
