#!/usr/bin/env python3
"""Outside values of optics: paraxial traces of published lenses with attachments, and angles of view by two libraries.

    optics_values.py      JSON on stdout, in a second or two

    { "lenses": [LENS, ...], "focus": [FOCUS, ...], "views": [VIEW, ...], "held": how many numbers were held against others }

    LENS = { "design":  which prescription of optiland_table.json
             "focal":   mm, to which it is scaled
             "bare":    TRACE
             "behind":  [ { "kind":   "thin" (one ideal lens), "thick" (two ideal lenses apart) or "glass" (five surfaces)
                            "m":      magnification of the attachment
                            "before": mm from its front principal plane to the native image
                            "apart":  mm from its front to its rear principal plane, 0 where it is thin
                            "shift":  mm by which the image has come toward the lens
                            and a TRACE } ] }

    TRACE = { "focal": mm, "stop": f-number, "diameter": mm, of the entrance pupil,
              "pupil": mm from the front vertex to the entrance pupil, "pupilToImage": mm from there to the image }

    FOCUS = { "focal", "stop", "m", "before": the double Gauss and a thin attachment
              "distance": mm from the entrance pupil to the object in focus. The lens is moved as a whole; attachment
                          and sensor stay, so the attachment always works at the same magnification
              "bare", "behind": { "circle":        mm, the blur circle; behind it is m times that of the bare lens
                                  "magnification": of the whole, size of the image over size of the object
                                  "workingStop":   1 over the full angle of the cone on the axis, in radians
                                  "pinhole":       mm, image height over the tangent of the angle at which the ray through
                                                   the middle of the entrance pupil comes in: what a matchmove camera needs
                                  "imageDistance": mm, from the rear principal plane of the bare lens to its own image,
                                                   times m: the thin-lens value f + f^2/(u - f) with u from the front
                                                   principal plane. It is "pinhole" only where the pupil lies in that plane
                                  "near", "far":   mm from the entrance pupil, between which the cone through the whole
                                                   pupil meets the sensor no wider than the circle; far null if endless.
                                                   Found by halving on traced rays, without a formula
                                  "hyperfocal":    mm: distance times the traced blur of an object at infinity over the circle
                                  "tape":          mm from the object to the sensor plane } }

    VIEW = { "focal", "width", "height": mm, "usd": [horizontal, vertical], "opencv": [horizontal, vertical]: degrees }

The tracing is matrices of Gaussian optics (W. Brouwer, Matrix Methods in Optical Instrument Design, 1964), in numpy.
Before anything is printed it is held against what `optiland` 0.6.3 said of the same lenses, which stands in
optiland_table.json, and against numbers that were printed or computed elsewhere, in the tables below. What does not
agree is named on stderr, and the exit code is 1.
"""
import json
import math
import pathlib
import sys

import cv2
import numpy as np
from pxr import Gf

MAGNIFICATIONS = (0.58, 0.64, 0.71, 0.80, 1.4, 2.0)
# Focal lengths and stops of the scaled double Gauss; the attachment stands half a focal length before the image.
SCALED = ((24.0, 2.8), (35.0, 1.4), (50.0, 2.0), (50.0, 1.0), (85.0, 1.8), (135.0, 5.6))
VIEWS = ((50, 36, 24), (35.5, 36, 24), (50, 27.0336, 14.256), (35.5, 27.0336, 14.256), (17.04, 24.892, 18.669),
         (35.5, 26.2, 13.8), (29, 24.892, 18.669), (100, 17.3, 13), (12, 6, 4), (150, 60, 45))

# Traced elsewhere, by `optiland` 0.6.3 and `rayoptics` 0.9.8: double Gauss of 50 mm f/2, thick attachment 28 mm
# before the image. m, distance of its principal planes, focal length, stop, shift, pupil to image.
THICK = ((0.58, 4.158298, 29.0, 1.16, 7.601702, 33.168245), (0.64, 4.188882, 32.0, 1.28, 5.891118, 34.878828),
         (0.71, 4.217301, 35.5, 1.42, 3.902699, 36.867247), (0.80, 4.245826, 40.0, 1.60, 1.354174, 39.415772))
