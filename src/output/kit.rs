//! What a kit comes to, for people: a table a camera, what does not go on it, and what calls for care.

use std::collections::{BTreeMap, BTreeSet};

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::number::{fixed, short};
use crate::prep::{Caution, Coverage, Fitting, Matter, OnCamera, Outlook, Prep, Way, Weight, Whom};
use crate::sourced::Quantity;
use crate::units::{Millimeters, Pixels};

use super::calm::calm;
use super::summary::{CAUTION, columns, needs, spoken};

/// What the numbers behind 'dark' are.
const DARK: &str =
    "Dark: the radius that each corner loses, on the sensor and in pixels of the recording.";
/// What the numbers behind 'sides' and 'top and bottom' are.
const EDGES: &str = "Sides, top and bottom: whole edges are dark, so far in from their middles; corners are what the radius loses there.";
/// What 'borderline' means.
const BORDERLINE: &str = "Borderline: the margin is smaller than the doubt about the image circle; look at the corners on prep day.";
/// What 'mounts' means.
const MOUNTS: &str =
    "Mounts: the mounts fit; whether the lens clears the glass cannot be known from the kit.";
/// Said of lenses with a shallower flange than the camera's.
const TOO_DEEP: &str = ", and no plain adapter can let it reach infinity there: its flange is no deeper than that of the camera";
/// Narrower terminals are not written for.
const NARROWEST: usize = 40;
/// Wider lines are not read.
const WIDEST: usize = 100;
/// Room that the columns behind the names take.
const NUMBERS: usize = 34;
/// Most names in one list.
const MOST_NAMED: usize = 12;

/// The sheet as text for a terminal of this width.
pub fn text(prep: &Prep, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut text = String::new();
    for camera in &prep.cameras {
        head(camera, width, &mut text);
        table(camera, width, &mut text);
        misfits(camera, width, &mut text);
        text.push('\n');
    }
    if prep.cameras.is_empty() {
        text.push_str("The kit has no camera, so there is nothing to put a lens on.\n\n");
    }
    let all = prep.cameras.iter().flat_map(|camera| &camera.ways).count();
    cautions(&prep.cautions, width, &mut text);
    let fits = goes(&prep.cameras).filter(|way| way.fit.verdict == Fitting::Fits).count();
    let open = goes(&prep.cameras).count() - fits;
    paragraph(
        &format!(
            "{all} combinations: {fits} fit, {open} cannot be known, {} do not fit. {}.",
            all - fits - open,
            needs(&prep.findings)
        ),
        0,
        width,
        &mut text,
    );
    if goes(&prep.cameras).any(|way| way.fit.mounts_fit()) {
        paragraph(MOUNTS, 0, width, &mut text);
    }
    let ways = goes(&prep.cameras).filter_map(|way| way.outlook.as_ref());
    let covered: Vec<&Coverage> = ways.flat_map(|outlook| &outlook.coverage).collect();
    if covered.iter().any(|of| of.dark.is_some()) {
        paragraph(DARK, 0, width, &mut text);
    }
    if covered.iter().any(|of| of.sides.is_some() || of.top_bottom.is_some()) {
        paragraph(EDGES, 0, width, &mut text);
    }
    if covered.iter().any(|of| of.borderline()) {
        paragraph(BORDERLINE, 0, width, &mut text);
    }
    paragraph(CAUTION, 0, width, &mut text);
    text
}

fn goes(cameras: &[OnCamera]) -> impl Iterator<Item = &Way> {
    cameras
        .iter()
        .flat_map(|camera| &camera.ways)
        .filter(|way| way.fit.verdict != Fitting::DoesNotFit)
}

