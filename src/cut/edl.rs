//! EDLs of the 3600 form, as editors write them today (no standard; common practice, with the public sources that
//! `docs/turnover.md` names).
//!
//! An event is `NNN REEL CHANNEL TRANSITION [FRAMES] SOURCE-IN SOURCE-OUT RECORD-IN RECORD-OUT`; out is the frame after the
//! last. A dissolve stands on two lines of one number: what goes, with no length, and what comes. Lines that begin with
//! `*` speak of the event above them, `M2` tells its speed.

use crate::finding::{Code, Finding, Found, Place};

use super::{Anchor, Cut, Event, MOST_EVENTS, Speed, Time, Transition, trouble};

/// Reads an EDL.
pub fn parse(file: &str, text: &str) -> Found<Cut> {
    let mut reader = Reader {
        file,
        text,
        number: 0,
        cut: Cut::default(),
        findings: Vec::new(),
        pending: None,
        outgoing: None,
    };
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let span = at..at + line.trim_end().len();
        at += line.len();
        reader.number += 1;
        if reader.cut.events.len() >= MOST_EVENTS {
            let place = reader.place(span);
            let message = format!("only the first {MOST_EVENTS} events were read");
            reader.findings.push(trouble(Code::CutLine, &place, message, "cut the list in parts"));
            break;
        }
        reader.line(line.trim(), span);
    }
    reader.end();
    let Reader { cut, mut findings, .. } = reader;
    if cut.events.is_empty() {
        let hint = "hand over an EDL of the 3600 form, or an OpenTimelineIO file";
        findings.push(trouble(Code::CutEmpty, &Place::file(file), "no event could be read", hint));
    }
    Found { value: cut, findings }
}

struct Reader<'a> {
    file: &'a str,
    text: &'a str,
    /// Number of the line being read, from 1.
    number: u64,
    cut: Cut,
    findings: Vec<Finding>,
    /// The outgoing half of a transition, waiting for what comes.
    pending: Option<Event>,
    /// The outgoing clip of the event last read, where it is an event of its own.
    outgoing: Option<usize>,
}

