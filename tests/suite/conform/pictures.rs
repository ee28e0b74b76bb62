//! Exif, XMP and `OpenEXR` values against those of the libraries that wrote the files.

#![expect(clippy::disallowed_methods, reason = "tests look at files of their own")]

use std::path::{Path, PathBuf};

use serde_json::Value as Json;

use lensmend::read_at::ReadAt;
use lensmend::recorded::{Recorded, read};

use super::Judges;

#[test]
fn every_value_of_a_picture_is_what_its_library_reads() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let said = judges.run("picture_values.py", &[PathBuf::from(folder.path())]);
    let mut compared = 0;
    for picture in said.as_array().unwrap() {
        let file = picture["file"].as_str().unwrap();
        let recorded = recorded(&folder.path().join(file));
        for (name, value) in picture["values"].as_object().unwrap() {
            let tag = recorded.tags.iter().find(|tag| tag.key == *name);
            let tag = tag.unwrap_or_else(|| {
                // A number stands in place of a name that lensmend does not know.
                let unknown =
                    recorded.tags.iter().find(|t| t.key.starts_with("0x") && same(&t.value, value));
                unknown.unwrap_or_else(|| panic!("{file}: {name} {value} is not read"))
            });
            assert!(same(&tag.value, value), "{file}: {name}: {value} is read as {}", tag.value);
            compared += 1;
        }
        assert_eq!(meanings(&recorded), wanted(file), "{file}");
    }
    assert!(compared > 90, "only {compared} values compared");
}

fn recorded(path: &Path) -> Recorded {
    let bytes = std::fs::read(path).unwrap();
    let source: &dyn ReadAt = &&bytes[..];
    let found = read(source, "frame");
    assert_eq!(found.findings, [], "{}", path.display());
    found.value
}

/// Floats are compared as 32-bit ones, which is what the file holds.
fn same(tag: &str, value: &Json) -> bool {
    match value {
        Json::String(text) => tag == text.trim() || tag.split(' ').next() == Some(text),
        Json::Number(number) => {
            #[expect(clippy::cast_possible_truncation, reason = "the file holds 32 bits")]
            let single = number.as_f64().unwrap() as f32;
            tag.parse() == Ok(single)
        }
        Json::Array(edges) => {
            let edges: Vec<String> = edges.iter().map(ToString::to_string).collect();
            tag == edges.join(" ")
        }
        _ => false,
    }
}

fn meanings(r: &Recorded) -> String {
    let facts = [
        r.lens.as_ref().map(|f| f.value.clone()),
        r.focal_length.as_ref().map(|f| format!("{} mm", f.value.get())),
        r.f_number.as_ref().map(|f| format!("f/{:.4}", f.value.get())),
        r.t_number.as_ref().map(|f| format!("T{:.4}", f.value.get())),
        r.focus_distance.as_ref().map(|f| format!("{} m", f.value.get())),
        r.start.as_ref().map(|f| f.value.to_string()),
        r.coded.as_ref().map(|f| f.value.to_string()),
    ];
    facts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

fn wanted(file: &str) -> &'static str {
    match file {
        "taken.tif" | "taken.jpg" => "Sorrel 35, 35.5 mm, f/2.8000, 1.5 m, 32x18",
        "unknown.tif" => "inf m, 32x18",
        "frame.dng" => "Sorrel 35, 35.5 mm, f/2.8000, T3.1000, 1.5 m, 01:02:03:04, 32x18",
        "packet.jpg" | "packet.tif" => "Sorrel 35, f/2.8000, 32x18",
        "frame.exr" => "Sorrel 50, 35.5 mm, f/2.8000, T3.1000, inf m, 01:02:03:04, 32x18",
        other => panic!("{other}"),
    }
}
