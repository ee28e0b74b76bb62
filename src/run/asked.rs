//! What the command line says of clocks, trust and the attachment that was on, checked against kit and dump.

use anyhow::{Result, anyhow, bail};

use crate::cli::{Annotate, Reading, Trusted};
use crate::dump::Dump;
use crate::finding::nearest;
use crate::kit::called::attachment_called;
use crate::kit::{Attachment, Kind, Kit};
use crate::reconcile::{Asked, Clocks, Trust};
use crate::units::Factor;

/// What was typed.
pub(super) struct Told<'a> {
    pub(super) trust: Option<Trusted>,
    pub(super) clock: &'a [String],
    pub(super) reducer: Option<&'a str>,
    pub(super) extender: Option<&'a str>,
}

impl<'a> From<&'a Annotate> for Told<'a> {
    fn from(request: &'a Annotate) -> Self {
        Self {
            trust: request.trust,
            clock: &request.clock,
            reducer: request.reducer.as_deref(),
            extender: request.extender.as_deref(),
        }
    }
}

impl<'a> From<&'a Reading> for Told<'a> {
    fn from(reading: &'a Reading) -> Self {
        Self {
            trust: reading.trust,
            clock: &reading.clock,
            reducer: reading.reducer.as_deref(),
            extender: reading.extender.as_deref(),
        }
    }
}

/// Reads it; the error says what is wrong and what to write.
pub(super) fn asked(request: &Told<'_>, kit: &Kit, dump: &Dump) -> Result<Asked> {
    let trust = match request.trust {
        Some(Trusted::Notes) => Trust::Notes,
        Some(Trusted::Media) => Trust::Media,
        None => Trust::Nobody,
    };
    let clocks = Clocks::read(request.clock, kit, dump).map_err(|why| anyhow!(why))?;
    let attachment = match (request.reducer, request.extender) {
        (Some(text), _) => Some((attachment(text, Kind::Reducer, kit)?, "reducer")),
        (_, Some(text)) => Some((attachment(text, Kind::Extender, kit)?, "extender")),
        _ => None,
    };
    Ok(Asked { trust, clocks, attachment })
}

/// An attachment of the kit, or one of which nothing is known but its magnification.
fn attachment(text: &str, kind: Kind, kit: &Kit) -> Result<Attachment> {
    let (option, range) = match kind {
        Kind::Extender => ("extender", 1.001..=4.0),
        Kind::Reducer | Kind::Adapter => ("reducer", 0.2..=0.999),
    };
    let number = text.trim().trim_matches(['x', 'X', '\u{d7}', ' ']).replace(',', ".");
    let called = if number.parse::<f64>().is_ok() { number.as_str() } else { text };
    if let Ok(found) = attachment_called(&kit.attachments, called) {
        if found.kind != kind {
            let is = match found.kind {
                Kind::Reducer => "a reducer",
                Kind::Adapter => "a plain adapter",
                Kind::Extender => "an extender",
            };
            bail!("--{option} {text}: {} is no {option}, it is {is}", found.name);
        }
        return Ok(found.clone());
    }
    let Ok(value) = number.parse::<f64>() else {
        let names = kit.attachments.iter().flat_map(|a| [a.id.as_str(), a.name.as_str()]);
        let hint = nearest(text, names).map_or_else(
            || {
                let example = if kind == Kind::Extender { "1.4" } else { "0.71" };
                format!("write its magnification, like --{option} {example}")
            },
            |near| format!("did you mean \"{near}\"?"),
        );
        bail!("--{option} {text}: the kit has no such {option}; {hint}");
    };
    if !range.contains(&value) {
        bail!(
            "--{option} {text}: the magnification of a {option} lies between {} and {}",
            range.start(),
            range.end()
        );
    }
    let m = Factor::new(value).ok_or_else(|| anyhow!("--{option} {text}: is no magnification"))?;
    Ok(Attachment::of_magnification(kind, m, kit.defaults.magnification, option))
}
