//! Another reader of media: MediaInfo's library, in one process.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use anyhow::{Context as _, Result, bail};

/// Looks at one file after the other, without what starting Python and the library takes, and prints the seconds. Text is
/// asked for as the library makes it: nothing is parsed again.
const LOOK: &str = "
import sys, time
from pymediainfo import MediaInfo
files = sys.stdin.read().split('\\0')[:-1]
MediaInfo.parse(files[0], output='JSON')
start = time.perf_counter()
said = sum('Video' in MediaInfo.parse(file, output='JSON') for file in files)
took = time.perf_counter() - start
assert said == len(files), (said, len(files))
print(took)
";

/// The Python of the judges, if MediaInfo's library loads there.
pub(crate) fn python() -> Option<PathBuf> {
    let made = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/.judges/bin/python");
    let python = std::env::var_os("LENSMEND_JUDGES").map_or(made, PathBuf::from);
    let check = "import sys, pymediainfo; sys.exit(not pymediainfo.MediaInfo.can_parse())";
    let works = Command::new(&python).args(["-c", check]).stderr(Stdio::null()).status();
    works.is_ok_and(|status| status.success()).then_some(python)
}

/// How long MediaInfo's library takes for `files`, in one process.
pub(crate) fn time(python: &Path, files: &[PathBuf]) -> Result<Duration> {
    use std::io::Write as _;
    use std::os::unix::ffi::OsStrExt as _;
    let mut child = Command::new(python)
        .args(["-c", LOOK])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()?;
    let names: Vec<u8> =
        files.iter().flat_map(|file| [file.as_os_str().as_bytes(), b"\0"].concat()).collect();
    child.stdin.take().context("no way in")?.write_all(&names)?;
    let said = child.wait_with_output()?;
    if !said.status.success() {
        bail!("MediaInfo's library did not answer for every file");
    }
    Ok(Duration::from_secs_f64(String::from_utf8(said.stdout)?.trim().parse()?))
}
