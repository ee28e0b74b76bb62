//! The only reader of folders and opener of files. Links are never followed, and order does not depend on the disk.
#![expect(clippy::disallowed_methods, reason = "this is the one place where inputs are opened")]

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

use crate::finding::{Code, Finding, Found, Place};
use crate::read_at::ReadAt;

/// End of the names under which `place` writes before it renames.
pub const UNFINISHED: &str = ".lensmend-unfinished";

/// A file met on the walk.
pub(super) struct Entry {
    pub(super) path: PathBuf,
    pub(super) shape: Shape,
    pub(super) size: u64,
}

/// What kind of file.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Shape {
    File,
    Link,
    Special,
}

/// Every file below `root` in order of path, without those below `leave_out`. What cannot be read is a finding.
pub(super) fn walk(root: &Path, leave_out: &[PathBuf]) -> Found<Vec<Entry>> {
    let mut entries = Vec::new();
    let mut findings = Vec::new();
    let walk = WalkDir::new(root).follow_links(false).follow_root_links(true).sort_by_file_name();
    let entered = walk
        .into_iter()
        .filter_entry(|entry| !leave_out.iter().any(|folder| folder == entry.path()));
    for entry in entered {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                let path = error.path().map_or_else(|| root.to_owned(), Path::to_owned);
                let path = path.strip_prefix(root).unwrap_or(&path).to_owned();
                let why =
                    error.into_io_error().unwrap_or_else(|| io::Error::other("a loop of folders"));
                findings.push(unreadable(&path, &why));
                continue;
            }
        };
        // The folder itself may be reached by a link; it is no file of its own.
        if entry.depth() == 0 {
            continue;
        }
        let kind = entry.file_type();
        if kind.is_dir() {
            continue;
        }
        let path = entry.path().strip_prefix(root).unwrap_or(entry.path()).to_owned();
        let shape = match (kind.is_symlink(), kind.is_file()) {
            (true, _) => Shape::Link,
            (_, true) => Shape::File,
            _ => Shape::Special,
        };
        let size = entry.metadata().map_or(0, |metadata| metadata.len());
        entries.push(Entry { path, shape, size });
    }
    Found { value: entries, findings }
}

/// OpenEXR files below `root` in order of path, as paths inside it; links and hidden files are passed over.
pub fn plates(root: &Path) -> Found<Vec<PathBuf>> {
    let Found { value, findings } = walk(root, &[]);
    let is_plate = |entry: &Entry| {
        let ending = entry.path.extension().is_some_and(|end| end.eq_ignore_ascii_case("exr"));
        ending && entry.shape == Shape::File && !is_hidden(&entry.path)
    };
    let plates = value.into_iter().filter(is_plate).map(|entry| entry.path).collect();
    Found { value: plates, findings }
}

/// True if the file or a folder above it is hidden.
pub(super) fn is_hidden(path: &Path) -> bool {
    path.components().any(|part| part.as_os_str().as_encoded_bytes().starts_with(b"."))
}

/// True for a name under which `place` writes.
pub(super) fn is_unfinished(path: &Path) -> bool {
    path.as_os_str().as_encoded_bytes().ends_with(UNFINISHED.as_bytes())
}

/// The finding for something that could not be read.
pub(crate) fn unreadable(path: &Path, error: &io::Error) -> Finding {
    Finding::new(Code::DumpUnreadable, format!("cannot be read: {error}"))
        .at(Place::file(shown(path)))
        .hint("check the rights of the file and the health of the drive; copy it again from the card if need be")
}

/// True if the file begins like a QuickTime or MP4 file.
pub(super) fn begins_like_a_movie(path: &Path) -> io::Result<bool> {
    let mut head = [0; 8];
    let mut file = File::open(path)?;
    let mut filled = 0;
    while let Some(rest) = head.get_mut(filled..).filter(|rest| !rest.is_empty()) {
        match file.read(rest)? {
            0 => return Ok(false),
            count => filled += count,
        }
    }
    Ok(head.ends_with(b"ftyp") || head.ends_with(b"moov"))
}

