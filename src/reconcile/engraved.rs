//! Focal lengths in the names of lenses, as they are engraved: `Sorrel 50mm f/1.4`, `24-70 mm`.

/// The focal length, or the range of a zoom, that a lens's name says in millimetres; `None` where it says none, or more than one.
pub(super) fn engraved(name: &str) -> Option<(f64, f64)> {
    let name = name.to_lowercase();
    let mut found = None;
    for (at, _) in name.match_indices("mm") {
        let before = name.get(..at)?.trim_end();
        let number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '\u{2013}');
        let start = before.rfind(|c: char| !number(c)).map_or(0, |at| {
            at + before.get(at..).and_then(|rest| rest.chars().next()).map_or(1, char::len_utf8)
        });
        let mut ends =
            before.get(start..)?.split(['-', '\u{2013}']).map(|end| end.parse::<f64>().ok());
        let (low, high) = (ends.next()??, ends.next());
        let high = match high {
            Some(high) => high?,
            None => low,
        };
        let believed = (1.0..=5000.0).contains(&low) && low <= high && high <= 5000.0;
        if ends.next().is_some() || !believed || found.is_some() {
            return None;
        }
        found = Some((low, high));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_tell_their_focal_length() {
        for (name, told) in [
            ("Sorrel 50mm f/1.4", Some((50.0, 50.0))),
            ("Sorrel Cine 24-70 mm T2.9", Some((24.0, 70.0))),
            ("Umber 17.5mm", Some((17.5, 17.5))),
            ("18\u{2013}35MM", Some((18.0, 35.0))),
            ("Sorrel 50", None),
            ("mm", None),
            ("0mm", None),
            ("70-24mm", None),
            ("24-70-90mm", None),
            ("50mm or 35mm", None),
            ("\u{e9}50mm", Some((50.0, 50.0))),
        ] {
            assert_eq!(engraved(name), told, "{name}");
        }
    }
}
