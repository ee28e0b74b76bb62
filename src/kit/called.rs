//! What notes, media and people call a thing, and the one entry of the kit that is meant.

use super::{Attachment, Lens};
use crate::naming::key;
use crate::units::Millimeters;

/// The one lens called so: by id, name, alias or serial, or by focal length if only one prime has it.
pub fn lens_called<'a>(lenses: &'a [Lens], typed: &str) -> Result<&'a Lens, bool> {
    let names = |lens: &'a Lens| {
        [&lens.id, &lens.name].into_iter().chain(&lens.aliases).chain(&lens.serial)
    };
    only(lenses, typed, names).or_else(|several| {
        let bare = typed.trim().to_lowercase();
        let number = bare.strip_suffix("mm").unwrap_or(&bare).trim().replace(',', ".");
        if let Some(zoom) = zoom_called(lenses, &number) {
            return zoom;
        }
        // `S/N 1042`, `#1042`, `Sorrel 50mm`: the name with what people add to it.
        let plain = ["serial no", "serial", "s/n", "sn", "no.", "#"]
            .iter()
            .find_map(|sign| bare.strip_prefix(sign))
            .map(|rest| rest.trim_start_matches([':', '.', '#', ' ']))
            .or_else(|| bare.strip_suffix("mm").map(str::trim_end));
        let plain = plain.filter(|plain| plain.parse::<f64>().is_err() || bare.ends_with(*plain));
        if let Some(Ok(lens)) = plain.filter(|p| !p.is_empty()).map(|p| only(lenses, p, names)) {
            return Ok(lens);
        }
        let focal: f64 = number.parse().map_err(|_| several)?;
        let mut primes = lenses
            .iter()
            .filter(|lens| lens.marked_focal.is_some_and(|mark| (mark.get() - focal).abs() < 1e-9));
        match (primes.next(), primes.next()) {
            (Some(lens), None) => Ok(lens),
            (first, _) => Err(several || first.is_some()),
        }
    })
}

/// The zoom that is called by its ends, `24-70`; `None` where the text is no such thing.
fn zoom_called<'a>(lenses: &'a [Lens], text: &str) -> Option<Result<&'a Lens, bool>> {
    let (low, high) = text.split_once(['-', '\u{2013}'])?;
    let end = |text: &str| text.trim().trim_end_matches("mm").trim_end().parse::<f64>().ok();
    let (low, high) = (end(low)?, end(high)?);
    let near = |mark: Millimeters, number: f64| (mark.get() - number).abs() < 1e-9;
    let mut zooms = lenses
        .iter()
        .filter(|lens| lens.range.is_some_and(|(from, to)| near(from, low) && near(to, high)));
    Some(match (zooms.next(), zooms.next()) {
        (Some(lens), None) => Ok(lens),
        (first, _) => Err(first.is_some()),
    })
}

/// The one prime of that focal length, if no zoom reaches it.
pub fn only_lens_of(lenses: &[Lens], focal: Millimeters) -> Option<&Lens> {
    let mut primes = lenses.iter().filter(|lens| lens.marked_focal == Some(focal));
    let reaches = |(low, high)| (low..=high).contains(&focal);
    let zoom = lenses.iter().any(|lens| lens.range.is_some_and(reaches));
    match (primes.next(), primes.next(), zoom) {
        (Some(lens), None, false) => Some(lens),
        _ => None,
    }
}

/// The one zoom that goes from one focal length to another.
pub fn only_zoom_over(lenses: &[Lens], from: Millimeters, to: Millimeters) -> Option<&Lens> {
    let reaches = |(low, high)| (low..=high).contains(&from) && (low..=high).contains(&to);
    let mut zooms = lenses.iter().filter(|lens| lens.range.is_some_and(reaches));
    match (zooms.next(), zooms.next()) {
        (Some(lens), None) => Some(lens),
        _ => None,
    }
}

/// The one attachment called so: by id, name, alias or serial, by its marked magnification, or by its kind if only one is such.
pub fn attachment_called<'a>(
    attachments: &'a [Attachment],
    typed: &str,
) -> Result<&'a Attachment, bool> {
    let names = |a: &'a Attachment| [&a.id, &a.name].into_iter().chain(&a.aliases).chain(&a.serial);
    let by = |fits: &dyn Fn(&Attachment) -> bool, several: bool| {
        let mut found = attachments.iter().filter(|a| fits(a));
        match (found.next(), found.next()) {
            (Some(attachment), None) => Ok(attachment),
            (first, _) => Err(several || first.is_some()),
        }
    };
    only(attachments, typed, names)
        .or_else(|several| {
            let number = typed
                .trim()
                .trim_matches(|c| c == 'x' || c == 'X' || c == '\u{d7}' || c == ' ')
                .replace(',', ".");
            let m: f64 = number.parse().map_err(|_| several)?;
            by(&|a| a.marked.is_some_and(|mark| (mark.get() - m).abs() < 1e-9), several)
        })
        .or_else(|several| by(&|a| a.kind.word().eq_ignore_ascii_case(typed.trim()), several))
}

/// The one entry with a name that is spelt like `typed`; the error tells whether there were several.
pub fn only<'a, T, I: IntoIterator<Item = &'a String>>(
    entries: &'a [T],
    typed: &str,
    names: impl Fn(&'a T) -> I,
) -> Result<&'a T, bool> {
    let typed = key(typed);
    let mut found =
        entries.iter().filter(|entry| names(entry).into_iter().any(|name| key(name) == typed));
    match (found.next(), found.next()) {
        (Some(entry), None) => Ok(entry),
        (first, _) => Err(first.is_some()),
    }
}