# The same for thin ones. Design, distance before the image, m, focal length, stop, pupil to image bare and behind.
THIN = (("double-gauss", 25.0, 0.58, 29.0, 1.16, 40.769946, 30.269946), ("double-gauss", 25.0, 0.64, 32.0, 1.28, 40.769946, 31.769946),
        ("double-gauss", 25.0, 0.71, 35.5, 1.42, 40.769946, 33.519946), ("double-gauss", 25.0, 0.80, 40.0, 1.6, 40.769946, 35.769946),
        ("four-element", 30.0, 0.71, 35.5, 3.195, 49.873956, 41.173956), ("telephoto", 30.0, 0.71, 95.85, 3.976, 104.939393, 96.239393),
        ("reverse-telephoto", 22.7, 0.71, 17.04, 1.988, 46.487234, 39.904234))
# The double Gauss of 50 mm f/2 behind 0.71, at distances from its pupil: magnification bare and behind, working stop
# bare and behind (null where it was not printed).
NEAR = ((500.0, 0.10955656, 0.07778516, 2.19113126, 1.55570319), (1000.0, 0.05228019, 0.03711893, 2.09120748, 1.48475731),
        (2000.0, 0.02555734, 0.01814571, None, None), (5000.0, 0.01008800, 0.00716248, None, None))
# Two libraries and the closed form, to 1e-5 degrees: focal length, width, height, horizontal, vertical.
ANGLES = ((50, 36, 24, 39.597753, 26.991467), (35.5, 36, 24, 53.773868, 37.353403), (50, 27.0336, 14.256, 30.255034, 16.226834),
          (35.5, 27.0336, 14.256, 41.689156, 22.706758), (17.04, 24.892, 18.669, 72.288714, 57.427794))


class Held:
    """Numbers held against others: how many, and which do not agree."""

    def __init__(self):
        self.count, self.broken = 0, []

    def near(self, what, got, want, tolerance):
        self.count += 1
        if not abs(got - want) <= tolerance:
            self.broken.append(f"{what}: {got!r}, and not {want!r}")


def main():
    table = json.loads(pathlib.Path(__file__).with_name("optiland_table.json").read_text())
    designs = {lens["design"]: lens for lens in table["lenses"]}
    held = Held()
    lenses = [published(lens, held) for lens in designs.values()]
    gauss = designs["double-gauss"]
    lenses += [scaled(gauss, focal, stop, held) for focal, stop in SCALED]
    hold_thick(gauss, held)
    focus = [focused(Lens(gauss, focal, stop), m, focal / 2, times * focal, focal / 1500, held)
             for focal, stop in SCALED for m in MAGNIFICATIONS for times in (10, 20, 40, 100)]
    hold_near(gauss, held)
    views = [view(*numbers) for numbers in VIEWS]
    hold_views(views, held)
    hold_arithmetic(held)
    if held.broken:
        sys.exit("The judge itself is wrong:\n" + "\n".join(held.broken))
    json.dump({"lenses": lenses, "focus": focus, "views": views, "held": held.count}, sys.stdout, indent=1)
    print()


# ---- Matrices. A ray is its height and its slope times the index; light goes to the right. ----

def space(length, index=1.0):
    return np.array([[1.0, length / index], [0.0, 1.0]])


def surface(radius, before, behind):
    return np.array([[1.0, 0.0], [0.0 if radius is None else -(behind - before) / radius, 1.0]])


def thin(power):
    return np.array([[1.0, 0.0], [-power, 1.0]])


def rows_matrix(rows):
    """From the first vertex to the last."""
    matrix, index = np.eye(2), 1.0
    for radius, distance, behind in rows:
        matrix = surface(radius, index, behind) @ matrix
        if distance is not None:
            matrix = space(distance, behind) @ matrix
        index = behind
    return matrix


