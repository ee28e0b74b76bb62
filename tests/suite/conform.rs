//! Outside judges: what lensmend reads and writes is what libraries say that the project did not write.
//!
//! The judges are Python scripts in `tests/judges`; `tests/run` installs what they need and says where it is.

mod acquisition;
mod chart;
mod containers;
mod cuts;
mod distortion;
mod expected;
mod histories;
mod kits;
mod lens_data;
mod lenses;
mod matrix;
mod mxf;
mod pictures;
mod print;
pub(crate) mod random;
mod report;
mod sidecars;
mod stamp;

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value as Json;

use crate::workshop::{in_ci, note, root};

/// The judges of this machine.
pub(crate) struct Judges {
    python: PathBuf,
}

impl Judges {
    /// The judges, or `None` with a note where there are none. Where every check must run that is a failure.
    pub(crate) fn called() -> Option<Self> {
        let python = std::env::var_os("LENSMEND_JUDGES").filter(|python| !python.is_empty());
        let Some(python) = python.map(PathBuf::from) else {
            assert!(
                !in_ci(),
                "no outside judges: run tests/run, which installs them and sets LENSMEND_JUDGES"
            );
            note("no outside judges, so nothing was held against them; run tests/run for that");
            return None;
        };
        assert!(
            python.is_file(),
            "LENSMEND_JUDGES is {}, and no Python is there; run tests/run",
            python.display()
        );
        Some(Self { python })
    }

    /// What the script `judge` of `tests/judges` says of `files`: one object a file, in their order.
    pub(crate) fn ask(&self, judge: &str, files: &[PathBuf]) -> Vec<Json> {
        let said = self.run(judge, files);
        let Json::Array(said) = said else { panic!("{judge} gave no list: {said}") };
        assert_eq!(said.len(), files.len(), "{judge} must answer for every file");
        for (said, file) in said.iter().zip(files) {
            assert_eq!(said["file"].as_str().map(Path::new), Some(file.as_path()));
        }
        said
    }

    /// What the script `judge` of `tests/judges` says of itself, without files: one object.
    pub(crate) fn values(&self, judge: &str) -> Json {
        self.run(judge, &[])
    }

    /// What the script `judge` says when called with these words.
    pub(crate) fn run(&self, judge: &str, files: &[PathBuf]) -> Json {
        let script = root().join("tests/judges").join(judge);
        let run = Command::new(&self.python).arg(&script).args(files).output().unwrap();
        let complaint = String::from_utf8_lossy(&run.stderr);
        let said = serde_json::from_slice(&run.stdout);
        said.unwrap_or_else(|_| {
            panic!("{judge} gave no answer; run tests/run. It said: {complaint}")
        })
    }
}
