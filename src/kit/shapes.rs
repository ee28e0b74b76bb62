//! Rasters, corners and frame rates, which the kit writes as texts.

use super::form::Form;
use super::read::{Reader, Section};
use crate::ratio::{Ratio, parse_rate};
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
