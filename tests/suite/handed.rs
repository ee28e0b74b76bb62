//! What is handed over to VFX, by the built program: files of others in the way, and plates of anamorphic lenses.
#![allow(clippy::disallowed_methods, reason = "tests write plates and kits of their own")]

use std::fs;
use std::path::Path;

use lensmend::recorded::read;
use serde_json::Value as Json;

use crate::frames::{attributes, exr};
use crate::turnover::turned;
use crate::workshop::{DATE, Tree, lensmend, plant, sample, tree};

/// A plate of one chunk of four bytes of pixels.
fn plate() -> Vec<u8> {
    let mut bytes = exr(&[attributes()]);
    let first = u64::try_from(bytes.len()).unwrap() + 8;
    bytes.extend(first.to_le_bytes());
    bytes.extend([0, 0, 0, 0, 4, 0, 0, 0, 1, 2, 3, 4]);
    bytes
}

/// Stamps plates; gives exit code, record if there is one, and what was said.
fn stamped(shoot: &Path, plates: &Path, into: &Path, more: &[&str]) -> (i32, Json, String) {
    let mut arguments = vec!["stamp", shoot.to_str().unwrap(), "--plates"];
    arguments.extend([plates.to_str().unwrap(), "--into", into.to_str().unwrap()]);
    arguments.extend(["--date", DATE, "--json"]);
    arguments.extend(more);
    let run = lensmend(&arguments);
    let record = serde_json::from_slice(&run.stdout).unwrap_or_default();
    (run.status.code().unwrap(), record, String::from_utf8_lossy(&run.stderr).into_owned())
}

fn kept(record: &Json) -> Vec<String> {
    let found = record["findings"].as_array().unwrap().iter();
    let kept = found.filter(|finding| finding["code"] == "output.kept");
    kept.map(|finding| finding["file"].as_str().unwrap_or_default().to_owned()).collect()
}

#[test]
fn a_turnover_leaves_the_files_of_others() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let cut = sample().join("turnover.edl");
    let mine: Tree = ["turnover.csv", "turnover.html", "shots/001-A003C001.usda", "readme.txt"]
        .map(|name| (name.to_owned(), b"mine".to_vec()))
        .into();
    plant(&mine, &out);
    let (code, record) = turned(&sample(), &cut, &out, &[]);
    assert_eq!(code, 1);
    let written = tree(&out);
    for (name, bytes) in &mine {
        assert_eq!(&written[name], bytes, "{name} was not ours");
    }
    let kept = kept(&record);
    for name in ["turnover.csv", "turnover.html", "shots/001-A003C001.usda"] {
        assert_eq!(kept.iter().filter(|file| file.ends_with(name)).count(), 1, "{name}: {kept:?}");
    }
    // A file that nobody writes is nobody's business, and the rest of the package is there.
    assert_eq!(kept.len(), 3, "{kept:?}");
    assert!(written.contains_key("shots/001-A003C001.opentrackio.jsonl"));
    let outputs = record["outputs"].as_array().unwrap();
    assert!(outputs.iter().all(|output| output["file"] != "turnover.csv"), "{outputs:?}");
}

/// Where something else has the name of the record, nobody knows what was written before: nothing is.
#[test]
fn a_folder_whose_record_is_of_others_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let cut = sample().join("turnover.edl");
    let plates = folder.path().join("plates");
    plant(&[("A003C001.0000.exr".to_owned(), plate())].into(), &plates);
    for (command, name) in [
        ("turnover", "turnover.json"),
        ("turnover", "unfinished-turnover.json"),
        ("stamp", "stamp.json"),
        ("stamp", "unfinished-stamp.json"),
    ] {
        let out = folder.path().join(name.replace('.', "-"));
        plant(&[(name.to_owned(), b"{\"format\": \"of others\"}".to_vec())].into(), &out);
        let before = tree(&out);
        let sample = sample();
        let mut arguments = vec![command, sample.to_str().unwrap()];
        if command == "stamp" {
            arguments.extend(["--plates", plates.to_str().unwrap()]);
        } else {
            arguments.extend(["--cut", cut.to_str().unwrap()]);
        }
        arguments.extend(["--into", out.to_str().unwrap()]);
        let run = lensmend(&arguments);
        let said = String::from_utf8_lossy(&run.stderr).into_owned();
        assert_eq!(run.status.code(), Some(2), "{name}: {said}");
        assert!(said.contains(name) && said.contains("--into"), "{said}");
        assert_eq!(tree(&out), before, "{name}");
    }
}

#[test]
fn stamp_leaves_the_files_of_others_and_copies_no_plate_that_was_cut_off() {
    let folder = tempfile::tempdir().unwrap();
    let (plates, out) = (folder.path().join("plates"), folder.path().join("out"));
    let names = ["A003C001.0000.exr", "A003C001.0001.exr", "A003C001.0002.exr"];
    let mut all: Tree = names.map(|name| (name.to_owned(), plate())).into();
    // Its last byte is missing.
    all.get_mut("A003C001.0002.exr").unwrap().pop();
    plant(&all, &plates);
    plant(&[("A003C001.0001.exr".to_owned(), b"mine".to_vec())].into(), &out);
    let (code, record, said) = stamped(&sample(), &plates, &out, &[]);
    assert_eq!(code, 1, "{said}");
    let written = tree(&out);
    assert_eq!(written["A003C001.0001.exr"], b"mine");
    assert!(written.contains_key("A003C001.0000.exr"));
    assert!(!written.contains_key("A003C001.0002.exr"));
    assert_eq!(kept(&record).len(), 1, "{record}");
    let found = record["findings"].as_array().unwrap();
    let refused: Vec<&Json> =
        found.iter().filter(|finding| finding["code"] == "stamp.refused").collect();
    assert_eq!(refused.len(), 1);
    assert!(refused[0]["message"].as_str().unwrap().contains("cut off"), "{refused:?}");
    assert_eq!(tree(&plates), all, "plates are never touched");
    let before = tree(&out);
    stamped(&sample(), &plates, &out, &[]);
    assert_eq!(tree(&out), before, "a second run writes nothing");
    // Beside the plates, and over them, nothing goes.
    for into in [plates.clone(), plates.join("below"), folder.path().to_owned()] {
        let (code, _, said) = stamped(&sample(), &plates, &into, &[]);
        assert_eq!(code, 2);
        assert!(said.contains("must not lie among plates"), "{said}");
    }
    assert_eq!(tree(&plates), all);
}