fn head(camera: &OnCamera, width: usize, text: &mut String) {
    let mount = match &camera.mount {
        Some(mount) => format!("mount {}", calm(mount)),
        None => "mount not known".to_owned(),
    };
    paragraph(&format!("camera {}: {mount}", calm(&camera.name.label)), 0, width, text);
    let modes: Vec<String> = camera
        .modes
        .iter()
        .map(|(id, _, back)| {
            let (wide, high) = (back.width.get(), back.height.get());
            format!("{} {} x {} mm", calm(id), short(wide, 2), short(high, 2))
        })
        .collect();
    if modes.is_empty() {
        paragraph("no recording modes, so coverage is not known", 0, width, text);
    } else {
        paragraph(&format!("modes: {}", modes.join(", ")), 0, width, text);
    }
}

fn table(camera: &OnCamera, width: usize, text: &mut String) {
    let ways: Vec<&Way> = goes(std::slice::from_ref(camera)).collect();
    if ways.is_empty() {
        text.push_str("  Nothing in the kit goes on it.\n");
        return;
    }
    let room = (width.saturating_sub(NUMBERS) / 2).max(9);
    let mut lines = vec![["lens", "with", "fit", "focal mm", "widest"].map(str::to_owned).to_vec()];
    let mut covered = vec![vec!["coverage".to_owned()]];
    let mut before: Option<&str> = None;
    for way in ways {
        let lens = (before != Some(&way.lens.id)).then(|| cut(&calm(&way.lens.label), room));
        before = Some(&way.lens.id);
        let with = match &way.attachment {
            Some(attachment) => cut(&calm(&attachment.label), room),
            None => "bare".to_owned(),
        };
        let fit = match way.fit.verdict {
            Fitting::Fits => "fits",
            _ if way.fit.mounts_fit() => "mounts",
            _ => "?",
        };
        let outlook = way.outlook.as_ref();
        let focal = outlook.and_then(focal).unwrap_or("-".to_owned());
        let widest = outlook.and_then(widest).unwrap_or("-".to_owned());
        covered.push(outlook.map(|outlook| coverage(&outlook.coverage)).unwrap_or_default());
        lines.push(vec![lens.unwrap_or_default(), with, fit.to_owned(), focal, widest]);
    }
    let left = columns(&lines);
    let start = left.lines().map(UnicodeWidthStr::width).max().unwrap_or(0) + 2;
    let longest = covered.iter().flatten().map(|word| word.width()).max().unwrap_or(0);
    // Where there is no room for the coverage beside the numbers, it stands below them, on as few lines as it takes.
    let beside = start + longest <= width;
    for (at, (line, words)) in left.lines().zip(&covered).enumerate() {
        let mut below = String::new();
        if beside {
            for word in words {
                paragraph(word, start, width, &mut below);
            }
            let gap = " ".repeat(start.saturating_sub(line.width()));
            text.push_str(format!("{line}{gap}{}", below.trim_start()).trim_end());
        } else if at == 0 {
            text.push_str(line);
        } else {
            paragraph(&words.join("; "), 4, width, &mut below);
            text.push_str(format!("{line}\n{below}").trim_end());
        }
        text.push('\n');
    }
}

/// The effective focal length, or the range of a zoom.
fn focal(outlook: &Outlook) -> Option<String> {
    let (shortest, longest) = outlook.focal.as_ref()?;
    let (from, to) = (short(shortest.value.get(), 1), short(longest.value.get(), 1));
    Some(if from == to { from } else { format!("{from}-{to}") })
}

/// The widest stop in f, in T, or both, as far as each is known; of a zoom that ramps at either end.
fn widest(outlook: &Outlook) -> Option<String> {
    let ramp = |letter: &str, from: f64, to: f64| {
        let (from, to) = (spoken(from), spoken(to));
        if from == to { format!("{letter}{from}") } else { format!("{letter}{from}-{to}") }
    };
    let f = outlook.f_number.as_ref().map(|(a, b)| ramp("f/", a.value.get(), b.value.get()));
    let t = outlook.t_number.as_ref().map(|(a, b)| ramp("T", a.value.get(), b.value.get()));
    let known: Vec<String> = [f, t].into_iter().flatten().collect();
    (!known.is_empty()).then(|| known.join(" "))
}

