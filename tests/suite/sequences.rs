//! Numbered files as one clip: which rows are sequences, what is read of them, and the one sidecar they get.

#![expect(clippy::disallowed_methods, reason = "tests make and look at files of their own")]

use std::fs;
use std::path::Path;

use serde_json::Value as Json;

use crate::frames::{LITTLE, dng, taken};
use crate::shoot::{Shoot, findings, is_sidecar, lensmend, paths, run};

/// A DNG frame with the timecode 01:02:03 and `frame`.
fn frame(frame: u8) -> Vec<u8> {
    dng(LITTLE, [frame / 10 * 16 + frame % 10, 3, 2, 1, 0, 0, 0, 0], taken())
}

fn put(shoot: &Shoot, path: &str, bytes: &[u8]) {
    let path = shoot.dump().join(path);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, bytes).unwrap();
}

/// Clips as `name: files, frames`, strays as their reasons, and codes.
fn scan(dump: &Path) -> (Vec<String>, Vec<String>, Vec<String>) {
    let ran = run(lensmend().arg("scan").arg(dump).arg("--json"));
    let record: Json = serde_json::from_slice(&ran.out).unwrap();
    let clips = record["clips"].as_array().unwrap().iter().map(|clip| {
        let roll = clip["roll"].as_str().unwrap_or("-");
        let files = clip["files"].as_array().unwrap();
        let count: u64 = files.iter().map(|file| file["files"].as_u64().unwrap_or(1)).sum();
        let frames = clip["media"]["frames"]["value"].as_u64();
        let frames = frames.map_or(String::new(), |frames| format!(", {frames} frames"));
        format!("{roll} {}: {count} files{frames}", clip["name"].as_str().unwrap())
    });
    let strays = record["strays"].as_array().unwrap().iter();
    let strays = strays.map(|stray| stray["file"].as_str().unwrap().to_owned()).collect();
    let codes = findings(&ran.out).into_iter().map(|(code, _)| code);
    (clips.collect(), strays, codes.filter(|code| code != "media.opaque").collect())
}

#[test]
fn rows_of_numbers_that_are_clips_and_those_that_are_not() {
    let many = |paths: &[&str]| paths.iter().map(|path| (*path).to_owned()).collect::<Vec<_>>();
    let cases: &[(&[&str], &[&str])] = &[
        // Frames in the folder of a roll, and in a folder of their own.
        (
            &["A003/A003C007_1114_KV_000001.dng", "A003/A003C007_1114_KV_000002.dng"],
            &["A003 A003C007: 2 files, 2 frames"],
        ),
        (
            &["card/shot-7/shot-7_0009.dng", "card/shot-7/shot-7_0010.dng"],
            &["card shot-7: 2 files, 2 frames"],
        ),
        (
            &["A003/A003C007/0001.exr", "A003/A003C007/0002.exr"],
            &["A003 A003C007: 2 files, 2 frames"],
        ),
        (&["x/plate.1.tif", "x/plate.2.TIF"], &["x plate: 2 files, 2 frames"]),
        (&["x/plate.99.tif", "x/plate.100.tif"], &["x plate: 2 files, 2 frames"]),
        // The number is that of the clip.
        (
            &["A003/A003C007.dng", "A003/A003C008.dng"],
            &["A003 A003C007: 1 files, 1 frames", "A003 A003C008: 1 files, 1 frames"],
        ),
        // Stills: alone, dated, or fewer snapshots than fill a second.
        (&["x/plate_0001.dng"], &[]),
        (&["x/IMG_20261114101502.jpg", "x/IMG_20261114101733.jpg"], &[]),
        (&["x/IMG_0012.jpg", "x/IMG_0013.jpg"], &[]),
        // The same number twice: two rows.
        (
            &["x/a_1.tif", "x/a_2.tif", "x/a_001.tif", "x/a_002.tif"],
            &["x a: 2 files, 2 frames", "x a: 2 files, 2 frames"],
        ),
        // Opaque pieces: by pattern or by their folder, and only where they fill it.
        (
            &[
                "A003/A003C007_1114/A003C007_1114.0001.blob",
                "A003/A003C007_1114/A003C007_1114.0002.blob",
            ],
            &["A003 A003C007: 2 files"],
        ),
        (
            &["card/shot-7/shot-7_01.blob", "card/shot-7/shot-7_02.blob", "card/shot-7/shot-7.xml"],
            &["card shot-7: 2 files"],
        ),
        (
            &["A003/A003C007_1114_KV.001", "A003/A003C007_1114_KV.002", "A003/other"],
            &["A003 A003C007: 2 files"],
        ),
        (&["card/shot-7/shot-7_01.blob", "card/shot-7/shot-7_02.blob", "card/shot-7/index"], &[]),
        (&["card/INDEX/00001.blob", "card/INDEX/00002.blob"], &[]),
    ];
    for (files, wanted) in cases {
        let shoot = Shoot::empty();
        for path in *files {
            let picture =
                ["dng", "exr", "tif", "jpg"].iter().any(|end| path.to_lowercase().ends_with(end));
            // Of a length of its own, or rows of one name would be copies.
            let bytes = vec![if picture { b'x' } else { b'o' }; 12 + path.len()];
            put(&shoot, path, &bytes);
        }
        let (mut clips, strays, _) = scan(&shoot.dump());
        // Pictures that hold none are opaque, but a row of them still has as many frames.
        clips
            .iter_mut()
            .filter(|clip| clip.ends_with(": 1 files"))
            .for_each(|clip| clip.push_str(", 1 frames"));
        assert_eq!(clips, many(wanted), "{files:?}");
        if wanted.is_empty() {
            assert_eq!(strays.len(), files.len(), "{files:?}");
        }
    }
}

