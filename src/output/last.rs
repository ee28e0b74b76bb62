//! Reading a run record back to tell what changed since: what the run was made from, file by file.

use serde::Deserialize;

use super::before::{Fingerprints, read_untouched};
use super::record::{FORMAT, VERSION};

/// What a run record says of its run.
#[derive(Debug, Deserialize)]
pub struct Last {
    format: String,
    version: u64,
    /// Name and version of the program.
    pub tool: String,
    /// Date of the last run that changed something.
    pub written: String,
    /// Options of the run, as words of a command line.
    #[serde(default)]
    pub options: Vec<String>,
    /// What it was made from.
    #[serde(default)]
    pub fingerprints: Option<Fingerprints>,
    /// Kit, notes and clip lists.
    #[serde(default)]
    pub inputs: Vec<LastInput>,
    /// Clips.
    #[serde(default)]
    pub clips: Vec<LastClip>,
    /// True if nobody touched the record since it was written.
    #[serde(skip)]
    pub untouched: bool,
}

/// A file that was read whole.
#[derive(Debug, Deserialize)]
pub struct LastInput {
    /// What it was to the run.
    pub role: String,
    /// File, as the user would name it.
    pub file: String,
    /// SHA-256 of its bytes.
    pub sha256: String,
}

/// A clip.
#[derive(Debug, Deserialize)]
pub struct LastClip {
    /// Name.
    pub name: String,
    /// Its files.
    #[serde(default)]
    pub files: Vec<LastFile>,
    /// Paths of the same files elsewhere in the dump.
    #[serde(default)]
    pub copies: Vec<Vec<String>>,
}

/// A file of a clip.
#[derive(Debug, Deserialize)]
pub struct LastFile {
    /// Path inside the dump.
    pub file: String,
    /// Size.
    pub bytes: u64,
    /// Hash of what was read of its header.
    #[serde(rename = "headerSha256")]
    pub header: Option<String>,
    /// Files of a row of numbered files.
    pub files: Option<u64>,
}

/// Reads a run record; `None` for anything else.
pub fn read(bytes: &[u8]) -> Option<Last> {
    let last: Last = serde_json::from_slice(bytes).ok()?;
    let untouched = read_untouched(&bytes).is_some();
    (last.format == FORMAT && last.version == VERSION).then_some(Last { untouched, ..last })
}
