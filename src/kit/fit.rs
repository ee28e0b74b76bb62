//! Whether a lens goes on a camera, alone or with an attachment between, as far as the kit can tell.
//!
//! Positive numbers are necessary, not sufficient: a kit knows mounts, flange depths and lengths, not how a lens is
//! built. So silence is never 'fits', and what is not in the kit is said.

use super::{Attachment, Camera, Kind, Kit, Lens};
use crate::number::short;
use crate::units::{Millimeters, Offset};

/// What it comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fitting {
    /// The mounts are known and equal on every side, and nothing speaks against it.
    Fits,
    /// Something speaks against it.
    DoesNotFit,
    /// Nothing speaks against it, but the kit does not say enough.
    Unknown,
}

impl Fitting {
    /// The words used in every output.
    pub fn words(self) -> &'static str {
        match self {
            Self::Fits => "fits",
            Self::DoesNotFit => "does not fit",
            Self::Unknown => "cannot be known",
        }
    }
}

/// What a remark does to the verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// It does not fit.
    Refuses,
    /// It fits and can be used, but somebody should put it right.
    Wrong,
    /// It cannot be known.
    Open,
    /// It fits; take care.
    Caution,
}

impl Weight {
    /// The word used in every output.
    pub fn word(self) -> &'static str {
        match self {
            Self::Refuses => "refuses",
            Self::Wrong => "wrong",
            Self::Open => "open",
            Self::Caution => "caution",
        }
    }
}

/// What a remark is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Matter {
    /// Mount of the lens, against the attachment or the bare camera.
    LensMount,
    /// Mount of the camera, against the attachment.
    BodyMount,
    /// Flange depths and the thickness between them.
    Flange,
    /// The rear of the lens, and what it may strike.
    Glass,
}

/// Something to know before they are put together.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Remark {
    /// What it does to the verdict.
    pub weight: Weight,
    /// What it is about.
    pub matter: Matter,
    /// What is the matter, without a full stop; says 'the lens', not which.
    pub message: String,
    /// What to do about it.
    pub advice: String,
}

/// Verdict and remarks.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// What it comes to.
    pub verdict: Fitting,
    /// In the order of mount, flange, glass.
    pub remarks: Vec<Remark>,
}

impl Fit {
    /// True if only glass stands open: mounts and flanges are in order.
    pub fn mounts_fit(&self) -> bool {
        self.verdict == Fitting::Unknown
            && self
                .remarks
                .iter()
                .all(|remark| remark.weight != Weight::Open || remark.matter == Matter::Glass)
    }
}

/// Thicknesses this near to what they should be count as right: a kit is written to a tenth of a millimetre, read to
/// half of that (common practice, no source).
const THICKNESS_AS_WRITTEN: f64 = 0.05;
/// Flange depths nearer than this leave hardly room for two mounts, so such adapters are rarely made (common practice, no source).
const RARELY_MADE: f64 = 3.0;
/// With less room than this between lens and glass nobody should trust a data sheet (common practice, no source).
const CLOSE: f64 = 1.0;
/// By how much thick glass may shift the sensor plane beyond what thin glass could, in millimetres (common practice, no
/// source; a traced doublet and singlet missed the thin value by 4.3).
const THICK_GLASS: f64 = 6.0;
/// Where nobody can know, hands must.
const CARE: &str = "glass can strike glass: test-fit gently, by hand, before the shoot, as the maker of each advises";

/// Judges lens, attachment and camera; `None` is the bare camera.
pub fn fit(kit: &Kit, camera: &Camera, lens: &Lens, attachment: Option<&Attachment>) -> Fit {
    as_far_as_known(kit, Some(camera), Some(lens), attachment)
}

