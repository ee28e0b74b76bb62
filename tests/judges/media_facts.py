#!/usr/bin/env python3
"""What two outside judges say of media files: ffprobe, and MediaInfo's library.

    media_facts.py FILE...      JSON on stdout

    [ { "file": "as it was given",
        "ffprobe":   FACTS,
        "mediainfo": FACTS }, ... ]        one object a FILE, in the order given

    FACTS = { "error":        text when the judge could not read the file, else null
              "coded":        [width, height] of the stored picture, before rotation and pixel aspect
              "pixel_aspect": [numerator, denominator], lowest terms. MediaInfo prints three decimals,
                              so its 4:3 is [1333, 1000]: compare within 1/2000
              "rotation":     degrees clockwise that a player must turn the picture, 0 to 359
              "rate":         [numerator, denominator] in frames a second, lowest terms
                              (ffprobe r_frame_rate; MediaInfo FrameRate_Num and _Den, or its decimals)
              "average_rate": [numerator, denominator] (ffprobe avg_frame_rate; MediaInfo: always null)
              "frames":       count that the header states, or MediaInfo worked out
              "counted":      pictures really found by reading the file (ffprobe; MediaInfo: always null)
              "timecode":     {"label": "01:00:00;02", "drop": true} of the first frame }

Anything that a judge does not say is null. A file that a judge cannot read has "error" and all other
facts null: that is an answer, so the exit code stays 0. The exit code is 1 when a judge itself
cannot run (ffprobe missing, MediaInfo's library not loading), and then stderr says which.
"""
import json
import re
import subprocess
import sys
from fractions import Fraction

from pymediainfo import MediaInfo

FACTS = ("error", "coded", "pixel_aspect", "rotation", "rate", "average_rate", "frames", "counted", "timecode")


def main(files):
    if not MediaInfo.can_parse():
        sys.exit("MediaInfo's library does not load; run tests/run to make the judges' environment anew.")
    try:
        answers = [{"file": file, "ffprobe": ffprobe(file), "mediainfo": mediainfo(file)} for file in files]
    except FileNotFoundError as missing:
        sys.exit(f"{missing.filename} is missing; run tests/run to install the judges.")
    json.dump(answers, sys.stdout, indent=1, ensure_ascii=False)
    print()


def ffprobe(file):
    """Asks ffprobe, which also counts the packets of the picture track."""
    facts = dict.fromkeys(FACTS)
    # The "file:" keeps a name such as "a:b.mov" from being taken for a protocol.
    run = subprocess.run(["ffprobe", "-v", "error", "-count_packets", "-show_streams", "-show_format",
                          "-of", "json", f"file:{file}"], capture_output=True, check=False)
    # A failed run leaves half a JSON text behind.
    said = {} if run.returncode else json.loads(run.stdout)
    videos = [s for s in said.get("streams", []) if s.get("codec_type") == "video"]
    if not videos:
        # Its messages hold memory addresses, which differ from run to run.
        message = re.sub(r" @ 0x[0-9a-f]+", "", run.stderr.decode(errors="replace")).strip()
        facts["error"] = message or "no picture track"
        return facts
    video = videos[0]
    facts["coded"] = [video["width"], video["height"]]
    facts["pixel_aspect"] = ratio(video.get("sample_aspect_ratio"))
    turns = [side["rotation"] for side in video.get("side_data_list", []) if "rotation" in side]
    # ffprobe counts its turn the other way round.
    facts["rotation"] = -round(turns[0]) % 360 if turns else None
    facts["rate"] = ratio(video.get("r_frame_rate"))
    facts["average_rate"] = ratio(video.get("avg_frame_rate"))
    facts["frames"] = whole(video.get("nb_frames"))
    facts["counted"] = whole(video.get("nb_read_packets"))
    holders = [video, *said["streams"], said.get("format", {})]
    labels = [holder["tags"]["timecode"] for holder in holders if "timecode" in holder.get("tags", {})]
    if labels:
        facts["timecode"] = {"label": labels[0], "drop": ";" in labels[0]}
    return facts


def mediainfo(file):
    """Asks MediaInfo's library for everything it can say."""
    facts = dict.fromkeys(FACTS)
    try:
        media = json.loads(MediaInfo.parse(file, output="JSON", full=True)).get("media") or {}
    except (OSError, RuntimeError, ValueError) as trouble:
        facts["error"] = f"{type(trouble).__name__}: {trouble}"
        return facts
    tracks = media.get("track", [])
    videos = [t for t in tracks if t["@type"] == "Video"]
    if not videos or "Width" not in videos[0]:
        facts["error"] = "no picture track"
        return facts
    video = videos[0]
    facts["coded"] = [int(video["Width"]), int(video["Height"])]
    facts["pixel_aspect"] = ratio(video.get("PixelAspectRatio"))
    if "Rotation" in video:
        facts["rotation"] = round(float(video["Rotation"])) % 360
    if "FrameRate_Num" in video:
        facts["rate"] = ratio(f'{video["FrameRate_Num"]}/{video["FrameRate_Den"]}')
    else:
        facts["rate"] = ratio(video.get("FrameRate"))
    facts["frames"] = whole(video.get("FrameCount"))
    for track in [video, *(t for t in tracks if t.get("Type") == "Time code"), *tracks]:
        if "TimeCode_FirstFrame" in track:
            label = track["TimeCode_FirstFrame"]
            drop = track.get("TimeCode_DropFrame")
            facts["timecode"] = {"label": label, "drop": ";" in label if drop is None else drop == "Yes"}
            break
    return facts


def ratio(text):
    """A ratio in lowest terms from "30000/1001", "4:3" or "1.333"; null for the judges' ways to say unknown."""
    try:
        value = Fraction((text or "").replace(":", "/"))
    except (ValueError, ZeroDivisionError):
        return None
    return [value.numerator, value.denominator] if value > 0 else None


def whole(text):
    return int(text) if (text or "").isdigit() else None


if __name__ == "__main__":
    main(sys.argv[1:])
