//! Findings: trouble with one clip, row, key or field, said as data. A finding never stops the run.

use std::sync::Arc;

/// How much a finding asks of the reader.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// Worth knowing; nothing to do.
    Info,
    /// Somebody should look: a value was left out or may be wrong.
    Warning,
    /// Something could not be read or is lost to this run.
    Fault,
}

impl Level {
    /// The word used in every output.
    pub fn word(self) -> &'static str {
        match self {
            Self::Info => "info",
            Self::Warning => "warning",
            Self::Fault => "fault",
        }
    }
}

/// Declares the table of finding codes: variant, code as written, level, what it means.
macro_rules! codes {
    ($($variant:ident $code:literal $level:ident $meaning:literal;)*) => {
        /// Stable codes; the words of a message may change, a code does not. `docs/findings.md` lists them.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Code {
            $(#[doc = $meaning] $variant,)*
        }

        impl Code {
            /// Every code, in the order of the documentation.
            pub const ALL: &[Code] = &[$(Code::$variant,)*];

            /// The code as written in every output.
            pub fn word(self) -> &'static str {
                match self { $(Code::$variant => $code,)* }
            }

            /// How much it asks of the reader.
            pub fn level(self) -> Level {
                match self { $(Code::$variant => Level::$level,)* }
            }

            /// What it means, in one sentence.
            pub fn meaning(self) -> &'static str {
                match self { $(Code::$variant => $meaning,)* }
            }
        }
    };
}

