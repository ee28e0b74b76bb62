"""A matchmove in small: points in the scene, seen by a true camera, solved with the film back of a USD camera.

Each file is a layer with one camera; the true camera stands beside it in a file of the same name with `.true.json`:
true pinhole focal length and recorded area in mm, recorded raster, and the plate cut from it. Points are projected by
OpenCV with the true camera onto the recorded raster, and cut and resized to the plate here; only the layer is then used
to solve for the focal length (OpenCV's calibration, principal point from the film back's offset, no distortion).
"""

import json
import sys

import cv2
import numpy
from pxr import Usd, UsdGeom


def seen(true, points, turn, move):
    width, height = true["raster"]
    pitch = [true["back"][0] / width, true["back"][1] / height]
    matrix = numpy.array([
        [true["focal"] / pitch[0], 0, width / 2],
        [0, true["focal"] / pitch[1], height / 2],
        [0, 0, 1],
    ])
    pixels, _ = cv2.projectPoints(points, turn, move, matrix, None)
    left, top, kept_width, kept_height = true["kept"]
    scale = [true["size"][0] / kept_width, true["size"][1] / kept_height]
    return ((pixels.reshape(-1, 2) - [left, top]) * scale).astype(numpy.float32)


def solve(file):
    with open(file[: -len(".usda")] + ".true.json", encoding="utf-8") as text:
        true = json.load(text)
    stage = Usd.Stage.Open(file)
    camera = UsdGeom.Camera(stage.GetDefaultPrim())
    time = Usd.TimeCode.EarliestTime()
    back = [camera.GetHorizontalApertureAttr().Get(time), camera.GetVerticalApertureAttr().Get(time)]
    off = [camera.GetHorizontalApertureOffsetAttr().Get(time), camera.GetVerticalApertureOffsetAttr().Get(time)]
    width, height = true["size"]
    per_mm = [width / back[0], height / back[1]]
    # The window is moved by the offset to the right and up, so the axis lies to the left of its middle and below it.
    centre = [width / 2 - off[0] * per_mm[0], height / 2 + off[1] * per_mm[1]]
    draw = numpy.random.default_rng(7)
    points = draw.uniform([-2, -1.2, -1], [2, 1.2, 1], (60, 3)).astype(numpy.float32)
    views, truths = [], []
    for turn, move in [((0.1, -0.2, 0.02), (0.1, 0, 7)), ((-0.15, 0.3, 0), (-0.3, 0.1, 6)), ((0.05, 0.6, -0.03), (0, -0.2, 8))]:
        truths.append(points)
        views.append(seen(true, points, numpy.array(turn), numpy.array(move, dtype=float)))
    guess = numpy.array([[50 * per_mm[0], 0, centre[0]], [0, 50 * per_mm[1], centre[1]], [0, 0, 1]])
    flags = (
        cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_FIX_ASPECT_RATIO
        | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K1 | cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3
    )
    error, matrix, *_ = cv2.calibrateCamera(truths, views, (width, height), guess, None, flags=flags)
    prim = camera.GetPrim()
    return {
        "solved": matrix[0][0] / per_mm[0],
        "residual": error,
        "handed": camera.GetFocalLengthAttr().Get(time),
        "uncertainty": prim.GetAttribute("lensmend:focalLengthUncertainty").Get(time),
    }


def main(files):
    json.dump([{"file": file, **solve(file)} for file in files], sys.stdout, indent=1)
    print()


if __name__ == "__main__":
    main(sys.argv[1:])
