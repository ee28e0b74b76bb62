"""What OpenTimelineIO (0.18.1) and its reader of EDLs (otio-cmx3600-adapter 1.0.0) say of cuts.

Without files: a digest over every label of the drop-frame day. With files: one object a file; a file that is not there
yet and ends in `.made.otio` is written first: a nested cut over the sample's clips.
"""

import hashlib
import json
import os
import sys

import opentimelineio as otio

RATE = 24000 / 1001
DROP = 30000 / 1001
FRAMES_OF_THE_DAY = 2589408


def day():
    digest = hashlib.sha256()
    wrong = 0
    for frame in range(FRAMES_OF_THE_DAY):
        label = otio.opentime.RationalTime(frame, DROP).to_timecode(DROP, True)
        digest.update(label.encode() + b"\n")
        wrong += otio.opentime.from_timecode(label, DROP).value != frame
    return {"frames": FRAMES_OF_THE_DAY, "sha256": digest.hexdigest(), "wrong": wrong}


def time(value, rate=RATE):
    return otio.opentime.RationalTime(value, rate)


def span(start, duration, rate=RATE):
    return otio.opentime.TimeRange(time(start, rate), time(duration, rate))


def frames(label):
    return otio.opentime.from_timecode(label, RATE).value


def make(file):
    """A track in a stack in a track, trimmed; a transition; a speed; media that says where it begins, and media that does not."""
    clip = otio.schema.Clip
    begins = frames("10:09:40:00")
    media = otio.schema.ExternalReference("file:///cards/A003/A003C002_1114_KV.mov", span(begins, 48))
    first = clip("shot one", media, span(begins + 10, 20))
    second = clip("A003C001", None, span(frames("10:02:11:05") + 12, 16))
    third = clip("A003C003_1114_KV", None, span(8, 10))
    third.effects.append(otio.schema.LinearTimeWarp(time_scalar=2.0))
    inner = otio.schema.Track("inner", [first, second], kind="Video")
    inner.insert(1, otio.schema.Transition("", "SMPTE_Dissolve", time(4), time(6)))
    nested = otio.schema.Stack("nest", [inner], span(4, 28))
    outer = otio.schema.Track("V1", [otio.schema.Gap(duration=time(24)), nested, third], kind="Video")
    sound = otio.schema.Track("A1", [clip("A003C001", None, span(0, 5))], kind="Audio")
    timeline = otio.schema.Timeline("nested", [outer, sound], time(frames("01:00:00:00")))
    otio.adapters.write_to_file(timeline, file)


def describe(file):
    if not os.path.exists(file):
        make(file)
    if file.endswith(".edl"):
        timeline = otio.adapters.read_from_file(file, "cmx_3600", rate=24)
        rate, zero = 24, None
    else:
        timeline = otio.adapters.read_from_file(file)
        zero = timeline.global_start_time
        rate = zero.rate if zero else RATE
    clips = []
    for clip in timeline.find_clips():
        if clip.parent().kind != "Video" and not isinstance(clip.parent(), otio.schema.Stack):
            continue
        placed = clip.transformed_time_range(clip.trimmed_range(), timeline.tracks)
        if zero is not None:
            placed = otio.opentime.TimeRange(placed.start_time + zero, placed.duration)
        warp = [effect.time_scalar for effect in clip.effects if hasattr(effect, "time_scalar")]
        source = clip.trimmed_range()
        clips.append({
            "name": clip.name,
            "source": source.start_time.to_timecode(source.start_time.rate, False),
            "frames": source.duration.rescaled_to(rate).value,
            "record": [
                placed.start_time.rescaled_to(rate).to_timecode(rate, False),
                placed.end_time_exclusive().rescaled_to(rate).to_timecode(rate, False),
            ],
            "speed": warp[0] if warp else 1.0,
            "own": clip.metadata.get("lensmend", {}).get("shot"),
        })
    transitions = [
        [item.in_offset.value, item.out_offset.value]
        for track in timeline.video_tracks()
        for item in track
        if isinstance(item, otio.schema.Transition)
    ]
    return {"clips": clips, "transitions": transitions}


def main(files):
    answer = [{"file": file, **describe(file)} for file in files] if files else day()
    json.dump(answer, sys.stdout, indent=1, ensure_ascii=False)
    print()


if __name__ == "__main__":
    main(sys.argv[1:])