class Lens:
    """A prescription at a focal length, with its stop as wide as the f-number at infinity wants it."""

    def __init__(self, design, focal, stop):
        scale = focal / design["focal"]
        self.rows = [(None if r is None else r * scale, None if t is None else t * scale, n) for r, t, n in design["rows"]]
        self.matrix = rows_matrix(self.rows)
        self.length = sum(distance or 0.0 for _, distance, _ in self.rows)
        # The stop seen from the front: a point of its plane that every slope reaches alike.
        front = rows_matrix([(r, t, n) for r, t, n in self.rows[:design["stopRow"]]])
        self.pupil = front[0, 1] / front[0, 0]
        self.diameter = focal / stop
        self.back = -self.matrix[0, 0] / self.matrix[1, 0]

    def behind(self, attachment=None):
        """The matrix from the first vertex through an attachment, and the place where that ends."""
        if attachment is None:
            return self.matrix, self.length
        gap, matrix, length = attachment
        return matrix @ space(gap) @ self.matrix, self.length + gap + length

    def trace(self, attachment=None):
        matrix, end = self.behind(attachment)
        # The ray along the axis at the edge of the pupil.
        height, slope = matrix @ np.array([self.diameter / 2, 0.0])
        image = end - height / slope
        focal = -self.diameter / 2 / slope
        return {"focal": focal, "stop": focal / self.diameter, "diameter": self.diameter, "pupil": self.pupil,
                "pupilToImage": image - self.pupil}


def ideal(lens, m, before, moved=0.0):
    """A thin attachment before the native image at infinity; `moved` is how far the lens stands nearer to the object."""
    return lens.back - before + moved, thin((1 - m) / (m * before)), 0.0


def two_thin(lens, m, before, apart, between):
    """Two ideal lenses with the power of one, whose principal planes lie `apart`."""
    power = (1 - m) / (m * before)
    product = -apart * power / between**2
    total = power + between * product
    root = math.sqrt(total**2 - 4 * product)
    first, second = (total + root) / 2, (total - root) / 2
    matrix = thin(second) @ space(between) @ thin(first)
    # The front principal plane stands this far behind the first of them.
    return lens.back - before - between * second / power, matrix, between


def told(lens, bare, kind, before, apart, attachment):
    said = lens.trace(attachment)
    return {"kind": kind, "m": said["focal"] / bare["focal"], "before": before, "apart": apart,
            "shift": bare["pupilToImage"] - said["pupilToImage"], **said}


# ---- What is told of lenses. ----

def published(design, held):
    lens = Lens(design, design["focal"], design["stop"])
    bare = lens.trace()
    name = design["design"]
    for key in ("focal", "stop", "diameter", "pupil", "pupilToImage"):
        held.near(f"{name} bare {key}", bare[key], design["bare"][key], 1e-6)
    behind = []
    for said in design["thin"]:
        got = told(lens, bare, "thin", said["before"], 0.0, ideal(lens, said["m"], said["before"]))
        hold_trace(f"{name} {said['m']}", got, said, held)
        behind.append(got)
    for said in design.get("glass", []):
        rows = said["rows"]
        matrix, length = rows_matrix(rows), sum(t or 0.0 for _, t, _ in rows)
        # Of its principal planes, from its first vertex.
        front = (matrix[1, 1] - 1) / matrix[1, 0]
        rear = length + (1 - matrix[0, 0]) / matrix[1, 0]
        before, apart = lens.back - said["gap"] - front, rear - front
        got = told(lens, bare, "glass", before, apart, (said["gap"], matrix, length))
        hold_trace(f"{name} glass {said['gap']}", got, said, held)
        held.near(f"{name} glass {said['gap']} shift", got["shift"], before * (1 - got["m"]) - apart, 1e-9)
        behind.append(got)
    for design_named, before, m, focal, stop, e_bare, e_behind in THIN:
        if design_named == name:
            got = told(lens, bare, "thin", before, 0.0, ideal(lens, m, before))
            for what, value, want, tolerance in (("focal", got["focal"], focal, 1e-6), ("stop", got["stop"], stop, 1e-6),
                                                 ("bare e", bare["pupilToImage"], e_bare, 1e-5), ("e", got["pupilToImage"], e_behind, 1e-5),
                                                 ("shift", got["shift"], before * (1 - m), 1e-9)):
                held.near(f"{name} {m} {what}", value, want, tolerance)
    if name == "double-gauss":
        held.near("back focus", lens.back, 30.742621, 1e-5)
        held.near("pupil", lens.pupil, 28.954915, 1e-5)
    return {"design": name, "focal": design["focal"], "bare": bare, "behind": behind}


