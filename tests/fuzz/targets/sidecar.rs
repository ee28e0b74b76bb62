//! Any bytes as a sidecar that is there. What comes of a merge must be merged again without a change, and may lose nothing
//! but what is lensmend's.
#![no_main]

use std::sync::LazyLock;

use lensmend::annotation::{Annotation, ClipFacts, ClipFile, Derived, Settled, Setup};
use lensmend::output::Stamp;
use lensmend::output::xmp::{self, Base, Sidecar};
use lensmend::recorded::Recorded;
use lensmend::sourced::{Origin, Sourced};
use lensmend::track::Track;

/// A sidecar longer than this only repeats itself.
const MOST: usize = 64 << 10;

static CLIP: LazyLock<Annotation> = LazyLock::new(|| {
    let text = |text: &str| Some(Sourced::new(text.to_owned(), Origin::Computed("fuzzed")));
    let setup = Setup {
        camera: text("A"),
        mode: None,
        lens: Settled::unsaid(),
        lens_maker: None,
        lens_serial: None,
        lens_marks: None,
        squeeze: None,
        attachment: None,
        magnification: None,
        glass: None,
        lens_focal: None,
        lens_f: None,
        lens_t: None,
        focal_length: Settled::unsaid(),
        f_number: Settled::unsaid(),
        t_number: Settled::unsaid(),
        focus_distance: Settled::unsaid(),
        derived: Derived::default(),
        slate: text("24A"),
        take: text("3"),
        circled: None,
        filter: None,
        remarks: text("<&>"),
    };
    let file = ClipFile {
        path: "a.mov".into(),
        shown: "a.mov".into(),
        size: 1,
        row: None,
        header_sha256: None,
        first_frame: Some(0),
        frames: Some(24),
        start: None,
    };
    let clip = ClipFacts {
        name: "a".into(),
        roll: None,
        files: vec![file],
        copies: Vec::new(),
        media: Recorded::default(),
        lens: Vec::new(),
    };
    Annotation { clip, setups: Track::constant(setup) }
});

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() > MOST {
        return;
    }
    let sidecar = Sidecar { annotation: &CLIP, part: 1, production: None };
    let stamp = |date: &str| Stamp { date: date.into(), tool: "lensmend".into() };
    xmp::begun(bytes);
    for (begun_from, replace) in [(None, false), (None, true), (Some("0"), false)] {
        let base = Base { bytes, begun_from, replace };
        let Ok(merged) = sidecar.merge(&base, &stamp("2026-01-01T00:00:00Z")) else { continue };
        let Some(once) = merged.bytes else { continue };
        let again = Base { bytes: &once, begun_from: None, replace };
        let twice = sidecar.merge(&again, &stamp("2027-01-01T00:00:00Z")).unwrap();
        assert_eq!(twice.bytes, None, "a second merge has nothing to do");
    }
});
