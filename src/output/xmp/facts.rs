//! Facts of the container and the camera (XMP part 2: tiff, xmpDM; CIPA DC-010).

use crate::number::short;
use crate::output::rows::Row;
use crate::recorded::{Container, Rotation};
use crate::timecode::Timecode;

use super::{Sheet, Sidecar};

/// Adds what container, camera and kit say of the file.
pub(super) fn add(out: &mut Sheet, sidecar: &Sidecar<'_>, rows: &[Row<'_>]) {
    let clip = &sidecar.annotation.clip;
    let media = &clip.media;
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
    out.maybe("dc:format", format.map(str::to_owned));
    out.maybe("tiff:Make", media.maker.as_ref().map(|maker| maker.value.clone()));
    out.maybe("tiff:Model", media.model.as_ref().map(|model| model.value.clone()));
    if let Some(coded) = &media.coded {
        out.text("tiff:ImageWidth", &coded.value.width().to_string());
        out.text("tiff:ImageLength", &coded.value.height().to_string());
    }
    // Exif states these of compressed pictures alone (DC-008, PixelXDimension).
    if let (Container::Jpeg | Container::Heif, Some(coded)) = (media.container, &media.coded) {
        out.text("exif:PixelXDimension", &coded.value.width().to_string());
        out.text("exif:PixelYDimension", &coded.value.height().to_string());
    }
    let orientation = media.rotation.as_ref().map(|rotation| match rotation.value {
        Rotation::None => "1",
        Rotation::Half => "3",
        Rotation::Quarter => "6",
        Rotation::ThreeQuarters => "8",
    });
    out.maybe("tiff:Orientation", orientation.map(str::to_owned));
    out.maybe("exifEX:BodySerialNumber", media.serial.as_ref().map(|serial| serial.value.clone()));
    // Part 2 calls it make and model of the camera; many models begin with their make.
    let model = media.model.as_ref().map(|model| match &media.maker {
        Some(maker) if !model.value.starts_with(&maker.value) => {
            [maker.value.as_str(), " ", &model.value].concat()
        }
        _ => model.value.clone(),
    });
    out.maybe("xmpDM:cameraModel", model);
    out.maybe("xmpDM:projectName", sidecar.production.map(str::to_owned));
    // A camera sets its clock down at the start of the clip; the files after the first begin later. No zone is known,
    // so none is written (ISO 16684-1, 8.2.1.2).
    if let Some(created) = media.created.as_ref().filter(|_| sidecar.part == 1) {
        let date = created.value.format("%Y-%m-%dT%H:%M:%S").to_string();
        for name in ["exif:DateTimeOriginal", "xmp:CreateDate", "xmpDM:shotDate"] {
            out.text(name, &date);
        }
    }
    // What the camera called the reel goes before what its file names say.
    let reel = media.reel.as_ref().map(|reel| reel.value.clone());
    out.maybe("xmpDM:tapeName", reel.or_else(|| clip.roll.clone()));
    if let Some(coded) = &media.coded {
        out.structure(
            "xmpDM:videoFrameSize",
            &[
                ("stDim:w", coded.value.width().to_string()),
                ("stDim:h", coded.value.height().to_string()),
                ("stDim:unit", "pixel".to_owned()),
            ],
        );
    }
    let aspect = media
        .pixel_aspect
        .as_ref()
        .map(|aspect| format!("{}/{}", aspect.value.num(), aspect.value.den()));
    out.maybe("xmpDM:videoPixelAspectRatio", aspect);
    let Some(rate) = media.rate.as_ref().map(|rate| rate.value) else { return };
    // Part 2 names three rates by words of their own; any other text is allowed.
    let named = match (rate.num(), rate.den()) {
        (25, 1) => "PAL".to_owned(),
        (30000, 1001) => "NTSC".to_owned(),
        _ => short(rate.to_f64(), 3),
    };
    out.text("xmpDM:videoFrameRate", &named);
    let Some(row) = rows.first() else { return };
    if let Some(frames) = row.file.frames {
        let scale = format!("{}/{}", rate.den(), rate.num());
        out.structure(
            "xmpDM:duration",
            &[("xmpDM:scale", scale), ("xmpDM:value", frames.to_string())],
        );
    }
    if let Some((start, format)) =
        row.file.start.and_then(|start| Some((start, time_format(start, rate)?)))
    {
        let value = time_value(start);
        let members = [("xmpDM:timeFormat", format.to_owned()), ("xmpDM:timeValue", value)];
        out.structure("xmpDM:startTimecode", &members);
    }
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
