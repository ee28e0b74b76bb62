#!/usr/bin/env python3
"""What MediaInfo's library reads of acquisition metadata (SMPTE RDD 18) beside the frames of a file.

    acquisition_values.py FILE...      JSON on stdout

    [ { "file": "as it was given",
        "values": { "IrisFNumber": [["2.800091", 1], ["4.000000", 3]], ... } }, ... ]

Each value stands as it was printed, with the number of frames in a row that carry it; of a file without
such metadata "values" is empty. The exit code is 1 when the library does not load.
"""
import json
import sys

from pymediainfo import MediaInfo

END = "_FrameCounts"


def main(files):
    if not MediaInfo.can_parse():
        sys.exit("MediaInfo's library does not load; run tests/run to make the judges' environment anew.")
    answers = [{"file": file, "values": values(file)} for file in files]
    json.dump(answers, sys.stdout, indent=1, ensure_ascii=False)
    print()


def values(file):
    media = json.loads(MediaInfo.parse(file, output="JSON", full=True)).get("media") or {}
    found = {}
    for extra in (track.get("extra", {}) for track in media.get("track", [])):
        for key in extra:
            name = key.removesuffix(END)
            if key.endswith(END) and f"{name}_Values" in extra:
                counts = [int(count) for count in extra[key].split(" / ")]
                found[name] = list(zip(extra[f"{name}_Values"].split(" / "), counts))
    return found


if __name__ == "__main__":
    main(sys.argv[1:])
