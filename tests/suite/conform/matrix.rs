//! Every container, rate and clock that an encoder makes, read by lensmend, ffprobe and MediaInfo, fact by fact.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value as Json;

use crate::workshop::lensmend;

use super::Judges;
use super::containers::{claims_of_clip, complaints_of};

/// How a file is laid out: its ending, and flags of the writer.
const CONTAINERS: [(&str, &str, &str); 5] = [
    ("mov-last", "mov", ""),
    ("mov-first", "mov", "+faststart"),
    ("mp4-last", "mp4", ""),
    ("mp4-first", "mp4", "+faststart"),
    ("fragmented", "mp4", "+frag_keyframe+empty_moov"),
];

/// Rates, and the timecode that each begins with.
const RATES: [(&str, &str, &str); 9] = [
    ("23.976", "24000/1001", "01:00:00:00"),
    ("24", "24", "10:11:12:23"),
    ("25", "25", "23:59:59:20"),
    ("29.97df", "30000/1001", "00:09:59;28"),
    ("29.97ndf", "30000/1001", "01:00:00:02"),
    ("50", "50", "14:20:00:49"),
    ("59.94df", "60000/1001", "01:00:59;59"),
    ("59.94ndf", "60000/1001", "01:00:00:04"),
    ("60", "60", "00:00:00:01"),
];

/// Where a judge says something else, and the clause that decides it: part of a file's name, fact, judge, clause.
const DISAGREEMENTS: &[(&str, &str, &str, &str)] = &[(
    "trimmed",
    "frames",
    "ffprobe",
    "ISO/IEC 14496-12, 8.6.6: what no edit names is not presented; ffprobe counts the frames stored, MediaInfo those shown",
)];

/// Facts that no judge speaks of in some files, and why.
const UNCONFIRMED: &[(&str, &str, &str)] = &[];

#[test]
fn the_matrix_of_containers_rates_and_clocks() {
    let Some(judges) = Judges::called() else { return };
    let folder = tempfile::tempdir().unwrap();
    let bases = tempfile::tempdir().unwrap();
    let mut jobs: Vec<(Vec<String>, PathBuf)> = Vec::new();
    for (name, rate, label) in RATES {
        let base = bases.path().join(format!("{}.mov", rate.replace('/', "_")));
        let source = format!("testsrc=size=64x48:rate={rate}");
        // Pictures that lean on later ones give composition offsets and the edit lists that go with them.
        encode(
            &["-f", "lavfi", "-i", &source, "-frames:v", "25", "-c:v", "mpeg4", "-bf", "2"],
            &base,
        );
        for (layout, ending, flags) in CONTAINERS {
            for mixture in 0..8 {
                let [clock, turned, squeezed] = [1, 2, 4].map(|bit| mixture & bit != 0);
                let file = format!(
                    "{name}_{layout}{}{}{}.{ending}",
                    if clock { "_clock" } else { "" },
                    if turned { "_turned" } else { "" },
                    if squeezed { "_squeezed" } else { "" }
                );
                let mut how = vec!["-i", base.to_str().unwrap(), "-c", "copy"];
                how.extend(clock.then_some(["-timecode", label]).into_iter().flatten());
                how.extend(turned.then_some(["-metadata:s:v", "rotate=90"]).into_iter().flatten());
                how.extend(squeezed.then_some(["-aspect", "8:3"]).into_iter().flatten());
                how.extend(
                    (!flags.is_empty()).then_some(["-movflags", flags]).into_iter().flatten(),
                );
                let how = how.into_iter().map(str::to_owned).collect();
                jobs.push((how, folder.path().join(&file)));
            }
        }
    }
    at_once(&jobs, |(how, file)| encode(how, file));
    // Begun inside of a group of pictures: what stands before is stored and hidden by an edit.
    let base = bases.path().join("60.mov");
    for ending in ["mov", "mp4"] {
        let file = folder.path().join(format!("60_trimmed.{ending}"));
        encode(&["-ss", "0.3", "-i", base.to_str().unwrap(), "-c", "copy"], &file);
    }
    let complaints = compare(&judges, folder.path());
    let excused = |text: &String| {
        let (file, rest) = text.split_once(": ").unwrap_or((text, ""));
        let known = DISAGREEMENTS.iter().any(|(part, fact, judge, _)| {
            file.contains(part) && rest.starts_with(&format!("{fact}: {judge} says"))
        });
        let silent = UNCONFIRMED.iter().any(|(part, fact, _)| {
            file.contains(part) && rest.starts_with(&format!("{fact}: no judge confirms"))
        });
        // Without a clock there is nothing to confirm.
        let no_clock = !file.contains("_clock") && rest.starts_with("timecode: no judge");
        known || silent || no_clock
    };
    for (part, fact, judge, why) in DISAGREEMENTS {
        let begins = format!("{fact}: {judge} says");
        let met = complaints.iter().any(|c| c.contains(part) && c.contains(&begins));
        assert!(met, "{part}: {fact}: {judge} no longer disagrees ({why}); take the line out");
    }
    let left: Vec<&String> = complaints.iter().filter(|text| !excused(text)).collect();
    assert!(left.is_empty(), "{} of {}:\n{left:#?}", left.len(), complaints.len());
}

fn compare(judges: &Judges, dump: &Path) -> Vec<String> {
    let scan = lensmend(&["scan", dump.to_str().unwrap(), "--json"]);
    let scan: Json = serde_json::from_slice(&scan.stdout).unwrap();
    let claims: Vec<_> =
        scan["clips"].as_array().unwrap().iter().flat_map(claims_of_clip).collect();
    assert_eq!(claims.len(), RATES.len() * CONTAINERS.len() * 8 + 2);
    let files: Vec<PathBuf> = claims.iter().map(|(file, _)| dump.join(file)).collect();
    let shares: Vec<&[PathBuf]> = files.chunks(48).collect();
    let answers = at_once(&shares, |share| judges.ask("media_facts.py", share));
    claims
        .iter()
        .zip(answers.iter().flatten())
        .flat_map(|((file, claims), answer)| complaints_of(file, claims, answer))
        .collect()
}

/// `work` on every job, on as many threads as there are processors; what comes of them is in the order of the jobs.
fn at_once<J: Sync, T: Send>(jobs: &[J], work: impl Fn(&J) -> T + Sync) -> Vec<T> {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let share = jobs.len().div_ceil(threads).max(1);
    std::thread::scope(|scope| {
        let work = &work;
        let of = |jobs| scope.spawn(move || <[J]>::iter(jobs).map(work).collect::<Vec<T>>());
        let running: Vec<_> = jobs.chunks(share).map(of).collect();
        running.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    })
}

fn encode(how: &[impl AsRef<std::ffi::OsStr> + std::fmt::Debug], file: &Path) {
    let run = Command::new("ffmpeg")
        .args(["-v", "error", "-y"])
        .args(how)
        .args(["-fflags", "+bitexact"])
        .arg(file)
        .output()
        .unwrap();
    assert!(run.status.success(), "{how:?}: {}", String::from_utf8_lossy(&run.stderr));
}
