//! Every word that a camera report prints by itself, in one table: English, and what a file of headings puts in its place.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::finding::nearest;

/// Declares the table: variant, id in a file of headings, English.
macro_rules! words {
    ($($variant:ident $id:literal $english:literal;)*) => {
        /// A heading or word of the camera report.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Word {
            $(#[doc = $english] $variant,)*
        }

        impl Word {
            /// Every word, in the order of a file of headings.
            pub const ALL: &[Word] = &[$(Word::$variant,)*];

            /// Its key in a file of headings.
            pub fn id(self) -> &'static str {
                match self { $(Word::$variant => $id,)* }
            }

            /// What it is in English.
            pub fn english(self) -> &'static str {
                match self { $(Word::$variant => $english,)* }
            }
        }
    };
}

words! {
    Report "camera-report" "Camera report";
    Production "production" "Production";
    Day "day" "Day";
    Days "days" "Days";
    UnknownDay "unknown-day" "Day not known";
    ShootingDay "shooting-day" "Shooting day";
    Company "company" "Company";
    Director "director" "Director";
    Cinematographer "director-of-photography" "Director of photography";
    Unit "unit" "Unit";
    Camera "camera" "Camera";
    Cameras "cameras" "Cameras";
    CameraModel "camera-model" "Camera model";
    CameraSerial "camera-serial" "Camera serial";
    Operator "operator" "Operator";
    Assistants "assistants" "Assistants";
    Roll "roll" "Roll";
    Rolls "rolls" "Rolls";
    NoRoll "no-roll" "No roll";
    Media "media" "Media";
    Mode "mode" "Mode";
    Raster "raster" "Raster";
    Rate "rate" "Frames a second";
    Area "recorded-area" "Recorded area (mm)";
    Shutter "shutter" "Shutter";
    Iso "iso" "ISO";
    WhiteBalance "white-balance" "White balance";
    Clip "clip" "Clip";
    Clips "clips" "Clips";
    Files "files" "Files";
    Slate "slate" "Slate";
    Take "take" "Take";
    Circled "circled" "Circled";
    Start "start" "Start";
    End "end" "End";
    Duration "duration" "Duration";
    Frames "frames" "Frames";
    Lens "lens" "Lens";
    Serial "serial" "Serial";
    Attachment "attachment" "Attachment";
    Magnification "magnification" "Magnification";
    MarkedFocal "marked-focal" "Focal set (mm)";
    Effective "effective-focal" "Effective (mm)";
    Doubt "focal-uncertainty" "\u{b1} mm";
    StopSet "stop-set" "Stop set";
    EffectiveT "effective-t" "Effective T";
    EffectiveF "effective-f" "Effective f";
    Focus "focus" "Focus (m)";
    Filter "filter" "Filter";
    Density "filter-stops" "ND stops";
    Height "height" "Height (m)";
    Tilt "tilt" "Tilt (\u{b0})";
    Verdict "verdict" "Verdict";
    RecordedFocal "recorded-focal" "Media said (mm)";
    Remarks "remarks" "Remarks";
    Matters "needs-a-person" "Needs a person";
    Nothing "nothing" "Nothing";
    MoreLines "more-lines" "changes more, all of them in report.csv";
    Totals "totals" "Totals";
    Minutes "minutes" "Minutes";
    Size "size" "Size";
    Lenses "lenses" "Lenses used";
    Stops "stops" "Stops set";
    Signatures "signatures" "Signatures";
    SignOperator "sign-operator" "Operator";
    SignAssistant "sign-assistant" "Camera assistant";
    SignData "sign-data" "Data wrangler";
    SignProduction "sign-production" "Production";
    Date "date" "Date";
    None "none" "none";
    Also "also" "also";
    NotKnown "not-known" "not known";
    Infinity "infinity" "infinity";
    Yes "yes" "yes";
    Filled "filled" "filled";
    Scaled "scaled" "scaled";
    Kept "kept" "kept";
    Replaced "replaced" "replaced";
    Unresolved "unresolved" "unresolved";
    OfStop "of-stop" "stop";
    OfLens "of-lens" "lens";
    OfFocus "of-focus" "focus";
    Caution "caution" "Values from marks are nominal: a matchmove wants a measured lens and reducer.";
    MadeBy "made-by" "Made by";
    Page "page" "Page";
    Of "of" "of";
    Contents "contents" "Contents";
    Find "find" "Find clips";
    FindHint "find-hint" "Name, slate, lens, remark";
    Only "only" "Show";
    OnlyAll "only-all" "All clips";
    AsShot "as-shot" "Order of the cards";
    OnlyCircled "only-circled" "Circled takes";
    OnlyMatters "only-needs-a-person" "What needs a person";
    Shown "shown" "Clips shown";
    SortBy "sort-by" "Sort by";
    Timeline "timeline" "The day";
    Untimed "untimed" "Clips without a time of day";
    Rigs "rigs" "Recorded area in the image circle";
    Focals "focals" "Focal length: what the media said, and what it was";
    January "january" "January";
    February "february" "February";
    March "march" "March";
    April "april" "April";
    May "may" "May";
    June "june" "June";
    July "july" "July";
    August "august" "August";
    September "september" "September";
    October "october" "October";
    November "november" "November";
    December "december" "December";
}

