//! What has to hold between the entries of a kit: ids are unique, and names lead somewhere.

use std::collections::BTreeSet;

use super::Kit;
use super::read::{Reader, Section};
use crate::finding::nearest;

/// Checks every reference of the kit.
pub(super) fn references(kit: &Kit, root: &Section<'_>, reader: &mut Reader<'_>) {
    let mounts: Vec<&str> = kit.mounts.iter().map(|m| m.id.as_str()).collect();
    let mut attachments: Vec<&str> = kit.attachments.iter().map(|a| a.id.as_str()).collect();
    attachments.push("none");
    let lenses: Vec<&str> = kit.lenses.iter().map(|l| l.id.as_str()).collect();
    let cameras: Vec<&str> = kit.cameras.iter().map(|c| c.id.as_str()).collect();
    let modes: Vec<&str> =
        kit.cameras.iter().flat_map(|c| &c.modes).map(|m| m.id.as_str()).collect();
    for key in ["mount", "camera", "lens", "attachment"] {
        unique(root, key, "id", reader);
    }
    unique(root, "roll", "name", reader);
    for section in root.tables("attachment", &mut Reader::new("", "")) {
        let id = section.text("id", &mut Reader::new("", ""));
        if id.is_some_and(|id| id.eq_ignore_ascii_case("none")) {
            let message = "an attachment cannot be called \"none\"";
            reader.fault(
                section.place("id"),
                message,
                "in notes and kit that word means a bare camera",
            );
        }
    }
    for (key, reference, known) in [
        ("camera", "mount", &mounts),
        ("camera", "attachment", &attachments),
        ("lens", "mount", &mounts),
        ("attachment", "lens-mount", &mounts),
        ("attachment", "body-mount", &mounts),
        ("roll", "camera", &cameras),
        ("roll", "mode", &modes),
        ("roll", "lens", &lenses),
        ("roll", "attachment", &attachments),
    ] {
        for section in root.tables(key, &mut Reader::new("", "")) {
            leads(&section, reference, known, reader);
        }
    }
}

/// Faults every entry whose `field` another entry before it has too, whatever the case.
fn unique(root: &Section<'_>, key: &'static str, field: &'static str, reader: &mut Reader<'_>) {
    let mut seen = BTreeSet::new();
    for section in root.tables(key, &mut Reader::new("", "")) {
        let Some(name) = section.text(field, &mut Reader::new("", "")) else {
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

fn leads(section: &Section<'_>, key: &'static str, known: &[&str], reader: &mut Reader<'_>) {
    let Some(name) = section.text(key, &mut Reader::new("", "")) else {
        return;
    };
    if known.iter().any(|id| *id == name) {
        return;
    }
    let what = key.rsplit('-').next().unwrap_or(key);
    let hint = match nearest(&name, known.iter().copied()) {
        Some(id) => format!("did you mean \"{id}\"?"),
        None => format!("add a [[{what}]] with that id, or use one of: {}", known.join(", ")),
    };
    reader.fault(section.place(key), format!("there is no {what} \"{name}\" in the kit"), hint);
}
