#!/usr/bin/env python3
"""What other people's software says of lens data for VFX.

    lens_data.py FILE...        JSON on stdout, one object a file, in their order

A USD layer is opened and validated by usd-core: {"complaints": [...], "frames": [first, last, rate],
"default": sample, "samples": {"frame": sample}} where a sample has focalLength, horizontalAperture, verticalAperture,
focusDistance, fStop as usd-core reads them, and horizontal and vertical, the angles of view of its Gf.Camera.
A framing decision list is held against the schemas and the tree of ids of the fdl library: {"complaints": [...]}.
OpenTrackIO lines are held by a JSON Schema library against the published constraints of the sample model 1.0.0 as
shared facts state them (SMPTE RIS OSVP camera metadata model): {"complaints": [...], "lines": how many}.
"""
import json
import math
import sys

import jsonschema

TEXT = {"type": "string", "minLength": 1, "maxLength": 1023}
ABOVE_ZERO = {"type": "number", "exclusiveMinimum": 0}
URN = {"type": "string", "pattern": "^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"}


def closed(required=(), **properties):
    return {
        "type": "object",
        "properties": properties,
        "required": list(required),
        "additionalProperties": False,
    }


def whole(low, high):
    return {"type": "integer", "minimum": low, "maximum": high}


RATIONAL = closed(["num", "denom"], num=whole(1, 2**31 - 1), denom=whole(1, 2**32 - 1))
SIDES = {"type": "number", "minimum": 0}
MADE_BY = {"make": TEXT, "model": TEXT, "serialNumber": TEXT, "firmwareVersion": TEXT}
SAMPLE = {
    "type": "object",
    # The recommended members that every sample of ours has.
    "required": ["protocol", "sampleId", "sourceId", "sourceNumber"],
    "properties": {
        "protocol": closed(
            ["name", "version"],
            name={"const": "OpenTrackIO"},
            version={"type": "array", "items": whole(0, 9), "minItems": 3, "maxItems": 3},
        ),
        "sampleId": URN,
        "sourceId": URN,
        "sourceNumber": whole(0, 2**32 - 1),
        "static": closed(
            duration=RATIONAL,
            camera=closed(
                captureFrameRate=RATIONAL,
                activeSensorPhysicalDimensions=closed(["height", "width"], height=SIDES, width=SIDES),
                activeSensorResolution=closed(["height", "width"], height=whole(0, 2**31), width=whole(0, 2**31)),
                **MADE_BY,
                label=TEXT,
                anamorphicSqueeze=RATIONAL,
                isoSpeed={"type": "integer", "minimum": 1},
                fdlLink=URN,
                shutterAngle={"type": "number", "minimum": 0, "maximum": 360},
            ),
            lens=closed(**MADE_BY, nominalFocalLength=ABOVE_ZERO),
        ),
        "tracker": closed(notes=TEXT, status=TEXT, slate=TEXT, recording={"type": "boolean"}),
        "timing": closed(
            mode={"enum": ["internal", "external"]},
            sampleRate=RATIONAL,
            # dropFrame came with 1.0.1: a strict reader of 1.0.0 refuses it.
            timecode=closed(
                ["hours", "minutes", "seconds", "frames", "frameRate"],
                hours=whole(0, 23),
                minutes=whole(0, 59),
                seconds=whole(0, 59),
                frames=whole(0, 119),
                frameRate=RATIONAL,
                subFrame=whole(0, 2**31),
            ),
        ),
        "lens": closed(
            pinholeFocalLength=ABOVE_ZERO,
            fStop=ABOVE_ZERO,
            tStop=ABOVE_ZERO,
            focusDistance=ABOVE_ZERO,
            entrancePupilOffset={"type": "number"},
            distortion={
                "type": "array",
                "minItems": 1,
                "items": closed(
                    ["radial"],
                    radial={"type": "array", "minItems": 1, "items": {"type": "number"}},
                    tangential={"type": "array", "minItems": 1, "items": {"type": "number"}},
                    model=TEXT,
                    overscan={"type": "number", "minimum": 1},
                ),
            },
            projectionOffset={**closed(x={"type": "number"}, y={"type": "number"}), "required": ["x", "y"]},
            custom={"type": "array", "items": {"type": "number"}},
        ),
    },
}


