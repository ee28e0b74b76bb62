//! Merged sidecars before an RDF library and an XMP toolkit: nothing of others is gone, and what is ours is there.

use std::fs;
use std::path::PathBuf;

use serde_json::Value as Json;

use super::{beside, mirrored, shapes};
use crate::conform::Judges;

/// What only reads as it was meant in RDF: the toolkit finds no subject of that name or does not read the shape.
const BEYOND_THE_TOOLKIT: &[&str] =
    &["two subjects", "XML as a value", "RDF without prefix", "no subject"];

#[test]
fn triples_outside_of_our_hand_are_the_same_before_and_after() {
    let Some(judges) = Judges::called() else { return };
    let shapes = shapes::shapes();
    let (shoot, at) = beside(&shapes);
    shoot.annotate([]).exits(1);
    let mut files: Vec<PathBuf> = Vec::new();
    for at in &at {
        files.extend([shoot.dump().join(at), mirrored(&shoot, at)]);
    }
    let apart = judges.ask("merged_triples.py", &files);
    // And merged again, after the values have changed.
    let before = shoot.temp.path().join("before");
    fs::create_dir(&before).unwrap();
    for (number, at) in at.iter().enumerate() {
        fs::copy(shoot.dump().join(at), before.join(format!("{number}.xmp"))).unwrap();
    }
    shoot.annotate(["--beside"]).exits(1);
    shoot.notes(
        "Roll,Clip,Slate,Take,Lens,Stop,Reducer,Focus\nA003,all,24A,2,Sorrel 50,f/4,0.71,3 m\n",
    );
    shoot.annotate(["--beside"]).exits(1);
    let files: Vec<PathBuf> = (at.iter().enumerate())
        .flat_map(|(number, at)| [before.join(format!("{number}.xmp")), shoot.dump().join(at)])
        .collect();
    let again = judges.ask("merged_triples.py", &files);
    for (answers, stop, distance) in [(apart, 2.0, "12/5"), (again, 2.84, "3/1")] {
        for ((name, _), said) in shapes.iter().zip(answers.iter().step_by(2)) {
            assert_eq!(said["kept"], true, "{name}: {said}");
            assert!(
                said["triples"].as_u64().unwrap() > 0
                    || name.contains("mpty")
                    || name.contains("nothing"),
                "{name}"
            );
            if BEYOND_THE_TOOLKIT.contains(name) {
                continue;
            }
            assert_eq!(said["gone"], Json::Object(serde_json::Map::new()), "{name}");
            let found = |path: &str| said["toolkit"][path].as_str().unwrap_or_default();
            assert_eq!(found("exif:SubjectDistance"), distance, "{name}: {}", said["toolkit"]);
            assert_eq!(found("lensmend:pieces[1]/lensmend:focalLengthVerdict"), "filled", "{name}");
            let (over, under) = found("exif:FNumber").split_once('/').unwrap();
            let number: f64 = over.parse::<f64>().unwrap() / under.parse::<f64>().unwrap();
            // 2.8 on the ring is the stop 2^(3/2), 4 is 2^2 (ISO 517:2008); each times 0.71. One program kept its own.
            let stop = if name.starts_with("values of its own") { 2.8 } else { stop };
            assert!((number - stop).abs() < 0.01, "{name}: {number}");
        }
    }
}
