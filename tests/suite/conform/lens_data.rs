//! Lens data for VFX, opened by the software it is for: usd-core and its validators, the fdl library, a JSON Schema library
//! with the published constraints of `OpenTrackIO` samples.

use std::path::{Path, PathBuf};

use serde_json::Value as Json;

use crate::workshop::{DATE, Tree, lensmend, plant, sample, tree};

use super::Judges;

/// What a run wrote: its record, and every file of lens data with what the judges say of it.
struct Handed {
    _folder: tempfile::TempDir,
    written: Tree,
    record: Json,
    files: Vec<(String, Json)>,
}

impl Handed {
    fn over(judges: &Judges, shoot: &Path, more: &[&str]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("out");
        let mut arguments = vec!["annotate", shoot.to_str().unwrap(), "--into"];
        arguments.extend([out.to_str().unwrap(), "--lens-data", "all", "--date", DATE]);
        arguments.extend(more);
        let run = lensmend(&arguments);
        assert!(run.status.code() < Some(2), "{}", String::from_utf8_lossy(&run.stderr));
        let written = tree(&out);
        let record = serde_json::from_slice(&written["run.json"]).unwrap();
        let root = out.join("lens-data");
        let names: Vec<String> = tree(&root).into_keys().collect();
        let asked: Vec<PathBuf> = names
            .iter()
            .filter(|name| !name.ends_with("attributes.json"))
            .map(|name| root.join(name))
            .collect();
        let said = judges.ask("lens_data.py", &asked);
        let files = asked
            .iter()
            .zip(said)
            .map(|(path, said)| {
                let name = path.strip_prefix(&root).unwrap();
                (name.to_str().unwrap().to_owned(), said)
            })
            .collect();
        Self { _folder: folder, written, record, files }
    }

    fn clean(&self) {
        for (name, said) in &self.files {
            assert_eq!(said["complaints"], serde_json::json!([]), "{name}");
        }
    }

    fn said(&self, part: &str) -> &Json {
        let found = self.files.iter().find(|(name, _)| name.contains(part));
        &found.unwrap_or_else(|| panic!("no file {part}: {:?}", self.names())).1
    }

    fn names(&self) -> Vec<&str> {
        self.files.iter().map(|(name, _)| name.as_str()).collect()
    }

    fn clip(&self, name: &str) -> &Json {
        let clips = self.record["clips"].as_array().unwrap();
        clips.iter().find(|clip| clip["name"] == name).unwrap()
    }

    fn text(&self, name: &str) -> String {
        String::from_utf8(self.written[&format!("lens-data/{name}")].clone()).unwrap()
    }
}

fn near(found: &Json, expected: f64, what: &str) {
    let found = found.as_f64().unwrap_or_else(|| panic!("{what}: {found}"));
    assert!((found / expected - 1.0).abs() < 1e-6, "{what}: {found}, not {expected}");
}

#[test]
fn the_sample_opens_without_a_word_and_sees_what_the_record_says() {
    let Some(judges) = Judges::called() else { return };
    let handed = Handed::over(&judges, &sample(), &[]);
    handed.clean();
    let mut cameras = 0;
    for clip in handed.record["clips"].as_array().unwrap() {
        let pieces = clip["pieces"].as_array().unwrap();
        let name = clip["name"].as_str().unwrap();
        let camera =
            handed.files.iter().find(|(file, _)| file.contains(name) && file.contains(".usda"));
        let known = pieces.iter().all(|piece| {
            piece["focalLength"].get("value").is_some() && piece.get("filmBackWidth").is_some()
        });
        assert_eq!(
            camera.is_some(),
            known,
            "{name}: a camera stands where all of it is known, and nowhere else"
        );
        let Some((_, said)) = camera else { continue };
        cameras += 1;
        for piece in pieces {
            let frame = piece["firstFrame"]["value"].as_u64().unwrap();
            let constant = said["samples"].as_object().unwrap().is_empty();
            let read =
                if constant { &said["default"] } else { &said["samples"][frame.to_string()] };
            near(&read["horizontal"], piece["angleHorizontal"]["value"].as_f64().unwrap(), name);
            near(&read["vertical"], piece["angleVertical"]["value"].as_f64().unwrap(), name);
            // The scene unit is a centimetre.
            near(
                &read["focusDistance"],
                piece["focusDistance"]["value"].as_f64().unwrap() * 100.0,
                name,
            );
            match piece["fNumber"]["value"].as_f64() {
                Some(stop) => near(&read["fStop"], stop, name),
                // 0 switches focus blur off: no stop is better than a wrong one.
                None => assert_eq!(read["fStop"], 0.0, "{name}"),
            }
        }
    }
    assert!(cameras > 8, "{cameras} cameras");
    // Not one of the two clips whose focal length is open has got the 50 mm that USD would fill in.
    let left_out = handed.record["findings"].as_array().unwrap();
    let left_out: Vec<&Json> =
        left_out.iter().filter(|finding| finding["code"] == "output.left-out").collect();
    assert!(left_out.iter().any(|finding| finding["clip"] == "A003C005"), "{left_out:?}");
}

