//! The EDL again: its lines byte for byte, with comment lines added that say what each event was taken with.

use crate::cut::{Anchor, OWN};
use crate::fields::Field;
use crate::turnover::Shot;

use super::cameras::back_words;
use super::{Handed, Piece, quantity_words};

/// Longest line that is added; the form comes from screens of 80 columns (common practice, no source).
const LONGEST: usize = 78;

/// The list with its added lines; `None` if the cut was none.
pub fn write(handed: &Handed<'_>) -> Option<Vec<u8>> {
    let mut shots = handed.turnover.shots.iter().map(|shot| match &shot.event.anchor {
        Anchor::Line(line) => Some((*line, shot)),
        Anchor::Pointer(_) => None,
    });
    let mut added: Vec<(u64, &Shot)> = shots.by_ref().collect::<Option<_>>()?;
    added.sort_by_key(|(line, _)| *line);
    let mut added = added.into_iter().peekable();
    let mut out = Vec::with_capacity(handed.cut_bytes.len() * 2);
    for (at, line) in (1_u64..).zip(handed.cut_bytes.split_inclusive(|byte| *byte == b'\n')) {
        out.extend(line);
        let ending: &[u8] = if line.ends_with(b"\r\n") { b"\r\n" } else { b"\n" };
        while let Some((_, shot)) = added.next_if(|(line, _)| *line == at) {
            if !out.ends_with(b"\n") {
                out.extend(ending);
            }
            for words in words(handed, shot) {
                out.extend(format!("* {OWN} {words}").bytes());
                out.extend(ending);
            }
        }
    }
    Some(out)
}

/// What is said of a shot: plain letters alone, because nobody knows which others a reader takes.
fn words(handed: &Handed<'_>, shot: &Shot) -> Vec<String> {
    let pieces = handed.pieces(shot);
    let mut lines = folded(&plain(&format!("shot {}", shot.name)));
    if pieces.is_empty() {
        let why = shot.findings.first().map_or("frames not known", |finding| finding.code.word());
        lines.extend(folded(&plain(&format!("no frames of it are known: {why}"))));
    }
    let said: Vec<(u64, Vec<String>)> =
        pieces.iter().map(|piece| (piece.number, of_piece(handed, piece))).collect();
    // Files of a spanned clip are pieces, too; what goes on unchanged is not said again.
    let mut different: Vec<&(u64, Vec<String>)> = Vec::new();
    for piece in &said {
        if different.last().is_none_or(|before| before.1 != piece.1) {
            different.push(piece);
        }
    }
    for (number, words) in &different {
        if different.len() > 1 {
            lines.push(format!("from frame {number}:"));
        }
        lines.extend(words.iter().flat_map(|words| folded(&plain(words))));
    }
    lines
}

fn of_piece(handed: &Handed<'_>, piece: &Piece<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    let mut say = |text: String| lines.push(text);
    let cells = &piece.cells;
    let text = |field: Field| {
        let value = cells.get(&field)?.value.as_ref()?;
        Some(value.text(field))
    };
    let lens = text(Field::Lens).unwrap_or_else(|| "lens not known".to_owned());
    let attached = text(Field::Attachment).map(|name| match name.as_str() {
        "none" => ", bare".to_owned(),
        name => format!(" on {name}"),
    });
    say(format!("{lens}{}", attached.unwrap_or_default()));
    let basis = cells.get(&Field::Pinhole).and_then(|cell| cell.value.as_ref()?.basis());
    let focal = match (quantity_words(cells, Field::Pinhole), basis) {
        (Some(focal), Some(basis)) => format!("pinhole {focal} ({})", basis.word()),
        _ => "focal length not known".to_owned(),
    };
    let rest = [
        text(Field::FNumber).map(|f| format!("f/{}", trimmed(&f))),
        text(Field::TNumber).map(|t| format!("T{}", trimmed(&t))),
        quantity_words(cells, Field::FocusDistance).map(|focus| format!("focus {focus}")),
    ];
    let rest: Vec<String> = std::iter::once(focal).chain(rest.into_iter().flatten()).collect();
    say(rest.join(", "));
    if let Some(area) = &piece.area {
        let plate = handed.turnover.plate.as_ref();
        let what = plate.map_or("film back".to_owned(), |p| format!("film back of {}", p.id));
        say(format!("{what} {}", back_words(area.back)));
    }
    if let Some(squeeze) = text(Field::Squeeze).filter(|squeeze| squeeze != "1") {
        say(format!("squeeze {squeeze}"));
    }
    if text(Field::DarkCornerPixels).is_some() {
        say("corners are dark: the image circle is smaller than the recorded area".to_owned());
    }
    if let Some(remarks) = text(Field::Remarks) {
        say(format!("note: {remarks}"));
    }
    lines
}

/// Two digits are enough for a stop on one line.
fn trimmed(number: &str) -> String {
    number.parse().map_or_else(|_| number.to_owned(), |n: f64| crate::number::short(n, 2))
}

/// Letters that every reader of such lists takes.
fn plain(text: &str) -> String {
    let text = text.replace('\u{b1}', "+/-");
    text.chars().map(|c| if c == ' ' || c.is_ascii_graphic() { c } else { '?' }).collect()
}

/// A text in lines short enough; a word that is longer than a line is cut.
fn folded(text: &str) -> Vec<String> {
    let room = LONGEST - "* ".len() - OWN.len() - 1;
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let mut word = word;
        while let Some(line) = lines.last_mut() {
            let gap = usize::from(!line.is_empty());
            if line.len() + gap + word.len() <= room {
                if gap == 1 {
                    line.push(' ');
                }
                line.push_str(word);
                break;
            }
            if line.is_empty() {
                let (head, tail) = word.split_at_checked(room).unwrap_or((word, ""));
                line.push_str(head);
                word = tail;
            }
            lines.push(String::new());
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_folded_and_letters_plain() {
        assert_eq!(plain("35.5 ± 1\tcafé\n"), "35.5 +/- 1?caf??");
        let long = "a".repeat(100) + " b";
        let lines = folded(&long);
        assert!(lines.iter().all(|line| line.len() <= 70), "{lines:?}");
        assert_eq!(lines.concat(), "a".repeat(100) + " b");
        assert_eq!(folded("x y"), ["x y"]);
    }
}
