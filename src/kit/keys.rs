//! One table of every key of `kit.toml`: the reader takes ranges, words and what is required from it, and
//! `docs/kit.schema.json` and the tables of `docs/kit-toml.md` are made from it.

use super::form::{Form, Heading, Key, Range};
use Form::{Corner, Flag, Id, IdOrNone, Numbers, Raster, Rate, Text, Texts, Word};

/// The heading with this dotted path, without ids: `camera.mode`.
pub fn heading(path: &str) -> Option<&'static Heading> {
    HEADINGS.iter().find(|heading| heading.path == path)
}

impl Heading {
    /// The key of this name.
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|key| key.name == name)
    }
}

const fn number(low: f64, high: f64) -> Form {
    Form::Number(Range { low, high, unit: "" })
}

const fn unit(low: f64, high: f64, unit: &'static str) -> Form {
    Form::Number(Range { low, high, unit })
}

const fn mm(low: f64, high: f64) -> Form {
    Form::Number(millimetres(low, high))
}

const fn millimetres(low: f64, high: f64) -> Range {
    Range { low, high, unit: "mm" }
}

const fn percent() -> Form {
    unit(0.0, 50.0, "percent")
}

/// Focal lengths of lenses.
const FOCAL: Range = millimetres(1.0, 3000.0);
/// An entrance pupil from the sensor plane.
const PUPIL: Range = millimetres(-1000.0, 3000.0);
/// An engraved largest opening, for zooms over their focal lengths.
const OPENING: Form = Form::Ramp { focal: FOCAL, number: Range { low: 0.5, high: 64.0, unit: "" } };
/// What glass of each kind can do to the size of the picture.
const MAGNIFICATION: Form = Form::NumberBy(
    "kind",
    &[
        ("reducer", Range { low: 0.2, high: 0.999, unit: "" }),
        ("adapter", Range { low: 1.0, high: 1.0, unit: "" }),
        ("extender", Range { low: 1.001, high: 4.0, unit: "" }),
    ],
);
/// What contacts tell the camera.
const REPORTS: &[&str] = &["nothing", "marked", "reduced"];

/// Declares the table: path, how often, meaning; below it name, `needed` or `optional`, form, default, meaning.
macro_rules! headings {
    ($($path:literal $many:ident $about:literal {
        $($name:literal $need:ident $form:expr, $default:literal, $meaning:literal;)*
    })*) => {
        /// Every heading of the kit, in the order of the documentation.
        pub const HEADINGS: &[Heading] = &[$(Heading {
            path: $path,
            many: headings!(@ $many),
            meaning: $about,
            keys: &[$(Key {
                name: $name,
                form: $form,
                required: headings!(@ $need),
                default: $default,
                meaning: $meaning,
            },)*],
        },)*];
    };
    (@ once) => { false };
    (@ many) => { true };
    (@ needed) => { true };
    (@ optional) => { false };
}