def track(file):
    judge = jsonschema.Draft202012Validator(SAMPLE)
    complaints, seen, lines = [], set(), 0
    with open(file, encoding="utf-8") as text:
        for at, line in enumerate(text, 1):
            lines = at
            sample = json.loads(line, parse_constant=lambda word: complaints.append(f"{at}: {word} is no JSON"))
            for error in judge.iter_errors(sample):
                complaints.append(f"{at}: {'/'.join(map(str, error.path))}: {error.message[:200]}")
            timecode = sample.get("timing", {}).get("timecode")
            if timecode:
                rate = timecode["frameRate"]
                # The reference implementation holds this, its schema does not.
                if timecode["frames"] >= math.ceil(rate["num"] / rate["denom"]):
                    complaints.append(f"{at}: frame {timecode['frames']} at {rate}")
            if sample["sampleId"] in seen:
                complaints.append(f"{at}: two samples are called {sample['sampleId']}")
            seen.add(sample["sampleId"])
    return {"complaints": complaints, "lines": lines}


def framing(file):
    import fdl

    complaints = []
    try:
        with open(file, encoding="utf-8") as text:
            found = fdl.read_from_string(text.read())
        found.validate()
    except Exception as trouble:  # the library has no common kind of its own
        complaints.append(f"{type(trouble).__name__}: {trouble}"[:500])
    return {"complaints": complaints}


def camera(file):
    from pxr import Gf, Tf, Usd, UsdGeom, UsdValidation

    class Listener:
        def __init__(self):
            self.said = []

        def hear(self, notice, sender):
            self.said.append(str(notice))

    complaints = []
    mark = Tf.Error.Mark()
    try:
        stage = Usd.Stage.Open(file)
    except Exception as trouble:
        return {"complaints": [f"{type(trouble).__name__}: {trouble}"[:500]]}
    complaints += [str(error) for error in mark.GetErrors()]
    validators = UsdValidation.ValidationRegistry().GetOrLoadAllValidators()
    for error in UsdValidation.ValidationContext(validators).Validate(stage):
        complaints.append(f"{error.GetName()}: {error.GetMessage()}")
    prim = stage.GetDefaultPrim()
    usd = UsdGeom.Camera(prim)

    def sample(time):
        view = usd.GetCamera(time)
        return {
            "focalLength": usd.GetFocalLengthAttr().Get(time),
            "horizontalAperture": usd.GetHorizontalApertureAttr().Get(time),
            "verticalAperture": usd.GetVerticalApertureAttr().Get(time),
            "horizontalApertureOffset": usd.GetHorizontalApertureOffsetAttr().Get(time),
            "verticalApertureOffset": usd.GetVerticalApertureOffsetAttr().Get(time),
            "focusDistance": finite(usd.GetFocusDistanceAttr().Get(time)),
            "fStop": usd.GetFStopAttr().Get(time),
            "horizontal": view.GetFieldOfView(Gf.Camera.FOVHorizontal),
            "vertical": view.GetFieldOfView(Gf.Camera.FOVVertical),
            "own": own(prim, time),
        }

    times = sorted({time for attribute in prim.GetAttributes() for time in attribute.GetTimeSamples()})
    return {
        "complaints": complaints,
        "frames": [stage.GetStartTimeCode(), stage.GetEndTimeCode(), stage.GetTimeCodesPerSecond()],
        "unit": UsdGeom.GetStageMetersPerUnit(stage),
        "default": sample(Usd.TimeCode.Default()),
        "samples": {str(int(time)): sample(time) for time in times},
    }


def own(prim, time):
    values = {}
    for attribute in prim.GetAttributes():
        if attribute.GetName().startswith("lensmend:"):
            value = attribute.Get(time)
            values[attribute.GetName().split(":", 1)[1]] = finite(value) if isinstance(value, float) else value
    return values


def finite(number):
    return number if number is None or math.isfinite(number) else "infinity"


def main(files):
    answers = []
    for file in files:
        ask = framing if file.endswith(".fdl") else camera if file.endswith(".usda") else track
        answers.append({"file": file, **ask(file)})
    json.dump(answers, sys.stdout, indent=1, ensure_ascii=False)
    print()


if __name__ == "__main__":
    main(sys.argv[1:])