/// The same where camera or lens may not be known.
pub fn as_far_as_known(
    kit: &Kit,
    camera: Option<&Camera>,
    lens: Option<&Lens>,
    attachment: Option<&Attachment>,
) -> Fit {
    let mut remarks = Vec::new();
    let lens_mount = lens.and_then(|lens| lens.mount.as_deref());
    let body_mount = camera.and_then(|camera| camera.mount.as_deref());
    match attachment {
        None => mounts_bare(kit, lens_mount, body_mount, &mut remarks),
        Some(on) => mounts(lens_mount, body_mount, on, &mut remarks),
    }
    // With the wrong mounts there is nothing to measure, and nothing to strike.
    if remarks.iter().all(|remark| remark.weight != Weight::Refuses) {
        if let Some(on) = attachment {
            let lens_flange = depth(kit, lens_mount.or(on.lens_mount.as_deref()));
            let body_flange = depth(kit, body_mount.or(on.body_mount.as_deref()));
            let flanges = lens_flange.zip(body_flange);
            match on.kind {
                Kind::Adapter => spacing(on, flanges, &mut remarks),
                Kind::Reducer | Kind::Extender => shift(on, flanges, &mut remarks),
            }
        }
        rear(lens, attachment, &mut remarks);
    }
    let any = |weight| remarks.iter().any(|remark: &Remark| remark.weight == weight);
    let verdict = match (any(Weight::Refuses), any(Weight::Open)) {
        (true, _) => Fitting::DoesNotFit,
        (false, true) => Fitting::Unknown,
        (false, false) => Fitting::Fits,
    };
    Fit { verdict, remarks }
}

fn say(
    remarks: &mut Vec<Remark>,
    (weight, matter): (Weight, Matter),
    message: impl Into<String>,
    advice: impl Into<String>,
) {
    remarks.push(Remark { weight, matter, message: message.into(), advice: advice.into() });
}

/// Flange depth of a mount.
fn depth(kit: &Kit, mount: Option<&str>) -> Option<Millimeters> {
    Some(kit.mounts.iter().find(|m| Some(m.id.as_str()) == mount)?.flange.value)
}

/// Where the flange of the camera is as deep as that of the lens or deeper, a tube between them only takes the lens
/// farther from the sensor: what is the matter, and what can be done (geometry).
fn too_deep(lens: Millimeters, body: Millimeters) -> Option<(String, &'static str)> {
    let (lens, body) = (lens.get(), body.get());
    let message = format!(
        "the mount of the lens is {} mm deep and that of the camera {} mm: no plain adapter can let the lens reach infinity on it",
        short(lens, 2),
        short(body, 2)
    );
    let advice = "ask for an adapter with glass of its own, have the lens remounted, or take another lens or camera; a plain adapter serves for near focus only";
    (lens <= body).then_some((message, advice))
}

fn mounts_bare(kit: &Kit, lens: Option<&str>, body: Option<&str>, remarks: &mut Vec<Remark>) {
    match (lens, body) {
        (Some(lens), Some(body)) if lens != body => {
            let flanges = depth(kit, Some(lens)).zip(depth(kit, Some(body)));
            let deep = flanges.and_then(|(lens, body)| too_deep(lens, body));
            let message = format!(
                "the lens has mount {lens}, the camera has {body}, and nothing stands between them"
            );
            // Not to send anybody looking for an adapter that cannot be made.
            let Some((why, advice)) = deep else {
                let advice = "name the adapter or reducer that goes between";
                return say(remarks, (Weight::Refuses, Matter::LensMount), message, advice);
            };
            let message = format!("{message}; {why}");
            say(remarks, (Weight::Refuses, Matter::Flange), message, advice);
        }
        (Some(_), Some(_)) => {}
        (lens, _) => unknown(remarks, if lens.is_none() { "lens" } else { "camera" }, "mount"),
    }
}

