//! Sidecars read back by three readers that lensmend does not use, and a strict XML parser.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use serde_json::Value as Json;

use crate::workshop::{DATE, lensmend, plant, sample, tree};

use super::Judges;
use super::expected::{number_of, of_sidecar};

/// Prefixes of the paths that the toolkit gives, and the namespaces they stand for.
const NAMESPACES: &[(&str, &str)] = &[
    ("dc", "http://purl.org/dc/elements/1.1/"),
    ("exif", "http://ns.adobe.com/exif/1.0/"),
    ("exifEX", "http://cipa.jp/exif/1.0/"),
    ("tiff", "http://ns.adobe.com/tiff/1.0/"),
    ("xmp", "http://ns.adobe.com/xap/1.0/"),
    ("xmpDM", "http://ns.adobe.com/xmp/1.0/DynamicMedia/"),
    ("stDim", "http://ns.adobe.com/xap/1.0/sType/Dimensions#"),
    ("lensmend", "https://lensmend.invalid/xmp/1.0/"),
];
const RDF: &str = "http://www.w3.org/1999/02/22-rdf-syntax-ns#";

/// A sidecar as the judges read it: for each reader, values by the paths of the toolkit.
struct Sidecar {
    clip: String,
    part: usize,
    /// Others wrote into it, too.
    shared: bool,
    strict: String,
    readers: [(&'static str, BTreeMap<String, String>); 3],
}

/// A run on a shoot, and its sidecars as read back.
pub(super) struct Reading {
    record: Json,
    sidecars: Vec<Sidecar>,
}

#[test]
fn every_sidecar_of_the_sample_reads_back_as_the_record_says() {
    let Some(judges) = Judges::called() else { return };
    let reading = annotate(&judges, &sample());
    assert_eq!(reading.sidecars.len(), 18, "one sidecar a clip file");
    assert_no_complaints(&reading);
}

/// Text that XML, RDF and shells would like to misread, and a focus at infinity.
#[test]
fn odd_text_and_infinity_read_back_too() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let mut shoot = tree(&sample());
    shoot.retain(|path, _| path.starts_with("dump/A003/") || path == "kit.toml");
    let notes = "Clip,Lens,Stop,Reducer,Focus,Remarks\n\
        A003C001,Sorrel 50,f/1.4,0.71,inf,\"<b a='1'>&amp; ]]> \u{1f3a5} é  \"\"x\"\"\"\n";
    shoot.insert("notes.csv".to_owned(), notes.as_bytes().to_vec());
    plant(&shoot, folder.path());
    let reading = annotate(&judges, folder.path());
    assert_no_complaints(&reading);
    for (reader, found) in &reading.sidecar("A003C001").readers {
        assert_eq!(found["exif:SubjectDistance"], "4294967295/1", "{reader}");
        assert_eq!(found["xmpDM:logComment"], "<b a='1'>&amp; ]]> \u{1f3a5} é  \"x\"", "{reader}");
    }
}

/// What the program is for: a 50 mm f/1.4 behind a 0.71 reducer is a 35.5 mm f/1.0041, whatever the camera wrote.
#[test]
fn the_headline_numbers_stand_in_every_reader() {
    let Some(judges) = Judges::called() else { return };
    let reading = annotate(&judges, &sample());
    // The media was blank; it had the bare 50 mm; it already had 35.5 mm, and 25.2 would be the reducer applied twice.
    for (clip, verdict) in [("A003C001", "filled"), ("A003C002", "scaled"), ("A003C003", "kept")] {
        let sidecar = reading.sidecar(clip);
        assert_eq!(sidecar.strict, "ok");
        for (reader, found) in &sidecar.readers {
            let focal = number_of(&found["exif:FocalLength"]).unwrap();
            assert!((focal - 35.5).abs() < 1e-9, "{clip}: {reader} reads {focal} mm");
            assert_eq!(
                found["lensmend:pieces[1]/lensmend:focalLengthVerdict"], verdict,
                "{clip}: {reader}"
            );
        }
    }
    // 1.4 on the ring is the stop 2^(1/2); times 0.71, rounded once.
    for (reader, found) in &reading.sidecar("A003C001").readers {
        let stop = number_of(&found["exif:FNumber"]).unwrap();
        assert!((stop - 1.0041).abs() < 1e-9, "{reader} reads f/{stop}");
    }
    // The media contradicts the notes; the media can be read in two ways. A blank is better than a wrong number.
    for clip in ["A003C005", "A003C006"] {
        for (reader, found) in &reading.sidecar(clip).readers {
            assert_eq!(found.get("exif:FocalLength"), None, "{clip}: {reader}");
            assert_eq!(
                found.get("lensmend:pieces[1]/lensmend:focalLength"),
                None,
                "{clip}: {reader}"
            );
            assert_eq!(
                found["lensmend:pieces[1]/lensmend:focalLengthVerdict"], "unresolved",
                "{clip}: {reader}"
            );
        }
    }
}

impl Reading {
    /// What the judges read of `files`, each with its clip, which of its files it belongs to (from 0), and whether others wrote into it.
    pub(super) fn of(
        judges: &Judges,
        record: Json,
        owners: Vec<(String, usize, bool)>,
        files: &[PathBuf],
    ) -> Self {
        let answers = judges.ask("xmp_values.py", files);
        let sidecars =
            owners.into_iter().zip(&answers).map(|((clip, part, shared), answer)| Sidecar {
                strict: answer["strict_xml"].as_str().unwrap().to_owned(),
                readers: [
                    ("toolkit", toolkit(&clip, answer)),
                    ("exiv2", exiv2(&clip, answer)),
                    ("rdf", rdf(&clip, answer)),
                ],
                clip,
                part,
                shared,
            });
        Self { sidecars: sidecars.collect(), record }
    }

