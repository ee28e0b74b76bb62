//! Lens and log: the standard properties of what the picture was taken with (CIPA DC-008 and DC-010; XMP part 2).

use crate::fields::Field;
use crate::number::short;
use crate::output::rows::Row;
use crate::output::values::{Cells, Value};
use crate::recorded::{AUTOMATIC, MANUAL};
use crate::stops;
use crate::units::FNumber;

use super::property::Value as Said;
use super::{Sheet, Sidecar};

/// Adds the standard properties of lens, stop, focus and log.
pub(super) fn add(out: &mut Sheet, sidecar: &Sidecar<'_>, rows: &[Row<'_>], all: &[Cells]) {
    let annotation = sidecar.annotation;
    let text = |field| match throughout(all, field) {
        Some(Value::Text(text)) => Some(text.clone()),
        _ => None,
    };
    let number = |field| number_throughout(all, field);
    out.maybe("exif:FocalLength", number(Field::FocalLength).and_then(|f| rational(f, 10_000.0)));
    // SHORT, 0 is unknown; an anamorphic picture has no single equivalent.
    let squeezed = |cells: &Cells| match cells.get(&Field::Squeeze).and_then(|c| c.value.as_ref()) {
        Some(Value::Number { number, .. }) => (number - 1.0).abs() > 1e-9,
        _ => false,
    };
    let spherical = !all.iter().any(squeezed);
    let equivalent = number(Field::Equivalent).filter(|_| spherical).map(f64::round);
    out.maybe(
        "exif:FocalLengthIn35mmFilm",
        equivalent.filter(|f| (1.0..65535.0).contains(f)).map(|f| short(f, 0)),
    );
    if let Some(n) = number(Field::FNumber) {
        out.maybe("exif:FNumber", rational(n, 10_000.0));
        // ApertureValue is unsigned: below f/1 it cannot be written.
        out.maybe(
            "exif:ApertureValue",
            (n >= 1.0).then(|| rational(2.0 * libm::log2(n), 10_000.0)).flatten(),
        );
    }
    // DC-008: numerator FFFFFFFF is infinity, and 0 would be "not known".
    out.maybe(
        "exif:SubjectDistance",
        number(Field::FocusDistance).filter(|d| *d > 0.0).and_then(|d| {
            if d.is_infinite() { Some("4294967295/1".to_owned()) } else { rational(d, 1000.0) }
        }),
    );
    if let (Some(width), Some(height), Some(coded)) =
        (number(Field::BackWidth), number(Field::BackHeight), &annotation.clip.media.coded)
    {
        let per_cm = |pixels: u32, side: f64| rational(f64::from(pixels) / side * 10.0, 100.0);
        out.maybe("exif:FocalPlaneXResolution", per_cm(coded.value.width(), width));
        out.maybe("exif:FocalPlaneYResolution", per_cm(coded.value.height(), height));
        out.text("exif:FocalPlaneResolutionUnit", "3");
    }
    exposure(out, all);
    out.maybe("exifEX:LensMake", text(Field::LensMaker));
    out.maybe("exifEX:LensModel", text(Field::Lens));
    out.maybe("exifEX:LensSerialNumber", text(Field::LensSerial));
    lens_marks(out, rows, all);
    out.maybe("xmpDM:cameraLabel", text(Field::Camera));
    out.maybe("xmpDM:scene", text(Field::Slate));
    // takeNumber is an Integer: `3B` stays in the own namespace.
    let take = text(Field::Take).filter(|take| {
        !take.is_empty() && take.len() < 10 && take.bytes().all(|b| b.is_ascii_digit())
    });
    out.maybe("xmpDM:takeNumber", take);
    if let Some(Value::Flag(circled)) = throughout(all, Field::Circled) {
        out.text("xmpDM:good", if *circled { "True" } else { "False" });
    }
    out.maybe("xmpDM:logComment", text(Field::Remarks));
}

/// Sensitivity, exposure time and the way of the white balance. An exposure index is no `PhotographicSensitivity`, and
/// an angle is no time: they stay in the own namespace.
fn exposure(out: &mut Sheet, all: &[Cells]) {
    let iso = number_throughout(all, Field::Iso).map(f64::round);
    // SHORT; 65535 says that the number stands in another field (DC-008, PhotographicSensitivity).
    if let Some(iso) = iso.filter(|iso| (1.0..65_535.0).contains(iso)) {
        out.text("exifEX:PhotographicSensitivity", &short(iso, 0));
        // The name of the same field before Exif 2.3, which readers still go by.
        out.sequence("exif:ISOSpeedRatings", vec![Said::Text(short(iso, 0))]);
    }
    let time = number_throughout(all, Field::ExposureTime);
    out.maybe("exif:ExposureTime", time.and_then(seconds));
    let mode = match throughout(all, Field::WhiteBalanceMode) {
        Some(Value::Text(mode)) => mode.as_str(),
        _ => "",
    };
    let number = match mode {
        AUTOMATIC => Some("0"),
        MANUAL => Some("1"),
        _ => None,
    };
    out.maybe("exif:WhiteBalance", number.map(str::to_owned));
}

