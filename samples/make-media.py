#!/usr/bin/env python3
"""Makes the media of the sample shoot: samples/saltmarsh-day/dump.

    python3 samples/make-media.py            writes the dump anew
    python3 samples/make-media.py --check    makes it in a temporary folder and compares it with the
                                             committed one; exit 1 and one line a file where they differ

Needs only Python 3 and ffmpeg (with ffprobe) on PATH. The same ffmpeg gives the same bytes on each run.
Another ffmpeg may lay out the same facts in other bytes, so --check compares media by their facts and
everything else by its bytes.

The production, the makers, the lenses and the cameras are invented. Each clip is a flat grey picture:
the sample is about what a file says of itself. ffmpeg writes picture and timecode; what a camera would
say beside them (maker, model, an XMP packet, rotation) is put in afterwards by the small box editor
below, because ffmpeg has no switch for most of it.
"""
import hashlib
import io
import json
import pathlib
import struct
import subprocess
import sys
import tempfile
import wave
from dataclasses import dataclass

DUMP = pathlib.Path(__file__).resolve().parent / "saltmarsh-day" / "dump"


# What was shot ------------------------------------------------------------------------------------

@dataclass
class Clip:
    """One media file. `timecode` uses ffmpeg's spelling: a semicolon before the frames is drop-frame."""
    name: str
    rate: str
    size: str
    timecode: str
    frames: int
    made: str
    xmp: dict | None = None
    moov_first: bool = False
    fragmented: bool = False
    pixel_aspect: str | None = None
    rotated: bool = False
    truncated: bool = False


FILM, DROP, DOUBLE_DROP = "24000/1001", "30000/1001", "60000/1001"
UHD, HD = "3840x2160", "1920x1080"

CLIPS = [
    # Camera A. A dumb adapter left C001 blank; a bare lens was reported on C002; a smart adapter had
    # already reduced C003; C005 disagrees with the notes; C006 is a 35 that may be either kind.
    Clip("A003/A003C001_1114_KV.mov", FILM, UHD, "10:02:11:05", 48, "10:02:11"),
    Clip("A003/A003C002_1114_KV.mov", FILM, UHD, "10:09:40:00", 48, "10:09:40",
         xmp={"exif:FocalLength": "50/1", "exif:FNumber": "14/10", "exifEX:LensModel": "Sorrel 50"}),
    Clip("A003/A003C003_1114_KV.mov", FILM, UHD, "10:15:02:12", 48, "10:15:02",
         xmp={"exif:FocalLength": "355/10", "exif:FNumber": "10/10"}),
    Clip("A003/A003C004_1114_KV_001.mov", FILM, "2048x1152", "10:21:30:00", 48, "10:21:30"),
    Clip("A003/A003C004_1114_KV_002.mov", FILM, "2048x1152", "10:21:32:00", 48, "10:21:32"),
    Clip("A003/A003C005_1114_KV.mov", FILM, UHD, "10:33:08:17", 48, "10:33:08",
         xmp={"exif:FocalLength": "85/1", "exif:FNumber": "28/10"}),
    Clip("A003/A003C006_1114_KV.mov", FILM, UHD, "10:41:55:09", 48, "10:41:55",
         xmp={"exif:FocalLength": "35/1"}),
    Clip("A003/A003C007_1114_KV.mov", FILM, UHD, "10:52:20:00", 48, "10:52:20", truncated=True),
    # C008 was never written: see `strays`. C009 runs over midnight.
    Clip("A003/A003C009_1114_KV.mov", "24", "4096x2160", "23:59:59:12", 48, "23:59:59", moov_first=True),
    # Camera B: its recording modes.
    Clip("B001/B001C001_1114_OM.mp4", DROP, HD, "01:00:00;02", 60, "11:04:10"),
    Clip("B001/B001C002_1114_OM.mp4", DROP, HD, "01:10:00:00", 60, "11:16:32"),
    Clip("B001/B001C003_1114_OM.mp4", DOUBLE_DROP, "1280x720", "00:59:59;58", 60, "11:29:48",
         xmp={"exif:FocalLength": "24/1"}),
    Clip("B001/B001C004_1114_OM.mp4", "25", "1440x1080", "14:20:00:00", 50, "14:20:00", pixel_aspect="4/3"),
    Clip("B001/B001C005_1114_OM.mp4", "50", HD, "15:00:00:00", 100, "15:00:00", rotated=True),
    Clip("B001/B001C006_1114_OM.mp4", FILM, HD, "15:32:10:00", 48, "15:32:10", fragmented=True),
    Clip("B001/B001C008_1114_OM.mov", "48", HD, "16:00:00:00", 48, "16:00:00",
         xmp={"exif:FocalLength": "98/1", "exif:FNumber": "39/10"}),
]


