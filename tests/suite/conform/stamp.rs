//! Stamped plates, read by the OpenEXR library: every attribute with its type, every pixel as it was.

use lensmend::output::lens_data::exr::{Attribute, Value};
use lensmend::output::stamp::{copy, plan};
use serde_json::{Value as Json, json};

use crate::workshop::{DATE, lensmend, sample, tree};

use super::Judges;

#[test]
fn stamped_plates_have_their_attributes_and_the_same_pixels() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let asked = [folder.path().to_owned()];
    let made = judges.ask("stamp.py", &asked).remove(0)["made"].clone();
    let made: Vec<&str> =
        made.as_array().unwrap().iter().map(|name| name.as_str().unwrap()).collect();
    for word in ["NO_COMPRESSION", "PIZ_COMPRESSION", "DWAB_COMPRESSION", "tiles", "parts", "deep"]
    {
        assert!(made.contains(&word), "the library makes no {word}: {made:?}");
    }
    let (plates, out) = (folder.path().join("plates"), folder.path().join("out"));
    let before = tree(&plates);
    let sample = sample();
    let stamp = |into: &std::path::Path| {
        lensmend(&[
            "stamp",
            sample.to_str().unwrap(),
            "--plates",
            plates.to_str().unwrap(),
            "--into",
            into.to_str().unwrap(),
            "--date",
            DATE,
            "--json",
        ])
    };
    let run = stamp(&out);
    let record: Json = serde_json::from_slice(&run.stdout).unwrap();
    assert_eq!(record["plates"].as_array().unwrap().len(), made.len(), "{record}");
    let replaced = record["findings"].as_array().unwrap().iter();
    let replaced = replaced.filter(|finding| finding["code"] == "stamp.replaced").count();
    // The plates in one part of lines said another focus.
    assert_eq!(replaced, made.iter().filter(|name| name.ends_with("_COMPRESSION")).count());
    assert_eq!(tree(&plates), before, "plates are never touched");
    let said = judges.ask("stamp.py", &asked).remove(0);
    for (frame, copy) in said["copies"].as_array().unwrap().iter().enumerate() {
        assert_eq!(copy["pixels"], true, "{copy}");
        assert_eq!(copy["kept"], true, "{copy}");
        let is = |name: &str, kind: &str, value: Json| {
            assert_eq!(copy["attributes"][name], json!([kind, value]), "{name} of {copy}");
        };
        // 50 mm behind 0.71 at f/1.4 (the exact stop is the square root of 2), at 2.4 m; A003C002 begins at 10:09:40:00.
        for (name, value) in
            [("pinholeFocalLength", 35.5), ("nominalFocalLength", 50.0), ("focus", 2.4)]
        {
            let [kind, found] = copy["attributes"][name].as_array().unwrap().as_slice() else {
                panic!("{copy}")
            };
            assert_eq!(kind, "float");
            assert!((found.as_f64().unwrap() - value).abs() < 1e-6, "{name} of {copy}");
        }
        is("lensModel", "str", json!("Sorrel 50"));
        is("framesPerSecond", "Fraction", json!([24000, 1001]));
        is("timeCode", "TimeCode", json!(format!("10:09:40:{frame:02}")));
    }
    // A second run changes nothing, and plates are never overwritten.
    let written = tree(&out);
    assert_eq!(stamp(&out).stdout, run.stdout);
    assert_eq!(tree(&out), written);
    for into in [plates.clone(), plates.join("deeper"), folder.path().to_owned()] {
        let refused = stamp(&into);
        assert_eq!(refused.status.code(), Some(2), "{}", String::from_utf8_lossy(&refused.stderr));
    }
    assert_eq!(tree(&plates), before);
    // Whatever is bent or cut off is refused or copied, and never a panic.
    let attributes = [Attribute { name: "focus", value: Value::Float(2.4) }];
    for bytes in before.values() {
        let short = bytes.len().min(900);
        for end in 0..short {
            let cut = &bytes[..end];
            assert!(plan(&cut, &attributes).is_err(), "cut off at {end}");
            let mut bent = bytes.clone();
            bent[end] ^= 0xA5;
            if let Ok(plan) = plan(&bent.as_slice(), &attributes) {
                copy(&plan, &bent.as_slice(), &mut std::io::sink()).unwrap();
            }
        }
        // The library puts chunks in any order, and the last one in the file ends with it.
        for missing in [1, 2, 7, 40] {
            let cut = &bytes[..bytes.len() - missing];
            let why = plan(&cut, &attributes).unwrap_err();
            assert!(why.contains("cut off"), "{missing} bytes missing: {why}");
        }
    }
}