codes! {
    DumpUnreadable "dump.unreadable" Fault "A file or folder of the dump could not be read.";
    DumpNoClips "dump.no-clips" Warning "No clip was found in the dump.";
    ClipSpanGap "clip.span-gap" Warning "Parts of a spanned clip or frames of a sequence are missing or do not follow one another.";
    ClipNameTwice "clip.name-twice" Warning "Two clips of the dump have the same name and are not the same.";
    ClipCopies "clip.copies" Info "A clip is in the dump more than once; it counts as one.";
    SealBroken "seal.broken" Warning "A hash list of the dump, or part of one, cannot be used.";
    SealMismatch "seal.mismatch" Fault "A file of a clip is not what the hash lists of the dump say; no sidecar is written for the clip.";
    SealMissing "seal.missing" Warning "A file that a hash list records is not there.";
    SealUnlisted "seal.unlisted" Warning "A file of a clip is in no hash list, so nobody can say whether it is whole.";
    SealNew "seal.new" Info "Sidecars in a sealed folder are in none of its generations; a verify reports them as new files.";
    SealKept "seal.kept" Warning "A file recorded in a sealed history would have changed; it was left alone.";
    MediaEmpty "media.empty" Fault "The file holds no bytes: nothing was recorded or copied.";
    MediaCutOff "media.cut-off" Fault "The file ends before the facts it announces: copied in part, or never closed by the camera.";
    MediaDamaged "media.damaged" Warning "A part of the file's header breaks the rules of its format; what was read before it stands.";
    MediaOpaque "media.opaque" Info "The container is not one that lensmend reads; the clip is annotated from notes alone.";
    MediaNoPicture "media.no-picture" Warning "The file holds no picture track.";
    MediaRateVaries "media.rate-varies" Warning "The frame rate varies inside the clip; frames are counted, times are not exact.";
    MediaTrimmed "media.trimmed" Info "The file's edit list hides or delays some of its pictures; frames and timecode are those of the pictures shown.";
    MediaEdits "media.edits" Warning "The file's edit list cannot be followed picture by picture; frames and timecode may be off.";
    MediaContradiction "media.contradiction" Warning "The file says two different things of itself; neither is taken, both are kept as tags.";
    MediaPerFrame "media.per-frame" Warning "Lens data that the file carries frame by frame could not be used in full.";
    MediaTimecodeOdd "media.timecode-odd" Warning "The timecode track contradicts itself or the picture.";
    NotesUnreadable "notes.unreadable" Fault "A notes file could not be read as a table.";
    NotesNoHeader "notes.no-header" Fault "No row of the file looks like the headings of lens notes.";
    NotesHeading "notes.heading" Warning "A heading is not known, or stands twice; its column is not used.";
    NotesCell "notes.cell" Warning "A cell could not be understood; the rest of its row is used.";
    NotesRow "notes.row" Warning "A row could not be used at all.";
    NotesEncoding "notes.encoding" Info "The file is not UTF-8; the encoding was worked out.";
    NotesSheets "notes.sheets" Warning "Several sheets of a workbook hold lens notes; one of them was read.";
    NotesNoMatch "notes.no-match" Warning "A row of the notes names no clip of the dump.";
    NotesNone "notes.none" Warning "No row of the notes speaks of a clip, and no kit default tells its lens.";
    NotesNoRow "notes.no-row" Info "No row of the notes speaks of a clip; kit and media alone tell its lens.";
    NotesTime "notes.time" Warning "A row gives a time at which the clip that it names did not run by the camera's clock.";
    NotesDisagree "notes.disagree" Warning "Two rows of the same rank say different things; neither is used for that field.";
    SheetName "sheet.name" Warning "A clip or roll is called what a cell of lens notes cannot say, so the sheet has no row or no roll for it.";
    ListNoMatch "list.no-match" Warning "A row of a clip list names no clip of the dump, or one that another row names.";
    ListCell "list.cell" Info "A cell of a clip list cannot be used; the rest of its row is.";
    ListDiffers "list.differs" Warning "A clip list and the media say different things; the media was taken.";
    KitFault "kit.fault" Fault "The kit file does not hold together; nothing is written until it does.";
    KitUnknownKey "kit.unknown-key" Warning "A key of the kit file is not known and not used.";
    ChartSeries "chart.series" Warning "A series of chart shots could not be solved; the others still count.";
    ChartOneDistance "chart.one-distance" Warning "Chart shots at one distance alone do not tell a focal length: the place of the entrance pupil is not known.";
    ChartScatter "chart.scatter" Warning "Chart shots lie further off their curve than the stated errors allow; the uncertainties were widened.";
    ChartAgainstKit "chart.against-kit" Warning "What was measured on the chart cannot be what the kit says; the kit lines are printed behind a comment sign.";
    ChartPairs "chart.pairs" Warning "Magnifications of one attachment, measured in several pairs of series, disagree; the uncertainty of their mean was widened.";
    ChartSide "chart.side" Warning "The sheet does not say along which side of the picture the chart was measured, and the lens squeezes.";
    ChartNoBare "chart.no-bare" Warning "The lens was not measured without the attachment at the same setting, so the magnification is not known.";
    CameraUnknown "camera.unknown" Warning "No camera of the kit answers to the clip.";
    CameraSerial "camera.serial" Warning "A camera's serial number in the media is that of another camera, or of two cameras at one time.";
    ModeUnknown "mode.unknown" Warning "The recording mode is not in the kit or cannot be told; film back and view are left out.";
    LensUnknown "lens.unknown" Warning "The lens cannot be told; the kit has no such lens, or several.";
    LensTwice "lens.twice" Warning "One lens, told by its serial number, is noted on two cameras at one time.";
    LensFocal "lens.focal" Warning "The focal length cannot be told, or the lens cannot be set to the one noted.";
    LensZooms "lens.zooms" Info "The lens zooms over the piece as noted; the focal length is left out, and both ends stand in the remarks.";
    LensDistortion "lens.distortion" Info "What the kit says of a lens's distortion does not hold for a set-up, and is left out of it.";
    LensStop "lens.stop" Warning "The stop cannot be told, or the lens cannot be set to the one noted.";
    AttachmentUnknown "attachment.unknown" Warning "What stood between lens and camera cannot be told.";
    AttachmentFit "attachment.fit" Warning "Lens, attachment and camera do not go together as noted or as the kit says, or not as they should.";
    AttachmentLoose "attachment.loose" Warning "The attachment was noted as loose: the picture may shift or tilt, and a matchmove must expect it.";
    AttachmentGlass "attachment.glass" Info "The light that an attachment's glass takes is not known, so T-numbers behind it are left out.";
    AttachmentInferred "attachment.inferred" Warning "Recorded and noted focal length agree only with an attachment that nobody noted; it was not applied.";
    AttachmentHalf "attachment.half" Warning "One of focal length and stop was recorded bare and the other behind the attachment, which the kit does not say of it.";
    AttachmentReports "attachment.reports" Info "The camera recorded other values than the kit says this attachment makes it record.";
    AttachmentExtender "attachment.extender" Warning "The camera recorded an optical extender that notes and kit do not tell of, or another magnification than theirs; nothing is scaled by it.";
    FieldContradiction "field.contradiction" Warning "The media and the notes cannot both be right; the field is left out.";
    FieldAmbiguous "field.ambiguous" Warning "The recorded value can be read in two ways; the field is left out.";
    FieldStale "field.stale" Warning "A recorded focal length stayed the same while the lens changed: somebody typed it into the camera; the field is left out.";
    FieldHabit "field.habit" Info "A recorded value that can be read in two ways was read as other clips of the camera show, or as was asked.";
    FieldKept "field.kept" Info "The recorded value was kept against the notes, as asked.";
    FieldReplaced "field.replaced" Info "The recorded value was replaced by the notes, as asked.";
    CoverageCorners "coverage.corners" Warning "The image circle behind the attachment is smaller than the recorded area; corners, or whole edges, are dark.";
    CutEmpty "cut.empty" Fault "A cut holds no event that can be read.";
    CutLine "cut.line" Warning "A part of a cut cannot be read, or is read in part.";
    CutNoClip "cut.no-clip" Warning "An event of a cut matches no clip of the dump.";
    CutTwoClips "cut.two-clips" Warning "An event of a cut matches two clips of the dump, or more.";
    CutFrames "cut.frames" Warning "Which frames of its clip an event uses cannot be told, or not for certain.";
    CutPastEnd "cut.past-end" Warning "An event asks for frames before its clip begins or after it ends.";
    CutHandles "cut.handles" Info "A clip has fewer frames of handle around an event than were asked for.";
    CutPlate "cut.plate" Warning "The plate asked for does not fit into what a clip recorded.";
    StampNoClip "stamp.no-clip" Warning "A plate could not be told to be a frame of a clip or shot.";
    StampRefused "stamp.refused" Warning "A plate cannot be copied with lens data, because its file is not understood.";
    StampReplaced "stamp.replaced" Info "A plate had other values of lens data; its copy has those of lensmend.";
    OutputKept "output.kept" Warning "A file in the way was not written by lensmend, or was edited since; it was left alone.";
    OutputEdited "output.edited" Warning "Somebody changed properties of a sidecar since lensmend wrote them; they were kept.";
    OutputDiffers "output.differs" Warning "The sidecar of another program says something else than lensmend would; its properties were kept.";
    OutputBroken "output.broken" Warning "A sidecar that is there cannot be merged: it is not whole, or no XMP; it was left alone.";
    OutputBesideChanged "output.beside-changed" Warning "The sidecar beside a clip and the mirrored one that began as its copy were both changed since; what is new beside the clip was not taken over.";
    OutputCaseTwin "output.case-twin" Warning "Two sidecars of one folder have names that differ only in case; one is used, the other was left alone.";
    OutputFailed "output.failed" Fault "A file could not be written; what was there before still stands.";
    OutputNameClash "output.name-clash" Info "Two files of one folder differ only in their extension; their sidecars carry the whole file name.";
    OutputLeftOut "output.left-out" Info "A format asked for has no file of this clip, because it would fill in what is not known.";
    OutputOrphan "output.orphan" Info "A file written by an earlier run is not written by this one: its clip is gone, or it was not asked for; it was left alone.";
}

