//! What `check` found, as text and as JSON.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use serde_json::{Map, Value as Json, json};

use super::Stamp;
use super::calm::calm;
use super::record::Document;

/// The first member of every check.
pub const FORMAT: &str = "lensmend check";
/// Files of one state and cause that the text names; JSON names all.
const NAMES: usize = 20;

/// How an output stands to media, notes and kit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// It is what a run would leave.
    Agree,
    /// It is as it was written, and a run would write something else now.
    Stale,
    /// Somebody changed it since it was written.
    Edited,
    /// An earlier run wrote it, and a run would not now.
    Orphan,
    /// A run would write it, and it is not there.
    Missing,
    /// It cannot be looked at.
    Unreadable,
}

impl State {
    /// Every state, in the order in which they are told.
    pub const ALL: [Self; 6] =
        [Self::Agree, Self::Stale, Self::Edited, Self::Orphan, Self::Missing, Self::Unreadable];

    /// The word in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Agree => "agree",
            Self::Stale => "stale",
            Self::Edited => "edited",
            Self::Orphan => "orphan",
            Self::Missing => "missing",
            Self::Unreadable => "unreadable",
        }
    }

    fn heading(self) -> &'static str {
        match self {
            Self::Agree => "Agree",
            Self::Stale => "Stale",
            Self::Edited => "Edited by hand",
            Self::Orphan => "Orphans, of earlier runs, which a run would not write now",
            Self::Missing => "Missing",
            Self::Unreadable => "Cannot be looked at",
        }
    }
}

/// Something that changed since the last run.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cause {
    /// What kind of thing: `media`, `notes`, `kit`, `clip list`, `options`, `program`, `run`, `sidecar`.
    pub what: String,
    /// Which, if there can be several.
    pub name: Option<String>,
    /// What became of it, as the rest of a sentence that begins with it.
    pub how: String,
}

impl Cause {
    fn text(&self) -> String {
        let Self { what, name, how } = self;
        calm(&format!("{} {how}", name.as_deref().unwrap_or(what)))
    }
}

/// A file that a run writes, or has written.
#[derive(Clone, Debug, PartialEq)]
pub struct Checked {
    /// What it is: `sidecar`, `table`, `lens data`, `record`, `orphan`.
    pub role: &'static str,
    /// Path as the run record names it.
    pub file: String,
    /// Its clip, of a sidecar.
    pub clip: Option<usize>,
    /// How it stands.
    pub state: State,
    /// What changed, if it is stale.
    pub causes: Vec<Cause>,
    /// What else there is to say.
    pub says: Vec<String>,
}

/// Everything that was found.
pub struct Report<'a> {
    /// The files.
    pub files: &'a [Checked],
    /// Names of clips.
    pub clips: &'a [String],
    /// Everything that changed since the last run.
    pub changes: &'a [Cause],
    /// The output folder, as the user names it.
    pub into: &'a str,
    /// Options that held, as words of a command line.
    pub options: &'a [String],
    /// Date of the last run that changed something; `None` where there is no run record.
    pub written: Option<&'a str>,
}

