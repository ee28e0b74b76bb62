//! How the camera was set and stood, and who was there: what a camera report has beside the lens.
//!
//! The media goes before the notes; what was noted stands only where the media says nothing. Where both speak and
//! differ, that is a finding as for any field, and `--trust` decides.

mod shutter;

use crate::annotation::{Details, Settled, Shot, Verdict};
use crate::finding::Place;
use crate::kit::Production;
use crate::naming::key;
use crate::notes::{IsoKind, Noted};
use crate::number::short;
use crate::recorded::{AUTOMATIC, CameraSettings, MANUAL, Reading};
use crate::sourced::{Basis, Quantity, Sourced};
use crate::units::{ExposureIndex, Unit};

use super::pick::{Pick, text};
use super::settle::Bench;

/// What a contradiction is answered with.
const HINT: &str = "check the note; with --trust notes or --trust media one of them is taken";
/// Sensitivities noted and recorded that differ by no more than this part are one: some are shown rounded.
const ISO: f64 = 0.01;
/// Colour temperatures, likewise: dials show them in steps of fifty or a hundred.
const KELVIN: f64 = 0.01;

/// The head of a camera report, from the kit.
pub(super) fn details(production: &Production) -> Details {
    let plain = |text: &Option<Sourced<String>>| text.as_ref().map(|text| text.value.clone());
    Details {
        company: plain(&production.company),
        director: plain(&production.director),
        cinematographer: plain(&production.cinematographer),
        operator: plain(&production.operator),
        assistants: plain(&production.assistants),
        unit: plain(&production.unit),
        day: plain(&production.day),
        date: production.date.as_ref().map(|date| date.value),
    }
}

/// A number and the cell where it was noted.
struct Told<'n, U> {
    value: U,
    origin: &'n crate::sourced::Origin,
    place: &'n Place,
}

impl<'n, U> Told<'n, U> {
    fn new<T>(noted: &'n Noted<T>, value: U) -> Self {
        Self { value, origin: &noted.origin, place: &noted.place }
    }
}

impl Bench<'_, '_> {
    /// What is known of one piece beside the lens; `None` where nothing is.
    pub(super) fn shot(&mut self) -> Option<Box<Shot>> {
        let nothing = CameraSettings::default();
        let scene = self.scene;
        let settings = scene.media.settings.as_deref().unwrap_or(&nothing);
        let said = self.said;
        let (iso, exposure_index) = self.sensitivity(settings);
        let (shutter_angle, exposure_time) = self.shutter(settings);
        let (white_balance, white_balance_mode) = self.white_balance(settings);
        let shot = Shot {
            iso,
            exposure_index,
            shutter_angle,
            exposure_time,
            white_balance,
            white_balance_mode,
            height: said.shot.height.said().map(as_noted),
            tilt: said.shot.tilt.said().map(as_noted),
            operator: self.operator(),
            assistants: self.assistants(),
            unit: of_kit(&said.shot.unit, [scene.kit.production.unit.as_ref()]),
            day: self.day(),
        };
        (shot != Shot::default()).then(|| Box::new(shot))
    }

    /// The kit counts the day of its date: a clip of another date is of a day that it does not count.
    fn day(&self) -> Option<Sourced<String>> {
        let production = &self.scene.kit.production;
        let shot = self.scene.media.created.as_ref().map(|created| created.value.date());
        let date = production.date.as_ref().map(|date| date.value);
        let other = shot.zip(date).is_some_and(|(shot, date)| shot != date);
        of_kit(&self.said.shot.day, [production.day.as_ref().filter(|_| !other)])
    }

    fn operator(&self) -> Option<Sourced<String>> {
        let of_camera = self.rig.camera.as_ref().and_then(|camera| camera.value.operator.as_ref());
        let kit = [of_camera, self.scene.kit.production.operator.as_ref()];
        of_kit(&self.said.shot.operator, kit)
    }

    fn assistants(&self) -> Option<Sourced<String>> {
        let shot = &self.said.shot;
        match (&shot.assistant, &shot.second_assistant) {
            (Pick::Said(first), Pick::Said(second)) => {
                let mut both = text(first);
                both.value = format!("{}, {}", both.value, second.value);
                Some(both)
            }
            (Pick::Unsaid, Pick::Unsaid) => {
                let camera = self.rig.camera.as_ref();
                let of_camera = camera.and_then(|camera| camera.value.assistants.as_ref());
                of_camera.or(self.scene.kit.production.assistants.as_ref()).cloned()
            }
            (first, second) => first.said().or(second.said()).map(text),
        }
    }

    /// ISO speed and exposure index. A number noted is held against the one of the two that it names, or the only one
    /// that the media has; crews write either word for either.
    fn sensitivity(
        &mut self,
        settings: &CameraSettings,
    ) -> (Settled<Quantity<ExposureIndex>>, Settled<Quantity<ExposureIndex>>) {
        let (iso, index) = (settings.iso.as_ref(), settings.exposure_index.as_ref());
        let pick = &self.said.shot.iso;
        let told = pick.said().map(|noted| Told::new(noted, noted.value.value));
        let kind = pick.said().map_or(IsoKind::Unsaid, |noted| noted.value.kind);
        let near = |reading: &Reading<ExposureIndex>| {
            told.as_ref().is_some_and(|told| is_near(reading, told.value.get(), ISO))
        };
        let means_iso = match (kind, iso, index) {
            (IsoKind::Index, _, Some(_)) | (_, None, Some(_)) => false,
            (IsoKind::Iso, ..) | (_, Some(_), None) => true,
            (IsoKind::Unsaid, Some(iso), Some(index)) => near(iso) && !near(index),
            (_, None, None) => false,
        };
        let disputed = pick.disputed();
        let (for_iso, for_index) = if means_iso { (told, None) } else { (None, told) };
        let iso = self.number(("ISO", ""), iso, for_iso, disputed && means_iso, ISO);
        let index =
            self.number(("exposure index", ""), index, for_index, disputed && !means_iso, ISO);
        (iso, index)
    }

