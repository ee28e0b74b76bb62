//! Rasters, corners and frame rates, which the kit writes as texts.

use super::form::Form;
use super::read::{Reader, Section};
use crate::ratio::Ratio;
use crate::units::Raster;

impl Section<'_> {
    /// Width by height in pixels.
    pub(super) fn raster(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<Raster> {
        let text = self.text(key, reader)?;
        let raster = two(&text).and_then(|(width, height)| Raster::new(width, height));
        if raster.is_none() {
            self.pixels(key, &text, "a raster", "width x height", reader);
        }
        raster
    }

    /// Pixels from the left by pixels from the top.
    pub(super) fn corner(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<(u32, u32)> {
        let text = self.text(key, reader)?;
        let corner = two(&text);
        if corner.is_none() {
            self.pixels(
                key,
                &text,
                "a place in a raster",
                "pixels from the left x from the top",
                reader,
            );
        }
        corner
    }

    fn pixels(
        &self,
        key: &'static str,
        text: &str,
        what: &str,
        how: &str,
        reader: &mut Reader<'_>,
    ) {
        let example = match self.form(key) {
            Some(Form::Raster(example) | Form::Corner(example)) => example,
            _ => "1920x1080",
        };
        reader.fault(
            self.place(key),
            format!("\"{text}\" is not {what}"),
            format!("write {how} in pixels, such as {key} = \"{example}\""),
        );
    }

    /// A frame rate.
    pub(super) fn rate(&self, key: &'static str, reader: &mut Reader<'_>) -> Option<Ratio> {
        let text = self.text(key, reader)?;
        let rate = parse_rate(&text);
        if rate.is_none() {
            reader.fault(
                self.place(key),
                format!("\"{text}\" is not a frame rate"),
                "write rate = \"25\", \"24000/1001\" or \"23.976\"",
            );
        }
        rate
    }
}

fn two(text: &str) -> Option<(u32, u32)> {
    let (width, height) = text.split_once(['x', 'X', '\u{d7}'])?;
    Some((width.trim().parse().ok()?, height.trim().parse().ok()?))
}

/// A rate as people write it; 23.976, 29.97 and the like mean the rates over 1001.
fn parse_rate(text: &str) -> Option<Ratio> {
    if let Some((num, den)) = text.split_once('/') {
        return Ratio::new(num.trim().parse().ok()?, den.trim().parse().ok()?);
    }
    let number: f64 = text.trim().parse().ok().filter(|n| (1.0..=1000.0).contains(n))?;
    (1..=1000_u32).flat_map(|whole| [(whole, 1_u64), (whole, 1001)]).find_map(|(whole, den)| {
        let num = u64::from(whole) * if den == 1 { 1 } else { 1000 };
        let ratio = Ratio::new(num, den)?;
        ((ratio.to_f64() - number).abs() < 0.005).then_some(ratio)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_as_people_write_them() {
        for (text, want) in [
            ("23.976", "24000/1001"),
            ("23.98", "24000/1001"),
            ("24", "24"),
            ("29.97", "30000/1001"),
            ("59.94", "60000/1001"),
            ("50", "50"),
            ("24000/1001", "24000/1001"),
        ] {
            assert_eq!(parse_rate(text).unwrap().to_string(), want, "{text}");
        }
        assert!(parse_rate("fast").is_none());
        assert!(parse_rate("0").is_none());
    }
}
