//! A sidecar that is there and what is to be said, as one: all that lensmend did not write stays.
//!
//! What it wrote is known by the digests in `lensmend:written`, which travel with the file. A property that stands as it was
//! written is brought up to date; one that somebody changed or took out since, and one of another program, stay and are
//! named. The own namespace is lensmend's in any case, unless a digest says that somebody changed it.

use std::collections::{BTreeMap, BTreeSet};

use super::encoding::decode;
use super::property::{Property, Value, written_of, written_text};
use super::read::{Packet, Standing, read};
use super::{BEGUN_FROM, DATE, Sidecar, WRITTEN, edit, render};
use crate::output::Stamp;

/// Bytes of the longest sidecar that is merged; packets of moving pictures are some kilobytes.
pub const LARGEST: u64 = 8 << 20;

/// Part of itself by which a number of another program may be off and still be the same: programs keep three or four digits.
const ROUNDING: f64 = 5e-4;

/// Members of what a mirrored sidecar knows of the one that it began as: its SHA-256, and that of all in it that is not lensmend's.
const SIDECAR: &str = "lensmend:sidecar";
const REST: &str = "lensmend:rest";

/// A sidecar that is there.
#[derive(Clone, Copy, Debug)]
pub struct Base<'a> {
    /// Its bytes.
    pub bytes: &'a [u8],
    /// Their SHA-256, if they stand elsewhere and a new sidecar begins as a copy of them.
    pub begun_from: Option<&'a str>,
    /// Properties that somebody else changed or wrote are replaced, too.
    pub replace: bool,
}

/// What comes of a merge.
#[derive(Clone, Debug, PartialEq)]
pub struct Merged {
    /// The bytes that should stand; `None` if those that do are as they should be.
    pub bytes: Option<Vec<u8>>,
    /// Properties that lensmend wrote and somebody changed or took out since; they were kept as they are.
    pub edited: Vec<String>,
    /// Properties of others that say something else than lensmend would; they were kept.
    pub differing: Vec<String>,
    /// True if nobody but lensmend wrote into the base.
    pub only_ours: bool,
}

impl Sidecar<'_> {
    /// Puts the sidecar into one that is there. The error says why that cannot be done.
    pub fn merge(&self, base: &Base<'_>, stamp: &Stamp) -> Result<Merged, String> {
        let properties = self.properties(stamp).map_err(|error| error.to_string())?;
        merge(properties, base, &stamp.date)
    }
}

/// What a mirrored sidecar knows of the one that it began as.
#[derive(Clone, Debug, PartialEq)]
pub struct Begun {
    /// SHA-256 of that.
    pub from: String,
    /// True if nobody has added, changed or taken out anything since.
    pub untouched: bool,
}

/// What a sidecar knows of the one that it began as; `None` if it began on its own or cannot be read.
pub fn begun(bytes: &[u8]) -> Option<Begun> {
    let (text, _) = decode(bytes).ok()?;
    let packet = read(&text).ok()?;
    let simple = |name: &str| match &packet.value(name)? {
        Value::Text(text) => Some(text.clone()),
        _ => None,
    };
    let Value::Struct(members) = packet.value(BEGUN_FROM)? else { return None };
    let member = |name: &str| members.iter().find(|member| member.name == name);
    let from = match &member(SIDECAR)?.value {
        Value::Text(hash) => hash.clone(),
        _ => return None,
    };
    let written = simple(WRITTEN).map(|text| written_of(&text)).unwrap_or_default();
    let as_written = written.iter().all(|(name, digest)| {
        let mut all = packet.standing.iter().filter(|there| there.property.name == *name);
        all.next().is_some_and(|there| there.property.digest() == *digest) && all.next().is_none()
    });
    let own = written.into_keys().chain([DATE, WRITTEN].map(str::to_owned)).collect();
    let rest = edit::digest(&edit::without(&text, &packet, &own).0);
    let untouched = as_written && member(REST).is_some_and(|is| is.value == Value::Text(rest));
    Some(Begun { from, untouched })
}

pub(super) fn merge(
    mut properties: Vec<Property>,
    base: &Base<'_>,
    date: &str,
) -> Result<Merged, String> {
    let (text, spelling) = decode(base.bytes)?;
    let packet = read(&text)?;
    if base.begun_from.is_none()
        && let Some(value) = packet.value(BEGUN_FROM)
    {
        properties.push(Property { name: BEGUN_FROM.to_owned(), value: value.clone() });
    }
    let mut plan = Plan::of(properties, &packet, base.replace);
    plan.gone.extend([DATE, WRITTEN].map(str::to_owned));
    if base.begun_from.is_some() {
        plan.gone.insert(BEGUN_FROM.to_owned());
    }
    let (stripped, place) = edit::without(&text, &packet, &plan.gone);
    if let Some(hash) = base.begun_from {
        let members =
            vec![Property::text(SIDECAR, hash), Property::text(REST, &edit::digest(&stripped))];
        let begun = Property { name: BEGUN_FROM.to_owned(), value: Value::Struct(members) };
        let digest = begun.digest();
        plan.changed = true;
        plan.say(begun, digest);
    }
    let only_ours = spelling.is_plain() && edit::is_skeleton(&stripped);
    let Plan { mut block, listed, gone, edited, differing, changed } = plan;
    if !changed {
        return Ok(Merged { bytes: None, edited, differing, only_ours });
    }
    block.insert(0, Property::text(DATE, date));
    block.push(Property::text(WRITTEN, &written_text(&listed)));
    let failed = |error: std::io::Error| error.to_string();
    let bytes = if only_ours {
        render::document(&block).map_err(failed)?
    } else {
        let rendered = render::block(&block, &packet.about, !packet.rdf_prefix).map_err(failed)?;
        let whole = edit::with(&stripped, &place, &rendered);
        let kept = |standing: &[Standing], leave: &dyn Fn(&str) -> bool| -> Vec<(String, String)> {
            let left = standing.iter().map(|there| &there.property).filter(|p| !leave(&p.name));
            left.map(|property| (property.name.clone(), property.digest())).collect()
        };
        let before = kept(&packet.standing, &|name| gone.contains(name));
        let after = read(&whole).map(|whole| {
            kept(&whole.standing, &|name| block.iter().any(|property| property.name == name))
        });
        if after != Ok(before) {
            return Err("of a shape that cannot be added to without loss".into());
        }
        spelling.encode(&whole).ok_or("in an encoding that is only read")?
    };
    Ok(Merged { bytes: Some(bytes), edited, differing, only_ours })
}