/// A path as shown to people and written to records: `/` between parts, and bytes that are no UTF-8 as `\xNN`.
pub fn shown(path: &Path) -> String {
    let mut text = String::new();
    for part in path.components() {
        if !(text.is_empty() || text.ends_with('/')) {
            text.push('/');
        }
        let bytes = part.as_os_str().as_encoded_bytes();
        for chunk in bytes.utf8_chunks() {
            text.push_str(chunk.valid());
            for byte in chunk.invalid() {
                text.extend(["\\x", &format!("{byte:02X}")]);
            }
        }
    }
    text
}

/// A media file opened for reading headers.
pub struct MediaFile {
    file: File,
    size: u64,
}

impl MediaFile {
    /// Opens the file for reading.
    pub fn open(path: &Path) -> io::Result<Self> {
        // Looked at before it is opened: opening a pipe would wait for somebody to write into it.
        if !std::fs::metadata(path)?.is_file() {
            return Err(io::Error::other("not a regular file"));
        }
        let file = File::open(path)?;
        let metadata = file.metadata()?;
        Ok(Self { size: metadata.len(), file })
    }
}

impl ReadAt for MediaFile {
    fn size(&self) -> u64 {
        self.size
    }

    #[cfg(unix)]
    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> io::Result<usize> {
        use std::os::unix::fs::FileExt;
        let mut filled = 0;
        while let Some(rest) = buffer.get_mut(filled..).filter(|rest| !rest.is_empty()) {
            match self.file.read_at(rest, offset + u64::try_from(filled).unwrap_or(u64::MAX)) {
                Ok(0) => break,
                Ok(count) => filled += count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(filled)
    }

    #[cfg(windows)]
    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> io::Result<usize> {
        use std::os::windows::fs::FileExt;
        let mut filled = 0;
        while let Some(rest) = buffer.get_mut(filled..).filter(|rest| !rest.is_empty()) {
            match self.file.seek_read(rest, offset + u64::try_from(filled).unwrap_or(u64::MAX))? {
                0 => break,
                count => filled += count,
            }
        }
        Ok(filled)
    }
}

/// Reads a whole text input (kit, notes, run record). Larger than `cap` bytes is an error: no such file is that large.
pub fn read_input(path: &Path, cap: u64) -> io::Result<Vec<u8>> {
    let MediaFile { file, size } = MediaFile::open(path)?;
    let mut bytes = Vec::new();
    // The size is only a hint, but without it the file would come in many small reads.
    let _ = bytes.try_reserve_exact(usize::try_from(size.min(cap) + 1).unwrap_or_default());
    file.take(cap + 1).read_to_end(&mut bytes)?;
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > cap {
        return Err(io::Error::other(format!("larger than {cap} bytes")));
    }
    Ok(bytes)
}

/// What stands at a place; links are not followed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum There {
    /// Nothing.
    Nothing,
    /// A regular file.
    File,
    /// A folder.
    Folder,
    /// A link or something else.
    Other,
}

/// Looks at a place without following links or opening anything.
pub fn there(path: &Path) -> There {
    match std::fs::symlink_metadata(path) {
        Ok(metadata) if metadata.is_file() => There::File,
        Ok(metadata) if metadata.is_dir() => There::Folder,
        Err(error) if error.kind() == io::ErrorKind::NotFound => There::Nothing,
        Ok(_) | Err(_) => There::Other,
    }
}

/// Names of the entries of one folder in order, with whether each is a folder; for finding kit and notes.
pub fn list(folder: &Path) -> io::Result<Vec<(PathBuf, bool)>> {
    let mut entries = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        entries.push((entry.path(), entry.file_type()?.is_dir()));
    }
    entries.sort();
    Ok(entries)
}
