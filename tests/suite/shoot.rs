//! What the tests of the built program share: shoots in folders of their own, bounded runs, and looks at whole trees.

#![expect(clippy::disallowed_methods, reason = "tests make, change and look at files of their own")]

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsStr;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use sha2::{Digest, Sha256};
use tempfile::TempDir;

/// The date given to runs whose bytes are compared.
pub(crate) const DATE: &str = "2026-11-14T19:00:00Z";
/// Another one, for runs that must not take it over.
pub(crate) const LATER: &str = "2027-01-02T03:04:05Z";
/// No run of a test takes longer; one that does hangs.
const LIMIT: Duration = Duration::from_mins(2);

/// A day's folder with kit, notes and dump, and an output folder next to it, both gone after the test.
pub(crate) struct Shoot {
    pub(crate) temp: TempDir,
    pub(crate) folder: PathBuf,
    pub(crate) out: PathBuf,
}

impl Shoot {
    /// A copy of the sample day.
    pub(crate) fn sample() -> Self {
        let shoot = Self::empty();
        copy_tree(&sample(), &shoot.folder);
        shoot
    }

    /// One clip, and notes that leave no question open.
    pub(crate) fn clean() -> Self {
        let shoot = Self::empty();
        fs::copy(sample().join("kit.toml"), shoot.folder.join("kit.toml")).unwrap();
        shoot.notes("Roll,Clip,Slate,Take,Lens,Stop,Reducer,Focus\nA003,C001,24A,1,Sorrel 50,f/2.8,0.71,2.4 m\n");
        shoot.clip("A003/A003C001_1114_KV.mov");
        shoot
    }

    /// A folder with nothing in it.
    pub(crate) fn empty() -> Self {
        let temp = tempfile::tempdir().unwrap();
        let folder = temp.path().join("day");
        fs::create_dir(&folder).unwrap();
        Self { out: temp.path().join("out"), folder, temp }
    }

    pub(crate) fn dump(&self) -> PathBuf {
        self.folder.join("dump")
    }

    pub(crate) fn notes(&self, text: &str) {
        fs::write(self.folder.join("notes.csv"), text).unwrap();
    }

    /// A small clip at `path` of the dump, made at a time of its own: two of them are two shots.
    pub(crate) fn clip(&self, path: impl AsRef<Path>) {
        let mut bytes = fs::read(small_clip()).unwrap();
        let hash = Sha256::digest(path.as_ref().as_os_str().as_encoded_bytes());
        // Behind the kind stand version, flags and creation time (ISO/IEC 14496-12, 8.2.2); its low bytes are some months.
        let time = bytes.windows(4).position(|kind| kind == b"mvhd").unwrap() + 8;
        bytes[time + 1..time + 4].copy_from_slice(&hash[..3]);
        let path = self.dump().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }

    /// `annotate FOLDER --into OUT --date DATE` with more arguments.
    pub(crate) fn annotate<const N: usize>(&self, more: [&str; N]) -> Ran {
        run(self.command(DATE).args(more))
    }

    /// The command for it, to be changed.
    pub(crate) fn command(&self, date: &str) -> Command {
        let mut command = lensmend();
        command.arg("annotate").arg(&self.folder).arg("--into").arg(&self.out);
        command.args(["--date", date]);
        command
    }
}

/// The sample day; only ever read.
pub(crate) fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/saltmarsh-day")
}

/// A whole clip of a few kilobytes with raster, rate and timecode.
pub(crate) fn small_clip() -> PathBuf {
    sample().join("dump/A003/A003C004_1114_KV_001.mov")
}

/// The built program, in surroundings that do not depend on who runs the tests.
pub(crate) fn lensmend() -> Command {
    tidy(Command::new(env!("CARGO_BIN_EXE_lensmend")))
}

fn tidy(mut command: Command) -> Command {
    for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "SOURCE_DATE_EPOCH", "CI"] {
        command.env_remove(name);
    }
    command.stdin(Stdio::null());
    command
}

/// What a run came to.
pub(crate) struct Ran {
    pub(crate) code: Option<i32>,
    pub(crate) out: Vec<u8>,
    pub(crate) err: Vec<u8>,
}

impl Ran {
    pub(crate) fn result(&self) -> String {
        String::from_utf8(self.out.clone()).unwrap()
    }

    pub(crate) fn talk(&self) -> String {
        String::from_utf8(self.err.clone()).unwrap()
    }

    /// Fails with everything that was printed unless the exit code is `code`.
    #[track_caller]
    pub(crate) fn exits(self, code: i32) -> Self {
        let Self { code: is, out, err } = &self;
        let (out, err) = (String::from_utf8_lossy(out), String::from_utf8_lossy(err));
        assert_eq!(*is, Some(code), "stdout:\n{out}\nstderr:\n{err}");
        self
    }
}

/// Runs to the end; a run that hangs is ended and fails its test.
pub(crate) fn run(command: &mut Command) -> Ran {
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let (mut out, mut err) = (child.stdout.take().unwrap(), child.stderr.take().unwrap());
    let all = |pipe: &mut dyn Read| {
        let mut bytes = Vec::new();
        pipe.read_to_end(&mut bytes).unwrap();
        bytes
    };
    let out = thread::spawn(move || all(&mut out));
    let err = thread::spawn(move || all(&mut err));
    let begun = Instant::now();
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if begun.elapsed() > LIMIT {
            child.kill().unwrap();
            child.wait().unwrap();
            panic!("{command:?} hangs");
        }
        thread::sleep(Duration::from_millis(1));
    };
    Ran { code: status.code(), out: out.join().unwrap(), err: err.join().unwrap() }
}

