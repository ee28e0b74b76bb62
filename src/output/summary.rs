//! The summary on the terminal: one line a clip or piece, then the counts and what needs a person.

use unicode_width::UnicodeWidthStr;

use crate::annotation::{Annotation, Attached, ClipFacts, Shoot, Stray, Verdict};
use crate::fields::Field;
use crate::finding::Finding;
use crate::number::{fixed, short};
use crate::sourced::Origin;
use crate::stops;

use super::calm::calm;
use super::findings::people;
use super::rows::{Row, rows};
use super::values::{Cells, Value, cells, facts};

/// Words that belong under every list of numbers.
pub(super) const CAUTION: &str =
    "Values from marks are nominal: a matchmove wants a measured lens and reducer.";

/// The summary of `annotate`.
pub fn annotate(shoot: &Shoot) -> String {
    let head = ["clip", "lens", "attachment", "focal mm", "stop", "verdict"];
    let mut lines = vec![head.map(str::to_owned).to_vec()];
    for annotation in &shoot.clips {
        let mut before: Option<Vec<String>> = None;
        for row in rows(annotation) {
            let line = clip_line(&row);
            // Parts of a spanned clip with nothing new to say are not listed again.
            if before.as_ref().is_some_and(|before| *before == line) {
                continue;
            }
            // The name stands once; a later piece is told by the timecode where it begins.
            let name = match (&before, row.start_timecode()) {
                (None, _) => calm(&annotation.clip.name),
                (Some(_), Some(start)) => format!(" {start}"),
                (Some(_), None) => " ...".to_owned(),
            };
            lines.push(std::iter::once(name).chain(line.iter().cloned()).collect());
            before = Some(line);
        }
    }
    let mut text = columns(&lines);
    text.push('\n');
    text.push_str(&counts(shoot));
    text.push_str(CAUTION);
    text.push('\n');
    text
}

fn clip_line(row: &Row<'_>) -> Vec<String> {
    let cells = cells(row);
    let attachment = match row.setup.attachment.as_ref().map(|attached| &attached.value) {
        None => "?".to_owned(),
        Some(Attached::Bare) => "none".to_owned(),
        Some(Attached::On { id, .. }) => calm(id),
    };
    let lens = cells
        .get(&Field::Lens)
        .and_then(|cell| cell.value.as_ref())
        .map_or("?".to_owned(), |v| calm(&v.text(Field::Lens)));
    vec![
        lens,
        attachment,
        arrow(&cells, Field::LensFocal, Field::FocalLength, |mm| short(mm, 1)),
        stop(&cells),
        verdicts(&cells),
    ]
}

/// The lens alone, an arrow, and what it came out as; a lone value where both are the same.
fn arrow(cells: &Cells, from: Field, to: Field, print: impl Fn(f64) -> String) -> String {
    let number = |field| match cells.get(&field).and_then(|cell| cell.value.as_ref()) {
        Some(Value::Number { number, .. }) => Some(print(*number)),
        _ => None,
    };
    match (number(from), number(to)) {
        (Some(from), Some(to)) if from != to => format!("{from} > {to}"),
        (_, Some(to)) => to,
        (Some(from), None) => format!("{from} > ?"),
        (None, None) => "-".to_owned(),
    }
}

/// The stop in T where the ring was noted in T, else in f; the table has both.
fn stop(cells: &Cells) -> String {
    let noted = |field| {
        let origin = cells.get(&field).and_then(|cell| cell.origin.as_ref());
        origin.is_some_and(|origin| !matches!(origin, Origin::Computed(_)))
    };
    if noted(Field::LensT) && !noted(Field::LensF) {
        return arrow(cells, Field::LensT, Field::TNumber, |t| format!("T{}", spoken(t)));
    }
    arrow(cells, Field::LensF, Field::FNumber, |f| format!("f/{}", spoken(f)))
}

/// A stop as people say it: the engraved mark where the number is one, so that 5.657 is 5.6.
pub(super) fn spoken(number: f64) -> String {
    let mark = stops::nominal(number).filter(|mark| {
        stops::steps_between(stops::exact(*mark).number, number).abs() < ON_THE_MARK
    });
    let number = mark.unwrap_or(number);
    fixed(number, usize::from(number < 10.0))
}

/// Stops between a number and the mark by which it is still called.
const ON_THE_MARK: f64 = 0.06;

/// The verdict of the focal length, that of the stop where it differs, and those of lens and focus where they need a person.
fn verdicts(cells: &Cells) -> String {
    let verdict = |field| cells.get(&field).and_then(|cell| cell.verdict);
    let focal = verdict(Field::FocalLength);
    let stop = verdict(Field::FNumber).or_else(|| verdict(Field::TNumber));
    // Which lens it was is as a rule what notes and kit say; only where that is not so it needs a word.
    let usual = |verdict: &Verdict| matches!(verdict, Verdict::Filled | Verdict::Kept);
    let others = [
        ("stop", stop.filter(|_| stop != focal)),
        ("lens", verdict(Field::Lens).filter(|lens| !usual(lens) && Some(*lens) != focal)),
        (
            "focus",
            verdict(Field::FocusDistance).filter(|focus| !usual(focus) && Some(*focus) != focal),
        ),
    ];
    let words: Vec<String> = focal
        .map(|focal| focal.word().to_owned())
        .into_iter()
        .chain(others.into_iter().filter_map(|(what, v)| Some(format!("{what} {}", v?.word()))))
        .collect();
    if words.is_empty() { "-".to_owned() } else { words.join(", ") }
}