fn mounts(lens: Option<&str>, body: Option<&str>, on: &Attachment, remarks: &mut Vec<Remark>) {
    let word = on.kind.word();
    let refuses = |matter| (Weight::Refuses, matter);
    match (lens, on.lens_mount.as_deref()) {
        (Some(lens), Some(takes)) if lens != takes => say(
            remarks,
            refuses(Matter::LensMount),
            format!("the lens has mount {lens}, the {word} takes {takes}"),
            format!("check which lens and which {word} go together"),
        ),
        (Some(_), Some(_)) => {}
        (None, _) => unknown(remarks, "lens", "mount"),
        (_, None) => unknown(remarks, word, "lens-mount"),
    }
    match (body, on.body_mount.as_deref()) {
        (Some(body), Some(goes_on)) if body != goes_on => say(
            remarks,
            refuses(Matter::BodyMount),
            format!("the camera has mount {body}, the {word} goes on {goes_on}"),
            format!("check which camera and which {word} go together"),
        ),
        (Some(_), Some(_)) => {}
        (None, _) => unknown(remarks, "camera", "mount"),
        (_, None) => unknown(remarks, word, "body-mount"),
    }
}

fn unknown(remarks: &mut Vec<Remark>, whose: &str, key: &str) {
    let matter = if whose == "camera" || key == "body-mount" {
        Matter::BodyMount
    } else {
        Matter::LensMount
    };
    let message = match key {
        "lens-mount" => format!("which lenses the {whose} takes is not in the kit"),
        "body-mount" => format!("which cameras the {whose} goes on is not in the kit"),
        _ => format!("the mount of the {whose} is not in the kit"),
    };
    say(remarks, (Weight::Open, matter), message, format!("add {key} = \"...\" to the {whose}"));
}

/// A plain adapter must be as thick as the flange of the lens is deeper than that of the camera.
fn spacing(
    on: &Attachment,
    flanges: Option<(Millimeters, Millimeters)>,
    remarks: &mut Vec<Remark>,
) {
    let Some((lens, body)) = flanges else { return };
    let deep = too_deep(lens, body);
    let (lens, body) = (lens.get(), body.get());
    let between = lens - body;
    if let Some((message, advice)) = deep {
        return say(remarks, (Weight::Refuses, Matter::Flange), message, advice);
    }
    if between < RARELY_MADE {
        let message = format!(
            "only {} mm lie between the two flanges, and adapters so thin are rarely made",
            short(between, 2)
        );
        let advice = "have it in hand on prep day, and see that it locks on both sides";
        say(remarks, (Weight::Caution, Matter::Flange), message, advice);
    }
    let stated = on.shift.as_ref().map(|shift| between - shift.value.get());
    let Some(thickness) = stated.or(on.thickness.as_ref().map(|thickness| thickness.value.get()))
    else {
        let message = "the thickness of the adapter is not in the kit, so nobody knows whether the lens reaches infinity";
        let advice = format!(
            "measure it from flange to flange and add thickness; it should be {} mm",
            short(between, 2)
        );
        return say(remarks, (Weight::Open, Matter::Flange), message, advice);
    };
    let off = thickness - between;
    let (is, should) = (short(thickness, 2), short(between, 2));
    if off > THICKNESS_AS_WRITTEN {
        let message = format!(
            "the adapter is {is} mm thick and should be {should} mm: the lens will not reach infinity"
        );
        let advice = format!(
            "have it made {} mm thinner, or take another; near focus alone still works",
            short(off, 2)
        );
        say(remarks, (Weight::Refuses, Matter::Flange), message, advice);
    } else if off < -THICKNESS_AS_WRITTEN {
        let message = format!(
            "the adapter is {is} mm thick and should be {should} mm: the lens focuses past infinity and its focus scale reads wrong"
        );
        let advice = format!(
            "have it shimmed by {} mm, or focus by the picture and not by the scale",
            short(-off, 2)
        );
        say(remarks, (Weight::Wrong, Matter::Flange), message, advice);
    }
}

