//! The summary on the terminal: one line a clip or piece, then the counts and what needs a person.

use rayon::prelude::*;
use unicode_width::UnicodeWidthStr;

use crate::annotation::{Annotation, Attached, ClipFacts, Setup, Shoot, Stray, Verdict};
use crate::fields::Field;
use crate::finding::Finding;
use crate::number::{fixed, short};
use crate::recorded::Recorded;
use crate::sourced::{Origin, Quantity};
use crate::stops;
use crate::units::Unit;

use super::calm::calm;
use super::findings::people;
use super::rows::rows;
use super::values::facts;

/// Words that belong under every list of numbers.
pub(super) const CAUTION: &str =
    "Values from marks are nominal: a matchmove wants a measured lens and reducer.";

/// The summary of `annotate`.
pub fn annotate(shoot: &Shoot) -> String {
    let head = ["clip", "lens", "attachment", "focal mm", "stop", "verdict"];
    let clips: Vec<Vec<Vec<String>>> = shoot.clips.par_iter().map(clip_lines).collect();
    let lines: Vec<Vec<String>> = std::iter::once(head.map(str::to_owned).to_vec())
        .chain(clips.into_iter().flatten())
        .collect();
    let mut text = columns(&lines);
    text.push('\n');
    text.push_str(&counts(shoot));
    text.push_str(CAUTION);
    text.push('\n');
    text
}

fn clip_lines(annotation: &Annotation) -> Vec<Vec<String>> {
    let mut lines = Vec::new();
    let mut before: Option<Vec<String>> = None;
    for row in rows(annotation) {
        let line = clip_line(row.setup);
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
    lines
}

fn clip_line(setup: &Setup) -> Vec<String> {
    let attachment = match setup.attachment.as_ref().map(|attached| &attached.value) {
        None => "?".to_owned(),
        Some(Attached::Bare) => "none".to_owned(),
        Some(Attached::On { id, .. }) => calm(id),
    };
    vec![
        setup.lens.value.as_ref().map_or("?".to_owned(), |lens| calm(&lens.value)),
        attachment,
        arrow(setup.lens_focal.as_ref(), setup.focal_length.value.as_ref(), |mm| short(mm, 1)),
        stop(setup),
        verdicts(setup),
    ]
}

/// The lens alone, an arrow, and what it came out as; a lone value where both are the same.
fn arrow<U: Unit>(
    from: Option<&Quantity<U>>,
    to: Option<&Quantity<U>>,
    print: impl Fn(f64) -> String,
) -> String {
    let number = |quantity: Option<&Quantity<U>>| quantity.map(|q| print(q.value.number()));
    match (number(from), number(to)) {
        (Some(from), Some(to)) if from != to => format!("{from} > {to}"),
        (_, Some(to)) => to,
        (Some(from), None) => format!("{from} > ?"),
        (None, None) => "-".to_owned(),
    }
}

/// The stop in T where the ring was noted in T, else in f; the table has both.
fn stop(setup: &Setup) -> String {
    fn noted<U: Unit>(ring: Option<&Quantity<U>>) -> bool {
        ring.is_some_and(|ring| !matches!(ring.origin, Origin::Computed(_)))
    }
    let Setup { lens_t, lens_f, t_number, f_number, .. } = setup;
    if noted(lens_t.as_ref()) && !noted(lens_f.as_ref()) {
        let print = |t| format!("T{}", spoken(t));
        return arrow(lens_t.as_ref(), t_number.value.as_ref(), print);
    }
    arrow(lens_f.as_ref(), f_number.value.as_ref(), |f| format!("f/{}", spoken(f)))
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
fn verdicts(setup: &Setup) -> String {
    let focal = setup.focal_length.verdict;
    let stop = setup.f_number.verdict.or(setup.t_number.verdict);
    let (lens, focus) = (setup.lens.verdict, setup.focus_distance.verdict);
    // Which lens it was is as a rule what notes and kit say; only where that is not so it needs a word.
    let usual = |verdict: &Verdict| matches!(verdict, Verdict::Filled | Verdict::Kept);
    let others = [
        ("stop", stop.filter(|_| stop != focal)),
        ("lens", lens.filter(|lens| !usual(lens) && Some(*lens) != focal)),
        ("focus", focus.filter(|focus| !usual(focus) && Some(*focus) != focal)),
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
        "{} clips in {files} files, {}. Focal length: {}. {}.\n",
        shoot.clips.len(),
        counted(&shoot.strays),
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
            recorded(&clip.media),
        ]);
    }
    let mut text = columns(&lines);
    text.push_str(&of_stills(strays));
    let others: Vec<Vec<String>> = strays
        .iter()
        .filter(|stray| stray.still.is_none())
        .map(|stray| vec![calm(&stray.file), stray.reason.to_owned()])
        .collect();
    if !others.is_empty() {
        text.push_str("\nstray files\n");
        text.push_str(&columns(&others));
    }
    let files: u64 = clips.iter().map(ClipFacts::file_count).sum();
    let stray_files = u64::try_from(strays.len()).unwrap_or(u64::MAX);
    let counts = format!(
        "\n{} clips in {files} files, {}, {} files in all. {}.\n",
        clips.len(),
        counted(strays),
        files.saturating_add(stray_files),
        needs(findings),
    );
    text.push_str(&counts);
    text
}

/// How many files are no clips; stills apart, where there are some.
fn counted(strays: &[Stray]) -> String {
    let stills = strays.iter().filter(|stray| stray.still.is_some()).count();
    let others = strays.len() - stills;
    match stills {
        0 => format!("{others} stray files"),
        1 => format!("1 still, {others} stray files"),
        _ => format!("{stills} stills, {others} stray files"),
    }
}

/// Stills with the clip or the roll that they belong to, and what they say of themselves.
fn of_stills(strays: &[Stray]) -> String {
    let mut lines =
        vec![["still", "clip", "roll", "taken", "camera", "recorded"].map(str::to_owned).to_vec()];
    let or_dash = |text: Option<String>| text.unwrap_or_else(|| "-".to_owned());
    for stray in strays {
        let Some(still) = &stray.still else { continue };
        let media = still.media.as_deref();
        let camera = media.map(|media| {
            let words = [&media.maker, &media.model].into_iter().flatten();
            words.map(|word| calm(&word.value)).collect::<Vec<_>>().join(" ")
        });
        let taken = media.and_then(|media| media.created.as_ref());
        lines.push(vec![
            calm(&stray.file),
            or_dash(still.clip.as_deref().map(calm)),
            or_dash(still.roll.as_deref().map(calm)),
            or_dash(taken.map(|at| at.value.to_string())),
            or_dash(camera.filter(|camera| !camera.is_empty())),
            or_dash(media.map(recorded)),
        ]);
    }
    if lines.len() == 1 { String::new() } else { format!("\n{}", columns(&lines)) }
}

fn recorded(media: &Recorded) -> String {
    let words = [
        media.lens.as_ref().map(|lens| calm(&lens.value)),
        media.focal_length.as_ref().map(|focal| format!("{} mm", short(focal.value.get(), 2))),
        media.f_number.as_ref().map(|n| format!("f/{}", short(n.value.get(), 2))),
        media.t_number.as_ref().map(|t| format!("T{}", short(t.value.get(), 2))),
        media.focus_distance.as_ref().map(|at| format!("{} m", short(at.value.get(), 2))),
        // 1 is none, which is no news.
        media
            .extender
            .as_ref()
            .filter(|by| (by.value.get() - 1.0).abs() > by.half_step)
            .map(|by| format!("extender {}x", short(by.value.get(), 2))),
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