fn counts(shoot: &Shoot) -> String {
    let files: u64 = shoot.clips.iter().map(|annotation| annotation.clip.file_count()).sum();
    let mut words = Vec::new();
    for verdict in Verdict::ALL {
        let count = shoot
            .clips
            .iter()
            .filter(|annotation| {
                annotation.setups.pieces().any(|p| p.value.focal_length.verdict == Some(verdict))
            })
            .count();
        if count > 0 {
            words.push(format!("{count} {}", verdict.word()));
        }
    }
    let none = shoot.clips.iter().filter(|clip| without_verdict(clip)).count();
    if none > 0 {
        words.push(format!("{none} without a verdict"));
    }
    format!(
        "{} clips in {files} files, {} stray files. Focal length: {}. {}.\n",
        shoot.clips.len(),
        shoot.strays.len(),
        if words.is_empty() { "nothing settled".to_owned() } else { words.join(", ") },
        needs(&shoot.findings),
    )
}

/// True for a clip of which no piece has a verdict for its focal length: neither media nor notes speak of it.
pub(super) fn without_verdict(annotation: &Annotation) -> bool {
    annotation.setups.pieces().all(|piece| piece.value.focal_length.verdict.is_none())
}

pub(super) fn needs(findings: &[Finding]) -> String {
    match people(findings) {
        0 => "Nothing needs a person".to_owned(),
        1 => "1 thing needs a person".to_owned(),
        n => format!("{n} things need a person"),
    }
}

/// The summary of `scan`.
pub fn scan(clips: &[ClipFacts], strays: &[Stray], findings: &[Finding]) -> String {
    let mut lines = vec![
        ["clip", "files", "raster", "rate", "frames", "start", "camera", "recorded"]
            .map(str::to_owned)
            .to_vec(),
    ];
    for clip in clips {
        let cells = facts(clip);
        let shown = |field: Field| {
            cells
                .get(&field)
                .and_then(|cell| cell.value.as_ref())
                .map_or("-".to_owned(), |v| calm(&v.text(field)))
        };
        let rate =
            clip.media.rate.as_ref().map_or("-".to_owned(), |rate| short(rate.value.to_f64(), 3));
        let camera = [Field::CameraMaker, Field::CameraModel]
            .map(shown)
            .into_iter()
            .filter(|t| t != "-")
            .collect::<Vec<_>>();
        let camera = if camera.is_empty() { "-".to_owned() } else { camera.join(" ") };
        lines.push(vec![
            calm(&clip.name),
            clip.file_count().to_string(),
            shown(Field::Coded),
            rate,
            shown(Field::Frames),
            shown(Field::Start),
            camera,
            recorded(clip),
        ]);
    }
    let mut text = columns(&lines);
    if !strays.is_empty() {
        text.push_str("\nstray files\n");
        let lines: Vec<Vec<String>> =
            strays.iter().map(|stray| vec![calm(&stray.file), stray.reason.to_owned()]).collect();
        text.push_str(&columns(&lines));
    }
    let files: u64 = clips.iter().map(ClipFacts::file_count).sum();
    let stray_files = u64::try_from(strays.len()).unwrap_or(u64::MAX);
    let counts = format!(
        "\n{} clips in {files} files, {} stray files, {} files in all. {}.\n",
        clips.len(),
        strays.len(),
        files.saturating_add(stray_files),
        needs(findings),
    );
    text.push_str(&counts);
    text
}

fn recorded(clip: &ClipFacts) -> String {
    let media = &clip.media;
    let words = [
        media.lens.as_ref().map(|lens| calm(&lens.value)),
        media.focal_length.as_ref().map(|focal| format!("{} mm", short(focal.value.get(), 2))),
        media.f_number.as_ref().map(|n| format!("f/{}", short(n.value.get(), 2))),
        media.t_number.as_ref().map(|t| format!("T{}", short(t.value.get(), 2))),
        media.focus_distance.as_ref().map(|at| format!("{} m", short(at.value.get(), 2))),
    ];
    let words: Vec<String> = words.into_iter().flatten().collect();
    if words.is_empty() { "-".to_owned() } else { words.join(", ") }
}

/// Lines of words in columns two spaces apart.
pub(super) fn columns(lines: &[Vec<String>]) -> String {
    let count = lines.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..count)
        .map(|at| {
            lines.iter().filter_map(|line| line.get(at)).map(|word| word.width()).max().unwrap_or(0)
        })
        .collect();
    let mut text = String::new();
    for line in lines {
        let mut out = String::new();
        for (word, width) in line.iter().zip(&widths) {
            out.push_str(word);
            out.push_str(&" ".repeat(width.saturating_sub(word.width()) + 2));
        }
        text.push_str(out.trim_end());
        text.push('\n');
    }
    text
}