/// Seconds as a ratio: one over a whole number or a hundredth of one where that is what they are, as cameras write them.
fn seconds(seconds: f64) -> Option<String> {
    let speed = (100.0 / seconds).round();
    let is_fraction = seconds < 1.0 && (speed * seconds / 100.0 - 1.0).abs() < 1e-7;
    if !is_fraction {
        return rational(seconds, if seconds < 4.0 { 1e9 } else { 1e4 });
    }
    let speed = rational(speed, 1.0)?;
    let ratio = crate::ratio::Ratio::new(100, speed.split_once('/')?.0.parse().ok()?)?;
    Some(format!("{}/{}", ratio.num(), ratio.den()))
}

/// What is engraved on the lens, if it is one lens throughout.
fn lens_marks(out: &mut Sheet, rows: &[Row<'_>], all: &[Cells]) {
    let of = |row: &Row<'_>| row.setup.lens_marks.as_ref().map(|marks| marks.value);
    let Some(marks) = rows.first().and_then(of) else { return };
    if rows.iter().any(|row| of(row) != Some(marks)) {
        return;
    }
    // DC-008, LensSpecification: 0/0 is an f-number that is not known.
    let mark = |number: f64| rational(number, 100.0);
    let f = |n: FNumber| mark(n.get());
    let unknown = || Some("0/0".to_owned());
    let (low, high) = marks.focal;
    let f_numbers =
        [marks.f.map_or_else(unknown, |n| f(n.0)), marks.f.map_or_else(unknown, |n| f(n.1))];
    let items: Option<Vec<String>> =
        [mark(low.get()), mark(high.get())].into_iter().chain(f_numbers).collect();
    if let Some(items) = items {
        out.sequence("exifEX:LensSpecification", items.into_iter().map(Said::Text).collect());
    }
    // The smallest f-number of the lens. Behind a reducer pictures have smaller ones, and readers would find the two
    // at odds, so it stands only where the lens is alone or what is behind it does not scale.
    let bare = number_throughout(all, Field::Magnification).is_some_and(|m| (m - 1.0).abs() < 1e-9);
    let widest = marks.f.map(|(a, b)| a.get().min(b.get())).filter(|n| bare && *n >= 1.0);
    let exact = widest.map(|mark| stops::exact(mark).number);
    out.maybe("exif:MaxApertureValue", exact.and_then(|n| rational(2.0 * libm::log2(n), 10_000.0)));
}

/// The value of a field if it is the same in every piece of the file; how well it is known may differ.
fn throughout(all: &[Cells], field: Field) -> Option<&Value> {
    let same = |a: &Value, b: &Value| match (a, b) {
        (Value::Number { number: a, .. }, Value::Number { number: b, .. }) => {
            a.to_bits() == b.to_bits()
        }
        (a, b) => a == b,
    };
    let first = all.first()?.get(&field)?.value.as_ref()?;
    let everywhere = |cells: &Cells| {
        let value = cells.get(&field).and_then(|cell| cell.value.as_ref());
        value.is_some_and(|value| same(value, first))
    };
    all.iter().all(everywhere).then_some(first)
}

fn number_throughout(all: &[Cells], field: Field) -> Option<f64> {
    match throughout(all, field)? {
        Value::Number { number, .. } => Some(*number),
        _ => None,
    }
}

/// `numerator/denominator` in lowest terms, rounded once to 1/`parts`; `None` for what does not fit 32 bits.
fn rational(number: f64, parts: f64) -> Option<String> {
    let numerator = (number * parts).round();
    if !(0.0..4_294_967_295.0).contains(&numerator) {
        return None;
    }
    // Both are whole and below 2^32: printing them is exact.
    let (numerator, denominator): (u64, u64) =
        (short(numerator, 0).parse().ok()?, short(parts, 0).parse().ok()?);
    if numerator == 0 {
        return (number == 0.0).then(|| "0/1".to_owned());
    }
    let ratio = crate::ratio::Ratio::new(numerator, denominator)?;
    Some(format!("{}/{}", ratio.num(), ratio.den()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rationals_are_rounded_once_and_refuse_what_does_not_fit() {
        assert_eq!(rational(35.5, 10_000.0).as_deref(), Some("71/2"));
        assert_eq!(rational(1.004_091_628, 10_000.0).as_deref(), Some("10041/10000"));
        assert_eq!(rational(0.0, 10.0).as_deref(), Some("0/1"));
        assert_eq!(rational(0.000_001, 10.0), None);
        assert_eq!(rational(1e9, 10.0), None);
        assert_eq!(rational(-1.0, 10.0), None);
        assert_eq!(rational(f64::NAN, 10.0), None);
    }

    #[test]
    fn seconds_are_written_as_cameras_write_them() {
        for (time, wanted) in [
            (1.0 / 50.0, "1/50"),
            (1.0 / 47.95, "20/959"),
            (1001.0 / 48_000.0, "1001/48000"),
            (2.0, "2/1"),
            (0.5, "1/2"),
            (1.0 / 3.0, "1/3"),
        ] {
            let written = seconds(time).unwrap();
            let (num, den) = written.split_once('/').unwrap();
            let value = num.parse::<f64>().unwrap() / den.parse::<f64>().unwrap();
            assert!((value / time - 1.0).abs() < 1e-4, "{written}");
            if wanted.starts_with("1/") || wanted.len() < 7 {
                assert_eq!(written, wanted);
            }
        }
    }
}
