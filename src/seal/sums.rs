//! Plain hash lists: a line a file, as the checksum programs of Unix write them, plain or tagged (GNU Coreutils manual,
//! "md5sum invocation"; xxHash's own lists look the same). A list that holds one bare hash speaks of the file after which it is called.

use std::path::{Path, PathBuf};

use super::digest::Kind;
use super::manifest::{COMPLAINTS, inside};

/// Lines of one list.
const LINES: usize = 4 << 20;
/// Bytes of one line.
const LINE: usize = 8 << 10;

/// What a list says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sums {
    /// Files, by their path from the folder of the list, with the hash of each.
    pub files: Vec<(PathBuf, Kind, String)>,
    /// Lines that cannot be used, and why: the first few, and how many in all.
    pub complaints: (Vec<String>, usize),
}

/// The kind of hash that a list of this name holds, if it is one.
pub fn kind_of(list: &Path) -> Option<Kind> {
    let extension = list.extension().map(|e| e.to_string_lossy().to_lowercase());
    let name = list.file_name()?.to_string_lossy().to_lowercase();
    match extension.as_deref().unwrap_or(&name) {
        "md5" | "md5sums" | "md5sum" => Some(Kind::Md5),
        "sha1" | "sha1sums" | "sha1sum" => Some(Kind::Sha1),
        "sha256" | "sha256sums" | "sha256sum" => Some(Kind::Sha256),
        "xxh" | "xxh64" => Some(Kind::Xxh64),
        "xxh3" => Some(Kind::Xxh3),
        "xxh128" => Some(Kind::Xxh128),
        "c4" => Some(Kind::C4),
        _ => None,
    }
}

/// Reads a list of hashes of `kind`, called `name`.
pub fn parse(name: &Path, kind: Kind, bytes: &[u8]) -> Sums {
    let mut sums = Sums::default();
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes);
    for (at, line) in bytes.split(|byte| *byte == b'\n').enumerate().take(LINES) {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        let read = match std::str::from_utf8(line) {
            Ok(line) if line.len() <= LINE => line,
            Ok(_) => {
                sums.complain(at, "is too long");
                continue;
            }
            Err(_) => {
                sums.complain(at, "is no UTF-8");
                continue;
            }
        };
        if read.trim().is_empty() || read.starts_with(['#', ';']) {
            continue;
        }
        match entry(name, kind, read) {
            Ok(entry) => sums.files.push(entry),
            Err(why) => sums.complain(at, why),
        }
    }
    sums
}

impl Sums {
    fn complain(&mut self, at: usize, why: &str) {
        let (first, all) = &mut self.complaints;
        *all += 1;
        if first.len() < COMPLAINTS {
            first.push(format!("line {} {why}", at + 1));
        }
    }
}

fn entry(list: &Path, kind: Kind, line: &str) -> Result<(PathBuf, Kind, String), &'static str> {
    // A backslash in front says that the name is written with escapes.
    let (line, escaped) = match line.strip_prefix('\\') {
        Some(line) => (line, true),
        None => (line, false),
    };
    let (kind, value, file) =
        tagged(line).or_else(|| plain(kind, line)).ok_or("holds no hash of its kind")?;
    let file = match file {
        Some(file) if escaped => unescaped(file),
        // Lists made on Windows part folders by backslashes.
        Some(file) => file.replace('\\', "/"),
        None => list.file_stem().unwrap_or_default().to_string_lossy().into_owned(),
    };
    let path = inside(&file).ok_or("does not lead to a file below the list")?;
    Ok((path, kind, value))
}

/// `MD5 (file) = hash`.
fn tagged(line: &str) -> Option<(Kind, String, Option<&str>)> {
    let (tag, rest) = line.split_once(" (")?;
    let (file, value) = rest.rsplit_once(") = ")?;
    let kind = match tag {
        "MD5" => Kind::Md5,
        "SHA1" => Kind::Sha1,
        "SHA256" => Kind::Sha256,
        "XXH64" => Kind::Xxh64,
        "XXH3" => Kind::Xxh3,
        "XXH128" => Kind::Xxh128,
        _ => return None,
    };
    Some((kind, kind.value(value.trim_end())?, Some(file)))
}

/// `hash  file`, or `hash *file`, or the hash alone.
fn plain(kind: Kind, line: &str) -> Option<(Kind, String, Option<&str>)> {
    let line = line.trim_start();
    let (value, kind) = match line.strip_prefix("XXH3_") {
        Some(rest) => (rest, Kind::Xxh3),
        None => (line, kind),
    };
    let (value, file) = match value.split_once([' ', '\t']) {
        Some((value, file)) => (value, file.strip_prefix([' ', '*']).unwrap_or(file)),
        None => (value, ""),
    };
    let file = Some(file).filter(|file| !file.trim().is_empty());
    Some((kind, kind.value(value)?, file))
}

fn unescaped(file: &str) -> String {
    let mut name = String::with_capacity(file.len());
    let mut letters = file.chars();
    while let Some(letter) = letters.next() {
        match (letter, letters.as_str().chars().next()) {
            ('\\', Some(next @ ('n' | 'r' | '\\'))) => {
                letters.next();
                name.push(match next {
                    'n' => '\n',
                    'r' => '\r',
                    next => next,
                });
            }
            _ => name.push(letter),
        }
    }
    name
}
