//! Folders of files about to be written: made, kept inside, and made durable.
#![expect(clippy::disallowed_methods, reason = "part of the one place that writes")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// Makes the folders of files about to be written, and tells which of them must not be written into.
/// Once a folder, not once a file: following the links of a long path costs more than writing a small file.
pub(super) fn make_ready<'a>(
    folders: &BTreeSet<(&'a Path, &'a Path)>,
) -> BTreeMap<(&'a Path, &'a Path), io::Result<()>> {
    let mut grown = BTreeSet::new();
    let ready = folders
        .iter()
        .map(|(folder, within)| {
            let made = stays(there_of(folder), within)
                .and_then(|()| make_folder(folder, &mut grown))
                .and_then(|()| stays(folder, within));
            ((*folder, *within), made)
        })
        .collect();
    for folder in &grown {
        sync_folder(folder);
    }
    ready
}

/// The nearest folder on the way to `folder` that is there already: a link there would lead new folders astray.
fn there_of(folder: &Path) -> &Path {
    folder.ancestors().find(|above| above.symlink_metadata().is_ok()).unwrap_or(folder)
}

fn stays(folder: &Path, within: &Path) -> io::Result<()> {
    if folder.canonicalize()?.starts_with(within.canonicalize()?) {
        Ok(())
    } else {
        Err(io::Error::other("a link on the way leads out of the output folder"))
    }
}

/// Makes a folder and those above it. Folders that hold a new one are noted in `grown`, to be made durable.
pub(super) fn make_folder(folder: &Path, grown: &mut BTreeSet<PathBuf>) -> io::Result<()> {
    if folder.as_os_str().is_empty() || folder.is_dir() {
        return Ok(());
    }
    if let Some(above) = folder.parent() {
        make_folder(above, grown)?;
        grown.insert(above.to_owned());
    }
    match fs::create_dir(folder) {
        // Another program may have been faster.
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists && folder.is_dir() => Ok(()),
        made => made,
    }
}

/// Makes renames in a folder durable. File systems that cannot sync a folder are left to their own care.
pub(super) fn sync_folder(folder: &Path) {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
}