    fn sidecar(&self, clip: &str) -> &Sidecar {
        self.sidecars.iter().find(|sidecar| sidecar.clip == clip).unwrap()
    }
}

pub(super) fn assert_no_complaints(reading: &Reading) {
    let mut complaints = Vec::new();
    for sidecar in &reading.sidecars {
        let clip = reading.record["clips"]
            .as_array()
            .unwrap()
            .iter()
            .find(|clip| clip["name"] == *sidecar.clip);
        let expected = of_sidecar(&reading.record, clip.unwrap(), sidecar.part);
        let name = format!("{} file {}", sidecar.clip, sidecar.part + 1);
        if sidecar.strict != "ok" {
            complaints.push(format!("{name}: {}", sidecar.strict));
        }
        for (reader, found) in &sidecar.readers {
            for (path, expected) in &expected {
                match found.get(path) {
                    None => complaints.push(format!(
                        "{name}: {reader} finds no {path}, the record says {expected:?}"
                    )),
                    Some(found) if !expected.is(found) => {
                        complaints.push(format!("{name}: {reader} reads {path} as {found:?}, the record says {expected:?}"));
                    }
                    Some(_) => {}
                }
            }
            // What lensmend notes of its own hand: every other property by name, and a digest each.
            let noted = found.get("lensmend:written").map(|text| noted(text)).unwrap_or_default();
            let top = |path: &&String| {
                !path.starts_with("lensmend:written") && *path != "xmp:MetadataDate"
            };
            let names: BTreeSet<&str> =
                found.keys().filter(top).filter_map(|path| path.split(['/', '[']).next()).collect();
            if sidecar.shared {
                continue;
            }
            if noted != names {
                complaints.push(format!("{name}: {reader} finds {names:?}, noted are {noted:?}"));
            }
            let junk = found
                .iter()
                .filter(|(path, _)| !expected.contains_key(*path) && *path != "lensmend:written");
            complaints.extend(junk.map(|(path, found)| {
                format!("{name}: {reader} finds {path} = {found:?}, which the record does not have")
            }));
        }
    }
    let count = complaints.len();
    complaints.truncate(20);
    assert!(count == 0, "{count} complaints, of which the first:\n{}", complaints.join("\n"));
}

fn noted(text: &str) -> BTreeSet<&str> {
    let pairs = text.split(' ').map(|pair| pair.split_once('=').unwrap());
    pairs
        .inspect(|(_, digest)| {
            assert!(digest.len() == 8 && digest.bytes().all(|b| b.is_ascii_hexdigit()));
        })
        .map(|(name, _)| name)
        .collect()
}

/// Annotates a shoot into a folder of its own and has the judges read every sidecar.
fn annotate(judges: &Judges, shoot: &Path) -> Reading {
    let into = tempfile::tempdir().unwrap();
    let out = into.path().to_str().unwrap();
    let run =
        lensmend(&["annotate", shoot.to_str().unwrap(), "--json", "--date", DATE, "--into", out]);
    let record: Json = serde_json::from_slice(&run.stdout)
        .unwrap_or_else(|_| panic!("no record: {}", String::from_utf8_lossy(&run.stderr)));
    let mut files: Vec<PathBuf> = Vec::new();
    let mut owners = Vec::new();
    for clip in record["clips"].as_array().unwrap() {
        let sidecars = clip["sidecars"].as_array().unwrap();
        assert_eq!(sidecars.len(), clip["files"].as_array().unwrap().len(), "{}", clip["name"]);
        for (part, sidecar) in sidecars.iter().enumerate() {
            files.push(into.path().join(sidecar.as_str().unwrap()));
            owners.push((clip["name"].as_str().unwrap().to_owned(), part));
        }
    }
    let owners = owners.into_iter().map(|(clip, part)| (clip, part, false)).collect();
    Reading::of(judges, record, owners, &files)
}

fn toolkit(clip: &str, answer: &Json) -> BTreeMap<String, String> {
    values(clip, &answer["toolkit"]).map(|(path, value)| (path.to_owned(), value)).collect()
}

/// exiv2 calls `exif:FocalLength` `Xmp.exif.FocalLength`, and writes an array of plain values as one text.
fn exiv2(clip: &str, answer: &Json) -> BTreeMap<String, String> {
    let path = |key: &str| {
        let (prefix, rest) = key.strip_prefix("Xmp.")?.split_once('.')?;
        Some(format!("{prefix}:{rest}"))
    };
    values(clip, &answer["exiv2"])
        .flat_map(|(key, value)| {
            let path = path(key).unwrap_or_else(|| key.to_owned());
            if !["exifEX:LensSpecification", "exif:ISOSpeedRatings"].contains(&path.as_str()) {
                return vec![(path, value)];
            }
            let items = value.split(", ").enumerate();
            items.map(|(at, item)| (format!("{path}[{}]", at + 1), item.to_owned())).collect()
        })
        .collect()
}

fn values<'a>(clip: &str, answer: &'a Json) -> impl Iterator<Item = (&'a str, String)> {
    let found = answer.as_object().unwrap();
    assert!(!found.contains_key("error"), "{clip}: {answer}");
    found.iter().map(|(path, value)| (path.as_str(), value.as_str().unwrap().to_owned()))
}

