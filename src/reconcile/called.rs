//! What notes, defaults and media call a thing, and the one entry of the kit that is meant.

use crate::finding::{Code, Finding, nearest};
use crate::kit::{Attachment, Lens};
use crate::notes::Noted;

use super::Scene;
use super::join::key;

/// The one lens called so: by id, name, alias or serial, or by focal length if only one prime has it.
pub(crate) fn lens_called<'a>(lenses: &'a [Lens], typed: &str) -> Result<&'a Lens, bool> {
    let names = |lens: &'a Lens| {
        [&lens.id, &lens.name].into_iter().chain(&lens.aliases).chain(&lens.serial)
    };
    only(lenses, typed, names).or_else(|several| {
        let bare = typed.trim().to_lowercase();
        let number = bare.strip_suffix("mm").unwrap_or(&bare).trim();
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

/// The one attachment called so: by id, name, alias or serial, by its marked magnification, or by its kind if only one is such.
pub(crate) fn attachment_called<'a>(
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
pub(super) fn only<'a, T, I: IntoIterator<Item = &'a String>>(
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

/// The finding for a name that the kit does not have, or has several times.
pub(super) fn stranger<'k>(
    scene: &Scene<'_>,
    code: Code,
    what: &str,
    noted: &Noted<String>,
    several: bool,
    known: impl Iterator<Item = &'k str>,
) -> Finding {
    let typed = &noted.typed;
    let finding = if several {
        scene
            .finding(code, format!("\"{typed}\" fits more than one {what} of the kit"))
            .hint("write its id")
    } else {
        let known: Vec<&str> = known.collect();
        let hint = nearest(typed, known.iter().copied()).map_or_else(
            || format!("write a name from the kit, or add the {what} to the kit"),
            |near| format!("did you mean \"{near}\"?"),
        );
        scene.finding(code, format!("the kit has no {what} \"{typed}\"")).hint(hint)
    };
    finding.at(noted.place.clone())
}
