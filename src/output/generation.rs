//! A new generation of an ASC MHL history: the manifest with records of new files, and the chain that names it
//! (ASC MHL 1.0, 5.6.5, 6.3 and its schemas, namespaces `urn:ASC:MHL:v2.0` and `urn:ASC:MHL:DIRECTORY:v2.0`).

use std::io;

use quick_xml::Writer;
use quick_xml::escape::escape;
use quick_xml::events::{BytesDecl, BytesText, Event};

use super::Stamp;

/// What a new generation says.
#[derive(Clone, Debug)]
pub struct Generation<'a> {
    /// Date and program.
    pub stamp: &'a Stamp,
    /// Name of the computer.
    pub host: &'a str,
    /// Patterns of files that the history passes over; they go on from generation to generation.
    pub ignore: &'a [String],
    /// New files in order of their paths.
    pub records: Vec<SealedFile>,
    /// New generations of histories below this one.
    pub references: Vec<Reference>,
}

/// A file that is recorded for the first time.
#[derive(Clone, Debug, PartialEq)]
pub struct SealedFile {
    /// Path from the folder that the history seals, with `/` between parts.
    pub path: String,
    /// Bytes.
    pub size: u64,
    /// Element and value of each hash, in the order of the schema.
    pub hashes: Vec<(&'static str, String)>,
}

/// A manifest of a history below.
#[derive(Clone, Debug, PartialEq)]
pub struct Reference {
    /// Its path from the folder that this history seals, with `/` between parts.
    pub path: String,
    /// C4 ID of its bytes.
    pub c4: String,
}

/// A manifest that a chain is to name.
#[derive(Clone, Debug, PartialEq)]
pub struct Link<'a> {
    /// Number of the generation.
    pub number: u64,
    /// Name of the manifest.
    pub file: &'a str,
    /// C4 ID of its bytes.
    pub c4: String,
}

/// Name of a manifest (ASC MHL 1.0, 6.3): number, folder, and the date of the run in UTC.
pub fn file_name(number: u64, folder: &str, stamp: &Stamp) -> String {
    let date = stamp.date.replace('T', "_").replace(':', "");
    format!("{number:04}_{folder}_{date}.mhl")
}

/// True if XML can carry a path so that it is read back as it is.
pub fn can_carry(path: &str) -> bool {
    !path.chars().any(|letter| letter.is_control() || matches!(letter, '\u{fffe}' | '\u{ffff}'))
}

/// The bytes of the manifest.
pub fn manifest(generation: &Generation<'_>) -> io::Result<Vec<u8>> {
    let Generation { stamp, host, ignore, records, references } = generation;
    let mut xml = Writer::new_with_indent(Vec::new(), b' ', 2);
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let (tool, version) = stamp.tool.split_once(' ').unwrap_or((&stamp.tool, ""));
    let date = stamp.date.as_str();
    xml.create_element("hashlist")
        .with_attribute(("version", "2.0"))
        .with_attribute(("xmlns", "urn:ASC:MHL:v2.0"))
        .write_inner_content(|xml| {
            xml.create_element("creatorinfo").write_inner_content(|xml| {
                text(xml, "creationdate", date)?;
                text(xml, "hostname", host)?;
                xml.create_element("tool")
                    .with_attribute(("version", version))
                    .write_text_content(BytesText::new(tool))?;
                Ok(())
            })?;
            xml.create_element("processinfo").write_inner_content(|xml| {
                text(xml, "process", "in-place")?;
                xml.create_element("ignore").write_inner_content(|xml| {
                    ignore.iter().try_for_each(|pattern| text(xml, "pattern", pattern))
                })?;
                Ok(())
            })?;
            if !records.is_empty() {
                xml.create_element("hashes").write_inner_content(|xml| {
                    records.iter().try_for_each(|record| hash(xml, record, date))
                })?;
            }
            if !references.is_empty() {
                xml.create_element("references").write_inner_content(|xml| {
                    references.iter().try_for_each(|reference| {
                        xml.create_element("hashlistreference").write_inner_content(|xml| {
                            text(xml, "path", &reference.path)?;
                            text(xml, "c4", &reference.c4)
                        })?;
                        Ok(())
                    })
                })?;
            }
            Ok(())
        })?;
    let mut bytes = xml.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

fn hash(xml: &mut Writer<Vec<u8>>, record: &SealedFile, date: &str) -> io::Result<()> {
    xml.create_element("hash").write_inner_content(|xml| {
        xml.create_element("path")
            .with_attribute(("size", record.size.to_string().as_str()))
            .write_text_content(BytesText::new(&record.path))?;
        for (kind, value) in &record.hashes {
            xml.create_element(*kind)
                .with_attribute(("action", "original"))
                .with_attribute(("hashdate", date))
                .write_text_content(BytesText::new(value))?;
        }
        Ok(())
    })?;
    Ok(())
}

fn text(xml: &mut Writer<Vec<u8>>, element: &str, text: &str) -> io::Result<()> {
    xml.create_element(element).write_text_content(BytesText::new(text))?;
    Ok(())
}

/// The chain with new links at its end; every byte that was there stays. `None` if its end cannot be found.
pub fn chain(before: &str, links: &[Link<'_>]) -> Option<Vec<u8>> {
    let close = before.rfind("</")?;
    let (front, end) = before.split_at_checked(close)?;
    // Whatever prefix the chain uses for its namespace, its own elements carry the same.
    let name = end.strip_prefix("</")?.split('>').next()?.trim_end();
    let prefix = name.strip_suffix("ascmhldirectory")?;
    let mut chain = front.trim_end().to_owned();
    for Link { number, file, c4 } in links {
        let file = escape(*file);
        let link = format!(
            "\n  <{prefix}hashlist sequencenr=\"{number}\">\n    <{prefix}path>{file}</{prefix}path>\n    \
             <{prefix}c4>{c4}</{prefix}c4>\n  </{prefix}hashlist>"
        );
        chain.push_str(&link);
    }
    chain.push('\n');
    chain.push_str(end);
    Some(chain.into_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_manifest_is_called_by_number_folder_and_date() {
        let stamp =
            Stamp { date: "2026-11-14T19:00:05Z".to_owned(), tool: "lensmend 0.1.0".to_owned() };
        assert_eq!(file_name(2, "A003", &stamp), "0002_A003_2026-11-14_190005Z.mhl");
        assert_eq!(file_name(12345, "A", &stamp), "12345_A_2026-11-14_190005Z.mhl");
    }

    #[test]
    fn a_chain_keeps_what_it_was_and_its_own_prefix() {
        let before = "<m:ascmhldirectory xmlns:m=\"x\"><m:hashlist/></m:ascmhldirectory >\n";
        let link = Link { number: 2, file: "a&b.mhl", c4: "c4x".to_owned() };
        let after = String::from_utf8(chain(before, &[link]).unwrap()).unwrap();
        assert_eq!(
            after,
            "<m:ascmhldirectory xmlns:m=\"x\"><m:hashlist/>\n  <m:hashlist sequencenr=\"2\">\n    \
             <m:path>a&amp;b.mhl</m:path>\n    <m:c4>c4x</m:c4>\n  </m:hashlist>\n</m:ascmhldirectory >\n"
        );
        for none in ["", "<a/>", "</other>"] {
            assert_eq!(chain(none, &[]), None, "{none}");
        }
    }
}
