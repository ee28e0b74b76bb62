//! Facts of the container against ffprobe and MediaInfo, clip by clip of the sample.

use std::path::PathBuf;

use serde_json::Value as Json;

use crate::workshop::{lensmend, sample};

use super::Judges;

/// What lensmend says of one file. `None` is not said.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Claims {
    rate: Option<(u64, u64)>,
    frames: Option<u64>,
    timecode: Option<String>,
    coded: Option<(u64, u64)>,
    pixel_aspect: Option<(u64, u64)>,
    rotation: Option<u64>,
}

/// What a judge makes of a claim.
#[derive(Clone, Debug, PartialEq)]
enum Ruling {
    /// The judge says the same.
    Confirmed,
    /// The judge says nothing of it.
    Silent,
    /// The judge says this instead.
    Denied(String),
}

const JUDGES: [&str; 2] = ["ffprobe", "mediainfo"];

#[test]
fn every_container_fact_is_what_the_judges_read() {
    let Some(judges) = Judges::called() else { return };
    let dump = sample().join("dump");
    let scan = lensmend(&["scan", dump.to_str().unwrap(), "--json"]);
    let scan: Json = serde_json::from_slice(&scan.stdout).unwrap();
    let claims: Vec<(String, Claims)> =
        scan["clips"].as_array().unwrap().iter().flat_map(claims_of_clip).collect();
    let files: Vec<PathBuf> = claims.iter().map(|(file, _)| dump.join(file)).collect();
    let answers = judges.ask("media_facts.py", &files);
    let mut complaints = Vec::new();
    let mut readable = 0;
    for ((file, claims), answer) in claims.iter().zip(&answers) {
        if JUDGES.iter().all(|judge| !answer[judge]["error"].is_null()) {
            if claims.frames.is_some() || claims.timecode.is_some() {
                complaints
                    .push(format!("{file}: no judge can read it, but lensmend says {claims:?}"));
            }
            continue;
        }
        readable += 1;
        complaints.extend(complaints_of(file, claims, answer));
    }
    assert!(complaints.is_empty(), "{}", complaints.join("\n"));
    // Fifteen clip files of the sample hold a picture; three are cut off, empty or of no known container.
    assert_eq!((readable, files.len()), (15, 18), "files that the judges can read, and clip files");
}

/// How one fact of a file is held against what a judge says of it.
type Rule = fn(&Claims, &Json) -> Ruling;

/// Everything that the judges deny, and every fact that none of them confirms.
pub(super) fn complaints_of(file: &str, claims: &Claims, answer: &Json) -> Vec<String> {
    let mut complaints = Vec::new();
    let facts: [(&str, Rule); 6] = [
        ("rate", rate),
        ("frames", frames),
        ("timecode", timecode),
        ("coded raster", coded),
        ("pixel aspect", pixel_aspect),
        ("rotation", rotation),
    ];
    for (fact, rule) in facts {
        let mut confirmed = false;
        for judge in JUDGES {
            match rule(claims, &answer[judge]) {
                Ruling::Confirmed => confirmed = true,
                Ruling::Silent => {}
                Ruling::Denied(said) => {
                    complaints.push(format!(
                        "{file}: {fact}: {judge} says {said}, lensmend says {claims:?}"
                    ));
                }
            }
        }
        if !confirmed {
            complaints
                .push(format!("{file}: {fact}: no judge confirms it; lensmend says {claims:?}"));
        }
    }
    complaints
}

fn rate(claims: &Claims, said: &Json) -> Ruling {
    rule(claims.rate, ratio(&said["rate"]), |a, b| a == b)
}

/// A judge may state frames, count them, or both; each must be the same.
fn frames(claims: &Claims, said: &Json) -> Ruling {
    let stated = rule(claims.frames, said["frames"].as_u64(), |a, b| a == b);
    let counted = rule(claims.frames, said["counted"].as_u64(), |a, b| a == b);
    match (stated, counted) {
        (Ruling::Denied(said), _) | (_, Ruling::Denied(said)) => Ruling::Denied(said),
        (Ruling::Silent, Ruling::Silent) => Ruling::Silent,
        _ => Ruling::Confirmed,
    }
}

