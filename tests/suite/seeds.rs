//! First inputs for the fuzz targets, made by code, so that no fuzzer spends its hour on guessing a heading.
#![expect(
    clippy::disallowed_methods,
    reason = "a test leaves the seeds where fuzzing looks for them"
)]

use std::fs;
use std::path::PathBuf;

use crate::fixtures;
use crate::frames::LITTLE;
use crate::tracks::{Fragment, set, value};
use crate::workshop::{root, tree};

/// What each target in `tests/fuzz/targets` begins with.
fn seeds() -> Vec<(&'static str, Vec<Vec<u8>>)> {
    let ending = |ends: &[&str]| -> Vec<Vec<u8>> {
        let all = fixtures::all().into_iter();
        all.filter(|(name, _)| ends.iter().any(|end| name.ends_with(end))).map(|(_, b)| b).collect()
    };
    let sample = |ends: &str| -> Vec<Vec<u8>> {
        let files = tree(&root().join("samples")).into_iter();
        files.filter(|(name, _)| name.ends_with(ends)).map(|(_, bytes)| bytes.clone()).collect()
    };
    let movies = [ending(&[".mov", ".mp4"]), sample(".mov"), sample(".mp4")].concat();
    // The first byte of a picture chooses its kind, and the target writes the beginning itself.
    let fields = crate::frames::tiff(LITTLE, &[crate::frames::taken()]);
    let pictures = [(0, &fields[8..]), (3, &fields[8..])];
    let pictures = pictures.map(|(kind, rest)| [&[kind], rest].concat()).to_vec();
    let stops = [value(1, b"F2.8"), value(3, &4f32.to_be_bytes())].concat();
    let fragment = Fragment { time: Some(4), ..Fragment::of(&[set(24), set(35)]) }.bytes();
    let list =
        b"Name,Reel,Start TC,FPS,Focal Length,T-Stop\nA001C001,A001,01:00:00:00,24,35mm,T2 3/10\n";
    let record = b"<hash><path size=\"5\">Clips/A003C001.mov</path><xxh64 action=\"original\">0ea03b369a463d9d</xxh64></hash>";
    // A header, a table of one offset, and what stands for a chunk.
    let mut plate = crate::frames::exr(&[crate::frames::attributes()]);
    plate.extend((u64::try_from(plate.len()).unwrap() + 8).to_le_bytes());
    plate.extend([0; 8]);
    vec![
        ("header", movies),
        ("cut", sample(".edl")),
        ("plate", vec![plate]),
        ("mxf", ending(&[".mxf"])),
        ("picture", pictures),
        ("extended", ending(&[".jpg"])),
        ("acquisition", vec![set(24), fixtures::lens()]),
        (
            "timed",
            vec![
                [&[0], &set(24)[..]].concat(),
                [&[1], &stops[..]].concat(),
                [&[2], &fragment[..]].concat(),
            ],
        ),
        ("xmp", vec![crate::boxes::packet("<rdf:Description e:FNumber='28/10'/>")]),
        ("notes", [sample("notes-a.csv"), sample("notes-b.csv")].concat()),
        ("lists", vec![list.to_vec()]),
        ("chart", sample("chart.csv")),
        ("kit", sample("kit.toml")),
        ("sidecar", sample(".xmp")),
        ("seal", vec![record.to_vec()]),
    ]
}

/// Every target has seeds, and they are written where `tests/fuzz/Cargo.toml` says.
#[test]
fn every_fuzz_target_has_seeds() {
    let targets: Vec<String> = tree(&root().join("tests/fuzz/targets")).into_keys().collect();
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("seeds");
    let seeds = seeds();
    for target in &targets {
        let name = target.strip_suffix(".rs").unwrap();
        let of = seeds.iter().find(|(of, _)| *of == name);
        let count = of.map_or(0, |(_, seeds)| seeds.iter().filter(|seed| !seed.is_empty()).count());
        assert!(count > 0, "the fuzz target {name} has no seeds (tests/suite/seeds.rs)");
    }
    for (target, seeds) in &seeds {
        assert!(targets.contains(&format!("{target}.rs")), "no fuzz target {target}");
        let folder = folder.join(target);
        fs::create_dir_all(&folder).unwrap();
        for (number, seed) in seeds.iter().enumerate() {
            fs::write(folder.join(number.to_string()), seed).unwrap();
        }
    }
}
