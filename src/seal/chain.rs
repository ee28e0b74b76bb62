//! The chain of an ASC MHL history: which manifests there are, and a hash of each (ASC MHL 1.0; namespace `urn:ASC:MHL:DIRECTORY:v2.0`).

use super::digest::Kind;
use super::xml::{self, Broken};

/// Namespace of chains.
const NAMESPACE: &str = "urn:ASC:MHL:DIRECTORY:v2.0";
/// Generations of one history: one a minute for a week.
pub(super) const GENERATIONS: usize = 10_000;

/// A manifest as its chain knows it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Link {
    /// Number of the generation, from 1 without gaps.
    pub number: u64,
    /// Name of the manifest in the folder of the chain.
    pub file: String,
    /// Hashes of its bytes.
    pub hashes: Vec<(Kind, String)>,
}

/// Reads a chain. The error says why it is none.
pub fn parse(bytes: &[u8]) -> Result<Vec<Link>, Broken> {
    let mut links: Vec<Link> = Vec::new();
    let mut link = Link::default();
    xml::each(bytes, NAMESPACE, "ascmhldirectory", |path, element, at| {
        match path {
            ["ascmhldirectory", "hashlist", "path"] => link.file.clone_from(&element.text),
            ["ascmhldirectory", "hashlist", word] => {
                let kind = Kind::named(word);
                let value = kind.and_then(|kind| Some((kind, kind.value(element.text.trim())?)));
                link.hashes.extend(value);
            }
            ["ascmhldirectory", "hashlist"] => {
                let mut done = std::mem::take(&mut link);
                let number = element.attribute("sequencenr").and_then(|n| n.trim().parse().ok());
                let next = u64::try_from(links.len()).unwrap_or(u64::MAX) + 1;
                if number != Some(next) || links.len() >= GENERATIONS {
                    return Err(Broken::new("does not count its generations one by one", at));
                }
                if done.hashes.is_empty() {
                    return Err(Broken::new(format!("has no hash of generation {next}"), at));
                }
                if !plain(&done.file) {
                    return Err(Broken::new("names a manifest outside of its folder", at));
                }
                done.number = next;
                links.push(done);
            }
            _ => {}
        }
        Ok(())
    })?;
    Ok(links)
}

/// True for the name of a file and nothing more.
fn plain(name: &str) -> bool {
    !name.contains(['/', '\\', '\0', ':']) && !["", ".", ".."].contains(&name)
}
