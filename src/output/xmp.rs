//! XMP sidecars (ISO 16684-1): what a standard property means goes there, everything else into the sidecar's own namespace.
//!
//! A value that changes inside the file has no place in a single-valued standard property; it is then left out there
//! and stands in the own namespace only, piece by piece. `docs/formats.md` lists every property.

use std::borrow::Cow;
use std::io;

use quick_xml::Writer;
use quick_xml::escape::escape;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use crate::annotation::Annotation;
use crate::fields::{Field, OF_CLIP};
use crate::number::short;
use crate::recorded::{Container, Rotation};
use crate::timecode::Timecode;

use super::Stamp;
use super::rows::{Row, of_file};
use super::values::{Cell, Cells, Value, cells, origin_words};

/// The sidecar's own namespace. `.invalid` never resolves (RFC 6761), so nobody else can mean something by it.
pub const NAMESPACE: &str = "https://lensmend.invalid/xmp/1.0/";

/// Prefixes and namespaces that sidecars use, in the order they are declared.
const NAMESPACES: &[(&str, &str)] = &[
    ("dc", "http://purl.org/dc/elements/1.1/"),
    ("exif", "http://ns.adobe.com/exif/1.0/"),
    ("exifEX", "http://cipa.jp/exif/1.0/"),
    ("tiff", "http://ns.adobe.com/tiff/1.0/"),
    ("xmp", "http://ns.adobe.com/xap/1.0/"),
    ("xmpDM", "http://ns.adobe.com/xmp/1.0/DynamicMedia/"),
    ("stDim", "http://ns.adobe.com/xap/1.0/sType/Dimensions#"),
    ("lensmend", NAMESPACE),
];

/// The sidecar of one file of a clip.
pub fn write(annotation: &Annotation, part: usize, stamp: &Stamp) -> io::Result<Vec<u8>> {
    let Some(file) = part.checked_sub(1).and_then(|at| annotation.clip.files.get(at)) else {
        return Err(io::Error::other("the clip has no such file"));
    };
    let rows = of_file(annotation, file, part);
    let mut out = Out { writer: Writer::new_with_indent(Vec::new(), b' ', 1) };
    out.writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    out.open("x:xmpmeta", &[("xmlns:x", "adobe:ns:meta/")])?;
    out.open("rdf:RDF", &[("xmlns:rdf", "http://www.w3.org/1999/02/22-rdf-syntax-ns#")])?;
    let declared: Vec<(String, &str)> =
        NAMESPACES.iter().map(|(prefix, uri)| (format!("xmlns:{prefix}"), *uri)).collect();
    let mut attributes = vec![("rdf:about", "")];
    attributes.extend(declared.iter().map(|(name, uri)| (name.as_str(), *uri)));
    out.open("rdf:Description", &attributes)?;
    out.text("xmp:MetadataDate", &stamp.date)?;
    container_facts(&mut out, annotation, &rows)?;
    let all: Vec<Cells> = rows.iter().map(cells).collect();
    standard(&mut out, annotation, &all)?;
    own(&mut out, &all, stamp)?;
    out.close("rdf:Description")?;
    out.close("rdf:RDF")?;
    out.close("x:xmpmeta")?;
    let mut bytes = out.writer.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

/// The date that a sidecar of ours carries.
pub fn date_of(bytes: &[u8]) -> Option<String> {
    let text = std::str::from_utf8(bytes).ok()?;
    let (_, rest) = text.split_once("<xmp:MetadataDate>")?;
    let (date, _) = rest.split_once("</xmp:MetadataDate>")?;
    (date.len() < 64).then(|| date.to_owned())
}

struct Out {
    writer: Writer<Vec<u8>>,
}

impl Out {
    fn open(&mut self, name: &str, attributes: &[(&str, &str)]) -> io::Result<()> {
        let start = BytesStart::new(name).with_attributes(attributes.iter().copied());
        self.writer.write_event(Event::Start(start))
    }

    fn close(&mut self, name: &str) -> io::Result<()> {
        self.writer.write_event(Event::End(BytesEnd::new(name)))
    }

    fn text(&mut self, name: &str, text: &str) -> io::Result<()> {
        self.writer.write_event(Event::Start(BytesStart::new(name)))?;
        let legal = legal(text);
        self.writer.write_event(Event::Text(BytesText::from_escaped(escape(legal.as_ref()))))?;
        self.close(name)
    }

    fn maybe(&mut self, name: &str, text: Option<String>) -> io::Result<()> {
        text.map_or(Ok(()), |text| self.text(name, &text))
    }

    /// A structure of simple members.
    fn structure(&mut self, name: &str, members: &[(&str, String)]) -> io::Result<()> {
        self.open(name, &[("rdf:parseType", "Resource")])?;
        for (member, text) in members {
            self.text(member, text)?;
        }
        self.close(name)
    }
}

/// Characters that XML 1.0 (2.2) cannot hold become the replacement character.
fn legal(text: &str) -> Cow<'_, str> {
    let fits = |c: char| matches!(c, '\t' | '\n' | '\r' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..);
    if text.chars().all(fits) {
        return text.into();
    }
    text.chars().map(|c| if fits(c) { c } else { '\u{fffd}' }).collect()
}