/// Codes of the findings of a run record, each with the file it points at.
pub(crate) fn findings(record: &[u8]) -> BTreeSet<(String, String)> {
    let record: serde_json::Value = serde_json::from_slice(record).unwrap();
    let word = |value: &serde_json::Value| value.as_str().unwrap_or_default().to_owned();
    let findings = record["findings"].as_array().unwrap();
    findings.iter().map(|finding| (word(&finding["code"]), word(&finding["file"]))).collect()
}

/// What stands at a path.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Thing {
    Folder,
    /// A file with its SHA-256.
    File(String),
    Link(PathBuf),
    Other,
}

/// Everything below `root`, links not followed.
pub(crate) fn tree(root: &Path) -> BTreeMap<PathBuf, Thing> {
    paths(root)
        .into_iter()
        .map(|path| {
            let at = root.join(&path);
            let kind = fs::symlink_metadata(&at).unwrap().file_type();
            let thing = if kind.is_dir() {
                Thing::Folder
            } else if kind.is_file() {
                let sha = Sha256::digest(fs::read(&at).unwrap());
                Thing::File(
                    sha.iter().map(|byte| format!("{byte:02x}")).collect::<Vec<_>>().concat(),
                )
            } else if kind.is_symlink() {
                Thing::Link(fs::read_link(&at).unwrap())
            } else {
                Thing::Other
            };
            (path, thing)
        })
        .collect()
}

/// The bytes of every file below `root`.
pub(crate) fn files(root: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    paths(root)
        .into_iter()
        .filter(|path| fs::symlink_metadata(root.join(path)).unwrap().is_file())
        .map(|path| {
            let bytes = fs::read(root.join(&path)).unwrap();
            (path, bytes)
        })
        .collect()
}

/// Length and times of everything below `root` and of `root` itself: any write, rename or removal shows.
pub(crate) fn stamps(root: &Path) -> BTreeMap<PathBuf, String> {
    std::iter::once(PathBuf::new())
        .chain(paths(root))
        .map(|path| {
            let found = fs::symlink_metadata(root.join(&path)).unwrap();
            #[cfg(unix)]
            let more = {
                use std::os::unix::fs::MetadataExt;
                (found.ino(), found.ctime(), found.ctime_nsec())
            };
            #[cfg(not(unix))]
            let more = ();
            let text = format!("{:?} {} {more:?}", found.modified().unwrap(), found.len());
            (path, text)
        })
        .collect()
}

/// Paths below `root`, those inside folders after the folder. No walker of the product has a hand in this.
pub(crate) fn paths(root: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![PathBuf::new()];
    while let Some(folder) = folders.pop() {
        let Ok(entries) = fs::read_dir(root.join(&folder)) else { continue };
        for entry in entries {
            let entry = entry.unwrap();
            let path = folder.join(entry.file_name());
            if entry.file_type().unwrap().is_dir() {
                folders.push(path.clone());
            }
            found.push(path);
        }
    }
    found.sort();
    found
}

pub(crate) fn copy_tree(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for path in paths(from) {
        if from.join(&path).is_dir() {
            fs::create_dir_all(to.join(&path)).unwrap();
        } else {
            fs::copy(from.join(&path), to.join(&path)).unwrap();
        }
    }
}

/// True for files that end in `.xmp`.
pub(crate) fn is_sidecar(path: &Path) -> bool {
    path.extension() == Some(OsStr::new("xmp"))
}

/// A command bound by the rights of files: the program itself, or as root the program run as nobody.
/// `None` where root cannot become nobody. Everything below `temp` is handed over to nobody.
#[cfg(unix)]
pub(crate) fn bound_by_rights(shoot: &Shoot) -> Option<Command> {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
    use std::os::unix::process::CommandExt;
    const NOBODY: u32 = 65534;
    let temp = shoot.temp.path();
    if fs::metadata(temp).unwrap().uid() != 0 {
        return Some(lensmend());
    }
    let program = temp.join("program");
    fs::hard_link(env!("CARGO_BIN_EXE_lensmend"), &program)
        .or_else(|_| fs::copy(env!("CARGO_BIN_EXE_lensmend"), &program).map(drop))
        .unwrap();
    fs::set_permissions(temp, fs::Permissions::from_mode(0o755)).unwrap();
    for path in paths(temp).iter().filter(|path| **path != Path::new("program")) {
        std::os::unix::fs::lchown(temp.join(path), Some(NOBODY), Some(NOBODY)).ok()?;
    }
    chown(temp, Some(NOBODY), Some(NOBODY)).ok()?;
    let nobody = || {
        let mut command = tidy(Command::new(&program));
        command.uid(NOBODY).gid(NOBODY);
        command
    };
    let works = nobody().arg("--version").stdout(Stdio::null()).status().is_ok_and(|s| s.success());
    assert!(works || !crate::workshop::in_ci(), "root cannot run the program as nobody here");
    works.then(nobody)
}