/// The words in one language.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Words {
    language: Option<String>,
    own: BTreeMap<Word, String>,
}

/// Key of the language tag (BCP 47) in a file of headings.
const LANGUAGE: &str = "language";
/// Longest heading, in characters: a table column must still hold it.
const LONGEST: usize = 200;

impl Words {
    /// Reads a file of headings: TOML, a key a word. Words that it leaves out stay English. The error says what is wrong.
    pub fn read(text: &str) -> Result<Self, String> {
        let table: toml::Table = text.parse().map_err(|error: toml::de::Error| {
            let words = error.message().trim().to_owned();
            match error.span() {
                Some(span) => {
                    let before = text.get(..span.start).unwrap_or_default();
                    format!("line {}: {words}", before.matches('\n').count() + 1)
                }
                None => words,
            }
        })?;
        let mut words = Self::default();
        for (key, value) in table {
            let said = value.as_str().map(str::trim).filter(|said| !said.is_empty());
            let said = said.ok_or_else(|| format!("`{key}` must be text that is not empty"))?;
            if said.chars().count() > LONGEST {
                return Err(format!("`{key}` is longer than {LONGEST} characters"));
            }
            if said.chars().any(char::is_control) {
                return Err(format!("`{key}` must be on one line"));
            }
            if key == LANGUAGE {
                if !is_tag(said) {
                    return Err(format!(
                        "`{said}` is no language tag; write one such as de or pt-BR"
                    ));
                }
                words.language = Some(said.to_owned());
                continue;
            }
            let Some(word) = Word::ALL.iter().find(|word| word.id() == key) else {
                let near = nearest(&key, Word::ALL.iter().map(|word| word.id()));
                let near = near.map_or_else(
                    || "--headings-template prints all of them".to_owned(),
                    |near| format!("did you mean {near}?"),
                );
                return Err(format!("there is no heading `{key}`; {near}"));
            };
            words.own.insert(*word, said.to_owned());
        }
        Ok(words)
    }

    /// The word in this language.
    pub fn say(&self, word: Word) -> &str {
        self.own.get(&word).map_or(word.english(), String::as_str)
    }

    /// Tag of the language (BCP 47), `en` where the file of headings names none.
    pub fn language(&self) -> &str {
        self.language.as_deref().unwrap_or("en")
    }
}

/// Letters, digits and dashes in subtags of one to eight (RFC 5646, 2.1), the first of letters.
fn is_tag(tag: &str) -> bool {
    let subtag = |part: &str| {
        (1..=8).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_alphanumeric())
    };
    let first = tag.split('-').next().unwrap_or_default();
    first.len() >= 2 && first.bytes().all(|b| b.is_ascii_alphabetic()) && tag.split('-').all(subtag)
}

/// A file of headings to translate: every word with its English.
pub fn template() -> String {
    let mut text = String::from(
        "# Headings of the camera report. Put your own words between the quotes; what is left out stays English.\n\
         # Use: lensmend report FOLDER --into OUT --headings THIS-FILE\n\n\
         # Language tag of the report, such as de or pt-BR.\n\
         language = \"en\"\n\n",
    );
    for word in Word::ALL {
        // Quoted as TOML and JSON both do.
        let quoted = serde_json::Value::from(word.english()).to_string();
        let _ = writeln!(text, "{} = {quoted}", word.id());
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_template_reads_back_and_what_it_leaves_out_stays_english() {
        let all = Words::read(&template()).unwrap();
        assert!(Word::ALL.iter().all(|word| all.say(*word) == word.english()));
        assert_eq!(all.language(), "en");
        let some = Words::read("language = \"de\"\nslate = \"Klappe\"").unwrap();
        assert_eq!((some.language(), some.say(Word::Slate)), ("de", "Klappe"));
        assert_eq!(some.say(Word::Take), "Take");
    }

    #[test]
    fn a_file_that_is_no_headings_is_refused_in_words() {
        for (text, want) in [
            ("slaet = \"x\"", "did you mean slate?"),
            ("slate = 3", "must be text"),
            ("slate = \"\"", "must be text"),
            ("slate = \"a\\nb\"", "one line"),
            ("language = \"x\"", "language tag"),
            ("a = \"b\"\nslate", "line 2"),
        ] {
            let error = Words::read(text).unwrap_err();
            assert!(error.contains(want), "{text}: {error}");
        }
        let long = format!("slate = \"{}\"", "a".repeat(LONGEST + 1));
        assert!(Words::read(&long).is_err());
    }
}