/// One line for the modes that are covered, by how much at least, and one for each that is not.
fn coverage(of: &[Coverage]) -> Vec<String> {
    let known: Vec<&Coverage> = of.iter().filter(|of| of.ratio.is_some()).collect();
    if known.is_empty() {
        return vec!["not known".to_owned()];
    }
    let (dark, covered): (Vec<&Coverage>, Vec<&Coverage>) =
        known.into_iter().partition(|of| of.dark.is_some());
    let alone = of.len() == 1;
    let mut lines = Vec::new();
    if let Some(tightest) = covered.iter().min_by(|a, b| over(a).total_cmp(&over(b))) {
        let over = over(tightest);
        let by = format!("+{} %", fixed(over, usize::from(over < 10.0)));
        let mode = calm(&tightest.mode);
        let modes: Vec<&str> = covered.iter().map(|of| of.mode.as_str()).collect();
        lines.push(if alone {
            format!("{}, {by}", if tightest.borderline() { "borderline" } else { "covers" })
        } else if dark.is_empty() {
            let word = if tightest.borderline() { "borderline" } else { "covers all" };
            format!("{word}, {by} in {mode}")
        } else {
            format!("covers {}: {by}{}", list(&modes), edge(tightest))
        });
    }
    for of in dark {
        let Some(mm) = &of.dark else { continue };
        let mode = if alone { String::new() } else { format!("{} ", calm(&of.mode)) };
        lines.push(format!("{mode}dark {}{}", deep(mm, of.dark_pixels.as_ref()), edge(of)));
        for (edges, which) in [(&of.sides, "sides"), (&of.top_bottom, "top and bottom")] {
            if let Some((mm, pixels)) = edges {
                lines.push(format!("{mode}{which} {}", deep(mm, pixels.as_ref())));
            }
        }
    }
    lines
}

/// How much is dark, on the sensor and in pixels.
fn deep(mm: &Quantity<Millimeters>, pixels: Option<&Quantity<Pixels>>) -> String {
    let pixels = pixels.map_or_else(String::new, |px| format!(", {} px", fixed(px.value.get(), 0)));
    format!("{} mm{pixels}", fixed(mm.value.get(), 2))
}

/// Said of a margin that the soft edge of an image circle can undo.
fn edge(of: &Coverage) -> &'static str {
    if of.borderline() { ", borderline" } else { "" }
}

/// How much larger the image circle is than the diagonal, in percent.
fn over(of: &Coverage) -> f64 {
    of.ratio.as_ref().map_or(f64::INFINITY, |ratio| (ratio.value.get() - 1.0) * 100.0)
}

/// What does not go on a camera, in few lines: attachments by mount, lenses without a way, and pairs that strike.
fn misfits(camera: &OnCamera, width: usize, text: &mut String) {
    let mut attachments: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    let mut pairs: BTreeMap<(&str, &str), Vec<&str>> = BTreeMap::new();
    let mut lenses: BTreeMap<(Option<&str>, bool), Vec<&str>> = BTreeMap::new();
    let (mut told, mut seen) = (BTreeSet::new(), BTreeSet::new());
    for way in &camera.ways {
        if way.fit.verdict != Fitting::DoesNotFit {
            told.insert(way.lens.id.as_str());
        }
        let Some(on) = &way.attachment else { continue };
        for remark in way.fit.remarks.iter().filter(|remark| remark.weight == Weight::Refuses) {
            match (remark.matter, &way.body_mount) {
                (Matter::BodyMount, Some(mount)) => {
                    let list = attachments.entry(mount).or_default();
                    if seen.insert(on.id.as_str()) {
                        list.push(&on.label);
                    }
                }
                (Matter::Flange | Matter::Glass, _) => {
                    told.insert(way.lens.id.as_str());
                    pairs.entry((&on.label, &remark.message)).or_default().push(&way.lens.label);
                }
                _ => {}
            }
        }
    }
    for way in camera.ways.iter().filter(|way| way.attachment.is_none()) {
        if !told.contains(way.lens.id.as_str()) {
            let deep = way.fit.remarks.iter().any(|remark| remark.matter == Matter::Flange);
            let key = (way.lens_mount.as_deref(), deep);
            lenses.entry(key).or_default().push(&way.lens.label);
        }
    }
    if attachments.is_empty() && pairs.is_empty() && lenses.is_empty() {
        return;
    }
    text.push_str("does not go on it:\n");
    for (mount, names) in attachments {
        paragraph(&format!("{}: made for mount {}", list(&names), calm(mount)), 2, width, text);
    }
    for ((mount, deep), names) in lenses {
        let mount = mount.map_or_else(String::new, |mount| format!(" takes mount {}", calm(mount)));
        paragraph(
            &format!(
                "{}: nothing in the kit{mount} to this camera{}",
                list(&names),
                if deep { TOO_DEEP } else { "" }
            ),
            2,
            width,
            text,
        );
    }
    for ((on, message), names) in pairs {
        paragraph(&format!("{} on {}: {}", list(&names), calm(on), calm(message)), 2, width, text);
    }
}