/// Glass moves the picture by an amount of its own, which no magnification tells.
fn shift(on: &Attachment, flanges: Option<(Millimeters, Millimeters)>, remarks: &mut Vec<Remark>) {
    let word = on.kind.word();
    let number =
        |length: &Option<crate::sourced::Quantity<Offset>>| length.as_ref().map(|q| q.value.get());
    match (number(&on.shift), number(&on.thickness), flanges) {
        (Some(shift), Some(thickness), Some((lens, body))) => {
            let follows = lens.get() - body.get() - thickness;
            if (follows - shift).abs() > THICKNESS_AS_WRITTEN {
                let message = format!(
                    "the {word} is said to shift the sensor plane by {} mm, but from its thickness it is {} mm",
                    short(shift, 2),
                    short(follows, 2)
                );
                let advice = format!(
                    "measure the {word} from flange to flange, and keep the one that is right"
                );
                say(remarks, (Weight::Wrong, Matter::Flange), message, advice);
            }
        }
        (None, None, _) => {
            let message = format!(
                "the thickness of the {word} is not in the kit, so nobody knows whether it suits the flange depths"
            );
            let advice =
                "measure it from flange to flange and add thickness; look at infinity on prep day";
            say(remarks, (Weight::Open, Matter::Flange), message, advice);
        }
        _ => {}
    }
    let implied = || {
        let (lens, body) = flanges?;
        Some(lens.get() - body.get() - number(&on.thickness)?)
    };
    let (said, of) = match number(&on.shift) {
        Some(shift) => (Some(shift), "is said to shift"),
        None => (implied(), "would from flange depths and thickness shift"),
    };
    let Some((shift, (lens, _))) = said.zip(flanges) else { return };
    // Thin glass of magnification m, a in front of the sensor plane of the lens, shifts it by a (1 - m), with a from 0 to
    // the flange depth of the lens (Gaussian optics); thick glass adds a few millimetres of its own.
    let most = lens.get() * (1.0 - on.magnification.value.get());
    let (low, high) = (most.min(0.0) - THICK_GLASS, most.max(0.0) + THICK_GLASS);
    if !(low..=high).contains(&shift) {
        let message = format!(
            "the {word} {of} the sensor plane by {} mm, which glass of {} cannot: {} to {} mm is to be expected",
            short(shift, 2),
            short(on.magnification.value.get(), 4),
            short(low, 0),
            short(high, 0)
        );
        let advice = if number(&on.shift).is_some() {
            format!(
                "measure the {word} from flange to flange, write that as thickness and leave shift out; positive is toward the lens"
            )
        } else {
            format!(
                "measure the {word} from flange to flange again, and check flange in both mounts and which mounts the {word} has"
            )
        };
        say(remarks, (Weight::Wrong, Matter::Flange), message, advice);
    }
}

/// What the rear of the lens may strike.
fn rear(lens: Option<&Lens>, attachment: Option<&Attachment>, remarks: &mut Vec<Remark>) {
    let Some(lens) = lens else { return };
    let (reach, room) = (lens.rear_protrusion, attachment.and_then(|on| on.front_clearance));
    let word = attachment.map_or("camera", |on| on.kind.word());
    if let Some((reach, room)) = reach.zip(room) {
        let (is, has) = (short(reach, 2), short(room, 2));
        if reach >= room {
            let message = format!(
                "the lens reaches {is} mm behind its flange, the {word} has room for {has} mm"
            );
            let advice = format!("do not mount this pair; {CARE}");
            return say(remarks, (Weight::Refuses, Matter::Glass), message, advice);
        }
        if room - reach < CLOSE {
            let message = format!(
                "only {} mm lie between the rear of the lens and the {word}'s glass",
                short(room - reach, 2)
            );
            say(remarks, (Weight::Caution, Matter::Glass), message, CARE);
        }
    }
    let glass = attachment.is_some_and(|on| on.kind != Kind::Adapter);
    // Against glass silence is never 'fits'.
    let weight = if glass { Weight::Open } else { Weight::Caution };
    let message = match (glass, reach, room) {
        (true, None, None) => "neither how far the rear of the lens reaches nor the room in front of the glass is in the kit".to_owned(),
        (true, None, Some(_)) => "how far the rear of the lens reaches is not in the kit".to_owned(),
        (true, Some(_), None) => "the room in front of the glass is not in the kit".to_owned(),
        // Nothing is known of the throat behind a plain adapter, or of that of the camera; a flat rear is safe in both.
        (false, reach, _) if reach != Some(0.0) => "the room inside the camera's mount is in no kit".to_owned(),
        _ => return,
    };
    say(remarks, (weight, Matter::Glass), message, CARE);
}
