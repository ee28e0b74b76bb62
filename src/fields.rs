//! One table of every field: its id in tables and records, its label, unit, decimals and name in the sidecar's own namespace.
//!
//! `docs/fields.md` is held to this table by a test.

/// Declares the table: variant, id, label, unit, decimals, meaning.
macro_rules! fields {
    ($($variant:ident $id:literal $label:literal $unit:literal $decimals:literal $meaning:literal;)*) => {
        /// A field of a row: one clip, or one piece of it.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Field {
            $(#[doc = $meaning] $variant,)*
        }

        impl Field {
            /// Every field, in the order of records and documentation.
            pub const ALL: &[Field] = &[$(Field::$variant,)*];

            /// Id in table columns and records.
            pub fn id(self) -> &'static str {
                match self { $(Field::$variant => $id,)* }
            }

            /// Heading for people.
            pub fn label(self) -> &'static str {
                match self { $(Field::$variant => $label,)* }
            }

            /// Unit symbol; empty for text and pure numbers.
            pub fn unit(self) -> &'static str {
                match self { $(Field::$variant => $unit,)* }
            }

            /// Most digits behind the point in tables.
            pub fn decimals(self) -> usize {
                match self { $(Field::$variant => $decimals,)* }
            }

            /// What it means, in one sentence.
            pub fn meaning(self) -> &'static str {
                match self { $(Field::$variant => $meaning,)* }
            }
        }
    };
}

