//! What has to hold between the entries of a kit: ids are unique, and names lead somewhere.

use std::collections::BTreeSet;

use super::Kit;
use super::attachment::Kind;
use super::form::Form;
use super::keys::HEADINGS;
use super::read::{Reader, Section};
use crate::finding::nearest;
use crate::number::short;

/// Checks every reference of the kit.
pub(super) fn references(kit: &Kit, root: &Section<'_>, reader: &mut Reader<'_>) {
    for key in ["mount", "camera", "plate", "lens", "attachment"] {
        unique(root, key, "id", reader);
    }
    unique(root, "roll", "name", reader);
    for section in root.tables("attachment", &mut Reader::aside()) {
        let id = section.text("id", &mut Reader::aside());
        if id.is_some_and(|id| id.eq_ignore_ascii_case("none")) {
            let message = "an attachment cannot be called \"none\"";
            reader.fault(
                section.place("id"),
                message,
                "in notes and kit that word means a bare camera",
            );
        }
    }
    for heading in HEADINGS.iter().filter(|heading| heading.many && !heading.path.contains('.')) {
        for section in root.tables(heading.path, &mut Reader::aside()) {
            for key in heading.keys {
                let what = key.name.rsplit('-').next().unwrap_or(key.name);
                match key.form {
                    Form::Id(target) => {
                        leads(&section, key.name, what, &known(kit, target), reader);
                    }
                    Form::IdOrNone(target) => {
                        let mut known = known(kit, target);
                        known.push("none");
                        leads(&section, key.name, what, &known, reader);
                    }
                    _ => {}
                }
            }
        }
    }
    for lens in root.tables("lens", &mut Reader::aside()) {
        for section in lens.tables("distortion", &mut Reader::aside()) {
            let mut known = known(kit, "attachment");
            known.push("none");
            leads(&section, "behind", "attachment", &known, reader);
        }
    }
    for section in root.tables("attachment", &mut Reader::aside()) {
        deep_enough(kit, &section, reader);
    }
}

/// Ids of the entries under a heading; modes are those of all cameras.
fn known<'a>(kit: &'a Kit, target: &str) -> Vec<&'a str> {
    match target {
        "mount" => kit.mounts.iter().map(|mount| mount.id.as_str()).collect(),
        "camera" => kit.cameras.iter().map(|camera| camera.id.as_str()).collect(),
        "mode" => kit
            .cameras
            .iter()
            .flat_map(|camera| &camera.modes)
            .map(|mode| mode.id.as_str())
            .collect(),
        "lens" => kit.lenses.iter().map(|lens| lens.id.as_str()).collect(),
        "attachment" => kit.attachments.iter().map(|attachment| attachment.id.as_str()).collect(),
        _ => Vec::new(),
    }
}

/// Faults a plain adapter that would have to be thinner than nothing. Glass can move the picture back, so
/// reducers and extenders may have any two mounts.
fn deep_enough(kit: &Kit, section: &Section<'_>, reader: &mut Reader<'_>) {
    let aside = &mut Reader::aside();
    if section.word("kind", aside) != Some(Kind::Adapter.word()) {
        return;
    }
    let flange = |key, aside: &mut Reader<'_>| {
        let id = section.text(key, aside)?;
        let mount = kit.mounts.iter().find(|mount| mount.id == id)?;
        Some((id, mount.flange.value.get()))
    };
    let (lens, body) = (flange("lens-mount", aside), flange("body-mount", aside));
    let (Some((lens, lens_depth)), Some((body, body_depth))) = (lens, body) else { return };
    if body_depth < lens_depth {
        return;
    }
    let (lens_depth, body_depth) = (short(lens_depth, 3), short(body_depth, 3));
    reader.fault(
        section.place("body-mount"),
        format!(
            "no plain adapter takes {lens} lenses ({lens_depth} mm) to {body} ({body_depth} mm): the body's mount must be the less deep one"
        ),
        "check the two flange depths, and that lens-mount and body-mount are not swapped",
    );
}

/// Faults every entry whose `field` another entry before it has too, whatever the case.
fn unique(root: &Section<'_>, key: &'static str, field: &'static str, reader: &mut Reader<'_>) {
    let mut seen = BTreeSet::new();
    for section in root.tables(key, &mut Reader::aside()) {
        let Some(name) = section.text(field, &mut Reader::aside()) else {
            continue;
        };
        if !seen.insert(name.to_lowercase()) {
            reader.fault(
                section.place(field),
                format!("two entries {key} are called \"{name}\""),
                format!("give each {key} a {field} of its own"),
            );
        }
    }
}

fn leads(
    section: &Section<'_>,
    key: &'static str,
    what: &str,
    known: &[&str],
    reader: &mut Reader<'_>,
) {
    let Some(name) = section.text(key, &mut Reader::aside()) else {
        return;
    };
    if known.iter().any(|id| *id == name) {
        return;
    }
    let hint = match nearest(&name, known.iter().copied()) {
        Some(id) => format!("did you mean \"{id}\"?"),
        None => format!("add a [[{what}]] with that id, or use one of: {}", known.join(", ")),
    };
    reader.fault(section.place(key), format!("there is no {what} \"{name}\" in the kit"), hint);
}
