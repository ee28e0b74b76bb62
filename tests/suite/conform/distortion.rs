//! Distortion handed to a matchmove, against OpenCV's own projection.
#![allow(clippy::disallowed_methods, reason = "a test makes the files that it has judged")]

use std::fs;

use serde_json::Value as Json;

use crate::distortion::with_kit;
use crate::workshop::{DATE, lensmend};

use super::Judges;

/// OpenCV's order: k1 k2 p1 p2 k3 k4 k5 k6, all of them at work.
const OPENCV: &str = "[-0.12, 0.03, 0.0011, -0.0007, -0.004, 0.02, -0.006, 0.001]";

/// The bare lens (a plain adapter has no glass), and behind a reducer that adds nothing: one calibration of the lens, two
/// pictures.
#[test]
fn a_lens_bends_the_same_rays_alone_and_behind_a_reducer() {
    let Some(judges) = Judges::called() else { return };
    let entry = "[[lens.distortion]]\nmaps = \"U-D\"\nnormalised-by = 50\n\
        radial = [-0.12, 0.02, 0.03, -0.006, -0.004, 0.001]\ntangential = [0.0011, -0.0007]\n";
    let folder = with_kit(entry, true);
    let out = folder.path().join("out");
    let arguments = [
        "annotate",
        folder.path().to_str().unwrap(),
        "--into",
        out.to_str().unwrap(),
        "--lens-data",
        "opentrackio",
        "--date",
        DATE,
    ];
    let run = lensmend(&arguments);
    assert!(run.status.code() < Some(2), "{}", String::from_utf8_lossy(&run.stderr));
    let mut files = Vec::new();
    for name in ["A003/A003C001_1114_KV", "B001/B001C001_1114_OM"] {
        let file = out.join(format!("lens-data/{name}.opentrackio.jsonl"));
        fs::write(format!("{}.cv.json", file.display()), OPENCV).unwrap();
        files.push(file);
    }
    let complaints = judges.ask("lens_data.py", &files);
    assert!(complaints.iter().all(|said| said["complaints"] == Json::Array(Vec::new())));
    let said = judges.ask("distortion.py", &files);
    for (said, focal) in said.iter().zip([35.5, 50.0]) {
        let number = |key: &str| said[key].as_f64().unwrap();
        assert!((number("focal") - focal).abs() < 1e-6, "{said}");
        assert!(number("moved") > 0.1, "the lens must distort: {said}");
        // Nine digits of each coefficient stand in the file.
        assert!(number("off") < 1e-7, "{said}");
    }
}