/// Stops pulled in a shot, a squeezed picture, focus at infinity, plates: each must come out on the other side.
#[test]
fn pieces_squeeze_infinity_and_plates_survive() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let mut shoot = tree(&sample());
    shoot.retain(|path, _| path.starts_with("dump/A003/") || path == "kit.toml");
    let kit = String::from_utf8(shoot.remove("kit.toml").unwrap()).unwrap();
    let kit = format!(
        "{kit}\n[[lens]]\nid = \"umber-wide\"\nname = \"Umber \\\"Wide\\\" 40\"\nmount = \"photo-44\"\nfocal = 40\n\
        f-max = 1.4\nsqueeze = 1.33\nimage-circle = 40.0\n\n\
        [[plate]]\nid = \"2.39 crop\"\ncrop = \"3840x1608\"\nsize = \"1920x804\"\n\n[[plate]]\nid = \"too-big\"\ncrop = \"8192x4320\"\n"
    );
    shoot.insert("kit.toml".to_owned(), kit.into_bytes());
    let notes = "Clip,From,Lens,Stop,Reducer,Focus\n\
        A003C001,,\"Umber \"\"Wide\"\" 40\",f/2,0.71,inf\n\
        A003C002,,Sorrel 50,f/1.4,0.71,2.4\n\
        A003C002,10:09:41:00,Sorrel 50,f/2.8,0.71,3.1\n";
    shoot.insert("notes.csv".to_owned(), notes.as_bytes().to_vec());
    plant(&shoot, folder.path());
    let handed = Handed::over(&judges, folder.path(), &["--trust", "notes"]);
    handed.clean();

    let squeezed = &handed.said("A003C001_1114_KV.usda")["default"];
    let piece = &handed.clip("A003C001")["pieces"][0];
    near(&squeezed["horizontal"], piece["angleHorizontal"]["value"].as_f64().unwrap(), "squeezed");
    near(&squeezed["horizontalAperture"], 26.2 * 1.33, "desqueezed film back");
    near(&squeezed["own"]["filmBackWidth"], 26.2, "film back on the sensor");
    assert_eq!(squeezed["focusDistance"], "infinity");
    assert_eq!(squeezed["own"]["lens"], "Umber \"Wide\" 40");
    let line: Json =
        serde_json::from_str(handed.text("A003/A003C001_1114_KV.opentrackio.jsonl").trim())
            .unwrap();
    assert_eq!(line["lens"].get("focusDistance"), None, "JSON has no infinity");
    assert_eq!(
        line["static"]["camera"]["anamorphicSqueeze"],
        serde_json::json!({"num": 133, "denom": 100})
    );

    let pulled = handed.said("A003C002_1114_KV.usda");
    assert_eq!(pulled["frames"][0], 0.0);
    let samples = pulled["samples"].as_object().unwrap();
    assert_eq!(
        samples.keys().collect::<Vec<_>>(),
        ["0", "23", "24"],
        "a piece has a sample at either end, the last holds"
    );
    let stops = |frame: &str| samples[frame]["fStop"].as_f64().unwrap();
    assert!(
        (stops("0") - stops("23")).abs() < 1e-9 && (stops("24") / stops("23") - 2.0).abs() < 1e-6
    );
    assert_eq!(handed.text("A003/A003C002_1114_KV.opentrackio.jsonl").lines().count(), 2);

    let list: Json = serde_json::from_str(&handed.text("A003/A003C002_1114_KV.fdl")).unwrap();
    let canvas = &list["contexts"][0]["canvases"][0];
    assert_eq!(
        canvas["framing_decisions"].as_array().unwrap().len(),
        1,
        "a plate that does not fit is none"
    );
    assert_eq!(
        canvas["framing_decisions"][0]["anchor_point"],
        serde_json::json!({"x": 0.0, "y": 276.0})
    );
    // A circle of 40 mm is 28.4 mm behind 0.71, the diagonal of the recorded area 30.06 mm.
    let list: Json = serde_json::from_str(&handed.text("A003/A003C001_1114_KV.fdl")).unwrap();
    let canvas = &list["contexts"][0]["canvases"][0];
    let part = 28.4 / libm::hypot(26.2, 14.7375);
    // The plate is wider than that, and the format has no place for a plate in the dark.
    assert_eq!(canvas.get("effective_dimensions"), None);
    let lit = &canvas["_lensmend_lit"]["dimensions"]["width"];
    assert!((lit.as_f64().unwrap() - (3840.0 * part).floor()).abs() < 1e-9, "{lit}");
    assert_eq!(canvas["anamorphic_squeeze"], 1.33);
}