/// Where a finding points.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// File, as the user would name it.
    pub file: Arc<str>,
    /// Where in the file.
    pub spot: Spot,
}

/// Where in a file.
#[derive(Clone, Debug, PartialEq)]
pub enum Spot {
    /// The file as a whole.
    Whole,
    /// A byte of a binary file.
    Byte(u64),
    /// A place in a text file.
    Text {
        /// Line, from 1.
        line: u64,
        /// Column in characters, from 1.
        column: u64,
        /// The line as it stands, with the part that is meant.
        excerpt: Option<Excerpt>,
        /// What a spreadsheet calls the place: `E4`.
        name: Option<Arc<str>>,
    },
}

/// A line of a text file and the part of it that is meant.
#[derive(Clone, Debug, PartialEq)]
pub struct Excerpt {
    /// The line, without its line end; places on one line may share it.
    pub line: Arc<str>,
    /// Bytes of `line` that are meant; lies inside it, on character borders.
    pub part: std::ops::Range<usize>,
}

impl Place {
    /// The whole of `file`.
    pub fn file(file: impl Into<Arc<str>>) -> Self {
        Self { file: file.into(), spot: Spot::Whole }
    }

    /// A byte of `file`.
    pub fn byte(file: impl Into<Arc<str>>, offset: u64) -> Self {
        Self { file: file.into(), spot: Spot::Byte(offset) }
    }

