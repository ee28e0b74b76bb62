//! The parts of a workbook: a ZIP archive of XML (ECMA-376 part 2). Made anew with our own name in it, and sealed.

use std::io::{Cursor, Read, Write};

use anyhow::{Context, Result};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipArchive, ZipWriter};

use super::seal;

/// Most parts of a workbook of ours.
const MOST: usize = 64;
/// Most bytes of its parts unpacked: some hundred thousand rows.
const LARGEST: u64 = 256 << 20;
/// Where a workbook names the program that made it, and the date (ECMA-376 part 1, 22.2; part 2, 11).
const PROGRAM: &str = "docProps/app.xml";
const CORE: &str = "docProps/core.xml";
/// Where properties stand that no standard names; the seal is one of them (ECMA-376 part 1, 22.3).
const CUSTOM: &str = "docProps/custom.xml";

/// The parts of an archive, in order.
pub(super) struct Parts {
    parts: Vec<(String, Vec<u8>)>,
}

/// Reads an archive; `None` where it is none, or larger than any of ours.
pub(super) fn read(bytes: &[u8]) -> Option<Parts> {
    read_within(bytes, LARGEST)
}

fn read_within(bytes: &[u8], most: u64) -> Option<Parts> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).ok()?;
    if archive.len() > MOST {
        return None;
    }
    let mut parts = Vec::new();
    let mut left = most;
    for at in 0..archive.len() {
        let file = archive.by_index(at).ok()?;
        let name = file.name().ok()?.into_owned();
        let mut part = Vec::new();
        // The size that an archive states is not believed.
        file.take(left + 1).read_to_end(&mut part).ok()?;
        left = left.checked_sub(u64::try_from(part.len()).ok()?)?;
        parts.push((name, part));
    }
    Some(Parts { parts })
}

impl Parts {
    /// The archive with `program` as its maker, sealed. No part carries a time of its own.
    pub(super) fn sealed(mut self, program: &str) -> Result<Vec<u8>> {
        let app = self.text(PROGRAM).context("the workbook does not say what made it")?;
        let app = between(&app, "<Application>", "</Application>")
            .map(|was| app.replacen(&format!(">{was}<"), &format!(">{program}<"), 1))
            .context("the workbook does not say what made it")?;
        self.replace(PROGRAM, app.into_bytes());
        let digest = self.digest().context("the workbook has no place for its seal")?;
        let custom = self.text(CUSTOM).context("the workbook has no place for its seal")?;
        self.replace(CUSTOM, custom.replacen(seal::OPEN, &digest, 1).into_bytes());
        let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Deflated)
            .unix_permissions(0o600)
            .last_modified_time(DateTime::default());
        for (name, part) in &self.parts {
            archive.start_file(name.as_str(), options)?;
            archive.write_all(part)?;
        }
        Ok(archive.finish()?.into_inner())
    }

    /// True if nobody changed a part since the archive was sealed.
    pub(super) fn seal_holds(&self) -> bool {
        let sealed = self.text(CUSTOM).and_then(|custom| {
            let (_, rest) = custom.split_once(seal::MARK)?;
            rest.get(..seal::OPEN.len()).map(str::to_owned)
        });
        sealed.is_some() && sealed == self.digest()
    }

    /// The date of making.
    pub(super) fn created(&self) -> Option<String> {
        let core = self.text(CORE)?;
        let (_, rest) = core.split_once("<dcterms:created")?;
        between(rest, ">", "</dcterms:created>").map(str::to_owned)
    }

    /// The digest over all parts, with the seal open.
    fn digest(&self) -> Option<String> {
        let mut whole = Vec::new();
        for (name, part) in &self.parts {
            whole.extend(name.bytes());
            whole.extend(part.len().to_string().bytes());
            whole.extend(if name == CUSTOM { opened(part)? } else { part.clone() });
        }
        Some(seal::digest(&whole))
    }

    fn text(&self, name: &str) -> Option<String> {
        let (_, part) = self.parts.iter().find(|(part, _)| part == name)?;
        String::from_utf8(part.clone()).ok()
    }

    fn replace(&mut self, name: &str, bytes: Vec<u8>) {
        if let Some((_, part)) = self.parts.iter_mut().find(|(part, _)| part == name) {
            *part = bytes;
        }
    }
}

/// The part with an open seal.
fn opened(part: &[u8]) -> Option<Vec<u8>> {
    let mut part = part.to_vec();
    let place = seal::place(&part)?;
    part.splice(place, seal::OPEN.bytes());
    Some(part)
}

fn between<'a>(text: &'a str, before: &str, after: &str) -> Option<&'a str> {
    let (_, rest) = text.split_once(before)?;
    rest.split_once(after).map(|(inner, _)| inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn archive(parts: &[(&str, &[u8])]) -> Vec<u8> {
        let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
        for (name, part) in parts {
            archive.start_file(*name, SimpleFileOptions::default()).unwrap();
            archive.write_all(part).unwrap();
        }
        archive.finish().unwrap().into_inner()
    }

    const APP: (&str, &[u8]) = (PROGRAM, b"<Properties><Application>other</Application>");

    #[test]
    fn archives_that_are_none_of_ours_are_told_in_bounded_memory() {
        let zeros = vec![0; 100_000];
        let bomb = archive(&[APP, ("xl/a.xml", &zeros)]);
        assert!(bomb.len() < 1000);
        assert!(read_within(&bomb, 200_000).is_some_and(|parts| !parts.seal_holds()));
        assert!(read_within(&bomb, 100_000).is_none());
        let names: Vec<String> = (0..=MOST).map(|at| format!("{at}")).collect();
        let many: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &b""[..])).collect();
        assert!(read(&archive(&many)).is_none());
        for at in 0..bomb.len() {
            // Cut off anywhere it is no archive, and that is no panic either.
            assert!(read(&bomb[..at]).is_none_or(|parts| !parts.seal_holds()));
        }
    }

    #[test]
    fn the_seal_is_that_of_all_parts() {
        let custom = seal::open();
        let core = (
            "docProps/core.xml",
            &b"<dcterms:created t=\"x\">2026-11-14T19:00:00Z</dcterms:created>"[..],
        );
        let parts = [APP, core, (CUSTOM, custom.as_bytes()), ("xl/a.xml", b"<a>1</a>")];
        let sealed = read(&archive(&parts)).unwrap().sealed("lensmend").unwrap();
        let again = read(&sealed).unwrap();
        assert!(again.seal_holds());
        assert_eq!(again.created().as_deref(), Some("2026-11-14T19:00:00Z"));
        assert!(again.text(PROGRAM).unwrap().contains(">lensmend<"));
        for (at, (name, _)) in parts.iter().enumerate() {
            let mut changed = read(&sealed).unwrap();
            changed.parts[at].1.push(b' ');
            assert!(!changed.seal_holds(), "{name}");
        }
        assert!(read(&archive(&parts[..2])).unwrap().sealed("lensmend").is_err());
    }
}