/// The sample with a lens of 50 mm that squeezes by two, and plates with the squeeze taken out and left in.
fn anamorphic(folder: &Path) {
    let mut shoot = tree(&sample());
    let kit = String::from_utf8(shoot.remove("kit.toml").unwrap()).unwrap();
    let mut kit = kit.replace("name = \"Sorrel 50\"\n", "name = \"Sorrel 50\"\nsqueeze = 2\n");
    assert!(kit.contains("squeeze = 2"));
    kit.push_str(
        "\n[[plate]]\nid = \"wide\"\ncrop = \"3840x2160\"\nsqueeze = 2\n\
         \n[[plate]]\nid = \"proxy\"\ncrop = \"3000x2160\"\nsize = \"3000x1080\"\nsqueeze = 2\n\
         \n[[plate]]\nid = \"squeezed\"\ncrop = \"3000x2160\"\n",
    );
    shoot.insert("kit.toml".to_owned(), kit.into_bytes());
    plant(&shoot, folder);
}

/// The recording is 3840x2160 of 26.2 x 14.7375 mm. By hand: 3000 of 3840 pixels are 20.46875 mm; desqueezed the first
/// plate has 7680 pixels over the same 26.2 mm, 293.1298 to the millimetre, and half as many down.
#[test]
fn a_plate_may_take_the_squeeze_out() {
    let folder = tempfile::tempdir().unwrap();
    anamorphic(folder.path());
    let cut = folder.path().join("turnover.edl");
    for (plate, raster, back, squeeze, across, down) in [
        ("wide", "7680x2160", 26.2, 1.0, 7680.0 / 26.2, 2160.0 / 14.7375),
        ("proxy", "3000x1080", 20.46875, 1.0, 3000.0 / 20.46875, 1080.0 / 14.7375),
        ("squeezed", "3000x2160", 20.46875, 2.0, 3000.0 / 20.46875, 2160.0 / 14.7375),
    ] {
        let out = folder.path().join(format!("out-{plate}"));
        turned(folder.path(), &cut, &out, &["--plate", plate]);
        let table = fs::read_to_string(out.join("turnover.csv")).unwrap();
        let mut lines = csv::Reader::from_reader(table.as_bytes());
        let headings = lines.headers().unwrap().clone();
        let row = lines.records().next().unwrap().unwrap();
        let cell = |name: &str| {
            let at = headings.iter().position(|heading| heading == name);
            row.get(at.unwrap_or_else(|| panic!("no {name}"))).unwrap().to_owned()
        };
        let near = |name: &str, wanted: f64| {
            let number: f64 = cell(name).parse().unwrap();
            assert!((number / wanted - 1.0).abs() < 1e-5, "{plate} {name}: {number}, {wanted}");
        };
        assert_eq!(cell("shot"), "001-A003C001");
        assert_eq!(cell("plate-raster"), raster);
        near("squeeze", 2.0);
        near("plate-film-back-width", back);
        near("plate-film-back-height", 14.7375);
        near("plate-squeeze", squeeze);
        near("pixels-per-mm-across", across);
        near("pixels-per-mm-down", down);
        // The lens sees as wide as ever: USD has the film back of the desqueezed picture.
        let camera = fs::read_to_string(out.join("shots/001-A003C001.usda")).unwrap();
        let number = |name: &str| -> f64 {
            let line =
                camera.lines().find(|line| line.contains(name)).unwrap_or_else(|| panic!("{name}"));
            line.rsplit("= ").next().unwrap().trim().parse().unwrap()
        };
        assert!((number("float horizontalAperture =") - 2.0 * back).abs() < 1e-4, "{camera}");
        assert!((number("plateSqueeze") - squeeze).abs() < 1e-9, "{camera}");
    }
    // The same plates stamped: the sensor's film back, and the squeeze of the lens.
    let plates = folder.path().join("plates");
    plant(&[("A003C001.0005.exr".to_owned(), plate())].into(), &plates);
    for (plate, back) in [("wide", "26.2 14.7375"), ("squeezed", "20.46875 14.7375")] {
        let out = folder.path().join(format!("stamped-{plate}"));
        let (code, _, said) = stamped(folder.path(), &plates, &out, &["--plate", plate]);
        assert!(code < 2, "{said}");
        let copy = fs::read(out.join("A003C001.0005.exr")).unwrap();
        let tags = read(&copy.as_slice(), "copy").value.tags;
        let tag = |key: &str| tags.iter().find(|tag| tag.key == key).unwrap().value.clone();
        assert_eq!(tag("lensmendFilmBack"), back);
        assert_eq!(tag("lensmendSqueeze"), "2");
        assert_eq!(tag("pinholeFocalLength"), "35.5");
        assert!(copy.ends_with(&[0, 0, 0, 0, 4, 0, 0, 0, 1, 2, 3, 4]), "pixels are as they were");
    }
}
