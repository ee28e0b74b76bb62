#!/usr/bin/env python3
"""Makes `optiland_table.json` anew: published lenses behind thin and thick attachments, traced by `optiland`.

    pip install optiland==0.6.3
    optiland_table.py > optiland_table.json

The library brings 1.3 GB of other packages (a desktop toolkit for drawings among them), so tests/run does not
install it: what it said is kept in the table, and `optics_values.py` is held against that.

The lenses are samples that come with the library: a double Gauss, a four-element lens and a telephoto (M. Laikin,
Lens Design, 4th ed., CRC 2007, pp. 63 and 91), and a reverse telephoto, at their own middle wavelength, scaled to the focal length
named. Lengths are mm. A row of a prescription is [radius or null, distance to the next, index behind it].
"""
import json
import math

from optiland.materials import IdealMaterial
from optiland.optic import Optic
from optiland.samples import objectives

# Design, sample, focal length, f-number, distance of the attachment before the native image.
LENSES = (("double-gauss", objectives.DoubleGauss, 50.0, 2.0, 25.0),
          ("four-element", objectives.TessarLens, 50.0, 4.5, 30.0),
          ("telephoto", objectives.Telephoto, 135.0, 5.6, 30.0),
          ("reverse-telephoto", objectives.ReverseTelephoto, 24.0, 2.8, 22.7))
MAGNIFICATIONS = (0.58, 0.64, 0.71, 0.80, 1.4, 2.0)
# A glass attachment for 0.71 before the double Gauss: doublet and singlet, drawn for this table.
GLASS = ((88.0, 5.0, 1.6584), (-60.0, 1.6, 1.7847), (-300.0, 0.3, 1.0), (120.0, 3.5, 1.6584), (-400.0, None, 1.0))


def main():
    answers = []
    for design, sample, focal, stop, before in LENSES:
        rows, at = prescription(sample(), focal)
        diameter = focal / stop
        bare = traced(rows, at, diameter)
        behind = []
        for m in MAGNIFICATIONS:
            power = (1 - m) / (m * before)
            said = traced(rows, at, diameter, [("thin", bare["backFocus"] - before, 1 / power)])
            behind.append({"m": m, "before": before, **said})
        answer = {"design": design, "focal": focal, "stop": stop, "rows": rows, "stopRow": at, "bare": bare, "thin": behind}
        if design == "double-gauss":
            answer["glass"] = [{"rows": GLASS, "gap": gap, **traced(rows, at, diameter, [("glass", gap, GLASS)])}
                               for gap in (4.0, 6.0, 9.0)]
        answers.append(answer)
    # A line a trace, so that a difference can be read.
    lines = ["{\"by\": \"optiland 0.6.3\", \"lenses\": ["]
    for place, answer in enumerate(answers):
        members = [f'"{key}": {listed(value)}' for key, value in answer.items()]
        lines.append("{" + ",\n ".join(members) + ("}" if place + 1 == len(answers) else "},"))
    print("\n".join([*lines, "]}"]))


def listed(value):
    if not isinstance(value, list):
        return json.dumps(value)
    return "[\n  " + ",\n  ".join(json.dumps(entry) for entry in value) + "]"


def prescription(lens, focal):
    """Rows of a sample at a focal length, and which of them is the stop."""
    scale = focal / number(lens.paraxial.f2())
    rows, at = [], None
    surfaces = list(lens.surfaces)
    for index, surface in enumerate(surfaces[1:-1]):
        radius = number(surface.geometry.radius)
        here = number(surface.geometry.cs.z)
        distance = number(surfaces[index + 2].geometry.cs.z) - here
        glass = number(surface.material_post.n(lens.primary_wavelength))
        if surface.is_stop:
            at = index
        rows.append([None if math.isinf(radius) else round(radius * scale, 9), round(distance * scale, 9), round(glass, 9)])
    rows[-1][1] = None
    return rows, at


def traced(rows, at, diameter, attachments=()):
    """What the library says of a lens with attachments behind its last vertex."""
    lens = Optic()
    lens.surfaces.add(index=0, radius=math.inf, thickness=math.inf)
    gap = attachments[0][1] if attachments else 10.0
    index = 1
    for place, (radius, distance, glass) in enumerate(rows):
        lens.surfaces.add(index=index, radius=math.inf if radius is None else radius,
                          thickness=gap if distance is None else distance,
                          material=IdealMaterial(n=glass), is_stop=place == at)
        index += 1
    length = sum(distance or 0.0 for _, distance, _ in rows)
    for kind, distance, what in attachments:
        length += distance
        if kind == "thin":
            lens.surfaces.add(index=index, surface_type="paraxial", f=what, thickness=10.0)
            index += 1
            continue
        for radius, thick, glass in what:
            lens.surfaces.add(index=index, radius=radius, thickness=10.0 if thick is None else thick,
                              material=IdealMaterial(n=glass))
            length += thick or 0.0
            index += 1
    lens.surfaces.add(index=index)
    lens.set_aperture(aperture_type="EPD", value=diameter)
    lens.fields.set_type(field_type="angle")
    lens.fields.add(y=0)
    lens.wavelengths.add(value=0.5876, is_primary=True)
    heights, slopes = lens.paraxial.marginal_ray()
    last, slope = number(heights[-2]), number(slopes[-2])
    focus = -last / slope
    pupil = number(lens.paraxial.EPL())
    return {"focal": number(lens.paraxial.f2()), "stop": number(lens.paraxial.FNO()), "diameter": number(lens.paraxial.EPD()),
            "backFocus": focus, "pupil": pupil, "image": length + focus, "pupilToImage": length + focus - pupil}


def number(value):
    """A plain number of what the library gives: one of its own, or a field of one entry."""
    return float(value.item()) if hasattr(value, "item") else float(value)


main()