/// Facts of the container (XMP part 2: tiff, xmpDM).
fn container_facts(out: &mut Out, annotation: &Annotation, rows: &[Row<'_>]) -> io::Result<()> {
    let media = &annotation.clip.media;
    let format = match media.container {
        Container::QuickTime => Some("video/quicktime"),
        Container::Mp4 => Some("video/mp4"),
        Container::Mxf => Some("application/mxf"),
        Container::Tiff => Some("image/tiff"),
        Container::Jpeg => Some("image/jpeg"),
        Container::Heif => Some("image/heif"),
        // Neither has a registered media type.
        Container::Dng | Container::OpenExr | Container::Opaque => None,
    };
    out.maybe("dc:format", format.map(str::to_owned))?;
    out.maybe("tiff:Make", media.maker.as_ref().map(|maker| maker.value.clone()))?;
    out.maybe("tiff:Model", media.model.as_ref().map(|model| model.value.clone()))?;
    if let Some(coded) = &media.coded {
        out.text("tiff:ImageWidth", &coded.value.width().to_string())?;
        out.text("tiff:ImageLength", &coded.value.height().to_string())?;
    }
    let orientation = media.rotation.as_ref().map(|rotation| match rotation.value {
        Rotation::None => "1",
        Rotation::Half => "3",
        Rotation::Quarter => "6",
        Rotation::ThreeQuarters => "8",
    });
    out.maybe("tiff:Orientation", orientation.map(str::to_owned))?;
    out.maybe("exifEX:BodySerialNumber", media.serial.as_ref().map(|serial| serial.value.clone()))?;
    // What the camera called the reel goes before what its file names say.
    let reel = media.reel.as_ref().map(|reel| reel.value.clone());
    out.maybe("xmpDM:tapeName", reel.or_else(|| annotation.clip.roll.clone()))?;
    if let Some(coded) = &media.coded {
        out.structure(
            "xmpDM:videoFrameSize",
            &[
                ("stDim:w", coded.value.width().to_string()),
                ("stDim:h", coded.value.height().to_string()),
                ("stDim:unit", "pixel".to_owned()),
            ],
        )?;
    }
    let aspect = media
        .pixel_aspect
        .as_ref()
        .map(|aspect| format!("{}/{}", aspect.value.num(), aspect.value.den()));
    out.maybe("xmpDM:videoPixelAspectRatio", aspect)?;
    let Some(rate) = media.rate.as_ref().map(|rate| rate.value) else { return Ok(()) };
    // Part 2 names three rates by words of their own; any other text is allowed.
    let named = match (rate.num(), rate.den()) {
        (25, 1) => "PAL".to_owned(),
        (30000, 1001) => "NTSC".to_owned(),
        _ => short(rate.to_f64(), 3),
    };
    out.text("xmpDM:videoFrameRate", &named)?;
    let Some(row) = rows.first() else { return Ok(()) };
    if let Some(frames) = row.file.frames {
        let scale = format!("{}/{}", rate.den(), rate.num());
        out.structure(
            "xmpDM:duration",
            &[("xmpDM:scale", scale), ("xmpDM:value", frames.to_string())],
        )?;
    }
    if let Some((start, format)) =
        row.file.start.and_then(|start| Some((start, time_format(start, rate)?)))
    {
        let value = time_value(start);
        let members = [("xmpDM:timeFormat", format.to_owned()), ("xmpDM:timeValue", value)];
        out.structure("xmpDM:startTimecode", &members)?;
    }
    Ok(())
}

/// The closed choice of `timeFormat`; rates that it does not name, such as 48, have no start timecode there.
fn time_format(start: Timecode, rate: crate::ratio::FrameRate) -> Option<&'static str> {
    let drop = start.counting().drop();
    let format = match (rate.num(), rate.den(), drop) {
        (24, 1, false) => "24Timecode",
        (25, 1, false) => "25Timecode",
        (30, 1, false) => "30Timecode",
        (50, 1, false) => "50Timecode",
        (60, 1, false) => "60Timecode",
        (24000, 1001, false) => "23976Timecode",
        (30000, 1001, true) => "2997DropTimecode",
        (30000, 1001, false) => "2997NonDropTimecode",
        (60000, 1001, true) => "5994DropTimecode",
        (60000, 1001, false) => "5994NonDropTimecode",
        _ => return None,
    };
    // A timecode that counts half of the frames is not what the name says.
    let base = (f64::from(rate.num()) / f64::from(rate.den())).ceil();
    ((f64::from(start.counting().base()) - base).abs() < 0.5).then_some(format)
}