/// What to do stands once, and below it why and for whom.
fn cautions(cautions: &[Caution], width: usize, text: &mut String) {
    let mut groups: Vec<(&str, Vec<&Caution>)> = Vec::new();
    for caution in cautions {
        match groups.iter_mut().find(|(advice, _)| *advice == caution.advice) {
            Some((_, group)) => group.push(caution),
            None => groups.push((&caution.advice, vec![caution])),
        }
    }
    for (advice, group) in groups {
        let why =
            |caution: &Caution| format!("{}: {}", calm(&caution.message), concerned(&caution.whom));
        if let [caution @ Caution { weight: Weight::Open, .. }] = group.as_slice() {
            paragraph(&format!("not known: {}", why(caution)), 0, width, text);
            paragraph(&format!("do: {}", calm(advice)), 2, width, text);
        } else {
            paragraph(&format!("caution: {}", calm(advice)), 0, width, text);
            for caution in group {
                paragraph(&format!("- {}", why(caution)), 2, width, text);
            }
        }
        text.push('\n');
    }
}

/// Whom a caution concerns; the same lenses on several attachments are named once.
fn concerned(whom: &[Whom]) -> String {
    let mut groups: Vec<(String, Vec<&str>)> = Vec::new();
    for Whom { on, lenses, all } in whom {
        let lenses = if *all && lenses.len() > 1 { "every lens".to_owned() } else { list(lenses) };
        match groups.iter_mut().find(|(known, _)| *known == lenses) {
            Some((_, ons)) => ons.push(on),
            None => groups.push((lenses, vec![on])),
        }
    }
    let groups: Vec<String> =
        groups.iter().map(|(lenses, ons)| format!("{lenses} on {}", list(ons))).collect();
    groups.join("; ")
}

/// Names with commas; of many only the first.
fn list(names: &[impl AsRef<str>]) -> String {
    let first: Vec<String> =
        names.iter().take(MOST_NAMED).map(|name| calm(name.as_ref())).collect();
    let more = names.len().saturating_sub(first.len());
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", first.join(", "))
}

/// The words in lines of at most `width`, indented; the lines after the first a little more.
pub(super) fn paragraph(words: &str, indent: usize, width: usize, text: &mut String) {
    let mut line = " ".repeat(indent);
    let mut empty = true;
    for word in words.split_whitespace() {
        if !empty && line.width() + 1 + word.width() > width {
            text.push_str(&line);
            text.push('\n');
            line = " ".repeat(indent + 2);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    text.push_str(&line);
    text.push('\n');
}

/// A name cut to `room` columns.
fn cut(name: &str, room: usize) -> String {
    if name.width() <= room {
        return name.to_owned();
    }
    let mut out = String::new();
    for letter in name.chars() {
        if out.width() + letter.width().unwrap_or(0) + 3 > room {
            break;
        }
        out.push(letter);
    }
    format!("{}...", out.trim_end())
}