#[test]
fn every_frame_has_its_sample_where_asked() {
    let Some(judges) = Judges::called() else { return };
    let handed = Handed::over(&judges, &sample(), &["--per-frame"]);
    handed.clean();
    let text = handed.text("A003/A003C002_1114_KV.opentrackio.jsonl");
    let lines: Vec<Json> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(lines.len(), 48);
    assert_eq!(lines[24]["timing"]["timecode"]["seconds"], 41);
    assert_eq!(lines[24]["timing"]["timecode"]["frames"], 0);
    assert!(lines[0].get("static").is_some() && lines[1].get("static").is_none());
}

#[test]
fn an_unknown_format_is_refused_before_anything_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let sample = sample();
    let run = lensmend(&[
        "annotate",
        sample.to_str().unwrap(),
        "--into",
        out.to_str().unwrap(),
        "--lens-data",
        "usd,obj",
    ]);
    assert_eq!(run.status.code(), Some(2));
    let said = String::from_utf8_lossy(&run.stderr).into_owned();
    assert!(
        said.contains("`obj` is no format") && said.contains("opentrackio, usd, exr, fdl"),
        "{said}"
    );
    assert!(!out.exists());
}

/// The part that the circle lights is the effective area, if nothing is framed outside of it.
#[test]
fn a_dark_corner_makes_the_effective_area_smaller() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let mut shoot = tree(&sample());
    shoot.retain(|path, _| path.starts_with("dump/A003/A003C001") || path == "kit.toml");
    let kit = String::from_utf8(shoot.remove("kit.toml").unwrap()).unwrap();
    let kit = kit.replace("image-circle = 43.3", "image-circle = 40.0");
    let kit =
        format!("{kit}\n[[plate]]\nid = \"middle\"\ncrop = \"2048x1080\"\noffset = \"800x500\"\n");
    shoot.insert("kit.toml".to_owned(), kit.into_bytes());
    shoot.insert(
        "notes.csv".to_owned(),
        b"Clip,Lens,Stop,Reducer\nA003C001,Sorrel 50,f/2,0.71\n".to_vec(),
    );
    plant(&shoot, folder.path());
    let handed = Handed::over(&judges, folder.path(), &[]);
    handed.clean();
    let list: Json = serde_json::from_str(&handed.text("A003/A003C001_1114_KV.fdl")).unwrap();
    let canvas = &list["contexts"][0]["canvases"][0];
    let part = 28.4 / libm::hypot(26.2, 14.7375);
    let width = canvas["effective_dimensions"]["width"].as_f64().unwrap();
    assert!((width - (3840.0 * part).floor()).abs() < 1e-9, "{width}");
    let left = canvas["effective_anchor_point"]["x"].as_f64().unwrap();
    assert!((left - (3840.0 - width) / 2.0).abs() < 1e-9);
    assert_eq!(
        canvas["framing_decisions"][0]["anchor_point"],
        serde_json::json!({"x": 800.0, "y": 500.0})
    );
}