    /// The colour temperature, and the words beside it or in its place.
    fn white_balance(
        &mut self,
        settings: &CameraSettings,
    ) -> (Settled<Quantity<crate::units::Kelvin>>, Settled<Sourced<String>>) {
        let pick = &self.said.shot.white_balance;
        let noted = pick.said();
        let told = noted.and_then(|noted| Some(Told::new(noted, noted.value.temperature?)));
        let recorded = settings.white_balance.as_ref();
        let disputed = pick.disputed();
        let temperature = self.number(("white balance", " K"), recorded, told, disputed, KELVIN);
        let words = noted.and_then(|noted| {
            Some(Sourced::new(mode(noted.value.words.as_ref()?), noted.origin.clone()))
        });
        // A camera says how it found the balance, a person what it was for: only "automatic" and "set" exclude each other.
        let set = |words: &Sourced<String>| key(&words.value) != key(AUTOMATIC);
        let agree = |a: &Sourced<String>, b: &Sourced<String>| set(a) == set(b);
        let differ = |a: &Sourced<String>, b: &Sourced<String>| {
            format!("white balance: recorded \"{}\", noted \"{}\"", a.value, b.value)
        };
        let place = noted.map(|noted| &noted.place);
        let recorded = settings.white_balance_mode.clone();
        let unclear = disputed && recorded.is_none() && settings.white_balance.is_none();
        let words = self.agree((recorded, words, unclear), agree, differ, (place, HINT));
        (temperature, words)
    }

    /// One number of the media and one of the notes.
    fn number<U: Unit>(
        &mut self,
        (what, unit): (&str, &str),
        reading: Option<&Reading<U>>,
        told: Option<Told<'_, U>>,
        disputed: bool,
        tolerance: f64,
    ) -> Settled<Quantity<U>> {
        let recorded = reading.map(as_recorded);
        let place = told.as_ref().map(|told| told.place.clone());
        let noted = told.map(|told| stated(told.value, told.origin.clone()));
        let agree = |_: &Quantity<U>, noted: &Quantity<U>| {
            reading.is_some_and(|reading| is_near(reading, noted.value.number(), tolerance))
        };
        let differ = |a: &Quantity<U>, b: &Quantity<U>| {
            let (a, b) = (short(a.value.number(), 2), short(b.value.number(), 2));
            format!("{what}: recorded {a}{unit}, noted {b}{unit}")
        };
        // Rows that differ among themselves have said so, and take nothing from what the media says.
        let unclear = disputed && recorded.is_none();
        self.agree((recorded, noted, unclear), agree, differ, (place.as_ref(), HINT))
    }
}

/// What was noted; else the first of the kit's that is there, unless rows of the notes disagree.
fn of_kit<const N: usize>(
    pick: &Pick<'_, String>,
    kit: [Option<&Sourced<String>>; N],
) -> Option<Sourced<String>> {
    match pick {
        Pick::Said(noted) => Some(text(noted)),
        Pick::Disputed => None,
        Pick::Unsaid => kit.into_iter().flatten().next().cloned(),
    }
}

/// A white balance in words, as the media would write it.
fn mode(words: &str) -> String {
    match key(words).as_str() {
        "auto" | "awb" | "automatic" => AUTOMATIC.to_owned(),
        "manual" => MANUAL.to_owned(),
        _ => words.to_owned(),
    }
}

fn is_near<U: Unit>(reading: &Reading<U>, noted: f64, tolerance: f64) -> bool {
    (reading.value.number() - noted).abs() <= reading.half_step + tolerance * noted.abs()
}

/// A setting is what it is called: how far the camera is off it nobody knows.
fn as_recorded<U: Unit>(reading: &Reading<U>) -> Quantity<U> {
    let (value, origin) = (reading.value, reading.origin.clone());
    Quantity { value, uncertainty: None, basis: Basis::Recorded, origin }
}

fn as_noted<U: Unit>(noted: &Noted<U>) -> Quantity<U> {
    stated(noted.value, noted.origin.clone())
}

fn stated<U: Unit>(value: U, origin: crate::sourced::Origin) -> Quantity<U> {
    Quantity { value, uncertainty: None, basis: Basis::Nominal, origin }
}

/// A field in which nothing but one side spoke.
fn alone<U>(value: Option<Quantity<U>>, verdict: Verdict, reason: &str) -> Settled<Quantity<U>>
where
    U: Unit,
{
    let Some(value) = value else { return Settled::unsaid() };
    let recorded = (verdict == Verdict::Kept).then(|| value.clone());
    Settled { verdict: Some(verdict), value: Some(value), recorded, reason: reason.to_owned() }
}
