//! What must stand in a sidecar, worked out from the run record alone and apart from the writer:
//! the standards' properties (Exif for XMP, CIPA DC-010; XMP part 2), and the own namespace.

use std::collections::BTreeMap;

use lensmend::fields::Field;
use serde_json::Value as Json;

/// The value that a reader must find.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Expected {
    /// This text.
    Text(String),
    /// This number as decimal or ratio, at most `off` away from it.
    Number { number: f64, off: f64 },
}

impl Expected {
    /// True if `found` says this.
    pub(super) fn is(&self, found: &str) -> bool {
        match self {
            Self::Text(text) => text == found,
            Self::Number { number, off } => {
                number_of(found).is_some_and(|found| (found - number).abs() <= *off)
            }
        }
    }
}

/// `355/10` and `35.5` are 35.5.
pub(super) fn number_of(text: &str) -> Option<f64> {
    match text.split_once('/') {
        Some((over, under)) => {
            let (over, under): (u32, u32) = (over.parse().ok()?, under.parse().ok()?);
            (under > 0).then(|| f64::from(over) / f64::from(under))
        }
        None => text.parse().ok(),
    }
}

/// Every property that the sidecar of file `part` (from 0) of `clip` must carry, by the path that the XMP toolkit gives it.
pub(super) fn of_sidecar(record: &Json, clip: &Json, part: usize) -> BTreeMap<String, Expected> {
    let file = &clip["files"][part];
    let name = file["file"].as_str().unwrap().rsplit('/').next().unwrap();
    let pieces: Vec<&Json> = clip["pieces"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|piece| piece["file"]["value"] == name)
        .collect();
    let mut sheet = Sheet { properties: BTreeMap::new(), clip, file, pieces };
    sheet.text("xmp:MetadataDate", record["written"].as_str());
    sheet.media(record, part);
    sheet.timing();
    sheet.optics();
    sheet.exposure();
    sheet.log();
    sheet.own(record);
    sheet.properties
}

struct Sheet<'a> {
    properties: BTreeMap<String, Expected>,
    clip: &'a Json,
    file: &'a Json,
    pieces: Vec<&'a Json>,
}

impl<'a> Sheet<'a> {
    fn put(&mut self, path: &str, expected: Expected) {
        let before = self.properties.insert(path.to_owned(), expected);
        assert_eq!(before, None, "{path} is expected twice");
    }

    fn text(&mut self, path: &str, text: Option<&str>) {
        if let Some(text) = text {
            self.put(path, Expected::Text(text.to_owned()));
        }
    }

    /// A number within 1e-4 of itself, or within half of the last digit that the property is written with.
    fn number(&mut self, path: &str, number: Option<f64>, digit: f64) {
        if let Some(number) = number {
            let off = (number.abs() * 1e-4).max(digit / 2.0 + 1e-9);
            self.put(path, Expected::Number { number, off });
        }
    }