impl Reader<'_> {
    fn place(&self, span: std::ops::Range<usize>) -> Place {
        Place::span(self.file, self.text, span)
    }

    fn line(&mut self, line: &str, span: std::ops::Range<usize>) {
        if line.is_empty() {
            return;
        }
        if let Some(title) = after(line, "TITLE:") {
            self.cut.title = Some(title.to_owned()).filter(|title| !title.is_empty());
        } else if let Some(mode) = after(line, "FCM:") {
            // It may change from event to event; what matters here is how the cut's own labels count, once.
            let drop = !mode.to_ascii_uppercase().starts_with("NON");
            self.cut.drop.get_or_insert(drop);
        } else if let Some(comment) = line.strip_prefix('*') {
            self.comment(comment.trim());
        } else if let Some(rest) = after(line, "M2 ").or_else(|| after(line, "M2\t")) {
            self.speed(rest, span);
        } else if line.starts_with(|c: char| c.is_ascii_digit()) {
            self.event(line, span);
        }
        // All else (`SPLIT:`, `GPI`, `>>>`) is of no concern to lenses.
    }

    fn event(&mut self, line: &str, span: std::ops::Range<usize>) {
        let place = self.place(span);
        let words: Vec<&str> = line.split_whitespace().collect();
        let parsed = Words::of(&words);
        let Some(words) = parsed else {
            let message = "this event cannot be read";
            let hint = "an event has a number, reel, channel, transition and four timecodes";
            self.findings.push(trouble(Code::CutLine, &place, message, hint));
            return;
        };
        // Sound has no lens.
        if !shows_picture(words.channel) {
            return;
        }
        let time = |text: &str| Time::Label(text.to_owned());
        let mut event = Event {
            number: words.number.to_owned(),
            name: None,
            file: None,
            reel: Some(words.reel).filter(|reel| !is_generated(reel)),
            track: words.channel.to_owned(),
            source: (time(words.times.0), time(words.times.1)),
            record: Some((time(words.times.2), time(words.times.3))),
            speed: None,
            transition: words.transition.map(|(kind, frames)| Transition { kind, frames }),
            beyond: (0, 0),
            anchor: Anchor::Line(self.number),
            comments: Vec::new(),
            place,
        };
        // The outgoing half of a transition has no length; what follows with the same number is what comes.
        let outgoing = event.source.0 == event.source.1 && event.transition.is_none();
        self.outgoing = None;
        if let Some(before) = self.pending.take() {
            if before.number == event.number {
                event.comments.extend(before.comments.iter().cloned());
                self.goes(before, event.transition.as_ref().map_or(0, |change| change.frames));
            } else if !is_black(&before) {
                self.cut.events.push(before);
            }
        }
        if outgoing && !words.black {
            self.pending = Some(event);
        } else if !words.black {
            self.cut.events.push(event);
        }
    }

    /// What goes in a transition is shown on for as long as it takes.
    fn goes(&mut self, before: Event, frames: u64) {
        let last = self.cut.events.last_mut().filter(|last| {
            last.reel == before.reel
                && last.track == before.track
                && last.source.1 == before.source.0
        });
        if let Some(last) = last {
            last.beyond.1 = frames;
        } else {
            // It was not on before: the transition alone shows it.
            self.outgoing = Some(self.cut.events.len());
            self.cut.events.push(Event { beyond: (0, frames), ..before });
        }
    }

    /// Where a remark belongs: to the event last read.
    fn last(&mut self) -> Option<&mut Event> {
        if self.pending.is_some() { self.pending.as_mut() } else { self.cut.events.last_mut() }
    }

    fn comment(&mut self, comment: &str) {
        let (number, outgoing) = (self.number, self.outgoing);
        let gone = after(comment, "FROM CLIP NAME:").filter(|name| !name.is_empty());
        let gone = gone.and_then(|name| Some((outgoing?, name.to_owned())));
        if let Some((at, name)) = gone {
            if let Some(event) = self.cut.events.get_mut(at) {
                event.name = Some(name);
            }
            if let Some(event) = self.last() {
                event.anchor = Anchor::Line(number);
            }
            return;
        }
        let Some(event) = self.last() else { return };
        event.anchor = Anchor::Line(number);
        let set = |slot: &mut Option<String>, text: &str| {
            if !text.is_empty() {
                *slot = Some(text.to_owned());
            }
        };
        // Of a dissolve, `FROM` names what goes and `TO` what comes; of a plain cut there is only `FROM`.
        let coming = event.transition.as_ref().is_some_and(|change| change.frames > 0);
        if let Some(name) = after(comment, "TO CLIP NAME:") {
            set(&mut event.name, name);
        } else if let Some(name) = after(comment, "FROM CLIP NAME:") {
            if !coming {
                set(&mut event.name, name);
            }
        } else if let Some(path) = ["SOURCE FILE:", "FROM FILE:", "FROM CLIP:", "TO FILE:"]
            .iter()
            .find_map(|word| after(comment, word))
        {
            if !coming || after(comment, "FROM").is_none() {
                set(&mut event.file, path);
            }
        } else if !comment.is_empty() && after(comment, super::OWN).is_none() {
            event.comments.push(comment.to_owned());
        }
    }

    /// `M2 REEL FPS SOURCE-IN`: so many frames of the source a second.
    fn speed(&mut self, rest: &str, span: std::ops::Range<usize>) {
        let (place, number) = (self.place(span), self.number);
        let frames = rest.split_whitespace().rev().nth(1).and_then(|word| word.parse::<f64>().ok());
        match (frames.filter(|frames| frames.is_finite()), self.last()) {
            (Some(frames), Some(event)) => {
                event.speed = Some(Speed::FramesASecond(frames));
                event.anchor = Anchor::Line(number);
            }
            (_, None) => {}
            (None, Some(_)) => {
                let hint = "a speed line is M2, the reel, frames a second, and a timecode";
                self.findings.push(trouble(
                    Code::CutLine,
                    &place,
                    "this speed cannot be read",
                    hint,
                ));
            }
        }
    }

    fn end(&mut self) {
        if let Some(before) = self.pending.take().filter(|before| !is_black(before)) {
            self.cut.events.push(before);
        }
    }
}