fields! {
    File "file" "File" "" 0 "File name of the clip, or of this part of it, without its folder.";
    Path "path" "Path" "" 0 "Path of that file inside the dump.";
    Clip "clip" "Clip" "" 0 "Name of the clip.";
    Roll "roll" "Roll" "" 0 "Roll of the clip.";
    Reel "reel" "Reel" "" 0 "Reel or tape name as recorded with the timecode.";
    Part "part" "Part" "" 0 "Which part of a spanned clip the file is, such as 2/3.";
    FirstFrame "first-frame" "First frame" "" 0 "First frame of the row, counted from the start of the file.";
    Frames "frames" "Frames" "" 0 "Frames of the row.";
    Start "start-timecode" "Start" "" 0 "Timecode of the first frame of the row.";
    End "end-timecode" "End" "" 0 "Timecode after the last frame of the row.";
    Rate "frame-rate" "Rate" "" 0 "Exact frame rate as a ratio.";
    Coded "coded-raster" "Raster" "px" 0 "Raster of the coded picture.";
    Display "display-raster" "Display raster" "px" 0 "Raster it is meant to be shown in, before rotation.";
    PixelAspect "pixel-aspect" "Pixel aspect" "" 0 "Width of a pixel over its height.";
    Rotation "rotation" "Rotation" "deg" 0 "How the picture must be turned clockwise to stand upright.";
    Created "created" "Created" "" 0 "Creation time as the camera wrote it.";
    CameraMaker "camera-maker" "Camera maker" "" 0 "Camera maker as recorded.";
    CameraModel "camera-model" "Camera model" "" 0 "Camera model as recorded.";
    CameraSerial "camera-serial" "Camera serial" "" 0 "Camera serial number as recorded.";
    Camera "camera" "Camera" "" 0 "Camera id in the kit.";
    Mode "mode" "Mode" "" 0 "Recording mode in the kit.";
    Lens "lens" "Lens" "" 0 "Lens, by the name the kit gives it.";
    LensMaker "lens-maker" "Lens maker" "" 0 "Lens maker.";
    LensSerial "lens-serial" "Lens serial" "" 0 "Lens serial number.";
    LensMarks "lens-marks" "Lens as marked" "" 0 "Focal length or range and largest openings as engraved on the lens, such as 24-70 mm f/2.8-4.";
    Squeeze "squeeze" "Squeeze" "" 2 "Anamorphic squeeze of the lens.";
    Attachment "attachment" "Attachment" "" 0 "What stood between lens and camera: its name in the kit, or none.";
    Magnification "magnification" "Magnification" "" 4 "Magnification of the attachment.";
    Glass "attachment-transmittance" "Attachment transmittance" "" 3 "Part of the light that the attachment's glass lets through.";
    Secured "attachment-secured" "Attachment secured" "" 0 "Whether the attachment sat tight as noted; a loose one moves the picture.";
    LensFocal "lens-focal-length" "Lens focal" "mm" 2 "Focal length of the lens alone.";
    LensF "lens-f-number" "Lens f" "" 4 "f-number set on the lens.";
    LensT "lens-t-number" "Lens T" "" 4 "T-number set on the lens.";
    FocalLength "focal-length" "Focal length" "mm" 2 "Effective focal length, behind the attachment.";
    FNumber "f-number" "f-number" "" 4 "Effective f-number, behind the attachment.";
    TNumber "t-number" "T-number" "" 4 "Effective T-number, behind the attachment.";
    FocusDistance "focus-distance" "Focus" "m" 3 "Focus distance from the sensor-plane mark.";
    BackWidth "film-back-width" "Film back width" "mm" 4 "Width of the recorded area on the sensor.";
    BackHeight "film-back-height" "Film back height" "mm" 4 "Height of the recorded area on the sensor.";
    Pinhole "pinhole-focal-length" "Pinhole focal" "mm" 3 "Pinhole focal length, for a matchmove camera.";
    PupilOffset "pupil-offset" "Pupil offset" "mm" 3 "Entrance pupil from the sensor plane, positive toward the object.";
    Distortion "distortion" "Distortion" "" 0 "Measured distortion: model and coefficients for points in millimetres on the sensor, and how they were measured and scaled.";
    AngleHorizontal "angle-horizontal" "Angle horizontal" "deg" 3 "Horizontal angle of view, squeeze included.";
    AngleVertical "angle-vertical" "Angle vertical" "deg" 3 "Vertical angle of view.";
    AngleDiagonal "angle-diagonal" "Angle diagonal" "deg" 3 "Diagonal angle of view, squeeze included: that of the desqueezed picture.";
    CropWidth "crop-width" "Crop by width" "" 4 "36 mm over the width of the recorded area.";
    CropDiagonal "crop-diagonal" "Crop by diagonal" "" 4 "43.27 mm over the diagonal of the recorded area.";
    Equivalent "equivalent-focal-length" "Equivalent focal" "mm" 1 "Effective focal length times crop by diagonal; left out for anamorphic lenses.";
    EquivalentByWidth "equivalent-by-width" "Equivalent by width" "mm" 1 "Effective focal length times crop by width; left out for anamorphic lenses.";
    Light "light-gain" "Light" "stops" 2 "Stops won (positive) or lost behind the attachment.";
    ImageCircle "image-circle" "Image circle" "mm" 2 "Image circle behind the attachment.";
    Coverage "coverage" "Coverage" "" 3 "Image circle over the diagonal of the recorded area; below 1 corners are dark.";
    DarkCorner "dark-corner" "Dark corner" "mm" 3 "How much of a corner's radius lies outside of the image circle, on the sensor.";
    DarkCornerPixels "dark-corner-pixels" "Dark corner" "px" 0 "The same in pixels of the recording.";
    DarkSides "dark-sides" "Dark sides" "mm" 3 "How far the picture is dark in from the middle of its left and right edges, on the sensor; only where the image circle is narrower than the recorded area.";
    DarkSidesPixels "dark-sides-pixels" "Dark sides" "px" 0 "The same in pixels of the recording.";
    DarkTopBottom "dark-top-bottom" "Dark top and bottom" "mm" 3 "How far the picture is dark in from the middle of its top and bottom edges, on the sensor; only where the image circle is lower than the recorded area.";
    DarkTopBottomPixels "dark-top-bottom-pixels" "Dark top and bottom" "px" 0 "The same in pixels of the recording.";
    Hyperfocal "hyperfocal" "Hyperfocal" "m" 3 "Hyperfocal distance from the sensor-plane mark.";
    Near "near-limit" "Near" "m" 3 "Nearest sharp distance from the sensor-plane mark.";
    Far "far-limit" "Far" "m" 3 "Farthest sharp distance from the sensor-plane mark.";
    Slate "slate" "Slate" "" 0 "Slate as noted.";
    Take "take" "Take" "" 0 "Take as noted.";
    Circled "circled" "Circled" "" 0 "Whether the take is circled.";
    Filter "filter" "Filter" "" 0 "Filters as noted.";
    Density "filter-density" "ND" "stops" 2 "Light that neutral density among the filters took; no stop is changed by it.";
    Iso "iso" "ISO" "" 0 "ISO speed, as recorded or noted.";
    ExposureIndex "exposure-index" "EI" "" 0 "Exposure index that the picture was metered at; a camera may record another one than its ISO speed.";
    ShutterAngle "shutter-angle" "Shutter angle" "deg" 2 "Shutter angle, as recorded or noted; never worked out from a time.";
    ExposureTime "exposure-time" "Exposure time" "s" 6 "Exposure time of a frame, as recorded or noted; never worked out from an angle.";
    WhiteBalance "white-balance" "White balance" "K" 0 "White balance as a colour temperature.";
    WhiteBalanceMode "white-balance-mode" "White balance mode" "" 0 "White balance in words: how the camera found it, or what was noted beside or in place of a number.";
    LensHeight "lens-height" "Height" "m" 3 "Height of the lens above the ground, as noted.";
    Tilt "tilt" "Tilt" "deg" 1 "How far the camera looked up (positive) or down, as noted.";
    Operator "operator" "Operator" "" 0 "Camera operator, from notes or kit.";
    Assistants "assistants" "Assistants" "" 0 "Camera assistants, from notes or kit.";
    Unit "unit" "Unit" "" 0 "Unit, from notes or kit.";
    Day "day" "Day" "" 0 "Shooting day as the crew counts it, from notes or kit.";
    Remarks "remarks" "Remarks" "" 0 "Remarks as noted.";
    NoteRows "note-rows" "Note rows" "" 0 "Rows of the notes that speak of the row, each with what made it.";
}