    fn of_media(&self, field: &str) -> Option<&'a str> {
        self.clip["media"][field]["value"].as_str()
    }

    /// The value of a field where every piece of the file has the same.
    fn throughout(&self, field: &str) -> Option<&'a Json> {
        let first = self.pieces.first()?.get(field)?.get("value")?;
        self.pieces.iter().all(|piece| piece[field].get("value") == Some(first)).then_some(first)
    }

    fn raster(&self) -> Option<(&'a str, &'a str)> {
        self.of_media("codedRaster")?.split_once('x')
    }

    fn media(&mut self, record: &Json, part: usize) {
        let media = &self.clip["media"];
        let container = media["container"].as_str().unwrap();
        let format = match container {
            "QuickTime" => Some("video/quicktime"),
            "MP4" => Some("video/mp4"),
            "MXF" => Some("application/mxf"),
            "TIFF" => Some("image/tiff"),
            "JPEG" => Some("image/jpeg"),
            "HEIF" => Some("image/heif"),
            _ => None,
        };
        self.text("xmpDM:projectName", record["production"].as_str());
        let model = self.of_media("cameraModel").map(|model| match self.of_media("cameraMaker") {
            Some(maker) if !model.starts_with(maker) => format!("{maker} {model}"),
            _ => model.to_owned(),
        });
        self.text("xmpDM:cameraModel", model.as_deref());
        // ISO 16684-1, 8.2.1.2: a date without a zone. The clock was read at the start of the first file.
        for path in ["exif:DateTimeOriginal", "xmp:CreateDate", "xmpDM:shotDate"] {
            self.text(path, self.of_media("created").filter(|_| part == 0));
        }
        self.text("dc:format", format);
        self.text("tiff:Make", self.of_media("cameraMaker"));
        self.text("tiff:Model", self.of_media("cameraModel"));
        self.text("exifEX:BodySerialNumber", self.of_media("cameraSerial"));
        self.text("xmpDM:tapeName", self.of_media("reel").or(self.clip["roll"].as_str()));
        if let Some((width, height)) = self.raster() {
            for path in ["tiff:ImageWidth", "xmpDM:videoFrameSize/stDim:w"] {
                self.text(path, Some(width));
            }
            for path in ["tiff:ImageLength", "xmpDM:videoFrameSize/stDim:h"] {
                self.text(path, Some(height));
            }
            self.text("xmpDM:videoFrameSize/stDim:unit", Some("pixel"));
            // DC-008: of compressed pictures.
            if ["JPEG", "HEIF"].contains(&container) {
                self.text("exif:PixelXDimension", Some(width));
                self.text("exif:PixelYDimension", Some(height));
            }
        }
        // TIFF 6.0, Orientation: 6 is stored turned a quarter against the clock, so it is shown turned with it.
        let orientation = media["rotation"]["value"].as_u64().map(|turned| match turned {
            0 => "1",
            90 => "6",
            180 => "3",
            270 => "8",
            odd => panic!("no Orientation for {odd} degrees"),
        });
        self.text("tiff:Orientation", orientation);
        let aspect = self.of_media("pixelAspect").and_then(number_of);
        self.number("xmpDM:videoPixelAspectRatio", aspect, 0.0);
    }

    fn timing(&mut self) {
        let Some(rate) = self.of_media("frameRate") else { return };
        match rate {
            "25" => self.text("xmpDM:videoFrameRate", Some("PAL")),
            "30000/1001" => self.text("xmpDM:videoFrameRate", Some("NTSC")),
            _ => self.number("xmpDM:videoFrameRate", number_of(rate), 0.001),
        }
        if let Some(frames) = self.file["frames"].as_u64() {
            let (over, under) = rate.split_once('/').unwrap_or((rate, "1"));
            self.text("xmpDM:duration/xmpDM:scale", Some(&format!("{under}/{over}")));
            self.text("xmpDM:duration/xmpDM:value", Some(&frames.to_string()));
        }
        let Some(label) = self.file["startTimecode"].as_str() else { return };
        // XMP part 2, Timecode: the closed choice. 48 is not in it.
        let format = match (rate, label.contains(';')) {
            ("24", false) => "24Timecode",
            ("25", false) => "25Timecode",
            ("30", false) => "30Timecode",
            ("50", false) => "50Timecode",
            ("60", false) => "60Timecode",
            ("24000/1001", false) => "23976Timecode",
            ("30000/1001", true) => "2997DropTimecode",
            ("30000/1001", false) => "2997NonDropTimecode",
            ("60000/1001", true) => "5994DropTimecode",
            ("60000/1001", false) => "5994NonDropTimecode",
            _ => return,
        };
        let label = if label.contains(';') { label.replace(':', ";") } else { label.to_owned() };
        self.text("xmpDM:startTimecode/xmpDM:timeFormat", Some(format));
        self.text("xmpDM:startTimecode/xmpDM:timeValue", Some(&label));
    }

    fn optics(&mut self) {
        let number = |sheet: &Self, field| sheet.throughout(field).and_then(Json::as_f64);
        self.number("exif:FocalLength", number(self, "focalLength"), 1e-4);
        let anamorphic =
            number(self, "squeeze").is_some_and(|squeeze| (squeeze - 1.0).abs() > 1e-6);
        if !anamorphic && let Some(equivalent) = number(self, "equivalentFocalLength") {
            self.text("exif:FocalLengthIn35mmFilm", Some(&format!("{equivalent:.0}")));
        }
        let stop = number(self, "fNumber");
        self.number("exif:FNumber", stop, 1e-4);
        // APEX (DC-008 annex C): 2 log2 N; the property is unsigned, so below f/1 there is none.
        let aperture = stop.filter(|stop| *stop >= 1.0).map(|stop| 2.0 * stop.ln() / 2f64.ln());
        self.number("exif:ApertureValue", aperture, 1e-4);
        if self.throughout("focusDistance").is_some_and(|distance| distance == "infinity") {
            // DC-008, SubjectDistance: the numerator FFFFFFFF is infinity.
            self.text("exif:SubjectDistance", Some("4294967295/1"));
        } else {
            self.number("exif:SubjectDistance", number(self, "focusDistance"), 1e-3);
        }
        let back = number(self, "filmBackWidth").zip(number(self, "filmBackHeight"));
        if let (Some((width, height)), Some((across, down))) = (back, self.raster()) {
            // Pixels a centimetre (unit 3) of millimetres.
            let resolution =
                |pixels: &str, side: f64| number_of(pixels).map(|pixels| pixels * 10.0 / side);
            self.number("exif:FocalPlaneXResolution", resolution(across, width), 0.01);
            self.number("exif:FocalPlaneYResolution", resolution(down, height), 0.01);
            self.text("exif:FocalPlaneResolutionUnit", Some("3"));
        }
    }

    /// DC-008: `PhotographicSensitivity` is a SHORT in which 65535 sends elsewhere; `WhiteBalance` is 0 auto, 1 manual.
    fn exposure(&mut self) {
        let iso = self.throughout("iso").and_then(Json::as_f64);
        if let Some(iso) = iso.filter(|iso| *iso < 65_534.5) {
            self.text("exifEX:PhotographicSensitivity", Some(&format!("{iso:.0}")));
            self.text("exif:ISOSpeedRatings[1]", Some(&format!("{iso:.0}")));
        }
        let time = self.throughout("exposureTime").and_then(Json::as_f64);
        self.number("exif:ExposureTime", time, 0.0);
        let mode = match self.throughout("whiteBalanceMode").and_then(Json::as_str) {
            Some("automatic") => Some("0"),
            Some("manual") => Some("1"),
            _ => None,
        };
        self.text("exif:WhiteBalance", mode);
    }

    fn log(&mut self) {
        for (path, field) in [
            ("exifEX:LensMake", "lensMaker"),
            ("exifEX:LensModel", "lens"),
            ("exifEX:LensSerialNumber", "lensSerial"),
            ("xmpDM:cameraLabel", "camera"),
            ("xmpDM:scene", "slate"),
            ("xmpDM:logComment", "remarks"),
        ] {
            self.text(path, self.throughout(field).and_then(Json::as_str));
        }
        self.lens_marks();
        let take = self.throughout("take").and_then(Json::as_str);
        self.text("xmpDM:takeNumber", take.filter(|take| take.parse::<u32>().is_ok()));
        let circled = self.throughout("circled").and_then(Json::as_bool);
        self.text("xmpDM:good", circled.map(spelled));
    }

    /// Exif's specification of the lens, from its marks as the record spells them: `24-70 mm f/2.8-4 T3`.
    fn lens_marks(&mut self) {
        let Some(marks) = self.throughout("lensMarks").and_then(Json::as_str) else { return };
        let (focal, openings) = marks.split_once(" mm").unwrap();
        let both = |text: &str| {
            let (from, to) = text.split_once('-').unwrap_or((text, text));
            [from, to].map(|number| number.parse::<f64>().unwrap())
        };
        let f = openings.split(' ').find_map(|word| word.strip_prefix("f/")).map(both);
        let [low, high] = both(focal);
        for (at, number) in
            [(1, Some(low)), (2, Some(high)), (3, f.map(|f| f[0])), (4, f.map(|f| f[1]))]
        {
            let path = format!("exifEX:LensSpecification[{at}]");
            match number {
                Some(number) => self.number(&path, Some(number), 0.01),
                // DC-008, LensSpecification: not known.
                None => self.text(&path, Some("0/0")),
            }
        }
        // DC-008, MaxApertureValue: of the lens; stands where nothing scales the picture.
        let m = self.throughout("magnification").and_then(Json::as_f64);
        if m == Some(1.0)
            && let Some(widest) = f.map(|f| f[0].min(f[1])).filter(|widest| *widest >= 1.0)
        {
            // Within the 0.17 in APEX that lie between a mark and the number behind it (ISO 517:2008).
            self.put(
                "exif:MaxApertureValue",
                Expected::Number { number: 2.0 * widest.ln() / 2f64.ln(), off: 0.17 },
            );
        }
    }

    /// The own namespace: facts of the file at the top, everything else piece by piece.
    fn own(&mut self, record: &Json) {
        self.text("lensmend:tool", record["tool"].as_str());
        self.text("lensmend:clip", self.clip["name"].as_str());
        self.text("lensmend:roll", self.clip["roll"].as_str());
        let first = self.pieces[0];
        for field in ["file", "part"] {
            self.text(&format!("lensmend:{field}"), first[field]["value"].as_str());
        }
        for field in [
            "reel",
            "frameRate",
            "codedRaster",
            "displayRaster",
            "pixelAspect",
            "created",
            "cameraMaker",
            "cameraModel",
            "cameraSerial",
        ] {
            self.text(&format!("lensmend:{field}"), self.of_media(field));
        }
        let rotation =
            self.clip["media"]["rotation"]["value"].as_u64().map(|turned| turned.to_string());
        self.text("lensmend:rotation", rotation.as_deref());
        for (at, piece) in self.pieces.clone().into_iter().enumerate() {
            for (field, cell) in piece.as_object().unwrap() {
                if field != "file" && field != "part" {
                    self.cell(
                        &format!("lensmend:pieces[{}]/lensmend:{field}", at + 1),
                        field,
                        cell,
                    );
                }
            }
        }
    }

    fn cell(&mut self, path: &str, field: &str, cell: &Json) {
        if let Some(value) = cell.get("value") {
            // Six decimals are written.
            self.put(path, exactly(value, 1e-6));
        }
        if let Some(uncertainty) = cell.get("uncertainty") {
            self.put(&format!("{path}Uncertainty"), exactly(uncertainty, 1e-6));
        }
        for (key, end) in [("basis", "Basis"), ("verdict", "Verdict")] {
            self.text(&format!("{path}{end}"), cell[key].as_str());
        }
        if let Some(recorded) = cell.get("recorded") {
            // Written with the field's own decimals.
            let field = Field::ALL.iter().find(|known| known.camel() == field).unwrap();
            let digit = 10f64.powi(-i32::try_from(field.decimals()).unwrap());
            self.put(&format!("{path}Recorded"), exactly(recorded, digit));
        }
        if cell.get("value").is_some() && cell.get("origin").is_some() {
            let words = words_of(&cell["origin"]);
            self.text(&format!("{path}Origin"), Some(&words));
        }
    }
}

fn spelled(flag: bool) -> &'static str {
    if flag { "True" } else { "False" }
}

/// A value of the record as the own namespace writes it, numbers rounded to `digit`.
fn exactly(value: &Json, digit: f64) -> Expected {
    match value {
        Json::String(text) => Expected::Text(text.clone()),
        Json::Bool(flag) => Expected::Text(spelled(*flag).to_owned()),
        _ => {
            let number = value.as_f64().unwrap();
            // The record keeps nine digits.
            Expected::Number { number, off: digit / 2.0 + number.abs() * 1e-8 }
        }
    }
}

/// An origin of the record in the words of the sidecar.
fn words_of(origin: &Json) -> String {
    let word = |key: &str| match &origin[key] {
        Json::String(text) => text.clone(),
        other => other.to_string(),
    };
    match origin["kind"].as_str().unwrap() {
        "media" => format!("{} {} at byte {}", word("file"), word("path"), word("offset")),
        "note" => format!("{} line {}, {}", word("file"), word("line"), word("heading")),
        "kit" => format!("kit {}", word("key")),
        "computed" => format!("computed: {}", word("rule")),
        "name" => format!("name {}", word("name")),
        odd => panic!("the record has an origin of kind {odd}"),
    }
}