/// Judges part drop-frame labels by `:` or `;`; the flag says which kind it is.
fn timecode(claims: &Claims, said: &Json) -> Ruling {
    let said = said["timecode"]["label"].as_str().map(|label| {
        (label.replace(';', ":"), said["timecode"]["drop"].as_bool().unwrap_or(false))
    });
    let claim =
        claims.timecode.as_ref().map(|label| (label.replace(';', ":"), label.contains(';')));
    rule(claim, said, |a, b| a == b)
}

fn coded(claims: &Claims, said: &Json) -> Ruling {
    rule(claims.coded, ratio(&said["coded"]), |a, b| a == b)
}

/// One judge prints three decimals: 4:3 is its 1333/1000.
fn pixel_aspect(claims: &Claims, said: &Json) -> Ruling {
    rule(claims.pixel_aspect, ratio(&said["pixel_aspect"]), |a, b| {
        // |a/b - c/d| <= 1/2000, in whole numbers.
        2000 * (a.0 * b.1).abs_diff(b.0 * a.1) <= a.1 * b.1
    })
}

fn rotation(claims: &Claims, said: &Json) -> Ruling {
    rule(claims.rotation, said["rotation"].as_u64(), |a, b| a == b)
}

fn rule<T: std::fmt::Debug>(
    claim: Option<T>,
    said: Option<T>,
    same: impl Fn(&T, &T) -> bool,
) -> Ruling {
    match (claim, said) {
        (_, None) => Ruling::Silent,
        (Some(claim), Some(said)) if same(&claim, &said) => Ruling::Confirmed,
        (_, Some(said)) => Ruling::Denied(format!("{said:?}")),
    }
}

fn ratio(pair: &Json) -> Option<(u64, u64)> {
    Some((pair[0].as_u64()?, pair[1].as_u64()?))
}

pub(super) fn claims_of_clip(clip: &Json) -> Vec<(String, Claims)> {
    let media = |field: &str| clip["media"][field]["value"].as_str();
    let whole = Claims {
        rate: media("frameRate").and_then(|text| pair(text, '/')),
        coded: media("codedRaster").and_then(|text| pair(text, 'x')),
        pixel_aspect: media("pixelAspect").and_then(|text| pair(text, '/')),
        rotation: clip["media"]["rotation"]["value"].as_u64(),
        ..Claims::default()
    };
    let of_file = |file: &Json| {
        let claims = Claims {
            frames: file["frames"].as_u64(),
            timecode: file["startTimecode"].as_str().map(str::to_owned),
            ..whole.clone()
        };
        (file["file"].as_str().unwrap().to_owned(), claims)
    };
    clip["files"].as_array().unwrap().iter().map(of_file).collect()
}

/// `24000/1001`, `1920x1080`; a lone `25` is `25/1`.
fn pair(text: &str, sign: char) -> Option<(u64, u64)> {
    let (first, second) = text.split_once(sign).unwrap_or((text, "1"));
    Some((first.parse().ok()?, second.parse().ok()?))
}

#[test]
fn a_wrong_claim_and_an_unconfirmed_one_are_complained_of() {
    let said = serde_json::json!({
        "rate": [25, 1], "frames": 50, "counted": 50, "timecode": {"label": "01:00:00:00", "drop": false},
        "coded": [1440, 1080], "pixel_aspect": [1333, 1000], "rotation": 0
    });
    let answer = serde_json::json!({"ffprobe": said, "mediainfo": {}});
    let right = Claims {
        rate: Some((25, 1)),
        frames: Some(50),
        timecode: Some("01:00:00:00".to_owned()),
        coded: Some((1440, 1080)),
        pixel_aspect: Some((4, 3)),
        rotation: Some(0),
    };
    let complaints = |claims: &Claims, answer| complaints_of("clip", claims, answer).len();
    assert_eq!(complaints(&right, &answer), 0);
    for wrong in [
        Claims { rate: Some((24, 1)), ..right.clone() },
        Claims { frames: Some(49), ..right.clone() },
        Claims { timecode: Some("01:00:00;00".to_owned()), ..right.clone() },
        Claims { coded: Some((1920, 1080)), ..right.clone() },
        Claims { pixel_aspect: Some((135, 100)), ..right.clone() },
        Claims { rotation: None, ..right.clone() },
    ] {
        // Denied by the one who spoke, and so confirmed by none.
        assert_eq!(complaints(&wrong, &answer), 2, "{wrong:?}");
    }
    assert_eq!(complaints(&right, &serde_json::json!({"ffprobe": {}, "mediainfo": {}})), 6);
}