    /// The bytes `span` of a text file. Spans outside the text or off character borders are moved to the nearest border.
    pub fn span(file: impl Into<Arc<str>>, text: &str, span: std::ops::Range<usize>) -> Self {
        let border = |mut at: usize| {
            at = at.min(text.len());
            while !text.is_char_boundary(at) {
                at -= 1;
            }
            at
        };
        let (start, end) = (border(span.start), border(span.end.max(span.start)));
        let before = text.get(..start).unwrap_or_default();
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        let rest = text.get(line_start..).unwrap_or_default();
        let line = rest.split(['\n', '\r']).next().unwrap_or_default();
        let part = (start - line_start).min(line.len())..(end - line_start).min(line.len());
        let count = |n: usize| u64::try_from(n).unwrap_or(u64::MAX);
        let lead = text.get(line_start..start).unwrap_or_default();
        Self {
            file: file.into(),
            spot: Spot::Text {
                line: count(before.matches('\n').count() + 1),
                column: count(lead.chars().count() + 1),
                excerpt: Some(Excerpt { line: line.into(), part }),
                name: None,
            },
        }
    }
}

/// One finding.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What kind.
    pub code: Code,
    /// The clip concerned, if it concerns one.
    pub clip: Option<Arc<str>>,
    /// Where to look, if there is such a place.
    pub place: Option<Place>,
    /// What is the matter, in one sentence without a full stop.
    pub message: String,
    /// What was understood all the same, and is used.
    pub understood: Option<String>,
    /// What to do about it.
    pub hint: Option<String>,
}

impl Finding {
    /// A finding with neither place nor hint.
    pub fn new(code: Code, message: impl Into<String>) -> Self {
        Self {
            code,
            clip: None,
            place: None,
            message: message.into(),
            understood: None,
            hint: None,
        }
    }

    /// The same, pointing at `place`.
    #[must_use]
    pub fn at(self, place: Place) -> Self {
        Self { place: Some(place), ..self }
    }

    /// The same, with what to do.
    #[must_use]
    pub fn hint(self, hint: impl Into<String>) -> Self {
        Self { hint: Some(hint.into()), ..self }
    }

    /// The same, with what was understood all the same.
    #[must_use]
    pub fn understood(self, understood: impl Into<String>) -> Self {
        Self { understood: Some(understood.into()), ..self }
    }

    /// The same, concerning `clip`.
    #[must_use]
    pub fn clip(self, clip: impl Into<Arc<str>>) -> Self {
        Self { clip: Some(clip.into()), ..self }
    }

    /// How much it asks of the reader.
    pub fn level(&self) -> Level {
        self.code.level()
    }
}

/// A value and what was found on the way to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Found<T> {
    /// The value; as much of it as could be had.
    pub value: T,
    /// What was found, in the order it was met.
    pub findings: Vec<Finding>,
}