def hold_trace(what, got, said, held):
    for key in ("focal", "stop", "diameter", "pupil", "pupilToImage"):
        held.near(f"{what} {key}", got[key], said[key], 1e-6)


def scaled(design, focal, stop, held):
    lens = Lens(design, focal, stop)
    bare = lens.trace()
    behind = []
    for m in MAGNIFICATIONS:
        before = focal / 2
        behind.append(told(lens, bare, "thin", before, 0.0, ideal(lens, m, before)))
        # Positive power brings the principal planes apart, negative power crosses them, by a twelfth of the focal length.
        apart = math.copysign(focal / 12, 1 - m)
        got = told(lens, bare, "thick", before, apart, two_thin(lens, m, before, apart, focal / 6))
        held.near(f"{focal} thick {m} shift", got["shift"], before * (1 - m) - apart, 1e-9)
        behind.append(got)
    return {"design": design["design"], "focal": focal, "bare": bare, "behind": behind}


def hold_thick(design, held):
    lens = Lens(design, 50.0, 2.0)
    bare = lens.trace()
    for m, apart, focal, stop, shift, e in THICK:
        got = told(lens, bare, "thick", 28.0, apart, two_thin(lens, m, 28.0, apart, 8.0))
        for key, want in (("focal", focal), ("stop", stop), ("shift", shift), ("pupilToImage", e)):
            held.near(f"thick {m} {key}", got[key], want, 2e-6)


# ---- What is told of focus. ----

def focused(lens, m, before, distance, circle, held):
    bare_focal = lens.trace()["focal"]
    image = image_behind(lens.matrix, distance - lens.pupil)
    moved = image - lens.back
    bare = cone(lens, lens.matrix, image, distance, circle)
    gap, attachment, _ = ideal(lens, m, before, moved)
    matrix = attachment @ space(gap) @ lens.matrix
    at = image_behind(matrix, distance - lens.pupil)
    held.near("the sensor stays", at, m * before, 1e-6)
    behind = cone(lens, matrix, at, distance, m * circle)
    # From the rear principal plane of the bare lens, which stands a focal length before its focus.
    bare["imageDistance"] = bare_focal + moved
    behind["imageDistance"] = m * bare["imageDistance"]
    bare["tape"] = distance - lens.pupil + lens.length + image
    behind["tape"] = distance - lens.pupil + lens.length + gap + at
    for key in ("magnification", "workingStop", "pinhole"):
        held.near(f"{lens.diameter} {m} {key}", behind[key] / bare[key], m, 1e-9)
    for key in ("near", "far"):
        want, got = bare[key], behind[key]
        if want is None or got is None:
            held.near(f"{m} {key} is endless for both", float(want is None), float(got is None), 0.0)
        else:
            held.near(f"{m} {key}", got / want, 1.0, 1e-7)
    return {"focal": bare_focal, "stop": bare_focal / lens.diameter, "m": m, "before": before, "distance": distance,
            "bare": bare, "behind": behind}


def image_behind(matrix, distance):
    """How far behind the matrix the image of a point on the axis lies."""
    height, slope = matrix @ np.array([distance, 1.0])
    return -height / slope


def cone(lens, matrix, image, distance, circle):
    whole = space(image) @ matrix
    # A ray from a point one high through the middle of the pupil, and one from the axis through its edge.
    vertex = distance - lens.pupil
    down = -1.0 / distance
    height = (whole @ np.array([1.0 + vertex * down, down]))[0]
    edge = lens.diameter / 2 / distance
    slope = (whole @ np.array([vertex * edge, edge]))[1]

    def blur(at):
        """Width of the cone on the sensor from a point on the axis; one over its distance is `at`, so infinity is 0."""
        # At the edge of the pupil the ray is half a diameter high; the first vertex stands before it.
        tilt = lens.diameter / 2 * at
        ray = np.array([lens.diameter / 2 - lens.pupil * tilt, tilt])
        return 2 * abs((whole @ ray)[0])

    focus = 1 / distance
    near = crossing(blur, circle, focus, focus * 16)
    far = crossing(blur, circle, focus, 0.0) if blur(0.0) > circle else None
    return {"circle": circle, "magnification": -height, "workingStop": 1 / (2 * abs(slope)),
            "pinhole": -height * distance, "near": 1 / near, "far": None if far is None else 1 / far,
            "hyperfocal": distance * blur(0.0) / circle}