#[test]
fn a_sequence_is_one_clip_with_one_sidecar() {
    let shoot = Shoot::clean();
    for number in 1..=12 {
        put(&shoot, &format!("A003/A003C002_1114_KV_{number:06}.dng"), &frame(number));
    }
    shoot.notes("Roll,Clip,Lens,Stop,Reducer\nA003,C001-C002,Sorrel 50,f/2.8,0.71\n");
    let ran = run(shoot.command(crate::shoot::DATE).arg("--json"));
    let record: Json = serde_json::from_slice(&ran.out).unwrap();
    let clip = &record["clips"][1];
    assert_eq!(clip["name"], "A003C002");
    assert_eq!(clip["files"].as_array().unwrap().len(), 1);
    let file = &clip["files"][0];
    assert_eq!(file["file"], "A003/A003C002_1114_KV_000001.dng");
    assert_eq!(file["lastFile"], "A003/A003C002_1114_KV_000012.dng");
    assert_eq!((&file["numbers"], &file["files"]), (&serde_json::json!([1, 12]), &12.into()));
    assert_eq!(file["bytes"], 12 * frame(1).len());
    assert_eq!((&file["frames"], &file["startTimecode"]), (&12.into(), &"01:02:03:01".into()));
    assert_eq!(clip["media"]["container"], "DNG");
    let sidecars: Vec<_> = paths(&shoot.out).into_iter().filter(|path| is_sidecar(path)).collect();
    assert_eq!(sidecars.len(), 2);
    assert!(
        sidecars.iter().any(|path| path.ends_with("A003/A003C002_1114_KV.xmp")),
        "{sidecars:?}"
    );
    let codes: Vec<_> = findings(&ran.out).into_iter().map(|(code, _)| code).collect();
    assert!(
        !codes.iter().any(|code| code.starts_with("media.") || code == "clip.span-gap"),
        "{codes:?}"
    );
    assert_eq!(record["summary"]["clipFiles"], 13);
}

#[test]
fn what_is_wrong_with_a_sequence_is_said() {
    let sequence = |change: &dyn Fn(&Shoot)| {
        let shoot = Shoot::empty();
        for number in 1..=9 {
            put(&shoot, &format!("A003/plate_{number:04}.dng"), &frame(number));
        }
        change(&shoot);
        scan(&shoot.dump()).2
    };
    let file = |shoot: &Shoot, number: u8| shoot.dump().join(format!("A003/plate_{number:04}.dng"));
    assert_eq!(sequence(&|_| {}), Vec::<String>::new());
    let holes = sequence(&|shoot| {
        for number in [3, 4, 7] {
            fs::remove_file(file(shoot, number)).unwrap();
        }
    });
    assert_eq!(holes, ["clip.span-gap"]);
    // Only first and last are opened: what lies between may be anything, but not nothing.
    assert_eq!(
        sequence(&|shoot| fs::write(file(shoot, 5), "not a frame").unwrap()),
        Vec::<String>::new()
    );
    assert_eq!(sequence(&|shoot| fs::write(file(shoot, 5), "").unwrap()), ["media.empty"]);
    let cut = sequence(&|shoot| fs::write(file(shoot, 9), &frame(9)[..400]).unwrap());
    assert_eq!(cut, ["media.cut-off"]);
    let late = sequence(&|shoot| fs::write(file(shoot, 9), frame(11)).unwrap());
    assert_eq!(late, ["media.timecode-odd"]);
}

/// Snapshots are a sequence only where they fill a second without a hole.
#[test]
fn a_second_of_snapshots_is_a_clip() {
    for (count, hole, clips) in [(23, false, 0), (24, false, 1), (30, true, 0)] {
        let shoot = Shoot::empty();
        for number in (1..=count).filter(|number| !(hole && *number == 12)) {
            put(&shoot, &format!("x/lapse_{number:04}.jpg"), b"xxxxxxxxxxxx");
        }
        assert_eq!(scan(&shoot.dump()).0.len(), clips, "{count} {hole}");
    }
}
