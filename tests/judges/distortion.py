#!/usr/bin/env python3
"""Points through a lens that distorts: OpenCV, and what a sample of OpenTrackIO says of the same lens.

    distortion.py FILE...        JSON on stdout, one object a file, in their order

Each file is one of samples; beside it stands a file of the same name with `.cv.json`: coefficients in OpenCV's order
(k1 k2 p1 p2 k3 k4 k5 k6) of coordinates divided by the focal length. Points of the scene are projected by OpenCV with
the pinhole focal length of the first sample and those coefficients, in millimetres on the sensor. The same points, seen
by a pinhole of that focal length, are taken by the sample's own distortion, by the formula of OpenLensIO written here.
{"off": the farthest that the two lie apart, "moved": the farthest that the lens moves a point, both in mm}
"""
import json
import sys

import cv2
import numpy


def open_lens_io(point, radial, tangential):
    x, y = point
    square = x * x + y * y
    k = list(radial) + [0.0] * (6 - len(radial))
    p = list(tangential) or [0.0, 0.0]
    above = 1 + k[0] * square + k[2] * square**2 + k[4] * square**3
    below = 1 + k[1] * square + k[3] * square**2 + k[5] * square**3
    r = above / below
    return (
        r * x + 2 * p[0] * x * y + p[1] * (square + 2 * x * x),
        r * y + p[0] * (square + 2 * y * y) + 2 * p[1] * x * y,
    )


def held(file):
    with open(file, encoding="utf-8") as lines:
        lens = json.loads(lines.readline())["lens"]
    with open(file + ".cv.json", encoding="utf-8") as text:
        coefficients = numpy.array(json.load(text))
    focal = lens["pinholeFocalLength"]
    (distortion,) = lens["distortion"]
    assert distortion["model"] == "Brown-Conrady U-D", distortion
    scene = numpy.random.default_rng(11).uniform([-0.35, -0.2, 1.0], [0.35, 0.2, 1.0], (200, 3))
    matrix = numpy.array([[focal, 0, 0], [0, focal, 0], [0, 0, 1.0]])
    still = numpy.zeros(3)
    seen, _ = cv2.projectPoints(scene, still, still, matrix, coefficients)
    straight, _ = cv2.projectPoints(scene, still, still, matrix, None)
    seen, straight = seen.reshape(-1, 2), straight.reshape(-1, 2)
    ours = [open_lens_io(p, distortion["radial"], distortion.get("tangential", [])) for p in straight]
    return {
        "off": float(numpy.abs(numpy.array(ours) - seen).max()),
        "moved": float(numpy.abs(straight - seen).max()),
        "focal": focal,
    }


def main(files):
    json.dump([{"file": file, **held(file)} for file in files], sys.stdout, indent=1)
    print()


if __name__ == "__main__":
    main(sys.argv[1:])