/// The words of an event line.
struct Words<'a> {
    number: &'a str,
    reel: String,
    channel: &'a str,
    transition: Option<(String, u64)>,
    times: (&'a str, &'a str, &'a str, &'a str),
    black: bool,
}

impl<'a> Words<'a> {
    /// A reel may hold blanks, so that the line is read from both ends.
    fn of(words: &[&'a str]) -> Option<Self> {
        let count = words.len();
        let time = |back: usize| {
            let word = *words.get(count.checked_sub(back)?)?;
            (word.bytes().filter(|byte| matches!(byte, b':' | b';' | b'.')).count() == 3)
                .then_some(word)
        };
        let times = (time(4)?, time(3)?, time(2)?, time(1)?);
        let middle = words.get(..count.checked_sub(4)?)?;
        // The channel is the first word behind the reel that is one, with a transition behind it.
        let channel = (2..middle.len()).find(|at| {
            let two = (middle.get(*at), middle.get(at + 1));
            matches!(two, (Some(channel), Some(kind)) if is_channel(channel) && change(kind).is_some())
        })?;
        let kind = middle.get(channel + 1)?;
        let frames = match middle.get(channel + 2..)? {
            [] => None,
            // Of a key, `B` is what lies below, `O` and `(F)` what fades: no numbers.
            [.., sign] if matches!(*sign, "B" | "O" | "(F)") && kind.starts_with(['K', 'k']) => {
                None
            }
            [.., frames] => Some(frames.parse().ok()?),
        };
        let transition = change(kind)?.map(|word| (word, frames.unwrap_or(0)));
        let reel = middle.get(1..channel)?.join(" ");
        let black = ["BL", "BLACK"].iter().any(|black| reel.eq_ignore_ascii_case(black));
        Some(Self {
            number: words.first()?,
            reel,
            channel: middle.get(channel)?,
            transition,
            times,
            black,
        })
    }
}

/// The words for a way of changing pictures, none for a plain cut; nothing if it is no such way.
#[expect(clippy::option_option, reason = "a plain cut is a way of changing pictures, too")]
fn change(kind: &str) -> Option<Option<String>> {
    let rest = kind.get(1..)?;
    match kind.chars().next()?.to_ascii_uppercase() {
        'C' if rest.is_empty() => Some(None),
        'D' if rest.is_empty() => Some(Some("dissolve".to_owned())),
        'W' if rest.bytes().all(|b| b.is_ascii_digit()) => {
            Some(Some(format!("wipe {rest}").trim_end().to_owned()))
        }
        'K' if rest.len() < 3 => Some(Some("key".to_owned())),
        _ => None,
    }
}

/// True for the name of a channel: `V`, `V2`, `B`, `A`, `AA/V`, `NONE`.
fn is_channel(word: &str) -> bool {
    let part = |part: &str| {
        let part = part.to_ascii_uppercase();
        let letters = part.trim_end_matches(|c: char| c.is_ascii_digit());
        ["V", "B", "A", "AA", "NONE"].contains(&letters)
    };
    word.split('/').all(part)
}

/// True for a channel with picture: `V`, `V2`, `B` and `AA/V`; not for `A`, `AA`, `A2`, `NONE`.
fn shows_picture(channel: &str) -> bool {
    channel.split('/').any(|part| {
        let part = part.to_ascii_uppercase();
        part == "B" || part.strip_prefix('V').is_some_and(|n| n.bytes().all(|b| b.is_ascii_digit()))
    })
}

/// Reels that no camera shot.
fn is_generated(reel: &str) -> bool {
    ["BL", "BLACK", "BARS", "AX"].iter().any(|word| reel.eq_ignore_ascii_case(word))
}

/// True for black, which is no use of a clip.
fn is_black(event: &Event) -> bool {
    event.reel.is_none() && event.name.is_none() && event.file.is_none()
}

/// What follows a word at the beginning of a line, whatever its case.
fn after<'a>(line: &'a str, word: &str) -> Option<&'a str> {
    let begins = line.get(..word.len())?;
    begins.eq_ignore_ascii_case(word).then(|| line.get(word.len()..).unwrap_or_default().trim())
}
