//! The summary of a turnover on the terminal: one line a shot.

use crate::fields::Field;
use crate::finding::Finding;
use crate::number::short;

use super::super::calm::calm;
use super::super::summary::{CAUTION, columns, needs};
use super::super::values::Value;
use super::Handed;

/// The summary.
pub fn summary(handed: &Handed<'_>, findings: &[Finding]) -> String {
    let head = ["shot", "source", "to", "frames", "lens", "pinhole mm", "film back mm", "speed"];
    let mut lines = vec![head.map(str::to_owned).to_vec()];
    for shot in &handed.turnover.shots {
        let (from, to) = handed.source(shot);
        let or_dash = |text: Option<String>| text.map_or("-".to_owned(), |text| calm(&text));
        let pieces = handed.pieces(shot);
        let first = pieces.first();
        let number = |field| {
            let value = first?.cells.get(&field)?.value.as_ref()?;
            let Value::Number { number, uncertainty, .. } = value else { return None };
            let off = uncertainty.map(|off| format!(" \u{b1} {}", short(off, 2)));
            Some(format!("{}{}", short(*number, 2), off.unwrap_or_default()))
        };
        let lens = first.and_then(|piece| {
            let value = piece.cells.get(&Field::Lens)?.value.as_ref()?;
            Some(value.text(Field::Lens))
        });
        let back = first.and_then(|piece| {
            let back = piece.area.as_ref()?.back;
            Some(format!("{} x {}", short(back.0, 3), short(back.1, 3)))
        });
        let more = if pieces.len() > 1 { format!(" +{}", pieces.len() - 1) } else { String::new() };
        lines.push(vec![
            calm(&shot.name),
            or_dash(from),
            or_dash(to),
            or_dash(shot.used.as_ref().map(|used| (used.end - used.start).to_string())),
            or_dash(lens) + &more,
            or_dash(number(Field::Pinhole)),
            or_dash(back),
            or_dash(shot.speed_words()),
        ]);
    }
    let known = handed.turnover.shots.iter().filter(|shot| shot.range.is_some()).count();
    let rate = handed.turnover.timing.map_or("not known".to_owned(), |timing| {
        let drop = if timing.counting.drop() { ", drop frame" } else { "" };
        format!("{}{drop}", short(timing.rate.to_f64(), 3))
    });
    let counts = format!(
        "\n{} shots, {known} with frames. Rate of the cut: {rate}. {}.\n{CAUTION}\n",
        handed.turnover.shots.len(),
        needs(findings),
    );
    columns(&lines) + &counts
}
