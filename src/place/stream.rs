//! Files too large to be held whole: they are made into a stream, once to know what they come to, and once to write them.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Read as _, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};

use crate::read_at::{Hashes, hexadecimal};

use super::folders::{make_folder, make_ready, sync_folder};
use super::{Decision, Fate, PROTECTED, failed, undecided, unfinished};

/// Bytes handed on at a time.
const PIECE: usize = 1 << 20;

/// Writes what should stand there into a stream; the same each time.
pub type Fill<'a> = Box<dyn Fn(&mut dyn Write) -> io::Result<()> + Send + Sync + 'a>;

/// A file that should stand at a place.
pub struct Streamed<'a> {
    /// Where.
    pub target: PathBuf,
    /// The folder that the write must not leave, whatever links lie on the way.
    pub within: PathBuf,
    /// What should stand there.
    pub fill: Fill<'a>,
}

/// Decides what becomes of the file; writes nothing. `ours` tells by its hash whether lensmend wrote what is there.
pub fn decide(file: &Streamed<'_>, ours: &dyn Fn(&Path, &str) -> bool) -> Decision {
    let (was, protected) = match there(&file.target) {
        Ok(There::Nothing) => (None, false),
        Ok(There::File(sha, protected)) => (Some(sha), protected),
        Ok(There::Other) => return undecided(Fate::Foreign),
        Err(error) => return failed(&error),
    };
    let mut digest = Digesting(Sha256::new());
    if let Err(error) = (file.fill)(&mut digest) {
        return failed(&error);
    }
    let sha256 = hexadecimal(&digest.0.finalize());
    let fate = match &was {
        None => Fate::New,
        Some(was) if *was == sha256 => Fate::Same,
        Some(was) if !ours(&file.target, was) => Fate::Foreign,
        Some(_) if protected => Fate::Failed(PROTECTED.to_owned()),
        Some(_) => Fate::Stale,
    };
    // What was streamed is hashed on the way, and once.
    Decision { hashes: Hashes::sha256(sha256), was, ..undecided(fate) }
}

/// Writes the file if it is new or stale, and makes it durable. What fails is marked.
pub fn carry_out(file: &Streamed<'_>, decision: &mut Decision) {
    if !matches!(decision.fate, Fate::New | Fate::Stale) {
        super::remove_leftover(&file.target);
        return;
    }
    let unfinished = unfinished(&file.target);
    if let Err(error) = write(file, &unfinished, decision) {
        // The leftover has no use; that removing it may fail too changes nothing.
        let _ = fs::remove_file(&unfinished);
        decision.fate = Fate::Failed(error.to_string());
    }
}

fn write(file: &Streamed<'_>, unfinished: &Path, decision: &Decision) -> io::Result<()> {
    let folder = file.target.parent().unwrap_or(Path::new("."));
    let ready = make_ready(&[(folder, file.within.as_path())].into());
    if let Some(Err(error)) = ready.into_values().next() {
        return Err(error);
    }
    make_folder(folder, &mut std::collections::BTreeSet::new())?;
    match fs::remove_file(unfinished) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let out = OpenOptions::new().write(true).create_new(true).open(unfinished)?;
    let mut both = Both { out: BufWriter::with_capacity(PIECE, out), digest: Sha256::new() };
    (file.fill)(&mut both)?;
    both.flush()?;
    let Both { out, digest } = both;
    if hexadecimal(&digest.finalize()) != decision.hashes.sha256 {
        return Err(io::Error::other("what it is made from changed while it was written"));
    }
    out.into_inner().map_err(|error| io::Error::other(error.to_string()))?.sync_all()?;
    let was = match there(&file.target)? {
        There::Nothing => None,
        There::File(sha, _) => Some(sha),
        There::Other => {
            return Err(io::Error::other("something else came to stand there meanwhile"));
        }
    };
    if was != decision.was {
        return Err(io::Error::other("somebody changed it while this run was under way"));
    }
    fs::rename(unfinished, &file.target)?;
    sync_folder(folder);
    Ok(())
}

enum There {
    Nothing,
    /// A file: its hash, and whether it is protected against writing.
    File(String, bool),
    Other,
}

fn there(target: &Path) -> io::Result<There> {
    let metadata = match fs::symlink_metadata(target) {
        Ok(metadata) if metadata.is_file() => metadata,
        Ok(_) => return Ok(There::Other),
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(There::Nothing),
        Err(error) => return Err(error),
    };
    let mut file = File::open(target)?;
    let mut digest = Sha256::new();
    let mut piece = vec![0; PIECE];
    loop {
        match file.read(&mut piece)? {
            0 => break,
            read => digest.update(piece.get(..read).unwrap_or_default()),
        }
    }
    let readonly = metadata.permissions().readonly();
    Ok(There::File(hexadecimal(&digest.finalize()), readonly))
}

struct Digesting(Sha256);

impl Write for Digesting {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

struct Both {
    out: BufWriter<File>,
    digest: Sha256,
}

impl Write for Both {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.out.write_all(bytes)?;
        self.digest.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}