/// Triples as paths: the node `_:<..pieces><..#_1>` with the predicate `..focalLength` is `lensmend:pieces[1]/lensmend:focalLength`.
fn rdf(clip: &str, answer: &Json) -> BTreeMap<String, String> {
    let triples = answer["rdf"].as_array().unwrap_or_else(|| panic!("{clip}: {}", answer["rdf"]));
    let mut found = BTreeMap::new();
    for triple in triples {
        let part = |at: usize| triple[at].as_str().unwrap();
        let (subject, predicate, object) = (part(0), part(1), part(2));
        // A nested node is no value, and neither is the kind of an array.
        if object.starts_with("_:<") || predicate == format!("{RDF}type") {
            continue;
        }
        let way =
            subject.trim_start_matches("_:").split(['<', '>']).filter(|name| !name.is_empty());
        let mut path = String::new();
        for name in way.chain([predicate]) {
            if let Some(item) = name.strip_prefix(RDF).and_then(|item| item.strip_prefix('_')) {
                path.extend(["[", item, "]"]);
                continue;
            }
            if !path.is_empty() {
                path.push('/');
            }
            path.push_str(&short(name));
        }
        let before = found.insert(path, object.to_owned());
        assert_eq!(before, None, "{clip}: rdf has two values for {predicate}");
    }
    found
}

fn short(name: &str) -> String {
    // The longest namespace that fits: some begin with others.
    let fits =
        NAMESPACES.iter().filter(|(_, uri)| name.starts_with(uri)).max_by_key(|(_, uri)| uri.len());
    fits.map_or_else(|| name.to_owned(), |(prefix, uri)| format!("{prefix}:{}", &name[uri.len()..]))
}
