#!/usr/bin/env python3
"""Pictures written by the exiv2 and OpenEXR libraries, and what these libraries read of them again.

    picture_values.py FOLDER    writes into FOLDER; JSON on stdout

    [ { "file": "name inside FOLDER",
        "values": { "FocalLength": "35/1", "LensSpecification": "24/1 70/1 28/10 0/0" } }, ... ]

Values of exiv2 are as it prints them, under the names of its tags. Of OpenEXR, floats are numbers, windows lists
of left, top, right, bottom, ratios "num/den", and infinity is "infinity"; a timecode is its label.
"""
import json
import pathlib
import sys
from fractions import Fraction

import cv2
import exiv2
import numpy
import OpenEXR

SIZE = (18, 32)
# The library takes this from text only as far as 31 bits go.
INFINITY = "4294967295/1"

TAKEN = {
    "Exif.Image.Make": "Kestrel",
    "Exif.Image.Model": "K1",
    "Exif.Image.Orientation": "6",
    "Exif.Photo.ExposureTime": "1/48",
    "Exif.Photo.FNumber": "28/10",
    "Exif.Photo.DateTimeOriginal": "2026:11:14 10:02:11",
    "Exif.Photo.ApertureValue": "297085/100000",
    "Exif.Photo.SubjectDistance": "15/10",
    "Exif.Photo.FocalLength": "355/10",
    "Exif.Photo.FocalLengthIn35mmFilm": "50",
    "Exif.Photo.BodySerialNumber": "K-0042",
    "Exif.Photo.LensSpecification": "24/1 70/1 28/10 0/0",
    "Exif.Photo.LensMake": "Sorrel",
    "Exif.Photo.LensModel": "Sorrel 35",
    "Exif.Photo.LensSerialNumber": "77",
}
# What a camera writes that knows nothing of its lens, and focus at infinity.
UNKNOWN = {
    "Exif.Photo.FNumber": "0/0",
    "Exif.Photo.SubjectDistance": INFINITY,
    "Exif.Photo.FocalLength": "0/1000",
    "Exif.Photo.LensModel": "----",
}
FRAME = {
    "Exif.Image.DNGVersion": "1 4 0 0",
    "Exif.Image.TimeCodes": "4 3 2 1 0 0 0 0",
    "Exif.Image.FrameRate": "24000/1001",
    "Exif.Image.TStop": "31/10",
    "Exif.Image.ReelName": "A003",
    "Exif.Image.CameraSerialNumber": "K-0042",
}
XMP = {"Xmp.exif.FNumber": "28/10", "Xmp.exifEX.LensModel": "Sorrel 35"}


def main(folder):
    folder = pathlib.Path(folder)
    made = [
        exif(folder / "taken.tif", TAKEN),
        exif(folder / "taken.jpg", TAKEN),
        exif(folder / "unknown.tif", UNKNOWN),
        exif(folder / "frame.dng", {**TAKEN, **FRAME}),
        exif(folder / "packet.jpg", {}, XMP),
        exif(folder / "packet.tif", {}, XMP),
        exr(folder / "frame.exr"),
    ]
    json.dump(made, sys.stdout, indent=1, ensure_ascii=False)
    print()


def exif(path, fields, packet=None):
    """A grey picture with the fields given."""
    kind = ".tif" if path.suffix == ".dng" else path.suffix
    fine, data = cv2.imencode(kind, numpy.full((*SIZE, 3), 128, numpy.uint8))
    assert fine
    path.write_bytes(data.tobytes())
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    exif_data, xmp_data = image.exifData(), image.xmpData()
    for key, value in fields.items():
        exif_data[key] = exiv2.URationalValue([(2**32 - 1, 1)]) if value == INFINITY else value
    for key, value in (packet or {}).items():
        xmp_data[key] = value
    image.setExifData(exif_data)
    image.setXmpData(xmp_data)
    image.writeMetadata()
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    # Ways to other directories and the packet itself are no values.
    ways = ("ExifTag", "XMLPacket", "InterColorProfile")
    values = {datum.tagName(): datum.toString() for datum in image.exifData() if datum.tagName() not in ways}
    values.update({datum.key()[4:].replace(".", ":"): datum.toString() for datum in image.xmpData()})
    return {"file": path.name, "values": values}


def exr(path):
    """A frame with the standard attributes that say how it was taken."""
    code = OpenEXR.TimeCode(1, 2, 3, 4, 0, *[0] * 13)
    header = {
        "type": OpenEXR.scanlineimage, "compression": OpenEXR.ZIP_COMPRESSION, "pixelAspectRatio": 2.0,
        "framesPerSecond": Fraction(24000, 1001), "timeCode": code, "nominalFocalLength": 50.0,
        "effectiveFocalLength": 35.5, "pinholeFocalLength": 35.7, "aperture": 2.8, "tStop": 3.1,
        "focus": float("inf"), "cameraMake": "Kestrel", "cameraModel": "K1", "cameraSerialNumber": "K-0042",
        "lensMake": "Sorrel", "lensModel": "Sorrel 50", "lensSerialNumber": "77", "reelName": "A003",
        "capDate": "2026:11:14 10:02:11",
    }
    OpenEXR.File(header, {"RGB": numpy.zeros((*SIZE, 3), numpy.float32)}).write(str(path))
    read = OpenEXR.File(str(path), header_only=True).header()
    values = {}
    for name in [*header, "dataWindow", "displayWindow"]:
        value = read[name]
        if name in ("type", "compression"):
            continue
        if name == "timeCode":
            value = f"{value.hours:02}:{value.minutes:02}:{value.seconds:02}:{value.frame:02}"
        elif name.endswith("Window"):
            value = [int(edge) for corner in value for edge in corner]
        elif isinstance(value, Fraction):
            value = f"{value.numerator}/{value.denominator}"
        elif value == float("inf"):
            value = "infinity"
        values[name] = value
    return {"file": path.name, "values": values}


if __name__ == "__main__":
    main(sys.argv[1])