def strays():
    """What else lies on the cards: files that are no readable clip, each as name and bytes."""
    noise = b"".join(hashlib.sha256(b"saltmarsh %d" % part).digest() for part in range(64))
    # AppleDouble, version 2: magic, version, filler, one entry (Finder information, 32 bytes).
    double = struct.pack(">II16xHIII", 0x00051607, 0x00020000, 1, 9, 38, 32) + bytes(32)
    sound = io.BytesIO()
    with wave.open(sound, "wb") as track:
        track.setnchannels(1)
        track.setsampwidth(2)
        track.setframerate(8000)
        track.writeframes(bytes(320))
    return {
        "A003/A003C008_1114_KV.mov": b"",
        "A003/._A003C001_1114_KV.mov": double,
        "A003/A003C002_1114_KV.jpg": reference_frame(),
        "B001/B001C007_1114_OM.raw": noise,
        "B001/B001C001_1114_OM.wav": sound.getvalue(),
        "B001/read-me.txt": b"Card B001, The Saltmarsh Signal, day 3. Zoom on C005 changes during the take.\n",
        ".hidden-index/cache.dat": noise[:96],
    }


# Making a file ------------------------------------------------------------------------------------

def media(clip, folder):
    """The bytes of one clip: a picture from ffmpeg, then what its camera says."""
    target = folder / pathlib.Path(clip.name).name
    maker, model = ("Kelvane", "K2") if clip.name.startswith("A") else ("Ormadine", "M4")
    mov = target.suffix == ".mov"
    flags = []
    extra = []
    if clip.moov_first:
        flags += ["faststart"]
    if clip.fragmented:
        # Boxes put in front of fragments would break the fragments' own table of places, so here
        # ffmpeg writes maker and model itself.
        flags += ["frag_keyframe", "empty_moov", "use_metadata_tags"]
        extra += ["-metadata", f"com.apple.quicktime.make={maker}",
                  "-metadata", f"com.apple.quicktime.model={model}"]
    if flags:
        extra += ["-movflags", "+".join([""] + flags)]
    run_ffmpeg(f"color=c=gray:s={clip.size}:r={clip.rate}"
               + (f",setsar={clip.pixel_aspect}" if clip.pixel_aspect else ""),
               ["-frames:v", str(clip.frames), "-c:v", "libx264", "-pix_fmt", "yuv420p",
                "-preset", "ultrafast", "-tune", "stillimage", "-crf", "40",
                "-g", str(clip.frames // 2) if clip.fragmented else "999", "-bf", "0",
                "-x264-params", "cabac=1:scenecut=0",
                # The encoder's own note about its settings is larger than the picture.
                "-bsf:v", "filter_units=remove_types=6",
                "-metadata", f"creation_time=2026-11-14T{clip.made}Z",
                "-timecode", clip.timecode, *extra], target)
    data = target.read_bytes()
    user_data, movie_child = b"", b""
    if clip.name.startswith("A"):
        user_data = user_text(b"\xa9mak", maker) + user_text(b"\xa9mod", model)
    elif mov:
        movie_child = keys_meta(maker, model, full_box=False)
    elif not clip.fragmented:
        user_data = keys_meta(maker, model, full_box=True)
    if clip.xmp and mov:
        user_data += box(b"XMP_", packet(clip.xmp))
    if not clip.fragmented:
        data = edit_movie(data, user_data, movie_child, clip.rotated)
    if clip.xmp and not mov:
        # ISO 16684-3: in MP4 the packet is a top-level uuid box.
        data += box(b"uuid", bytes.fromhex("be7acfcb97a942e89c71999491e3afac") + packet(clip.xmp))
    if clip.truncated:
        data = data[:len(data) // 2]
    return data


def reference_frame():
    """A small JPEG, such as a camera leaves beside a clip."""
    with tempfile.TemporaryDirectory() as folder:
        target = pathlib.Path(folder) / "frame.jpg"
        run_ffmpeg("color=c=gray:s=64x36:r=25", ["-frames:v", "1", "-c:v", "mjpeg", "-pix_fmt", "yuvj420p",
                                                 "-f", "image2", "-update", "1"], target)
        return target.read_bytes()


def run_ffmpeg(source, options, target):
    """One thread, no version strings and no metadata of its own: the same bytes on each run."""
    subprocess.run(["ffmpeg", "-nostdin", "-hide_banner", "-loglevel", "error", "-y",
                    "-f", "lavfi", "-i", source, "-an", "-threads", "1", "-map_metadata", "-1",
                    "-fflags", "+bitexact", "-flags:v", "+bitexact", *options, str(target)], check=True)


def packet(properties):
    """An XMP packet as ISO 16684-1 clause 7.3.2 wraps it, its properties as elements."""
    lines = "".join(f"   <{name}>{value}</{name}>\n" for name, value in properties.items())
    return f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about=""
    xmlns:exif="http://ns.adobe.com/exif/1.0/"
    xmlns:exifEX="http://cipa.jp/exif/1.0/">
{lines}  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>""".encode()


# The box editor (ISO/IEC 14496-12 clause 4.2, QuickTime file format) ---------------------------------

CONTAINERS = (b"moov", b"trak", b"mdia", b"minf", b"stbl", b"udta")


def box(kind, payload):
    """One box with a 32-bit size."""
    return struct.pack(">I4s", 8 + len(payload), kind) + payload


def split(data):
    """The boxes that stand side by side in `data`, as [kind, payload]; ours never need 64-bit sizes."""
    boxes = []
    at = 0
    while at + 8 <= len(data):
        size, kind = struct.unpack_from(">I4s", data, at)
        assert size >= 8, f"{kind} has a size that this editor does not handle"
        boxes.append([kind, data[at + 8:at + size]])
        at += size
    return boxes


def edit_movie(data, user_data, movie_child, rotated):
    """Adds `user_data` to moov/udta and `movie_child` to moov, and mends what that moves."""
    tops = split(data)
    kinds = [kind for kind, _ in tops]
    grown = {"shift": 0}

    def rebuild(kind, payload, parent=None):
        if kind == b"tkhd" and rotated:
            return box(kind, rotate(payload))
        if kind == b"stco" and grown["shift"]:
            count, = struct.unpack_from(">I", payload, 4)
            places = struct.unpack_from(f">{count}I", payload, 8)
            return box(kind, payload[:8] + struct.pack(f">{count}I", *(p + grown["shift"] for p in places)))
        if kind not in CONTAINERS:
            return box(kind, payload)
        children = split(payload)
        if kind == b"udta" and parent == b"moov":
            # ffmpeg leaves an empty meta box here, and a box may hold only one.
            children = [child for child in children if child[0] != b"meta"]
        if kind == b"moov":
            if user_data and b"udta" not in [child for child, _ in children]:
                children.append([b"udta", b""])
            tail = movie_child
        else:
            tail = user_data if kind == b"udta" and parent == b"moov" else b""
        return box(kind, b"".join(rebuild(*child, kind) for child in children) + tail)

    movie = tops[kinds.index(b"moov")]
    if kinds.index(b"moov") < kinds.index(b"mdat"):
        # The samples stand after the movie box, so they move by as much as it grows.
        grown["shift"] = len(rebuild(*movie)) - 8 - len(movie[1])
    return b"".join(rebuild(*top) if top[0] == b"moov" else box(*top) for top in tops)


def rotate(track_header):
    """Sets the display matrix to a quarter turn clockwise, if the track has a picture."""
    # Version 0: 4 bytes version and flags, 20 times and numbers, 16 layer and volume, then the matrix.
    width, = struct.unpack_from(">I", track_header, 76)
    if width == 0:
        return track_header
    one = 0x10000
    height, = struct.unpack_from(">I", track_header, 80)
    matrix = struct.pack(">9i", 0, one, 0, -one, 0, 0, height, 0, 0x40000000)
    return track_header[:40] + matrix + track_header[76:]


def user_text(kind, text):
    """A QuickTime user-data text: length, language (packed 'und'), text."""
    return box(kind, struct.pack(">HH", len(text), 0x55C4) + text.encode())


def keys_meta(maker, model, full_box):
    """A meta box in the 'mdta' form; MP4 puts a version word in front, QuickTime does not."""
    entries = [("com.apple.quicktime.make", maker), ("com.apple.quicktime.model", model)]
    handler = box(b"hdlr", bytes(8) + b"mdta" + bytes(13))
    keys = box(b"keys", struct.pack(">II", 0, len(entries))
               + b"".join(box(b"mdta", name.encode()) for name, _ in entries))
    items = box(b"ilst", b"".join(
        box(struct.pack(">I", index), box(b"data", struct.pack(">II", 1, 0) + value.encode()))
        for index, (_, value) in enumerate(entries, 1)))
    return box(b"meta", (bytes(4) if full_box else b"") + handler + keys + items)


# Writing and checking -----------------------------------------------------------------------------

def write(dump):
    """Writes every file of the dump."""
    with tempfile.TemporaryDirectory() as scratch:
        files = {clip.name: media(clip, pathlib.Path(scratch)) for clip in CLIPS}
    for name, data in (files | strays()).items():
        target = dump / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)


def check():
    """Lines that say where the committed dump and a fresh one differ."""
    readable = {clip.name for clip in CLIPS if not clip.truncated}
    unreadable = {clip.name for clip in CLIPS if clip.truncated}
    complaints = []
    with tempfile.TemporaryDirectory() as scratch:
        fresh = pathlib.Path(scratch)
        write(fresh)
        for name in sorted(names(DUMP) | names(fresh)):
            old, new = DUMP / name, fresh / name
            if not old.is_file():
                complaints.append(f"{name}: missing from the committed dump")
            elif not new.is_file():
                complaints.append(f"{name}: this script does not make it")
            elif old.read_bytes() == new.read_bytes():
                continue
            elif name in readable:
                if facts(old) != facts(new):
                    complaints.append(f"{name}: facts differ")
            elif name in unreadable or name.endswith(".jpg"):
                continue  # Cut or coded by another ffmpeg: its bytes may differ and it has no facts.
            else:
                complaints.append(f"{name}: bytes differ")
    return complaints


def names(folder):
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def facts(path):
    """What ffprobe says of a clip, less what depends on how its coder packed the picture."""
    said = json.loads(subprocess.run(
        ["ffprobe", "-v", "error", "-of", "json", "-show_entries",
         "stream=codec_type,codec_tag_string,width,height,sample_aspect_ratio,r_frame_rate,avg_frame_rate,"
         "nb_frames,duration:stream_tags=timecode,creation_time:stream_side_data=rotation:format_tags",
         str(path)], check=True, capture_output=True).stdout)
    data = path.read_bytes()
    said["order"] = data.find(b"moov") < data.find(b"mdat")
    said["packet"] = data[data.find(b"<x:xmpmeta"):data.find(b"</x:xmpmeta>")] if b"<x:xmpmeta" in data else None
    return said


def main():
    if sys.argv[1:] == ["--check"]:
        complaints = check()
        print("\n".join(complaints) or "The committed dump says what this script makes.")
        sys.exit(1 if complaints else 0)
    if sys.argv[1:]:
        sys.exit("usage: make-media.py [--check]")
    write(DUMP)


if __name__ == "__main__":
    main()