/// Part 2: the drop-frame formats part all fields by semicolons.
fn time_value(timecode: Timecode) -> String {
    let text = timecode.to_string();
    if timecode.counting().drop() { text.replace(':', ";") } else { text.replace(';', ":") }
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

/// Standard properties (Exif for XMP, CIPA DC-010; XMP part 2).
fn standard(out: &mut Out, annotation: &Annotation, all: &[Cells]) -> io::Result<()> {
    let text = |field| match throughout(all, field) {
        Some(Value::Text(text)) => Some(text.clone()),
        _ => None,
    };
    let number = |field| number_throughout(all, field);
    out.maybe("exif:FocalLength", number(Field::FocalLength).and_then(|f| rational(f, 10_000.0)))?;
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
    )?;
    if let Some(n) = number(Field::FNumber) {
        out.maybe("exif:FNumber", rational(n, 10_000.0))?;
        // ApertureValue is unsigned: below f/1 it cannot be written.
        out.maybe(
            "exif:ApertureValue",
            (n >= 1.0).then(|| rational(2.0 * libm::log2(n), 10_000.0)).flatten(),
        )?;
    }
    // DC-008: numerator FFFFFFFF is infinity.
    out.maybe(
        "exif:SubjectDistance",
        number(Field::FocusDistance).and_then(|d| {
            if d.is_infinite() { Some("4294967295/1".to_owned()) } else { rational(d, 1000.0) }
        }),
    )?;
    if let (Some(width), Some(height), Some(coded)) =
        (number(Field::BackWidth), number(Field::BackHeight), &annotation.clip.media.coded)
    {
        let per_cm = |pixels: u32, side: f64| rational(f64::from(pixels) / side * 10.0, 100.0);
        out.maybe("exif:FocalPlaneXResolution", per_cm(coded.value.width(), width))?;
        out.maybe("exif:FocalPlaneYResolution", per_cm(coded.value.height(), height))?;
        out.text("exif:FocalPlaneResolutionUnit", "3")?;
    }
    out.maybe("exifEX:LensMake", text(Field::LensMaker))?;
    out.maybe("exifEX:LensModel", text(Field::Lens))?;
    out.maybe("exifEX:LensSerialNumber", text(Field::LensSerial))?;
    out.maybe("xmpDM:cameraLabel", text(Field::Camera))?;
    out.maybe("xmpDM:scene", text(Field::Slate))?;
    // takeNumber is an Integer: `3B` stays in the own namespace.
    let take = text(Field::Take).filter(|take| {
        !take.is_empty() && take.len() < 10 && take.bytes().all(|b| b.is_ascii_digit())
    });
    out.maybe("xmpDM:takeNumber", take)?;
    if let Some(Value::Flag(circled)) = throughout(all, Field::Circled) {
        out.text("xmpDM:good", if *circled { "True" } else { "False" })?;
    }
    out.maybe("xmpDM:logComment", text(Field::Remarks))
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

/// Fields of a file as a whole, as [`OF_CLIP`] is of the clip.
const OF_FILE: &[Field] = &[Field::File, Field::Path, Field::Part];

/// The own namespace: clip, tool, and one structure a piece with every value, its uncertainty, basis, verdict and origin.
fn own(out: &mut Out, all: &[Cells], stamp: &Stamp) -> io::Result<()> {
    out.text("lensmend:tool", &stamp.tool)?;
    if let Some(first) = all.first() {
        // The path would not survive the sidecar being moved with its clip.
        let whole = OF_FILE.iter().chain(OF_CLIP).filter(|field| **field != Field::Path);
        for field in whole {
            if let Some(value) = first.get(field).and_then(|cell| cell.value.as_ref()) {
                out.text(&format!("lensmend:{}", field.camel()), &value.text(*field))?;
            }
        }
    }
    out.open("lensmend:pieces", &[])?;
    out.open("rdf:Seq", &[])?;
    let of_piece = |field: &Field| !OF_FILE.contains(field) && !OF_CLIP.contains(field);
    for cells in all {
        out.open("rdf:li", &[("rdf:parseType", "Resource")])?;
        for (field, cell) in cells.iter().filter(|(field, _)| of_piece(field)) {
            member(out, *field, cell)?;
        }
        out.close("rdf:li")?;
    }
    out.close("rdf:Seq")?;
    out.close("lensmend:pieces")
}

fn member(out: &mut Out, field: Field, cell: &Cell) -> io::Result<()> {
    let name = ["lensmend:", &field.camel()].concat();
    let side = |word| [name.as_str(), word].concat();
    if let Some(value) = &cell.value {
        let text = match value {
            Value::Number { number, .. } => short(*number, 6),
            Value::Flag(flag) => if *flag { "True" } else { "False" }.to_owned(),
            _ => value.text(field),
        };
        out.text(&name, &text)?;
        if let Value::Number { uncertainty, basis, .. } = value {
            out.maybe(
                &side("Uncertainty"),
                uncertainty.filter(|u| u.is_finite()).map(|u| short(u, 6)),
            )?;
            out.text(&side("Basis"), basis.word())?;
        }
    }
    if let Some(verdict) = cell.verdict {
        out.text(&side("Verdict"), verdict.word())?;
    }
    out.maybe(&side("Recorded"), cell.recorded.as_ref().map(|value| value.text(field)))?;
    let origin = cell.origin.as_ref().filter(|_| cell.value.is_some());
    out.maybe(&side("Origin"), origin.map(origin_words))
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
    fn what_xml_cannot_hold_is_replaced() {
        assert_eq!(legal("a\u{1b}[31m\u{0}b\tc"), "a\u{fffd}[31m\u{fffd}b\tc");
    }
}
