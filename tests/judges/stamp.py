"""Plates for `stamp`, written by the OpenEXR library, and what it reads of the copies.

Each argument is a folder. If it has no folder `plates`, that is made: a plate in every compression, of tiles, of several
parts, and deep. Else `out` is read beside `plates`: attributes of each copy by name with type and value, whether those
of the plate are still there, and whether every pixel is the same.
"""

import json
import math
import os
import sys

import numpy
import OpenEXR

COMPRESSIONS = [name for name in dir(OpenEXR) if name.endswith("_COMPRESSION") and not name.startswith("NUM")]


def channels(seed):
    draw = numpy.random.default_rng(seed)
    smooth = numpy.linspace(0, 1, 72 * 130, dtype=numpy.float32).reshape(72, 130)
    rgb = numpy.stack([smooth, smooth[::-1], draw.random((72, 130), dtype=numpy.float32)], axis=-1)
    return {"RGB": rgb.astype(numpy.float16), "Z": draw.random((72, 130), dtype=numpy.float32)}


def make(folder):
    plates = os.path.join(folder, "plates")
    os.mkdir(plates)
    number = 0
    made = []

    def name(words):
        nonlocal number
        made.append(words)
        number += 1
        return os.path.join(plates, f"A003C002_1114_KV.{number - 1:04}.exr")

    for at, compression in enumerate(COMPRESSIONS):
        header = {"compression": getattr(OpenEXR, compression), "type": OpenEXR.scanlineimage, "owner": "kept", "focus": 9.0}
        OpenEXR.File(header, channels(at)).write(name(compression))
    header = {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.tiledimage, "tiles": OpenEXR.TileDescription()}
    OpenEXR.File(header, channels(50)).write(name("tiles"))
    parts = [
        OpenEXR.Part({"compression": OpenEXR.ZIPS_COMPRESSION, "type": OpenEXR.scanlineimage, "view": "left"}, channels(60), "left"),
        OpenEXR.Part({"compression": OpenEXR.PIZ_COMPRESSION, "type": OpenEXR.scanlineimage, "view": "right"}, channels(61), "right"),
    ]
    OpenEXR.File(parts).write(name("parts"))
    samples = numpy.empty((4, 5), dtype=object)
    for y in range(4):
        for x in range(5):
            samples[y, x] = numpy.arange((x + y) % 3 + 1, dtype=numpy.float32)
    try:
        header = {"compression": OpenEXR.ZIPS_COMPRESSION, "type": OpenEXR.deepscanline}
        OpenEXR.File(header, {"Z": samples}).write(name("deep"))
    except Exception as trouble:  # kept apart, so that the test can tell
        made[-1] = f"deep: {trouble}"
        number -= 1
    return {"made": made}


def value(found):
    if isinstance(found, (int, str)):
        return found
    if isinstance(found, float):
        return found if math.isfinite(found) else "infinity"
    kind = type(found).__name__
    if kind == "TimeCode":
        return f"{found.hours:02}:{found.minutes:02}:{found.seconds:02}:{found.frame:02}"
    if kind in ("Rational", "Fraction"):
        return [getattr(found, "n", getattr(found, "numerator", None)), getattr(found, "d", getattr(found, "denominator", None))]
    if isinstance(found, numpy.ndarray):
        return found.tolist()
    return str(found)


def same(a, b):
    if a.dtype == object:
        return a.shape == b.shape and all(numpy.array_equal(x, y) for x, y in zip(a.flat, b.flat))
    return a.dtype == b.dtype and numpy.array_equal(a, b, equal_nan=True)


def compare(folder):
    copies = []
    for name in sorted(os.listdir(os.path.join(folder, "plates"))):
        with OpenEXR.File(os.path.join(folder, "plates", name)) as before, OpenEXR.File(os.path.join(folder, "out", name)) as after:
            pixels = len(before.parts) == len(after.parts)
            kept = True
            for at, part in enumerate(before.parts):
                ours, theirs = after.channels(at), before.channels(at)
                pixels &= list(ours) == list(theirs) and all(same(theirs[c].pixels, ours[c].pixels) for c in theirs)
                kept &= all(str(v) == str(after.header(at).get(k)) for k, v in before.header(at).items() if k != "focus")
            header = after.header(len(after.parts) - 1)
            copies.append({
                "name": name,
                "pixels": bool(pixels),
                "kept": bool(kept),
                "attributes": {k: [type(v).__name__, value(v)] for k, v in header.items() if k not in before.header(0) or k == "focus"},
            })
    return {"copies": copies}


def main(folders):
    done = lambda folder: os.path.isdir(os.path.join(folder, "plates"))
    json.dump([{"file": f, **(compare(f) if done(f) else make(f))} for f in folders], sys.stdout, indent=1)
    print()


if __name__ == "__main__":
    main(sys.argv[1:])
