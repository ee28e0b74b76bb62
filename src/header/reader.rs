//! Boxes of a file read through one small window, so that big tables between them are stepped over unread
//! (ISO/IEC 14496-12, 4.2; QuickTime File Format, "Atoms").

use std::sync::Arc;

use crate::finding::{Code, Finding, Place};
use crate::header::Placed;
use crate::header::cursor::{Cursor, Limits};
use crate::read_at::ReadAt;

/// Bytes fetched at a time. One page: a read of it costs no more than a read of sixteen bytes,
/// and the boxes between two sample tables mostly fit.
const WINDOW: usize = 4096;
/// The same among fragments, of which a file can have one a second: a fragment of a second or two fits, and the essence behind it
/// is not wanted.
const SMALL_WINDOW: usize = 1024;

/// A box (atom): its kind and where it lies. `end` never passes the end of what holds it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Element {
    pub(super) kind: [u8; 4],
    pub(super) start: u64,
    pub(super) body: u64,
    pub(super) end: u64,
    /// It claims more bytes than what holds it has; that was reported, and its own parts are not reported again.
    pub(super) cut: bool,
    pub(super) path: Arc<str>,
}

impl Element {
    /// Bytes of the body.
    pub(super) fn length(&self) -> u64 {
        self.end.saturating_sub(self.body)
    }

    /// The same element under another last path part, for kinds that stand more than once.
    pub(super) fn counted(self, number: usize) -> Self {
        Self { path: format!("{}[{number}]", self.path).into(), ..self }
    }

    /// `value`, placed at this element.
    pub(super) fn place<T>(&self, value: T) -> Placed<T> {
        Placed { value, path: Arc::clone(&self.path), offset: self.start }
    }
}

/// One file being read: the window, what may still be spent, and the trouble met.
pub(super) struct Reader<'a> {
    source: &'a dyn ReadAt,
    size: u64,
    file: Arc<str>,
    window: Vec<u8>,
    window_at: u64,
    /// Bytes fetched at a time from here on.
    step: usize,
    boxes: u32,
    findings: Vec<Finding>,
    unreadable: bool,
    pub(super) limits: &'a Limits,
}

impl<'a> Reader<'a> {
    pub(super) fn new(source: &'a dyn ReadAt, file: &str, limits: &'a Limits) -> Self {
        Self {
            source,
            size: source.size(),
            file: file.into(),
            window: Vec::new(),
            window_at: 0,
            step: WINDOW,
            boxes: limits.boxes,
            findings: Vec::new(),
            unreadable: false,
            limits,
        }
    }

    pub(super) fn into_findings(self) -> Vec<Finding> {
        self.findings
    }

    /// True while nothing was reported.
    pub(super) fn is_quiet(&self) -> bool {
        self.findings.is_empty()
    }

    /// Bytes of the file.
    pub(super) fn size(&self) -> u64 {
        self.size
    }

    /// Says that from here on small parts lie far from each other.
    pub(super) fn among_fragments(&mut self) {
        self.step = SMALL_WINDOW;
    }

    pub(super) fn report(&mut self, finding: Finding) {
        // Once the disk fails, whatever looks short or broken afterwards is only that failure again.
        // One message over and over is one piece of trouble, told where it was first met.
        let told = self.findings.last().is_some_and(|last| last.message == finding.message);
        if !self.unreadable && !told && self.findings.len() < self.limits.findings {
            self.findings.push(finding);
        }
    }

    /// Reports that the box at `at` breaks a rule.
    pub(super) fn damaged(&mut self, at: u64, message: impl Into<String>) {
        let finding = Finding::new(Code::MediaDamaged, message)
            .at(Place::byte(Arc::clone(&self.file), at))
            .hint("compare the copy with the card; what could be read is used");
        self.report(finding);
    }

    /// Reports, once a file, that the file ends too early.
    pub(super) fn cut_off(&mut self, at: u64, message: impl Into<String>) {
        if self.findings.iter().all(|f| f.code != Code::MediaCutOff) {
            let finding = Finding::new(Code::MediaCutOff, message)
                .at(Place::byte(Arc::clone(&self.file), at))
                .hint("compare its size with the card and copy it again; if it is the same there, the camera never closed the clip");
            self.report(finding);
        }
    }

    /// Up to `length` bytes at `at`; fewer where the file ends or cannot be read.
    pub(super) fn bytes(&mut self, at: u64, length: usize) -> &[u8] {
        if self.held(at, length).len() < length {
            self.fill(at, length.max(self.step));
        }
        self.held(at, length)
    }

    /// The same for a few bytes far from all others: the window stays where it is.
    pub(super) fn aside(&mut self, at: u64, length: usize) -> Vec<u8> {
        if self.held(at, length).len() == length || self.unreadable {
            return self.held(at, length).to_vec();
        }
        let left = usize::try_from(self.size.saturating_sub(at)).unwrap_or(usize::MAX);
        let mut bytes = vec![0; length.min(left)];
        match self.source.read_at(at, &mut bytes) {
            Ok(count) => bytes.truncate(count),
            Err(error) => {
                bytes.clear();
                self.failed(at, &error);
            }
        }
        bytes
    }

    fn held(&self, at: u64, length: usize) -> &[u8] {
        let rest = at
            .checked_sub(self.window_at)
            .and_then(|skip| usize::try_from(skip).ok())
            .and_then(|skip| self.window.get(skip..))
            .unwrap_or_default();
        rest.get(..length.min(rest.len())).unwrap_or_default()
    }