impl Report<'_> {
    /// True if every file is as a run would leave it.
    pub fn agrees(&self) -> bool {
        self.files.iter().all(|file| file.state == State::Agree)
    }

    fn count(&self, state: State) -> usize {
        self.files.iter().filter(|file| file.state == state).count()
    }

    /// As text: one line if all agree.
    pub fn text(&self) -> String {
        let into = calm(self.into);
        if self.agrees() {
            return format!("All {} files of {into} agree.\n", self.files.len());
        }
        let mut text = String::new();
        if self.written.is_none() {
            let _ = writeln!(
                text,
                "There is no run record in {into}, so nothing is known of an earlier run.\n"
            );
        }
        for state in State::ALL.into_iter().filter(|state| *state != State::Agree) {
            let mut groups: BTreeMap<Vec<String>, Vec<&str>> = BTreeMap::new();
            for file in self.files.iter().filter(|file| file.state == state) {
                let causes = file.causes.iter().map(Cause::text);
                let why = causes.chain(file.says.iter().map(|says| calm(says))).collect();
                groups.entry(why).or_default().push(&file.file);
            }
            for (why, files) in groups {
                group(&mut text, state, &why, &files);
            }
        }
        let counts: Vec<String> = State::ALL
            .into_iter()
            .map(|state| (self.count(state), state))
            .filter(|(count, _)| *count > 0)
            .map(|(count, state)| format!("{count} {}", state.word()))
            .collect();
        let _ = writeln!(text, "{}.", counts.join(", "));
        for line in self.to_do() {
            let _ = writeln!(text, "{line}");
        }
        text
    }

    fn to_do(&self) -> Vec<String> {
        let has = |state| self.count(state) > 0;
        let mut lines = Vec::new();
        if self.written.is_none() {
            lines.push(
                "Run `lensmend annotate` first, or name the output folder of the run with --into OUT."
                    .to_owned(),
            );
        } else if has(State::Stale) || has(State::Missing) {
            let with = match self.options {
                [] => String::new(),
                options => format!(" with the same options ({})", calm(&options.join(" "))),
            };
            lines.push(format!("What is stale or missing: run `lensmend annotate` again{with}."));
        }
        if has(State::Edited) {
            lines.push(
                "What was edited: `annotate` keeps it; look which is right. In sidecars --replace-edited puts the values of lensmend back; any other file has to be moved away."
                    .to_owned(),
            );
        }
        if has(State::Orphan) {
            lines.push(
                "Orphans: nobody keeps them up to date; remove them if their clips are gone for good, or if they are no longer asked for."
                    .to_owned(),
            );
        }
        if has(State::Unreadable) {
            lines.push(
                "What cannot be looked at: mend rights or drive, and check again.".to_owned(),
            );
        }
        lines
    }

    /// As JSON, a file a line.
    pub fn json(&self, stamp: &Stamp) -> serde_json::Result<Vec<u8>> {
        let mut document = Document::new(FORMAT, stamp)?;
        if let Some(written) = self.written {
            document.member("written", &json!(written))?;
        }
        document.member("agrees", &json!(self.agrees()))?;
        let counts =
            State::ALL.into_iter().map(|state| (state.word().to_owned(), json!(self.count(state))));
        document.member("summary", &Json::Object(counts.collect()))?;
        document.member("options", &json!(self.options))?;
        document.list("changes", self.changes.iter().map(cause))?;
        document.list("files", self.files.iter().map(|file| self.file(file)))?;
        Ok(document.end())
    }

    fn file(&self, file: &Checked) -> Json {
        let Checked { role, file, clip, state, causes, says } = file;
        let mut object = Map::new();
        object.insert("state".into(), json!(state.word()));
        object.insert("role".into(), json!(role));
        object.insert("file".into(), json!(file));
        if let Some(name) = clip.and_then(|clip| self.clips.get(clip)) {
            object.insert("clip".into(), json!(name));
        }
        if !causes.is_empty() {
            object.insert("causes".into(), causes.iter().map(cause).collect());
        }
        if !says.is_empty() {
            object.insert("says".into(), json!(says));
        }
        Json::Object(object)
    }
}

fn group(text: &mut String, state: State, why: &[String], files: &[&str]) {
    let _ = write!(text, "{}", state.heading());
    if !why.is_empty() {
        let more = why.len().saturating_sub(NAMES);
        let why: Vec<&str> = why.iter().take(NAMES).map(String::as_str).collect();
        let _ = write!(text, " ({}", why.join("; "));
        if more > 0 {
            let _ = write!(text, "; {more} more");
        }
        text.push(')');
    }
    text.push_str(":\n");
    for file in files.iter().take(NAMES) {
        let _ = writeln!(text, "  {}", calm(file));
    }
    if files.len() > NAMES {
        let _ = writeln!(text, "  and {} more; --json lists all", files.len() - NAMES);
    }
    text.push('\n');
}

fn cause(cause: &Cause) -> Json {
    let Cause { what, name, how } = cause;
    let mut object = Map::new();
    object.insert("what".into(), json!(what));
    if let Some(name) = name {
        object.insert("name".into(), json!(name));
    }
    object.insert("how".into(), json!(how));
    Json::Object(object)
}