impl Field {
    /// Name in the sidecar's own namespace: the id with capitals for its dashes, `focalLength`.
    pub fn camel(self) -> String {
        let mut name = String::with_capacity(self.id().len());
        let mut upper = false;
        for letter in self.id().chars() {
            if letter != '-' {
                name.push(if upper { letter.to_ascii_uppercase() } else { letter });
            }
            upper = letter == '-';
        }
        name
    }
}

/// Fields of a clip as a whole: they hold for each of its pieces, and records and sidecars say them once.
pub const OF_CLIP: &[Field] = &[
    Field::Clip,
    Field::Roll,
    Field::Reel,
    Field::Rate,
    Field::Coded,
    Field::Display,
    Field::PixelAspect,
    Field::Rotation,
    Field::Created,
    Field::CameraMaker,
    Field::CameraModel,
    Field::CameraSerial,
];

/// A side of a field that a table column can show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Facet {
    /// The value itself.
    Value,
    /// Standard uncertainty, in the field's unit.
    Uncertainty,
    /// How it is known.
    Basis,
    /// What became of the field.
    Verdict,
    /// What the media recorded.
    Recorded,
    /// Why, in words.
    Reason,
}

impl Facet {
    /// Every side, with the word that stands behind the field's id in a column name.
    pub const ALL: [(Self, &'static str); 6] = [
        (Self::Value, ""),
        (Self::Uncertainty, "uncertainty"),
        (Self::Basis, "basis"),
        (Self::Verdict, "verdict"),
        (Self::Recorded, "recorded"),
        (Self::Reason, "reason"),
    ];
}