/// Most known words that a slip is compared with; a kit or a table of headings has fewer.
const MOST_KNOWN: usize = 1000;

/// The known word nearest to `typed`, if it is near enough to be a slip of the hand.
pub fn nearest<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    near(typed, known).into_iter().next()
}

/// Most words that are offered for a slip.
const MOST_OFFERED: usize = 3;

/// The known words nearest to `typed` that are near enough to be a slip of the hand: those at the smallest distance, in
/// order of the alphabet.
pub fn near<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    let typed = typed.to_lowercase();
    let limit = 1 + typed.chars().count() / 4;
    let mut found: Vec<(usize, &str)> = known
        .into_iter()
        .take(MOST_KNOWN)
        .map(|word| (edits(&typed, &word.to_lowercase()), word))
        .filter(|(distance, _)| *distance <= limit)
        .collect();
    found.sort_unstable();
    found.dedup();
    let best = found.first().map_or(0, |(distance, _)| *distance);
    let nearest = found.into_iter().take_while(|(distance, _)| *distance == best);
    nearest.map(|(_, word)| word).take(MOST_OFFERED).collect()
}

/// Words in quotation marks with `or` before the last: for hints.
pub fn either(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
    match quoted.split_last() {
        Some((last, others)) if !others.is_empty() => format!("{} or {last}", others.join(", ")),
        _ => quoted.concat(),
    }
}

/// Edits from one word to another: insert, delete, replace, or swap two neighbours (the optimal string alignment
/// distance). Long words are cut, so that hostile input stays cheap.
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().take(64).collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    let (mut before, mut letter_before): (Vec<usize>, Option<char>) = (Vec::new(), None);
    for (i, from) in a.chars().take(64).enumerate() {
        let mut next = vec![i + 1];
        for (j, to) in b.iter().enumerate() {
            let cell = |row: &[usize], at: usize| row.get(at).copied().unwrap_or(usize::MAX / 2);
            let mut least = (cell(&row, j) + usize::from(from != *to))
                .min(cell(&row, j + 1) + 1)
                .min(cell(&next, j) + 1);
            let swapped = j > 0 && b.get(j - 1) == Some(&from) && letter_before == Some(*to);
            if swapped {
                least = least.min(cell(&before, j - 1) + 1);
            }
            next.push(least);
        }
        before = std::mem::replace(&mut row, next);
        letter_before = Some(from);
    }
    row.last().copied().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_become_line_and_column() {
        let text = "a = 1\nbß = \"x\"\r\nc";
        let at = text.find('"').unwrap();
        let place = Place::span("kit.toml", text, at..at + 3);
        let Spot::Text { line, column, excerpt, .. } = place.spot else { panic!("{place:?}") };
        assert_eq!((line, column), (2, 6));
        let excerpt = excerpt.unwrap();
        assert_eq!(
            (&excerpt.line[..], &excerpt.line[excerpt.part.clone()]),
            ("bß = \"x\"", "\"x\"")
        );
        for (start, end) in [(0, 9999), (8, 7), (9999, 9999)] {
            Place::span("kit.toml", text, start..end);
        }
    }

    #[test]
    fn slips_are_recognised_and_strangers_are_not() {
        assert_eq!(nearest("sorel-50", ["sorrel-50", "sorrel-85"]), Some("sorrel-50"));
        assert_eq!(nearest("zoom", ["sorrel-50", "sorrel-85"]), None);
        assert_eq!(nearest("sorerl-50", ["sorrel-50", "sorrel-85"]), Some("sorrel-50"));
        assert_eq!(
            near("umber-3", ["umber-35", "umber-32", "sorrel-35"]),
            ["umber-32", "umber-35"]
        );
        assert_eq!(edits("ca", "abc"), 3);
        assert_eq!(edits("slate", "salte"), 1);
        assert_eq!(edits("lesn", "lens"), 1);
        assert_eq!(either(&["a", "b", "c"]), "\"a\", \"b\" or \"c\"");
    }
}