/// What becomes of each property.
struct Plan {
    /// Those to be written, or to be moved along because they are lensmend's.
    block: Vec<Property>,
    /// Names and digests that the file carries from now on.
    listed: Vec<(String, String)>,
    /// Names that are taken out where they stand.
    gone: BTreeSet<String>,
    edited: Vec<String>,
    differing: Vec<String>,
    changed: bool,
}

impl Plan {
    fn of(properties: Vec<Property>, packet: &Packet, replace: bool) -> Self {
        let mut standing: BTreeMap<&str, Vec<&Property>> = BTreeMap::new();
        for there in &packet.standing {
            standing.entry(&there.property.name).or_default().push(&there.property);
        }
        let written = standing.get(WRITTEN).and_then(|all| match all.as_slice() {
            [Property { value: Value::Text(text), .. }] => Some(written_of(text)),
            _ => None,
        });
        // Without the digests of before a later edit could not be told from what lensmend wrote.
        let changed = written.is_none();
        let written = written.unwrap_or_default();
        let mut plan = Self {
            block: Vec::new(),
            listed: Vec::new(),
            gone: BTreeSet::new(),
            edited: Vec::new(),
            differing: Vec::new(),
            changed,
        };
        // Several properties of one name are no XMP, and nobody knows which one counts.
        let now = |name: &str| {
            let all = standing.get(name)?;
            Some(match all.as_slice() {
                [one] => one.digest(),
                _ => String::new(),
            })
        };
        let said: BTreeSet<String> = properties.iter().map(|said| said.name.clone()).collect();
        for property in properties {
            let mut now = now(&property.name);
            let was = written.get(&property.name);
            if was.is_none()
                && let Some([there]) = standing.get(property.name.as_str()).map(Vec::as_slice)
                && one_number(&there.value, &property.value)
            {
                // Another program may spell a number in its own way.
                now = Some(property.digest());
            }
            plan.settle(property, now.as_deref(), was, replace);
        }
        for (name, was) in written.iter().filter(|(name, _)| !said.contains(*name)) {
            match now(name) {
                None => {}
                Some(now) if now == *was || replace => {
                    plan.changed = true;
                    plan.gone.insert(name.clone());
                }
                Some(_) => plan.keep(name, was),
            }
        }
        plan
    }

    /// `now` is the digest of what stands, `was` that of what lensmend wrote last.
    fn settle(
        &mut self,
        property: Property,
        now: Option<&str>,
        was: Option<&String>,
        replace: bool,
    ) {
        let digest = property.digest();
        let unclaimed = was.is_none() && property.name.starts_with("lensmend:");
        let mine = unclaimed || was.is_some_and(|was| Some(was.as_str()) == now);
        match (now, was) {
            (None, Some(was)) if !replace => self.keep(&property.name, was),
            (Some(now), _) if now == digest => {
                if mine {
                    self.say(property, digest);
                } else if let Some(was) = was {
                    self.listed.push((property.name, was.clone()));
                }
            }
            (Some(_), Some(was)) if !mine && !replace => self.keep(&property.name, was),
            (Some(_), None) if !mine && !replace => self.differing.push(property.name),
            _ => {
                self.changed = true;
                self.say(property, digest);
            }
        }
    }

    fn say(&mut self, property: Property, digest: String) {
        self.gone.insert(property.name.clone());
        self.listed.push((property.name.clone(), digest));
        self.block.push(property);
    }

    fn keep(&mut self, name: &str, was: &str) {
        self.edited.push(name.to_owned());
        self.listed.push((name.to_owned(), was.to_owned()));
    }
}

/// True for two spellings of one number, such as `355/10` and `71/2`, each rounded in its own way.
fn one_number(a: &Value, b: &Value) -> bool {
    let number = |value: &Value| {
        let Value::Text(text) = value else { return None };
        let (over, under) = text.split_once('/').unwrap_or((text, "1"));
        let (over, under): (f64, f64) = (over.trim().parse().ok()?, under.trim().parse().ok()?);
        Some(over / under).filter(|number| number.is_finite())
    };
    let (Some(a), Some(b)) = (number(a), number(b)) else { return false };
    (a - b).abs() <= ROUNDING * b.abs()
}