def crossing(blur, circle, sharp, soft):
    """Halves from what is in focus to what is not, until the blur is the circle."""
    for _ in range(200):
        middle = (sharp + soft) / 2
        if blur(middle) > circle:
            soft = middle
        else:
            sharp = middle
    return (sharp + soft) / 2


def hold_near(design, held):
    lens = Lens(design, 50.0, 2.0)
    for distance, bare, behind, n_bare, n_behind in NEAR:
        said = focused(lens, 0.71, 25.0, distance, 0.03, held)
        for got, want, stop in ((said["bare"], bare, n_bare), (said["behind"], behind, n_behind)):
            held.near(f"magnification at {distance}", got["magnification"], want, 2e-8)
            if stop is not None:
                held.near(f"working stop at {distance}", got["workingStop"], stop, 2e-8)
            width = got["circle"] / (lens.diameter * got["magnification"])
            held.near(f"near at {distance}", got["near"], distance / (1 + width), 1e-6)
            held.near(f"far at {distance}", got["far"], distance / (1 - width), 1e-6)


# ---- What is told of views. ----

def view(focal, width, height):
    camera = Gf.Camera()
    # Tenths of a scene unit: the library's own unit for lens and aperture cancels in the angle.
    camera.focalLength, camera.horizontalAperture, camera.verticalAperture = focal, width, height
    usd = [camera.GetFieldOfView(Gf.Camera.FOVHorizontal), camera.GetFieldOfView(Gf.Camera.FOVVertical)]
    size = (3600, 2400)
    matrix = np.array([[focal / width * size[0], 0, size[0] / 2], [0, focal / height * size[1], size[1] / 2], [0, 0, 1]])
    opencv = list(cv2.calibrationMatrixValues(matrix, size, width, height)[:2])
    return {"focal": focal, "width": width, "height": height, "usd": usd, "opencv": opencv}


def hold_views(views, held):
    for said in views:
        closed = [2 * math.degrees(math.atan(side / 2 / said["focal"])) for side in (said["width"], said["height"])]
        for by in ("usd", "opencv"):
            for got, want in zip(said[by], closed):
                held.near(f"view {said['focal']} {by}", got, want, 1e-5)
    for focal, width, height, *angles in ANGLES:
        said = next(v for v in views if (v["focal"], v["width"], v["height"]) == (focal, width, height))
        for got, want in zip(said["opencv"], angles):
            held.near(f"view {focal}", got, want, 1e-5)


def hold_arithmetic(held):
    """Crops and circles as they are spoken of, and the textbook's depth of field from the principal plane."""
    for got, want, tolerance in ((36 / 24.892, 1.4462, 5e-5), (math.hypot(36, 24) / math.hypot(24.892, 18.669), 1.3905, 5e-5),
                                 (36 / 26.2, 1.374046, 1e-6), (36 / 26.2 * 0.71, 0.975573, 1e-6),
                                 (43.3 * 0.71 - math.hypot(24.892, 18.669), -0.372, 5e-4),
                                 (31.1 * 0.71 - math.hypot(17.3, 13), 0.441, 5e-4), (31.1 - math.hypot(24.892, 18.669), -0.015, 5e-4)):
        held.near("arithmetic", got, want, tolerance)
    for focal, stop, circle, near, far, limit in ((50, 1.4, 0.03, 2858.341, 3156.433, 59573.81), (35.5, 0.994, 0.0213, 2857.677, 3157.242, 59559.31),
                                                  (50, 1.4, 0.0213, 2898.025, 3109.413, None)):
        h = focal**2 / (stop * circle) + focal
        held.near("textbook near", 3000 * (h - focal) / (h + 3000 - 2 * focal), near, 1e-3)
        held.near("textbook far", 3000 * (h - focal) / (h - 3000), far, 1e-3)
        if limit is not None:
            held.near("textbook hyperfocal", h, limit, 1e-2)


main()
