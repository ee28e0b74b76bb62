//! Names of the fields of TIFF 6.0, Exif (CIPA DC-008) and DNG, by their numbers.

/// Declares fields that the code asks for by name, and those that are only called by it.
macro_rules! fields {
    ($($constant:ident $number:literal $name:literal;)* -- $($other:literal $called:literal;)*) => {
        $(pub(super) const $constant: u16 = $number;)*

        /// The name of a field; a number in hexadecimal where it has none here.
        pub(super) fn name(tag: u16) -> String {
            let known = match tag {
                $($number => $name,)*
                $($other => $called,)*
                _ => return format!("{tag:#06x}"),
            };
            known.to_owned()
        }
    };
}

fields! {
    NEW_SUBFILE_TYPE 0x00FE "NewSubfileType";
    IMAGE_WIDTH 0x0100 "ImageWidth";
    IMAGE_LENGTH 0x0101 "ImageLength";
    MAKE 0x010F "Make";
    MODEL 0x0110 "Model";
    ORIENTATION 0x0112 "Orientation";
    EXPOSURE_TIME 0x829A "ExposureTime";
    F_NUMBER 0x829D "FNumber";
    PHOTOGRAPHIC_SENSITIVITY 0x8827 "PhotographicSensitivity";
    STANDARD_OUTPUT_SENSITIVITY 0x8831 "StandardOutputSensitivity";
    RECOMMENDED_EXPOSURE_INDEX 0x8832 "RecommendedExposureIndex";
    ISO_SPEED 0x8833 "ISOSpeed";
    DATE_TIME_ORIGINAL 0x9003 "DateTimeOriginal";
    DATE_TIME_DIGITIZED 0x9004 "DateTimeDigitized";
    SHUTTER_SPEED_VALUE 0x9201 "ShutterSpeedValue";
    APERTURE_VALUE 0x9202 "ApertureValue";
    SUBJECT_DISTANCE 0x9206 "SubjectDistance";
    FOCAL_LENGTH 0x920A "FocalLength";
    WHITE_BALANCE 0xA403 "WhiteBalance";
    BODY_SERIAL_NUMBER 0xA431 "BodySerialNumber";
    LENS_MODEL 0xA434 "LensModel";
    UNIQUE_CAMERA_MODEL 0xC614 "UniqueCameraModel";
    DEFAULT_SCALE 0xC61E "DefaultScale";
    DEFAULT_CROP_SIZE 0xC620 "DefaultCropSize";
    CAMERA_SERIAL_NUMBER 0xC62F "CameraSerialNumber";
    TIME_CODES 0xC763 "TimeCodes";
    FRAME_RATE 0xC764 "FrameRate";
    T_STOP 0xC772 "TStop";
    REEL_NAME 0xC789 "ReelName";
    --
    0x0102 "BitsPerSample";
    0x0103 "Compression";
    0x0106 "PhotometricInterpretation";
    0x010E "ImageDescription";
    0x0111 "StripOffsets";
    0x0115 "SamplesPerPixel";
    0x0116 "RowsPerStrip";
    0x0117 "StripByteCounts";
    0x011A "XResolution";
    0x011B "YResolution";
    0x011C "PlanarConfiguration";
    0x0128 "ResolutionUnit";
    0x0131 "Software";
    0x0132 "DateTime";
    0x013B "Artist";
    0x0142 "TileWidth";
    0x0143 "TileLength";
    0x0144 "TileOffsets";
    0x0145 "TileByteCounts";
    0x8298 "Copyright";
    0x8822 "ExposureProgram";
    0x8830 "SensitivityType";
    0x9000 "ExifVersion";
    0x9010 "OffsetTime";
    0x9011 "OffsetTimeOriginal";
    0x9203 "BrightnessValue";
    0x9204 "ExposureBiasValue";
    0x9205 "MaxApertureValue";
    0x9207 "MeteringMode";
    0x9208 "LightSource";
    0x9209 "Flash";
    0x927C "MakerNote";
    0x9286 "UserComment";
    0x9291 "SubSecTimeOriginal";
    0xA000 "FlashpixVersion";
    0xA001 "ColorSpace";
    0xA002 "PixelXDimension";
    0xA003 "PixelYDimension";
    0xA20E "FocalPlaneXResolution";
    0xA20F "FocalPlaneYResolution";
    0xA210 "FocalPlaneResolutionUnit";
    0xA404 "DigitalZoomRatio";
    0xA405 "FocalLengthIn35mmFilm";
    0xA40C "SubjectDistanceRange";
    0xA430 "CameraOwnerName";
    0xA432 "LensSpecification";
    0xA433 "LensMake";
    0xA435 "LensSerialNumber";
    0xC612 "DNGVersion";
    0xC613 "DNGBackwardVersion";
    0xC61F "DefaultCropOrigin";
    0xC630 "LensInfo";
    0xC68D "ActiveArea";
    0xC7A1 "CameraLabel";
}
