//! The faces that are embedded: text in two weights, signs, and the scripts of East Asia. Their licences stand beside them.

use std::borrow::Cow;
use std::cell::OnceCell;
use std::io::Read as _;
use std::sync::LazyLock;

use flate2::read::ZlibDecoder;
use krilla::text::Font;
use rustybuzz::ttf_parser::GlyphId;
use unicode_normalization::{IsNormalized, UnicodeNormalization as _, is_nfc_quick};

use crate::output::calm::calm;

static TEXT: LazyLock<Vec<u8>> = LazyLock::new(|| inflated(include_bytes!("fonts/text.ttf.zlib")));
static BOLD: LazyLock<Vec<u8>> = LazyLock::new(|| inflated(include_bytes!("fonts/bold.ttf.zlib")));
static SIGNS: LazyLock<Vec<u8>> =
    LazyLock::new(|| inflated(include_bytes!("fonts/signs.ttf.zlib")));
static EAST: LazyLock<Vec<u8>> = LazyLock::new(|| inflated(include_bytes!("fonts/east.ttf.zlib")));

/// A font of this program, inflated; empty if it were broken, which no face can be read from.
fn inflated(zlib: &[u8]) -> Vec<u8> {
    let mut font = Vec::new();
    match ZlibDecoder::new(zlib).read_to_end(&mut font) {
        Ok(_) => font,
        Err(_) => Vec::new(),
    }
}

/// One face.
pub(super) struct Face {
    /// For measuring and shaping.
    pub(super) shaper: rustybuzz::Face<'static>,
    /// For the PDF.
    pub(super) font: Font,
    /// Units of the font in the size of its letters.
    pub(super) em: f32,
}

impl Face {
    fn read(data: &'static [u8]) -> Option<Self> {
        let shaper = rustybuzz::Face::from_slice(data, 0)?;
        let em = f32::from(u16::try_from(shaper.units_per_em()).ok()?);
        Some(Self { shaper, font: Font::new(data.into(), 0)?, em })
    }

    pub(super) fn glyph(&self, letter: char) -> Option<GlyphId> {
        self.shaper.glyph_index(letter).filter(|glyph| glyph.0 != 0)
    }

    /// How far a glyph advances, at size 1.
    pub(super) fn advance(&self, glyph: GlyphId) -> f32 {
        f32::from(self.shaper.glyph_hor_advance(glyph).unwrap_or(0)) / self.em
    }
}

/// Which face a letter is taken from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Which {
    Text,
    Bold,
    Signs,
    East,
}

/// All faces. The large one is read when the first letter asks for it.
pub(in crate::output) struct Fonts {
    text: Face,
    bold: Face,
    signs: Face,
    east: OnceCell<Option<Face>>,
    /// Advances of the printable letters of ASCII at size 1, plain and bold.
    ascii: [[f32; 128]; 2],
}

impl Fonts {
    /// The faces; `None` if those of this program cannot be read.
    pub(in crate::output) fn load() -> Option<Self> {
        let (text, bold) = (Face::read(&TEXT)?, Face::read(&BOLD)?);
        let advances = |face: &Face| {
            let mut advances = [0.0; 128];
            for (code, advance) in (0_u8..128).zip(&mut advances) {
                *advance = face.glyph(char::from(code)).map_or(0.0, |glyph| face.advance(glyph));
            }
            advances
        };
        let ascii = [advances(&text), advances(&bold)];
        Some(Self { text, bold, signs: Face::read(&SIGNS)?, east: OnceCell::new(), ascii })
    }

    pub(super) fn face(&self, which: Which) -> &Face {
        match which {
            Which::Text => &self.text,
            Which::Bold => &self.bold,
            Which::Signs => &self.signs,
            Which::East => self.east().unwrap_or(&self.signs),
        }
    }

    fn east(&self) -> Option<&Face> {
        self.east.get_or_init(|| Face::read(&EAST)).as_ref()
    }

    /// The face that has a letter.
    pub(super) fn find(&self, letter: char, bold: bool) -> Option<Which> {
        let text = if bold { Which::Bold } else { Which::Text };
        if is_private(letter) {
            return None;
        }
        if self.face(text).glyph(letter).is_some() {
            return Some(text);
        }
        if self.signs.glyph(letter).is_some() {
            return Some(Which::Signs);
        }
        self.east()?.glyph(letter).map(|_| Which::East)
    }

    /// How wide printable ASCII is, at size 1; `None` for other text.
    pub(super) fn ascii(&self, text: &str, bold: bool) -> Option<f32> {
        let [plain, heavy] = &self.ascii;
        let advances = if bold { heavy } else { plain };
        let mut wide = 0.0;
        for byte in text.bytes() {
            wide += advances.get(usize::from(byte))?;
        }
        Some(wide)
    }

    /// The text as it can be printed: composed (Unicode form NFC, since file systems take letters apart), and what
    /// would steer or what no face has written as its code, `\u{1f3a5}`, so that nothing vanishes unseen.
    pub(in crate::output) fn printable<'a>(&self, text: &'a str) -> Cow<'a, str> {
        let plain = |byte: u8| (b' '..0x7f).contains(&byte);
        if text.bytes().all(plain) {
            return Cow::Borrowed(text);
        }
        let composed = match is_nfc_quick(text.chars()) {
            IsNormalized::Yes => Cow::Borrowed(text),
            _ => Cow::Owned(text.nfc().collect::<String>()),
        };
        let mut printable = String::with_capacity(composed.len());
        for letter in calm(&composed).chars() {
            let attached = is_selector(letter) && !printable.is_empty();
            if attached || self.find(letter, false).is_some() {
                printable.push(letter);
            } else {
                printable.extend(letter.escape_unicode());
            }
        }
        Cow::Owned(printable)
    }
}

/// Private use (Unicode 16, 23.5): no face can know what is meant.
fn is_private(letter: char) -> bool {
    matches!(letter, '\u{e000}'..='\u{f8ff}' | '\u{f0000}'..='\u{ffffd}' | '\u{100000}'..)
}

/// Marks that choose between looks of the letter before (Unicode 16, 23.4). They stay with it and take no room.
pub(super) fn is_selector(letter: char) -> bool {
    matches!(letter, '\u{fe00}'..='\u{fe0f}')
}
