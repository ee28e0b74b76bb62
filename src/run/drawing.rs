//! A drawing into a file that the user names. A drawing of ours gives way to the new one; anything else stays.

use std::io;
use std::path::{Path, PathBuf};

use anyhow::{Result, bail};

use crate::output::is_drawing;
use crate::place::{self, Fate, Planned};

/// Writes `svg` to `target`.
pub(super) fn draw(target: &Path, svg: &str) -> Result<()> {
    let named = target.display();
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    };
    let Some(file) = target.file_name().filter(|_| folder.is_dir() && !target.is_dir()) else {
        bail!("cannot draw into {named}: name a file in a folder that is there");
    };
    let planned = Planned {
        target: folder.join(file),
        within: folder,
        make: Box::new(|there| match there {
            Some(there) if !is_drawing(there) => Err(io::Error::other(
                "another file stands there, which lensmend did not draw; it stays as it is, name another",
            )),
            _ => Ok(svg.as_bytes().into()),
        }),
    };
    match place::put(&planned, false).fate {
        Fate::Failed(why) => bail!("cannot draw into {named}: {why}"),
        Fate::Foreign => bail!("cannot draw into {named}: it is no file"),
        Fate::New | Fate::Stale | Fate::Same | Fate::Sealed | Fate::Unwritten => Ok(()),
    }
}