headings! {
    "production" once "What was shot." {
        "title" optional Text, "none", "title of the production";
        "company" optional Text, "none", "production company";
        "director" optional Text, "none", "director";
        "cinematographer" optional Text, "none", "director of photography";
        "operator" optional Text, "none", "camera operator, where neither notes nor camera name one";
        "assistants" optional Texts, "none", "camera assistants, likewise";
        "unit" optional Text, "none", "unit, unless notes say another";
        "day" optional Text, "none", "shooting day as the crew counts it, such as `3 of 12`, unless notes say another";
        "date" optional Form::Date, "none", "date of the day";
    }
    "defaults" once "Standard uncertainties that hold where an entry has none of its own, and the blur circle." {
        "focal-uncertainty-percent" optional percent(), "3.7", "standard uncertainty of a focal length known from its mark alone";
        "magnification-uncertainty-percent" optional percent(), "1.2", "standard uncertainty of a magnification known from its mark alone";
        "area-uncertainty-percent" optional percent(), "0.3", "standard uncertainty of each side of a recorded area";
        "circle-uncertainty-percent" optional percent(), "2", "standard uncertainty of an image circle or exit circle";
        "transmittance-uncertainty-percent" optional percent(), "3", "standard uncertainty of a stated transmittance";
        "stop-uncertainty-stops" optional unit(0.0, 1.0, "stops"), "0.1", "standard uncertainty of a number on an iris ring, set or engraved";
        "focus-uncertainty-percent" optional percent(), "5", "standard uncertainty of a noted focus distance";
        "pupil-uncertainty" optional mm(0.0, 100.0), "1", "standard uncertainty of the place of an entrance pupil";
        "thickness-uncertainty" optional mm(0.0, 10.0), "0.5", "standard uncertainty of the thickness of an attachment, or of its shift";
        "blur-circle-parts" optional number(100.0, 10_000.0), "1500", "the blur circle that counts as sharp is the diagonal of the recorded area over this";
    }
    "table" once "The lens table." {
        "columns" optional Text, "the columns listed in formats.md", "columns of `lens-table.csv`: ids parted by commas, each with an optional `=Heading` ([formats.md](formats.md)); the flag `--columns` goes before it";
    }
    "naming" many "How clip files are named." {
        "pattern" needed Text, "", "names of clip files; see below";
    }
    "mount" many "A lens or body mount." {
        "id" needed Text, "", "name of the mount";
        "flange" needed mm(1.0, 200.0), "", "flange depth";
        "flange-uncertainty" optional mm(0.0, 5.0), "0.02", "standard uncertainty of the flange depth";
    }
    "camera" many "A camera body." {
        "id" needed Text, "", "usually the camera letter";
        "name" optional Text, "none", "as the crew says it; notes may call the camera by it";
        "rolls" optional Texts, "the id", "beginnings of the names of its rolls";
        "mount" optional Id("mount"), "not known", "its mount";
        "serial" optional Text, "none", "serial number; notes may call the camera by it";
        "attachment" optional IdOrNone("attachment"), "not known", "what is on unless notes or `[[roll]]` say otherwise; `none` for bare";
        "operator" optional Text, "that of `[production]`", "who operates it, unless notes name another";
        "assistants" optional Texts, "those of `[production]`", "its assistants, likewise";
    }
    "camera.mode" many "A recording mode: which part of the sensor ends up in which raster." {
        "id" needed Text, "", "name of the mode; notes may call it by that";
        "raster" needed Raster("3840x2160"), "", "raster of the recording";
        "rate" optional Rate, "any rate", "frame rate, only where the area depends on it";
        "width" optional mm(1.5, 100.0), "", "width of the recorded area";
        "height" optional mm(1.0, 100.0), "", "height of the recorded area";
        "pitch" optional unit(0.5, 50.0, "\u{b5}m"), "", "distance between photosites";
        "photosites" optional Raster("6240x3510"), "the raster", "photosites used, where they are more or fewer than the pixels recorded";
        "area-uncertainty-percent" optional percent(), "that of `[defaults]`", "standard uncertainty of each side of the area";
    }
    "plate" many "A plate: the part of a recording that is handed to VFX." {
        "id" needed Text, "", "name of the plate";
        "crop" needed Raster("4096x1716"), "", "recorded pixels kept";
        "offset" optional Corner("0x222"), "not known", "pixels left of the crop and above it";
        "size" optional Raster("2048x858"), "the crop", "what the crop was resized to; a resize keeps the film back";
        "squeeze" optional number(1.0, 3.0), "1", "anamorphic squeeze that was taken out of the picture";
    }
    "lens" many "A lens, with marked and measured values." {
        "id" needed Text, "", "name of the entry";
        "name" optional Text, "the id", "as the crew says it; goes into the sidecars as the lens model";
        "aliases" optional Texts, "none", "other names by which notes and cameras call it";
        "maker" optional Text, "none", "maker";
        "serial" optional Text, "none", "serial number; notes may call the lens by it";
        "mount" optional Id("mount"), "not known", "its mount";
        "focal" optional Form::Number(FOCAL), "", "focal length of a prime, as marked";
        "measured-focal" optional Form::Number(FOCAL), "", "focal length of a prime, as measured; used in place of the mark";
        "measured-focal-uncertainty" optional mm(0.0, 100.0), "that of a mark", "standard uncertainty of the measurement";
        "range" optional Form::Pair(FOCAL), "", "marked range of a zoom";
        "f-max" optional OPENING, "not known", "largest opening as f-number, as engraved; for a zoom also at its focal lengths";
        "t-max" optional OPENING, "not known", "largest opening as T-number, likewise";
        "scale" optional Word(&["f", "T"]), "that of `f-max` or `t-max` if only one is given; else not known", "what stands on the iris ring";
        "transmittance" optional number(0.01, 1.0), "(f-max / t-max)\u{b2} if both are given", "part of the light it lets through";
        "transmittance-uncertainty" optional number(0.0, 0.5), "that of `[defaults]`; from `f-max` and `t-max` that of both marks, 9.8 % of it", "standard uncertainty of the transmittance";
        "image-circle" optional mm(3.0, 300.0), "not known", "diameter of its image circle";
        "image-circle-uncertainty" optional mm(0.0, 50.0), "that of `[defaults]`", "standard uncertainty of the image circle";
        "squeeze" optional number(1.0, 3.0), "1, marked as assumed", "anamorphic squeeze";
        "pupil-offset" optional Form::Number(PUPIL), "not known", "entrance pupil from the lens's own sensor plane, positive toward the object";
        "pupil-offset-uncertainty" optional mm(0.0, 100.0), "that of `[defaults]`", "standard uncertainty of the pupil offset";
        "rear-protrusion" optional mm(0.0, 200.0), "not known", "how far the rear reaches behind the flange";
        "unit-focus" optional Flag, "false", "the whole lens moves to focus, so that its breathing can be worked out";
    }
    "lens.table" many "How a lens breathes, as measured: its pinhole focal length over the focus distance." {
        "focal" optional Form::Number(FOCAL), "", "marked zoom setting; required for a zoom, left out for a prime";
        "focus" needed Numbers(Range { low: 0.01, high: f64::INFINITY, unit: "m" }), "", "focus distances from the sensor-plane mark, rising";
        "pinhole" needed Numbers(FOCAL), "", "pinhole focal length at each of them";
        "pupil-offset" optional Numbers(PUPIL), "not known", "entrance pupil from the lens's own sensor plane at each of them";
        "pinhole-uncertainty" optional mm(0.0, 100.0), "not known", "standard uncertainty of the pinhole focal lengths";
        "pupil-offset-uncertainty" optional mm(0.0, 100.0), "not known", "standard uncertainty of the pupil offsets";
    }
    "lens.distortion" many "Distortion of a lens as measured, by the coefficients of OpenLensIO: of points in millimetres on the sensor from the optical axis." {
        "maps" needed Word(&["D-U", "U-D"]), "", "which way the coefficients take a point: from the distorted picture to the undistorted one, or back";
        "radial" needed Numbers(Range { low: -1000.0, high: 1000.0, unit: "" }), "", "k1 to k6 at most: k1, k3, k5 stand with the second, fourth and sixth power of the distance above the line, k2, k4, k6 below it; 0 where there is none";
        "tangential" optional Numbers(Range { low: -1000.0, high: 1000.0, unit: "" }), "none", "p1 and p2";
        "normalised-by" optional mm(1.0, 3000.0), "the coordinates were millimetres", "pinhole focal length by which coordinates were divided before the coefficients were found, as computer vision does";
        "focal" optional Form::Number(FOCAL), "", "marked zoom setting; required for a zoom, left out for a prime";
        "focus" optional unit(0.01, f64::INFINITY, "m"), "at any", "focus distance at which it was measured, from the sensor-plane mark";
        "behind" optional IdOrNone("attachment"), "none", "what stood between lens and camera when it was measured";
    }
    "attachment" many "What stands between lens and camera." {
        "id" needed Text, "", "name of the entry";
        "name" optional Text, "the id", "as the crew says it";
        "aliases" optional Texts, "none", "other names by which notes call it";
        "kind" needed Word(&["reducer", "adapter", "extender"]), "", "what it is; an adapter has no glass";
        "serial" optional Text, "none", "serial number; notes may call it by that";
        "lens-mount" optional Id("mount"), "not known", "mount on the lens side";
        "body-mount" optional Id("mount"), "not known", "mount on the camera side";
        "magnification" optional MAGNIFICATION, "1 for an adapter", "as marked";
        "measured-magnification" optional MAGNIFICATION, "not known", "as measured; used in place of the mark";
        "measured-magnification-uncertainty" optional number(0.0, 0.5), "that of a mark", "standard uncertainty of the measurement";
        "transmittance" optional number(0.01, 1.0), "1 for an adapter; else not known", "part of the light its glass lets through";
        "transmittance-uncertainty" optional number(0.0, 0.5), "that of `[defaults]`", "standard uncertainty of the transmittance";
        "exit-circle" optional mm(3.0, 300.0), "no limit", "largest image circle it lets out";
        "exit-circle-uncertainty" optional mm(0.0, 50.0), "that of `[defaults]`", "standard uncertainty of the exit circle";
        "thickness" optional mm(-50.0, 200.0), "not known", "from flange to flange";
        "thickness-uncertainty" optional mm(0.0, 10.0), "that of `[defaults]`", "standard uncertainty of the thickness";
        "shift" optional mm(-50.0, 200.0), "worked out from `thickness` and the two flanges", "how far it brings the sensor plane toward the lens; goes before `thickness`";
        "shift-uncertainty" optional mm(0.0, 10.0), "that of a thickness in `[defaults]`", "standard uncertainty of the shift";
        "distortion-free" optional Flag, "false; an adapter has no glass", "it scales the picture and adds no distortion of its own, as far as anybody can measure; so what was measured of a lens alone holds behind it, scaled";
        "front-clearance" optional mm(0.0, 200.0), "not known", "room in front of its glass";
        "reports" optional Form::Reports(REPORTS), "not known", "what the camera records with it on";
    }
    "attachment.reports" once "What the camera records, where focal length and stop differ." {
        "focal" optional Word(REPORTS), "not known", "what it records of the focal length";
        "stop" optional Word(REPORTS), "not known", "what it records of the stop";
    }
    "roll" many "What holds for a whole roll unless a note says otherwise." {
        "name" needed Text, "", "roll, as in the clip names";
        "camera" optional Id("camera"), "by the name of the roll", "camera of the roll";
        "mode" optional Id("mode"), "by raster and rate", "recording mode of the roll";
        "lens" optional Id("lens"), "not known", "lens on all day";
        "attachment" optional IdOrNone("attachment"), "that of the camera", "attachment on all day";
    }
}