    fn fill(&mut self, at: u64, length: usize) {
        let left = usize::try_from(self.size.saturating_sub(at)).unwrap_or(usize::MAX);
        let window_end = self.window_at.saturating_add(len(&self.window));
        if self.unreadable || left == 0 || (at >= self.window_at && window_end >= self.size) {
            return;
        }
        self.window.clear();
        self.window.resize(length.min(left), 0);
        self.window_at = at;
        match self.source.read_at(at, &mut self.window) {
            Ok(count) => self.window.truncate(count),
            Err(error) => {
                self.window.clear();
                self.failed(at, &error);
            }
        }
    }

    fn failed(&mut self, at: u64, error: &std::io::Error) {
        let message = format!("the file could not be read: {error}");
        let finding = Finding::new(Code::DumpUnreadable, message)
            .at(Place::byte(Arc::clone(&self.file), at))
            .hint("check the drive and the cable, then run again");
        self.report(finding);
        self.unreadable = true;
    }

    /// The file itself, as the box that holds all others.
    pub(super) fn root(&self) -> Element {
        Element { kind: [0; 4], start: 0, body: 0, end: self.size, cut: false, path: "".into() }
    }

    /// The next box inside `parent` at `at`, which moves behind it; `None` at the end or where no box can be told.
    pub(super) fn next(&mut self, parent: &Element, at: &mut u64) -> Option<Element> {
        let start = *at;
        let left = parent.end.saturating_sub(start);
        // Whatever goes wrong below, this parent is done with.
        *at = parent.end;
        if left < 8 {
            // QuickTime lists may end in a zero word ("User Data Atoms"); zeros as padding do no harm either.
            let padding =
                self.bytes(start, usize::try_from(left).unwrap_or(8)).iter().all(|b| *b == 0);
            if !padding {
                self.overrun(parent, start, "the heading of a part");
            }
            return None;
        }
        if !self.spend(parent, start) {
            return None;
        }
        let heading: Vec<u8> = self.bytes(start, 16).to_vec();
        let mut cursor = Cursor::new(&heading);
        let (Some(short), Some(kind)) = (cursor.u32(), cursor.array::<4>()) else {
            self.cut_off(start, "the file ends sooner than its size says");
            return None;
        };
        let name = kind_text(kind);
        let (heading, size) = match short {
            0 => (8, left),
            1 if left < 16 => {
                self.overrun(parent, start, &format!("the heading of `{name}`"));
                return None;
            }
            1 => (16, cursor.u64().unwrap_or_default()),
            size => (8, u64::from(size)),
        };
        if size < heading {
            if is_root(parent) {
                self.cut_off(start, "what stands here is no part of a clip");
            } else {
                self.damaged(start, format!("`{name}` claims to be smaller than its own heading"));
            }
            return None;
        }
        let claimed = start.saturating_add(size);
        if claimed > parent.end {
            self.overrun(parent, start, &format!("`{name}`"));
        }
        *at = claimed.min(parent.end);
        Some(Element {
            kind,
            start,
            body: start.saturating_add(heading),
            end: claimed.min(parent.end),
            cut: claimed > parent.end || (parent.cut && claimed == parent.end),
            path: if is_root(parent) {
                name.into()
            } else {
                format!("{}/{name}", parent.path).into()
            },
        })
    }

    /// What `parse` makes of the first `limit` bytes of a box; running out of bytes is reported and gives `None`.
    pub(super) fn parse<T>(
        &mut self,
        element: &Element,
        limit: usize,
        parse: impl FnOnce(&mut Cursor) -> Option<T>,
    ) -> Option<Placed<T>> {
        let length = usize::try_from(element.length()).map_or(limit, |length| length.min(limit));
        let value = parse(&mut Cursor::new(self.bytes(element.body, length)));
        if value.is_none() && !element.cut {
            self.damaged(
                element.start,
                format!("`{}` is too short for what it should hold", element.path),
            );
        }
        value.map(|value| element.place(value))
    }

    fn overrun(&mut self, parent: &Element, start: u64, what: &str) {
        if is_root(parent) {
            self.cut_off(start, format!("the file ends inside {what}"));
        } else if !parent.cut {
            let holder = &parent.path;
            self.damaged(start, format!("{what} runs past the end of `{holder}`"));
        }
    }

    /// Takes one box from the budget; the top level has its own, counted by its caller.
    fn spend(&mut self, parent: &Element, at: u64) -> bool {
        if is_root(parent) {
            return true;
        }
        let left = self.boxes.checked_sub(1);
        if let Some(left) = left {
            self.boxes = left;
            if left == 0 {
                self.damaged(
                    at,
                    "the header has more parts than any clip needs; the rest was not read",
                );
            }
        }
        left.is_some()
    }

    /// True while boxes may still be read.
    pub(super) fn in_budget(&self) -> bool {
        self.boxes > 0
    }
}

/// Bytes as a file offset.
pub(super) fn len(bytes: &[u8]) -> u64 {
    u64::try_from(bytes.len()).unwrap_or(u64::MAX)
}

/// A kind as text: `©` is a byte of its own in QuickTime; what cannot be printed is written as a number.
pub fn kind_text(kind: [u8; 4]) -> String {
    let printable = kind.iter().all(|b| matches!(b, 0x20..=0x7E | 0xA9));
    if printable {
        kind.iter().map(|b| char::from(*b)).collect()
    } else {
        format!("{:#010x}", u32::from_be_bytes(kind))
    }
}

fn is_root(element: &Element) -> bool {
    element.path.is_empty()
}
